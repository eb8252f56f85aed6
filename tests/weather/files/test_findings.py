"""Gaps, runs of hours and how they are named."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dewledger.weather.files.findings import (
    clip_dew_point,
    fill_gaps,
    hour_words,
    pressure_unlike_altitude,
    runs,
    zone_unlike_longitude,
)


@pytest.mark.parametrize(
    ("hour", "words"),
    [
        (0, "1 January 00:00"),
        (744, "1 February 00:00"),
        (1415, "28 February 23:00"),
        (1416, "1 March 00:00"),
        (8759, "31 December 23:00"),
        (8760, "1 January 00:00"),
    ],
)
def test_hours_in_words(hour, words):
    assert hour_words(hour) == words


@given(st.lists(st.booleans(), min_size=1, max_size=60))
def test_runs_cover_exactly_the_true_hours(flags):
    mask = np.array(flags)
    covered = [(first + step) % mask.size for first, length in runs(mask) for step in range(length)]
    assert sorted(covered) == np.flatnonzero(mask).tolist()


def test_run_over_the_end_is_one_run():
    mask = np.array([True, False, False, True, True])
    assert runs(mask) == [(3, 3)]


@given(st.lists(st.integers(0, 8759), max_size=6, unique=True), st.floats(-20, 30))
def test_up_to_six_hours_are_filled_within_the_neighbors(hours, base):
    values = base + np.sin(np.arange(8760.0))
    holed = values.copy()
    holed[hours] = np.nan
    filled, finding = fill_gaps(holed, "temp_air_C")
    assert not np.isnan(filled).any()
    kept = np.setdiff1d(np.arange(8760), hours)
    assert (filled[kept] == values[kept]).all()
    assert filled.min() >= base - 1 and filled.max() <= base + 1  # noqa: PT018
    if hours:
        assert finding is not None
        assert (finding.count, finding.hours) == (len(hours), tuple(sorted(hours)))
    else:
        assert finding is None


@pytest.mark.parametrize(("length", "severity"), [(6, "note"), (7, "error")])
def test_longest_gap(length, severity):
    values = np.zeros(8760)
    values[100 : 100 + length] = np.nan
    _, finding = fill_gaps(values, "pressure_Pa")
    assert finding is not None
    assert finding.severity == severity
    assert f"({length} h)" in finding.sentence


@given(
    st.lists(st.tuples(st.floats(-40, 50), st.floats(-60, 50)), min_size=1, max_size=30),
)
def test_dew_point_never_above_dry_bulb(pairs):
    dry, dew = (np.array(part) for part in zip(*pairs, strict=True))
    clipped, finding = clip_dew_point(dry, dew, np.full(dry.size, np.nan))
    assert (clipped <= dry).all()
    assert (clipped[dew <= dry] == dew[dew <= dry]).all()
    assert (finding.count if finding else 0) == int((dew > dry + 1e-6).sum())


@pytest.mark.parametrize(
    ("offset", "longitude", "found"),
    [(-5.0, -79.95, False), (5.0, -79.95, True), (8.0, 76.0, False), (14.0, -157.0, False)],
)
def test_zone_and_longitude(offset, longitude, found):
    # +8 h at 76 E (western China) and +14 h at 157 W (Line Islands) are real
    assert (zone_unlike_longitude(offset, longitude) is not None) is found


def test_pressure_and_altitude():
    assert pressure_unlike_altitude(np.full(8760, 99000.0), 200.0) is None
    assert pressure_unlike_altitude(np.full(8760, 99000.0), 1000.0) is not None
    assert pressure_unlike_altitude(np.full(8760, 99000.0), float("nan")) is None
