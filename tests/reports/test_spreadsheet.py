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
from dewledger.reports.files.workbook import workbook

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
    path = place / "out" / "book.xlsx"
    return (
        openpyxl.load_workbook(path, data_only=True, read_only=True),
        openpyxl.load_workbook(made, read_only=True),
    )


def test_annual_formulas_equal_the_summary(week, recalculated):
    values, formulas = recalculated
    annual = json.loads(summary_json(week))["options"]
    checked = 0
    for row, written in zip(
        values["Comparison"].iter_rows(min_row=5),
        formulas["Comparison"].iter_rows(min_row=5),
        strict=False,
    ):
        for place, option in enumerate(week.options):
            formula = written[3 + place].value if len(written) > 3 + place else None
            if not str(formula).startswith("="):
                continue
            value, expected = row[3 + place].value, annual[option.key]["annual"][row[1].value]
            if expected is None:
                assert value == "n/a"
            else:
                # summary.json keeps four decimals
                assert value == pytest.approx(expected, rel=1e-9, abs=6e-5), row[1].value
            checked += 1
    assert checked > 15 * len(week.options)


def test_monthly_formulas_equal_the_accounts(week, recalculated):
    values, formulas = recalculated
    shown = list(values["Monthly"].iter_rows(min_row=4, values_only=True))
    written = list(formulas["Monthly"].iter_rows(min_row=4, values_only=True))
    columns = list(week.options[0].monthly.columns)
    rows = [row for o in week.options for row in o.monthly.itertuples(index=False, name=None)]
    assert len(shown) >= len(rows)
    checked = 0
    for place, expected in enumerate(rows):
        for column, value in enumerate(expected, start=1):
            if str(written[place][column]).startswith("="):
                assert shown[place][column] == pytest.approx(value, rel=1e-9, abs=1e-6), columns[
                    column - 1
                ]
                checked += 1
    assert checked > 60 * len(week.options)


def test_no_sheet_holds_an_error(recalculated):
    values, _ = recalculated
    for name in ("Comparison", "Monthly", "Inputs", "Columns"):
        for row in values[name].iter_rows(values_only=True):
            assert not [cell for cell in row if str(cell).startswith(("#", "Err:"))], name
