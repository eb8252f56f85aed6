"""How a unit shares an hour: cycling, stages or variable capacity, at a condensing temperature.

Each way to run makes one hour of a dehumidification call (ways_to_dry.py). LEAST_OVERCOOLING takes
the way with the least sensible cooling, and of equal ones that with the least power.

Floats of one hour in SI: arguments name their unit, or are listed in docs/nomenclature.md; fields
of the NamedTuples have theirs in types.py. Source: the balances of ways_to_dry.py; the choice of
the least overcooling is this program's own.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from dewledger.dx_unit.part_load import (
    blended,
    cycled,
    evaporation_terms,
    match_removal,
    match_sensible,
)
from dewledger.dx_unit.steady_state import (
    most_displacement,
    run_at,
    surface_at_displacement,
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
from dewledger.dx_unit.variable_capacity import share_variable
from dewledger.dx_unit.ways_to_dry import (
    asked_removal,
    better,
    between,
    by_way,
    dried_by,
    dries_enough,
    removing,
    with_start,
    worse,
)
from dewledger.weather.numerics.compiled import compiled, within_callers
from dewledger.weather.physics.moist_air import (
    enthalpy,
    temp_from_enthalpy,
)

# The ways of stages are numbered: stage k and stopped by k, stages k and l by k + 8 (l + 1).
_PAIR = 8


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

    Every stage with stops, and every two stages that alternate, each meeting the removal asked for;
    the largest first, as it is most often the one.
    """
    best = by_need
    found = False
    asked = asked_removal(plant, task, 1.0)
    needed = task.sensible_base_W + task.sensible_per_runtime_W
    for place in range(stages.known):
        k = stages.known - 1 - place
        low = stage_of(stages, k)
        number = float(k)
        # What it takes at least, were nothing lost to stops.
        least = low.sensible_W * asked / low.removal_kg_s if low.removal_kg_s > 0.0 else math.inf
        if (way < 0.0 or way == number) and not (found and worse(task, best, least)):
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
            least = low.sensible_W + share * (high.sensible_W - low.sensible_W)
            if found and worse(task, best, least):
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
@within_callers
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
