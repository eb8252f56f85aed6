"""A DX unit as the hours of the year see it: a map that compiled code reads.

A unit of kind BALANCE is a compressor and two heat exchangers. The compressor's capacity and power
lie on a grid of suction and condensing temperature; the coil surface stands above suction in
proportion to the coil's heat; the condenser stands above outdoors in proportion to the heat
rejected. A unit of kind TABLE is a performance table of entering wet bulb, entering dry bulb,
outdoor temperature and flow; it answers to a condensing temperature through the outdoor temperature
at which its condenser would stand there.

Units are built by from_rating.py, from_table.py and from_compressor_map.py.

Floats of one hour in SI: arguments name their unit, or are listed in docs/nomenclature.md; fields
of the NamedTuples have theirs in types.py. Source: the heat balances of compressor, coil and
condenser.
"""

from __future__ import annotations

import math

from dewledger.components.cooling_coil import (
    bypass_factor,
    coil_heat,
    coil_leaving,
    coil_total_at_surface,
    is_wet,
    settle_fog,
)
from dewledger.dx_unit.table_lookup import equivalent_outdoor, outside_table, table_state
from dewledger.dx_unit.types import (
    STAGES,
    TABLE,
    VARIABLE,
    AirIn,
    FloatArray,
    Plant,
    Running,
    UnitMap,
)
from dewledger.weather.numerics.compiled import compiled, within_callers
from dewledger.weather.physics.moist_air import (
    enthalpy,
    heat_capacity,
    saturation_hum_ratio_slope_and_bend,
    temp_from_enthalpy,
    wet_bulb,
)


@compiled
def map_cell(value: float, first: float, step: float, size: int) -> tuple[int, float, float]:
    """Cell of a uniform axis, place in it (0 to 1), and 1.0 / step or 0.0 beyond the edge.

    ``value``, ``first`` and ``step`` in the unit of the axis [C]; the place is a fraction [1].
    """
    inverse = 1.0 / step
    place = (value - first) * inverse
    if place <= 0.0:
        return 0, 0.0, 0.0
    if place >= size - 1.0:
        return size - 2, 1.0, 0.0
    cell = int(place)
    return cell, place - cell, inverse


@compiled
def suction_cell(unit_map: UnitMap, suction_C: float) -> tuple[int, float, float]:
    """``map_cell`` of a suction temperature. The inverse step in [1/K]."""
    return map_cell(
        suction_C,
        unit_map.suction_first_C,
        unit_map.suction_step_K,
        unit_map.cooling_W.shape[0],
    )


@compiled
def condensing_cell(unit_map: UnitMap, condensing_C: float) -> tuple[int, float, float]:
    """``map_cell`` of a condensing temperature. The inverse step in [1/K]."""
    return map_cell(
        condensing_C,
        unit_map.condensing_first_C,
        unit_map.condensing_step_K,
        unit_map.cooling_W.shape[1],
    )


@compiled
def on_grid(grid: FloatArray, i: int, x: float, j: int, y: float) -> float:
    """A grid's value at a place in its cell i, j: linear both ways.

    In the unit of the grid [W]; ``x`` and ``y`` are fractions [1].
    """
    left = (1.0 - y) * grid[i, j] + y * grid[i, j + 1]
    right = (1.0 - y) * grid[i + 1, j] + y * grid[i + 1, j + 1]
    return float(left + x * (right - left))


@compiled
def evaporator_cooling(unit_map: UnitMap, suction_C: float, condensing_C: float) -> float:
    """Evaporator heat [W] with all displacement in use; held at the edge of the map."""
    i, x, _ = suction_cell(unit_map, suction_C)
    j, y, _ = condensing_cell(unit_map, condensing_C)
    return on_grid(unit_map.cooling_W, i, x, j, y)


@compiled
def compressor_power(unit_map: UnitMap, suction_C: float, condensing_C: float) -> float:
    """Compressor power [W] with all displacement in use; held at the edge of the map."""
    i, x, _ = suction_cell(unit_map, suction_C)
    j, y, _ = condensing_cell(unit_map, condensing_C)
    return on_grid(unit_map.compressor_W, i, x, j, y)


@compiled
def fraction_for_surface(
    unit_map: UnitMap, surface_C: float, total_W: float, condensing_C: float
) -> tuple[float, float, float]:
    """Displacement fraction, suction [C] and compressor power [W] that hold a surface.

    Explicit: suction = surface - R total, fraction = total / cooling there. NaN for a tabulated
    unit, which runs at full displacement only.
    """
    if unit_map.kind == TABLE:
        return math.nan, math.nan, math.nan
    suction = surface_C - unit_map.surface_resistance_K_W * total_W
    fraction = total_W / evaporator_cooling(unit_map, suction, condensing_C)
    return fraction, suction, fraction * compressor_power(unit_map, suction, condensing_C)


