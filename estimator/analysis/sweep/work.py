"""What one worker of a sweep does: some points of one site, solved and accounted for.

It runs in a thread, a process or on another machine: all it takes and gives can be sent.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock, local
from typing import Any

import numpy as np

from dewledger.analysis.compliance import ASSUMED
from dewledger.analysis.modeled_ratings import rate_machine
from dewledger.analysis.option_accounts import flat, option_accounts, tariffs_of
from dewledger.analysis.reheat_coil_size import require_fed
from dewledger.analysis.sweep.points import Point, value_text
from dewledger.assembly.equal_years import solved_in_turn
from dewledger.assembly.machine import assemble_all
from dewledger.assembly.year import read_weather, solve_option
from dewledger.case import Case
from dewledger.case.model import case_from_table
from dewledger.codes.determination import determine
from dewledger.codes.facts_of_year import reheat_facts
from dewledger.hourly.ledger import NAMES
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import HOURS, WeatherYear

Row = dict[str, Any]
# What a row of the year says besides the accounts; a sweep has these columns in any case.
FOUND = (
    "title", "station", "latitude", "longitude", "code_verdict", "code_reason", "annual_cost",
    "life_cycle_cost", "purchased_energy_kWh",
)  # fmt: skip


@dataclass(frozen=True)
class Batch:
    """Some points of one site.

    table, folder : the case that the points change, as its file has it
    numbers, points : which points, counted from 1, and what each changes
    """

    name: str
    table: Mapping[str, Any]
    folder: str
    numbers: tuple[int, ...]
    points: tuple[Point, ...]
    hourly: bool = False


@dataclass
class Part:
    """What a batch gave: rows of the year, rows of the months, hours where they were asked for."""

    name: str
    annual: list[Row] = field(default_factory=list)
    monthly: list[Row] = field(default_factory=list)
    hourly: dict[tuple[int, str], np.ndarray[Any, Any]] = field(default_factory=dict)


_MOST_KEPT = 4
_kept: dict[tuple[str, str], WeatherYear] = {}
_reading = Lock()


def weather_of(case: Case) -> WeatherYear:
    """The weather of a case, kept for the next points of its site; one thread reads at a time."""
    key = case.site.model_dump_json(), str(case.folder)
    with _reading:
        year = _kept.pop(key, None) or read_weather(case)
        _kept[key] = year
        while len(_kept) > _MOST_KEPT:
            del _kept[next(iter(_kept))]
    return year


def solve_batch(batch: Batch, weather: WeatherYear | None = None) -> Part:
    """Solve the points of a batch. A point that cannot be is rows with the sentence that says why.

    weather : of the batch's site, where it was sent; by default read from its file
    """
    base = case_from_table(dict(batch.table), Path(batch.folder), "the case")
    part = Part(batch.name)
    for number, point in zip(batch.numbers, batch.points, strict=True):
        stated = {path: value_text(value) for path, value in point.items()}
        head = {"point": number, **stated}
        try:
            solved = solve_point(base.with_values(point), weather)
        except InputError as problem:
            part.annual += _unsolved(
                base, head, str(problem).removeprefix("the case: ").lstrip(": ")
            )
            continue
        except (ArithmeticError, AssertionError, LookupError, ValueError) as fault:
            part.annual += _unsolved(base, head, f"fault: {type(fault).__name__}: {fault}")
            continue
        for option in solved:
            part.annual.append({**head, **option.annual})
            part.monthly += [
                {"point": number, "option": option.key}
                | {name: values[i] for name, values in option.monthly.items()}
                for i in range(len(option.monthly["month"]))
            ]
            if batch.hourly:
                part.hourly[number, option.key] = option.ledger.astype(np.float32)
    return part


class _Ledgers(local):
    """Ledgers of this thread, written over at every point: fresh memory costs as much as an
    account."""

    def __init__(self) -> None:
        self.kept: list[FloatArray] = []


_ledgers = _Ledgers()


def _ledger(place: int) -> FloatArray:
    kept = _ledgers.kept
    while len(kept) <= place:
        kept.append(np.empty((len(NAMES), HOURS)))
    return kept[place]


def _unsolved(base: Case, head: Row, sentence: str) -> list[Row]:
    return [{**head, "option": key, "problem": sentence} for key in base.options]


@dataclass(frozen=True, eq=False)
class SolvedOption:
    """One option of one point: its row of the year, its months, its ledger.

    The ledger is written over by the next point that its thread solves.
    """

    key: str
    annual: Row
    monthly: dict[str, Any]
    ledger: FloatArray


def solve_point(
    case: Case, weather: WeatherYear | None = None, *, penalty: bool = True
) -> list[SolvedOption]:
    """Every option of one case: accounts, money and the code's verdict.

    penalty : whether to work out the recovery penalty, which no choice by cost asks for
    """
    options = case.option_cases()
    tariffs = tariffs_of(case, options)
    year = weather_of(case) if weather is None else weather
    machines = assemble_all(options, year)
    for machine in machines:
        require_fed(machine)
    ledgers = list(
        solved_in_turn(
            machines, lambda k: solve_option(machines[k], out=_ledger(k), penalty=penalty)
        )
    )
    annuals, months, money = option_accounts(case, machines, ledgers, year, tariffs)
    assert money is not None
    place = [option.key for option in options].index(case.reference_key)
    reference = machines[place], ledgers[place]
    station = year.station
    solved = []
    for option, machine, ledger, annual, monthly in zip(
        options, machines, ledgers, annuals, months, strict=True
    ):
        allowance = option.case.allowance or ASSUMED
        compared = rate_machine(option.case, machine).comparisons
        facts = reheat_facts(option, machine, ledger, annual, reference, allowance, compared)
        found = determine(allowance, facts, case.display, compared)
        weighed = money.life_cycle[option.key]
        row = {
            "option": option.key,
            "title": option.title,
            "problem": None,
            "station": station.name,
            "latitude": station.latitude,
            "longitude": station.longitude,
            "code_verdict": found.verdict,
            "code_reason": found.sentence,
            **flat(annual),
            "annual_cost": weighed.annual_cost,
            "life_cycle_cost": weighed.life_cycle_cost.value,
            "purchased_energy_kWh": annual["site_kWh"],
        }
        solved.append(SolvedOption(option.key, row, monthly, ledger))
    return solved
