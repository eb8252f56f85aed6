"""Humidity criteria: the table humidity_criteria.csv."""

from __future__ import annotations

import csv
import difflib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal, get_args

from dewledger.quantities import parse
from dewledger.weather.errors import InputError

Quantity = Literal["relative humidity", "dew point", "humidity ratio"]


Hours = Literal["all", "occupied", "design"]


_KINDS: dict[Quantity, str] = {
    "relative humidity": "fraction",
    "dew point": "temperature",
    "humidity ratio": "humidity ratio",
}


@dataclass(frozen=True)
class Criterion:
    """Limits of humidity, and where stated of temperature, with their source.

    quantity : what low and high limit: a fraction, a dew point in C or kg/kg
    seasonal_drift : by how much the middle of the range may follow the seasons; same unit
    hours : which hours are judged
    outdoor_dew_above_C : the limit binds only while the outdoor dew point is above this; other
        hours are counted apart
    """

    key: str
    title: str
    quantity: Quantity
    low: float | None
    high: float | None
    seasonal_drift: float = 0.0
    temp_low_C: float | None = None
    temp_high_C: float | None = None
    hours: Hours = "all"
    condition: str = ""
    source: str = "own limits"
    standing: str = "stated in the case"
    outdoor_dew_above_C: float | None = None

    def __post_init__(self) -> None:
        if self.low is None and self.high is None:
            raise InputError(f'humidity criterion "{self.key}" has no limit; give a low, a high')
        if self.low is not None and self.high is not None and self.low >= self.high:
            raise InputError(
                f'humidity criterion "{self.key}" has its low limit at or above its high limit; '
                "write the lower one as low"
            )
        if self.seasonal_drift > 0.0 and (self.low is None or self.high is None):
            raise InputError(
                f'humidity criterion "{self.key}" drifts with the seasons, so it needs both a low '
                "and a high limit"
            )


@cache
def criteria() -> dict[str, Criterion]:
    """The published criteria by key."""
    path = Path(__file__).parent / "humidity_criteria.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return {row["key"]: _criterion(row) for row in csv.DictReader(file)}


def _criterion(row: dict[str, str]) -> Criterion:
    def number(name: str, kind: str) -> float | None:
        return float(parse(row[name], kind)) if row[name] else None

    quantity, hours = row["quantity"], row["hours"]
    if quantity not in get_args(Quantity) or hours not in get_args(Hours):
        raise ValueError(f"humidity_criteria.csv, {row['key']}: unknown quantity or hours")
    kind = _KINDS[quantity]  # type: ignore[index]
    return Criterion(
        row["key"],
        row["title"],
        quantity,  # type: ignore[arg-type]
        number("low", kind),
        number("high", kind),
        number("seasonal_drift", kind) or 0.0,
        number("temp_low", "temperature"),
        number("temp_high", "temperature"),
        hours,  # type: ignore[arg-type]
        row["condition"],
        row["source"],
        row["standing"],
        number("outdoor_dew_above", "temperature"),
    )


def criterion(key: str) -> Criterion:
    """A published criterion by its key; InputError lists the keys where it is unknown."""
    known = criteria()
    if key in known:
        return known[key]
    near = difflib.get_close_matches(key, known, n=1)
    hint = f'did you mean "{near[0]}"? ' if near else ""
    raise InputError(f'humidity criterion "{key}" is not known; {hint}known are {", ".join(known)}')
