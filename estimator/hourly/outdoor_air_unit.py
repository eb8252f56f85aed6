"""An hour of an outdoor-air unit, with separate cooling and heating of the room.

The unit dries its air to a supply dew point and brings it to a supply temperature; what the room
still needs is left to the separate cooling and heating. Return air and exhaust are taken as they
were when the hour began; room temperature and humidity are those at its end.

Floats of one hour in SI: arguments name their unit, or are listed in docs/nomenclature.md; fields
of the NamedTuples have theirs in types.py. Source: the room's balances (room_balance.py).
"""

from __future__ import annotations

import math
from typing import NamedTuple

from dewledger.components.humidifier import heat_with_moisture
from dewledger.components.supply_fan import VARIABLE_FLOW
from dewledger.components.ventilation import outdoor_air
from dewledger.dx_unit.condenser import start_after
from dewledger.dx_unit.operate import operate, recovery_penalty
from dewledger.dx_unit.part_load import with_depression
from dewledger.dx_unit.types import (
    FULL_CAPACITY,
    MATCH_REMOVAL,
    MATCH_SENSIBLE,
    AirIn,
    Operation,
    Plant,
    Start,
    Task,
    UnitMap,
)
from dewledger.hourly.dehumidification import humidity_limit
from dewledger.hourly.reheat import reheat_of
from dewledger.hourly.room_balance import (
    air_entering,
    condensed_on_surfaces,
    idle,
    leakage,
    room_terms,
)
from dewledger.hourly.sensible_control import at_flow
from dewledger.hourly.types import (
    FAN_OFF,
    NO_CONTROL,
    NO_REHEAT,
    AirPath,
    Balance,
    Control,
    Hour,
    HourResult,
    Outdoors,
    ReheatHour,
    RoomResponse,
    RoomTerms,
    RoomUnits,
    State,
    SupplyFan,
    Ventilation,
)
from dewledger.weather.numerics.compiled import apart, compiled
from dewledger.weather.physics.moist_air import (
    FloatArray,
    dew_point,
    enthalpy,
    heat_capacity,
    hum_ratio_from_rel_hum,
    saturation_hum_ratio,
    temp_from_enthalpy,
    vapor_enthalpy,
)

_HUMIDIFIER_STEPS = 40
_HELD_W = 1e-6


class Supply(NamedTuple):
    """What the unit made of its air in the hour."""

    operation: Operation
    reheat: ReheatHour
    heating_W: float
    heating_limited: int
    penalty_W: float
    without_recovery: Start
    temp_C: float
    hum_ratio: float
    call: int
    full: int
    short: int


class RoomHour(NamedTuple):
    """The room at the hour's end, and what served it besides the unit."""

    temp_C: float
    hum_ratio: float
    heating_W: float
    heating_limited: int
    cooling_W: float  # sensible
    latent_W: float
    removal_kg_s: float
    added_kg_s: float
    added_heat_W: float


@compiled
def supply_target(
    control: Control, outdoor_C: float, setpoint_C: float, surplus_W: float, rate_W_K: float
) -> float:
    """Supply temperature [C] that the controls ask for.

    Linear between the reset's ends. By the room's need, it is no warmer than what takes out the
    surplus, the heat beyond what keeps the room at its cooling set point without supply air.
    """
    unit = control.outdoor_air_unit
    span = (outdoor_C - unit.reset_low_C) / (unit.reset_high_C - unit.reset_low_C)
    target = unit.temp_mild_C + min(max(span, 0.0), 1.0) * (unit.temp_C - unit.temp_mild_C)
    if unit.by_room == 1:
        target = min(target, max(setpoint_C - surplus_W / rate_W_K, unit.least_C))
    return target


@compiled
def supply_dew_point(
    control: Control, outdoor_C: float, outdoor_hum_ratio: float, pressure_Pa: float
) -> float:
    """Supply dew point [C] that the controls ask for: linear between the reset's ends, by the
    outdoor dew point or the outdoor temperature."""
    unit = control.outdoor_air_unit
    by = outdoor_C
    if unit.dew_by_dew_point == 1:
        by = dew_point(max(outdoor_hum_ratio, 1e-6), pressure_Pa)
    span = (by - unit.dew_low_C) / (unit.dew_high_C - unit.dew_low_C)
    return unit.dew_mild_C + min(max(span, 0.0), 1.0) * (unit.dew_point_C - unit.dew_mild_C)


