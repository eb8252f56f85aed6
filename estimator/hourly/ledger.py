"""The hourly ledger: its columns as one table, and its monthly and annual accounts.

The table heads the CSV, the workbook, the report's glossary and a test. The hourly solution writes
a float64 array of shape (number of columns, 8760) in the order of the table; the indexes are frozen
into @compiled functions, so this file counts among their sources.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from dewledger.weather.physics.moist_air import FloatArray

Total = Literal["sum", "mean", "none"]


@dataclass(frozen=True)
class Column:
    """One column: name ending in its unit, how it totals over hours, definition with sign."""

    name: str
    unit: str
    total: Total
    definition: str


def _columns() -> tuple[Column, ...]:
    c = Column
    return (
        c("outdoor_temp_C", "C", "mean", "Outdoor dry bulb."),
        c("outdoor_hum_ratio_kg_kg", "kg/kg", "mean", "Outdoor humidity ratio."),
        c("room_temp_C", "C", "mean", "Room dry bulb at the end of the hour."),
        c("room_hum_ratio_kg_kg", "kg/kg", "mean", "Room humidity ratio at the end of the hour."),
        c("room_rh_frac", "-", "mean", "Room relative humidity at the end of the hour."),
        c(
            "target_temp_C",
            "C",
            "mean",
            "Room dry bulb the hour would have had without drying: "
            "the set point in a sensible or heating call, otherwise the floating "
            "temperature.",
        ),
        c(
            "mixed_temp_C",
            "C",
            "mean",
            "Air entering the unit while its fan runs: return mixed with outdoor air.",
        ),
        c("mixed_hum_ratio_kg_kg", "kg/kg", "mean", "Humidity ratio of the mixed air."),
        c(
            "coil_leaving_temp_C",
            "C",
            "none",
            "Air leaving the cooling coil while the compressor runs; empty when it does not.",
        ),
        c(
            "coil_leaving_hum_ratio_kg_kg",
            "kg/kg",
            "none",
            "Humidity ratio leaving the cooling coil while the compressor runs.",
        ),
        c(
            "supply_temp_C",
            "C",
            "mean",
            "Air supplied to the room, averaged over the time the fan runs.",
        ),
        c(
            "supply_hum_ratio_kg_kg",
            "kg/kg",
            "mean",
            "Humidity ratio of the supply air, averaged over the time the fan runs.",
        ),
        c(
            "surface_temp_C",
            "C",
            "none",
            "Apparatus dew point of the cooling coil while the compressor runs.",
        ),
        c(
            "suction_temp_C",
            "C",
            "none",
            "Saturated suction temperature while the compressor runs; empty for a tabulated unit.",
        ),
        c(
            "condensing_temp_C",
            "C",
            "none",
            "Saturated condensing temperature while the compressor runs.",
        ),
        c("fan_runtime_frac", "-", "mean", "Share of the hour the supply fan runs."),
        c("compressor_runtime_frac", "-", "mean", "Share of the hour the compressor runs."),
        c(
            "capacity_frac",
            "-",
            "none",
            "Compressor displacement in use while it runs, as a share of full displacement.",
        ),
        c(
            "outdoor_air_kg_s",
            "kg/s",
            "mean",
            "Dry outdoor air brought in by the unit, hourly mean.",
        ),
        c(
            "cooling_total_kWh",
            "kWh",
            "sum",
            "Heat the cooling coil takes from the air, sensible and latent (air-"
            "enthalpy difference).",
        ),
        c("cooling_sensible_kWh", "kWh", "sum", "Sensible part of cooling_total_kWh."),
        c("cooling_latent_kWh", "kWh", "sum", "Latent part of cooling_total_kWh."),
        c(
            "sensible_need_kWh",
            "kWh",
            "sum",
            "Sensible cooling the room needed to stay at target_temp_C; never below zero.",
        ),
        c("compressor_kWh", "kWh", "sum", "Compressor electricity."),
        c("condenser_fan_kWh", "kWh", "sum", "Outdoor-coil fan electricity."),
        c(
            "supply_fan_kWh",
            "kWh",
            "sum",
            "Supply fan electricity, all of it heat to the airstream.",
        ),
        c(
            "overcooling_heat_kWh",
            "kWh",
            "sum",
            "Sensible cooling done in a dehumidification call beyond what the room needed; "
            "equals recovered + purchased + unmet.",
        ),
        c(
            "reheat_recovered_kWh",
            "kWh",
            "sum",
            "Reheat given back by the condenser or another recovery device.",
        ),
        c(
            "reheat_purchased_kWh",
            "kWh",
            "sum",
            "Reheat given back from purchased energy (heat to the air).",
        ),
        c(
            "reheat_unmet_kWh",
            "kWh",
            "sum",
            "Overcooling heat that nothing gave back: the room was cooled below its target.",
        ),
        c(
            "reheat_purchased_electricity_kWh",
            "kWh",
            "sum",
            "Electricity purchased for new-energy reheat, with the auxiliaries of all reheat "
            "sources.",
        ),
        c(
            "reheat_purchased_gas_kWh",
            "kWh",
            "sum",
            "Gas purchased for new-energy reheat, higher heating value.",
        ),
        c(
            "temp_swing_K",
            "K",
            "mean",
            "Room temperature swing from alternating between cooling and drying mode;"
            " zero where reheat modulates.",
        ),
        c(
            "recovery_penalty_kWh",
            "kWh",
            "sum",
            "Compressor and condenser-fan electricity of the hour less that of the "
            "same moisture removal without recovery; negative where recovery saves.",
        ),
        c("heating_kWh", "kWh", "sum", "Space heating (heat to the air); never reheat."),
        c(
            "heating_purchased_electricity_kWh",
            "kWh",
            "sum",
            "Electricity purchased for space heating.",
        ),
        c(
            "heating_purchased_gas_kWh",
            "kWh",
            "sum",
            "Gas purchased for space heating, higher heating value.",
        ),
        c("condensate_kg", "kg", "sum", "Water the cooling coil takes from the air."),
        c("gains_sensible_kWh", "kWh", "sum", "Sensible gains inside the room."),
        c("gains_moisture_kg", "kg", "sum", "Water vapor released in the room."),
        c(
            "envelope_kWh",
            "kWh",
            "sum",
            "Heat into the room through the envelope and with infiltration; negative when lost.",
        ),
        c(
            "ventilation_sensible_kWh",
            "kWh",
            "sum",
            "Sensible heat into the room with the unit's outdoor air; negative when lost.",
        ),
        c(
            "outdoor_moisture_kg",
            "kg",
            "sum",
            "Water vapor into the room with outdoor air, by unit and infiltration; "
            "negative when lost.",
        ),
        c("heat_stored_kWh", "kWh", "sum", "Heat stored in the room over the hour."),
        c("moisture_stored_kg", "kg", "sum", "Water vapor stored in the room over the hour."),
        c(
            "heat_closure_W",
            "W",
            "none",
            "Room heat balance rebuilt from enthalpies along the air path; zero when closed.",
        ),
        c(
            "water_closure_kg_h",
            "kg/h",
            "none",
            "Room water balance rebuilt from the supply air; zero when closed.",
        ),
        c(
            "refrigerant_closure_W",
            "W",
            "none",
            "Evaporator + compressor work less outdoor coil and reheat coil; zero when closed.",
        ),
        c(
            "moisture_call_flag",
            "0/1",
            "sum",
            "1 in an hour in which the humidity limit asks for more drying than "
            "sensible cooling gives.",
        ),
        c(
            "full_capacity_flag",
            "0/1",
            "sum",
            "1 where the unit ran at full capacity and the call was not met.",
        ),
        c(
            "reheat_short_flag",
            "0/1",
            "sum",
            "1 where reheat could not give back all that drying to the limit would overcool.",
        ),
        c("surface_floor_flag", "0/1", "sum", "1 where the coil-surface floor limited capacity."),
        c(
            "outside_map_flag",
            "0/1",
            "sum",
            "1 where the unit ran outside its map and was held at the edge.",
        ),
        c("system_off_flag", "0/1", "sum", "1 where the schedule keeps the unit off."),
        c("supply_flow_kg_s", "kg/s", "mean", "Dry supply air while the fan runs."),
        c(
            "solar_gains_kWh",
            "kWh",
            "sum",
            "Sun through the windows; what goes straight out again is in envelope_kWh.",
        ),
        c(
            "outdoor_recovery_sensible_kWh",
            "kWh",
            "sum",
            "Sensible heat a recovery device gives to outdoor air; negative when it takes heat.",
        ),
        c(
            "outdoor_recovery_moisture_kg",
            "kg",
            "sum",
            "Vapor a recovery device gives to the outdoor air; negative when it takes vapor.",
        ),
        c(
            "outdoor_recovery_power_kWh",
            "kWh",
            "sum",
            "Electricity of the recovery device: exhaust fan work and drive.",
        ),
        c("humidifier_kg", "kg", "sum", "Water vapor the humidifier adds to the room."),
        c(
            "humidifier_heat_kWh",
            "kWh",
            "sum",
            "Sensible heat that comes with it; negative where water evaporates in the air.",
        ),
        c("humidifier_electricity_kWh", "kWh", "sum", "Electricity the humidifier buys."),
        c(
            "humidifier_gas_kWh",
            "kWh",
            "sum",
            "Gas the humidifier buys, higher heating value.",
        ),
        c(
            "room_cooling_kWh",
            "kWh",
            "sum",
            "Heat, sensible and latent, taken from the room by cooling beside an outdoor-air unit.",
        ),
        c(
            "room_cooling_electricity_kWh",
            "kWh",
            "sum",
            "Electricity of that cooling.",
        ),
        c(
            "neutral_air_electricity_kWh",
            "kWh",
            "sum",
            "The part of it that takes out again what reheat gave to the supply air.",
        ),
        c(
            "infiltration_kg_s",
            "kg/s",
            "mean",
            "Outdoor air that comes in past the unit: leaks, and what exhaust draws in.",
        ),
        c(
            "surface_condensation_kg",
            "kg",
            "sum",
            "Water that condenses on the room's surfaces where its air would pass saturation.",
        ),
        c(
            "surface_condensation_heat_kWh",
            "kWh",
            "sum",
            "Heat that this condensation gives to the room.",
        ),
    )


COLUMNS = _columns()
NAMES = tuple(column.name for column in COLUMNS)
INDEX = {name: index for index, name in enumerate(NAMES)}


def empty_ledger(hours: int) -> FloatArray:
    """An array for the ledger, (number of columns, hours)."""
    return np.full((len(NAMES), hours), np.nan)


# Places of the columns, as names that @compiled functions take for constants.
OUTDOOR_TEMP = INDEX["outdoor_temp_C"]
OUTDOOR_W = INDEX["outdoor_hum_ratio_kg_kg"]
ROOM_TEMP = INDEX["room_temp_C"]
ROOM_W = INDEX["room_hum_ratio_kg_kg"]
ROOM_RH = INDEX["room_rh_frac"]
TARGET_TEMP = INDEX["target_temp_C"]
MIXED_TEMP = INDEX["mixed_temp_C"]
MIXED_W = INDEX["mixed_hum_ratio_kg_kg"]
COIL_TEMP = INDEX["coil_leaving_temp_C"]
COIL_W = INDEX["coil_leaving_hum_ratio_kg_kg"]
SUPPLY_TEMP = INDEX["supply_temp_C"]
SUPPLY_W = INDEX["supply_hum_ratio_kg_kg"]
SURFACE_TEMP = INDEX["surface_temp_C"]
SUCTION_TEMP = INDEX["suction_temp_C"]
CONDENSING_TEMP = INDEX["condensing_temp_C"]
FAN_RUNTIME = INDEX["fan_runtime_frac"]
RUNTIME = INDEX["compressor_runtime_frac"]
CAPACITY = INDEX["capacity_frac"]
OUTDOOR_AIR = INDEX["outdoor_air_kg_s"]
COOLING_TOTAL = INDEX["cooling_total_kWh"]
COOLING_SENSIBLE = INDEX["cooling_sensible_kWh"]
COOLING_LATENT = INDEX["cooling_latent_kWh"]
SENSIBLE_NEED = INDEX["sensible_need_kWh"]
COMPRESSOR = INDEX["compressor_kWh"]
CONDENSER_FAN = INDEX["condenser_fan_kWh"]
SUPPLY_FAN = INDEX["supply_fan_kWh"]
OVERCOOLING = INDEX["overcooling_heat_kWh"]
RECOVERED = INDEX["reheat_recovered_kWh"]
REHEAT_PURCHASED = INDEX["reheat_purchased_kWh"]
REHEAT_UNMET = INDEX["reheat_unmet_kWh"]
PURCHASED_ELECTRICITY = INDEX["reheat_purchased_electricity_kWh"]
PURCHASED_GAS = INDEX["reheat_purchased_gas_kWh"]
RECOVERY_PENALTY = INDEX["recovery_penalty_kWh"]
SWING = INDEX["temp_swing_K"]
HEATING = INDEX["heating_kWh"]
HEATING_ELECTRICITY = INDEX["heating_purchased_electricity_kWh"]
HEATING_GAS = INDEX["heating_purchased_gas_kWh"]
CONDENSATE = INDEX["condensate_kg"]
GAINS = INDEX["gains_sensible_kWh"]
GAINS_MOISTURE = INDEX["gains_moisture_kg"]
ENVELOPE = INDEX["envelope_kWh"]
VENTILATION = INDEX["ventilation_sensible_kWh"]
OUTDOOR_MOISTURE = INDEX["outdoor_moisture_kg"]
STORED = INDEX["heat_stored_kWh"]
MOISTURE_STORED = INDEX["moisture_stored_kg"]
HEAT_CLOSURE = INDEX["heat_closure_W"]
WATER_CLOSURE = INDEX["water_closure_kg_h"]
REFRIGERANT_CLOSURE = INDEX["refrigerant_closure_W"]
CALL = INDEX["moisture_call_flag"]
FULL = INDEX["full_capacity_flag"]
SHORT = INDEX["reheat_short_flag"]
FLOOR_HIT = INDEX["surface_floor_flag"]
OUTSIDE_MAP = INDEX["outside_map_flag"]
SYSTEM_OFF = INDEX["system_off_flag"]
SUPPLY_FLOW = INDEX["supply_flow_kg_s"]
SOLAR = INDEX["solar_gains_kWh"]
DEVICE_HEAT = INDEX["outdoor_recovery_sensible_kWh"]
DEVICE_MOISTURE = INDEX["outdoor_recovery_moisture_kg"]
DEVICE_POWER = INDEX["outdoor_recovery_power_kWh"]
ADDED_MOISTURE = INDEX["humidifier_kg"]
ADDED_HEAT = INDEX["humidifier_heat_kWh"]
ADDED_ELECTRICITY = INDEX["humidifier_electricity_kWh"]
ADDED_GAS = INDEX["humidifier_gas_kWh"]
ROOM_COOLING = INDEX["room_cooling_kWh"]
ROOM_COOLING_ELECTRICITY = INDEX["room_cooling_electricity_kWh"]
NEUTRAL_AIR = INDEX["neutral_air_electricity_kWh"]
INFILTRATION = INDEX["infiltration_kg_s"]
WALL_CONDENSATION = INDEX["surface_condensation_kg"]
WALL_CONDENSATION_HEAT = INDEX["surface_condensation_heat_kWh"]
