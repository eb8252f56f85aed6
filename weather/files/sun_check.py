"""The sunshine of a weather year against the sun of its place: clock, latitude, unit, night.

Clouds hide the sun's height but not its times. The clear hours of a month, taken as the 90 % mark
of each hour of the day, follow the sun of the place so closely that a clock half an hour off, a
latitude ten degrees off or a southern one written as northern show in a year of hours.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dewledger.weather.files.findings import SPOKEN, hour_words, month_words, note
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.physics.solar import sun_of_place
from dewledger.weather.year import DAYS_IN_MONTH, HOURS, Finding, Station

CLEAR_SHARE = 0.9  # mark of a month's days that stands for a clear one
# Limits, from seventeen files of measured and modeled years that are in order: their clocks agree
# with the sun to 10 minutes but for three, which are half an hour off; latitudes to 5 degrees;
# clear months pass 0.56 to 0.91 of the sun above the air. Common practice, no source.
LATE_MIN = 25.0
HALF_SUMMER_MIN = (40.0, 80.0)  # summer less winter of a clock that follows summer time
OTHER_TIME_OF_DAY_MIN = 300.0
LATITUDE_DEG = 9.0
LATITUDE_GAIN = 0.008  # in correlation, below which two latitudes fit alike
TROPICS_DEG = 15.0  # within, the hemispheres' days are too alike to distinguish
CLEARNESS = (0.35, 1.05)
CLEAREST_MONTH = 0.55
DAYLIGHT_H = 2.5  # a day, in the mean of a month
NIGHT_ZENITH_DEG = 98.0  # no part of the hour has sun
HIGH_ZENITH_DEG = 70.0
CLOSURE = 0.25
CLOSURE_WM2 = 50.0
CLOSURE_SHARE = 0.1

_MONTH = np.repeat(np.arange(12), DAYS_IN_MONTH)  # of each day
_MONTH_OF_HOUR = np.repeat(_MONTH, 24)
_STEP_MIN = 10
_SHIFTS = np.arange(-720, 720, _STEP_MIN)
_LATITUDES = np.arange(-65.0, 66.0, 2.5)


@dataclass(frozen=True)
class _Sun:
    """The sun of the place at the minute that the irradiance stands for."""

    zenith: FloatArray  # degrees
    direct: FloatArray  # cosine of the zenith, 0 by night
    top: FloatArray  # W/m2 on the level above the air
    measured: FloatArray  # clear profile of the file, 12 x 24
    due: FloatArray  # of the sun above the air, 12 x 24


def sun_findings(whole: dict[str, FloatArray], station: Station) -> list[Finding]:
    """What the year's irradiance says against its place and clock.

    Parameters
    ----------
    whole : ghi_Wm2, dni_Wm2 and dhi_Wm2, 8760 each; NaN throughout where the file has none

    Returns
    -------
    findings; none where there is no irradiance worth the name, or the place is not known
    """
    ghi = whole["ghi_Wm2"]
    place = (station.latitude, station.longitude, station.utc_offset_h)
    if np.isnan(ghi).any() or float(ghi.max()) <= 0.0 or not np.isfinite(place).all():
        return []
    if float(np.ptp(ghi)) == 0.0:
        return []  # a stated condition of a test
    zenith, _, extra = sun_of_place(station)
    direct = np.maximum(np.cos(np.radians(zenith)), 0.0)
    top = extra * direct
    sun = _Sun(zenith, direct, top, _clear_profile(ghi), _mean_profile(top))
    clock = _clock(sun, station)
    found = [
        *clock,
        *_latitude(sun, station),
        *_clearness(ghi, sun),
        *_closure(whole, sun),
    ]
    if not clock:  # a clock that is off has said it all
        found += [*_night(ghi, sun), *_daylight(ghi, sun)]
    return found


def _clear_profile(ghi: FloatArray) -> FloatArray:
    days = ghi.reshape(-1, 24)
    return np.array([np.quantile(days[m == _MONTH], CLEAR_SHARE, axis=0) for m in range(12)])


def _mean_profile(values: FloatArray) -> FloatArray:
    days = values.reshape(-1, 24)
    return np.array([days[m == _MONTH].mean(axis=0) for m in range(12)])


# --- clock --------------------------------------------------------------------------------------


def _late_minutes(sun: _Sun) -> FloatArray:
    """How late the file's sun is in each month [min], by the best agreement of the day's course.

    NaN where a month has no sun to speak of, or the two do not agree at any shift.
    """
    hour = np.arange(25.0) * 60.0
    at = (np.arange(24) * 60.0 - _SHIFTS[:, None]) % 1440.0
    late = np.full(12, np.nan)
    for month in range(12):
        due = sun.due[month]
        if due.max() < 100.0 or sun.measured[month].max() <= 0.0:
            continue
        moved = np.interp(at, hour, np.append(due, due[0]))
        agreement = _agreement(moved, sun.measured[month])
        best = int(np.argmax(agreement))
        if agreement[best] < 0.9:
            continue
        below, there, above = (agreement[(best + k) % _SHIFTS.size] for k in (-1, 0, 1))
        bend = below - 2.0 * there + above
        part = 0.5 * (below - above) / bend if bend < 0.0 else 0.0
        late[month] = _SHIFTS[best] + part * _STEP_MIN
    return late


def _agreement(many: FloatArray, one: FloatArray) -> FloatArray:
    """Correlation of each row with ``one``."""
    rows = many - many.mean(axis=-1, keepdims=True)
    other = one - one.mean()
    size = np.sqrt((rows**2).sum(axis=-1) * (other**2).sum())
    agreement: FloatArray = rows @ other / np.maximum(size, 1e-12)
    return agreement


def _clock(sun: _Sun, station: Station) -> list[Finding]:
    late = _late_minutes(sun)
    known = np.isfinite(late)
    if not known.any():
        return []
    middle = float(np.median(late[known]))
    where = f"UTC{station.utc_offset_h:+g} h and longitude {station.longitude:.2f}"
    north = station.latitude >= 0.0
    summer = np.isin(np.arange(12), (3, 4, 5, 6, 7, 8) if north else (9, 10, 11, 0, 1, 2))
    halves = [late[known & half] for half in (summer, ~summer)]
    if all(half.size >= 3 for half in halves):
        there, back = (float(np.median(half)) for half in halves)
        if HALF_SUMMER_MIN[0] <= there - back <= HALF_SUMMER_MIN[1]:
            return [
                note(
                    "summer time",
                    f"the sun of the irradiance is {_late_words(there)} in summer and "
                    f"{_late_words(back)} in winter against {where}, as if the clock were put "
                    "forward in summer",
                    "put every row on standard time, or use another file; the hours of summer may "
                    "be one off",
                    "ghi_Wm2",
                )
            ]
    if abs(middle) >= OTHER_TIME_OF_DAY_MIN:
        return [
            note(
                "sun of another hour",
                f"the sun of the irradiance is {_late_words(middle)} against {where}",
                "correct the time zone or the longitude, or put the rows on local standard time; "
                "solar gain cannot be computed from it",
                "ghi_Wm2",
            )
        ]
    if abs(middle) >= LATE_MIN:
        return [
            note(
                "clock",
                f"the sun of the irradiance is {_late_words(middle)} against {where}",
                "used as it is; check the time zone, the longitude and which hour a row represents",
                "ghi_Wm2",
            )
        ]
    off = known & (np.abs(late - middle) >= LATE_MIN + 15.0)
    if not off.any():
        return []
    month = int(np.argmax(np.where(off, np.abs(late - middle), 0.0)))
    return [
        note(
            "clock",
            f"the sun of the irradiance is {_late_words(float(late[month]))} in "
            f"{month_words(month)} against {where}, unlike in other months"
            + (f" ({int(off.sum())} such months)" if off.sum() > 1 else ""),
            "used as it is; check the rows of these months",
            "ghi_Wm2",
            np.flatnonzero(off[_MONTH_OF_HOUR]),
        )
    ]


def _late_words(minutes: float) -> str:
    amount = f"{abs(minutes):.0f} min" if abs(minutes) < 90.0 else f"{abs(minutes) / 60.0:.1f} h"
    return f"{amount} {'late' if minutes > 0.0 else 'early'}"


# --- place --------------------------------------------------------------------------------------


def _latitude(sun: _Sun, station: Station) -> list[Finding]:
    """A latitude whose days are not as long as those of the file."""
    own = _fit(sun.measured, station.latitude)
    fits = np.array([_fit(sun.measured, float(latitude)) for latitude in _LATITUDES])
    best = float(_LATITUDES[int(np.argmax(fits))])
    if fits.max() < 0.9 or fits.max() - own < LATITUDE_GAIN:
        return []
    if abs(best - station.latitude) < LATITUDE_DEG:
        return []
    what = (
        f"the days of the irradiance are long and short as at latitude {best:.0f}, and the "
        f"station's is {station.latitude:.2f}"
    )
    if best * station.latitude < 0.0 and min(abs(best), abs(station.latitude)) > TROPICS_DEG:
        return [
            note("hemisphere", what, "correct its sign; solar gain cannot be computed", "ghi_Wm2")
        ]
    return [
        note("latitude", what, "used as it is; check the latitude and the rows' order", "ghi_Wm2")
    ]


def _fit(measured: FloatArray, latitude: float) -> float:
    """Agreement of the clear profiles with the sun at a latitude, each put on its own noon."""
    day = np.arange(1, 366)
    # declination of the sun, Spencer 1971, first terms: enough for degrees of latitude
    angle = 2.0 * np.pi * (day - 1) / 365.0
    declination = 0.006918 - 0.399912 * np.cos(angle) + 0.070257 * np.sin(angle)
    tall, wide = np.sin(declination)[:, None], np.cos(declination)[:, None]
    hour_angle = np.radians(15.0 * (np.arange(24) + 0.5 - 12.0))
    lat = np.radians(latitude)
    height = np.maximum(np.sin(lat) * tall + np.cos(lat) * wide * np.cos(hour_angle), 0.0)
    due = np.array([height[m == _MONTH].mean(axis=0) for m in range(12)])
    centered = _centered(measured)
    return float(np.corrcoef(due.ravel(), centered.ravel())[0, 1])


def _centered(profiles: FloatArray) -> FloatArray:
    """Profiles moved so that the middle of their sunshine is noon."""
    hours = np.arange(24) + 0.5
    angle = 2.0 * np.pi * hours / 24.0
    total = profiles.sum(axis=0)
    middle = float(np.angle((total * np.exp(1j * angle)).sum())) % (2.0 * np.pi) * 12.0 / np.pi
    at = (hours + middle - 12.0) % 24.0
    wrapped = np.concatenate([[hours[-1] - 24.0], hours, [hours[0] + 24.0]])
    return np.array(
        [np.interp(at, wrapped, np.concatenate([[row[-1]], row, [row[0]]])) for row in profiles]
    )


# --- amount -------------------------------------------------------------------------------------


def _clearness(ghi: FloatArray, sun: _Sun) -> list[Finding]:
    """Months whose clear hours are brighter than the sun or dimmer than any clear sky."""
    high = sun.zenith < 75.0
    share = ghi / np.maximum(sun.top, 1.0)
    clear = np.full(12, np.nan)
    for month in range(12):
        here = high & (month == _MONTH_OF_HOUR)
        if here.sum() >= 30:
            clear[month] = np.quantile(share[here], 0.95)
    off = (clear < CLEARNESS[0]) | (clear > CLEARNESS[1])
    if np.isfinite(clear).any() and np.nanmax(clear) < CLEAREST_MONTH:
        off |= np.isfinite(clear)
    if not off.any():
        return []
    which = "all year" if off[np.isfinite(clear)].all() else f"in {_months_words(off)}"
    return [
        note(
            "irradiance unit",
            f"global irradiance in clear hours is {np.nanmedian(clear[off]):.2g} of the sun above "
            f"the air {which}, where 0.6 to 0.9 is usual",
            "write it in W/m2; solar gain cannot be computed from it",
            "ghi_Wm2",
            np.flatnonzero(off[_MONTH_OF_HOUR]),
        )
    ]


def _months_words(mask: npt.NDArray[np.bool_]) -> str:
    months = [month_words(int(month)) for month in np.flatnonzero(mask)]
    more = f" and {len(months) - 3} more" if len(months) > 3 else ""
    return ", ".join(months[:3]) + more


def _closure(whole: dict[str, FloatArray], sun: _Sun) -> list[Finding]:
    """Global against direct and diffuse irradiance."""
    ghi, dni, dhi = (whole[name] for name in ("ghi_Wm2", "dni_Wm2", "dhi_Wm2"))
    if np.isnan(dni).any() or np.isnan(dhi).any():
        return []
    sunny = (sun.zenith < 75.0) & (np.maximum(ghi, dhi) > CLOSURE_WM2)
    apart = np.abs(ghi - dhi - dni * sun.direct)
    bad = sunny & (apart > np.maximum(CLOSURE_WM2, CLOSURE * ghi))
    share = np.array(
        [
            bad[here].sum() / max(1, sunny[here].sum())
            for here in (month == _MONTH_OF_HOUR for month in range(12))
        ]
    )
    if not (share > CLOSURE_SHARE).any():
        return []
    return [
        note(
            "irradiance disagrees",
            f"global irradiance differs by more than {100 * CLOSURE:.0f} % from direct and diffuse "
            f"together in {int(bad.sum())} of {int(sunny.sum())} sunny hours, most in "
            f"{month_words(int(np.argmax(share)))}",
            "used as they are; check their order, units and hours",
            "ghi_Wm2",
            np.flatnonzero(bad),
        )
    ]


def _night(ghi: FloatArray, sun: _Sun) -> list[Finding]:
    """Sunshine by night, none by day."""
    found = []
    for check, hours, what in (
        (
            "sun at night",
            (sun.zenith > NIGHT_ZENITH_DEG) & (ghi > 10.0),
            "is above 10 W/m2 by night",
        ),
        ("no sun by day", (sun.zenith < HIGH_ZENITH_DEG) & (ghi <= 0.0), "is 0 under a high sun"),
    ):
        at = np.flatnonzero(hours)
        if at.size > 2:
            found.append(
                note(
                    check,
                    f"{SPOKEN['ghi_Wm2']} {what} in {at.size} h, first on {hour_words(int(at[0]))}",
                    "used as it is; check the clock and the column",
                    "ghi_Wm2",
                    at,
                )
            )
    return found


def _daylight(ghi: FloatArray, sun: _Sun) -> list[Finding]:
    """Months whose days are longer or shorter than the sun's."""
    excess = np.zeros(12)
    for month in range(12):
        here = np.asarray(month == _MONTH_OF_HOUR)
        days = here.sum() / 24.0
        excess[month] = ((ghi[here] > 5.0).sum() - (sun.zenith[here] < 89.0).sum()) / days
    off = np.abs(excess) > DAYLIGHT_H
    if not off.any():
        return []
    worst = int(np.argmax(np.abs(excess)))
    more = "longer" if excess[worst] > 0.0 else "shorter"
    return [
        note(
            "length of days",
            f"days of the irradiance are {abs(excess[worst]):.1f} h {more} than the sun's in "
            f"{month_words(worst)}"
            + (f", and unlike it in {int(off.sum()) - 1} more months" if off.sum() > 1 else ""),
            "used as it is; check that these months are where they belong",
            "ghi_Wm2",
            np.flatnonzero(off[_MONTH_OF_HOUR]),
        )
    ]


assert _MONTH_OF_HOUR.size == HOURS
