"""``dewledger new`` at a terminal: a few questions, one sentence for a wrong answer, a case that
runs; and the same command where there is no terminal."""

import io
import json
import sys

import pytest

from dewledger.assembly.machine import assemble
from dewledger.case import load_case, starter
from dewledger.case.reading.schema import SCHEMA_FILE, SCHEMA_ID, SCHEMA_LINE
from dewledger.study import read_weather


class Terminal(io.StringIO):
    """Answers as they would be typed."""

    def isatty(self):
        return True


@pytest.fixture
def typed(dewledger, monkeypatch, tmp_path):
    """Run ``dewledger new`` with answers; gives what it said and the path."""

    def run(*answers):
        options = ["--quick"] if answers[:1] == ("--quick",) else []
        answers = answers[len(options) :]
        path = tmp_path / "asked.toml"
        monkeypatch.setattr(sys, "stdin", Terminal("".join(f"{answer}\n" for answer in answers)))
        return dewledger("new", path, *options), path

    return run


CLINIC = (
    "electric reheat", "miami", "clinic", "6,000 sq ft, 9 ft", "Mon-Fri 7 am to 7 pm, Sat 8-13",
    "15 tons, 14.2 IEER, 2 stages, 2014", "on", "15 %", "65 %", "75 F / 70 F", "30 to 60 %",
    "13 cents per kWh, don't know", "hot gas, gas", "18,000",
)  # fmt: skip


def test_a_clinic_in_fifteen_answers(typed):
    """What a facilities manager says, to a case that compares with what stands there."""
    said, path = typed("--quick", *CLINIC[:11], "13 cents per kWh", *CLINIC[12:])
    assert said.code == 0, said.err
    assert said.err == ""
    for words in (
        "Today",
        "[plain]",
        "Given",
        "Assumed",
        "400 cfm for a ton",
        "next: dewledger run",
    ):
        assert words in said.out
    case = load_case(path)
    assert case.title == "Clinic, Miami, FL"
    assert case.reference_key == "today"
    assert [option.key for option in case.option_cases()] == ["today", "condenser", "gas"]
    assert case.option_cases()[1].case.cost.first_cost == 18000.0
    assert case.unit.stages == (0.5, 1.0)
    assert case.air.fan == "continuous"
    assert case.prices.gas is None
    assert path.read_text().startswith(SCHEMA_LINE)
    origins = case.origins
    assert origins["unit.total_capacity"].kind == "given"
    assert origins["air.supply_flow"].kind == "assumed"
    year = read_weather(case)
    for option in case.option_cases():
        assert len(assemble(option, year).drivers) == 8760


def test_a_wrong_answer_is_said_and_asked_again(typed):
    said, path = typed(
        "--quick", "stove", "plain", "nowhere.epw", "greensboro", "", "75 F", "", "noon", "",
        "30 ton, 900 cfm", "", *[""] * 11,
    )  # fmt: skip
    assert said.code == 0, said.err
    lines = [line for line in said.err.splitlines() if line.strip()]
    assert len(lines) == 5
    for words, line in zip(
        ("no system", "neither a file nor a bundled", "write for example", "as hours", "[unit]"),
        lines,
        strict=True,
    ):
        assert words in line
    assert load_case(path).option_cases()


def test_answers_of_a_file_are_the_same_case(typed, dewledger, tmp_path):
    _, path = typed("--quick", *CLINIC[:11], "", *CLINIC[12:])
    table = {
        "today": "electric reheat", "place": "miami", "room_kind": "clinic",
        "size": {"floor_area": "6,000 sq ft", "height": 9}, "hours": CLINIC[4],
        "nameplate": CLINIC[5], "fan": "on", "outdoor_air": "15 %", "humid_now": 65,
        "set_points": CLINIC[9], "range": "30 to 60 %", "considered": ["hot gas", "gas"],
        "first_cost": 18000,
    }  # fmt: skip
    answers = tmp_path / "answers.json"
    answers.write_text(json.dumps(table))
    said = dewledger("new", tmp_path / "b.toml", "--answers", answers, "--quick")
    assert said.code == 0, said.err
    assert (tmp_path / "b.toml").read_text() == path.read_text()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('flor_area = "1"', 'did you mean "floor_area"'),
        ("today = ", "neither TOML nor JSON"),
        ('place = "27.95, -82.46"', "allow ask_service = true"),
    ],
)
def test_answers_that_cannot_serve_write_nothing(dewledger, tmp_path, text, says):
    answers = tmp_path / "answers.toml"
    answers.write_text(text)
    said = dewledger("new", tmp_path / "b.toml", "--answers", answers)
    assert said.code == 2
    assert says in said.err
    assert said.err.count("\n") == 1
    assert [path.name for path in tmp_path.iterdir()] == ["answers.toml"]


def test_a_place_is_asked_for_on_the_users_word_alone(typed):
    said, path = typed("--quick", "plain", "27.95, -82.46", "n", "miami", *[""] * 13)
    assert said.code == 0
    assert "nothing is asked" in said.err
    assert load_case(path).site.weather == "miami"


def test_what_moves_the_answer_most_is_said(typed):
    said, _ = typed(*CLINIC[:11], "", *CLINIC[12:])
    assert said.code == 0, said.err
    closing = said.out[said.out.index("saves") :]
    assert closing.count(" at ") == 6  # three assumptions, each at both its ends
    assert "Today: electric reheat" in said.out


def test_a_kind_and_answers_are_two_ways(dewledger, tmp_path):
    said = dewledger("new", tmp_path / "a.toml", "--kind", "clinic", "--answers", "x.toml")
    assert said.code == 2
    assert "two ways to begin" in said.err


def test_no_terminal_asks_nothing(dewledger, monkeypatch, tmp_path):
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    said = dewledger("new", tmp_path / "a.toml")
    assert said.code == 0
    assert 'no terminal for questions: this is the kind "rooftop"' in said.out
    assert (tmp_path / "a.toml").read_text() == SCHEMA_LINE + starter("rooftop")


def test_broken_off_nothing_is_written(typed):
    said, path = typed("", "miami")
    assert said.code == 130
    assert "nothing was written" in said.err
    assert not path.exists()


def test_it_does_not_ask_about_a_file_that_exists(dewledger, monkeypatch, tmp_path):
    path = tmp_path / "a.toml"
    path.write_text("mine")
    monkeypatch.setattr(sys, "stdin", Terminal(""))
    said = dewledger("new", path)
    assert said.code == 2
    assert "exists already" in said.err
    assert path.read_text() == "mine"


def test_the_schema_lies_beside_the_case(dewledger, tmp_path):
    schema_path = tmp_path / SCHEMA_FILE
    assert dewledger("new", tmp_path / "a.toml", "--kind", "clinic").code == 0
    assert json.loads(schema_path.read_text())["$id"] == SCHEMA_ID
    schema_path.write_text(f'{{"$id": "{SCHEMA_ID}", "of an earlier version": true}}')
    assert dewledger("new", tmp_path / "b.toml", "--kind", "clinic").code == 0
    assert "earlier" not in schema_path.read_text()
    schema_path.write_text("my own notes")
    assert dewledger("new", tmp_path / "c.toml", "--kind", "clinic").code == 0
    assert schema_path.read_text() == "my own notes"
