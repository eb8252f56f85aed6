"""The hour as it would be without drying: outdoor air, supply flow, cooling or heating, humidifier.

Order of control: outdoor air by its devices, supply flow by the sensible load, then cooling to the
set point with the warmest coil, or heating; the humidifier adds what the low limit still needs.

Floats of one hour in SI: arguments name their unit, or are listed in docs/nomenclature.md; fields
of the NamedTuples have theirs in types.py. Source: the room's balances (room_balance.py).
"""

from __future__ import annotations

import math

from dewledger.components.humidifier import heat_with_moisture
from dewledger.components.supply_fan import (
    CONSTANT_FLOW,
    VARIABLE_FLOW,
    leaving_setpoint,
    mean_fan_power_share,
)
from dewledger.components.ventilation import outdoor_air
from dewledger.dx_unit.condenser import lift_without_recovery
from dewledger.dx_unit.steady_state import least_displacement
from dewledger.dx_unit.types import Plant, UnitMap
from dewledger.hourly.dehumidification import humidity_limit, overcooling_of
from dewledger.hourly.room_balance import (
    air_entering,
    attempt,
    fan_and_ventilation,
    fan_runtime,
    idle,
    needed_sensible,
    outdoor_rate,
    outdoor_vapor_rate,
    removal_balance,
    solve_full_load,
    solve_moisture,
    with_heat_and_moisture,
)
from dewledger.hourly.types import (
    COOL,
    DAMPER,
    DRIED,
    DRY,
    ITS_OWN,
    NO_CONTROL,
    ONE_LOOK,
    Attempt,
    Balance,
    Control,
    Demand,
    SensibleOnly,
    SupplyFan,
    Ventilation,
)
from dewledger.weather.numerics.compiled import apart, compiled, within_callers
from dewledger.weather.numerics.false_position import Bracket, meeting, narrowed
from dewledger.weather.physics.moist_air import (
    heat_capacity,
    hum_ratio_from_rel_hum,
    saturation_hum_ratio,
)

# Moisture added is found to this humidity ratio of the room [kg/kg].
_ADDED_CLOSE = 1e-10
# At the limit first where the room was above this share of it, and the limit clear of saturation.
_NEAR_LIMIT = 0.97
_NEAR_SATURATION = 0.98
_CLEAR_OF_CAPACITY = 0.7
# How much the removal at a sensible load may change with the condensing temperature, as a share of
# itself and of the removal asked for.
_REMOVAL_PER_K = 0.1
_ASKED_PER_K = 0.05


@compiled
def at_flow(plant: Plant, balance: Balance, share: float) -> Balance:
    """The balance at a share of the plant's full supply flow, its heating not yet decided."""
    fan = balance.fan
    return Balance(
        balance.outdoors,
        balance.room,
        balance.ventilation,
        SupplyFan(
            fan.base,
            fan.cycles,
            plant.flow_kg_s * share,
            plant.fan_W * mean_fan_power_share(plant.flow, share),
        ),
        0.0,
    )


@compiled
def lowest_share(plant: Plant, balance: Balance) -> float:
    """The least share of the full flow: its minimum, and never less than the outdoor air.

    A share [1].
    """
    return min(max(plant.flow.minimum_share, balance.ventilation.flow_kg_s / plant.flow_kg_s), 1.0)


@compiled
def running_share(plant: Plant, displacement: float) -> float:
    """Share of the full flow that a coil needs with a share of the displacement in use.

    A share [1].
    """
    return min(displacement * plant.full_capacity_kg_s / plant.flow_kg_s, 1.0)


