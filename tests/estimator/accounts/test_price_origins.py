"""Prices and bills: arithmetic by hand, properties, and every way to write a price wrongly."""

import csv
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from dewledger.accounts.bills import (
    BillingHours,
    annual_bill,
    billed_demand,
    read_carbon_hourly,
    tariff,
)
from dewledger.accounts.price_origins import assumptions, defaults
from dewledger.case.prices import Prices, hours_of, months_of
from dewledger.weather.errors import InputError

HERE = Path()
_DAYS = [date(2023, 1, 1) + timedelta(days=i) for i in range(365)]
MONTH = np.repeat([day.month for day in _DAYS], 24)
WEEKDAY = np.repeat([day.weekday() < 5 for day in _DAYS], 24)
HOUR = np.tile(np.arange(24), 365)
HOURS = BillingHours(MONTH, WEEKDAY, HOUR)
NOTHING = np.zeros(8760)

SUMMER_PEAK = {
    "name": "summer peak",
    "price": "0.20 USD/kWh",
    "months": "Jun-Sep",
    "days": "weekday",
    "hours": "14:00-20:00",
}
REST = [
    {"name": "summer night", "price": "0.08 USD/kWh", "months": "Jun-Sep", "days": "weekday"}
    | {"hours": "20:00-14:00"},
    {"name": "summer weekend", "price": "0.08 USD/kWh", "months": "Jun-Sep", "days": "weekend"},
    {"name": "winter", "price": "0.08 USD/kWh", "months": "Oct-May"},
]


def bill(prices, electricity_kW=NOTHING, gas_kW=NOTHING, folder=HERE):
    return annual_bill(tariff(prices, folder), electricity_kW, gas_kW, HOURS)


def refusal(**written):
    with pytest.raises(ValidationError) as caught:
        Prices.model_validate(written)
    errors = caught.value.errors()
    assert len(errors) == 1
    return errors[0]["msg"]


# -- arithmetic by hand ---------------------------------------------------------------------------


def test_flat_price_and_fixed_charges():
    prices = Prices(
        electricity="0.10 USD/kWh",
        electricity_monthly="20 USD/month",
        gas="1.00 USD/therm",
        gas_monthly="15 USD/month",
    )
    found = bill(prices, np.full(8760, 2.0), np.full(8760, 29.3071070172222 / 8760 * 10))
    assert found.electricity_kWh == pytest.approx(17520)
    assert found.energy_charge == pytest.approx(1752)
    assert found.electricity_fixed == pytest.approx(240)
    # 10 therms of 29.307107 kWh (100,000 Btu of 1055.05585262 J)
    assert found.gas_energy_charge == pytest.approx(10.0)
    assert found.gas_fixed == pytest.approx(180)
    assert found.total == pytest.approx(1752 + 240 + 10 + 180)


def test_time_of_use_year_against_a_count_of_days():
    # 2023: weekdays in June 22, July 21, August 23, September 21 = 87, of 6 peak hours each.
    prices = Prices(electricity_periods=[SUMMER_PEAK, *REST])
    found = bill(prices, np.ones(8760))
    hours = {use.name: use.hours for use in found.periods}
    assert hours["summer peak"] == 87 * 6 == 522
    assert hours["summer night"] == 87 * 18
    # 122 days from June to September, the other 35 of them Saturdays and Sundays
    assert hours["summer weekend"] == 35 * 24
    assert hours["winter"] == (365 - 122) * 24
    assert found.energy_charge == pytest.approx(522 * 0.20 + (8760 - 522) * 0.08)


def test_an_hour_is_priced_by_the_period_it_lies_in():
    prices = Prices(electricity_periods=[SUMMER_PEAK, *REST])
    # Saturday 1 July 2023 is day 181 (from 0); Monday 3 July is day 183.
    for day, hour, price in ((183, 13, 0.08), (183, 14, 0.20), (183, 19, 0.20), (183, 20, 0.08)):
        use = np.zeros(8760)
        use[day * 24 + hour] = 5.0
        assert bill(prices, use).energy_charge == pytest.approx(5 * price)
    use = np.zeros(8760)
    use[181 * 24 + 15] = 5.0
    assert bill(prices, use).energy_charge == pytest.approx(0.40)


def test_a_holiday_is_priced_as_a_weekend():
    prices = Prices(electricity_periods=[SUMMER_PEAK, *REST])
    weekday = WEEKDAY.copy()
    weekday[184 * 24 : 185 * 24] = False  # Tuesday 4 July 2023
    use = np.ones(8760)
    found = annual_bill(tariff(prices, HERE), use, NOTHING, BillingHours(MONTH, weekday, HOUR))
    assert {use.name: use.hours for use in found.periods}["summer peak"] == 86 * 6


