"""The case as a whole, and its options."""

from __future__ import annotations

import hashlib
import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal

import tomli_w
from pydantic import PrivateAttr, ValidationError, field_validator, model_validator

from dewledger.case.base import lay_over, listed, nearest
from dewledger.case.checks import (
    area_infiltration,
    check_envelope,
    check_humidifier,
    check_outdoor_air_unit,
    check_ranges,
    check_ventilation,
)
from dewledger.case.gains import library_profiles
from dewledger.case.problems import sentence
from dewledger.case.room import Profile
from dewledger.case.tables import Tables
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
)
# What an option may not change: it is told of all options or of the file.
_NOT_IN_AN_OPTION = ("options", "reference", "display", "ranges")


class Case(Tables):
    """One case file: a room, its unit and the options to compare."""

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