@compiled
def flow_for_load(plant: Plant, balance: Balance, setpoint_C: float, hum_ratio: float) -> float:
    """Share of the full flow at which air leaving the coil at its set point meets the load.

    Halving between the least share and all of it: m cp (T entering - T leaving) = sensible need.

    A share [1].
    """
    low = lowest_share(plant, balance)
    if plant.flow.kind != VARIABLE_FLOW:
        return low
    leaving = leaving_setpoint(plant.flow, balance.outdoors.temp_C)
    high = 1.0
    share = low
    for step in range(40):
        trial = at_flow(plant, balance, share)
        entering = air_entering(plant, trial, setpoint_C, hum_ratio)
        meets = trial.fan.flow_kg_s * heat_capacity(entering.hum_ratio) * (
            entering.temp_C - leaving
        ) - needed_sensible(plant, trial, setpoint_C, hum_ratio, 1.0, 1.0)
        if meets >= 0.0:
            high = share
        else:
            low = share
        if step == 0 and meets >= 0.0:
            break
        share = 0.5 * (low + high)
        if high - low < 1e-9:
            break
    return high


@compiled
def free_hum_ratio(balance: Balance, fan: float, before: float) -> float:
    """Room humidity ratio [kg/kg] without the coil: (E + fan m Wo) / (D + fan m).

    ``before`` is returned where no moisture moves.
    """
    rate = fan * outdoor_vapor_rate(balance)
    whole = balance.room.moisture_D + rate
    if whole <= 0.0:
        return before
    return (balance.room.moisture_E + rate * balance.outdoors.hum_ratio) / whole


@compiled
def heated_or_floating(
    plant: Plant,
    control: Control,
    balance: Balance,
    demand: Demand,
    floating_C: float,
    surface_C: float,
    condensing_C: float,
) -> SensibleOnly:
    """The hour without cooling: heating holds its set point, or the room floats.

    ``floating_C`` is the room temperature without heating [C].
    """
    fan = balance.fan.base
    w_free = free_hum_ratio(balance, fan, demand.hum_ratio_before)
    target = floating_C
    heating = 0.0
    limited = 0
    if demand.fan_on == 1 and target < demand.heating_setpoint_C:
        setpoint = demand.heating_setpoint_C
        needed = -needed_sensible(plant, balance, setpoint, w_free, 1.0, fan)
        if balance.fan.cycles == 1:
            # The fan runs as long as a heater of its size has to; a larger load, all hour.
            brought = fan_and_ventilation(plant, balance, setpoint, w_free, 1.0)
            cycled = needed / max(1.0 + brought / control.heating_fan_W, 0.05)
            needed = cycled if cycled < control.heating_fan_W else needed - brought
        heating = min(max(needed, 0.0), control.heating_capacity_W)
        limited = 1 if needed > heating * (1.0 + 1e-9) and heating > 0.0 else 0
        if balance.fan.cycles == 1:
            fan = min(heating / control.heating_fan_W, 1.0)
            w_free = free_hum_ratio(balance, fan, demand.hum_ratio_before)
        rate = fan * outdoor_rate(balance, w_free)
        room = balance.room
        target = (
            room.heat_B + heating + fan * balance.fan.power_W + rate * balance.outdoors.temp_C
        ) / (room.heat_K + rate)
        balance = Balance(
            balance.outdoors,
            room,
            balance.ventilation,
            SupplyFan(fan, 0, balance.fan.flow_kg_s, balance.fan.power_W),
            heating,
        )
    floating = Attempt(target, w_free, idle(condensing_C, surface_C), 1.0, math.nan)
    return SensibleOnly(floating, target, heating, limited, 0, balance, 1.0, 0.0, 0.0, ITS_OWN)


@compiled
def sought_at_limit(plant: Plant, control: Control, balance: Balance, demand: Demand) -> bool:
    """Whether to look at the humidity limit first: the room was near it or above, and nothing but
    the coil depends on the hour without drying."""
    if (
        control.humidity_control == NO_CONTROL
        or control.humidifier.kind != 0
        or plant.flow.kind != CONSTANT_FLOW
        or balance.fan.cycles == 1
    ):
        return False
    setpoint = demand.cooling_setpoint_C
    pressure = balance.outdoors.pressure_Pa
    limit = humidity_limit(control.humidity_control, demand.humidity_limit, setpoint, pressure)
    return (
        demand.hum_ratio_before > _NEAR_LIMIT * limit
        and limit < _NEAR_SATURATION * saturation_hum_ratio(setpoint, pressure)
    )


