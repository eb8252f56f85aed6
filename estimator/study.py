"""Run a case: every option over the same weather year. The public result is a Study."""

from __future__ import annotations

import platform
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import version
from typing import Any

import pandas as pd

from estimator.accounts import Annual, account, monthly_account
from estimator.assembly import Machine, assemble
from estimator.case import Case, OptionCase
from estimator.hour import empty_ledger, solve_year
from weather.moist_air import FloatArray
from weather.readers import read
from weather.year import WeatherYear

WARM_UP_HOURS = 336


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
    """A case run: all options on one weather year, with the reference to compare with."""

    case: Case
    weather: WeatherYear
    options: tuple[OptionYear, ...]

    @property
    def reference(self) -> OptionYear:
        return next(option for option in self.options if option.key == self.case.reference_key)


Progress = Callable[[str, int, int], None]


def solve_option(machine: Machine, warm_up_hours: int = WARM_UP_HOURS) -> FloatArray:
    """The ledger of one option-year, (columns, 8760)."""
    out = empty_ledger(machine.drivers.shape[0])
    solve_year(
        machine.unit.map,
        machine.plant,
        machine.room,
        machine.control,
        machine.sources,
        machine.drivers,
        warm_up_hours,
        out,
    )
    return out


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
    steps = len(options) + 1
    report = progress or (lambda what, step, of: None)
    report("reading weather", 0, steps)
    year = weather if weather is not None else read_weather(case)
    machines = []
    for option in options:
        machines.append(assemble(option, year))
    solved = []
    for step, (option, machine) in enumerate(zip(options, machines, strict=True), start=1):
        report(f"solving {option.title}", step, steps)
        solved.append((option, machine, solve_option(machine)))
    reference = next(
        m for o, m in zip(options, machines, strict=True) if o.key == case.reference_key
    )
    years = []
    for option, machine, ledger in solved:
        years.append(
            OptionYear(
                option,
                machine,
                ledger,
                account(ledger, machine, reference, year),
                monthly_account(ledger, year),
            )
        )
    report("done", steps, steps)
    return Study(case, year, tuple(years))


def read_weather(case: Case) -> WeatherYear:
    """The weather year a case names."""
    site = case.site
    return read(
        case.weather_path(),
        columns=site.weather_columns,
        site={
            key: value
            for key, value in {
                "name": site.name,
                "latitude": site.latitude,
                "longitude": site.longitude,
                "altitude_m": None if site.altitude is None else float(site.altitude),
                "utc_offset_h": site.utc_offset,
            }.items()
            if value is not None
        },
    )


def versions() -> dict[str, str]:
    """Versions that decide the numbers."""
    names = ("dewledger", "numpy", "numba", "pandas", "pvlib", "CoolProp", "scipy")
    found: dict[str, Any] = {name: version(name) for name in names}
    found["python"] = platform.python_version()
    return found
