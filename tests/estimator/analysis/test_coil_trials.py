"""The ladder search against halving, and trials solved once whoever asks."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dewledger.analysis.coil_trials import (
    UNLIMITED_W,
    CoilTrials,
    backed,
    covered_kWh,
    least_step,
    trial_of,
    with_coil,
)
from dewledger.assembly.machine import assemble
from dewledger.assembly.year import solve_coil, solve_smaller_coil
from dewledger.case import bundled_case
from dewledger.hourly.ledger import COIL_NAMES, INDEX, empty_ledger
from dewledger.hourly.types import DRIVERS
from dewledger.study import read_weather, solve_option
from dewledger.weather.errors import InputError


@given(
    st.lists(st.floats(0.0, 1.0), min_size=2, max_size=80),
    st.floats(0.0, 1.0),
    st.booleans(),
    st.randoms(use_true_random=False),
)
@settings(max_examples=200, deadline=None)
def test_the_least_step_is_that_of_a_scan(values, share, guessed, random):
    """numpy's own search of the sorted list is the other way."""
    values = np.sort(values)
    target = float(values[0] + share * (values[-1] - values[0]))
    expected = int(np.searchsorted(values, target))
    tried = []

    def value(step):
        tried.append(step)
        return float(values[step])

    top = len(values) - 1
    known = {0: float(values[0]), top: float(values[top])}
    estimate = np.sort([random.random() for _ in values]) if guessed else None
    assert least_step(value, target, known, estimate) == expected
    assert len(tried) == len(set(tried))
    assert len(tried) <= 4 + np.ceil(np.log2(len(values)))


def test_heat_of_smaller_coils_by_hand(demo_machines):
    # Three hours: 1 kW all hour, 4 kW for half of it, 2 kW for a quarter.
    ledger = empty_ledger(3)
    ledger[:] = 0.0
    ledger[INDEX["reheat_recovered_kWh"]] = [1.0, 2.0, 0.5]
    ledger[INDEX["compressor_runtime_frac"]] = [1.0, 0.5, 0.25]
    ledger[INDEX["supply_flow_kg_s"]] = 1.0
    year = trial_of(ledger, demo_machines[1]["condenser"].plant)
    sizes = np.array([0.0, 1000.0, 1500.0, 3000.0, 4000.0, 1e6])
    by_hand = [0.0, 1.0 + 0.5 + 0.25, 1.0 + 0.75 + 0.375, 1.0 + 1.5 + 0.5, 3.5, 3.5]
    assert covered_kWh(year, sizes) == pytest.approx(by_hand)
    assert year.most_given_W == 4000.0


def test_options_alike_share_their_years_and_threads_wait(demo_machines):
    machines = demo_machines[1]
    solved = []

    def solve(machine):
        solved.append(machine)
        return solve_option(machine, 0)

    trials = CoilTrials(solve)
    asked = [machines[key] for key in ("condenser", "condenser-trim", "electric", "gas")] * 2
    with ThreadPoolExecutor(4) as pool:
        years = set(pool.map(lambda machine: trials.year(machine, 16000.0, 60.0), asked))
    # A coil put there makes up the same air pressure drop as one that is there: all are alike.
    assert len(solved) == len(years) == 1
    # A machine's own year, whose heater is large enough, says the same.
    machine = machines["condenser-trim"]
    own = solve_option(with_coil(machine, 16000.0), 0)
    given = own[INDEX["reheat_recovered_kWh"]].sum()
    purchased = own[INDEX["reheat_purchased_kWh"]].sum()
    assert trials.share(machine, 16000.0) == pytest.approx(given / (given + purchased), rel=1e-12)
    assert len(solved) == 1


def test_a_larger_coil_or_higher_ceiling_that_changes_nothing_is_not_solved(demo_machines):
    """The answer is that of solving it; where either binds, it is solved."""
    machine = demo_machines[1]["condenser"]
    plant = machine.plant
    assert plant.condenser_source.fan_share == 1.0
    asked = []

    def solve(changed):
        asked.append(changed.plant)
        return solve_coil(changed, 0)

    trials = CoilTrials(solve)
    most_W = trials.year(machine, UNLIMITED_W, 60.0).most_given_W
    settings = [(1.01 * most_W, 60.0), (UNLIMITED_W, 55.0), (0.9 * most_W, 60.0), (most_W, 20.0)]
    for capacity_W, ceiling_C in settings:
        found = trials.year(machine, capacity_W, ceiling_C)
        alone = CoilTrials(solve_coil_alone).year(machine, capacity_W, ceiling_C)
        assert np.array_equal(found.purchased_kWh, alone.purchased_kWh)
        assert np.array_equal(found.rates_W, alone.rates_W)
    solved = [(one.recovery_capacity_W, one.condensing_ceiling_C) for one in asked]
    assert solved == [(UNLIMITED_W, 60.0), *settings[2:]]
    # A valve that cannot close, or fewer outdoor fans, has a say of its own: all are solved.
    source = plant.condenser_source._replace(fan_share=0.5)
    fewer = replace(machine, plant=plant._replace(condenser_source=source))
    asked.clear()
    for capacity_W, ceiling_C in [(UNLIMITED_W, 60.0), *settings[:2]]:
        trials.year(fewer, capacity_W, ceiling_C)
    assert len(asked) == 3


