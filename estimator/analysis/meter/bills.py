"""Utility bills read from a CSV file or a table, whatever its titles, as periods of whole days."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from dewledger.quantities import parse
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray

if TYPE_CHECKING:
    import pandas as pd

LARGEST_FILE_BYTES = 5_000_000
KWH_PER_THERM = float(parse("1 therm/h", "heat flow")) / 1000.0

# Titles that bills are found under, in small letters and without signs.
_TITLES = {
    "month": ("month", "billing month", "period", "bill month"),
    "start": ("start", "start date", "from", "from date", "service from", "period start"),
    "read": (
        "read", "read date", "date", "end", "end date", "to", "to date", "service to", "bill date",
        "meter read date", "reading date", "period end",
    ),
    "kwh": (
        "kwh", "electricity", "electricity kwh", "electric kwh", "usage kwh", "use kwh",
        "energy kwh", "consumption kwh", "kwh used", "total kwh", "electric usage kwh",
    ),
    "kw": (
        "kw", "demand", "demand kw", "peak kw", "billed kw", "peak demand kw",
        "billed demand kw",
    ),
    "therms": ("therm", "therms", "gas", "gas therms", "gas therm", "gas usage therms"),
}  # fmt: skip
# Units that bills come in and that are not read: therms of a volume are the supplier's figure.
_OTHER_UNITS = re.compile(r"\b(mwh|ccf|mcf|mmbtu|dth|gj)\b")
_DATE_FORMATS = (
    "%Y-%m-%d",
    "%m/%d/%Y",
    "%m/%d/%y",
    "%Y/%m/%d",
    "%d.%m.%Y",
    "%d %b %Y",
    "%b %d, %Y",
)
_MONTH_FORMATS = ("%Y-%m", "%m/%Y", "%b %Y", "%B %Y", "%b-%y", "%b-%Y", "%Y/%m", "%Y%m")


@dataclass(frozen=True, eq=False)
class Bills:
    """Bills by period, in the order of time.

    start, end : first day of each period and the day after its last one
    electricity_kWh, demand_kW, gas_kWh : what was billed; NaN where a bill does not say it
    """

    start: tuple[date, ...]
    end: tuple[date, ...]
    electricity_kWh: FloatArray
    demand_kW: FloatArray
    gas_kWh: FloatArray
    name: str

    def __len__(self) -> int:
        return len(self.start)


def read_bills(source: str | Path | pd.DataFrame, first_read: str | None = None) -> Bills:
    """Bills of a CSV file or of a table with the same columns.

    Parameters
    ----------
    source : path, or a frame with a column of read dates or months and kWh, kW or therms
    first_read : date of the reading before the first row, where the rows carry read dates only

    Raises
    ------
    InputError : one sentence on what cannot be read, with its row
    """
    import pandas as pd

    if isinstance(source, pd.DataFrame):
        name = "the table of bills"
        table = source.astype(object).where(source.notna(), "").astype(str)
        if not isinstance(source.index, pd.RangeIndex):
            table.insert(0, str(source.index.name or "date"), [str(i) for i in source.index])
    else:
        path = Path(source)
        name = f'"{path.name}"'
        table = pd.DataFrame(_cells(path, name))
    if table.empty:
        raise InputError(f"{name} holds no bills; write a head and one row for each bill")
    columns = _columns(list(map(str, table.columns)), name)
    if not {"kwh", "therms"} & set(columns):
        raise InputError(
            f"{name} has no column of energy; its head is {_head(table)}; name one kWh or therms"
        )
    rows = [row for row in table.itertuples(index=False) if any(str(cell).strip() for cell in row)]
    if "month" in columns:
        periods = [_month(str(row[columns["month"]]), i, name) for i, row in enumerate(rows)]
    elif "read" in columns:
        periods = _read_periods(rows, columns, first_read, name)
    else:
        raise InputError(
            f"{name} has no column of dates; its head is {_head(table)}; name one read date "
            "(2023-01-31) or month (2023-01)"
        )
    values = {
        kind: np.array(
            [
                _number(str(row[columns[kind]]), i, str(table.columns[columns[kind]]), name)
                for i, row in enumerate(rows)
            ]
        )
        if kind in columns
        else np.full(len(rows), np.nan)
        for kind in ("kwh", "kw", "therms")
    }
    order = sorted(range(len(rows)), key=lambda i: periods[i])
    for before, after in pairwise(order):
        if periods[after][0] < periods[before][1]:
            raise InputError(
                f"{name} has two bills for {periods[after][0]:%Y-%m-%d} (rows {before + 1} and "
                f"{after + 1}); keep one bill for each period"
            )
    if not rows:
        raise InputError(f"{name} holds no bills; write a head and one row for each bill")
    return Bills(
        tuple(periods[i][0] for i in order),
        tuple(periods[i][1] for i in order),
        values["kwh"][order],
        values["kw"][order],
        values["therms"][order] * KWH_PER_THERM,
        name,
    )


def _cells(path: Path, name: str) -> pd.DataFrame:
    """The file's cells as text."""
    try:
        if not path.is_file():
            raise InputError(
                f"{name} is not a file; write the path of a CSV of bills relative to the case file"
            )
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise InputError(
                f"{name} is larger than {LARGEST_FILE_BYTES // 1_000_000} MB, which no file of "
                "bills is; write one row for each bill"
            )
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise InputError(
            f"{name} cannot be read ({error.strerror}); write the path of a CSV of bills"
        ) from None
    except UnicodeDecodeError:
        raise InputError(f"{name} is not a CSV in UTF-8; save it as one") from None
    return read_cells(text, name)


