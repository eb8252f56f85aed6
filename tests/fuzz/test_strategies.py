"""Trends and sweep tables, drawn: written well, read right; of any other shape, one sentence."""

import itertools
import os
from datetime import datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dewledger.analysis.meter.trends import read_trends
from dewledger.analysis.sweep.points import make_plan
from dewledger.case import bundled_text, case_from_dict, case_from_text
from dewledger.case.meter import TREND_COLUMNS, Trend
from dewledger.weather.errors import InputError

pytestmark = pytest.mark.fuzz

EFFORT = int(os.environ.get("DEWLEDGER_FUZZ", "1"))
CASE = case_from_text(bundled_text("music-school"))
GIVEN = CASE.given()


def drawn(examples):
    """So many examples, times the effort asked for; the same ones each time."""
    return settings(
        max_examples=examples * EFFORT, deadline=None, derandomize=True,
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    )  # fmt: skip


# Any text a user's file may hold, and what TOML can hold.
TEXTS = st.text(st.characters(codec="utf-8", exclude_characters="\r"), max_size=30)
SCALARS = st.one_of(
    TEXTS, st.booleans(), st.integers(), st.integers(-(10**400), 10**400), st.floats()
)
ANYTHING = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=12,
)

TIMES = ("%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M", "%m/%d/%Y %I:%M:%S %p", "%d.%m.%Y %H:%M")


