"""The points of a sweep: which values each case of it has.

A lever is a place in the case and the values it takes. Grid, list and Latin hypercube turn levers
into points; a point is the values it changes, as they would stand in the case file.
"""

from __future__ import annotations

import itertools
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from dewledger.case import Case
from dewledger.case.ranges import Method
from dewledger.quantities import rounded
from dewledger.weather.bundled import bundled_path
from dewledger.weather.errors import InputError

WEATHER = "site.weather"
# A comma parts values, but not the thousands of one.
_COMMA = re.compile(r"\s*(?:(?<!\d),|,(?!\d{3}(?!\d)))\s*")
_NUMBER = re.compile(r"^([-+]?[\d.,]+(?:[eE][-+]?\d+)?)\s*(.*)$")
_FIGURES = 6
MOST_POINTS = 1_000_000

Point = dict[str, Any]


@dataclass(frozen=True)
class Lever:
    """One place in the case that is varied.

    values : as they would stand in the case file; empty for a range
    low, high, unit : of a range, in the unit it was written in
    """

    path: str
    values: tuple[Any, ...]
    low: float = 0.0
    high: float = 0.0
    unit: str = ""

    @property
    def is_range(self) -> bool:
        return not self.values

    def at(self, share: float) -> Any:
        """The value at a share 0..1 of a range, or of the list."""
        if not self.is_range:
            return self.values[min(int(share * len(self.values)), len(self.values) - 1)]
        number = float(f"{self.low + share * (self.high - self.low):.{_FIGURES}g}")
        return f"{number:g} {self.unit}" if self.unit else number


@dataclass(frozen=True)
class Plan:
    """The points of a sweep, in their order."""

    levers: tuple[Lever, ...]
    points: tuple[Point, ...]

    @property
    def paths(self) -> tuple[str, ...]:
        return tuple(lever.path for lever in self.levers)


def lever_of(case: Case, path: str, stated: Any, folder: Path | None = None) -> Lever:
    """A lever from what a user wrote for it.

    Parameters
    ----------
    stated : a text of values parted by commas or a range "45 % to 55 %"; or a list of values
    folder : where a pattern of weather files may start besides the folder of the case

    Raises
    ------
    InputError : nothing is stated, no such place, or no value that fits it
    """
    if isinstance(stated, str):
        found = _range_of(path, stated)
        if found is not None:
            _settled(case, path, found.at(0.0))
            _settled(case, path, found.at(1.0))
            return found
        written: list[Any] = [text for text in _COMMA.split(stated.strip()) if text]
    else:
        written = list(stated) if isinstance(stated, list | tuple) else [stated]
    if path == WEATHER:
        written = [one for text in written for one in _weather_files(case, str(text), folder)]
    if not written:
        raise InputError(
            f'sweep of "{path}" states no value; write for example "humidity.limit=48 %, 50 %"'
        )
    if path == WEATHER:
        return Lever(path, tuple(written))
    values = []
    problems = []
    for text in written:
        try:
            values.append(_settled(case, path, text))
        except InputError as problem:
            values.append(text)
            problems.append(problem)
    if len(problems) == len(values):
        raise InputError(f'sweep of "{path}": {problems[0]}')
    repeated = next((v for i, v in enumerate(values) if v in values[:i]), None)
    if repeated is not None:
        raise InputError(f'sweep of "{path}" states "{repeated}" twice; write each value once')
    return Lever(path, tuple(values))


def _settled(case: Case, path: str, value: Any) -> Any:
    """The value as the case takes it: as written, or as the number or list that the text means."""
    try:
        case.with_values({path: value})
    except InputError as problem:
        if not isinstance(value, str):
            raise
        try:
            meant = tomllib.loads(f"value = {value}")["value"]
        except (ValueError, RecursionError):  # TOML of any kind of wrong
            raise problem from None
        try:
            case.with_values({path: meant})
        except InputError:
            raise problem from None
        return meant
    return value


def _range_of(path: str, text: str) -> Lever | None:
    """A range "45 % to 55 %" or "45 to 55 %"; None where the text is none."""
    match = re.match(r"^(.+?)\s+to\s+(.+)$", text.strip())
    if not match:
        return None
    low, high = (_NUMBER.match(part.strip()) for part in match.groups())
    if low is None or high is None:
        return None
    unit = high[2] or low[2]
    if low[2] and low[2] != unit:
        raise InputError(
            f'sweep of "{path}": "{text}" has two units; write both ends in one, such as '
            f'"{low[1]} {unit} to {high[1]} {unit}"'
        )
    try:
        ends = [float(part[1].replace(",", "")) for part in (low, high)]
    except ValueError:
        return None
    if not ends[0] < ends[1]:
        raise InputError(f'sweep of "{path}": "{text}" does not rise; write the lower end first')
    return Lever(path, (), ends[0], ends[1], unit)


