"""What users get wrong about air systems, rooms and profiles: one sentence with the remedy, exit 2,
nothing written."""

import re

import pytest

from dewledger.case import starter

# What is spoilt: kind of case, its text before and after, and words of the sentence.
MISTAKES = {
    "profile of 23": (
        "classroom", "weekday = [0, 0,", "weekday = [0,", ("23 values", "write 24")),
    "profile of 25": (
        "classroom", "weekday = [0, 0,", "weekday = [0, 0, 0,", ("25 values", "write 24")),
    "fraction above 1": (
        "classroom", "0.8, 1, 1, 1", "0.8, 1, 1.2, 1", ("1.2 is above 1", "allow_above_one")),
    "unknown region": (
        "classroom", 'region = "NC"', 'region = "QQ"', ("QQ", "not a region", "write AK")),
    "unknown country": (
        "classroom", 'country = "US"', 'country = "USX"', ("USX", 'mean "US"')),
    "half an hour": (
        "classroom", '"08:00-16:00"', '"08:30-16:00"', ("08:30-16:00", "on the hour", "write")),
    "outdoor air above supply at minimum flow": (
        "packaging", 'outdoor_flow = "120 cfm"', 'outdoor_flow = "800 cfm"',
        ("800 cfm", "minimum_flow", "raise")),
    "people ask for more than the supply": (
        "classroom", '"10 cfm/person"', '"60 cfm/person"', ("1680 cfm", "raise supply_flow")),
    "effectiveness above 1": (
        "clinic", 'sensible = "70 %"', 'sensible = "170 %"', ("170 %", "write")),
    "humidity limits cross": (
        "museum-store", 'limit = "45 %"', 'limit = "55 %"', ("not below the drying limit", "band")),
    "humidity range crosses": (
        "museum-store", 'range_low = "43 %"', 'range_low = "53 %"', ("range crosses", "lower")),
    "windows above walls": (
        "classroom", 'area = "80 ft2"', 'area = "2000 ft2"', ("windows come to", "wall_area")),
}  # fmt: skip


def reported(said, *words):
    assert said.code == 2
    lines = said.err.splitlines()
    assert len([line for line in lines if line.startswith("dewledger: ")]) == 1
    assert "fault inside" not in said.err
    assert re.search(r"write|raise|lower|leave|correct|did you mean", lines[-1])
    for word in words:
        assert word in lines[-1], (word, lines[-1])


@pytest.mark.parametrize("name", MISTAKES)
def test_one_sentence(dewledger, tmp_path, name):
    kind, old, new, words = MISTAKES[name]
    text = starter(kind)
    assert old in text
    path = tmp_path / "room.toml"
    path.write_text(text.replace(old, new, 1))
    reported(dewledger("run", path, "--out", tmp_path / "out"), *words)
    assert [left.name for left in tmp_path.iterdir()] == ["room.toml"]


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (["sensible_W", *["100"] * 8784], ("8784 rows", "write 8760", "29 February")),
        (
            ["time,sensible_W", *[f"2023-01-01 {hour:02d}:00,100" for hour in range(5, 24)],
             *["2023-01-02 00:00,100"] * 8741],
            ("begins at 01-01 05:00", "write the hour from 01-01 00:00 first"),
        ),
        (["sensible_W", "", *["100"] * 8758], ("8758 rows", "write 8760")),
    ],
    ids=["8784 rows", "misaligned", "blank rows"],
)  # fmt: skip
def test_loads_of_a_file(dewledger, tmp_path, lines, words):
    (tmp_path / "loads.csv").write_text("\n".join(lines) + "\n")
    path = tmp_path / "room.toml"
    text = starter("rooftop").replace("[loads]", '[loads.file]\npath = "loads.csv"\n[loads]', 1)
    path.write_text(text)
    reported(dewledger("check", path), *words)
    assert {left.name for left in tmp_path.iterdir()} == {"room.toml", "loads.csv"}
