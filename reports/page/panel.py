"""A panel for the report: up to three levers moved over a grid of years solved beforehand.

Between the points of the grid its figures are interpolated linearly along each lever; how far that
is from the model is found by solving the middle of every cell, and shown with the figures.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from dewledger.case.words import listed, nearest
from dewledger.interview.in_case import CaseField, answered, case_fields, value_at
from dewledger.quantities import parse
from dewledger.reports.words.metrics import filled
from dewledger.reports.words.numbers import in_display, unit_of
from dewledger.study import run_study
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray

if TYPE_CHECKING:
    from dewledger.case import Case
    from dewledger.study import Progress, Study
    from dewledger.weather.year import WeatherYear

MOST_LEVERS = 3
# Points along each lever, by how many levers there are: some 50 to 200 years in all.
_POINTS = {1: 9, 2: 7, 3: 5}
# What is read: the accounts that are summed, how they are shown, and their heads.
_READ: tuple[tuple[tuple[str, ...], str, str], ...] = (
    (("electricity_kWh",), "electricity", "Electricity"),
    (("gas_kWh",), "gas", "Gas"),
    (("energy_cost", "upkeep_cost"), "money", "Annual cost"),
    (("hours_above_range",), "hours", "Hours > {high} % RH"),
    (("hours_below_range",), "hours", "Hours < {low} % RH"),
)


@dataclass(frozen=True)
class PanelLever:
    """One lever: its points in its unit, rising; the case's own is one of them.

    own : place of the case's own value among the points
    """

    name: str
    label: str
    unit: str
    points: tuple[float, ...]
    own: int


@dataclass(frozen=True, eq=False)
class Panel:
    """Figures over a grid of levers.

    grid : (points of lever 1, ..., options, figures), in display units
    errors : (cells along lever 1, ..., figures): distance from the model in the middle of each
        cell, of the option where it is largest
    """

    levers: tuple[PanelLever, ...]
    options: tuple[str, ...]
    reference: int
    heads: tuple[tuple[str, str, bool], ...]  # words, unit, whether it is a count
    grid: FloatArray
    errors: FloatArray

    def at(self, values: Sequence[float]) -> FloatArray:
        """Interpolated figures at values of the levers, (options, figures)."""
        return interpolated(self.grid, [lever.points for lever in self.levers], values)

    def data(self) -> dict[str, Any]:
        """What the page's script needs."""
        return {
            "levers": [
                {
                    "label": lever.label,
                    "unit": lever.unit.replace("deg", "°"),
                    "points": list(lever.points),
                    "own": lever.points[lever.own],
                }
                for lever in self.levers
            ],
            "options": list(self.options),
            "reference": self.reference,
            "heads": [{"text": t, "unit": u, "count": c} for t, u, c in self.heads],
            "errors": [_short(value) for value in self.errors.ravel()],
            "grid": [_short(value) for value in self.grid.ravel()],
        }


def _short(value: float) -> float:
    return float(f"{value:.7g}")


def interpolated(
    grid: FloatArray, axes: Sequence[Sequence[float]], values: Sequence[float]
) -> FloatArray:
    """A grid's content at values of its first axes, linear along each; ends hold beyond."""
    found = grid
    for points, value in zip(axes, values, strict=True):
        clipped = min(max(value, points[0]), points[-1])
        at = min(max(int(np.searchsorted(points, clipped, "right")) - 1, 0), len(points) - 2)
        share = (clipped - points[at]) / (points[at + 1] - points[at])
        found = (1.0 - share) * found[at] + share * found[at + 1]
    return found


def lever_fields(case: Case) -> dict[str, CaseField]:
    """The levers of a case by their names."""
    return {field.name: field for field in case_fields(case) if field.place.moves}


def chosen_levers(case: Case, names: Sequence[str]) -> tuple[CaseField, ...]:
    """The levers named, in their order.

    Raises
    ------
    InputError : none, too many, one twice, or one that the case does not have
    """
    known = lever_fields(case)
    if not 1 <= len(names) <= MOST_LEVERS:
        raise InputError(
            f"--panel takes one to three levers and {len(names)} are named; write some of "
            f"{listed(known)}"
        )
    if len(set(names)) < len(names):
        raise InputError("--panel names a lever twice; write each once")
    for name in names:
        if name not in known:
            raise InputError(
                f'--panel "{name}" is no lever of this case{nearest(name, known)}; write some of '
                f"{listed(known)}"
            )
    return tuple(known[name] for name in names)


