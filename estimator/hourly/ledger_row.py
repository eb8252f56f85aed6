"""A row of the ledger: every column of an hour, written in one place for both kinds of unit."""

from __future__ import annotations

import math

from dewledger.dx_unit.steady_state import outside_map
from dewledger.dx_unit.types import Plant, UnitMap
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
    out[at.OUTDOOR_TEMP, i] = outdoor
    out[at.OUTDOOR_W, i] = hour.outdoor_hum_ratio_kg_kg
    out[at.ROOM_TEMP, i] = result.temp_C
    out[at.ROOM_W, i] = result.hum_ratio
    out[at.ROOM_RH, i] = rel_hum_from_hum_ratio(result.temp_C, result.hum_ratio, hour.pressure_Pa)
    out[at.TARGET_TEMP, i] = result.target_C
    out[at.MIXED_TEMP, i] = air.mixed_C
    out[at.MIXED_W, i] = air.mixed_hum_ratio
    out[at.SUPPLY_TEMP, i] = air.supply_C
    out[at.SUPPLY_W, i] = air.supply_hum_ratio
    out[at.SUPPLY_FLOW, i] = air.flow_kg_s if runs else math.nan
    out[at.FAN_RUNTIME, i] = air.fan
    out[at.SUPPLY_FAN, i] = air.fan * air.fan_W * _KWH
    out[at.OUTDOOR_AIR, i] = air.outdoor_air_kg_s
    out[at.VENTILATION, i] = air.ventilation_W * _KWH
    out[at.OUTDOOR_MOISTURE, i] = air.outdoor_vapor_kg_s * SECONDS
    out[at.DEVICE_HEAT, i] = (
        air.outdoor_air_kg_s
        * heat_capacity(air.outdoor_hum_ratio_in)
        * air.recovery_sensible
        * (air.return_C - outdoor)
        * _KWH
    )
    out[at.DEVICE_MOISTURE, i] = (
        air.outdoor_air_kg_s * (air.outdoor_hum_ratio_in - hour.outdoor_hum_ratio_kg_kg) * SECONDS
    )
    out[at.SYSTEM_OFF, i] = 1.0 if hour.fan_mode == FAN_OFF else 0.0


@compiled
def write_unit(
    out: FloatArray, i: int, unit: UnitMap, plant: Plant, hour: Hour, result: HourResult
) -> None:
    """Coil, compressor and condenser; states are empty (NaN) where the compressor does not run."""
    operation = result.operation
    air = result.air
    runs = operation.runtime > 0.0
    out[at.COIL_TEMP, i] = operation.on_temp_C if runs else math.nan
    out[at.COIL_W, i] = operation.on_hum_ratio if runs else math.nan
    out[at.SURFACE_TEMP, i] = operation.surface_C if runs else math.nan
    out[at.SUCTION_TEMP, i] = operation.suction_C if runs else math.nan
    out[at.CONDENSING_TEMP, i] = operation.condensing_C if runs else math.nan
    out[at.RUNTIME, i] = operation.runtime
    out[at.CAPACITY, i] = operation.fraction if runs else math.nan
    out[at.COOLING_TOTAL, i] = (operation.total_W - operation.precool_W) * _KWH
    out[at.COOLING_SENSIBLE, i] = (operation.sensible_W - operation.precool_W) * _KWH
    out[at.COOLING_LATENT, i] = (operation.total_W - operation.sensible_W) * _KWH
    out[at.COMPRESSOR, i] = operation.compressor_W * _KWH
    out[at.CONDENSER_FAN, i] = operation.condenser_fan_W * _KWH
    out[at.CONDENSATE, i] = operation.removal_kg_s * SECONDS
    out[at.DEVICE_POWER, i] = (
        plant.outdoor.power_W * air.fan * _KWH if air.outdoor_air_kg_s > 0.0 else 0.0
    )
    out[at.FLOOR_HIT, i] = operation.floor_hit if runs else 0.0
    outside = 0.0
    if runs:
        outside = outside_map(
            unit, air.onto_coil.temp_C, air.onto_coil.hum_ratio, hour.pressure_Pa, air.flow_kg_s,
            operation.suction_C, operation.condensing_C,
        )  # fmt: skip
    out[at.OUTSIDE_MAP, i] = outside