# Longer names than this no file has.
_LONGEST_NAME = 250


def _weather_files(case: Case, text: str, folder: Path | None) -> list[str]:
    """Weather files that a text names: a bundled station, a file, or a pattern with * or ?."""
    if bundled_path(text) is not None:
        return [text]
    if len(text) > 4000 or max(map(len, re.split(r"[\\/]", text))) > _LONGEST_NAME:
        raise InputError(
            f'sweep of "{WEATHER}": "{text[:30]}..." is no name of a file; write a pattern of '
            'weather files, such as "stations/*.csv", or a bundled station'
        )
    starts = [case.folder, *([folder] if folder is not None else [])]
    if not re.search(r"[*?\[]", text):
        for start in starts:
            if (start / text).exists():
                return [str(Path(text) if start == case.folder else (start / text).resolve())]
        return [text]
    for start in starts:
        pattern = Path(text)
        base, inner = (
            (Path(pattern.anchor), str(pattern.relative_to(pattern.anchor)))
            if pattern.is_absolute()
            else (start, text)
        )
        found = sorted(path for path in base.glob(inner) if path.is_file())
        if found:
            return [str(path if pattern.is_absolute() else path.resolve()) for path in found]
    raise InputError(
        f'sweep of "{WEATHER}": no file is named "{text}"; write a pattern of weather files, such '
        'as "stations/*.csv", or a bundled station'
    )


def make_plan(
    case: Case,
    vary: Mapping[str, Any],
    *,
    method: Method = "grid",
    points: int | None = None,
    seed: int = 1,
    folder: Path | None = None,
) -> Plan:
    """The points of a sweep from the values stated.

    Raises
    ------
    InputError : a lever that cannot be, ranges where values are needed, or too many points
    """
    if not vary:
        raise InputError(
            'a sweep varies something; write for example --vary "humidity.limit=48 %, 50 %"'
        )
    levers = tuple(lever_of(case, path, stated, folder) for path, stated in vary.items())
    if method == "latin hypercube":
        return Plan(levers, _hypercube(levers, points, seed))
    if points is not None:
        raise InputError("points belong to a latin hypercube; leave them out, or write that method")
    for lever in levers:
        if lever.is_range:
            raise InputError(
                f'sweep of "{lever.path}" states a range, which a {method} cannot take; write its '
                "values, or a latin hypercube"
            )
    if method == "list":
        counts = {len(lever.values) for lever in levers}
        if len(counts) > 1:
            given = ", ".join(f"{lever.path} {len(lever.values)}" for lever in levers[:5])
            more = f" and {len(levers) - 5} more" if len(levers) > 5 else ""
            raise InputError(f"a list takes as many values of each, and there are {given}{more}")
        rows: list[Sequence[Any]] = list(zip(*(lever.values for lever in levers), strict=True))
    else:
        count = 1
        for lever in levers:
            count *= len(lever.values)
        _require_few(count)
        rows = list(itertools.product(*(lever.values for lever in levers)))
    paths = [lever.path for lever in levers]
    return Plan(levers, tuple(dict(zip(paths, row, strict=True)) for row in rows))


def _require_few(count: int) -> None:
    if count > MOST_POINTS:
        raise InputError(
            f"the sweep has {count:,} points, and {MOST_POINTS:,} is the most; write fewer values, "
            "or a latin hypercube"
        )


def _hypercube(levers: tuple[Lever, ...], count: int | None, seed: int) -> tuple[Point, ...]:
    """Points of a Latin hypercube (McKay, Beckman and Conover, Technometrics 21, 1979)."""
    from scipy.stats import qmc

    if count is None:
        raise InputError("a latin hypercube needs the number of its points; write for example 200")
    _require_few(count)
    shares = qmc.LatinHypercube(len(levers), seed=np.random.default_rng(seed)).random(count)
    return tuple(
        {lever.path: lever.at(float(share)) for lever, share in zip(levers, row, strict=True)}
        for row in shares
    )


def value_text(value: Any) -> str:
    """A value of a lever as a reader sees it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return rounded(value, _FIGURES)
    return str(value)
