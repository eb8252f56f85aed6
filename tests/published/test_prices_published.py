"""Prices, carbon, source factors and present value factors against their printed sources."""

import numpy as np
import pytest

from dewledger.accounts.bills import tariff
from dewledger.accounts.life_cycle import economics, present_value_factor
from dewledger.case.prices import Prices
from dewledger.quantities import in_unit

pytestmark = pytest.mark.published


@pytest.mark.parametrize(
    ("state", "cents_per_kWh"),
    {
        "FL": 11.95,
        "NC": 9.67,
        "TX": 8.82,
        "GA": 10.70,
        "IL": 11.24,
        "MA": 19.62,
        "CA": 23.91,
    }.items(),
)
def test_commercial_electricity_2023(tmp_path, state, cents_per_kWh):
    # US EIA, Electric Power Annual, average price to commercial customers by state, 2023.
    # Tolerance: the printed figure itself.
    price = tariff(Prices(state=state), tmp_path).period_prices
    assert price.tolist() == pytest.approx([cents_per_kWh / 100], abs=1e-9)


def test_commercial_gas_2022(tmp_path):
    # US EIA, commercial natural gas 2022: 11.32 USD per thousand cubic feet. Heat content 1,036 Btu
    # per cubic foot (US EIA), not checked against the text. Tolerance: rounding to a cent per
    # MMBtu.
    price = in_unit(tariff(Prices(), tmp_path).gas_price, "energy price", "USD/MMBtu")
    assert price == pytest.approx(11.32 / 1.036, abs=0.005)


def test_carbon_of_gas_and_grid(tmp_path):
    found = tariff(Prices(), tmp_path)
    # 40 CFR Part 98, Table NN-1: natural gas 53.06 kg CO2 per MMBtu.
    assert in_unit(found.carbon_gas, "carbon per energy", "kg/MMBtu") == pytest.approx(53.06)
    # which is 117 lb per MMBtu (US EIA's rounded figure, not checked against the text), so to 0.1
    assert in_unit(found.carbon_gas, "carbon per energy", "lb/MMBtu") == pytest.approx(
        117.0, abs=0.1
    )
    # US EPA eGRID2023, US average total output rate: 767.2 lb CO2 per MWh.
    assert isinstance(found.carbon_electricity, float)
    assert in_unit(found.carbon_electricity, "carbon per energy", "lb/MWh") == pytest.approx(767.2)


def test_source_factors(tmp_path):
    # US EPA Portfolio Manager, source energy: grid electricity 2.80, natural gas 1.05.
    found = tariff(Prices(), tmp_path)
    assert (found.source_electricity, found.source_gas) == (2.80, 1.05)


def test_uniform_present_value_factor_3_percent_15_years():
    # Closed form (1 - 1.03^-15) / 0.03 of any table of compound interest: 11.938.
    # Tolerance: the last printed digit.
    assert present_value_factor(0.03, 15) == pytest.approx(11.938, abs=5e-4)


@pytest.mark.parametrize(
    ("rate", "years", "factor"),
    # P/A columns of compound-interest tables in engineering economy, not checked against the text.
    [(0.05, 10, 7.7217), (0.08, 20, 9.8181), (0.10, 5, 3.7908), (0.03, 25, 17.4131)],
)
def test_uniform_present_value_table(rate, years, factor):
    assert present_value_factor(rate, years) == pytest.approx(factor, abs=5e-5)


def test_real_rate_and_service_life():
    # FEMP real rate 3.0 %, not checked against the text; rooftop DX median service life 15 years,
    # ASHRAE Handbook HVAC Applications 2007 ch. 36 Table 4.
    terms = economics(Prices())
    assert (terms.discount_rate, terms.life_years) == (0.03, 15)
    assert np.isclose(terms.escalation_gas, 0.0)
