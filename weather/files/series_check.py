"""A weather year's hours against each other: seasons, warmest hour, steps, frozen values, signs."""

import numpy as np
import numpy.typing as npt

from dewledger.weather.files.findings import (
    SPOKEN,
    UNITS,
    hour_words,
    note,
    runs,
    runs_words,
    times_words,
)
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import DAYS_IN_MONTH, HOURS, Finding, Station

Mask = npt.NDArray[np.bool_]

# Limits, from seventeen files of measured and modeled years that are in order: the largest step in
# an hour is 16 K, the largest single hour off its neighbors 9 K, the hottest hour 13.0 to 15.5 h of
# solar time. Common practice, no source.
STEP_K = 15.0
SPIKE_K = 9.5
WARMEST_SOLAR_H = (11.5, 17.5)
WARMEST_CLOCK_H = (9.0, 21.0)
DAILY_SWING_K = 1.5  # below, the sea or the polar night sets the hours
SEASONS_LATITUDE = 25.0  # nearer the equator rain may make the summer the cooler season
SEASONS_K = 2.0
# One value for so many hours and more; fog and melting snow hold a temperature for a day where it
# is rounded to degrees, and saturated air its humidity for days.
FROZEN_H = {
    "temp_air_C": 25,
    "rh_frac": 36,
    "pressure_Pa": 66,
    "ghi_Wm2": 4,
    "dni_Wm2": 5,
    "dhi_Wm2": 5,
    "wind_m_s": 96,
}
PRESSURE_STEP_PA = 1000.0  # 4 mbar an hour is a violent storm
DAMP_NOON = 0.2  # correlation of relative humidity and dry bulb within the days
DIM_WM2 = 10.0
TURNED_C = 6.0  # a sign turned at less is a step that weather makes too
FROZEN_AIR_H = 17
SATURATED = 0.99

_MONTH = np.repeat(np.arange(12), np.array(DAYS_IN_MONTH) * 24)
_MONTH_STARTS = np.cumsum([0, *DAYS_IN_MONTH[:-1]]) * 24
_JUNE_TO_AUGUST = np.isin(_MONTH, (5, 6, 7))
_DECEMBER_TO_FEBRUARY = np.isin(_MONTH, (11, 0, 1))


def series_findings(whole: dict[str, FloatArray], station: Station) -> list[Finding]:
    """What the hours of a whole year say against each other.

    Parameters
    ----------
    whole : the measured columns, 8760 each, dew points not yet clipped to the dry bulb; irradiance
        and wind NaN throughout where the file has none
    """
    seams = _seams(station)
    return [
        *_seasons(whole["temp_air_C"], station),
        *_warmest_hour(whole["temp_air_C"], station),
        *_steps(whole["temp_air_C"], "temp_air_C", seams),
        *_steps(whole["temp_dew_C"], "temp_dew_C", seams),
        *_folded(whole["temp_air_C"], "temp_air_C", seams),
        *_folded(whole["temp_dew_C"], "temp_dew_C", seams),
        *_pressure_steps(whole["pressure_Pa"], seams),
        *_damp_noon(whole["temp_air_C"], whole["rh_frac"]),
        *_frozen(whole),
        *_frozen_air(whole["temp_air_C"], whole["temp_dew_C"]),
        *_repeated_days(whole),
    ]


def _seams(station: Station) -> Mask:
    """Hours before which a typical year passes from the month of one year to that of another.

    They are the first of the months by local time, and by UTC where the file was put together so.
    """
    seams = np.zeros(HOURS, dtype=bool)
    offset = station.utc_offset_h
    for late in {0, round(offset) if np.isfinite(offset) else 0}:
        starts = np.array([0]) if station.kind == "actual" else _MONTH_STARTS
        seams[(starts + late) % HOURS] = True
    return seams


def _seasons(temp_air_C: FloatArray, station: Station) -> list[Finding]:
    """A summer colder than the winter of the hemisphere."""
    if not abs(station.latitude) > SEASONS_LATITUDE:
        return []
    june = float(temp_air_C[_JUNE_TO_AUGUST].mean())
    january = float(temp_air_C[_DECEMBER_TO_FEBRUARY].mean())
    warmer = june - january if station.latitude > 0.0 else january - june
    if warmer > -SEASONS_K:
        return []
    half = "northern" if station.latitude > 0.0 else "southern"
    return [
        note(
            "seasons",
            f"dry bulb is {june:.1f} C in June to August and {january:.1f} C in December to "
            f"February in the mean, and the station is {half} ({station.latitude:.1f})",
            "correct the sign of the latitude, the signs of the temperatures or the order of the "
            "rows",
            "temp_air_C",
        )
    ]


