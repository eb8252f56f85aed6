"""Holidays read back from disk are the library's own; what cannot be kept is asked for again."""

from datetime import date

import holidays
import pytest

from dewledger.data import public_holidays as kept


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setattr(kept, "cache_folder", lambda name: tmp_path)
    for function in (kept.public_holidays, kept.has_holidays):
        function.cache_clear()
    yield tmp_path
    for function in (kept.public_holidays, kept.has_holidays):
        function.cache_clear()


@pytest.mark.parametrize(("country", "region"), [("US", "NC"), ("US", None), ("DE", "BY")])
def test_holidays_read_back_are_those_of_the_library(folder, monkeypatch, country, region):
    library = dict(holidays.country_holidays(country, subdiv=region, years=[2023, 2024]).items())
    assert kept.public_holidays(country, region, 2023) == library
    kept.public_holidays.cache_clear()
    monkeypatch.setattr(holidays, "country_holidays", lambda *_, **__: pytest.fail("asked again"))
    again = kept.public_holidays(country, region, 2023)
    assert again == library
    assert [*again] == [*library]
    assert kept.has_holidays(country, region)


def test_a_damaged_file_is_asked_for_again(folder):
    first = kept.public_holidays("US", "TX", 2023)
    (path,) = folder.iterdir()
    path.write_bytes(path.read_bytes()[:-5])
    kept.public_holidays.cache_clear()
    assert kept.public_holidays("US", "TX", 2023) == first
    assert date(2023, 7, 4) in first  # Independence Day


def test_unknown_places_are_unknown(folder):
    assert not kept.has_holidays("XX", None)
    assert not kept.has_holidays("US", "ZZ")
    assert not kept.has_holidays("../US", None)
    assert not [*folder.iterdir()]
