"""The command ``dewledger``. Nothing heavy is imported until a verb needs it."""

from __future__ import annotations

import gc
from pathlib import Path
from typing import Annotated

import typer

from dewledger.reports.command.ending import to_an_end, watch_for_stops
from dewledger.reports.command.looking import hour, unit
from dewledger.reports.command.preparing import prepare
from dewledger.reports.command.starting import keys, new
from dewledger.reports.command.steps import (
    FORMATS,
    asked_weather,
    core_for,
    findings_of,
    formats_of,
    measured,
    more_weather,
    moved,
    opened,
    part_of,
    progress_shown,
    require_free,
    require_free_picture,
    say_if_compiling,
    solve,
    wide_console,
    with_panel,
    write_study,
)
from dewledger.reports.command.sweep import sweep
from dewledger.weather.errors import InputError

app = typer.Typer(
    name="dewledger",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode="markdown",
    help="An hour-by-hour account of drying air with DX cooling: what it costs, how much reheat it "
    "takes, how much of that is recovered from the condenser, and the hours still out of range.",
)

FormatNames = Annotated[
    str,
    typer.Option(
        "--format",
        help=f"Some of {', '.join(name + words for name, words in FORMATS.items())}; separated by "
        "commas.",
    ),
]
OutFolder = Annotated[
    Path, typer.Option("--out", "-o", help="Folder to write; it must not exist yet.")
]


def _say_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"dewledger {version('dewledger')}")
        raise typer.Exit


@app.callback()
def _common(
    version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_say_version, is_eager=True, help="Print the version and end."
        ),
    ] = False,
) -> None:
    pass


@app.command()
def demo(
    out: OutFolder = Path("dewledger-demo"),
    formats: FormatNames = "html,csv,json,toml",
) -> None:
    """Run the bundled case on bundled Greensboro weather and write its report.

    Needs no file. Example: **dewledger demo --out my-demo**
    """
    from dewledger.case import bundled_case

    chosen = formats_of(formats)
    require_free(out)
    with core_for(chosen) as by:
        study = solve(bundled_case("music-school"))
        write_study(study, out, chosen, by)


app.command()(new)
app.command()(keys)
app.command()(prepare)


@app.command()
def check(case: Annotated[Path, typer.Argument(help="The case file.")]) -> None:
    """Read a case and its weather; list what is assumed and what to review.

    Figures far from the usual, what may hurt people, and the mold screen, by a solved year; nothing
    is written. Exit code 1 where there is something to review. Example: **dewledger check
    hall.toml**
    """
    from dewledger.accounts.costs import option_tariff
    from dewledger.analysis.reheat_coil_size import require_fed
    from dewledger.assembly.machine import assemble_all
    from dewledger.assembly.year import read_weather
    from dewledger.case import load_case

    read = load_case(case)
    watch_for_stops()
    options = read.option_cases()
    for option in options:
        option_tariff(option, read)
    year = read_weather(read)
    console = wide_console()
    console.print(f"{read.title}: {len(options)} options on {year.station.title}")
    machines = assemble_all(options, year)
    notes: dict[str, None] = {}
    for machine in machines:
        require_fed(machine)
        notes |= dict.fromkeys(machine.notes)
    for note in notes:
        console.print(f"  assumed: {note}")
    for finding in year.findings:
        console.print(f"  weather: {finding.sentence}")
    found, always = findings_of(read, year, machines)
    for line in (*found, *always):
        said = f"  review: {line}" if line in found else f"  always: {line}"
        console.print(said)
    if year.findings or found:
        raise typer.Exit(1)
    console.print(
        "  no findings other than the mold screen; what is not listed is not thereby cleared"
    )


