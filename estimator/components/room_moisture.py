"""Moisture that a space's own water gives to its air: an indoor pool, plants under lights.

Sources stand with each function.
"""

from __future__ import annotations

import numpy as np

from dewledger.weather.physics.moist_air import FloatArray, saturation_pressure

# ASHRAE Handbook - HVAC Applications, natatoriums: w = A (pw - pa) Fa / Y (95 + 0.425 v) in lb/h,
# ft2, inHg, fpm and Btu/lb (read second-hand); 0.1 A (pw - pa) Fa with air at 10 to 30 fpm and
# water at about 85 F.
_LB_H_FT2_INHG = 0.1
_KG_S_M2_PA = _LB_H_FT2_INHG * 0.45359237 / 3600.0 / 0.09290304 / 3386.389
# Heat that evaporation takes from the air of a grow room [J/kg]: 1,040 Btu/lb (trade article of
# 2023 on grow rooms, read).
HEAT_OF_TRANSPIRATION_J_KG = 1040.0 * 1055.05585262 / 0.45359237


def pool_evaporation(
    area_m2: float, water_C: float, air_C: float, rel_hum_frac: float, activity: float
) -> float:
    """Water [kg/s] that evaporates from a pool.

    Parameters
    ----------
    area_m2 : water surface
    water_C, air_C, rel_hum_frac : water, and the room's air over it
    activity : 1 for a public pool in use; 0.65 fitness or elderly swimmers, 0.8 a hotel

    ASHRAE Handbook - HVAC Applications, natatorium evaporation, 0.1 A (pw - pa) Fa in lb/h, ft2 and
    inHg. 0 where the room's air is damper than the water's surface.
    """
    difference = saturation_pressure(water_C) - rel_hum_frac * saturation_pressure(air_C)
    return _KG_S_M2_PA * area_m2 * max(float(difference), 0.0) * activity


def transpiration(
    irrigation_kg_s: float, returned: float, dark_share: float, light: FloatArray
) -> FloatArray:
    """Vapor [kg/s] of each hour that plants and wet ground return of their irrigation.

    Parameters
    ----------
    irrigation_kg_s : water given, averaged over the year
    returned : share of it that becomes vapor (70 to 90 %, grow-room sizing pages of 2023, read)
    dark_share : share of the year's vapor that rises while the lights are off
    light : lights of each hour, 0 to 1, (8760,)

    The hours add up to ``irrigation x returned`` over the year, whatever the lights do.
    """
    hours = len(light)
    whole = irrigation_kg_s * returned * hours
    lit = light.sum()
    dark = 1.0 - light
    unlit = dark.sum()
    if lit <= 0.0 or unlit <= 0.0:
        return np.full(hours, whole / hours)
    shares: FloatArray = (1.0 - dark_share) * light / lit + dark_share * dark / unlit
    return whole * shares
