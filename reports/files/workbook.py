"""workbook.xlsx: inputs, comparison, months and hours, with the year's sums as live formulas.

A reviewer follows an annual figure by its formula to the hours it is the sum of. Text is written
as text, whatever it begins with; stamps carry no time zone; the same study gives the same bytes.
"""

from __future__ import annotations

import datetime
import io
import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from dewledger.accounts.energy import ELECTRICITY, GAS, reference_source
from dewledger.accounts.humidity_criteria import TOLERANCES
from dewledger.hourly.ledger import BY_NAME, COLUMNS
from dewledger.quantities import Display
from dewledger.reports.files.data_files import HOURLY_HEAD
from dewledger.reports.files.display_units import shown_unit
from dewledger.reports.files.workbook_money import money_sheets
from dewledger.reports.page.inputs import differences, inputs
from dewledger.reports.words.estimates import AUTHORITY, CAUTION, ESTIMATE
from dewledger.reports.words.metrics import METRICS, filled
from dewledger.reports.words.numbers import factor, in_display, unit_of
from dewledger.weather.physics.moist_air import FloatArray

if TYPE_CHECKING:
    from xlsxwriter import Workbook
    from xlsxwriter.format import Format
    from xlsxwriter.worksheet import Worksheet

    from dewledger.accounts.option_year import OptionYear
    from dewledger.study import Study

FIRST_HOUR_ROW = 3  # zero-based: title, names, units above it
_STAMP_YEAR = 2001  # any year of 365 days; the weather year is made of months of many years
_HIDDEN_CLOCK = datetime.datetime(2001, 1, 1)
_EMPTY = "n/a"
SHARED_SHEET = "hours alike"


@dataclass(frozen=True)
class HourlySheet:
    """An hourly sheet: its name, its title, and the columns it holds after the stamp, by name."""

    name: str
    title: str
    columns: tuple[str, ...]


class Hours:
    """Which hourly sheet holds which column: what is the same in every option stands once.

    own : the sheet of each option, by its key
    shared : what all options have alike; None of a single option, whose sheet holds everything
    """

    def __init__(self, study: Study) -> None:
        names = sheet_names(study)
        alike = _alike(study)
        every = (*HOURLY_HEAD, *(column.name for column in COLUMNS))
        self.count = study.options[0].ledger.shape[1]
        title = "What is the same in every option, hour by hour"
        self.shared = HourlySheet(SHARED_SHEET, title, alike) if alike else None
        self.own = {
            option.key: HourlySheet(
                names[option.key],
                f"{option.title}, hour by hour",
                tuple(name for name in every if name not in alike),
            )
            for option in study.options
        }

    def over(self, key: str, column: str) -> str:
        """The hours of a column of an option, as a formula names them."""
        sheet = self.own[key]
        if self.shared is not None and column in self.shared.columns:
            sheet = self.shared
        letter = _column_letter(1 + sheet.columns.index(column))
        first, last = FIRST_HOUR_ROW + 1, FIRST_HOUR_ROW + self.count
        return f"'{sheet.name}'!${letter}${first}:${letter}${last}"


def _alike(study: Study) -> tuple[str, ...]:
    """Columns that hold the same in every option; none where there is only one."""
    first, *others = (_hourly_values(study, option) for option in study.options)
    if not others:
        return ()
    return tuple(
        name
        for name, values in first.items()
        if all(np.array_equal(values, other[name], equal_nan=True) for other in others)
    )


def _hourly_values(study: Study, option: OptionYear) -> dict[str, FloatArray]:
    """Calendar and ledger of an option by column, in SI."""
    arrays = study.weather.arrays
    marks = [arrays[name] for name in HOURLY_HEAD[:3]]
    marks.append(option.machine.calendar.occupied)
    found = {
        name: np.asarray(values, dtype=np.float64)
        for name, values in zip(HOURLY_HEAD, marks, strict=True)
    }
    return found | {c.name: kept for c, kept in zip(COLUMNS, option.ledger, strict=True)}


