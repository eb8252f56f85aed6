"""What the compiled functions of the hour hand to each other, and the codes of their choices."""

from __future__ import annotations

from typing import NamedTuple

from dewledger.components.envelope import NO_NETWORK, Network
from dewledger.components.humidifier import NO_HUMIDIFIER, Humidifier
from dewledger.dx_unit.types import FULL_CAPACITY, MATCH_REMOVAL, MATCH_SENSIBLE, Operation
from dewledger.weather.numerics.compiled import by_address


@by_address
class Room(NamedTuple):
    """The room's response: heat store and conductance (or a network), moisture store, leakage."""

    heat_store_J_K: float
    conductance_W_K: float
    moisture_store_kg: float  # kg of dry air that would hold the same moisture change
    infiltration_kg_s: float
    start_temp_C: float
    start_hum_ratio: float
    network: Network = NO_NETWORK  # used instead of heat store and conductance where it is


class OutdoorAirUnit(NamedTuple):
    """An outdoor-air unit's set points, and the cooling of the room beside it."""

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


NO_OUTDOOR_AIR_UNIT = OutdoorAirUnit()


@by_address
class Control(NamedTuple):
    """Humidity control and heating."""

    humidity_control: int
    humidity_first: int
    heating_capacity_W: float
    heating_efficiency: float
    heating_gas: int  # 1: gas, 0: electricity
    humidifier: Humidifier = NO_HUMIDIFIER
    outdoor_air_unit: OutdoorAirUnit = NO_OUTDOOR_AIR_UNIT


class Balance(NamedTuple):
    """The hour's coefficients: room balances, outdoors, fan."""

    outdoor_C: float
    outdoor_hum_ratio: float
    pressure_Pa: float
    heat_B: float
    heat_K: float
    moisture_E: float
    moisture_D: float
    outdoor_air_kg_s: float  # while the fan runs
    fan_base: float  # fan runtime that does not depend on the compressor
    fan_cycles: int
    heating_W: float  # heating the hour needs without drying
    recovery_sensible: float  # effectiveness of the recovery device on outdoor air
    recovery_latent: float
    flow_kg_s: float  # supply air, dry, while the fan runs
    fan_W: float


class Aim(NamedTuple):
    """What a trial of the hour asks of the unit."""

    kind: int  # MATCH_SENSIBLE, MATCH_REMOVAL or FULL_CAPACITY
    recover: int  # 1: overcooling is given back by the reheat sources
    rough: int = 0  # 1: one look at the unit, its condensing temperature not sought


COOL = Aim(MATCH_SENSIBLE, 0)


AT_FULL_CAPACITY = Aim(FULL_CAPACITY, 0)


DRY = Aim(MATCH_REMOVAL, 1)


DRY_AT_FULL_CAPACITY = Aim(FULL_CAPACITY, 1)


DRY_BY_NEED = Aim(MATCH_SENSIBLE, 1)


class Attempt(NamedTuple):
    """A trial of the hour: room state, the unit's hour, and cp(supply) / cp(mixed)."""

    temp_C: float
    hum_ratio: float
    operation: Operation
    ratio: float


SECONDS = 3600.0


FAN_OFF = 0


FAN_CONTINUOUS = 1


FAN_CYCLING = 2


# Columns of the hourly drivers.
DRIVERS = (
    "outdoor_temp_C",
    "outdoor_hum_ratio_kg_kg",
    "pressure_Pa",
    "gains_sensible_W",
    "gains_moisture_kg_s",
    "outdoor_air_kg_s",
    "fan_mode",
    "cooling_setpoint_C",
    "heating_setpoint_C",
    "low_limit_C",
    "humidity_limit",
    "solar_W",
    "low_humidity",
    "infiltration_share",  # of the room's infiltration at full
    "make_up_kg_s",  # outdoor air that exhaust beyond the unit's outdoor air draws in
    "exhaust_share",  # exhaust through the recovery device over its outdoor air, at most 1
)


class Demand(NamedTuple):
    """What the hour asks for."""

    fan_on: int  # 0: the schedule keeps the unit off
    cooling_setpoint_C: float
    heating_setpoint_C: float
    least_outdoor_kg_s: float
    low_humidity: float  # of the humidifier: relative humidity or dew point [C]
    exhaust_share: float  # exhaust through the recovery device over its outdoor air
    temp_before_C: float
    hum_ratio_before: float


class SensibleOnly(NamedTuple):
    """The hour without drying."""

    attempt: Attempt
    target_C: float
    heating_W: float
    limited: int  # 1: the sensible load is more than full capacity
    balance: Balance  # with heating's fan and the humidifier's moisture in it
    flow_share: float
    added_kg_s: float  # by the humidifier
    added_heat_W: float


NO_CONTROL = 0


RELATIVE_HUMIDITY = 1


DEW_POINT = 2


CONDENSER = 0


ELECTRIC = 1


GAS = 2


HOT_WATER = 3
