"""One hour as a first draft would solve it: scipy's brentq nested over psychrolib, plain Python.

A second, independent statement of the equations, for a unit known by compressor map and two heat
exchangers that cycles at constant flow with a continuous draw-through fan, condenser heat and no
purchased reheat. It shares no code with the program: not its moist air, not its steps, not its
order
of solving. Roots within roots: room temperature, humidity, condensing temperature, coil surface.

Usage: python nested_roots.py INPUT.json OUTPUT.json
"""

import json
import sys
import time
from types import SimpleNamespace

# psychrolib compiles itself where it can import numba: keep it plain.
sys.modules["numba"] = None  # type: ignore[assignment]

import psychrolib as air  # noqa: E402
from scipy.optimize import brentq  # noqa: E402

air.SetUnitSystem(air.SI)

SENSIBLE, REMOVAL, AT_FULL_CAPACITY = "sensible", "removal", "at full capacity"


def root(function, low, high, xtol=1e-12):
    """The root between two numbers; the nearer end where there is none between them."""
    at_low, at_high = function(low), function(high)
    if at_low * at_high > 0.0:
        return low if abs(at_low) < abs(at_high) else high
    return brentq(function, low, high, xtol=xtol, rtol=1e-14)


def heat_capacity(w):
    return air.GetMoistAirEnthalpy(1.0, w) - air.GetMoistAirEnthalpy(0.0, w)


def saturated_at(enthalpy, pressure):
    """Temperature of saturated air at an enthalpy."""
    return root(lambda t: air.GetSatAirEnthalpy(t, pressure) - enthalpy, -40.0, 60.0)


def on_grid(unit, table, suction, condensing):
    """Linear in both directions, held at the edges."""
    rows, columns = len(table), len(table[0])
    x = (suction - unit.suction_first_C) / unit.suction_step_K
    y = (condensing - unit.condensing_first_C) / unit.condensing_step_K
    x, y = min(max(x, 0.0), rows - 1.0), min(max(y, 0.0), columns - 1.0)
    i, j = min(int(x), rows - 2), min(int(y), columns - 2)
    x, y = x - i, y - j
    return (
        table[i][j] * (1 - x) * (1 - y)
        + table[i + 1][j] * x * (1 - y)
        + table[i][j + 1] * (1 - x) * y
        + table[i + 1][j + 1] * x * y
    )


def leaving(case, on, surface):
    """Air off a coil at a surface temperature: temperature, humidity ratio."""
    bypass = case.bypass
    w_surface = air.GetSatHumRatio(surface, on.pressure)
    if w_surface >= on.w:
        return surface + bypass * (on.temp - surface), on.w
    h_on = air.GetMoistAirEnthalpy(on.temp, on.w)
    h_surface = air.GetMoistAirEnthalpy(surface, w_surface)
    h = h_surface + bypass * (h_on - h_surface)
    w = w_surface + bypass * (on.w - w_surface)
    temp = air.GetTDryBulbFromEnthalpyAndHumRatio(h, w)
    if w > air.GetSatHumRatio(temp, on.pressure):
        temp = saturated_at(h, on.pressure)
        w = air.GetSatHumRatio(temp, on.pressure)
    return temp, w


def running(case, on, condensing):
    """Steady running: the surface at which coil and compressor agree."""
    unit = case.unit

    def coil_heat(surface):
        temp, w = leaving(case, on, surface)
        return case.flow * (
            air.GetMoistAirEnthalpy(on.temp, on.w) - air.GetMoistAirEnthalpy(temp, w)
        )

    def excess(surface):
        heat = coil_heat(surface)
        return heat - on_grid(
            unit, unit.cooling_W, surface - unit.surface_resistance_K_W * heat, condensing
        )

    surface = root(excess, -50.0, on.temp)
    displacement = 1.0
    if surface < unit.surface_floor_C:
        surface = min(unit.surface_floor_C, on.temp)
        heat = coil_heat(surface)
        displacement = heat / on_grid(
            unit, unit.cooling_W, surface - unit.surface_resistance_K_W * heat, condensing
        )
    total = coil_heat(surface)
    suction = surface - unit.surface_resistance_K_W * total
    temp, w = leaving(case, on, surface)
    return SimpleNamespace(
        total=total,
        sensible=case.flow * heat_capacity(w) * (on.temp - temp),
        removal=case.flow * (on.w - w),
        power=displacement * on_grid(unit, unit.compressor_W, suction, condensing),
        surface=surface,
        suction=suction,
        temp=temp,
        w=w,
    )


