"""Trend data of a building automation system, aligned to the hours of the model.

The times are a clock's: irregular, with gaps, and with summer time where a zone is named. Samples
of an hour [i, i+1) of local standard time are averaged; an hour without a sample is left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from dewledger.analysis.meter.bills import read_cells
from dewledger.case.meter import TREND_COLUMNS, Trend
from dewledger.case.words import nearest
from dewledger.quantities import parse
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray

HOURS = 8760
LARGEST_FILE_BYTES = 200_000_000
_DEFAULT_UNITS = {"temperature": "degF", "fraction": "%"}
_ON = {"on": 1.0, "true": 1.0, "active": 1.0, "running": 1.0}
_OFF = {"off": 0.0, "false": 0.0, "inactive": 0.0, "stopped": 0.0}
# What may be measured, in the unit inside; beyond it a sensor is broken or the unit is wrong.
_PLAUSIBLE = {"temperature": (-60.0, 90.0), "fraction": (0.0, 1.0)}
_SHARE_PLAUSIBLE = 0.95


@dataclass(frozen=True, eq=False)
class Trends:
    """Hourly means of what was measured, (8760,) each, NaN where an hour has no sample.

    Temperatures in C, shares and humidity as fractions.

    samples : read and used; left_out : sentences on what was not
    """

    values: dict[str, FloatArray]
    year: int
    samples: int
    left_out: tuple[str, ...]


def read_trends(trend: Trend, folder: Path, year: int, utc_offset_h: float) -> Trends:
    """The trend file of a case, aligned to the hours of a calendar year.

    Parameters
    ----------
    year : calendar year of the weather
    utc_offset_h : of local standard time

    Raises
    ------
    InputError : one sentence on what cannot be read, with its row
    """
    path = folder / trend.file
    name = f'[trend] "{path.name}"'
    table = _cells(path, name)
    head = [str(title).strip() for title in table.columns]
    for title in (trend.time, *trend.columns.values()):
        if title not in head:
            raise InputError(
                f'{name} has no column "{title}"{nearest(title, head)}; its head is '
                f"{', '.join(one[:30] for one in head[:6])}"
            )
    stamps, notes = _standard_time(table.iloc[:, head.index(trend.time)], trend, utc_offset_h, name)
    inside = stamps.notna() & (stamps.dt.year == year) & ~_leap_day(stamps)
    if not inside.any():
        raise InputError(
            f"{name} has no times in {year}, the year of the weather; give trends of that year"
        )
    outside = int((stamps.notna() & ~inside).sum())
    if outside:
        notes.append(f"{outside} samples lie outside {year}")
    place = _hour_of_year(stamps[inside], year)
    values = {}
    for ours, title in trend.columns.items():
        cells = table.iloc[:, head.index(title)][inside]
        values[ours] = _hourly(cells, place, ours, title, trend, name, notes)
    return Trends(values, year, int(inside.sum()), tuple(notes))


def _cells(path: Path, name: str) -> pd.DataFrame:
    try:
        if not path.is_file():
            raise InputError(f"{name} is not a file; write its path relative to the case file")
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise InputError(
                f"{name} is larger than {LARGEST_FILE_BYTES // 1_000_000} MB; give one year of it"
            )
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise InputError(f"{name} cannot be read ({error.strerror}); write its path") from None
    except UnicodeDecodeError:
        raise InputError(f"{name} is not a CSV in UTF-8; save it as one") from None
    return read_cells(text, name)


def _standard_time(
    cells: pd.Series, trend: Trend, utc_offset_h: float, name: str
) -> tuple[pd.Series, list[str]]:
    """Local standard time of each row; NaT where a time is blank or ambiguous."""
    written = cells.astype(str).str.strip()
    notes: list[str] = []
    offsets = written.str.contains(r"(?:[+-]\d{2}:?\d{2}|Z)$", regex=True)
    if bool(offsets[written != ""].all()) and bool((written != "").any()):
        parsed = pd.to_datetime(written, errors="coerce", utc=True, format="mixed")
        _require_times(parsed, written, name)
        shifted = parsed.dt.tz_convert(None) + pd.Timedelta(hours=utc_offset_h)
        return shifted, notes
    parsed = pd.to_datetime(written, errors="coerce", format=_format_of(written, name))
    _require_times(parsed, written, name)
    if trend.time_zone is None:
        return parsed, notes
    try:
        standard = _from_zone(parsed, trend.time_zone, utc_offset_h)
    except (KeyError, ValueError, OSError):
        raise InputError(
            f'[trend] time_zone "{trend.time_zone}" is not known; write for example '
            '"America/New_York"'
        ) from None
    lost = int((parsed.notna() & standard.isna()).sum())
    if lost:
        notes.append(f"{lost} samples are at times that the clock skips in spring")
    return standard, notes


def _from_zone(parsed: pd.Series, zone: str, utc_offset_h: float) -> pd.Series:
    """A clock's times as local standard time.

    In the hour that comes twice in fall the first pass is summer time; the second begins where the
    times step back, or where they are seen a second time. Files with the newest row on top are
    followed from their end; where rows come twice all year, a time seen again is no second pass.
    """
    index = pd.DatetimeIndex(parsed)
    localized = index.tz_localize(zone, ambiguous="NaT", nonexistent="NaT")
    twice = np.flatnonzero(np.asarray(localized.isna()) & np.asarray(index.notna()))
    steps = np.sign(np.diff(index[index.notna()].to_numpy().astype("int64")))
    if (steps < 0).sum() > (steps > 0).sum():
        twice = twice[::-1]
    rows_come_twice = (steps == 0).mean() > _OFTEN if steps.size else False
    first_pass = np.ones(len(index), dtype=bool)
    latest = pd.Timestamp.min
    stepped_back = False
    day = None
    for i, stamp in zip(twice, index[twice].to_pydatetime(), strict=True):
        if stamp.date() != day:
            day, latest, stepped_back = stamp.date(), pd.Timestamp.min, False
        again = stamp == latest and not rows_come_twice
        stepped_back = stepped_back or stamp < latest or again
        latest = max(latest, pd.Timestamp(stamp))
        first_pass[i] = not stepped_back
    localized = index.tz_localize(zone, ambiguous=first_pass, nonexistent="NaT")
    shifted = localized.tz_convert(None) + pd.Timedelta(hours=utc_offset_h)
    return pd.Series(shifted, index=parsed.index)


# Above this share of rows with the time of the row before, rows come twice all year.
_OFTEN = 0.1
_FORMATS = (
    "%Y-%m-%d %H:%M:%S", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%dT%H:%M",
    "%Y-%m-%d %H:%M:%S.%f", "%m/%d/%Y %H:%M:%S", "%m/%d/%Y %H:%M", "%m/%d/%Y %I:%M:%S %p",
    "%m/%d/%Y %I:%M %p", "%m/%d/%y %H:%M", "%d.%m.%Y %H:%M", "%d-%b-%y %I:%M:%S %p",
    "%d-%b-%Y %H:%M:%S", "%Y/%m/%d %H:%M:%S", "%Y/%m/%d %H:%M",
)  # fmt: skip


def _format_of(written: pd.Series, name: str) -> str:
    """The one format that reads most of the times."""
    some = written[written != ""]
    if some.empty:
        raise InputError(f"{name} has no times; name the column of times under [trend] time")
    sample = some.iloc[:: max(1, len(some) // 200)]
    read = {
        form: int(pd.to_datetime(sample, errors="coerce", format=form).notna().sum())
        for form in _FORMATS
    }
    best = max(read, key=lambda form: read[form])
    if read[best] == 0:
        raise InputError(
            f'{name} has "{sample.iloc[0][:30]}" as time; write times such as 2023-07-15 14:05 or '
            "07/15/2023 02:05 PM"
        )
    return best


def _require_times(parsed: pd.Series, written: pd.Series, name: str) -> None:
    wrong = parsed.isna() & (written != "")
    if wrong.any():
        row = int(np.flatnonzero(wrong.to_numpy())[0])
        raise InputError(
            f'{name} has "{written.iloc[row][:30]}" as time in row {row + 1}, unlike the others; '
            "write all times alike, such as 2023-07-15 14:05"
        )


def _leap_day(stamps: pd.Series) -> npt.NDArray[np.bool_]:
    return np.asarray(stamps.dt.strftime("%m-%d") == "02-29")


def _hour_of_year(stamps: pd.Series, year: int) -> np.ndarray:
    hours = ((stamps - pd.Timestamp(year, 1, 1)) // pd.Timedelta(hours=1)).to_numpy().astype(int)
    after_leap_day = (stamps >= pd.Timestamp(year, 3, 1)).to_numpy()
    leap = pd.Timestamp(year, 1, 1).is_leap_year
    return hours - np.where(after_leap_day & leap, 24, 0)


def _hourly(
    cells: pd.Series,
    place: np.ndarray,
    ours: str,
    title: str,
    trend: Trend,
    name: str,
    notes: list[str],
) -> FloatArray:
    """Means of one column by hour of the year, in the unit inside."""
    kind = TREND_COLUMNS[ours]
    written = cells.astype(str).str.strip()
    words = written.str.lower().map(_ON | _OFF) if kind == "fraction" else None
    is_word = words is not None and bool(words.notna().any())
    numbers = pd.to_numeric(written.where(written != ""), errors="coerce")
    found = numbers if words is None else words.fillna(numbers)
    lost = int((found.isna() & (written != "")).sum())
    if found.notna().sum() == 0:
        raise InputError(
            f'{name} has no number in column "{title}"; its first entry is "{written.iloc[0][:30]}"'
        )
    if lost:
        notes.append(f'{lost} entries of column "{title}" are no numbers')
    values = found.to_numpy(dtype=float)
    unit = trend.units.get(ours, "fraction" if is_word else _DEFAULT_UNITS[kind])
    if kind == "temperature":
        zero, one = (float(parse(f"{x} {unit}", kind)) for x in (0, 1))
        values = zero + values * (one - zero)
    else:
        values = values * float(parse(f"1 {unit}", kind))
    low, high = _PLAUSIBLE[kind]
    known = np.isfinite(values)
    good = known & (values >= low - 1e-9) & (values <= high + 1e-9)
    if good.sum() < _SHARE_PLAUSIBLE * known.sum():
        other = "degC" if kind == "temperature" else "fraction"
        raise InputError(
            f'{name} has values in column "{title}" that cannot be {ours.replace("_", " ")} in '
            f'{unit}; write [trend.units] {ours} = "{other}", or the column that is meant'
        )
    if good.sum() < known.sum():
        notes.append(f'{int(known.sum() - good.sum())} values of column "{title}" cannot be true')
    number = np.bincount(place[good], minlength=HOURS)[:HOURS]
    total = np.bincount(place[good], weights=values[good], minlength=HOURS)[:HOURS]
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(number > 0, total / number, np.nan)


@dataclass(frozen=True)
class Agreement:
    """Measured against modeled over the hours that both have.

    bias : mean of measured less modeled; scatter : standard deviation of that difference
    """

    what: str
    hours: int
    bias: float
    scatter: float
    measured_mean: float
    modeled_mean: float


@dataclass(frozen=True, eq=False)
class TrendComparison:
    """The ledger of an option against the trends of the same hours.

    hours_above_measured, hours_above_modeled : above the range of humidity, over the hours that
        have a measured room humidity
    """

    option: str
    year: int
    agreements: tuple[Agreement, ...]
    hours_compared: int
    hours_above_measured: int | None
    hours_above_modeled: int | None
    samples: int
    left_out: tuple[str, ...]

    def __getitem__(self, what: str) -> Agreement:
        return next(one for one in self.agreements if one.what == what)


# What the ledger calls the same thing.
LEDGER_COLUMNS = {
    "room_temperature": "room_temp_C",
    "room_relative_humidity": "room_rh_frac",
    "supply_temperature": "supply_temp_C",
    "outdoor_temperature": "outdoor_temp_C",
    "compressor": "compressor_runtime_frac",
}


def compare_trends(
    trends: Trends, ledger: dict[str, FloatArray], range_high: float, option: str
) -> TrendComparison:
    """Bias and scatter of each measured column that the ledger has too.

    ledger : columns of one option's ledger by name, (8760,) each
    range_high : relative humidity above which hours are counted
    """
    found = []
    for ours, measured in trends.values.items():
        theirs = LEDGER_COLUMNS.get(ours)
        if theirs is None:
            continue
        modeled = ledger[theirs]
        both = np.isfinite(measured) & np.isfinite(modeled)
        if not both.any():
            continue
        difference = measured[both] - modeled[both]
        found.append(
            Agreement(
                ours,
                int(both.sum()),
                float(difference.mean()),
                float(difference.std()),
                float(measured[both].mean()),
                float(modeled[both].mean()),
            )
        )
    if not found:
        raise InputError(
            "no hour of the trends has anything that the model has too; map room_temperature, "
            "room_relative_humidity, supply_temperature, outdoor_temperature or compressor"
        )
    above_measured = above_modeled = None
    humidity = trends.values.get("room_relative_humidity")
    if humidity is not None:
        seen = np.isfinite(humidity)
        above_measured = int((humidity[seen] > range_high + 1e-9).sum())
        above_modeled = int((ledger["room_rh_frac"][seen] > range_high + 1e-9).sum())
    return TrendComparison(
        option,
        trends.year,
        tuple(found),
        max(one.hours for one in found),
        above_measured,
        above_modeled,
        trends.samples,
        trends.left_out,
    )
