"""An hour of one room and the unit that serves it.

Order of control in an hour: fan and ventilation, sensible call, then dehumidification call; reheat
holds the temperature the room would have had without drying.

Floats of one hour in SI: arguments name their unit, or are listed in docs/nomenclature.md; fields
of the NamedTuples have theirs in types.py. Source: the room's balances (room_balance.py).
"""

from __future__ import annotations

import math

from dewledger.components.air_processes import mix
from dewledger.components.supply_fan import CONSTANT_FLOW
from dewledger.dx_unit.condenser import HELD_W, lift_without_recovery, start_after
from dewledger.dx_unit.operate import recovery_penalty
from dewledger.dx_unit.steady_state import most_displacement
from dewledger.dx_unit.types import AirIn, Plant, Start, UnitMap
from dewledger.hourly.dehumidification import (
    beyond_reheat,
    dry_to_limit,
    humidity_limit,
    let_room_cool,
    limit_dehumidification,
    or_at_full_capacity,
    overcooling_of,
)
from dewledger.hourly.reheat import reheat_of
from dewledger.hourly.room_balance import (
    air_entering,
    attempt,
    capacity_ratio,
    condensed_on_surfaces,
    fan_runtime,
    leakage,
    needed_sensible,
    next_condensing,
    outdoor_hum_ratio_in,
    outdoor_rate,
    outdoor_vapor_rate,
    room_terms,
    solve_moisture,
)
from dewledger.hourly.sensible_control import (
    at_flow,
    humidified,
    running_share,
    with_less_flow,
    without_drying,
)
from dewledger.hourly.types import (
    COOL,
    DRIED,
    FAN_CONTINUOUS,
    FAN_CYCLING,
    FAN_OFF,
    ITS_OWN,
    NO_CONTROL,
    NO_REHEAT,
    SECONDS,
    AirPath,
    Attempt,
    Balance,
    Control,
    Decision,
    Demand,
    Hour,
    HourResult,
    Outdoors,
    ReheatHour,
    RoomResponse,
    RoomUnits,
    SensibleOnly,
    State,
    SupplyFan,
    Ventilation,
)
from dewledger.weather.numerics.compiled import apart, compiled
from dewledger.weather.physics.moist_air import (
    FloatArray,
    enthalpy,
    heat_capacity,
    temp_from_enthalpy,
)

# The least supply flow that lets the unit dry enough is sought to this share of the full flow.
_FLOW_STEP = 4e-3
# A room this share above its limit is at its limit.
_ABOVE = 1.0 + 1e-9


@compiled
def demand_of(hour: Hour, before: State, may_open: int) -> Demand:
    """What an hour requires; ``may_open`` 0 keeps the economizer shut."""
    off = hour.fan_mode == FAN_OFF
    return Demand(
        0 if off else 1,
        may_open,
        hour.cooling_setpoint_C,
        hour.heating_setpoint_C,
        0.0 if off else hour.outdoor_air_kg_s,
        hour.low_humidity,
        hour.exhaust_share,
        before.temp_C,
        before.hum_ratio,
        hour.humidity_limit,
        before.dried,
    )


@compiled
def closed_balance(
    plant: Plant, room: RoomResponse, hour: Hour, before: State, released_W: float
) -> Balance:
    """The hour's balance before outdoor air and supply flow have been decided."""
    return Balance(
        Outdoors(hour.outdoor_temp_C, hour.outdoor_hum_ratio_kg_kg, hour.pressure_Pa),
        room_terms(room, hour, before, released_W),
        Ventilation(0.0, 0.0, 0.0),
        SupplyFan(
            1.0 if hour.fan_mode == FAN_CONTINUOUS else 0.0,
            1 if hour.fan_mode == FAN_CYCLING else 0,
            plant.flow_kg_s,
            plant.fan_W,
        ),
        0.0,
    )


@compiled
def above_limit(control: Control, hour: Hour, trial: Attempt) -> bool:
    """Whether a trial leaves the room above its humidity limit."""
    limit = humidity_limit(
        control.humidity_control, hour.humidity_limit, trial.temp_C, hour.pressure_Pa
    )
    return trial.hum_ratio > limit * _ABOVE


@compiled
def too_damp(control: Control, hour: Hour, found: SensibleOnly) -> bool:
    """Whether the room would be above its humidity limit without drying."""
    return found.at_limit != ITS_OWN or above_limit(control, hour, found.attempt)


