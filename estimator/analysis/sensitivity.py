"""How far the savings and the recovered share of a study move with what they rest on.

Each named assumption has a default range with a reason (``assumed_ranges``), or the one that the
case states. An option-year under other values costs one solution of the year and nothing else
(``dewledger.analysis.assumptions``).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from dewledger.accounts.bills import BillingHours, Tariff, annual_bill
from dewledger.accounts.costs import billing_hours, option_tariff
from dewledger.accounts.energy import column, electricity_kW, gas_kW
from dewledger.accounts.humidity_criteria import out_of_range
from dewledger.analysis.assumed_ranges import ranges, tried_alone
from dewledger.analysis.assumptions import (
    FIELDS,
    WEATHER,
    Values,
    changed,
    dries_by_control,
    with_drying_control,
)
from dewledger.analysis.compliance import ASSUMED
from dewledger.analysis.monte_carlo import (
    Assumed,
    MonteCarlo,
    Sensitivity,
    monte_carlo,
    one_at_a_time,
)
from dewledger.assembly.equal_years import first_of_equals, solved_in_turn
from dewledger.assembly.machine import Machine, assemble_all
from dewledger.assembly.reheat import DRYING_CONTROLS
from dewledger.case import Case, OptionCase
from dewledger.case.ranges import Ranges
from dewledger.codes.determination import recovered_share_threshold
from dewledger.weather.bundled import distance_km
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import WeatherYear

DEFAULT_DRAWS = 200
MOST_DRAWS = 1_000_000
_BYTES_OF_A_DRAW = 3_500  # measured over 3,000 draws of four options
DEFAULT_SEED = 1


# ---------------------------------------------------------------------------------------------
# The study under changed values


def saving_name(key: str) -> str:
    """Name of the result that is an option's yearly saving against the reference."""
    return f"saving of {key}"


def share_name(key: str) -> str:
    """Name of the result that is an option's recovered share."""
    return f"recovered share of {key}"


@dataclass(frozen=True)
class Likelihood:
    """One option over all draws; money in the currency of the case, shares as fractions.

    threshold, probability : the code's recovered share, and the share of the draws that keep it;
        None where the code asks for none or nothing was reheated
    """

    saving_p10: float
    saving_p50: float
    saving_p90: float
    share_p10: float | None
    share_p50: float | None
    share_p90: float | None
    threshold: float | None
    probability: float | None


@dataclass(frozen=True)
class DryingYear:
    """An option with stages or speeds, dried by one drying control; money in the case's currency.

    saving : against the reference dried by the same control; None of the reference itself
    """

    control: str
    key: str
    saving: float | None
    recovered_share: float | None
    compressor_kWh: float
    overcooling_heat_kWh: float
    hours_above_range: int


@dataclass(frozen=True, eq=False)
class SensitivityStudy:
    """Assumptions one at a time, and all assumptions drawn together.

    keys : options compared with the reference
    weather_names : of the weather years tried, the case's own first
    option_years : solved for it
    drying : each option that has stages or speeds by each drying control, option by option
    elsewhere : of ``weather_names``, those of another site: tried alone, in no draw
    """

    keys: tuple[str, ...]
    assumed: tuple[Assumed, ...]
    weather_names: tuple[str, ...]
    sensitivity: Sensitivity
    draws: MonteCarlo
    likelihood: Mapping[str, Likelihood]
    option_years: int
    drying: tuple[DryingYear, ...] = ()
    elsewhere: tuple[str, ...] = ()


# Within this distance weather is of one site: about a cell of the reanalysis that actual years are
# got from.
SAME_SITE_KM = 50.0


def _own_site_first(years: Sequence[WeatherYear]) -> tuple[list[WeatherYear], int]:
    """The weather years, those of the first one's site before others, and how many those are.

    A year that does not say its place is of another site: a band is of one.
    """
    here = (years[0].station.latitude, years[0].station.longitude)

    def near(year: WeatherYear) -> bool:
        there = (year.station.latitude, year.station.longitude)
        return distance_km(here, there) <= SAME_SITE_KM

    own = [years[0], *(year for year in years[1:] if near(year))]
    return [*own, *(year for year in years[1:] if not near(year))], len(own)


def _drawn(assumed: Sequence[Assumed], own_years: int, alone: frozenset[str]) -> list[Assumed]:
    """The assumptions that are drawn: weather of the case's own site, and none of those alone."""
    last = float(own_years - 1)
    return [
        replace(one, high=min(one.high, last)) if one.name == WEATHER else one
        for one in assumed
        if one.name not in alone and (one.name != WEATHER or own_years > 1)
    ]


