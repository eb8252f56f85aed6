"""The tables of figures in the report: comparison, causes, peaks, inputs, weather, closure."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dewledger.hourly.ledger import COLUMNS
from dewledger.quantities import Display, show
from dewledger.reports.charts.parts import MONTHS
from dewledger.reports.page.inputs import Input, differences, with_origins
from dewledger.reports.page.parts import Cell, Head, Row, Table
from dewledger.reports.words.metrics import (
    BY_KEY,
    SITE_HEAD,
    change_text,
    filled,
    short_head,
    short_keys,
    shown_metrics,
)
from dewledger.reports.words.money import amount
from dewledger.reports.words.numbers import NONE, figure, position, unit_of

if TYPE_CHECKING:
    from dewledger.study import Study


def _cell(study: Study, key: str, option: Any, display: Display) -> Cell:
    metric = BY_KEY[key]
    return Cell(figure(option.annual[key], metric.kind, display), True, (option.key, key))


def short_table(study: Study, display: Display) -> Table:
    """The comparison of page one: a row per option, few columns."""
    keys = short_keys(study)
    heads = [
        Head(_head(short_head(key, study)), unit_of(BY_KEY[key].kind, display)) for key in keys
    ]
    rows = [
        Row(
            option.title,
            (
                *(_cell(study, key, option, display) for key in keys),
                Cell(change_text(option, study.reference), True),
                Cell(amount(option.annual["energy_cost"] + option.annual["upkeep_cost"]), True),
            ),
            marked=option.key == study.reference.key,
        )
        for option in study.options
    ]
    return Table(
        "The options over one year",
        (
            Head("Option", number=False),
            *heads,
            Head(_head("\n".join(SITE_HEAD))),
            Head("Annual cost", study.money.currency),
        ),
        tuple(rows),
        note="Overcooling heat (the reheat load) = recovered + purchased + unmet. Site energy: "
        "electricity + gas as they cross the meter.",
    )


def _head(text: str) -> str:
    """A head of the terminal's two lines as one for the page."""
    joined = text.replace("\n", " ")
    return f"{joined[:1].upper()}{joined[1:]}"


def whole_table(study: Study, display: Display) -> Table:
    """Every compared figure: a row per figure, a column per option."""
    rows = []
    group = ""
    for metric in shown_metrics(study):
        rows.append(
            Row(
                filled(metric.label, study),
                tuple(_cell(study, metric.key, option, display) for option in study.options),
                unit=unit_of(metric.kind, display),
                part=metric.part,
                group=metric.group if metric.group != group else "",
            )
        )
        group = metric.group
    return Table(
        "All figures of the year, by option",
        (Head("", number=False), Head("Unit", number=False), *_option_heads(study)),
        tuple(rows),
        note="Three significant figures; hours are counts. summary.json has the unrounded values.",
        units_in_rows=True,
        long=True,
    )


def _option_heads(study: Study) -> list[Head]:
    return [
        Head(o.title, "reference" if o.key == study.reference.key else "") for o in study.options
    ]


def causes_table(study: Study) -> Table:
    """Hours above the range by cause, a column per option."""
    from dewledger.accounts.energy import CAUSES

    names = [
        name
        for name in CAUSES
        if any(option.annual["hours_above_by_cause"].get(name) for option in study.options)
    ]
    rows = [
        Row(
            f"{name[:1].upper()}{name[1:]}: {CAUSES[name]}",
            tuple(
                Cell(
                    f"{option.annual['hours_above_by_cause'][name]:,}",
                    True,
                    (option.key, f"hours_above_by_cause.{name}"),
                )
                for option in study.options
            ),
        )
        for name in names
    ]
    return Table(
        f"Hours {filled('> {high} % RH', study)}, by cause",
        (Head("Cause", number=False), *_option_heads(study)),
        tuple(rows),
        note="Each hour above the range has exactly one cause.",
    )


_PEAKS = (
    ("peak_overcooling", "Overcooling heat"),
    ("peak_recovered", "Recovered reheat"),
    ("peak_new_energy", "Purchased reheat"),
    ("peak_cooling", "Cooling"),
)


