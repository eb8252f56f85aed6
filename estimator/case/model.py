"""The case as a whole, and its options."""

from __future__ import annotations

import hashlib
import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal

import tomli_w
from pydantic import Field, PrivateAttr, ValidationError, field_validator, model_validator

from estimator.case.air import FLOW_BY_LOAD, Air
from estimator.case.base import Section, listed, nearest, written
from estimator.case.conditioning import Envelope, Humidifier, OutdoorUnit
from estimator.case.gains import Loads, library_profiles
from estimator.case.machine import (
    CoilSizing,
    Heating,
    Humidity,
    Reheat,
    Unit,
)
from estimator.case.merge import lay_over
from estimator.case.problems import sentence
from estimator.case.room import Profile, Room, Schedule, Site
from estimator.life_cycle import OptionCost
from estimator.prices import Prices
from estimator.quantities import Display
from estimator.ranges import Ranges, ends_of
from estimator.reheat_rules import Allowance
from weather.bundled import bundled_path
from weather.errors import InputError

OCCUPIED: Final = "occupied"
ALWAYS: Final = "always"
_OPTION_KEY = re.compile(r"[a-z0-9-]+")
# Fields that hold a path.
_PATHS = (
    ("site", "weather"),
    ("unit", "table"),
    ("unit", "compressor_map"),
    ("loads", "file", "path"),
    ("prices", "carbon_hourly"),
)
# What an option may not change: it is told of all options or of the file.
_NOT_IN_AN_OPTION = ("options", "reference", "display", "ranges")