def test_ratchet_by_hand():
    peaks = np.array([10.0, 12, 14, 18, 30, 45, 50, 48, 40, 20, 15, 11])
    # 80 % of 50 kW is 40 kW: seven months below it are lifted to it, September is just at it.
    assert billed_demand(peaks, 0.8, tuple(range(12))).tolist() == [
        *(40, 40, 40, 40, 40, 45, 50, 48, 40, 40, 40, 40)
    ]
    # Only Jan-Mar set this ratchet: 80 % of 14 kW is 11.2 kW.
    assert billed_demand(peaks, 0.8, (0, 1, 2)) == pytest.approx(
        [11.2, 12, 14, 18, 30, 45, 50, 48, 40, 20, 15, 11.2]
    )
    assert billed_demand(peaks, 0.0, tuple(range(12))).tolist() == peaks.tolist()


def test_monthly_demand_charge_by_hand():
    use = np.full(8760, 2.0)
    use[np.flatnonzero(MONTH == 7)[100]] = 50.0
    plain = Prices(electricity="0.1 USD/kWh", demand="10 USD/kW")
    found = bill(plain, use)
    assert found.peak_kW == (2, 2, 2, 2, 2, 2, 50, 2, 2, 2, 2, 2)
    assert found.demand_charge == pytest.approx(10 * (11 * 2 + 50))
    ratcheted = Prices(electricity="0.1 USD/kWh", demand="10 USD/kW", demand_ratchet="60 %")
    assert bill(ratcheted, use).demand_charge == pytest.approx(10 * (11 * 30 + 50))


def test_carbon_source_energy_and_carbon_price():
    prices = Prices(
        electricity="0.10 USD/kWh",
        gas="0.03 USD/kWh",
        carbon_electricity="400 kg/MWh",
        carbon_gas="180 kg/MWh",
        carbon_price="50 USD/tonne",
        source_electricity=2.8,
        source_gas=1.05,
    )
    found = bill(prices, np.full(8760, 1.0), np.full(8760, 2.0))
    assert found.carbon_kg == pytest.approx(8760 * 0.4 + 17520 * 0.18)
    assert found.carbon_charge == pytest.approx((3504 + 3153.6) * 0.05)
    assert found.source_kWh == pytest.approx(8760 * 2.8 + 17520 * 1.05)
    assert found.site_kWh == pytest.approx(26280)
    assert found.total == pytest.approx(876 + 525.6 + 332.88)


def test_hourly_carbon_factors(tmp_path):
    factors = np.where(HOUR < 12, 200.0, 600.0)
    with (tmp_path / "grid.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([("hour", "kg/MWh"), *enumerate(factors)])
    prices = Prices(carbon_hourly="grid.csv", carbon_gas="0 kg/MWh")
    afternoons = np.where(HOUR >= 12, 3.0, 0.0)
    assert bill(prices, afternoons, folder=tmp_path).carbon_kg == pytest.approx(3 * 4380 * 0.6)
    assert [a.value for a in assumptions(prices) if a.name == "carbon electricity"] == ["hourly"]


@pytest.mark.parametrize(
    ("lines", "sentence"),
    [
        (["hour,factor"] + ["1,2"] * 8760, "0 columns headed with a unit"),
        (["kg/MWh,lb/MWh"] + ["1,2"] * 8760, "2 columns headed with a unit"),
        (["kg/MWh"] + ["1"] * 8784, "8784 rows"),
        (["kg/MWh"] + ["1"] * 8759 + ["-1"], 'has "-1" in hour 8760'),
        (["kg/MWh"] + ["n/a"] + ["1"] * 8759, 'has "n/a" in hour 1 '),
        ([], "is empty"),
    ],
)
def test_a_carbon_file_that_cannot_serve(tmp_path, lines, sentence):
    path = tmp_path / "grid.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    with pytest.raises(InputError, match=sentence):
        read_carbon_hourly(path)


def test_a_carbon_file_that_is_not_there(tmp_path):
    with pytest.raises(InputError, match=r"none\.csv.* cannot be read"):
        read_carbon_hourly(tmp_path / "none.csv")


# -- properties -----------------------------------------------------------------------------------


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), price=st.floats(0.01, 2.0))
def test_doubling_prices_doubles_charges(seed, price):
    use = np.random.default_rng(seed).uniform(0, 40, 8760)
    once = bill(Prices(electricity=f"{price} USD/kWh", demand=f"{price} USD/kW"), use)
    twice = bill(Prices(electricity=f"{2 * price} USD/kWh", demand=f"{2 * price} USD/kW"), use)
    assert twice.energy_charge == pytest.approx(2 * once.energy_charge)
    assert twice.demand_charge == pytest.approx(2 * once.demand_charge)
    assert twice.electricity_kWh == once.electricity_kWh