def sheet_names(study: Study) -> dict[str, str]:
    """The hourly sheet of each option: a name a spreadsheet takes, no two alike."""
    names: dict[str, str] = {}
    taken = {"inputs", "comparison", "monthly", "columns", "prices", "life cycle", "sensitivity"}
    taken.add(SHARED_SHEET)
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
    hours = Hours(study)
    _comparison(book.add_worksheet("Comparison"), study, look, hours)
    _inputs(book.add_worksheet("Inputs"), study, look)
    _monthly(book.add_worksheet("Monthly"), study, look, hours)
    if hours.shared is not None:
        _hourly(book.add_worksheet(hours.shared.name), study, study.options[0], hours.shared, look)
    for option in study.options:
        sheet = hours.own[option.key]
        _hourly(book.add_worksheet(sheet.name), study, option, sheet, look)
    money_sheets(book, study, look)
    _columns(book.add_worksheet("Columns"), study.case.display, look)
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


_SUMS = {column.name for column in COLUMNS if column.total == "sum"}
_COMPOUND = {
    "electricity_kWh": ELECTRICITY,
    "gas_kWh": GAS,
    "site_kWh": (*ELECTRICITY, *GAS),
}
# Where the limits of the range stand on the comparison, for the hours that are counted.
LOW_CELL, HIGH_CELL = "Comparison!$D$3", "Comparison!$F$3"
_COUNTS = {
    "hours_above_range": (">", HIGH_CELL, "+", False),
    "hours_above_range_occupied": (">", HIGH_CELL, "+", True),
    "hours_below_range": ("<", LOW_CELL, "-", False),
    "hours_below_range_occupied": ("<", LOW_CELL, "-", True),
}


def _energy(name: str, display: Display) -> float:
    """What the unit of a purchased column is in the unit of site energy."""
    kind = BY_NAME[name].carrier
    return factor("energy", display) / factor(kind, display)


def _formula(key: str, study: Study, option: str, hours: Hours) -> str | None:
    """An annual figure as a formula over the hourly sheets; None where it is no sum of hours."""
    display = study.case.display

    def over(name: str) -> str:
        return hours.over(option, name)

    if key in _SUMS:
        return f"=SUM({over(key)})"
    if key == "site_kWh":
        parts = [f"SUM({over(name)})*{_energy(name, display)!r}" for name in _COMPOUND[key]]
        return f"={'+'.join(parts)}"
    if key in _COMPOUND:
        return f"=SUM({','.join(over(name) for name in _COMPOUND[key])})"
    if key == "recovered_share":
        recovered, purchased = over("reheat_recovered_kWh"), over("reheat_purchased_kWh")
        total = f"SUM({recovered},{purchased})"
        return f'=IF({total}>0,SUM({recovered})/{total},"{_EMPTY}")'
    if key in _COUNTS:
        sign, cell, away, occupied = _COUNTS[key]
        tolerance = TOLERANCES["relative humidity"]
        test = f'{over("room_rh_frac")},"{sign}"&({cell}{away}{tolerance!r})'
        if occupied:
            test += f",{over('occupied')},1"
        return f"=COUNTIFS({test})"
    if key in ("avoided_electricity_kWh", "avoided_gas_kWh"):
        return _avoided(key, study, over("reheat_recovered_kWh"))
    return None


def _avoided(key: str, study: Study, recovered: str) -> str | None:
    """Recovered heat over the efficiency of the reference's reheat source, in the unit of what that
    source purchases."""
    source = reference_source(study.reference.machine)
    kind = "electricity" if key == "avoided_electricity_kWh" else "gas"
    if source.carrier != kind:
        return None
    display = study.case.display
    per = factor(kind, display) / factor("heat", display)
    return f"=SUM({recovered})*{per!r}/{source.efficiency!r}"


