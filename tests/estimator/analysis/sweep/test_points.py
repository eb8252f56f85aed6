"""What a user writes for a lever, and the points that come of it."""

import itertools
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dewledger.analysis.sweep.points import lever_of, make_plan
from dewledger.case.files import case_from_text
from dewledger.weather.errors import InputError


def test_a_grid_is_every_combination_in_order(hall):
    plan = make_plan(
        hall, {"humidity.limit": "48 %, 50 %", "air.outdoor_flow": ["400 cfm", "1,000 cfm"]}
    )
    expected = [
        {"humidity.limit": limit, "air.outdoor_flow": flow}
        for limit, flow in itertools.product(("48 %", "50 %"), ("400 cfm", "1,000 cfm"))
    ]
    assert list(plan.points) == expected


def test_a_list_takes_them_side_by_side(hall):
    plan = make_plan(
        hall, {"humidity.limit": "48 %, 50 %", "site.weather": "miami, greensboro"}, method="list"
    )
    assert [tuple(point.values()) for point in plan.points] == [
        ("48 %", "miami"),
        ("50 %", "greensboro"),
    ]
    with pytest.raises(
        InputError, match=r"as many values of each, and there are humidity.limit 2, "
    ):
        make_plan(hall, {"humidity.limit": "48 %, 50 %", "site.weather": "miami"}, method="list")


@pytest.mark.parametrize("seed", [1, 2])
def test_a_latin_hypercube_has_one_point_in_every_stratum(hall, seed):
    """McKay, Beckman and Conover 1979: each of n equal strata of each lever holds one point."""
    vary = {"humidity.limit": "45 % to 55 %", "air.outdoor_flow": "300 to 700 cfm"}
    plan = make_plan(hall, vary, method="latin hypercube", points=20, seed=seed)
    assert len(plan.points) == 20
    for path, low, high in (("humidity.limit", 45.0, 55.0), ("air.outdoor_flow", 300.0, 700.0)):
        numbers = np.array([float(point[path].split()[0]) for point in plan.points])
        strata = np.floor((numbers - low) / (high - low) * 20).astype(int)
        assert sorted(strata.tolist()) == list(range(20))
    again = make_plan(hall, vary, method="latin hypercube", points=20, seed=seed)
    assert again.points == plan.points


@pytest.mark.parametrize(
    ("vary", "kwargs", "words"),
    [
        ({}, {}, "a sweep varies something"),
        ({"humidity.limit": ""}, {}, "states no value"),
        ({"humidity.limits": "48 %"}, {}, r"humidity.limits.*limits.*did you mean"),
        ({"humidty.limit": "48 %"}, {}, "humidty"),
        ({"humidity.limit": "148 %, 150 %"}, {}, 'sweep of "humidity.limit": .*148'),
        ({"humidity.limit": "48 %, 48 %"}, {}, "twice"),
        ({"humidity.limit": "45 % to 55 %"}, {}, "a grid cannot take"),
        ({"humidity.limit": "55 % to 45 %"}, {}, "does not rise"),
        ({"air.outdoor_flow": "300 cfm to 500 L/s"}, {}, "two units"),
        ({"humidity.limit": "48 %"}, {"points": 5}, "points belong to a latin hypercube"),
        ({"humidity.limit": "45 % to 55 %"}, {"method": "latin hypercube"}, "number of its points"),
        ({"site.weather": "nowhere/*.csv"}, {}, "no file is named"),
    ],
)  # fmt: skip
def test_wrong_levers_are_one_sentence(hall, vary, kwargs, words):
    with pytest.raises(InputError, match=words) as caught:
        make_plan(hall, vary, **kwargs)
    assert "\n" not in str(caught.value)


def test_numbers_and_lists_are_taken_as_the_case_takes_them(hall):
    plan = make_plan(hall, {"site.calendar_year": "2022, 2023"})
    years = [hall.with_values(point).site.calendar_year for point in plan.points]
    assert years == [2022, 2023]


def test_weather_files_by_pattern(hall_text, tmp_path, monkeypatch):
    stations = tmp_path / "stations"
    stations.mkdir()
    for name in ("b.csv", "a.csv"):
        (stations / name).write_text("")
    case = case_from_text(hall_text, tmp_path)
    named = lever_of(case, "site.weather", "stations/*.csv").values
    assert [re.split(r"[\\/]", value)[-1] for value in named] == ["a.csv", "b.csv"]
    # From another folder than the case's, where the command was given.
    elsewhere = case_from_text(hall_text, "/")
    assert lever_of(elsewhere, "site.weather", "stations/*.csv", tmp_path).values == named


@given(
    st.lists(st.integers(1, 10**7), min_size=1, max_size=6, unique=True),
    st.sampled_from([", ", " , "]),
)
@settings(max_examples=60, deadline=None)
def test_thousands_are_no_commas_between_values(hall, numbers, comma):
    from dewledger.analysis.sweep.points import _COMMA

    written = [f"{number:,} W" for number in numbers]
    assert _COMMA.split(comma.join(written)) == written
