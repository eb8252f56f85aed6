"""The unit's hour with its condensing temperature solved, and what the condenser gives back.

The condensing temperature is the highest of the floor; outdoor temperature + (rejected - recovered)
/ outdoor-coil conductance; and, where the reheat coil needs a hotter condenser, leaving-coil
temperature + recovered / (effectiveness x air capacity rate), which may not pass the ceiling: the
ceiling then limits what is recovered.
"""

from __future__ import annotations

from dewledger.dx_unit.capacity_control import share_hour
from dewledger.dx_unit.part_load import fixed_point_step
from dewledger.dx_unit.types import (
    FAN_CONSTANT,
    FAN_SPEED,
    AirIn,
    Operation,
    Plant,
    Task,
    UnitMap,
)
from dewledger.weather.numerics.compiled import compiled
from dewledger.weather.physics.moist_air import heat_capacity

# When the condensing temperature is found.
CLOSE_K = 2e-6
_MOST_STEPS = 60
_SECANT_STEPS = 10


@compiled
def outdoor_coil_heat(
    conductance_W_K: float,
    condensing_C: float,
    outdoor_C: float,
    runtime: float,
    start_up_W: float,
) -> float:
    """Heat [W] the outdoor coil gives to the outdoors, mean of the hour, by its own path.

    Conductance x (condensing - outdoor) while the compressor runs, less ``start_up_W``: evaporator
    heat less heat recovered that running time without capacity leaves out. It holds where the
    outdoors alone set the condensing temperature. At a minimum, or where a reheat coil needs a
    hotter condenser, the fan control cuts the conductance to what a heat balance tells.
    """
    return runtime * conductance_W_K * (condensing_C - outdoor_C) - start_up_W


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
    by_outdoors = condensing
    reheat_condensing = -1e9
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
            # Purchased reheat serves as long as the fan runs, condenser heat with the compressor.
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
    outdoor_coil = shared.total_W + shared.compressor_W - recovered
    # Where two ways of running take turns there may be no condensing temperature that balances.
    settled = abs(gap) < CLOSE_K
    if settled and by_outdoors > max(plant.condensing_floor_C, reheat_condensing):
        outdoor_coil = outdoor_coil_heat(
            conductance,
            condensing,
            air.outdoor_C,
            shared.runtime,
            shared.runtime * shared.on.total_W - shared.total_W,
        )
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
        outdoor_coil,
        0.0,
        0.0,
        shared.limited,
        shared.on.floor_hit,
        gap,
    )


@compiled
def condenser_fan_share(
    control: int, reject_W: float, conductance_W_K: float, lift_K: float
) -> float:
    """Share of its rated power that the outdoor fan draws while the compressor runs.

    Conductance is taken to follow the air flow: a staged (or cycling) fan needs power in
    proportion to it, a fan of variable speed in proportion to its cube (fan laws).
    """
    if control == FAN_CONSTANT or lift_K <= 0.0:
        return 1.0
    share = min(max(reject_W / (conductance_W_K * lift_K), 0.0), 1.0)
    if control == FAN_SPEED:
        return share * share * share
    return share


@compiled
def most_from_condenser(
    reach_W_K: float,
    entering_C: float,
    highest_C: float,
    outdoor_C: float,
    reject_W: float,
    conductance_W_K: float,
) -> float:
    """Most heat [W] a reheat coil can take from the condenser.

    ``reach_W_K`` is effectiveness x air capacity rate. Either the condensing temperature is raised
    up to ``highest_C``, or it stands where the outdoors hold it while the heat is diverted:
    heat = reach (outdoor + (reject - heat) / conductance - entering).
    """
    raised = reach_W_K * (highest_C - entering_C)
    standing = (
        reach_W_K
        * (outdoor_C + reject_W / conductance_W_K - entering_C)
        / (1.0 + reach_W_K / conductance_W_K)
    )
    return max(max(raised, standing), 0.0)
