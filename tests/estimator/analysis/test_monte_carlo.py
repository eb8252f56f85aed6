"""Effects and Monte Carlo on functions whose answers are known."""

import importlib
import math
import sys
import threading

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from dewledger.analysis.monte_carlo import Assumed, monte_carlo, one_at_a_time
from dewledger.weather.errors import InputError

LINEAR = (
    Assumed("small", 9.0, 10.0, 11.0, "a tenth either way"),
    Assumed("large", 0.0, 10.0, 20.0, "hardly known"),
    Assumed("middle", 6.0, 10.0, 14.0, "estimated", shape="uniform"),
    Assumed("idle", 0.0, 1.0, 2.0, "without effect"),
)


def linear(values):
    """Savings: coefficients 1, -1, 1, so the effects are 2, 20 and 8."""
    saving = values["small"] - values["large"] + values["middle"]
    return {"saving": saving, "share": 0.5 + values["small"] / 100.0}


def one_file(values):
    return {"saving": (30.0, 10.0, 20.0)[int(values["file"])] + values["small"]}


def sometimes(values):
    return {"share": values["large"] if values["large"] >= 5.0 else math.nan}


def test_effects_of_a_linear_function_are_its_coefficients():
    found = one_at_a_time(LINEAR, linear)
    assert found.base == {"saving": 10.0, "share": 0.6}
    ranked = found.ranked("saving")
    assert [(s.assumption, s.size) for s in ranked] == [
        *(("large", 20.0), ("middle", 8.0), ("small", 2.0), ("idle", 0.0))
    ]
    # more of "large" saves less: its low value gives the high result
    assert (ranked[0].result_low, ranked[0].result_high) == (20.0, 0.0)
    assert ranked[0].reason == "hardly known"
    assert [s.size for s in found.ranked("share")[1:]] == [0.0] * 3


def test_choices_are_all_tried():
    weather = Assumed("file", 0, 2, 2, "three stations within 60 km", shape="choice")
    found = one_at_a_time([weather, LINEAR[0]], one_file).ranked("saving")[0]
    assert found.base == 30.0
    assert (found.value_low, found.result_low) == (1.0, 20.0)
    assert (found.value_high, found.result_high) == (0.0, 40.0)
    drawn = monte_carlo([weather, LINEAR[0]], one_file, draws=300, seed=5, pool="none")
    assert sorted(np.unique(drawn.values[:, 0], return_counts=True)[1]) == [100, 100, 100]


def test_median_equals_the_base_answer_for_symmetric_ranges():
    draws = 2000
    found = monte_carlo(LINEAR, linear, draws=draws, seed=1, pool="none")
    summary = found.summary("saving")
    # Plain random sampling would err by 1.25 sigma / sqrt(n); a Latin hypercube errs less. The
    # variances of a triangular and a uniform range: (high - low)^2 / 24 and / 12.
    sigma = math.sqrt(2**2 / 24 + 20**2 / 24 + 8**2 / 12)
    assert summary.p50 == pytest.approx(10.0, abs=3 * 1.25 * sigma / math.sqrt(draws))
    assert summary.mean == pytest.approx(10.0, abs=0.01)
    assert found.results["saving"].std() == pytest.approx(sigma, rel=0.05)
    assert summary.p10 < summary.p50 < summary.p90
    assert (summary.draws, summary.undetermined) == (draws, 0)


def test_ranks_agree_with_effects_in_a_linear_case():
    found = monte_carlo(LINEAR, linear, draws=1000, seed=2, pool="none").ranked("saving")
    assert [name for name, _ in found] == [
        s.assumption for s in one_at_a_time(LINEAR, linear).ranked("saving")
    ]
    by_name = dict(found)
    assert by_name["large"] < -0.8
    assert by_name["middle"] > 0.3
    assert abs(by_name["idle"]) < 0.1


def test_rank_correlation_against_scipy():
    found = monte_carlo(LINEAR, linear, draws=200, seed=3, pool="none")
    expected = stats.spearmanr(found.values[:, 1], found.results["saving"]).statistic
    assert dict(found.ranked("saving"))["large"] == pytest.approx(expected)


def test_probability_of_a_uniform_result_by_hand():
    uniform = [Assumed("large", 0.0, 10.0, 20.0, "hardly known", shape="uniform")]
    found = monte_carlo(uniform, sometimes, draws=1000, seed=4, pool="none")
    # a quarter of the draws is undetermined; of the rest, a third lies above 15
    summary = found.summary("share")
    assert summary.undetermined == 250
    assert found.probability_at_least("share", 15.0) == pytest.approx(1 / 3, abs=0.002)
    assert summary.p50 == pytest.approx(12.5, abs=0.05)


