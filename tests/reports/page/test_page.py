"""The page: every figure is the account's, nothing written by a user can break out of it."""

import dataclasses
import json
import re
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from dewledger.reports.files.data_files import summary_json
from dewledger.reports.files.report_parts import Drawn, report_parts
from dewledger.reports.page.parts import Cell, Head, Part, Picture, Row, Section, Table
from dewledger.reports.page.report import page as whole_page
from dewledger.reports.words.answer import answer, saving_sentence
from dewledger.reports.words.metrics import BY_KEY
from dewledger.reports.words.money import money_sentence
from dewledger.reports.words.numbers import figure


class Reader(HTMLParser):
    """What a reader or a screen reader meets: traced cells, headings, pictures, ids."""

    VOID = ("meta", "link", "br", "img", "hr", "input")

    def __init__(self, html):
        super().__init__()
        self.traced, self.headings, self.pictures, self.ids, self.tags = [], [], [], [], []
        self.open, self.text = [], []
        self._cell = self._heading = None
        self.feed(html)
        self.close()

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.tags.append((tag, given))
        if tag not in self.VOID:
            self.open.append(tag)
        if "id" in given:
            self.ids.append(given["id"])
        if "data-key" in given:
            self._cell = [given["data-option"], given["data-key"], ""]
        if tag in ("h1", "h2", "h3"):
            self._heading = [tag, ""]
        if tag == "img":
            self.pictures.append(given.get("alt"))
        if tag == "svg":
            self.pictures.append(given.get("aria-label"))

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in self.VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag):
        assert self.open
        assert self.open[-1] == tag, f"</{tag}> closes <{self.open[-1]}>"
        self.open.pop()
        if tag == "td" and self._cell:
            self.traced.append(tuple(self._cell))
            self._cell = None
        if self._heading and tag == self._heading[0]:
            self.headings.append(tuple(self._heading))
            self._heading = None

    def handle_data(self, data):
        self.text.append(data)
        if self._cell:
            self._cell[2] += data
        if self._heading:
            self._heading[1] += data


def page(study, drawn, date=None):
    return whole_page(study, report_parts(study, drawn=lambda: Drawn(None, drawn)), date=date)


@pytest.fixture(scope="module")
def html(study, drawn):
    return page(study, drawn=drawn)


@pytest.fixture(scope="module")
def reader(html):
    return Reader(html)


def renamed(study, case_title, option_title):
    """The same study under other titles."""
    options = tuple(
        dataclasses.replace(o, option=dataclasses.replace(o.option, title=f"{option_title} {i}"))
        for i, o in enumerate(study.options)
    )
    case = study.case.model_copy(update={"title": case_title})
    return dataclasses.replace(study, case=case, options=options)


def test_every_traced_figure_is_the_summarys_at_the_shown_rounding(study, reader):
    options = json.loads(summary_json(study))["options"]
    display = study.case.display
    checked = 0
    for option, key, shown in reader.traced:
        annual = options[option]["annual"]
        if key in BY_KEY:
            assert shown == figure(annual[key], BY_KEY[key].kind, display), (option, key)
        elif key.startswith("hours_above_by_cause."):
            cause = key.partition(".")[2]
            assert shown == f"{annual['hours_above_by_cause'][cause]:,}"
        elif key.startswith("peak_"):
            assert shown.startswith(figure(annual[key], "heat rate", display))
        else:
            assert float(shown.replace("−", "-")) == pytest.approx(annual[key], rel=0.5)
        checked += 1
    # the short table, the whole table, causes, peaks and closure of every option
    assert checked > 25 * len(study.options)


def test_shown_figures_are_within_half_of_their_last_digit(study, reader):
    """Independent of the formatting code: MMBtu and therm from their definitions."""
    # 1 kWh = 3412.14163 Btu (3.6 MJ over the international table Btu, 1055.05585262 J)
    units = {"heat": 3412.14163e-6, "gas": 3412.14163e-5, "electricity": 1.0}
    annual = {o.key: o.annual for o in study.options}
    for option, key, shown in reader.traced:
        kind = BY_KEY[key].kind if key in BY_KEY else None
        if kind not in units or study.case.display != "I-P":
            continue
        number = float(shown.replace(",", "").replace("−", "-"))
        value = annual[option][key] * units[kind]
        assert number == pytest.approx(value, rel=0.0051, abs=0.0051), (option, key)


def test_headings_step_down_one_at_a_time(reader):
    levels = [int(tag[1]) for tag, _ in reader.headings]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


def test_every_picture_says_what_it_shows(study, reader):
    assert len(reader.pictures) >= 7
    for alt in reader.pictures:
        assert alt
        assert len(alt) > 60
    assert any(study.options[-1].title in alt for alt in reader.pictures)