def _comparison(sheet: Worksheet, study: Study, look: dict[str, Format], hours: Hours) -> None:
    display = study.case.display
    _text(sheet, 0, 0, study.case.title, look["title"])
    _text(sheet, 1, 0, f"{CAUTION} {ESTIMATE} {AUTHORITY}", look["quiet"])
    humidity = study.case.humidity
    _text(sheet, 2, 0, "Humidity range, relative humidity", look["text"])
    _text(sheet, 2, 2, "low", look["quiet"])
    sheet.write_number(2, 3, float(humidity.range_low), look["share"])
    _text(sheet, 2, 4, "high", look["quiet"])
    sheet.write_number(2, 5, float(humidity.range_high), look["share"])
    _text(sheet, 3, 0, "Figure", look["head"])
    _text(sheet, 3, 1, "Key in summary.json", look["head"])
    _text(sheet, 3, 2, "Unit", look["head"])
    for place, option in enumerate(study.options):
        marked = " (reference)" if option.key == study.reference.key else ""
        _text(sheet, 3, 3 + place, f"{option.title}{marked}", look["head"])
    row, group = 4, ""
    for metric in METRICS:
        if metric.group != group:
            group = metric.group
            _text(sheet, row, 0, group, look["group"])
            row += 1
        _text(sheet, row, 0, filled(metric.label, study), look["text"])
        _text(sheet, row, 1, metric.key, look["quiet"])
        unit = "fraction" if metric.kind == "share" else unit_of(metric.kind, display)
        _text(sheet, row, 2, unit, look["quiet"])
        for place, option in enumerate(study.options):
            shape = look[{"hours": "count", "share": "share"}.get(metric.kind, "number")]
            value = annual_shown(option.annual[metric.key], metric.kind, display)
            formula = _formula(metric.key, study, option.key, hours)
            if formula is not None:
                cached = _EMPTY if value is None else value
                sheet.write_formula(row, 3 + place, formula, shape, cached)
            elif value is None:
                _text(sheet, row, 3 + place, _EMPTY, shape)
            else:
                sheet.write_number(row, 3 + place, value, shape)
        row += 1
    row += 1
    station = study.weather.station
    for label, text in (
        (
            "Sums and counts",
            "formulas over the hourly sheets, which hold five figures of each value; columns that "
            f"are the same in every option stand in “{SHARED_SHEET}” alone, and those that are "
            "zero all year hold no cells",
        ),
        ("Weather", station.name),
        ("Weather SHA-256", station.sha256),
        ("Case SHA-256", study.case.digest()),
    ):
        _text(sheet, row, 0, label, look["quiet"])
        _text(sheet, row, 1, text, look["quiet"])
        row += 1
    sheet.set_column(0, 0, 36)
    sheet.set_column(1, 1, 34)
    sheet.set_column(2, 2, 8)
    sheet.set_column(3, 2 + len(study.options), 18)
    sheet.freeze_panes(4, 3)
    _paper(sheet)


def annual_shown(value: Any, kind: str, display: Display) -> float | None:
    """An annual figure in the unit the workbook shows it in; shares as fractions."""
    if value is None:
        return None
    return float(value) if kind == "share" else in_display(float(value), kind, display)


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


