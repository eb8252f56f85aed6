"""The table [loads] of a case: people, lights, equipment, processes, and hourly loads of a file."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Annotated, Any, ClassVar, Self

from pydantic import ModelWrapValidatorHandler, field_validator, model_validator

from dewledger.case.base import Section, lay_over, require_one
from dewledger.case.room import Profile
from dewledger.case.words import listed, nearest
from dewledger.quantities import Measured, parse, quantity
from dewledger.weather.errors import InputError

DATA = Path(__file__).parent.parent / "data"


@dataclass(frozen=True)
class Activity:
    """Heat of one person at an activity, adjusted for a usual mix of people, at 24 C [W]."""

    sensible: Measured
    latent: Measured
    source: str


@dataclass(frozen=True)
class RoomKind:
    """Typical loads of a kind of room; each table as it would stand under [loads]."""

    title: str
    tables: dict[str, dict[str, Any]]
    source: str


@cache
def _room_data() -> dict[str, Any]:
    return tomllib.loads((DATA / "room_kinds.toml").read_text(encoding="utf-8"))


@cache
def activities() -> dict[str, Activity]:
    """What people do and the heat they give, by name."""
    return {
        name: Activity(
            parse(row["sensible"], "heat per person"),
            parse(row["latent"], "heat per person"),
            _room_data()["activity_source"],
        )
        for name, row in _room_data()["activities"].items()
    }


@cache
def room_kinds() -> dict[str, RoomKind]:
    """Kinds of room by name."""
    return {
        name: RoomKind(
            row["title"],
            {key: row[key] for key in ("people", "lights", "equipment") if key in row},
            row["source"],
        )
        for name, row in _room_data()["kinds"].items()
    }


@cache
def library_profiles() -> dict[str, Profile]:
    """Profiles that any case may name, in addition to its own and "occupied" and "always"."""
    return {name: Profile.model_validate(row) for name, row in _room_data()["profiles"].items()}


class People(Section):
    """People and their heat."""

    following: ClassVar[frozenset[str]] = frozenset({"sensible", "latent"})

    count: Annotated[float, *quantity("people")] | None = None
    """People at a profile value of 1; or area_per_person."""
    area_per_person: Annotated[float, *quantity("area per person", above_zero=True)] | None = None
    """Floor area for each person at a profile value of 1."""
    activity: str | None = None
    """What they do, by name, for their heat; or sensible and latent."""
    sensible: Annotated[float, *quantity("heat per person")] | None = None
    """Sensible heat of a person."""
    latent: Annotated[float, *quantity("heat per person")] | None = None
    """Latent heat of a person."""
    profile: str = "occupied"
    """Profile of their number."""

    @field_validator("activity")
    @classmethod
    def _activity(cls, value: str | None) -> str | None:
        if value is not None and value not in activities():
            raise InputError(
                f'"{value}" is not in the table of activities{nearest(value, activities())}; '
                f"write {listed(activities())}, or sensible and latent"
            )
        return value

    @model_validator(mode="after")
    def _agree(self) -> People:
        examples = ("count = 30", 'activity = "seated, very light work"')
        require_one(self, "loads.people", examples)
        if self.activity is not None:
            self.fill("sensible", activities()[self.activity].sensible)
            self.fill("latent", activities()[self.activity].latent)
        return self

    def number(self, floor_m2: float) -> float:
        """People at a profile value of 1 in a floor area."""
        if self.count is not None:
            return float(self.count)
        return floor_m2 / float(self.area_per_person or 1.0)


class Electric(Section):
    """Lights or equipment: electricity that becomes sensible heat in the room."""

    power: Annotated[float, *quantity("power")] | None = None
    """Power at a profile value of 1; or power_density."""
    power_density: Annotated[float, *quantity("power per area")] | None = None
    """Power per floor area at a profile value of 1."""
    profile: str = "occupied"
    """Profile of the power."""

    @model_validator(mode="after")
    def _agree(self) -> Electric:
        require_one(self, "loads.lights", ('power_density = "0.7 W/ft2"',))
        return self


class Process(Section):
    """A process, an animal, a pool: what it gives to the room's air."""

    sensible: Annotated[float, *quantity("heat flow")] = parse("0 W", "heat flow")
    """Sensible heat at a profile value of 1."""
    moisture: Annotated[float, *quantity("moisture flow")] = parse("0 kg/h", "moisture flow")
    """Vapor at a profile value of 1."""
    profile: str = "always"
    """Profile of both."""


