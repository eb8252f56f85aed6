"""A sweep run: batches by site given to threads, processes, or a cluster; parts kept as they come.

Any ``concurrent.futures.Executor`` serves. What is found does not depend on who solved it: a point
is solved alone, and the tables are put together in the order of the points.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
    ThreadPoolExecutor,
    wait,
)
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass, field
from html import escape
from importlib.metadata import version
from multiprocessing import get_context
from pathlib import Path
from typing import Any, get_args

import pandas as pd

from dewledger.accounts.names import AccountName
from dewledger.analysis.monte_carlo import cores
from dewledger.analysis.sweep.parts import Folder, frame_of, kind_of, parquet_at_hand, write_whole
from dewledger.analysis.sweep.points import WEATHER, Plan, Point, make_plan
from dewledger.analysis.sweep.work import FOUND, Batch, Part, solve_batch, weather_of
from dewledger.analysis.worker_processes import ended_on_failure, follow_parent
from dewledger.case import Case
from dewledger.case.ranges import Method
from dewledger.weather.bundled import bundled_path
from dewledger.weather.errors import InputError

Progress = Callable[[str, int, int], None]

# Points of one part: enough that writing costs little, few enough that little is lost.
_MOST_IN_A_BATCH = 40
_LEAST_PARTS = 16
# How often in a row the processes may be lost without one part done.
_MOST_LOSSES = 3


@dataclass(frozen=True, eq=False, repr=False)
class SweepResult:
    """A sweep done.

    annual : one row for each point and option, in the order of the points
    folder : where its files lie; None where nothing was written
    """

    case: Case
    plan: Plan
    annual: pd.DataFrame
    folder: Path | None
    _months: Callable[[], pd.DataFrame] = field(repr=False)

    @property
    def monthly(self) -> pd.DataFrame:
        """One row for each point, option and month."""
        return self._months()

    @property
    def problems(self) -> pd.DataFrame:
        """The points that could not be solved, each with the sentence that says why."""
        bad = self.annual[self.annual["problem"].notna()]
        return bad.drop_duplicates("point")[["point", *self.plan.paths, "problem"]]

    def __repr__(self) -> str:
        bad = len(self.problems)
        said = f", {bad} that cannot be solved" if bad else ""
        return (
            f"<Sweep of {self.case.title!r}: {len(self.plan.points)} points{said}, "
            f"{len(self.annual)} rows, varying {', '.join(self.plan.paths)}>"
        )

    def _repr_html_(self) -> str:
        """The first rows for notebooks; every name escaped."""
        return f"<p>{escape(repr(self))}</p>{self.annual.to_html(max_rows=12, max_cols=10)}"


def sweep(
    case: Case,
    vary: Mapping[str, Any] | None = None,
    out: str | Path | None = None,
    *,
    method: Method | None = None,
    points: int | None = None,
    seed: int | None = None,
    hourly: bool | None = None,
    workers: int | None = None,
    executor: Executor | None = None,
    cluster: str | None = None,
    progress: Progress | None = None,
) -> SweepResult:
    """Solve many cases from one, each with all its options.

    Parameters
    ----------
    vary : values by their place in the case: "humidity.limit": "48 %, 50 %" or a list, a range
        "45 % to 55 %" for a Latin hypercube, "site.weather": "stations/*.csv"; by default the
        table [sweep] of the case, as are method, points, seed and hourly
    out : folder to write; a sweep that was stopped goes on there. None keeps it in memory
    workers : processes to use instead of threads
    executor : any of ``concurrent.futures`` to use instead
    cluster : address of a Dask scheduler to use instead

    Raises
    ------
    InputError : a lever that cannot be, a folder that holds something else, no such scheduler
    """
    stated = case.sweep
    if vary is None and stated is None:
        raise InputError(
            "the case has no [sweep] and nothing is varied; write for example "
            '--vary "humidity.limit=48 %, 50 %"'
        )
    plan = make_plan(
        case,
        stated.vary if vary is None and stated is not None else vary or {},
        method=method or (stated.method if stated is not None else "grid"),
        points=points
        if points is not None or stated is None or vary is not None
        else stated.points,
        seed=seed if seed is not None else stated.seed if stated is not None else 1,
        folder=Path.cwd(),
    )
    keep_hours = hourly if hourly is not None else stated is not None and stated.hourly
    if keep_hours and out is None:
        raise InputError("hourly ledgers are written to a folder; name one with out")
    if sum(given is not None for given in (workers, executor, cluster)) > 1:
        raise InputError("workers, executor and cluster each say who solves; keep one of them")
    return run_plan(
        case, plan, None if out is None else Path(out), keep_hours,
        _Crew(workers, executor, cluster), progress,
    )  # fmt: skip


def run_plan(
    case: Case,
    plan: Plan,
    out: Path | None,
    hourly: bool,
    crew: _Crew,
    progress: Progress | None,
) -> SweepResult:
    """Solve the points of a plan and put the tables together."""
    batches = list(make_batches(case, plan, hourly))
    folder = None
    if out is not None:
        folder = Folder(out, plan.paths, parquet_at_hand())
        folder.claim(_what(case, plan, hourly, folder.suffix))
        write_whole(out / "case.toml", lambda file: file.write(case.to_toml(out).encode("utf-8")))
    there = folder.done(batch.name for batch in batches) if folder is not None else set()
    left = [batch for batch in batches if batch.name not in there]
    kept: dict[str, Part] = {}
    total = len(plan.points)
    done = total - sum(len(batch.points) for batch in left)

    def say() -> None:
        if progress is not None:
            progress("sweeping", done, total)

    say()
    for part, size in crew.solve(case, left):
        if folder is None:
            kept[part.name] = part
        else:
            folder.write(part)
        done += size
        say()
    names = [batch.name for batch in batches]
    if folder is None:
        frames = [frame_of(kept[name].annual, plan.paths) for name in names]

        def months() -> pd.DataFrame:
            return _joined([frame_of(kept[n].monthly, plan.paths) for n in names], plan, case)
    else:
        frames = folder.read("annual", names)
        written = folder

        def months() -> pd.DataFrame:
            return _joined(written.read("monthly", names), plan, case)

    annual = _joined(frames, plan, case)
    if out is not None:
        write_whole(
            out / "annual.csv",
            lambda file: annual.to_csv(file, index=False, lineterminator="\n"),
        )
    return SweepResult(case, plan, annual, out, months)


def _joined(frames: list[pd.DataFrame], plan: Plan, case: Case) -> pd.DataFrame:
    """Parts as one table, in the order of points and options."""
    frames = [frame for frame in frames if len(frame)]
    if not frames:
        return pd.DataFrame({"point": []})
    # The widest part says the order of the columns: one of bad points alone has few.
    columns = max((list(frame.columns) for frame in frames), key=len)
    if "month" not in columns and "station" not in columns:  # no point could be solved
        columns += [name for name in (*FOUND, *get_args(AccountName)) if name not in columns]
    table = pd.concat([frame.reindex(columns=columns) for frame in frames], ignore_index=True)
    place = {key: k for k, key in enumerate(case.options)}
    order = table["point"].astype(int) * len(place) + table["option"].map(place).astype(int)
    table = table.iloc[order.argsort(kind="stable")].reset_index(drop=True)
    return table.astype({name: kind_of(name, plan.paths) for name in table.columns})


def _what(case: Case, plan: Plan, hourly: bool, suffix: str) -> dict[str, Any]:
    """What decides a sweep's numbers and files, to know it again."""
    return {
        "case_sha256": case.digest(),
        "dewledger": version("dewledger"),
        "hourly": hourly,
        "levers": {lever.path: [str(v) for v in lever.values] or
                   [f"{lever.low:g} to {lever.high:g} {lever.unit}".strip()]
                   for lever in plan.levers},
        "parts": suffix,
        "points": len(plan.points),
        "points_sha256": _digest(list(plan.points)),
    }  # fmt: skip