class Case(Section):
    """One case file: a room, its unit and the options to compare."""

    title: str
    """What is studied."""
    note: str | None = None
    """Anything a reader should know."""
    display: Display = "I-P"
    """Units of what is shown."""
    reference: str | None = None
    """Key of the option that the others are compared with; default the first."""
    site: Site
    room: Room
    schedule: Schedule = Schedule()
    profiles: dict[str, Profile] = Field(default_factory=dict)
    loads: Loads = Loads()
    air: Air
    unit: Unit
    humidity: Humidity = Humidity()
    reheat: tuple[Reheat, ...] = ()
    sizing: CoilSizing = CoilSizing()
    heating: Heating = Heating()
    outdoor_unit: OutdoorUnit | None = None
    """Makes the unit an outdoor-air unit; default it serves the room alone."""
    humidifier: Humidifier | None = None
    """Moisture added where the room is too dry; default none."""
    envelope: Envelope | None = None
    """The envelope as a network with windows; default [room] conductance and heat capacity."""
    prices: Prices = Prices()
    allowance: Allowance | None = None
    """The energy code that reheat is judged by; default none."""
    cost: OptionCost = OptionCost()
    """What the option costs to put in and to keep up; usually given in each option."""
    ranges: Ranges = Ranges()
    """How far assumptions may be off, for --sensitivity; default ranges where it says nothing."""
    options: dict[str, dict[str, Any]] = Field(default_factory=dict)
    """Each option: a title and whatever differs from the case."""

    _folder: Path = PrivateAttr(default=Path())
    _options: tuple[OptionCase, ...] = PrivateAttr(default=())

    @field_validator("title")
    @classmethod
    def _title(cls, value: str) -> str:
        if not value.strip():
            raise InputError('it is empty; write for example "Instrument library"')
        return value

    @field_validator("profiles")
    @classmethod
    def _profiles(cls, value: dict[str, Profile]) -> dict[str, Profile]:
        for name in value:
            if name in (OCCUPIED, ALWAYS) or name in library_profiles():
                raise InputError(f'"{name}" is a built-in profile; give yours another name')
        return value

    @field_validator("options")
    @classmethod
    def _keys(cls, value: dict[str, dict[str, Any]]) -> dict[str, dict[str, Any]]:
        for key, over in value.items():
            if not _OPTION_KEY.fullmatch(key):
                raise InputError(
                    f'option key "{key}" has other signs than small letters, digits and hyphens; '
                    "write for example [options.condenser-trim]"
                )
            for name in _NOT_IN_AN_OPTION:
                if name in over:
                    raise InputError(
                        f'option "{key}" holds {name}, which an option cannot; '
                        "write it at the top of the file"
                    )
        return value

    @model_validator(mode="after")
    def _agree(self) -> Case:
        known = (OCCUPIED, ALWAYS, *self.profiles, *library_profiles())
        loads = self.loads
        users = [
            ("[air] outdoor_profile", self.air.outdoor_profile),
            ("[room] infiltration_profile", self.room.infiltration_profile),
        ]
        if self.air.exhaust_profile is not None:
            users.append(("[air] exhaust_profile", self.air.exhaust_profile))
        for name in ("people", "lights", "equipment", "process"):
            table = getattr(loads, name)
            if table is not None:
                users.append((f"[loads.{name}] profile", table.profile))
        for place, profile in users:
            if profile not in known:
                raise InputError(
                    f'{place} "{profile}" is not a profile{nearest(profile, known)}; write '
                    f'{listed(known[: 2 + len(self.profiles)])}, or add [profiles."{profile}"]'
                )
        if self.reference is not None and self.reference not in self.options:
            raise InputError(
                f'reference "{self.reference}" is not an option'
                f"{nearest(self.reference, self.options)}; write {listed(self.options)}"
                if self.options
                else f'reference "{self.reference}" is not an option, for there are none; '
                f"write [options.{self.reference}] with a title"
            )
        sources = [source.source for source in self.reheat]
        for source in sources:
            if sources.count(source) > 1:
                raise InputError(
                    f'[[reheat]] lists source = "{source}" twice; give each source one table'
                )
        check_ventilation(self)
        check_humidifier(self)
        check_envelope(self)
        area_infiltration(self)
        check_outdoor_unit(self)
        check_ranges(self)
        if self.unit.rated_flow is None:
            self.unit.fill("rated_flow", self.air.supply_flow)
        return self

    @property
    def reference_key(self) -> str:
        """Key of the option that the others are compared with."""
        return self.reference if self.reference is not None else next(iter(self.options))

    @property
    def folder(self) -> Path:
        """Folder of the case file, where relative paths start."""
        return self._folder

    def weather_path(self) -> str:
        """The weather file, or the name of a bundled station as it is written."""
        text = self.site.weather
        return text if bundled_path(text) is not None else str(self.path_to(text))

    def path_to(self, text: str) -> Path:
        """A path of the case file, which is relative to its folder."""
        return self._folder / text

    def profile(self, name: str) -> Profile | Literal["occupied", "always"]:
        """A profile by its name: the case's own, of the library, or a built-in word."""
        if name == OCCUPIED:
            return OCCUPIED
        if name == ALWAYS:
            return ALWAYS
        return self.profiles[name] if name in self.profiles else library_profiles()[name]

    def option_cases(self) -> tuple[OptionCase, ...]:
        """The options in their order, each with its whole case."""
        return self._options

    def to_toml(self, folder: Path | None = None) -> str:
        """The case as understood, as a case file that reads back to an equal case.

        folder : where the text will be written, if it is to be run from there: relative paths of
            the case then lead back to the files they mean
        """
        table = self.as_table()
        if folder is not None:
            for part in (table, *table["options"].values()):
                self._lead_back(part, folder)
        # No string holds a line break here, so this meets lists only: one line where it is short.
        return re.sub(r"\[\n((?:    [^\n]+,\n)+)\]", _on_one_line, tomli_w.dumps(table))

    def _lead_back(self, table: dict[str, Any], folder: Path) -> None:
        """Rewrite the paths of a table of the case to start from another folder."""
        for place in _PATHS:
            *tables, field = place
            inner: Any = table
            for name in tables:
                inner = inner.get(name) if isinstance(inner, dict) else None
            text = inner.get(field) if isinstance(inner, dict) else None
            if isinstance(text, str) and not (field == "weather" and bundled_path(text)):
                target = self.path_to(text).resolve()
                try:
                    inner[field] = Path(os.path.relpath(target, folder.resolve())).as_posix()
                except ValueError:  # another drive
                    inner[field] = target.as_posix()

    def digest(self) -> str:
        """SHA-256 of the case as understood."""
        return hashlib.sha256(self.to_toml().encode("utf-8")).hexdigest()


def _on_one_line(match: re.Match[str]) -> str:
    items = [line.strip().rstrip(",") for line in match[1].splitlines()]
    line = f"[{', '.join(items)}]"
    return line if len(line) <= 150 else match[0]


