"""The unit's hour for a task, and what recovering condenser heat costs it.

Floats of one hour in SI: arguments name their unit, or are listed in docs/nomenclature.md; fields
of the NamedTuples have theirs in types.py. Source: the definition of the recovery penalty in
docs/nomenclature.md.
"""

from __future__ import annotations

import math

from dewledger.dx_unit.condenser import (
    CLOSE_K,
    HELD_W,
    lift_without_recovery,
    locked_out,
    operate_plain,
    start_after,
)
from dewledger.dx_unit.part_load import with_depression
from dewledger.dx_unit.reheat_arrangements import operate_two_modes
from dewledger.dx_unit.types import (
    MATCH_REMOVAL,
    MATCH_SENSIBLE,
    MODULATING,
    ON_OFF,
    WITHOUT_COIL,
    AirIn,
    Operation,
    Plant,
    Start,
    Task,
    UnitMap,
)
from dewledger.weather.numerics.compiled import compiled, within_callers

# Beyond it the hour without recovery runs another way, and says little of the next one.
_NEAR_K = 1.0

# How much the sensible cooling of a removal may change with the condensing temperature: a share.
_SENSIBLE_PER_K = 0.05

# A unit that without recovery hardly dries, its coil at the dew point, is no measure of what the
# same drying takes: its energy counts for no more than this many times what it removes.
_MOST_TIMES = 2.0


@compiled
@within_callers
def operate(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    start_surface_C: float,
    start_condensing_C: float,
) -> Operation:
    """The unit's hour for a task; drying arrangements of two modes where the plant has one.

    Where a wet coil that cycles as the humidistat lets it, without the drying mode, meets the
    sensible need and removes the water, the drying mode stays off.
    """
    if plant.arrangement == MODULATING:
        return operate_plain(unit, plant, air, task, start_surface_C, start_condensing_C)
    two_modes = (
        task.recover == 1
        and task.kind != MATCH_SENSIBLE
        and not (plant.arrangement == ON_OFF and locked_out(plant, air.outdoor_C))
    )
    if not two_modes:
        return operate_plain(unit, plant, air, task, start_surface_C, start_condensing_C)
    runtime = 0.0
    if plant.wet_time_s > 0.0 and task.fan_cycles == 0 and task.kind == MATCH_REMOVAL:
        for look in range(2):
            first = Task(
                task.kind, task.sensible_base_W, task.sensible_per_runtime_W,
                task.removal_base_kg_s, task.removal_per_runtime_kg_s, task.fan_cycles,
                WITHOUT_COIL, 1 - look,
            )  # fmt: skip
            plain = operate_plain(unit, plant, air, first, start_surface_C, start_condensing_C)
            beyond = plain.sensible_W - task.sensible_base_W - HELD_W
            open_K = abs(plain.gap_K)
            runtime = plain.runtime
            start_surface_C = plain.start_surface_C
            start_condensing_C = plain.condensing_C + 0.96 * plain.gap_K
            if look == 1 or open_K < CLOSE_K:
                if plain.limited == 0 and beyond <= 0.0:
                    return plain
                break
            # One look is enough where more is overcooled than its condensing temperature decides.
            if plain.limited == 0 and beyond > _SENSIBLE_PER_K * open_K * plain.sensible_W:
                break
    return operate_two_modes(unit, plant, air, task, start_surface_C, start_condensing_C, runtime)


@compiled
def recovery_penalty(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    needed_W: float,
    fan_cycles: int,
    operation: Operation,
    start: Start,
) -> tuple[float, Start]:
    """Compressor and condenser fan energy of an hour less that of the same removal without
    recovery [W], and where the next such search may begin: its lift is counted from that of the
    heat which the operation rejects and recovers."""
    if operation.recovered_W <= 0.0 or operation.runtime <= 0.0:
        return 0.0, start
    task = Task(MATCH_REMOVAL, needed_W, 0.0, operation.removal_kg_s, 0.0, fan_cycles, 0, 0)
    lift = lift_without_recovery(unit, operation)
    if math.isnan(start.surface_C) or abs(start.lift_K) > _NEAR_K:
        # Another way to run would balance too: begin with the one that recovers.
        start = Start(operation.start_surface_C, 0.0)
    onto = air
    if fan_cycles == 0 and math.isnan(air.depression_K):
        onto = with_depression(plant, air)
    condensing = air.outdoor_C + lift + start.lift_K
    without = operate(unit, plant, onto, task, start.surface_C, condensing)
    after = start_after(unit, air.outdoor_C, without, Start(start.surface_C, lift))
    start = Start(after.surface_C, after.lift_K - lift)
    if without.removal_kg_s <= 0.0:
        return 0.0, start
    penalty = (operation.compressor_W + operation.condenser_fan_W) - (
        without.compressor_W + without.condenser_fan_W
    ) * min(operation.removal_kg_s / without.removal_kg_s, _MOST_TIMES)
    return penalty, start
