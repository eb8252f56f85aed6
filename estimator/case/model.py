"""The case as a whole, and its options."""

from __future__ import annotations

import copy
import hashlib
import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any, Final, Literal

import tomlkit
from pydantic import PrivateAttr, ValidationError, field_validator, model_validator

from dewledger.case.base import lay_over, plain
from dewledger.case.gains import library_profiles
from dewledger.case.reading.checks import (
    area_infiltration,
    check_envelope,
    check_humidifier,
    check_outdoor_air_unit,
    check_ranges,
    check_ventilation,
)
from dewledger.case.reading.origins import Origin, origins_of
from dewledger.case.reading.places import put
from dewledger.case.reading.problems import sentence
from dewledger.case.room import Profile
from dewledger.case.tables import Tables
from dewledger.case.words import listed, nearest
from dewledger.weather.bundled import bundled_path
from dewledger.weather.errors import InputError

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
    ("meter", "file"),
    ("trend", "file"),
)
# What an option may not change: it is said of all options or of the file, at its top.
_OF_THE_CASE = (
    "format", "options", "reference", "display", "note", "ranges", "origin", "meter", "trend",
    "sweep",
)  # fmt: skip
# The same within [prices]: options are weighed over one life, in one money.
_PRICES_OF_THE_CASE = (
    "currency", "discount_rate", "life", "escalation_electricity", "escalation_gas",
)  # fmt: skip


class Case(Tables):
    """One case file: a room, its unit and the options to compare."""

    _folder: Path = PrivateAttr(default=Path())

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
            _check_option(key, over)
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
        for name in ("meter", "trend"):
            table = getattr(self, name)
            if not self.options or table is None or table.option is None:
                continue
            if table.option not in self.options:
                raise InputError(
                    f'[{name}] option "{table.option}" is not an option'
                    f"{nearest(table.option, self.options)}; write {listed(self.options)}"
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
        check_outdoor_air_unit(self)
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

    def __repr__(self) -> str:
        options = ", ".join(self.options) or "none but the case itself"
        return f"<Case {self.title!r}: weather {self.site.weather}; options {options}>"

    __str__ = __repr__

    def _repr_html_(self) -> str:
        """The options for notebooks; every name escaped."""
        rows = "".join(
            f"<tr><th>{escape(option.key)}</th><td>{escape(option.title)}</td></tr>"
            for option in self.option_cases()
        )
        return f"<table><caption>{escape(repr(self))}</caption><tbody>{rows}</tbody></table>"

    def option_cases(self) -> tuple[OptionCase, ...]:
        """The options in their order, each with its whole case: the case's own tables, and what
        the option says laid over them.

        Raises
        ------
        InputError : an option without a title, or one that does not agree with the case
        """
        return self._derived("the case")

    def _derived(self, name: str) -> tuple[OptionCase, ...]:
        """The options, derived once from what the case holds: its dictionaries can be changed in
        place, and options that they no longer make are derived anew."""
        held = (self.options, self.profiles)
        kept = self.__dict__.get("_kept")
        if kept is None or kept[0] != held:
            kept = (copy.deepcopy(held), tuple(self._laid_over(name)))
            self.__dict__["_kept"] = kept
        options: tuple[OptionCase, ...] = kept[1]
        return options

    def _laid_over(self, name: str) -> Iterator[OptionCase]:
        own = ("options", "reference", "origin")
        base = {k: v for k, v in self.given().items() if k not in own}
        if "observed_high" in base.get("humidity", {}):
            raise InputError(
                f"{name}: [humidity] observed_high is what is seen with one option, the one that "
                "stands there; write it in that option, such as [options.today.humidity]"
            )
        for key, over in self.options.items():
            title = over.get("title")
            if not isinstance(title, str) or not title.strip():
                raise InputError(
                    f"{name}: [options.{key}] title is missing; write for example "
                    'title = "Gas reheat"'
                )
            inner = {field: value for field, value in over.items() if field != "title"}
            merged = lay_over(base, inner)
            yield OptionCase(key, title, _validated(merged, self._folder, name, key, inner))

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Case:
        """A copy with some tables or keys changed, options derived anew from it.

        Raises
        ------
        InputError : the changed case is wrong
        """
        table = {**self.given(), **plain(dict(update or {}), given=True)}
        return self._changed(table)

    @property
    def origins(self) -> dict[str, Origin]:
        """Origin of every input by its place, "room.height" or "options.gas.reheat": given, from
        the starter, or assumed with its source."""
        return origins_of(self, self.origin)

    def with_values(self, values: Mapping[str, Any]) -> Case:
        """A changed copy of the case, read as a case file is read.

        Parameters
        ----------
        values : by their place, tables and key joined by dots: "humidity.limit",
            "options.condenser.reheat", "options.condenser.reheat.0.effectiveness" (the first of a
            list); as they would stand in the file, tables as dictionaries that are laid over
            what is there, None for the default. What an option says of itself stays before what
            is changed in the case.

        Raises
        ------
        InputError : no such place, or a value that does not fit
        """
        table = self.given()
        for path, value in values.items():
            table = put(table, path, plain(value, given=True))
        return self._changed(table)

    def _changed(self, table: dict[str, Any]) -> Case:
        return case_from_table(table, self._folder, "the case")

    def to_toml(self, folder: Path | None = None) -> str:
        """The case as understood, as a case file that reads back to an equal case.

        folder : where the text will be written, if it is to be run from there: relative paths of
            the case then lead back to the files they mean
        """
        table = self.as_table()
        table["origin"]["defaults_written"] = True
        if folder is not None:
            for part in (table, *table["options"].values()):
                self._lead_back(part, folder)
        return tomlkit.dumps(table)

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


def not_in_an_option(table: str = "") -> tuple[str, ...]:
    """Keys at the top of a case, or in one of its tables, that an option cannot change."""
    return {"": ("site", *_OF_THE_CASE), "prices": _PRICES_OF_THE_CASE}.get(table, ())


def _check_option(key: str, over: dict[str, Any]) -> None:
    """InputError where an option says what is not its to say."""
    if "site" in over:
        raise InputError(
            f'option "{key}" holds site, which an option cannot, for all options are compared on '
            "one weather year; compare sites with dewledger sweep, or run the case again with "
            "--weather"
        )
    prices = over.get("prices")
    places = [name for name in _OF_THE_CASE if name in over]
    if isinstance(prices, dict):
        places += [f"prices.{name}" for name in _PRICES_OF_THE_CASE if name in prices]
    if places:
        raise InputError(
            f'option "{key}" holds {places[0]}, which an option cannot; write it for the whole '
            f"case{' in [prices]' if '.' in places[0] else ', at the top of the file'}"
        )


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
    # Derived at once, so that what is wrong with an option is said under the name of the file.
    case._derived(name)
    return case


def _validated(
    table: dict[str, Any],
    folder: Path,
    name: str,
    option: str = "",
    over: dict[str, Any] | None = None,
) -> Case:
    try:
        case = Case.model_validate({k: v for k, v in table.items() if v is not None})
    except ValidationError as error:
        raise InputError(f"{name}: {sentence(error, Case, option, over or {})}") from None
    case._folder = folder
    return case
