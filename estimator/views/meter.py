"""A study held against its owner's bills and trends, and what they leave of the answer."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from dewledger.accounts.bills import annual_bill
from dewledger.accounts.costs import billing_hours, option_tariff
from dewledger.accounts.energy import column, electricity_kW, gas_kW
from dewledger.accounts.option_year import OptionYear
from dewledger.analysis.assumed_ranges import ranges
from dewledger.analysis.assumptions import FIELDS, WEATHER, Values, changed
from dewledger.analysis.meter.bills import Bills, by_period, read_bills
from dewledger.analysis.meter.calibration import Calibration, Evidence, calibrate
from dewledger.analysis.meter.comparison import (
    MeterComparison,
    compare,
    require_actual,
)
from dewledger.analysis.meter.trends import TrendComparison, compare_trends, read_trends
from dewledger.analysis.monte_carlo import Assumed
from dewledger.analysis.observed_humidity import SCATTER, worst_humidity
from dewledger.assembly.machine import Machine, assemble
from dewledger.assembly.short_year import solve_short
from dewledger.assembly.year import read_weather
from dewledger.case.model import Case
from dewledger.hourly.ledger import NAMES
from dewledger.study import Study
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import WeatherYear

DEFAULT_DRAWS = 2000
DEFAULT_SEED = 1
# A humidity sensor of a building system reads 3 % RH either way, all year alike: common practice.
_SENSOR_SCATTER = 0.03
# Results of a draw with its bills and savings.
WORST, MEAN = "highest humidity", "mean humidity of the trends"
# Levers that are not tried as explanations of a bill: they change no energy.
_NO_ENERGY = ("electricity price", "gas price", WEATHER)


def _option(study: Study, key: str | None) -> OptionYear:
    """The option that stood on the meter."""
    wanted = key or study.case.reference_key
    for option in study.options:
        if option.key == wanted:
            return option
    known = ", ".join(option.key for option in study.options)
    raise InputError(f'option "{wanted}" is not in the study; write one of {known}')


def _bills(case: Case, bills: Bills | str | Path | pd.DataFrame | None) -> Bills:
    if isinstance(bills, Bills):
        return bills
    first_read = case.meter.first_read if case.meter is not None else None
    if bills is not None:
        return read_bills(bills, first_read)
    if case.meter is None:
        raise InputError('there are no bills; write [meter] with file = "bills.csv"')
    return read_bills(case.path_to(case.meter.file), first_read)


def _on_the_meter_W(option: OptionYear, whole_building: bool) -> FloatArray:
    """What is known to run on the meter besides the unit: lights and equipment, (8760,) W."""
    if not whole_building:
        return np.zeros(len(option.ledger[0]))
    return option.machine.lights_W + option.machine.equipment_W


def compare_with_meter(
    study: Study,
    bills: Bills | str | Path | pd.DataFrame | None = None,
    option: str | None = None,
    *,
    whole_building: bool | None = None,
    explain: bool = True,
) -> MeterComparison:
    """One option of a study held against bills of the same year.

    Parameters
    ----------
    study : on actual weather; bills of a typical year cannot be compared
    bills : CSV file, table or ``read_bills``; default the case's [meter]
    option : key of what stood there; default [meter] option, then the reference
    whole_building : whether the rest of the building is on the meter; default [meter] covers
    explain : try each assumption's range for what would bring the bills that do not fit nearer

    Raises
    ------
    InputError : typical weather, bills that cannot be read, fewer than three inside the year
    """
    year = require_actual(study.weather)
    case = study.case
    meter = case.meter
    solved = _option(study, option or (meter.option if meter else None))
    found = _bills(case, bills)
    if whole_building is None:
        whole_building = meter is not None and meter.covers == "whole building"
    beside_kW = _on_the_meter_W(solved, whole_building) / 1000.0
    compared = compare(
        electricity_kW(solved.ledger) + beside_kW,
        gas_kW(solved.ledger),
        found,
        year,
        solved.key,
        whole_building,
    )
    if not explain or bool(compared.monthly.get("fits", pd.Series([True])).all()):
        return compared
    return replace(
        compared,
        explanations=_explanations(solved, found, year, compared, whole_building, case),
    )


def _explanations(
    solved: OptionYear,
    bills: Bills,
    year: int,
    compared: MeterComparison,
    whole_building: bool,
    case: Case,
) -> tuple[str, ...]:
    """Assumptions whose ends bring the bills that do not fit nearer, the best first."""
    beside_kW = _on_the_meter_W(solved, whole_building) / 1000.0
    days = np.array([(end - start).days for start, end in zip(bills.start, bills.end, strict=True)])
    start = {period: i for i, period in enumerate(bills.start)}
    places = np.array([start[period] for period in compared.monthly["start"]])
    off = ~compared.monthly["fits"].to_numpy(dtype=bool)
    measured = bills.electricity_kWh[places]
    modeled = compared.monthly["modeled_kWh"].to_numpy()
    before = float(np.nansum((measured - modeled)[off] ** 2))
    found = []
    for one in ranges([solved.machine], False, 1, case.ranges, [solved.option]):
        if one.name in _NO_ENERGY:
            continue
        for value, word in ((one.low, "lower"), (one.high, "higher")):
            machine = changed(solved.machine, Values(**{FIELDS[one.name]: value}))
            hourly = solve_short(machine)["electricity_kWh"] + beside_kW
            moved = by_period(hourly, bills, year)[places] + compared.base_kW * 24.0 * days[places]
            gained = 1.0 - float(np.nansum((measured - moved)[off] ** 2)) / max(before, 1e-12)
            if gained > 0.05:
                found.append((gained, f"{one.name} {word} than assumed"))
    return tuple(text for _, text in sorted(found, reverse=True)[:3])


def compare_with_trends(study: Study, option: str | None = None) -> TrendComparison:
    """The ledger of one option against the case's trend data of the same hours.

    Raises
    ------
    InputError : no [trend], typical weather, or a file that cannot be read
    """
    trend = study.case.trend
    if trend is None:
        raise InputError('there are no trends; write [trend] with file = "trends.csv"')
    year = require_actual(study.weather)
    solved = _option(study, option or trend.option)
    read = read_trends(trend, study.case.folder, year, study.weather.station.utc_offset_h)
    ledger = {name: column(solved.ledger, name) for name in NAMES}
    return compare_trends(read, ledger, solved.machine.range_high, solved.key)


def with_measurements(
    study: Study,
    draws: int | None = None,
    seed: int = DEFAULT_SEED,
    progress: Callable[[int, int], None] | None = None,
) -> Study:
    """The study with what its case's [meter] and [trend] say of it.

    draws : of the uncertain inputs, weighed by the bills; None for no calibration
    """
    case = study.case
    _typical(case)  # a year that cannot be read is said, calibration or not
    meter = compare_with_meter(study) if case.meter is not None else None
    trend = compare_with_trends(study) if case.trend is not None else None
    found = None
    if meter is not None and draws is not None and len(study.options) > 1:
        found = calibrate_study(study, draws=draws, seed=seed, progress=progress)
    return replace(study, meter=meter, trend=trend, calibration=found)


def energy_saving_name(key: str) -> str:
    """Name of the result that is an option's yearly saving of site energy against today's unit."""
    return f"energy saving of {key}"


def cost_saving_name(key: str) -> str:
    """Name of the result that is an option's yearly saving of energy cost against today's unit."""
    return f"cost saving of {key}"


def normalized(name: str) -> str:
    """Name of the same saving in the typical year that [meter] names (IPMVP: normalized saving)."""
    return f"normalized {name}"


class PeriodEvaluator:
    """Bills of today's unit and savings of the others at given values of the assumptions.

    ``measured``: "bill 0" to "bill n - 1" in kWh, "gas bill 0" and so on, the highest humidity of
    the room, and its mean over the hours of the trends. ``savings``: for every other option its
    saving of site energy (kWh) and of energy cost against today's.

    The savings are avoided energy in the sense of IPMVP option D, calibrated simulation: today's
    unit as the bills leave it, less the other, in the weather of the bills; with a typical year
    also normalized savings, both units in that year.

    seen : hours of the trends that have a room humidity; None without trends
    typical : a typical year of the place, for normalized savings
    """

    def __init__(
        self,
        case: Case,
        weather: WeatherYear,
        bills: Bills,
        today: str,
        whole_building: bool,
        seen: npt.NDArray[np.bool_] | None = None,
        typical: WeatherYear | None = None,
    ) -> None:
        options = case.option_cases()
        self.today = today
        self.bills = bills
        self.year = require_actual(weather)
        self.options = options
        self.seen = seen
        self.machines = {option.key: assemble(option, weather) for option in options}
        self.typical = (
            {} if typical is None else {option.key: assemble(option, typical) for option in options}
        )
        self.tariffs = {option.key: option_tariff(option, case) for option in options}
        self.hours = {
            option.key: billing_hours(
                self.machines[option.key].calendar, option.case.site.calendar_year
            )
            for option in options
        }
        stood = self.machines[today]
        self.beside_kW = (
            (stood.lights_W + stood.equipment_W) / 1000.0
            if whole_building
            else np.zeros(len(stood.lights_W))
        )
        self.names = tuple(f"bill {i}" for i in range(len(bills)))
        self.gas_names = tuple(f"gas {name}" for name in self.names)

    def measured(self, drawn: dict[str, float]) -> dict[str, float]:
        """What is measured of today's unit, as modeled: one year, that every draw is weighed by."""
        values = Values(**{FIELDS[name]: value for name, value in drawn.items()})
        return self._measured(solve_short(changed(self.machines[self.today], values)))

    def savings(self, drawn: dict[str, float]) -> dict[str, float]:
        """What the other options save, a year of each."""
        values = Values(**{FIELDS[name]: value for name, value in drawn.items()})
        results = self._savings(values, self.machines)
        in_typical_year = self._savings(values, self.typical)
        return results | {normalized(name): saved for name, saved in in_typical_year.items()}

    def _savings(self, values: Values, machines: Mapping[str, Machine]) -> dict[str, float]:
        """Savings of energy [kWh] and cost against today's in the weather of the machines."""
        energy: dict[str, float] = {}
        cost: dict[str, float] = {}
        for key, machine in machines.items():
            ledger = solve_short(changed(machine, values))
            power, fuel = ledger["electricity_kWh"], ledger["gas_kWh"]
            bill = annual_bill(self.tariffs[key], power, fuel, self.hours[key])
            energy[key] = float(power.sum() + fuel.sum())
            cost[key] = (
                values.electricity_price * (bill.electricity_charge - bill.electricity_fixed)
                + values.gas_price * bill.gas_energy_charge
                + bill.electricity_fixed
                + bill.gas_fixed
                + bill.carbon_charge
            )
        results: dict[str, float] = {}
        for key in machines:
            if key != self.today:
                results[energy_saving_name(key)] = energy[self.today] - energy[key]
                results[cost_saving_name(key)] = cost[self.today] - cost[key]
        return results

    def _measured(self, ledger: dict[str, FloatArray]) -> dict[str, float]:
        """What is measured of today's unit, as modeled."""
        electricity = ledger["electricity_kWh"] + self.beside_kW
        found = {WORST: worst_humidity(ledger["room_rh_frac"])}
        if self.seen is not None:
            found[MEAN] = float(ledger["room_rh_frac"][self.seen].mean())
        for names, hourly in ((self.names, electricity), (self.gas_names, ledger["gas_kWh"])):
            periods = by_period(hourly, self.bills, self.year)
            found.update(zip(names, map(float, periods), strict=True))
        return found