@settings(max_examples=20, deadline=None)
@given(electric=st.floats(0, 99), gas=st.floats(0, 99))
def test_no_use_costs_the_fixed_charges_only(electric, gas):
    prices = Prices(
        electricity_periods=[SUMMER_PEAK, *REST],
        electricity_monthly=f"{electric} USD/month",
        demand="14 USD/kW",
        demand_ratchet="80 %",
        gas_monthly=f"{gas} USD/month",
    )
    found = bill(prices)
    assert found.total == pytest.approx(12 * electric)  # no gas account where no gas is burned
    assert found.carbon_kg == found.source_kWh == 0.0


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), ratchet=st.integers(0, 100))
def test_a_ratchet_never_lowers_a_bill_and_periods_add_up(seed, ratchet):
    use = np.random.default_rng(seed).exponential(10, 8760)
    periods = [SUMMER_PEAK, *REST]
    found = bill(Prices(electricity_periods=periods, demand="9 USD/kW"), use)
    with_ratchet = bill(
        Prices(electricity_periods=periods, demand="9 USD/kW", demand_ratchet=f"{ratchet} %"), use
    )
    assert with_ratchet.demand_charge >= found.demand_charge - 1e-9
    assert max(with_ratchet.billed_demand_kW) == max(found.peak_kW)
    assert sum(period.electricity_kWh for period in found.periods) == pytest.approx(use.sum())
    assert sum(period.hours for period in found.periods) == 8760


@given(first=st.integers(0, 23), length=st.integers(1, 23))
def test_hours_that_wrap_are_the_rest_of_the_day(first, length):
    last = (first + length) % 24
    one = hours_of(f"{first}:00-{last:02d}:00")
    other = hours_of(f"{last}:00-{first:02d}:00")
    assert len(one) == length
    assert sorted(one + other) == list(range(24))


@given(first=st.integers(0, 11), length=st.integers(1, 11))
def test_months_that_wrap_are_the_rest_of_the_year(first, length):
    names = [date(2023, m, 1).strftime("%b") for m in range(1, 13)]
    one = months_of(f"{names[first]}-{names[(first + length - 1) % 12]}")
    other = months_of(f"{names[(first + length) % 12]}-{names[first - 1]}")
    assert len(one) == length
    assert sorted(one + other) == list(range(12))


def test_months_and_hours_as_written():
    assert months_of("Nov-Feb") == [0, 1, 10, 11]
    assert months_of("june, September-october") == [5, 8, 9]
    assert hours_of("22:00-06:00") == [0, 1, 2, 3, 4, 5, 22, 23]
    assert hours_of("00:00-24:00") == list(range(24))
    assert hours_of("6:00-9:00, 17:00-20:00") == [6, 7, 8, 17, 18, 19]


# -- defaults and where they are from -------------------------------------------------------------


def test_assumptions_say_where_each_number_is_from():
    reported = {a.name: a for a in assumptions(Prices(state="nc", gas="1.20 USD/therm"))}
    assert reported["electricity"].value == "0.0967 USD/kWh"
    assert reported["electricity"].origin == "default"
    assert "2023" in reported["electricity"].source
    assert (reported["gas"].value, reported["gas"].origin) == ("1.20 USD/therm", "case")
    assert reported["demand"].value == "none"
    assert "not checked against the text" in reported["discount rate"].source


def test_a_state_without_a_figure_takes_the_us_average_and_says_so():
    reported = {a.name: a for a in assumptions(Prices(state="VT"))}
    assert reported["electricity"].value == "0.128 USD/kWh"
    assert "no figure for VT is held (there are CA, FL, GA, IL, MA, NC, TX, US)" in (
        reported["electricity"].source
    )
    assert "write your own price" in reported["electricity"].source
    assert "no state is given" in {a.name: a for a in assumptions(Prices())}["electricity"].source


def test_time_of_use_periods_are_listed():
    names = [a.name for a in assumptions(Prices(electricity_periods=[SUMMER_PEAK, *REST]))]
    assert "electricity, summer peak" in names
    assert "electricity" not in names


def test_every_default_reads_and_names_a_source():
    for (field, place), default in defaults().items():
        assert default.value > 0, (field, place)
        assert len(default.source) > 10


