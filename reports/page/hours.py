"""The report's design hours and worst hours, each on the psychrometric chart with its figures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dewledger.reports.diagrams.hour import (
    Figures,
    heat_table,
    hour_chart,
    refrigeration_table,
    state_table,
)
from dewledger.reports.page.parts import Cell, Head, Row, Section, Table, picture_of
from dewledger.views.hour import HourDetail, detail_at, worst_hour
from dewledger.views.hour_choice import FoundHour

if TYPE_CHECKING:
    from dewledger.accounts.option_year import OptionYear
    from dewledger.quantities import Display
    from dewledger.reports.charts.parts import Chart
    from dewledger.study import Study

# What is shown of the year, in the order shown: two design hours, then the worst.
_SHOWN = {
    "dry-bulb": "highest outdoor dry bulb",
    "dew-point": "highest outdoor dew point",
    "reheat": "most overcooling heat",
    "out-of-range": "room farthest out of its humidity range",
}


def shown_option(study: Study) -> OptionYear:
    """The option whose hours are reported: the first with condenser heat, else the reference."""
    for option in study.options:
        if any(source.source == "condenser" for source in option.option.case.reheat):
            return option
    return study.reference


def shown_hours(option: OptionYear, study: Study) -> dict[int, list[str]]:
    """The hours reported, with what each is the worst of (keys of ``WORST``); it may be several."""
    hours: dict[int, list[str]] = {}
    for what in _SHOWN:
        hour = worst_hour(option.ledger, option.machine, study.weather, what)
        if hour is not None:
            hours.setdefault(hour, []).append(what)
    return hours


def _title(kinds: list[str]) -> str:
    words = " and ".join(_SHOWN[kind] for kind in kinds)
    return f"{words[:1].upper()}{words[1:]}"


def hour_charts(study: Study, display: Display, *, key: bool = True) -> list[Chart]:
    """The charts of the hours reported, in their order; ``key`` with the states beneath each."""
    option = shown_option(study)
    charts: list[Chart] = []
    for hour, kinds in shown_hours(option, study).items():
        detail = _detail(study, option, hour, display)
        density = study.weather if not charts else None
        place = study.weather.station.name
        found = FoundHour(option.option, detail, option.machine, hour, place, density)
        title = f"{_title(kinds)}: {option.title}"
        charts.append(hour_chart(found, display, name=f"hour-{kinds[0]}", title=title, key=key))
    return charts


def hours_section(study: Study, display: Display) -> Section:
    """The hours as a section of the page."""
    option = shown_option(study)
    charts = hour_charts(study, display, key=False)
    parts: list[Section] = []
    for chart, (hour, kinds) in zip(charts, shown_hours(option, study).items(), strict=True):
        detail = _detail(study, option, hour, display)
        paragraphs = [detail.decision]
        if detail.room_shr is not None:
            paragraphs.append(f"Room sensible heat ratio: {detail.room_shr:.2f}.")
        parts.append(
            Section(
                f"hour-{kinds[0]}",
                f"{_title(kinds)}: {detail.when}",
                (" ".join(paragraphs),),
                (_states(detail, display), *_flows(detail, display)),
                (picture_of(chart),),
            )
        )
    return Section(
        "hours",
        "Design hours and worst hours",
        (
            f"Hours of the year with option “{option.title}”, from the ledger: the state of "
            "the air at each numbered place, the heats, and what control decided. The curved line "
            "is the air on its way through the coil; reheat is a horizontal line, sensible heating "
            "at constant humidity ratio. On the first chart each dot is the hours of "
            "the year that the outdoor air spends there.",
        ),
        parts=tuple(parts),
    )


def _detail(study: Study, option: OptionYear, hour: int, display: Display) -> HourDetail:
    return detail_at(option.ledger, option.machine, study.weather, hour, display)


def _heads(first: str, figures: Figures) -> tuple[Head, ...]:
    return (Head(first, number=False), *(Head(name, unit) for name, unit in figures.heads))


def _states(detail: HourDetail, display: Display) -> Table:
    figures = state_table(detail, display)
    rows = [
        Row(label, tuple(Cell(value, True) for value in values), detail=point.explanation)
        for (label, values), point in zip(figures.rows, detail.points, strict=True)
    ]
    return Table(
        "States of the air",
        _heads("State", figures),
        tuple(rows),
        note="Flow as standard air, while the fan runs.",
        kind="states",
    )


def _flows(detail: HourDetail, display: Display) -> list[Table]:
    heats = heat_table(detail, display)
    refrigeration = refrigeration_table(detail, display)
    tables = [
        _narrow("Heats, mean of the hour", heats, "Heat out of the air is negative."),
        _narrow("Refrigeration", refrigeration, "Powers and heats are means of the hour."),
    ]
    return [table for table in tables if table.rows]


def _narrow(caption: str, figures: Figures, note: str) -> Table:
    unit = figures.heads[0][1]
    rows = [
        Row(label, (Cell(f"{values[0]} {unit}".rstrip(), True),)) for label, values in figures.rows
    ]
    return Table(caption, (), tuple(rows), note=note, side=True)