@compiled
def sensible_hour(
    unit: UnitMap,
    plant: Plant,
    control: Control,
    hour: Hour,
    closed: Balance,
    before: State,
) -> SensibleOnly:
    """The hour without drying; a dehumidification call shuts the economizer."""
    surface = before.cooled.surface_C
    condensing = hour.outdoor_temp_C + before.cooled.lift_K
    # In a loop, for one place that calls is one place to be compiled into.
    for shut in range(2):
        demand = demand_of(hour, before, 1 - shut)
        found = without_drying(unit, plant, control, closed, demand, surface, condensing)
        if (
            control.humidity_control == NO_CONTROL
            or hour.fan_mode == FAN_OFF
            or found.balance.ventilation.flow_kg_s <= demand.least_outdoor_kg_s
            or not too_damp(control, hour, found)
        ):
            break
    return found


@compiled
def dried_hour(
    unit: UnitMap,
    plant: Plant,
    control: Control,
    hour: Hour,
    found: SensibleOnly,
    before: State,
) -> Decision:
    """Dry to the limit as far as capacity and reheat allow; the sensible load is met."""
    balance = found.balance
    target = found.target_C
    sensible_only = found.attempt
    w_limit = humidity_limit(
        control.humidity_control, hour.humidity_limit, sensible_only.temp_C, hour.pressure_Pa
    )
    if found.at_limit == DRIED:
        chosen, full = or_at_full_capacity(unit, plant, balance, sensible_only)
    else:
        surface = before.dried.surface_C
        condensing = hour.outdoor_temp_C + before.dried.lift_K
        if math.isnan(condensing):
            surface = sensible_only.operation.start_surface_C
            condensing = next_condensing(sensible_only.operation)
        chosen, full = dry_to_limit(
            unit, plant, balance, target, w_limit, sensible_only.ratio, surface, condensing
        )
    short = 0
    if overcooling_of(plant, balance, chosen) < -1e-3:
        # At the minimum condensing temperature of reheat it would not hold the room, and nothing is
        # to be reheated; or damp outdoor air comes with the fan, and to run less is no way to dry.
        if found.at_limit != ITS_OWN:
            operation = sensible_only.operation
            sensible_only = attempt(
                unit, plant, balance, COOL, target, sensible_only.hum_ratio, sensible_only.ratio,
                operation.start_surface_C, next_condensing(operation),
            )  # fmt: skip
        chosen = sensible_only
        full = 1
    elif beyond_reheat(plant, balance, chosen) > HELD_W:
        short = 1
        if found.at_limit != ITS_OWN:
            # How far it would go without drying bounds what is sought now.
            sensible_only = solve_moisture(
                unit, plant, balance, COOL, target, sensible_only.hum_ratio,
                sensible_only.operation.start_surface_C, next_condensing(sensible_only.operation),
            )  # fmt: skip
        if control.humidity_first == 1 and hour.low_limit_C < target - 1e-9:
            chosen, full = let_room_cool(
                unit, plant, balance, control, hour.humidity_limit, hour.low_limit_C, chosen,
                sensible_only,
            )  # fmt: skip
        else:
            chosen = limit_dehumidification(unit, plant, balance, chosen, sensible_only)
            full = 0
    return Decision(found, chosen, 1, full, short)


@compiled
def dried_at_flow(
    unit: UnitMap,
    plant: Plant,
    control: Control,
    hour: Hour,
    found: SensibleOnly,
    before: State,
    share: float,
) -> Decision:
    """The call at a share of the full supply flow."""
    operation = found.attempt.operation
    trial = humidified(
        unit, plant, control, at_flow(plant, found.balance, share), demand_of(hour, before, 0),
        share, operation.start_surface_C, operation.condensing_C,
    )  # fmt: skip
    if trial.limited == 1 or not too_damp(control, hour, trial):
        return Decision(trial, trial.attempt, 1, trial.limited, 0)
    return dried_hour(unit, plant, control, hour, trial, before)


@compiled
@apart
def dried_at_best_flow(
    unit: UnitMap,
    plant: Plant,
    control: Control,
    hour: Hour,
    least: Decision,
    before: State,
) -> Decision:
    """The call where ``least`` is at a flow at which only part of the displacement may run.

    At the least flow that lets the unit reach the limit, or at that of full capacity: where the
    room is overcooled less.
    """
    found = least.found
    if least.short == 1 and least.full == 0 and least.chosen.operation.available_W <= HELD_W:
        # Overcooling ends the drying, with no reheat at hand: more air would overcool sooner.
        return least
    low = found.flow_share
    high = running_share(plant, 1.0)
    most = dried_at_flow(unit, plant, control, hour, found, before, high)
    if most.full == 1:
        return most if least.full == 1 else least
    best = least if least.full == 0 else most
    while least.full == 1 and high - low > _FLOW_STEP:
        share = 0.5 * (low + high)
        trial = dried_at_flow(unit, plant, control, hour, found, before, share)
        if trial.full == 1:
            low = share
        else:
            high = share
            best = trial
    if most.short != best.short:
        return best if best.short == 0 else most
    by_most = overcooling_of(plant, most.found.balance, most.chosen)
    if by_most < overcooling_of(plant, best.found.balance, best.chosen) - HELD_W:
        return most
    return best


