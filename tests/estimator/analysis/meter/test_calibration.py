"""Calibration on synthetic truth: the band that the bills leave covers what was true.

The models here are plain formulas of the inputs, so that the truth is known by hand: bills that
rise with three inputs, two of which the bills cannot distinguish.
"""

import numpy as np
import pytest

from dewledger.analysis.meter.calibration import (
    Evidence,
    band,
    calibrate,
    effective_size,
    prior_draws,
    weigh,
    weights_of,
)
from dewledger.analysis.monte_carlo import Assumed

ASSUMED = (
    Assumed("gains", 0.5, 1.0, 1.5, "for the test"),
    Assumed("outdoor air", 0.6, 1.0, 1.4, "for the test"),
    Assumed("infiltration", 0.0, 1.0, 2.0, "for the test", shape="uniform"),
)
COLD = 1.0 + np.cos(np.arange(12) / 12 * 2 * np.pi)
NAMES = tuple(f"bill {i}" for i in range(12))
SCATTER = 0.05


def bills_of(values):
    return (
        300.0 * values["gains"]
        + 200.0 * (2.0 - COLD) * values["outdoor air"]
        + 60.0 * values["infiltration"]
    )


def model(values):
    found = dict(zip(NAMES, bills_of(values), strict=True))
    saving = (
        900.0 * values["outdoor air"] + 120.0 * values["infiltration"] - 200.0 * values["gains"]
    )
    return found | {"saving": float(saving)}


def truth(rng):
    return {one.name: float(one.at(rng.random(1))[0]) for one in ASSUMED}


def evidence(rng, values, periods=12):
    exact = bills_of(values)
    sigma = np.full(12, SCATTER * exact.mean())
    measured = exact + rng.normal(0.0, sigma)
    measured[periods:] = np.nan
    return Evidence(NAMES, measured, sigma), measured


def test_weights_of_great_logarithms():
    weights = weights_of(np.array([-1000.0, -1000.0, -2000.0]))
    assert weights == pytest.approx([0.5, 0.5, 0.0])
    assert effective_size(weights) == pytest.approx(2.0)


def test_weighted_bands_by_hand():
    values = np.array([1.0, 2.0, 3.0, 4.0])
    found = band(values, np.array([0.05, 0.4, 0.4, 0.15]))
    assert (found.p10, found.p50, found.p90) == (2.0, 3.0, 4.0)


def test_the_true_saving_lies_in_the_band_in_70_to_90_percent():
    """200 truths from the ranges, noise on their bills, one shared set of 2,000 draws reweighted;
    three held-out months likewise."""
    rng = np.random.default_rng(3)
    start = prior_draws(ASSUMED, model, 2000, 1)
    inside = held = months = 0
    for _ in range(200):
        true = truth(rng)
        seen, _ = evidence(rng, true, periods=9)
        found = weigh(ASSUMED, start, seen)
        inside += found.posterior["saving"].holds(model(true)["saving"])
        for i in (9, 10, 11):
            months += 1
            held += found.posterior[NAMES[i]].holds(float(bills_of(true)[i]))
    assert 0.70 <= inside / 200 <= 0.90
    assert 0.70 <= held / months <= 0.90


def test_refined_draws_cover_too():
    """Bills of 1 % scatter leave too few of 300 draws: the set is drawn anew."""
    rng = np.random.default_rng(5)
    inside = refined = 0
    for _ in range(20):
        true = truth(rng)
        exact = bills_of(true)
        sigma = np.full(12, 0.01 * exact.mean())
        seen = Evidence(NAMES, exact + rng.normal(0.0, sigma), sigma)
        found = calibrate(ASSUMED, model, seen, draws=300, seed=2)
        refined += found.refined
        assert found.effective_size >= 100.0
        inside += found.posterior["saving"].holds(model(true)["saving"])
    assert refined >= 15
    assert 13 <= inside <= 19  # 80 % of 20, a deviation of 1.8 either way


def test_what_the_bills_cannot_tell_is_said():
    rng = np.random.default_rng(7)
    seen, _ = evidence(rng, truth(rng))
    found = calibrate(ASSUMED, model, seen, draws=2000, seed=1)
    assert any("say little about infiltration" in text for text in found.warnings)
    (gains,) = (one for one in found.inputs if one.name == "gains")
    assert gains.told_apart


def test_bills_that_no_draw_fits_are_said():
    seen = Evidence(NAMES, np.full(12, 5000.0), np.full(12, 50.0))
    found = calibrate(ASSUMED, model, seen, draws=200, seed=1)
    assert any("no draw of the inputs fits" in text for text in found.warnings)


def test_a_base_load_is_fitted_in_every_draw():
    rng = np.random.default_rng(11)
    true = truth(rng)
    days = np.full(12, 30.0)
    sigma = np.full(12, 30.0)
    seen = Evidence(NAMES, bills_of(true) + 40.0 * days, sigma, days)
    start = prior_draws(ASSUMED, model, 500, 1)
    modeled = seen.modeled(start.results)
    assert modeled.mean() == pytest.approx(seen.measured.mean(), rel=0.02)


def test_outcomes_are_evaluated_for_few_draws_and_give_the_same_band():
    """What nothing is weighed by is solved for draws taken by their weights: of 2,000 draws 600."""
    rng = np.random.default_rng(13)
    seen, _ = evidence(rng, truth(rng))
    solved = []

    def saving(values):
        solved.append(values)
        return {"saving": model(values)["saving"]}

    whole = calibrate(ASSUMED, model, seen, draws=2000, seed=1)
    apart = calibrate(
        ASSUMED,
        lambda values: dict(zip(NAMES, bills_of(values), strict=True)),
        seen,
        draws=2000,
        seed=1,
        outcomes=saving,
    )
    assert len(solved) <= 600
    one, other = whole.posterior["saving"], apart.posterior["saving"]
    spread = one.p90 - one.p10
    for end in ("p10", "p50", "p90"):
        assert getattr(other, end) == pytest.approx(getattr(one, end), abs=0.1 * spread)


def test_many_inputs_that_the_bills_do_not_feel_leave_enough_draws():
    """Twenty more inputs that move no bill: three that do are found, the others stay as assumed."""
    rng = np.random.default_rng(17)
    idle = tuple(Assumed(f"idle {i}", 0.0, 1.0, 2.0, "for the test") for i in range(20))
    true = truth(rng)
    exact = bills_of(true)
    sigma = np.full(12, 0.01 * exact.mean())
    seen = Evidence(NAMES, exact + rng.normal(0.0, sigma), sigma)
    found = calibrate((*ASSUMED, *idle), model, seen, draws=400, seed=2)
    assert found.effective_size >= 100.0
    for one in found.inputs[3:]:
        assert not one.told_apart
    (gains,) = (one for one in found.inputs if one.name == "gains")
    assert gains.posterior.p10 - 0.05 <= true["gains"] <= gains.posterior.p90 + 0.05


def test_gas_and_humidity_count_with_the_bills():
    """Log likelihoods add: one value 2 deviations off takes 0.5 x 2^2."""
    bills = Evidence(("bill",), np.array([100.0]), np.array([5.0]))
    both = Evidence(
        ("bill",), np.array([100.0]), np.array([5.0]),
        others=(Evidence(("worst",), np.array([0.70]), np.array([0.05])),),
    )  # fmt: skip
    results = {"bill": np.array([105.0]), "worst": np.array([0.80])}
    assert bills.log_likelihood(results) == pytest.approx([-0.5])
    assert both.log_likelihood(results) == pytest.approx([-0.5 - 2.0])
    assert both.count == 2
