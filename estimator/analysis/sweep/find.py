"""The best point of a sweep: least cost or purchased energy among those that keep their promises.

Few points are gone through whole, which is certain. Many are searched by differential evolution
(Storn and Price, Journal of Global Optimization 11, 1997; scipy's) over the places in each lever's
values, and from what it finds to any better neighbor until there is none; that is not certain, and
the answer says so.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np

from dewledger.analysis.monte_carlo import cores
from dewledger.analysis.sweep.points import Lever, Point, lever_of, value_text
from dewledger.analysis.sweep.work import SolvedOption, solve_point
from dewledger.case import Case
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray

Least = Literal["life-cycle cost", "annual cost", "purchased energy"]
Progress = Callable[[str, int, int], None]

_FIGURE = {
    "life-cycle cost": "life_cycle_cost",
    "annual cost": "annual_cost",
    "purchased energy": "purchased_energy_kWh",
}
COMPLIES = ("complies", "no reheat")
# Lattices up to here are gone through whole.
CERTAIN_UP_TO = 400
# Steps that a range is divided into.
_RANGE_STEPS = 20
_SEED = 1

Place = tuple[int, ...]


@dataclass(frozen=True)
class Wanted:
    """What ``find_best`` looks for.

    least : "life-cycle cost", "annual cost" or "purchased energy"
    hours_above : at most so many hours above the humidity range
    complies : the energy code must be met
    options : keys to choose among; none for all
    """

    least: Least = "life-cycle cost"
    hours_above: int = 0
    complies: bool = True
    options: tuple[str, ...] = ()


@dataclass(frozen=True)
class Candidate:
    """One option at one point: its figure, and what it breaks (0 where it keeps everything)."""

    place: Place
    point: Point
    option: str
    value: float
    hours_above: int
    code_verdict: str
    broken: float
    why: str = ""

    @property
    def rank(self) -> tuple[float, float, Place, str]:
        """What is broken counts before the figure; ties go to the earlier point."""
        return self.broken, self.value, self.place, self.option


@dataclass(frozen=True)
class Step:
    """One step beyond the best, along one lever: what it costs or what it breaks."""

    lever: str
    value: str
    change: float | None
    breaks: str


@dataclass(frozen=True)
class Found:
    """The best point, what limits it, and how sure that is.

    steps : one step either way along every lever, with the best option of that point
    tried, of : points solved, and how many there are
    certain : every point was solved
    left_out : options that state no first cost to weigh by
    """

    wanted: Wanted
    best: Candidate
    steps: tuple[Step, ...]
    tried: int
    of: int
    unit: str
    certain: bool
    left_out: tuple[str, ...]

    @property
    def met(self) -> bool:
        """Whether the best keeps every limit; where none does, it is the one that comes nearest."""
        return self.best.broken == 0.0

    @property
    def sentences(self) -> tuple[str, ...]:
        """The answer for a reader."""
        best = self.best
        at = ", ".join(f"{path} = {value_text(value)}" for path, value in best.point.items())
        figure = f"{best.value:,.0f} {self.unit}"
        lines = []
        if self.met:
            lines.append(f"Least {self.wanted.least}: {figure}, option {best.option} at {at}.")
        else:
            lines.append(
                f"No point keeps every limit; option {best.option} at {at} comes nearest: "
                f"{best.why}."
            )
        lines.append(
            f"It is above the humidity range in {best.hours_above:,} hours "
            f"(at most {self.wanted.hours_above:,}); energy code: {best.code_verdict}."
        )
        for step in self.steps:
            if step.breaks:
                lines.append(
                    f"{step.lever} binds: at {step.value} it would break a limit ({step.breaks})"
                    + (f", for {_more(step.change, self.unit)}." if step.change else ".")
                )
            elif step.change is not None:
                lines.append(
                    f"One step of {step.lever}, to {step.value}, costs "
                    f"{_more(step.change, self.unit)}."
                )
            else:
                lines.append(f"{step.lever} binds at the end of its own values, {step.value}.")
        if self.left_out:
            lines.append(f"Left out, no first_cost is given: {', '.join(self.left_out)}.")
        lines.append(
            f"All {self.of:,} points were solved."
            if self.certain
            else f"{self.tried:,} of {self.of:,} points were solved, by differential evolution and "
            "better neighbors; a better point elsewhere cannot be ruled out."
        )
        return tuple(lines)


def _more(change: float, unit: str) -> str:
    return f"{abs(change):,.0f} {unit} {'more' if change >= 0.0 else 'less'}"


class _Lattice:
    """Points by the places of their values in each lever, each solved once."""

    def __init__(self, case: Case, levers: Sequence[Lever], wanted: Wanted) -> None:
        self.case = case
        self.wanted = wanted
        self.values = [
            lever.values or tuple(lever.at(k / _RANGE_STEPS) for k in range(_RANGE_STEPS + 1))
            for lever in levers
        ]
        self.paths = [lever.path for lever in levers]
        self.size = math.prod(len(values) for values in self.values)
        self.kept: dict[Place, list[Candidate]] = {}

    def places(self) -> Iterable[Place]:
        return np.ndindex(*(len(values) for values in self.values))

    def point(self, place: Place) -> Point:
        return {
            path: values[k] for path, values, k in zip(self.paths, self.values, place, strict=True)
        }

    def best(self, place: Place) -> Candidate:
        """The best option at a point."""
        return min(self.candidates(place), key=lambda one: one.rank)

    def candidates(self, place: Place) -> list[Candidate]:
        if place not in self.kept:
            point = self.point(place)
            try:
                solved = solve_point(self.case.with_values(point), penalty=False)
                self.kept[place] = [
                    self._candidate(place, point, one)
                    for one in solved
                    if one.key in self.wanted.options
                ]
            except InputError as problem:
                self.kept[place] = [
                    Candidate(place, point, key, math.inf, 0, "", math.inf, str(problem))
                    for key in self.wanted.options
                ]
        return self.kept[place]

    def _candidate(self, place: Place, point: Point, solved: SolvedOption) -> Candidate:
        row = solved.annual
        value = row[_FIGURE[self.wanted.least]]
        hours = int(row["hours_above_range"])
        verdict = str(row["code_verdict"])
        reasons = []
        broken = 0.0
        if hours > self.wanted.hours_above:
            broken += (hours - self.wanted.hours_above) / 8760.0
            reasons.append(f"{hours:,} hours above the humidity range")
        if self.wanted.complies and verdict not in COMPLIES:
            broken += 1.0
            reasons.append(f"energy code: {verdict}")
        return Candidate(
            place, point, solved.key, float(value), hours, verdict, broken, " and ".join(reasons)
        )

    def neighbors(self, place: Place) -> Iterable[tuple[int, int, Place]]:
        """Places one step away: which lever, which way, and where."""
        for k, values in enumerate(self.values):
            for way in (-1, 1):
                at = place[k] + way
                if 0 <= at < len(values):
                    yield k, way, (*place[:k], at, *place[k + 1 :])


def find_best(
    case: Case,
    vary: Mapping[str, Any],
    wanted: Wanted | None = None,
    *,
    certain_up_to: int = CERTAIN_UP_TO,
    progress: Progress | None = None,
) -> Found:
    """The point and option with the least cost, or purchased energy, that keep the limits wanted.

    Parameters
    ----------
    vary : as of ``sweep``; a range is divided into steps
    certain_up_to : so many points are all solved; more are searched

    Raises
    ------
    InputError : a lever that cannot be, an option that is none, no first cost to weigh by
    """
    wanted = wanted or Wanted()
    for key in wanted.options:
        if key not in case.options:
            raise InputError(f'option "{key}" is not in the case; {", ".join(case.options)} are')
    chosen, left_out = _weighed(case, wanted)
    wanted = replace(wanted, options=chosen)
    levers = [lever_of(case, path, stated, Path.cwd()) for path, stated in vary.items()]
    lattice = _Lattice(case, levers, wanted)
    whole = lattice.size <= certain_up_to

    def solved(places: Sequence[Place], run: ThreadPoolExecutor) -> list[Candidate]:
        found = []
        for one in run.map(lattice.best, places):
            found.append(one)
            if progress is not None:
                progress("searching", len(lattice.kept), lattice.size)
        return found

    with ThreadPoolExecutor(cores()) as run:
        if whole:
            solved(list(lattice.places()), run)
        else:
            _evolve(lattice, lambda places: solved(places, run))
        best = min(map(lattice.best, lattice.kept), key=lambda one: one.rank)
        while not whole:
            around = [place for _, _, place in lattice.neighbors(best.place)]
            better = min(solved(around, run), key=lambda one: one.rank)
            if better.rank >= best.rank:
                break
            best = better
        solved([place for _, _, place in lattice.neighbors(best.place)], run)
    unit = "kWh" if wanted.least == "purchased energy" else case.prices.currency
    return Found(
        wanted,
        best,
        tuple(_steps(lattice, best)),
        len(lattice.kept),
        lattice.size,
        unit,
        len(lattice.kept) == lattice.size,
        left_out,
    )


def _weighed(case: Case, wanted: Wanted) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The options to choose among, and those left out because they state no first cost."""
    asked = wanted.options or tuple(case.options)
    if wanted.least != "life-cycle cost":
        return asked, ()
    lacking = tuple(
        option.key
        for option in case.option_cases()
        if option.case.cost.first_cost is None and option.key in asked
    )
    left = tuple(key for key in asked if key not in lacking)
    if not left:
        raise InputError(
            f'the least life-cycle cost needs the first_cost of "{lacking[0]}"; write it in '
            f'[options.{lacking[0]}] as cost = {{ first_cost = "20000 {case.prices.currency}" }}, '
            "or ask for the least annual cost or purchased energy"
        )
    return left, lacking


