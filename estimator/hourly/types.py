"""What the compiled functions of the hour hand to each other, and the codes of their choices."""

from __future__ import annotations

from typing import NamedTuple

from dewledger.components.envelope import NO_NETWORK, Network
from dewledger.components.humidifier import NO_HUMIDIFIER, HumidifierControl
from dewledger.dx_unit.types import (
    FULL_CAPACITY,
    MATCH_REMOVAL,
    MATCH_SENSIBLE,
    AirIn,
    Operation,
    Start,
)
from dewledger.weather.numerics.compiled import by_address

SECONDS = 3600.0

# Fan modes of an hour.
FAN_OFF = 0
FAN_CONTINUOUS = 1
FAN_CYCLING = 2

# What the humidity limit is a limit of.
NO_CONTROL = 0
RELATIVE_HUMIDITY = 1
DEW_POINT = 2

# Kinds of reheat source.
CONDENSER = 0
ELECTRIC = 1
GAS = 2
HOT_WATER = 3


@by_address()
class RoomResponse(NamedTuple):
    """The room's response: heat store and conductance (or a network), moisture store, leakage."""

    heat_store_J_K: float
    conductance_W_K: float
    moisture_store_kg: float  # kg of dry air that would hold the same moisture change
    infiltration_kg_s: float
    start_temp_C: float
    start_hum_ratio: float
    network: Network = NO_NETWORK  # used instead of heat store and conductance where it is


class OutdoorAirControl(NamedTuple):
    """An outdoor-air unit's set points, and the separate cooling of the room."""

    used: int = 0
    dew_point_C: float = 0.0  # supply dew point, at and above dew_high_C of what resets it
    dew_mild_C: float = 0.0  # at and below dew_low_C
    dew_low_C: float = 0.0
    dew_high_C: float = 1.0
    dew_by_dew_point: int = 0  # 1: reset by the outdoor dew point, 0: by the outdoor temperature
    by_humidity: int = 0  # 1: no drier than the room's humidity limit needs
    temp_C: float = 0.0  # supply temperature, at and above reset_high_C outdoors
    temp_mild_C: float = 0.0  # at and below reset_low_C outdoors
    reset_low_C: float = 0.0
    reset_high_C: float = 1.0
    by_room: int = 0  # 1: colder, down to least_C, where the room needs cooling
    least_C: float = 0.0
    room_cop: float = 1.0
    room_shr: float = 1.0
    room_capacity_W: float = 0.0  # total


NO_OUTDOOR_AIR_UNIT = OutdoorAirControl()


@by_address(outdoor_air_unit__used=(0,))
class Control(NamedTuple):
    """Humidity control and heating."""

    humidity_control: int
    humidity_first: int
    heating_capacity_W: float  # very large where heating is not limited by size
    heating_efficiency: float
    heating_gas: int  # 1: gas, 0: electricity
    heating_fan_W: float  # heat at which a cycling fan runs for the heater all hour
    humidifier: HumidifierControl = NO_HUMIDIFIER
    outdoor_air_unit: OutdoorAirControl = NO_OUTDOOR_AIR_UNIT


class ReheatSource(NamedTuple):
    """A row of the reheat sources."""

    kind: float  # CONDENSER, ELECTRIC, GAS or HOT_WATER
    capacity_W: float
    efficiency: float
    auxiliary_W: float  # electricity while it serves
    burns_gas: float  # 1 where it burns purchased gas


class Hour(NamedTuple):
    """What the hour brings: a row of the hourly drivers."""

    outdoor_temp_C: float
    outdoor_hum_ratio_kg_kg: float
    pressure_Pa: float
    gains_sensible_W: float
    gains_moisture_kg_s: float
    outdoor_air_kg_s: float
    fan_mode: float  # FAN_OFF, FAN_CONTINUOUS or FAN_CYCLING
    cooling_setpoint_C: float
    heating_setpoint_C: float
    low_limit_C: float  # the room may cool this far where humidity comes first
    humidity_limit: float  # relative humidity or dew point [C], as the control measures it
    solar_W: float
    low_humidity: float  # of the humidifier: relative humidity or dew point [C]
    infiltration_share: float  # of the room's infiltration at full
    make_up_kg_s: float  # outdoor air that exhaust beyond the unit's outdoor air draws in
    exhaust_share: float  # exhaust through the recovery device over its outdoor air, at most 1


# Columns of the hourly drivers.
DRIVERS = Hour._fields


class State(NamedTuple):
    """What an hour leaves to the next: the room's air and mass, and where a search may start."""

    temp_C: float
    mass_C: float
    hum_ratio: float
    cooled: Start  # of the hour without drying
    dried: Start  # of the dehumidification call, where there was one
    without_recovery: Start  # of the recovery penalty, where there was one
    released_W: float  # heat of water that condensed on the room's surfaces


class Outdoors(NamedTuple):
    """Outdoor air of the hour."""

    temp_C: float
    hum_ratio: float
    pressure_Pa: float


class RoomTerms(NamedTuple):
    """The room's balances without the unit: K T = B + heat brought, D W = E + vapor brought."""

    heat_B: float  # W
    heat_K: float  # W/K
    moisture_E: float  # kg/s
    moisture_D: float  # kg/s


class Ventilation(NamedTuple):
    """Outdoor air by the unit while its fan runs, and the recovery device it passes."""

    flow_kg_s: float
    sensible: float  # effectiveness of the recovery device on outdoor air
    latent: float


class SupplyFan(NamedTuple):
    """The supply fan in the hour."""

    base: float  # runtime that does not depend on the compressor
    cycles: int
    flow_kg_s: float  # supply air, dry, while it runs
    power_W: float


