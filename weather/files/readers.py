"""Any weather file becomes a WeatherYear: read, put in order, made whole, and looked over.

The steps are the same for every format: rows put against the calendar, missing codes to NaN,
sub-hourly rows averaged, UTC rolled to local standard time, pressure's unit known by its range,
dew point from relative humidity where it has none, gaps filled, dew point brought under the dry
bulb. Whatever was done is a finding.
"""

import csv
import hashlib
import re
import warnings
from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from dewledger.weather.bundled import BUNDLED, bundled_path
from dewledger.weather.errors import InputError
from dewledger.weather.files.columns import read_column
from dewledger.weather.files.findings import hour_words, note
from dewledger.weather.files.formats import FORMATS, Format, Header, recognized
from dewledger.weather.files.gap_filling import make_whole
from dewledger.weather.files.plain import PROVENANCE, Head, is_plain, read_head, read_plain
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import HOURS, Finding, Kind, Station, WeatherYear, calendar, make_year

_CALENDAR = calendar()


def read(
    path_or_bundled_name: str | Path,
    *,
    columns: Mapping[str, str] | None = None,
    site: Mapping[str, Any] | None = None,
) -> WeatherYear:
    """Read a weather file, whatever its format, or a bundled station.

    Parameters
    ----------
    path_or_bundled_name : a file (TMY2, TMY3, EPW, NSRDB CSV, PVGIS TMY CSV, plain CSV, told apart
        by content), or greensboro, miami, sand-point
    columns : for a plain CSV, our column name -> the file's; not needed where it uses our names
    site : name, latitude, longitude, altitude_m, utc_offset_h for what the file does not say

    Raises
    ------
    InputError : the file cannot serve; one sentence says why and what to write instead
    """
    path = bundled_path(str(path_or_bundled_name)) or Path(path_or_bundled_name)
    content = _content(path, str(path_or_bundled_name))
    try:
        return _read(content, path, columns, dict(site or {}))
    except InputError as problem:
        raise InputError(f"{path.name}: {problem}") from None


def _content(path: Path, asked: str) -> bytes:
    if not asked.strip():
        raise InputError(
            f"no weather is named; write the path of a weather file, or one of {', '.join(BUNDLED)}"
        )
    try:
        if path.is_dir():
            raise InputError(f'"{asked}" is a folder; write the path of a weather file in it')
        content = path.read_bytes()
    except InputError:
        raise
    except FileNotFoundError:
        raise InputError(
            f'"{asked}" is neither a file nor a bundled station; write the path of a weather '
            f"file, or one of {', '.join(BUNDLED)}"
        ) from None
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or str(problem)
        raise InputError(f'"{asked}" cannot be read ({reason}); check the path') from None
    if not content.strip():
        raise InputError(f'"{asked}" is empty; write the path of a weather file')
    return content


def _lines(content: bytes) -> list[str]:
    if content.startswith(b"PK"):
        raise InputError("this is a zip archive or a workbook; unpack it, or save it as CSV")
    if content.startswith(b"\x1f\x8b"):
        raise InputError("this is a gzip archive; unpack it")
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputError("this text is in UTF-16; save it as UTF-8, with commas between columns")
    if b"\0" in content:
        raise InputError("this is a binary file; write the path of a weather file in text")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("latin-1")
    lines = re.split(r"\r\n|\n|\r", text)
    while lines and not lines[-1].strip():
        lines.pop()
    return _unquoted(lines)


def _unquoted(lines: list[str]) -> list[str]:
    """Lines whose every value some program has put in quotes, without them."""
    if not lines[-1].startswith('"'):
        return lines
    bare = []
    for line in lines:
        fields = next(csv.reader([line]), [])
        plain = line.startswith('"') and not any("," in field or '"' in field for field in fields)
        bare.append(",".join(fields) if plain else line)
    return bare


