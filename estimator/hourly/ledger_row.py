"""A row of the ledger: every column of an hour, written in one place for both kinds of unit.

Floats of one hour in SI: arguments name their unit, or are listed in docs/nomenclature.md; fields
of the NamedTuples have theirs in types.py. Source: the definitions of ledger.py.
"""

from __future__ import annotations

import math

from dewledger.dx_unit.steady_state import outside_map
from dewledger.dx_unit.types import (
    BY_CIRCUITS,
    BY_FANS,
    BY_LOCKOUT,
    BY_PURGE,
    BY_VALVE,
    NO_START,
    Plant,
    Start,
    UnitMap,
)
from dewledger.hourly import ledger as at
from dewledger.hourly.room_balance import leakage, room_after
from dewledger.hourly.types import FAN_OFF, SECONDS, Control, Hour, HourResult, RoomResponse, State
from dewledger.weather.numerics.compiled import compiled
from dewledger.weather.physics.moist_air import FloatArray, heat_capacity, rel_hum_from_hum_ratio

_KWH = 0.001  # of a watt for an hour


@compiled
def write_air(out: FloatArray, i: int, hour: Hour, result: HourResult) -> None:
    """Outdoors, room, and the unit's air."""
    air = result.air
    runs = air.fan > 0.0
    outdoor = hour.outdoor_temp_C
    out[i, at.OUTDOOR_TEMP] = outdoor
    out[i, at.OUTDOOR_W] = hour.outdoor_hum_ratio_kg_kg
    out[i, at.ROOM_TEMP] = result.temp_C
    out[i, at.ROOM_W] = result.hum_ratio
    out[i, at.ROOM_RH] = rel_hum_from_hum_ratio(result.temp_C, result.hum_ratio, hour.pressure_Pa)
    out[i, at.TARGET_TEMP] = result.target_C
    out[i, at.MIXED_TEMP] = air.mixed_C
    out[i, at.MIXED_W] = air.mixed_hum_ratio
    out[i, at.SUPPLY_TEMP] = air.supply_C
    out[i, at.SUPPLY_W] = air.supply_hum_ratio
    out[i, at.SUPPLY_FLOW] = air.flow_kg_s if runs else math.nan
    out[i, at.FAN_RUNTIME] = air.fan
    out[i, at.OUTDOOR_AIR] = air.outdoor_air_kg_s
    out[i, at.VENTILATION] = air.ventilation_W * _KWH
    out[i, at.OUTDOOR_MOISTURE] = air.outdoor_vapor_kg_s * SECONDS
    out[i, at.DEVICE_HEAT] = (
        air.outdoor_air_kg_s
        * heat_capacity(air.outdoor_hum_ratio_in)
        * air.recovery_sensible
        * (air.return_C - outdoor)
        * _KWH
    )
    out[i, at.DEVICE_MOISTURE] = (
        air.outdoor_air_kg_s * (air.outdoor_hum_ratio_in - hour.outdoor_hum_ratio_kg_kg) * SECONDS
    )
    out[i, at.SYSTEM_OFF] = 1.0 if hour.fan_mode == FAN_OFF else 0.0


@compiled
def write_unit(
    out: FloatArray, i: int, unit: UnitMap, plant: Plant, hour: Hour, result: HourResult
) -> None:
    """Coil, compressor and condenser; states are empty (NaN) where the compressor does not run."""
    operation = result.operation
    air = result.air
    runs = operation.runtime > 0.0
    out[i, at.COIL_TEMP] = operation.on_temp_C if runs else math.nan
    out[i, at.COIL_W] = operation.on_hum_ratio if runs else math.nan
    out[i, at.SURFACE_TEMP] = operation.surface_C if runs else math.nan
    out[i, at.SUCTION_TEMP] = operation.suction_C if runs else math.nan
    out[i, at.CONDENSING_TEMP] = operation.condensing_C if runs else math.nan
    out[i, at.RUNTIME] = operation.runtime
    out[i, at.CAPACITY] = operation.fraction if runs else math.nan
    out[i, at.COOLING_TOTAL] = (operation.total_W - operation.precool_W) * _KWH
    out[i, at.COOLING_SENSIBLE] = (operation.sensible_W - operation.precool_W) * _KWH
    out[i, at.COOLING_LATENT] = (operation.total_W - operation.sensible_W) * _KWH
    fan_kWh = air.fan * air.fan_W * _KWH
    out[i, at.SUPPLY_FAN] = fan_kWh * (1.0 - plant.coil_drop_share)
    out[i, at.REHEAT_COIL_FAN] = fan_kWh * plant.coil_drop_share
    out[i, at.COMPRESSOR] = operation.compressor_W * _KWH
    out[i, at.CONDENSER_FAN] = operation.condenser_fan_W * _KWH
    out[i, at.OUTDOOR_COIL] = operation.outdoor_coil_W * _KWH
    out[i, at.CONDENSATE] = operation.removal_kg_s * SECONDS
    out[i, at.DEVICE_POWER] = (
        plant.outdoor.power_W * air.fan * _KWH if air.outdoor_air_kg_s > 0.0 else 0.0
    )
    out[i, at.FLOOR_HIT] = operation.floor_hit if runs else 0.0
    outside = 0.0
    if runs:
        outside = outside_map(
            unit, air.onto_coil.temp_C, air.onto_coil.hum_ratio, hour.pressure_Pa, air.flow_kg_s,
            operation.suction_C, operation.condensing_C,
        )  # fmt: skip
    out[i, at.OUTSIDE_MAP] = outside


