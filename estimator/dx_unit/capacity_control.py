"""How a unit shares an hour: cycling, stages or variable capacity, at a condensing temperature.

Each way to run makes one hour of a dehumidification call (ways_to_dry.py). LEAST_OVERCOOLING takes
the way with the least sensible cooling, and of equal ones that with the least power. A colder
surface takes more water per sensible heat, down to where the line from the entering air touches the
saturation curve (`driest_surface`); where a stopped coil re-evaporates water, running longer at a
warmer surface may overcool less.

Floats of one hour in SI: arguments name their unit, or are listed in docs/nomenclature.md; fields
of the NamedTuples have theirs in types.py. Source: the balances of ways_to_dry.py; the choice of
the least overcooling is this program's own.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from dewledger.components.cooling_coil import (
    surface_for_leaving_hum_ratio,
    surface_for_leaving_temp,
)
from dewledger.dx_unit.part_load import (
    blended,
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
    surface_at_displacement,
    surface_for_sensible,
)
from dewledger.dx_unit.types import (
    ALL_STAGES,
    CYCLING,
    FACE_SPLIT,
    FULL_CAPACITY,
    LEAVING_AIR,
    MATCH_SENSIBLE,
    VARIABLE,
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
    between,
    by_way,
    dried_by,
    dries_enough,
    needs_no_reheat,
    overcooled,
    removing,
    with_start,
)
from dewledger.weather.numerics.compiled import compiled
from dewledger.weather.physics.moist_air import (
    enthalpy,
    saturation_hum_ratio_and_slope,
    temp_from_enthalpy,
)

# Surfaces tried on the way to the one that overcools least, and to the warmest that does not.
_LOOKS = 4
_HALVINGS = 6
# Ways to run are numbered: stage k and stopped by k, stages k and l by k + 8 (l + 1).
_PAIR = 8


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
def at_depth(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    by_need: Shared,
    condensing_C: float,
    warm_C: float,
    cold_C: float,
    depth: float,
) -> Shared:
    """The hour at a surface between a warm one (0) and a cold one (1)."""
    surface = warm_C + depth * (cold_C - warm_C)
    running = run_at_surface(unit, plant, surface, air, condensing_C)
    return dried_by(plant, air, task, running, by_need, depth)


@compiled
def least_overcooling_variable(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    condensing_C: float,
    by_need: Shared,
    way: float,
) -> Shared:
    """A variable unit's hour at the surface that overcools least.

    Without re-evaporation that is the driest surface within its displacement; with it a surface
    between that one and the one that removes the water running all hour: the lowest point of
    parabolas through three of them, or an end where that is better.
    """
    driest = driest_surface(air, unit.surface_floor_C)
    drying = run_at_surface(unit, plant, driest, air, condensing_C)
    cold = dried_by(plant, air, task, drying, by_need, 1.0)
    if cold.limited == 1:
        return run_deepest(unit, plant, air, task, condensing_C)
    wet, _ = evaporation_terms(plant, drying, air, task)
    warm_C = surface_for_removal(unit, air, asked_removal(plant, task, 1.0))
    cold_C = drying.surface_C
    if wet <= 0.0 or warm_C <= cold_C + 1e-6:
        return cold
    if way >= 0.0:
        return at_depth(unit, plant, air, task, by_need, condensing_C, warm_C, cold_C, way)
    warm = at_depth(unit, plant, air, task, by_need, condensing_C, warm_C, cold_C, 0.0)
    middle = at_depth(unit, plant, air, task, by_need, condensing_C, warm_C, cold_C, 0.5)
    best = better(task, middle, better(task, cold, warm))
    low, high = 0.0, 1.0
    inner = 0.5
    f_low, f_inner, f_high = (
        overcooled(task, warm),
        overcooled(task, middle),
        overcooled(task, cold),
    )
    for _ in range(_LOOKS):
        if best.limited == 1 or needs_no_reheat(task, best):
            break
        depth = lowest_of_parabola(low, inner, high, f_low, f_inner, f_high)
        if depth <= low or depth >= high or abs(depth - inner) < 1e-3:
            break
        found = at_depth(unit, plant, air, task, by_need, condensing_C, warm_C, cold_C, depth)
        best = better(task, found, best)
        f = overcooled(task, found)
        if f < f_inner:
            if depth < inner:
                high, f_high = inner, f_inner
            else:
                low, f_low = inner, f_inner
            inner, f_inner = depth, f
        elif depth < inner:
            low, f_low = depth, f
        else:
            high, f_high = depth, f
    if best.limited == 1 or not needs_no_reheat(task, best) or best.way <= 0.0:
        return best
    # Every colder surface would do too, at more power: the warmest that needs no reheat.
    high = best.way
    low = low if low < high else 0.0
    for _ in range(_HALVINGS):
        depth = 0.5 * (low + high)
        found = at_depth(unit, plant, air, task, by_need, condensing_C, warm_C, cold_C, depth)
        if found.limited == 0 and needs_no_reheat(task, found):
            high = depth
            best = found
        else:
            low = depth
    return best


@compiled
def lowest_of_parabola(a: float, b: float, c: float, f_a: float, f_b: float, f_c: float) -> float:
    """Where the parabola through three points, a < b < c, is lowest; -1 where it has no lowest.

    A place between two surfaces [1], as ``a``, ``b`` and ``c``; ``f_a``, ``f_b`` and ``f_c`` in one
    unit.
    """
    left = (f_b - f_a) / (b - a)
    right = (f_c - f_b) / (c - b)
    bend = (right - left) / (c - a)
    if bend <= 1e-9 * (abs(f_a) + abs(f_c)):
        return -1.0
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
    return least_overcooling_variable(unit, plant, air, task, condensing_C, by_need, way)


@compiled
def run_stage(
    unit: UnitMap,
    plant: Plant,
    stage: int,
    air: AirIn,
    condensing_C: float,
    start_surface_C: float,
) -> Running:
    """Steady running at a stage, or at as much of it as may run at this flow, by the mean of stages
    that alternate.

    Intertwined circuits use the whole coil; with a split face the active part runs as the whole
    unit does and its air then mixes with the air that passed the idle part.
    """
    fraction = min(plant.stages[stage], most_displacement(plant, air.flow_kg_s))
    if plant.capacity_control != FACE_SPLIT or fraction >= 1.0:
        return run_at(unit, fraction, air, condensing_C, start_surface_C)
    full = run_at(unit, 1.0, air, condensing_C, start_surface_C)
    hum_ratio = fraction * full.hum_ratio + (1.0 - fraction) * air.hum_ratio
    mixed = fraction * enthalpy(full.temp_C, full.hum_ratio) + (1.0 - fraction) * enthalpy(
        air.temp_C, air.hum_ratio
    )
    return Running(
        fraction * full.total_W,
        fraction * full.sensible_W,
        fraction * full.removal_kg_s,
        fraction * full.compressor_W,
        full.surface_C,
        full.suction_C,
        temp_from_enthalpy(mixed, hum_ratio),
        hum_ratio,
        fraction,
        full.floor_hit,
    )


class Stages(NamedTuple):
    """The unit running at its stages, the smallest first, as far as they have been looked at."""

    first: Running
    second: Running
    third: Running
    fourth: Running
    known: int


@compiled
def stage_of(stages: Stages, stage: int) -> Running:
    """The unit running at a stage, counted from 0."""
    if stage == 0:
        return stages.first
    if stage == 1:
        return stages.second
    return stages.third if stage == 2 else stages.fourth


@compiled
def with_next_stage(
    unit: UnitMap, plant: Plant, air: AirIn, condensing_C: float, stages: Stages
) -> Stages:
    """The stages with one more looked at, its search begun from the one below it."""
    stage = stages.known
    below = stage_of(stages, stage - 1)
    more = 1.0  # the active part of a split face runs as the whole unit does
    if plant.capacity_control != FACE_SPLIT:
        more = min(plant.stages[stage], most_displacement(plant, air.flow_kg_s)) / below.fraction
    start_C = surface_at_displacement(air, below, more)
    above = run_stage(unit, plant, stage, air, condensing_C, start_C)
    return Stages(
        stages.first,
        above if stage == 1 else stages.second,
        above if stage == 2 else stages.third,
        above if stage == 3 else stages.fourth,
        stage + 1,
    )


@compiled
def at_sensible(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    condensing_C: float,
    start_surface_C: float,
) -> tuple[Shared, Stages]:
    """A staged unit meets its sensible need between two neighboring stages.

    Returns the hour, and the stages up to the upper of the two.
    """
    needed = task.sensible_base_W + task.sensible_per_runtime_W
    running = run_stage(unit, plant, 0, air, condensing_C, start_surface_C)
    stages = Stages(running, running, running, running, 1)
    off = task.sensible_base_W <= 1e-9 * running.sensible_W
    if off or needed <= running.sensible_W:
        part_load, share = match_sensible(plant, running, air, task, plant.cycles_per_hour)
        return cycled(plant, running, min(part_load, 1.0), share, 0), stages
    most = most_displacement(plant, air.flow_kg_s)
    while plant.stages[stages.known - 1] < most:
        stages = with_next_stage(unit, plant, air, condensing_C, stages)
        above = stage_of(stages, stages.known - 1)
        if needed <= above.sensible_W:
            share = (needed - running.sensible_W) / (above.sensible_W - running.sensible_W)
            return cycled(plant, blended(running, above, share), 1.0, 1.0, 0), stages
        running = above
    return cycled(plant, running, 1.0, 1.0, 1), stages


@compiled
def least_overcooling_stages(
    plant: Plant, air: AirIn, task: Task, stages: Stages, by_need: Shared, way: float
) -> Shared:
    """A staged unit's hour by the stage, or the two stages, that overcool least.

    Every stage with stops, and every two stages that alternate, each meeting the removal asked for.
    """
    best = by_need
    found = False
    asked = asked_removal(plant, task, 1.0)
    needed = task.sensible_base_W + task.sensible_per_runtime_W
    for k in range(stages.known):
        low = stage_of(stages, k)
        number = float(k)
        if way < 0.0 or way == number:
            trial = dried_by(plant, air, task, low, by_need, number)
            best = better(task, best, trial) if found else trial
            found = True
        for m in range(k + 1, stages.known):
            number = float(k + _PAIR * (m + 1))
            high = stage_of(stages, m)
            if (way >= 0.0 and way != number) or high.removal_kg_s <= low.removal_kg_s:
                continue
            share = (asked - low.removal_kg_s) / (high.removal_kg_s - low.removal_kg_s)
            if share < 0.0 or share > 1.0:
                continue
            trial = cycled(plant, blended(low, high, share), 1.0, 1.0, 0)
            if trial.sensible_W < needed:
                # Both stages together meet the sensible need and dry more than asked.
                share = (needed - low.sensible_W) / (high.sensible_W - low.sensible_W)
                deep = cycled(plant, blended(low, high, min(share, 1.0)), 1.0, 1.0, 0)
                trial = between(plant, task, by_need, deep)
            trial = by_way(trial, number)
            best = better(task, best, trial) if found else trial
            found = True
    # A way that is kept may no longer be one: running short of what is asked, it is chosen anew.
    return best if found else cycled(plant, stages.first, 1.0, 1.0, 1)


@compiled
def drying_leaving_stages(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    condensing_C: float,
    stages: Stages,
    by_need: Shared,
) -> Shared:
    """A staged unit's hour with LEAVING_AIR: it dries by the first stage whose air leaves at or
    below the set point, the last if none does, and by the next ones where that is not enough."""
    most = most_displacement(plant, air.flow_kg_s)
    drying = stage_of(stages, stages.known - 1)
    while plant.stages[stages.known - 1] < most and drying.temp_C > plant.drying_leaving_C:
        stages = with_next_stage(unit, plant, air, condensing_C, stages)
        drying = stage_of(stages, stages.known - 1)
    hour = dried_by(plant, air, task, drying, by_need, -1.0)
    if hour.limited == 0:
        return hour
    asked = asked_removal(plant, task, 1.0)
    while plant.stages[stages.known - 1] < most:
        stages = with_next_stage(unit, plant, air, condensing_C, stages)
        above = stage_of(stages, stages.known - 1)
        if above.removal_kg_s >= asked:
            share = (asked - drying.removal_kg_s) / (above.removal_kg_s - drying.removal_kg_s)
            return cycled(plant, blended(drying, above, share), 1.0, 1.0, 0)
        drying = above
    return cycled(plant, drying, 1.0, 1.0, 1)


@compiled
def share_stages(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    condensing_C: float,
    start_surface_C: float,
    way: float,
) -> Shared:
    """A staged unit's hour, by its drying control; its search begins from the smallest stage."""
    by_need, stages = at_sensible(unit, plant, air, task, condensing_C, start_surface_C)
    hour = by_need
    if task.kind != MATCH_SENSIBLE and not dries_enough(plant, task, by_need):
        most = most_displacement(plant, air.flow_kg_s)
        if plant.drying_control == ALL_STAGES:
            full = run_at(unit, most, air, condensing_C, start_surface_C)
            hour = dried_by(plant, air, task, full, by_need, -1.0)
        elif plant.drying_control == LEAVING_AIR:
            hour = drying_leaving_stages(unit, plant, air, task, condensing_C, stages, by_need)
        else:
            while plant.stages[stages.known - 1] < most:
                stages = with_next_stage(unit, plant, air, condensing_C, stages)
            hour = least_overcooling_stages(plant, air, task, stages, by_need, way)
            if hour.limited == 1 and way >= 0.0:
                # The way held so far no longer removes the water: choose anew.
                hour = least_overcooling_stages(plant, air, task, stages, by_need, -1.0)
    return with_start(hour, hour.way, stages.first.surface_C)