def _warmest_hour(temp_air_C: FloatArray, station: Station) -> list[Finding]:
    """A day whose warmest hour is not in the afternoon, by the sun where the place is known."""
    days = temp_air_C.reshape(-1, 24)
    course = days.mean(axis=0)
    if float(np.ptp(course)) < DAILY_SWING_K:
        return []
    hours = np.arange(24) + (0.5 if station.label == "mid" else 1.0)
    if station.label == "start":
        hours = np.arange(24.0)
    turn = np.exp(2j * np.pi * hours / 24.0)
    clock = float(np.angle((course * turn).sum())) % (2.0 * np.pi) * 12.0 / np.pi
    ahead = station.longitude / 15.0 - station.utc_offset_h
    solar = (clock + (ahead if np.isfinite(ahead) else 0.0)) % 24.0
    if WARMEST_SOLAR_H[0] <= solar <= WARMEST_SOLAR_H[1]:
        return []
    other_time = not WARMEST_CLOCK_H[0] <= clock <= WARMEST_CLOCK_H[1]
    return [
        note(
            "warmest by night" if other_time else "warmest hour",
            f"days are warmest near {clock:.1f} h of the clock, {solar:.1f} h by the sun, in the "
            "mean of the year, where 13 to 16 h is usual",
            "put the rows on local standard time" if other_time else "check the clock of the rows",
            "temp_air_C",
        )
    ]


def _steps(temp_C: FloatArray, column: str, seams: Mask) -> list[Finding]:
    """Changes in an hour that no weather makes, and single hours off their neighbors."""
    step = np.diff(temp_C, prepend=temp_C[-1])
    before, after = np.roll(temp_C, 1), np.roll(temp_C, -1)
    off = temp_C - (before + after) / 2.0
    jumps = np.abs(step) > STEP_K
    spikes = (np.abs(off) > SPIKE_K) & (np.abs(before - after) < np.abs(off))
    found = []
    spoken = SPOKEN[column]
    if spikes.any():
        at = np.flatnonzero(spikes)
        worst = int(at[np.argmax(np.abs(off[at]))])
        found.append(
            note(
                "single hours",
                f"{spoken} of {at.size} h stands more than {SPIKE_K:g} K off the hours before and "
                f"after, by {abs(off[worst]):.1f} K on {hour_words(worst)}",
                "used as it is; check these hours",
                column,
                at,
            )
        )
    jumps &= ~spikes & ~np.roll(spikes, 1) & ~seams
    if jumps.any():
        at = np.flatnonzero(jumps)
        worst = int(at[np.argmax(np.abs(step[at]))])
        found.append(
            note(
                "step",
                f"{spoken} changes by more than {STEP_K:g} K in an hour {times_words(at.size)}, by "
                f"{step[worst]:+.1f} K into {hour_words(worst)}",
                "used as it is; check the hours from there on for another unit, place or sign",
                column,
                at,
            )
        )
    return found


def _pressure_steps(pressure_Pa: FloatArray, seams: Mask) -> list[Finding]:
    """Changes of pressure in an hour that no weather makes."""
    step = np.diff(pressure_Pa, prepend=pressure_Pa[-1])
    at = np.flatnonzero((np.abs(step) > PRESSURE_STEP_PA) & ~seams)
    if not at.size:
        return []
    worst = int(at[np.argmax(np.abs(step[at]))])
    return [
        note(
            "pressure step",
            f"pressure changes by more than {PRESSURE_STEP_PA / 100:g} mbar in an hour "
            f"{times_words(at.size)}, by {step[worst] / 100:+.0f} mbar into {hour_words(worst)}",
            "used as it is; check these hours",
            "pressure_Pa",
            at,
        )
    ]


def _damp_noon(temp_air_C: FloatArray, rh_frac: FloatArray) -> list[Finding]:
    """Relative humidity that rises with the day's warmth: dryness written as humidity."""
    if np.isnan(rh_frac).any():
        return []
    warmth, humidity = (
        (days - days.mean(axis=1, keepdims=True)).ravel()
        for days in (temp_air_C.reshape(-1, 24), rh_frac.reshape(-1, 24))
    )
    size = np.sqrt((warmth**2).sum() * (humidity**2).sum())
    if size == 0.0 or (warmth * humidity).sum() / size < DAMP_NOON:
        return []
    return [
        note(
            "humidity rises with warmth",
            "relative humidity is highest in the warm hours of the day in the mean of the year, "
            "where it is lowest in any climate",
            "used as it is; check that the column is relative humidity",
            "rh_frac",
        )
    ]


