"""Moist air for those who ask from outside: scalars, arrays or Series, checked before and after.

The equations are those of the hourly account (ASHRAE Handbook, Fundamentals 2017, chapter 1). SI
units; humidity ratios in kg of water per kg of dry air, relative humidity as a fraction. A scalar
gives a float, an array an array, a Series a Series with the same index; several are broadcast.
What is no state of moist air raises ``InputError``: nothing here answers NaN.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt
import pandas as pd

from dewledger.components.cooling_coil import find_coil_leaving
from dewledger.quantities import rounded
from dewledger.weather.errors import InputError
from dewledger.weather.physics import moist_air, moist_air_arrays

Values = TypeVar("Values", float, npt.NDArray[np.float64], "pd.Series[float]")

STANDARD_PRESSURE_PA = moist_air.STANDARD_PRESSURE_PA

# What each argument may be: the validity of the saturation equations, and the weather of the earth.
_LIMITS = {
    "temp_C": (-100.0, 200.0, "C", "24"),
    "dew_point_C": (-100.0, 100.0, "C", "12"),
    "wet_bulb_C": (-100.0, 100.0, "C", "18"),
    "surface_C": (-60.0, 100.0, "C", "8"),
    "humidity_ratio": (0.0, 1.0, "kg/kg", "0.010"),
    "relative_humidity": (0.0, 1.0, "as a fraction", "0.55"),
    "pressure_Pa": (20_000.0, 200_000.0, "Pa", "101325"),
    "bypass_factor": (0.0, 1.0, "as a fraction", "0.1"),
    "altitude_m": (-500.0, 10_000.0, "m", "300"),
    "enthalpy_J_kg": (-1e5, 2e6, "J/kg", "50000"),
}
# Rounding may carry saturated air this far beyond saturation.
_SATURATED = 1.0 + 1e-9


def _checked(name: str, values: Any) -> npt.NDArray[np.float64]:
    """An argument as float64; InputError where any of it cannot be."""
    low, high, unit, example = _LIMITS[name]
    try:
        array = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise InputError(f"{name} is no number; write {unit}, such as {example}") from None
    good = (array >= low) & (array <= high)
    if not good.all():
        wrong = float(array[~good].flat[0])
        said = "not a number" if np.isnan(wrong) else f"{wrong:g}"
        raise InputError(
            f"{name} {said} is out of range; write {low:g} to {high:g} {unit}, such as {example}"
        )
    return array


def _like(result: npt.NDArray[np.float64], *given: Any) -> Any:
    """The result as what was given: a Series of the same index, an array, or a float."""
    for values in given:
        if isinstance(values, pd.Series):
            return pd.Series(result, index=values.index)
    return float(result) if result.ndim == 0 else result


def _apply(function: Callable[..., Any], **arguments: Any) -> Any:
    """A function of arrays over checked arguments of any kind."""
    return _like(_computed(function, arguments), *arguments.values())


def _computed(function: Callable[..., Any], arguments: dict[str, Any]) -> npt.NDArray[np.float64]:
    arrays = [_checked(name, values) for name, values in arguments.items()]
    indexes = [v.index for v in arguments.values() if isinstance(v, pd.Series)]
    if any(not index.equals(indexes[0]) for index in indexes[1:]):
        raise InputError("the Series have different indexes; give all of them one index")
    try:
        result = np.asarray(function(*np.broadcast_arrays(*arrays)))
    except ValueError:
        shapes = ", ".join(f"{n} {np.shape(v)}" for n, v in arguments.items())
        raise InputError(f"shapes that do not go together: {shapes}; give one shape") from None
    if not np.isfinite(result).all():
        raise InputError(f"no such moist air: {', '.join(arguments)} do not agree")
    return result


def _require_not_fog(humidity_ratio: Any, temp_C: Any, pressure_Pa: Any, what: str) -> None:
    saturated = _apply(
        moist_air_arrays.saturation_hum_ratios, temp_C=temp_C, pressure_Pa=pressure_Pa
    )
    lowest = np.asarray(saturated, dtype=np.float64)
    beyond = np.asarray(humidity_ratio, dtype=np.float64) > lowest * _SATURATED
    if np.any(beyond | (lowest < 0.0)):
        raise InputError(f"{what}; write a drier or a warmer state")


def saturation_pressure(temp_C: Values) -> Values:
    """Saturation pressure of water vapor [Pa] at a temperature [C], over ice below 0 C."""
    return _apply(moist_air_arrays.saturation_pressures, temp_C=temp_C)  # type: ignore[no-any-return]


def humidity_ratio(
    temp_C: Values, relative_humidity: Values, pressure_Pa: Values | float = STANDARD_PRESSURE_PA
) -> Values:
    """Humidity ratio [kg/kg] at a dry bulb [C], relative humidity [fraction], pressure [Pa]."""
    found = _apply(
        moist_air_arrays.hum_ratios_from_rel_hum,
        temp_C=temp_C, relative_humidity=relative_humidity, pressure_Pa=pressure_Pa,
    )  # fmt: skip
    if np.any(np.asarray(found) < 0.0):
        raise InputError(
            "temp_C is above the boiling point at this pressure and humidity; write a lower one"
        )
    return found  # type: ignore[no-any-return]


def humidity_ratio_at_dew_point(
    dew_point_C: Values, pressure_Pa: Values | float = STANDARD_PRESSURE_PA
) -> Values:
    """Humidity ratio [kg/kg] of air whose dew point [C] is given."""
    found = _apply(
        moist_air_arrays.saturation_hum_ratios, dew_point_C=dew_point_C, pressure_Pa=pressure_Pa
    )
    if np.any(np.asarray(found) < 0.0):
        raise InputError(
            "dew_point_C is above the boiling point at this pressure; write a lower one"
        )
    return found  # type: ignore[no-any-return]


def humidity_ratio_at_wet_bulb(
    temp_C: Values, wet_bulb_C: Values, pressure_Pa: Values | float = STANDARD_PRESSURE_PA
) -> Values:
    """Humidity ratio [kg/kg] at a dry bulb and a wet bulb [C]."""
    if np.any(np.asarray(wet_bulb_C, dtype=float) > np.asarray(temp_C, dtype=float) + 1e-9):
        raise InputError("wet_bulb_C is above temp_C; write one at or below the dry bulb")
    found = _apply(
        moist_air_arrays.hum_ratios_from_wet_bulb,
        temp_C=temp_C, wet_bulb_C=wet_bulb_C, pressure_Pa=pressure_Pa,
    )  # fmt: skip
    if np.any(np.asarray(found) < -1e-9):
        raise InputError(
            "wet_bulb_C is below that of dry air at temp_C; write a higher one, or a lower dry bulb"
        )
    return found  # type: ignore[no-any-return]


def relative_humidity(
    temp_C: Values, humidity_ratio: Values, pressure_Pa: Values | float = STANDARD_PRESSURE_PA
) -> Values:
    """Relative humidity [fraction] at a dry bulb [C] and a humidity ratio [kg/kg]."""
    found = _apply(
        moist_air_arrays.rel_hums_from_hum_ratio,
        temp_C=temp_C, humidity_ratio=humidity_ratio, pressure_Pa=pressure_Pa,
    )  # fmt: skip
    if np.any(np.asarray(found) > _SATURATED):
        raise InputError(
            "humidity_ratio is above saturation at temp_C; write a drier or a warmer state"
        )
    return found  # type: ignore[no-any-return]


def dew_point(humidity_ratio: Values, pressure_Pa: Values | float = STANDARD_PRESSURE_PA) -> Values:
    """Dew point [C] at a humidity ratio [kg/kg], frost point below 0 C."""
    if np.any(np.asarray(humidity_ratio, dtype=float) < 1e-7):
        raise InputError(
            "humidity_ratio below 0.0000001 kg/kg has no dew point here; write a larger one"
        )
    return _apply(  # type: ignore[no-any-return]
        moist_air_arrays.dew_points, humidity_ratio=humidity_ratio, pressure_Pa=pressure_Pa
    )


def wet_bulb(
    temp_C: Values, humidity_ratio: Values, pressure_Pa: Values | float = STANDARD_PRESSURE_PA
) -> Values:
    """Thermodynamic wet bulb [C] at a dry bulb [C] and a humidity ratio [kg/kg]."""
    _require_not_fog(
        humidity_ratio, temp_C, pressure_Pa, "humidity_ratio is above saturation at temp_C"
    )
    return _apply(  # type: ignore[no-any-return]
        moist_air_arrays.wet_bulbs,
        temp_C=temp_C, humidity_ratio=humidity_ratio, pressure_Pa=pressure_Pa,
    )  # fmt: skip


def enthalpy(temp_C: Values, humidity_ratio: Values) -> Values:
    """Enthalpy of moist air [J/kg of dry air], 0 for dry air at 0 C."""
    return _apply(  # type: ignore[no-any-return]
        moist_air.enthalpy, temp_C=temp_C, humidity_ratio=humidity_ratio
    )


def specific_volume(
    temp_C: Values, humidity_ratio: Values, pressure_Pa: Values | float = STANDARD_PRESSURE_PA
) -> Values:
    """Volume of moist air [m3/kg of dry air]."""
    return _apply(  # type: ignore[no-any-return]
        moist_air.specific_volume,
        temp_C=temp_C, humidity_ratio=humidity_ratio, pressure_Pa=pressure_Pa,
    )  # fmt: skip


def standard_pressure(altitude_m: Values) -> Values:
    """Pressure of the standard atmosphere [Pa] at an altitude [m]."""
    return _apply(moist_air.standard_pressure, altitude_m=altitude_m)  # type: ignore[no-any-return]


def cooling_coil(
    temp_C: Values,
    humidity_ratio: Values | float,
    surface_C: Values | float,
    bypass_factor: Values | float,
    pressure_Pa: Values | float = STANDARD_PRESSURE_PA,
) -> tuple[Values, Values]:
    """Air leaving a cooling coil: dry bulb [C] and humidity ratio [kg/kg].

    Apparatus dew point and bypass factor: what passes untouched is mixed with air saturated at the
    surface's temperature; a surface above the entering dew point removes no moisture. Scalars,
    arrays or Series.

    Parameters
    ----------
    temp_C, humidity_ratio : of the entering air
    surface_C : apparatus dew point; at or below temp_C
    bypass_factor : share of the air that passes untouched, 0 to 1

    Raises
    ------
    InputError : fog enters, the surface is warmer than the air, or a figure is out of range
    """
    arguments = {
        "temp_C": temp_C, "humidity_ratio": humidity_ratio, "surface_C": surface_C,
        "bypass_factor": bypass_factor, "pressure_Pa": pressure_Pa,
    }  # fmt: skip
    numbers = {name: _checked(name, value) for name, value in arguments.items()}
    if np.any(np.asarray(surface_C) > np.asarray(temp_C)):
        raise InputError(
            f"surface_C {rounded(float(np.max(numbers['surface_C'])))} is above the entering air; "
            f"write one at or below {rounded(float(np.min(numbers['temp_C'])))} C"
        )
    _require_not_fog(humidity_ratio, temp_C, pressure_Pa, "the entering air is fog")
    temp, ratio = _computed(_coil_leaving, arguments)
    return _like(temp, *arguments.values()), _like(ratio, *arguments.values())


def _coil_leaving(*state: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    temps, ratios, surfaces, bypasses, pressures = moist_air_arrays.in_rows(*state)
    out = np.empty((2, temps.size))
    find_coil_leaving(temps, ratios, surfaces, bypasses, pressures, out)
    return out.reshape((2, *np.broadcast_shapes(*map(np.shape, state))))
