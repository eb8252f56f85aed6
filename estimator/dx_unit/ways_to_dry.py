"""A dehumidification call's hour by one way to run: what it removes, and what it overcools.

A dehumidification call asks for a removal R and a sensible cooling S of at least what the room
needs. Each way to run (a stage, a surface, two stages that alternate) makes one hour of it:

- where running as long as the sensible need takes removes R or more, part of the hour is run that
  way and the rest as a thermostat call would have it, so that both are met and nothing is
  overcooled;
- otherwise it runs as long as R takes, and overcools.

Floats of one hour in SI: arguments name their unit, or are listed in docs/nomenclature.md; fields
of the NamedTuples have theirs in types.py. Source: the balances above.
"""

from __future__ import annotations

from dewledger.dx_unit.part_load import (
    cycled,
    humidistat_rate,
    match_removal,
    match_sensible,
    runtime_of,
    time_shared,
)
from dewledger.dx_unit.types import LEAVING_AIR, AirIn, Plant, Running, Shared, Task
from dewledger.weather.numerics.compiled import compiled

# Of ways that overcool alike, the one with the least compressor power.
_POWER_WEIGHT = 1e-6
_TOO_WARM = 1e3
_NO_REHEAT = 1e-6  # of the sensible cooling: none


@compiled
def asked_removal(plant: Plant, task: Task, part_load: float) -> float:
    """Moisture removal [kg/s] asked for at a part load."""
    return task.removal_base_kg_s + task.removal_per_runtime_kg_s * runtime_of(plant, part_load)


@compiled
def between(plant: Plant, task: Task, mild: Shared, deep: Shared) -> Shared:
    """Both meet the sensible need; share the hour so that the removal asked for is met."""
    first = mild.removal_kg_s - asked_removal(plant, task, mild.part_load)
    second = deep.removal_kg_s - asked_removal(plant, task, deep.part_load)
    if second - first <= 0.0:
        return deep
    return time_shared(mild, deep, min(max(-first / (second - first), 0.0), 1.0))


@compiled
def removing(plant: Plant, air: AirIn, task: Task, running: Running) -> Shared:
    """An hour at one running state as long as the water asked for takes; ``limited`` is 1 where
    running all hour does not remove it."""
    part_load, share = match_removal(plant, running, air, task, humidistat_rate(plant, running))
    # At the surface found to remove it running all hour, rounding must not decide that it does not.
    rounding = 0.0 if plant.drying_control == LEAVING_AIR else 1e-9
    if part_load > 1.0 + rounding:
        return cycled(plant, running, 1.0, 1.0, 1)
    return cycled(plant, running, min(part_load, 1.0), share, 0)


@compiled
def dried_by(
    plant: Plant, air: AirIn, task: Task, running: Running, by_need: Shared, way: float
) -> Shared:
    """The hour of a dehumidification call by a running state and stops, ``way`` its number.

    ``limited`` is 1 where running all hour does not remove the water asked for.
    """
    if task.fan_cycles == 0:
        asked = removing(plant, air, task, running)
        if asked.limited == 1 or asked.sensible_W >= task.sensible_base_W:
            return by_way(asked, way)
    rate = humidistat_rate(plant, running)
    part_load, share = match_sensible(plant, running, air, task, rate)
    deep = cycled(plant, running, min(part_load, 1.0), share, 0)
    if deep.removal_kg_s >= asked_removal(plant, task, deep.part_load):
        return by_way(between(plant, task, by_need, deep), way)
    return by_way(removing(plant, air, task, running), way)


@compiled
def by_way(shared: Shared, way: float) -> Shared:
    """The same hour with the number of its way."""
    return with_start(shared, way, shared.start_surface_C)


@compiled
def with_start(shared: Shared, way: float, start_surface_C: float) -> Shared:
    """The same hour with the number of its way and where the next search may begin."""
    return Shared(
        shared.runtime,
        shared.part_load,
        shared.total_W,
        shared.sensible_W,
        shared.removal_kg_s,
        shared.compressor_W,
        shared.reject_on_W,
        shared.on,
        shared.limited,
        way,
        start_surface_C,
    )


@compiled
def dries_enough(plant: Plant, task: Task, by_need: Shared) -> bool:
    """Whether the hour that the sensible load alone would have removes the water asked for."""
    if plant.drying_control == LEAVING_AIR or by_need.limited == 1:
        return False
    return by_need.removal_kg_s >= asked_removal(plant, task, by_need.part_load)


@compiled
def overcooled(task: Task, shared: Shared) -> float:
    """What a way is chosen by [W]: sensible cooling beyond the need, and a trace of its power."""
    needed = task.sensible_base_W + task.sensible_per_runtime_W * shared.runtime
    over = shared.sensible_W - needed
    # A way that leaves the room too warm is taken only where there is no other.
    return (over if over > 0.0 else -_TOO_WARM * over) + _POWER_WEIGHT * shared.compressor_W


@compiled
def better(task: Task, first: Shared, second: Shared) -> Shared:
    """Of two hours the one that removes the water, with the least overcooling; the first if
    alike."""
    if first.limited != second.limited:
        return first if first.limited == 0 else second
    if first.limited == 1:
        return first if first.removal_kg_s >= second.removal_kg_s else second
    return first if overcooled(task, first) <= overcooled(task, second) else second


@compiled
def worse(task: Task, best: Shared, sensible_W: float) -> bool:
    """Whether a way that takes so much sensible heat [W] or more is surely worse than the best so
    far; left open with a fan that cycles, whose needs grow with the runtime."""
    if best.limited == 1 or task.fan_cycles == 1:
        return False
    return sensible_W - task.sensible_base_W > overcooled(task, best)


@compiled
def needs_no_reheat(task: Task, shared: Shared) -> bool:
    """Whether an hour cools no more than the sensible need."""
    needed = task.sensible_base_W + task.sensible_per_runtime_W * shared.runtime
    return shared.sensible_W - needed <= _NO_REHEAT * abs(shared.sensible_W)
