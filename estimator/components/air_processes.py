"""Air processes: mixing, heating, cooling with condensate, moisture addition, fan heat.

SI, per kg of dry air; sources are the ASHRAE Handbook - Fundamentals (2017) chapter 1 process
equations and the fan laws.
"""

from __future__ import annotations

from dewledger.weather.numerics.compiled import compiled
from dewledger.weather.physics.moist_air import enthalpy, temp_from_enthalpy

WATER_HEAT_CAPACITY = 4186.0  # J/(kg K), the value in the wet-bulb equations of Fundamentals ch. 1


@compiled
def mix(
    share_first: float,
    temp_first_C: float,
    hum_ratio_first: float,
    temp_second_C: float,
    hum_ratio_second: float,
) -> tuple[float, float]:
    """Adiabatic mixing of two streams; ``share_first`` by dry-air mass. Returns [C], [kg/kg]."""
    hum_ratio = share_first * hum_ratio_first + (1.0 - share_first) * hum_ratio_second
    mixed = share_first * enthalpy(temp_first_C, hum_ratio_first) + (1.0 - share_first) * enthalpy(
        temp_second_C, hum_ratio_second
    )
    return temp_from_enthalpy(mixed, hum_ratio), hum_ratio


@compiled
def heated(temp_C: float, hum_ratio: float, heat_J_kg: float) -> float:
    """Dry bulb [C] after sensible heating (or fan heat) of ``heat_J_kg`` per kg of dry air."""
    return temp_from_enthalpy(enthalpy(temp_C, hum_ratio) + heat_J_kg, hum_ratio)


@compiled
def cooling_with_condensate(
    temp_in_C: float, hum_ratio_in: float, temp_out_C: float, hum_ratio_out: float
) -> float:
    """Heat [J/kg dry air] taken out when the condensate leaves at the leaving dry bulb."""
    condensate = (hum_ratio_in - hum_ratio_out) * WATER_HEAT_CAPACITY * temp_out_C
    return enthalpy(temp_in_C, hum_ratio_in) - enthalpy(temp_out_C, hum_ratio_out) - condensate


@compiled
def fan_power(flow_m3_s: float, pressure_rise_Pa: float, total_efficiency: float) -> float:
    """Fan power [W] to the airstream: volume flow x pressure rise / total efficiency."""
    return flow_m3_s * pressure_rise_Pa / total_efficiency


@compiled
def fan_temp_rise(pressure_rise_Pa: float, total_efficiency: float, density: float) -> float:
    """Temperature rise [K] of dry air over a fan: dp / (rho cp efficiency)."""
    return pressure_rise_Pa / (density * 1006.0 * total_efficiency)


@compiled
def moisture_and_heat(
    temp_C: float, hum_ratio: float, heat_J_kg: float, water_kg_kg: float, water_J_kg: float
) -> tuple[float, float]:
    """State after heat and water vapor of a stated enthalpy are added. Returns [C], [kg/kg]."""
    after = hum_ratio + water_kg_kg
    mixed = enthalpy(temp_C, hum_ratio) + heat_J_kg + water_kg_kg * water_J_kg
    return temp_from_enthalpy(mixed, after), after