@compiled
def supply_hum_ratio(
    control: Control, hour: Hour, terms: RoomTerms, room_C: float, flow_kg_s: float
) -> float:
    """Humidity ratio [kg/kg] the supply air is dried to: of its dew point, or no drier than keeps
    the room at its limit.

    Room at the limit W at the hour's end: (D + m) W = E + m W_supply. ``room_C`` is the room's
    temperature with the supply temperature that the controls ask for.
    """
    pressure = hour.pressure_Pa
    dew = supply_dew_point(control, hour.outdoor_temp_C, hour.outdoor_hum_ratio_kg_kg, pressure)
    w_supply = saturation_hum_ratio(dew, pressure)
    if control.outdoor_air_unit.by_humidity == 1 and control.humidity_control != NO_CONTROL:
        w_limit = humidity_limit(control.humidity_control, hour.humidity_limit, room_C, pressure)
        needed = ((terms.moisture_D + flow_kg_s) * w_limit - terms.moisture_E) / flow_kg_s
        w_supply = max(w_supply, needed)
    return w_supply


@compiled
def ventilated(plant: Plant, terms: RoomTerms, hour: Hour, before: State) -> Balance:
    """The hour's balance with outdoor air, and the supply flow that follows it."""
    fan = 0.0 if hour.fan_mode == FAN_OFF else 1.0
    surplus = terms.heat_B - terms.heat_K * hour.cooling_setpoint_C
    flow, sensible, latent = outdoor_air(
        plant.outdoor, hour.outdoor_air_kg_s * fan, hour.outdoor_temp_C,
        hour.outdoor_hum_ratio_kg_kg, hour.pressure_Pa, before.temp_C, before.hum_ratio, surplus,
        hour.cooling_setpoint_C, 1.0, False, hour.exhaust_share,
    )  # fmt: skip
    balance = Balance(
        Outdoors(hour.outdoor_temp_C, hour.outdoor_hum_ratio_kg_kg, hour.pressure_Pa),
        terms,
        Ventilation(flow, sensible, latent),
        SupplyFan(fan, 0, plant.flow_kg_s, plant.fan_W),
        0.0,
    )
    if plant.flow.kind == VARIABLE_FLOW:
        share = max(plant.flow.minimum_share, hour.outdoor_air_kg_s / plant.flow_kg_s)
        balance = at_flow(plant, balance, min(share, 1.0))
    return balance


@compiled
def fan_after_coil(plant: Plant, balance: Balance) -> float:
    """Heat [W] of a fan after the coil: part of the way to the supply temperature."""
    return balance.fan.power_W if plant.blow_through == 0 else 0.0


@compiled
def dried(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    needed_W: float,
    removal_kg_s: float,
    cooled: Operation,
    before: State,
) -> tuple[Operation, int]:
    """The unit's hour that removes moisture, and 1 where full capacity does not remove it all.

    ``needed_W`` is the sensible cooling to the supply temperature; ``cooled`` is the hour without
    drying.
    """
    if cooled.limited == 1:
        return cooled, 1
    task = Task(MATCH_REMOVAL, needed_W, 0.0, removal_kg_s, 0.0, 0, 1, 0)
    surface = before.cooled.surface_C
    condensing = air.outdoor_C + before.cooled.lift_K
    operation = operate(unit, plant, air, task, surface, condensing)
    if operation.limited == 0:
        return operation, 0
    task = Task(FULL_CAPACITY, needed_W, 0.0, removal_kg_s, 0.0, 0, 1, 0)
    return operate(unit, plant, air, task, surface, condensing), 1


@compiled
def supply_without_fan(before: State, air: AirIn) -> Supply:
    """The unit off."""
    operation = idle(air.outdoor_C + before.cooled.lift_K, before.cooled.surface_C)
    return Supply(
        operation, NO_REHEAT, 0.0, 0, 0.0, before.without_recovery, before.temp_C,
        air.hum_ratio, 0, 0, 0,
    )  # fmt: skip


