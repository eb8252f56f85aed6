"""The public moist air against psychrolib, in every kind of argument, and its refusals."""

import numpy as np
import pandas as pd
import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dewledger.views import psychrometrics as air
from dewledger.weather.errors import InputError

psychrolib.SetUnitSystem(psychrolib.SI)


@given(st.floats(-20.0, 50.0), st.floats(0.05, 1.0), st.floats(60_000.0, 105_000.0))
@settings(max_examples=60, deadline=None)
def test_states_agree_with_psychrolib(temp, rh, pressure):
    w = air.humidity_ratio(temp, rh, pressure)
    assert w == pytest.approx(psychrolib.GetHumRatioFromRelHum(temp, rh, pressure), rel=1e-6)
    assert air.relative_humidity(temp, w, pressure) == pytest.approx(rh, rel=1e-9)
    assert air.dew_point(w, pressure) == pytest.approx(
        psychrolib.GetTDewPointFromHumRatio(temp, w, pressure), abs=0.01
    )
    wet = air.wet_bulb(temp, w, pressure)
    assert wet == pytest.approx(psychrolib.GetTWetBulbFromHumRatio(temp, w, pressure), abs=0.01)
    assert air.humidity_ratio_at_wet_bulb(temp, wet, pressure) == pytest.approx(
        w, rel=1e-5, abs=1e-8
    )
    assert air.enthalpy(temp, w) == pytest.approx(psychrolib.GetMoistAirEnthalpy(temp, w))
    assert air.specific_volume(temp, w, pressure) == pytest.approx(
        psychrolib.GetMoistAirVolume(temp, w, pressure), rel=1e-5
    )


def test_kind_in_kind_out():
    assert isinstance(air.dew_point(0.01), float)
    array = air.dew_point(np.array([0.008, 0.01]), 101325.0)
    assert isinstance(array, np.ndarray)
    index = pd.date_range("2023-01-01", periods=2, freq="h")
    series = air.relative_humidity(pd.Series([24.0, 25.0], index=index), 0.010)
    assert series.index.equals(index)
    assert series.iloc[0] == air.relative_humidity(24.0, 0.010)
    assert air.humidity_ratio([20.0, 24.0], 0.5).shape == (2,)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: air.relative_humidity(24.0, 0.5), "above saturation"),
        (lambda: air.relative_humidity(24.0, float("nan")), "not a number"),
        (lambda: air.humidity_ratio(24.0, 55.0), "relative_humidity 55 is out of range"),
        (lambda: air.humidity_ratio(24.0, 0.5, 101.325), "pressure_Pa 101.325 is out of range"),
        (lambda: air.humidity_ratio("warm", 0.5), "temp_C is no number"),
        (lambda: air.dew_point(0.0), "has no dew point"),
        (lambda: air.dew_point(-0.01), "has no dew point"),
        (lambda: air.wet_bulb(10.0, 0.02), "above saturation"),
        (lambda: air.humidity_ratio_at_wet_bulb(20.0, 25.0), "above temp_C"),
        (lambda: air.humidity_ratio_at_wet_bulb(40.0, 5.0), "below that of dry air"),
        (lambda: air.humidity_ratio(150.0, 1.0), "above the boiling point"),
        (lambda: air.humidity_ratio(np.ones(3), np.full(2, 0.5)), "shapes"),
        (lambda: air.humidity_ratio(pd.Series([1.0]), pd.Series([0.5], index=[7])), "indexes"),
        (lambda: air.cooling_coil(24.0, 0.010, 30.0, 0.1), "above the entering air"),
        (lambda: air.cooling_coil(24.0, 0.030, 10.0, 0.1), "fog"),
        (lambda: air.cooling_coil(24.0, 0.010, 10.0, 1.5), "bypass_factor 1.5 is out of range"),
    ],
)  # fmt: skip
def test_nonsense_is_one_sentence(call, words):
    with pytest.raises(InputError, match=words) as caught:
        call()
    assert "\n" not in str(caught.value)


def test_a_coil_by_hand():
    # Dry: only mixing with air at the surface's temperature.
    temp, w = air.cooling_coil(24.0, 0.004, 10.0, 0.25)
    assert temp == pytest.approx(10.0 + 0.25 * 14.0)
    assert w == 0.004
    # Wet: the mean of enthalpies and humidity ratios, by psychrolib.
    w_surface = psychrolib.GetSatHumRatio(8.0, 101325.0)
    temp, w = air.cooling_coil(26.0, 0.012, 8.0, 0.1)
    assert w == pytest.approx(0.9 * w_surface + 0.1 * 0.012, rel=1e-5)
    h = 0.9 * psychrolib.GetMoistAirEnthalpy(8.0, w_surface) + 0.1 * psychrolib.GetMoistAirEnthalpy(
        26.0, 0.012
    )
    assert temp == pytest.approx(psychrolib.GetTDryBulbFromEnthalpyAndHumRatio(h, w), abs=1e-3)


def test_a_coil_takes_arrays_and_series():
    temps = [24.0, 26.0, 28.0]
    alone = [air.cooling_coil(temp, 0.012, 8.0, 0.1) for temp in temps]
    temp, w = air.cooling_coil(np.array(temps), 0.012, 8.0, 0.1)
    assert temp.tolist() == [one for one, _ in alone]
    assert w.tolist() == [one for _, one in alone]
    series = pd.Series(temps, index=["a", "b", "c"])
    found, _ = air.cooling_coil(series, 0.012, 8.0, 0.1)
    assert found.index.tolist() == ["a", "b", "c"]
    assert found.tolist() == temp.tolist()
    with pytest.raises(InputError, match=r"write one at or below 24"):
        air.cooling_coil(series, 0.012, 25.0, 0.1)
