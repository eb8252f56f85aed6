"""The money of a study: bills of its hourly use, months that add up, how a tariff counts hours."""

import tomllib

import numpy as np
import pytest

from dewledger.accounts.costs import billing_hours, monthly_money, option_tariff
from dewledger.accounts.energy import electricity_kW, gas_kW
from dewledger.assembly.calendar import year_calendar
from dewledger.case import bundled_text, case_from_text
from dewledger.case.room import Schedule
from dewledger.study import run_study
from dewledger.weather.errors import InputError
from dewledger.weather.files.readers import read

KWH_PER_MMBTU = 1e6 * 1055.05585262 / 3.6e6


@pytest.fixture(scope="module")
def study():
    return run_study(case_from_text(bundled_text("music-school")))


@pytest.fixture(scope="module")
def priced():
    """The demo with prices by time of use, demand with a ratchet, fixed and carbon charges."""
    text = bundled_text("music-school").replace(
        'state = "NC"',
        """electricity_monthly = "30 USD/month"
demand = "11 USD/kW"
demand_ratchet = "80 %"
gas = "1.05 USD/therm"
gas_monthly = "25 USD/month"
carbon_price = "50 USD/tonne"

[[prices.electricity_periods]]
name = "peak"
price = "0.20 USD/kWh"
months = "Jun-Sep"
days = "weekday"
hours = "14:00-20:00"

[[prices.electricity_periods]]
name = "summer rest"
price = "0.10 USD/kWh"
months = "Jun-Sep"
days = "weekday"
hours = "20:00-14:00"

[[prices.electricity_periods]]
name = "summer weekend"
price = "0.09 USD/kWh"
months = "Jun-Sep"
days = "weekend"

[[prices.electricity_periods]]
name = "winter"
price = "0.08 USD/kWh"
months = "Oct-May"
""",
    )
    return run_study(case_from_text(text))


@pytest.mark.published
def test_flat_bill_is_use_times_the_published_prices(study):
    """NC 9.67 c/kWh (US EIA Electric Power Annual 2023); gas 11.32 USD/Mcf (US EIA 2022) at
    1.036 MMBtu/Mcf (not checked against the text), which the table rounds to 10.93 USD/MMBtu."""
    for option in study.options:
        electricity = electricity_kW(option.ledger).sum()
        gas = gas_kW(option.ledger).sum()
        assert option.annual["electricity_cost"] == pytest.approx(0.0967 * electricity)
        assert option.annual["gas_cost"] == pytest.approx(10.93 * gas / KWH_PER_MMBTU)
        assert option.annual["energy_cost"] == pytest.approx(
            option.annual["electricity_cost"] + option.annual["gas_cost"]
        )


@pytest.mark.published
def test_carbon_and_source_energy(study):
    """767.2 lb/MWh (US EPA eGRID2023), 53.06 kg/MMBtu (40 CFR 98 Table NN-1); source over site
    2.80 and 1.05 (US EPA Portfolio Manager)."""
    for option in study.options:
        electricity = electricity_kW(option.ledger).sum()
        gas = gas_kW(option.ledger).sum()
        assert option.annual["carbon_kg"] == pytest.approx(
            electricity / 1000.0 * 767.2 * 0.45359237 + gas / KWH_PER_MMBTU * 53.06
        )
        assert option.annual["site_kWh"] == pytest.approx(electricity + gas)
        assert option.annual["source_kWh"] == pytest.approx(2.80 * electricity + 1.05 * gas)


@pytest.mark.published
def test_break_even_is_the_saving_times_the_uniform_present_value_factor(study):
    """UPV at 3 % and 15 years is 11.938 (NIST Handbook 135 supplement tables)."""
    for option in study.options:
        found = study.money.life_cycle[option.key]
        assert found.break_even_extra_first_cost == pytest.approx(
            11.938 * option.annual["cost_saving"], rel=1e-4, abs=1e-9
        )
        reference = study.reference.annual["energy_cost"]
        assert option.annual["cost_saving"] == pytest.approx(
            reference - option.annual["energy_cost"]
        )


def test_a_missing_first_cost_says_what_it_needs(study):
    found = study.money.life_cycle["none"]
    assert found.net_present_value.value is None
    assert found.net_present_value.why == 'cannot be determined: needs first_cost of "none"'