def read_cells(text: str, name: str) -> pd.DataFrame:
    """Cells of a CSV as text, separated by commas, semicolons or tabs; lines that begin with #
    are left out.

    Raises
    ------
    InputError : no table can be made of it
    """
    import pandas as pd

    if "\0" in text:
        raise InputError(f"{name} holds binary data; save it as a CSV")
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    if not lines:
        raise InputError(f"{name} is empty; write a head and one row for each entry")
    separator = max(",;\t", key=lines[0].count)
    _require_one_of_each(lines[0], separator, name)
    try:
        cells = pd.read_csv(
            io.StringIO("\n".join(lines)), dtype=str, keep_default_na=False, sep=separator,
            skipinitialspace=True,
        )  # fmt: skip
    except (ValueError, OverflowError):
        raise InputError(
            f"{name} is not a table: its rows have more cells than its head; write one cell for "
            "each title, and put a number such as 1,234 in quotes"
        ) from None
    if not isinstance(cells.index, pd.RangeIndex):
        raise InputError(
            f"{name} has rows with more cells than its head; write one cell for each title, and "
            "put a number such as 1,234 in quotes"
        )
    return cells.fillna("")


def _require_one_of_each(head: str, separator: str, name: str) -> None:
    """Two columns of one title: which is meant is unknown."""
    try:
        titles = [title.strip() for title in next(csv.reader([head], delimiter=separator), [])]
    except csv.Error:
        raise InputError(f"{name} has a title of over 131,000 characters; shorten it") from None
    for title in titles:
        if title and titles.count(title) > 1:
            raise InputError(
                f'{name} has two columns called "{title[:30]}"; keep one, or name both'
            )


def _head(table: pd.DataFrame) -> str:
    return ", ".join(str(title)[:30] for title in list(table.columns)[:6])


def _columns(head: list[str], name: str) -> dict[str, int]:
    """Place of each kind of column."""
    plain = [re.sub(r"[^a-z0-9]+", " ", title.lower()).strip() for title in head]
    found: dict[str, int] = {}
    for kind, titles in _TITLES.items():
        places = [i for i, title in enumerate(plain) if title in titles]
        if len(places) > 1:
            raise InputError(
                f'{name} has two columns for one thing, "{head[places[0]]}" and '
                f'"{head[places[1]]}"; keep one'
            )
        if places:
            found[kind] = places[0]
    used = set(found.values())
    for i, title in enumerate(plain):
        unit = _OTHER_UNITS.search(title)
        if unit and i not in used:
            raise InputError(
                f'{name} has the column "{head[i][:30]}" in {unit[0]}, which is not read; write it '
                "as kWh or therms, or take it out"
            )
    return found


def _date(text: str, i: int, name: str) -> date:
    cleaned = re.sub(r"[ T]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?$", "", text.strip())
    for form in _DATE_FORMATS:
        try:
            found = datetime.strptime(cleaned, form).date()
        except ValueError:
            continue
        if 1970 <= found.year <= 2100:
            return found
    raise InputError(
        f'{name} has "{text.strip()[:30]}" as date in row {i + 1}; write for example 2023-01-31'
    )


def _month(text: str, i: int, name: str) -> tuple[date, date]:
    for form in _MONTH_FORMATS:
        try:
            first = datetime.strptime(text.strip(), form).date()
        except ValueError:
            continue
        if 1970 <= first.year <= 2100:
            return first, (first + timedelta(days=31)).replace(day=1)
    raise InputError(
        f'{name} has "{text.strip()[:30]}" as month in row {i + 1}; write for example 2023-01'
    )