@compiled
def supply_of(
    unit: UnitMap,
    plant: Plant,
    control: Control,
    sources: FloatArray,
    hour: Hour,
    before: State,
    balance: Balance,
    with_penalty: int,
) -> Supply:
    """The unit's hour: cool to the supply temperature; where that leaves too much moisture, dry
    and reheat."""
    air = air_entering(plant, balance, before.temp_C, before.hum_ratio)
    if balance.fan.base == 0.0:
        return supply_without_fan(before, air)
    air = with_depression(plant, air)
    flow = balance.fan.flow_kg_s
    terms = balance.room
    fan_after = fan_after_coil(plant, balance)
    surface = before.cooled.surface_C
    condensing = hour.outdoor_temp_C + before.cooled.lift_K
    operation = idle(condensing, surface)
    rate = flow * heat_capacity(air.hum_ratio)
    surplus = terms.heat_B - terms.heat_K * hour.cooling_setpoint_C
    target = supply_target(control, hour.outdoor_temp_C, hour.cooling_setpoint_C, surplus, rate)
    needed = rate * (air.temp_C - target) + fan_after
    room_C = (terms.heat_B + rate * target) / (terms.heat_K + rate)
    room_C = min(max(room_C, hour.heating_setpoint_C), hour.cooling_setpoint_C)
    w_supply = supply_hum_ratio(control, hour, terms, room_C, flow)
    removal = flow * (air.hum_ratio - w_supply)
    if needed > 0.0:
        task = Task(MATCH_SENSIBLE, needed, 0.0, 0.0, 0.0, 0, 0, 0)
        operation = operate(unit, plant, air, task, surface, condensing)
    call = 0
    full = operation.limited
    short = 0
    penalty = 0.0
    without_recovery = before.without_recovery
    reheat = NO_REHEAT
    if removal > 1e-9 * flow and operation.removal_kg_s < removal * (1.0 - 1e-9):
        call = 1
        # Supplied drier, air of the same enthalpy difference moves a little less heat.
        needed = flow * heat_capacity(w_supply) * (air.temp_C - target) + fan_after
        # Air colder than its supply temperature is heated with or without drying: that is no
        # reheat, and what drying overcools is no more than the coil's own sensible cooling.
        cooling = max(needed, 0.0)
        operation, full = dried(unit, plant, air, cooling, removal, operation, before)
        overcooling = max(operation.sensible_W - cooling, 0.0)
        reheat = reheat_of(sources, operation, overcooling, overcooling, 1.0)
        if overcooling - reheat.recovered_W - reheat.purchased_W > _HELD_W:
            short = 1
        if reheat.recovered_W > 0.0 and with_penalty == 1:
            penalty, without_recovery = recovery_penalty(
                unit, plant, air, cooling, 0, operation, without_recovery
            )
    wanted = max(-needed, 0.0)
    heating = min(wanted, control.heating_capacity_W)
    limited = 1 if wanted > heating else 0
    supply_w = air.hum_ratio - operation.removal_kg_s / flow
    given = reheat.recovered_W + reheat.purchased_W
    supply_C = temp_from_enthalpy(
        enthalpy(air.temp_C, air.hum_ratio)
        + (fan_after - operation.total_W + given + heating) / flow,
        supply_w,
    )
    return Supply(
        operation, reheat, heating, limited, penalty, without_recovery, supply_C, supply_w,
        call, full, short,
    )  # fmt: skip


@compiled
def room_with(
    control: Control, hour: Hour, before: State, balance: Balance, supply: Supply
) -> RoomHour:
    """The room with the unit's supply air: separate cooling and heating hold its set points.

    The humidifier adds what the low limit still needs, found by substitution.
    """
    terms = balance.room
    fan = balance.fan.base
    flow = balance.fan.flow_kg_s
    separate = control.outdoor_air_unit
    humidifier = control.humidifier
    supply_rate = fan * flow * heat_capacity(supply.hum_ratio)
    whole = terms.heat_K + supply_rate
    water = terms.moisture_D + fan * flow
    humidifies = humidifier.kind != 0 and fan > 0.0 and water > 0.0
    added = 0.0
    added_heat = 0.0
    temp = before.temp_C
    w = before.hum_ratio
    cooling = 0.0
    heating = 0.0
    limited = 0
    latent = 0.0
    removal = 0.0
    for step in range(_HUMIDIFIER_STEPS):
        brought = terms.heat_B + added_heat + supply_rate * supply.temp_C
        temp = brought / whole
        cooling = 0.0
        heating = 0.0
        limited = 0
        if temp > hour.cooling_setpoint_C:
            most = separate.room_capacity_W * separate.room_shr
            cooling = min(brought - whole * hour.cooling_setpoint_C, most)
        elif temp < hour.heating_setpoint_C:
            most = control.heating_capacity_W - supply.heating_W
            wanted = whole * hour.heating_setpoint_C - brought
            heating = min(wanted, most)
            limited = 1 if wanted > heating else 0
        temp = (brought - cooling + heating) / whole
        latent = cooling * (1.0 / separate.room_shr - 1.0)
        removal = latent / vapor_enthalpy(temp)
        if water > 0.0:
            vapor = terms.moisture_E + added + fan * flow * supply.hum_ratio
            w = max((vapor - removal) / water, 0.0)
            # Cooling takes no more vapor than there is.
            removal = vapor - water * w
        if not humidifies or step == _HUMIDIFIER_STEPS - 1:
            break
        if humidifier.dew_point == 1:
            low = saturation_hum_ratio(hour.low_humidity, hour.pressure_Pa)
        else:
            low = hum_ratio_from_rel_hum(temp, hour.low_humidity, hour.pressure_Pa)
        new = min(max(added + water * (low - w), 0.0), humidifier.capacity_kg_s)
        if abs(new - added) < 1e-12:
            break
        added = new
        added_heat = heat_with_moisture(humidifier.kind, added, temp)
    return RoomHour(temp, w, heating, limited, cooling, latent, removal, added, added_heat)