class Pool(Section):
    """An indoor pool: what evaporates from it. Chlorinated air needs its own ventilation, exhaust
    and corrosion-proof equipment; the water's heater is not part of the account."""

    area: Annotated[float, *quantity("area", above_zero=True)]
    """Water surface."""
    water_temperature: Annotated[float, *quantity("temperature")] = parse("82 degF", "temperature")
    """Temperature of the water."""
    activity: Annotated[float, *quantity("ratio")] = parse(1.0, "ratio")
    """Activity factor in use: 1 public, 0.8 hotel, 0.65 fitness or elderly swimmers (ASHRAE
    Handbook - HVAC Applications 2011, read second-hand)."""
    still: Annotated[float, *quantity("ratio")] = parse(0.74, "ratio")
    """Factor while nobody swims: still water evaporates 74 % of the formula (ASHRAE Transactions
    104(1A) 1998, paper 4146, abstract read)."""
    room_relative_humidity: Annotated[float, *quantity("fraction")] = parse("55 %", "fraction")
    """Relative humidity of the room's air that evaporation is figured at, at the cooling set
    point."""
    profile: str = "occupied"
    """Profile of its use."""

    @field_validator("activity", "still")
    @classmethod
    def _factor(cls, value: float) -> float:
        if not 0.0 <= value <= 5.0:
            raise InputError("it is a factor on the formula; write for example 1.0")
        return value


class Plants(Section):
    """Plants under lights: the part of their irrigation that comes back as vapor. The heat that it
    takes is taken from the air."""

    irrigation: Annotated[float, *quantity("water flow", above_zero=True)]
    """Water given, averaged over the year."""
    returned: Annotated[float, *quantity("fraction")] = parse("90 %", "fraction")
    """Share of it that becomes vapor; 70 to 90 % is reported (grow-room sizing pages of 2023,
    read).
    """
    dark_share: Annotated[float, *quantity("fraction")] = parse("30 %", "fraction")
    """Share of the year's vapor that rises while the lights are off (common practice, no
    source)."""


class LoadsFile(Section):
    """Hourly loads from elsewhere, added to the others: 8760 rows in local standard time. Columns
    time, or month, day and hour, are checked against the weather year where the file has them."""

    path: str
    """CSV, relative to the case file."""
    columns: dict[str, str] | None = None
    """Heads of its columns, such as sensible_W = "Hall sensible"; default the names themselves."""


class Loads(Section):
    """Heat and moisture that arise in the room, without envelope and outdoor air."""

    following: ClassVar[frozenset[str]] = frozenset({"people", "lights", "equipment"})

    room_kind: str | None = None
    """A kind of room whose typical loads apply where the case gives none."""
    people: People | None = None
    """People."""
    lights: Electric | None = None
    """Lights."""
    equipment: Electric | None = None
    """Equipment."""
    process: Process | None = None
    """A process."""
    pool: Pool | None = None
    """An indoor pool."""
    plants: Plants | None = None
    """Plants under the lights of [loads.lights]."""
    file: LoadsFile | None = None
    """Hourly loads from a file."""

    @model_validator(mode="wrap")
    @classmethod
    def _typical(cls, value: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        if isinstance(value, cls):
            value = value.given()
        if not isinstance(value, dict) or "room_kind" not in value:
            return handler(value)
        kind = value["room_kind"]
        if not isinstance(kind, str) or kind not in room_kinds():
            raise InputError(
                f'room_kind "{kind}" is not known{nearest(kind, room_kinds())}; '
                f"write {listed(room_kinds())}"
            )
        typical = room_kinds()[kind].tables
        loads = handler(lay_over(typical, value, "loads"))
        # What came from the kind of room counts as not given.
        object.__setattr__(loads, "__pydantic_fields_set__", set(value))
        for name in typical:
            table = getattr(loads, name)
            object.__setattr__(table, "__pydantic_fields_set__", set(value.get(name, {})))
        return loads

    def as_table(self) -> dict[str, Any]:
        """The table as understood; what the kind of room gave stays with the kind of room."""
        table = super().as_table()
        if self.room_kind is not None:
            for name in room_kinds()[self.room_kind].tables:
                given = getattr(self, name).model_fields_set
                if name in table:
                    table[name] = {key: table[name][key] for key in table[name] if key in given}
        return table