@compiled
def decide(
    unit: UnitMap,
    plant: Plant,
    control: Control,
    hour: Hour,
    found: SensibleOnly,
    before: State,
) -> Decision:
    """The dehumidification call of an hour, where there is one.

    A cycling fan that runs for the heater does not run for the compressor.
    """
    without = Decision(found, found.attempt, 0, found.limited, 0)
    if control.humidity_control == NO_CONTROL or hour.fan_mode == FAN_OFF:
        return without
    if hour.fan_mode == FAN_CYCLING and found.balance.fan.cycles == 0:
        return without
    if not too_damp(control, hour, found):
        return without
    if plant.flow.kind != CONSTANT_FLOW and found.limited == 0:
        demand = demand_of(hour, before, 0)
        found = with_less_flow(unit, plant, control, demand, found, hour.humidity_limit)
        if not too_damp(control, hour, found):
            return Decision(found, found.attempt, 1, 0, 0)
    if found.limited == 1:
        return Decision(found, found.attempt, 1, 1, 0)
    decision = dried_hour(unit, plant, control, hour, found, before)
    if most_displacement(plant, found.balance.fan.flow_kg_s) < 1.0:
        return dried_at_best_flow(unit, plant, control, hour, decision, before)
    return decision


@compiled
def reheat_hour(
    plant: Plant,
    sources: FloatArray,
    decision: Decision,
    hum_ratio: float,
    ratio: float,
    fan: float,
) -> ReheatHour:
    """The reheat load of an hour and where it is met from.

    Overcooling is counted against the temperature of the hour without drying; reheat serves what
    is left of it at the temperature that the control chose.
    """
    found = decision.found
    chosen = decision.chosen
    operation = chosen.operation
    if decision.call == 0 or operation.runtime <= 0.0 or found.limited == 1:
        return NO_REHEAT
    balance = found.balance
    overcooling = max(
        operation.sensible_W
        - needed_sensible(plant, balance, found.target_C, hum_ratio, ratio, fan),
        0.0,
    )
    load = max(
        operation.sensible_W
        - needed_sensible(plant, balance, chosen.temp_C, hum_ratio, ratio, fan),
        0.0,
    )
    return reheat_of(sources, operation, overcooling, min(load, overcooling), fan)


@compiled
def air_path(
    plant: Plant,
    decision: Decision,
    reheat: ReheatHour,
    temp_C: float,
    hum_ratio: float,
    leak_kg_s: float,
) -> AirPath:
    """The unit's air in the hour, rebuilt from enthalpies at the room's state of its end.

    ``leak_kg_s`` is outdoor air that comes in past the unit.
    """
    balance = decision.found.balance
    outdoors = balance.outdoors
    operation = decision.chosen.operation
    onto = air_entering(plant, balance, decision.chosen.temp_C, decision.chosen.hum_ratio)
    fan = fan_runtime(balance, operation)
    ratio = capacity_ratio(onto, operation.removal_kg_s, fan)
    vent = fan * outdoor_rate(balance, hum_ratio) * ratio
    vapor_rate = fan * outdoor_vapor_rate(balance)
    w_in = outdoor_hum_ratio_in(balance, hum_ratio)
    mixed_temp = math.nan
    mixed_w = math.nan
    supply_temp = math.nan
    supply_w = math.nan
    heat = 0.0
    vapor = 0.0
    if fan > 0.0:
        flow = fan * balance.fan.flow_kg_s
        share = balance.ventilation.flow_kg_s / balance.fan.flow_kg_s
        t_in = outdoors.temp_C + balance.ventilation.sensible * (temp_C - outdoors.temp_C)
        mixed_temp, mixed_w = mix(share, t_in, w_in, temp_C, hum_ratio)
        supply_w = mixed_w - operation.removal_kg_s / flow
        given = reheat.recovered_W + reheat.purchased_W
        h_supply = (
            enthalpy(mixed_temp, mixed_w)
            + (fan * balance.fan.power_W - operation.total_W + given + decision.found.heating_W)
            / flow
        )
        supply_temp = temp_from_enthalpy(h_supply, supply_w)
        heat = flow * heat_capacity(supply_w) * (supply_temp - temp_C)
        vapor = flow * (supply_w - hum_ratio)
    return AirPath(
        onto, mixed_temp, mixed_w, supply_temp, supply_w, fan, balance.fan.flow_kg_s,
        balance.fan.power_W, fan * balance.ventilation.flow_kg_s, temp_C, hum_ratio,
        balance.ventilation.sensible, w_in, vent * (outdoors.temp_C - temp_C),
        (vapor_rate + leak_kg_s) * (outdoors.hum_ratio - hum_ratio), heat, vapor,
    )  # fmt: skip


