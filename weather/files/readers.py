"""Any weather file becomes a WeatherYear: read, put in order, made whole, and looked over.

The steps are the same for every format: rows put against the calendar, missing codes to NaN,
sub-hourly rows averaged, UTC rolled to local standard time, pressure's unit known by its range,
dew point from relative humidity where it has none, gaps filled, dew point brought under the dry
bulb. Whatever was done is a finding.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from dewledger.weather.bundled import bundled_path
from dewledger.weather.errors import InputError
from dewledger.weather.files.findings import note
from dewledger.weather.files.formats import Header, recognized
from dewledger.weather.files.gap_filling import make_whole
from dewledger.weather.files.kept_years import keep_year, kept_year, year_key
from dewledger.weather.files.plain import (
    PROVENANCE,
    Head,
    is_plain,
    read_head,
    read_plain,
    with_stated_year,
)
from dewledger.weather.files.rows import rows_of_format, rows_of_plain
from dewledger.weather.files.text import content_of, lines_of, not_known
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import Finding, Kind, Station, WeatherYear, make_year


def read(
    path_or_bundled_name: str | Path,
    *,
    columns: Mapping[str, str] | None = None,
    site: Mapping[str, Any] | None = None,
    keep: bool = True,
) -> WeatherYear:
    """Read a weather file, whatever its format, or a bundled station.

    Parameters
    ----------
    path_or_bundled_name : a file (TMY2, TMY3, EPW, NSRDB CSV, PVGIS TMY CSV, plain CSV, recognized
        by content), or greensboro, miami, sand-point
    columns : for a plain CSV, our column name -> the file's; not needed where it uses our names
    site : name, latitude, longitude, altitude_m, utc_offset_h for what the file does not say
    keep : keep the parsed year in the user's cache folder, and take it from there

    Raises
    ------
    InputError : the file cannot serve; one sentence says why and what to write instead
    """
    path = bundled_path(str(path_or_bundled_name)) or Path(path_or_bundled_name)
    content = content_of(path, str(path_or_bundled_name))
    key = year_key(content, path.stem, columns, site or {}) if keep else ""
    year = kept_year(key) if keep else None
    if year is None:
        try:
            year = _read(content, path, columns, dict(site or {}))
        except InputError as problem:
            raise InputError(f"{path.name}: {problem}") from None
        if keep:
            keep_year(key, year)
    return year


def _read(
    content: bytes, path: Path, columns: Mapping[str, str] | None, site: dict[str, Any]
) -> WeatherYear:
    lines = lines_of(content)
    form = recognized(lines)
    findings: list[Finding] = []
    if form is None:
        if not is_plain(lines, columns):
            raise not_known(lines)
        head = read_head(lines)
        minute = head.numbers.get("irradiance_minute", 30.0)
        rows = rows_of_plain(*read_plain(lines, columns, findings), minute, findings)
        leap_day = any(finding.check == "leap day" for finding in findings)
        rows = replace(rows, years=with_stated_year(head, rows.years, leap_day))
        header = _plain_header(head, site, path)
        findings += [_caution(text) for text in head.cautions]
    else:
        if columns is not None:
            raise InputError(
                f"this is a {form.name} file, whose columns are known; leave out the column mapping"
            )
        header, rows = rows_of_format(form, lines, findings)
    offset = _utc_offset(header, site, findings)
    shift_h = offset - header.clock_offset_h
    values, minute = rows.values, rows.minute
    if np.isfinite(shift_h):
        values, minute = _to_local(values, shift_h, minute)
    said = "typical" if form is not None and form.typical else header.kind
    kind = _kind(rows.years, said, findings)
    station = Station(
        name=header.name,
        latitude=header.latitude,
        longitude=header.longitude,
        altitude_m=header.altitude_m,
        utc_offset_h=offset,
        format="plain CSV" if form is None else form.name,
        label="mid" if form is None else form.label,
        source_years=rows.years,
        sha256=hashlib.sha256(content).hexdigest(),
        irradiance_minute=minute + header.irradiance_late_minutes,
        design_dew_points=header.design_dew_points,
        kind=kind,
        year=rows.years[1] if kind == "actual" else None,
        provenance=header.provenance,
    )
    _check_station(station, "the site is" if form is None else "the header puts the station")
    _say_site_elsewhere(station, site, findings)
    whole = make_whole(values, station, "Pa" if form is None else form.pressure_unit, findings)
    stopped = [finding for finding in findings if finding.severity == "error"]
    if stopped:
        raise InputError(stopped[0].sentence)
    return make_year(whole, station, tuple(findings))


def _kind(years: dict[int, int], said: Kind, findings: list[Finding]) -> Kind:
    """Typical or actual: by the file's word, else by whether its months are of one year."""
    of_one_year = len(set(years.values())) == 1
    if said == "actual" and not of_one_year:
        raise InputError(
            "the head says that this is an actual year, and not which; write kind: actual 2021, "
            "give the rows a column year that reads the same throughout, or write kind: typical"
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
            place = ", ".join(
                f"{what} {number:{form}}{unit}"
                for what, number, form, unit in (
                    ("latitude", station.latitude, "g", ""),
                    ("longitude", station.longitude, "g", ""),
                    ("altitude", station.altitude_m, "g", " m"),
                    ("UTC", station.utc_offset_h, "+g", " h"),
                )
                if np.isfinite(number)
            )
            raise InputError(f"{where} at {place}, and no such {name} exists; correct it there")
