"""Run a case: every option over the same weather year. The public result is a Study."""

from __future__ import annotations

import logging
import platform
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from html import escape
from importlib.metadata import version
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING, Any

from dewledger.accounts.costs import Money
from dewledger.accounts.energy import unit_of_account
from dewledger.accounts.life_cycle import economics
from dewledger.accounts.option_year import GLANCE, OptionYear, glance
from dewledger.analysis.coil_trials import CoilTrials
from dewledger.analysis.compliance import Judgment, judge_option
from dewledger.analysis.low_dew_points import DryingBounds, drying_bounds
from dewledger.analysis.modeled_ratings import ModeledRatings, rate_machine
from dewledger.analysis.monte_carlo import cores
from dewledger.analysis.option_accounts import flat, option_accounts, tariffs_of
from dewledger.analysis.reheat_coil_size import Sizing, require_fed, size_all
from dewledger.analysis.sensitivity import SensitivityStudy
from dewledger.assembly.equal_years import solved_in_turn
from dewledger.assembly.machine import assemble_all
from dewledger.assembly.year import read_weather as read_weather
from dewledger.assembly.year import solve_coil, solve_smaller_coil
from dewledger.assembly.year import solve_option as solve_option
from dewledger.case import Case
from dewledger.case.words import listed, nearest
from dewledger.hourly.ledger import COLUMNS, NAMES
from dewledger.weather.errors import InputError
from dewledger.weather.year import WeatherYear

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

    from dewledger.analysis.meter.calibration import Calibration
    from dewledger.analysis.meter.comparison import MeterComparison
    from dewledger.analysis.meter.trends import TrendComparison


class NotAsked(dict[str, Any]):
    """What a study was not asked for: empty, and a look into it says how to get it."""

    def __init__(self, what: str) -> None:
        super().__init__()
        self.what = what

    def __missing__(self, key: str) -> Any:
        raise InputError(
            f"this study was run without its {self.what}; run it with {self.what}=True"
        )


