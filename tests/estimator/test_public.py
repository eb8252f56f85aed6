"""What ``import dewledger`` offers: tables with units, short reprs, refusals, lazy imports."""

import logging
import subprocess
import sys
from typing import get_args

import numpy as np
import pandas as pd
import pytest

import dewledger as dw
from dewledger.accounts.names import AccountName
from dewledger.analysis.option_accounts import flat
from dewledger.hourly.ledger import COLUMNS, INDEX


@pytest.fixture(scope="module")
def study():
    return dw.run_study(dw.example_case("rooftop"))


def test_every_public_name_is_there_and_documented():
    for name in dw.__all__:
        found = getattr(dw, name)
        assert found.__doc__, name
    assert set(dw.__all__) <= set(dir(dw))
    with pytest.raises(AttributeError, match="no attribute 'simulat'"):
        dw.simulat  # noqa: B018


def test_import_loads_nothing_heavy():
    heavy = ["numba", "CoolProp", "matplotlib", "pvlib", "pandas", "scipy", "numpy"]
    said = subprocess.run(
        [sys.executable, "-c",
         f"import dewledger, sys; print([n for n in {heavy} if n in sys.modules])"],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    assert said.stdout.strip() == "[]"


def test_annual_is_a_table_by_option_with_units(study):
    annual = study.annual
    assert annual.index.tolist() == [option.key for option in study.options]
    assert annual.index.name == "option"
    for option in study.options:
        for name, value in flat(option.annual).items():
            found = annual.loc[option.key, name]
            assert found == value or (value is None and pd.isna(found)), name
    units = annual.attrs["units"]
    assert set(units) == set(annual.columns)
    assert units["electricity_kWh"] == "kWh"
    assert units["energy_cost"] == "USD"
    assert units["hours_above_range"] == "h"
    assert units["peak_recovered_kW"] == "kW"
    assert units["peak_recovered_hour"] == ""


def test_monthly_adds_up_to_annual(study):
    monthly = study.monthly
    assert monthly.index.names == ["option", "month"]
    for option in study.options:
        mine = monthly.loc[option.key]
        assert mine.index.tolist() == list(range(1, 13))
        for name in ("electricity_kWh", "gas_kWh", "energy_cost", "condensate_kg"):
            assert mine[name].sum() == pytest.approx(option.annual[name], rel=1e-9)


def test_hourly_has_every_hour_and_its_units(study):
    table = study.hourly("condenser")
    assert table.shape == (8760, len(COLUMNS))
    assert isinstance(table.index, pd.DatetimeIndex)
    year = study.weather.frame
    for part in ("month", "day", "hour"):
        assert np.array_equal(getattr(table.index, part), year[part])
    ledger = study.option("condenser").ledger
    assert np.array_equal(table["compressor_kWh"], ledger[INDEX["compressor_kWh"]])
    assert table.attrs["units"] == {name: c["unit"] for name, c in dw.ledger_columns().items()}
    table.iloc[:] = 0.0
    assert ledger[INDEX["compressor_kWh"]].sum() > 0.0
    with pytest.raises(
        dw.InputError, match=r'option "condensr" is not in the case.*did you mean "condenser"'
    ):
        study.hourly("condensr")


def test_a_leap_year_leaves_out_its_29_february():
    from dewledger.study import hours_of

    hours = hours_of(2024)
    assert len(hours) == 8760
    assert not ((hours.month == 2) & (hours.day == 29)).any()


def test_accounts_have_names_that_types_know(study):
    numbers = {
        name
        for option in study.options
        for name, value in option.annual.items()
        if isinstance(value, int | float) or (value is None and not name.endswith("_hour"))
    }
    assert set(get_args(AccountName)) == numbers
    gas = study.option("gas")
    assert gas.total("gas_kWh") == gas.annual["gas_kWh"]
    assert np.isnan(study.option("none").total("recovered_share"))
    with pytest.raises(dw.InputError, match=r'"gas_kwh" is not known \(did you mean "gas_kWh"'):
        gas.total("gas_kwh")


def test_repr_is_short_and_html_is_escaped(study):
    assert len(repr(study).splitlines()) < 10
    assert len(repr(study.options[0])) < 250
    case = dw.example_case("rooftop").with_values(
        {"title": "<script>alert(1)</script>", "options.gas.title": "<b>Gas</b>"}
    )
    html = dw.simulate(case, study.weather)._repr_html_()
    assert "<script>" not in html
    assert "<b>" not in html
    assert "&lt;script&gt;" in html


def test_every_repr_is_short(study):
    unit = dw.unit_from_ratings(
        refrigerant="R-410A", total_W=35e3, sensible_W=26e3, net=True, rated_flow_m3_s=1.9,
        efficiency_cop=3.3,
    )  # fmt: skip
    swept = dw.sweep(study.case, {"humidity.limit": "50 %, 55 %"})
    for found in (study.case, study.weather, unit, swept):
        assert len(repr(found)) < 250, found
    for found in (study.case, study.weather, swept):
        assert found._repr_html_().startswith("<")
    with pytest.raises(dw.InputError, match="total_W is not a number"):
        dw.unit_from_ratings(
            refrigerant="R-410A", total_W=[1.0], sensible_W=1.0, net=True, rated_flow_m3_s=1.9
        )


def test_a_chart_of_bare_ledgers_is_refused(study):
    with pytest.raises(dw.InputError, match="without its money"):
        dw.simulate(study.case, study.weather).plot("overview")


def test_simulate_leaves_the_rest_out_and_says_so(study, tmp_path):
    bare = dw.simulate(study.case, study.weather)
    for one, other in zip(bare.options, study.options, strict=True):
        assert np.array_equal(one.ledger, other.ledger, equal_nan=True)
        for name, value in one.annual.items():
            assert value == other.annual[name], name
    assert "energy_cost" not in bare.annual
    for what, mapping in (
        ("codes", bare.judgments), ("sizing", bare.sizings), ("money", bare.money.bills),
    ):  # fmt: skip
        assert not mapping
        with pytest.raises(dw.InputError, match=f"without its {what}; run it with {what}=True"):
            mapping["gas"]
    with pytest.raises(dw.InputError, match="without its codes"):
        dw.write_report(bare, tmp_path / "report")
    assert not (tmp_path / "report").exists()


def test_plot_and_report(study, tmp_path):
    figure = study.plot("overview")
    figure.savefig(tmp_path / "overview.png")
    with pytest.raises(dw.InputError, match=r'chart "overvew" is not known.*"humidity-map"'):
        study.plot("overvew")
    written = study.write_report(tmp_path / "report", ("csv", "json"))
    assert all(path.exists() for path in written)


def test_what_was_done_is_logged(study, caplog):
    with caplog.at_level(logging.INFO, logger="dewledger"):
        dw.simulate(study.case, study.weather)
    assert "4 options solved" in caplog.text
