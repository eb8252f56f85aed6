"""Steps that several verbs of the command share: progress, solving, writing, questions."""

from __future__ import annotations

import logging
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console

from dewledger.reports.command.ending import watch_for_stops
from dewledger.reports.command.streams import errors
from dewledger.weather.errors import InputError

if TYPE_CHECKING:
    from dewledger.assembly.machine import Machine
    from dewledger.case import Case
    from dewledger.reports.files.second_process import SecondCore
    from dewledger.reports.page.panel import Panel
    from dewledger.study import Progress, Study
    from dewledger.weather.year import WeatherYear

# What --format may name, and what is said of it in passing.
FORMATS = {
    "html": "",
    "pdf": "",
    "csv": " (SI)",
    "json": "",
    "toml": "",
    "xlsx": "",
    "docx": " (a one-page memo)",
    "annual.csv": "",
    "display.csv": " (hourly, in the case's units)",
    "parquet": "",
    "svg": "",
    "png": "",
}
PARTS = ("summary", "engineer", "code", "money", "appendix")


def wide_console() -> Console:
    """As wide as the terminal, or as COLUMNS says; else 100, whoever reads it."""
    known = sys.stdout.isatty() or os.environ.get("COLUMNS", "").isdecimal()
    return Console(highlight=False, markup=False, width=None if known else 100)


@contextmanager
def progress_shown() -> Iterator[Progress]:
    """A progress line on the error stream; plain lines where that is not a terminal."""
    if errors.is_terminal:
        from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

        with Progress(
            TextColumn("{task.description}"),
            BarColumn(),
            TimeElapsedColumn(),
            console=errors,
            transient=True,
        ) as bar:
            task = bar.add_task("starting", total=1)

            def show(what: str, step: int, steps: int) -> None:
                bar.update(task, description=what, completed=step, total=steps)

            yield show
    else:
        said = ""

        def say(what: str, step: int, steps: int) -> None:
            nonlocal said
            # Many steps of one kind are one line.
            if what not in ("done", said):
                said = what
                errors.print(f"{what} ({step + 1}/{steps + 1})", style="dim")

        yield say


class _Notices(logging.Handler):
    """Prints what the program says of its own accord, above any progress."""

    def emit(self, record: logging.LogRecord) -> None:
        errors.print(record.getMessage())


def say_if_compiling() -> None:
    """Before long work: have it said when something is compiled, and a stop obeyed then too."""
    from dewledger.weather.numerics.marks import first_run_log

    watch_for_stops()
    first_run_log.propagate = False
    first_run_log.handlers = [_Notices()]


def solve(case: Case, weather: str | None = None) -> Study:
    from dewledger.study import run_study
    from dewledger.weather.files.readers import read

    say_if_compiling()
    year = None if weather is None else read(weather)
    with progress_shown() as progress:
        return run_study(case, year, progress)


def findings_of(
    case: Case, year: WeatherYear, machines: Sequence[Machine]
) -> tuple[list[str], list[str]]:
    """What a case should be looked at for, by a solved year, and the mold screen, always reported.

    A case whose gains are far beyond its unit is not solved: its year would say nothing.
    """
    from dewledger.analysis.compliance import mold_of
    from dewledger.analysis.plausible import BEYOND_THE_UNIT, implausible
    from dewledger.analysis.protection import protection
    from dewledger.assembly.year import solve_option
    from dewledger.reports.words.cautions import (
        NOT_SOLVED,
        merged,
        mold_lines,
        mold_said,
        said_of,
    )

    said, screens = [], []
    options = case.option_cases()
    far = [
        implausible(option, machine, case.display)
        for option, machine in zip(options, machines, strict=True)
    ]
    if any(one.figure in BEYOND_THE_UNIT for found in far for one in found):
        for option, unusual in zip(options, far, strict=True):
            said += said_of(option.title, (), unusual)
        return merged(said, len(options)), [NOT_SOLVED]
    say_if_compiling()
    for option, machine, unusual in zip(options, machines, far, strict=True):
        ledger = solve_option(machine)
        found = protection(option, machine, ledger, case.display)
        said += said_of(option.title, found, unusual)
        screen = mold_of(option, ledger, year, case.display)
        screens.append(mold_said(option.title, screen))
    return merged(said, len(options)), mold_lines(screens, len(options))


def more_weather(case: Case, draws: int | None, names: list[str]) -> list[WeatherYear]:
    """Weather years to vary, read before anything is solved; what is wrong is said first."""
    from dewledger.analysis.sensitivity import DEFAULT_DRAWS, require_comparable
    from dewledger.weather.files.readers import read

    require_comparable(case, DEFAULT_DRAWS if draws is None else draws)
    return [read(name) for name in names]


def moved(study: Study, also: list[WeatherYear], draws: int | None, seed: int | None) -> Study:
    """The study with its sensitivity: one at a time, and draws on all cores."""
    from dataclasses import replace

    from dewledger.analysis.sensitivity import DEFAULT_DRAWS, DEFAULT_SEED, sensitivity_study
    from dewledger.assembly.short_year import short_ledger

    years = [study.weather, *also]
    with progress_shown() as progress:
        found = sensitivity_study(
            study.case,
            years,
            short_ledger,
            draws=DEFAULT_DRAWS if draws is None else draws,
            seed=DEFAULT_SEED if seed is None else seed,
            progress=progress,
        )
    return replace(study, sensitivity=found)