def check_outdoor_unit(case: Case) -> None:
    """InputError where an outdoor-air unit meets what belongs to a unit that serves a room."""
    if case.outdoor_unit is None:
        return
    air = case.air
    by_room = case.outdoor_unit.by_room_humidity
    if case.humidity.control != "none" and not by_room:
        raise InputError(
            "[humidity] control stands beside [outdoor_unit], which holds a supply dew point; "
            'write control = "none", or by_room_humidity = true'
        )
    if by_room and case.humidity.control == "none":
        raise InputError(
            "[outdoor_unit] by_room_humidity needs a limit to follow; write for example [humidity] "
            'control = "relative humidity" with limit = "55 %"'
        )
    if by_room and case.humidity.priority == "humidity first":
        raise InputError(
            '[humidity] priority = "humidity first" does not reach an [outdoor_unit], whose room '
            "is cooled and heated beside it; leave it out"
        )
    if air.fan != "continuous" or air.fan_unoccupied == "cycling":
        raise InputError(
            '[outdoor_unit] needs a continuous fan; write fan = "continuous", and fan_unoccupied '
            '"continuous" or "off"'
        )
    if air.economizer is not None:
        raise InputError(
            "[air.economizer] cannot stand beside [outdoor_unit], which brings its outdoor air at "
            "a supply temperature of its own; leave it out, and write by_room_need = true"
        )
    if air.flow_control == "two-speed":
        raise InputError(
            'flow_control = "two-speed" cannot stand beside [outdoor_unit]; write "variable", '
            "whose flow follows the outdoor air"
        )
    for name in FLOW_BY_LOAD:
        if name in air.model_fields_set:
            raise InputError(
                f"[air] {name} means nothing beside [outdoor_unit], whose supply air has set "
                "points of its own; leave it out"
            )


def check_ranges(case: Case) -> None:
    """InputError where the set point's range is not of the quantity that is limited."""
    if case.ranges.set_point is None:
        return
    limited = case.humidity.control
    if limited == "none" and case.outdoor_unit is not None:
        limited = "dew point"
    difference = ends_of(case.ranges.set_point)[0].kind.name == "temperature difference"
    if limited == "none" or difference == (limited == "dew point"):
        return
    example = '["-2 degF", "2 degF"]' if limited == "dew point" else '["-3 %", "3 %"]'
    raise InputError(
        f"[ranges] set_point is no range of the {limited} that is limited; write for example "
        f"{example}"
    )


def check_envelope(case: Case) -> None:
    """InputError unless the case gives a plain conductance or an envelope."""
    if case.envelope is None:
        if case.room.conductance is None:
            raise InputError(
                "[room] conductance is missing; write for example "
                'conductance = "900 Btu/h/degF", or an [envelope]'
            )
        return
    for name in ("conductance", "heat_capacity", "heat_capacity_per_area"):
        if name in case.room.model_fields_set:
            raise InputError(f"[room] {name} and [envelope] are both given; keep the one meant")


def check_ventilation(case: Case) -> None:
    """InputError where outdoor air by people has no people, or is more than the supply air."""
    air = case.air
    if air.outdoor_per_person is not None and case.loads.people is None:
        raise InputError(
            "[air] outdoor_per_person is given, yet nobody is in; write [loads.people]"
        )
    most = design_outdoor_flow(case)
    if most <= least_supply_share(case) * float(air.supply_flow):
        return
    if air.outdoor_per_person is None and air.outdoor_per_area is None:
        raise InputError(
            f'[air] outdoor_flow "{written(air.outdoor_flow)}" is above the supply flow at '
            f'minimum_flow "{written(air.minimum_flow)}"; raise minimum_flow or lower outdoor_flow'
        )
    raise InputError(
        f"[air] people and area ask for {most / 0.000471947:.0f} cfm of outdoor air, more than "
        "the least supply flow; raise supply_flow or minimum_flow, or lower the rates"
    )


def least_supply_share(case: Case) -> float:
    """Least supply flow over the full one, as far as outdoor air is bound by it: the flow of an
    outdoor-air unit follows its outdoor air."""
    if case.air.flow_control == "constant" or case.outdoor_unit is not None:
        return 1.0
    return float(case.air.minimum_flow)