def test_months_add_up_to_the_bill(priced):
    for option in priced.options:
        bill = priced.money.bills[option.key]
        totals = option.monthly.sum()
        assert totals["electricity_cost"] == pytest.approx(bill.electricity_charge)
        assert totals["demand_cost"] == pytest.approx(bill.demand_charge)
        assert totals["gas_cost"] == pytest.approx(bill.gas_charge)
        assert totals["carbon_cost"] == pytest.approx(bill.carbon_charge)
        assert totals["energy_cost"] == pytest.approx(option.annual["energy_cost"])
        assert totals["carbon_kg"] == pytest.approx(option.annual["carbon_kg"])
        assert totals["source_kWh"] == pytest.approx(option.annual["source_kWh"])


def test_time_of_use_charge_of_one_month_by_hand(priced):
    option = priced.reference
    frame = priced.weather.frame
    use = electricity_kW(option.ledger)
    clock = option.machine.calendar.clock_hour
    weekday = option.machine.calendar.weekday < 5
    month = frame["month"].to_numpy()
    # August 2023 has no holiday: 23 weekdays of 6 h at the peak price.
    august = month == 8
    peak = august & weekday & (clock >= 14) & (clock < 20)
    assert peak.sum() == 23 * 6
    rest = august & weekday & ~peak
    weekend = august & ~weekday
    by_hand = 0.20 * use[peak].sum() + 0.10 * use[rest].sum() + 0.09 * use[weekend].sum()
    peaks = [use[month == m].max() for m in range(1, 13)]
    by_hand += 30.0 + 11.0 * max(peaks[7], 0.8 * max(peaks))
    assert option.monthly["electricity_cost"][7] == pytest.approx(by_hand)


def test_weekdays_of_2023_by_hand():
    """2023 begins on a Sunday: 260 weekdays; Labor Day, 4 September, is a Monday."""
    year = read("greensboro")
    plain = billing_hours(year_calendar(Schedule(), 2023), 2023)
    assert plain.weekday.sum() == 260 * 24
    assert np.array_equal(plain.month, year.frame["month"])
    schedule = Schedule(holidays=("07-04", "09-04"), daylight_saving="America/New_York")
    found = billing_hours(year_calendar(schedule, 2023), 2023)
    assert found.weekday.sum() == 258 * 24
    # Summer time: the clock's 4 July runs from 23:00 standard time of the 3rd to 23:00 of the 4th.
    day_184 = 184 * 24  # 4 July 00:00, the 185th day
    assert not found.weekday[day_184 - 1 : day_184 + 23].any()
    assert found.weekday[day_184 - 2]
    assert found.weekday[day_184 + 23]
    assert found.hour[day_184 - 1] == 0


def test_a_closure_of_the_room_leaves_the_tariff_alone():
    schedule = Schedule(closures=("07-03 to 07-07",))
    found = billing_hours(year_calendar(schedule, 2023), 2023)
    assert found.weekday.sum() == 260 * 24


def test_another_currency_in_an_option_is_one_sentence():
    text = bundled_text("music-school").replace(
        'title = "Gas reheat"',
        'title = "Gas reheat"\nprices = { currency = "EUR", electricity = "0.2 EUR/kWh", '
        'gas = "0.08 EUR/kWh" }',
    )
    with pytest.raises(InputError, match=r'option "gas" holds prices.currency, which an option'):
        case_from_text(text)


def test_prices_of_one_option_are_its_own():
    text = bundled_text("music-school").replace(
        'title = "Gas reheat"', 'title = "Gas reheat"\nprices = { gas = "2.00 USD/therm" }'
    )
    case = case_from_text(text)
    study = run_study(case)
    assert set(study.money.own_prices) == {"gas"}
    gas = next(option for option in study.options if option.key == "gas")
    therms = gas_kW(gas.ledger).sum() / KWH_PER_MMBTU * 10.0
    assert gas.annual["gas_cost"] == pytest.approx(2.00 * therms)
    assert tomllib.loads(case.to_toml())["options"]["gas"]["prices"]["gas"] == "2.00 USD/therm"


def test_months_of_no_use_cost_the_fixed_charge_only(priced):
    hours = billing_hours(priced.reference.machine.calendar, 2023)
    rates = option_tariff(priced.reference.option, priced.case)
    months = monthly_money(rates, np.zeros(8760), np.zeros(8760), hours)
    assert (months["electricity_cost"] == 30.0).all()
    assert (months["gas_cost"] == 0.0).all()