# Worker processes import the function they are given, which a test module does not allow.
_MODULE = """
from dewledger.weather.errors import InputError

def linear(values):
    saving = values["small"] - values["large"] + values["middle"]
    return {"saving": saving, "share": 0.5 + values["small"] / 100.0}

def broken(values):
    raise InputError("the set point cannot be held; write a higher one")
"""


@pytest.fixture
def importable(tmp_path, monkeypatch):
    (tmp_path / "functions_to_evaluate.py").write_text(_MODULE, encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    yield importlib.import_module("functions_to_evaluate")
    sys.modules.pop("functions_to_evaluate")


def test_same_seed_same_bytes_on_any_pool_and_count_of_workers(importable):
    first = monte_carlo(LINEAR, linear, draws=150, seed=7, pool="none")
    for pool, workers in (("none", 1), ("thread", 3), ("process", 2)):
        again = monte_carlo(
            LINEAR, importable.linear, draws=150, seed=7, pool=pool, workers=workers
        )
        assert again.values.tobytes() == first.values.tobytes()
        for name in first.results:
            assert again.results[name].tobytes() == first.results[name].tobytes()
    other = monte_carlo(LINEAR, linear, draws=150, seed=8, pool="none")
    assert other.values.tobytes() != first.values.tobytes()


def test_each_slice_of_a_range_is_drawn_once():
    found = monte_carlo(LINEAR, linear, draws=100, seed=9, pool="none")
    slices = np.floor((found.values[:, 2] - 6.0) / 8.0 * 100)
    assert sorted(slices.tolist()) == list(range(100))


def test_results_are_read_only():
    found = monte_carlo(LINEAR, linear, draws=10, seed=1, pool="none")
    with pytest.raises(ValueError, match="read-only"):
        found.values[0, 0] = 0.0


@pytest.mark.parametrize("pool", ["none", "thread"])
def test_progress_reaches_the_total_in_the_calling_thread(pool):
    seen = []
    monte_carlo(
        LINEAR,
        linear,
        draws=130,
        seed=1,
        pool=pool,
        workers=2,
        progress=lambda done, total: seen.append((done, total, threading.get_ident())),
    )
    assert seen[-1][:2] == (130, 130)
    assert [s[0] for s in seen] == sorted(s[0] for s in seen)
    assert {s[2] for s in seen} == {threading.get_ident()}


@pytest.mark.parametrize("pool", ["none", "thread", "process"])
def test_what_evaluate_raises_reaches_the_caller(pool, importable):
    with pytest.raises(InputError, match="cannot be held"):
        monte_carlo(LINEAR, importable.broken, draws=20, seed=1, pool=pool, workers=2)


@given(
    low=st.floats(-100, 100),
    left=st.floats(0, 50),
    right=st.floats(0, 50),
    probability=st.floats(0, 1),
)
def test_triangular_range_against_scipy(low, left, right, probability):
    if left + right < 0.01:
        return
    one = Assumed("x", low, low + left, low + left + right, "test")
    width = one.high - one.low
    found = float(one.at(np.array([probability]))[0])
    expected = stats.triang.ppf(probability, (one.likely - one.low) / width, one.low, width)
    assert found == pytest.approx(expected, abs=1e-6 * max(width, 1.0))
    assert one.low - 1e-9 <= found <= one.high + 1e-9


@pytest.mark.parametrize(
    ("values", "shape", "sentence"),
    [
        ((2, 1, 3), "triangular", "in rising order"),
        ((1, 1, 1), "uniform", "high above low"),
        ((1, math.nan, 3), "triangular", "not a finite number"),
        ((0, 0.5, 2), "choice", "must be whole numbers"),
    ],
)
def test_bad_ranges_are_one_sentence(values, shape, sentence):
    with pytest.raises(InputError, match=sentence):
        Assumed("gains", *values, "some reason", shape=shape)


def test_a_range_needs_a_reason_and_a_name_of_its_own():
    with pytest.raises(InputError, match="gives no reason"):
        Assumed("gains", 1, 2, 3, " ")
    with pytest.raises(InputError, match='"small" has two ranges'):
        one_at_a_time([LINEAR[0], LINEAR[0]], linear)
    with pytest.raises(InputError, match="at least one"):
        one_at_a_time([], linear)
    with pytest.raises(InputError, match="0 draws are too few"):
        monte_carlo(LINEAR, linear, draws=0, seed=1)