def opened(path: Path | None) -> tuple[Case, str]:
    """The case of a file and the stem of its name, or the starter in this folder."""
    from dewledger.case import bundled_text, case_from_text, load_case

    if path is not None:
        return load_case(path), path.stem
    return case_from_text(bundled_text("rooftop"), Path(), "rooftop"), "rooftop"


def measured(study: Study, sensitivity: bool, draws: int | None, seed: int | None) -> Study:
    """The study held against the bills and trends of its case, where it gives any."""
    if study.case.meter is None and study.case.trend is None:
        return study
    from dewledger.views.meter import DEFAULT_DRAWS, DEFAULT_SEED, with_measurements

    with progress_shown() as progress:
        return with_measurements(
            study,
            (DEFAULT_DRAWS if draws is None else draws) if sensitivity else None,
            DEFAULT_SEED if seed is None else seed,
            lambda done, total: progress("weighing draws by the bills", done, total),
        )


def with_panel(study: Study, levers: list[str]) -> Panel | None:
    """The panel of a report over the levers named; None where none is."""
    if not levers:
        return None
    from dewledger.reports.page.panel import panel_of

    with progress_shown() as progress:
        return panel_of(study, levers, progress)


def core_for(formats: tuple[str, ...]) -> AbstractContextManager[SecondCore]:
    """A second process for pictures and refrigerant states, where what is asked for has any."""
    from dewledger.reports.files.second_process import FOR_PAGES, second_core
    from dewledger.reports.files.writer import PAGES

    return second_core(FOR_PAGES if set(PAGES) & set(formats) else ())


def write_study(
    study: Study,
    out: Path,
    formats: tuple[str, ...],
    by: SecondCore,
    date: str | None = None,
    part: str | None = None,
    panel: Panel | None = None,
) -> None:
    from dewledger.reports.files.writer import write_outputs
    from dewledger.reports.terminal.findings import sensitivity, verdicts
    from dewledger.reports.terminal.meter import meter_lines
    from dewledger.reports.terminal.reheat import reheat_lines
    from dewledger.reports.terminal.study import caution, comparison

    with progress_shown() as progress:
        written = write_outputs(
            study, out, formats=formats, progress=progress, date=date, by=by, part=part,
            panel=panel,
        )  # fmt: skip
    console = wide_console()
    comparison(study, console)
    console.print()
    verdicts(study, console)
    console.print()
    reheat_lines(study, console)
    sensitivity(study, console)
    meter_lines(study, console)
    console.print()
    for path in written:
        console.print(f"wrote {path}", soft_wrap=True)
    console.print()
    caution(console)


def formats_of(text: str) -> tuple[str, ...]:
    chosen = tuple(part.strip() for part in text.split(",") if part.strip())
    unknown = [name for name in chosen if name not in FORMATS]
    if unknown or not chosen:
        raise InputError(
            f'--format "{text}": {unknown[0] if unknown else "nothing"} is not a format; write '
            f"some of {', '.join(FORMATS)} separated by commas"
        )
    return chosen


def part_of(text: str | None) -> None:
    if text is not None and text not in PARTS:
        raise InputError(
            f'--part "{text}" is no part of the report; write one of {", ".join(PARTS)}'
        )


def require_free(out: Path) -> None:
    """Say at once, before minutes of work, that the folder cannot be used."""
    if out.exists() or out.is_symlink():
        raise InputError(f'"{out}" exists already; write another folder after --out, or remove it')
    home = out.absolute().parent
    while not home.exists():
        home = home.parent
    if not home.is_dir() or not os.access(home, os.W_OK | os.X_OK):
        raise InputError(
            f'"{out}" cannot be written, because "{home}" is no folder of yours; write another '
            "folder after --out"
        )


def require_free_picture(picture: Path | None, second: str = "") -> None:
    """Say at once, before the work, that a picture cannot be written.

    ``second`` ends the name of a second picture, which is written next to the first.
    """
    from dewledger.reports.charts.style import picture_format

    if picture is None:
        return
    picture_format(picture)
    both = [picture, *([picture.with_stem(f"{picture.stem}{second}")] if second else [])]
    for path in both:
        if path.exists() or path.is_symlink():
            raise InputError(
                f'"{path}" exists already; write another name after --picture, or remove it'
            )
    if not picture.absolute().parent.is_dir():
        raise InputError(
            f'"{picture}" cannot be written, because its folder does not exist; write a path in a '
            "folder that exists"
        )


def asked_weather(
    file: str,
    at: str,
    save: Path | None,
    year: int | None,
    utc_offset: str,
    url: str | None,
) -> WeatherYear:
    """The weather that ``weather`` is asked about: a file's, or a place's, got and saved first."""
    from dewledger.weather.files.readers import read

    if not at:
        if save is not None or year is not None or utc_offset or url is not None:
            raise InputError(
                "--save, --year, --utc-offset and --url belong to --at; write the place too, such "
                'as --at "27.95, -82.46"'
            )
        return read(file)
    if file:
        raise InputError(f'"{file}" and --at are two places; write one of them')
    if save is None:
        raise InputError("--at needs a file to write; add --save, such as --save tampa.csv")
    from dewledger.weather.remote import fetch, place_from_text, utc_offset_from_text

    got = fetch(
        *place_from_text(at),
        save,
        year=year,
        utc_offset_h=utc_offset_from_text(utc_offset) if utc_offset else None,
        url=url,
        say=lambda sentence: errors.print(sentence, style="dim"),
    )
    wide_console().print(f"wrote {save}", soft_wrap=True)
    return got