@compiled
def bypass_of(unit_map: UnitMap, flow_kg_s: float) -> float:
    """Bypass factor [1] of the unit's coil at a dry-air flow; worked out beforehand for the flow of
    most hours."""
    if (
        flow_kg_s == unit_map.usual_flow_kg_s
        and unit_map.bypass_area_kg_s == unit_map.usual_area_kg_s
    ):
        return unit_map.usual_bypass
    return bypass_factor(unit_map.bypass_area_kg_s, flow_kg_s)


@compiled
@within_callers
def surface_at_balance(
    unit_map: UnitMap,
    fraction: float,
    temp_in_C: float,
    hum_ratio_in: float,
    pressure_Pa: float,
    flow_kg_s: float,
    condensing_C: float,
    start_surface_C: float,
) -> tuple[float, float, float, float, float]:
    """The coil surface at which coil and compressor balance; parameters as of ``steady_state``.

    fraction x cooling(suction, condensing) = coil heat(surface) with suction = surface - R x heat:
    Newton's steps on the surface, with the bend of the saturation curve (Chebyshev's method), kept
    inside a bracket (the difference falls steadily with the surface temperature).

    Returns the surface [C], the coil's heat [W], the suction temperature [C], and the humidity
    ratio at the surface [kg/kg] with its slope [1/K].
    """
    contact = flow_kg_s * (1.0 - bypass_of(unit_map, flow_kg_s))
    resistance = unit_map.surface_resistance_K_W
    h_in = enthalpy(temp_in_C, hum_ratio_in)
    grid = unit_map.cooling_W
    j, y, _ = condensing_cell(unit_map, condensing_C)
    low = -70.0
    high = temp_in_C
    surface = start_surface_C
    if not (surface > low and surface < high):
        surface = temp_in_C - 12.0
    total = 0.0
    w_surface = hum_ratio_in
    w_slope = 0.0
    suction = surface
    for _ in range(60):
        saturated = saturation_hum_ratio_slope_and_bend(surface, pressure_Pa)
        total, slope, bend = coil_heat(contact, temp_in_C, hum_ratio_in, h_in, surface, saturated)
        w, w_slope, w_bend = saturated
        wet = is_wet(hum_ratio_in, w)
        suction = surface - resistance * total
        i, x, inverse_step = suction_cell(unit_map, suction)
        left = (1.0 - y) * grid[i, j] + y * grid[i, j + 1]
        right = (1.0 - y) * grid[i + 1, j] + y * grid[i + 1, j + 1]
        residual = total - fraction * (left + x * (right - left))
        if residual > 0.0:
            low = surface
        else:
            high = surface
        per_K = fraction * (right - left) * inverse_step
        inverse = 1.0 / (slope - per_K * (1.0 - resistance * slope))
        step = residual * inverse
        if abs(step) < 2.0:
            step += 0.5 * bend * (1.0 + per_K * resistance) * inverse * step * step
        surface -= step
        # Where the step leads, by slope and bend; on a dry coil's line that is exact.
        w_next = w - step * (w_slope - 0.5 * step * w_bend)
        total -= step * (slope - 0.5 * step * bend)
        before = suction
        suction = surface - resistance * total
        place = x + (suction - before) * inverse_step
        # After a last short step nothing need be looked at again. On the wet line, clear of dew
        # point and ice, 8e-3 K leave 2e-11 of the heat; where that crosses a row of the map, 3e-4 K
        # leave 1e-8; across a kink 1e-5 K do.
        same_rows = inverse_step > 0.0 and place > 0.0 and place < 1.0
        close = 1e-5
        if not wet and w_next >= hum_ratio_in and same_rows:
            close = math.inf
        elif wet and w_next < hum_ratio_in and surface > 0.02:
            close = 8e-3 if same_rows else 3e-4
        w_surface = w_next if wet and w_next < hum_ratio_in else hum_ratio_in
        w_slope -= step * w_bend
        if abs(step) < close:
            break
        if not (surface > low and surface < high):
            surface = 0.5 * (low + high)
    return surface, total, suction, w_surface, w_slope


