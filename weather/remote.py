"""Weather for a place without a file, asked once of a public service and kept in a plain CSV.

A typical year comes from PVGIS, an actual year from NASA POWER, both through pvlib.iotools and only
when the user says so. The answer is written to one file, with its source, terms and cautions at its
head, and is from then on read like any other file. Both services work from reanalysis: a weather
model's cells of tens of kilometers, which smear coasts and hills.
"""

import datetime
import os
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from dewledger.weather.asking import Asking, Patience, asked_by, no_weather, with_patience
from dewledger.weather.errors import InputError
from dewledger.weather.files.readers import read
from dewledger.weather.year import HOURS, WeatherYear, calendar

PVGIS_URL = "https://re.jrc.ec.europa.eu/api/v5_3/"  # without a version an old one answers
POWER_URL = "https://power.larc.nasa.gov/api/temporal/hourly/point"
POWER_FIRST_YEAR = 2001
POWER_PARAMETERS = (
    "temp_air", "temp_dew", "relative_humidity", "pressure", "ghi", "dni", "dhi", "wind_speed",
)  # fmt: skip
OURS = {  # pvlib's name -> ours
    "temp_air": "temp_air_C",
    "temp_dew": "temp_dew_C",
    "relative_humidity": "rh_percent",
    "pressure": "pressure_Pa",
    "ghi": "ghi_Wm2",
    "dni": "dni_Wm2",
    "dhi": "dhi_Wm2",
    "wind_speed": "wind_m_s",
}


@dataclass(frozen=True)
class _Year:
    """An answer as it stands, on the service's clock, which is UTC."""

    frame: pd.DataFrame  # pvlib's columns; index in UTC
    latitude: float
    longitude: float
    altitude_m: float
    irradiance_minute: float
    source: str
    address: str


def place_from_text(text: str) -> tuple[float, float]:
    """(latitude, longitude) of "27.95, -82.46" or "27.95 N 82.46 W".

    Raises
    ------
    InputError : not two numbers, or no place on earth
    """
    number = r"\s*([-+]?\d{1,3}(?:\.\d{0,12})?)\s*°?\s*"
    match = re.fullmatch(f"{number}([NS]?)[,;\\s]{number}([EW]?)\\s*", text[:100], re.IGNORECASE)
    if match is None:
        raise InputError(
            f'"{text}" is no place; write latitude and longitude in degrees, such as '
            '"27.95, -82.46" or "27.95 N, 82.46 W"'
        )
    latitude, south, longitude, west = match.groups()
    numbers = (
        float(latitude) * (-1.0 if south.upper() == "S" else 1.0),
        float(longitude) * (-1.0 if west.upper() == "W" else 1.0),
    )
    if abs(numbers[0]) > 90.0 or abs(numbers[1]) > 180.0:
        raise InputError(
            f'"{text}" is no place on earth; latitude runs from -90 to 90 and longitude from '
            "-180 to 180, latitude first"
        )
    return numbers


def utc_offset_from_text(text: str) -> float:
    """Local standard time less UTC [h] of "-5", "UTC-5", "+5:30" or "America/New_York".

    Raises
    ------
    InputError : neither hours nor a zone
    """
    match = re.fullmatch(r"(?:UTC|GMT)?\s*([-+]?)(\d{1,2})(?::(\d\d)|(\.\d{1,2}))?\s*h?", text[:40])
    if match is not None:
        sign, hours, minutes, part = match.groups()
        size = int(hours) + int(minutes or 0) / 60.0 + float(part or 0.0)
        offset = -size if sign == "-" else size
    else:
        try:
            zone = ZoneInfo(text)
        except (KeyError, ValueError, OSError):
            raise InputError(
                f'"{text}" is no time zone; write the hours from UTC of standard time, such as -5, '
                "or a name such as America/New_York"
            ) from None
        days = (datetime.datetime(2023, month, 1, tzinfo=zone) for month in range(1, 13))
        # standard time is the lesser offset of the year: some zones call summer time their standard
        offset = min(day.utcoffset() or datetime.timedelta() for day in days).total_seconds() / 3600
    if not -12.0 <= offset <= 14.0:
        raise InputError(f'"{text}" is no time zone; hours from UTC run from -12 to 14')
    return offset


