"""A weather file's content as lines of text, refused before it can do harm.

What an error says of a file that is no weather file never quotes it: it may be anybody's.
"""

import csv
import os
import re
import stat
from pathlib import Path

from dewledger.weather.bundled import BUNDLED
from dewledger.weather.errors import InputError
from dewledger.weather.files.formats import FORMATS, recognized
from dewledger.weather.files.plain import is_plain

MOST_BYTES = 60_000_000  # a year of five-minute rows has some 30 million
MOST_LINES = 120_000  # and 105,120 lines
LONGEST_LINE = 20_000  # characters; headers of a few thousand occur


def content_of(path: Path, asked: str) -> bytes:
    """The bytes of a weather file.

    Raises
    ------
    InputError : no file, or one that is none: a folder, a device, a pipe, one far too large
    """
    if not asked.strip():
        raise InputError(
            f"no weather is named; write the path of a weather file, or one of {', '.join(BUNDLED)}"
        )
    try:
        found = path.stat()
        if stat.S_ISDIR(found.st_mode):
            raise InputError(f'"{asked}" is a folder; write the path of a weather file in it')
        if not stat.S_ISREG(found.st_mode):
            raise InputError(f'"{asked}" is a device or a pipe; write the path of a weather file')
        if found.st_size > MOST_BYTES:
            raise _too_large(asked)
        # Some files of a system have no size until they are read, or are waited for.
        with open(os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0)), "rb") as file:
            content = file.read(MOST_BYTES + 1) or b""
    except InputError:
        raise
    except FileNotFoundError:
        raise InputError(
            f'"{asked}" is neither a file nor a bundled station; write the path of a weather '
            f"file, or one of {', '.join(BUNDLED)}"
        ) from None
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or str(problem)
        raise InputError(f'"{asked}" cannot be read ({reason}); check the path') from None
    if len(content) > MOST_BYTES:
        raise _too_large(asked)
    if not content.strip():
        raise InputError(f'"{asked}" is empty; write the path of a weather file')
    return content


def _too_large(asked: str) -> InputError:
    return InputError(
        f'"{asked}" has more than {MOST_BYTES / 1e6:.0f} MB, and a year of weather has a few; '
        "write the path of a weather file"
    )


def lines_of(content: bytes) -> list[str]:
    """The lines of a weather file, without blank ones at the end.

    Raises
    ------
    InputError : no text, or text that no weather file is made of
    """
    if content.startswith(b"PK"):
        raise InputError("this is a zip archive or a workbook; unpack it, or save it as CSV")
    if content.startswith(b"\x1f\x8b"):
        raise InputError("this is a gzip archive; unpack it")
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputError("this text is in UTF-16; save it as UTF-8, with commas between columns")
    if b"\0" in content:
        raise InputError("this is a binary file; write the path of a weather file in text")
    ends = max(content.count(b"\n"), content.count(b"\r"))
    if ends > MOST_LINES:
        raise InputError(
            f"the file has {ends:,} lines, more than a year of five-minute rows; write one row for "
            "each hour of one year"
        )
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("latin-1")
    lines = re.split(r"\r\n|\n|\r", text)
    while lines and not lines[-1].strip():
        lines.pop()
    if not lines:
        raise InputError("there is nothing in this file; write the path of a weather file")
    for number, line in enumerate(lines, start=1):
        if len(line) > LONGEST_LINE:
            raise InputError(
                f"line {number} has {len(line):,} characters, which no weather file has; write the "
                "path of a weather file, or put the line right"
            )
    return _unquoted(lines)


def _unquoted(lines: list[str]) -> list[str]:
    """Lines whose every value some program has put in quotes, without them."""
    if not lines[-1].startswith('"'):
        return lines
    bare = []
    for line in lines:
        fields = next(csv.reader([line]), [])
        plain = line.startswith('"') and not any("," in field or '"' in field for field in fields)
        bare.append(",".join(fields) if plain else line)
    return bare


def not_known(lines: list[str]) -> InputError:
    """What keeps the first lines from being those of a format."""
    for i, line in enumerate(lines[1:30], start=1):
        if line.strip() and (recognized(lines[i:]) or is_plain(lines[i:], None)):
            return InputError(f"the header is in line {i + 1}; take out what is before it")
    for mark, named in ((";", "semicolons"), ("\t", "tabs")):
        heads = any(line.count(mark) > line.count(",") for line in lines[:20])
        if heads and mark in lines[-1]:
            return InputError(
                f"the values are separated by {named}; save the file with commas between values "
                "and points in decimals"
            )
    return InputError(
        f"the format is not known by the first lines of the file, which has {len(lines):,}; use "
        f"{', '.join(form.name for form in FORMATS)}, or a plain CSV whose columns are named "
        "temp_air_C, temp_dew_C, rh_frac, pressure_Pa or mapped to these names"
    )