@compiled
def write_reheat(out: FloatArray, i: int, result: HourResult) -> None:
    """The dehumidification call, its reheat load and where that was met from."""
    reheat = result.reheat
    sensible = result.operation.sensible_W
    out[at.SENSIBLE_NEED, i] = max(sensible - reheat.overcooling_W, 0.0) * _KWH
    out[at.OVERCOOLING, i] = reheat.overcooling_W * _KWH
    out[at.RECOVERED, i] = reheat.recovered_W * _KWH
    out[at.REHEAT_PURCHASED, i] = reheat.purchased_W * _KWH
    out[at.REHEAT_UNMET, i] = (
        reheat.overcooling_W - reheat.recovered_W - reheat.purchased_W
    ) * _KWH
    out[at.PURCHASED_ELECTRICITY, i] = reheat.electricity_W * _KWH
    out[at.PURCHASED_GAS, i] = reheat.gas_W * _KWH
    out[at.RECOVERY_PENALTY, i] = result.penalty_W * _KWH
    out[at.SWING, i] = result.swing_K
    out[at.CALL, i] = result.call
    out[at.FULL, i] = result.full
    out[at.SHORT, i] = result.short


@compiled
def write_room_units(out: FloatArray, i: int, control: Control, result: HourResult) -> None:
    """Heating, the separate cooling of the room, and the humidifier."""
    units = result.room_units
    humidifier = control.humidifier
    separate = control.outdoor_air_unit
    purchased = units.heating_W / control.heating_efficiency
    out[at.HEATING, i] = units.heating_W * _KWH
    out[at.HEATING_ELECTRICITY, i] = 0.0 if control.heating_gas == 1 else purchased * _KWH
    out[at.HEATING_GAS, i] = purchased * _KWH if control.heating_gas == 1 else 0.0
    out[at.ROOM_COOLING, i] = units.cooling_total_W * _KWH
    out[at.ROOM_COOLING_ELECTRICITY, i] = units.cooling_total_W / separate.room_cop * _KWH
    # Without the reheat, the separate cooling would have had that much less to do.
    given = result.reheat.recovered_W + result.reheat.purchased_W
    out[at.NEUTRAL_AIR, i] = (
        min(given, units.cooling_W) / separate.room_shr / separate.room_cop * _KWH
    )
    power = units.added_kg_s * humidifier.energy_J_kg
    out[at.ADDED_MOISTURE, i] = units.added_kg_s * SECONDS
    out[at.ADDED_HEAT, i] = units.added_heat_W * _KWH
    out[at.ADDED_ELECTRICITY, i] = 0.0 if humidifier.gas == 1 else power * _KWH
    out[at.ADDED_GAS, i] = power * _KWH if humidifier.gas == 1 else 0.0


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
    out[at.GAINS, i] = gains * _KWH
    out[at.GAINS_MOISTURE, i] = moisture * SECONDS
    out[at.SOLAR, i] = solar * _KWH
    out[at.ENVELOPE, i] = shell * _KWH
    out[at.INFILTRATION, i] = leak
    out[at.STORED, i] = stored * _KWH
    out[at.MOISTURE_STORED, i] = w_stored * SECONDS
    out[at.WALL_CONDENSATION, i] = result.condensed_kg_s * SECONDS
    out[at.WALL_CONDENSATION_HEAT, i] = released_W * _KWH
    out[at.HEAT_CLOSURE, i] = (
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
    out[at.WATER_CLOSURE, i] = (
        w_stored
        - leak * (hour.outdoor_hum_ratio_kg_kg - result.hum_ratio)
        - moisture
        - units.added_kg_s
        + result.condensed_kg_s
        - air.vapor_kg_s
        + units.cooling_vapor_kg_s
    ) * SECONDS
    # A wrap-around loop moves heat within the air; only the rest came from the refrigerant.
    out[at.REFRIGERANT_CLOSURE, i] = (
        (operation.total_W - operation.precool_W)
        + operation.compressor_W
        - operation.outdoor_coil_W
        - (result.reheat.recovered_W - operation.precool_W)
    )
