"""How a unit shares an hour: cycling, stages or variable capacity, at a condensing temperature."""

from __future__ import annotations

import math

from dewledger.components.cooling_coil import (
    bypass_factor,
    surface_for_leaving_hum_ratio,
    surface_for_leaving_temp,
)
from dewledger.dx_unit.part_load import (
    blended,
    cycled,
    match_removal,
    match_sensible,
    runtime_of,
    time_shared,
)
from dewledger.dx_unit.steady_state import run_at, run_at_surface, surface_for_sensible
from dewledger.dx_unit.types import (
    CYCLING,
    FACE_SPLIT,
    FULL_CAPACITY,
    MATCH_SENSIBLE,
    VARIABLE,
    AirIn,
    Plant,
    Running,
    Shared,
    Task,
    UnitMap,
)
from dewledger.weather.numerics.compiled import compiled
from dewledger.weather.physics.moist_air import enthalpy, temp_from_enthalpy


@compiled
def asked_removal(plant: Plant, task: Task, part_load: float) -> float:
    """Moisture removal [kg/s] asked for at a part load."""
    return task.removal_base_kg_s + task.removal_per_runtime_kg_s * runtime_of(
        part_load, plant.degradation
    )


@compiled
def between(plant: Plant, task: Task, mild: Shared, deep: Shared) -> Shared:
    """Both meet the sensible need; share the hour so that the removal asked for is met."""
    first = mild.removal_kg_s - asked_removal(plant, task, mild.part_load)
    second = deep.removal_kg_s - asked_removal(plant, task, deep.part_load)
    if second - first <= 0.0:
        return deep
    return time_shared(mild, deep, min(max(-first / (second - first), 0.0), 1.0))


@compiled
def share_variable(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    condensing_C: float,
    start_surface_C: float,
) -> Shared:
    """A variable unit's hour.

    A sensible load is met at the mildest coil that does it, all hour. Asked for more drying, the
    unit spends part of the hour with its leaving air at the drying temperature, then stopped, so
    that the sensible cooling stays what the room needs; beyond that it overcools, first for longer,
    then colder.
    """
    needed = max(task.sensible_base_W + task.sensible_per_runtime_W, 0.0)
    mild_surface = surface_for_sensible(unit, needed, air)
    mild = run_at_surface(unit, plant, mild_surface, air, condensing_C)
    part_load, share = match_sensible(plant, mild, air, task)
    limited = 1 if part_load > 1.0 + 1e-9 else 0
    by_need = cycled(plant, mild, min(part_load, 1.0), share, limited)
    if task.kind == MATCH_SENSIBLE:
        return by_need
    bypass = bypass_factor(unit.bypass_area_kg_s, air.flow_kg_s)
    low_surface = surface_for_leaving_temp(
        air.temp_C,
        air.hum_ratio,
        min(plant.drying_leaving_C, air.temp_C - 1.0),
        bypass,
        air.pressure_Pa,
        mild_surface,
    )
    low_surface = min(low_surface, mild_surface)
    drying = run_at_surface(unit, plant, low_surface, air, condensing_C)
    part_load, share = match_sensible(plant, drying, air, task)
    deep = cycled(plant, drying, min(part_load, 1.0), share, 0)
    if deep.removal_kg_s >= asked_removal(plant, task, deep.part_load):
        return between(plant, task, by_need, deep)
    part_load, share = match_removal(plant, drying, air, task)
    if part_load <= 1.0:
        return cycled(plant, drying, part_load, share, 0)
    asked = asked_removal(plant, task, 1.0)
    surface = surface_for_leaving_hum_ratio(
        air.hum_ratio, air.hum_ratio - asked / air.flow_kg_s, bypass, air.pressure_Pa
    )
    if math.isnan(surface):
        surface = -60.0
    deepest = run_at_surface(unit, plant, surface, air, condensing_C)
    if deepest.removal_kg_s > asked * (1.0 + 1e-12):
        # Held at its least displacement it dries more than that: it cycles.
        part_load, share = match_removal(plant, deepest, air, task)
        if part_load <= 1.0:
            return cycled(plant, deepest, part_load, share, 0)
    limited = 1 if deepest.removal_kg_s < asked * (1.0 - 1e-9) else 0
    return cycled(plant, deepest, 1.0, 1.0, limited)