def _digest(what: Any) -> str:
    return hashlib.sha256(json.dumps(what, sort_keys=True, default=str).encode()).hexdigest()


def make_batches(case: Case, plan: Plan, hourly: bool) -> Iterator[Batch]:
    """Points of one site together, each batch named by all that decides it."""
    sites: dict[str, list[int]] = {}
    for number, point in enumerate(plan.points, 1):
        site = {path: value for path, value in point.items() if path.startswith("site.")}
        sites.setdefault(_digest(site), []).append(number)
    table = case.given()
    digest = case.digest()
    files: dict[str, str] = {}
    for numbers in sites.values():
        weather = str(plan.points[numbers[0] - 1].get(WEATHER, case.site.weather))
        if weather not in files:
            files[weather] = _file_digest(case, weather)
        size = max(1, min(_MOST_IN_A_BATCH, -(-len(numbers) // _LEAST_PARTS)))
        if hourly:
            size = 1
        for start in range(0, len(numbers), size):
            chosen = tuple(numbers[start : start + size])
            points = tuple(plan.points[number - 1] for number in chosen)
            what = _digest([chosen, list(points), hourly, version("dewledger")])
            name = f"{digest[:12]}-{files[weather][:12]}-{what[:12]}"
            yield Batch(name, table, str(case.folder), chosen, points, hourly)


def _file_digest(case: Case, weather: str) -> str:
    """Digest of a weather file; of its name where it cannot be read, which its points will say."""
    path = bundled_path(weather) or case.path_to(weather)
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return _digest(f"no file {weather}")


@dataclass
class _Crew:
    """Who solves the batches."""

    workers: int | None = None
    executor: Executor | None = None
    cluster: str | None = None

    def solve(self, case: Case, batches: Sequence[Batch]) -> Iterator[tuple[Part, int]]:
        """Parts as they are done, each with the number of its points."""
        if not batches:
            return
        if self.cluster is not None:
            with _dask(self.cluster) as (executor, send, count):
                yield from _flow(case, batches, executor, count, send)
        elif self.executor is not None:
            local = isinstance(self.executor, ThreadPoolExecutor | ProcessPoolExecutor)
            client = getattr(self.executor, "_client", None)
            lay: Send | None = _as_it_is
            if local:
                lay = None
            elif client is not None:
                lay = client.scatter
            count = getattr(self.executor, "_max_workers", None) or 8
            if client is not None:
                count = sum(client.nthreads().values())
            yield from _flow(case, batches, self.executor, count, lay)
        elif self.workers is not None:
            yield from _processes(case, batches, self.workers)
        else:
            with ThreadPoolExecutor(cores()) as pool:
                yield from _flow(case, batches, pool, cores(), None)


Send = Callable[[Any], Any]


def _as_it_is(weather: Any) -> Any:
    return weather


def _flow(
    case: Case,
    batches: Sequence[Batch],
    executor: Executor,
    count: int,
    send: Send | None,
) -> Iterator[tuple[Part, int]]:
    """Keep an executor busy without laying all batches before it at once.

    send : makes of a weather year what is sent with a batch; None where workers read it themselves
    """
    left = iter(batches)
    again: list[Batch] = []
    losses: dict[str, int] = {}
    running: dict[Future[Part], Batch] = {}
    sent: dict[str, Any] = {}
    try:
        while True:
            while len(running) < 2 * count:
                batch = again.pop() if again else next(left, None)
                if batch is None:
                    break
                weather = None if send is None else _sent(case, batch, send, sent)
                running[executor.submit(solve_batch, batch, weather)] = batch
            if not running:
                return
            finished, _ = wait(running, return_when=FIRST_COMPLETED)
            for future in finished:
                batch = running.pop(future)
                try:
                    part = future.result()
                except CancelledError:
                    # A cluster lost the worker that held the weather: it is sent anew.
                    losses[batch.name] = losses.get(batch.name, 0) + 1
                    if losses[batch.name] >= _MOST_LOSSES:
                        raise InputError(
                            "the cluster lost its workers three times over one batch; look at its "
                            "memory, and run again to go on"
                        ) from None
                    sent.clear()
                    again.append(batch)
                    continue
                yield part, len(batch.points)
    finally:
        for future in running:
            future.cancel()


def _sent(case: Case, batch: Batch, send: Send, sent: dict[str, Any]) -> Any:
    """The weather of a batch's site, sent once; None where it cannot be read, which its points will
    say."""
    point: Point = {k: v for k, v in batch.points[0].items() if k.startswith("site.")}
    key = _digest(point)
    if key not in sent:
        try:
            sent[key] = send(weather_of(case.with_values(point) if point else case))
        except InputError:
            sent[key] = None
    return sent[key]


def _processes(case: Case, batches: Sequence[Batch], workers: int) -> Iterator[tuple[Part, int]]:
    """Processes of this machine; where one is lost, what it held is given to new ones."""
    if workers < 1:
        raise InputError(f"{workers} workers cannot solve anything; write 1 or more")
    left = {batch.name: batch for batch in batches}
    losses = 0
    while left:
        # Spawned, not forked: a fork of a process that has threads may never wake up.
        pool = ProcessPoolExecutor(workers, get_context("spawn"), initializer=follow_parent)
        try:
            with ended_on_failure(), pool:
                for part, size in _flow(case, tuple(left.values()), pool, workers, None):
                    del left[part.name]
                    losses = 0
                    yield part, size
        except BrokenProcessPool:
            losses += 1
            if losses >= _MOST_LOSSES:
                raise InputError(
                    "the worker processes were lost three times in a row, most likely for want of "
                    "memory; write fewer --workers, and run again to go on"
                ) from None


@contextmanager
def _dask(address: str) -> Iterator[tuple[Executor, Send, int]]:
    """A Dask scheduler as an executor: weather is laid into its memory, once for each site."""
    try:
        from distributed import Client
    except ImportError:
        raise InputError(
            "--cluster needs dask.distributed; install it with: pip install 'dewledger[cluster]'"
        ) from None
    try:
        client: Any = Client(address, timeout=10)  # type: ignore[no-untyped-call]
    except (OSError, ValueError, TimeoutError) as error:
        raise InputError(
            f'no Dask scheduler answers at "{address}" ({type(error).__name__}); write its '
            'address, such as "tcp://10.0.0.5:8786"'
        ) from None
    with client:
        count = sum(client.nthreads().values())
        if count == 0:
            raise InputError(
                f'the Dask scheduler at "{address}" has no workers; start some with: dask worker '
                f"{address}"
            )
        executor = client.get_executor(pure=False, retries=2)
        yield executor, client.scatter, count
