"""The tables [site], [room], [schedule] and [profiles.NAME] of a case."""

from __future__ import annotations

import re
from datetime import date
from typing import Annotated, ClassVar

from pydantic import Field, field_validator, model_validator

from dewledger.case.base import Section
from dewledger.case.prices import hours_of
from dewledger.case.words import nearest, written
from dewledger.data.public_holidays import has_holidays, known_regions
from dewledger.quantities import parse, quantity
from dewledger.weather.errors import InputError


class Site(Section):
    """Where the room is and whose weather it has."""

    weather: str
    """A bundled station ("greensboro", "miami", "sand-point") or a weather file, its path relative
    to the case file."""
    calendar_year: Annotated[int, Field(ge=1970, le=2100)] = 2023
    """The year whose weekdays and holidays the weather year is given."""
    weather_columns: dict[str, str] | None = None
    """For a plain CSV: which of its columns holds what."""
    name: str | None = None
    """Name of the place, for a plain CSV."""
    latitude: Annotated[float, Field(ge=-90, le=90)] | None = None
    """Degrees north, for a plain CSV."""
    longitude: Annotated[float, Field(ge=-180, le=180)] | None = None
    """Degrees east, for a plain CSV."""
    altitude: Annotated[float, *quantity("length")] | None = None
    """Height above the sea, for a plain CSV."""
    utc_offset: Annotated[float, Field(ge=-12, le=14)] | None = None
    """Hours of local standard time ahead of UTC, for a plain CSV."""

    @field_validator("weather")
    @classmethod
    def _weather(cls, value: str) -> str:
        if not value.strip():
            raise InputError('it is empty; write a bundled station such as "greensboro", or a file')
        return value


class Room(Section):
    """The room: size, envelope, storage and set points."""

    following: ClassVar[frozenset[str]] = frozenset({"heat_capacity_per_area"})

    floor_area: Annotated[float, *quantity("area", above_zero=True)]
    """Floor area."""
    height: Annotated[float, *quantity("length", above_zero=True)]
    """Mean height of the air volume."""
    conductance: Annotated[float, *quantity("conductance")] | None = None
    """Heat through the envelope per degree between indoors and outdoors, without air exchange; or
    [envelope]."""
    heat_capacity: Annotated[float, *quantity("heat capacity", above_zero=True)] | None = None
    """Heat the room stores per degree; instead of heat_capacity_per_area."""
    heat_capacity_per_area: (
        Annotated[float, *quantity("heat capacity per area", above_zero=True)] | None
    ) = parse("165 kJ/m2/K", "heat capacity per area")
    """Heat stored per degree and floor area. Default: the medium class of ISO 13790."""
    infiltration: Annotated[float, *quantity("rate")] | None = parse("0 ACH", "rate")
    """Outdoor air that leaks in, in air changes; or infiltration_per_area."""
    infiltration_per_area: Annotated[float, *quantity("air flow per area")] | None = None
    """Outdoor air that leaks in for each area of infiltration_area."""
    infiltration_area: Annotated[float, *quantity("area", above_zero=True)] | None = None
    """Area that infiltration_per_area refers to; default wall_area of [envelope]."""
    infiltration_profile: str = "always"
    """Profile of the infiltration."""
    moisture_storage_ratio: Annotated[float, *quantity("number")] = parse(15, "number")
    """Moisture the room stores over what its air alone stores. Default: a typical furnished
    building; 10 to 25 is the usual span, not checked against a source."""
    cooling_setpoint: Annotated[float, *quantity("temperature")]
    """The room is cooled down to this."""
    heating_setpoint: Annotated[float, *quantity("temperature")]
    """The room is heated up to this."""
    cooling_setpoint_unoccupied: Annotated[float, *quantity("temperature")] | None = None
    """Cooling set point in unoccupied hours; default the same."""
    heating_setpoint_unoccupied: Annotated[float, *quantity("temperature")] | None = None
    """Heating set point in unoccupied hours; default the same."""
    low_temperature_limit: Annotated[float, *quantity("temperature")] | None = None
    """With "humidity first", drying may cool the room down to this; default the heating set
    point."""
    start_relative_humidity: Annotated[float, *quantity("fraction")] = parse("50 %", "fraction")
    """Room humidity at the start, before the weeks of running-in."""

    @field_validator("moisture_storage_ratio")
    @classmethod
    def _multiplier(cls, value: float) -> float:
        if value < 1.0:
            raise InputError("it is below 1, the air alone; write 1 or more, for example 15")
        return value

    @model_validator(mode="after")
    def _agree(self) -> Room:
        cooling, heating = self.cooling_setpoint, self.heating_setpoint
        _uncrossed(cooling, heating, "")
        cooling_out = self.cooling_setpoint_unoccupied
        heating_out = self.heating_setpoint_unoccupied
        _uncrossed(
            cooling if cooling_out is None else cooling_out,
            heating if heating_out is None else heating_out,
            " in unoccupied hours",
        )
        if self.low_temperature_limit is not None and self.low_temperature_limit > cooling:
            raise InputError(
                f'low_temperature_limit "{written(self.low_temperature_limit)}" is above the '
                f'cooling_setpoint "{written(cooling)}"; write a lower one'
            )
        if "heat_capacity" in self.model_fields_set and (
            "heat_capacity_per_area" in self.model_fields_set
        ):
            raise InputError(
                "heat_capacity and heat_capacity_per_area are both given; keep the one meant"
            )
        if self.heat_capacity is not None:
            self.fill("heat_capacity_per_area", None)
        given = self.model_fields_set
        if "infiltration_per_area" in given and "infiltration" in given:
            raise InputError(
                "infiltration and infiltration_per_area are both given; keep the one meant"
            )
        if self.infiltration_per_area is not None:
            self.fill("infiltration", None)
        if "infiltration_area" in given and "infiltration_per_area" not in given:
            raise InputError(
                "infiltration_area is given without infiltration_per_area; write for example "
                'infiltration_per_area = "0.05 cfm/ft2"'
            )
        return self


