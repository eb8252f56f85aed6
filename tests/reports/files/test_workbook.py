"""The workbook: formulas over the hours, values cached, text that stays text."""

import dataclasses
import io
import re
import zipfile
from datetime import datetime

import numpy as np
import openpyxl
import pytest

from dewledger.hourly.ledger import BY_NAME, COLUMNS
from dewledger.reports.files.data_files import HOURLY_HEAD
from dewledger.reports.files.display_units import shown_unit
from dewledger.reports.files.workbook import (
    FIRST_HOUR_ROW,
    SHARED_SHEET,
    Hours,
    annual_shown,
    sheet_names,
    workbook,
)
from dewledger.reports.words.metrics import METRICS
from dewledger.reports.words.numbers import unit_of


@pytest.fixture(scope="module")
def two(week):
    return dataclasses.replace(week, options=week.options[:2])


@pytest.fixture(scope="module")
def content(two):
    return workbook(two)


@pytest.fixture(scope="module")
def values(content):
    return openpyxl.load_workbook(io.BytesIO(content), data_only=True)


@pytest.fixture(scope="module")
def formulas(content):
    return openpyxl.load_workbook(io.BytesIO(content))


def test_sheets_heads_units_frozen_and_filtered(two, values):
    names = sheet_names(two)
    hours = len(two.weather.frame)
    assert values.sheetnames == [
        "Comparison", "Inputs", "Monthly", SHARED_SHEET, *names.values(), "Prices", "Life cycle",
        "Columns",
    ]  # fmt: skip
    layout = Hours(two)
    labels = {column.name: column.label for column in COLUMNS}
    for option in two.options:
        by_name = {}
        for held in (layout.shared, layout.own[option.key]):
            sheet = values[held.name]
            assert sheet.freeze_panes == "B4"
            assert sheet.auto_filter.ref.endswith(str(FIRST_HOUR_ROW + hours))
            heads = [cell.value for cell in sheet[2]][1:]
            units = [cell.value for cell in sheet[3]][1:]
            for head, name in zip(heads, held.columns, strict=True):
                label = labels.get(name, name)
                assert head in (label, f"{label} (zero all year)")
            by_name |= dict(zip(held.columns, units, strict=True))
        assert set(by_name) == {*HOURLY_HEAD, *labels}  # each column once, on one of the two
        # the case is in I-P units, each quantity in one of them
        assert by_name["room_temp_C"] == "°F"
        assert by_name["condensate_kg"] == "lb"
        assert by_name["room_hum_ratio_kg_kg"] == "gr/lb"
        assert by_name["compressor_kWh"] == "kWh"
        assert by_name["heating_purchased_gas_kWh"] == "therm"
        assert by_name["reheat_recovered_kWh"] == "MMBtu"
        assert not {"C", "kg", "kg/kg", "kg/s"} & set(by_name.values())


def test_only_what_every_option_has_alike_is_shared(two):
    shared = Hours(two).shared.columns
    assert {"month", "day", "hour", "outdoor_temp_C"} <= set(shared)
    names = [column.name for column in COLUMNS]
    first, second = two.options
    for name in names:
        place = names.index(name)
        same = np.array_equal(first.ledger[place], second.ledger[place], equal_nan=True)
        assert (name in shared) == same, name
    assert Hours(dataclasses.replace(two, options=(first,))).shared is None


def _rows(sheet):
    return {sheet.cell(row, 2).value: row for row in range(1, sheet.max_row + 1)}


def test_cached_values_are_the_accounts(two, values):
    sheet = values["Comparison"]
    rows = _rows(sheet)
    for metric in METRICS:
        for place, option in enumerate(two.options):
            value = option.annual[metric.key]
            shown = sheet.cell(rows[metric.key], 4 + place).value
            if value is None:
                assert shown == "n/a"
            else:
                wanted = annual_shown(value, metric.kind, two.case.display)
                assert shown == pytest.approx(wanted, rel=1e-12, abs=1e-12)


def test_formulas_sum_the_hours_they_name(two, formulas, values):
    """Each sum formula evaluated here on the cells it names gives the account."""
    sheet = formulas["Comparison"]
    rows = _rows(sheet)
    for place, option in enumerate(two.options):
        found = 0
        for metric in METRICS:
            formula = sheet.cell(rows[metric.key], 4 + place).value
            if not (isinstance(formula, str) and formula.startswith("=SUM(")):
                continue
            total = 0.0
            for name, column, first, _, last in re.findall(
                r"'([^']+)'!\$([A-Z]+)\$(\d+):\$([A-Z]+)\$(\d+)", formula
            ):
                cells = values[name][f"{column}{first}:{column}{last}"]
                assert len(cells) == len(two.weather.frame)
                total += sum(cell.value or 0.0 for (cell,) in cells)
            if "*" in formula:  # site energy and avoided energy change their unit
                continue
            wanted = annual_shown(option.annual[metric.key], metric.kind, two.case.display)
            assert total == pytest.approx(wanted, rel=1e-5, abs=1e-6)
            found += 1
        assert found >= 15


