"""The named assumptions of a sensitivity, and what other values of them do to a machine.

Values act on the arrays of an assembled machine; what a changed rating does to a unit is what
building it anew from that rating would do (tested).
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from dewledger.assembly.machine import Machine
from dewledger.assembly.reheat import most_starts
from dewledger.components.cooling_coil import ImpossibleRatio
from dewledger.dx_unit.rating import RatingCondition, rated_coil
from dewledger.dx_unit.types import CYCLING, TABLE, Plant, Unit
from dewledger.hourly.types import DEW_POINT, DRIVERS, NO_CONTROL
from dewledger.weather.errors import InputError

SETPOINT = "humidity set point"
DEW_SETPOINT = "dew-point set point"
OUTDOOR_AIR = "outdoor air"
GAINS = "gains"
INFILTRATION = "infiltration"
MOISTURE_STORE = "moisture storage"
CAPACITY = "rated capacity"
EFFICIENCY = "rated efficiency"
EFFECTIVENESS = "coil effectiveness"
WET_TIME = "wet time of the coil"
EVAPORATION = "evaporation of the stopped coil"
START_UP = "start-up of latent capacity"
STARTS = "thermostat cycling rate"
DIFFERENTIAL = "humidity differential"
RUN_TIME = "least run of the compressor"
FLOOR = "minimum condensing temperature"
REHEAT_FLOOR = "minimum condensing temperature in reheat"
LOCKOUT_ABOVE = "outdoor temperature that ends reheat"
VALVE_LOW = "least opening of the reheat valve"
VALVE_HIGH = "most opening of the reheat valve"
PURGE = "pump-out in an hour with reheat"
CIRCUITS = "share of circuits with reheat"
REHEAT_FANS = "outdoor fans left running in reheat"
LEAST_FLOW = "least airflow for each ton"
ELECTRICITY_PRICE = "electricity price"
GAS_PRICE = "gas price"
WEATHER = "weather year"

# How a value of each is shown: a factor in per cent of likely, a difference in its unit, a choice.
FACTORS = (
    OUTDOOR_AIR,
    GAINS,
    INFILTRATION,
    MOISTURE_STORE,
    CAPACITY,
    EFFICIENCY,
    WET_TIME,
    EVAPORATION,
    START_UP,
    STARTS,
    DIFFERENTIAL,
    CIRCUITS,
    REHEAT_FANS,
    LEAST_FLOW,
    ELECTRICITY_PRICE,
    GAS_PRICE,
)


class Values(NamedTuple):
    """One value of each assumption; as they stand, nothing is changed."""

    setpoint: float = 0.0  # difference of a limit in RH
    dew_setpoint: float = 0.0  # difference [K] of a limit in dew point
    outdoor_air: float = 1.0
    gains: float = 1.0
    infiltration: float = 1.0
    moisture_store: float = 1.0
    capacity: float = 1.0
    efficiency: float = 1.0
    effectiveness: float = 0.0  # difference
    wet_time: float = 1.0
    evaporation: float = 1.0
    start_up: float = 1.0
    starts: float = 1.0
    differential: float = 1.0
    run_time: float = 0.0  # difference [s]
    floor: float = 0.0  # difference [K]
    reheat_floor: float = 0.0  # difference [K]
    lockout_above: float = 0.0  # difference [K]
    valve_low: float = 0.0  # difference
    valve_high: float = 0.0  # difference
    purge: float = 0.0  # difference [s]
    circuits: float = 1.0
    reheat_fans: float = 1.0
    least_flow: float = 1.0
    electricity_price: float = 1.0
    gas_price: float = 1.0
    weather: float = 0.0  # place in the list of weather years


FIELDS = {
    SETPOINT: "setpoint",
    DEW_SETPOINT: "dew_setpoint",
    OUTDOOR_AIR: "outdoor_air",
    GAINS: "gains",
    INFILTRATION: "infiltration",
    MOISTURE_STORE: "moisture_store",
    CAPACITY: "capacity",
    EFFICIENCY: "efficiency",
    EFFECTIVENESS: "effectiveness",
    WET_TIME: "wet_time",
    EVAPORATION: "evaporation",
    START_UP: "start_up",
    STARTS: "starts",
    DIFFERENTIAL: "differential",
    RUN_TIME: "run_time",
    FLOOR: "floor",
    REHEAT_FLOOR: "reheat_floor",
    LOCKOUT_ABOVE: "lockout_above",
    VALVE_LOW: "valve_low",
    VALVE_HIGH: "valve_high",
    PURGE: "purge",
    CIRCUITS: "circuits",
    REHEAT_FANS: "reheat_fans",
    LEAST_FLOW: "least_flow",
    ELECTRICITY_PRICE: "electricity_price",
    GAS_PRICE: "gas_price",
    WEATHER: "weather",
}


# Hotter than outdoors anywhere, 130 F: where no lockout is stated, a range begins here.
NO_LOCKOUT_ABOVE_C = (130.0 - 32.0) / 1.8
_LEAST_BELOW_CEILING_K = 1.0
_GAINS_SENSIBLE = DRIVERS.index("gains_sensible_W")
_GAINS_MOISTURE = DRIVERS.index("gains_moisture_kg_s")
_OUTDOOR_AIR = DRIVERS.index("outdoor_air_kg_s")
_HUMIDITY_LIMIT = DRIVERS.index("humidity_limit")
_LOW_HUMIDITY = DRIVERS.index("low_humidity")


def limited(machine: Machine) -> int:
    """What a machine's humidity set point limits: an outdoor-air unit's is its supply dew point,
    unless it follows the room."""
    separate = machine.control.outdoor_air_unit
    if separate.used == 1 and separate.by_humidity == 0:
        return DEW_POINT
    return machine.control.humidity_control


def outdoor_air_flows(machine: Machine) -> bool:
    """Whether the unit ever brings outdoor air."""
    return float(machine.drivers[:, _OUTDOOR_AIR].max()) > 0.0


def _moved(effectiveness: float, by: float) -> float:
    """An effectiveness moved within 5 to 100 %; one of 0 is of no coil and stays."""
    return min(max(effectiveness + by, 0.05), 1.0) if effectiveness > 0.0 else 0.0


def changed(machine: Machine, values: Values) -> Machine:
    """A machine whose assumptions have other values; the machine itself where none differs.

    A set point is kept between 5 and 99 % RH, outdoor air within the supply flow, effectiveness
    between 5 and 100 %.
    """
    drivers = machine.drivers
    moved = (values.setpoint, values.dew_setpoint, values.outdoor_air, values.gains)
    if moved != (0.0, 0.0, 1.0, 1.0):
        drivers = drivers.copy()
        kind = machine.control.humidity_control
        # One instrument holds both limits, so that what it misreads moves both.
        humidifies = machine.control.humidifier.kind != 0
        for place in (_HUMIDITY_LIMIT, _LOW_HUMIDITY) if humidifies else (_HUMIDITY_LIMIT,):
            if kind == DEW_POINT:
                drivers[:, place] += values.dew_setpoint
            elif kind != NO_CONTROL:
                drivers[:, place] = np.clip(drivers[:, place] + values.setpoint, 0.05, 0.99)
        outdoor = drivers[:, _OUTDOOR_AIR] * values.outdoor_air
        # The flow of an outdoor-air unit follows its outdoor air.
        follows = machine.control.outdoor_air_unit.used == 1
        least_share = 1.0 if follows else machine.plant.flow.minimum_share
        least = machine.plant.flow_kg_s * least_share
        drivers[:, _OUTDOOR_AIR] = np.minimum(outdoor, least)
        drivers[:, _GAINS_SENSIBLE] *= values.gains
        drivers[:, _GAINS_MOISTURE] *= values.gains
    room = machine.room._replace(
        infiltration_kg_s=machine.room.infiltration_kg_s * values.infiltration,
        moisture_store_kg=machine.room.moisture_store_kg * values.moisture_store,
    )
    plant = machine.plant
    if values.effectiveness != 0.0:
        plant = plant._replace(
            recovery_effectiveness=_moved(plant.recovery_effectiveness, values.effectiveness),
            drying_effectiveness=_moved(plant.drying_effectiveness, values.effectiveness),
        )
    if values.least_flow != 1.0:
        plant = plant._replace(full_capacity_kg_s=plant.full_capacity_kg_s * values.least_flow)
    plant = _condenser_otherwise(_cycled_otherwise(plant, values), values)
    unit = rerated(machine.unit, values.capacity, values.efficiency)
    if unit is not machine.unit:
        larger = unit.rated_total_W / machine.unit.rated_total_W
        plant = plant._replace(
            rated_latent_W=max(unit.rated_latent_W, 1.0),
            full_capacity_kg_s=plant.full_capacity_kg_s * larger,
        )
    control = machine.control
    separate = control.outdoor_air_unit
    if separate.used == 1 and separate.by_humidity == 0 and values.dew_setpoint != 0.0:
        separate = separate._replace(
            dew_point_C=separate.dew_point_C + values.dew_setpoint,
            dew_mild_C=separate.dew_mild_C + values.dew_setpoint,
        )
        control = control._replace(outdoor_air_unit=separate)
    return replace(machine, drivers=drivers, room=room, plant=plant, unit=unit, control=control)


def _cycled_otherwise(plant: Plant, values: Values) -> Plant:
    """The plant with other constants of its wet coil and its cycling; the humidistat's band follows
    the room's moisture store too."""
    humidistat = plant.humidistat
    return plant._replace(
        wet_time_s=plant.wet_time_s * values.wet_time,
        evaporation_ratio=plant.evaporation_ratio * values.evaporation,
        start_up_time_s=plant.start_up_time_s * values.start_up,
        cycles_per_hour=_fewer_starts(plant.cycles_per_hour * values.starts, values.run_time),
        humidistat=humidistat._replace(
            band_kg=humidistat.band_kg * values.differential * values.moisture_store,
            most_per_hour=_fewer_starts(humidistat.most_per_hour, values.run_time),
        ),
    )