def _read_periods(
    rows: Sequence[tuple[object, ...]], columns: dict[str, int], first_read: str | None, name: str
) -> list[tuple[date, date]]:
    """Periods between readings: from one reading's day up to the next one's."""
    ends = [_date(str(row[columns["read"]]), i, name) for i, row in enumerate(rows)]
    if "start" in columns:
        starts = [_date(str(row[columns["start"]]), i, name) for i, row in enumerate(rows)]
        for i, (start, end) in enumerate(zip(starts, ends, strict=True)):
            if start >= end:
                raise InputError(
                    f"{name} has a bill from {start} to {end} in row {i + 1}; write the later date "
                    "as the end"
                )
        if _ends_are_last_days(starts, ends):
            ends = [end + timedelta(days=1) for end in ends]
    else:
        ordered = sorted(set(ends))
        if len(ordered) < len(ends):
            twice = next(day for day in ordered if ends.count(day) > 1)
            raise InputError(f"{name} has the read date {twice} twice; keep one row for each bill")
        before: dict[date, date] = dict(zip(ordered[1:], ordered, strict=False))
        if first_read is not None:
            first = _date(first_read, 0, "[meter] first_read")
            if first >= ordered[0]:
                raise InputError(
                    f"[meter] first_read {first} is not before the first bill, {ordered[0]}; write "
                    "the date of the reading before it"
                )
        else:
            first = _month_before(ordered[0])
        before[ordered[0]] = first
        starts = [before[end] for end in ends]
    for i, (start, end) in enumerate(zip(starts, ends, strict=True)):
        if (end - start).days > 400:
            raise InputError(
                f"{name} has a bill of {(end - start).days} days in row {i + 1}; write the "
                "readings between, or a start date"
            )
    return list(zip(starts, ends, strict=True))


def _ends_are_last_days(starts: Sequence[date], ends: Sequence[date]) -> bool:
    """Whether a bill's end is its last day, the next one's start being the day after, and not the
    day of the reading, which both have."""
    next_starts = set(starts)
    day_after = sum(end + timedelta(days=1) in next_starts for end in ends)
    same_day = sum(end in next_starts for end in ends)
    return day_after > same_day


def _month_before(day: date) -> date:
    last = day.replace(day=1) - timedelta(days=1)
    return last.replace(day=min(day.day, last.day))


def _number(text: str, i: int, title: str, name: str) -> float:
    cleaned = text.strip().replace("\u00a0", "").replace(" ", "")
    if not cleaned:
        return float("nan")
    if re.fullmatch(r"-?\d{1,3}(,\d{3})+(\.\d*)?", cleaned):
        cleaned = cleaned.replace(",", "")
    if re.fullmatch(r"-?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", cleaned):
        value = float(cleaned)
        if 0.0 <= value < 1e12:
            return value
        if value < 0.0:
            raise InputError(
                f'{name} has {cleaned[:20]} in column "{title[:30]}" of row {i + 1}, which is '
                "below zero; write what was used, before anything sold back"
            )
    raise InputError(
        f'{name} has "{text.strip()[:30]}" in column "{title[:30]}" of row {i + 1}; write a number '
        "such as 1234"
    )


def by_period(hourly: FloatArray, bills: Bills, year: int) -> FloatArray:
    """Sums of an hourly series over the bills' periods inside a calendar year, (periods,).

    ``hourly`` is (..., 8760) of local standard time without 29 February, which in a leap year is
    counted as the day before. NaN where a period is not wholly inside the year.
    """
    daily = hourly.reshape(*hourly.shape[:-1], 365, 24).sum(axis=-1)
    leading = np.concatenate([np.zeros((*daily.shape[:-1], 1)), np.cumsum(daily, axis=-1)], axis=-1)
    leap_day = daily[..., 58]
    totals = np.full((*hourly.shape[:-1], len(bills)), np.nan)
    for i, (start, end) in enumerate(zip(bills.start, bills.end, strict=True)):
        if start < date(year, 1, 1) or end > date(year + 1, 1, 1):
            continue
        first, last = _place(start, year), _place(end, year)
        totals[..., i] = leading[..., last] - leading[..., first]
        if _is_leap(year) and start <= date(year, 2, 29) < end:
            totals[..., i] += leap_day
    return totals


def _is_leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def _place(day: date, year: int) -> int:
    """Days of a year without 29 February that lie before a day."""
    number = (day - date(year, 1, 1)).days
    return number - 1 if _is_leap(year) and day > date(year, 2, 29) else min(number, 365)
