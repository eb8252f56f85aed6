"""The coil line, its inversions and the rating turned round."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from dewledger.components.cooling_coil import (
    apparatus_dew_point,
    bypass_factor,
    coil_leaving,
    find_coil_leaving,
    leaving_from_heats,
    lowest_sensible_ratio,
    surface_for_leaving_hum_ratio,
    surface_for_leaving_temp,
)
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import (
    dew_point,
    enthalpy,
    heat_capacity,
    hum_ratio_from_rel_hum,
    hum_ratio_from_wet_bulb,
    saturation_enthalpy,
    saturation_hum_ratio,
    vapor_enthalpy,
)
from dewledger.weather.physics.moist_air_arrays import in_rows

P = 101325.0
temps = st.floats(8.0, 45.0)
rel_hums = st.floats(0.03, 1.0)
bypasses = st.floats(0.001, 0.6)
pressures = st.floats(75_000.0, 105_000.0)


def test_bypass_falls_with_contact_time() -> None:
    # BF = exp(-A0/m): at half the flow the bypass factor is squared.
    assert bypass_factor(2.0, 0.5) == pytest.approx(bypass_factor(2.0, 1.0) ** 2)


@given(temps, rel_hums, st.floats(-10.0, 40.0), bypasses, pressures)
@settings(deadline=None)
def test_leaving_air(temp: float, rel_hum: float, surface: float, bypass: float, p: float) -> None:
    assume(surface < temp - 0.1)
    w = hum_ratio_from_rel_hum(temp, rel_hum, p)
    out, w_out = coil_leaving(temp, w, surface, bypass, p)
    assert surface - 1e-9 <= out <= temp
    assert w_out <= w
    assert w_out <= saturation_hum_ratio(out, p) * (1.0 + 1e-9)
    # Enthalpy divides as the bypass factor says, fog or not.
    h_surface = enthalpy(surface, min(saturation_hum_ratio(surface, p), w))
    share = (enthalpy(out, w_out) - h_surface) / (enthalpy(temp, w) - h_surface)
    assert share == pytest.approx(bypass, abs=1e-6)
    if surface >= dew_point(w, p):
        assert w_out == w
    total = 0.7 * (enthalpy(temp, w) - enthalpy(out, w_out))
    sensible = 0.7 * heat_capacity(w_out) * (temp - out)
    latent = 0.7 * (w - w_out) * vapor_enthalpy(temp)
    assert total == pytest.approx(sensible + latent, rel=1e-11, abs=1e-7)
    back, w_back = leaving_from_heats(temp, w, total, sensible, 0.7)
    assert back == pytest.approx(out, abs=1e-8)
    assert w_back == pytest.approx(w_out, abs=1e-12)


def test_no_bypass_leaves_saturated_at_the_surface() -> None:
    w = hum_ratio_from_rel_hum(27.0, 0.5, P)
    out, w_out = coil_leaving(27.0, w, 10.0, 0.0, P)
    assert out == pytest.approx(10.0, abs=1e-12)
    assert w_out == pytest.approx(saturation_hum_ratio(10.0, P), rel=1e-12)


def test_fog_condenses_at_constant_enthalpy() -> None:
    """Saturated air at 25 C on a 10 C surface: the straight line lies above saturation."""
    w = saturation_hum_ratio(25.0, P)
    out, w_out = coil_leaving(25.0, w, 10.0, 0.3, P)
    h_line = 0.7 * saturation_enthalpy(10.0, P) + 0.3 * saturation_enthalpy(25.0, P)
    assert enthalpy(out, w_out) == pytest.approx(h_line, rel=1e-10)
    assert w_out == pytest.approx(saturation_hum_ratio(out, P), rel=1e-10)
    assert w_out < 0.7 * saturation_hum_ratio(10.0, P) + 0.3 * w


@given(temps, rel_hums, st.floats(-8.0, 40.0), bypasses, pressures, st.floats(-60.0, 60.0))
@settings(deadline=None)
def test_surface_for_leaving_temp(
    temp: float, rel_hum: float, surface: float, bypass: float, p: float, start: float
) -> None:
    assume(surface < temp - 0.5)
    w = hum_ratio_from_rel_hum(temp, rel_hum, p)
    out, _ = coil_leaving(temp, w, surface, bypass, p)
    found = surface_for_leaving_temp(temp, w, out, bypass, p, start)
    again, _ = coil_leaving(temp, w, found, bypass, p)
    assert again == pytest.approx(out, abs=1e-7)
    assert found == pytest.approx(surface, abs=1e-5)


@given(st.floats(15.0, 45.0), st.floats(0.2, 0.6), st.floats(0.05, 0.9), bypasses)
@settings(deadline=None)
def test_surface_for_leaving_hum_ratio(
    temp: float, rel_hum: float, share: float, bypass: float
) -> None:
    w = hum_ratio_from_rel_hum(temp, rel_hum, P)
    w_out = share * w
    found = surface_for_leaving_hum_ratio(w, w_out, bypass, P)
    if w_out <= bypass * w + 1e-6:
        assert math.isnan(found) or found < -20.0
        return
    line = bypass * w + (1.0 - bypass) * saturation_hum_ratio(found, P)
    assert line == pytest.approx(w_out, rel=1e-8)


@given(st.floats(20.0, 40.0), st.floats(0.3, 0.8), st.floats(2.0, 14.0), st.floats(0.01, 0.4))
@settings(deadline=None)
def test_rating_turned_round(temp: float, rel_hum: float, surface: float, bypass: float) -> None:
    w = hum_ratio_from_rel_hum(temp, rel_hum, P)
    _, touch = lowest_sensible_ratio(temp, w, P)
    assume(touch + 0.5 < surface < dew_point(w, P) - 0.5)
    out, w_out = coil_leaving(temp, w, surface, bypass, P)
    assume(w_out < 0.99 * saturation_hum_ratio(out, P))
    total = enthalpy(temp, w) - enthalpy(out, w_out)
    sensible = heat_capacity(w_out) * (temp - out)
    found, found_bypass = apparatus_dew_point(temp, w, total, sensible, 1.0, P)
    assert found == pytest.approx(surface, abs=1e-5)
    assert found_bypass == pytest.approx(bypass, abs=1e-5)


def test_impossible_ratio_names_the_nearest_possible_one() -> None:
    w = hum_ratio_from_wet_bulb(26.7, 19.4, P)
    with pytest.raises(InputError, match=r"nearest possible is 0\.\d+") as caught:
        apparatus_dew_point(26.7, w, 10_000.0, 3_000.0, 0.6, P)
    nearest = float(str(caught.value).split()[-1])
    surface, bypass = apparatus_dew_point(26.7, w, 10_000.0, nearest * 10_000.0, 0.6, P)
    assert surface < dew_point(w, P)
    assert 0.0 <= bypass < 1.0
    # Too little air for so dry a coil: the highest possible ratio is reported, and is possible.
    with pytest.raises(InputError, match="nearest possible is") as caught:
        apparatus_dew_point(26.7, w, 10_000.0, 9_500.0, 0.5, P)
    nearest = float(str(caught.value).split()[-1])
    assert apparatus_dew_point(26.7, w, 10_000.0, nearest * 10_000.0, 0.5, P)[1] < 0.05


def test_too_little_air_is_told() -> None:
    w = hum_ratio_from_wet_bulb(26.7, 19.4, P)
    with pytest.raises(InputError, match="impossible at the stated air flow"):
        apparatus_dew_point(26.7, w, 10_000.0, 7_000.0, 0.15, P)


def test_compiled_equals_plain() -> None:
    w = hum_ratio_from_rel_hum(28.0, 0.55, P)
    out = np.empty((2, 1))
    find_coil_leaving(*in_rows(28.0, w, 9.0, 0.1, P), out)
    assert out[:, 0] == pytest.approx(coil_leaving(28.0, w, 9.0, 0.1, P), rel=1e-13)
