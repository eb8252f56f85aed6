"""Years that differ in purchases alone: what is taken from another is what solving it gives."""

from dataclasses import replace

import numpy as np
import pytest

from dewledger.assembly.equal_years import first_of_equals, solved_in_turn
from dewledger.assembly.machine import assemble_all
from dewledger.assembly.short_year import short_ledger
from dewledger.assembly.year import solve_option
from dewledger.case import bundled_case
from dewledger.study import read_weather


@pytest.fixture(scope="module")
def machines():
    case = bundled_case("music-school")
    options = case.option_cases()
    assert [one.key for one in options[:4]] == ["none", "electric", "gas", "condenser"]
    return assemble_all(options, read_weather(case))[:4]


def with_heaters(machine, *rows):
    """The machine with other purchased heaters, rows of ``ReheatSource``."""
    sources = np.array(rows, dtype=np.float64)
    plant = machine.plant._replace(reheat_before_W=float(sources[:, 1].sum()))
    return replace(machine, plant=plant, sources=sources)


@pytest.mark.parametrize("solution", [solve_option, short_ledger])
def test_gas_is_taken_from_electric(machines, solution):
    solved = []

    def solve(place):
        solved.append(place)
        return solution(tried[place], 0)

    # Two heaters in turn, the second one with a fan of its own, of which both serve.
    electric, gas = (float(machines[k].sources[0, 0]) for k in (1, 2))
    two = with_heaters(
        machines[1], (electric, 2000.0, 1.0, 0.0, 0.0), (gas, 30000.0, 0.8, 60.0, 1.0)
    )
    tried = [*machines, two]
    assert first_of_equals(tried) == [0, 1, 1, 3, 1]
    found = list(solved_in_turn(tried, solve))
    assert solved == [0, 1, 3]
    for place in (2, 4):
        itself = solution(tried[place], 0)
        np.testing.assert_allclose(found[place], itself, rtol=1e-12, atol=1e-12)


def test_a_heater_that_is_short_has_a_year_of_its_own(machines):
    solved = []

    def solve(place):
        solved.append(place)
        return short_ledger(tried[place], 0)

    kind, _, *rest = machines[1].sources[0].tolist()
    small = with_heaters(machines[1], (kind, 1500.0, *rest))
    for tried in ([machines[1], small], [small, machines[1]]):
        solved.clear()
        assert first_of_equals(tried) == [0, 0]
        first, second = solved_in_turn(tried, solve)
        assert solved == [0, 1]
        assert not np.array_equal(first, second)
