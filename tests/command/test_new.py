"""``dewledger new`` at a terminal: a few questions, one sentence for a wrong answer, a case that
runs; and the same command where there is no terminal."""

import io
import json
import sys

import pytest

from dewledger.assembly.machine import assemble
from dewledger.case import load_case, starter, starter_kinds
from dewledger.case.reading.schema import SCHEMA_FILE, SCHEMA_ID, SCHEMA_LINE
from dewledger.quantities import in_unit
from dewledger.reports.command.questions import QUESTIONS, Answers
from dewledger.study import read_weather
from dewledger.weather.errors import InputError


class Terminal(io.StringIO):
    """Answers as they would be typed."""

    def isatty(self):
        return True


@pytest.fixture
def typed(dewledger, monkeypatch, tmp_path):
    """Run ``dewledger new`` with answers; gives what it said and the path."""

    def run(*answers):
        path = tmp_path / "asked.toml"
        monkeypatch.setattr(sys, "stdin", Terminal("".join(f"{answer}\n" for answer in answers)))
        return dewledger("new", path), path

    return run


def test_enter_all_the_way_is_the_starter(typed):
    said, path = typed(*[""] * 20)
    assert said.code == 0, said.err
    assert said.err == ""
    case = load_case(path)
    plain = starter("rooftop")
    told = path.read_text().split("\nformat", 1)[1]
    assert told == plain.split("\nformat", 1)[1]
    assert case.title == "Assembly room with a rooftop unit"


def test_answers_make_a_case_that_can_be_solved(typed):
    said, path = typed(
        "roof", "rooftop", 'Choir hall "north"', "miami", "US", "FL", "America/New_York", "SI",
        "500", "500 m2", "08:30-17:00", "08:00-21:00", "", "9000 cfm", "1200 cfm", "90 ton", "",
        "50 %", "", "",
    )  # fmt: skip
    assert said.code == 0, said.err
    for words in (
        'did you mean "rooftop"',
        '"500" has no unit',
        "must begin and end on the hour",
        'outdoor_flow "9000 cfm" is above supply_flow',
        "impossible at the stated air flow",
    ):
        assert words in said.err
    assert said.err.count("\n") == 5
    case = load_case(path)
    assert case.title == 'Choir hall "north"'
    assert (case.site.weather, case.display) == ("miami", "SI")
    assert (case.schedule.holiday_country, case.schedule.holiday_region) == ("US", "FL")
    assert case.room.floor_area == pytest.approx(500.0)
    assert case.air.outdoor_flow.text == "1200 cfm"
    # 500 m2 over the starter's 3000 ft2: its 600 Btu/(h F), 3000 cfm and 7.5 tons grow as much.
    ratio = 500.0 / (3000 * 0.3048**2)
    assert in_unit(case.room.conductance, "conductance", "Btu/h/degF") == pytest.approx(
        600 * ratio, rel=5e-3
    )
    assert in_unit(case.air.supply_flow, "air flow", "cfm") == pytest.approx(3000 * ratio, rel=5e-3)
    assert in_unit(case.unit.total_capacity, "heat flow", "ton") == pytest.approx(
        7.5 * ratio, rel=5e-3
    )
    # Ten points lower than the starter's 60 %, with its limit of 55 % and its 30 %.
    humidity = case.humidity
    assert (humidity.range_high, humidity.range_low) == (0.5, pytest.approx(0.2))
    assert humidity.limit_value == pytest.approx(0.45)
    year = read_weather(case)
    for option in case.option_cases():
        assert len(assemble(option, year).drivers) == 8760


@pytest.mark.parametrize("kind", starter_kinds())
def test_every_kind_can_be_asked_about(kind, tmp_path):
    """Twice the floor area and Sand Point's weather; Enter for the rest."""
    answers = Answers(kind, tmp_path)
    asked = []
    for question in QUESTIONS:
        if not answers.applies(question):
            continue
        said = answers.default(question)
        if question.key == "floor_area":
            number, unit = said.split()
            said = f"{2 * float(number):g} {unit}"
        answers.answer(question, "sand-point" if question.key == "weather" else said)
        asked.append(question.key)
    assert {"title", "floor_area", "daylight_saving", "supply_flow"} <= set(asked)
    (tmp_path / "case.toml").write_text(answers.text())
    case = load_case(tmp_path / "case.toml")
    plain = starter(kind)
    assert "note" not in case.model_fields_set
    assert case.schedule.holiday_country is None
    assert case.prices.state is None
    assert f'floor_area = "{case.room.floor_area.text}"' not in plain
    year = read_weather(case)
    for option in case.option_cases():
        assemble(option, year)


def test_a_weather_file_starts_where_the_case_will_lie(tmp_path):
    question = next(q for q in QUESTIONS if q.key == "weather")
    answers = Answers("rooftop", tmp_path)
    with pytest.raises(InputError, match="neither a file nor a bundled station"):
        answers.answer(question, "nowhere.epw")
    assert answers.default(question) == "greensboro"
    region = next(q for q in QUESTIONS if q.key == "holiday_region")
    answers.answer(question, "miami")
    with pytest.raises(InputError, match="no country"):
        answers.answer(region, "FL")


def test_no_terminal_asks_nothing(dewledger, monkeypatch, tmp_path):
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    said = dewledger("new", tmp_path / "a.toml")
    assert said.code == 0
    assert 'no terminal to ask at: this is the kind "rooftop"' in said.out
    assert (tmp_path / "a.toml").read_text() == SCHEMA_LINE + starter("rooftop")


def test_broken_off_nothing_is_written(typed):
    said, path = typed("", "Half a case")
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
    beside = tmp_path / SCHEMA_FILE
    assert dewledger("new", tmp_path / "a.toml", "--kind", "clinic").code == 0
    assert json.loads(beside.read_text())["$id"] == SCHEMA_ID
    beside.write_text(f'{{"$id": "{SCHEMA_ID}", "of an earlier version": true}}')
    assert dewledger("new", tmp_path / "b.toml", "--kind", "clinic").code == 0
    assert "earlier" not in beside.read_text()
    beside.write_text("my own notes")
    assert dewledger("new", tmp_path / "c.toml", "--kind", "clinic").code == 0
    assert beside.read_text() == "my own notes"
