"""Life-cycle figures against hand arithmetic, the closed form and numpy-financial."""

import dataclasses

import numpy as np
import numpy_financial
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from dewledger.accounts.bills import Bill
from dewledger.accounts.life_cycle import (
    Economics,
    compare,
    economics,
    internal_rate_of_return,
    present_value_factor,
)
from dewledger.case.prices import OptionCost, Prices
from dewledger.weather.errors import InputError

TERMS = Economics("USD", 0.03, 15, 0.0, 0.0)


def bill_of(electricity: float, gas: float = 0.0) -> Bill:
    """A bill of these charges and nothing else."""
    zeros = (0.0,) * 12
    return Bill(
        currency="USD",
        electricity_kWh=0.0,
        gas_kWh=0.0,
        periods=(),
        energy_charge=electricity,
        peak_kW=zeros,
        billed_demand_kW=zeros,
        demand_charges=zeros,
        electricity_fixed=0.0,
        gas_energy_charge=gas,
        gas_fixed=0.0,
        carbon_kg=0.0,
        carbon_electricity_kg=0.0,
        carbon_gas_kg=0.0,
        carbon_charge=0.0,
        source_kWh=0.0,
    )


def cost(first: float | None, upkeep: float = 0.0) -> OptionCost:
    written = {"upkeep_per_year": f"{upkeep} USD/year"}
    return OptionCost(**written, first_cost=None if first is None else f"{first} USD")


def test_worked_example_of_the_docstring():
    found = compare(
        TERMS,
        {"electric": bill_of(2700), "condenser": bill_of(2000)},
        {"electric": cost(1000, 300), "condenser": cost(7500, 200)},
        "electric",
    )["condenser"]
    assert found.annual_saving == pytest.approx(800)
    assert found.extra_first_cost.value == pytest.approx(6500)
    # 1.03^15 = 1.557967; 1 / 1.557967 = 0.641862; (1 - 0.641862) / 0.03 = 11.93794
    assert found.savings_present_value == pytest.approx(800 * 11.93794, rel=1e-6)
    assert found.net_present_value.value == pytest.approx(9550.35 - 6500, abs=0.01)
    assert found.savings_to_investment_ratio.value == pytest.approx(1.46929, abs=1e-5)
    assert found.simple_payback_years.value == pytest.approx(8.125)
    assert found.break_even_extra_first_cost == pytest.approx(9550.35, abs=0.01)
    assert found.break_even_first_cost.value == pytest.approx(10550.35, abs=0.01)
    # 7,500 + (2,000 + 200) x 11.937935
    assert found.life_cycle_cost.value == pytest.approx(33763.457, abs=0.01)
    # by hand: the factor is 8.157 at 8.8 % and 8.108 at 8.9 %, and 8.125 is sought
    assert found.internal_rate_of_return.value == pytest.approx(0.08866, abs=2e-5)
    assert found.verdict == (
        '"condenser": break-even added first cost over the reference 9,550 USD, over '
        "15 years at 3.0 % a year. At its stated cost it gains 3,050 USD."
    )


def test_uniform_present_value_closed_form():
    assert present_value_factor(0.03, 15) == pytest.approx((1 - 1.03**-15) / 0.03, rel=1e-13)
    assert present_value_factor(0.0, 15) == 15.0
    assert present_value_factor(0.03, 15, 0.03) == pytest.approx(15.0)


@given(d=st.floats(0.001, 0.2), e=st.floats(-0.05, 0.1), n=st.integers(1, 60))
def test_modified_factor_closed_form(d, e, n):
    if abs(d - e) > 1e-4:
        closed = (1 + e) / (d - e) * (1 - ((1 + e) / (1 + d)) ** n)
        assert present_value_factor(d, n, e) == pytest.approx(closed, rel=1e-8)


def test_escalation_by_hand_two_years():
    # Electricity 100 a year dearer by 10 %: 110 and 121; gas 50 cheaper by 20 %: 40 and 32.
    terms = Economics("USD", 0.05, 2, 0.10, -0.20)
    found = compare(
        terms,
        {"a": bill_of(100, 50), "b": bill_of(0, 0)},
        {"a": cost(0), "b": cost(120)},
        "a",
    )
    expected = 150 / 1.05 + 153 / 1.05**2
    assert found["b"].savings_present_value == pytest.approx(expected)
    assert found["a"].life_cycle_cost.value == pytest.approx(expected)
    # 120 = 150 / r + 153 / r^2 has the root r = (150 + sqrt(150^2 + 4 x 120 x 153)) / 240
    root = (150 + (150**2 + 4 * 120 * 153) ** 0.5) / 240
    assert found["b"].internal_rate_of_return.value == pytest.approx(root - 1)


@settings(deadline=None)
@given(
    extra=st.floats(1.0, 1e5),
    saving=st.floats(1.0, 1e5),
    years=st.integers(1, 60),
    growth=st.floats(-0.1, 0.1),
)
def test_rate_of_return_makes_the_net_present_value_zero(extra, saving, years, growth):
    savings = saving * (1 + growth) ** np.arange(years)
    rate = internal_rate_of_return(extra, savings).value
    assert rate is not None
    flows = np.concatenate(([-extra], savings))
    assert rate == pytest.approx(numpy_financial.irr(flows), rel=1e-12)
    # numpy_financial discounts the first flow by nothing, as the outlay is today
    if rate > -0.5:
        assert numpy_financial.npv(rate, flows) == pytest.approx(0.0, abs=1e-6 * (extra + saving))


