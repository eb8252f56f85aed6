"""What no building can be: the moisture of a case before its year is solved, the room after it."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from dewledger.hourly.ledger import INDEX
from dewledger.hourly.types import DRIVERS, FAN_OFF
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import (
    MASS_RATIO,
    VAPOR_HEAT_0C,
    FloatArray,
    saturation_pressure,
)

# No room that is heated or cooled is outside these [C].
COLDEST_C = -40.0
HOTTEST_C = 60.0
_CLOSURES = ("heat_closure_W", "water_closure_kg_h", "refrigerant_closure_W")


def _driver(drivers: FloatArray, name: str) -> FloatArray:
    values: FloatArray = drivers[:, DRIVERS.index(name)]
    return values


def require_carried(drivers: FloatArray, infiltration_kg_s: float, capacity_W: float) -> None:
    """Refuse a case whose moisture has nowhere to go.

    Over the year the stated moisture is at most what saturated air that leaves the room carries,
    at the cooling set point, and what the unit condenses with its whole rated capacity.

    Parameters
    ----------
    drivers : (hours, len(DRIVERS)) of the year
    infiltration_kg_s : the room's infiltration at full
    capacity_W : rated capacity of all that cools the room

    Raises
    ------
    InputError : there is more
    """
    moisture = float(_driver(drivers, "gains_moisture_kg_s").mean())
    if moisture <= 0.0:
        return
    room_C = _driver(drivers, "cooling_setpoint_C")
    saturated = np.zeros(room_C.shape)
    for temp in np.unique(room_C):
        saturated[room_C == temp] = saturation_pressure(float(temp))
    w_room = MASS_RATIO * saturated / (_driver(drivers, "pressure_Pa") - saturated)
    leak = infiltration_kg_s * _driver(drivers, "infiltration_share")
    fresh = _driver(drivers, "outdoor_air_kg_s") + _driver(drivers, "make_up_kg_s") + leak
    dry = np.maximum(w_room - _driver(drivers, "outdoor_hum_ratio_kg_kg"), 0.0)
    runs = _driver(drivers, "fan_mode") != FAN_OFF
    unit = capacity_W / VAPOR_HEAT_0C
    carried = float((fresh * dry + unit * runs).mean())
    if moisture > carried:
        raise InputError(
            f"the moisture gains are {_rate(moisture)} on average over the year, and saturated air "
            f"leaving the room and the unit together can carry {_rate(carried)}; write smaller "
            "moisture gains, more outdoor air or a larger unit"
        )


def _rate(moisture_kg_s: float) -> str:
    return f"{moisture_kg_s * 3600.0 / 0.45359237:,.0f} lb/h"


def all_of_a_building(temp_C: FloatArray) -> bool:
    """Whether room temperatures, (hours,), are all that a building can have; NaN is none."""
    return bool(_of_a_building(temp_C).all())


def _of_a_building(temp_C: FloatArray) -> npt.NDArray[np.bool_]:
    return (temp_C >= COLDEST_C) & (temp_C <= HOTTEST_C)


def require_sound(ledger: FloatArray) -> None:
    """Refuse a year in which the room left all that a building can be, or a balance was lost.

    Parameters
    ----------
    ledger : (columns, hours) as solved

    Raises
    ------
    InputError : with the hour and the temperature
    """
    temp = ledger[INDEX["room_temp_C"]]
    wrong = ~_of_a_building(temp)
    for name in _CLOSURES:
        wrong |= ~np.isfinite(ledger[INDEX[name]])
    if not wrong.any():
        return
    # After an hour that ended the year all others are empty.
    reached = np.flatnonzero(wrong & np.isfinite(temp))
    hour = int(reached[0]) if reached.size else int(np.argmax(wrong))
    # A year without February 29, as the weather's.
    when = datetime(2001, 1, 1) + timedelta(hours=hour)
    label = f"{when:%b} {when.day} {when:%H}:00"
    if not np.isfinite(temp[hour]) or COLDEST_C <= temp[hour] <= HOTTEST_C:
        raise InputError(
            f"the balances of the room cannot be solved on {label}; look for a gain, an air flow "
            "or a capacity far from the usual"
        )
    raise InputError(
        f"the room reaches {temp[hour]:,.0f} C ({1.8 * temp[hour] + 32.0:,.0f} F) on {label}, "
        f"which is outside {COLDEST_C:.0f} to {HOTTEST_C:.0f} C; check gains, envelope, outdoor "
        "air and the capacity of heating and cooling"
    )
