"""The hourly ledger: its columns as one table, each with unit and definition.

The table is the one place where a column's name, unit, total, label, definition, end use and energy
carrier stand. It heads the CSV and the workbook, fills bills, comparisons, charts and the glossary,
and says which columns are purchased. The hourly solution writes a float64 array of shape (number of
columns, 8760) in the order of the table; the indexes are frozen into @compiled functions, so this
file counts among their sources.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from dewledger.weather.physics.moist_air import FloatArray

Total = Literal["sum", "mean", "none"]
Carrier = Literal["", "electricity", "gas"]


@dataclass(frozen=True)
class Column:
    """One column: name ending in its unit, how it totals over hours, label, definition with sign.

    end_use, carrier : of a column that is energy purchased; what it is purchased for, and as what.
        The columns of a carrier add up to all that is purchased of it.
    """

    name: str
    unit: str
    total: Total
    label: str
    definition: str
    end_use: str = ""
    carrier: Carrier = ""


COLUMNS = (
    Column("outdoor_temp_C", "C", "mean", "Outdoor dry bulb", "Outdoor dry bulb."),
    Column(
        "outdoor_hum_ratio_kg_kg",
        "kg/kg",
        "mean",
        "Outdoor humidity ratio",
        "Outdoor humidity ratio.",
    ),
    Column("room_temp_C", "C", "mean", "Room dry bulb", "Room dry bulb at the end of the hour."),
    Column(
        "room_hum_ratio_kg_kg",
        "kg/kg",
        "mean",
        "Room humidity ratio",
        "Room humidity ratio at the end of the hour.",
    ),
    Column(
        "room_rh_frac",
        "-",
        "mean",
        "Room relative humidity",
        "Room relative humidity at the end of the hour.",
    ),
    Column(
        "target_temp_C",
        "C",
        "mean",
        "Room dry bulb with sensible-only control",
        "Room dry bulb the hour would have had with sensible-only control: the set point in "
        "a sensible or heating call, otherwise the floating temperature.",
    ),
    Column(
        "mixed_temp_C",
        "C",
        "mean",
        "Mixed-air dry bulb",
        "Air entering the unit while its fan runs: return air mixed with outdoor air.",
    ),
    Column(
        "mixed_hum_ratio_kg_kg",
        "kg/kg",
        "mean",
        "Mixed-air humidity ratio",
        "Humidity ratio of the mixed air.",
    ),
    Column(
        "coil_leaving_temp_C",
        "C",
        "none",
        "Coil leaving-air dry bulb",
        "Air leaving the cooling coil while the compressor runs; empty when it does not.",
    ),
    Column(
        "coil_leaving_hum_ratio_kg_kg",
        "kg/kg",
        "none",
        "Coil leaving-air humidity ratio",
        "Humidity ratio leaving the cooling coil while the compressor runs.",
    ),
    Column(
        "supply_temp_C",
        "C",
        "mean",
        "Supply-air dry bulb",
        "Air supplied to the room, mean over the time the fan runs.",
    ),
    Column(
        "supply_hum_ratio_kg_kg",
        "kg/kg",
        "mean",
        "Supply-air humidity ratio",
        "Humidity ratio of the supply air, mean over the time the fan runs.",
    ),
    Column(
        "surface_temp_C",
        "C",
        "none",
        "Apparatus dew point",
        "Apparatus dew point of the cooling coil while the compressor runs.",
    ),
    Column(
        "suction_temp_C",
        "C",
        "none",
        "Saturated suction temperature",
        "Saturated suction temperature while the compressor runs; empty for a tabulated unit.",
    ),
    Column(
        "condensing_temp_C",
        "C",
        "none",
        "Saturated condensing temperature",
        "Saturated condensing temperature while the compressor runs.",
    ),
    Column(
        "fan_runtime_frac",
        "-",
        "mean",
        "Supply fan run time",
        "Share of the hour the supply fan runs.",
    ),
    Column(
        "compressor_runtime_frac",
        "-",
        "mean",
        "Compressor run time",
        "Share of the hour the compressor runs.",
    ),
    Column(
        "capacity_frac",
        "-",
        "none",
        "Compressor displacement in use",
        "Compressor displacement in use while it runs, as a share of full displacement.",
    ),
    Column(
        "outdoor_air_kg_s",
        "kg/s",
        "mean",
        "Outdoor air by the unit",
        "Dry outdoor air brought in by the unit, mean of the hour.",
    ),
    Column(
        "cooling_total_kWh",
        "kWh",
        "sum",
        "Total coil load",
        "Heat the cooling coil takes from the air, sensible and latent (air-enthalpy difference).",
    ),
    Column(
        "cooling_sensible_kWh",
        "kWh",
        "sum",
        "Sensible coil load",
        "Sensible part of cooling_total_kWh.",
    ),
    Column(
        "cooling_latent_kWh", "kWh", "sum", "Latent coil load", "Latent part of cooling_total_kWh."
    ),
    Column(
        "sensible_need_kWh",
        "kWh",
        "sum",
        "Sensible cooling required",
        "Sensible cooling the room needed to stay at target_temp_C; never below zero.",
    ),
    Column(
        "compressor_kWh",
        "kWh",
        "sum",
        "Compressor",
        "Compressor electricity.",
        end_use="compressor",
        carrier="electricity",
    ),
    Column(
        "condenser_fan_kWh",
        "kWh",
        "sum",
        "Condenser fan",
        "Condenser fan electricity.",
        end_use="condenser fan",
        carrier="electricity",
    ),
    Column(
        "supply_fan_kWh",
        "kWh",
        "sum",
        "Supply fan",
        "Supply fan electricity, all of it heat to the airstream; what reheat coils add to it "
        "is in reheat_coil_fan_kWh.",
        end_use="supply fan",
        carrier="electricity",
    ),
    Column(
        "overcooling_heat_kWh",
        "kWh",
        "sum",
        "Overcooling heat (reheat load)",
        "Sensible cooling done in a dehumidification call beyond what the room needed, the "
        "reheat load; equals recovered + purchased + unmet.",
    ),
    Column(
        "reheat_recovered_kWh",
        "kWh",
        "sum",
        "Reheat, recovered",
        "Reheat from the condenser or another heat recovery device.",
    ),
    Column(
        "reheat_purchased_kWh",
        "kWh",
        "sum",
        "Reheat, purchased",
        "Reheat from purchased energy (heat to the air).",
    ),
    Column(
        "reheat_unmet_kWh",
        "kWh",
        "sum",
        "Reheat, unmet",
        "Overcooling heat that no reheat met: the room was cooled below its target.",
    ),
    Column(
        "reheat_purchased_electricity_kWh",
        "kWh",
        "sum",
        "Reheat, electricity",
        "Electricity for purchased reheat, with the auxiliaries of all reheat sources.",
        end_use="reheat",
        carrier="electricity",
    ),
    Column(
        "reheat_purchased_gas_kWh",
        "kWh",
        "sum",
        "Reheat, gas",
        "Gas for purchased reheat, higher heating value.",
        end_use="reheat",
        carrier="gas",
    ),
    Column(
        "temp_swing_K",
        "K",
        "mean",
        "Room temperature swing",
        "Room temperature swing where the unit alternates between cooling and "
        "dehumidification; zero where reheat modulates.",
    ),
    Column(
        "recovery_penalty_kWh",
        "kWh",
        "sum",
        "Compressor and fan energy penalty of heat recovery",
        "Compressor and condenser fan electricity of the hour less that of the same moisture "
        "removal without heat recovery; negative is a benefit.",
    ),
    Column(
        "heating_kWh",
        "kWh",
        "sum",
        "Space heating",
        "Space heating (heat to the air); never reheat.",
    ),
    Column(
        "heating_purchased_electricity_kWh",
        "kWh",
        "sum",
        "Space heating, electricity",
        "Electricity for space heating.",
        end_use="space heating",
        carrier="electricity",
    ),
    Column(
        "heating_purchased_gas_kWh",
        "kWh",
        "sum",
        "Space heating, gas",
        "Gas for space heating, higher heating value.",
        end_use="space heating",
        carrier="gas",
    ),
    Column(
        "condensate_kg", "kg", "sum", "Condensate", "Water the cooling coil takes from the air."
    ),
    Column(
        "gains_sensible_kWh",
        "kWh",
        "sum",
        "Sensible gains in the room",
        "Sensible gains inside the room.",
    ),
    Column(
        "gains_moisture_kg",
        "kg",
        "sum",
        "Moisture gains in the room",
        "Water vapor released in the room.",
    ),
    Column(
        "envelope_kWh",
        "kWh",
        "sum",
        "Envelope and infiltration",
        "Heat into the room through the envelope and with infiltration; negative when lost.",
    ),
    Column(
        "ventilation_sensible_kWh",
        "kWh",
        "sum",
        "Outdoor air, sensible",
        "Sensible heat into the room with the unit's outdoor air; negative when lost.",
    ),
    Column(
        "outdoor_moisture_kg",
        "kg",
        "sum",
        "Outdoor moisture",
        "Water vapor into the room with outdoor air, by unit and infiltration; negative when lost.",
    ),
    Column(
        "heat_stored_kWh",
        "kWh",
        "sum",
        "Heat stored in the room",
        "Heat stored in the room over the hour.",
    ),
    Column(
        "moisture_stored_kg",
        "kg",
        "sum",
        "Moisture stored in the room",
        "Water vapor stored in the room over the hour.",
    ),
    Column(
        "heat_closure_W",
        "W",
        "none",
        "Room heat balance residual",
        "Room heat balance rebuilt from enthalpies along the air path; zero when closed.",
    ),
    Column(
        "water_closure_kg_h",
        "kg/h",
        "none",
        "Room water balance residual",
        "Room water balance rebuilt from the supply air; zero when closed.",
    ),
    Column(
        "refrigerant_closure_W",
        "W",
        "none",
        "Refrigerant balance residual",
        "Evaporator + compressor work less outdoor coil and reheat coil; zero when closed.",
    ),
    Column(
        "moisture_call_flag",
        "0/1",
        "sum",
        "Dehumidification call",
        "1 in an hour in which the humidity limit requires more dehumidification than "
        "sensible cooling gives.",
    ),
    Column(
        "full_capacity_flag",
        "0/1",
        "sum",
        "At full capacity",
        "1 where the unit ran at full capacity and the call was not met.",
    ),
    Column(
        "reheat_short_flag",
        "0/1",
        "sum",
        "Reheat limited",
        "1 where reheat could not meet the reheat load of dehumidification to the limit.",
    ),
    Column(
        "surface_floor_flag",
        "0/1",
        "sum",
        "Coil-surface minimum",
        "1 where the minimum coil-surface temperature limited capacity.",
    ),
    Column(
        "outside_map_flag",
        "0/1",
        "sum",
        "Outside the performance map",
        "1 where the unit ran outside its map and was held at the edge.",
    ),
    Column(
        "system_off_flag", "0/1", "sum", "System off", "1 where the schedule keeps the unit off."
    ),
    Column("supply_flow_kg_s", "kg/s", "mean", "Supply air", "Dry supply air while the fan runs."),
    Column(
        "solar_gains_kWh",
        "kWh",
        "sum",
        "Solar gains",
        "Sun through the windows; the share reflected or lost at once is in envelope_kWh.",
    ),
    Column(
        "outdoor_recovery_sensible_kWh",
        "kWh",
        "sum",
        "Energy recovery, sensible",
        "Sensible heat an energy recovery device gives to outdoor air; negative when it "
        "takes heat.",
    ),
    Column(
        "outdoor_recovery_moisture_kg",
        "kg",
        "sum",
        "Energy recovery, moisture",
        "Vapor an energy recovery device gives to the outdoor air; negative when it takes vapor.",
    ),
    Column(
        "outdoor_recovery_power_kWh",
        "kWh",
        "sum",
        "Energy recovery device",
        "Electricity of the energy recovery device: exhaust fan work and drive.",
        end_use="energy recovery device",
        carrier="electricity",
    ),
    Column(
        "humidifier_kg",
        "kg",
        "sum",
        "Humidifier moisture",
        "Water vapor the humidifier adds to the room.",
    ),
    Column(
        "humidifier_heat_kWh",
        "kWh",
        "sum",
        "Humidifier sensible heat",
        "Sensible heat the humidifier adds; negative where water evaporates in the air.",
    ),
    Column(
        "humidifier_electricity_kWh",
        "kWh",
        "sum",
        "Humidifier, electricity",
        "Electricity of the humidifier.",
        end_use="humidification",
        carrier="electricity",
    ),
    Column(
        "humidifier_gas_kWh",
        "kWh",
        "sum",
        "Humidifier, gas",
        "Gas of the humidifier, higher heating value.",
        end_use="humidification",
        carrier="gas",
    ),
    Column(
        "room_cooling_kWh",
        "kWh",
        "sum",
        "Room cooling by the separate room unit",
        "Heat, sensible and latent, taken from the room by the separate room unit alongside "
        "an outdoor-air unit.",
    ),
    Column(
        "room_cooling_electricity_kWh",
        "kWh",
        "sum",
        "Separate room unit",
        "Electricity of the separate room unit.",
        end_use="room cooling",
        carrier="electricity",
    ),
    Column(
        "neutral_air_electricity_kWh",
        "kWh",
        "sum",
        "Recooling of reheated supply air",
        "The part of room_cooling_electricity_kWh that takes out the heat that reheat gave "
        "to the supply air.",
    ),
    Column(
        "infiltration_kg_s",
        "kg/s",
        "mean",
        "Infiltration",
        "Outdoor air that enters other than through the unit: leakage, and what exhaust draws in.",
    ),
    Column(
        "surface_condensation_kg",
        "kg",
        "sum",
        "Condensation on room surfaces",
        "Water that condenses on the room's surfaces where its air would pass saturation.",
    ),
    Column(
        "surface_condensation_heat_kWh",
        "kWh",
        "sum",
        "Heat of that condensation",
        "Heat that this condensation gives to the room.",
    ),
    Column(
        "heating_limited_flag",
        "0/1",
        "sum",
        "Heating at its size",
        "1 where the heating needed was more than its stated size: the room, or the supply air of "
        "an outdoor-air unit, stays below its set point.",
    ),
    Column(
        "outdoor_coil_kWh",
        "kWh",
        "sum",
        "Heat rejected by the outdoor coil",
        "Heat the outdoor coil gives to the outdoors: its conductance times condensing less "
        "outdoor temperature wherever nothing else holds the condensing temperature; at the "
        "minimum, or where the reheat coil needs a hotter condenser, what refrigerant and reheat "
        "leave.",
    ),
    Column(
        "reheat_coil_fan_kWh",
        "kWh",
        "sum",
        "Fan power for reheat coils",
        "Supply fan electricity for the air pressure drop of reheat and recovery coils, "
        "whenever the fan runs; heat to the airstream as all of it.",
        end_use="fan, reheat coil pressure drop",
        carrier="electricity",
    ),
    Column(
        "reheat_lockout_flag",
        "0/1",
        "sum",
        "Condenser heat locked out",
        "1 where the outdoor temperature kept condenser heat off in an hour with a reheat load.",
    ),
    Column(
        "reheat_valve_flag",
        "0/1",
        "sum",
        "Reheat valve at its limit",
        "1 where the range of the reheat valve limited condenser heat, or held more of it open.",
    ),
    Column(
        "reheat_purge_flag",
        "0/1",
        "sum",
        "Pump-out limits condenser heat",
        "1 where the time that pump-out takes limited condenser heat.",
    ),
    Column(
        "reheat_circuits_flag",
        "0/1",
        "sum",
        "Circuits with reheat limit it",
        "1 where the heat of the circuits with reheat limited condenser heat.",
    ),
    Column(
        "reheat_fans_flag",
        "0/1",
        "sum",
        "Fewer outdoor fans in reheat",
        "1 where the outdoor fans left running in reheat set the condensing temperature.",
    ),
)
NAMES = tuple(column.name for column in COLUMNS)
INDEX = {name: index for index, name in enumerate(NAMES)}
BY_NAME = {column.name: column for column in COLUMNS}
PURCHASED = tuple(column for column in COLUMNS if column.carrier)


def purchased(carrier: Carrier) -> tuple[str, ...]:
    """Names of the columns that are purchased of one carrier, by end use, in the table's order."""
    return tuple(column.name for column in PURCHASED if column.carrier == carrier)


