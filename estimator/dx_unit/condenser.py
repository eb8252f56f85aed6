"""The unit's hour with its condensing temperature solved, and the reheat recovered from it.

The condensing temperature is the highest of the floor; outdoor temperature + (rejected - recovered)
/ outdoor-coil conductance; and, where the reheat coil needs a hotter condenser, leaving-coil
temperature + recovered / (effectiveness x air capacity rate), which may not pass the ceiling: the
ceiling then limits what is recovered.

Floats of one hour in SI: arguments name their unit, or are listed in docs/nomenclature.md; fields
of the NamedTuples have theirs in types.py. Source: the heat balance above.
"""

from __future__ import annotations

from typing import NamedTuple

from dewledger.dx_unit.capacity_control import share_hour
from dewledger.dx_unit.part_load import fixed_point_step, time_shared
from dewledger.dx_unit.steady_state import condensing_cell
from dewledger.dx_unit.types import (
    BY_CIRCUITS,
    BY_FANS,
    BY_LOCKOUT,
    BY_PURGE,
    BY_VALVE,
    FAN_CONSTANT,
    FAN_SPEED,
    TABLE,
    VARIABLE,
    WITHOUT_COIL,
    AirIn,
    Operation,
    Plant,
    Shared,
    Start,
    Task,
    UnitMap,
)
from dewledger.dx_unit.ways_to_dry import by_way, needs_no_reheat
from dewledger.weather.numerics.compiled import apart, compiled
from dewledger.weather.numerics.false_position import Bracket, meeting, narrowed
from dewledger.weather.physics.moist_air import heat_capacity

# When the condensing temperature is found.
CLOSE_K = 2e-6
_MOST_STEPS = 60
# So short a step is taken along the line through the last two looks.
_SHORT_K = 1e-3
# Run the same way, running time and displacement move by no more than this per K.
_STEEP = 0.05
# By how much of a gap of the condensing temperature the first step goes: a hotter condenser rejects
# a little less, and leaves a little more to recover.
_REJECTING = 0.968
_RECOVERING = 0.93
_SECANT_STEPS = 10
# Overcooling this small is none.
HELD_W = 1e-3
# Where the hour between two minimum condensing temperatures is found.
_EDGE_W = 1e-6


class Given(NamedTuple):
    """What the condenser gives a reheat coil while the unit runs."""

    heat_W: float
    condensing_C: float  # that the coil needs for it
    most_W: float  # that it could give
    bound: int  # controls of the condenser source that bind


NOTHING_GIVEN = Given(0.0, -1e9, 0.0, 0)


@compiled
def locked_out(plant: Plant, outdoor_C: float) -> bool:
    """Whether the outdoor temperature keeps the condenser-heat coil off."""
    source = plant.condenser_source
    return outdoor_C < source.lockout_below_C or outdoor_C > source.lockout_above_C


@compiled
def reheat_floor(plant: Plant) -> float:
    """Minimum condensing temperature [C] in an hour with condenser heat."""
    return max(plant.condensing_floor_C, plant.condenser_source.floor_C)


@compiled
def outdoor_conductance(
    plant: Plant, conductance_W_K: float, outdoor_C: float, reject_W: float
) -> float:
    """Conductance [W/K] with the outdoor fans left running in reheat; more of them where the
    condensing temperature would otherwise pass the ceiling."""
    fewer = plant.condenser_source.fan_share * conductance_W_K
    room = max(plant.condensing_ceiling_C - outdoor_C, 1e-3)
    return min(max(fewer, reject_W / room), conductance_W_K)