def test_json_round_trip():
    prices = Prices(electricity_periods=[SUMMER_PEAK, *REST], demand="14 USD/kW", life="20 year")
    again = Prices.model_validate_json(prices.model_dump_json(exclude_none=True))
    assert again == prices
    assert Prices.model_json_schema()["properties"]["gas"]


# -- bad input ------------------------------------------------------------------------------------


def test_overlap_names_both_periods_and_an_hour():
    late = SUMMER_PEAK | {"name": "evening", "hours": "19:00-21:00"}
    sentence = refusal(electricity_periods=[SUMMER_PEAK, late, *REST])
    assert '"summer peak" and "evening" overlap' in sentence
    assert "Jun weekdays 19:00-20:00" in sentence


def test_gap_names_an_hour():
    sentence = refusal(electricity_periods=[SUMMER_PEAK, *REST[:1], REST[2]])
    assert "Jun weekends 00:00-01:00" in sentence


@pytest.mark.parametrize(
    ("written", "sentence"),
    [
        ({"electricity": "-0.1 USD/kWh"}, 'electricity "-0.1 USD/kWh" is negative'),
        ({"gas": "-1 USD/therm"}, "is negative"),
        ({"demand": "-3 USD/kW"}, "is negative"),
        ({"electricity": 0.12}, '0.12 has no unit; write for example "0.12 USD/kWh"'),
        ({"electricity": "0.12 USD/ft2"}, "is not a unit of energy price"),
        ({"discount_rate": 3}, '3 is above 1; write "3 %"'),
        ({"discount_rate": 1}, 'discount_rate "1" means 100 % a year; write a rate such as "3 %"'),
        ({"escalation_gas": "80 %"}, "means 80 % a year"),
        ({"life": "0 year"}, 'life "0 year" must be a whole number of years, one or more'),
        ({"life": "7.5 year"}, "whole number"),
        ({"life": "600 year"}, "above 100"),
        ({"life": 15}, '15 has no unit; write for example "15 year"'),
        ({"state": "Carolina"}, 'state "Carolina" is not a US state'),
        ({"demand_ratchet": "80 %"}, "without demand"),
        ({"demand_ratchet_months": "Jun-Sep"}, "without demand_ratchet"),
        ({"electricity": "0.1 EUR/kWh"}, 'electricity "0.1 EUR/kWh" is not in USD'),
        ({"currency": "EUR"}, "electricity and gas must be given in EUR"),
        ({"currency": "EUR", "electricity": "0.3 EUR/kWh"}, "gas must be given in EUR"),
        (
            {"carbon_hourly": "a.csv", "carbon_electricity": "1 kg/MWh"},
            "carbon_electricity and carbon_hourly are both given",
        ),
        ({"electricity": "1 USD/kWh", "electricity_periods": [REST[2]]}, "both given"),
        ({"electricity_periods": [SUMMER_PEAK, SUMMER_PEAK]}, "given twice"),
        ({"electricity_periods": [REST[2] | {"months": "Jum"}]}, 'months "Jum" cannot be read'),
        ({"electricity_periods": [REST[2] | {"months": "Jan-Jun-Dec"}]}, "cannot be read"),
        ({"electricity_periods": [REST[2] | {"months": "Jan-Jun, May"}]}, "names a part twice"),
        ({"electricity_periods": [REST[2] | {"hours": "2pm-8pm"}]}, "cannot be read"),
        ({"electricity_periods": [REST[2] | {"hours": "14:30-20:00"}]}, "on the hour"),
        ({"electricity_periods": [REST[2] | {"hours": "14:00-25:00"}]}, "at most 24:00"),
        ({"electricity_periods": [REST[2] | {"price": "-1 USD/kWh"}]}, "is negative"),
    ],
)
def test_bad_prices_are_one_sentence(written, sentence):
    message = refusal(**written)
    assert sentence in message
    assert "\n" not in message


def test_other_currencies_are_read_where_all_are_stated():
    prices = Prices(currency="CAD", electricity="0.11 $/kWh", gas="0.04 CAD/kWh")
    assert bill(prices, np.ones(8760)).currency == "CAD"
    reported = {a.name: a for a in assumptions(prices)}
    assert "a US figure" in reported["carbon electricity"].source


def test_arrays_that_are_not_a_year_are_refused():
    with pytest.raises(ValueError, match="electricity_kW has shape"):
        bill(Prices(), np.ones(24))
    with pytest.raises(ValueError, match="gas_kW must be finite"):
        bill(Prices(), NOTHING, np.full(8760, np.nan))
