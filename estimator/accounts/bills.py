"""A year of hourly use becomes a bill: charges, purchased and source energy, carbon."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import numpy as np
import numpy.typing as npt

from dewledger.accounts.price_origins import settled
from dewledger.case.prices import Prices, months_of, period_table
from dewledger.quantities import parse
from dewledger.weather.errors import InputError
from dewledger.weather.files.case_tables import numbers_of, read_csv_table

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

HOURS_PER_YEAR = 8760


@dataclass(frozen=True, eq=False)
class Tariff:
    """Prices settled into numbers: money in ``currency``, energy in kWh, carbon in kg of CO2."""

    currency: str
    period_names: tuple[str, ...]
    period_prices: FloatArray  # money/kWh, one per period
    period_table: IntArray  # (12, 2, 24): period of each month, weekday/weekend, hour
    electricity_monthly: float
    demand_price: float  # money per kW of billed demand per month
    ratchet_frac: float
    ratchet_months: tuple[int, ...]  # 0..11
    gas_price: float  # money/kWh
    gas_monthly: float
    carbon_electricity: float | FloatArray  # kg/kWh, or (8760,)
    carbon_gas: float  # kg/kWh
    carbon_price: float  # money/kg
    source_electricity: float
    source_gas: float


def read_carbon_hourly(path: Path) -> FloatArray:
    """Hourly carbon factors of electricity, kg/kWh, shape (8760,), from a CSV file.

    One column's heading is the unit ("kg/MWh", "lb/MWh", "kg/kWh"); other columns are ignored. One
    row per hour of the weather year, from 1 January 00:00 local standard time.

    Raises
    ------
    InputError : no such file, no such heading, not 8760 rows, a cell that is not a number >= 0
    """
    table = read_csv_table(path, f'carbon_hourly "{path.name}"', "carbon_hourly")
    columns = []
    for column, heading in enumerate(table.columns):
        try:
            columns.append((column, float(parse(f"1 {heading}", "carbon per energy"))))
        except InputError:
            continue
    if len(columns) != 1:
        raise InputError(
            f'carbon_hourly "{path.name}" has {len(columns)} columns headed with a unit of carbon '
            'per energy; head exactly one with, for example, "kg/MWh"'
        )
    if len(table) != HOURS_PER_YEAR:
        raise InputError(
            f'carbon_hourly "{path.name}" has {len(table)} rows below its heading; '
            f"give {HOURS_PER_YEAR}, one per hour of a year without a leap day"
        )
    column, factor = columns[0]
    cells = table.iloc[:, column]
    values, wrong = numbers_of(cells)
    below = np.flatnonzero(values < 0.0)
    first = min([*([] if wrong is None else [wrong]), *below[:1]], default=None)
    if first is not None:
        raise InputError(
            f'carbon_hourly "{path.name}" has "{cells.iloc[first]}" in hour {first + 1} of the '
            "year; write a number of zero or more"
        )
    return values * factor


def tariff(prices: Prices, folder: Path) -> Tariff:
    """The prices of a case as numbers; ``folder`` is where a relative carbon_hourly path starts."""
    if prices.electricity_periods:
        names = tuple(period.name for period in prices.electricity_periods)
        period_prices = [float(period.price) for period in prices.electricity_periods]
        table = period_table(prices.electricity_periods)
    else:
        names, period_prices = ("all hours",), [settled(prices, "electricity")[0]]
        table = np.zeros((12, 2, 24), dtype=np.int64)
    carbon: float | FloatArray
    if prices.carbon_hourly is not None:
        carbon = read_carbon_hourly(folder / prices.carbon_hourly)
    else:
        carbon = settled(prices, "carbon_electricity")[0]
    return Tariff(
        currency=prices.currency,
        period_names=names,
        period_prices=np.array(period_prices),
        period_table=table,
        electricity_monthly=settled(prices, "electricity_monthly")[0],
        demand_price=settled(prices, "demand")[0],
        ratchet_frac=settled(prices, "demand_ratchet")[0],
        ratchet_months=tuple(months_of(prices.demand_ratchet_months)),
        gas_price=settled(prices, "gas")[0],
        gas_monthly=settled(prices, "gas_monthly")[0],
        carbon_electricity=carbon,
        carbon_gas=settled(prices, "carbon_gas")[0],
        carbon_price=settled(prices, "carbon_price")[0],
        source_electricity=settled(prices, "source_electricity")[0],
        source_gas=settled(prices, "source_gas")[0],
    )


@dataclass(frozen=True)
class PeriodUse:
    """What one price period of the tariff saw in the year."""

    name: str
    hours: int
    electricity_kWh: float
    charge: float


@dataclass(frozen=True)
class Bill:
    """One option's year. Money in the tariff's currency, months January first."""

    currency: str
    electricity_kWh: float
    gas_kWh: float
    periods: tuple[PeriodUse, ...]
    energy_charge: float
    peak_kW: tuple[float, ...]  # highest hour of each month
    billed_demand_kW: tuple[float, ...]  # after the ratchet
    demand_charges: tuple[float, ...]
    electricity_fixed: float
    gas_energy_charge: float
    gas_fixed: float
    carbon_kg: float  # CO2 of both sources
    carbon_electricity_kg: float
    carbon_gas_kg: float
    carbon_charge: float
    source_kWh: float

    @property
    def demand_charge(self) -> float:
        """Demand charges of the year."""
        return sum(self.demand_charges)

    @property
    def electricity_charge(self) -> float:
        """Energy, demand and fixed charges of electricity."""
        return self.energy_charge + self.demand_charge + self.electricity_fixed

    @property
    def gas_charge(self) -> float:
        """Energy and fixed charges of gas."""
        return self.gas_energy_charge + self.gas_fixed

    @property
    def total(self) -> float:
        """All that is paid in the year, a carbon price included where there is one."""
        return self.electricity_charge + self.gas_charge + self.carbon_charge

    @property
    def site_kWh(self) -> float:
        """Electricity and gas as they cross the meter."""
        return self.electricity_kWh + self.gas_kWh


@dataclass(frozen=True, eq=False)
class BillingHours:
    """How a tariff counts the hours of the year; arrays of 8760.

    month : 1..12, of local standard time, rising
    weekday : True where the tariff counts the day as a weekday (a holiday is not one)
    hour : 0..23 on the clock
    """

    month: npt.NDArray[np.integer]
    weekday: npt.NDArray[np.bool_]
    hour: npt.NDArray[np.integer]
    _periods: dict[bytes, IntArray] = field(default_factory=dict, init=False, repr=False)

    def __post_init__(self) -> None:
        for name in ("month", "weekday", "hour"):
            array = getattr(self, name)
            if array.shape != (HOURS_PER_YEAR,):
                raise ValueError(f"{name} has shape {array.shape}, not ({HOURS_PER_YEAR},)")

    @cached_property
    def _first(self) -> IntArray:
        """The first hour of each month."""
        return np.searchsorted(self.month, np.arange(1, 13)).astype(np.int64)

    def by_month(self, values: FloatArray) -> FloatArray:
        """Sums of the months, (12,), of (8760,)."""
        sums: FloatArray = np.add.reduceat(values, self._first)
        return sums

    def peaks(self, values: FloatArray) -> FloatArray:
        """The highest of each month, (12,), of (8760,)."""
        highest: FloatArray = np.maximum.reduceat(values, self._first)
        return highest

    def periods(self, table: IntArray) -> IntArray:
        """The price period of each hour, (8760,), of a tariff's ``period_table``."""
        key = table.tobytes()
        found = self._periods.get(key)
        if found is None:
            found = table[self.month - 1, np.where(self.weekday, 0, 1), self.hour]
            self._periods.clear()  # options nearly always share one
            self._periods[key] = found
        return found