def _uncrossed(cooling: float, heating: float, when: str) -> None:
    if heating >= cooling:
        raise InputError(
            f'the set points cross{when}: heating at "{written(heating)}" is not below cooling at '
            f'"{written(cooling)}"; lower the one or raise the other'
        )


_MONTH_DAY = re.compile(r"^\s*(\d{1,2})-(\d{1,2})\s*$")


def month_day(text: str) -> tuple[int, int]:
    """Month and day of "MM-DD"; 29 February is no day of the weather year."""
    match = _MONTH_DAY.match(text)
    try:
        if not match:
            raise ValueError
        day = date(2023, int(match[1]), int(match[2]))
    except ValueError:
        raise InputError(
            f'"{text}" is not a day of the year; write month and day such as "12-25"'
        ) from None
    return day.month, day.day


def closure_span(text: str) -> tuple[tuple[int, int], tuple[int, int]]:
    """First and last (month, day) of "MM-DD to MM-DD", both closed; it may pass the year's end."""
    ends = text.split(" to ")
    if len(ends) != 2:
        raise InputError(f'"{text}" is not a span of days; write for example "12-20 to 01-02"')
    return month_day(ends[0]), month_day(ends[1])


def occupied_hours(text: str) -> list[int]:
    """Clock hours 0..23 of "07:00-22:00", several such ranges, "none" or "always"."""
    word = text.strip().lower()
    if word == "none":
        return []
    if word == "always":
        return list(range(24))
    if word == "all":
        raise InputError('"all" is not a time of day; write "always", "none" or "07:00-22:00"')
    return hours_of(text)


