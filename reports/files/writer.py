"""Write a study's outputs into a folder: all of them, or nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dewledger.hourly.year import solve_rows
from dewledger.reports.files import data_files as summary
from dewledger.reports.files.pdf import find_browser, pdf
from dewledger.reports.files.second_process import SecondCore, hours_and_maps
from dewledger.reports.files.unfinished import in_the_making
from dewledger.reports.handover.commissioning import sheets
from dewledger.reports.handover.section import Handover, handover_of, sheets_of
from dewledger.weather.errors import InputError
from dewledger.weather.numerics.compiled import is_kept

if TYPE_CHECKING:
    from dewledger.reports.charts.parts import Chart
    from dewledger.reports.files.report_parts import Drawn
    from dewledger.reports.page.panel import Panel
    from dewledger.reports.page.parts import Part
    from dewledger.study import Progress, Study

DEFAULT_FORMATS = ("html", "csv", "json", "toml")


def write_outputs(
    study: Study,
    folder: Path,
    *,
    formats: tuple[str, ...] = DEFAULT_FORMATS,
    progress: Progress | None = None,
    date: str | None = None,
    by: SecondCore | None = None,
    part: str | None = None,
    panel: Panel | None = None,
) -> list[Path]:
    """Write a study's files into a new folder; returns their paths.

    The files are made in a hidden folder next to it, which takes its name only when all are done:
    whatever fails, nothing half-written is left.

    Parameters
    ----------
    folder : must not exist yet; its parents are made
    formats : some of html, pdf, csv (SI), json, toml, xlsx, docx, annual.csv, display.csv (the
        hourly files in the units of the case), parquet, svg, png
    progress : called with (what is being done, step, steps)
    date : printed on the report; without it the report carries none
    by : draws half of the report in another process; without it all is drawn here
    part : the one part of the report to write, as report-<part>.html; default all in report.html
    panel : levers to move on the page, over a grid solved beforehand

    Raises
    ------
    InputError : the folder exists or cannot be written; an unknown format; no browser for pdf
    """
    folder = Path(folder)
    for name in formats:
        if name not in _WRITERS:
            raise InputError(f'"{name}" is not a format; write some of {", ".join(_WRITERS)}')
    if "pdf" in formats:
        find_browser()
    if folder.exists() or folder.is_symlink():
        raise InputError(f'"{folder}" exists already; name another folder, or remove it')
    report = progress or (lambda what, step, of: None)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with in_the_making(folder) as made:
            asked = _Asked(study, date, formats, by or SecondCore(), part, panel)
            # The page last: half of it is drawn while the rest is written.
            for step, name in enumerate(sorted(formats, key=PAGES.__contains__)):
                report(f"writing {name}", step, len(formats))
                for file, content in _WRITERS[name](asked):
                    (made / file).write_bytes(content)
            names = sorted(path.name for path in made.iterdir())
            # an existing folder, even an empty one, is not taken over by the rename
            if folder.exists():
                raise InputError(f'"{folder}" exists already; name another folder, or remove it')
            made.rename(folder)
    except OSError as error:
        raise _refused(folder, error) from None
    report("done", len(formats), len(formats))
    return [folder / name for name in names]


def _refused(folder: Path, error: OSError) -> InputError:
    reason = (error.strerror or str(error)).lower()
    return InputError(
        f'"{folder}" cannot be written ({reason}); name a folder in a place you may write to'
    )


Files = Iterator[tuple[str, bytes]]
PAGES = ("html", "pdf")


class _Asked:
    """What is written, with what several formats share made once."""

    def __init__(
        self,
        study: Study,
        date: str | None,
        formats: tuple[str, ...],
        by: SecondCore,
        part: str | None,
        panel: Panel | None,
    ):
        self.study = study
        self.panel = panel
        self.date = date
        self.part = part
        drawn = part in (None, "engineer", "appendix") and bool(set(PAGES) & set(formats))
        handed = "json" in formats or (
            part in (None, "engineer") and bool(set(PAGES) & set(formats))
        )
        # Two tasks of the other process; what is small and asked for first comes first. Units run
        # by the program of the year, which that process has not where it is not kept on disk.
        units = by if is_kept(solve_rows) else SecondCore()
        self._sheets = units.start(sheets, *sheets_of(study)) if handed else None
        self._hours_and_maps = by.start(hours_and_maps, study) if drawn else None

    @cached_property
    def parts(self) -> list[Part]:
        """The parts of the report that are written."""
        from dewledger.reports.files.report_parts import report_parts

        return report_parts(self.study, self.part, lambda: self.drawn, lambda: self.handover)

    @cached_property
    def handover(self) -> Handover:
        """Commissioning and design hours, which page and summary.json share."""
        assert self._sheets is not None
        return handover_of(self.study, self._sheets())

    @cached_property
    def page(self) -> str:
        """The report as one HTML page."""
        from dewledger.reports.page.report import page

        return page(self.study, self.parts, date=self.date, panel=self.panel)

    @cached_property
    def drawn(self) -> Drawn:
        """The pictures that this process draws, while the other draws the rest."""
        from dewledger.reports.charts.parts import PAIRED_IN
        from dewledger.reports.charts.study import study_charts, study_maps
        from dewledger.reports.files.report_parts import Drawn

        study, display = self.study, self.study.case.display
        maps = study_maps(study, display)
        drawn = {
            name: chart.svg()
            for name, chart in study_charts(study, display, PAIRED_IN).items()
            if name not in maps and name != "overview"
        }
        assert self._hours_and_maps is not None
        hours, pictures = self._hours_and_maps()
        return Drawn(hours, drawn | pictures)


def _json(asked: _Asked) -> Files:
    yield "summary.json", summary.summary_json(asked.study, asked.handover).encode("utf-8")


def _toml(asked: _Asked) -> Files:
    yield "case.toml", summary.case_toml(asked.study).encode("utf-8")


def _csv(asked: _Asked) -> Files:
    study = asked.study
    yield "monthly.csv", summary.monthly_csv(study).encode("utf-8")
    written: dict[str, Any] = {}
    for option in study.options:
        text = summary.hourly_csv(study, option, written)
        yield f"hourly-{option.key}.csv", text.encode("utf-8")


def _report_name(asked: _Asked) -> str:
    return "report" if asked.part is None else f"report-{asked.part}"


def _html(asked: _Asked) -> Files:
    yield f"{_report_name(asked)}.html", asked.page.encode("utf-8")


def _pdf(asked: _Asked) -> Files:
    yield f"{_report_name(asked)}.pdf", pdf(asked.page)


def _xlsx(asked: _Asked) -> Files:
    from dewledger.reports.files.workbook import workbook

    yield "workbook.xlsx", workbook(asked.study)


def _docx(asked: _Asked) -> Files:
    from dewledger.reports.files.memo import memo

    yield "memo.docx", memo(asked.study, asked.date)


def _annual(asked: _Asked) -> Files:
    yield "annual.csv", summary.annual_csv(asked.study).encode("utf-8")


def _display_csv(asked: _Asked) -> Files:
    from dewledger.reports.files.display_units import hourly_display_csv

    units = asked.study.case.display
    for option in asked.study.options:
        text = hourly_display_csv(asked.study, option)
        yield f"hourly-{option.key}-{units}.csv", text.encode("utf-8")


def _parquet(asked: _Asked) -> Files:
    for option in asked.study.options:
        yield f"hourly-{option.key}.parquet", summary.hourly_parquet(asked.study, option)


def _charts(study: Study) -> list[Chart]:
    from dewledger.reports.charts.study import study_charts
    from dewledger.reports.page.hours import hour_charts
    from dewledger.reports.page.reheat_sizing import sizing_charts
    from dewledger.reports.page.sensitivity import effect_charts

    display = study.case.display
    return [
        *study_charts(study, display).values(),
        *hour_charts(study, display),
        *sizing_charts(study, display),
        *effect_charts(study, display),
    ]


def _svg(asked: _Asked) -> Files:
    for chart in _charts(asked.study):
        yield f"charts-{chart.name}.svg", chart.svg().encode("utf-8")


def _png(asked: _Asked) -> Files:
    for chart in _charts(asked.study):
        yield f"charts-{chart.name}.png", chart.png()


_WRITERS: dict[str, Callable[[_Asked], Files]] = {
    "html": _html,
    "pdf": _pdf,
    "csv": _csv,
    "json": _json,
    "toml": _toml,
    "xlsx": _xlsx,
    "docx": _docx,
    "annual.csv": _annual,
    "display.csv": _display_csv,
    "parquet": _parquet,
    "svg": _svg,
    "png": _png,
}
