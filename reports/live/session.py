"""One tab of the live page: a case, what was changed in it, and its answers."""

from __future__ import annotations

import base64
import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from dewledger.accounts.energy import column
from dewledger.case import Case
from dewledger.quantities import Display
from dewledger.reports.live.fields import all_fields, field_content, value_at, written
from dewledger.weather.errors import InputError

if TYPE_CHECKING:
    from dewledger.reports.charts.parts import Chart
    from dewledger.reports.page.parts import Table
    from dewledger.study import Study
    from dewledger.weather.year import WeatherYear

PICTURES = ("reheat-origin", "humidity-duration", "monthly-energy")
BAND_DRAWS = 100

# matplotlib keeps its style for the whole process.
_drawing = threading.Lock()


@dataclass
class Session:
    """The state of one tab.

    first : the case as the page was opened with; changes : (path, text) laid over it, in order
    """

    first: Case
    changes: list[tuple[str, str | None]] = field(default_factory=list)
    kept: dict[str, Any] | None = None
    case: Case = field(init=False)
    _weather: dict[str, WeatherYear] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.case = self.first

    @property
    def display(self) -> Display:
        """Units of what is shown."""
        return self.case.display

    def set(self, path: str, text: str | None) -> None:
        """Change one place; None takes the default ("don't know").

        Raises
        ------
        InputError : the case cannot take it; nothing has changed then
        """
        if path not in {one.path for one in all_fields(self.first)} | {"display"}:
            raise InputError(f'"{path[:60]}" is no field of this page')
        if text is not None and len(text) > 300:
            raise InputError("the value is longer than 300 signs; write a value with its unit")
        self._take([*self.changes, (path, text)])

    def undo(self, path: str | None = None) -> None:
        """Take back the last change, or all changes of one place."""
        if path is None:
            self._take(self.changes[:-1])
        else:
            self._take([change for change in self.changes if change[0] != path])

    def _take(self, changes: list[tuple[str, str | None]]) -> None:
        values = dict(changes)
        case = self.first.with_values(values) if values else self.first
        self._require_inside(case)
        self.changes, self.case = changes, case

    def _require_inside(self, case: Case) -> None:
        """InputError where the page would read a file outside the case's folder."""
        from dewledger.weather.bundled import bundled_path

        text = case.site.weather
        if bundled_path(text) is not None or text == self.first.site.weather:
            return
        folder = self.first.folder.resolve()
        if not (self.first.folder / text).resolve().is_relative_to(folder):
            raise InputError(
                f'"{text[:60]}" lies outside the folder of the case; put the file beside the case'
            )

    def solve(self) -> Study:
        """The year of every option of the case as it stands."""
        from dewledger.study import read_weather, run_study

        case = self.case
        place = repr(case.site)
        if place not in self._weather:
            self._weather = {place: read_weather(case)}
        return run_study(case, self._weather[place])

    def fields(self) -> list[dict[str, Any]]:
        """Every field of the page with its value."""
        return [
            field_content(one, self.case, self.first, self.display)
            for one in all_fields(self.first)
        ]

    def changed(self) -> list[dict[str, str]]:
        """What differs from the case as it was opened, the last change of each place."""
        labels = {one.path: one.label for one in all_fields(self.first)} | {"display": "Units"}
        latest = dict(self.changes)
        return [
            {
                "path": path,
                "label": labels.get(path, path),
                "before": written(value_at(self.first, path)) or "not stated",
                "now": written(value_at(self.case, path)) or "not stated",
            }
            for path in latest
        ]


def answer_content(study: Study, display: Display) -> dict[str, Any]:
    """Sentences, table and year map of a study, as the page takes them."""
    from dewledger.reports.page.tables import short_table
    from dewledger.reports.words.answer import answer

    return {
        "title": study.case.title,
        "display": display,
        "place": study.weather.station.title,
        "sentences": answer(study, display),
        "table": table_content(short_table(study, display)),
        "options": [{"key": o.key, "title": o.title} for o in study.options],
        "reference": study.reference.key,
    }


