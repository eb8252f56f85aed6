"""How far the savings and the recovered share of a study move with what they rest on.

Each named assumption has a default range with a reason (``ranges``), or the one that the case
states. An option-year under other values costs one solution of the year and nothing else
(``dewledger.analysis.assumptions``).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from dewledger.accounts.bills import Tariff
from dewledger.accounts.costs import BillingHours, bill_of, billing_hours, option_tariff
from dewledger.accounts.energy import column, electricity_kW, gas_kW
from dewledger.analysis.assumptions import (
    CAPACITY,
    DEW_SETPOINT,
    DIFFERENTIAL,
    EFFECTIVENESS,
    EFFICIENCY,
    ELECTRICITY_PRICE,
    EVAPORATION,
    FACTORS,
    FIELDS,
    GAINS,
    GAS_PRICE,
    INFILTRATION,
    MOISTURE_STORE,
    OUTDOOR_AIR,
    REHEAT_FLOOR,
    SETPOINT,
    START_UP,
    STARTS,
    WEATHER,
    WET_TIME,
    Values,
    changed,
    dries_by_control,
    limited,
    outdoor_air_flows,
    with_drying_control,
)
from dewledger.analysis.compliance import ASSUMED
from dewledger.analysis.monte_carlo import Assumed, MonteCarlo, Sensitivity, monte_carlo, swings
from dewledger.assembly.machine import Machine, assemble
from dewledger.assembly.reheat import DRYING_CONTROLS
from dewledger.case import Case, OptionCase
from dewledger.case.ranges import Ranges, ends_of
from dewledger.codes.determination import recovered_share_threshold
from dewledger.hourly.types import DEW_POINT, DRIVERS, FAN_CONTINUOUS, RELATIVE_HUMIDITY
from dewledger.quantities import Display
from dewledger.weather.bundled import distance_km
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import WeatherYear

DEFAULT_DRAWS = 200
MOST_DRAWS = 1_000_000
_BYTES_OF_A_DRAW = 3_500  # measured over 3,000 draws of four options
DEFAULT_SEED = 1
_FAN_MODE = DRIVERS.index("fan_mode")


_NOT_CHECKED = "not checked against the report"
# Default ranges: low, likely, high, and why.
_RANGES: dict[str, tuple[float, float, float, str]] = {
    SETPOINT: (-0.03, 0.0, 0.03, "humidistats in use read 3 % RH either way; common practice"),
    DEW_SETPOINT: (-1.0, 0.0, 1.0, "dew-point sensors in use drift by 1 K; common practice"),
    OUTDOOR_AIR: (0.8, 1.0, 1.2, "dampers are set and measured to about 20 %; common practice"),
    GAINS: (0.75, 1.0, 1.25, "people and equipment are a designer’s guess; common practice"),
    INFILTRATION: (0.5, 1.0, 2.0, "leakage unmeasured, half to twice; common practice"),
    MOISTURE_STORE: (
        0.67,
        1.0,
        1.67,
        "a multiplier of 10 to 25 about 15 is usual; not checked against the text",
    ),
    CAPACITY: (
        0.95,
        1.0,
        1.05,
        "ratings are certified to 5 %; AHRI 340/360, not checked against the text",
    ),
    EFFICIENCY: (
        0.95,
        1.0,
        1.05,
        "ratings are certified to 5 %; AHRI 340/360, not checked against the text",
    ),
    EFFECTIVENESS: (-0.1, 0.0, 0.1, "reheat coils differ by 10 points; common practice"),
    WET_TIME: (720 / 1060, 1.0, 1400 / 1060, f"usual span 720 to 1400 s; {_NOT_CHECKED}"),
    EVAPORATION: (0.8, 1.0, 1.2, f"usual span of gamma 1.0 to 1.5; {_NOT_CHECKED}"),
    START_UP: (45 / 62, 1.0, 80 / 62, f"usual span 45 to 80 s; {_NOT_CHECKED}"),
    STARTS: (2.5 / 2.8, 1.0, 3.1 / 2.8, f"usual span 2.5 to 3.1 an hour; {_NOT_CHECKED}"),
    DIFFERENTIAL: (2 / 3, 1.0, 5 / 3, "3 or 5 % RH in shipped controls; rooftop control manuals"),
    REHEAT_FLOOR: (-5.0, 0.0, 10 / 1.8, "96 to 115 °F in use; common practice, no source"),
    ELECTRICITY_PRICE: (0.8, 1.0, 1.2, "tariffs and years differ by about 20 %; common practice"),
    GAS_PRICE: (0.7, 1.0, 1.3, "prices move by about 30 % between years; common practice"),
}


# The field of [ranges] that states each range.
_STATED = {
    OUTDOOR_AIR: "outdoor_air",
    GAINS: "gains",
    INFILTRATION: "infiltration",
    MOISTURE_STORE: "moisture_storage",
    CAPACITY: "rated_capacity",
    EFFICIENCY: "rated_efficiency",
    EFFECTIVENESS: "coil_effectiveness",
    WET_TIME: "wet_time",
    EVAPORATION: "gamma",
    START_UP: "start_up_time",
    STARTS: "cycles_per_hour",
    DIFFERENTIAL: "differential",
    REHEAT_FLOOR: "reheat_condensing_floor",
    ELECTRICITY_PRICE: "electricity_price",
    GAS_PRICE: "gas_price",
}


def _with_stated(
    table: dict[str, tuple[float, float, float, str]], stated: Ranges
) -> dict[str, tuple[float, float, float, str]]:
    """The default ranges with those that the case states in their place; fixed values left out."""
    table = dict(table)
    for name, key in _STATED.items():
        written = getattr(stated, key)
        if written is not None:
            low, high = ends_of(written)
            table[name] = (float(low), table[name][1], float(high), stated.reason)
    if stated.set_point is not None:
        low, high = ends_of(stated.set_point)
        name = SETPOINT if low.kind.name == "ratio" else DEW_SETPOINT
        table[name] = (float(low), 0.0, float(high), stated.reason)
    return {name: row for name, row in table.items() if row[0] < row[2]}


def ranges(
    machines: Sequence[Machine],
    burns_gas: bool,
    weather_years: int,
    stated: Ranges | None = None,
) -> tuple[Assumed, ...]:
    """The range of each assumption that can matter here, with its reason.

    Parameters
    ----------
    machines : of all options
    burns_gas : whether any option may buy gas
    stated : ranges that the case states instead of the default ones
    """
    controls = {limited(machine) for machine in machines}
    matters = {
        SETPOINT: RELATIVE_HUMIDITY in controls,
        DEW_SETPOINT: DEW_POINT in controls,
        OUTDOOR_AIR: any(outdoor_air_flows(machine) for machine in machines),
        INFILTRATION: any(machine.room.infiltration_kg_s > 0.0 for machine in machines),
        EFFECTIVENESS: any(
            max(machine.plant.recovery_effectiveness, machine.plant.drying_effectiveness) > 0.0
            for machine in machines
        ),
        GAS_PRICE: burns_gas,
        DIFFERENTIAL: any(
            _wet(machine) and machine.plant.humidistat.band_kg > 0.0 for machine in machines
        ),
        REHEAT_FLOOR: any(machine.plant.recovery_effectiveness > 0.0 for machine in machines),
    }
    wet = any(_wet(machine) for machine in machines)
    matters |= dict.fromkeys((WET_TIME, EVAPORATION, START_UP, STARTS), wet)
    table = dict(_RANGES)
    if stated is not None:
        table = _with_stated(table, stated)
    listed = [Assumed(name, *row) for name, row in table.items() if matters.get(name, True)]
    if weather_years > 1:
        last = float(weather_years - 1)
        listed.append(Assumed(WEATHER, 0.0, 0.0, last, "the weather files given", shape="choice"))
    return tuple(listed)


def _wet(machine: Machine) -> bool:
    """Whether a coil of this machine gives water back."""
    continuous = (machine.drivers[:, _FAN_MODE] == FAN_CONTINUOUS).any()
    return machine.plant.wet_time_s > 0.0 and bool(continuous)


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


@dataclass(frozen=True, eq=False)
class SensitivityStudy:
    """Swings one at a time, and all assumptions drawn together.

    keys : options compared with the reference
    weather_names : of the weather years swung, the case's own first
    option_years : solved for it
    drying : the results by drying control, side by side, where an option has stages or speeds
    elsewhere : of ``weather_names``, those of another site: tried alone, in no draw
    """

    keys: tuple[str, ...]
    assumed: tuple[Assumed, ...]
    weather_names: tuple[str, ...]
    sensitivity: Sensitivity
    draws: MonteCarlo
    likelihood: Mapping[str, Likelihood]
    option_years: int
    drying: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
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


def _drawn(assumed: Sequence[Assumed], own_years: int) -> list[Assumed]:
    """The assumptions that are drawn: weather of the case's own site alone."""
    last = float(own_years - 1)
    return [
        replace(one, high=min(one.high, last)) if one.name == WEATHER else one
        for one in assumed
        if one.name != WEATHER or own_years > 1
    ]


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
        self.machines = [[assemble(option, year) for option in options] for year in years]
        self.hours: list[list[BillingHours]] = [
            [
                billing_hours(machine.calendar, option.case.site.calendar_year)
                for option, machine in zip(options, machines, strict=True)
            ]
            for machines in self.machines
        ]

    def by_drying_control(self) -> dict[str, dict[str, float]]:
        """Results by drying control, each for all options that have one; none where none has."""
        if not any(dries_by_control(machine) for machine in self.machines[0]):
            return {}
        own = self.machines
        found = {}
        for word, code in DRYING_CONTROLS.items():
            self.machines = [[with_drying_control(m, code) for m in year] for year in own]
            found[word] = self({})
        self.machines = own
        return found

    def __call__(self, drawn: dict[str, float]) -> dict[str, float]:
        values = Values(**{FIELDS[name]: value for name, value in drawn.items()})
        place = round(values.weather)
        costs: dict[str, float] = {}
        shares: dict[str, float] = {}
        for option, machine, rates, hours in zip(
            self.options, self.machines[place], self.tariffs, self.hours[place], strict=True
        ):
            ledger = self.solve(changed(machine, values))
            bill = bill_of(rates, electricity_kW(ledger), gas_kW(ledger), hours)
            costs[option.key] = (
                values.electricity_price * (bill.electricity_charge - bill.electricity_fixed)
                + values.gas_price * bill.gas_energy_charge
                + bill.electricity_fixed
                + bill.gas_fixed
                + bill.carbon_charge
                + float(option.case.cost.upkeep_per_year)
            )
            recovered = float(column(ledger, "reheat_recovered_kWh").sum())
            reheat = recovered + float(column(ledger, "reheat_purchased_kWh").sum())
            shares[option.key] = recovered / reheat if reheat > 0.0 else np.nan
        results = {}
        for option in self.options:
            if option.key != self.reference:
                results[saving_name(option.key)] = costs[self.reference] - costs[option.key]
                results[share_name(option.key)] = shares[option.key]
        return results


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
    """Swing every assumption alone, then draw all of them together.

    Parameters
    ----------
    years : weather years, the case's own first; more than one and the weather is swung too. Years
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
    if assumed is None:
        assumed = ranges(evaluator.machines[0], _burns_gas(options), len(years), case.ranges)

    def step(what: str) -> Callable[[int, int], None]:
        return lambda done, total: progress(what, done, total) if progress else None

    swung = swings(
        assumed, evaluator, pool="thread", workers=workers, progress=step("swinging assumptions")
    )
    drawn = monte_carlo(
        _drawn(assumed, own_years),
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
        swung,
        drawn,
        likelihood,
        (runs + len(drying)) * len(options),
        drying,
        tuple(year.station.name for year in years[own_years:]),
    )


def elsewhere_said(found: SensitivityStudy) -> str:
    """That weather of another site is in no draw; "" where all is of one site."""
    if not found.elsewhere:
        return ""
    return (
        f"Weather of another site ({', '.join(found.elsewhere)}) is tried alone, one assumption at "
        "a time, and in no sample: a band is of one site."
    )


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


def value_text(name: str, value: float, names: Sequence[str], display: Display) -> str:
    """A value of an assumption as a reader sees it: "+3 % RH", "80 %", a weather file's name."""
    if name in FACTORS:
        return f"{100.0 * value:.0f} %"
    if name == WEATHER:
        return names[round(value)]
    if name == EFFECTIVENESS:
        return f"{100.0 * value:+.0f} points".replace("-", "−")
    if name in (DEW_SETPOINT, REHEAT_FLOOR):
        shown = value * (1.8 if display == "I-P" else 1.0)
        return f"{shown:+.1f} {'°F' if display == 'I-P' else 'K'}".replace("-", "−")
    return f"{100.0 * value:+.0f} % RH".replace("-", "−")
