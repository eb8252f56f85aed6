"""Modeled against measured energy, bill by bill, with the two figures of calibration practice.

NMBE and CV(RMSE) as ASHRAE Guideline 14 has them for monthly bills (limits 5 % and 15 %; read
second-hand, not checked against the guideline's text), with one adjustable parameter.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from dewledger.analysis.meter.bills import Bills, by_period
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import WeatherYear

if TYPE_CHECKING:
    import pandas as pd

NMBE_LIMIT = 0.05
CV_RMSE_LIMIT = 0.15
LIMITS_SOURCE = "ASHRAE Guideline 14-2014, monthly bills"
LIMITS_STANDING = "read second-hand"
LEAST_PERIODS = 3
# A period is said not to fit where it is off by more than this share of the mean bill.
MISFIT = 0.15

FIT_IS_NO_PROOF = (
    "A fit is no proof: other inputs may fit the same bills as well, and a saving is only as sure "
    "as what the bills can distinguish."
)


@dataclass(frozen=True)
class Fit:
    """How well modeled periods meet measured ones; shares of the mean measured one.

    nmbe : sum(measured - modeled) / ((n - 1) mean measured); positive where the model is low
    cv_rmse : sqrt(sum((measured - modeled)^2) / (n - 1)) / mean measured
    explained : share of the variance between periods that the model follows (1 - residual over
        total sum of squares); None where the periods do not differ
    periods : how many were compared
    """

    nmbe: float
    cv_rmse: float
    explained: float | None
    periods: int

    @property
    def within_limits(self) -> bool:
        """Whether both figures are inside the guideline's limits for monthly bills."""
        return abs(self.nmbe) <= NMBE_LIMIT and self.cv_rmse <= CV_RMSE_LIMIT


def fit(measured: FloatArray, modeled: FloatArray) -> Fit:
    """Figures of fit over the periods that both have.

    Raises
    ------
    InputError : fewer than three such periods, or a mean of zero
    """
    both = np.isfinite(measured) & np.isfinite(modeled)
    m, s = measured[both], modeled[both]
    n = len(m)
    if n < LEAST_PERIODS:
        raise InputError(
            f"only {n} of the bills can be compared with the year modeled; give at least "
            f"{LEAST_PERIODS} that lie wholly inside it"
        )
    mean = float(m.mean())
    if mean <= 0.0:
        raise InputError("the bills add up to nothing, so that no share of them can be computed")
    spread = float(((m - mean) ** 2).sum())
    residual = float(((m - s) ** 2).sum())
    return Fit(
        nmbe=float((m - s).sum()) / ((n - 1) * mean),
        cv_rmse=float(np.sqrt(residual / (n - 1))) / mean,
        explained=1.0 - residual / spread if spread > 1e-12 * mean * mean else None,
        periods=n,
    )


@dataclass(frozen=True, eq=False)
class MeterComparison:
    """Bills against the model, period by period.

    monthly : one row a bill: start, end, days, measured_kWh, modeled_kWh (base load included),
        base_kWh, difference_kWh, fits; gas_measured_kWh and gas_modeled_kWh where gas is billed;
        demand_kW and modeled_peak_kW where demand is
    electricity, gas : figures of fit; None where the bills do not show it
    base_kW : steady load fitted for what else runs on the meter; 0 where the unit is alone on it
    explanations : what would bring the periods that do not fit nearer, best first
    """

    option: str
    year: int
    monthly: pd.DataFrame
    electricity: Fit | None
    gas: Fit | None
    base_kW: float
    explanations: tuple[str, ...] = ()

    @property
    def nmbe(self) -> float:
        """Normalized mean bias error of electricity (of gas where no electricity is billed)."""
        return self._leading.nmbe

    @property
    def cv_rmse(self) -> float:
        """Coefficient of variation of the root mean square error, likewise."""
        return self._leading.cv_rmse

    @property
    def _leading(self) -> Fit:
        found = self.electricity or self.gas
        assert found is not None
        return found

    def __repr__(self) -> str:
        verdict = "within" if self._leading.within_limits else "outside"
        return (
            f"MeterComparison({self.option}, {self.year}: NMBE {100 * self.nmbe:+.1f} %, "
            f"CV(RMSE) {100 * self.cv_rmse:.1f} % over {self._leading.periods} bills; {verdict} "
            f"the limits of {LIMITS_SOURCE})"
        )


