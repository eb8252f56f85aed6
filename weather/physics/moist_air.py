"""Moist-air properties, SI, as compiled functions of floats.

The equations are those of psychrolib 2.5.0, which are those of the ASHRAE Handbook - Fundamentals
(2017) chapter 1: ideal gases, saturation pressure over ice below the triple point and over liquid
water above it, no enhancement factor. Against real-gas properties saturation humidity is 0.4 to
0.5 % low between 4 and 36 C (computed with CoolProp 8.0.0).

They are written out here instead of calling psychrolib because its unit system is a switch that
any other import can turn, and because its errors vanish inside compiled calls; the tests hold the
two equal. Temperatures in C, pressures in Pa, humidity ratios in kg of water per kg of dry air,
enthalpies in J per kg of dry air. Every function takes floats, gives floats (NaN for NaN) and
raises nothing: callers check, once. Those that are arithmetic alone take arrays as they stand;
moist_air_arrays.py has the others for many states at once.
"""

import math
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from dewledger.weather.numerics.compiled import apart, compiled, within_callers
from dewledger.weather.numerics.false_position import Bracket, meeting, narrowed

FloatArray = npt.NDArray[np.float64]
Numbers = TypeVar("Numbers", float, FloatArray)

# Fundamentals 2017 ch. 1 eq. 30: h = 1.006 T + W (2501 + 1.86 T), kJ/kg.
CP_DRY_AIR = 1006.0  # J/(kg K)
CP_VAPOR = 1860.0  # J/(kg K)
VAPOR_HEAT_0C = 2_501_000.0  # J/kg, enthalpy of saturated vapor at 0 C
MASS_RATIO = 0.621945  # molar mass of water over that of dry air, eq. 20
ZERO_C_K = 273.15
STANDARD_PRESSURE_PA = 101325.0
# Standard air: 1.204 kg/m3, the density at which catalog air flows are stated (0.075 lb/ft3).
STANDARD_AIR_DENSITY = 1.204


@compiled
@apart
def equation_5_6(temp_C: float) -> float:
    """Saturation pressure of water [Pa] at ``temp_C``, -100 to 200 C.

    Valid from -100 to 200 C. ASHRAE Fundamentals 2017 ch. 1 eq. 5 (ice) and 6 (liquid water).
    """
    t = temp_C + 273.15
    if t <= 0.0:
        return math.nan  # no such temperature; a search may have gone there
    inverse = 1.0 / t
    if temp_C <= 0.01:
        ln_pws = (
            -5.6745359e03 * inverse
            + 6.3925247
            + t * (-9.677843e-03 + t * (6.2215701e-07 + t * (2.0747825e-09 - 9.484024e-13 * t)))
            + 4.1635019 * math.log(t)
        )
    else:
        ln_pws = (
            -5.8002206e03 * inverse
            + 1.3914993
            + t * (-4.8640239e-02 + t * (4.1764768e-05 - 1.4452093e-08 * t))
            + 6.5459673 * math.log(t)
        )
    return math.exp(ln_pws)


@compiled
@apart
def equation_5_6_slope(temp_C: float, pressure_sat: float) -> float:
    """Derivative of eq. 5 and 6 [Pa/K] of ASHRAE Fundamentals 2017 ch. 1 at a temperature [C] and
    its saturation pressure [Pa]."""
    t = temp_C + 273.15
    inverse = 1.0 / t
    if temp_C <= 0.01:
        d_ln = (
            5.6745359e03 * inverse * inverse
            - 9.677843e-03
            + t * (2 * 6.2215701e-07 + t * (3 * 2.0747825e-09 - 4 * 9.484024e-13 * t))
            + 4.1635019 * inverse
        )
    else:
        d_ln = (
            5.8002206e03 * inverse * inverse
            - 4.8640239e-02
            + t * (2 * 4.1764768e-05 - 3 * 1.4452093e-08 * t)
            + 6.5459673 * inverse
        )
    return pressure_sat * d_ln


# An hour asks for the saturation pressure some twenty times: between these temperatures it comes
# from a polynomial of degree 5 for each kelvin, which is eq. 5 and 6 to 2e-12 of the pressure.
TABLE_FIRST_C = -60
TABLE_LAST_C = 100
TABLE_DEGREE = 5