def _folded(temp_C: FloatArray, column: str, seams: Mask) -> list[Finding]:
    """A temperature that comes to 0 and turns there, over and over: its minus signs are lost."""
    low = temp_C < 3.0
    if low.sum() < 48 or float(temp_C.min()) < 0.0:
        return _folded_days(temp_C, column, seams)
    turns = (temp_C < np.roll(temp_C, 1)) & (temp_C <= np.roll(temp_C, -1)) & (temp_C < 1.0)
    if turns.sum() < 12:
        return []
    return [
        note(
            "sign lost",
            f"{SPOKEN[column]} comes down to 0 C and turns {int(turns.sum())} times and is never "
            "below it",
            "check that the file has kept its minus signs",
            column,
            np.flatnonzero(turns),
        )
    ]


def _folded_days(temp_C: FloatArray, column: str, seams: Mask) -> list[Finding]:
    """Changes of sign between two hours that jump over 0 by far: a stretch with its sign turned."""
    before = np.roll(temp_C, 1)
    # what was -t and is t, or the other way about: the step is twice the value
    turned = (temp_C * before < 0.0) & (np.minimum(np.abs(temp_C), np.abs(before)) > TURNED_C)
    turned &= (np.abs(np.abs(temp_C) - np.abs(before)) < 2.0) & ~seams
    if not turned.any():
        return []
    at = np.flatnonzero(turned)
    return [
        note(
            "sign turned",
            f"{SPOKEN[column]} goes from {before[at[0]]:.1f} to {temp_C[at[0]]:.1f} C on "
            f"{hour_words(int(at[0]))}"
            + (f", and so in {at.size - 1} more hours" if at.size > 1 else ""),
            "used as it is; check the signs between such hours",
            column,
            at,
        )
    ]


def _frozen(whole: dict[str, FloatArray]) -> list[Finding]:
    """One value read for longer than weather stays."""
    found = []
    for column, limit in FROZEN_H.items():
        values = whole[column]
        if np.isnan(values).any() or float(np.ptp(values)) == 0.0:
            continue
        same = np.diff(values, append=values[0]) == 0.0
        if column.endswith("Wm2"):
            same &= values > DIM_WM2
        if column == "rh_frac":
            same &= values < SATURATED
        # n equal differences join n + 1 equal hours
        long = [(first, length + 1) for first, length in runs(same) if length + 1 >= limit]
        if not long:
            continue
        scale, unit = (100.0, "%") if column == "rh_frac" else (1.0, UNITS[column])
        first = long[0][0]
        found.append(
            note(
                "unchanging value",
                f"{SPOKEN[column]} reads one value for {limit} h or more: {runs_words(long)} "
                f"({scale * values[first]:.6g} {unit} in the first)",
                "used as it is; it may be filled data or an instrument that was stuck",
                column,
                _hours(long),
            )
        )
    return found


def _frozen_air(temp_air_C: FloatArray, temp_dew_C: FloatArray) -> list[Finding]:
    """Dry bulb and dew point that stand still together."""
    same = np.diff(temp_air_C, append=temp_air_C[0]) == 0.0
    same &= np.diff(temp_dew_C, append=temp_dew_C[0]) == 0.0
    if same.all() or not same.any():
        return []
    long = [(first, size + 1) for first, size in runs(same) if size + 1 >= FROZEN_AIR_H]
    if not long:
        return []
    return [
        note(
            "unchanging air",
            f"dry bulb and dew point both stay as they are for {FROZEN_AIR_H} h or more: "
            f"{runs_words(long)}",
            "used as they are; they may be filled data",
            "temp_air_C",
            _hours(long),
        )
    ]


def _repeated_days(whole: dict[str, FloatArray]) -> list[Finding]:
    """A day and more that is the day before again, hour by hour and to the last figure."""
    again = np.ones(HOURS, dtype=bool)
    for name in ("temp_air_C", "temp_dew_C", "pressure_Pa"):
        again &= whole[name] == np.roll(whole[name], 24)
    if not again.any() or again.all():
        return []
    temp = whole["temp_air_C"]
    spans = [
        (first, length)
        for first, length in runs(again)
        # a steady state is meant
        if length >= 24 and float(np.ptp(np.take(temp, range(first, first + 24), mode="wrap"))) > 0
    ]
    if not spans:
        return []
    return [
        note(
            "day repeated",
            f"hours are those of the day before for a day and more: {runs_words(spans)}",
            "used as they are; they may be filled data",
            "temp_air_C",
            _hours(spans),
        )
    ]


def _hours(spans: list[tuple[int, int]]) -> npt.NDArray[np.int64]:
    parts = [np.arange(first, first + length) for first, length in spans]
    return np.concatenate(parts).astype(np.int64) % HOURS
