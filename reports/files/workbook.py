"""workbook.xlsx: inputs, comparison, months and hours, with the year's sums as live formulas.

A reviewer follows an annual figure by its formula to the hours it is the sum of. Text is written
as text, whatever it begins with; stamps carry no time zone; the same study gives the same bytes.
"""

from __future__ import annotations

import datetime
import io
import math
import re
from typing import TYPE_CHECKING, Any

import numpy as np

from dewledger.accounts.energy import ELECTRICITY, GAS
from dewledger.hourly.ledger import COLUMNS
from dewledger.reports.files.data_files import HOURLY_HEAD
from dewledger.reports.page.inputs import differences, inputs
from dewledger.reports.words.metrics import METRICS, filled

if TYPE_CHECKING:
    from xlsxwriter import Workbook
    from xlsxwriter.format import Format
    from xlsxwriter.worksheet import Worksheet

    from dewledger.study import OptionYear, Study

FIRST_HOUR_ROW = 3  # zero-based: title, names, units above it
_STAMP_YEAR = 2001  # any year of 365 days; the weather year is made of months of many years
_HIDDEN_CLOCK = datetime.datetime(2001, 1, 1)
_EMPTY = "n/a"


def sheet_names(study: Study) -> dict[str, str]:
    """The hourly sheet of each option: a name a spreadsheet takes, no two alike."""
    names: dict[str, str] = {}
    taken = {"inputs", "comparison", "monthly", "columns"}
    for option in study.options:
        base = re.sub(r"[\[\]:*?/\\']", " ", option.key).strip()[:24] or "option"
        name, count = f"hours {base}", 1
        while name.lower() in taken:
            count += 1
            name = f"hours {base[:20]} {count}"
        taken.add(name.lower())
        names[option.key] = name
    return names


def workbook(study: Study) -> bytes:
    """The workbook of a study as the bytes of an .xlsx file."""
    import xlsxwriter

    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(
        buffer,
        {
            "constant_memory": True,  # rows leave memory as they are written, in order
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
        },
    )
    # the file's own stamp, fixed so that the bytes repeat
    book.set_properties({"title": study.case.title, "created": _HIDDEN_CLOCK})
    look = _look(book)
    names = sheet_names(study)
    _comparison(book.add_worksheet("Comparison"), study, look, names)
    _inputs(book.add_worksheet("Inputs"), study, look)
    _monthly(book.add_worksheet("Monthly"), study, look, names)
    for option in study.options:
        _hourly(book.add_worksheet(names[option.key]), study, option, look)
    _columns(book.add_worksheet("Columns"), look)
    book.close()
    return buffer.getvalue()


def _look(book: Workbook) -> dict[str, Format]:
    base = {"font_name": "Arial", "font_size": 9}
    more: dict[str, dict[str, Any]] = {
        "text": {},
        "wrap": {"text_wrap": True, "valign": "top"},
        "title": {"bold": True, "font_size": 13},
        "head": {"bold": True, "bottom": 1, "text_wrap": True, "valign": "bottom"},
        "unit": {"font_color": "#55626B", "bottom": 1},
        "group": {"bold": True, "bottom": 1},
        "quiet": {"font_color": "#55626B"},
        "number": {"num_format": "#,##0.0"},
        "count": {"num_format": "#,##0"},
        "share": {"num_format": "0.0 %"},
        "fine": {"num_format": "0.000000"},
        "stamp": {"num_format": "mmm dd hh:mm"},
    }
    return {name: book.add_format({**base, **extra}) for name, extra in more.items()}


def _text(sheet: Worksheet, row: int, column: int, text: object, look: Format) -> None:
    """Text as text: never taken for a formula, an array formula, a number or a link."""
    sheet.write_string(row, column, str(text), look)


def _column_letter(place: int) -> str:
    from xlsxwriter.utility import xl_col_to_name

    return str(xl_col_to_name(place))


def _hours_range(sheet_name: str, place: int, hours: int) -> str:
    letter = _column_letter(place)
    first, last = FIRST_HOUR_ROW + 1, FIRST_HOUR_ROW + hours
    return f"'{sheet_name}'!${letter}${first}:${letter}${last}"


def _place(name: str) -> int:
    """Column of a ledger column on an hourly sheet: after the stamp and the calendar."""
    return 1 + len(HOURLY_HEAD) + [column.name for column in COLUMNS].index(name)