def area_infiltration(case: Case) -> float | None:
    """Infiltration told by an area [m3/s], at a profile value of 1; None where it is not."""
    room = case.room
    if room.infiltration_per_area is None:
        return None
    area = room.infiltration_area
    if area is None and case.envelope is not None:
        area = case.envelope.wall_area
    if area is None:
        raise InputError(
            "[room] infiltration_per_area has no area; write for example "
            'infiltration_area = "2500 ft2"'
        )
    return float(room.infiltration_per_area) * float(area)


def design_outdoor_flow(case: Case) -> float:
    """Outdoor air [m3/s] at full ventilation: stated, or by people and area (as in ASHRAE 62.1)."""
    air = case.air
    if air.outdoor_per_person is None and air.outdoor_per_area is None:
        return float(air.outdoor_flow)
    floor = float(case.room.floor_area)
    flow = float(air.outdoor_per_area or 0.0) * floor
    if air.outdoor_per_person is not None and case.loads.people is not None:
        flow += float(air.outdoor_per_person) * case.loads.people.number(floor)
    return flow


def check_humidifier(case: Case) -> None:
    """InputError where the humidifier's limit does not stay below the drying limit."""
    if case.humidifier is None:
        return
    humidity = case.humidity
    dew_point = humidity.control == "dew point"
    if dew_point and case.humidifier.limit is None:
        raise InputError(
            '[humidifier] limit is missing where control = "dew point"; write for example "40 degF"'
        )
    for occupied in (True, False):
        low = humidifier_limit(case, occupied)
        if humidity.control == "none":
            continue
        high = humidity.limit_value
        if not occupied and humidity.limit_unoccupied_value is not None:
            high = humidity.limit_unoccupied_value
        if low >= high:
            raise InputError(
                "[humidifier] its limit is not below the drying limit of [humidity]"
                f"{'' if occupied else ' in unoccupied hours'}; leave a band between them, for "
                "example 5 %"
            )


def humidifier_limit(case: Case, occupied: bool) -> float:
    """The humidifier's limit, a fraction or a dew point [C] as [humidity] control says."""
    humidifier = case.humidifier
    assert humidifier is not None
    dew_point = case.humidity.control == "dew point"
    text = humidifier.limit
    place = "limit"
    if not occupied and humidifier.limit_unoccupied is not None:
        text, place = humidifier.limit_unoccupied, "limit_unoccupied"
    if text is None:
        return float(case.humidity.range_low)
    return float(humidifier.value(text, dew_point, place))


@dataclass(frozen=True)
class OptionCase:
    """One option: its key, its title, and the case with its overrides laid over."""

    key: str
    title: str
    case: Case


def case_from_table(table: dict[str, Any], folder: Path, name: str) -> Case:
    """A case from the content of its file.

    Parameters
    ----------
    table : as tomllib reads it
    folder : where relative paths start
    name : of the file, for the sentences

    Raises
    ------
    InputError : the first thing that is wrong
    """
    if not table:
        raise InputError(f"{name} is empty; dewledger new writes a case to start from")
    case = _validated(table, folder, name)
    if not case.options:
        raise InputError(
            f"{name} has no option; write at least one, for example [options.electric] with "
            'title = "Electric reheat"'
        )
    base = {key: value for key, value in table.items() if key not in ("options", "reference")}
    options = []
    for key, over in case.options.items():
        title = over.get("title")
        if not isinstance(title, str) or not title.strip():
            raise InputError(
                f'{name}: [options.{key}] title is missing; write for example title = "Gas reheat"'
            )
        inner = {field: value for field, value in over.items() if field != "title"}
        merged = lay_over(base, inner)
        options.append(OptionCase(key, title, _validated(merged, folder, name, key, inner)))
    case._options = tuple(options)
    return case


def _validated(
    table: dict[str, Any],
    folder: Path,
    name: str,
    option: str = "",
    over: dict[str, Any] | None = None,
) -> Case:
    try:
        case = Case.model_validate(table)
    except ValidationError as error:
        raise InputError(f"{name}: {sentence(error, Case, option, over or {})}") from None
    case._folder = folder
    return case
