"""A unit of variable capacity: by which coil surface it makes an hour of a dehumidification call.

Of the ways of ways_to_dry.py LEAST_OVERCOOLING takes the surface with the least sensible cooling. A
colder surface takes more water per sensible heat, down to where the line from the entering air
touches the saturation curve (`driest_surface`); where a stopped coil re-evaporates water, running
longer at a warmer surface may overcool less.

Floats of one hour in SI: arguments name their unit, or are listed in docs/nomenclature.md; fields
of the NamedTuples have theirs in types.py. Source: the balances of ways_to_dry.py; the choice of
the least overcooling is this program's own.
"""

from __future__ import annotations

import math

from dewledger.components.cooling_coil import (
    surface_for_leaving_hum_ratio,
    surface_for_leaving_temp,
)
from dewledger.dx_unit.part_load import (
    cycled,
    evaporation_terms,
    humidistat_rate,
    match_removal,
    match_sensible,
)
from dewledger.dx_unit.steady_state import (
    bypass_of,
    most_displacement,
    run_at,
    run_at_surface,
    surface_for_sensible,
)
from dewledger.dx_unit.types import (
    ALL_STAGES,
    LEAVING_AIR,
    MATCH_SENSIBLE,
    AirIn,
    Plant,
    Running,
    Shared,
    Task,
    UnitMap,
)
from dewledger.dx_unit.ways_to_dry import (
    asked_removal,
    better,
    dried_by,
    dries_enough,
    needs_no_reheat,
    overcooled,
    removing,
)
from dewledger.weather.numerics.compiled import compiled
from dewledger.weather.numerics.false_position import Bracket, meeting, narrowed
from dewledger.weather.physics.moist_air import ZERO_C_K, saturation_hum_ratio_and_slope

# Surfaces tried on the way to the one that overcools least, found where they are as near as this.
_LOOKS = 6
_HAIR_K = 0.02
# The warmest surface that overcools nothing is found to this.
_EDGE_W = 1e-4
_MOST_TRIALS = 60
# A variable unit's way is the temperature of its surface [K], or this, the driest within reach.
_COLDEST = 0.0


@compiled
def driest_surface(air: AirIn, coldest_C: float) -> float:
    """Surface temperature [C] at which a coil takes the most water per sensible heat.

    There the line from the entering air touches the saturation curve: W_in - W_s = W_s' (T_in - T).
    Newton with W_s'' = W_s'^2 / W_s, as for a curve that grows by a constant factor; no colder than
    ``coldest_C``.
    """
    surface = coldest_C
    for _ in range(30):
        w, slope = saturation_hum_ratio_and_slope(surface, air.pressure_Pa)
        f = slope * (air.temp_C - surface) - (air.hum_ratio - w)
        if f >= 0.0 and surface <= coldest_C:
            return coldest_C
        step = f * w / (slope * slope * max(air.temp_C - surface, 1.0))
        step = min(max(step, -10.0), 10.0)
        surface = min(surface - step, air.temp_C - 1.0)
        if abs(step) < 1e-9 or surface < coldest_C:
            break
    return max(surface, coldest_C)


@compiled
def surface_for_removal(unit: UnitMap, air: AirIn, asked_kg_s: float) -> float:
    """Coil surface [C] at which running all hour removes the water asked for."""
    surface = surface_for_leaving_hum_ratio(
        air.hum_ratio,
        air.hum_ratio - asked_kg_s / air.flow_kg_s,
        bypass_of(unit, air.flow_kg_s),
        air.pressure_Pa,
    )
    return -60.0 if math.isnan(surface) else surface


@compiled
def run_deepest(unit: UnitMap, plant: Plant, air: AirIn, task: Task, condensing_C: float) -> Shared:
    """All hour at the surface that removes the water asked for, or as near as full capacity gets;
    where its least displacement removes more, it cycles."""
    asked = asked_removal(plant, task, 1.0)
    surface = surface_for_removal(unit, air, asked)
    deepest = run_at_surface(unit, plant, surface, air, condensing_C)
    if deepest.removal_kg_s > asked * (1.0 + 1e-12):
        # Held at its least displacement it dries more than that: it cycles.
        part_load, share = match_removal(plant, deepest, air, task, humidistat_rate(plant, deepest))
        if part_load <= 1.0:
            return cycled(plant, deepest, part_load, share, 0)
    limited = 1 if deepest.removal_kg_s < asked * (1.0 - 1e-9) else 0
    return cycled(plant, deepest, 1.0, 1.0, limited)


