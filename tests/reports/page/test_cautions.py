"""The line of caution: on everything that may travel alone."""

import io
import json

import openpyxl
import pytest

from dewledger.reports.charts.style import FOOT_IN, POINTS_PER_IN
from dewledger.reports.files.data_files import summary_json
from dewledger.reports.files.memo import memo
from dewledger.reports.files.report_parts import Drawn, report_parts
from dewledger.reports.files.workbook import workbook
from dewledger.reports.page.hours import hour_charts
from dewledger.reports.page.reheat_sizing import sizing_charts
from dewledger.reports.words.estimates import CAUTION

PARTS = ("summary", "engineer", "code", "money", "appendix")


def test_it_defers_and_is_one_line_of_a_terminal():
    assert "local codes" in CAUTION
    assert "licensed engineer" in CAUTION
    assert len(CAUTION) <= 100


def test_every_picture_has_it_at_its_foot(study, charts):
    drawn = [*charts.values(), *hour_charts(study, "I-P"), *sizing_charts(study, "I-P")]
    for chart in drawn:
        svg = chart.svg()
        assert svg.count(CAUTION) == 1, chart.name


def test_the_foot_is_added_below_the_picture(charts):
    from PIL import Image

    chart = charts["reheat-origin"]
    drawn = chart.draw().get_size_inches()[1]
    height = chart.figure().get_size_inches()[1] - FOOT_IN
    assert height == pytest.approx(drawn)
    picture = Image.open(io.BytesIO(chart.png(100)))
    assert picture.height == pytest.approx(100.0 * (height + FOOT_IN), abs=2.0)
    box = chart.svg().split('viewBox="')[1].split('"')[0].split()
    assert float(box[3]) == pytest.approx(POINTS_PER_IN * (height + FOOT_IN), abs=0.1)


@pytest.mark.parametrize("part", PARTS)
def test_each_part_of_the_report_has_it(study, part, drawn):
    (made,) = report_parts(study, part, lambda: Drawn(None, drawn))
    assert made.cautions[0] == CAUTION


def test_it_is_first_in_the_summary(study):
    content = json.loads(summary_json(study))
    assert next(iter(content)) == "caution"
    assert content["caution"] == CAUTION


def test_the_first_sheet_and_the_memo_have_it(week, study):
    from docx import Document

    book = openpyxl.load_workbook(io.BytesIO(workbook(week)), read_only=True)
    first = book[book.sheetnames[0]]
    text = [str(cell.value) for row in first.iter_rows(max_row=5) for cell in row]
    assert any(CAUTION in words for words in text)
    document = Document(io.BytesIO(memo(study)))
    assert CAUTION in [paragraph.text for paragraph in document.paragraphs]
