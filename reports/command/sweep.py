"""The verb ``sweep``: many cases from one, or the best of them."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from dewledger.reports.command.steps import say_if_compiling, wide_console
from dewledger.reports.command.streams import errors
from dewledger.weather.errors import InputError

if TYPE_CHECKING:
    from dewledger.analysis.sweep.run import SweepResult
    from dewledger.case import Case
    from dewledger.study import Progress

LEAST = ("life-cycle cost", "annual cost", "purchased energy")
# Between two lines of progress where there is no terminal [s].
_PAUSE_S = 10.0


def sweep(
    case: Annotated[Path, typer.Argument(help="The case file.")],
    vary: Annotated[
        list[str] | None,
        typer.Option("--vary", help='What to vary: "humidity.limit=48 %, 50 %"; may be repeated.'),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", "-o", help="Folder to write, or to go on in after a stop."),
    ] = None,
    method: Annotated[
        str | None, typer.Option("--method", help="grid (default), list, or latin hypercube.")
    ] = None,
    points: Annotated[
        int | None, typer.Option("--points", help="Points of a Latin hypercube.")
    ] = None,
    seed: Annotated[int | None, typer.Option("--seed", help="Its seed; default 1.")] = None,
    workers: Annotated[
        int | None, typer.Option("--workers", help="Processes to use; default: threads.")
    ] = None,
    cluster: Annotated[
        str | None, typer.Option("--cluster", help="Address of a Dask scheduler to use instead.")
    ] = None,
    hourly: Annotated[
        bool, typer.Option("--hourly", help="Keep the hourly ledger of every point and option.")
    ] = False,
    find: Annotated[
        bool, typer.Option("--find", help="Search for the best point instead of solving all.")
    ] = False,
    least: Annotated[
        str, typer.Option("--least", help=f"With --find: {', '.join(LEAST)}.")
    ] = LEAST[0],
    hours_above: Annotated[
        int, typer.Option("--hours-above", help="With --find: hours above the range allowed.")
    ] = 0,
    any_verdict: Annotated[
        bool, typer.Option("--any-verdict", help="With --find: regardless of the energy code.")
    ] = False,
) -> None:
    """Solve many cases from one: every combination of the values stated, with all options.

    Writes annual.csv (one row a point and option), monthly parts, a summary and pictures. A sweep
    that was stopped goes on where it was. A point that cannot be is a row that says why.

    Examples: **dewledger sweep hall.toml --vary "humidity.limit=48 %, 50 %, 53 %"
    --vary "site.weather=stations/\\*.csv" --out hall-sweep**

    **dewledger sweep hall.toml --vary "humidity.limit=45 % to 55 %" --find --hours-above 50**
    """
    from dewledger.case import load_case

    read = load_case(case)
    asked = _asked(vary or [])
    if find:
        if out is not None or workers is not None or cluster is not None or hourly:
            raise InputError(
                "--out, --workers, --cluster and --hourly do not go with --find; leave them out"
            )
        _find(read, asked, least, hours_above, not any_verdict)
        return
    if out is None:
        out = Path(f"{case.stem}-sweep")
    from dewledger.analysis.sweep.run import sweep as run_sweep

    say_if_compiling()
    with time_left() as progress:
        result = run_sweep(
            read, asked or None, out, method=_method(method), points=points, seed=seed,
            hourly=True if hourly else None, workers=workers, cluster=cluster, progress=progress,
        )  # fmt: skip
    _write_and_tell(result, out)


def _write_and_tell(result: SweepResult, out: Path) -> None:
    """The summary and the pictures with the table; all of it reported."""
    from dewledger.reports.files.sweep import write_summary
    from dewledger.reports.terminal.study import caution
    from dewledger.reports.terminal.sweep import summary

    written = write_summary(result, out)
    console = wide_console()
    summary(result, console)
    console.print()
    for path in [out / "annual.csv", *written]:
        console.print(f"wrote {path}", soft_wrap=True)
    console.print()
    caution(console)
    if len(result.problems):
        raise typer.Exit(1)


def _find(read: Case, asked: dict[str, Any], least: str, hours: int, complies: bool) -> None:
    from dewledger.analysis.sweep.find import Wanted, find_best
    from dewledger.reports.terminal.study import caution
    from dewledger.reports.terminal.sweep import found_best

    if least not in LEAST:
        raise InputError(f'--least "{least}" is not known; write one of {", ".join(LEAST)}')
    if not 0 <= hours <= 8760:
        raise InputError(f"--hours-above {hours} is no number of hours a year; write 0 to 8760")
    if not asked and read.sweep is not None:
        asked = dict(read.sweep.vary)
    if not asked:
        raise InputError(
            '--find needs something to vary; write for example --vary "humidity.limit=45 %, 50 %"'
        )
    chosen: Any = least
    say_if_compiling()
    with time_left() as progress:
        found = find_best(
            read,
            asked,
            Wanted(chosen, hours, complies),
            progress=progress,
        )
    console = wide_console()
    found_best(found, console)
    console.print()
    caution(console)
    if not found.met:
        raise typer.Exit(1)


def _asked(vary: list[str]) -> dict[str, Any]:
    """What --vary says, by place."""
    asked: dict[str, Any] = {}
    for text in vary:
        path, equals, values = text.partition("=")
        if not equals or not path.strip() or not values.strip():
            raise InputError(
                f'--vary "{text}" names no value; write for example '
                '--vary "humidity.limit=48 %, 50 %"'
            )
        if path.strip() in asked:
            raise InputError(f'--vary "{path.strip()}" is given twice; put its values in one')
        asked[path.strip()] = values.strip()
    return asked


def _method(text: str | None) -> Any:
    if text not in (None, "grid", "list", "latin hypercube"):
        raise InputError(f'--method "{text}" is not known; write grid, list or latin hypercube')
    return text


@contextmanager
def time_left() -> Iterator[Progress]:
    """Progress of many points with the time left; a line now and then without a terminal."""
    began = time.monotonic()
    first: list[int] = []

    def left(done: int, total: int) -> str:
        solved = done - first[0]
        if solved <= 0 or done >= total:
            return ""
        seconds = round((time.monotonic() - began) * (total - done) / solved)
        minutes, seconds = divmod(seconds, 60)
        return f", {minutes} min {seconds:02d} s left" if minutes else f", {seconds} s left"

    if errors.is_terminal:
        from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

        with Progress(
            TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn(),
            console=errors, transient=True,
        ) as bar:  # fmt: skip
            task = bar.add_task("starting", total=1)

            def show(what: str, done: int, total: int) -> None:
                first.append(done)
                said = f"{what}: {done:,} of {total:,} points{left(done, total)}"
                bar.update(task, description=said, completed=done, total=total)

            yield show
    else:
        last = -_PAUSE_S

        def say(what: str, done: int, total: int) -> None:
            nonlocal last
            first.append(done)
            now = time.monotonic() - began
            if now - last >= _PAUSE_S or done >= total:
                last = now
                errors.print(
                    f"{what}: {done:,} of {total:,} points{left(done, total)}", style="dim"
                )

        yield say
