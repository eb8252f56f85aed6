"""The unit's hour with its condensing temperature solved, and what the condenser gives back.

The condensing temperature is the highest of the floor; outdoor temperature + (rejected - recovered)
/ outdoor-coil conductance; and, where the reheat coil needs a hotter condenser, leaving-coil
temperature + recovered / (effectiveness x air capacity rate), which may not pass the ceiling: the
ceiling then limits what is recovered.
"""

from __future__ import annotations

from estimator.drying_mode import operate_two_modes
from estimator.operation import (
    MATCH_REMOVAL,
    MATCH_SENSIBLE,
    MODULATING,
    AirIn,
    Operation,
    Plant,
    Task,
    condenser_fan_share,
    fixed_point_step,
    most_from_condenser,
)
from estimator.sharing import share_hour
from estimator.unit import UnitMap, condensing_without_recovery
from weather.compiled import compiled
from weather.moist_air import heat_capacity


@compiled
def operate(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    start_surface_C: float,
    start_condensing_C: float,
) -> Operation:
    """The unit's hour for a task; drying arrangements of two modes where the plant has one."""
    if task.recover == 1 and task.kind != MATCH_SENSIBLE and plant.arrangement != MODULATING:
        return operate_two_modes(unit, plant, air, task, start_surface_C, start_condensing_C)
    return operate_plain(unit, plant, air, task, start_surface_C, start_condensing_C)


# When the condensing temperature is found.
CLOSE_K = 1e-5
_MOST_STEPS = 60
_SECANT_STEPS = 10


@compiled
def operate_plain(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    start_surface_C: float,
    start_condensing_C: float,
) -> Operation:
    """One running mode, condenser heat (if any) modulating."""
    conductance = unit.condenser_conductance_W_K
    condensing = start_condensing_C
    shared = share_hour(unit, plant, air, task, condensing, start_surface_C)
    recovered_on = 0.0
    available = 0.0
    before_C = condensing
    gap = 0.0
    gap_before = 0.0
    highest = max(plant.condensing_ceiling_C, plant.condensing_floor_C)
    # The answer lies between: at the floor or above, nowhere above ceiling and outdoors.
    low = plant.condensing_floor_C - 1e-3
    high = max(highest, air.outdoor_C + 2.0 * shared.reject_on_W / conductance) + 1.0
    for iteration in range(_MOST_STEPS):
        runtime = shared.runtime
        recovered_on = 0.0
        available = 0.0
        reheat_condensing = -1e9
        if task.recover == 1:
            needed = task.sensible_base_W + task.sensible_per_runtime_W * runtime
            overcooling = max(shared.sensible_W - needed, 0.0)
            # Bought reheat serves as long as the fan runs, condenser heat with the compressor.
            fan = runtime if task.fan_cycles == 1 else 1.0
            before = plant.reheat_before_W * fan
            available = before + plant.reheat_after_W * fan
            if plant.recovery_effectiveness > 0.0 and runtime > 0.0:
                capacity_rate = air.flow_kg_s * heat_capacity(shared.on.hum_ratio)
                entering = shared.on.temp_C
                if before > 0.0:
                    entering += min(before, overcooling) / fan / capacity_rate
                reach = plant.recovery_effectiveness * capacity_rate
                # The heat rejected over the hour, per hour of running.
                rejected = (shared.total_W + shared.compressor_W) / runtime
                limit = min(
                    min(plant.recovery_capacity_W, rejected),
                    most_from_condenser(
                        reach, entering, highest, air.outdoor_C, shared.reject_on_W, conductance
                    ),
                )
                available += limit * runtime
                recovered_on = min(max(overcooling - before, 0.0) / runtime, limit)
                if recovered_on > 0.0:
                    reheat_condensing = entering + recovered_on / reach
        by_outdoors = air.outdoor_C + (shared.reject_on_W - recovered_on) / conductance
        gap = max(plant.condensing_floor_C, max(by_outdoors, reheat_condensing)) - condensing
        # Between stages there may be no exact answer: what is returned always belongs together.
        if abs(gap) < CLOSE_K or task.rough == 1 or iteration == _MOST_STEPS - 1:
            break
        # The gap is positive below the answer and negative above it.
        if gap > 0.0:
            low = condensing
        else:
            high = condensing
        # A hotter condenser rejects a little less, and the gap closes by a little more than the
        # step: the damped step nearly lands, the secant does. A small reheat coil asks for a far
        # hotter condenser for a little more heat: there only halving lands.
        step = fixed_point_step(gap, gap_before, condensing - before_C, 0.96)
        halve = iteration > _SECANT_STEPS and iteration % 2 == 0
        if halve or condensing + step < low or condensing + step > high:
            step = 0.5 * (low + high) - condensing
        before_C = condensing
        gap_before = gap
        condensing += step
        shared = share_hour(unit, plant, air, task, condensing, shared.on.surface_C)
    fan_share = condenser_fan_share(
        plant.condenser_fan_control,
        shared.reject_on_W - recovered_on,
        conductance,
        condensing - air.outdoor_C,
    )
    recovered = recovered_on * shared.runtime
    return Operation(
        shared.runtime,
        shared.part_load,
        shared.on.fraction,
        shared.total_W,
        shared.sensible_W,
        shared.removal_kg_s,
        shared.compressor_W,
        shared.runtime * fan_share * unit.condenser_fan_W,
        condensing,
        shared.on.surface_C,
        shared.on.suction_C,
        shared.on.temp_C,
        shared.on.hum_ratio,
        recovered,
        available,
        shared.total_W + shared.compressor_W - recovered,
        0.0,
        0.0,
        shared.limited,
        shared.on.floor_hit,
        gap,
    )


@compiled
def price_of_recovery(
    unit: UnitMap, plant: Plant, air: AirIn, needed_W: float, fan_cycles: int, operation: Operation
) -> float:
    """Compressor and condenser fan energy of an hour less that of the same removal without
    recovery [W]."""
    if operation.recovered_W <= 0.0 or operation.runtime <= 0.0:
        return 0.0
    task = Task(MATCH_REMOVAL, needed_W, 0.0, operation.removal_kg_s, 0.0, fan_cycles, 0, 0)
    rejected = (
        operation.total_W - operation.precool_W + operation.compressor_W
    ) / operation.runtime
    condensing = condensing_without_recovery(
        unit, air.outdoor_C, rejected, plant.condensing_floor_C
    )
    without = operate(unit, plant, air, task, operation.surface_C, condensing)
    if without.removal_kg_s <= 0.0:
        return 0.0
    return (operation.compressor_W + operation.condenser_fan_W) - (
        without.compressor_W + without.condenser_fan_W
    ) * (operation.removal_kg_s / without.removal_kg_s)