@compiled
def steady_state(
    unit_map: UnitMap,
    fraction: float,
    temp_in_C: float,
    hum_ratio_in: float,
    pressure_Pa: float,
    flow_kg_s: float,
    condensing_C: float,
    start_surface_C: float,
) -> tuple[float, float, float, float, float, float, float, int]:
    """Steady running at a displacement fraction and a condensing temperature.

    Parameters
    ----------
    fraction : share of the displacement in use, above 0 to 1 (a tabulated unit ignores it)
    temp_in_C, hum_ratio_in : air entering the coil
    flow_kg_s : dry air
    start_surface_C : where the search begins, best the last answer; any number will do

    Returns
    -------
    total_W, sensible_W, compressor_W, surface_C, suction_C, temp_out_C, hum_ratio_out, floor_hit.
    floor_hit is 1 where the surface would have gone below the floor: it is then held there, which
    takes less displacement than was asked for.

    Heats and power in [W], temperatures in [C], humidity ratios in [kg/kg].
    """
    if unit_map.kind == TABLE:
        return table_state(unit_map, temp_in_C, hum_ratio_in, pressure_Pa, flow_kg_s, condensing_C)
    surface, total, suction, w_surface, w_slope = surface_at_balance(
        unit_map,
        fraction,
        temp_in_C,
        hum_ratio_in,
        pressure_Pa,
        flow_kg_s,
        condensing_C,
        start_surface_C,
    )
    bypass = bypass_of(unit_map, flow_kg_s)
    h_in = enthalpy(temp_in_C, hum_ratio_in)
    grid = unit_map.cooling_W
    j, y, _ = condensing_cell(unit_map, condensing_C)
    floor_hit = 0
    if surface < unit_map.surface_floor_C:
        floor_hit = 1
        surface = min(unit_map.surface_floor_C, temp_in_C)
        contact = flow_kg_s * (1.0 - bypass)
        total, _, w_surface, w_slope = coil_total_at_surface(
            contact, temp_in_C, hum_ratio_in, h_in, surface, pressure_Pa
        )
        suction = surface - unit_map.surface_resistance_K_W * total
    i, x, _ = suction_cell(unit_map, suction)
    used = fraction
    if floor_hit == 1:
        used = total / on_grid(grid, i, x, j, y)
    power = used * on_grid(unit_map.compressor_W, i, x, j, y)
    w_out = w_surface + bypass * (hum_ratio_in - w_surface)
    temp_out = temp_from_enthalpy(h_in - total / flow_kg_s, w_out)
    if w_surface < hum_ratio_in:
        # The saturation curve lies above its tangent (here that of the last look, and a little
        # flatter for it): below that there can be no fog. Not from ice to water, where the curve
        # bends down.
        tangent = 0.999 * w_slope
        if surface <= 0.01 or w_out > w_surface + tangent * (temp_out - surface):
            temp_out, w_out = settle_fog(temp_out, w_out, pressure_Pa)
    # All of a dry coil's heat is sensible: its latent is exactly zero.
    sensible = total
    if w_out != hum_ratio_in:
        sensible = flow_kg_s * heat_capacity(w_out) * (temp_in_C - temp_out)
    return total, sensible, power, surface, suction, temp_out, w_out, floor_hit


@compiled
def outside_map(
    unit_map: UnitMap,
    temp_in_C: float,
    hum_ratio_in: float,
    pressure_Pa: float,
    flow_kg_s: float,
    suction_C: float,
    condensing_C: float,
) -> int:
    """1 where a running state lies outside what the unit's map or table covers."""
    if unit_map.kind == TABLE:
        entering = wet_bulb(temp_in_C, hum_ratio_in, pressure_Pa)
        outdoor = equivalent_outdoor(unit_map, entering, temp_in_C, flow_kg_s, condensing_C)
        return outside_table(unit_map, entering, temp_in_C, outdoor, flow_kg_s)
    rows, columns = unit_map.cooling_W.shape
    suction_last = unit_map.suction_first_C + unit_map.suction_step_K * (rows - 1)
    condensing_last = unit_map.condensing_first_C + unit_map.condensing_step_K * (columns - 1)
    if (
        suction_C < unit_map.suction_first_C
        or suction_C > suction_last
        or condensing_C < unit_map.condensing_first_C
        or condensing_C > condensing_last
    ):
        return 1
    return 0


@compiled
def condensing_without_recovery(
    unit_map: UnitMap, outdoor_C: float, rejected_W: float, floor_C: float
) -> float:
    """Condensing temperature [C] with all heat rejected outdoors, held at the floor."""
    return max(floor_C, outdoor_C + rejected_W / unit_map.condenser_conductance_W_K)