def _not_known(lines: list[str]) -> InputError:
    """What keeps the first lines from being those of a format."""
    first = lines[0].strip()
    header = next((i for i, line in enumerate(lines) if line.strip() and line[0] != "#"), 0)
    if header and (recognized(lines[header:]) or is_plain(lines[header:], None)):
        return InputError(f"the header stands in line {header + 1}; take out what is before it")
    for mark, named in ((";", "semicolons"), ("\t", "tabs")):
        heads = any(line.count(mark) > line.count(",") for line in lines[:20])
        if heads and mark in lines[-1]:
            return InputError(
                f"the values are separated by {named}; save the file with commas between values "
                "and points in decimals"
            )
    return InputError(
        f'the format is not known by its first line, which reads "{first[:40]}"; use '
        f"{', '.join(form.name for form in FORMATS)}, or a plain CSV whose columns are named "
        "temp_air_C, temp_dew_C, rh_frac, pressure_Pa or mapped to these names"
    )


def _read(
    content: bytes, path: Path, columns: Mapping[str, str] | None, site: dict[str, Any]
) -> WeatherYear:
    lines = _lines(content)
    form = recognized(lines)
    findings: list[Finding] = []
    if form is None:
        if not is_plain(lines, columns):
            raise _not_known(lines)
        head = read_head(lines)
        values, stamps = read_plain(lines, columns, findings)
        values, header = _plain_order(values, stamps, findings), _plain_header(head, site, path)
        years = _years(stamps) if stamps is not None and "year" in stamps else {}
        minute = head.numbers.get("irradiance_minute", 30.0)
        findings += [_caution(text) for text in head.cautions]
    else:
        if columns is not None:
            raise InputError(
                f"this is a {form.name} file, whose columns are known; leave out the column mapping"
            )
        header, values, years, minute = _typical(form, lines, findings)
    offset = _utc_offset(header, site, findings)
    shift_h = offset - header.clock_offset_h
    if np.isfinite(shift_h):
        values, minute = _to_local(values, shift_h, minute)
    said = "typical" if form is not None and form.typical else header.kind
    kind = _kind(years, said, findings)
    station = Station(
        name=header.name,
        latitude=header.latitude,
        longitude=header.longitude,
        altitude_m=header.altitude_m,
        utc_offset_h=offset,
        format="plain CSV" if form is None else form.name,
        label="mid" if form is None else form.label,
        source_years=years,
        sha256=hashlib.sha256(content).hexdigest(),
        irradiance_minute=minute + header.irradiance_late_minutes,
        design_dew_points=header.design_dew_points,
        kind=kind,
        year=years[1] if kind == "actual" else None,
        provenance=header.provenance,
    )
    _check_station(station, "the site is" if form is None else "the header puts the station")
    _say_site_elsewhere(station, site, findings)
    whole = make_whole(values, station, "Pa" if form is None else form.pressure_unit, findings)
    stopped = [finding for finding in findings if finding.severity == "error"]
    if stopped:
        raise InputError(stopped[0].sentence)
    return make_year(whole, station, tuple(findings))


# --- rows against the calendar ------------------------------------------------------------------