class _Year(NamedTuple):
    """What one option's year comes to; share: recovered, NaN where nothing is reheated."""

    cost: float
    share: float
    compressor_kWh: float
    overcooling_heat_kWh: float
    hours_above_range: int


class _Evaluator:
    """Savings and recovered shares of all options at given values of the assumptions."""

    def __init__(
        self,
        case: Case,
        options: Sequence[OptionCase],
        years: Sequence[WeatherYear],
        solve: Callable[[Machine], FloatArray],
    ) -> None:
        self.options = tuple(options)
        self.reference = case.reference_key
        self.solve = solve
        self.tariffs: list[Tariff] = [option_tariff(option, case) for option in options]
        self.machines = [assemble_all(options, year) for year in years]
        self.first = first_of_equals(self.machines[0])
        self.hours: list[list[BillingHours]] = [
            [
                billing_hours(machine.calendar, option.case.site.calendar_year)
                for option, machine in zip(options, machines, strict=True)
            ]
            for machines in self.machines
        ]

    def by_drying_control(self) -> tuple[DryingYear, ...]:
        """Every option that has a drying control by each of the three; none where none has."""
        own = self.machines[0]
        mine = [option.key for option, m in zip(self.options, own, strict=True)
                if dries_by_control(m)]  # fmt: skip
        if not mine:
            return ()
        found = []
        for word, code in DRYING_CONTROLS.items():
            years = self._years([with_drying_control(m, code) for m in own], Values())
            for option in self.options:
                if option.key not in mine:
                    continue
                year = years[option.key]
                saving = years[self.reference].cost - year.cost
                found.append(
                    DryingYear(
                        word,
                        option.key,
                        None if option.key == self.reference else saving,
                        None if np.isnan(year.share) else year.share,
                        year.compressor_kWh,
                        year.overcooling_heat_kWh,
                        year.hours_above_range,
                    )
                )
        return tuple(sorted(found, key=lambda one: mine.index(one.key)))

    def __call__(self, drawn: dict[str, float]) -> dict[str, float]:
        values = Values(**{FIELDS[name]: value for name, value in drawn.items()})
        years = self._years(self.machines[round(values.weather)], values)
        results = {}
        for key, year in years.items():
            if key != self.reference:
                results[saving_name(key)] = years[self.reference].cost - year.cost
                results[share_name(key)] = year.share
        return results

    def _years(self, machines: Sequence[Machine], values: Values) -> dict[str, _Year]:
        """The year of every option, its machine given, under values of the assumptions."""
        hours = self.hours[round(values.weather)]
        found = {}
        ledgers = solved_in_turn(
            machines, lambda k: self.solve(changed(machines[k], values)), first=self.first
        )
        for option, machine, rates, billed, ledger in zip(
            self.options, machines, self.tariffs, hours, ledgers, strict=True
        ):
            bill = annual_bill(rates, electricity_kW(ledger), gas_kW(ledger), billed)
            cost = (
                values.electricity_price * (bill.electricity_charge - bill.electricity_fixed)
                + values.gas_price * bill.gas_energy_charge
                + bill.electricity_fixed
                + bill.gas_fixed
                + bill.carbon_charge
                + float(option.case.cost.upkeep_per_year)
            )
            recovered = float(column(ledger, "reheat_recovered_kWh").sum())
            reheat = recovered + float(column(ledger, "reheat_purchased_kWh").sum())
            share = recovered / reheat if reheat > 0.0 else np.nan
            rh = column(ledger, "room_rh_frac")
            above, _ = out_of_range(rh, machine.range_low, machine.range_high)
            found[option.key] = _Year(
                cost,
                share,
                float(column(ledger, "compressor_kWh").sum()),
                float(column(ledger, "overcooling_heat_kWh").sum()),
                int(above.sum()),
            )
        return found


def require_comparable(case: Case, draws: int) -> None:
    """InputError where there is nothing to compare or to draw."""
    if len(case.option_cases()) < 2:
        raise InputError(
            "--sensitivity compares options with the reference, and the case has one option; "
            "write at least two"
        )
    if draws < 1:
        raise InputError(f"--draws {draws} is too few; write 1 or more, for example 1000")
    if draws > MOST_DRAWS:
        # Each draw is kept as its assumptions and its results, some 50 numbers with their names.
        memory_GB = draws * _BYTES_OF_A_DRAW / 1e9
        raise InputError(
            f"--draws {draws:,} would take some {memory_GB:,.0f} GB of memory; write "
            f"{MOST_DRAWS:,} or fewer: percentiles hardly move after 10,000"
        )