@compiled
def run_at(
    unit: UnitMap,
    fraction: float,
    air: AirIn,
    condensing_C: float,
    start_surface_C: float,
) -> Running:
    """Steady running at a displacement fraction."""
    total, sensible, power, surface, suction, temp, hum_ratio, floor_hit = steady_state(
        unit,
        fraction,
        air.temp_C,
        air.hum_ratio,
        air.pressure_Pa,
        air.flow_kg_s,
        condensing_C,
        start_surface_C,
    )
    removal = air.flow_kg_s * (air.hum_ratio - hum_ratio)
    return Running(
        total, sensible, removal, power, surface, suction, temp, hum_ratio, fraction, floor_hit
    )


@compiled
def least_displacement(plant: Plant) -> float:
    """Least share of the displacement that a unit can run. A share [1].

    With a split face each stage has its share of the air too, so that what its coil needs of the
    whole flow is that of full capacity.
    """
    if plant.capacity_control == VARIABLE:
        return plant.minimum_fraction
    return plant.stages[0] if plant.capacity_control == STAGES else 1.0


@compiled
def most_displacement(plant: Plant, flow_kg_s: float) -> float:
    """Share of the displacement that may run at a supply flow, so that its coil does not freeze.

    Least airflow in proportion to the displacement in use, all of it at full flow. A share [1].
    """
    needed = min(plant.full_capacity_kg_s, plant.flow_kg_s)
    if flow_kg_s >= needed:
        return 1.0
    return max(flow_kg_s / needed, least_displacement(plant))


@compiled
def surface_at_displacement(air: AirIn, running: Running, more: float) -> float:
    """Guess of the coil surface [C] with ``more`` times the displacement: the surface stands below
    the entering air by its power of some 0.7 where the coil is dry, of 0.4 where it is wet."""
    power = 0.4 if running.removal_kg_s > 0.0 else 0.7
    return air.temp_C - (air.temp_C - running.surface_C) * math.pow(more, power)


@compiled
def run_at_surface(
    unit: UnitMap,
    plant: Plant,
    surface_C: float,
    air: AirIn,
    condensing_C: float,
) -> Running:
    """Steady running at the displacement that holds the coil surface at a temperature.

    Explicit: the surface fixes the leaving air and the coil's heat, and these fix the suction
    temperature. Held between the minimum and what may run at this flow, and at the surface floor.
    """
    most = most_displacement(plant, air.flow_kg_s)
    bypass = bypass_of(unit, air.flow_kg_s)
    surface = max(surface_C, unit.surface_floor_C)
    temp, hum_ratio = coil_leaving(air.temp_C, air.hum_ratio, surface, bypass, air.pressure_Pa)
    total = air.flow_kg_s * (enthalpy(air.temp_C, air.hum_ratio) - enthalpy(temp, hum_ratio))
    fraction, suction, power = fraction_for_surface(unit, surface, total, condensing_C)
    sensible = air.flow_kg_s * heat_capacity(hum_ratio) * (air.temp_C - temp)
    removal = air.flow_kg_s * (air.hum_ratio - hum_ratio)
    floor_hit = 1 if surface_C < unit.surface_floor_C else 0
    running = Running(
        total, sensible, removal, power, surface, suction, temp, hum_ratio, fraction, floor_hit
    )
    if fraction > most or fraction < plant.minimum_fraction:
        held = most if fraction > most else plant.minimum_fraction
        more = held / fraction if fraction > 0.0 else 1.0
        start_C = surface_at_displacement(air, running, more)
        return run_at(unit, held, air, condensing_C, start_C)
    return running


@compiled
def surface_for_sensible(unit: UnitMap, sensible_W: float, air: AirIn) -> float:
    """Coil surface temperature at which steady running takes out a sensible load. In [C]."""
    bypass = bypass_of(unit, air.flow_kg_s)
    flow = air.flow_kg_s
    coldest = -60.0
    # The dry coil: straight line, exact where the surface stays above the dew point.
    rate = flow * heat_capacity(air.hum_ratio) * (1.0 - bypass)
    surface = max(air.temp_C - sensible_W / rate, coldest)
    temp, w = coil_leaving(air.temp_C, air.hum_ratio, surface, bypass, air.pressure_Pa)
    if w == air.hum_ratio:
        return surface
    # The wet coil bends little: secant steps, first with the dry slope.
    before = surface
    residual = flow * heat_capacity(w) * (air.temp_C - temp) - sensible_W
    residual_before = 0.0
    slope = -rate
    for step in range(40):
        if step > 0 and surface != before:
            slope = (residual - residual_before) / (surface - before)
        change = residual / slope
        before = surface
        residual_before = residual
        surface -= change
        if abs(change) < 1e-8:
            break
        if surface < coldest:
            return coldest
        temp, w = coil_leaving(air.temp_C, air.hum_ratio, surface, bypass, air.pressure_Pa)
        residual = flow * heat_capacity(w) * (air.temp_C - temp) - sensible_W
    return surface