@dataclass(frozen=True, repr=False, eq=False)
class Study:
    """A case run: all options on one weather year, with the reference to compare with.

    ``annual``, ``monthly`` and ``hourly(key)`` are tables; ``plot(name)`` draws a chart and
    ``write_report(folder)`` writes everything.

    money : bills, carbon and life-cycle cost, by option key
    judgments : energy code, humidity criteria and mold, by option key
    ratings : rating points of each option's unit as modeled, by option key
    bounds : what low dew points and the coil-surface floor cost, by option key
    sizings : coil and ceiling of each option's condenser heat, by option key; None without any
    sensitivity : one-at-a-time effects and draws, where requested
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

    if TYPE_CHECKING:
        # Drawing and writing are of a higher floor; the package's roof puts them here.
        def plot(self, name: str) -> Figure:
            """A chart of the study as a matplotlib figure; a wrong name lists them all."""

        def write_report(
            self, folder: str | Path, formats: tuple[str, ...] = ("html", "csv", "json", "toml")
        ) -> list[Path]:
            """Write page, tables and data into a new folder; returns the paths."""

    @property
    def reference(self) -> OptionYear:
        return self.option(self.case.reference_key)

    def option(self, key: str) -> OptionYear:
        """One option by its key; InputError where there is none."""
        for option in self.options:
            if option.key == key:
                return option
        keys = [option.key for option in self.options]
        raise InputError(
            f'option "{key}" is not in the case{nearest(key, keys)}; {listed(keys)} are'
        )

    @property
    def annual(self) -> pd.DataFrame:
        """Totals and indices of the year, one row for each option by its key.

        ``attrs["units"]`` names the unit of every column.
        """
        import pandas as pd

        table = pd.DataFrame(
            [flat(option.annual) for option in self.options],
            index=pd.Index([option.key for option in self.options], name="option"),
        )
        money = self.case.prices.currency
        table.attrs["units"] = {str(name): unit_of_account(str(name), money) for name in table}
        return table

    @property
    def monthly(self) -> pd.DataFrame:
        """Totals by month, one row for each option and month 1..12; units in ``attrs``."""
        import pandas as pd

        table = pd.concat(
            {option.key: option.monthly.set_index("month") for option in self.options},
            names=["option", "month"],
        )
        money = self.case.prices.currency
        table.attrs["units"] = {str(name): unit_of_account(str(name), money) for name in table}
        return table

    def hourly(self, key: str) -> pd.DataFrame:
        """The ledger of an option, 8760 rows by the start of each hour, local standard time.

        The index has the calendar year of the case, without 29 February; columns are those of
        ``ledger_columns()``, their units in ``attrs["units"]``. A copy: change it freely.
        """
        import pandas as pd

        year = self.option(key)
        when = pd.DatetimeIndex(hours_of(self.case.site.calendar_year), name="time")
        table = pd.DataFrame(year.ledger.T.copy(), index=when, columns=list(NAMES))
        table.attrs["units"] = {column.name: column.unit for column in COLUMNS}
        return table

    def __repr__(self) -> str:
        lines = [
            f"<Study {self.case.title!r}: {len(self.options)} options on "
            f"{self.weather.station.title}, reference {self.case.reference_key}"
        ]
        shown = self.options[:_MOST_SHOWN]
        lines += [f"  {option!r}" for option in shown]
        if len(self.options) > len(shown):
            lines.append(f"  and {len(self.options) - len(shown)} more")
        return "\n".join(lines) + ">"

    def _repr_html_(self) -> str:
        """A small table for notebooks; every name and value escaped."""
        heads = "".join(f"<th>{escape(words)}</th>" for _, words, _, _ in GLANCE)
        rows = []
        for option in self.options:
            shown = dict(glance(option))
            cells = "".join(f"<td>{escape(shown.get(w, ''))}</td>" for _, w, _, _ in GLANCE)
            rows.append(f"<tr><th>{escape(option.title)}</th>{cells}</tr>")
        return (
            f"<table><caption>{escape(self.case.title)}, {escape(self.weather.station.title)}"
            f"</caption><thead><tr><th>option</th>{heads}</tr></thead>"
            f"<tbody>{''.join(rows)}</tbody></table>"
        )


_MOST_SHOWN = 6


def hours_of(calendar_year: int) -> pd.DatetimeIndex:
    """The 8760 hours of a year without 29 February."""
    import pandas as pd

    hours = pd.date_range(f"{calendar_year}-01-01", f"{calendar_year}-12-31 23:00", freq="h")
    return hours[~((hours.month == 2) & (hours.day == 29))]


Progress = Callable[[str, int, int], None]

_log = logging.getLogger("dewledger")


def simulate(
    case: Case, weather: WeatherYear | None = None, progress: Progress | None = None
) -> Study:
    """Run every option of a case for ledgers and accounts alone: no code, no sizing, no money.

    Parameters
    ----------
    case : the case as read
    weather : a weather year to use instead of the case's own
    progress : called with (what is being done, step, steps)

    Raises
    ------
    InputError : the case or its weather cannot be run
    """
    return run_study(case, weather, progress, codes=False, sizing=False, money=False)


def run_study(
    case: Case,
    weather: WeatherYear | None = None,
    progress: Progress | None = None,
    *,
    codes: bool = True,
    sizing: bool = True,
    money: bool = True,
) -> Study:
    """Run every option of a case.

    Parameters
    ----------
    case : the case as read
    weather : a weather year to use instead of the case's own
    progress : called with (what is being done, step, steps)
    codes : judge each option by the energy code and the humidity criteria
    sizing : find how large a condenser-heat coil need be
    money : bills, carbon and life-cycle cost; a report needs all three

    Raises
    ------
    InputError : the case or its weather cannot be run
    """
    began = perf_counter()
    options = case.option_cases()
    steps = 2 * len(options) + 2
    report = progress or (lambda what, step, of: None)
    report("reading weather", 0, steps)
    year = weather if weather is not None else read_weather(case)
    machines = assemble_all(options, year)
    for machine in machines:
        require_fed(machine)
    tariffs = tariffs_of(case, options) if money else None
    place = [option.key for option in options].index(case.reference_key)
    trials = CoilTrials(solve_coil, solve_smaller_coil)
    ratings = {
        option.key: rate_machine(option.case, machine)
        for option, machine in zip(options, machines, strict=True)
    }

    # The compiled loop releases the interpreter lock, so that threads share the work.
    with ThreadPoolExecutor(cores()) as pool:
        ledgers = []
        in_turn = solved_in_turn(machines, lambda k: solve_option(machines[k]), pool.map)
        for step, ledger in enumerate(in_turn):
            report(f"solving {options[step].title}", step + 1, steps)
            ledgers.append(ledger)
        annuals, months, found = option_accounts(case, machines, ledgers, year, tariffs)
        years = [
            OptionYear(option, machine, ledger, annual, monthly)
            for option, machine, ledger, annual, monthly in zip(
                options, machines, ledgers, annuals, months, strict=True
            )
        ]

        def judged(solved: OptionYear) -> Judgment:
            return judge_option(
                solved, years[place], year, trials, case.display, ratings[solved.key].comparisons
            )

        judgments: dict[str, Judgment] = NotAsked("codes")
        for step, judgment in enumerate(pool.map(judged, years if codes else ())):
            report(f"judging {options[step].title}", len(options) + step + 1, steps)
            judgments[options[step].key] = judgment
        sizings: dict[str, Sizing | None] = NotAsked("sizing")
        if sizing:
            report("sizing reheat", steps - 1, steps)
            aims = [option.case.sizing for option in options]
            sized = size_all(machines, aims, trials, pool.map)
            sizings = {option.key: one for option, one in zip(options, sized, strict=True)}
    bounds = {solved.key: drying_bounds(solved.ledger, solved.machine) for solved in years}
    report("done", steps, steps)
    _log.info("%s: %d options solved in %.2f s", case.title, len(options), perf_counter() - began)
    return Study(
        case, year, tuple(years), found or _no_money(case), judgments, ratings, bounds, sizings
    )


def _no_money(case: Case) -> Money:
    """The money of a study that was not asked for it: a look into it says how to get it."""
    lacking = NotAsked("money")
    return Money(case.prices.currency, economics(case.prices), (), lacking, lacking, lacking)


def versions() -> dict[str, str]:
    """Versions that decide the numbers."""
    names = (
        "dewledger", "CoolProp", "holidays", "llvmlite", "numba", "numpy", "numpy-financial",
        "pandas", "pint", "pvlib", "scipy", "tzdata",
    )  # fmt: skip
    found: dict[str, Any] = {name: version(name) for name in names}
    found["python"] = platform.python_version()
    return found