def _typical(case: Case) -> WeatherYear | None:
    """The typical year that [meter] names, at the place of the case; None where it names none."""
    if case.meter is None or case.meter.typical_weather is None:
        return None
    year = read_weather(case.with_values({"site.weather": case.meter.typical_weather}))
    if year.station.kind == "actual":
        raise InputError(
            f"[meter] typical_weather {year.station.name} is the actual year {year.station.year}; "
            "name a typical year, or leave the key out"
        )
    return year


def calibrate_study(
    study: Study,
    bills: Bills | str | Path | pd.DataFrame | None = None,
    option: str | None = None,
    *,
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
    assumed: tuple[Assumed, ...] | None = None,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Calibration:
    """The uncertain inputs of a study weighed by its bills, and the savings that they leave.

    A fit is no proof: it says which draws of the stated ranges agree with the bills.

    Raises
    ------
    InputError : typical weather, bills that cannot be read, fewer than three inside the year
    """
    case = study.case
    meter = case.meter
    today = _option(study, option or (meter.option if meter else None)).key
    found = _bills(case, bills)
    whole = meter is not None and meter.covers == "whole building"
    humidity = _measured_humidity(study, today)
    seen = None if humidity is None else np.isfinite(humidity)
    evaluator = PeriodEvaluator(case, study.weather, found, today, whole, seen, _typical(case))
    if assumed is None:
        machines = list(evaluator.machines.values())
        burns = any(source.carrier == "gas" for machine in machines for source in machine.reheat)
        assumed = ranges(machines, burns, 1, case.ranges)
    evidence = evidence_of(found, evaluator, float(meter.scatter) if meter else 0.05, whole)
    seen_high = _option(study, today).option.case.humidity.observed_high
    evidence = replace(evidence, others=(*evidence.others, *_of_humidity(seen_high, humidity)))
    return calibrate(
        assumed,
        evaluator.measured,
        evidence,
        draws=draws,
        seed=seed,
        workers=workers,
        progress=progress,
        outcomes=evaluator.savings,
    )


def evidence_of(
    bills: Bills, evaluator: PeriodEvaluator, scatter: float, whole_building: bool
) -> Evidence:
    """The bills as what draws are weighed by; those outside the year are left out."""
    inside = np.isfinite(by_period(np.ones(8760), bills, evaluator.year))
    measured = np.where(inside, bills.electricity_kWh, np.nan)
    if np.isfinite(measured).sum() < 3:
        raise InputError(
            f"{bills.name} has fewer than 3 electricity bills that lie wholly inside "
            f"{evaluator.year}, the year of the weather; give more of them"
        )
    days = np.array([(end - start).days for start, end in zip(bills.start, bills.end, strict=True)])
    sigma = np.full(len(bills), scatter * float(np.nanmean(measured)))
    gas = np.where(inside, bills.gas_kWh, np.nan)
    others: tuple[Evidence, ...] = ()
    # Gas of a whole building is no steady load next to the unit's.
    if not whole_building and np.isfinite(gas).sum() >= 3 and float(np.nanmean(gas)) > 0.0:
        # A share of both fuels together: a little gas for heating says little of the unit.
        of_gas = np.full(len(bills), scatter * float(np.nanmean(gas) + np.nanmean(measured)))
        others = (Evidence(evaluator.gas_names, gas, of_gas),)
    return Evidence(
        evaluator.names, measured, sigma, days.astype(float) if whole_building else None, others
    )


def _of_humidity(seen_high: float | None, trend: FloatArray | None) -> list[Evidence]:
    """What users see at worst, and the mean humidity of the trends: one value each."""
    found = []
    if seen_high is not None:
        found.append(Evidence((WORST,), np.array([seen_high]), np.array([SCATTER])))
    if trend is not None:
        mean = np.array([float(np.nanmean(trend))])
        found.append(Evidence((MEAN,), mean, np.array([_SENSOR_SCATTER])))
    return found


def _measured_humidity(study: Study, today: str) -> FloatArray | None:
    """Hourly room humidity of today's unit by the trends, (8760,), NaN where not measured."""
    trend = study.case.trend
    if trend is None or "room_relative_humidity" not in trend.columns:
        return None
    if (trend.option or study.case.reference_key) != today:
        return None
    year = require_actual(study.weather)
    read = read_trends(trend, study.case.folder, year, study.weather.station.utc_offset_h)
    humidity = read.values["room_relative_humidity"]
    return humidity if np.isfinite(humidity).any() else None