def _monthly(sheet: Worksheet, study: Study, look: dict[str, Format], hours: Hours) -> None:
    """Months as values; sums of the ledger as formulas over the hourly sheet's month column."""
    columns = list(study.options[0].monthly.columns)
    _text(sheet, 0, 0, "Months", look["title"])
    sheet.set_row(1, 48)
    heads = ["option", *columns]
    for place, name in enumerate(heads):
        _text(sheet, 1, place, BY_NAME[name].label if name in _SUMS else name, look["head"])
    for place, name in enumerate(heads):
        _text(sheet, 2, place, _unit_of(name, study.case.display), look["unit"])
    row = 3
    for option in study.options:
        months = hours.over(option.key, "month")
        for values in option.monthly.itertuples(index=False, name=None):
            _text(sheet, row, 0, option.key, look["text"])
            for place, (name, value) in enumerate(zip(columns, values, strict=True), start=1):
                if name in _SUMS:
                    summed = hours.over(option.key, name)
                    _, per, _ = shown_unit(BY_NAME[name], study.case.display)
                    sheet.write_formula(
                        row,
                        place,
                        f"=SUMIF({months},$B{row + 1},{summed})",
                        look["number"],
                        float(value) * per,
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


def _unit_of(name: str, display: Display) -> str:
    if name in _SUMS:
        return shown_unit(BY_NAME[name], display)[0]
    stem = name.removeprefix("mean_")
    if stem in BY_NAME:
        return BY_NAME[stem].unit
    return "kWh" if name.endswith("_kWh") else ("h" if name == "hours" else "")


def _hourly(
    sheet: Worksheet, study: Study, option: OptionYear, held: HourlySheet, look: dict[str, Format]
) -> None:
    """A row for each hour, with the columns that the sheet holds."""
    calendar = dict(zip(HOURLY_HEAD, ("1-12", "1-31", "0-23", "0/1"), strict=True))
    heads, units, columns = ["hour beginning"], ["standard time"], []
    for name, values in _hourly_values(study, option).items():
        if name not in held.columns:
            continue
        if name in calendar:
            heads.append(name)
            units.append(calendar[name])
            columns.append(values)
            continue
        column = BY_NAME[name]
        unit, per, offset = shown_unit(column, study.case.display)
        empty = not np.any(values != 0.0)  # NaN is not zero
        heads.append(f"{column.label} (zero all year)" if empty else column.label)
        units.append(unit)
        # relative humidity is counted against the range, so that it keeps all that the count sees
        figures = 8.0 if name == "room_rh_frac" or _repeats(values) else 5.0
        figures = 2.0 if "_closure_" in name else figures  # residuals: how large, no more
        shown = _few_figures(values * per + offset, figures)
        columns.append(np.full(shown.shape, np.nan) if empty else shown)  # cells that only say zero
    _text(sheet, 0, 0, held.title, look["title"])
    sheet.set_row(1, 48)
    for row, (cells, shape) in enumerate(((heads, "head"), (units, "unit")), start=1):
        for place, cell in enumerate(cells):
            _text(sheet, row, place, cell, look[shape])
    start = datetime.datetime(_STAMP_YEAR, 1, 1)
    table = np.array(columns).T.tolist()
    stamp = look["stamp"]
    write_number = sheet.write_number
    day = datetime.timedelta(hours=1)
    for hour, values_of_hour in enumerate(table):
        row = FIRST_HOUR_ROW + hour
        sheet.write_datetime(row, 0, start + hour * day, stamp)
        for place, value in enumerate(values_of_hour, start=1):
            if not math.isnan(value):
                write_number(row, place, value)
    marks = sum(name in calendar for name in held.columns)
    sheet.set_column(0, 0, 14)
    sheet.set_column(1, len(heads) - 1, 12)
    if marks:
        sheet.set_column(1, marks, 7)
    sheet.freeze_panes(FIRST_HOUR_ROW, 1)
    sheet.autofilter(2, 0, FIRST_HOUR_ROW + len(table) - 1, len(heads) - 1)


def _repeats(hourly: FloatArray) -> bool:
    """Whether a column has few values, again and again: their rounding would add up in its sum, and
    they take little room whatever their figures."""
    return len(np.unique(hourly)) < len(hourly) / 10


def _few_figures(values: FloatArray, figures: float) -> FloatArray:
    """Values to some significant figures, a file a third the size; sums hold to some millionths."""
    with np.errstate(divide="ignore", invalid="ignore"):
        places = figures - 1.0 - np.floor(np.log10(np.abs(values)))
        scale = 10.0 ** np.where(np.isfinite(places), places, 0.0)
        rounded = np.round(values * scale) / scale
    return np.where(np.abs(values) < 1e-9, np.where(np.isnan(values), np.nan, 0.0), rounded)


def _columns(sheet: Worksheet, display: Display, look: dict[str, Format]) -> None:
    _text(sheet, 0, 0, "Columns of the hourly sheets", look["title"])
    for place, head in enumerate(("Column", "Unit", "Key in the ledger", "Meaning")):
        _text(sheet, 2, place, head, look["head"])
    for row, column in enumerate(COLUMNS, start=3):
        cells = (column.label, shown_unit(column, display)[0], column.name, column.definition)
        for place, cell in enumerate(cells):
            _text(sheet, row, place, cell, look["wrap"])
    for place, width in enumerate((36, 10, 34, 100)):
        sheet.set_column(place, place, width)
    sheet.freeze_panes(3, 0)
