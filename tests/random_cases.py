"""Random cases, written as a user writes them, valid together; and hostile ones."""

import random
import re

import numpy as np

from dewledger.hourly.types import DRIVERS
from dewledger.weather.physics.moist_air import saturation_hum_ratio


def unit_controls(draw, staged):
    """Lines of [unit] beyond its rating: how it dries, how often it starts, its compressor."""
    lines = []
    if draw.random() < 0.3:
        lines.append('compressor_curve = "constant"')
    if draw.random() < 0.3:
        lines.append(f'minimum_run_time = "{draw.choice((3, 10, 30))} min"')
    if draw.random() < 0.3:
        lines.append(f'cycling_degradation = "{draw.choice((0, 10, 25))} %"')
    if staged and draw.random() < 0.5:
        lines.append(f'drying_control = "{draw.choice(("all stages", "leaving air"))}"')
    return lines


def coil_controls(draw):
    """Keys of a condenser source, as they stand in its inline table."""
    choices = {
        "lockout_below": ("-60 degF", "55 degF"), "lockout_above": ("80 degF", "100 degF"),
        "valve_low": ("10 %", "15 %"), "valve_high": ("50 %", "85 %"), "purge": ("3 min", "20 min"),
        "circuits": ("25 %", "50 %"), "reheat_fan_share": ("33 %", "67 %"),
        "pressure_drop": ("0 Pa", "0.3 inH2O"),
    }  # fmt: skip
    keys = [key for key in choices if draw.random() < 0.2]
    return "".join(f', {key} = "{draw.choice(choices[key])}"' for key in keys)