@compiled
def hum_ratio_after(balance: Balance, chosen: Attempt, fan: float) -> tuple[float, float, float]:
    """Room humidity ratio at the hour's end, exact for what the unit did.

    Returns it with the water that condenses on the room's surfaces [kg/s] and its heat [W].
    """
    vapor_rate = fan * outdoor_vapor_rate(balance)
    whole = balance.room.moisture_D + vapor_rate
    w = chosen.hum_ratio
    if whole > 0.0:
        w = (
            balance.room.moisture_E
            + vapor_rate * balance.outdoors.hum_ratio
            - chosen.operation.removal_kg_s
        ) / whole
    condensed, condensed_W = condensed_on_surfaces(
        chosen.temp_C, w, whole, balance.outdoors.pressure_Pa
    )
    if condensed > 0.0:
        w -= condensed / whole
    return w, condensed, condensed_W


@compiled
def as_tried(onto: AirIn, chosen: Attempt) -> AirIn:
    """The air onto the coil with its wet-bulb depression, where the trial worked it out."""
    return AirIn(
        onto.temp_C, onto.hum_ratio, onto.pressure_Pa, onto.outdoor_C, onto.flow_kg_s,
        chosen.depression_K,
    )  # fmt: skip


@compiled
def end_of_hour(
    unit: UnitMap,
    plant: Plant,
    room: RoomResponse,
    sources: FloatArray,
    hour: Hour,
    decision: Decision,
    before: State,
    with_penalty: int,
) -> HourResult:
    """The hour as decided, its balances exact for what the unit did."""
    found = decision.found
    chosen = decision.chosen
    balance = found.balance
    operation = chosen.operation
    fan = fan_runtime(balance, operation)
    onto = air_entering(plant, balance, chosen.temp_C, chosen.hum_ratio)
    w, condensed, condensed_W = hum_ratio_after(balance, chosen, fan)
    ratio = capacity_ratio(onto, operation.removal_kg_s, fan)
    reheat = reheat_hour(plant, sources, decision, w, ratio, fan)
    given = reheat.recovered_W + reheat.purchased_W
    fan_heat = balance.fan.power_W * (ratio if plant.blow_through == 1 else 1.0)
    vent = fan * outdoor_rate(balance, w) * ratio
    temp = (
        balance.room.heat_B
        + found.heating_W
        + fan * fan_heat
        + vent * hour.outdoor_temp_C
        - operation.sensible_W
        + given
    ) / (balance.room.heat_K + vent)
    penalty = 0.0
    without_recovery = before.without_recovery
    if reheat.recovered_W > 0.0 and with_penalty == 1:
        needed = needed_sensible(plant, balance, chosen.temp_C, w, ratio, fan)
        penalty, without_recovery = recovery_penalty(
            unit,
            plant,
            as_tried(onto, chosen),
            needed,
            balance.fan.cycles,
            operation,
            without_recovery,
        )
    cooled = start_after(unit, hour.outdoor_temp_C, found.attempt.operation, before.cooled)
    if found.at_limit == DRIED and found.attempt.operation.runtime > 0.0:
        dried = found.attempt.operation
        cooled = Start(dried.start_surface_C, lift_without_recovery(unit, dried))
    swing = 0.0
    if decision.call == 1:
        swing = operation.swing_W * SECONDS / (room.heat_store_J_K * plant.cycles_per_hour)
    return HourResult(
        temp, w, found.target_C, operation,
        air_path(plant, decision, reheat, temp, w, leakage(room, hour)), reheat, penalty,
        RoomUnits(
            found.heating_W, 0.0, found.heating_limited, 0.0, 0.0, 0.0, found.added_kg_s,
            found.added_heat_W,
        ),
        condensed, condensed_W, swing, decision.call, decision.full, decision.short,
        cooled, without_recovery,
    )  # fmt: skip


@compiled
def solve_hour(
    unit: UnitMap,
    plant: Plant,
    room: RoomResponse,
    control: Control,
    sources: FloatArray,
    hour: Hour,
    before: State,
    released_W: float,
    with_penalty: int,
) -> HourResult:
    """One hour.

    Parameters
    ----------
    sources : (n, 5) reheat sources in order of use
    before : the room as the hour before left it, and where the unit's search may start
    released_W : heat of water that condenses on the room's surfaces, as assumed
    with_penalty : 1 where the recovery penalty is wanted, which takes a second solution
    """
    closed = closed_balance(plant, room, hour, before, released_W)
    found = sensible_hour(unit, plant, control, hour, closed, before)
    decision = decide(unit, plant, control, hour, found, before)
    return end_of_hour(unit, plant, room, sources, hour, decision, before, with_penalty)