@pytest.mark.parametrize(
    ("extra", "savings", "why"),
    [
        (0.0, [5.0, 5.0], "costs no more"),
        (-10.0, [5.0, 5.0], "costs no more"),
        (10.0, [-5.0, -5.0], "no year saves"),
        (10.0, [0.0, 0.0], "no year saves"),
        (10.0, [50.0, -45.0], "some years save and some lose"),
    ],
)
def test_rate_of_return_says_when_there_is_none(extra, savings, why):
    answer = internal_rate_of_return(extra, np.array(savings))
    assert answer.value is None
    assert why in answer.why


def test_a_missing_first_cost_leaves_what_needs_none():
    found = compare(
        TERMS,
        {"electric": bill_of(900), "condenser": bill_of(100), "gas": bill_of(400)},
        {"electric": cost(1000), "gas": cost(1500)},
        "electric",
    )
    lacking = 'cannot be determined: needs first_cost of "condenser"'
    condenser = found["condenser"]
    for answer in (
        condenser.net_present_value,
        condenser.simple_payback_years,
        condenser.internal_rate_of_return,
        condenser.savings_to_investment_ratio,
        condenser.life_cycle_cost,
    ):
        assert answer.value is None
        assert answer.why == lacking
    assert condenser.annual_saving == pytest.approx(800)
    assert condenser.break_even_extra_first_cost == pytest.approx(9550.35, abs=0.01)
    assert condenser.break_even_first_cost.value == pytest.approx(10550.35, abs=0.01)
    assert "break-even added first cost over the reference 9,550 USD" in condenser.verdict
    assert found["gas"].net_present_value.value is not None


def test_a_missing_reference_cost_is_named():
    found = compare(TERMS, {"a": bill_of(9), "b": bill_of(1)}, {"b": cost(5)}, "a")
    assert found["b"].net_present_value.why.endswith('needs first_cost of "a"')
    assert found["b"].break_even_first_cost.value is None
    assert found["b"].life_cycle_cost.value is not None
    both = compare(TERMS, {"a": bill_of(9), "b": bill_of(1)}, {}, "a")
    assert both["b"].net_present_value.why.endswith('needs first_cost of "b" and "a"')


def test_an_option_that_saves_nothing():
    found = compare(
        TERMS, {"a": bill_of(100), "b": bill_of(300)}, {"a": cost(0), "b": cost(10)}, "a"
    )["b"]
    assert found.annual_saving == pytest.approx(-200)
    assert found.simple_payback_years.why.startswith("never")
    assert found.net_present_value.value == pytest.approx(-200 * 11.93794 - 10, abs=0.01)
    assert "at least 2,390 USD less than the reference" in found.verdict
    assert "loses 2,400 USD" in found.verdict


def test_the_reference_is_not_compared_with_itself():
    found = compare(TERMS, {"a": bill_of(100)}, {"a": cost(70)}, "a")["a"]
    assert found.net_present_value.why == "this is the reference"
    assert found.life_cycle_cost.value == pytest.approx(70 + 100 * 11.93794, abs=0.01)


@settings(deadline=None)
@given(
    first=st.floats(0, 1e5),
    other=st.floats(0, 1e5),
    bills=st.tuples(st.floats(0, 1e5), st.floats(0, 1e5), st.floats(0, 1e5), st.floats(0, 1e5)),
    rate=st.floats(0.0, 0.2),
    years=st.integers(1, 40),
)
def test_net_present_value_is_the_difference_of_life_cycle_costs(first, other, bills, rate, years):
    terms = dataclasses.replace(TERMS, discount_rate=rate, life_years=years, escalation_gas=0.01)
    found = compare(
        terms,
        {"a": bill_of(bills[0], bills[1]), "b": bill_of(bills[2], bills[3])},
        {"a": cost(first), "b": cost(other)},
        "a",
    )
    difference = found["a"].life_cycle_cost.value - found["b"].life_cycle_cost.value
    assert found["b"].net_present_value.value == pytest.approx(difference, abs=1e-4)
    # at its break-even first cost an option neither gains nor loses
    even = found["b"].break_even_first_cost.value
    if even >= 0:
        again = compare(
            terms,
            {"a": bill_of(bills[0], bills[1]), "b": bill_of(bills[2], bills[3])},
            {"a": cost(first), "b": cost(even)},
            "a",
        )
        assert again["b"].net_present_value.value == pytest.approx(0.0, abs=1e-4)


def test_defaults_of_rate_and_life():
    assert economics(Prices()) == Economics("USD", 0.03, 15, 0.0, 0.0)


@pytest.mark.parametrize(
    ("written", "sentence"),
    [
        ({"first_cost": "-5 USD"}, 'first_cost "-5 USD" is negative'),
        ({"upkeep_per_year": "-5 USD/year"}, "is negative"),
        ({"first_cost": 6500}, '6500 has no unit; write for example "6500 USD"'),
        ({"upkeep_per_year": "5 USD"}, "is not a unit of money per year"),
    ],
)
def test_bad_costs_are_one_sentence(written, sentence):
    with pytest.raises(ValidationError) as caught:
        OptionCost.model_validate(written)
    assert sentence in caught.value.errors()[0]["msg"]


def test_another_currency_and_an_unknown_reference():
    with pytest.raises(InputError, match=r'"a": first_cost "5 EUR" is not in USD'):
        compare(TERMS, {"a": bill_of(1)}, {"a": OptionCost(first_cost="5 EUR")}, "a")
    with pytest.raises(InputError, match='reference "z" is not an option; write one of a'):
        compare(TERMS, {"a": bill_of(1)}, {}, "z")
