"""Where every input of a case is from: given, from the starter, or assumed.

The table [origin] of a case file names the starter it was written from, and each value that was
assumed for its user, with the source. A value that still is the starter's counts as the starter's,
and one that still is the assumed one as assumed; once it is changed in the file it is given.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, NamedTuple

from pydantic import Field, field_validator

from dewledger.case.base import Section, plain
from dewledger.case.words import listed, nearest
from dewledger.weather.errors import InputError

STARTERS = Path(__file__).parents[2] / "cases"


@dataclass(frozen=True)
class Origin:
    """Of one input: given by the user, from a starter, or assumed; and on what ground."""

    kind: Literal["given", "starter", "assumed"]
    source: str = ""


class AssumedValue(Section):
    """A value that was assumed, and why it is that."""

    value: Any
    """The value as it was assumed; another one in the case is the user's own."""
    source: str
    """Where it is from."""


class OriginTable(Section):
    """What of this case is not its user's own."""

    starter: str | None = None
    """The kind that the case was written from; what is still as there counts as the starter's."""
    assumed: dict[str, AssumedValue] = Field(default_factory=dict)
    """Values assumed for the user, by their place, such as "room.height"."""

    defaults_written: bool = False
    """Whether the program wrote the defaults out, as in case.toml: a value that is the default then
    counts as assumed."""

    def __eq__(self, other: object) -> bool:
        """Equal where the same is said of the same inputs, defaults written out or not."""
        if not isinstance(other, OriginTable):
            return NotImplemented
        return (self.starter, self.assumed) == (other.starter, other.assumed)

    __hash__ = None  # type: ignore[assignment]

    @field_validator("starter")
    @classmethod
    def _known(cls, value: str | None) -> str | None:
        known = sorted(path.stem for path in STARTERS.glob("*.toml"))
        if value is not None and value not in known:
            raise InputError(
                f'"{value}" is no kind to start from{nearest(value, known)}; write {listed(known)}'
            )
        return value


def origins_of(case: Section, stated: OriginTable) -> dict[str, Origin]:
    """Origin of every input by its place, options included; keys left out of the case are assumed
    to be their default, with what is said of it as the source."""
    table = case.given()
    started: dict[str, str] = {}
    if stated.starter is not None:
        text = (STARTERS / f"{stated.starter}.toml").read_text(encoding="utf-8")
        started = {path: _word(value) for path, value in _flat(tomllib.loads(text))}
    defaults = dict(_defaults("", case))
    found = {}
    for path, value in _flat(table):
        if path.split(".")[0] in ("format", "origin"):
            continue
        assumed = stated.assumed.get(path)
        word = _word(value)
        if assumed is not None and _word(assumed.value) == word:
            found[path] = Origin("assumed", assumed.source)
        elif started.get(path) == word:
            found[path] = Origin("starter", f'the kind "{stated.starter}"')
        elif stated.defaults_written and path in defaults and defaults[path].word == word:
            found[path] = defaults[path].origin
        else:
            found[path] = Origin("given")
    found |= {
        path: default.origin
        for path, default in defaults.items()
        if default.used and path not in found
    }
    return found


def _flat(table: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, Any]]:
    """Every key by its place; a list is one value."""
    for key, value in table.items():
        path = f"{prefix}.{key}" if prefix else str(key)
        if isinstance(value, Mapping) and value:
            yield from _flat(value, path)
        else:
            yield path, value


class _Default(NamedTuple):
    """The default of a key: as a word, whether it is used, and what is said of it."""

    word: str
    used: bool
    origin: Origin


def _defaults(prefix: str, section: Section) -> Iterator[tuple[str, _Default]]:
    """The default of every key of the tables that a case has."""
    for name, value in section:
        path = f"{prefix}.{name}" if prefix else name
        if path in ("format", "origin"):
            continue
        if isinstance(value, Section):
            yield from _defaults(path, value)
            continue
        if isinstance(value, dict) and all(isinstance(one, Section) for one in value.values()):
            for key, one in value.items():
                yield from _defaults(f"{path}.{key}", one)
            continue
        field = type(section).model_fields[name]
        used = name not in section.model_fields_set and value not in (None, (), {})
        origin = Origin("assumed", f"default. {type(section).meaning(name)}")
        yield path, _Default(_word(field.default), used, origin)


def _word(value: Any) -> str:
    """A value such that 60, 60.0 and "60" are the same."""
    value = plain(value)
    if isinstance(value, int | float) and not isinstance(value, bool):
        return f"{value:.12g}"
    if isinstance(value, list):
        return f"[{', '.join(map(_word, value))}]"
    if isinstance(value, Mapping):
        return str({key: _word(item) for key, item in sorted(value.items())})
    return str(value)
