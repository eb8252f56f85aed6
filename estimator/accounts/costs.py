"""What each option's year costs and carries, and whether its first cost pays.

The bill is of the modeled equipment alone, from its hourly electricity and gas. Prices are those
of the option's own case; life and rates are those of the whole case, so that all options are
weighed alike.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from dewledger.accounts.bills import Bill, BillingHours, Tariff, billed_demand, tariff
from dewledger.accounts.life_cycle import Economics, LifeCycle, compare, economics
from dewledger.accounts.price_origins import Assumption, assumptions
from dewledger.assembly.calendar import Calendar
from dewledger.case import Case, OptionCase
from dewledger.case.prices import check_currency
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import calendar as standard_calendar

if TYPE_CHECKING:
    from dewledger.accounts.energy import Annual


@lru_cache(maxsize=32)
def billing_hours(calendar: Calendar, calendar_year: int) -> BillingHours:
    """Month, weekday and clock hour of each hour, holidays counting as no weekdays.

    A closure of the room is the room's own: the tariff does not know it.
    """
    standard = standard_calendar()
    month = standard["month"]
    weekday = calendar.weekday < 5
    free = [held.toordinal() for held, _ in calendar.holidays]
    if free:
        days = standard["day"][::24]
        ordinals = [
            date(calendar_year, int(m), int(d)).toordinal()
            for m, d in zip(month[::24], days, strict=True)
        ]
        # In summer time the last hour before midnight belongs to the next day of the clock.
        next_day = calendar.clock_hour < standard["hour"]
        weekday = weekday & ~np.isin(np.repeat(ordinals, 24) + next_day, free)
    for array in (month, weekday):
        array.setflags(write=False)
    return BillingHours(month, weekday, calendar.clock_hour)


@dataclass(frozen=True)
class Money:
    """The money side of a study, by option key.

    assumptions : every number the figures rest on, of the whole case, with its origin
    own_prices : the same of options that state prices of their own
    """

    currency: str
    terms: Economics
    assumptions: tuple[Assumption, ...]
    own_prices: Mapping[str, tuple[Assumption, ...]]
    bills: Mapping[str, Bill]
    life_cycle: Mapping[str, LifeCycle]


def option_tariff(option: OptionCase, case: Case) -> Tariff:
    """The tariff of an option.

    Raises
    ------
    InputError : the option's costs are in another currency than the case
    """
    check_currency(option.case.cost, case.prices.currency, f'cost of option "{option.key}": ')
    return tariff(option.case.prices, option.case.folder)


def weigh(
    case: Case, options: tuple[OptionCase, ...], bills: Mapping[str, Bill]
) -> dict[str, LifeCycle]:
    """Every option's life-cycle figures against the reference."""
    costs = {option.key: option.case.cost for option in options}
    return compare(economics(case.prices), bills, costs, case.reference_key)


def money_of(case: Case, options: tuple[OptionCase, ...], bills: Mapping[str, Bill]) -> Money:
    """The bills of a study with what they rest on and what they mean over the life."""
    return Money(
        case.prices.currency,
        economics(case.prices),
        assumptions(case.prices),
        {
            option.key: assumptions(option.case.prices)
            for option in options
            if option.case.prices != case.prices
        },
        bills,
        weigh(case, options, bills),
    )


def money_account(bill: Bill, life_cycle: LifeCycle) -> Annual:
    """What the annual account says of money and carbon; costs in the currency of the case."""
    return {
        "electricity_cost": bill.electricity_charge,
        "gas_cost": bill.gas_charge,
        "carbon_cost": bill.carbon_charge,
        "energy_cost": bill.total,
        "upkeep_cost": life_cycle.annual_cost - bill.total,
        "cost_saving": life_cycle.annual_saving,
        "carbon_kg": bill.carbon_kg,
        "site_kWh": bill.site_kWh,
        "source_kWh": bill.source_kWh,
    }


def monthly_money(
    rates: Tariff, electricity_kW: FloatArray, gas_kW: FloatArray, hours: BillingHours
) -> dict[str, FloatArray]:
    """Costs, carbon and source energy of each month, 12 each; costs in the tariff's currency.

    The months add up to the annual bill.
    """
    peak_kW = hours.peaks(electricity_kW)
    demand = rates.demand_price * billed_demand(peak_kW, rates.ratchet_frac, rates.ratchet_months)
    electricity = hours.by_month(electricity_kW)
    gas = hours.by_month(gas_kW)
    carbon = hours.by_month(electricity_kW * rates.carbon_electricity) + gas * rates.carbon_gas
    prices = rates.period_prices[hours.periods(rates.period_table)]
    energy_cost = hours.by_month(electricity_kW * prices)
    electricity_cost = energy_cost + demand + rates.electricity_monthly
    gas_cost = gas * rates.gas_price + (rates.gas_monthly if gas.sum() > 0.0 else 0.0)
    carbon_cost = carbon * rates.carbon_price
    return {
        "electricity_cost": electricity_cost,
        "demand_cost": demand,
        "gas_cost": gas_cost,
        "carbon_cost": carbon_cost,
        "energy_cost": electricity_cost + gas_cost + carbon_cost,
        "carbon_kg": carbon,
        "source_kWh": electricity * rates.source_electricity + gas * rates.source_gas,
    }
