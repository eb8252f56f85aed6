"""Every key of a case file as a table: what to write, its default, what it means.

Read off the models themselves, so that pages, help and schema say what the program does.
"""

from __future__ import annotations

import typing
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from pydantic import WithJsonSchema
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from dewledger.case.base import Section
from dewledger.case.model import Case
from dewledger.case.words import listed, nearest
from dewledger.quantities import KINDS, Measured
from dewledger.weather.errors import InputError

TOP = "top"
NEEDED = "needed"
NONE = "-"


@dataclass(frozen=True)
class Key:
    """One key: the units or words to write, its default ("needed" where it has none), meaning."""

    name: str
    write: str
    default: str
    meaning: str


@dataclass(frozen=True)
class KeyTable:
    """One table of the case file.

    place : as in [loads.people], without brackets; "top" is the top of the file
    head : as it is written; a list of tables stands in double brackets
    """

    place: str
    head: str
    meaning: str
    keys: tuple[Key, ...]


def key_tables() -> dict[str, KeyTable]:
    """Every table of the case file by its place, in the order of the models."""
    return {place: _table(place, head, model) for place, head, model in _walk("", "", Case)}


def key_table(place: str) -> KeyTable:
    """One table of the case file; InputError with the known ones where there is none."""
    tables = key_tables()
    wanted = place.strip().strip("[]").strip() or TOP
    if wanted not in tables:
        homes = [home for home, table in tables.items() if wanted in {k.name for k in table.keys}]
        if homes:
            return key_table(homes[0])
        hint = nearest(wanted, tables)
        raise InputError(f'"{place}" is no table of a case{hint}; write one of {listed(tables)}')
    return tables[wanted]


def _walk(place: str, head: str, model: type[Section]) -> Iterator[tuple[str, str, type[Section]]]:
    yield place or TOP, head, model
    for name, field in model.model_fields.items():
        for inner in _models(field.annotation):
            below = f"{place}.{name}" if place else name
            shape = str(field.annotation)
            brackets = f"[[{below}]]" if "tuple[" in shape else f"[{below}]"
            if "dict[" in shape:
                brackets = f"[{below}.NAME]"
            yield from _walk(below, brackets, inner)


def _models(annotation: Any) -> Iterator[type[Section]]:
    if isinstance(annotation, type) and issubclass(annotation, Section):
        yield annotation
    for part in typing.get_args(annotation):
        yield from _models(part)


def _table(place: str, head: str, model: type[Section]) -> KeyTable:
    meaning = " ".join((model.__doc__ or "").split())
    keys = [
        Key(name, _write(field), _default(field), model.meaning(name))
        for name, field in model.model_fields.items()
        if kind_of(field) is not None or not any(_models(field.annotation))
    ]
    return KeyTable(place, head, meaning, tuple(keys))


def kind_of(field: FieldInfo) -> str | None:
    """The kind of quantity a field takes, or None."""

    def into(parts: Any) -> Iterator[Any]:
        for part in parts:
            if isinstance(part, WithJsonSchema):
                yield (part.json_schema or {}).get("description")
            yield from into(getattr(part, "__metadata__", ()))
            yield from into(typing.get_args(part))

    found = (kind for kind in into([*field.metadata, field.annotation]) if kind in KINDS)
    return next(found, None)


def _words(annotation: Any) -> Iterator[str]:
    if typing.get_origin(annotation) is typing.Literal:
        for value in typing.get_args(annotation):
            yield f'"{value}"' if isinstance(value, str) else str(value)
    else:
        for part in typing.get_args(annotation):
            yield from _words(part)


def _write(field: FieldInfo) -> str:
    """What to write: the units of a quantity, the words of a choice, or the plain type."""
    shape = str(field.annotation)
    kind = kind_of(field)
    if kind is not None:
        known = KINDS[kind]
        units = dict.fromkeys([known.display_ip, known.display_si])
        written = " or ".join(unit for unit in units if unit != "fraction") or "number"
        return f"list of {written}" if "tuple[" in shape else written
    words = list(_words(field.annotation))
    if words:
        return ", ".join(words)
    for sign, word in (("tuple", "list"), ("dict", "table"), ("bool", "true, false"),
                       ("int", "number"), ("float", "number")):  # fmt: skip
        if sign in shape:
            return word
    return "text" if "str" in shape else "table"


def _default(field: FieldInfo) -> str:
    if field.is_required():
        return NEEDED
    value = field.default
    if value is PydanticUndefined or value is None or value == ():
        return NONE
    if isinstance(value, Measured):
        return value.text
    if isinstance(value, bool):
        return str(value).lower()
    return NONE if isinstance(value, Section) else str(value)