@compiled
def at_humidity_limit(
    unit: UnitMap,
    plant: Plant,
    control: Control,
    balance: Balance,
    demand: Demand,
    surface_C: float,
    condensing_C: float,
) -> tuple[Attempt, bool]:
    """Cooling with the room held at its humidity limit, and whether it would be damper.

    It would where the coil then removes too little, for that only grows with humidity. One look at
    the unit is enough, its condensing temperature as it is guessed, where more is left than that
    could change. Sure of it only where the sensible load stays clear of full capacity: in damper
    air a coil takes less sensible heat, in proportion to the humidity at most, and the room is at
    most as damp as if the coil removed no more.
    """
    setpoint = demand.cooling_setpoint_C
    pressure = balance.outdoors.pressure_Pa
    w = humidity_limit(control.humidity_control, demand.humidity_limit, setpoint, pressure)
    trial = attempt(
        unit, plant, balance, ONE_LOOK, setpoint, w, 1.0, surface_C, condensing_C
    )  # fmt: skip
    operation = trial.operation
    fan = balance.fan.base
    left = removal_balance(balance, w, fan) - operation.removal_kg_s
    if left <= _REMOVAL_PER_K * abs(operation.gap_K) * operation.removal_kg_s:
        return trial, False
    slope = balance.room.moisture_D + fan * outdoor_vapor_rate(balance)
    if operation.limited == 1 or slope <= 0.0:
        return trial, False
    damper = left / slope / w
    used = operation.part_load * operation.fraction
    return trial, used < _CLEAR_OF_CAPACITY * (1.0 - damper)


@compiled
def dried_at_limit(
    unit: UnitMap, plant: Plant, control: Control, balance: Balance, demand: Demand
) -> tuple[Attempt, bool]:
    """The room dried to its humidity limit, and whether it would be damper without drying.

    It would where that takes more sensible heat than is needed: run for the need alone, a coil is
    no colder, and removes less by as large a share at least. Sure of it where the condensing
    temperature without drying could not make up for the share, and where the sensible load stays
    clear of full capacity (`at_humidity_limit`), were nothing removed at all.
    """
    setpoint = demand.cooling_setpoint_C
    pressure = balance.outdoors.pressure_Pa
    w = humidity_limit(control.humidity_control, demand.humidity_limit, setpoint, pressure)
    outdoor = balance.outdoors.temp_C
    trial = attempt(
        unit, plant, balance, DRY, setpoint, w, 1.0, demand.dried.surface_C,
        outdoor + demand.dried.lift_K,
    )  # fmt: skip
    operation = trial.operation
    asked = removal_balance(balance, w, balance.fan.base)
    slope = balance.room.moisture_D + balance.fan.base * outdoor_vapor_rate(balance)
    # Where outdoor air dries the room without the coil, nothing is asked for.
    if asked <= 0.0 or operation.runtime <= 0.0 or operation.sensible_W <= 0.0 or slope <= 0.0:
        return trial, False
    beyond = overcooling_of(plant, balance, trial) / operation.sensible_W
    condensing = max(plant.condensing_floor_C, outdoor + lift_without_recovery(unit, operation))
    if beyond <= _ASKED_PER_K * abs(condensing - operation.condensing_C) + 1e-3:
        return trial, False
    damper = asked / slope / w
    used = operation.part_load * operation.fraction * (1.0 - beyond)
    return trial, used < _CLEAR_OF_CAPACITY * (1.0 - damper)