class Balance(NamedTuple):
    """All that decides the room's balances in the hour but the coil."""

    outdoors: Outdoors
    room: RoomTerms
    ventilation: Ventilation
    fan: SupplyFan
    heating_W: float  # heating the hour needs without drying


class Aim(NamedTuple):
    """What a trial of the hour requires of the unit."""

    kind: int  # MATCH_SENSIBLE, MATCH_REMOVAL or FULL_CAPACITY
    recover: int  # 1: overcooling is made up for by the reheat sources
    # 1: one evaluation of the unit, its condensing temperature not sought; 2: the same in a
    # saturated room, where moisture asked for and supply air go apart
    rough: int = 0


ROUGH_IN_SATURATED = 2
COOL = Aim(MATCH_SENSIBLE, 0)
ONE_LOOK = Aim(MATCH_SENSIBLE, 0, 1)
AT_FULL_CAPACITY = Aim(FULL_CAPACITY, 0)
ONE_LOOK_AT_FULL_CAPACITY = Aim(FULL_CAPACITY, 0, 1)
DRY = Aim(MATCH_REMOVAL, 1)
DRY_AT_FULL_CAPACITY = Aim(FULL_CAPACITY, 1)
DRY_BY_NEED = Aim(MATCH_SENSIBLE, 1)


class Attempt(NamedTuple):
    """A trial of the hour: room state, the unit's hour, and cp(supply) / cp(mixed)."""

    temp_C: float
    hum_ratio: float
    operation: Operation
    ratio: float
    depression_K: float  # of the air onto the coil, where a wet coil re-evaporates; else NaN


class Demand(NamedTuple):
    """What the hour requires of a unit that serves one room."""

    fan_on: int  # 0: the schedule keeps the unit off
    may_open: int  # 1: the economizer may bring more than the least outdoor air
    cooling_setpoint_C: float
    heating_setpoint_C: float
    least_outdoor_kg_s: float
    low_humidity: float  # of the humidifier: relative humidity or dew point [C]
    exhaust_share: float  # exhaust through the recovery device over its outdoor air
    temp_before_C: float
    hum_ratio_before: float
    humidity_limit: float  # relative humidity or dew point [C], as the control measures it
    dried: Start  # of the dehumidification call of the hour before, where there was one


# What the attempt of an hour without drying is at.
ITS_OWN = 0  # at the humidity that it leads to
DAMPER = 1  # at the humidity limit: the room would be damper
DRIED = 2  # dried to the humidity limit: the room would be damper without


class SensibleOnly(NamedTuple):
    """The hour without drying."""

    attempt: Attempt
    target_C: float
    heating_W: float
    heating_limited: int  # 1: heating needed is more than its size
    limited: int  # 1: the sensible load is more than full capacity
    balance: Balance  # with heating's fan and the humidifier's moisture in it
    flow_share: float
    added_kg_s: float  # by the humidifier
    added_heat_W: float
    at_limit: int  # ITS_OWN, DAMPER or DRIED


class Decision(NamedTuple):
    """What the dehumidification call made of the hour."""

    found: SensibleOnly
    chosen: Attempt
    call: int
    full: int  # 1: full capacity did not reach the limit
    short: int  # 1: reheat could not make up for drying to the limit


class ReheatHour(NamedTuple):
    """The reheat load of an hour and where it was met from [W]."""

    overcooling_W: float
    recovered_W: float
    purchased_W: float
    electricity_W: float  # purchased for it, auxiliaries of all sources included
    gas_W: float

    # unmet = overcooling - recovered - purchased


NO_REHEAT = ReheatHour(0.0, 0.0, 0.0, 0.0, 0.0)


class AirPath(NamedTuple):
    """The unit's air in the hour; states are empty (NaN) where its fan does not run."""

    onto_coil: AirIn
    mixed_C: float
    mixed_hum_ratio: float
    supply_C: float
    supply_hum_ratio: float
    fan: float  # share of the hour that it runs
    flow_kg_s: float  # while it runs
    fan_W: float  # while it runs
    outdoor_air_kg_s: float  # mean of the hour
    return_C: float  # room air that the recovery device and outdoor air are measured against
    return_hum_ratio: float
    recovery_sensible: float
    outdoor_hum_ratio_in: float  # after the recovery device
    ventilation_W: float  # sensible heat into the room with outdoor air
    outdoor_vapor_kg_s: float  # vapor into the room with outdoor air and leakage
    heat_W: float  # from supply air to room
    vapor_kg_s: float  # from supply air to room


class RoomUnits(NamedTuple):
    """What serves the room itself: heating, separate cooling, humidifier."""

    heating_W: float  # all heating of the hour
    direct_heating_W: float  # of it straight to the room, not by the supply air
    heating_limited: int  # 1: heating needed is more than its size
    cooling_W: float  # sensible, by the separate cooling
    cooling_total_W: float
    cooling_vapor_kg_s: float
    added_kg_s: float  # by the humidifier
    added_heat_W: float


class HourResult(NamedTuple):
    """An hour solved: all that the ledger's row is written from."""

    temp_C: float
    hum_ratio: float
    target_C: float
    operation: Operation
    air: AirPath
    reheat: ReheatHour
    penalty_W: float
    room_units: RoomUnits
    condensed_kg_s: float  # on the room's surfaces
    condensed_W: float
    swing_K: float
    call: int
    full: int
    short: int
    cooled: Start  # of the hour without drying, where the next hour's search may begin
    without_recovery: Start