def drawn(seed):
    """Text of a case."""
    draw = random.Random(seed)
    controls = random.Random(seed + 1_000_000)

    def one(*choices):
        return draw.choice(choices)

    def maybe(share, *lines):
        return list(lines) if draw.random() < share else []

    area, cool = one(60, 120, 400, 1500), one(18, 20, 22, 24, 26)
    flow = area * draw.uniform(4.0, 14.0)
    network, outdoor_air_unit = draw.random() < 0.3, draw.random() < 0.2
    speed = "constant" if outdoor_air_unit else one("constant", "constant", "two-speed", "variable")
    cycling = speed == "constant" and not outdoor_air_unit and draw.random() < 0.35
    outdoor = flow * (
        1.0 if outdoor_air_unit and draw.random() < 0.6 else one(0, 0.1, 0.2, 0.4, 0.55)
    )
    control = "none" if outdoor_air_unit else one("none", *2 * ("relative humidity",), "dew point")
    capacity_control = one("cycling", "cycling", "variable", "stages")
    recovery = outdoor > 0.0 and draw.random() < 0.3
    text = [
        'format = 2',
        'title = "Drawn"',
        "[site]", f'weather = "{one("greensboro", "miami", "sand-point")}"',
        "[room]", f'floor_area = "{area} m2"', f'height = "{one(2.7, 3.5, 6)} m"',
        f'infiltration = "{one(0, 0.1, 0.3, 0.6)} ACH"',
        f'cooling_setpoint = "{cool} degC"', f'heating_setpoint = "{cool - one(1, 2, 4)} degC"',
        *([] if network else [f'conductance = "{area * draw.uniform(0.3, 3):.0f} W/K"']),
        *maybe(0.3, f'cooling_setpoint_unoccupied = "{cool + 4} degC"',
               'heating_setpoint_unoccupied = "14 degC"'),
        "[schedule]", f'weekday = "{one("07:00-18:00", "always", "08:00-12:00, 13:00-17:00")}"',
        *maybe(0.3, 'daylight_saving = "America/New_York"'),
        *maybe(0.3, f'morning_recovery = "{one(1, 2)} h"'),
        "[loads]",
        f'room_kind = "{one("office", "classroom", "retail", "museum", "archive", "assembly")}"',
        *maybe(0.3, "[loads.process]", f'sensible = "{area * draw.uniform(0, 30):.0f} W"',
               f'moisture = "{area * draw.uniform(0, 0.02):.3f} kg/h"'),
        "[air]", f'supply_flow = "{flow:.0f} L/s"', f'outdoor_flow = "{outdoor:.0f} L/s"',
        f'outdoor_profile = "{one("occupied", "always")}"',
        f'fan_power = "{flow * draw.uniform(0.2, 1.2):.0f} W"',
        f'fan_position = "{one("draw-through", "blow-through")}"',
        f'flow_control = "{speed}"',
        *(['minimum_flow = "60 %"'] if speed != "constant" else []),
        *(maybe(0.3, "flow_before_reheat = false") if speed != "constant" else []),
        *(['fan = "cycling"'] if cycling else []),
        *maybe(0.4, f'fan_unoccupied = "{one("off", "continuous")}"'),
        *([] if cycling else maybe(0.2, f'exhaust_flow = "{flow * 0.2:.0f} L/s"')),
        *(["[air.recovery]", f'sensible = "{one(40, 70, 85)} %"',
           f'latent = "{one(0, 40, 70)} %"'] if recovery else []),
        *([] if outdoor_air_unit or cycling else maybe(
            0.3, "[air.economizer]", f'control = "{one("dry bulb", "dew point", "enthalpy")}"')),
        *(["[envelope]", f'opaque_conductance = "{area * 0.6:.0f} W/K"',
           f'window_conductance = "{area * 0.3:.0f} W/K"', "[[envelope.windows]]",
           f'area = "{area * 0.1:.0f} m2"', "azimuth = 180"] if network else []),
        "[unit]", f'refrigerant = "{one("R-410A", "R-32", "R-454B", "R-134a", "R-22")}"',
        'rating = "gross"', f'sensible_heat_ratio = "{one(70, 74, 78)} %"',
        f'efficiency = "{draw.uniform(2.6, 4.2):.2f} COP"',
    ]  # fmt: skip
    capacity = flow * draw.uniform(13.0, 22.0) / 1000.0 * one(1.0, 1.0, 0.5, 1.6)
    text += [
        f'total_capacity = "{capacity:.1f} kW"', f'rated_flow = "{capacity / 18 * 1000:.0f} L/s"',
        f'capacity_control = "{capacity_control}"',
        *([f"stages = {one(['50 %', '100 %'], ['25 %', '50 %', '75 %', '100 %'])}",
           f'stage_coil = "{one("intertwined", "face split")}"']
          if capacity_control == "stages" else []),
        *maybe(0.4, f'condensing_floor = "{one(20, 27, 38)} degC"'),
        *maybe(0.4, f'condensing_ceiling = "{one(42, 50)} degC"'),
        f'condenser_fan_control = "{one("constant", "staged", "variable speed")}"',
        *unit_controls(controls, capacity_control != "cycling"),
        *maybe(0.3, "[unit.re_evaporation]", f'model = "{controls.choice(("wet coil", "none"))}"'),
        "[humidity]", f'control = "{control}"',
        *([f'limit = "{one(40, 50, 55, 60)} %"'] if control == "relative humidity" else []),
        *([f'limit = "{one(4, 8, 11, 13)} degC"'] if control == "dew point" else []),
        *maybe(0.3, 'priority = "humidity first"'),
        *(["[outdoor_air_unit]", f'supply_dew_point = "{one(7, 10, 12)} degC"',
           f'supply_temperature = "{one(13, 18, 24)} degC"'] if outdoor_air_unit else []),
        *([] if control == "dew point" else maybe(
            0.2, "[humidifier]", f'source = "{one("electric steam", "adiabatic")}"',
            'limit = "30 %"')),
    ]  # fmt: skip
    coil = coil_controls(controls)
    condenser = f'{{source = "condenser"{coil}}}'
    reheats = [
        "", '{source = "electric"}', condenser,
        f'{{source = "electric", capacity = "2 kW"}}, {condenser}',
        f'{{source = "condenser", effectiveness = "{one(10, 30, 80)} %"{coil}}}, '
        '{source = "electric"}',
    ]  # fmt: skip
    if capacity_control == "cycling":
        reheats += [
            '{source = "condenser", control = "on/off"' + coil + '}, {source = "electric"}',
            '{source = "subcooling"}', f'{{source = "subcooling"}}, {condenser}',
            '{source = "wrap-around", pressure_drop = "60 Pa"}, {source = "gas"}',
        ]  # fmt: skip
    return "\n".join([*text, "[options.only]", 'title = "Only"', f"reheat = [{one(*reheats)}]"])


