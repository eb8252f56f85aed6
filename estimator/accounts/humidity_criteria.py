"""How far a room's humidity strays: ranges, published criteria, and mold on cold surfaces.

The criteria are a table, data/humidity_criteria.csv, each with its source and standing. Every
function here takes the arrays of a year; a year is any number of hours from 1 January on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from dewledger.data.humidity_criteria import Criterion, Quantity
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import (
    FloatArray,
    hum_ratio_from_vapor_pressure,
)
from dewledger.weather.physics.moist_air_arrays import (
    dew_points,
    hum_ratios_from_rel_hum,
    rel_hums_from_hum_ratio,
    saturation_hum_ratios,
    saturation_pressures,
)

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

# A room held exactly at a limit is inside it: these lie above what an iteration leaves over. That
# of relative humidity is half the last digit of the hourly CSV, so that hours can be counted again
# from it.
TOLERANCES: dict[Quantity, float] = {
    "relative humidity": 5e-7,  # fraction
    "dew point": 0.01,  # K
    "humidity ratio": 1e-6,  # kg/kg
}
TEMPERATURE_TOLERANCE_K = 0.01

SEASONS = {
    "Dec-Feb": (12, 1, 2),
    "Mar-May": (3, 4, 5),
    "Jun-Aug": (6, 7, 8),
    "Sep-Nov": (9, 10, 11),
}
# Hours that stand for the 0.4 % design point: 0.4 % of 8760.
DESIGN_HOURS = 35
# Seasonal cycle as the centered running mean of 30 days: EN 15757:2010, not checked against the
# text.
SEASONAL_WINDOW_H = 30 * 24


# ---------------------------------------------------------------------------------------------
# Ranges and spells


def out_of_range(rh_frac: FloatArray, low: float, high: float) -> tuple[BoolArray, BoolArray]:
    """Hours above and below a range of relative humidity.

    Parameters
    ----------
    rh_frac : room relative humidity as a fraction, (hours,)
    low, high : the range as fractions; the ends belong to it

    Returns
    -------
    above, below : (hours,) bool
    """
    tolerance = TOLERANCES["relative humidity"]
    return rh_frac > high + tolerance, rh_frac < low - tolerance


def spells(mask: BoolArray) -> tuple[IntArray, IntArray]:
    """First hours and lengths [h] of the unbroken runs in ``mask``; the year does not wrap."""
    edges = np.diff(np.concatenate(([0], mask.astype(np.int8), [0])))
    starts = np.flatnonzero(edges == 1)
    return starts, np.flatnonzero(edges == -1) - starts


def longest_spell(mask: BoolArray) -> int:
    """Length [h] of the longest unbroken run in ``mask``; 0 where there is none."""
    _, lengths = spells(mask)
    return int(lengths.max(initial=0))


def hours_by_month(mask: BoolArray, month: IntArray) -> tuple[int, ...]:
    """Hours in ``mask`` of each of the twelve months; ``month`` (hours,) 1..12."""
    return tuple(np.bincount(month[mask], minlength=13)[1:].tolist())


def moisture_beyond(
    temp_C: FloatArray,
    hum_ratio: FloatArray,
    pressure_Pa: FloatArray,
    air_kg_s: FloatArray,
    low: float,
    high: float,
) -> tuple[float, float, float]:
    """By how much a room was out of a range of relative humidity, not only how long.

    Gram-hours are the humidity ratio beyond that of the range's end at the room's own temperature,
    summed over the hours. The water is an estimate from the hours as they are, the room's moisture
    store left out: in each hour below the range, the dry air that comes in from outdoors times what
    its humidity ratio lacks to the low end.

    Parameters
    ----------
    air_kg_s : dry air that comes in from outdoors, (hours,)
    low, high : the range as fractions

    Returns
    -------
    above, below : g h/kg, both positive
    water : kg a year that a humidifier would have to add to hold the low end
    """
    saturation = saturation_pressures(temp_C)
    bottom, top = (
        hum_ratio_from_vapor_pressure(end * saturation, pressure_Pa) for end in (low, high)
    )
    over = (hum_ratio - top).clip(min=0.0)
    under = (bottom - hum_ratio).clip(min=0.0)
    water = (3600.0 * air_kg_s * under).sum()
    return 1000.0 * float(over.sum()), 1000.0 * float(under.sum()), float(water)


# ---------------------------------------------------------------------------------------------
# Criteria


@dataclass(frozen=True)
class Finding:
    """A year held against a criterion.

    judged_in : which hours the criterion speaks of, in words
    hours_judged : how many these are
    hours_above, hours_below : judged hours beyond the humidity limits
    hours_out_occupied, hours_out_unoccupied : the same hours by occupancy
    longest_spell_h, spell_start_hour : the longest unbroken run out, and its first hour of the year
    by_season, by_month : hours out; seasons are named by their months, for either hemisphere
    worst_excess : largest distance beyond a limit, in the criterion's quantity
    worst_hour : hour of the year of that distance, None where never out
    excess_hours : sum over the hours of the distance beyond the limits, quantity x h
    gram_hours_above, gram_hours_below : g h/kg beyond the limits at the room's temperature
    hours_too_warm, hours_too_cold : judged hours beyond the criterion's temperatures; None where
        it states none
    hours_out_bound, hours_out_unbound : hours out by whether the limit binds, where it does so only
        above an outdoor dew point: neither is dropped, and only the first decide; None elsewhere
    """

    criterion: Criterion
    judged_in: str
    hours_judged: int
    hours_above: int
    hours_below: int
    hours_out_occupied: int
    hours_out_unoccupied: int
    longest_spell_h: int
    spell_start_hour: int | None
    by_season: dict[str, int]
    by_month: tuple[int, ...]
    worst_excess: float
    worst_hour: int | None
    excess_hours: float
    gram_hours_above: float
    gram_hours_below: float
    hours_too_warm: int | None
    hours_too_cold: int | None
    hours_out_bound: int | None = None
    hours_out_unbound: int | None = None

    @property
    def hours_out(self) -> int:
        """Judged hours beyond the humidity limits."""
        return self.hours_above + self.hours_below

    @property
    def met(self) -> bool:
        """No judged hour beyond any stated limit, of humidity or temperature, that binds in it."""
        warm, cold = self.hours_too_warm or 0, self.hours_too_cold or 0
        out = self.hours_out if self.hours_out_bound is None else self.hours_out_bound
        return out + warm + cold == 0


def running_mean(values: FloatArray, window_h: int, centered: bool) -> FloatArray:
    """Running mean over ``window_h`` hours of a year taken as a circle, (hours,).

    Trailing (the window ends with the hour) or centered. A typical year repeats, so its first days
    are averaged with its last. A year shorter than the window is averaged whole.
    """
    size = values.size
    window = min(window_h, size)
    before = window // 2 if centered else window - 1
    circle = np.concatenate((values[size - before :], values, values[: window - 1 - before]))
    total = np.concatenate(([0.0], np.cumsum(circle)))
    return (total[window:] - total[:-window]) / window


class RoomAir(NamedTuple):
    """A room's air, hour by hour: dry bulb [C], humidity ratio [kg/kg], relative humidity as a
    fraction, pressure [Pa]; (hours,) each."""

    temp_C: FloatArray
    hum_ratio: FloatArray
    rh_frac: FloatArray
    pressure_Pa: FloatArray


def evaluate(
    criterion: Criterion,
    room: RoomAir,
    occupied: BoolArray,
    month: IntArray,
    outdoor_dew_C: FloatArray | None = None,
    design_dew_C: float | None = None,
) -> Finding:
    """Hold a year of a room against a criterion.

    Parameters
    ----------
    occupied : (hours,) bool
    month : (hours,) 1..12
    outdoor_dew_C : outdoor dew point [C], needed by a criterion judged at the design point and by
        one that binds only above an outdoor dew point
    design_dew_C : 0.4 % dehumidification design dew point [C] of the site. Where it is not given,
        or never reached, the 35 hours with the highest outdoor dew point stand for it.

    Raises
    ------
    InputError : the criterion needs the outdoor dew point and it is missing
    """
    judged_in, judged = _judged(criterion, occupied, outdoor_dew_C, design_dew_C)
    value = _value(criterion.quantity, room)
    shift = _seasonal_shift(criterion, value)
    tolerance = TOLERANCES[criterion.quantity]
    high = shift + (math.inf if criterion.high is None else criterion.high)
    low = shift + (-math.inf if criterion.low is None else criterion.low)
    over = (value - high).clip(min=0.0) * judged
    under = (low - value).clip(min=0.0) * judged
    above, below = over > tolerance, under > tolerance
    out = above | below

    def gram_hours(hours: BoolArray, limit: FloatArray) -> float:
        at = (criterion.quantity, limit[hours], room.temp_C[hours], room.pressure_Pa[hours])
        return 1000.0 * float(np.abs(room.hum_ratio[hours] - _limit_hum_ratio(*at)).sum())

    excess = np.where(out, np.maximum(over, under), 0.0)
    starts, lengths = spells(out)
    by_month = hours_by_month(out, month)
    binds = _binds(criterion, outdoor_dew_C)
    return Finding(
        criterion,
        judged_in,
        int(judged.sum()),
        int(above.sum()),
        int(below.sum()),
        int((out & occupied).sum()),
        int((out & ~occupied).sum()),
        int(lengths.max(initial=0)),
        int(starts[np.argmax(lengths)]) if lengths.size else None,
        {name: sum(by_month[m - 1] for m in months) for name, months in SEASONS.items()},
        by_month,
        float(excess.max(initial=0.0)),
        int(np.argmax(excess)) if out.any() else None,
        float(excess.sum()),
        gram_hours(above, high),
        gram_hours(below, low),
        _hours_beyond(room.temp_C, criterion.temp_high_C, judged, 1.0),
        _hours_beyond(room.temp_C, criterion.temp_low_C, judged, -1.0),
        None if binds is None else int((out & binds).sum()),
        None if binds is None else int((out & ~binds).sum()),
    )


def _binds(criterion: Criterion, outdoor_dew_C: FloatArray | None) -> BoolArray | None:
    """Hours in which the criterion binds; None where it always does."""
    if criterion.outdoor_dew_above_C is None:
        return None
    if outdoor_dew_C is None:
        raise _needs_outdoor_dew(criterion)
    return outdoor_dew_C > criterion.outdoor_dew_above_C + TOLERANCES["dew point"]


def _needs_outdoor_dew(criterion: Criterion) -> InputError:
    return InputError(
        f'humidity criterion "{criterion.key}" depends on the weather; it needs the outdoor dew '
        "point of the year"
    )


def _judged(
    criterion: Criterion,
    occupied: BoolArray,
    outdoor_dew_C: FloatArray | None,
    design_dew_C: float | None,
) -> tuple[str, BoolArray]:
    if criterion.hours == "all":
        return "all hours", np.ones(occupied.size, dtype=np.bool_)
    if criterion.hours == "occupied":
        return "occupied hours", occupied
    if outdoor_dew_C is None:
        raise _needs_outdoor_dew(criterion)
    if design_dew_C is not None:
        at_design = outdoor_dew_C >= design_dew_C
        if at_design.any():
            return "hours at or above the outdoor design dew point", at_design
    count = min(DESIGN_HOURS, outdoor_dew_C.size)
    threshold: float = np.sort(outdoor_dew_C)[-count]
    return f"the {count} hours with the highest outdoor dew point", outdoor_dew_C >= threshold


def _value(quantity: Quantity, room: RoomAir) -> FloatArray:
    if quantity == "relative humidity":
        return room.rh_frac
    if quantity == "dew point":
        return dew_points(np.maximum(room.hum_ratio, 1e-7), room.pressure_Pa)
    return room.hum_ratio


def _limit_hum_ratio(
    quantity: Quantity, limit: FloatArray, temp_C: FloatArray, pressure_Pa: FloatArray
) -> FloatArray:
    if quantity == "relative humidity":
        return hum_ratios_from_rel_hum(temp_C, limit, pressure_Pa)
    if quantity == "dew point":
        return saturation_hum_ratios(limit, pressure_Pa)
    return limit


def _seasonal_shift(criterion: Criterion, value: FloatArray) -> FloatArray:
    """How far the range has followed the seasons, (hours,): the seasonal mean less the middle."""
    if criterion.seasonal_drift == 0.0 or criterion.low is None or criterion.high is None:
        return np.zeros(value.size)
    middle = 0.5 * (criterion.low + criterion.high)
    mean = running_mean(value, SEASONAL_WINDOW_H, centered=True)
    return np.clip(mean - middle, -criterion.seasonal_drift, criterion.seasonal_drift)


def _hours_beyond(
    temp_C: FloatArray, limit_C: float | None, judged: BoolArray, sign: float
) -> int | None:
    if limit_C is None:
        return None
    return int((judged & (sign * (temp_C - limit_C) > TEMPERATURE_TOLERANCE_K)).sum())


# ---------------------------------------------------------------------------------------------
# Mold on cold surfaces

# ASHRAE 160-2009, 6.1: to keep mold from growing, the 30-day running mean of surface relative
# humidity stays below 80 % while the 30-day running mean surface temperature is 41 to 104 F. (Its
# 7-day and 24-hour limits and the later mold index are not judged here.)
MOLD_SOURCE = "ASHRAE 160-2009, 30-day surface criterion"
MOLD_WINDOW_H = 30 * 24
MOLD_RH = 0.80
MOLD_TEMP_LOW_C = 5.0  # 41 F
MOLD_TEMP_HIGH_C = 40.0  # 104 F


@dataclass(frozen=True)
class MoldFinding:
    """A cold surface held against the 30-day criterion.

    met : no 30-day mean at or above 80 % while the mean temperature lets mold grow
    hours_at_risk : hours whose 30-day means both are in the risk range
    worst_mean_rh : highest 30-day mean surface RH (fraction) in the temperature range; None where
        the surface is never in it
    worst_hour : last hour of the year of that 30-day window
    longest_spell_h : longest unbroken run of hours at risk
    by_month : hours at risk
    hours_condensing : hours in which the surface is at or below the room's dew point
    """

    surface: str
    met: bool
    hours_at_risk: int
    worst_mean_rh: float | None
    worst_hour: int | None
    longest_spell_h: int
    by_month: tuple[int, ...]
    hours_condensing: int
    source: str = MOLD_SOURCE


def surface_temp_from_factor(
    temp_C: FloatArray, outdoor_temp_C: FloatArray, surface_factor: float
) -> FloatArray:
    """Inside surface temperature [C] from a temperature factor, (hours,).

    ISO 13788: factor = (surface - outdoor) / (room - outdoor); 1 is a surface at room temperature,
    0 one at outdoor temperature.
    """
    if not 0.0 <= surface_factor <= 1.0:
        raise InputError(
            f"a surface factor is between 0 (outdoor temperature) and 1 (room temperature), not "
            f"{surface_factor:g}; write for example 0.75"
        )
    return outdoor_temp_C + surface_factor * (temp_C - outdoor_temp_C)


def mold(
    temp_surface_C: FloatArray | float,
    temp_C: FloatArray,
    hum_ratio: FloatArray,
    pressure_Pa: FloatArray,
    month: IntArray,
    surface: str = "cold surface",
) -> MoldFinding:
    """Hold a cold surface against the 30-day mold criterion of ASHRAE 160-2009.

    Parameters
    ----------
    temp_surface_C : the surface's temperature [C], one stated value or one per hour
    temp_C, hum_ratio, pressure_Pa : the room's air
    month : (hours,) 1..12

    Surface relative humidity is that of the room's vapor at the surface temperature, at most 1.
    The means trail, over the year taken as a circle.
    """
    at_surface = np.broadcast_to(np.asarray(temp_surface_C, dtype=np.float64), temp_C.shape).copy()
    rh = rel_hums_from_hum_ratio(at_surface, hum_ratio, pressure_Pa)
    mean_rh = running_mean(np.minimum(rh, 1.0), MOLD_WINDOW_H, centered=False)
    mean_temp = running_mean(at_surface, MOLD_WINDOW_H, centered=False)
    # 1e-9: the running sum's rounding must not decide a surface held exactly at a limit.
    growing = (mean_temp >= MOLD_TEMP_LOW_C - 1e-9) & (mean_temp <= MOLD_TEMP_HIGH_C + 1e-9)
    risk = growing & (mean_rh >= MOLD_RH - 1e-9)
    worst = int(np.argmax(np.where(growing, mean_rh, -1.0))) if growing.any() else None
    return MoldFinding(
        surface,
        not bool(risk.any()),
        int(risk.sum()),
        None if worst is None else float(mean_rh[worst]),
        worst,
        longest_spell(risk),
        hours_by_month(risk, month),
        int((rh >= 1.0).sum()),
    )
