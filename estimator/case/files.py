"""Case files: read, bundled, started from, and described as a JSON Schema."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from dewledger.case.base import plain
from dewledger.case.model import Case, case_from_table
from dewledger.case.words import listed, nearest
from dewledger.weather.errors import InputError
from dewledger.weather.files.user_files import read_text, read_toml, require_plain

_MOST_BYTES = 2_000_000
BUNDLED = Path(__file__).parent.parent / "cases"


def load_case(path: str | Path) -> Case:
    """A case from its file.

    Raises
    ------
    InputError : the file cannot be read, is not TOML, or something in it is wrong
    """
    path = Path(path)
    if not path.exists():
        raise InputError(
            f'case file "{path}" does not exist; dewledger new writes one to start from'
        )
    text = read_text(path, "case file", _MOST_BYTES)
    return case_from_text(text, path.parent, path.name)


def case_from_text(text: str, folder: str | Path = ".", name: str = "the case") -> Case:
    """A case from the text of its file; ``folder`` is where relative paths start."""
    table = read_toml(text, name, 'write lines such as title = "Hall", texts in quotes')
    _require_format(table, name)
    return case_from_table(table, Path(folder), name)


def case_from_dict(table: Mapping[str, Any], folder: str | Path = ".") -> Case:
    """A case from a dictionary of the same tables and keys as its file.

    ``folder`` is where relative paths start. The key ``format`` may be left out: a dictionary is
    written for the program that reads it. Raises InputError as ``load_case`` does.
    """
    if not isinstance(table, Mapping):
        raise InputError(
            "the case is not a dictionary of its tables; write for example "
            'case_from_dict({"title": "Hall", "site": {"weather": "greensboro"}, ...})'
        )
    require_plain(table, "the case")
    whole = _without_none(table)
    if whole:
        whole.setdefault("format", FORMAT)
        _require_format(whole, "the case")
    return case_from_table(whole, Path(folder), "the case")


def _without_none(table: Mapping[str, Any]) -> dict[str, Any]:
    """The table, and all tables in it, without what is None."""
    return {
        key: _without_none(value) if isinstance(value, Mapping) else plain(value)
        for key, value in table.items()
        if value is not None
    }


FORMAT = 2
# Names of format 1, with their tables, and what they are called since.
_RENAMED = {
    ("outdoor_unit",): "outdoor_air_unit",
    ("room", "moisture_capacity_multiplier"): "moisture_storage_ratio",
}


def _require_format(table: dict[str, Any], name: str) -> None:
    """InputError, with every new name that is needed, unless the case is of today's format."""
    stated = table.get("format")
    options = table.get("options")
    parts = [table, *(options.values() if isinstance(options, dict) else ())]
    renamed = [
        f"{place[-1]} is now {new}"
        for place, new in _RENAMED.items()
        if any(_holds(part, place) for part in parts)
    ]
    if stated == FORMAT and not isinstance(stated, bool | float):
        if renamed:
            raise InputError(f"{name} has names of format 1: {' and '.join(renamed)}")
        return
    if isinstance(stated, int) and stated > FORMAT:
        raise InputError(
            f"{name} is of format {stated}, and this program reads format {FORMAT}; get a newer "
            "dewledger"
        )
    if stated is None and table:
        said = "does not say its format, so it is taken for an older case"
    elif stated is None:
        return  # an empty file has a sentence of its own
    else:
        older = stated == 1 and not isinstance(stated, bool)
        said = "is of format 1" if older else f"has format = {_as_toml(stated)}"
    also = f"; {' and '.join(renamed)}" if renamed else ""
    raise InputError(f"{name} {said}; write format = {FORMAT} as its first line{also}")


def _as_toml(value: Any) -> str:
    """A value as it would stand in TOML; a table is only named."""
    return json.dumps(value) if isinstance(value, str | int | float) else "a table or list"


def _holds(part: Any, place: tuple[str, ...]) -> bool:
    for step in place:
        if not isinstance(part, dict) or step not in part:
            return False
        part = part[step]
    return True


# The first is the one that ``dewledger new`` writes where no kind is named.
_KINDS = (
    "rooftop",
    "archive",
    "music-school",
    "clinic",
    "classroom",
    "packaging",
    "museum-store",
    "grow-room",
    "indoor-pool",
    "operating-room",
    "school-outdoor-air",
)


def bundled_text(name: str) -> str:
    """Text of a case that ships with the program."""
    if name not in _KINDS:
        raise InputError(
            f'case "{name}" is not bundled{nearest(name, _KINDS)}; {listed(_KINDS)} are'
        )
    return (BUNDLED / f"{name}.toml").read_text(encoding="utf-8")


def bundled_case(name: str) -> Case:
    """A case that ships with the program, such as "music-school" or "clinic".

    Raises
    ------
    InputError : no such case; the sentence lists them
    """
    return case_from_text(bundled_text(name), BUNDLED, f"{name}.toml")


def starter_kinds() -> dict[str, str]:
    """Kinds of case to start from, each with its purpose; the first is the default."""
    return {name: bundled_text(name).splitlines()[0].lstrip("# ") for name in _KINDS}


def starter(kind: str) -> str:
    """Commented text of a case file to start from."""
    return bundled_text(kind)