def _table() -> FloatArray:
    """Coefficients for (place in the cell - 0.5), rising powers: (cells, degree + 1)."""
    count = TABLE_DEGREE + 1
    # Chebyshev's nodes, which keep the interpolation's error even over the cell.
    nodes = 0.5 * np.cos((2.0 * np.arange(count) + 1.0) / (2.0 * count) * math.pi)
    first = np.arange(TABLE_FIRST_C, TABLE_LAST_C, dtype=np.float64)
    t = (first + 0.5)[:, None] + nodes[None, :] + 273.15
    ice = np.exp(
        -5.6745359e03 / t
        + 6.3925247
        + t * (-9.677843e-03 + t * (6.2215701e-07 + t * (2.0747825e-09 - 9.484024e-13 * t)))
        + 4.1635019 * np.log(t)
    )
    water = np.exp(
        -5.8002206e03 / t
        + 1.3914993
        + t * (-4.8640239e-02 + t * (4.1764768e-05 - 1.4452093e-08 * t))
        + 6.5459673 * np.log(t)
    )
    values = np.where(first[:, None] < 0.0, ice, water)
    powers = np.vander(nodes, count, increasing=True)
    return np.ascontiguousarray(np.linalg.solve(powers, values.T).T)


TABLE = _table()


@compiled
def in_table(temp_C: float) -> bool:
    """Whether the table holds at a temperature [C]: not outside it, and not about the triple point,
    where ice ends within a cell (ASHRAE Fundamentals 2017 ch. 1 eq. 5 and 6)."""
    # A hair below 0 C would round up into the first cell of liquid water.
    return (temp_C >= -60.0 and temp_C < -1e-9) or (temp_C > 0.01 and temp_C < 100.0)


@compiled
@within_callers
def saturation_pressure(temp_C: float) -> float:
    """Saturation pressure of water [Pa] at a temperature [C], over ice up to 0.01 C.

    ASHRAE Fundamentals 2017 ch. 1 eq. 5 (ice, from -100 C) and 6 (liquid water, to 200 C); from
    the table where it holds.
    """
    if not in_table(temp_C):
        return equation_5_6(temp_C)
    place = temp_C + 60.0
    k = int(place)
    x = place - k - 0.5
    return float(
        TABLE[k, 0]
        + x
        * (
            TABLE[k, 1]
            + x * (TABLE[k, 2] + x * (TABLE[k, 3] + x * (TABLE[k, 4] + x * TABLE[k, 5])))
        )
    )


@compiled
@within_callers
def saturation_pressure_slope_and_bend(temp_C: float) -> tuple[float, float, float]:
    """``saturation_pressure`` [Pa], its slope [Pa/K] and the slope's own [Pa/K2] at a temperature
    [C], by one look into the table.

    ASHRAE Fundamentals 2017 ch. 1 eq. 5 and 6 and their derivatives; beyond the table the bend is
    that of a pressure that grows by a constant factor.
    """
    if not in_table(temp_C):
        pressure = equation_5_6(temp_C)
        slope = equation_5_6_slope(temp_C, pressure)
        return pressure, slope, slope * slope / pressure
    place = temp_C + 60.0
    k = int(place)
    x = place - k - 0.5
    a, b, c = TABLE[k, 1], TABLE[k, 2], TABLE[k, 3]
    d, e = TABLE[k, 4], TABLE[k, 5]
    pressure = TABLE[k, 0] + x * (a + x * (b + x * (c + x * (d + x * e))))
    slope = a + x * (2.0 * b + x * (3.0 * c + x * (4.0 * d + x * (5.0 * e))))
    bend = 2.0 * b + x * (6.0 * c + x * (12.0 * d + x * (20.0 * e)))
    return float(pressure), float(slope), float(bend)


@compiled
@within_callers
def saturation_pressure_and_slope(temp_C: float) -> tuple[float, float]:
    """``saturation_pressure`` [Pa] and its slope [Pa/K] at a temperature [C].

    ASHRAE Fundamentals 2017 ch. 1 eq. 5 and 6 and their derivative.
    """
    pressure, slope, _ = saturation_pressure_slope_and_bend(temp_C)
    return pressure, slope


@compiled
def saturation_pressure_slope(temp_C: float) -> float:
    """Slope of the saturation pressure [Pa/K] at a temperature [C].

    Derivative of ASHRAE Fundamentals 2017 ch. 1 eq. 5 and 6.
    """
    _, slope = saturation_pressure_and_slope(temp_C)
    return slope