def hour_of_unit(case, on, outdoor, task, need, removal, recover):
    """The unit's hour for a task, its condensing temperature found by a root of its own."""

    def at(condensing):
        steady = running(case, on, condensing)
        part_load = {
            SENSIBLE: need / steady.sensible,
            REMOVAL: removal / steady.removal if steady.removal > 0.0 else 2.0,
            AT_FULL_CAPACITY: 1.0,
        }[task]
        limited = part_load > 1.0
        part_load = min(max(part_load, 0.0), 1.0)
        runtime = part_load / (1.0 - case.degradation * (1.0 - part_load))
        recovered, available, asked = 0.0, 0.0, -273.0
        if recover and case.effectiveness > 0.0 and runtime > 0.0:
            reach = case.effectiveness * case.flow * heat_capacity(steady.w)
            rejected_on = steady.total + steady.power

            def drawn(coil_condensing):
                return reach * (coil_condensing - steady.temp)

            # Where the outdoors hold the condenser hotter than the ceiling, the coil draws on that.
            standing = root(
                lambda t: outdoor + (rejected_on - drawn(t)) / case.unit.conductance - t,
                -60.0,
                200.0,
            )
            most = min(
                case.recovery_capacity,
                part_load / runtime * steady.total + steady.power,
                max(drawn(max(case.ceiling, case.floor, standing)), 0.0),
            )
            available = most * runtime
            recovered = min(max(part_load * steady.sensible - need, 0.0) / runtime, most)
            if recovered > 0.0:
                asked = steady.temp + recovered / reach
        outdoors = outdoor + (steady.total + steady.power - recovered) / case.unit.conductance
        wanted = max(case.floor, outdoors, asked)
        return wanted, SimpleNamespace(
            on=steady,
            limited=limited,
            runtime=runtime,
            total=part_load * steady.total,
            sensible=part_load * steady.sensible,
            removal=part_load * steady.removal,
            compressor=runtime * steady.power,
            condenser_fan=runtime * case.condenser_fan,
            recovered=recovered * runtime,
            available=available,
            condensing=condensing,
        )

    condensing = root(lambda t: at(t)[0] - t, min(case.floor, outdoor) - 5.0, 95.0, 1e-9)
    return at(condensing)[1]


