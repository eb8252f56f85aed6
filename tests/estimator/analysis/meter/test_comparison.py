"""Figures of fit by hand from their definitions (ASHRAE Guideline 14, read second-hand)."""

import math
from datetime import date

import numpy as np
import pytest

from dewledger.analysis.meter.bills import Bills
from dewledger.analysis.meter.comparison import base_load, compare, fit
from dewledger.weather.errors import InputError


def bills(*measured):
    months = range(1, len(measured) + 1)
    return Bills(
        tuple(date(2021, m, 1) for m in months),
        tuple(date(2021, m + 1, 1) if m < 12 else date(2022, 1, 1) for m in months),
        np.array(measured, dtype=float), np.full(len(measured), np.nan),
        np.full(len(measured), np.nan), "bills",
    )  # fmt: skip


def test_figures_by_hand():
    """Measured 110, 90, 100, modeled 100 each: differences 10, -10, 0; mean 100, n - 1 = 2."""
    found = fit(np.array([110.0, 90.0, 100.0]), np.array([100.0, 100.0, 100.0]))
    assert found.nmbe == 0.0
    assert found.cv_rmse == pytest.approx(math.sqrt(200.0 / 2) / 100.0)
    assert found.explained == pytest.approx(0.0)
    low = fit(np.array([110.0, 110.0, 110.0]), np.array([100.0, 100.0, 100.0]))
    assert low.nmbe == pytest.approx(30.0 / (2 * 110.0))  # positive: the model is low
    assert low.explained is None
    assert not low.within_limits


def test_too_few_bills_say_so():
    with pytest.raises(InputError, match="only 2"):
        fit(np.array([1.0, 2.0, np.nan]), np.array([1.0, 2.0, 3.0]))


def test_base_load_is_the_steady_difference():
    """Modeled 0 and measured 48 kWh a day: a steady 2 kW; never below 0."""
    days = np.array([31.0, 28.0, 31.0])
    load, with_it = base_load(48.0 * days, np.zeros(3), days)
    assert load == pytest.approx(48.0)
    assert with_it == pytest.approx(48.0 * days)
    assert base_load(np.zeros(3), 48.0 * days, days)[0] == 0.0


def test_months_of_a_steady_load():
    days = [31, 28, 31, 30]
    exact = compare(
        np.ones(8760), np.zeros(8760), bills(*[24.0 * d for d in days]), 2021, "unit", False
    )
    assert exact.nmbe == 0.0
    assert exact.monthly["fits"].all()
    assert exact.base_kW == 0.0
    whole = compare(
        np.ones(8760), np.zeros(8760), bills(*[72.0 * d for d in days]), 2021, "unit", True
    )
    assert whole.base_kW == pytest.approx(2.0)
    assert whole.cv_rmse == pytest.approx(0.0, abs=1e-12)
    assert "NMBE" in repr(whole)


def test_the_months_that_do_not_fit_are_named():
    found = compare(
        np.ones(8760), np.zeros(8760), bills(744, 672, 744, 1500, 744, 720), 2021, "unit", False
    )
    assert found.monthly["fits"].tolist() == [True, True, True, False, True, True]
