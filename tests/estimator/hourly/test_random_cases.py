"""Random cases, written as a user writes them: every hour closes and stays physical.

Each seed draws a room, its air, a unit, a control and reheat, valid together, and two weeks of a
bundled station's summer and winter. `DEWLEDGER_RANDOM_CASES=500 pytest ...` draws more of them, and
`DEWLEDGER_RANDOM_YEARS=1000 pytest ...` more whole years.
"""

import os
import random
from dataclasses import replace

import numpy as np
import pytest

from dewledger.accounts.energy import column
from dewledger.assembly.machine import assemble
from dewledger.case import case_from_text
from dewledger.hourly.ledger import INDEX, NAMES
from dewledger.hourly.types import DRIVERS, NO_CONTROL, RELATIVE_HUMIDITY
from dewledger.study import read_weather, solve_option

SEEDS = range(int(os.environ.get("DEWLEDGER_RANDOM_CASES", "40")))
YEARS = range(int(os.environ.get("DEWLEDGER_RANDOM_YEARS", "3")))
WEEKS = np.r_[24 * 14 : 24 * 21, 24 * 195 : 24 * 202]
HEATS = (
    "gains_sensible_kWh", "solar_gains_kWh", "envelope_kWh", "ventilation_sensible_kWh",
    "heat_stored_kWh", "cooling_total_kWh", "supply_fan_kWh", "reheat_coil_fan_kWh", "heating_kWh",
    "overcooling_heat_kWh", "room_cooling_kWh", "surface_condensation_heat_kWh",
)  # fmt: skip
WATERS = (
    "gains_moisture_kg", "outdoor_moisture_kg", "moisture_stored_kg", "condensate_kg",
    "surface_condensation_kg",
)  # fmt: skip


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


# Columns that have no value in an hour without air or without the compressor.
NONE_WHEN_STOPPED = {
    "mixed_temp_C", "mixed_hum_ratio_kg_kg", "coil_leaving_temp_C", "coil_leaving_hum_ratio_kg_kg",
    "supply_temp_C", "supply_hum_ratio_kg_kg", "supply_flow_kg_s", "surface_temp_C",
    "suction_temp_C", "condensing_temp_C", "capacity_frac",
}  # fmt: skip


@pytest.fixture(scope="module")
def years():
    """Weather years by station, read once."""
    return {}


def machine_of(seed, years):
    case = case_from_text(drawn(seed))
    station = case.site.weather
    if station not in years:
        years[station] = read_weather(case)
    return assemble(case.option_cases()[0], years[station])


@pytest.mark.parametrize("seed", SEEDS)
def test_every_hour_closes(seed, years):
    machine = machine_of(seed, years)
    machine = replace(machine, drivers=np.ascontiguousarray(machine.drivers[WEEKS]))
    assert_sound(machine, solve_option(machine, 0))


@pytest.mark.parametrize("seed", YEARS)
def test_every_hour_of_a_year_closes(seed, years):
    machine = machine_of(10_000 + seed, years)
    ledger = solve_option(machine)
    unknown = {name for name in NAMES if not np.isfinite(ledger[INDEX[name]]).all()}
    assert unknown <= NONE_WHEN_STOPPED
    assert_sound(machine, ledger)


def assert_sound(machine, ledger):
    """Heat and water within 1e-6 of the hour's flows, refrigerant within 1e-6 of what is rejected,
    the identity of reheat, limits and signs."""

    def of(name):
        return column(ledger, name)

    heat = 1000.0 * sum(np.abs(of(name)) for name in HEATS)
    water = sum(np.abs(of(name)) for name in WATERS)
    rejected = 1000.0 * (of("cooling_total_kWh") + of("compressor_kWh"))
    assert (np.abs(of("heat_closure_W")) <= 1e-6 * heat + 1e-6).all()
    assert (np.abs(of("water_closure_kg_h")) <= 1e-6 * water + 1e-9).all()
    assert (np.abs(of("refrigerant_closure_W")) <= 1e-6 * np.maximum(rejected, 1.0)).all()
    assert (of("room_rh_frac") <= 1.0 + 1e-6).all()
    overcooling = of("overcooling_heat_kWh")
    recovered, purchased = of("reheat_recovered_kWh"), of("reheat_purchased_kWh")
    short = of("reheat_unmet_kWh")
    assert overcooling == pytest.approx(recovered + purchased + short, rel=1e-12, abs=1e-12)
    for values in (overcooling, recovered, purchased, short + 1e-7, of("compressor_kWh"),
                   of("condensate_kg") + 1e-5, of("heating_kWh"), of("fan_runtime_frac"),
                   1.0 + 1e-9 - of("fan_runtime_frac"), of("compressor_runtime_frac"),
                   1.0 + 1e-9 - of("compressor_runtime_frac")):  # fmt: skip
        assert (values >= 0.0).all()
    running = of("compressor_runtime_frac") > 0.0
    condensing = of("condensing_temp_C")[running]
    assert (condensing >= machine.plant.condensing_floor_C - 1e-3).all()
    assert (condensing >= of("outdoor_temp_C")[running] - 1e-3).all()
    if machine.control.humidity_control == NO_CONTROL:
        assert not overcooling.any() or machine.control.outdoor_air_unit.used == 1
    if machine.control.humidity_control == RELATIVE_HUMIDITY:
        held = (of("moisture_call_flag") > 0) & (of("full_capacity_flag") == 0)
        held &= of("reheat_short_flag") == 0
        limit = machine.drivers[:, DRIVERS.index("humidity_limit")]
        assert (of("room_rh_frac")[held] <= limit[held] + 1e-4).all()
        # A stage that runs on where it just stopped dries more than it must, and overcools nothing.
        held &= overcooling > 1e-3 * of("cooling_sensible_kWh")
        assert of("room_rh_frac")[held] == pytest.approx(limit[held], abs=1e-4)