def require_actual(weather: WeatherYear) -> int:
    """The calendar year of actual weather.

    Raises
    ------
    InputError : the weather is a typical year, or does not say that it is an actual one
    """
    station = weather.station
    if station.kind == "actual" and station.year is not None:
        return station.year
    what = (
        "is a typical year, put together from months of many years"
        if station.kind == "typical"
        else "does not say which calendar year it is"
    )
    raise InputError(
        f'the weather "{station.name}" {what}, and bills can only be compared with the weather of '
        'their own year; get it, for example by dewledger weather --at "27.95, -82.46" --year 2023 '
        "--save actual.csv"
    )


def base_load(
    measured: FloatArray, modeled: FloatArray, days: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Steady load [kWh/day] that brings modeled periods nearest to measured ones, at least 0.

    Least squares of measured = modeled + load x days over the periods that all have; ``modeled``
    may be (draws, periods). Returns the load and the modeled periods with it.
    """
    both = np.isfinite(measured) & np.isfinite(modeled)
    d = np.where(both, days, 0.0)
    gap = np.where(both, measured - modeled, 0.0)
    load = np.maximum((gap * d).sum(axis=-1) / np.maximum((d * d).sum(axis=-1), 1e-12), 0.0)
    return load, modeled + load[..., None] * days


def compare(
    electricity_kW: FloatArray,
    gas_kW: FloatArray,
    bills: Bills,
    year: int,
    option: str,
    whole_building: bool,
) -> MeterComparison:
    """Hourly modeled energy of one option held against its bills.

    Parameters
    ----------
    electricity_kW, gas_kW : (8760,) of local standard time; what runs on the meter and is known
    year : calendar year of the weather
    whole_building : whether a steady base load is fitted for the rest of the building

    Raises
    ------
    InputError : fewer than three bills lie wholly inside the year
    """
    import pandas as pd

    days = np.array([(end - start).days for start, end in zip(bills.start, bills.end, strict=True)])
    modeled = by_period(electricity_kW, bills, year)
    known = np.isfinite(modeled)
    if known.sum() < LEAST_PERIODS:
        raise InputError(
            f"{bills.name} has {int(known.sum())} bills that lie wholly inside {year}, the year of "
            f"the weather; give at least {LEAST_PERIODS} of them"
        )
    base = 0.0
    if whole_building and np.isfinite(bills.electricity_kWh).any():
        load, modeled = base_load(bills.electricity_kWh, modeled, days.astype(float))
        base = float(load)
    table = pd.DataFrame({"start": bills.start, "end": bills.end, "days": days})
    electricity = gas = None
    if np.isfinite(bills.electricity_kWh).any():
        table["measured_kWh"] = bills.electricity_kWh
        table["modeled_kWh"] = modeled
        table["base_kWh"] = np.where(known, base * days, np.nan)
        table["difference_kWh"] = bills.electricity_kWh - modeled
        electricity = fit(bills.electricity_kWh, modeled)
        mean = float(np.nanmean(bills.electricity_kWh[known]))
        table["fits"] = np.abs(table["difference_kWh"]) <= MISFIT * mean
    if np.isfinite(bills.gas_kWh).any():
        table["gas_measured_kWh"] = bills.gas_kWh
        table["gas_modeled_kWh"] = by_period(gas_kW, bills, year)
        gas = fit(bills.gas_kWh, table["gas_modeled_kWh"].to_numpy())
    if np.isfinite(bills.demand_kW).any():
        table["demand_kW"] = bills.demand_kW
        table["modeled_peak_kW"] = _peaks(electricity_kW + base / 24.0, bills, year)
    return MeterComparison(
        option, year, table[known].reset_index(drop=True), electricity, gas, base / 24.0
    )


def _peaks(hourly_kW: FloatArray, bills: Bills, year: int) -> FloatArray:
    """Highest hour of each period inside the year."""
    import pandas as pd

    peaks = np.full(len(bills), np.nan)
    hours = pd.date_range(f"{year}-01-01", f"{year}-12-31 23:00", freq="h")
    hours = hours[~((hours.month == 2) & (hours.day == 29))]
    for i, (start, end) in enumerate(zip(bills.start, bills.end, strict=True)):
        inside = (hours >= pd.Timestamp(start)) & (hours < pd.Timestamp(end))
        if inside.any():
            peaks[i] = hourly_kW[inside].max()
    return peaks