@compiled
def at_surface(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    by_need: Shared,
    condensing_C: float,
    surface_C: float,
) -> Shared:
    """The hour at a surface, held within the displacement."""
    running = run_at_surface(unit, plant, surface_C, air, condensing_C)
    return dried_by(plant, air, task, running, by_need, surface_C + ZERO_C_K)


@compiled
def least_overcooling_variable(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    condensing_C: float,
    start_surface_C: float,
    by_need: Shared,
    way: float,
) -> Shared:
    """A variable unit's hour at the surface that overcools least.

    Without re-evaporation that is the driest surface within its displacement; with it, where a hair
    warmer is better, one between that one and the one that removes the water running all hour. What
    a surface overcools does not depend on the condensing temperature: found once, it is held
    (``way``) as far as the displacement allows.
    """
    if way > _COLDEST:
        held = at_surface(unit, plant, air, task, by_need, condensing_C, way - ZERO_C_K)
        if held.limited == 0:
            return held
        return run_deepest(unit, plant, air, task, condensing_C)
    driest = driest_surface(air, unit.surface_floor_C)
    most = most_displacement(plant, air.flow_kg_s)
    drying = run_at(unit, most, air, condensing_C, start_surface_C)
    if drying.surface_C < driest:
        drying = run_at_surface(unit, plant, driest, air, condensing_C)
    cold = dried_by(plant, air, task, drying, by_need, _COLDEST)
    if cold.limited == 1:
        return run_deepest(unit, plant, air, task, condensing_C)
    wet, _ = evaporation_terms(plant, drying, air, task)
    if wet <= 0.0:
        return cold
    cold_C = drying.surface_C
    best = cold
    if not needs_no_reheat(task, cold):
        near = at_surface(unit, plant, air, task, by_need, condensing_C, cold_C + _HAIR_K)
        if near.limited == 0 and overcooled(task, near) >= overcooled(task, cold):
            return cold
    warm_C = surface_for_removal(unit, air, asked_removal(plant, task, 1.0))
    if warm_C <= cold_C + 1e-6:
        return cold
    if not needs_no_reheat(task, cold):
        best = between_surfaces(
            unit, plant, air, task, by_need, condensing_C, warm_C, cold_C
        )  # fmt: skip
    if best.limited == 1 or not needs_no_reheat(task, best):
        return best
    # Every colder surface would do too, at more power.
    if best.way > _COLDEST:
        cold_C = best.way - ZERO_C_K
    return warmest_without_reheat(
        unit, plant, air, task, by_need, condensing_C, warm_C, cold_C
    )  # fmt: skip


@compiled
def between_surfaces(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    by_need: Shared,
    condensing_C: float,
    warm_C: float,
    cold_C: float,
) -> Shared:
    """The hour at the surface that overcools least between a warm one and a cold one.

    The lowest point of parabolas through three of them, or an end where that is better.
    """
    inner = 0.5 * (cold_C + warm_C)
    cold = at_surface(unit, plant, air, task, by_need, condensing_C, cold_C)
    warm = at_surface(unit, plant, air, task, by_need, condensing_C, warm_C)
    middle = at_surface(unit, plant, air, task, by_need, condensing_C, inner)
    best = better(task, middle, better(task, cold, warm))
    low, high = cold_C, warm_C
    f_low, f_inner, f_high = (
        overcooled(task, cold),
        overcooled(task, middle),
        overcooled(task, warm),
    )
    for _ in range(_LOOKS):
        if best.limited == 1 or needs_no_reheat(task, best):
            break
        surface = lowest_of_parabola(low, inner, high, f_low, f_inner, f_high)
        if not low < surface < high or abs(surface - inner) < _HAIR_K:
            break
        found = at_surface(unit, plant, air, task, by_need, condensing_C, surface)
        best = better(task, found, best)
        f = overcooled(task, found)
        if f < f_inner:
            if surface < inner:
                high, f_high = inner, f_inner
            else:
                low, f_low = inner, f_inner
            inner, f_inner = surface, f
        elif surface < inner:
            low, f_low = surface, f
        else:
            high, f_high = surface, f
    return best