_SUMS = {column.name for column in COLUMNS if column.total == "sum"}
_COMPOUND = {"electricity_kWh": ELECTRICITY, "gas_kWh": GAS}


def _formula(key: str, sheet_name: str, hours: int) -> str | None:
    """The annual figure as a formula over the hourly sheet; None where it is no sum of hours."""
    if key in _SUMS:
        return f"=SUM({_hours_range(sheet_name, _place(key), hours)})"
    if key in _COMPOUND:
        parts = [_hours_range(sheet_name, _place(name), hours) for name in _COMPOUND[key]]
        return f"=SUM({','.join(parts)})"
    if key == "recovered_share":
        recovered = _hours_range(sheet_name, _place("reheat_recovered_kWh"), hours)
        purchased = _hours_range(sheet_name, _place("reheat_purchased_kWh"), hours)
        total = f"SUM({recovered},{purchased})"
        return f'=IF({total}>0,SUM({recovered})/{total},"{_EMPTY}")'
    return None


def _comparison(
    sheet: Worksheet, study: Study, look: dict[str, Format], names: dict[str, str]
) -> None:
    _text(sheet, 0, 0, study.case.title, look["title"])
    _text(
        sheet, 1, 0, "Sums are formulas over the hourly sheets; SI units throughout.", look["quiet"]
    )
    _text(sheet, 3, 0, "Figure", look["head"])
    _text(sheet, 3, 1, "Key in summary.json", look["head"])
    _text(sheet, 3, 2, "Unit", look["head"])
    for place, option in enumerate(study.options):
        marked = " (reference)" if option.key == study.reference.key else ""
        _text(sheet, 3, 3 + place, f"{option.title}{marked}", look["head"])
    units = {"hours": "h", "share": "fraction", "water": "kg"}
    row, group = 4, ""
    for metric in METRICS:
        if metric.group != group:
            group = metric.group
            _text(sheet, row, 0, group, look["group"])
            row += 1
        _text(sheet, row, 0, filled(metric.label, study), look["text"])
        _text(sheet, row, 1, metric.key, look["quiet"])
        _text(sheet, row, 2, units.get(metric.kind, "kWh"), look["quiet"])
        for place, option in enumerate(study.options):
            shape = look[{"hours": "count", "share": "share"}.get(metric.kind, "number")]
            value = option.annual[metric.key]
            formula = _formula(metric.key, names[option.key], option.ledger.shape[1])
            if formula is not None:
                cached = _EMPTY if value is None else float(value)
                sheet.write_formula(row, 3 + place, formula, shape, cached)
            elif value is None:
                _text(sheet, row, 3 + place, _EMPTY, shape)
            else:
                sheet.write_number(row, 3 + place, float(value), shape)
        row += 1
    row += 1
    station = study.weather.station
    for label, value in (
        ("Weather", station.title),
        ("Weather SHA-256", station.sha256),
        ("Case SHA-256", study.case.digest()),
    ):
        _text(sheet, row, 0, label, look["quiet"])
        _text(sheet, row, 1, value, look["quiet"])
        row += 1
    sheet.set_column(0, 0, 32)
    sheet.set_column(1, 1, 34)
    sheet.set_column(2, 2, 8)
    sheet.set_column(3, 2 + len(study.options), 18)
    sheet.freeze_panes(4, 3)
    _paper(sheet)


def _paper(sheet: Worksheet) -> None:
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)


def _inputs(sheet: Worksheet, study: Study, look: dict[str, Format]) -> None:
    heads = (
        "Option",
        "Table",
        "Input",
        "As written",
        "In the case's units",
        "Origin",
        "What it is",
    )
    _text(sheet, 0, 0, "Inputs", look["title"])
    for column, head in enumerate(heads):
        _text(sheet, 2, column, head, look["head"])
    row = 3
    listed = [("every option", inputs(study.case, study.case.display))]
    listed += list(differences(study, study.case.display).items())
    for option, items in listed:
        for item in items:
            cells = (
                option,
                item.table,
                item.name,
                item.value,
                item.shown,
                item.origin,
                item.meaning,
            )
            for column, cell in enumerate(cells):
                _text(sheet, row, column, cell, look["wrap"])
            row += 1
    for column, width in enumerate((18, 22, 30, 32, 20, 10, 70)):
        sheet.set_column(column, column, width)
    sheet.freeze_panes(3, 0)
    sheet.autofilter(2, 0, max(row - 1, 3), len(heads) - 1)
    _paper(sheet)


