"""What a user may write anywhere: HTML, quotes, formulas, right-to-left text, long words, emoji."""

import csv
import dataclasses
import io
import json
import re
import shutil
import subprocess
import tomllib
import xml.etree.ElementTree as ElementTree
from html.parser import HTMLParser

import openpyxl
import pytest

from dewledger.case import bundled_case, load_case
from dewledger.reports.files.pdf import BROWSERS
from dewledger.reports.files.writer import write_outputs

WORD = "Donaudampfschiff" * 10
TITLE = f'=1+1 <script>alert("1")</script> & \' {{{{ 7*7 }}}} $x$ עברית 🎻 {WORD}'
NOTE = f"@SUM(1) <img src=x onerror=alert(2)> \u202egnp.exe {TITLE}"
OPTION = f'+cmd|" /C calc"!A0 <b>bold</b> שלום {WORD}'
needs_browser = pytest.mark.skipif(
    not any(shutil.which(name) for name in BROWSERS) or not shutil.which("pdftotext"),
    reason="no browser of the Chromium family and pdftotext on this machine",
)


@pytest.fixture(scope="module")
def hostile(study, week, tmp_path_factory):
    """The demo under hostile names, through its case file: its year's page, a week's tables."""
    place = tmp_path_factory.mktemp("hostile")
    text = bundled_case("music-school").to_toml(place)
    table = tomllib.loads(text)
    for old, new in (
        (table["title"], TITLE),
        (table["note"], NOTE),
        (table["options"]["condenser"]["title"], OPTION),
    ):
        written = json.dumps(old, ensure_ascii=False)
        assert written in text
        text = text.replace(written, json.dumps(new, ensure_ascii=False))
    path = place / "case.toml"
    path.write_text(text, encoding="utf-8")
    case = load_case(path)

    def renamed(solved):
        options = tuple(
            dataclasses.replace(option, option=read)
            for option, read in zip(solved.options, case.option_cases(), strict=True)
        )
        return dataclasses.replace(solved, case=case, options=options)

    named = renamed(study)
    write_outputs(named, place / "year", formats=("html", "json", "toml"))
    write_outputs(renamed(week), place / "out", formats=("csv", "xlsx"))
    for path in (place / "year").iterdir():
        path.rename(place / "out" / path.name)
    return named, place / "out"


class Page(HTMLParser):
    """Tags, attributes and text as a browser would take them."""

    def __init__(self, html):
        super().__init__()
        self.tags, self.text = [], []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.text.append(data)


def test_html_shows_it_and_obeys_none_of_it(hostile):
    html = (hostile[1] / "report.html").read_text(encoding="utf-8")
    page = Page(html)
    assert not [tag for tag, _ in page.tags if tag == "script"]
    assert not [name for _, given in page.tags for name in given if name.startswith("on")]
    assert not [given for tag, given in page.tags if tag == "img" and given.get("src") == "x"]
    text = "".join(page.text)
    for words in ('<script>alert("1")</script>', "{{ 7*7 }}", "🎻", "עברית", "<b>bold</b>", WORD):
        assert words in text
    # a sign that turns the direction of what follows would hide what a reader signs
    assert "\u202e" not in html


def test_every_svg_is_well_formed_and_holds_no_script(hostile):
    html = (hostile[1] / "report.html").read_text(encoding="utf-8")
    drawn = re.findall(r"<svg.*?</svg>", html, re.DOTALL)
    assert len(drawn) > 8
    for svg in drawn:
        root = ElementTree.fromstring(svg)
        assert not [e for e in root.iter() if e.tag.endswith(("script", "foreignObject"))]