@drawn(25)
@given(
    start=st.integers(0, 360 * 24),
    hours=st.integers(30, 72),
    minutes=st.sampled_from([5, 15, 20, 60]),
    form=st.sampled_from(TIMES),
    celsius=st.booleans(),
    share=st.sampled_from(["percent", "fraction"]),
    words=st.sampled_from([("On", "Off"), ("1", "0"), ("TRUE", "FALSE")]),
    upward=st.booleans(),
    separator=st.sampled_from([",", ";", "\t"]),
    seed=st.integers(0, 1000),
)
def test_trends_in_any_usual_form_are_read_right(
    tmp_path, start, hours, minutes, form, celsius, share, words, upward, separator, seed
):
    """Each hour is the mean of its samples, worked out here from the numbers before they are
    written."""
    rng = np.random.default_rng(seed)
    each = 60 // minutes
    first = datetime(2021, 1, 1) + timedelta(hours=start)
    count = min(hours, 8760 - start) * each
    stamps = [first + timedelta(minutes=minutes * i) for i in range(count)]
    temp = rng.integers(150, 300, count) / 10.0
    humidity = rng.integers(2, 99, count)
    runs = rng.integers(0, 2, count)
    table = pd.DataFrame(
        {
            "Time": [f"{stamp:{form}}" for stamp in stamps],
            "ZN-T": temp if celsius else np.round(temp * 1.8 + 32.0, 6),
            "ZN-RH": humidity if share == "percent" else humidity / 100.0,
            "Comp": [words[0] if on else words[1] for on in runs],
        }
    )
    (table if upward else table[::-1]).to_csv(tmp_path / "t.csv", index=False, sep=separator)
    units = {"room_temperature": "degC" if celsius else "degF", "room_relative_humidity": share,
             "compressor": "fraction"}  # fmt: skip
    names = {"room_temperature": "ZN-T", "room_relative_humidity": "ZN-RH", "compressor": "Comp"}
    trend = Trend(file="t.csv", time="Time", columns=names, units=units)
    found = read_trends(trend, tmp_path, 2021, -5.0)
    for name, values in (
        ("room_temperature", temp), ("room_relative_humidity", humidity / 100.0),
        ("compressor", runs),
    ):  # fmt: skip
        means = values[: count // each * each].reshape(-1, each).mean(axis=1)
        assert found.values[name][start : start + len(means)] == pytest.approx(means, abs=1e-9)
        assert int(np.isfinite(found.values[name]).sum()) == len(means)
    assert found.samples == count
    assert found.left_out == ()


NAMES = st.sampled_from(sorted(TREND_COLUMNS))
CELLS = st.lists(
    st.lists(
        TEXTS | st.sampled_from(["", "2021-07-01 00:00", "07/01/2021 01:00 PM", "72", "1e999"]),
        min_size=1, max_size=5,
    ),
    max_size=12,
)  # fmt: skip


@drawn(30)
@given(
    cells=CELLS,
    names=st.dictionaries(NAMES, TEXTS, min_size=1),
    units=st.dictionaries(NAMES, TEXTS),
    zone=st.none() | TEXTS,
)
def test_trends_of_any_shape(tmp_path, result_or_sentence, cells, names, zone, units):
    """Heads are drawn apart, and often those that the case names."""
    heads = ["Time", *names.values()]
    lines = [",".join(heads), *(",".join(row) for row in cells)]
    (tmp_path / "t.csv").write_text("\n".join(lines), encoding="utf-8", newline="")
    trend = Trend(file="t.csv", time="Time", columns=names, units=units, time_zone=zone)
    result_or_sentence(read_trends, trend, tmp_path, 2021, -5.0)


@drawn(30)
@given(value=ANYTHING)
def test_tables_of_trends_of_any_shape(result_or_sentence, value):
    result_or_sentence(case_from_dict, {**GIVEN, "trend": value})


LEVERS = {
    "humidity.limit": st.integers(42, 64).map(lambda x: f"{x} %"),
    "air.outdoor_flow": st.integers(100, 900).map(lambda x: f"{x} cfm"),
    "room.heat_capacity_per_area": st.integers(1, 30).map(lambda x: f"{x} Btu/ft2/degF"),
    "site.weather": st.sampled_from(["miami", "greensboro", "sand-point"]),
    "prices.electricity": st.integers(5, 40).map(lambda x: f"0.{x:02d} USD/kWh"),
}
SWEEPS = st.lists(st.sampled_from(sorted(LEVERS)), min_size=1, max_size=3, unique=True).flatmap(
    lambda paths: st.fixed_dictionaries(
        {path: st.lists(LEVERS[path], min_size=1, max_size=3, unique=True) for path in paths}
    )
)


@drawn(25)
@given(vary=SWEEPS, as_text=st.booleans())
def test_sweep_tables_written_well_give_every_combination(vary, as_text):
    """Counted here: a grid is the product, in the order written; a list goes row by row."""
    stated = {path: ", ".join(values) if as_text else values for path, values in vary.items()}
    plan = make_plan(CASE, stated)
    points = [tuple(point[path] for path in vary) for point in plan.points]
    assert points == list(itertools.product(*vary.values()))
    lengths = {len(values) for values in vary.values()}
    if len(lengths) == 1:
        listed = make_plan(CASE, stated, method="list").points
        assert [tuple(p.values()) for p in listed] == list(zip(*vary.values(), strict=True))
    else:
        with pytest.raises(InputError, match="as many values of each"):
            make_plan(CASE, stated, method="list")


@drawn(20)
@given(low=st.integers(42, 48), width=st.integers(1, 15), count=st.integers(2, 40),
       seed=st.integers(0, 99))  # fmt: skip
def test_ranges_give_one_point_in_each_equal_part(low, width, count, seed):
    """What a Latin hypercube is (McKay, Beckman and Conover 1979): each of its n equal parts holds
    one point."""
    plan = make_plan(CASE, {"humidity.limit": f"{low} % to {low + width} %"},
                     method="latin hypercube", points=count, seed=seed)  # fmt: skip
    shares = [(float(point["humidity.limit"].split()[0]) - low) / width for point in plan.points]
    # Six figures are kept: a point may be moved over an edge by as much.
    for i, share in enumerate(sorted(shares)):
        assert i - 0.01 <= count * share <= i + 1.01


PATHS = TEXTS | st.sampled_from(
    ["humidity.limit", "site.weather", "options.condenser.reheat", "air", "prices.electricity", ""]
)


@drawn(30)
@given(
    vary=st.dictionaries(PATHS, ANYTHING, max_size=3),
    method=st.sampled_from(["grid", "list", "latin hypercube"]),
    points=st.none() | st.integers(-3, 50),
)
def test_sweeps_of_any_shape(result_or_sentence, vary, method, points):
    def plan(vary):
        return make_plan(CASE, vary, method=method, points=points)

    result_or_sentence(plan, vary)


@drawn(30)
@given(value=ANYTHING | st.fixed_dictionaries({"vary": ANYTHING}, optional={
    "method": SCALARS, "points": SCALARS, "seed": SCALARS, "hourly": SCALARS}))  # fmt: skip
def test_tables_of_sweeps_of_any_shape(result_or_sentence, value):
    result_or_sentence(case_from_dict, {**GIVEN, "sweep": value})
