"""Years kept as arrays: the same year back, and never another one or a damaged one."""

import numpy as np
import pytest

from dewledger.weather.files import kept_years, readers
from dewledger.weather.files.readers import read


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A cache folder of the test's own."""
    monkeypatch.setattr(kept_years, "_folder", lambda: tmp_path / "kept")
    monkeypatch.setattr(readers, "keep_year", kept_years.keep_year)
    (tmp_path / "kept").mkdir()
    return tmp_path / "kept"


@pytest.fixture
def parsed(monkeypatch):
    """How many files were parsed."""
    count = []
    usual = readers._read
    monkeypatch.setattr(readers, "_read", lambda *given: count.append(1) or usual(*given))
    return count


def test_the_same_year_comes_back(folder, parsed, epw, write):
    path = write(epw)
    first, second = read(path), read(path)
    assert len(parsed) == 1
    assert second.frame.equals(first.frame)
    assert list(second.frame.dtypes) == list(first.frame.dtypes)
    assert second.station == first.station
    assert second.findings == first.findings


def test_nothing_else_comes_back(folder, parsed, pvgis, write):
    path = write(pvgis)
    read(path, site={"utc_offset_h": 0})
    assert read(path, site={"utc_offset_h": -5}).station.utc_offset_h == -5
    pvgis[3000] = pvgis[3000].replace(",300.0,", ",301.0,", 1)
    read(write(pvgis), site={"utc_offset_h": 0})
    read(path, site={"utc_offset_h": 0}, keep=False)
    assert len(parsed) == 4


@pytest.mark.parametrize("damage", [b"", b"x", b"\0" * 5000])
def test_a_damaged_file_is_made_anew(folder, parsed, tmy3, write, damage, caplog):
    path = write(tmy3)
    sound = read(path)
    (kept,) = folder.iterdir()
    kept.write_bytes(damage)
    assert read(path).frame.equals(sound.frame)
    assert len(parsed) == 2
    assert read(path).frame.equals(sound.frame)
    assert len(parsed) == 2


def test_a_file_of_another_content_is_made_anew(folder, parsed, tmy3, write):
    """Whole by its digest, and no year: as an older version might have left it."""
    path = write(tmy3)
    read(path)
    (kept,) = folder.iterdir()
    kept_years.keep(kept, b"another format")
    assert np.isfinite(read(path).column("temp_air_C")).all()
    assert len(parsed) == 2


def test_the_oldest_go(folder, tmy3, write, monkeypatch):
    monkeypatch.setattr(kept_years, "MOST_KEPT", 2)
    for row in (2000, 3000, 4000):
        read(write([f"{tmy3[0]},{row}"[: len(tmy3[0])] + " " * (row // 1000), *tmy3[1:]]))
    assert len([*folder.iterdir()]) == 2


def test_no_folder_is_no_error(parsed, tmy3, write, monkeypatch):
    monkeypatch.setattr(kept_years, "_folder", lambda: None)
    path = write(tmy3)
    assert read(path).frame.equals(read(path).frame)
    assert len(parsed) == 2
