"""The path of air through a cooling coil, for the chart.

Along the coil air gives heat to a surface between its own temperature and the refrigerant's. Heat
and mass pass with one coefficient (Lewis number 1), so at every place the air moves toward
saturation at the surface:

    dT = -(T - Ts) dn,    dW = -max(0, W - Wsat(Ts)) dn,
    Ts = Tr + r [cp (T - Ts) + hv max(0, W - Wsat(Ts))] / cp

(the enthalpy-potential method of the ASHRAE Handbook - HVAC Systems and Equipment, air-cooling and
dehumidifying coils; equations not checked against the text). Where the surface is above the dew
point the path is level; then it bends down as the surface grows colder. With r = 0 it is the
straight line to the apparatus dew point.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import (
    CP_DRY_AIR,
    MASS_RATIO,
    VAPOR_HEAT_0C,
    FloatArray,
)
from dewledger.weather.physics.moist_air_arrays import (
    saturation_hum_ratios,
    saturation_pressures_and_slopes,
)

# Resistance from surface to refrigerant over that from air to surface; the largest with which the
# leaving state can be reached is used, so that the line bows as a real coil's does where it can.
RESISTANCE_RATIOS = (0.4, 0.3, 0.2, 0.1, 0.05, 0.0)


def _surface(
    temp: float,
    ratio: FloatArray,
    refrigerant: FloatArray,
    r: float,
    pressure_Pa: float,
    start: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Surface temperature [C] by Newton on the heat balance, and saturation there [kg/kg].

    The balance is monotone in it; ``start`` is where the search begins.
    """
    latent = VAPOR_HEAT_0C / CP_DRY_AIR
    surface = start if r > 0.0 else refrigerant
    for _ in range(20):
        pws, pws_slope = saturation_pressures_and_slopes(surface)
        w = MASS_RATIO * pws / (pressure_Pa - pws)
        if r == 0.0:
            break
        wet = ratio > w
        rise = w * pressure_Pa / (pws * (pressure_Pa - pws)) * pws_slope
        gap = surface - refrigerant - r * (temp - surface + latent * np.maximum(ratio - w, 0.0))
        step = gap / (1.0 + r + r * latent * np.where(wet, rise, 0.0))
        surface = surface - step
        if float(np.abs(step).max()) < 1e-5:
            w = w - np.where(wet, rise, 0.0) * step
            break
    return surface, w


def _paths(
    temp_in_C: float,
    hum_ratio_in: float,
    temp_out_C: float,
    refrigerant: FloatArray,
    r: float,
    pressure_Pa: float,
) -> tuple[FloatArray, FloatArray]:
    """Paths for several refrigerant temperatures, each ended at ``temp_out_C``: (steps, n)."""
    temps = np.linspace(temp_in_C, temp_out_C, 41)
    ratio = np.full(refrigerant.shape, hum_ratio_in)
    ratios = [ratio]
    surface = refrigerant + r / (1.0 + r) * (temp_in_C - refrigerant)

    def fall(temp: float, at: FloatArray) -> FloatArray:
        nonlocal surface
        # the surface changes little from step to step
        surface, saturated = _surface(temp, at, refrigerant, r, pressure_Pa, surface)
        slope: FloatArray = np.maximum(at - saturated, 0.0) / (temp - surface)
        return slope

    for temp, following in pairwise(temps):
        step = following - temp
        middle = ratio + 0.5 * step * fall(temp, ratio)
        ratio = ratio + step * fall(0.5 * (temp + following), middle)
        ratio = np.minimum(ratio, float(saturation_hum_ratios(following, pressure_Pa)))
        ratios.append(ratio)
    return temps, np.array(ratios)


def coil_line(
    temp_in_C: float,
    hum_ratio_in: float,
    temp_out_C: float,
    hum_ratio_out: float,
    pressure_Pa: float,
) -> tuple[FloatArray, FloatArray] | None:
    """Dry bulb [C] and humidity ratio [kg/kg] along a coil between two states.

    The refrigerant temperature is the warmest that leads from one state to the other. Where the
    coil is dry the line is level. None where no one coil leads from the first state to the second
    (rated data can say so, or air that enters close to saturation and does not leave saturated);
    the chart then joins them by a straight line.

    Raises
    ------
    InputError : the leaving air is warmer or moister than the entering air
    """
    if temp_out_C >= temp_in_C or hum_ratio_out > hum_ratio_in * (1.0 + 1e-9):
        raise InputError(
            "a cooling coil cannot warm or moisten air; give a leaving state colder and no "
            "moister than the entering one"
        )
    if hum_ratio_out >= hum_ratio_in * (1.0 - 1e-9):
        return np.array([temp_in_C, temp_out_C]), np.array([hum_ratio_in, hum_ratio_in])
    for r in RESISTANCE_RATIOS:
        low, high = temp_out_C - 40.0, temp_out_C - 0.01
        path: FloatArray | None = None
        for _ in range(3):
            refrigerant = np.linspace(high, low, 24)
            temps, ratios = _paths(temp_in_C, hum_ratio_in, temp_out_C, refrigerant, r, pressure_Pa)
            reached = np.flatnonzero(ratios[-1] <= hum_ratio_out)
            if reached.size == 0:
                # Between two trials the coil may still dry deeper than at either.
                deepest = int(np.argmin(ratios[-1]))
                high = float(refrigerant[max(deepest - 1, 0)])
                low = float(refrigerant[min(deepest + 1, refrigerant.size - 1)])
                continue
            first = int(reached[0])
            path = ratios[:, first]
            if first == 0:
                break
            high, low = float(refrigerant[first - 1]), float(refrigerant[first])
        if path is None or abs(path[-1] - hum_ratio_out) > 0.02 * (hum_ratio_in - hum_ratio_out):
            continue
        # what the search left over, shared out along the line, so that it ends at the state
        stretch = (hum_ratio_in - hum_ratio_out) / (hum_ratio_in - path[-1])
        drawn: FloatArray = hum_ratio_in - stretch * (hum_ratio_in - path)
        return temps, np.minimum(drawn, saturation_hum_ratios(temps, pressure_Pa))
    return None
