"""The weather file formats: how each is recognized, laid out and labeled, as one table.

pvlib's readers parse the bodies of TMY3, EPW and NSRDB files. What they are handed is made safe
first, because on the raw file they mislead: a comma in a city's name shifts EPW's header, a time
zone of 5.5 h stops the NSRDB reader, a missing header line costs EPW its first hour, and a day of
29 February stops or bends several. Their time indexes are not used: TMY2 and EPW are stamped an
hour earlier than TMY3 for the same hour. pandas reads the other two: TMY2, which pvlib takes in a
slow loop with temperatures in tenths, and PVGIS, of which pvlib reads 8760 lines whatever it has.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from dewledger.weather.errors import InputError
from dewledger.weather.files.columns import Column
from dewledger.weather.files.csv_table import csv_table
from dewledger.weather.files.findings import note
from dewledger.weather.year import DesignDewPoint, Finding, Kind, Label

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Header:
    """What a file says of its station; NaN or empty where it is silent."""

    name: str
    latitude: float
    longitude: float
    altitude_m: float
    utc_offset_h: float  # of local standard time; NaN where the file has none
    clock_offset_h: float  # of the file's own clock, 0 where it counts in UTC
    irradiance_late_minutes: float = 0.0  # after the other values of its row
    design_dew_points: tuple[DesignDewPoint, ...] = ()
    kind: Kind = "not stated"  # by the header's own words
    provenance: tuple[tuple[str, str], ...] = ()
    findings: tuple[Finding, ...] = ()  # what is odd in the header itself


@dataclass(frozen=True)
class Format:
    """A weather file format.

    ``stamp`` matches the start of a row of data and captures its year (where stated), month, day,
    hour and minute; ``first_hour`` is the number the format gives the hour from midnight;
    ``label`` is where in the hour its instantaneous values stand, by the format's definition;
    ``width`` is the most values a row may hold, by the header, 0 where it is not a CSV; ``typical``
    says that the format holds nothing but typical years, ``named`` that the line above the rows
    names the columns.
    """

    name: str
    recognize: Callable[[list[str]], bool]
    stamp: re.Pattern[str]
    first_hour: int
    label: Label
    header: Callable[[list[str]], Header]
    body: Callable[[list[str], list[str]], pd.DataFrame]  # header lines, row lines
    columns: dict[str, Column]
    pressure_unit: str
    width: Callable[[list[str]], int] = lambda header: 0
    footer: bool = False  # text may follow the rows
    typical: bool = False
    named: bool = False


def _fields(line: str) -> list[str]:
    """Fields of a line of CSV, without the empty ones that a spreadsheet pads it with."""
    fields = [part.strip() for part in next(csv.reader([line], skipinitialspace=True), [])]
    while fields and not fields[-1]:
        fields.pop()
    return fields


_SAMPLES = {"latitude": "36.1 for 36.1 north", "longitude": "-79.95 for 79.95 west"}


def _number(text: str, what: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = np.nan
    if not np.isfinite(number):
        sample = _SAMPLES.get(what, "-5 for five hours behind UTC" if "zone" in what else "273")
        raise InputError(
            f'the header gives "{text}" as {what}; write a plain number there, such as {sample}'
        )
    return number


def _heads_width(line: int, spare: int = 0) -> Callable[[list[str]], int]:
    """Width by the line of the header that names the columns."""
    return lambda header: header[line].count(",") + 1 + spare


def _from_right(line: str, rest: int, what: str) -> list[str]:
    """Header fields with a name that may itself hold commas put together again.

    ``rest`` fields follow the name; the first field stands before it.
    """
    fields = _fields(line)
    if len(fields) < rest + 2:
        raise InputError(f"the header line has {len(fields)} fields where {what} are due")
    return [fields[0], ", ".join(fields[1:-rest]), *fields[-rest:]]


# --- TMY2 (NREL, User's Manual for TMY2s, 1995) -------------------------------------------------

_TMY2_LONGEST_HEADER = 200
_TMY2_HEADER = re.compile(
    r"^\s*\d{5}\s+(?P<city>.+?)\s+(?P<state>[A-Z]{2})\s+(?P<zone>-?\d+(?:\.\d+)?)"
    r"\s+(?P<ns>[NS])\s*(?P<lat>\d+)\s+(?P<lat_min>\d+)"
    r"\s+(?P<ew>[EW])\s*(?P<lon>\d+)\s+(?P<lon_min>\d+)\s+(?P<altitude>-?\d+)\s*$"
)
# Places of the fields in a row, and their names; each is followed by a letter and a digit that give
# its source and uncertainty (User's Manual, table 3-2).
_TMY2_FIELDS = {
    "GHI": (17, 21),
    "DNI": (23, 27),
    "DHI": (29, 33),
    "DryBulb": (67, 71),
    "DewPoint": (73, 77),
    "RHum": (79, 82),
    "Pressure": (84, 88),
    "Wspd": (95, 98),
}
_TMY2_FLAG = r"[A-Z?]\d"
_TMY2_ROW = (
    r"^ (?P<year>\d\d)(?P<month>[ \d]\d)(?P<day>[ \d]\d)(?P<hour>[ \d]\d)(?=.{8}"
    rf"(?:[ \d-]{{4}}{_TMY2_FLAG}){{3}}.{{32}}(?:[ \d-]{{4}}{_TMY2_FLAG}){{2}}"
    rf"[ \d]{{3}}{_TMY2_FLAG}[ \d]{{4}}{_TMY2_FLAG}.{{5}}[ \d]{{3}}{_TMY2_FLAG})"
)


def _tmy2_header(lines: list[str]) -> Header:
    match = _tmy2_match(lines[0])
    assert match is not None
    latitude = int(match["lat"]) + int(match["lat_min"]) / 60.0
    longitude = int(match["lon"]) + int(match["lon_min"]) / 60.0
    zone = float(match["zone"])
    return Header(
        name=f"{match['city'].title()}, {match['state']}",
        latitude=latitude if match["ns"] == "N" else -latitude,
        longitude=longitude if match["ew"] == "E" else -longitude,
        altitude_m=float(match["altitude"]),
        utc_offset_h=zone,
        clock_offset_h=zone,
    )


def _tmy2_match(line: str) -> re.Match[str] | None:
    """The header by its pattern, in time: a long line of blanks would keep the pattern busy."""
    return _TMY2_HEADER.match(line) if len(line) <= _TMY2_LONGEST_HEADER else None


def _tmy2_body(header: list[str], rows: list[str]) -> pd.DataFrame:
    import pandas as pd

    return pd.read_fwf(
        io.StringIO("\n".join(rows)),
        colspecs=[*_TMY2_FIELDS.values()],
        names=[*_TMY2_FIELDS],
        header=None,
        dtype=str,
        keep_default_na=False,
    )


# --- TMY3 (NREL/TP-581-43156, 2008) -------------------------------------------------------------


def _tmy3_header(lines: list[str]) -> Header:
    fields = _from_right(lines[0], 5, "station, name, state, zone, latitude, longitude, elevation")
    name, state, zone, latitude, longitude, altitude = fields[1:]
    offset = _number(zone, "time zone")
    return Header(
        name=", ".join(part for part in (name.title(), state) if part),
        latitude=_number(latitude, "latitude"),
        longitude=_number(longitude, "longitude"),
        altitude_m=_number(altitude, "elevation"),
        utc_offset_h=offset,
        clock_offset_h=offset,
    )


def _tmy3_body(header: list[str], rows: list[str]) -> pd.DataFrame:
    from pvlib.iotools import read_tmy3

    # a row longer than the heads would make pandas take its first column for an index
    heads = header[1] + "," * max(0, rows[0].count(",") - header[1].count(","))
    text = "\n".join(["0,name,state,0,0,0,0", heads, *rows])
    return read_tmy3(io.StringIO(text), map_variables=True)[0]  # type: ignore[no-any-return]


# --- EPW ----------------------------------------------------------------------------------------

EPW_WIDTH = 35


def _epw_header(lines: list[str]) -> Header:
    fields = _from_right(lines[0], 8, "the ten of a LOCATION line")
    name, state, country, origin, _, latitude, longitude, zone, altitude = fields[1:]
    offset = _number(zone, "time zone")
    design = [line for line in lines if line.upper().startswith("DESIGN CONDITIONS")]
    return Header(
        name=", ".join(part for part in (name, state, country) if part.strip(" -")),
        latitude=_number(latitude, "latitude"),
        longitude=_number(longitude, "longitude"),
        altitude_m=_number(altitude, "elevation"),
        utc_offset_h=offset,
        clock_offset_h=offset,
        design_dew_points=_epw_design(design[0]) if design else (),
        kind="typical" if re.search("TMY|IWEC|typical", origin, re.IGNORECASE) else "not stated",
    )


def _epw_design(line: str) -> tuple[DesignDewPoint, ...]:
    """0.4, 1 and 2 % dehumidification points of a design-conditions line.

    After the word Cooling: month, range, six of dry bulb, six of wet bulb, wind speed and
    direction, then dew point [C], humidity ratio [g/kg] and mean coincident dry bulb [C], three
    times. Anything else in these places states no design point.
    """
    fields = _fields(line)
    if "Cooling" not in fields:
        return ()
    at = fields.index("Cooling") + 17
    points = []
    for percent, start in zip((0.4, 1.0, 2.0), (at, at + 3, at + 6), strict=True):
        try:
            dew_point, grams, dry_bulb = (float(text) for text in fields[start : start + 3])
        except ValueError:
            return ()
        if not (-40.0 < dew_point <= dry_bulb + 0.5 < 60.0 and 0.0 < grams < 60.0):
            return ()
        points.append(
            DesignDewPoint(percent, dew_point, grams / 1000.0, dry_bulb, "stated in the file")
        )
    return tuple(points)


def _epw_body(header: list[str], rows: list[str]) -> pd.DataFrame:
    from pvlib.iotools import read_epw

    rows = [row.rstrip(", ") for row in rows]
    # pvlib asks for all columns, while files end at the last one that their maker had
    rows[0] += "," * (EPW_WIDTH - 1 - rows[0].count(","))
    text = "\n".join(["LOCATION,-,-,-,-,0,0,0,0,0", *["-"] * 7, *rows])
    return read_epw(io.StringIO(text))[0]  # type: ignore[no-any-return]


# --- NSRDB --------------------------------------------------------------------------------------


def _nsrdb_header(lines: list[str]) -> Header:
    heads, values = (next(csv.reader([line])) for line in lines[:2])
    said = dict(zip((head.strip() for head in heads), values, strict=False))
    try:
        parts = [said[name] for name in ("Latitude", "Longitude", "Elevation", "Time Zone")]
    except KeyError as missing:
        raise InputError(f"the NSRDB header has no {missing}; download the file again") from None
    latitude, longitude, altitude, clock = (
        _number(text, name)
        for text, name in zip(
            parts, ("latitude", "longitude", "elevation", "time zone"), strict=True
        )
    )
    for name, due in (("Temperature Units", "c"), ("Dew Point Units", "c")):
        if said.get(name, due).strip().lower() != due:
            raise InputError(f'"{name}" is {said[name]}; download the file in SI units')
    local = _number(said.get("Local Time Zone", str(clock)), "local time zone")
    two_clocks = clock not in (0.0, local)
    city = ", ".join(
        said[name] for name in ("City", "State", "Country") if said.get(name, "-").strip(" -")
    )
    return Header(
        name=city or f"NSRDB {said.get('Location ID', '').strip()}".strip(),
        latitude=latitude,
        longitude=longitude,
        altitude_m=altitude,
        utc_offset_h=local,
        clock_offset_h=clock,
        findings=(
            note(
                "two time zones",
                f'"Time Zone" is {clock:g} h and "Local Time Zone" {local:g} h, and rows are '
                "usually in one of UTC and local standard time",
                "the rows are taken to be in the first and put on the second; check both",
            ),
        )
        if two_clocks
        else (),
    )


def _nsrdb_body(header: list[str], rows: list[str]) -> pd.DataFrame:
    from pvlib.iotools import read_nsrdb_psm4

    text = "\n".join(
        [
            "Source,Latitude,Longitude,Time Zone,Local Time Zone,Elevation",
            "NSRDB,0,0,0,0,0",
            header[2],
            *rows,
            "",
        ]
    )
    return read_nsrdb_psm4(io.StringIO(text), map_variables=True)[0]  # type: ignore[no-any-return]


# --- PVGIS --------------------------------------------------------------------------------------


def _pvgis_header(lines: list[str]) -> Header:
    said = dict(line.split(":", 1) for line in lines if ":" in line.split(",", 1)[0])
    numbers = {name.strip().lower(): text.strip() for name, text in said.items()}

    def value(start: str) -> float:
        for name, text in numbers.items():
            if name.startswith(start):
                return _number(text, start)
        raise InputError(f"the PVGIS header has no {start}; download the file again")

    latitude, longitude = value("latitude"), value("longitude")
    stated = any(name.startswith("irradiance time offset") for name in numbers)
    return Header(
        name=f"PVGIS {latitude:.3f}, {longitude:.3f}",
        latitude=latitude,
        longitude=longitude,
        altitude_m=value("elevation"),
        utc_offset_h=np.nan,
        clock_offset_h=0.0,
        irradiance_late_minutes=60.0 * value("irradiance time offset") if stated else 0.0,
    )


def _pvgis_body(header: list[str], rows: list[str]) -> pd.DataFrame:
    # pvlib's reader takes 8760 lines whatever there are, and stops at a value that is none
    return csv_table(list(enumerate([header[-1], *rows])))


def _columns(
    dry_bulb: str, dew_point: str, humidity: str, pressure: str, ghi: str, dni: str, dhi: str,
    wind: str,
) -> dict[str, str]:  # fmt: skip
    return {
        "temp_air_C": dry_bulb,
        "temp_dew_C": dew_point,
        "rh_frac": humidity,
        "pressure_Pa": pressure,
        "ghi_Wm2": ghi,
        "dni_Wm2": dni,
        "dhi_Wm2": dhi,
        "wind_m_s": wind,
    }


def _mapped(names: dict[str, str], **changes: dict[str, Any]) -> dict[str, Column]:
    return {ours: Column(theirs, **changes.get(ours, {})) for ours, theirs in names.items()}


_PVLIB = _columns(
    "temp_air", "temp_dew", "relative_humidity", "pressure", "ghi", "dni", "dhi", "wind_speed"
)
_TMY2 = _columns("DryBulb", "DewPoint", "RHum", "Pressure", "GHI", "DNI", "DHI", "Wspd")
_PVGIS = _columns("T2m", "-", "RH", "SP", "G(h)", "Gb(n)", "Gd(h)", "WS10m")
_PERCENT = {"factor": 0.01}


def _every(column: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """The same missing codes on every column, with relative humidity in percent."""
    every = {name: dict(column) for name in _PVLIB}
    every["rh_frac"].update(_PERCENT)
    return every


FORMATS: tuple[Format, ...] = (
    Format(
        name="TMY2",
        recognize=lambda lines: bool(_tmy2_match(lines[0])),
        stamp=re.compile(_TMY2_ROW),
        first_hour=1,
        label="end",
        header=_tmy2_header,
        body=_tmy2_body,
        pressure_unit="mbar",
        typical=True,
        # tenths of C and of m/s; missing 9999, 999 (User's Manual, table 3-1)
        columns=_mapped(
            _TMY2,
            temp_air_C={"factor": 0.1, "missing_from_above": 9999},
            temp_dew_C={"factor": 0.1, "missing_from_above": 9999},
            rh_frac={"factor": 0.01, "missing_from_above": 999},
            pressure_Pa={"missing_from_above": 9999},
            ghi_Wm2={"missing_from_above": 9999},
            dni_Wm2={"missing_from_above": 9999},
            dhi_Wm2={"missing_from_above": 9999},
            wind_m_s={"factor": 0.1, "missing_from_above": 999},
        ),
    ),
    Format(
        name="TMY3",
        recognize=lambda lines: len(lines) > 1 and lines[1].startswith("Date (MM/DD/YYYY),"),
        stamp=re.compile(
            r"^(?P<month>\d{1,2})/(?P<day>\d{1,2})/(?P<year>\d{4}),(?P<hour>\d{1,2}):"
            r"(?P<minute>\d\d)"
        ),
        first_hour=1,
        label="end",
        header=_tmy3_header,
        body=_tmy3_body,
        pressure_unit="mbar",
        width=_heads_width(1, spare=1),  # a spreadsheet leaves a column of its own behind
        named=True,
        columns=_mapped(
            _PVLIB,
            **{
                **_every({"missing_from_below": -9900, "missing_from_above": 9999}),
                # 98000 would be Pa, as the range shows
                "pressure_Pa": {"missing_from_below": -9900, "missing": 9999},
            },
        ),
    ),
    Format(
        name="EPW",
        recognize=lambda lines: lines[0].upper().startswith("LOCATION,"),
        stamp=re.compile(
            r"^\s*(?P<year>\d{4}),\s*(?P<month>\d{1,2}),\s*(?P<day>\d{1,2}),"
            r"\s*(?P<hour>\d{1,2}),\s*(?P<minute>\d{1,2})\s*,"
        ),
        first_hour=1,
        label="end",
        header=_epw_header,
        body=_epw_body,
        pressure_unit="Pa",
        width=lambda header: EPW_WIDTH,
        # 99.9, 999, 999999 and 9999 are the format's codes
        columns=_mapped(
            {**_PVLIB, "pressure_Pa": "atmospheric_pressure"},
            temp_air_C={"missing": 99.9},
            temp_dew_C={"missing": 99.9},
            rh_frac={"factor": 0.01, "missing_from_above": 999},
            pressure_Pa={"missing_from_above": 999999},
            ghi_Wm2={"missing_from_above": 9999},
            dni_Wm2={"missing_from_above": 9999},
            dhi_Wm2={"missing_from_above": 9999},
            wind_m_s={"missing_from_above": 999},
        ),
    ),
    Format(
        name="NSRDB CSV",
        recognize=lambda lines: (
            lines[0].startswith("Source,Location ID")
            and any(line.startswith("Year,Month,Day,Hour,Minute") for line in lines[2:3])
        ),
        stamp=re.compile(
            r"^(?P<year>\d{4}),(?P<month>\d{1,2}),(?P<day>\d{1,2}),(?P<hour>\d{1,2}),"
            r"(?P<minute>\d{1,2}),"
        ),
        first_hour=0,
        label="mid",
        header=_nsrdb_header,
        body=_nsrdb_body,
        pressure_unit="mbar",
        width=_heads_width(2),
        named=True,
        columns=_mapped(_PVLIB, **_every({"missing_from_below": -999})),
    ),
    Format(
        name="PVGIS TMY",
        recognize=lambda lines: (
            lines[0].startswith("Latitude (decimal degrees)")
            and any(line.startswith("time(UTC),T2m,RH") for line in lines[:30])
        ),
        stamp=re.compile(
            r"^(?P<year>\d{4})(?P<month>\d\d)(?P<day>\d\d):(?P<hour>\d\d)(?P<minute>\d\d),"
        ),
        first_hour=0,
        label="start",
        header=_pvgis_header,
        body=_pvgis_body,
        pressure_unit="Pa",
        columns=_mapped(_PVGIS, rh_frac=_PERCENT, wind_m_s={"missing_from_above": 999}),
        width=_heads_width(-1),
        named=True,
        footer=True,
        typical=True,
    ),
)  # fmt: skip


def recognized(lines: list[str]) -> Format | None:
    """The format of a file by what its first lines say; None where it is none of the table."""
    for form in FORMATS:
        if form.recognize(lines):
            return form
    return None