@compiled
def write_reheat(out: FloatArray, i: int, result: HourResult) -> None:
    """The dehumidification call, its reheat load and where that was met from."""
    reheat = result.reheat
    sensible = result.operation.sensible_W
    out[i, at.SENSIBLE_NEED] = max(sensible - reheat.overcooling_W, 0.0) * _KWH
    out[i, at.OVERCOOLING] = reheat.overcooling_W * _KWH
    out[i, at.RECOVERED] = reheat.recovered_W * _KWH
    out[i, at.REHEAT_PURCHASED] = reheat.purchased_W * _KWH
    out[i, at.REHEAT_UNMET] = (
        reheat.overcooling_W - reheat.recovered_W - reheat.purchased_W
    ) * _KWH
    out[i, at.PURCHASED_ELECTRICITY] = reheat.electricity_W * _KWH
    out[i, at.PURCHASED_GAS] = reheat.gas_W * _KWH
    out[i, at.RECOVERY_PENALTY] = result.penalty_W * _KWH
    out[i, at.SWING] = result.swing_K
    out[i, at.CALL] = result.call
    out[i, at.FULL] = result.full
    out[i, at.SHORT] = result.short
    bound = result.operation.bound if result.call == 1 else 0
    out[i, at.LOCKOUT] = 1.0 if bound & BY_LOCKOUT else 0.0
    out[i, at.VALVE] = 1.0 if bound & BY_VALVE else 0.0
    out[i, at.PURGE] = 1.0 if bound & BY_PURGE else 0.0
    out[i, at.CIRCUITS] = 1.0 if bound & BY_CIRCUITS else 0.0
    out[i, at.FANS] = 1.0 if bound & BY_FANS else 0.0


@compiled
def write_room_units(out: FloatArray, i: int, control: Control, result: HourResult) -> None:
    """Heating, the separate cooling of the room, and the humidifier."""
    units = result.room_units
    humidifier = control.humidifier
    separate = control.outdoor_air_unit
    purchased = units.heating_W / control.heating_efficiency
    out[i, at.HEATING_LIMITED] = units.heating_limited
    out[i, at.HEATING] = units.heating_W * _KWH
    out[i, at.HEATING_ELECTRICITY] = 0.0 if control.heating_gas == 1 else purchased * _KWH
    out[i, at.HEATING_GAS] = purchased * _KWH if control.heating_gas == 1 else 0.0
    out[i, at.ROOM_COOLING] = units.cooling_total_W * _KWH
    out[i, at.ROOM_COOLING_ELECTRICITY] = units.cooling_total_W / separate.room_cop * _KWH
    # Without the reheat, the separate cooling would have had that much less to do.
    given = result.reheat.recovered_W + result.reheat.purchased_W
    out[i, at.NEUTRAL_AIR] = (
        min(given, units.cooling_W) / separate.room_shr / separate.room_cop * _KWH
    )
    power = units.added_kg_s * humidifier.energy_J_kg
    out[i, at.ADDED_MOISTURE] = units.added_kg_s * SECONDS
    out[i, at.ADDED_HEAT] = units.added_heat_W * _KWH
    out[i, at.ADDED_ELECTRICITY] = 0.0 if humidifier.gas == 1 else power * _KWH
    out[i, at.ADDED_GAS] = power * _KWH if humidifier.gas == 1 else 0.0


