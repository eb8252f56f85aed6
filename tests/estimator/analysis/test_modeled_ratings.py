"""The condensing temperature of a rating point against scipy's root; rated once where alike."""

import pytest
from scipy.optimize import brentq

from dewledger.analysis import modeled_ratings
from dewledger.analysis.modeled_ratings import _settled, rate_machine
from dewledger.assembly.machine import assemble_all
from dewledger.case import bundled_case
from dewledger.study import read_weather


@pytest.mark.parametrize(
    ("outdoor_C", "rise_K", "slope"), [(35.0, 12.0, 0.2), (20.0, 3.0, 0.0), (40.0, 30.0, 1.5)]
)
def test_settled_is_the_root(outdoor_C, rise_K, slope):
    """A unit that rejects less the hotter it condenses, by some share of its rise per 10 K."""
    floor_C = 30.0

    def balance(tried_C):
        rejects = rise_K * (
            1.0 - slope * ((tried_C - 45.0) / 10.0 + ((tried_C - 45.0) / 40.0) ** 2)
        )
        return max(outdoor_C + rejects, floor_C)

    looks = []

    def counted(tried_C):
        looks.append(tried_C)
        return balance(tried_C)

    found = _settled(counted, floor_C)
    if balance(floor_C) <= floor_C:
        assert found == floor_C
    else:
        asked = brentq(lambda c: balance(c) - c, floor_C, 200.0, xtol=1e-13, rtol=1e-14)
        assert found == pytest.approx(asked, abs=1e-9)
    assert len(looks) < 15


def test_a_unit_is_rated_once_for_all_who_share_it(monkeypatch):
    """Points of a sweep that leave the unit as it is take the rating that is there."""
    case = bundled_case("music-school")
    year = read_weather(case)
    rated = []
    real = modeled_ratings._rate
    monkeypatch.setattr(
        modeled_ratings, "_rate", lambda *given: rated.append(given) or real(*given)
    )
    monkeypatch.setattr(modeled_ratings, "_rated", {})
    counts = []
    for limit in ("48 %", "50 %", "53 %"):
        options = case.with_values({"humidity.limit": limit}).option_cases()
        for option, machine in zip(options, assemble_all(options, year), strict=True):
            rate_machine(option.case, machine)
        counts.append(len(rated))
    assert 0 < counts[0] <= len(case.options)
    assert counts[1:] == counts[:1] * 2