@app.command()
def run(
    case: Annotated[Path, typer.Argument(help="The case file.")],
    out: Annotated[
        Path | None, typer.Option("--out", "-o", help="Folder to write; default: the case's name.")
    ] = None,
    weather: Annotated[
        str | None, typer.Option("--weather", help="Another weather file or bundled station.")
    ] = None,
    formats: FormatNames = "html,csv,json,toml",
    date: Annotated[str | None, typer.Option("--date", help="Date to print on the report.")] = None,
    sensitivity: Annotated[
        bool,
        typer.Option(
            "--sensitivity",
            help="One-at-a-time sensitivity, then Monte Carlo (Latin hypercube) samples.",
        ),
    ] = False,
    draws: Annotated[
        int | None, typer.Option("--draws", help="Samples of all assumptions; default 200.")
    ] = None,
    seed: Annotated[
        int | None, typer.Option("--seed", help="Seed of the samples; default 1.")
    ] = None,
    also_weather: Annotated[
        list[str] | None,
        typer.Option("--also-weather", help="Another weather year to try; may be repeated."),
    ] = None,
    part: Annotated[
        str | None,
        typer.Option(
            "--part", help="One part of the report: summary, engineer, code, money or appendix."
        ),
    ] = None,
    panel: Annotated[
        list[str] | None,
        typer.Option(
            "--panel",
            help="A lever to move on the page, such as limit or outdoor_air; up to three times.",
        ),
    ] = None,
) -> None:
    """Run every option of a case over the year; write ledger, accounts and report.

    Examples: **dewledger run hall.toml --out hall-results**

    **dewledger run hall.toml --sensitivity --draws 1000 --seed 7**
    """
    from dewledger.case import load_case

    given = draws is not None or seed is not None or bool(also_weather)
    if given and not sensitivity:
        raise InputError("--draws, --seed and --also-weather belong to --sensitivity; write it too")
    if seed is not None and seed < 0:
        raise InputError(f"--seed {seed} is negative; write zero or more, for example 7")

    chosen = formats_of(formats)
    part_of(part)
    read = load_case(case)
    if panel:
        from dewledger.reports.page.panel import chosen_levers

        chosen_levers(read, panel)
    folder = out or Path(f"{case.stem}-results")
    require_free(folder)
    also = more_weather(read, draws, also_weather or []) if sensitivity else []
    with core_for(chosen) as by:
        study = solve(read, weather)
        if sensitivity:
            study = moved(study, also, draws, seed)
        study = measured(study, sensitivity, draws, seed)
        write_study(study, folder, chosen, by, date, part, with_panel(study, panel or []))


app.command()(hour)
app.command()(unit)


@app.command()
def weather(
    file: Annotated[
        str, typer.Argument(help="A weather file, or greensboro, miami, sand-point.")
    ] = "",
    picture: Annotated[
        Path | None,
        typer.Option("--picture", help="Climate picture to write: .png, .svg or .pdf."),
    ] = None,
    display: Annotated[str, typer.Option("--display", help="I-P or SI.")] = "I-P",
    at: Annotated[
        str,
        typer.Option(
            "--at",
            help='Query a public weather service for a place, "27.95, -82.46": the one thing that '
            "this program ever sends anywhere.",
        ),
    ] = "",
    save: Annotated[
        Path | None, typer.Option("--save", help="Weather file to write, with --at: tampa.csv.")
    ] = None,
    of_year: Annotated[
        int | None,
        typer.Option("--year", help="An actual year, 2001 or later; a typical year without it."),
    ] = None,
    utc_offset: Annotated[
        str,
        typer.Option(
            "--utc-offset", help="Standard time there: -5 or America/New_York; else by longitude."
        ),
    ] = "",
    url: Annotated[
        str | None, typer.Option("--url", help="Another address of the service, such as a mirror.")
    ] = None,
) -> None:
    """Summarize a weather file, or get one for a place that has none.

    Example: **dewledger weather greensboro --picture greensboro.png**

    Example: **dewledger weather --at "27.95, -82.46" --save tampa.csv**
    """
    if display not in ("I-P", "SI"):
        raise InputError(f'--display "{display}" is not known; write I-P or SI')
    from dewledger.reports.terminal.study import climate, nearest_station
    from dewledger.weather.climate import summarize

    require_free_picture(picture)
    year = asked_weather(file, at, save, of_year, utc_offset, url)
    summary = summarize(year)
    console = wide_console()
    climate(year, summary, display, console)  # type: ignore[arg-type]
    if at:
        nearest_station(year, summary, display, console)  # type: ignore[arg-type]
    if picture is not None:
        from dewledger.reports.charts.climate import draw

        draw(year, summary, display, picture)  # type: ignore[arg-type]
        console.print(f"wrote {picture}", soft_wrap=True)


@app.command()
def live(
    case: Annotated[
        Path | None, typer.Argument(help="The case file; default: the rooftop starter.")
    ] = None,
    port: Annotated[
        int, typer.Option("--port", min=0, max=65535, help="Port; default: any that is free.")
    ] = 0,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open the page in the browser.")
    ] = True,
) -> None:
    """Open a local page on which every change solves the year again; Ctrl-C ends it.

    The page is served on this machine alone, by an address that carries a secret. Example:
    **dewledger live hall.toml**
    """
    from dewledger.reports.live.server import serve

    serve(*opened(case), port, browser)


@app.command()
def verify() -> None:
    """Run the checks from outside on this machine: source, its figure, computed, difference.

    Ends with 1 where a check fails. Example: **dewledger verify**
    """
    from dewledger.published import run_checks
    from dewledger.reports.terminal.study import verification

    say_if_compiling()
    with progress_shown() as progress:
        results = run_checks(progress)
    verification(results, wide_console())
    if not all(result.passed for result in results):
        raise typer.Exit(1)


app.command()(sweep)


def main() -> None:
    """Entry point: one sentence and an exit code for whatever happens, never a traceback."""
    # What a verb loads stays: to search it for garbage again and again was a tenth of its time.
    gc.set_threshold(50_000)
    to_an_end(lambda: app(standalone_mode=False))
