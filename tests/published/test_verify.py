"""Every check that ``dewledger verify`` runs, and the Standard 140 cases without published results.

Source, edition, tolerance and its reason stand with each figure in estimator/published.
"""

import pytest

from dewledger.published import all_checks, evaluate, run_checks
from dewledger.published.standard_140 import CASES, PUBLISHED, february

pytestmark = pytest.mark.published

CHECKS = all_checks()


@pytest.mark.parametrize("check", CHECKS, ids=[f"{c.group}: {c.item}" for c in CHECKS])
def test_published_check(check):
    result = evaluate(check)
    assert result.passed, (
        f"{check.source}: published {check.published} {check.unit}, computed {result.computed}, "
        f"allowed {check.tolerance}"
    )


def test_every_check_names_its_source_and_the_reason_of_its_tolerance():
    for check in CHECKS:
        assert check.source
        assert check.reason
        assert check.tolerance > 0.0
        assert check.unit
    assert len({(check.group, check.item) for check in CHECKS}) == len(CHECKS)


def test_progress_is_told_for_every_check(monkeypatch):
    monkeypatch.setattr("dewledger.published.all_checks", lambda: CHECKS[:3])
    reported = []
    results = run_checks(lambda what, step, steps: reported.append((what, step, steps)))
    assert len(results) == 3
    assert reported == [(check.group, step, 3) for step, check in enumerate(CHECKS[:3])]


@pytest.mark.parametrize("name", CASES)
def test_standard_140_cases_all_run(name):
    """ANSI/ASHRAE 140 / NREL/TP-550-30152: specification of all 14 cases (not checked against the
    text).

    Zone loads by hand: near-adiabatic envelope, so the zone load of February (672 h) is the
    internal gain plus the conductance of 1.71 W/K times the difference, and the coil's total is
    that with the fan's heat. COP is zone load over all electricity.
    """
    case, got = CASES[name], february(name)
    sensible = case.sensible_W + 1.71 * (case.outdoor_C - case.room_C)
    zone_kWh = (sensible + case.latent_W) * 0.672
    assert got["coil total"] == pytest.approx(zone_kWh + got["indoor fan"], rel=0.002)
    assert got["COP"] == pytest.approx(zone_kWh / got["total"], rel=0.002)
    # Both fans and the compressor run for the same time: 230 W and 108 W.
    assert got["outdoor fan"] == pytest.approx(got["indoor fan"] * 108 / 230, rel=1e-6)
    assert got["total"] == pytest.approx(
        got["compressor"] + got["indoor fan"] + got["outdoor fan"], rel=1e-9
    )
    assert 0.0 < got["zone humidity ratio"] < 0.022


def test_standard_140_published_trends():
    """Labels of the cases (NREL/TP-550-30152): what each differs in, so which uses more.

    Trends by engineering sense: hotter outdoors costs more, a warmer room less, a larger latent
    gain more, and a smaller load less.
    """
    total = {name: february(name)["total"] for name in CASES}
    assert set(PUBLISHED) < set(CASES)
    for more, less in (
        ("E100", "E110"),  # outdoors 46.1 / 29.4 C
        ("E130", "E140"),
        ("E185", "E180"),
        ("E195", "E190"),
        ("E110", "E120"),  # room 22.2 / 26.7 C
        ("E150", "E160"),
        ("E150", "E110"),  # latent gain
        ("E180", "E170"),
        ("E100", "E130"),  # sensible gain
    ):
        assert total[more] > total[less], (more, less)