def solve(case, hour):
    """One hour from the room's state before it; a dictionary of ledger columns."""
    outdoor, w_outdoor, pressure = hour.outdoor, hour.w_outdoor, hour.pressure
    ventilation = hour.outdoor_air
    store, w_store = case.heat_store / 3600.0, case.moisture_store / 3600.0
    cp_outdoor = heat_capacity(w_outdoor)
    shell = case.conductance + case.infiltration * cp_outdoor

    def entering(temp, w):
        share = ventilation / case.flow
        mixed_w = share * w_outdoor + (1.0 - share) * w
        h = share * air.GetMoistAirEnthalpy(outdoor, w_outdoor) + (
            1.0 - share
        ) * air.GetMoistAirEnthalpy(temp, w)
        mixed = air.GetTDryBulbFromEnthalpyAndHumRatio(h, mixed_w)
        return SimpleNamespace(temp=mixed, w=mixed_w, pressure=pressure)

    def into_room(temp):
        """Heat that comes into the room and its store, without the unit."""
        return heating + hour.gains + shell * (outdoor - temp) - store * (temp - hour.temp_before)

    def sensible_need(temp, w, removal):
        """Sensible coil heat, so that supply air takes ``into_room`` out at this removal.

        Along the air path: supply enthalpy = mixed - total + fan, with latent heat that of the
        removal; the room gives m cp(supply) (room - supply).
        """
        on = entering(temp, w)
        supply_w = max(on.w - removal / case.flow, 0.0)  # a trial may ask for more than there is
        supply = temp - into_room(temp) / (case.flow * heat_capacity(supply_w))
        total = case.fan + case.flow * (
            air.GetMoistAirEnthalpy(on.temp, on.w) - air.GetMoistAirEnthalpy(supply, supply_w)
        )
        vapor = air.GetMoistAirEnthalpy(on.temp, 1.0) - air.GetMoistAirEnthalpy(on.temp, 0.0)
        return total - removal * vapor

    def water_asked(w):
        return (
            hour.moisture
            + (ventilation + case.infiltration) * (w_outdoor - w)
            - w_store * (w - hour.w_before)
        )

    def unit_at(temp, w, task, recover):
        asked = water_asked(w)
        need = sensible_need(temp, w, max(asked, 0.0))
        return hour_of_unit(case, entering(temp, w), outdoor, task, need, asked, recover), need

    def humidity_for(temp, task, recover):
        """Room humidity at which the coil takes what the balance asks."""
        return root(
            lambda w: unit_at(temp, w, task, recover)[0].removal - water_asked(w), 5e-4, 0.03, 1e-13
        )

    # Without the unit: floating, heated, or cooled to the set point.
    heating = 0.0
    floating = root(
        lambda t: into_room(t) + case.fan + ventilation * cp_outdoor * (outdoor - t), -60.0, 90.0
    )
    idle_w = root(water_asked, 0.0, 0.1, 1e-14)
    full, unit_hour, need = False, None, 0.0
    target = None
    if floating > hour.cooling_setpoint:
        temp = target = hour.cooling_setpoint
        w = humidity_for(temp, SENSIBLE, False)
        unit_hour, need = unit_at(temp, w, SENSIBLE, False)
        if unit_hour.limited:
            full = True

            def warmer(t):
                at_w = humidity_for(t, AT_FULL_CAPACITY, False)
                found, needed = unit_at(t, at_w, AT_FULL_CAPACITY, False)
                return found.sensible - needed

            temp = root(warmer, hour.cooling_setpoint, hour.cooling_setpoint + 15.0, 1e-9)
            w = humidity_for(temp, AT_FULL_CAPACITY, False)
            unit_hour, need = unit_at(temp, w, AT_FULL_CAPACITY, False)
    else:
        temp, w = floating, idle_w
        if floating < hour.heating_setpoint:
            at_setpoint = hour.heating_setpoint
            heating = -(
                into_room(at_setpoint)
                + case.fan
                + ventilation * cp_outdoor * (outdoor - at_setpoint)
            )
            temp = at_setpoint
    target = temp if target is None else target
    # The dehumidification call.
    call, overcooling, recovered, price, short = False, 0.0, 0.0, 0.0, False
    limit = air.GetHumRatioFromRelHum(temp, hour.limit, pressure)
    if w > limit * (1.0 + 1e-9):
        call = True
    if call and not full:
        sensible_only_w = w
        w, task = limit, REMOVAL
        unit_hour, need = unit_at(temp, w, task, True)
        if unit_hour.limited:
            full, task = True, AT_FULL_CAPACITY
            w = humidity_for(temp, task, True)
            unit_hour, need = unit_at(temp, w, task, True)

        def beyond(at_w):
            found, needed = unit_at(temp, at_w, REMOVAL, True)
            return found.sensible - needed - found.available

        if unit_hour.sensible - need - unit_hour.available > 1e-6:
            short, full = True, False
            w = root(beyond, w, sensible_only_w, 1e-13)
            unit_hour, need = unit_at(temp, w, REMOVAL, True)
        overcooling = max(unit_hour.sensible - need, 0.0)
        recovered = min(unit_hour.recovered, overcooling)
        if recovered > 0.0:
            without = hour_of_unit(
                case, entering(temp, w), outdoor, REMOVAL, need, unit_hour.removal, False
            )
            price = (
                unit_hour.compressor
                + unit_hour.condenser_fan
                - (without.compressor + without.condenser_fan)
                * (unit_hour.removal / without.removal)
            )
    result = {
        "room_temp_C": temp,
        "room_hum_ratio_kg_kg": w,
        "target_temp_C": target,
        "heating_kWh": heating / 1000.0,
        "moisture_call_flag": float(call),
        "full_capacity_flag": float(full),
        "reheat_short_flag": float(short),
        "overcooling_heat_kWh": overcooling / 1000.0,
        "reheat_recovered_kWh": recovered / 1000.0,
        "recovery_penalty_kWh": price / 1000.0,
    }
    if unit_hour is not None and unit_hour.runtime > 1e-9:
        result |= {
            "compressor_runtime_frac": unit_hour.runtime,
            "cooling_total_kWh": unit_hour.total / 1000.0,
            "cooling_sensible_kWh": unit_hour.sensible / 1000.0,
            "cooling_latent_kWh": (unit_hour.total - unit_hour.sensible) / 1000.0,
            "compressor_kWh": unit_hour.compressor / 1000.0,
            "condenser_fan_kWh": unit_hour.condenser_fan / 1000.0,
            "condensate_kg": unit_hour.removal * 3600.0,
            "condensing_temp_C": unit_hour.condensing,
            "surface_temp_C": unit_hour.on.surface,
            "suction_temp_C": unit_hour.on.suction,
            "coil_leaving_temp_C": unit_hour.on.temp,
            "coil_leaving_hum_ratio_kg_kg": unit_hour.on.w,
        }
    else:
        result |= {"cooling_total_kWh": 0.0, "compressor_kWh": 0.0, "condensate_kg": 0.0}
    return result


def main(source, target):
    """Solve the hours of a JSON file; write their columns and the seconds they took."""
    with open(source, encoding="utf-8") as file:
        given = json.load(file, object_hook=lambda table: SimpleNamespace(**table))
    start = time.process_time()
    hours = [solve(given.case, hour) for hour in given.hours]
    seconds = time.process_time() - start
    with open(target, "w", encoding="utf-8") as file:
        json.dump({"hours": hours, "seconds": seconds}, file)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