def sensitivity_study(
    case: Case,
    years: Sequence[WeatherYear],
    solve: Callable[[Machine], FloatArray],
    *,
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
    assumed: Sequence[Assumed] | None = None,
    workers: int | None = None,
    progress: Callable[[str, int, int], None] | None = None,
) -> SensitivityStudy:
    """Vary every assumption alone, then draw all of them together.

    Parameters
    ----------
    years : weather years, the case's own first; more than one and the weather varies too. Years
        of the case's own site are drawn with everything else, those of another site are not
    solve : the ledger of a machine's year; it must release the interpreter lock to use all cores
    assumed : ranges other than the default ones

    Raises
    ------
    InputError : one option only, so that there is nothing to compare; fewer than one draw
    """
    options = case.option_cases()
    require_comparable(case, draws)
    years, own_years = _own_site_first(years)
    evaluator = _Evaluator(case, options, years, solve)
    alone: frozenset[str] = frozenset()
    if assumed is None:
        alone = tried_alone(case.ranges or Ranges())
        assumed = ranges(
            evaluator.machines[0], _burns_gas(options), len(years), case.ranges, options
        )

    def step(what: str) -> Callable[[int, int], None]:
        return lambda done, total: progress(what, done, total) if progress else None

    effects = one_at_a_time(
        assumed,
        evaluator,
        pool="thread",
        workers=workers,
        progress=step("one assumption at a time"),
    )
    drawn = monte_carlo(
        _drawn(assumed, own_years, alone),
        evaluator,
        draws=draws,
        seed=seed,
        pool="thread",
        workers=workers,
        progress=step("drawing assumptions"),
    )
    drying = evaluator.by_drying_control()
    keys = tuple(option.key for option in options if option.key != case.reference_key)
    likelihood = {
        option.key: _likelihood(drawn, option)
        for option in options
        if option.key != case.reference_key
    }
    runs = 1 + sum(len(one.ends()) for one in assumed) + draws
    return SensitivityStudy(
        keys,
        tuple(assumed),
        tuple(year.station.name for year in years),
        effects,
        drawn,
        likelihood,
        (runs + (len(DRYING_CONTROLS) if drying else 0)) * len(options),
        drying,
        tuple(year.station.name for year in years[own_years:]),
    )


def left_out_of_draws(found: SensitivityStudy) -> str:
    """What is tried alone, one assumption at a time, and in no draw, with why; "" where nothing."""
    sentences = []
    if found.elsewhere:
        sentences.append(
            f"Weather of another site ({', '.join(found.elsewhere)}) is tried alone, one "
            "assumption at a time, and in no sample: a band is of one site."
        )
    drawn = {one.name for one in found.draws.assumed}
    off = [one.name for one in found.assumed if one.name not in drawn and one.name != WEATHER]
    if off:
        sentences.append(
            f"Controls that are off here ({', '.join(off)}) are tried alone too; state their "
            "ranges in [ranges] to have them sampled."
        )
    return " ".join(sentences)


def _burns_gas(options: Sequence[OptionCase]) -> bool:
    fuels = ("gas", "hot water")
    return any(
        option.case.heating.source in fuels
        or any(source.source in fuels for source in option.case.reheat)
        for option in options
    )


def _likelihood(drawn: MonteCarlo, option: OptionCase) -> Likelihood:
    saving = drawn.summary(saving_name(option.key))
    share = drawn.summary(share_name(option.key))
    allowance = option.case.allowance or ASSUMED
    varies = option.case.air.flow_control == "variable" and option.case.outdoor_air_unit is None
    threshold = recovered_share_threshold(allowance.code, allowance.edition, varies)
    reheated = share.draws > 0
    probability = None
    if threshold is not None and reheated:
        probability = drawn.probability_at_least(share_name(option.key), threshold - 1e-9)
    return Likelihood(
        saving.p10,
        saving.p50,
        saving.p90,
        share.p10 if reheated else None,
        share.p50 if reheated else None,
        share.p90 if reheated else None,
        threshold,
        probability,
    )
