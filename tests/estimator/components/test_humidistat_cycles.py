"""The wet coil under thermostat and humidistat.

Equation of Henderson and Rengarajan (ASHRAE Transactions 102(1), 1996, paper 3958, not checked
against the text); the tables were computed from it by another program, with the thermostat law.
"""

import pytest

from dewledger.components.re_evaporation import latent_ratio, moisture_cycles_per_hour

RUNTIMES = (0.1, 0.3, 0.5, 0.6, 0.7, 0.8, 0.9)
# Starts an hour, wet time, gamma, start-up time: latent kept by runtime.
TABLE = {
    (3.0, 1000.0, 1.0, 60.0): (0.0, 0.0, 0.06, 0.37, 0.59, 0.76, 0.90),
    (3.0, 1000.0, 1.5, 45.0): (0.0, 0.0, 0.0, 0.14, 0.44, 0.67, 0.85),
    (0.5, 1000.0, 1.0, 60.0): (0.48, 0.60, 0.72, 0.77, 0.83, 0.89, 0.94),
    (0.2, 1000.0, 1.0, 60.0): (0.80, 0.84, 0.89, 0.91, 0.93, 0.96, 0.98),
}


@pytest.mark.parametrize(("inputs", "kept"), TABLE.items())
def test_latent_kept(inputs, kept):
    starts, wet, gamma, start_up = inputs
    for runtime, expected in zip(RUNTIMES, kept, strict=True):
        found = latent_ratio(runtime, wet, gamma, start_up, starts)
        assert found == pytest.approx(expected, abs=0.0101)


@pytest.mark.parametrize(
    ("volume_ft3", "store", "differential", "starts"),
    [(4000.0, 15.0, 0.03, 0.3), (6400.0, 15.0, 0.03, 0.2), (4000.0, 1.0, 0.03, 5.0)],
)
def test_starts_under_a_humidistat(volume_ft3, store, differential, starts):
    """By hand: 3.2 lb/h per ton removed while running; 75 F air at 13.68 ft3/lb; 3 % RH at 75 F is
    0.00056 lb/lb. 0.3 an hour at 4,000 ft3 per ton and 0.2 at 6,400; fifteen times as often where
    nothing but the air holds moisture."""
    band_lb = volume_ft3 / 13.68 * store * 0.0188 * differential
    found = moisture_cycles_per_hour(3.2 * 0.45359237 / 3600.0, band_lb * 0.45359237)
    assert found == pytest.approx(3.2 / (4.0 * band_lb), rel=1e-9)
    assert found == pytest.approx(starts, abs=0.05 if store > 1.0 else 0.2)
