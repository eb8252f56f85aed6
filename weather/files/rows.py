"""The rows of a weather file against the calendar: every hour of a year once, in order."""

from __future__ import annotations

import re
import warnings
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from dewledger.weather.errors import InputError
from dewledger.weather.files.columns import read_column
from dewledger.weather.files.csv_table import check_names, names_of
from dewledger.weather.files.findings import hour_words, note
from dewledger.weather.files.formats import Format, Header
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import HOURS, Finding, calendar

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Rows:
    """What the rows of a file hold: our columns by hour of its own clock, and their years.

    ``minute`` is the minute of the hour that the values stand for.
    """

    values: dict[str, FloatArray]
    years: dict[int, int]
    minute: float


def rows_of_format(form: Format, lines: list[str], findings: list[Finding]) -> tuple[Header, Rows]:
    """Header and rows of a file of a known format; what was done to the rows goes to findings.

    Raises
    ------
    InputError : rows missing, too many, out of order, of another width, or with text for a number
    """
    import pandas as pd

    matches = [form.stamp.match(line) for line in lines]
    numbered = [i for i, match in enumerate(matches) if match]
    if not numbered:
        raise InputError(
            f"this {form.name} file has no rows of data that start as the format's do; save it in "
            "the layout it had, or use another"
        )
    first, last = numbered[0], numbered[-1]
    header = form.header(lines[:first])
    findings += header.findings
    if form.named:
        check_names(names_of(lines[first - 1]))
    odd = [i for i in range(first, last + 1) if matches[i] is None and lines[i].strip()]
    if not form.footer:
        odd += [i for i in range(last + 1, len(lines)) if lines[i].strip()]
    if odd:
        raise InputError(
            f'line {odd[0] + 1} is no row of the {form.name} format, it starts "'
            f'{lines[odd[0]].strip()[:20]}"; take it out or put the row right'
        )
    rows = [lines[i] for i in numbered]
    stamps = [match.groups() for match in matches if match]
    table = pd.DataFrame(np.array(stamps, dtype=np.int64), columns=[*form.stamp.groupindex])
    table["hour"] -= form.first_hour
    leap = _drop_leap_day(table, findings)
    rows = [row for row, drop in zip(rows, leap, strict=True) if not drop]
    places = np.array(numbered)[~leap] + 1  # the lines of the file that the rows stand in
    table = table[~leap].reset_index(drop=True)
    per_hour = _rows_per_hour(table, form.first_hour)
    if form.width(lines[:first]):
        _check_widths(rows, places, form.width(lines[:first]))
    values = {
        name: _hourly(column, per_hour)
        for name, column in _columns(form, lines[:first], rows, places).items()
    }
    if per_hour > 1:
        _say_averaged(per_hour, findings)
    # what the hour's values stand for: samples of NSRDB and PVGIS for the minute of their stamps
    # (hh:00 and hh:30 averaged for hh:15), the hours of TMY2, TMY3 and EPW for their means
    stamped = float(table["minute"].iloc[:per_hour].mean()) if form.label != "end" else 30.0
    if form.name == "TMY2":
        table["year"] += 1900
    return header, Rows(values, years_of(table), stamped)


def _columns(
    form: Format, header: list[str], rows: list[str], places: np.ndarray[Any, Any]
) -> dict[str, FloatArray]:
    """Our columns as the rows have them."""
    import pandas as pd

    try:
        with warnings.catch_warnings():
            # text among numbers is looked for below, and named with its line
            warnings.simplefilter("ignore", pd.errors.DtypeWarning)
            body = form.body(header, rows)
    except Exception as problem:  # pvlib and pandas raise many kinds on a malformed row
        _check_numbers(rows, places)
        reason = re.sub(r"\s+", " ", str(problem)).strip()[:100]
        raise InputError(
            f"the rows cannot be read as {form.name} ({reason}); use another copy of the file"
        ) from None
    if len(body) != len(rows):
        raise InputError(
            f"{len(body)} of {len(rows)} rows can be read as {form.name}; use another copy of the "
            "file"
        )
    read = {name: read_column(body, column, places) for name, column in form.columns.items()}
    return {name: column for name, column in read.items() if column is not None}


def years_of(stamps: pd.DataFrame) -> dict[int, int]:
    """The year that each month is of, by its first row."""
    months = stamps.groupby("month")["year"].first().astype(int)
    return dict(zip(months.index.astype(int), months, strict=True))


def _check_widths(rows: list[str], places: np.ndarray[Any, Any], most: int) -> None:
    """Stop at a row that has lost a value or has one too many: all after it would be shifted.

    A spreadsheet leaves out empty last columns for blocks of rows, so that several widths may be
    right; one that only a few rows have is not.
    """
    widths = [row.count(",") + 1 for row in rows]
    count = Counter(widths)
    usual = count.most_common(1)[0][0]
    few = 8
    for row, width, place in zip(rows, widths, places, strict=True):
        held = row.rstrip(", ").count(",") + 1 if width > most else width
        if held > most or count[width] < few:
            raise InputError(
                f"line {place} has {width} values where {min(usual, most)} are due; put in what is "
                "missing, take out what is too many, and write decimals with a point"
            )


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return text.strip().lower() in ("", "na")
    return True