def panel_of(study: Study, names: Sequence[str], progress: Progress | None = None) -> Panel:
    """Solve the grid of a study's case over the levers named.

    Raises
    ------
    InputError : a lever that the case does not have, or that cannot be moved about its value
    """
    case, weather = study.case, study.weather
    fields = chosen_levers(case, names)
    levers = tuple(_lever(field, case, _POINTS[len(fields)]) for field in fields)
    axes = [lever.points for lever in levers]
    middles = [[0.5 * (a + b) for a, b in itertools.pairwise(points)] for points in axes]
    shape = tuple(map(len, axes))
    of = math.prod(shape) + math.prod(map(len, middles))
    done = itertools.count(1)
    report = progress or (lambda what, step, of: None)

    def figures(values: Sequence[float]) -> FloatArray:
        found = _figures(_moved(case, levers, values), weather)
        report("panel", next(done), of)
        return found

    grid = np.stack([figures(values) for values in itertools.product(*axes)])
    grid = grid.reshape(*shape, *grid.shape[1:])
    off = [
        np.abs(figures(values) - interpolated(grid, axes, values))
        for values in itertools.product(*middles)
    ]
    currency = study.money.currency
    heads = tuple(
        (filled(words, study), currency if kind == "money" else unit_of(kind, case.display),
         kind == "hours")
        for _, kind, words in _READ
    )  # fmt: skip
    return Panel(
        levers,
        tuple(option.title for option in study.options),
        [option.key for option in study.options].index(case.reference_key),
        heads,
        grid,
        np.max(np.stack(off), axis=1).reshape(*map(len, middles), len(_READ)),
    )


def _figures(case: Case, weather: WeatherYear) -> FloatArray:
    """What is read of every option of a case, (options, figures)."""
    study = run_study(case, weather, codes=False, sizing=False)
    return np.array(
        [
            [
                sum(float(option.annual[key]) for key in keys)
                if kind == "money"
                else in_display(float(option.annual[keys[0]]), kind, case.display)
                for keys, kind, _ in _READ
            ]
            for option in study.options
        ]
    )


def _moved(case: Case, levers: Sequence[PanelLever], values: Sequence[float]) -> Case:
    """The case with its levers at some values; its own value stays as it is written."""
    answers: dict[str, str | None] = {
        lever.name: f"{value:.10g} {lever.unit}"
        for lever, value in zip(levers, values, strict=True)
        if value != lever.points[lever.own]
    }
    return answered(case, answers) if answers else case


def _lever(field: CaseField, case: Case, count: int) -> PanelLever:
    """Points about the case's own value, a quarter of the slider to either side."""
    place = field.place
    written = value_at(case, place.path)
    text = getattr(written, "text", written)
    if text is None:
        raise InputError(f'--panel "{field.name}" has no value in this case; write one there first')
    units = [unit.replace("USD", case.prices.currency) for unit in place.units]
    unit = next((one for one in units if str(text).endswith(f" {one}")), units[0])

    def shown(value: float) -> float:
        one, zero = (float(parse(f"{x} {unit}", place.kind)) for x in (1, 0))
        return (value - zero) / (one - zero)

    own = shown(float(parse(str(text), place.kind)))
    if place.span is not None:
        low, high = (shown(float(parse(end, place.kind))) for end in place.span)
    else:
        assert place.factors is not None
        low, high = (factor * own for factor in place.factors)
    half = count // 2
    step = _round_step(0.25 * (high - low) / half)
    steps = [k for k in range(-half, half + 1) if low - 1e-9 <= own + k * step <= high + 1e-9]
    points = [float(f"{own + k * step:.10g}") for k in steps]
    lever = PanelLever(field.name, field.label, unit, tuple(points), steps.index(0))
    return _taken(lever, case)


def _taken(lever: PanelLever, case: Case) -> PanelLever:
    """The lever's points that the case takes, without a gap about its own."""
    first, last = lever.own, lever.own
    while first > 0 and _takes(case, lever, first - 1):
        first -= 1
    while last < len(lever.points) - 1 and _takes(case, lever, last + 1):
        last += 1
    if first == last:
        raise InputError(
            f'--panel "{lever.name}" cannot be moved about {lever.points[lever.own]:g} '
            f"{lever.unit} in this case; name another lever"
        )
    points = lever.points[first : last + 1]
    return PanelLever(lever.name, lever.label, lever.unit, points, lever.own - first)


def _takes(case: Case, lever: PanelLever, at: int) -> bool:
    from dewledger.assembly.unit import build_unit

    try:
        for option in _moved(case, [lever], [lever.points[at]]).option_cases():
            build_unit(option.case)
    except InputError:
        return False
    return True


def _round_step(about: float) -> float:
    """The step of 1, 2 or 5 times a power of ten that is nearest by ratio."""
    power = 10.0 ** math.floor(math.log10(about))

    def near(step: float) -> float:
        return abs(math.log(step / about))

    return min((f * power for f in (1.0, 2.0, 5.0, 10.0)), key=near)
