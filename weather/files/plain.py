"""A plain CSV of weather: one row an hour from 1 January 00:00, columns by our names or mapped.

Lines at its top that start with # may say where it came from, one a line: "# latitude: 27.95".
"""

from __future__ import annotations

import itertools
import re
from calendar import isleap
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from dewledger.weather.errors import InputError
from dewledger.weather.files.columns import Column, read_column
from dewledger.weather.files.csv_table import check_names, csv_table, names_of
from dewledger.weather.files.findings import note
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import HOURS, Finding

if TYPE_CHECKING:
    import pandas as pd

# Name in the file or in the mapping -> our column, factor and offset: ours = factor x + offset.
NAMES: dict[str, tuple[str, float, float]] = {
    "temp_air_C": ("temp_air_C", 1.0, 0.0),
    "temp_air_F": ("temp_air_C", 1 / 1.8, -32 / 1.8),
    "temp_dew_C": ("temp_dew_C", 1.0, 0.0),
    "temp_dew_F": ("temp_dew_C", 1 / 1.8, -32 / 1.8),
    "rh_frac": ("rh_frac", 1.0, 0.0),
    "rh_percent": ("rh_frac", 0.01, 0.0),
    "hum_ratio": ("hum_ratio", 1.0, 0.0),
    "pressure_Pa": ("pressure_Pa", 1.0, 0.0),
    "pressure_mbar": ("pressure_Pa", 100.0, 0.0),
    "pressure_hPa": ("pressure_Pa", 100.0, 0.0),
    "pressure_kPa": ("pressure_Pa", 1000.0, 0.0),
    "ghi_Wm2": ("ghi_Wm2", 1.0, 0.0),
    "dni_Wm2": ("dni_Wm2", 1.0, 0.0),
    "dhi_Wm2": ("dhi_Wm2", 1.0, 0.0),
    "wind_m_s": ("wind_m_s", 1.0, 0.0),
}
NO_YEAR = ", which is no year of weather either; check the path"
_MINIMUM = "temp_air_C (or temp_air_F) and one of temp_dew_C, temp_dew_F, rh_frac, rh_percent"


# What the head may say: the key, and bounds of its number; None where it is text.
_HEAD: dict[str, tuple[float, float] | None] = {
    "name": None,
    "latitude": (-90.0, 90.0),
    "longitude": (-180.0, 180.0),
    "altitude_m": (-500.0, 6000.0),
    "utc_offset_h": (-12.0, 14.0),
    "irradiance_minute": (0.0, 90.0),
    "kind": None,
    "source": None,
    "address": None,
    "retrieved": None,
    "terms": None,
    "caution": None,
}
PROVENANCE = ("source", "address", "retrieved", "terms")


@dataclass(frozen=True)
class Head:
    """What the lines with # above the names of the columns say; empty where there are none.

    ``numbers`` and ``texts`` are by the keys of the head; ``cautions`` may be several.
    """

    lines: int
    numbers: Mapping[str, float]
    texts: Mapping[str, str]
    cautions: tuple[str, ...]


def read_head(lines: list[str]) -> Head:
    """The lines with # at the top of a plain CSV.

    Raises
    ------
    InputError : a known key whose value is none
    """
    count = 0
    numbers: dict[str, float] = {}
    texts: dict[str, str] = {}
    cautions = []
    for line in lines:
        if not line.startswith("#"):
            break
        count += 1
        key, colon, text = line[1:].partition(":")
        key, text = key.strip(), text.strip()
        if not colon or key not in _HEAD or not text:
            continue
        bounds = _HEAD[key]
        if key == "caution":
            cautions.append(text)
        elif bounds is None:
            texts[key] = text
        else:
            numbers[key] = _head_number(key, text, bounds, count)
    if "kind" in texts and texts["kind"].split()[0] not in ("typical", "actual"):
        raise InputError('the head\'s "kind" is neither typical nor actual; write one of them')
    return Head(count, numbers, texts, tuple(cautions))


def stated_year(head: Head) -> int | None:
    """The calendar year that the head states, "kind: actual 2021" or "actual year 2021"."""
    match = re.fullmatch(r"actual(?:\s+year)?\s*:?\s*(\d{4})", head.texts.get("kind", ""))
    return int(match[1]) if match else None


def with_stated_year(head: Head, years: dict[int, int], leap_day: bool) -> dict[int, int]:
    """The year of each month: by the rows, else the one that the head states.

    leap_day : whether the rows had a 29 February

    Raises
    ------
    InputError : head and rows disagree
    """
    stated = stated_year(head)
    if stated is None:
        return years
    other = sorted(set(years.values()) - {stated})
    if other:
        raise InputError(
            f"the head says actual {stated}, and rows are of {other[0]}; correct one of them"
        )
    if leap_day and not isleap(stated):
        raise InputError(
            f"the head says actual {stated}, which has no 29 February, and the rows have one; "
            "correct the year, or take the day out"
        )
    return years or dict.fromkeys(range(1, 13), stated)