def fetch(
    latitude: float,
    longitude: float,
    save: Path,
    *,
    year: int | None = None,
    utc_offset_h: float | None = None,
    url: str | None = None,
    patience: Patience | None = None,
    say: Callable[[str], None] = lambda sentence: None,
) -> WeatherYear:
    """Ask a public service for the weather of a place, write it to a file, and read the file.

    Parameters
    ----------
    latitude, longitude : degrees, north and east positive
    save : the plain CSV to write; must not exist
    year : an actual year (NASA POWER, hourly since 2001); None for a typical year (PVGIS)
    utc_offset_h : local standard time less UTC; None for that of the longitude, which is said
    url : the service's address where it is not the usual one
    say : called with what is being waited for

    Returns
    -------
    the weather year, as read from the file

    Raises
    ------
    InputError : the file cannot be written, the service cannot be reached or does not answer, the
        answer is no weather year; one sentence, and no file is left behind
    """
    patience = patience or Patience()
    _check_file(save)
    if year is None:
        name, address = "PVGIS", url or PVGIS_URL
        address = address if address.endswith("/") else f"{address}/"

        def ask(asking: Asking) -> _Year:
            return _typical(latitude, longitude, address, asking)
    else:
        name, address = "NASA POWER", url or POWER_URL
        _check_year(year)

        def ask(asking: Asking) -> _Year:
            return _actual(latitude, longitude, year, address, asking)

    found = with_patience(name, address, ask, patience, say)
    try:
        text = _file_text(found, year, utc_offset_h)
    except (KeyError, ValueError, TypeError) as problem:
        raise InputError(no_weather(name, problem)) from None
    return _written(text, save)


def _check_file(save: Path) -> None:
    if save.exists():
        raise InputError(f'"{save}" is there already; name another file, or delete it to ask again')
    if not save.absolute().parent.is_dir():
        raise InputError(f'the folder of "{save}" does not exist; make it first')


def _check_year(year: int) -> None:
    last = datetime.datetime.now(tz=datetime.UTC).year - 1
    if not POWER_FIRST_YEAR <= year <= last:
        raise InputError(
            f"year {year} is not available; write one from {POWER_FIRST_YEAR} to {last}, which is "
            "the last whole one"
        )


def _typical(latitude: float, longitude: float, url: str, asking: Asking) -> _Year:
    from pvlib.iotools import pvgis

    with asked_by(pvgis, asking):
        frame, meta = pvgis.get_pvgis_tmy(latitude, longitude, url=url, coerce_year=None)
    inputs = meta["inputs"]
    location, data = inputs["location"], inputs["meteo_data"]
    if len(frame) != HOURS:
        raise ValueError(f"{len(frame)} hours")
    due = calendar()
    index = frame.index
    for part in ("month", "day", "hour"):
        if (getattr(index, part) != due[part]).any():
            raise ValueError("hours out of order")
    return _Year(
        frame,
        float(location["latitude"]),
        float(location["longitude"]),
        float(location["elevation"]),
        60.0 * float(location.get("irradiance_time_offset", 0.0)),
        "PVGIS typical year (ISO 15927-4), European Commission, Joint Research Center; months "
        f"chosen from {data['year_min']} to {data['year_max']}; radiation {data['radiation_db']}, "
        f"other weather {data['meteo_db']}",
        asking.address,
    )


def _actual(latitude: float, longitude: float, year: int, url: str, asking: Asking) -> _Year:
    from pvlib.iotools import nasa_power

    last = datetime.date(year + 1, 1, 1)
    first = max(datetime.date(year - 1, 12, 31), datetime.date(POWER_FIRST_YEAR, 1, 1))
    with asked_by(nasa_power, asking):
        frame, meta = nasa_power.get_nasa_power(
            latitude, longitude, first, last, list(POWER_PARAMETERS), url=url
        )
    version = (meta.get("api") or {}).get("version", "not stated")
    return _Year(
        frame,
        float(meta["latitude"]),
        float(meta["longitude"]),
        float(meta["altitude"]),
        30.0,  # hours are means
        f"NASA POWER hourly, {meta.get('title', '')}, version {version}, sources "
        f"{', '.join(meta.get('sources') or ['not stated'])}",
        asking.address,
    )


