"""Moist air over arrays, against moist_air.py state by state (which psychrolib holds in check)."""

import numpy as np
import pytest

from dewledger.weather.physics import moist_air, moist_air_arrays

# Inside the table, at its ends and its gap about the triple point, and beyond it.
TEMPS = np.concatenate(
    [np.linspace(-99.0, 199.0, 300), [-60.0, -1e-9, -1e-10, 0.0, 0.01, 0.011, 99.999, 100.0]]
)
P = 98_000.0


def one_by_one(function, *arrays):
    return np.array([function(*map(float, state)) for state in zip(*arrays, strict=True)])


def test_saturation_is_that_of_one_state():
    found = moist_air_arrays.saturation_pressures(TEMPS)
    assert found == pytest.approx(one_by_one(moist_air.saturation_pressure, TEMPS), rel=1e-14)
    pressures, slopes = moist_air_arrays.saturation_pressures_and_slopes(TEMPS)
    assert pressures == pytest.approx(found, rel=1e-15)
    expected = one_by_one(moist_air.saturation_pressure_slope, TEMPS)
    assert slopes == pytest.approx(expected, rel=1e-12)


def test_humidity_is_that_of_one_state():
    temps = TEMPS[TEMPS < 90.0]
    pressures, half = np.full(temps.size, P), np.full(temps.size, 0.5)
    ratios = moist_air_arrays.hum_ratios_from_rel_hum(temps, 0.5, P)
    expected = one_by_one(moist_air.hum_ratio_from_rel_hum, temps, half, pressures)
    assert ratios == pytest.approx(expected, rel=1e-14)
    assert moist_air_arrays.rel_hums_from_hum_ratio(temps, ratios, P) == pytest.approx(0.5)
    wet = temps - 1.0
    expected = one_by_one(moist_air.hum_ratio_from_wet_bulb, temps, wet, pressures)
    assert moist_air_arrays.hum_ratios_from_wet_bulb(temps, wet, P) == pytest.approx(expected)


def test_dew_points_and_wet_bulbs_are_those_of_one_state():
    temps = np.linspace(-40.0, 60.0, 101)
    ratios = moist_air_arrays.hum_ratios_from_rel_hum(temps, 0.4, P)
    pressures = np.full(temps.size, P)
    dew = one_by_one(moist_air.dew_point, ratios, pressures)
    wet = one_by_one(moist_air.wet_bulb, temps, ratios, pressures)
    assert moist_air_arrays.dew_points(ratios, P) == pytest.approx(dew, abs=1e-9)
    assert moist_air_arrays.wet_bulbs(temps, ratios, P) == pytest.approx(wet, abs=1e-8)


def test_shapes_are_those_of_what_was_asked():
    temps = np.array([[10.0, 20.0, 30.0], [15.0, 25.0, 35.0]])
    assert moist_air_arrays.saturation_pressures(25.0).shape == ()
    assert moist_air_arrays.saturation_hum_ratios(temps, P).shape == (2, 3)
    pressures = np.array([[P], [P]])
    pressures.flags.writeable = False
    assert moist_air_arrays.wet_bulbs(temps, 0.004, pressures).shape == (2, 3)


def test_no_such_air_is_no_number():
    assert np.isnan(moist_air_arrays.saturation_pressures(np.array([np.nan, -280.0]))).all()
    assert np.isnan(moist_air_arrays.dew_points(np.nan, P))
