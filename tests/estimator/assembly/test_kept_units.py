"""A unit read back from disk is the one that was built, to the bit; a damaged one is built anew."""

import dataclasses
import logging

import numpy as np
import pytest

from dewledger.assembly import kept_units
from dewledger.dx_unit.from_rating import GenericCompressor, rated_unit
from dewledger.dx_unit.rating import Circuit, Rating, RatingBasis
from dewledger.weather.errors import InputError

RATING = Rating(30000.0, 21500.0, RatingBasis(net=False, flow_m3_s=1.6), efficiency_cop=3.2)
REST = (Circuit("R-410A"), GenericCompressor(), 0.0)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setattr(kept_units, "cache_folder", lambda name: tmp_path)
    monkeypatch.setattr(kept_units, "_written", [])
    kept_units.kept_unit.cache_clear()
    yield tmp_path
    kept_units.kept_unit.cache_clear()


def same(one, other):
    assert dataclasses.replace(one, map=None) == dataclasses.replace(other, map=None)
    for a, b in zip(one.map, other.map, strict=True):
        assert type(a) is type(b)
        assert np.array_equal(np.asarray(a), np.asarray(b), equal_nan=True)


def test_a_unit_read_back_is_the_one_built(folder, monkeypatch):
    built = rated_unit(RATING, *REST)
    same(kept_units.kept_unit(RATING, *REST), built)
    (path,) = folder.iterdir()
    kept_units.kept_unit.cache_clear()
    monkeypatch.setattr(kept_units, "rated_unit", lambda *_: pytest.fail("built anew"))
    same(kept_units.kept_unit(RATING, *REST), built)
    # Another rating has another name.
    monkeypatch.setattr(kept_units, "rated_unit", rated_unit)
    kept_units.kept_unit(dataclasses.replace(RATING, efficiency_cop=3.3), *REST)
    assert len([*folder.iterdir()]) == 2
    assert path.stat().st_size < 400_000


def test_a_damaged_file_is_made_anew(folder, caplog):
    kept_units.kept_unit(RATING, *REST)
    (path,) = folder.iterdir()
    path.write_bytes(path.read_bytes()[:-9])
    kept_units.kept_unit.cache_clear()
    with caplog.at_level(logging.WARNING, "dewledger"):
        same(kept_units.kept_unit(RATING, *REST), rated_unit(RATING, *REST))


def test_an_impossible_rating_is_told_and_nothing_kept(folder):
    with pytest.raises(InputError):
        kept_units.kept_unit(dataclasses.replace(RATING, sensible_W=2000.0), *REST)
    assert not [*folder.iterdir()]
