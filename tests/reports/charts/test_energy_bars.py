"""Bars of site energy add up to what is billed, on every bundled case."""

from pathlib import Path

import pytest

from dewledger import simulate
from dewledger.case import bundled_case
from dewledger.reports.charts.study import energy_layers

NAMES = sorted(path.stem for path in (Path(__file__).parents[3] / "estimator/cases").glob("*.toml"))


@pytest.mark.parametrize("name", NAMES)
def test_bars_add_up_to_the_bill(name):
    study = simulate(bundled_case(name))
    layers = energy_layers(study.options)
    keys = [key for layer in layers for key in layer.keys]
    assert len(keys) == len(set(keys)), name
    for option in study.options:
        billed = option.annual["electricity_kWh"] + option.annual["gas_kWh"]
        assert sum(layer.annual(option) for layer in layers) == pytest.approx(billed, rel=1e-9)
        months = sum(layer.monthly(option) for layer in layers)
        by_month = option.monthly["electricity_kWh"] + option.monthly["gas_kWh"]
        assert months == pytest.approx(by_month.to_numpy(), rel=1e-9, abs=1e-6)
