"""Is an option worth its first cost? Life-cycle cost against the reference option.

Method of NIST Handbook 135 (life-cycle costing for the Federal Energy Management Program): real
rates, costs of each year at its end, all options over the same life, no residual value. Energy of
year t costs today's bill times (1 + escalation)^t.

Worked example, by hand. An option costs 6,500 more than the reference, saves 700 a year of
electricity and 100 a year of upkeep, for 15 years at 3 % and no escalation. The uniform present
value factor is (1 - 1.03^-15) / 0.03 = 11.938, so the savings are worth 800 x 11.938 = 9,550. Net
present value 9,550 - 6,500 = 3,050; savings-to-investment ratio 9,550 / 6,500 = 1.47; simple
payback 6,500 / 800 = 8.1 years; internal rate of return 8.9 %, the rate whose factor is 8.125; and
the option may cost up to 9,550 more than the reference and still pay.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from dewledger.accounts.bills import Bill
from dewledger.accounts.price_origins import settled
from dewledger.case.prices import OptionCost, Prices, check_currency
from dewledger.quantities import rounded
from dewledger.weather.errors import InputError


@dataclass(frozen=True)
class Economics:
    """Life and real rates per year, as fractions."""

    currency: str
    discount_rate: float
    life_years: int
    escalation_electricity: float
    escalation_gas: float


def economics(prices: Prices) -> Economics:
    """The life and rates of a case, defaults filled in."""
    return Economics(
        currency=prices.currency,
        discount_rate=settled(prices, "discount_rate")[0],
        life_years=round(settled(prices, "life")[0]),
        escalation_electricity=settled(prices, "escalation_electricity")[0],
        escalation_gas=settled(prices, "escalation_gas")[0],
    )


@dataclass(frozen=True)
class Answer:
    """A figure, or the one sentence that says why there is none."""

    value: float | None
    why: str = ""


@dataclass(frozen=True)
class LifeCycle:
    """One option against the reference. Money in ``currency``, present values at today's prices."""

    option: str
    reference: str
    currency: str
    annual_cost: float  # bill and upkeep of a year at today's prices
    annual_saving: float  # the reference's annual cost less this one's
    savings_present_value: float
    extra_first_cost: Answer
    life_cycle_cost: Answer
    net_present_value: Answer
    simple_payback_years: Answer
    internal_rate_of_return: Answer  # fraction per year
    savings_to_investment_ratio: Answer
    break_even_extra_first_cost: float  # what it may cost above the reference and still pay
    break_even_first_cost: Answer
    verdict: str


def present_value_factor(discount_rate: float, years: int, escalation: float = 0.0) -> float:
    """Present value of 1 a year at today's prices, paid at the end of each of ``years`` years.

    sum of q^t for t = 1..years with q = (1 + escalation) / (1 + discount_rate): the uniform present
    value factor (UPV), or with escalation the modified one (UPV*), of NIST Handbook 135.
    """
    ratio = (1.0 + escalation) / (1.0 + discount_rate)
    return float(np.sum(ratio ** np.arange(1, years + 1)))


def _yearly_costs(bill: Bill, cost: OptionCost, terms: Economics) -> np.ndarray[Any, Any]:
    """Bill and upkeep of years 1..life, each at its own prices."""
    year = np.arange(1, terms.life_years + 1)
    return (
        bill.electricity_charge * (1.0 + terms.escalation_electricity) ** year
        + bill.gas_charge * (1.0 + terms.escalation_gas) ** year
        + bill.carbon_charge
        + float(cost.upkeep_per_year)
    )


def internal_rate_of_return(extra_first_cost: float, savings: np.ndarray[Any, Any]) -> Answer:
    """The discount rate at which the yearly savings just repay the extra first cost.

    Outlay negative, savings positive. There is no single such rate, and the answer says so, where
    nothing extra is spent, where no year saves, or where the savings change sign.
    """
    if extra_first_cost <= 0.0:
        return Answer(None, "not defined: the option costs no more than the reference")
    if not (savings > 0.0).any():
        return Answer(None, "not defined: no year saves anything")
    if (savings < 0.0).any():
        return Answer(None, "not defined: some years save and some lose")
    import numpy_financial

    return Answer(float(numpy_financial.irr(np.concatenate(([-extra_first_cost], savings)))))


def _missing(base: _Outlay, own: _Outlay) -> str:
    lacking = [one.option for one in (own, base) if one.first is None]
    return " and ".join(f'"{name}"' for name in lacking)


def _money(value: float, currency: str) -> str:
    return f"{rounded(value)} {currency}"