def _check_numbers(rows: list[str], places: np.ndarray[Any, Any]) -> None:
    """Name the first value that is text where the first or last row has a number."""
    ends = [[_is_number(text) for text in rows[end].split(",")] for end in (0, -1)]
    due = [any(pair) for pair in zip(*ends, strict=False)]
    for row, place in zip(rows, places, strict=True):
        for column, text in enumerate(row.split(",")[: len(due)]):
            if due[column] and not _is_number(text):
                raise InputError(
                    f'line {place} has "{text}" where a number is due (value {column + 1} of the '
                    "line); write a number or leave it empty"
                )


def _drop_leap_day(table: pd.DataFrame, findings: list[Finding]) -> np.ndarray[Any, Any]:
    leap = ((table["month"] == 2) & (table["day"] == 29)).to_numpy()
    if leap.any():
        findings.append(_leap_note(int(leap.sum())))
    return leap


def _leap_note(rows: int) -> Finding:
    return note(
        "leap day", f"29 February is in the file ({rows} rows)", "dropped; a year has 8760 hours"
    )


def _say_averaged(per_hour: int, findings: list[Finding]) -> None:
    findings.append(
        note("sub-hourly rows", f"the file has {per_hour} rows an hour", "averaged to hours")
    )


def _rows_per_hour(table: pd.DataFrame, first_hour: int) -> int:
    """How many rows each hour has, after making sure that every hour of the year is there once.

    ``first_hour`` is what the file calls the hour from midnight.
    """
    per_hour = max(1, round(len(table) / HOURS))
    due = np.repeat(np.column_stack([*calendar().values()]), per_hour, axis=0)
    common = min(len(table), len(due))
    wrong = (table[["month", "day", "hour"]].to_numpy()[:common] != due[:common]).any(axis=1)
    if not wrong.any() and len(table) == len(due):
        return per_hour
    row = int(np.argmax(wrong)) if wrong.any() else common
    at = hour_words(row // per_hour)
    if len(table) < len(due) and row < len(due):
        raise InputError(
            f"{len(table)} rows where {len(due)} make a year, and {at} is the first hour missing; "
            "add the missing hours or use another file"
        )
    if row >= len(due):
        raise InputError(f"{len(table)} rows where {len(due)} make a year; remove what is too many")
    month, day, hour = (int(table[name].iloc[row]) for name in ("month", "day", "hour"))
    raise InputError(
        f"row {row + 1} is month {month}, day {day}, hour {hour + first_hour} where {at} is due, "
        f"called hour {int(due[row, 2]) + first_hour}; put the rows in order, one for "
        "each hour from 1 January"
    )


def _hourly(values: FloatArray, per_hour: int) -> FloatArray:
    """Means of the rows of each hour; NaN where one of them is missing."""
    return values if per_hour == 1 else values.reshape(HOURS, per_hour).mean(axis=1)


def rows_of_plain(
    values: dict[str, FloatArray],
    stamps: pd.DataFrame | None,
    minute: float,
    findings: list[Finding],
) -> Rows:
    """The rows of a plain CSV, one an hour: leap day out, sub-hourly rows averaged.

    Parameters
    ----------
    values : our columns, one value a row
    stamps : month, day, hour and where the file has it year of the rows; None for rows in order
    minute : of the hour that irradiance stands for
    findings : what was done is added

    Raises
    ------
    InputError : rows missing, too many or out of order
    """
    years: dict[int, int] = {}
    rows = next(iter(values.values())).size
    if stamps is not None:
        numbers = stamps.to_numpy(dtype=np.float64)
        odd = ~((numbers == np.round(numbers)) & (np.abs(numbers) < 10_000)).all(axis=1)
        if odd.any():
            row = int(np.argmax(odd))
            raise InputError(
                f"{', '.join(stamps.columns)} need a whole number in every row, and row {row + 1} "
                "has not; write it there, or take out these columns where the rows are in order"
            )
        years = years_of(stamps) if "year" in stamps else {}
        leap = _drop_leap_day(stamps, findings)
        values = {name: column[~leap] for name, column in values.items()}
        per_hour = _rows_per_hour(stamps[~leap].reset_index(drop=True), 0)
    else:
        per_hour = max(1, round(rows / (HOURS + 12)))
        if rows == (HOURS + 24) * per_hour:
            february_ends = 59 * 24 * per_hour
            gone = slice(february_ends, february_ends + 24 * per_hour)
            values = {name: np.delete(column, gone) for name, column in values.items()}
            findings.append(_leap_note(24 * per_hour))
            rows = HOURS * per_hour
        if rows != HOURS * per_hour:
            raise InputError(
                f"{rows} rows where {HOURS} make a year; give one row for each hour from 1 January "
                "00:00"
            )
    if per_hour > 1:
        _say_averaged(per_hour, findings)
    hourly = {name: _hourly(column, per_hour) for name, column in values.items()}
    return Rows(hourly, years, minute)
