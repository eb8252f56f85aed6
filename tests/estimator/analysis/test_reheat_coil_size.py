"""Sizing the reheat coil: what a coil covers, found by other means; trends; refusals."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dewledger.analysis.coil_trials import UNLIMITED_W, CoilTrials, backed
from dewledger.analysis.reheat_coil_size import (
    exceedance,
    most_rejected_W,
    require_fed,
    size_all,
    size_reheat,
)
from dewledger.assembly.equal_years import alike
from dewledger.case import CoilSizing
from dewledger.case.files import bundled_text, case_from_text
from dewledger.dx_unit.types import ON_OFF, SUBCOOLING_THEN_CONDENSER
from dewledger.hourly.ledger import INDEX
from dewledger.study import solve_option
from dewledger.weather.errors import InputError

# A part of the year with much drying, so that a year solves in milliseconds.
HOURS = slice(4000, 5400)


@pytest.fixture(scope="module")
def machine(demo_machines):
    """The demo's condenser heat, in summer only."""
    full = demo_machines[1]["condenser"]
    return replace(full, drivers=np.ascontiguousarray(full.drivers[HOURS]))


def covered(machine, capacity_W, ceiling_C=60.0):
    """Share of the overcooling heat and hours missed with a coil, purchased heat behind it."""
    trimmed = backed(machine)
    sources = trimmed.sources.copy()
    sources[0, 1] = capacity_W
    plant = trimmed.plant._replace(
        recovery_capacity_W=float(capacity_W), condensing_ceiling_C=float(ceiling_C)
    )
    ledger = solve_option(replace(trimmed, sources=sources, plant=plant))
    purchased = ledger[INDEX["reheat_purchased_kWh"]]
    return purchased, ledger


def test_smallest_coil_covers_and_a_smaller_one_does_not(machine):
    sizing = size_reheat(machine, CoilTrials(solve_option), 0.99, 20)
    need = covered(machine, 0.0)[0].sum()
    assert sizing.need_kWh == pytest.approx(need, rel=1e-12)
    by_share, by_hours = sizing.targets
    assert by_share.share == 0.99
    assert by_hours.hours == 20
    for target, missed in (
        (by_share, lambda purchased: purchased.sum() > 0.01 * need),
        (by_hours, lambda purchased: (purchased > 1e-3).sum() > 20),
    ):
        size = target.coil.setting
        assert not missed(covered(machine, size)[0])
        assert missed(covered(machine, 0.985 * size)[0])
    # Half the heat is far from half the coil: the sizes of the curve rise to all of it.
    shares = [found.share for found in sizing.coils]
    assert shares[0] == 0.0
    assert shares == sorted(shares)
    assert shares[-1] > 0.9999


def test_all_of_the_heat_takes_the_largest_rate_met(machine):
    """100 % of the heat and no hour missed: the largest heat while the compressor runs."""
    sizing = size_reheat(machine, CoilTrials(solve_option), share=1.0, hours=0)
    ledger = covered(machine, UNLIMITED_W)[1]
    runtime = ledger[INDEX["compressor_runtime_frac"]]
    given_back = 1000.0 * ledger[INDEX["reheat_recovered_kWh"]]
    largest = (given_back[runtime > 0.0] / runtime[runtime > 0.0]).max()
    for target in sizing.targets:
        assert target.coil.setting == pytest.approx(largest, rel=0.01)


@pytest.mark.parametrize("arrangement", [ON_OFF, SUBCOOLING_THEN_CONDENSER])
def test_a_coil_with_hot_gas_for_part_of_the_running_time(machine, arrangement):
    """It must be larger than its mean while the compressor runs: where a coil of any size covers
    the aim, so does one of the size reported, and one 10 % smaller does not."""
    plant = machine.plant._replace(
        arrangement=arrangement, drying_effectiveness=0.8, liquid_gain=(0.011, 0.0, 0.0),
        liquid_offset_K=5.5,
    )  # fmt: skip
    modes = replace(machine, plant=plant)
    sizing = size_reheat(modes, CoilTrials(solve_option), 0.99, 20)
    need = covered(modes, 0.0)[0].sum()
    assert sizing.need_kWh == pytest.approx(need, rel=1e-12)
    assert sizing.need_kW.sum() == pytest.approx(need, rel=1e-12)
    assert sizing.at_most.share > 0.99
    size = sizing.targets[0].coil.setting
    assert covered(modes, size)[0].sum() <= 0.01 * need
    assert covered(modes, 0.9 * size)[0].sum() > 0.01 * need


@given(st.floats(1.0, 3e4), st.floats(1.0, 3e4))
@settings(max_examples=15, deadline=None)
def test_a_bigger_coil_never_covers_less(machine, one, other):
    """Of coils: even a small one brings the minimum condensing temperature of reheat, and with it
    more overcooling; none leaves the ordinary one."""
    small, large = (covered(machine, size)[0] for size in sorted((one, other)))
    assert large.sum() <= small.sum() * (1.0 + 1e-9) + 1e-6
    assert (large > 1e-3).sum() <= (small > 1e-3).sum()