def _typical(
    form: Format, lines: list[str], findings: list[Finding]
) -> tuple[Header, dict[str, FloatArray], dict[int, int], float]:
    """Header, columns by hour of the file's clock, years by month, minute that values stand for."""
    matches = [form.stamp.match(line) for line in lines]
    numbered = [i for i, match in enumerate(matches) if match]
    if not numbered:
        raise InputError(
            f"this {form.name} file has no rows of data that start as the format's do; save it in "
            "the layout it had, or use another"
        )
    first, last = numbered[0], numbered[-1]
    header = form.header(lines[:first])
    odd = [i for i in range(first, last + 1) if matches[i] is None and lines[i].strip()]
    if not form.footer:
        odd += [i for i in range(last + 1, len(lines)) if lines[i].strip()]
    if odd:
        raise InputError(
            f'line {odd[0] + 1} is no row of the {form.name} format, it starts "'
            f'{lines[odd[0]].strip()[:20]}"; take it out or put the row right'
        )
    rows, stamps = [], []
    for i in numbered:
        match = matches[i]
        assert match is not None
        rows.append(lines[i])
        stamps.append(match.groupdict())
    table = pd.DataFrame(stamps).apply(pd.to_numeric).astype("int64")
    table["hour"] -= form.first_hour
    leap = _drop_leap_day(table, findings)
    rows = [row for row, drop in zip(rows, leap, strict=True) if not drop]
    places = np.array(numbered)[~leap] + 1  # the lines of the file that the rows stand in
    table = table[~leap].reset_index(drop=True)
    per_hour = _rows_per_hour(table, form.first_hour)
    if form.width(lines[:first]):
        _check_widths(rows, places, form.width(lines[:first]))
    try:
        with warnings.catch_warnings():
            # text among numbers is looked for below, and named with its line
            warnings.simplefilter("ignore", pd.errors.DtypeWarning)
            body = form.body(lines[:first], rows)
    except Exception as problem:  # pvlib and pandas raise many kinds on a malformed row
        _check_numbers(rows, places)
        reason = re.sub(r"\s+", " ", str(problem)).strip()
        raise InputError(
            f"the rows cannot be read as {form.name} ({reason}); use another copy of the file"
        ) from None
    values = {}
    for name, column in form.columns.items():
        found = read_column(body, column, places)
        if found is not None:
            values[name] = _hourly(found, per_hour)
    if per_hour > 1:
        _say_averaged(per_hour, findings)
    # what the hour's values stand for: samples of NSRDB and PVGIS for the minute of their stamps
    # (hh:00 and hh:30 averaged for hh:15), the hours of TMY2, TMY3 and EPW for their means
    stamped = float(table["minute"].iloc[:per_hour].mean()) if form.label != "end" else 30.0
    if form.name == "TMY2":
        table["year"] += 1900
    return header, values, _years(table), stamped


def _years(stamps: pd.DataFrame) -> dict[int, int]:
    """The year that each month is of, by its first row."""
    months = stamps.groupby("month")["year"].first().astype(int)
    return dict(zip(months.index.astype(int), months, strict=True))


def _kind(years: dict[int, int], said: Kind, findings: list[Finding]) -> Kind:
    """Typical or actual: by the file's word, else by whether its months are of one year."""
    of_one_year = len(set(years.values())) == 1
    if said == "actual" and not of_one_year:
        raise InputError(
            "the head says that this is an actual year, and the rows do not say which; give them a "
            "column year that reads the same throughout, or write kind: typical"
        )
    if said != "not stated":
        return said
    if not of_one_year:
        return "typical" if years else "not stated"
    findings.append(
        note(
            "actual year",
            f"every month is of {years[1]}, so the file is taken for that actual year",
            "a typical year whose own years were written over must not be held against a meter",
        )
    )
    return "actual"


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
    due = _CALENDAR.loc[_CALENDAR.index.repeat(per_hour), ["month", "day", "hour"]]
    common = min(len(table), len(due))
    wrong = (table[["month", "day", "hour"]].to_numpy()[:common] != due.to_numpy()[:common]).any(
        axis=1
    )
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
        f"called hour {int(due['hour'].iloc[row]) + first_hour}; put the rows in order, one for "
        "each hour from 1 January"
    )


def _hourly(values: FloatArray, per_hour: int) -> FloatArray:
    """Means of the rows of each hour; NaN where one of them is missing."""
    return values if per_hour == 1 else values.reshape(HOURS, per_hour).mean(axis=1)


def _plain_order(
    values: dict[str, FloatArray],
    stamps: pd.DataFrame | None,
    findings: list[Finding],
) -> dict[str, FloatArray]:
    """The columns of a plain CSV, one value an hour: leap day out, sub-hourly rows averaged."""
    rows = next(iter(values.values())).size
    if stamps is not None:
        if stamps.isna().any(axis=None):
            row = int(np.argmax(stamps.isna().any(axis=1).to_numpy()))
            raise InputError(
                f"{', '.join(stamps.columns)} need a whole number in every row, and row {row + 1} "
                "has not; write it there, or take out these columns where the rows are in order"
            )
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
    return {name: _hourly(column, per_hour) for name, column in values.items()}