@compiled
def run_stage(
    unit: UnitMap,
    plant: Plant,
    stage: int,
    air: AirIn,
    condensing_C: float,
    start_surface_C: float,
) -> Running:
    """Steady running at a stage.

    Intertwined circuits use the whole coil; with a split face the active part runs as the whole
    unit does and its air then mixes with the air that passed the idle part.
    """
    fraction = plant.stages[stage]
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


@compiled
def colder(plant: Plant, stage: int, air: AirIn, below: Running) -> float:
    """Guess of a stage's coil surface [C] from that of the stage below it."""
    more = plant.stages[stage] / plant.stages[stage - 1]
    return air.temp_C - (air.temp_C - below.surface_C) * math.sqrt(more)


@compiled
def at_sensible(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    condensing_C: float,
    start_surface_C: float,
) -> tuple[Shared, int, Running]:
    """A staged unit meets its sensible need between two neighboring stages.

    Returns the hour, and the upper of the two stages with its running.
    """
    needed = task.sensible_base_W + task.sensible_per_runtime_W
    running = run_stage(unit, plant, 0, air, condensing_C, start_surface_C)
    if needed <= running.sensible_W:
        part_load, share = match_sensible(plant, running, air, task)
        return cycled(plant, running, min(part_load, 1.0), share, 0), 0, running
    stage = 0
    while plant.stages[stage] < 1.0:
        stage += 1
        above = run_stage(unit, plant, stage, air, condensing_C, colder(plant, stage, air, running))
        if needed <= above.sensible_W:
            share = (needed - running.sensible_W) / (above.sensible_W - running.sensible_W)
            return cycled(plant, blended(running, above, share), 1.0, 1.0, 0), stage, above
        running = above
    return cycled(plant, running, 1.0, 1.0, 1), stage, running


@compiled
def share_stages(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    condensing_C: float,
    start_surface_C: float,
) -> Shared:
    """A staged unit's hour; in a dehumidification call the drying stage is the first whose air
    leaves at or below the drying temperature, the last if none does."""
    by_need, stage, drying = at_sensible(unit, plant, air, task, condensing_C, start_surface_C)
    if task.kind == MATCH_SENSIBLE:
        return by_need
    while plant.stages[stage] < 1.0 and drying.temp_C > plant.drying_leaving_C:
        stage += 1
        drying = run_stage(unit, plant, stage, air, condensing_C, colder(plant, stage, air, drying))
    part_load, share = match_sensible(plant, drying, air, task)
    deep = cycled(plant, drying, min(part_load, 1.0), share, 0)
    if deep.removal_kg_s >= asked_removal(plant, task, deep.part_load):
        return between(plant, task, by_need, deep)
    part_load, share = match_removal(plant, drying, air, task)
    if part_load <= 1.0:
        return cycled(plant, drying, part_load, share, 0)
    asked = asked_removal(plant, task, 1.0)
    while plant.stages[stage] < 1.0:
        stage += 1
        above = run_stage(unit, plant, stage, air, condensing_C, colder(plant, stage, air, drying))
        if above.removal_kg_s >= asked:
            share = (asked - drying.removal_kg_s) / (above.removal_kg_s - drying.removal_kg_s)
            return cycled(plant, blended(drying, above, share), 1.0, 1.0, 0)
        drying = above
    return cycled(plant, drying, 1.0, 1.0, 1)


@compiled
def share_hour(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    condensing_C: float,
    start_surface_C: float,
) -> Shared:
    """How the unit runs through the hour at a condensing temperature, by its capacity control."""
    if task.kind != FULL_CAPACITY and plant.capacity_control == VARIABLE:
        return share_variable(unit, plant, air, task, condensing_C, start_surface_C)
    if task.kind != FULL_CAPACITY and plant.capacity_control != CYCLING:
        return share_stages(unit, plant, air, task, condensing_C, start_surface_C)
    full = run_at(unit, 1.0, air, condensing_C, start_surface_C)
    if task.kind == FULL_CAPACITY:
        return cycled(plant, full, 1.0, 1.0, 0)
    if task.kind == MATCH_SENSIBLE:
        part_load, share = match_sensible(plant, full, air, task)
    else:
        part_load, share = match_removal(plant, full, air, task)
    if part_load > 1.0:
        return cycled(plant, full, 1.0, 1.0, 1)
    return cycled(plant, full, part_load, share, 0)