@compiled
def hum_ratio_from_vapor_pressure(vapor_pressure: Numbers, pressure: Numbers) -> Numbers:
    """Humidity ratio [kg/kg] at a vapor pressure and a total pressure [Pa].

    ASHRAE Fundamentals 2017 ch. 1 eq. 20. Negative where the vapor pressure is above the total.
    """
    return 0.621945 * vapor_pressure / (pressure - vapor_pressure)


@compiled
def vapor_pressure_from_hum_ratio(hum_ratio: Numbers, pressure: Numbers) -> Numbers:
    """Vapor pressure [Pa] at a humidity ratio [kg/kg] and a total pressure [Pa].

    ASHRAE Fundamentals 2017 ch. 1 eq. 20 turned round.
    """
    return pressure * hum_ratio / (0.621945 + hum_ratio)


@compiled
def saturation_hum_ratio(temp_C: float, pressure: float) -> float:
    """Humidity ratio of saturated air [kg/kg] at a temperature [C] and a pressure [Pa].

    ASHRAE Fundamentals 2017 ch. 1 eq. 21.
    """
    return hum_ratio_from_vapor_pressure(saturation_pressure(temp_C), pressure)


@compiled
@within_callers
def saturation_hum_ratio_slope_and_bend(
    temp_C: float, pressure: float
) -> tuple[float, float, float]:
    """Humidity ratio of saturated air [kg/kg], its slope [1/K] and the slope's own [1/K2], at [C]
    and [Pa].

    ASHRAE Fundamentals 2017 ch. 1 eq. 21 and its derivatives at constant pressure.
    """
    pws, pws_slope, pws_bend = saturation_pressure_slope_and_bend(temp_C)
    inverse = 1.0 / (pressure - pws)
    per_Pa = 0.621945 * pressure * inverse * inverse
    bend = per_Pa * (pws_bend + 2.0 * pws_slope * pws_slope * inverse)
    return 0.621945 * pws * inverse, per_Pa * pws_slope, bend


@compiled
@within_callers
def saturation_hum_ratio_and_slope(temp_C: float, pressure: float) -> tuple[float, float]:
    """Humidity ratio of saturated air [kg/kg] and its slope [1/K], at [C] and [Pa].

    ASHRAE Fundamentals 2017 ch. 1 eq. 21 and its derivative at constant pressure.
    """
    w, slope, _ = saturation_hum_ratio_slope_and_bend(temp_C, pressure)
    return w, slope


@compiled
def hum_ratio_from_rel_hum(temp_C: float, rel_hum: float, pressure: float) -> float:
    """Humidity ratio [kg/kg] at a dry bulb [C], a relative humidity [1] and a pressure [Pa].

    ASHRAE Fundamentals 2017 ch. 1 eq. 12 and 20.
    """
    return hum_ratio_from_vapor_pressure(rel_hum * saturation_pressure(temp_C), pressure)


@compiled
def rel_hum_from_hum_ratio(temp_C: float, hum_ratio: float, pressure: float) -> float:
    """Relative humidity [1] at a dry bulb [C], a humidity ratio [kg/kg] and a pressure [Pa].

    Above 1 where the air holds more than saturation. ASHRAE Fundamentals 2017 ch. 1 eq. 12 and 20
    turned round.
    """
    return vapor_pressure_from_hum_ratio(hum_ratio, pressure) / saturation_pressure(temp_C)


@compiled
def enthalpy(temp_C: Numbers, hum_ratio: Numbers) -> Numbers:
    """Enthalpy of moist air [J/kg dry air] at a dry bulb [C] and a humidity ratio [kg/kg].

    Zero for dry air and liquid water at 0 C. ASHRAE Fundamentals 2017 ch. 1 eq. 30.
    """
    return 1006.0 * temp_C + hum_ratio * (2_501_000.0 + 1860.0 * temp_C)


@compiled
def temp_from_enthalpy(enthalpy_J_kg: Numbers, hum_ratio: Numbers) -> Numbers:
    """Dry bulb [C] at an enthalpy [J/kg dry air] and a humidity ratio [kg/kg].

    ASHRAE Fundamentals 2017 ch. 1 eq. 30 turned round.
    """
    return (enthalpy_J_kg - 2_501_000.0 * hum_ratio) / (1006.0 + 1860.0 * hum_ratio)


@compiled
def hum_ratio_from_enthalpy(enthalpy_J_kg: float, temp_C: Numbers) -> Numbers:
    """Humidity ratio [kg/kg] at an enthalpy [J/kg dry air] and a dry bulb [C].

    ASHRAE Fundamentals 2017 ch. 1 eq. 30 turned round.
    """
    return (enthalpy_J_kg - 1006.0 * temp_C) / (2_501_000.0 + 1860.0 * temp_C)


