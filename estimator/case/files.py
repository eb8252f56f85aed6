"""Case files: read, bundled, started from, and described as a JSON Schema."""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from dewledger.case.base import listed, nearest
from dewledger.case.model import Case, case_from_table
from dewledger.weather.errors import InputError

BUNDLED = Path(__file__).parent.parent / "cases"


def load_case(path: str | Path) -> Case:
    """A case from its file.

    Raises
    ------
    InputError : the file cannot be read, is not TOML, or something in it is wrong
    """
    path = Path(path)
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        raise InputError(
            f'case file "{path}" does not exist; dewledger new writes one to start from'
        ) from None
    except IsADirectoryError:
        raise InputError(f'"{path}" is a folder; name the case file within it') from None
    except OSError as error:
        raise InputError(f'case file "{path}" cannot be read ({error.strerror})') from None
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(f'case file "{path}" is not text in UTF-8; save it as UTF-8') from None
    return case_from_text(text, path.parent, path.name)


def case_from_text(text: str, folder: str | Path = ".", name: str = "the case") -> Case:
    """A case from the text of its file; ``folder`` is where relative paths start."""
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        match = re.search(r"\(at (?:line (\d+), column (\d+)|end of document)\)", str(error))
        what = re.sub(r"\s*\(at .*\)$", "", str(error))
        at = f"line {match[1]}, column {match[2]}" if match and match[1] else "its end"
        raise InputError(
            f"{name} is not TOML at {at}: {what[:1].lower()}{what[1:]}; write lines such as "
            'title = "Hall", texts in quotes'
        ) from None
    return case_from_table(table, Path(folder), name)


def case_from_dict(table: Mapping[str, Any], folder: str | Path = ".") -> Case:
    """A case from a dictionary of the same tables and keys as its file.

    ``folder`` is where relative paths start. Raises InputError as ``load_case`` does.
    """
    return case_from_table(copy.deepcopy(dict(table)), Path(folder), "the case")


def json_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the case file."""
    schema = Case.model_json_schema()
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "Dewledger case",
        "description": "One case file: a room, its unit and the options to compare.",
    }


# The first is the one that ``dewledger new`` writes where no kind is named.
_KINDS = (
    "rooftop",
    "archive",
    "music-school",
    "clinic",
    "classroom",
    "packaging",
    "museum-store",
)


def bundled_text(name: str) -> str:
    """Text of a case that ships with the program."""
    if name not in _KINDS:
        raise InputError(
            f'case "{name}" is not bundled{nearest(name, _KINDS)}; {listed(_KINDS)} are'
        )
    return (BUNDLED / f"{name}.toml").read_text(encoding="utf-8")


def bundled_case(name: str) -> Case:
    """A case that ships with the program."""
    return case_from_text(bundled_text(name), BUNDLED, f"{name}.toml")


def starter_kinds() -> dict[str, str]:
    """Kinds of case to start from, each with its purpose; the first is the default."""
    return {name: bundled_text(name).splitlines()[0].lstrip("# ") for name in _KINDS}


def starter(kind: str) -> str:
    """Commented text of a case file to start from."""
    return bundled_text(kind)