def _head_number(key: str, text: str, bounds: tuple[float, float], line: int) -> float:
    try:
        number = float(text)
    except ValueError:
        number = np.nan
    if not bounds[0] <= number <= bounds[1]:
        raise InputError(
            f'line {line} gives "{text}" as {key}; write a number from {bounds[0]:g} to '
            f"{bounds[1]:g}"
        )
    return number


def is_plain(lines: list[str], columns: Mapping[str, str] | None) -> bool:
    """Whether the first line below the head names columns that are ours, or a mapping is given."""
    first = next((line for line in lines if not line.startswith("#")), "")
    return columns is not None or not set(names_of(first)).isdisjoint(NAMES)


def read_plain(
    lines: list[str], columns: Mapping[str, str] | None, findings: list[Finding]
) -> tuple[dict[str, FloatArray], pd.DataFrame | None]:
    """The columns of a plain CSV in our units, and its month, day and hour where it has them.

    Parameters
    ----------
    lines : the file's lines, the head first where there is one
    columns : our name -> the file's column; None where the file uses our names
    findings : a note of columns that are not used is added

    Returns
    -------
    columns by our names (hum_ratio among them where the file has it), one value a row; and
    month, day and hour (0 to 23) of the rows, from columns of these names or from time, or None;
    their year as well where the file has it

    Raises
    ------
    InputError : a name that is not ours, a column that is not in the file, text for a number,
        percent where a fraction is due
    """
    above = sum(1 for _ in itertools.takewhile(lambda line: line.startswith("#"), lines))
    below = list(enumerate(lines, start=1))[above:]
    table = csv_table([(number, line) for number, line in below if line.strip()])
    check_names(list(table.columns))
    mapping = columns if columns is not None else {n: n for n in NAMES if n in table.columns}
    found: dict[str, FloatArray] = {}
    for ours, theirs in mapping.items():
        if ours not in NAMES:
            raise InputError(f'"{ours}" is no column of weather; write one of {", ".join(NAMES)}')
        if theirs not in table.columns:
            # what is no year of weather may be anybody's file, and is not quoted
            known = f"; its columns are {', '.join(table.columns)}" if len(table) >= HOURS else ""
            raise InputError(f'column "{theirs}" (for {ours}) is not in the file{known or NO_YEAR}')
        name, factor, offset = NAMES[ours]
        if name in found:
            raise InputError(f"{name} is given twice; keep one of its columns")
        values = read_column(table, Column(theirs), table.index)
        assert values is not None
        _check_scale(ours, theirs, values)
        found[name] = values * factor + offset
    if "temp_air_C" not in found or not {"temp_dew_C", "rh_frac", "hum_ratio"} & set(found):
        raise InputError(f"a dry bulb and a humidity are needed; name the columns {_MINIMUM}")
    stamps, used = _stamps(table)
    unused = [name for name in table.columns if name and name not in {*mapping.values(), *used}]
    if unused:
        order = "" if used else "; rows are taken in the order of the file, from 1 January 00:00"
        findings.append(
            note(
                "columns not used",
                f"columns of the file that are not ours by name: {', '.join(unused)}",
                f"left out{order}",
            )
        )
    return found, stamps


def _stamps(table: pd.DataFrame) -> tuple[pd.DataFrame | None, tuple[str, ...]]:
    """Month, day and hour from midnight of each row where the file gives them, and from where."""
    import pandas as pd

    named = ("month", "day", "hour")
    if set(named) <= set(table.columns):
        used = (*named, "year") if "year" in table.columns else named
        stamps = table[[*used]].apply(pd.to_numeric, errors="coerce")
        if stamps["hour"].max() == 24:  # hours labeled by their ends
            stamps["hour"] -= 1
        return stamps, used
    if "time" in table.columns:
        try:
            time = pd.to_datetime(table["time"], format="ISO8601", errors="coerce")
        except ValueError:  # of offsets that change: nothing else is left to raise
            raise InputError(
                'column "time" has more than one offset from UTC; write local standard time all '
                "year, without an offset"
            ) from None
        if time.notna().all():
            parts = {name: getattr(time.dt, name) for name in ("year", *named)}
            return pd.DataFrame(parts), ("time",)
    return None, ()


def _check_scale(ours: str, theirs: str, values: FloatArray) -> None:
    """Percent taken for a fraction or the other way about would dry or soak every hour."""
    valid = values[np.isfinite(values)]
    if not valid.size:
        return
    most = float(valid.max())
    if ours == "rh_frac" and most > 1.5:
        raise InputError(
            f'column "{theirs}" reads up to {most:g}, which is percent and not a fraction; '
            "name it rh_percent"
        )
    if ours == "rh_percent" and 0.0 < most <= 1.0:
        raise InputError(
            f'column "{theirs}" reads {most:g} at most, which is a fraction and not percent; '
            "name it rh_frac"
        )
    if ours == "hum_ratio" and (most > 0.2 or float(valid.min()) < 0.0):
        raise InputError(
            f'column "{theirs}" reads {valid.min():g} to {most:g}; write humidity ratio in kg/kg, '
            "for example 0.0105"
        )
