"""Limits and scaling of the latent ratio; the worked table is among the published checks."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dewledger.components.re_evaporation import (
    latent_ratio,
    scaled_evaporation_ratio,
    scaled_wet_time,
)


@given(st.floats(200, 2000), st.floats(0, 2), st.floats(0, 120), st.floats(1, 6))
def test_between_nothing_and_all_and_rising(
    wet: float, gamma: float, tau: float, cycles: float
) -> None:
    found = [latent_ratio(x, wet, gamma, tau, cycles) for x in np.linspace(0.02, 1.0, 50)]
    assert all(0.0 <= one <= 1.0 for one in found)
    assert (np.diff(found) >= -1e-9).all()
    assert found[-1] == 1.0


def test_limits() -> None:
    assert latent_ratio(1.0, 720.0, 1.5, 60.0, 3.0) == 1.0
    assert latent_ratio(0.5, 720.0, 0.0, 0.0, 3.0) == 1.0
    assert latent_ratio(0.5, 720.0, 0.0, 60.0, 3.0) == 1.0
    assert latent_ratio(0.9999, 720.0, 1.5, 60.0, 3.0) == pytest.approx(1.0, abs=1e-3)
    assert latent_ratio(0.0, 720.0, 1.5, 60.0, 3.0) == 0.0
    # Without start-up loss: 1 - m_ev/t_on; by hand for X .7: t_on 1000 s, m_ev 539.54 s.
    assert latent_ratio(0.7, 1000.0, 1.5, 0.0, 3.0) == pytest.approx(1.0 - 0.53954, abs=1e-5)


def test_scaling() -> None:
    assert scaled_wet_time(900.0, 3000.0, 1500.0) == 1800.0
    assert scaled_evaporation_ratio(1.2, 3000.0, 1500.0, 7.0, 3.5) == pytest.approx(1.2)