def _monthly(
    sheet: Worksheet, study: Study, look: dict[str, Format], names: dict[str, str]
) -> None:
    """Months as values; sums of the ledger as formulas over the hourly sheet's month column."""
    columns = list(study.options[0].monthly.columns)
    _text(sheet, 0, 0, "Months", look["title"])
    sheet.set_row(1, 48)
    heads = ["option", *columns]
    for place, name in enumerate(heads):
        _text(sheet, 1, place, name, look["head"])
    for place, name in enumerate(heads):
        _text(sheet, 2, place, _unit_of(name), look["unit"])
    row = 3
    for option in study.options:
        hours = option.ledger.shape[1]
        months = _hours_range(names[option.key], 1, hours)
        for values in option.monthly.itertuples(index=False, name=None):
            _text(sheet, row, 0, option.key, look["text"])
            for place, (name, value) in enumerate(zip(columns, values, strict=True), start=1):
                if name in _SUMS:
                    summed = _hours_range(names[option.key], _place(name), hours)
                    sheet.write_formula(
                        row,
                        place,
                        f"=SUMIF({months},$B{row + 1},{summed})",
                        look["number"],
                        float(value),
                    )
                elif name in ("month", "hours"):
                    sheet.write_number(row, place, int(value), look["count"])
                else:
                    small = abs(float(value)) < 1.0
                    shape = look["fine" if small else "number"]
                    sheet.write_number(row, place, float(value), shape)
            row += 1
    sheet.set_column(0, len(columns), 13)
    sheet.freeze_panes(3, 2)
    sheet.autofilter(2, 0, row - 1, len(columns))
    _paper(sheet)


def _unit_of(name: str) -> str:
    units = {column.name: column.unit for column in COLUMNS}
    for stem in (name, name.removeprefix("mean_")):
        if stem in units:
            return units[stem]
    return "kWh" if name.endswith("_kWh") else ("h" if name == "hours" else "")


def _hourly(sheet: Worksheet, study: Study, option: OptionYear, look: dict[str, Format]) -> None:
    frame = study.weather.frame
    heads = ["hour beginning", *HOURLY_HEAD, *(column.name for column in COLUMNS)]
    units = ["standard time", "1-12", "1-31", "0-23", "0/1", *(c.unit for c in COLUMNS)]
    _text(sheet, 0, 0, f"{option.title}, hour by hour", look["title"])
    sheet.set_row(1, 48)
    for row, (cells, shape) in enumerate(((heads, "head"), (units, "unit")), start=1):
        for place, cell in enumerate(cells):
            _text(sheet, row, place, cell, look[shape])
    start = datetime.datetime(_STAMP_YEAR, 1, 1)
    hours = option.ledger.shape[1]
    marks = [frame[name].to_numpy() for name in HOURLY_HEAD[:3]]
    marks.append(np.asarray(option.machine.calendar.occupied, dtype=np.int64))
    table = np.vstack([*marks, option.ledger]).T.tolist()
    stamp = look["stamp"]
    write_number = sheet.write_number
    day = datetime.timedelta(hours=1)
    for hour in range(hours):
        row = FIRST_HOUR_ROW + hour
        sheet.write_datetime(row, 0, start + hour * day, stamp)
        for place, value in enumerate(table[hour], start=1):
            if not math.isnan(value):
                write_number(row, place, value)
    sheet.set_column(0, 0, 14)
    sheet.set_column(1, len(HOURLY_HEAD), 7)
    sheet.set_column(1 + len(HOURLY_HEAD), len(heads) - 1, 12)
    sheet.freeze_panes(FIRST_HOUR_ROW, 1)
    sheet.autofilter(2, 0, FIRST_HOUR_ROW + hours - 1, len(heads) - 1)


def _columns(sheet: Worksheet, look: dict[str, Format]) -> None:
    _text(sheet, 0, 0, "Columns of the hourly sheets", look["title"])
    for place, head in enumerate(("Column", "Unit", "Meaning")):
        _text(sheet, 2, place, head, look["head"])
    for row, column in enumerate(COLUMNS, start=3):
        _text(sheet, row, 0, column.name, look["wrap"])
        _text(sheet, row, 1, column.unit, look["wrap"])
        _text(sheet, row, 2, column.definition, look["wrap"])
    sheet.set_column(0, 0, 36)
    sheet.set_column(1, 1, 8)
    sheet.set_column(2, 2, 100)
    sheet.freeze_panes(3, 0)