class Schedule(Section):
    """When the room is occupied, by the clock on its wall."""

    weekday: str = "07:00-18:00"
    """Occupied hours of Monday to Friday: "07:00-22:00", several ranges, "none" or "always"."""
    saturday: str = "none"
    """Occupied hours of a Saturday."""
    sunday: str = "none"
    """Occupied hours of a Sunday and a holiday."""
    holidays: tuple[str, ...] = ()
    """Days "MM-DD" that count as Sundays."""
    holiday_country: str | None = None
    """A country such as "US" whose public holidays count as Sundays."""
    holiday_region: str | None = None
    """A state or region such as "NC" of that country."""
    closures: tuple[str, ...] = ()
    """Spans "MM-DD to MM-DD" with nobody in; profiles stay at their lowest value."""
    morning_recovery: Annotated[float, *quantity("time")] = parse("0 h", "time")
    """Whole hours before occupied hours in which fan, set points and limits are already those of
    occupied hours, so that the room is right when people come."""
    daylight_saving: str = "none"
    """A time zone such as "America/New_York" whose summer time people follow, or "none". The
    weather stays in standard time."""

    @field_validator("weekday", "saturday", "sunday")
    @classmethod
    def _hours(cls, value: str) -> str:
        occupied_hours(value)
        return value

    @field_validator("holidays")
    @classmethod
    def _days(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        for day in value:
            month_day(day)
        return value

    @field_validator("closures")
    @classmethod
    def _closures(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        for span in value:
            closure_span(span)
        return value

    @field_validator("morning_recovery")
    @classmethod
    def _morning(cls, value: float) -> float:
        if value > 12 * 3600.0 or value % 3600.0:
            raise InputError(
                f'"{written(value)}" is not a whole number of hours up to 12; write for example '
                '"2 h"'
            )
        return value

    @field_validator("daylight_saving")
    @classmethod
    def _zone(cls, value: str) -> str:
        if value == "none":
            return value
        from zoneinfo import ZoneInfo, available_timezones

        try:
            if len(value) > 100:  # a text that is looked for as a module, dot by dot
                raise ValueError
            ZoneInfo(value)
        except (KeyError, ValueError, OSError):
            zones = available_timezones()
            said = value[:100]
            raise InputError(
                f'"{said}" is not a time zone{nearest(said, zones)}; write for example '
                '"America/New_York", or "none"'
            ) from None
        return value

    @model_validator(mode="after")
    def _holidays_known(self) -> Schedule:
        if self.holiday_region is not None and self.holiday_country is None:
            raise InputError(
                'holiday_region is given without holiday_country; write for example "US"'
            )
        if self.holiday_country is not None and not has_holidays(
            self.holiday_country, self.holiday_region
        ):
            countries = known_regions()
            country = self.holiday_country
            if country not in countries:
                raise InputError(
                    f'holiday_country "{country}" is not known{nearest(country, countries)}; '
                    'write its two-letter code such as "US", or list the days in holidays'
                )
            regions = countries[country]
            some = ", ".join(regions[:5]) + (" or another" if len(regions) > 5 else "")
            known = f"write {some}" if regions else "it has none; leave holiday_region out"
            raise InputError(
                f'holiday_region "{self.holiday_region}" is not a region of "{country}"; {known}'
            )
        return self


class Profile(Section):
    """24 values for each kind of day, fractions of the full load, first value 00:00 to 01:00."""

    following: ClassVar[frozenset[str]] = frozenset({"saturday", "sunday", "closed"})

    weekday: tuple[float, ...]
    """Monday to Friday."""
    saturday: tuple[float, ...] | None = None
    """Default: as the weekday."""
    sunday: tuple[float, ...] | None = None
    """Sundays and holidays. Default: as the weekday."""
    closed: tuple[float, ...] | None = None
    """Days of a closure. Default: the lowest value of the profile, all day."""
    allow_above_one: bool = False
    """Let values pass 1."""
    source: str | None = None
    """Where the values are from."""

    @field_validator("weekday", "saturday", "sunday", "closed")
    @classmethod
    def _day(cls, value: tuple[float, ...] | None) -> tuple[float, ...] | None:
        if value is None:
            return None
        if len(value) != 24:
            raise InputError(f"it has {len(value)} values; write 24, one for each hour of the day")
        if min(value) < 0.0:
            raise InputError(f"{min(value):g} is below 0; write fractions from 0 to 1")
        return value

    @model_validator(mode="after")
    def _fill(self) -> Profile:
        if self.saturday is None:
            self.fill("saturday", self.weekday)
        if self.sunday is None:
            self.fill("sunday", self.weekday)
        if self.closed is None:
            self.fill("closed", (min(min(day) for day in self.days()),) * 24)
        highest = max(max(day) for day in self.days())
        if highest > 1.0 and not self.allow_above_one:
            raise InputError(
                f"{highest:g} is above 1; write fractions from 0 to 1, or allow_above_one = true"
            )
        return self

    def days(self) -> tuple[tuple[float, ...], ...]:
        """Weekday, Saturday, Sunday and closed day."""
        return tuple(
            day
            for day in (self.weekday, self.saturday, self.sunday, self.closed)
            if day is not None
        )