def billed_demand(peak_kW: FloatArray, ratchet_frac: float, months: tuple[int, ...]) -> FloatArray:
    """Demand billed each month, kW: the month's own peak, or the ratchet where that is more.

    The ratchet is ``ratchet_frac`` of the highest peak among the ratchet ``months`` (0..11) of the
    twelve that end with the billed one. A typical year repeats, so those twelve are the whole year
    whichever month is billed.
    """
    if ratchet_frac == 0.0:
        return peak_kW
    floor_kW = ratchet_frac * float(peak_kW[list(months)].max())
    return np.where(peak_kW > floor_kW, peak_kW, floor_kW)


def annual_bill(
    tariff: Tariff, electricity_kW: FloatArray, gas_kW: FloatArray, hours: BillingHours
) -> Bill:
    """The bill of one year's use.

    Demand is the highest hourly mean of the modeled equipment alone: a meter that reads quarter
    hours finds as much or more, and a building that peaks at another hour pays less for it. The
    monthly gas charge is due only where the option burns gas at all.

    Parameters
    ----------
    electricity_kW, gas_kW : mean of each hour, shape (8760,), zero or more; gas at its higher
        heating value
    hours : how the tariff counts them

    Raises
    ------
    ValueError : an array of another length, a value below zero or not finite
    """
    for name, array in (("electricity_kW", electricity_kW), ("gas_kW", gas_kW)):
        if array.shape != (HOURS_PER_YEAR,):
            raise ValueError(f"{name} has shape {array.shape}, not ({HOURS_PER_YEAR},)")
    for name, use in (("electricity_kW", electricity_kW), ("gas_kW", gas_kW)):
        if not (np.isfinite(use).all() and (use >= 0.0).all()):
            raise ValueError(f"{name} must be finite and zero or more in every hour")

    period = hours.periods(tariff.period_table)
    count = len(tariff.period_names)
    period_hours = np.bincount(period, minlength=count)
    period_kWh = np.bincount(period, weights=electricity_kW, minlength=count)
    period_charges = period_kWh * tariff.period_prices

    peak_kW = hours.peaks(electricity_kW)
    billed_kW = billed_demand(peak_kW, tariff.ratchet_frac, tariff.ratchet_months)

    electricity_kWh = float(electricity_kW.sum())
    gas_kWh = float(gas_kW.sum())
    carbon_electricity_kg = float(np.sum(electricity_kW * tariff.carbon_electricity))
    carbon_gas_kg = gas_kWh * tariff.carbon_gas
    carbon_kg = carbon_electricity_kg + carbon_gas_kg
    return Bill(
        currency=tariff.currency,
        electricity_kWh=electricity_kWh,
        gas_kWh=gas_kWh,
        periods=tuple(
            PeriodUse(name, int(hours), float(kWh), float(charge))
            for name, hours, kWh, charge in zip(
                tariff.period_names, period_hours, period_kWh, period_charges, strict=True
            )
        ),
        energy_charge=float(period_charges.sum()),
        peak_kW=tuple(peak_kW.tolist()),
        billed_demand_kW=tuple(billed_kW.tolist()),
        demand_charges=tuple((tariff.demand_price * billed_kW).tolist()),
        electricity_fixed=12.0 * tariff.electricity_monthly,
        gas_energy_charge=gas_kWh * tariff.gas_price,
        gas_fixed=12.0 * tariff.gas_monthly if gas_kWh > 0.0 else 0.0,
        carbon_kg=carbon_kg,
        carbon_electricity_kg=carbon_electricity_kg,
        carbon_gas_kg=carbon_gas_kg,
        carbon_charge=carbon_kg * tariff.carbon_price,
        source_kWh=(electricity_kWh * tariff.source_electricity + gas_kWh * tariff.source_gas),
    )