# Hours are written row by row into a block that stays in the processor's cache, and go from there
# into the columns.
BLOCK_HOURS = 32

# The short ledger of sweeps and draws: what bills and comparisons need, without the rest.
SHORT_NAMES = (
    "electricity_kWh",
    "gas_kWh",
    "overcooling_heat_kWh",
    "reheat_recovered_kWh",
    "reheat_purchased_kWh",
    "compressor_kWh",
    "room_temp_C",
    "room_rh_frac",
    "compressor_runtime_frac",
    "fan_runtime_frac",
)
SHORT_INDEX = {name: index for index, name in enumerate(SHORT_NAMES)}

# What a trial of a reheat coil looks at.
COIL_NAMES = (
    "reheat_recovered_kWh",
    "reheat_purchased_kWh",
    "compressor_runtime_frac",
    "fan_runtime_frac",
    "coil_leaving_temp_C",
    "supply_flow_kg_s",
    "room_temp_C",
    "room_hum_ratio_kg_kg",
    # What else the hour leaves to the next, from which a smaller coil's year goes on.
    "room_mass_temp_C",
    "cooled_surface_C",
    "cooled_lift_K",
    "dried_surface_C",
    "dried_lift_K",
    "released_W",
)
COIL_INDEX = {name: index for index, name in enumerate(COIL_NAMES)}


def empty_ledger(hours: int, names: Sequence[str] = NAMES) -> FloatArray:
    """A NaN array (columns, hours) for a ledger, in the units of the table [kWh, C, ...].

    names : its columns: NAMES of the whole one, SHORT_NAMES or COIL_NAMES
    """
    return np.full((len(names), hours), np.nan)


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
HEATING_LIMITED = INDEX["heating_limited_flag"]
OUTDOOR_COIL = INDEX["outdoor_coil_kWh"]
REHEAT_COIL_FAN = INDEX["reheat_coil_fan_kWh"]
LOCKOUT = INDEX["reheat_lockout_flag"]
VALVE = INDEX["reheat_valve_flag"]
PURGE = INDEX["reheat_purge_flag"]
CIRCUITS = INDEX["reheat_circuits_flag"]
FANS = INDEX["reheat_fans_flag"]