@compiled
def air_path_of(
    plant: Plant,
    hour: Hour,
    before: State,
    balance: Balance,
    supply: Supply,
    temp_C: float,
    hum_ratio: float,
    leak_kg_s: float,
) -> AirPath:
    """The unit's air in the hour; return air is that of the hour's beginning."""
    air = air_entering(plant, balance, before.temp_C, before.hum_ratio)
    fan = balance.fan.base
    flow = balance.fan.flow_kg_s
    outdoor = balance.ventilation.flow_kg_s
    sensible = balance.ventilation.sensible
    w_outdoor = hour.outdoor_hum_ratio_kg_kg
    w_in = w_outdoor + balance.ventilation.latent * (before.hum_ratio - w_outdoor)
    runs = fan > 0.0
    return AirPath(
        air,
        air.temp_C if runs else math.nan,
        air.hum_ratio if runs else math.nan,
        supply.temp_C if runs else math.nan,
        supply.hum_ratio if runs else math.nan,
        fan,
        flow,
        balance.fan.power_W,
        outdoor * fan,
        before.temp_C,
        before.hum_ratio,
        sensible,
        w_in,
        outdoor * heat_capacity(w_in) * (1.0 - sensible) * (hour.outdoor_temp_C - before.temp_C),
        outdoor * (w_in - before.hum_ratio) + leak_kg_s * (w_outdoor - hum_ratio),
        fan * flow * heat_capacity(supply.hum_ratio) * (supply.temp_C - temp_C),
        fan * flow * (supply.hum_ratio - hum_ratio),
    )


@compiled
@apart
def solve_outdoor_air_unit_hour(
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
    """One hour; parameters as of ``single_zone_unit.solve_hour``."""
    terms = room_terms(room, hour, before, released_W)
    balance = ventilated(plant, terms, hour, before)
    supply = supply_of(unit, plant, control, sources, hour, before, balance, with_penalty)
    found = room_with(control, hour, before, balance, supply)
    water = terms.moisture_D + balance.fan.base * balance.fan.flow_kg_s
    w = found.hum_ratio
    condensed, condensed_W = condensed_on_surfaces(found.temp_C, w, water, hour.pressure_Pa)
    if condensed > 0.0:
        w -= condensed / water
    cooling_total = found.cooling_W
    if found.latent_W > 0.0:
        cooling_total += found.removal_kg_s * vapor_enthalpy(found.temp_C)
    return HourResult(
        found.temp_C, w, found.temp_C, supply.operation,
        air_path_of(
            plant, hour, before, balance, supply, found.temp_C, w, leakage(room, hour)
        ),
        supply.reheat, supply.penalty_W,
        RoomUnits(
            supply.heating_W + found.heating_W, found.heating_W,
            max(supply.heating_limited, found.heating_limited), found.cooling_W, cooling_total,
            found.removal_kg_s, found.added_kg_s, found.added_heat_W,
        ),
        condensed, condensed_W, 0.0, supply.call, supply.full, supply.short,
        start_after(unit, hour.outdoor_temp_C, supply.operation, before.cooled),
        supply.without_recovery,
    )  # fmt: skip