def _verdict(
    option: str, terms: Economics, present_value: float, net_present_value: float | None
) -> str:
    """The answer a buyer reads, in one or two sentences."""
    over = f"over {terms.life_years} years at {100.0 * terms.discount_rate:.1f} % a year"
    if present_value > 0.0:
        text = (
            f'"{option}": break-even added first cost over the reference '
            f"{_money(present_value, terms.currency)}, {over}."
        )
    else:
        text = (
            f'"{option}" never pays for a higher first cost, {over}; it would have to cost at '
            f"least {_money(-present_value, terms.currency)} less than the reference."
        )
    if net_present_value is None:
        return text
    if net_present_value >= 0.0:
        return f"{text} At its stated cost it gains {_money(net_present_value, terms.currency)}."
    return f"{text} At its stated cost it loses {_money(-net_present_value, terms.currency)}."


def compare(
    terms: Economics,
    bills: Mapping[str, Bill],
    costs: Mapping[str, OptionCost],
    reference: str,
) -> dict[str, LifeCycle]:
    """Every option's life-cycle figures against the reference option, in the order of ``bills``.

    An option without an entry in ``costs`` has no first cost stated. A figure that needs one says
    so; the bills and the break-even extra first cost do not need it.

    Raises
    ------
    InputError : the reference is not among the options; a cost in another currency
    """
    if reference not in bills:
        raise InputError(
            f'reference "{reference}" is not an option; write one of {", ".join(bills)}'
        )
    for name, cost in costs.items():
        check_currency(cost, terms.currency, f'cost of option "{name}": ')
    outlays = {
        name: _outlay(name, bill, costs.get(name, OptionCost()), terms)
        for name, bill in bills.items()
    }
    return {name: _against(outlays[reference], outlays[name], terms) for name in bills}


@dataclass(frozen=True)
class _Outlay:
    """What one option costs: at first, in a year at today's prices, in each year of its life."""

    option: str
    first: float | None  # None where not stated
    annual: float
    yearly: np.ndarray[Any, Any]


def _outlay(name: str, bill: Bill, cost: OptionCost, terms: Economics) -> _Outlay:
    return _Outlay(
        name,
        None if cost.first_cost is None else float(cost.first_cost),
        bill.total + float(cost.upkeep_per_year),
        _yearly_costs(bill, cost, terms),
    )


def _against(base: _Outlay, own: _Outlay, terms: Economics) -> LifeCycle:
    """One option's figures against the reference, ``base``."""
    discount = (1.0 + terms.discount_rate) ** -np.arange(1.0, terms.life_years + 1.0)
    savings = base.yearly - own.yearly
    present_value = float(savings @ discount)
    saving = base.annual - own.annual
    investment = _investment(base, own, savings, present_value)
    if own.first is None:
        life_cycle_cost = Answer(None, f'cannot be determined: needs first_cost of "{own.option}"')
    else:
        life_cycle_cost = Answer(own.first + float(own.yearly @ discount))
    if own is base:
        verdict = f'"{own.option}" is the reference.'
    else:
        net = investment["net_present_value"].value
        verdict = _verdict(own.option, terms, present_value, net)
    return LifeCycle(
        option=own.option,
        reference=base.option,
        currency=terms.currency,
        annual_cost=own.annual,
        annual_saving=saving,
        savings_present_value=present_value,
        life_cycle_cost=life_cycle_cost,
        break_even_extra_first_cost=present_value,
        verdict=verdict,
        **investment,
    )


def _investment(
    base: _Outlay, own: _Outlay, savings: np.ndarray[Any, Any], present_value: float
) -> dict[str, Answer]:
    """The figures of ``LifeCycle`` that rest on first costs, or why there are none."""
    on_extra = (
        "extra_first_cost",
        "net_present_value",
        "simple_payback_years",
        "internal_rate_of_return",
        "savings_to_investment_ratio",
    )
    if own is base:
        return dict.fromkeys(
            (*on_extra, "break_even_first_cost"), Answer(None, "this is the reference")
        )
    if base.first is None:
        even = Answer(None, f'cannot be determined: needs first_cost of "{base.option}"')
    else:
        even = Answer(base.first + present_value)
    if own.first is None or base.first is None:
        why = f"cannot be determined: needs first_cost of {_missing(base, own)}"
        return {**dict.fromkeys(on_extra, Answer(None, why)), "break_even_first_cost": even}
    extra = own.first - base.first
    ratio = Answer(None, "not defined: the option costs no more than the reference")
    if extra > 0.0:
        ratio = Answer(present_value / extra)
    return {
        "extra_first_cost": Answer(extra),
        "net_present_value": Answer(present_value - extra),
        "simple_payback_years": _payback(extra, base.annual - own.annual),
        "internal_rate_of_return": internal_rate_of_return(extra, savings),
        "savings_to_investment_ratio": ratio,
        "break_even_first_cost": even,
    }


def _payback(extra: float, saving: float) -> Answer:
    """Simple payback: extra first cost over a year's saving at today's prices."""
    if extra <= 0.0 and saving >= 0.0:
        return Answer(0.0)
    if extra <= 0.0:
        return Answer(None, "not defined: the option costs less and saves nothing")
    if saving <= 0.0:
        return Answer(None, "never: the option saves nothing in a year")
    return Answer(extra / saving)
