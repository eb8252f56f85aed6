"""The tables [meter] and [trend] of a case: what was measured where the unit stands."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, field_validator

from dewledger.case.base import Section
from dewledger.case.words import listed, nearest
from dewledger.quantities import parse, quantity
from dewledger.weather.errors import InputError

# What a trend file may hold, and the kind of quantity each is.
TREND_COLUMNS = {
    "room_temperature": "temperature",
    "room_relative_humidity": "fraction",
    "supply_temperature": "temperature",
    "outdoor_temperature": "temperature",
    "outdoor_relative_humidity": "fraction",
    "compressor": "fraction",
    "reheat_valve": "fraction",
}


class Meter(Section):
    """Utility bills to hold the model against; they need the weather of the year they were read."""

    file: str
    """A CSV of bills: a read date or a month, and kWh, demand kW or therms, path relative to the
    case file."""
    covers: Literal["this unit", "whole building"] = "this unit"
    """What else runs on the meter: nothing, or the rest of the building, whose steady base load is
    then fitted."""
    option: str | None = None
    """Key of the option in place when the bills were read; default the reference."""
    first_read: str | None = None
    """Date of the reading before the first row, for example "2023-01-04"; default a month
    before."""
    scatter: Annotated[float, *quantity("fraction", above_zero=True)] = parse("5 %", "fraction")
    """How far bill and model of a period differ for reasons that no input here explains, as a share
    of the mean bill. Default: the mean monthly bias that ASHRAE Guideline 14 still calls
    calibrated (read second-hand)."""
    typical_weather: str | None = None
    """Weather file or bundled station of a typical year of the same place; savings are then also
    normalized to it."""


class Trend(Section):
    """Trend data of a building automation system, held against the same hours of the model."""

    file: str
    """A CSV with a column of times, path relative to the case file."""
    time: str
    """Title of its column of times."""
    columns: dict[str, str] = Field(min_length=1)
    """What each column holds: our name and the column's title, for example room_temperature =
    "ZN-T"."""
    units: dict[str, str] = Field(default_factory=dict)
    """Unit of a column where it is not degF and percent, for example room_temperature = "degC"."""
    time_zone: str | None = None
    """Zone of the clock that wrote the times, summer time included, for example
    "America/New_York"; default local standard time."""
    option: str | None = None
    """Key of the option in place; default the reference."""

    @field_validator("columns", "units")
    @classmethod
    def _known(cls, value: dict[str, str]) -> dict[str, str]:
        for name in value:
            if name not in TREND_COLUMNS:
                raise InputError(
                    f"{name} is not known{nearest(name, TREND_COLUMNS)}; write "
                    f"{listed(TREND_COLUMNS)}"
                )
        return value