@compiled
@within_callers
def at_constant_flow(
    unit: UnitMap,
    plant: Plant,
    control: Control,
    balance: Balance,
    demand: Demand,
    surface_C: float,
    condensing_C: float,
) -> SensibleOnly:
    """Cooling, heating or neither at a supply flow, the humidifier's moisture given.

    Sensible call: the room is held at its cooling set point, or, beyond full capacity, where full
    capacity brings it.
    """
    w_free = free_hum_ratio(balance, balance.fan.base, demand.hum_ratio_before)
    rate = balance.fan.base * outdoor_rate(balance, w_free)
    target = (
        balance.room.heat_B
        + balance.fan.base * balance.fan.power_W
        + rate * balance.outdoors.temp_C
    ) / (balance.room.heat_K + rate)
    if demand.fan_on == 0 or target <= demand.cooling_setpoint_C:
        return heated_or_floating(plant, control, balance, demand, target, surface_C, condensing_C)
    target = demand.cooling_setpoint_C
    if sought_at_limit(plant, control, balance, demand):
        # The hour before had a call: most likely this one has, so that it is dried at once.
        called = not math.isnan(demand.dried.lift_K)
        surely = False
        if called:
            dried, surely = dried_at_limit(unit, plant, control, balance, demand)
        if not surely:
            look, surely = at_humidity_limit(
                unit, plant, control, balance, demand, surface_C, condensing_C
            )
        if surely and called:
            return SensibleOnly(dried, target, 0.0, 0, 0, balance, 1.0, 0.0, 0.0, DRIED)
        if surely:
            return SensibleOnly(look, target, 0.0, 0, 0, balance, 1.0, 0.0, 0.0, DAMPER)
    limited = 0
    cooled = solve_moisture(
        unit, plant, balance, COOL, target, demand.hum_ratio_before, surface_C, condensing_C
    )
    if cooled.operation.limited == 1:
        limited = 1
        cooled = solve_full_load(
            unit, plant, balance, target, cooled.hum_ratio, cooled.operation.start_surface_C,
            cooled.operation.condensing_C,
        )  # fmt: skip
    return SensibleOnly(cooled, target, 0.0, 0, limited, balance, 1.0, 0.0, 0.0, ITS_OWN)


@compiled
@apart
def humidified(
    unit: UnitMap,
    plant: Plant,
    control: Control,
    balance: Balance,
    demand: Demand,
    flow_share: float,
    surface_C: float,
    condensing_C: float,
) -> SensibleOnly:
    """The hour at a supply flow with the humidifier holding its low limit as far as it can.

    What it adds [kg/s] is found by substitution with the slope of the room's moisture balance, by
    false position once that went too far.
    """
    added = 0.0
    heat = 0.0
    humidifier = control.humidifier
    pressure = balance.outdoors.pressure_Pa
    bracket = Bracket(0.0, 0.0, math.inf, 0.0, 0)
    for _ in range(40):
        trial = at_constant_flow(
            unit, plant, control, with_heat_and_moisture(balance, heat, added), demand, surface_C,
            condensing_C,
        )  # fmt: skip
        if humidifier.kind == 0 or demand.fan_on == 0:
            break
        room = trial.attempt
        if humidifier.dew_point == 1:
            low = saturation_hum_ratio(demand.low_humidity, pressure)
        else:
            low = hum_ratio_from_rel_hum(room.temp_C, demand.low_humidity, pressure)
        fan = fan_runtime(trial.balance, room.operation)
        slope = balance.room.moisture_D + fan * outdoor_vapor_rate(balance)
        over = slope * (room.hum_ratio - low)
        bracket = narrowed(bracket, added, over)
        # Where the coil takes much of it out, or its water cools the room, the slope misses.
        new = meeting(bracket) if bracket.f_high > 0.0 else added - over
        new = min(max(new, 0.0), humidifier.capacity_kg_s)
        if abs(new - added) < _ADDED_CLOSE * max(slope, 1e-2):
            break
        added = new
        heat = heat_with_moisture(humidifier.kind, added, room.temp_C)
        surface_C = room.operation.start_surface_C
        condensing_C = room.operation.condensing_C
    return SensibleOnly(
        trial.attempt, trial.target_C, trial.heating_W, trial.heating_limited, trial.limited,
        trial.balance, flow_share, added, heat, trial.at_limit,
    )  # fmt: skip