def test_no_script_no_request_no_repeated_id(html, reader):
    assert not [tag for tag, _ in reader.tags if tag in ("script", "iframe", "object", "embed")]
    assert not [name for _, given in reader.tags for name in given if name.startswith("on")]
    for name in ("src", "href", "xlink:href"):
        for _, given in reader.tags:
            link = given.get(name)
            assert link is None or link.startswith(("data:", "#")), link
    assert not re.search(r"url\(\s*['\"]?(?!#)", html)
    assert "@import" not in html
    assert len(reader.ids) == len(set(reader.ids))
    assert reader.open == []
    assert len(html.encode()) < 4_000_000


def test_the_same_study_gives_the_same_bytes_and_no_date(study, drawn, html):
    assert page(study, drawn=drawn) == html
    assert "12 May 2031" not in html
    assert "12 May 2031" in page(study, drawn=drawn, date="12 May 2031")


HOSTILE = '<script>alert("1")</script> & \' {{ 7*7 }} =1+1 $x$ \u202eabc עברית 🎻 ' + "w" * 120


@pytest.mark.filterwarnings("ignore:Glyph .* missing from font")
def test_titles_from_outside_stay_text(study):
    html = page(renamed(study, HOSTILE, HOSTILE), {})
    read = Reader(html)
    assert not [tag for tag, _ in read.tags if tag == "script"]
    assert "<script" not in html
    text = "".join(read.text)
    assert '<script>alert("1")</script>' in text
    assert "{{ 7*7 }}" in text
    assert "🎻" in text
    assert read.open == []


def test_answer_speaks_of_reference_and_of_the_best_option(study):
    sentences = answer(study, study.case.display)
    assert 3 <= len(sentences) <= 5
    assert "saves" in sentences[0] or "costs" in sentences[0]
    assert study.reference.title in sentences[0]
    assert study.reference.title in sentences[1]
    assert "the reference" in sentences[2]
    assert all(sentence.endswith(".") for sentence in sentences)


def test_a_saving_is_not_credited_where_all_options_hold_worse(study):
    """Hours too humid doubled and more in every option but the reference: unequal humidity."""

    def wetter(option):
        hours = option.annual["hours_above_range"] + 100
        return dataclasses.replace(option, annual=option.annual | {"hours_above_range": hours})

    options = tuple(o if o.key == study.reference.key else wetter(o) for o in study.options)
    worse = dataclasses.replace(study, options=options)
    first = saving_sentence(worse)
    assert "costs" in first
    assert "less than" in first
    assert "no saving is credited" in first
    assert "saves" not in first
    money = money_sentence(worse)
    assert "saves" not in money
    assert "break-even" not in money
    assert "saves" in saving_sentence(study)
    assert "break-even added" in money_sentence(study)


def test_a_part_shows_its_sections_as_text(study, html):
    drawing = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1"></svg>'
    section = Section(
        "allowance",
        "Allowance of reheat",
        ("A paragraph <b>as text</b>.",),
        (
            Table(
                "One row",
                (Head("Figure", number=False), Head("Value", "kWh")),
                (Row("first", (Cell("1", True),)),),
            ),
        ),
        (Picture(drawing, 'A "square" & its <caption>'),),
        ("a point",),
    )
    part = Part("extra", "Extra part", "", (section,), ("A caution.",))
    whole = whole_page(study, [part])
    assert "Allowance of reheat" not in html
    assert "Allowance of reheat" in whole
    assert "A caution." in whole
    assert "&lt;b&gt;as text&lt;/b&gt;" in whole
    assert drawing in whole
    assert "&amp; its &lt;caption&gt;" in whole


@pytest.mark.parametrize(
    ("value", "kind", "display", "shown"),
    [
        # by hand: 1000 kWh is 3.412 million Btu, 34.12 therms
        (1000.0, "heat", "I-P", "3.41"),
        (1000.0, "gas", "I-P", "34.1"),
        (1000.0, "heat", "SI", "1.00"),
        (123456.0, "electricity", "I-P", "123,000"),
        (-472.4, "electricity", "SI", "−472"),
        (0.0, "heat", "SI", "0"),
        (-0.0001, "heat", "SI", "0"),
        (None, "share", "SI", "–"),
        (float("nan"), "heat", "SI", "–"),
        (0.9996, "share", "SI", "99.9"),
        (1.0, "share", "SI", "100"),
        (0.001, "share", "SI", "0.1"),
        (2559, "hours", "I-P", "2,559"),
        # 1 kg/kg is 7000 grains per pound
        (0.0093, "humidity", "I-P", "65.1"),
        (100.0, "water", "I-P", "220"),
    ],
)
def test_figures_are_rounded_to_what_is_meant(value, kind, display, shown):
    assert figure(value, kind, display) == shown


@pytest.mark.parametrize(
    ("display", "shown"),
    # the standard atmosphere, 101325 Pa, is 14.696 psi (NIST SP 811, appendix B.8)
    [("I-P", "14.70 psia"), ("SI", "1,013 hPa")],
)
def test_pressure_of_outdoor_air_is_in_the_case_units(display, shown):
    from dewledger.reports.words.numbers import station_pressure

    assert station_pressure(101325.0, display) == shown