@compiled
def write_totals(
    out: FloatArray, i: int, plant: Plant, control: Control, hour: Hour, result: HourResult
) -> None:
    """A row of the short ledger, in the order of ``ledger.SHORT_NAMES``."""
    air = result.air
    operation = result.operation
    reheat = result.reheat
    units = result.room_units
    humidifier = control.humidifier
    heating = units.heating_W / control.heating_efficiency
    humidifying = units.added_kg_s * humidifier.energy_J_kg
    device = plant.outdoor.power_W * air.fan if air.outdoor_air_kg_s > 0.0 else 0.0
    electricity = (
        operation.compressor_W
        + operation.condenser_fan_W
        + air.fan * air.fan_W
        + reheat.electricity_W
        + device
        + units.cooling_total_W / control.outdoor_air_unit.room_cop
    )
    gas = reheat.gas_W
    if control.heating_gas == 1:
        gas += heating
    else:
        electricity += heating
    if humidifier.gas == 1:
        gas += humidifying
    else:
        electricity += humidifying
    out[i, 0] = electricity * _KWH
    out[i, 1] = gas * _KWH
    out[i, 2] = reheat.overcooling_W * _KWH
    out[i, 3] = reheat.recovered_W * _KWH
    out[i, 4] = reheat.purchased_W * _KWH
    out[i, 5] = operation.compressor_W * _KWH
    out[i, 6] = result.temp_C
    out[i, 7] = rel_hum_from_hum_ratio(result.temp_C, result.hum_ratio, hour.pressure_Pa)
    out[i, 8] = operation.runtime
    out[i, 9] = air.fan


@compiled
def write_coil(out: FloatArray, i: int, result: HourResult, after: State) -> None:
    """A row for a trial of a reheat coil, in the order of ``ledger.COIL_NAMES``."""
    operation = result.operation
    out[i, 0] = result.reheat.recovered_W * _KWH
    out[i, 1] = result.reheat.purchased_W * _KWH
    out[i, 2] = operation.runtime
    out[i, 3] = result.air.fan
    out[i, 4] = operation.on_temp_C if operation.runtime > 0.0 else math.nan
    out[i, 5] = result.air.flow_kg_s if result.air.fan > 0.0 else math.nan
    out[i, 6] = after.temp_C
    out[i, 7] = after.hum_ratio
    out[i, 8] = after.mass_C
    out[i, 9] = after.cooled.surface_C
    out[i, 10] = after.cooled.lift_K
    out[i, 11] = after.dried.surface_C
    out[i, 12] = after.dried.lift_K
    out[i, 13] = after.released_W


@compiled
def state_at(ledger: FloatArray, i: int) -> State:
    """What an hour left to the next, as ``write_coil`` wrote it.

    ledger : of a trial of a reheat coil, (``COIL_NAMES``, hours); temperatures in [C]
    """
    return State(
        ledger[6, i],
        ledger[8, i],
        ledger[7, i],
        Start(ledger[9, i], ledger[10, i]),
        Start(ledger[11, i], ledger[12, i]),
        NO_START,
        ledger[13, i],
    )


@compiled
def write_room(
    out: FloatArray,
    i: int,
    room: RoomResponse,
    hour: Hour,
    before: State,
    result: HourResult,
    released_W: float,
) -> None:
    """Gains, envelope, stores, and the closures of the balances."""
    operation = result.operation
    units = result.room_units
    air = result.air
    leak = leakage(room, hour)
    _, stored, shell = room_after(room, hour, before, result.temp_C)
    w_stored = room.moisture_store_kg / SECONDS * (result.hum_ratio - before.hum_ratio)
    gains = hour.gains_sensible_W
    solar = hour.solar_W
    moisture = hour.gains_moisture_kg_s
    out[i, at.GAINS] = gains * _KWH
    out[i, at.GAINS_MOISTURE] = moisture * SECONDS
    out[i, at.SOLAR] = solar * _KWH
    out[i, at.ENVELOPE] = shell * _KWH
    out[i, at.INFILTRATION] = leak
    out[i, at.STORED] = stored * _KWH
    out[i, at.MOISTURE_STORED] = w_stored * SECONDS
    out[i, at.WALL_CONDENSATION] = result.condensed_kg_s * SECONDS
    out[i, at.WALL_CONDENSATION_HEAT] = released_W * _KWH
    out[i, at.HEAT_CLOSURE] = (
        stored
        - shell
        - gains
        - solar
        - units.added_heat_W
        - released_W
        - air.heat_W
        + units.cooling_W
        - units.direct_heating_W
    )
    out[i, at.WATER_CLOSURE] = (
        w_stored
        - leak * (hour.outdoor_hum_ratio_kg_kg - result.hum_ratio)
        - moisture
        - units.added_kg_s
        + result.condensed_kg_s
        - air.vapor_kg_s
        + units.cooling_vapor_kg_s
    ) * SECONDS
    # A wrap-around loop moves heat within the air; only the rest came from the refrigerant.
    out[i, at.REFRIGERANT_CLOSURE] = (
        (operation.total_W - operation.precool_W)
        + operation.compressor_W
        - operation.outdoor_coil_W
        - (result.reheat.recovered_W - operation.precool_W)
    )
