"""Run a case: every option over the same weather year. The public result is a Study."""

from __future__ import annotations

import platform
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from importlib.metadata import version
from typing import Any

import pandas as pd

from dewledger.accounts.costs import (
    Money,
    bill_of,
    billing_hours,
    money_account,
    money_of,
    monthly_money,
    option_tariff,
)
from dewledger.accounts.energy import Annual, account, electricity_kW, gas_kW, monthly_account
from dewledger.analysis.coil_trials import CoilTrials
from dewledger.analysis.compliance import Judgment, judge_option
from dewledger.analysis.low_dew_points import DryingBounds, drying_bounds
from dewledger.analysis.meter.calibration import Calibration
from dewledger.analysis.meter.comparison import MeterComparison
from dewledger.analysis.meter.trends import TrendComparison
from dewledger.analysis.modeled_ratings import ModeledRatings, rate_machine
from dewledger.analysis.monte_carlo import cores
from dewledger.analysis.reheat_coil_size import Sizing, require_fed, size_all
from dewledger.analysis.sensitivity import SensitivityStudy
from dewledger.assembly.machine import Machine, assemble
from dewledger.assembly.year import read_weather as read_weather
from dewledger.assembly.year import solve_option as solve_option
from dewledger.case import Case, OptionCase
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import WeatherYear


@dataclass(frozen=True)
class OptionYear:
    """One option solved: its case, its machine, its ledger and its accounts.

    ledger : (number of ledger columns, 8760) in the order of ``ledger.COLUMNS``
    annual : totals and indices of the year, names ending in their unit
    monthly : one row per month
    """

    option: OptionCase
    machine: Machine
    ledger: FloatArray
    annual: Annual
    monthly: pd.DataFrame

    @property
    def key(self) -> str:
        return self.option.key

    @property
    def title(self) -> str:
        return self.option.title


@dataclass(frozen=True)
class Study:
    """A case run: all options on one weather year, with the reference to compare with.

    money : bills, carbon and life-cycle cost, by option key
    judgments : energy code, humidity criteria and mold, by option key
    ratings : rating points of each option's unit as modeled, by option key
    bounds : what low dew points and the coil-surface floor cost, by option key
    sizings : coil and ceiling of each option's condenser heat, by option key; None without any
    sensitivity : swings and draws, where they were asked for
    meter, trend, calibration : the model against bills and trends, where the case gives any
    """

    case: Case
    weather: WeatherYear
    options: tuple[OptionYear, ...]
    money: Money
    judgments: Mapping[str, Judgment]
    ratings: Mapping[str, ModeledRatings]
    bounds: Mapping[str, DryingBounds]
    sizings: Mapping[str, Sizing | None]
    sensitivity: SensitivityStudy | None = None
    meter: MeterComparison | None = None
    trend: TrendComparison | None = None
    calibration: Calibration | None = None

    @property
    def reference(self) -> OptionYear:
        return next(option for option in self.options if option.key == self.case.reference_key)


Progress = Callable[[str, int, int], None]


def run_study(
    case: Case, weather: WeatherYear | None = None, progress: Progress | None = None
) -> Study:
    """Run every option of a case.

    Parameters
    ----------
    case : the case as read
    weather : a weather year to use instead of the case's own
    progress : called with (what is being done, step, steps)

    Raises
    ------
    InputError : the case or its weather cannot be run
    """
    options = case.option_cases()
    steps = 2 * len(options) + 2
    report = progress or (lambda what, step, of: None)
    report("reading weather", 0, steps)
    year = weather if weather is not None else read_weather(case)
    machines = [assemble(option, year) for option in options]
    for machine in machines:
        require_fed(machine)
    tariffs = [option_tariff(option, case) for option in options]
    place = [option.key for option in options].index(case.reference_key)
    trials = CoilTrials(solve_option)

    # The compiled loop releases the interpreter lock, so that threads share the work.
    ratings = {
        option.key: rate_machine(option.case, machine)
        for option, machine in zip(options, machines, strict=True)
    }
    with ThreadPoolExecutor(cores()) as pool:
        ledgers = []
        for step, ledger in enumerate(pool.map(solve_option, machines)):
            report(f"solving {options[step].title}", step + 1, steps)
            ledgers.append(ledger)
        years = []
        bills = {}
        for option, machine, ledger, rates in zip(options, machines, ledgers, tariffs, strict=True):
            hours = billing_hours(machine.calendar, option.case.site.calendar_year)
            use = electricity_kW(ledger), gas_kW(ledger)
            bills[option.key] = bill_of(rates, *use, hours)
            monthly = monthly_account(ledger, year) | monthly_money(rates, *use, hours)
            annual = account(ledger, machine, machines[place], year)
            years.append(OptionYear(option, machine, ledger, annual, pd.DataFrame(monthly)))
        money = money_of(case, options, bills)
        for solved in years:
            solved.annual.update(money_account(bills[solved.key], money.life_cycle[solved.key]))

        def judged(solved: OptionYear) -> Judgment:
            return judge_option(
                solved.option,
                solved.machine,
                solved.ledger,
                solved.annual,
                (machines[place], ledgers[place]),
                year,
                trials,
                case.display,
                ratings[solved.key].comparisons,
            )

        judgments = {}
        for step, judgment in enumerate(pool.map(judged, years)):
            report(f"judging {options[step].title}", len(options) + step + 1, steps)
            judgments[options[step].key] = judgment
        report("sizing reheat", steps - 1, steps)
        aims = [option.case.sizing for option in options]
        sizings = size_all(machines, aims, trials, pool.map)
    bounds = {solved.key: drying_bounds(solved.ledger, solved.machine) for solved in years}
    sized = {option.key: found for option, found in zip(options, sizings, strict=True)}
    report("done", steps, steps)
    return Study(case, year, tuple(years), money, judgments, ratings, bounds, sized)


def versions() -> dict[str, str]:
    """Versions that decide the numbers."""
    names = (
        "dewledger", "CoolProp", "holidays", "llvmlite", "numba", "numpy", "numpy-financial",
        "pandas", "pint", "pvlib", "scipy", "tzdata",
    )  # fmt: skip
    found: dict[str, Any] = {name: version(name) for name in names}
    found["python"] = platform.python_version()
    return found
