"""What is wrong or odd in a weather file: named findings with hours and remedy.

A finding of severity "error" means that the file cannot serve; "note" means that it was read and
that a reader of the results should know. Hours are indexes 0..8759, hour i being [i, i+1) of
local standard time.
"""

from calendar import month_name
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from dewledger.weather.physics.moist_air import (
    FloatArray,
    standard_pressure,
)
from dewledger.weather.physics.moist_air_arrays import saturation_pressures
from dewledger.weather.year import A_YEAR, HOURS, Finding

Hours = npt.NDArray[np.int64]

LONGEST_FILLED_GAP_H = 6
# 30 mbar: passing weather moves station pressure by about that; more means another altitude.
PRESSURE_TOLERANCE_PA = 3000.0
RH_TOLERANCE = 0.05
ROUNDING_K = 1e-6  # saturated air's dew point comes out a hair off its dry bulb
# Hottest mean of a year on record is about 35 C (not checked against the text), highest mean dew
# point below 30 C; a reading above 70 C is no weather, and a bad one here and there no wrong unit.
HOTTEST_MEAN_C = 38.0
HOTTEST_C = 70.0
BAD_READINGS_H = 88  # one in a hundred
STEADY_K = 20.0  # a year that varies less is a stated condition of a test, which may be hot
DIMMEST_WM2 = 200.0  # the highest hour of the year passes this near the poles too
ZONE_H = 3.0  # western China keeps a standard time 2.9 h from the sun's
STUCK_H = 36  # hours of one unchanged dew point before an instrument or a fill is suspected

# What a reader sees each column called.
SPOKEN = {
    "temp_air_C": "dry bulb",
    "temp_dew_C": "dew point",
    "rh_frac": "relative humidity",
    "pressure_Pa": "pressure",
    "ghi_Wm2": "global irradiance",
    "dni_Wm2": "direct irradiance",
    "dhi_Wm2": "diffuse irradiance",
    "wind_m_s": "wind speed",
}
UNITS = {
    "temp_air_C": "C",
    "temp_dew_C": "C",
    "rh_frac": "1",
    "pressure_Pa": "Pa",
    "ghi_Wm2": "W/m2",
    "dni_Wm2": "W/m2",
    "dhi_Wm2": "W/m2",
    "wind_m_s": "m/s",
}


def note(
    check: str, what: str, remedy: str, column: str = "", hours: Hours | None = None
) -> Finding:
    """A finding that does not stop the file from being used."""
    listed = () if hours is None else tuple(int(hour) for hour in hours)
    return Finding(check, "note", what, remedy, column, listed, len(listed))


def error(
    check: str, what: str, remedy: str, column: str = "", hours: Hours | None = None
) -> Finding:
    """A finding that stops the file from being used."""
    listed = () if hours is None else tuple(int(hour) for hour in hours)
    return Finding(check, "error", what, remedy, column, listed, len(listed))


def month_words(month: int) -> str:
    """The name of month 0 to 11."""
    return month_name[month + 1]


def hour_words(hour: int) -> str:
    """Hour 0 as "1 January 00:00", the start of its interval."""
    start = datetime(A_YEAR, 1, 1) + timedelta(hours=hour % HOURS)
    return f"{start.day} {month_name[start.month]} {start:%H}:00"


def times_words(count: int) -> str:
    """Once, or how many times."""
    return "once" if count == 1 else f"{count} times"


