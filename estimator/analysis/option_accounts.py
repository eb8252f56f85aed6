"""Accounts and money of all options of a case, from their solved years."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dewledger.accounts.bills import Tariff, annual_bill
from dewledger.accounts.costs import (
    Money,
    billing_hours,
    money_account,
    money_of,
    monthly_money,
    option_tariff,
)
from dewledger.accounts.energy import Annual, account, monthly_account, sums_of
from dewledger.assembly.machine import Machine
from dewledger.case import Case, OptionCase
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import WeatherYear


def tariffs_of(case: Case, options: Sequence[OptionCase]) -> list[Tariff]:
    """The tariff of every option; InputError where one counts in another currency."""
    return [option_tariff(option, case) for option in options]


def option_accounts(
    case: Case,
    machines: Sequence[Machine],
    ledgers: Sequence[FloatArray],
    year: WeatherYear,
    tariffs: Sequence[Tariff] | None,
) -> tuple[list[Annual], list[dict[str, FloatArray]], Money | None]:
    """Totals, months and money of every option, in their order.

    Parameters
    ----------
    machines, ledgers : of every option of the case, in its order
    tariffs : of every option; None leaves the money out
    """
    options = case.option_cases()
    reference = machines[[option.key for option in options].index(case.reference_key)]
    sums = [sums_of(ledger, year) for ledger in ledgers]
    annuals = [
        account(ledger, machine, reference, year, one)
        for ledger, machine, one in zip(ledgers, machines, sums, strict=True)
    ]
    months = [monthly_account(ledger, year, one) for ledger, one in zip(ledgers, sums, strict=True)]
    if tariffs is None:
        return annuals, months, None
    bills = {}
    for option, machine, one, rates, monthly in zip(
        options, machines, sums, tariffs, months, strict=True
    ):
        hours = billing_hours(machine.calendar, option.case.site.calendar_year)
        bills[option.key] = annual_bill(rates, one.electricity, one.gas, hours)
        monthly.update(monthly_money(rates, one.electricity, one.gas, hours))
    money = money_of(case, options, bills)
    for option, annual in zip(options, annuals, strict=True):
        annual.update(money_account(bills[option.key], money.life_cycle[option.key]))
    return annuals, months, money


def flat(annual: Annual) -> dict[str, Any]:
    """An annual account as one row: what is itself a table becomes columns."""
    row: dict[str, Any] = {}
    for name, value in annual.items():
        if isinstance(value, dict):
            stem = name.removesuffix("_by_cause")
            row |= {f"{stem}: {cause}": count for cause, count in value.items()}
        else:
            row[name] = value
    return row