def test_lowest_ceiling(machine):
    """A poor coil: the ceiling it needs covers, half a kelvin less does not."""
    poor = replace(machine, plant=machine.plant._replace(recovery_effectiveness=0.3))
    sizing = size_reheat(poor, CoilTrials(solve_option), 0.99, 20)
    target = sizing.targets[0]
    assert not target.ceiling_is_floor
    assert 33.0 < target.ceiling.setting < 65.0
    need = sizing.need_kWh
    assert covered(poor, UNLIMITED_W, target.ceiling.setting)[0].sum() <= 0.01 * need
    assert covered(poor, UNLIMITED_W, target.ceiling.setting - 0.5)[0].sum() > 0.01 * need
    shares = [found.share for found in sizing.ceilings]
    assert shares == sorted(shares)


def test_no_coil_is_enough(machine):
    """A ceiling at the floor and a poor coil: what it covers at most is said, no size is."""
    plant = machine.plant._replace(
        recovery_effectiveness=0.2, condensing_ceiling_C=machine.plant.condensing_floor_C
    )
    sizing = size_reheat(replace(machine, plant=plant), CoilTrials(solve_option), 0.99, 20)
    assert sizing.targets[0].coil is None
    assert 0.3 < sizing.at_most.share < 0.99
    assert sizing.at_most.hours_missed > 20


def test_exceedance_is_the_year_sorted():
    heat = np.array([0.0, 3.0, 1.0, 0.0, 2.0])
    assert exceedance(heat).tolist() == [3.0, 2.0, 1.0]


def test_options_alike_are_sized_once(demo_machines):
    machines = demo_machines[1]
    assert alike(machines["condenser"], machines["condenser-trim"])
    assert not alike(machines["condenser"], machines["electric"])
    solved = []

    def solve(changed):
        solved.append(changed)
        return solve_option(changed)

    listed = [machines[key] for key in ("none", "electric", "condenser", "condenser-trim")]
    none, electric, condenser, trim = size_all(listed, [CoilSizing()] * 4, CoilTrials(solve))
    assert none is None
    assert electric is None
    assert condenser is trim
    assert 8 < len(solved) < 20
    # Options alike in all but what they are sized for are sized each by itself.
    aims = [CoilSizing(share="90 %"), CoilSizing(share="90 %", hours=500)]
    first, second = size_all(
        [machines["condenser"], machines["condenser-trim"]], aims, CoilTrials(solve)
    )
    assert first is not second
    assert first.targets[0] == second.targets[0]
    assert first.targets[0].coil.setting < condenser.targets[0].coil.setting
    assert second.targets[1].coil.setting < first.targets[1].coil.setting


def test_a_case_states_its_aims():
    text = bundled_text("music-school") + "[sizing]\nshare = 0.95\n"
    text += '[options.wide]\ntitle = "Wide"\nsizing = { hours = 0 }\n'
    aims = {option.key: option.case.sizing for option in case_from_text(text).option_cases()}
    assert (float(aims["condenser"].share), aims["condenser"].hours) == (0.95, 20)
    assert (float(aims["wide"].share), aims["wide"].hours) == (0.95, 0)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('share = "0 %"', r'\[sizing\] share: "0 %" must be above zero; write for example "50 %"'),
        ("share = 99", r'99 is above 1; write "99 %"'),
        ('share = "120 %"', "is out of range"),
        ("hours = -1", r"\[sizing\] hours: -1 is below 0, the least it may be"),
        ("hours = 9000", "above 8760, the most it may be"),
        ("hours = 2.5", "a whole number is expected"),
        ('hours = "20 h"', "a whole number is expected"),
        ("hour = 20", r'this key is not known \(did you mean "hours"\?\)'),
    ],
)
def test_wrong_aims_are_one_sentence(line, words):
    with pytest.raises(InputError, match=words) as caught:
        case_from_text(bundled_text("music-school") + f"[sizing]\n{line}\n")
    assert "\n" not in str(caught.value)


def test_refusals(machine):
    with pytest.raises(InputError, match="cannot be covered"):
        size_reheat(machine, CoilTrials(solve_option), share=0.0, hours=20)
    with pytest.raises(InputError, match="cannot be missed"):
        size_reheat(machine, CoilTrials(solve_option), share=0.99, hours=-1)
    require_fed(machine)
    most = most_rejected_W(machine)
    # Ten tons gross of fan heat and their compressor: above the rating's heat, not twice it.
    rated = machine.unit.rated_rejected_W
    assert rated < most < 1.3 * rated
    large = replace(machine, plant=machine.plant._replace(recovery_capacity_W=1.01 * most))
    with pytest.raises(InputError, match="larger than the unit can ever feed") as caught:
        require_fed(large)
    assert "\n" not in str(caught.value)
