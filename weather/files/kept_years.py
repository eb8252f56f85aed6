"""Weather years as they were read, kept as arrays with the machine code.

A name is made of all that decides a year: the file's bytes, the column mapping and the site it was
read with, and the source of this package that read it. What is read back is arrays and text, never
code.
"""

import dataclasses
import hashlib
import io
import json
import zipfile
from collections.abc import Mapping
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np

from dewledger.weather.numerics.kept_files import cache_folder, damaged, drop_oldest, keep, kept
from dewledger.weather.year import (
    HOURS,
    DesignDewPoint,
    Finding,
    Station,
    WeatherYear,
    calendar,
)

MOST_KEPT = 300  # files of some 0.3 MB; the oldest go first
_CALENDAR = ("month", "day", "hour")


@cache
def _folder() -> Path | None:
    return cache_folder("weather")


@cache
def _reader_digest() -> str:
    """What the reading is made of: this package's source and the libraries that parse."""
    digest = hashlib.sha256()
    for source in sorted(Path(__file__).parent.parent.rglob("*.py")):
        digest.update(source.read_bytes())
    for library in ("pvlib", "pandas", "numpy"):
        digest.update(version(library).encode())
    return digest.hexdigest()


def year_key(
    content: bytes, name: str, columns: Mapping[str, str] | None, site: Mapping[str, Any]
) -> str:
    """The name under which a year is kept, by all that decides it."""
    how = json.dumps(
        [_reader_digest(), name, columns and sorted(columns.items()), sorted(site.items())],
        default=str,
    )
    return hashlib.sha256(hashlib.sha256(content).digest() + how.encode()).hexdigest()


# Columns that a file may lack.
_MAY_LACK = ("ghi_Wm2", "dni_Wm2", "dhi_Wm2", "wind_m_s")


def kept_year(key: str) -> WeatherYear | None:
    """The year kept under a name; None where there is none, or it is damaged."""
    folder = _folder()
    path = None if folder is None else folder / f"{key}.npz"
    content = None if path is None else kept(path)
    if path is None or content is None:
        return None
    try:
        with np.load(io.BytesIO(content), allow_pickle=False) as file:
            said = json.loads(file["said"].tobytes())
            arrays = {name: file[name] for name in said["columns"]}
        for name, values in arrays.items():
            # A column read is whole: the reader refuses gaps. Of sun and wind there may be none.
            known = int(np.isfinite(values).sum())
            whole = known == HOURS or (known == 0 and name in _MAY_LACK)
            if values.shape != (HOURS,) or values.dtype != np.float64 or not whole:
                raise ValueError(name)
        return WeatherYear(
            {**arrays, **calendar()},
            _station(said["station"]),
            tuple(
                Finding(**{**finding, "hours": tuple(finding["hours"])})
                for finding in said["findings"]
            ),
        )
    except (ValueError, KeyError, TypeError, zipfile.BadZipFile):
        damaged(path)
        return None


def _station(said: dict[str, Any]) -> Station:
    return Station(
        **{
            **said,
            "source_years": {int(month): year for month, year in said["source_years"].items()},
            "design_dew_points": tuple(DesignDewPoint(**p) for p in said["design_dew_points"]),
            "provenance": tuple((key, text) for key, text in said["provenance"]),
        }
    )


def keep_year(key: str, year: WeatherYear) -> None:
    """Keep a year under a name; a folder that takes no more is no error."""
    folder = _folder()
    if folder is None:
        return
    columns = [name for name in year.arrays if name not in _CALENDAR]
    said = {
        "columns": columns,
        "station": dataclasses.asdict(year.station),
        "findings": [dataclasses.asdict(finding) for finding in year.findings],
    }
    arrays = {name: year.column(name) for name in columns}
    text = np.frombuffer(json.dumps(said).encode(), dtype=np.uint8)
    buffer = io.BytesIO()
    np.savez_compressed(buffer, said=text, **arrays)  # type: ignore[arg-type]
    keep(folder / f"{key}.npz", buffer.getvalue())
    drop_oldest(folder, MOST_KEPT)
