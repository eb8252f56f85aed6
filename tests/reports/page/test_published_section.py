"""The record of published checks is that of the checks as they stand."""

import re
from collections import Counter

import pytest

from dewledger.data.standings import STANDINGS
from dewledger.published import all_checks, evaluate
from dewledger.published.check import LIBRARY
from dewledger.reports.files.published import grouped, published_section, recorded, sources_of

CHEAP = ("Moist-air examples", "Moist-air states", "Fan heat", "Coil")


def test_the_record_names_every_check_and_source():
    """``python -m dewledger.reports.files.published`` writes it anew."""
    checks = all_checks()
    counts = Counter(check.group for check in checks)
    kept = recorded()
    assert {group.name: group.checks for group in kept} == counts
    for group in kept:
        assert group.met == group.checks
        assert 0.0 <= group.farthest <= 1.0
        assert group.sources == sources_of(c for c in checks if c.group == group.name)


def test_the_record_is_what_is_computed():
    found = grouped(evaluate(check) for check in all_checks() if check.group in CHEAP)
    kept = {group.name: group for group in recorded()}
    assert len(found) == len(CHEAP)
    for group in found:
        assert kept[group.name].farthest == pytest.approx(group.farthest, abs=0.002)


def test_the_section_says_how_many_are_met():
    section = published_section()
    count = len(all_checks())
    assert section.paragraphs[0].startswith(f"{count} of {count} checks are met")
    published = sum(check.standing in STANDINGS for check in all_checks())
    assert f"{published} against published figures" in section.paragraphs[0]
    library = sum(check.standing == LIBRARY for check in all_checks())
    assert f"{library} against figures of an independent library" in section.paragraphs[0]
    assert sum(int(n) for n in re.findall(r"(\d+) against", section.paragraphs[0])) == count
    assert "memory" not in section.tables[0].rows.__repr__()
    assert len(section.tables[0].rows) == len(recorded())
