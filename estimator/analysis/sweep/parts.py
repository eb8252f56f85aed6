"""Parts of a sweep on disk: written whole or not at all, read back as they were.

A part's name is the digest of everything that decides it, so that a part that exists is done.
"""

from __future__ import annotations

import csv
import hashlib
import importlib.util
import json
import logging
import os
import shutil
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pandas as pd

from dewledger.analysis.sweep.work import Part, Row
from dewledger.hourly.ledger import NAMES
from dewledger.weather.errors import InputError

_TEXTS = ("option", "title", "problem", "station", "code_verdict", "code_reason", "avoided_source")
# How often a file is written whose unfinished copy somebody else removed.
_WRITINGS = 3
_log = logging.getLogger("dewledger")
_COUNTS = ("hours_", "longest_spell_")


def kind_of(column: str, levers: Sequence[str]) -> str:
    """pandas' type of a column, the same in every part whatever it holds."""
    if column in _TEXTS or column in levers or column.endswith("_hour"):
        return "string"
    if column in ("point", "month", "hours") or column.startswith(_COUNTS):
        return "Int64"
    return "Float64"


def frame_of(rows: Iterable[Row], levers: Sequence[str]) -> pd.DataFrame:
    """Rows as a table, each column of its own type."""
    frame = pd.DataFrame(list(rows))
    return frame.astype({name: kind_of(name, levers) for name in frame.columns})


def _read_as(kind: str, text: str) -> Any:
    if text == "":
        return None
    return {"string": str, "Int64": int, "Float64": float}[kind](text)


def parquet_at_hand() -> bool:
    """Whether the extra ``parquet`` is installed."""
    return importlib.util.find_spec("pyarrow") is not None


class Folder:
    """The folder of a sweep."""

    def __init__(self, path: Path, levers: Sequence[str], parquet: bool) -> None:
        self.path = path
        self.levers = tuple(levers)
        self.suffix = ".parquet" if parquet else ".csv"

    def place(self, kind: str, name: str) -> Path:
        return self.path / kind / f"{name}{self.suffix}"

    def done(self, names: Iterable[str]) -> set[str]:
        """Parts that are there as they were written.

        Others are solved anew; those that were changed since are said, in one line. A part
        without digests was never finished: its sweep was killed.
        """
        named = list(names)
        found = {name for name in named if self._whole(name)}
        damaged = sum(name not in found and os.path.lexists(self._digests(name)) for name in named)
        if damaged:
            _log.warning(
                f'parts in "{self.path}" that were damaged or changed since they were written: '
                f"{damaged} of {len(named)}; they are solved again"
            )
        return found

    def _whole(self, name: str) -> bool:
        """Whether the files of a part have the digests they were written with."""
        try:
            listed = self._digests(name)
            digests = json.loads(listed.read_text("utf-8")) if listed.is_file() else {}
            return bool(digests) and all(
                _digest(self.path / place) == digest for place, digest in digests.items()
            )
        except (OSError, ValueError, AttributeError, TypeError):
            return False

    def _digests(self, name: str) -> Path:
        return self.path / "parts" / f"{name}.json"

    def write(self, part: Part) -> None:
        """Write a part, and last the digests of its files, which say that it is done."""
        digests = {}
        for path, frame in self._files(part):
            self._write(frame, path)
            digests[path.relative_to(self.path).as_posix()] = _digest(path)
        text = json.dumps(digests, indent=1) + "\n"
        path = self._digests(part.name)
        path.parent.mkdir(exist_ok=True)
        write_whole(path, lambda file: file.write(text.encode("utf-8")))

    def _files(self, part: Part) -> Iterator[tuple[Path, pd.DataFrame]]:
        for (number, option), ledger in part.hourly.items():
            hours = pd.DataFrame(ledger.T, columns=list(NAMES))
            yield self.place("hourly", f"{part.name}-{number}-{option}"), hours
        if part.monthly:
            yield self.place("monthly", part.name), frame_of(part.monthly, self.levers)
        yield self.place("annual", part.name), frame_of(part.annual, self.levers)

    def _write(self, frame: pd.DataFrame, path: Path) -> None:
        path.parent.mkdir(exist_ok=True)
        if self.suffix == ".parquet":
            write_whole(path, lambda file: frame.to_parquet(file, index=False))
        else:
            write_whole(path, lambda file: frame.to_csv(file, index=False, lineterminator="\n"))

    def read(self, kind: str, names: Iterable[str]) -> list[pd.DataFrame]:
        """Parts of a kind that are there, in the order of the names."""
        return [self._read(path) for path in (self.place(kind, n) for n in names) if path.exists()]

    def _read(self, path: Path) -> pd.DataFrame:
        if self.suffix == ".parquet":
            return pd.read_parquet(path)
        # Read as texts, so that Python makes the numbers: exact with every version of pandas.
        with path.open(newline="", encoding="utf-8") as file:
            rows = [
                {name: _read_as(kind_of(name, self.levers), text) for name, text in row.items()}
                for row in csv.DictReader(file)
            ]
        return frame_of(rows, self.levers)

    def claim(self, what: dict[str, Any]) -> None:
        """Take the folder for a sweep, or go on with the same one.

        Raises
        ------
        InputError : it holds something else, or cannot be written
        """
        stamp = self.path / "sweep.json"
        text = json.dumps(what, indent=1, sort_keys=True, ensure_ascii=False) + "\n"
        try:
            if stamp.exists():
                if stamp.read_text(encoding="utf-8") != text:
                    raise InputError(
                        f'"{self.path}" holds another sweep; write another folder after --out, '
                        "or remove it"
                    )
                for half_written in self.path.rglob(".*.tmp"):
                    half_written.unlink(missing_ok=True)  # of a sweep that was killed
                return
            if self.path.exists() and (not self.path.is_dir() or any(self.path.iterdir())):
                raise InputError(
                    f'"{self.path}" exists already and holds no sweep; write another folder after '
                    "--out, or remove it"
                )
            self.path.mkdir(parents=True, exist_ok=True)
            write_whole(stamp, lambda file: file.write(text.encode("utf-8")))
        except OSError as error:
            raise InputError(
                f'"{self.path}" cannot be written ({error.strerror}); write a folder of yours '
                "after --out"
            ) from None


def _digest(path: Path) -> str:
    if not path.is_file():  # a pipe would be waited for
        raise FileNotFoundError(path)
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def write_whole(path: Path, write: Callable[[Any], Any]) -> None:
    """Write a file whole or not at all: next to it first, then put in its place."""
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)  # no file of ours is a folder
    for _ in range(_WRITINGS - 1):
        try:
            return _write_once(path, write)
        except FileNotFoundError:  # another sweep into this folder has just begun, and tidied up
            continue
    return _write_once(path, write)


def _write_once(path: Path, write: Callable[[Any], Any]) -> None:
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".tmp")
    try:
        with os.fdopen(handle, "wb") as file:
            write(file)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