def runs(mask: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    """(first hour, length) of each run of true hours; the year's end runs on into its start."""
    if mask.all():
        return [(0, mask.size)]
    start = int(np.argmin(mask))  # a false hour: no run crosses it
    turned = np.concatenate([np.roll(mask, -start), [False]])
    edges = np.flatnonzero(np.diff(turned.astype(np.int8)))
    return [
        ((int(first) + 1 + start) % mask.size, int(last - first))
        for first, last in zip(edges[::2], edges[1::2], strict=True)
    ]


def runs_words(spans: list[tuple[int, int]], most: int = 3) -> str:
    """Runs of hours in words, the first few of them."""
    parts = [
        hour_words(first) + (f" to {hour_words(first + length)} ({length} h)" if length > 1 else "")
        for first, length in spans[:most]
    ]
    more = f" and {len(spans) - most} more" if len(spans) > most else ""
    return ", ".join(parts) + more


def fill_gaps(values: FloatArray, column: str) -> tuple[FloatArray, Finding | None]:
    """Interpolate gaps of up to 6 h; report them, or the longer ones as an error.

    Parameters
    ----------
    values : 8760 values with NaN where missing, not all of them
    column : a key of SPOKEN

    Returns
    -------
    the filled values, and the finding if anything was missing
    """
    missing = np.isnan(values)
    if not missing.any():
        return values, None
    spans = runs(missing)
    long = [span for span in spans if span[1] > LONGEST_FILLED_GAP_H]
    spoken = SPOKEN[column]
    if long:
        return values, error(
            "long gap",
            f"{spoken} is missing for more than {LONGEST_FILLED_GAP_H} h on end: "
            f"{runs_words(long)}",
            "fill these hours or use another file",
            column,
            np.flatnonzero(missing),
        )
    hours = np.arange(values.size)
    filled = values.copy()
    filled[missing] = np.interp(
        hours[missing], hours[~missing], values[~missing], period=values.size
    )
    longest = max(length for _, length in spans)
    return filled, note(
        "gap",
        f"{spoken} is missing in {int(missing.sum())} h, {longest} h on end at most: "
        f"{runs_words(spans)}",
        "interpolated between the hours around",
        column,
        np.flatnonzero(missing),
    )


def other_scale(column: str, temp_C: FloatArray) -> Finding | None:
    """A temperature column that must be in Fahrenheit or kelvin: hotter than any place is."""
    valid = temp_C[np.abs(temp_C) < 400.0]  # 999 and 9999 are codes for missing
    if not valid.size:
        return None
    middle, hot = float(np.median(valid)), int((valid > HOTTEST_C).sum())
    mild = middle < HOTTEST_MEAN_C or float(np.ptp(valid)) < STEADY_K
    if mild and hot <= BAD_READINGS_H:
        return None
    if float(np.ptp(valid)) == 0.0 and middle < HOTTEST_C:
        return None  # one state all year is a test's, not a place's: Standard 140 has 46.1 C
    unit = "kelvin" if middle > 200.0 else "degrees Fahrenheit"
    return error(
        "temperature unit",
        f"{SPOKEN[column]} is {middle:.4g} in the median and {float(valid.max()):.4g} at most, "
        f"which is no weather in degrees Celsius but may be {unit}",
        "convert it to degrees Celsius",
        column,
    )


def dew_point_on_other_scale(temp_air_C: FloatArray, temp_dew_C: FloatArray) -> Finding | None:
    """A dew point far above the dry bulb most of the time: the two are not in one unit."""
    above = temp_dew_C - temp_air_C > 5.0
    if int(above.sum()) <= int(np.isfinite(temp_dew_C - temp_air_C).sum()) // 2:
        return None
    return error(
        "temperature unit",
        f"dew point is more than 5 K above dry bulb in {int(above.sum())} h, so that the two are "
        "not in one unit or have changed places",
        "write both in degrees Celsius",
        "temp_dew_C",
        np.flatnonzero(above),
    )


def dim_sun(ghi_Wm2: FloatArray) -> Finding | None:
    """Global irradiance that stays dim all year: another unit."""
    most = float(np.nanmax(ghi_Wm2, initial=0.0))
    if most == 0.0 or most >= DIMMEST_WM2:  # none at all is a stated condition
        return None
    return note(
        "dim sun",
        f"global irradiance never passes {most:.3g} W/m2 in the year",
        "used as it is; check its unit",
        "ghi_Wm2",
    )


def clip_dew_point(
    temp_air_C: FloatArray, temp_dew_C: FloatArray, rh_frac: FloatArray
) -> tuple[FloatArray, Finding | None]:
    """Dew point brought down to the dry bulb where it is above it."""
    above = temp_dew_C > temp_air_C + ROUNDING_K
    clipped = np.minimum(temp_dew_C, temp_air_C)
    if not above.any():
        return clipped, None
    excess = float((temp_dew_C - temp_air_C)[above].max())
    stated = rh_frac[above]
    stated = stated[np.isfinite(stated)]
    reads = (
        f" (relative humidity there reads {100 * float(np.median(stated)):.0f} % in the median)"
        if stated.size
        else ""
    )
    hours = np.flatnonzero(above)
    return clipped, note(
        "dew point above dry bulb",
        f"dew point is above dry bulb in {hours.size} h, by {excess:.1f} K at most{reads}, first "
        f"on {hour_words(int(hours[0]))}",
        "clipped to the dry bulb",
        "temp_dew_C",
        hours,
    )


def humidity_disagrees(
    temp_air_C: FloatArray, temp_dew_C: FloatArray, rh_frac: FloatArray
) -> Finding | None:
    """Hours above freezing where relative humidity and dew point differ by more than 5 points.

    Below freezing weather files state humidity over water, so the two need not agree.
    """
    off = np.abs(saturation_pressures(temp_dew_C) / saturation_pressures(temp_air_C) - rh_frac)
    hours = np.flatnonzero((off > RH_TOLERANCE) & (temp_air_C > 0.0))
    if not hours.size:
        return None
    return note(
        "humidity disagrees",
        f"relative humidity and dew point differ by more than {100 * RH_TOLERANCE:.0f} points in "
        f"{hours.size} h, by {100 * float(off[hours].max()):.0f} at most",
        "moisture is taken from the dew point",
        "rh_frac",
        hours,
    )


def unchanging_dew_point(temp_dew_C: FloatArray) -> Finding | None:
    """A dew point that reads the same for two days or more, but not all year."""
    same = np.diff(temp_dew_C, append=temp_dew_C[0]) == 0.0
    if same.all() or not same.any():
        return None
    # n equal differences join n + 1 equal hours
    long = [(first, length + 1) for first, length in runs(same) if length + 1 >= STUCK_H]
    if not long:
        return None
    hours = np.concatenate([np.arange(first, first + length) for first, length in long]) % 8760
    return note(
        "unchanging dew point",
        f"dew point reads one value for {STUCK_H} h or more: {runs_words(long)}",
        "used as it is; it may be filled data",
        "temp_dew_C",
        np.asarray(hours, dtype=np.int64),
    )


def pressure_unlike_altitude(pressure_Pa: FloatArray, altitude_m: float) -> Finding | None:
    """Mean pressure far from that of the standard atmosphere at the stated altitude."""
    if not np.isfinite(altitude_m):
        return None
    due = float(standard_pressure(altitude_m))
    mean = float(pressure_Pa.mean())
    if abs(mean - due) <= PRESSURE_TOLERANCE_PA:
        return None
    return note(
        "pressure unlike altitude",
        f"mean pressure {mean / 100:.0f} mbar does not fit an altitude of {altitude_m:.0f} m, "
        f"where {due / 100:.0f} mbar is usual",
        "the file's pressure is used; check the altitude and the unit of the pressure",
        "pressure_Pa",
    )


def constant_pressure(pressure_Pa: FloatArray) -> Finding | None:
    """One pressure all year: not a measured series."""
    if float(np.ptp(pressure_Pa)) > 0.0:
        return None
    return note(
        "constant pressure",
        f"pressure is {float(pressure_Pa[0]) / 100:.0f} mbar in every hour",
        "used as it is; moisture may be off by about a percent",
        "pressure_Pa",
    )


def zone_unlike_longitude(utc_offset_h: float, longitude: float) -> Finding | None:
    """A zone more than 3 h from the sun's: west of Greenwich written as east, for example."""
    off = (utc_offset_h - longitude / 15.0 + 12.0) % 24.0 - 12.0
    if not np.isfinite(off) or abs(off) <= ZONE_H:
        return None
    return note(
        "zone unlike longitude",
        f"UTC offset {utc_offset_h:+g} h is {abs(off):.1f} h from the sun's time at longitude "
        f"{longitude:.2f}",
        "the file's offset is used; check its sign",
    )
