"""Moist air over arrays: what moist_air.py says of one state, said of many at once.

What is arithmetic alone in moist_air.py takes arrays as it stands. Here is the rest: saturation
from the same table, and the two searches, dew point and wet bulb, each a program that Python calls
with all its states (ASHRAE Fundamentals 2017 ch. 1). Arguments are arrays or floats that broadcast;
units are those of the functions there. Nothing is raised: where there is no such air the answer
is NaN, infinite or negative.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from dewledger.weather.numerics.compiled import program
from dewledger.weather.physics.moist_air import (
    TABLE,
    TABLE_DEGREE,
    TABLE_FIRST_C,
    FloatArray,
    dew_point,
    equation_5_6,
    equation_5_6_slope,
    equation_33,
    equation_35,
    hum_ratio_from_vapor_pressure,
    vapor_pressure_from_hum_ratio,
    wet_bulb,
)

Values = FloatArray | float

_COLUMNS = np.ascontiguousarray(TABLE.T)


def saturation_pressures(temp_C: Values) -> FloatArray:
    """Saturation pressures of water [Pa] at temperatures [C], of the shape of these.

    ASHRAE Fundamentals 2017 ch. 1 eq. 5 and 6, from the table where it holds.
    """
    temp, held, cell, x = _places(temp_C)
    found: FloatArray = _COLUMNS[TABLE_DEGREE].take(cell)
    for power in range(TABLE_DEGREE - 1, -1, -1):
        found *= x
        found += _COLUMNS[power].take(cell)
    if not held.all():
        found[~held] = [equation_5_6(one) for one in temp[~held].tolist()]
    return found.reshape(np.shape(temp_C))


def saturation_pressures_and_slopes(temp_C: Values) -> tuple[FloatArray, FloatArray]:
    """``saturation_pressures`` [Pa] and their slopes [Pa/K] at temperatures [C].

    Derivative of ASHRAE Fundamentals 2017 ch. 1 eq. 5 and 6.
    """
    temp, held, cell, x = _places(temp_C)
    found: FloatArray = _COLUMNS[TABLE_DEGREE].take(cell)
    slope = np.zeros_like(found)
    for power in range(TABLE_DEGREE - 1, -1, -1):
        slope *= x
        slope += found
        found *= x
        found += _COLUMNS[power].take(cell)
    if not held.all():
        beyond = temp[~held].tolist()
        found[~held] = pressures = [equation_5_6(one) for one in beyond]
        slope[~held] = [equation_5_6_slope(*at) for at in zip(beyond, pressures, strict=True)]
    return found.reshape(np.shape(temp_C)), slope.reshape(np.shape(temp_C))


def _places(
    temp_C: Values,
) -> tuple[FloatArray, npt.NDArray[np.bool_], npt.NDArray[np.intp], FloatArray]:
    """Temperatures in one row, whether the table holds there (``in_table``), cell, place in it."""
    temp = np.asarray(temp_C, dtype=np.float64).ravel()
    held = ((temp >= -60.0) & (temp < -1e-9)) | ((temp > 0.01) & (temp < 100.0))
    place: FloatArray = np.where(held, temp - TABLE_FIRST_C, 0.0)
    cell = place.astype(np.intp)
    place -= cell
    place -= 0.5
    return temp, held, cell, place


def saturation_hum_ratios(temp_C: Values, pressure_Pa: Values) -> FloatArray:
    """Humidity ratios of saturated air [kg/kg] at temperatures [C] and pressures [Pa].

    ASHRAE Fundamentals 2017 ch. 1 eq. 21.
    """
    return _ratios(saturation_pressures(temp_C), pressure_Pa)


def hum_ratios_from_rel_hum(temp_C: Values, rel_hum: Values, pressure_Pa: Values) -> FloatArray:
    """Humidity ratios [kg/kg] at dry bulbs [C], relative humidities [1] and pressures [Pa].

    ASHRAE Fundamentals 2017 ch. 1 eq. 12 and 20.
    """
    return _ratios(rel_hum * saturation_pressures(temp_C), pressure_Pa)


def _ratios(vapor_pressure: FloatArray, pressure_Pa: Values) -> FloatArray:
    with np.errstate(all="ignore"):
        return hum_ratio_from_vapor_pressure(vapor_pressure, np.asarray(pressure_Pa))


def rel_hums_from_hum_ratio(temp_C: Values, hum_ratio: Values, pressure_Pa: Values) -> FloatArray:
    """Relative humidities [1] at dry bulbs [C], humidity ratios [kg/kg] and pressures [Pa].

    ASHRAE Fundamentals 2017 ch. 1 eq. 12 and 20 turned round.
    """
    vapor_pressure = vapor_pressure_from_hum_ratio(np.asarray(hum_ratio), np.asarray(pressure_Pa))
    return vapor_pressure / saturation_pressures(temp_C)


def hum_ratios_from_wet_bulb(temp_C: Values, wet_bulb_C: Values, pressure_Pa: Values) -> FloatArray:
    """Humidity ratios [kg/kg] at dry bulbs and wet bulbs [C] and pressures [Pa].

    ASHRAE Fundamentals 2017 ch. 1 eq. 33 from 0 C up, 35 below.
    """
    saturated = saturation_hum_ratios(wet_bulb_C, pressure_Pa)
    temp, wet = np.asarray(temp_C), np.asarray(wet_bulb_C)
    return np.where(
        wet >= 0.0, equation_33(temp, wet, saturated), equation_35(temp, wet, saturated)
    )


def dew_points(hum_ratio: Values, pressure_Pa: Values) -> FloatArray:
    """Dew points [C] at humidity ratios above zero [kg/kg] and pressures [Pa].

    ASHRAE Fundamentals 2017 ch. 1 eq. 5, 6 and 20, solved.
    """
    ratios, pressures = in_rows(hum_ratio, pressure_Pa)
    out = np.empty(ratios.size)
    find_dew_points(ratios, pressures, out)
    return out.reshape(np.broadcast_shapes(np.shape(hum_ratio), np.shape(pressure_Pa)))


def wet_bulbs(temp_C: Values, hum_ratio: Values, pressure_Pa: Values) -> FloatArray:
    """Wet bulbs [C] at dry bulbs [C], humidity ratios not above saturation [kg/kg], pressures [Pa].

    ASHRAE Fundamentals 2017 ch. 1 eq. 33 and 35, solved.
    """
    temps, ratios, pressures = in_rows(temp_C, hum_ratio, pressure_Pa)
    out = np.empty(temps.size)
    find_wet_bulbs(temps, ratios, pressures, out)
    return out.reshape(np.broadcast_shapes(*map(np.shape, (temp_C, hum_ratio, pressure_Pa))))


def in_rows(*values: Values) -> list[FloatArray]:
    """Values, broadcast, each in a row of its own as a program takes them; units [1] stay."""
    return [np.array(one, dtype=np.float64).ravel() for one in np.broadcast_arrays(*values)]


@program()
def find_dew_points(hum_ratio: FloatArray, pressure_Pa: FloatArray, out: FloatArray) -> None:
    """``dew_point`` [C] of each state, into ``out``; arrays of one dimension."""
    for i in range(out.size):
        out[i] = dew_point(hum_ratio[i], pressure_Pa[i])


@program()
def find_wet_bulbs(
    temp_C: FloatArray, hum_ratio: FloatArray, pressure_Pa: FloatArray, out: FloatArray
) -> None:
    """``wet_bulb`` [C] of each state, into ``out``; arrays of one dimension."""
    for i in range(out.size):
        out[i] = wet_bulb(temp_C[i], hum_ratio[i], pressure_Pa[i])