def peaks_table(study: Study, display: Display) -> Table:
    """The highest hour of each heat, with when it was."""
    rows = []
    for key, label in _PEAKS:
        if any(option.annual[f"{key}_kW"] > 0.0 for option in study.options):
            heats, hours = [], []
            for option in study.options:
                text = figure(option.annual[f"{key}_kW"], "heat rate", display)
                hour = option.annual[f"{key}_hour"] if text != "0" else None
                heats.append(Cell(text, True, (option.key, f"{key}_kW")))
                hours.append(Cell(hour or NONE, True))
            rows.append(Row(label, tuple(heats), unit=unit_of("heat rate", display)))
            rows.append(Row("hour beginning", tuple(hours), unit="standard time", part=True))
    return Table(
        "Highest hour of the year",
        (Head("", number=False), Head("Unit", number=False), *_option_heads(study)),
        tuple(rows),
        note="Means of the hour that begins at the time shown.",
        units_in_rows=True,
    )


def _input_row(name: str, item: Input, group: str) -> Row:
    value = f"{item.value} ({item.shown})" if item.shown else item.value
    cells = (Cell(value), Cell(item.origin), Cell(item.meaning))
    return Row(name, cells, group=group, marked=item.origin == "given")


_INPUT_HEADS = (
    Head("Input", number=False),
    Head("Value", number=False),
    Head("Origin", number=False),
    Head("What it is", number=False),
)


def input_table(study: Study, display: Display) -> Table:
    """Every input of the case with its origin."""
    rows = []
    table = ""
    for item in with_origins(study.case, display):
        rows.append(_input_row(item.name, item, f"[{item.table}]" if item.table != table else ""))
        table = item.table
    return Table(
        "Inputs of the case",
        _INPUT_HEADS,
        tuple(rows),
        note="“given”: written in the case file; “starter”: as the kind of case that the file was "
        "started from has it; “assumed”: this program’s own value. Keys that have no part in this "
        "case are left out.",
        long=True,
        kind="inputs",
    )


def difference_table(study: Study, display: Display) -> Table | None:
    """What each option changes in the case; None where none changes anything."""
    rows = []
    changed = differences(study, display)
    for option in study.options:
        for place, item in enumerate(changed[option.key]):
            rows.append(_input_row(item.path, item, option.title if place == 0 else ""))
    if not rows:
        return None
    return Table("What each option changes", _INPUT_HEADS, tuple(rows), long=True, kind="inputs")


def unit_notes(study: Study) -> list[str]:
    notes: dict[str, None] = {}
    for option in study.options:
        for note in option.machine.notes:
            notes[note] = None
    return list(notes)


def _source_years(years: dict[int, int]) -> str:
    """ "Jan 1981, Feb 1990, ..."; or that the file does not say."""
    if not years:
        return "not stated"
    return ", ".join(f"{MONTHS[month - 1]} {year}" for month, year in sorted(years.items()))


def weather_table(study: Study, display: Display) -> Table:
    """Where the weather came from."""
    station = study.weather.station
    rows = [
        ("Station", station.title),
        ("Place", position(station.latitude, station.longitude)),
        ("Altitude", show(station.altitude_m, "length", display)),
        ("Local standard time", f"UTC {station.utc_offset_h:+g} h".replace("-", "−")),
        ("Format", station.format),
        ("Months were measured in", _source_years(station.source_years)),
        ("SHA-256 of the file", station.sha256),
    ]
    return Table(
        "Provenance of the weather year",
        (Head("", number=False), Head("", number=False)),
        tuple(Row(label, (Cell(str(value)),)) for label, value in rows),
    )


_CLOSURES = (
    ("heat_closure_max_W", "Room heat balance", "W"),
    ("water_closure_max_kg_h", "Room water balance", "kg/h"),
    ("refrigerant_closure_max_W", "Refrigerant balance", "W"),
)


def closure_table(study: Study) -> Table:
    """The largest residual of each balance in any hour."""
    return Table(
        "Closure: the largest residual in any hour",
        (Head("Balance", number=False), Head("Unit", number=False), *_option_heads(study)),
        tuple(
            Row(
                label,
                tuple(
                    Cell(f"{option.annual[key]:.0e}".replace("-", "−"), True, (option.key, key))
                    for option in study.options
                ),
                unit=unit,
            )
            for key, label, unit in _CLOSURES
        ),
        note="Zero but for the rounding of the arithmetic: every joule and gram is accounted for.",
        units_in_rows=True,
    )


def glossary_table() -> Table:
    """The columns of the hourly ledger and what they mean."""
    return Table(
        "Columns of the hourly ledger",
        (Head("Column", number=False), Head("Unit", number=False), Head("Meaning", number=False)),
        tuple(Row(c.name, (Cell(c.definition),), unit=c.unit) for c in COLUMNS),
        long=True,
        units_in_rows=True,
    )
