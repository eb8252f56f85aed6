"""The best point, held against every point of the grid solved one by one."""

import pytest

from dewledger.analysis.sweep import find
from dewledger.analysis.sweep.find import Wanted, find_best
from dewledger.analysis.sweep.run import sweep
from dewledger.analysis.sweep.work import solve_point
from dewledger.case.files import case_from_text
from dewledger.weather.errors import InputError

# 200 points: 20 limits, 10 outdoor flows.
VARY = {
    "humidity.limit": [f"{45 + 0.8 * k:.1f} %" for k in range(20)],
    "air.outdoor_flow": [f"{300 + 50 * k} cfm" for k in range(10)],
}


_solved = {}


@pytest.fixture(autouse=True)
def each_point_once(monkeypatch):
    """All tests here solve points of one grid: each is solved once."""

    def solve(case, weather=None, **wanted):
        key = (case.digest(), *sorted(wanted.items()))
        if key not in _solved:
            _solved[key] = solve_point(case, weather, **wanted)
        return _solved[key]

    monkeypatch.setattr(find, "solve_point", solve)


@pytest.fixture(scope="module")
def grid(hall):
    return sweep(hall, VARY).annual


def of_the_grid(grid, name, hours_above, options=("electric", "condenser")):
    kept = grid[(grid["hours_above_range"] <= hours_above) & grid["option"].isin(options)]
    best = kept.sort_values([name, "point"], kind="stable").iloc[0]
    return best["point"], best["option"], best[name]


@pytest.mark.parametrize(
    ("least", "name", "hours"),
    [
        ("life-cycle cost", "life_cycle_cost", 0),
        ("annual cost", "annual_cost", 300),
        ("purchased energy", "purchased_energy_kWh", 40),
    ],
)
@pytest.mark.parametrize("certain_up_to", [pytest.param(400, marks=pytest.mark.slow), 0])
def test_the_best_is_that_of_the_whole_grid(hall, grid, least, name, hours, certain_up_to):
    wanted = Wanted(least, hours_above=hours, complies=False)
    found = find_best(hall, VARY, wanted, certain_up_to=certain_up_to)
    point, option, value = of_the_grid(grid, name, hours)
    assert found.met
    assert found.best.value == value
    assert found.best.option == option
    number = found.best.place[0] * 10 + found.best.place[1] + 1
    assert number == point
    if certain_up_to:
        assert found.certain
        assert found.tried == 200
    else:
        assert found.tried < 200
        assert any("cannot be ruled out" in sentence for sentence in found.sentences)


def test_what_binds_and_what_a_step_costs(hall, grid):
    found = find_best(hall, VARY, Wanted("annual cost", 40, complies=False))
    best = found.best
    reported = " ".join(found.sentences)
    binding = [step for step in found.steps if step.breaks]
    assert binding[0].lever == "humidity.limit"
    assert "hours above the humidity range" in binding[0].breaks
    assert "humidity.limit binds" in reported
    beyond = (best.place[0] + 1) * 10 + best.place[1] + 1
    row = grid[(grid["point"] == beyond) & (grid["option"] == best.option)].iloc[0]
    assert row["hours_above_range"] > 40
    assert binding[0].change == pytest.approx(row["annual_cost"] - best.value)


# A coil too small for the wetter limits' share: what is cheapest does not comply.
CODE = """
[allowance]
code = "Title 24"
edition = "2022"
unit_made = 2005
"""


@pytest.mark.slow
def test_the_best_that_complies_is_that_of_the_whole_grid(hall_text, tmp_path):
    """The code asks for a recovered share of at least 75 %: it binds, and the grid agrees."""
    condenser = 'reheat = [{ source = "condenser", effectiveness = "60 %" }]'
    trim = ', capacity = "30 kBtu/h" }, { source = "electric", capacity = "20 kW" }]'
    text = hall_text.replace(condenser, condenser.replace(" }]", trim)) + CODE
    case = case_from_text(text, tmp_path)
    grid = sweep(case, VARY).annual
    free = find_best(case, VARY, Wanted("annual cost", 60, complies=False))
    allowed = grid[grid["code_verdict"].isin(find.COMPLIES)]
    assert 0 < len(allowed) < len(grid)
    _, option, value = of_the_grid(allowed, "annual_cost", 60)
    for certain_up_to in (400, 0):
        found = find_best(case, VARY, Wanted("annual cost", 60), certain_up_to=certain_up_to)
        assert found.met
        assert (found.best.option, found.best.value) == (option, value)
        assert found.best.code_verdict in find.COMPLIES
        assert any(step.breaks and "code" in step.breaks for step in found.steps)
    assert free.best.code_verdict not in find.COMPLIES
    assert free.best.value < value


def test_nothing_keeps_the_limits(hall):
    found = find_best(
        hall, {"humidity.limit": "57 %, 57.5 %"},
        Wanted("annual cost", 0, complies=False, options=("electric",)),
    )  # fmt: skip
    if not found.met:
        assert "No point keeps every limit" in found.sentences[0]


def test_refusals(hall):
    with pytest.raises(InputError, match='option "gas" is not in the case'):
        find_best(hall, VARY, Wanted(options=("gas",)))
    lacking = hall.with_values({"options.electric.cost.first_cost": None})
    found = find_best(lacking, {"humidity.limit": "50 %"}, Wanted(complies=False))
    assert found.left_out == ("electric",)
    assert found.best.option == "condenser"
    with pytest.raises(InputError, match='needs the first_cost of "electric"'):
        find_best(lacking, {"humidity.limit": "50 %"}, Wanted(options=("electric",)))