def test_a_year_is_summed_to_its_last_hour(study):
    one = dataclasses.replace(study, options=(study.reference,))
    with zipfile.ZipFile(io.BytesIO(workbook(one))) as book:
        comparison, _, months, hours = (
            book.read(f"xl/worksheets/sheet{place}.xml").decode() for place in range(1, 5)
        )
    rows = [int(row) for row in re.findall(r'<row r="(\d+)"', hours)]
    assert rows[-1] == FIRST_HOUR_ROW + 8760
    sums = re.findall(r"<f>SUM\([^<]*?\$(\d+):\$[A-Z]+\$(\d+)\)", comparison)
    assert len(sums) >= 15
    assert {(int(first), int(last)) for first, last in sums} == {(FIRST_HOUR_ROW + 1, rows[-1])}
    ends = {int(last) for last in re.findall(r"\$[A-Z]+\$\d+:\$[A-Z]+\$(\d+)", months)}
    assert ends == {rows[-1]}
    # days since 1900 of the first and the last hour, as spreadsheets count them: no time zone
    stamps = [float(day) for day in re.findall(r'<c r="A\d+" s="\d+"><v>([\d.]+)</v>', hours)]
    assert stamps[0] == (datetime(2001, 1, 1) - datetime(1899, 12, 30)).days
    assert stamps[-1] == pytest.approx(stamps[0] + 364.0 + 23.0 / 24.0, abs=1e-6)


def test_hours_that_do_not_exist_are_empty(two, values):
    layout = Hours(two)
    option = two.options[0]
    for kept, column in zip(option.ledger, COLUMNS, strict=True):
        missing = np.flatnonzero(np.isnan(kept))
        if missing.size:
            sheet, letter, first = re.match(
                r"'([^']+)'!\$([A-Z]+)\$(\d+)", layout.over(option.key, column.name)
            ).groups()
            cell = values[sheet][f"{letter}{int(first) + int(missing[0])}"]
            assert cell.value is None, column.name


def test_the_same_study_gives_the_same_bytes(two):
    assert workbook(two) == workbook(two)


def test_titles_stay_text(two):
    first = two.options[0]
    option = dataclasses.replace(
        first, option=dataclasses.replace(first.option, title="=1+1"), annual=dict(first.annual)
    )
    case = two.case.model_copy(update={"title": "{=cmd|' /C calc'!A0}"})
    changed = dataclasses.replace(two, case=case, options=(option, two.options[1]))
    book = openpyxl.load_workbook(io.BytesIO(workbook(changed)))
    sheet = book["Comparison"]
    assert sheet["A1"].value == "{=cmd|' /C calc'!A0}"
    assert sheet["A1"].data_type == "s"
    assert sheet["D4"].value.startswith("=1+1")
    assert sheet["D4"].data_type == "s"


def test_sheet_names_are_legal_and_differ(two):
    long = "[a]:very/long*key?" * 4
    options = tuple(
        dataclasses.replace(o, option=dataclasses.replace(o.option, key=f"{long}{i}"))
        for i, o in enumerate(two.options)
    )
    names = list(sheet_names(dataclasses.replace(two, options=options)).values())
    assert len(set(names)) == 2
    assert all(len(name) <= 31 and not re.search(r"[\[\]:*?/\\']", name) for name in names)


def test_hours_are_counted_by_formula(two, formulas, values):
    """The formula's test done here on the cells it names gives the account's count."""
    sheet, rows = formulas["Comparison"], _rows(formulas["Comparison"])
    names, layout = sheet_names(two), Hours(two)
    low, high = sheet["D3"].value, sheet["F3"].value
    for place, option in enumerate(two.options):
        hourly = values[names[option.key]]
        rh = 2 + layout.own[option.key].columns.index("room_rh_frac")
        cells = [row[0] for row in hourly.iter_rows(min_row=FIRST_HOUR_ROW + 1, min_col=rh,
                                                    max_col=rh, values_only=True)]  # fmt: skip
        for key, count in (
            ("hours_above_range", sum(cell > high + 5e-7 for cell in cells)),
            ("hours_below_range", sum(cell < low - 5e-7 for cell in cells)),
        ):
            assert sheet.cell(rows[key], 4 + place).value.startswith("=COUNTIFS(")
            assert count == option.annual[key]


def test_bills_follow_from_the_price_cells(study):
    """Quantity times price added up here is the bill; the year's account is not asked."""
    one = dataclasses.replace(study, options=(study.reference,))
    content = workbook(one)
    assert len(content) < 2_000_000  # five options stay under 10 MB
    book = openpyxl.load_workbook(io.BytesIO(content), data_only=True, read_only=True)
    total = sum(
        row[2] * row[4]
        for row in book["Prices"].iter_rows(min_row=5, values_only=True)
        if len(row) > 4 and isinstance(row[2], int | float)
    )
    assert total == pytest.approx(study.money.bills[study.reference.key].total, rel=1e-9)
    # 15 years at 3 %: uniform present value factor 11.938 (NIST Handbook 135)
    assert book["Life cycle"]["B9"].value == pytest.approx(11.938, abs=5e-4)


@pytest.mark.parametrize("display", ["I-P", "SI"])
def test_an_hour_is_in_the_unit_of_its_year(display):
    """A sum over the hourly sheet has the unit that the comparison names."""
    for metric in METRICS:
        column = BY_NAME.get(metric.key)
        if column is not None and column.unit == "kWh" and column.total == "sum":
            assert shown_unit(column, display)[0] == unit_of(metric.kind, display), metric.key