@compiled
def heat_capacity(hum_ratio: Numbers) -> Numbers:
    """Specific heat of moist air [J/(kg dry air K)] at a humidity ratio [kg/kg].

    Slope of ASHRAE Fundamentals 2017 ch. 1 eq. 30 at constant humidity ratio.
    """
    return 1006.0 + 1860.0 * hum_ratio


@compiled
def vapor_enthalpy(temp_C: Numbers) -> Numbers:
    """Enthalpy of water vapor [J/kg] at a temperature [C].

    Second term of ASHRAE Fundamentals 2017 ch. 1 eq. 30.
    """
    return 2_501_000.0 + 1860.0 * temp_C


@compiled
def temp_from_saturation_pressure(vapor_pressure: float) -> float:
    """Temperature [C] at which water saturates at a vapor pressure above zero [Pa].

    Newton on the logarithm of ASHRAE Fundamentals 2017 ch. 1 eq. 5 and 6, started from a Magnus
    formula; exact to 1e-10 K. The two equations meet at 611.65 Pa with a step of 2e-5, inside
    which either branch will do.
    """
    ln_target = math.log(vapor_pressure)
    x = ln_target - 6.414778  # ln(610.94), the Magnus constant in Pa
    temp = 243.04 * x / (17.625 - x)
    for _ in range(30):
        pressure_sat, slope = saturation_pressure_and_slope(temp)
        step = (math.log(pressure_sat) - ln_target) / (slope / pressure_sat)
        temp -= step
        if abs(step) < 1e-10:
            break
    return temp


@compiled
def dew_point(hum_ratio: float, pressure: float) -> float:
    """Dew point [C] at a humidity ratio above zero [kg/kg] and a pressure [Pa].

    Where the air saturates at its own humidity ratio: ASHRAE Fundamentals 2017 ch. 1 eq. 5, 6 and
    20, solved.
    """
    return temp_from_saturation_pressure(vapor_pressure_from_hum_ratio(hum_ratio, pressure))


@compiled
def saturation_enthalpy(temp_C: float, pressure: float) -> float:
    """Enthalpy of saturated air [J/kg dry air] at a temperature [C] and a pressure [Pa].

    ASHRAE Fundamentals 2017 ch. 1 eq. 30 at the humidity ratio of eq. 21.
    """
    return enthalpy(temp_C, saturation_hum_ratio(temp_C, pressure))


@compiled
def saturation_temp_from_enthalpy(enthalpy_J_kg: float, pressure: float, start_C: float) -> float:
    """Temperature [C] of saturated air at an enthalpy [J/kg dry air] and a pressure [Pa].

    Newton from ``start_C`` on ASHRAE Fundamentals 2017 ch. 1 eq. 30 and 21, to 1e-10 K.
    """
    temp = start_C
    for _ in range(50):
        w, slope_w = saturation_hum_ratio_and_slope(temp, pressure)
        step = (enthalpy(temp, w) - enthalpy_J_kg) / (
            1006.0 + 1860.0 * w + slope_w * (2_501_000.0 + 1860.0 * temp)
        )
        step = min(max(step, -20.0), 20.0)
        temp -= step
        if abs(step) < 1e-10:
            break
    return temp


@compiled
def equation_33(temp_C: Numbers, wet_bulb_C: Numbers, saturated: Numbers) -> Numbers:
    """Humidity ratio [kg/kg] at a dry bulb and a wet bulb of 0 C or more [C], of which the humidity
    ratio of saturated air is ``saturated`` [kg/kg]: ASHRAE Fundamentals 2017 ch. 1 eq. 33."""
    return ((2501.0 - 2.326 * wet_bulb_C) * saturated - 1.006 * (temp_C - wet_bulb_C)) / (
        2501.0 + 1.86 * temp_C - 4.186 * wet_bulb_C
    )


@compiled
def equation_35(temp_C: Numbers, wet_bulb_C: Numbers, saturated: Numbers) -> Numbers:
    """``equation_33`` at a wet bulb below 0 C: ASHRAE Fundamentals 2017 ch. 1 eq. 35."""
    return ((2830.0 - 0.24 * wet_bulb_C) * saturated - 1.006 * (temp_C - wet_bulb_C)) / (
        2830.0 + 1.86 * temp_C - 2.1 * wet_bulb_C
    )