# --- the file -----------------------------------------------------------------------------------

_TERMS = {
    "PVGIS": "free, no registration, no restriction on the use of results; name the source",
    "NASA POWER": "free; name NASA POWER with version and date when results are passed on, and "
    "inform the project where data are redistributed",
}


def _file_text(found: _Year, year: int | None, utc_offset_h: float | None) -> str:
    """The plain CSV: head, names of columns, rows in local standard time."""
    assumed = utc_offset_h is None
    offset = float(round(found.longitude / 15.0)) if utc_offset_h is None else utc_offset_h
    minutes = found.irradiance_minute + 60.0 * offset
    hours = int(np.floor(minutes / 60.0))
    if year is None:
        rows = _rolled(found.frame, hours)
    else:
        rows = _cut(found.frame, hours, year)
    values = {ours: rows[theirs] for theirs, ours in OURS.items() if theirs in rows}
    table = pd.DataFrame(
        {
            **{part: getattr(rows.index, part) for part in ("year", "month", "day", "hour")},
            **{name: column.astype(float).round(4).to_numpy() for name, column in values.items()},
        }
    )
    service = "PVGIS" if year is None else "NASA POWER"
    kind = "typical year" if year is None else f"actual year {year}"
    head = [
        f"Weather of one place, {kind}: one row an hour of local standard time, named by its start",
        f"name: {service} {found.latitude:.3f}, {found.longitude:.3f}",
        f"latitude: {found.latitude:g}",
        f"longitude: {found.longitude:g}",
        f"altitude_m: {found.altitude_m:g}",
        f"utc_offset_h: {offset:g}",
        f"irradiance_minute: {minutes - 60.0 * hours:g}",
        f"kind: {kind}",
        f"source: {found.source}",
        f"address: {found.address}",
        f"retrieved: {datetime.datetime.now(tz=datetime.UTC):%Y-%m-%d}",
        f"terms: {_TERMS[service]}",
        "caution: the weather is that of a reanalysis, whose cells of tens of kilometers smear "
        "coasts and hills; near either compare it with a measured station",
    ]
    if assumed:
        head.append(
            f"caution: UTC{offset:+g} h is taken from the longitude, not from a map of time zones; "
            "state the UTC offset where local standard time is another"
        )
    lines = "".join(f"# {re.sub(r'[^ -~]+', ' ', line)}\n" for line in head)
    return lines + table.to_csv(index=False, lineterminator="\n")


def _rolled(frame: pd.DataFrame, hours: int) -> pd.DataFrame:
    """A typical year's rows in local standard time: the year closes on itself."""
    rolled = {name: np.roll(frame[name].to_numpy(), hours) for name in frame}
    return pd.DataFrame(rolled, index=frame.index)


def _cut(frame: pd.DataFrame, hours: int, year: int) -> pd.DataFrame:
    """An actual year's rows of the local year; what the service had not is left empty."""
    utc = pd.DatetimeIndex(frame.index).tz_localize(None)
    local = frame.set_axis(utc + pd.Timedelta(hours=hours))
    due = pd.date_range(f"{year}-01-01", f"{year}-12-31 23:00", freq="h")
    return local.reindex(due)


def _written(text: str, save: Path) -> WeatherYear:
    """The file read back before it gets its name, so that none is left that cannot serve."""
    temporary = save.absolute().with_name(f".{save.name[:100]}.{os.getpid()}.part")
    try:
        with temporary.open("x", encoding="utf-8") as file:
            file.write(text)
        year = read(temporary, keep=False)
        temporary.replace(save)
    except InputError as problem:
        _, _, sentence = str(problem).partition(": ")
        raise InputError(f"the answer cannot serve: {sentence}") from None
    except OSError as problem:
        reason = problem.strerror or type(problem).__name__
        raise InputError(f'"{save}" cannot be written ({reason}); name another file') from None
    finally:
        temporary.unlink(missing_ok=True)
    return year
