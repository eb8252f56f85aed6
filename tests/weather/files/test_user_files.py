"""Files that a user gives: bounds, and one sentence for whatever passes them."""

import os

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dewledger.case import load_case, starter
from dewledger.case.files import case_from_dict
from dewledger.weather.errors import InputError
from dewledger.weather.files.user_files import read_text, read_toml, require_plain

CASE = starter("rooftop")
KEPT = "\n[profiles.x]\nweekday = "


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (CASE + KEPT + "[" * 5000 + "]" * 5000, "nested more than 20 deep"),
        (CASE + KEPT + "[" * 30 + "]" * 30, "nested more than 20 deep"),
        (CASE + KEPT + "{a = " * 3000 + "1" + "}" * 3000, "nested more than 20 deep"),
        (CASE + "\n[" + "].[".join("a" * 10) + "]", "is not TOML at line"),
        (CASE + "\n" + ".".join("a" * 20_000) + " = 1", "more than 200 dotted parts"),
        (CASE + "\n[" + ".".join("a" * 20_000) + "]", "more than 200 dotted parts"),
        (CASE + "\n[" + ".".join("a" * 100) + "]\nx = 1", "nested more than 20 deep"),
        (CASE + KEPT + "9" * 5000, "a number has thousands of digits"),
        (CASE + KEPT + "1" + "0" * 400, "a number has some 401 digits"),
        (CASE + KEPT + '"' + "x" * 30_000 + '"', "a text has 30000 letters"),
        (CASE + "\n" + "x" * 300 + " = 1", "a name has 300 letters"),
        (CASE + "\0", "not text in UTF-8"),
        (CASE + "#" * 2_100_000, "larger than 2 MB"),
        (CASE.replace('"2000 ft2"', "1e400"), "has no unit"),
        (CASE.replace('"2000 ft2"', '"1e400 ft2"'), "is not a finite number"),
        (CASE.replace('"2000 ft2"', '"3' + "0" * 400 + ' ft2"'), "no area"),
    ],
)
def test_one_sentence_for_a_hostile_case(tmp_path, text, says):
    path = tmp_path / "hall.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=says) as caught:
        load_case(path)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 500


def test_dictionaries_are_held_to_the_same():
    deep = {"title": "Hall"}
    inner = deep
    for _ in range(5000):
        inner["x"] = inner = {}
    with pytest.raises(InputError, match="nested more than 20 deep"):
        case_from_dict(deep)
    with pytest.raises(InputError, match="some 401 digits"):
        case_from_dict({"room": {"floor_area": 10**400}})
    circle = {}
    circle["x"] = circle
    with pytest.raises(InputError, match="nested more than 20 deep"):
        case_from_dict(circle)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes that are files here")
def test_devices_pipes_and_folders_are_not_read(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path / "pipe", "/dev/zero"):
        with pytest.raises(InputError, match="is not a file"):
            read_text(path, "table")
    with pytest.raises(InputError, match="is a folder"):
        read_text(tmp_path, "table")
    with pytest.raises(InputError, match="File name too long"):
        read_text(tmp_path / ("x" * 300), "table")
    with pytest.raises(InputError, match="null"):
        read_text(tmp_path / "a\0b", "table")


def test_a_file_larger_than_allowed_is_not_read(tmp_path):
    path = tmp_path / "large.csv"
    with path.open("wb") as file:
        file.truncate(300_000_000)  # takes no room on the disk
    with pytest.raises(InputError, match="larger than 20 MB"):
        read_text(path, "table")


@pytest.mark.fuzz
@given(st.text(max_size=200))
def test_any_text_is_toml_or_one_sentence(text):
    try:
        table = read_toml(text, "hall.toml", "write key = value")
    except InputError:
        return
    require_plain(table, "hall.toml")