@compiled
def hum_ratio_from_wet_bulb(temp_C: float, wet_bulb_C: float, pressure: float) -> float:
    """Humidity ratio [kg/kg] at a dry bulb and a wet bulb [C] and a pressure [Pa].

    ASHRAE Fundamentals 2017 ch. 1 eq. 33 from 0 C up, 35 below.
    """
    saturated = saturation_hum_ratio(wet_bulb_C, pressure)
    if wet_bulb_C >= 0.0:
        return equation_33(temp_C, wet_bulb_C, saturated)
    return equation_35(temp_C, wet_bulb_C, saturated)


@compiled
@within_callers
def _hum_ratio_from_warm_wet_bulb(
    temp_C: float, wet_bulb_C: float, pressure: float
) -> tuple[float, float, float]:
    """Eq. 33, and its derivatives by the wet bulb [1/K] and [1/K2]."""
    w_star, slope, bend = saturation_hum_ratio_slope_and_bend(wet_bulb_C, pressure)
    heat = 2501.0 - 2.326 * wet_bulb_C
    inverse = 1.0 / (2501.0 + 1.86 * temp_C - 4.186 * wet_bulb_C)
    w = (heat * w_star - 1.006 * (temp_C - wet_bulb_C)) * inverse
    w_slope = (heat * slope - 2.326 * w_star + 1.006 + 4.186 * w) * inverse
    return w, w_slope, (heat * bend - 2.0 * 2.326 * slope + 2.0 * 4.186 * w_slope) * inverse


@compiled
def wet_bulb(temp_C: float, hum_ratio: float, pressure: float) -> float:
    """Thermodynamic wet bulb [C], to 1e-9 K, at a dry bulb [C], a humidity ratio not above
    saturation [kg/kg] and a pressure [Pa].

    ASHRAE Fundamentals 2017 ch. 1 eq. 33 and 35, solved. Chebyshev's steps, which are Newton's with
    the bend of the curve, from the dry bulb where the answer is above 1 C. Else false position
    between the dew point and the dry bulb: the two equations do not meet at 0 C, and a bracket
    cannot be misled by the step.
    """
    if temp_C > 1.0 and _hum_ratio_from_warm_wet_bulb(temp_C, 1.0, pressure)[0] < hum_ratio:
        found = temp_C
        for look in range(50):
            w, slope, bend = _hum_ratio_from_warm_wet_bulb(temp_C, found, pressure)
            inverse = 1.0 / slope
            step = (w - hum_ratio) * inverse
            if look == 0 and step <= 0.0:
                break
            step = min(step * (1.0 + 0.5 * bend * inverse * step), found - 1.0)
            found -= step
            if abs(step) < 5e-3:  # what is left is a thousandth of its cube
                break
        return found
    low = min(dew_point(max(hum_ratio, 1e-7), pressure), temp_C) - 1e-9
    high = temp_C
    f_low = hum_ratio_from_wet_bulb(temp_C, low, pressure) - hum_ratio
    f_high = hum_ratio_from_wet_bulb(temp_C, high, pressure) - hum_ratio
    if f_high <= 0.0:
        return temp_C
    bracket = Bracket(low, f_low, high, f_high, 0)
    middle = high
    for _ in range(100):
        middle = meeting(bracket)
        f = hum_ratio_from_wet_bulb(temp_C, middle, pressure) - hum_ratio
        bracket = narrowed(bracket, middle, f)
        if bracket.high - bracket.low < 1e-9 or abs(f) < 1e-14:
            break
    return middle


@compiled
def specific_volume(temp_C: Numbers, hum_ratio: Numbers, pressure: Numbers) -> Numbers:
    """Volume of moist air [m3/kg dry air] at a dry bulb [C], a humidity ratio [kg/kg] and a
    pressure [Pa].

    ASHRAE Fundamentals 2017 ch. 1 eq. 26.
    """
    return 287.042 * (temp_C + 273.15) * (1.0 + 1.607858 * hum_ratio) / pressure


@compiled
def standard_pressure(altitude_m: Numbers) -> Numbers:
    """Pressure of the standard atmosphere [Pa] at an altitude [m].

    Valid from -5000 to 11,000 m. ASHRAE Fundamentals 2017 ch. 1 eq. 3.
    """
    return 101325.0 * (1.0 - 2.25577e-05 * altitude_m) ** 5.2559  # type: ignore[no-any-return]