def test_workbook_holds_text_and_only_its_own_formulas(hostile):
    book = openpyxl.load_workbook(hostile[1] / "workbook.xlsx", read_only=True)
    sheet = book["Comparison"]
    cells = [cell for row in sheet.iter_rows() for cell in row if cell.value is not None]
    formulas = [cell.value for cell in cells if cell.data_type == "f"]
    assert formulas
    own = r"=(SUM|IF|COUNTIFS)\([^|@]*'hours [^|@]*"
    assert all(re.fullmatch(own, formula) for formula in formulas)
    text = {cell.value for cell in cells if cell.data_type == "s"}
    assert TITLE in text
    assert OPTION in text
    assert not [c for row in book["Inputs"].iter_rows() for c in row if c.data_type == "f"]


def test_csv_cells_begin_no_formula(hostile):
    for file in hostile[1].glob("*.csv"):
        rows = csv.reader(io.StringIO(file.read_text(encoding="utf-8")))
        for row in rows:
            for cell in row:
                assert cell[:1] not in ("=", "+", "@", "\t", "\r")
                # a minus sign is a number's or nothing's
                assert not cell.startswith("-") or re.fullmatch(r"-[\d.e+-]+", cell)


def test_json_and_toml_read_back_what_was_written(hostile):
    content = json.loads((hostile[1] / "summary.json").read_text(encoding="utf-8"))
    assert OPTION in json.dumps(content, ensure_ascii=False).replace('\\"', '"')
    table = tomllib.loads((hostile[1] / "case.toml").read_text(encoding="utf-8"))
    assert (table["title"], table["note"]) == (TITLE, NOTE)


@needs_browser
@pytest.mark.browser
def test_pdf_holds_the_text_and_no_column_runs_off(hostile, tmp_path):
    study, _ = hostile
    write_outputs(study, tmp_path / "out", formats=("pdf",))
    done = subprocess.run(
        ["pdftotext", "-layout", tmp_path / "out" / "report.pdf", "-"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert '<script>alert("1")</script>' in done.stdout
    assert "{{ 7*7 }}" in done.stdout
    # the last columns of the widest tables are still on the paper
    assert done.stdout.count("electric trim") > 8


@pytest.mark.parametrize("part", ["summary", "engineer", "code", "money", "appendix"])
def test_each_part_shows_it_and_obeys_none_of_it(hostile, tmp_path, part):
    study, _ = hostile
    write_outputs(study, tmp_path / "out", formats=("html",), part=part)
    html = (tmp_path / "out" / f"report-{part}.html").read_text(encoding="utf-8")
    page = Page(html)
    assert not [tag for tag, _ in page.tags if tag in ("script", "iframe", "object")]
    assert not [name for _, given in page.tags for name in given if name.startswith("on")]
    text = "".join(page.text)
    assert TITLE in text
    assert "<b>bold</b>" in text
    assert "\u202e" not in html


def test_the_memo_holds_it_as_text(hostile, tmp_path):
    """In the memo's own XML: no element of the user's, no field that a word processor computes."""
    import zipfile

    study, _ = hostile
    write_outputs(study, tmp_path / "out", formats=("docx",))
    with zipfile.ZipFile(tmp_path / "out" / "memo.docx") as archive:
        names = set(archive.namelist())
        root = ElementTree.fromstring(archive.read("word/document.xml"))
        core = archive.read("docProps/core.xml").decode("utf-8")
    ElementTree.fromstring(core)
    assert not [name for name in names if "vba" in name.lower() or "embed" in name.lower()]
    words = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"
    assert not [e for e in root.iter() if e.tag in (f"{words}fldSimple", f"{words}instrText")]
    text = "".join(element.text or "" for element in root.iter(f"{words}t"))
    for part in ('<script>alert("1")</script>', "{{ 7*7 }}", "🎻", "עברית", "<b>bold</b>"):
        assert part in text


def test_data_files_begin_no_formula(hostile, week, tmp_path):
    _, place = hostile
    write_outputs(week, tmp_path / "out", formats=("annual.csv", "display.csv"))
    for file in [*(tmp_path / "out").glob("*.csv"), *place.glob("*.csv")]:
        for row in csv.reader(io.StringIO(file.read_text(encoding="utf-8"))):
            assert not [cell for cell in row if cell[:1] in ("=", "+", "@", "\t")]