@compiled
def share_hour(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    condensing_C: float,
    start_surface_C: float,
    way: float,
) -> Shared:
    """How the unit runs through the hour at a condensing temperature, by its capacity control.

    ``way`` is -1, or the way of an earlier hour that is to be kept.
    """
    if task.kind != FULL_CAPACITY and plant.capacity_control == VARIABLE:
        return share_variable(unit, plant, air, task, condensing_C, start_surface_C, way)
    if task.kind != FULL_CAPACITY and plant.capacity_control != CYCLING:
        return share_stages(unit, plant, air, task, condensing_C, start_surface_C, way)
    most = most_displacement(plant, air.flow_kg_s)
    full = run_at(unit, most, air, condensing_C, start_surface_C)
    if task.kind == FULL_CAPACITY:
        return cycled(plant, full, 1.0, 1.0, 0)
    wet, _ = evaporation_terms(plant, full, air, task)
    if task.kind == MATCH_SENSIBLE or wet > 0.0:
        if task.kind != MATCH_SENSIBLE:
            # What takes the longest decides: most often that is the water.
            asked = removing(plant, air, task, full)
            if asked.limited == 1 or asked.sensible_W >= task.sensible_base_W:
                return asked
        part_load, share = match_sensible(plant, full, air, task, plant.cycles_per_hour)
        by_need = cycled(
            plant, full, min(part_load, 1.0), share if part_load <= 1.0 else 1.0,
            1 if part_load > 1.0 else 0,
        )  # fmt: skip
        if task.kind == MATCH_SENSIBLE:
            return by_need
        return dried_by(plant, air, task, full, by_need, -1.0)
    part_load, share = match_removal(plant, full, air, task, plant.cycles_per_hour)
    if part_load > 1.0:
        return cycled(plant, full, 1.0, 1.0, 1)
    return cycled(plant, full, part_load, share, 0)