@compiled
def without_drying(
    unit: UnitMap,
    plant: Plant,
    control: Control,
    closed: Balance,
    demand: Demand,
    surface_C: float,
    condensing_C: float,
) -> SensibleOnly:
    """The hour without drying.

    ``closed`` is the balance before outdoor air has been decided; ``demand`` says whether the
    economizer may bring more than the least.
    """
    room = closed.room
    surplus = (
        room.heat_B + closed.fan.base * closed.fan.power_W - room.heat_K * demand.cooling_setpoint_C
    )
    flow, sensible, latent = outdoor_air(
        plant.outdoor,
        demand.least_outdoor_kg_s,
        closed.outdoors.temp_C,
        closed.outdoors.hum_ratio,
        closed.outdoors.pressure_Pa,
        demand.temp_before_C,
        demand.hum_ratio_before,
        surplus,
        demand.cooling_setpoint_C,
        closed.fan.base,
        demand.may_open == 1,
        demand.exhaust_share,
    )
    balance = Balance(closed.outdoors, room, Ventilation(flow, sensible, latent), closed.fan, 0.0)
    if plant.flow.kind == CONSTANT_FLOW or demand.fan_on == 0:
        if control.humidifier.kind == 0 or demand.fan_on == 0:
            return at_constant_flow(unit, plant, control, balance, demand, surface_C, condensing_C)
        return humidified(unit, plant, control, balance, demand, 1.0, surface_C, condensing_C)
    share = flow_for_load(plant, balance, demand.cooling_setpoint_C, demand.hum_ratio_before)
    found = humidified(
        unit, plant, control, at_flow(plant, balance, share), demand, share, surface_C, condensing_C
    )
    running = running_share(plant, least_displacement(plant))
    if share < running and found.attempt.operation.runtime > 0.0:
        share = running
        found = humidified(
            unit, plant, control, at_flow(plant, balance, share), demand, share, surface_C,
            condensing_C,
        )  # fmt: skip
    if share < 1.0 and found.limited == 1:
        return humidified(unit, plant, control, balance, demand, 1.0, surface_C, condensing_C)
    return found


@compiled
@apart
def with_less_flow(
    unit: UnitMap,
    plant: Plant,
    control: Control,
    demand: Demand,
    found: SensibleOnly,
    limit: float,
) -> SensibleOnly:
    """The hour with its supply flow reduced until it is dry enough, before any reheat.

    The flow ends at its least where that is not enough, and stays where the unit could not carry
    the sensible load with less; it is raised to what the coil needs while a compressor runs.
    ``limit`` is the humidity limit as the control measures it.
    """
    balance = found.balance
    pressure = balance.outdoors.pressure_Pa
    kind = control.humidity_control
    low = max(lowest_share(plant, balance), running_share(plant, least_displacement(plant)))
    surface = found.attempt.operation.start_surface_C
    condensing = found.attempt.operation.condensing_C
    if found.flow_share < low - 1e-9:
        return humidified(
            unit, plant, control, at_flow(plant, balance, low), demand, low, surface, condensing
        )
    if (
        plant.flow.before_reheat == 0
        or found.flow_share <= low + 1e-9
        or found.attempt.operation.runtime <= 0.0
    ):
        return found
    best = humidified(
        unit, plant, control, at_flow(plant, balance, low), demand, low, surface, condensing
    )
    if best.limited == 1:
        return found
    if best.attempt.hum_ratio > humidity_limit(kind, limit, best.attempt.temp_C, pressure):
        return best
    if plant.flow.kind != VARIABLE_FLOW:
        return best
    high = found.flow_share
    while high - low > 1e-3:
        share = 0.5 * (low + high)
        trial = humidified(
            unit, plant, control, at_flow(plant, balance, share), demand, share, surface, condensing
        )
        allowed = humidity_limit(kind, limit, trial.attempt.temp_C, pressure)
        if trial.limited == 0 and trial.attempt.hum_ratio <= allowed:
            low = share
            best = trial
        else:
            high = share
    return best