def solve_coil_alone(machine):
    return solve_coil(machine, 0)


# The smallest of the music school lets the room stray in 85 hours, the unit at its limits: there
# hours in which the coil does not bind are solved too.
@pytest.mark.parametrize(
    ("kind", "key", "shares", "counts"),
    [
        ("music-school", "condenser", (0.97, 0.5, 0.15), [3, 1]),
        ("school-outdoor-air", "by-need", (0.5, 0.15), [2, 2]),
        ("indoor-pool", "condenser", (0.8,), [3, 1]),
    ],
)
def test_a_smaller_coil_is_solved_where_it_binds(kind, key, shares, counts):
    """The year is that of solving every hour; only the coil's own hours take time."""
    case = bundled_case(kind)
    option = next(one for one in case.option_cases() if one.key == key)
    machine = assemble(option, read_weather(case))
    whole, smaller = [], []

    def solve(changed):
        whole.append(changed)
        return solve_coil(changed)

    def solve_smaller(changed, larger):
        smaller.append(changed)
        return solve_smaller_coil(changed, larger)

    trials = CoilTrials(solve, solve_smaller)
    free = trials.year(machine, UNLIMITED_W, 60.0)
    kept = free.ledger.copy()
    for share in shares:
        coil = backed(with_coil(machine, share * free.most_given_W))
        all_hours = solve_coil(coil)
        some = solve_smaller_coil(coil, free.ledger)
        np.testing.assert_allclose(some[:9], all_hours[:9], rtol=2e-7, atol=2e-7)
    assert np.array_equal(free.ledger, kept, equal_nan=True)  # left as it was
    # Where a small coil binds in most hours, and without any, all are solved.
    for share in (0.0, 0.02, 0.97):
        trials.year(machine, share * free.most_given_W, 60.0)
    assert [len(whole), len(smaller)] == counts


def test_what_a_trial_looks_at_is_of_the_ledger(demo_machines):
    """The short look of a trial, and the ledger without its penalty, to the bit."""
    machine = demo_machines[1]["condenser-trim"]
    whole, short = solve_option(machine, 0, penalty=False), solve_coil(machine, 0)
    shared = [name for name in COIL_NAMES if name in INDEX]
    assert shared == list(COIL_NAMES[:8])  # the rest is where the next hour's search begins
    for place, name in enumerate(shared):
        assert np.array_equal(short[place], whole[INDEX[name]], equal_nan=True), name


def test_a_room_that_no_building_can_be_ends_a_trial_with_its_sentence(demo_machines):
    machine = demo_machines[1]["none"]
    drivers = machine.drivers.copy()
    drivers[100:, DRIVERS.index("gains_sensible_W")] = 1e7
    with pytest.raises(InputError, match=r"^the room reaches"):
        solve_coil(replace(machine, drivers=drivers), 0)


def test_a_small_heater_behind_the_coil_is_solved_as_it_stands(demo_machines):
    machine = demo_machines[1]["electric"]
    small = replace(
        machine,
        plant=machine.plant._replace(reheat_after_W=500.0, reheat_before_W=0.0),
        sources=machine.sources * np.array([[1.0, 0.0, 1.0, 1.0, 1.0]])
        + np.array([[0.0, 500.0, 0.0, 0.0, 0.0]]),
    )
    solved = []

    def solve(changed):
        solved.append(changed)
        return solve_option(changed, 0)

    share = CoilTrials(solve).share(small, 3000.0)
    assert len(solved) == 2
    own = solve_option(with_coil(small, 3000.0), 0)
    given = own[INDEX["reheat_recovered_kWh"]].sum()
    purchased = own[INDEX["reheat_purchased_kWh"]].sum()
    assert share == pytest.approx(given / (given + purchased), rel=1e-12)


def test_a_failed_year_fails_for_all_who_ask(demo_machines):
    def solve(machine):
        raise ValueError("no year")

    trials = CoilTrials(solve)
    for _ in range(2):
        with pytest.raises(ValueError, match="no year"):
            trials.share(demo_machines[1]["condenser"], 1.0)


@pytest.mark.parametrize("stated", [True, False])
def test_a_coil_put_there_is_that_of_the_case(stated):
    """With the air pressure drop that a case's own coil has by default."""
    case = bundled_case("music-school")
    year = read_weather(case)
    electric = next(o for o in case.option_cases() if o.key == case.reference_key)
    source = {"source": "electric", "pressure_drop": "20 Pa" if stated else "0 Pa"}
    coil = {"source": "condenser", "capacity": "20 kW"}
    plain, own = (
        next(o for o in case.with_values({f"options.{electric.key}.reheat": reheat}).option_cases()
             if o.key == electric.key)
        for reheat in ([source], [coil, source])
    )  # fmt: skip
    put, there = with_coil(assemble(plain, year), 20000.0), assemble(own, year)
    assert put.plant.fan_W == pytest.approx(there.plant.fan_W, rel=1e-12)
    assert put.plant.coil_drop_share == pytest.approx(there.plant.coil_drop_share, rel=1e-12)
    assert put.plant.coil_drop_share > 0.0
    assert put.plant._replace(fan_W=0.0, coil_drop_share=0.0) == there.plant._replace(
        fan_W=0.0, coil_drop_share=0.0
    )
    np.testing.assert_array_equal(put.sources, there.sources)