def times(text, key, factor):
    """The text with the number of every such key multiplied."""
    return re.sub(
        rf'^({key} = ")([\d.]+)', lambda found: f"{found[1]}{float(found[2]) * factor:.6g}",
        text, flags=re.M,
    )  # fmt: skip


def hostile(seed):
    """Text of a case whose unit, loads, leaks and limits lie far apart; some are refused."""
    draw, text = random.Random(seed + 77), drawn(seed)

    def written(key, share, *choices):
        nonlocal text
        if draw.random() < share:
            value = draw.choice(choices)
            text = re.sub(rf"^({key} = ).*$", rf'\g<1>"{value}"', text, flags=re.M)

    def scaled(key, share, low, high):
        nonlocal text
        if draw.random() < share:
            text = times(text, key, 10.0 ** draw.uniform(low, high))

    written("weather", 0.7, "miami", "miami", "greensboro", "sand-point")
    if draw.random() < 0.5:  # a unit with its rated flow, tiny or huge
        factor = 10.0 ** draw.uniform(-1.0, 1.0)
        text = times(times(text, "total_capacity", factor), "rated_flow", factor)
    scaled("fan_power", 0.3, -2.0, 0.7)
    scaled("outdoor_flow", 0.2, -1.0, 0.3)
    scaled("conductance", 0.35, -1.0, 2.0)
    scaled("sensible", 0.35, -1.0, 1.0)
    scaled("moisture", 0.5, -1.0, 1.7)
    written("infiltration", 0.35, "0 ACH", "0.01 ACH", "1 ACH", "3 ACH")
    written("height", 0.35, "2 m", "12 m", "20 m")
    written("condensing_floor", 0.35, "10 degC", "40 degC")
    if 'control = "dew point"' in text:
        written("limit", 0.5, *(f"{limit} degC" for limit in (-2, 0, 2, 3, 4, 5, 6, 12, 16, 20)))
    else:
        written("limit", 0.5, *(f"{limit} %" for limit in (20, 25, 30, 35, 45, 65, 80, 95)))
        text = text.replace("[humidity]", '[humidity]\nrange_low = "10 %"', 1)
    if draw.random() < 0.3 and "priority" not in text:
        text = text.replace("[humidity]", '[humidity]\npriority = "humidity first"', 1)
    if draw.random() < 0.3:
        ratio = draw.choice((1, 2, 50, 200))
        text = text.replace("[room]", f"[room]\nmoisture_storage_ratio = {ratio}", 1)
    return text


def extreme_climate(drivers, seed):
    """The drivers with another climate: hotter, colder, drier, saturated, or each hour its own."""
    draw, rng = random.Random(seed + 777), np.random.default_rng(seed)
    changed = drivers.copy()
    temp = changed[:, DRIVERS.index("outdoor_temp_C")]
    hum_ratio = changed[:, DRIVERS.index("outdoor_hum_ratio_kg_kg")]
    pressure = changed[:, DRIVERS.index("pressure_Pa")]
    kind = draw.choice(("as it is", "shifted", "each its own", "saturated", "dry"))
    if kind == "shifted":
        temp += draw.choice((-30.0, -15.0, 8.0, 15.0))
    elif kind == "each its own":
        temp[:] = rng.uniform(-40.0, 50.0, temp.size)
        hum_ratio[:] = rng.uniform(0.0, 0.03, temp.size)
    elif kind == "dry":
        hum_ratio *= 0.05
    for i in range(temp.size):
        most = saturation_hum_ratio(temp[i], pressure[i])
        hum_ratio[i] = most if kind == "saturated" else min(hum_ratio[i], most)
    return changed