def _plain_header(head: Head, site: dict[str, Any], path: Path) -> Header:
    """What the head of a plain CSV says of its place, else the site of the case."""

    def given(name: str) -> float:
        stated = head.numbers.get(name, site.get(name))
        return np.nan if stated is None else float(stated)

    offset = given("utc_offset_h")
    kind = head.texts.get("kind", "").split()[:1]
    return Header(
        name=head.texts.get("name") or str(site.get("name") or path.stem),
        latitude=given("latitude"),
        longitude=given("longitude"),
        altitude_m=given("altitude_m"),
        utc_offset_h=offset,
        clock_offset_h=offset,
        kind="typical" if kind == ["typical"] else "actual" if kind else "not stated",
        provenance=tuple((key, head.texts[key]) for key in PROVENANCE if key in head.texts),
    )


def _caution(text: str) -> Finding:
    """A caution of the file's head: what is so, and after a semicolon what to do about it."""
    what, _, remedy = text.partition(";")
    return note("caution of the source", what.strip(), remedy.strip() or "mind it")


# --- clock and station --------------------------------------------------------------------------


def _utc_offset(header: Header, site: dict[str, Any], findings: list[Finding]) -> float:
    """Local standard time less UTC [h]: the file's, else the site's, else by longitude."""
    if np.isfinite(header.utc_offset_h):
        return header.utc_offset_h
    given = site.get("utc_offset_h")
    if given is not None:
        return float(given)
    if not np.isfinite(header.longitude):
        return float("nan")
    offset = float(round(header.longitude / 15.0))
    findings.append(
        note(
            "zone assumed",
            f"the file states no time zone; UTC{offset:+g} h is taken from its longitude",
            "state the site's utc_offset if local standard time is another",
        )
    )
    return offset


def _to_local(
    values: dict[str, FloatArray], shift_h: float, minute: float
) -> tuple[dict[str, FloatArray], float]:
    """Rows of a clock ``shift_h`` behind local standard time, rolled to the hour they fall in.

    The year closes on itself: the hours rolled off one end come in at the other.
    """
    if shift_h == 0.0:
        return values, minute
    total = minute + 60.0 * shift_h
    hours = int(np.floor(total / 60.0))
    return {name: np.roll(column, hours) for name, column in values.items()}, total - 60.0 * hours


def _say_site_elsewhere(station: Station, site: dict[str, Any], findings: list[Finding]) -> None:
    """The site's own place or zone where it differs from the station's: the station's is used."""
    for name, of_station, apart in (
        ("latitude", station.latitude, 1.0),
        ("longitude", station.longitude, 1.0),
        ("utc_offset_h", station.utc_offset_h, 0.0),
    ):
        given = site.get(name)
        if given is not None and abs(float(given) - of_station) > apart:
            findings.append(
                note(
                    "site elsewhere",
                    f"the site's {name} is {float(given):g} and the weather station's "
                    f"{of_station:g}",
                    "the station's is used with its weather",
                )
            )


def _check_station(station: Station, where: str) -> None:
    for name, value, most in (
        ("latitude", abs(station.latitude), 90.0),
        ("longitude", abs(station.longitude), 180.0),
        ("UTC offset", abs(station.utc_offset_h - 1.0), 13.0),  # -12 to +14 h
        ("altitude", abs(station.altitude_m - 2750.0), 3250.0),  # -500 to 6000 m
    ):
        if value > most:
            told = ", ".join(
                f"{what} {number:{form}}{unit}"
                for what, number, form, unit in (
                    ("latitude", station.latitude, "g", ""),
                    ("longitude", station.longitude, "g", ""),
                    ("altitude", station.altitude_m, "g", " m"),
                    ("UTC", station.utc_offset_h, "+g", " h"),
                )
                if np.isfinite(number)
            )
            raise InputError(f"{where} at {told}, and no such {name} exists; correct it there")
