"""Text and TOML that a user gives: read whole, within bounds, or one sentence.

Whatever stands in such a file, reading it ends soon and in little memory.
"""

from __future__ import annotations

import math
import os
import re
import stat
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from dewledger.weather.errors import InputError

MOST_BYTES = 20_000_000
_DEEPEST = 20
_MOST_DOTS = 200  # in a key; reading a dotted key takes the square of its parts
_LONGEST_KEY = 200
_LONGEST_TEXT = 20_000
_GREATEST_INTEGER = 10**15


def read_text(path: Path, what: str, most_bytes: int = MOST_BYTES) -> str:
    """The text of a user's file in UTF-8; ``what`` names the file's kind in the sentences.

    Raises
    ------
    InputError : not there, not a file (a folder, a device, a pipe), too large, not text
    """
    try:
        # A pipe would be waited for, a device might never end.
        with open(os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0)), "rb") as file:
            status = os.fstat(file.fileno())
            if stat.S_ISDIR(status.st_mode):
                raise InputError(f'{what} "{path}" is a folder; name the file within it')
            if not stat.S_ISREG(status.st_mode):
                raise InputError(f'{what} "{path}" is not a file; save it as one and name that')
            if status.st_size > most_bytes:
                raise InputError(
                    f'{what} "{path}" is larger than {most_bytes // 1_000_000} MB; name a file '
                    "that holds nothing else"
                )
            content = file.read(most_bytes)
    except InputError:
        raise
    except IsADirectoryError:
        raise InputError(f'{what} "{path}" is a folder; name the file within it') from None
    except (OSError, ValueError) as error:  # ValueError: a name with a null character
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f'{what} "{path}" cannot be read ({reason}); check the path') from None
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = "\0"
    if "\0" in text:
        raise InputError(f'{what} "{path}" is not text in UTF-8; save it as such')
    return text


def read_toml(text: str, name: str, advice: str) -> dict[str, Any]:
    """The tables of a TOML text.

    Parameters
    ----------
    name : of the file, at the head of the sentences
    advice : what to write instead, at their end

    Raises
    ------
    InputError : not TOML, or more deeply nested, longer or larger than any such file is
    """
    for number, line in enumerate(text.splitlines(), start=1):
        if line.count(".") > _MOST_DOTS and line.partition("=")[0].count(".") > _MOST_DOTS:
            raise InputError(
                f"{name}, line {number}: a name has more than {_MOST_DOTS} dotted parts; write "
                "a table's name in brackets and its keys below it"
            )
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        match = re.search(r"\(at (?:line (\d+), column (\d+)|end of document)\)", str(error))
        fault = re.sub(r"\s*\(at .*\)$", "", str(error))
        at = f"line {match[1]}, column {match[2]}" if match and match[1] else "its end"
        raise InputError(
            f"{name} is not TOML at {at}: {fault[:1].lower()}{fault[1:]}; {advice}"
        ) from None
    except RecursionError:
        raise _too_deep(name) from None
    except ValueError:  # Python refuses integers of thousands of digits
        raise InputError(f"{name}: a number has thousands of digits; write 15 at most") from None
    require_plain(table, name)
    return table


def _too_deep(name: str) -> InputError:
    return InputError(
        f"{name}: lists or tables are nested more than {_DEEPEST} deep; close each bracket before "
        "the next key"
    )


def require_plain(table: Mapping[str, Any], name: str) -> None:
    """InputError where tables are too deep, names or texts too long, or integers too large."""
    waiting: list[tuple[str, Any, int]] = [("", table, 0)]
    while waiting:
        place, value, depth = waiting.pop()
        where = f"{name}: [{place}]" if place else name
        if depth > _DEEPEST:
            raise _too_deep(name)
        if isinstance(value, Mapping):
            for key, inner in value.items():
                if len(str(key)) > _LONGEST_KEY:
                    raise InputError(
                        f"{where}: a name has {len(str(key))} letters; write {_LONGEST_KEY} at most"
                    )
                waiting.append((f"{place}.{key}" if place else str(key), inner, depth + 1))
        elif isinstance(value, list | tuple):
            waiting += [(place, inner, depth + 1) for inner in value]
        elif isinstance(value, str):
            if len(value) > _LONGEST_TEXT:
                raise InputError(
                    f"{where}: a text has {len(value)} letters; write {_LONGEST_TEXT} at most"
                )
        elif isinstance(value, int) and abs(value) > _GREATEST_INTEGER:
            digits = math.ceil(value.bit_length() * math.log10(2))
            raise InputError(f"{where}: a number has some {digits} digits; write 15 at most")