@compiled
def beyond_need(plant: Plant, air: AirIn, task: Task, running: Running) -> float:
    """Sensible cooling beyond the need [W] while the unit removes the water asked for."""
    return removing(plant, air, task, running).sensible_W - task.sensible_base_W


@compiled
def warmest_without_reheat(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    by_need: Shared,
    condensing_C: float,
    warm_C: float,
    held_C: float,
) -> Shared:
    """The hour at the warmest surface that overcools nothing, from one that does not on.

    There removing the water takes as long as the sensible need: false position.
    """
    surface = warm_C
    running = run_at_surface(unit, plant, surface, air, condensing_C)
    f = beyond_need(plant, air, task, running)
    at_held = run_at_surface(unit, plant, held_C, air, condensing_C)
    f_held = beyond_need(plant, air, task, at_held)
    bracket = Bracket(held_C, f_held, surface, f, 0)
    for _ in range(_MOST_TRIALS):
        if abs(f) < _EDGE_W or bracket.f_high <= 0.0 or bracket.f_low >= 0.0:
            break
        surface = meeting(bracket)
        running = run_at_surface(unit, plant, surface, air, condensing_C)
        f = beyond_need(plant, air, task, running)
        bracket = narrowed(bracket, surface, f)
    if f > _EDGE_W:
        surface = bracket.low
        running = run_at_surface(unit, plant, surface, air, condensing_C)
    return dried_by(plant, air, task, running, by_need, surface + ZERO_C_K)


@compiled
def lowest_of_parabola(a: float, b: float, c: float, f_a: float, f_b: float, f_c: float) -> float:
    """Where the parabola through three points, a < b < c, is lowest; NaN where it has no lowest.

    A surface [C], as ``a``, ``b`` and ``c``; ``f_a``, ``f_b`` and ``f_c`` in one unit.
    """
    left = (f_b - f_a) / (b - a)
    right = (f_c - f_b) / (c - b)
    bend = (right - left) / (c - a)
    if bend <= 1e-9 * (abs(f_a) + abs(f_c)):
        return math.nan
    return 0.5 * (a + b) - 0.5 * left / bend


@compiled
def share_variable(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    condensing_C: float,
    start_surface_C: float,
    way: float,
) -> Shared:
    """A variable unit's hour.

    A sensible load is met at the mildest coil that does it, all hour. In a dehumidification call
    it dries by its drying control; with LEAVING_AIR part of the hour with its leaving air at the
    set point, beyond that for longer, then colder.
    """
    needed = max(task.sensible_base_W + task.sensible_per_runtime_W, 0.0)
    mild_surface = surface_for_sensible(unit, needed, air)
    mild = run_at_surface(unit, plant, mild_surface, air, condensing_C)
    part_load, share = match_sensible(plant, mild, air, task, plant.cycles_per_hour)
    limited = 1 if part_load > 1.0 + 1e-9 else 0
    by_need = cycled(plant, mild, min(part_load, 1.0), share, limited)
    if task.kind == MATCH_SENSIBLE or dries_enough(plant, task, by_need):
        return by_need
    if plant.drying_control == LEAVING_AIR:
        low_surface = surface_for_leaving_temp(
            air.temp_C,
            air.hum_ratio,
            min(plant.drying_leaving_C, air.temp_C - 1.0),
            bypass_of(unit, air.flow_kg_s),
            air.pressure_Pa,
            mild_surface,
        )
        low_surface = min(low_surface, mild_surface)
        drying = run_at_surface(unit, plant, low_surface, air, condensing_C)
        found = dried_by(plant, air, task, drying, by_need, -1.0)
        if found.limited == 0:
            return found
        return run_deepest(unit, plant, air, task, condensing_C)
    if plant.drying_control == ALL_STAGES:
        most = most_displacement(plant, air.flow_kg_s)
        full = run_at(unit, most, air, condensing_C, start_surface_C)
        return dried_by(plant, air, task, full, by_need, -1.0)
    return least_overcooling_variable(
        unit, plant, air, task, condensing_C, start_surface_C, by_need, way
    )