def _fewer_starts(per_hour: float, longer_s: float) -> float:
    """A highest cycling rate [1/h] after its shortest run has become longer."""
    return per_hour if longer_s == 0.0 else most_starts(most_starts(per_hour) + longer_s)


def _condenser_otherwise(plant: Plant, values: Values) -> Plant:
    """The plant with other minimum condensing temperatures, below the ceiling, and other controls
    of its condenser source; shares stay within 0 and 100 %."""
    source = plant.condenser_source
    highest_C = plant.condensing_ceiling_C - _LEAST_BELOW_CEILING_K
    above_C = source.lockout_above_C
    if values.lockout_above != 0.0:
        above_C = min(above_C, NO_LOCKOUT_ABOVE_C) + values.lockout_above
    valve_high = source.valve_high
    if values.valve_high != 0.0:
        valve_high = min(max(valve_high + values.valve_high, 0.05), 1.0)
    valve_low = min(max(source.valve_low + values.valve_low, 0.0), valve_high)
    purge = source.purge_share
    if values.purge != 0.0:
        purge = min(max(purge + values.purge / 3600.0, 0.0), 0.95)
    if values.floor != 0.0 or values.reheat_floor != 0.0:
        plant = plant._replace(
            condensing_floor_C=min(plant.condensing_floor_C + values.floor, highest_C)
        )
        source = source._replace(floor_C=min(source.floor_C + values.reheat_floor, highest_C))
    return plant._replace(
        condenser_source=source._replace(
            lockout_above_C=above_C,
            valve_low=valve_low,
            valve_high=valve_high,
            purge_share=purge,
            circuits=min(source.circuits * values.circuits, 1.0),
            fan_share=min(source.fan_share * values.reheat_fans, 1.0),
        )
    )


