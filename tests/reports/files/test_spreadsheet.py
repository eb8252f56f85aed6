"""The workbook recalculated by a spreadsheet program: every formula equals the computed value."""

import io
import json
import re
import shutil
import subprocess
import zipfile

import openpyxl
import pytest

from dewledger.reports.files.data_files import summary_json
from dewledger.reports.files.workbook import annual_shown, workbook
from dewledger.reports.words.metrics import METRICS

SPREADSHEET = shutil.which("soffice") or shutil.which("libreoffice")
pytestmark = pytest.mark.skipif(
    SPREADSHEET is None, reason="LibreOffice is not on this machine (apt install libreoffice-calc)"
)


@pytest.fixture(scope="module")
def recalculated(week, tmp_path_factory):
    """The workbook without its cached values, calculated anew."""
    place = tmp_path_factory.mktemp("sheet")
    made = io.BytesIO(workbook(week))
    with zipfile.ZipFile(made) as old, zipfile.ZipFile(place / "book.xlsx", "w") as new:
        for item in old.infolist():
            content = old.read(item)
            if item.filename.startswith("xl/worksheets/"):
                content = re.sub(rb"(</f>)<v>[^<]*</v>", rb"\1", content)
            new.writestr(item, content, zipfile.ZIP_DEFLATED)
    done = subprocess.run(
        [
            SPREADSHEET, "--headless", f"-env:UserInstallation={(place / 'profile').as_uri()}",
            "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", place / "out",
            place / "book.xlsx",
        ],
        capture_output=True, timeout=300, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return [
        openpyxl.load_workbook(place / "out" / "book.xlsx", data_only=True),
        openpyxl.load_workbook(made),
        openpyxl.load_workbook(made, data_only=True),
    ]


# Hourly cells hold five figures: 0.5e-5 of each value.
FIGURES = 2e-5


def test_every_formula_recalculated_is_what_was_computed(recalculated):
    """The value kept with each formula is the study's own (test_workbook.py)."""
    anew, formulas, kept = recalculated
    counted = {}
    for sheet in formulas:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type != "f":
                    continue
                value = anew[sheet.title][cell.coordinate].value
                wanted = kept[sheet.title][cell.coordinate].value
                where = (sheet.title, cell.coordinate, cell.value)
                if wanted is None or isinstance(wanted, str):  # a text, which may be empty
                    assert (value or "") == (wanted or ""), where
                else:
                    # what is stored is a small difference of many hours
                    stored = "stored" in str(sheet.cell(2, cell.column).value)
                    nearly = pytest.approx(wanted, rel=FIGURES, abs=5e-3 if stored else 1e-4)
                    assert value == nearly, where
                counted[sheet.title] = counted.get(sheet.title, 0) + 1
    assert set(counted) == {"Comparison", "Monthly", "Prices", "Life cycle"}
    assert counted["Comparison"] > 15 * 5
    assert counted["Monthly"] > 60 * 5


def test_annual_formulas_equal_the_summary(week, recalculated):
    anew = recalculated[0]["Comparison"]
    annual = json.loads(summary_json(week))["options"]
    kinds = {metric.key: metric.kind for metric in METRICS}
    checked = 0
    for row in anew.iter_rows(min_row=5, values_only=True):
        if row[1] not in kinds:
            continue
        for option, value in zip(week.options, row[3:], strict=False):
            expected = annual_shown(annual[option.key]["annual"][row[1]], kinds[row[1]], "I-P")
            if expected is None:
                assert value == "n/a"
            else:
                assert value == pytest.approx(expected, rel=FIGURES, abs=1e-4), row[1]
            checked += 1
    assert checked > 15 * len(week.options)


def test_no_sheet_holds_an_error(recalculated):
    for sheet in recalculated[0]:
        if not sheet.title.startswith("hours "):
            for row in sheet.iter_rows(values_only=True):
                assert not [c for c in row if str(c).startswith(("#", "Err:"))], sheet.title