def table_content(table: Table) -> dict[str, Any]:
    """A table of the report as plain data."""
    return {
        "caption": table.caption,
        "heads": [{"text": h.text, "unit": h.unit, "number": h.number} for h in table.heads],
        "rows": [
            {
                "head": row.head,
                "marked": row.marked,
                "cells": [{"text": c.text, "number": c.number} for c in row.cells],
            }
            for row in table.rows
        ],
        "note": table.note,
    }


def year_map(study: Study, key: str) -> dict[str, Any]:
    """Room humidity of every hour of an option in half percents, for the page's map of the year."""
    option = next(o for o in study.options if o.key == key)
    half = np.clip(np.rint(200.0 * column(option.ledger, "room_rh_frac")), 0, 200).astype(np.uint8)
    return {
        "option": key,
        "title": option.title,
        "values": base64.b64encode(half.tobytes()).decode("ascii"),
        "low": 100.0 * option.machine.range_low,
        "high": 100.0 * option.machine.range_high,
    }


def pictures(study: Study, display: Display) -> dict[str, dict[str, str]]:
    """The page's charts as SVG by name, with their words."""
    from dewledger.reports.charts.study import study_charts

    with _drawing:
        charts = study_charts(study, display)
        return {name: _drawn(chart) for name, chart in charts.items() if name in PICTURES}


def _drawn(chart: Chart) -> dict[str, str]:
    return {
        "svg": chart.svg(),
        "alt": chart.alt,
        "title": chart.title,
        "caption": chart.caption,
    }


def hour_picture(study: Study, key: str, hour: int, display: Display) -> dict[str, str]:
    """One hour on the psychrometric chart, and its states in words."""
    from dewledger.accounts.energy import hour_label
    from dewledger.reports.diagrams.hour import hour_chart
    from dewledger.views.hour import detail_at

    option = next((o for o in study.options if o.key == key), None)
    if option is None or not 0 <= hour < 8760:
        raise InputError("there is no such hour of such an option")
    when = hour_label(study.weather, hour)
    with _drawing:
        detail = detail_at(option.ledger, option.machine, study.weather, hour, display)
        chart = hour_chart(
            detail, option.machine, hour, display,
            name="live-hour", title=option.title, place=study.weather.station.name,
            year=study.weather,
        )  # fmt: skip
        drawn = _drawn(chart)
    return drawn | {"title": f"{option.title}, {when}"}


def band(session: Session, study: Study, progress: Any) -> list[dict[str, Any]]:
    """P10, P50 and P90 of each option's yearly saving under all assumptions drawn together."""
    from dewledger.analysis.sensitivity import sensitivity_study
    from dewledger.study import solve_option

    found = sensitivity_study(
        session.case, [study.weather], solve_option, draws=BAND_DRAWS, seed=1, progress=progress
    )
    return [
        {
            "key": key,
            "title": next(o.title for o in study.options if o.key == key),
            "p10": one.saving_p10,
            "p50": one.saving_p50,
            "p90": one.saving_p90,
            "currency": study.money.currency,
        }
        for key, one in found.likelihood.items()
    ]


def free_name(folder: Path, stem: str, ending: str) -> Path:
    """A name in a folder that nothing has yet: stem.toml, stem-2.toml, ..."""
    path = folder / f"{stem}{ending}"
    number = 1
    while path.exists():
        number += 1
        path = folder / f"{stem}-{number}{ending}"
    return path


def save_case(session: Session, stem: str) -> Path:
    """Write the case as it stands beside the first; never over a file that is there."""
    folder = session.first.folder
    path = free_name(folder, f"{stem}-live", ".toml")
    path.write_text(session.case.to_toml(folder), encoding="utf-8")
    return path


def write_report(session: Session, stem: str) -> Path:
    """Write what ``run`` writes for the case as it stands, into a folder of its own."""
    from dewledger.reports.files.writer import write_outputs
    from dewledger.study import run_study

    out = free_name(session.first.folder, f"{stem}-live-results", "")
    with _drawing:
        write_outputs(run_study(session.case), out)
    return out