def dries_by_control(machine: Machine) -> bool:
    """Whether a machine has stages or speeds that its drying control chooses among."""
    return (
        machine.plant.capacity_control != CYCLING and machine.control.humidity_control != NO_CONTROL
    )


def with_drying_control(machine: Machine, control: int) -> Machine:
    """The machine with another drying control; one that cycles has none and stays."""
    if not dries_by_control(machine):
        return machine
    return replace(machine, plant=machine.plant._replace(drying_control=control))


def rerated(unit: Unit, capacity: float, efficiency: float) -> Unit:
    """The unit that its rating would make with other capacity and efficiency; same heat ratio, or
    the nearest that a coil can have.

    Factors on the net rated capacity, total and sensible, and on the rated efficiency, which counts
    all fans where the rating is net. The compressor keeps its kind: its map is scaled.
    """
    if capacity == 1.0 and efficiency == 1.0:
        return unit
    old = unit.map
    net_W = unit.rated_total_W - unit.rated_fan_W
    power_W = unit.rated_compressor_W + old.condenser_fan_W + unit.rated_fan_W
    total_W = capacity * net_W + unit.rated_fan_W
    sensible_W = capacity * (unit.rated_sensible_W - unit.rated_fan_W) + unit.rated_fan_W
    compressor_W = power_W * capacity / efficiency - old.condenser_fan_W - unit.rated_fan_W
    if compressor_W <= 0.0:
        raise InputError(
            "the changed rating leaves the compressor no power; narrow the range of the rating"
        )
    cooling_factor = total_W / unit.rated_total_W
    power_factor = compressor_W / unit.rated_compressor_W
    if old.kind == TABLE:
        new = old._replace(
            table_total_W=old.table_total_W * cooling_factor,
            table_sensible_W=old.table_sensible_W * (sensible_W / unit.rated_sensible_W),
            table_compressor_W=old.table_compressor_W * power_factor,
        )
        surface, bypass = unit.rated_surface_C, unit.rated_bypass
    else:
        condition = RatingCondition(unit.rated_temp_in_C, unit.rated_wet_bulb_C)
        at = (unit.rated_flow_kg_s, condition)
        try:
            surface, bypass = rated_coil(total_W, sensible_W, *at)
        except ImpossibleRatio as problem:
            inwards = 1e-6 if problem.ratio < problem.nearest else -1e-6
            sensible_W = total_W * (problem.nearest + inwards)
            surface, bypass = rated_coil(total_W, sensible_W, *at)
        if surface <= unit.rated_suction_C:
            raise InputError(
                "the changed rating would leave the coil colder than its refrigerant; narrow "
                "rated_capacity in [ranges]"
            )
        new = old._replace(
            cooling_W=old.cooling_W * cooling_factor,
            compressor_W=old.compressor_W * power_factor,
            surface_resistance_K_W=(surface - unit.rated_suction_C) / total_W,
            bypass_area_kg_s=-unit.rated_flow_kg_s * float(np.log(bypass)),
        )
    lift_K = unit.rated_condensing_C - unit.rated_outdoor_C
    new = new._replace(condenser_conductance_W_K=(total_W + compressor_W) / lift_K)
    return replace(
        unit,
        map=new,
        rated_total_W=total_W,
        rated_sensible_W=sensible_W,
        rated_compressor_W=compressor_W,
        rated_surface_C=surface,
        rated_bypass=bypass,
    )