def _evolve(lattice: _Lattice, solved: Callable[[Sequence[Place]], list[Candidate]]) -> None:
    """Differential evolution over the places; what it solves stays with the lattice."""
    from scipy.optimize import differential_evolution

    scale = 1.0

    def figure(one: Candidate) -> float:
        # What breaks a limit is worse than anything that keeps them all.
        if not math.isfinite(one.value):
            return 1e30
        return one.value + (1e9 * scale * (1.0 + one.broken) if one.broken > 0.0 else 0.0)

    def figures(columns: FloatArray) -> FloatArray:
        places = [tuple(round(v) for v in column) for column in np.atleast_2d(columns.T)]
        return np.array([figure(one) for one in solved(places)])

    differential_evolution(
        figures,
        [(0, len(values) - 1) for values in lattice.values],
        integrality=[True] * len(lattice.values),
        popsize=12,
        maxiter=25,
        tol=1e-6,
        rng=np.random.default_rng(_SEED),
        polish=False,
        vectorized=True,
        updating="deferred",
    )


def _steps(lattice: _Lattice, best: Candidate) -> Iterable[Step]:
    """What each lever says of the best: the way that would be better but is barred, else what a
    step costs."""
    for k, path in enumerate(lattice.paths):
        if len(lattice.values[k]) == 1:
            continue
        ends = [way for way in (-1, 1) if not 0 <= best.place[k] + way < len(lattice.values[k])]
        steps: list[Step] = []
        for lever, _, place in lattice.neighbors(best.place):
            if lever != k:
                continue
            same = next(one for one in lattice.candidates(place) if one.option == best.option)
            value = value_text(lattice.point(place)[path])
            change = same.value - best.value if math.isfinite(same.value) else None
            breaks = same.why if same.broken > best.broken else ""
            steps.append(Step(path, value, change, breaks))
        cheaper = [s for s in steps if s.breaks and (s.change is None or s.change < 0.0)]
        dearer = [s for s in steps if not s.breaks]
        if cheaper:
            yield cheaper[0]
        elif ends and all((s.change or 0.0) > 0.0 for s in dearer) and dearer:
            yield Step(path, value_text(best.point[path]), None, "")
            yield from dearer
        else:
            yield from steps
