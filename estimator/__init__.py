"""The hour-by-hour account, over a weather year, of keeping a space dry with DX cooling.

``import dewledger as dw`` offers the names below; each is loaded when it is first used, so that the
import itself costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.figure import Figure

    from dewledger.analysis.sweep.find import Wanted, find_best
    from dewledger.analysis.sweep.run import sweep
    from dewledger.case.files import bundled_case as example_case
    from dewledger.case.files import case_from_dict, load_case
    from dewledger.case.model import Case
    from dewledger.dx_unit.from_rating import unit_from_ratings
    from dewledger.study import Study, run_study, simulate
    from dewledger.views import psychrometrics
    from dewledger.views.meter import compare_with_meter
    from dewledger.views.psychrometrics import cooling_coil
    from dewledger.weather.errors import InputError
    from dewledger.weather.files.readers import read as read_weather

# Public name -> where it is written: module, name there; no name for a module.
_PUBLIC = {
    "Case": ("dewledger.case.model", "Case"),
    "InputError": ("dewledger.weather.errors", "InputError"),
    "Study": ("dewledger.study", "Study"),
    "Wanted": ("dewledger.analysis.sweep.find", "Wanted"),
    "case_from_dict": ("dewledger.case.files", "case_from_dict"),
    "compare_with_meter": ("dewledger.views.meter", "compare_with_meter"),
    "cooling_coil": ("dewledger.views.psychrometrics", "cooling_coil"),
    "example_case": ("dewledger.case.files", "bundled_case"),
    "find_best": ("dewledger.analysis.sweep.find", "find_best"),
    "load_case": ("dewledger.case.files", "load_case"),
    "psychrometrics": ("dewledger.views.psychrometrics", ""),
    "read_weather": ("dewledger.weather.files.readers", "read"),
    "run_study": ("dewledger.study", "run_study"),
    "simulate": ("dewledger.study", "simulate"),
    "sweep": ("dewledger.analysis.sweep.run", "sweep"),
    "unit_from_ratings": ("dewledger.dx_unit.from_rating", "unit_from_ratings"),
}

__all__ = [
    "Case",
    "InputError",
    "Study",
    "Wanted",
    "case_from_dict",
    "compare_with_meter",
    "cooling_coil",
    "example_case",
    "find_best",
    "ledger_columns",
    "load_case",
    "psychrometrics",
    "read_weather",
    "run_study",
    "simulate",
    "sweep",
    "unit_from_ratings",
    "write_report",
]


def ledger_columns() -> dict[str, dict[str, str]]:
    """The columns of the hourly ledger in their order: unit, how each totals, definition."""
    from dewledger.hourly.ledger import COLUMNS

    return {
        column.name: {
            "unit": column.unit,
            "total": column.total,
            "definition": column.definition,
        }
        for column in COLUMNS
    }


def write_report(
    study: Study,
    folder: str | Path,
    formats: tuple[str, ...] = ("html", "csv", "json", "toml"),
) -> list[Path]:
    """Write a study's page, tables and data into a new folder; returns the paths.

    Parameters
    ----------
    study : with codes, sizing and money, as ``run_study`` makes it
    folder : must not exist yet
    formats : some of html, pdf, csv (SI), json, toml, xlsx, docx, annual.csv, display.csv (the
        hourly files in the units of the case), parquet, svg, png

    Raises
    ------
    InputError : the folder exists, an unknown format, or a study without what a report shows
    """
    from pathlib import Path

    from dewledger.reports.files.writer import write_outputs

    for found in (study.judgments, study.sizings, study.money.bills):
        found[study.case.reference_key]  # a study run without it says so
    return write_outputs(study, Path(folder), formats=tuple(formats))


def _plot(study: Study, name: str) -> Figure:
    """A chart of the study as a matplotlib figure; a wrong name lists them all.

    Raises
    ------
    InputError : a name that is not known, or a study without its money
    """
    from dewledger.case.words import listed, nearest
    from dewledger.reports.charts.study import study_charts
    from dewledger.weather.errors import InputError

    study.money.bills[study.case.reference_key]  # a study run without it says so
    charts = study_charts(study, study.case.display)
    if name not in charts:
        raise InputError(
            f'chart "{name}" is not known{nearest(name, charts)}; {listed(charts)} are'
        )
    return charts[name].figure()


def __getattr__(name: str) -> Any:
    if name not in _PUBLIC:
        raise AttributeError(f"module 'dewledger' has no attribute '{name}'")
    place, inner = _PUBLIC[name]
    module = import_module(place)
    if place == "dewledger.study":
        # What a study offers of the reports, which stand above it.
        module.Study.plot = _plot
        module.Study.write_report = write_report
    return getattr(module, inner) if inner else module


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
