"""Rating standards and the least values that codes ask of a rating, rating_standards.toml."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any, Literal

from dewledger.data.tables import read_table
from dewledger.quantities import parse
from dewledger.weather.physics.moist_air import STANDARD_PRESSURE_PA, hum_ratio_from_wet_bulb

Heating = Literal["electric or none", "other"]

_TABLE = "rating_standards.toml"


@dataclass(frozen=True)
class Point:
    """One condition of a standard; SI, shares as fractions."""

    letter: str
    weight: float
    outdoor_C: float
    outdoor_wet_bulb_C: float | None
    load: float | None

    @property
    def outdoor_hum_ratio(self) -> float:
        """Outdoor humidity ratio at standard pressure."""
        if self.outdoor_wet_bulb_C is None:
            raise ValueError(f"condition {self.letter} states no wet bulb")
        return hum_ratio_from_wet_bulb(
            self.outdoor_C, self.outdoor_wet_bulb_C, STANDARD_PRESSURE_PA
        )


@dataclass(frozen=True)
class Standard:
    """A rating: its conditions and weights.

    supply_dew_point_C : the supply dew point not to exceed, of a moisture removal rating
    supply_C : the temperature that its supply air is brought to; None where it is left cold
    """

    key: str
    title: str
    unit: str
    source: str
    standing: str
    points: tuple[Point, ...]
    entering_C: float | None
    entering_wet_bulb_C: float | None
    supply_dew_point_C: float | None
    supply_C: float | None
    check: str = ""


@dataclass(frozen=True)
class Minimum:
    """A least value that a code asks of a rating, and the equipment that it asks it of.

    editions : of 90.1; without any it is federal, for equipment made within its two dates
    """

    metric: str
    value: float
    source: str
    standing: str
    from_W: float
    below_W: float
    heating: Heating | None
    energy_recovery: bool | None
    section: str = ""
    editions: tuple[str, ...] = ()
    made_from: date | None = None
    made_before: date | None = None
    check: str = ""

    @property
    def dates(self) -> str:
        """From when to when it binds, as the end of a sentence; empty where it has no dates."""

        def day(value: date) -> str:
            return f"{value.day} {value:%B %Y}"

        dates = []
        if self.made_from is not None:
            dates.append(f"on or after {day(self.made_from)}")
        if self.made_before is not None:
            dates.append(f"before {day(self.made_before)}")
        return f", for units made {' and '.join(dates)}" if dates else ""


@cache
def standards() -> dict[str, Standard]:
    """The rating standards by key: IEER, ISMRE, ISMRE2, ISMRE2-70."""
    return {row["key"]: _standard(row) for row in read_table(_TABLE)["standard"]}


def _temp(row: dict[str, Any], name: str) -> float | None:
    return float(parse(row[name], "temperature")) if name in row else None


def _standard(row: dict[str, Any]) -> Standard:
    points = tuple(
        Point(
            point["letter"],
            point["weight"],
            float(parse(point["outdoor"], "temperature")),
            _temp(point, "outdoor_wet_bulb"),
            point.get("load"),
        )
        for point in row["points"]
    )
    return Standard(
        row["key"],
        row["title"],
        row["unit"],
        row["source"],
        row["standing"],
        points,
        _temp(row, "entering"),
        _temp(row, "entering_wet_bulb"),
        _temp(row, "supply_dew_point"),
        _temp(row, "supply"),
        row.get("check", ""),
    )


@cache
def minimums() -> tuple[Minimum, ...]:
    """Every least value of the table."""
    return tuple(
        Minimum(
            row["metric"],
            row["value"],
            row["source"],
            row["standing"],
            float(parse(row["from"], "heat flow")) if "from" in row else 0.0,
            float(parse(row["below"], "heat flow")) if "below" in row else float("inf"),
            row.get("heating"),
            row.get("energy_recovery"),
            row.get("section", ""),
            tuple(row.get("editions", ())),
            row.get("made_from"),
            row.get("made_before"),
            row.get("check", ""),
        )
        for row in read_table(_TABLE)["minimum"]
    )