@compiled
def given_by_condenser(
    plant: Plant,
    wanted_W: float,
    entering_C: float,
    reach_W_K: float,
    rejected_W: float,
    reject_on_W: float,
    outdoor_C: float,
    conductance_W_K: float,
) -> Given:
    """Condenser heat that a modulating coil gives while the unit runs.

    Parameters
    ----------
    wanted_W : heat asked for per time of running
    entering_C, reach_W_K : air onto the coil; effectiveness x its capacity rate
    rejected_W : heat rejected per time of running, of which the circuits with reheat have their
        share
    reject_on_W : the same without the loss at starts, by which the outdoors set the condensing
        temperature

    The valve passes between ``valve_low`` and ``valve_high`` of those circuits' heat while it is
    open; below the low end it opens and closes, so that the mean is met at the condensing
    temperature of its least opening. Pump-out takes its share of the hour.

    Heats in [W] while running, temperatures in [C].
    """
    source = plant.condenser_source
    highest = max(plant.condensing_ceiling_C, reheat_floor(plant))
    coil = min(
        plant.recovery_capacity_W,
        most_from_condenser(
            reach_W_K, entering_C, highest, outdoor_C, reject_on_W, conductance_W_K
        ),
    )
    circuits = min(coil, source.circuits * rejected_W)
    valve = min(coil, source.valve_high * source.circuits * rejected_W)
    serving = 1.0 - source.purge_share
    most = valve * serving
    heat = min(wanted_W, most)
    if heat <= 0.0:
        return Given(0.0, -1e9, most, 0)
    bound = 0
    if wanted_W > most:
        if circuits < min(coil, rejected_W):
            bound |= BY_CIRCUITS
        if valve < circuits:
            bound |= BY_VALVE
        if serving < 1.0:
            bound |= BY_PURGE
    passed = heat / serving
    least = min(source.valve_low * source.circuits * rejected_W, valve)
    if passed < least:
        bound |= BY_VALVE
        passed = least
    return Given(heat, entering_C + passed / reach_W_K, most, bound)


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
    hotter condenser, the fan control cuts the conductance to what a heat balance gives.
    """
    return runtime * conductance_W_K * (condensing_C - outdoor_C) - start_up_W


@compiled
def along_line(
    unit: UnitMap,
    task: Task,
    before: Shared,
    last: Shared,
    before_C: float,
    last_C: float,
    next_C: float,
) -> bool:
    """Whether the hour at a next condensing temperature may be read off the line through the last
    two, of which the later is close by: run the same way, between the same columns of the map.

    There capacity and power bend by some 3e-5 of themselves over K2; at a column their slopes
    change by ten times that.
    """
    step = abs(next_C - last_C)
    moved = abs(last_C - before_C)
    if (
        unit.kind == TABLE
        or moved == 0.0
        or before.way != last.way
        or before.limited != last.limited
        or before.on.floor_hit != last.on.floor_hit
        or needs_no_reheat(task, before) != needs_no_reheat(task, last)
        or abs(last.runtime - before.runtime) > _STEEP * moved
        or abs(last.on.fraction - before.on.fraction) > _STEEP * moved
    ):
        return False
    column, _, _ = condensing_cell(unit, before_C)
    last_column, _, _ = condensing_cell(unit, last_C)
    next_column, _, _ = condensing_cell(unit, next_C)
    close = _SHORT_K if column == last_column and column == next_column else 0.2 * _SHORT_K
    return step < close and step * (step + moved) < 0.5 * close


@compiled
def beyond_first_sources(plant: Plant, task: Task, shared: Shared) -> float:
    """Overcooling [W] beyond the reheat sources listed before the condenser; negative where it is
    less."""
    fan = shared.runtime if task.fan_cycles == 1 else 1.0
    needed = task.sensible_base_W + task.sensible_per_runtime_W * shared.runtime
    return shared.sensible_W - needed - plant.reheat_before_W * fan


@compiled
@apart
def between_floors(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    cooler: Shared,
    cooler_C: float,
    floor_C: float,
) -> tuple[Shared, float]:
    """The hour, and its condensing temperature [C], where reheat is asked for at the ordinary
    minimum but no longer at that of reheat, a hotter condenser leaving the unit less capacity.

    Its valve opens and closes, so that the mean lies between: where nothing is left to reheat.
    """
    surface = cooler.start_surface_C
    held = share_hour(unit, plant, air, task, floor_C, surface, -1.0)
    held_C = floor_C
    f = -beyond_first_sources(plant, task, held)
    bracket = Bracket(cooler_C, -beyond_first_sources(plant, task, cooler), floor_C, f, 0)
    for _ in range(_MOST_STEPS):
        if abs(f) < _EDGE_W or bracket.f_high <= 0.0 or bracket.high - bracket.low < 1e-9:
            break
        condensing = meeting(bracket)
        trial = share_hour(unit, plant, air, task, condensing, surface, -1.0)
        f = -beyond_first_sources(plant, task, trial)
        bracket = narrowed(bracket, condensing, f)
        if f > -_EDGE_W:
            held = trial
            held_C = condensing
    return held, held_C


@compiled
def lift_without_recovery(unit: UnitMap, operation: Operation) -> float:
    """How far above the outdoors [K] the condenser would stand with all heat rejected to them.

    While running; running time without capacity is in the runtime, not in the part load.
    """
    rejected = (
        operation.total_W - operation.precool_W
    ) / operation.part_load + operation.compressor_W / operation.runtime
    return rejected / unit.condenser_conductance_W_K


@compiled
def start_after(unit: UnitMap, outdoor_C: float, operation: Operation, before: Start) -> Start:
    """Where the next hour's search may begin, after this hour's operation.

    From hour to hour the heat rejected changes little: the next one's condensing temperature will
    stand above its outdoors by as much, or at its minimum. An hour without the compressor leaves
    the lift of the one ``before``.
    """
    if operation.runtime <= 0.0:
        return Start(operation.start_surface_C, before.lift_K)
    given = operation.recovered_W / operation.runtime / unit.condenser_conductance_W_K
    return Start(operation.start_surface_C, lift_without_recovery(unit, operation) - given)


@compiled
def operate_plain(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    start_surface_C: float,
    start_condensing_C: float,
) -> Operation:
    """One running mode, condenser heat (if any) modulating.

    The minimum condensing temperature of reheat holds in an hour with reheat. Where nothing is
    overcooled at it, the hour goes back to the ordinary one, or as near to it as needs no reheat.
    """
    has_coil = task.recover == 1 and plant.recovery_effectiveness > 0.0
    locked = has_coil and locked_out(plant, air.outdoor_C)
    recovers = has_coil and not locked
    floor = reheat_floor(plant) if recovers else plant.condensing_floor_C
    gone_back = False
    least = plant.condensing_floor_C - 1e-3
    condensing = max(start_condensing_C, floor if task.rough == 0 else plant.condensing_floor_C)
    shared = share_hour(unit, plant, air, task, condensing, start_surface_C, -1.0)
    shared_before = shared
    on_line = True
    conductance = unit.condenser_conductance_W_K
    given = NOTHING_GIVEN
    available = 0.0
    bound = 0
    before_C = condensing
    gap = 0.0
    gap_before = 0.0
    by_outdoors = condensing
    highest = max(plant.condensing_ceiling_C, floor)
    # The answer lies between: at the floor or above, nowhere above ceiling and outdoors.
    low = least
    high = max(highest, air.outdoor_C + 2.0 * shared.reject_on_W / conductance) + 1.0
    for iteration in range(_MOST_STEPS):
        runtime = shared.runtime
        given = NOTHING_GIVEN
        available = 0.0
        bound = 0
        if task.recover != 0:
            needed = task.sensible_base_W + task.sensible_per_runtime_W * runtime
            overcooling = max(shared.sensible_W - needed, 0.0)
            # Purchased reheat serves as long as the fan runs, condenser heat with the compressor.
            fan = runtime if task.fan_cycles == 1 else 1.0
            before = plant.reheat_before_W * fan
            available = before + plant.reheat_after_W * fan
            if task.recover == WITHOUT_COIL:
                available += HELD_W
            if locked and overcooling > before + HELD_W:
                bound = BY_LOCKOUT
            if recovers and runtime > 0.0:
                conductance = outdoor_conductance(
                    plant, unit.condenser_conductance_W_K, air.outdoor_C, shared.reject_on_W
                )
                capacity_rate = air.flow_kg_s * heat_capacity(shared.on.hum_ratio)
                entering = shared.on.temp_C
                if before > 0.0:
                    entering += min(before, overcooling) / fan / capacity_rate
                wanted = overcooling - before
                if gone_back or wanted <= HELD_W:
                    wanted = 0.0
                # The heat rejected over the hour, per hour of running.
                given = given_by_condenser(
                    plant,
                    wanted / runtime,
                    entering,
                    plant.recovery_effectiveness * capacity_rate,
                    (shared.total_W + shared.compressor_W) / runtime,
                    shared.reject_on_W,
                    air.outdoor_C,
                    conductance,
                )
                available += given.most_W * runtime
                bound = given.bound
        by_outdoors = air.outdoor_C + (shared.reject_on_W - given.heat_W) / conductance
        if conductance < unit.condenser_conductance_W_K and by_outdoors > floor:
            bound |= BY_FANS
        asked_C = max(floor, max(by_outdoors, given.condensing_C))
        gap = asked_C - condensing
        settling = task.rough == 0 and abs(gap) >= CLOSE_K
        if recovers and given.heat_W <= 0.0 and not settling:
            gone_back = True
            floor = plant.condensing_floor_C
            asked_C = max(floor, by_outdoors)
            gap = asked_C - condensing
            low = least
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
        damping = _RECOVERING if recovers else _REJECTING
        step = fixed_point_step(gap, gap_before, condensing - before_C, damping)
        if asked_C <= floor:
            step = gap
        halve = iteration > _SECANT_STEPS and iteration % 2 == 0
        if halve or condensing + step < low or condensing + step > high:
            step = 0.5 * (low + high) - condensing
        moved = condensing - before_C
        short = not on_line and along_line(
            unit, task, shared_before, shared, before_C, condensing, condensing + step
        )
        before_C = condensing
        gap_before = gap
        condensing += step
        if short:
            further = time_shared(shared_before, shared, 1.0 + step / moved)
            if further.runtime >= 0.0 and further.runtime <= 1.0:
                shared = by_way(further, shared.way)
                on_line = True
                continue
        on_line = False
        shared_before = shared
        # Two ways of drying may take turns as the condensing temperature moves: keep the last.
        # What a variable unit overcools at a surface does not depend on it.
        keep = plant.capacity_control == VARIABLE or iteration >= _SECANT_STEPS
        way = shared.way if keep else -1.0
        shared = share_hour(unit, plant, air, task, condensing, shared.start_surface_C, way)
        if iteration == _SECANT_STEPS and way >= 0.0:
            low = least
            high = max(highest, air.outdoor_C + 2.0 * shared.reject_on_W / conductance) + 1.0
    # Where two ways of running take turns there may be no condensing temperature that balances.
    settled = abs(gap) < CLOSE_K
    if (
        gone_back
        and task.rough == 0
        and condensing < reheat_floor(plant)
        and beyond_first_sources(plant, task, shared) > HELD_W
    ):
        shared, condensing = between_floors(
            unit, plant, air, task, shared, condensing, reheat_floor(plant)
        )
        settled = False
    fan_share = condenser_fan_share(
        plant.condenser_fan_control,
        shared.reject_on_W - given.heat_W,
        conductance,
        condensing - air.outdoor_C,
    ) * (conductance / unit.condenser_conductance_W_K)
    recovered = given.heat_W * shared.runtime
    outdoor_coil = shared.total_W + shared.compressor_W - recovered
    if settled and by_outdoors > max(floor, given.condensing_C):
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
        shared.start_surface_C,
        bound,
    )


@compiled
def condenser_fan_share(
    control: int, reject_W: float, conductance_W_K: float, lift_K: float
) -> float:
    """Share of its rated power that the outdoor fan draws while the compressor runs.

    Conductance is taken to follow the air flow: a staged (or cycling) fan needs power in
    proportion to it, a fan of variable speed in proportion to its cube (fan laws).

    A share [1].
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
