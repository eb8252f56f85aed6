"""A second process that gets ready while the first solves, and then draws half of a report."""

from __future__ import annotations

import gc
import importlib
import multiprocessing
import os
import pickle
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import ExitStack, contextmanager, suppress
from io import FileIO
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

from dewledger.analysis.monte_carlo import cores
from dewledger.analysis.worker_processes import ended_on_failure, follow_parent

if TYPE_CHECKING:
    from dewledger.reports.page.parts import Section
    from dewledger.study import Study

Given = ParamSpec("Given")
Result = TypeVar("Result")


class SecondCore:
    """Does one thing at a time in another process where there is one, else here when asked.

    handed : a file without a name that both processes have: what is handed over, a study of thirty
        megabytes, would lie in memory twice on its way through a pipe
    """

    def __init__(
        self, pool: ProcessPoolExecutor | None = None, handed: FileIO | None = None
    ) -> None:
        self._pool = pool
        self._handed = handed

    def start(
        self, work: Callable[Given, Result], *args: Given.args, **kwargs: Given.kwargs
    ) -> Callable[[], Result]:
        """Begin ``work``, a function of a module; the function returned waits for its result."""
        if self._pool is None or self._handed is None:
            return lambda: work(*args, **kwargs)
        # Packed here and now: the pool would do it later, while what is given may be changing, as
        # a study does whose tables are made when asked for.
        file = self._handed.fileno()
        start = os.lseek(file, 0, os.SEEK_CUR)
        try:
            pickle.dump((work, args, kwargs), _All(file), pickle.HIGHEST_PROTOCOL)
        except OSError:  # no room for it
            return lambda: work(*args, **kwargs)
        size = os.lseek(file, 0, os.SEEK_CUR) - start
        begun: Future[Result] = self._pool.submit(_unpacked, file, size, start)

        def result() -> Result:
            try:
                return begun.result()
            except BrokenProcessPool:  # ended from outside, for want of memory perhaps
                return work(*args, **kwargs)

        return result


class _All:
    """Writes all of what it is given, at once: nothing is left to be written at closing."""

    def __init__(self, file: int) -> None:
        self._file = file

    def write(self, packed: Any) -> None:
        left = memoryview(packed)
        while left:
            left = left[os.write(self._file, left) :]


def _unpacked(file: int, size: int, start: int) -> Any:
    packed = os.pread(file, size, start)
    work, args, kwargs = pickle.loads(packed)  # noqa: S301  (our own process packed it)
    return work(*args, **kwargs)


@contextmanager
def second_core(modules: Sequence[str]) -> Iterator[SecondCore]:
    """A second core with the modules that its work needs; none wants no core.

    They are loaded here first, once for both processes. To be opened before the study is solved,
    while there are no threads: it is a copy of this process. Where none is wanted, a process cannot
    be copied, or there is one core, its work is done here.
    """
    can_copy = "fork" in multiprocessing.get_all_start_methods() and sys.platform != "darwin"
    if not modules or cores() < 2 or not can_copy:
        yield SecondCore()
        return
    for name in modules:
        importlib.import_module(name)
    # What is loaded stays: neither process searches it for garbage again, nor copies it for that.
    gc.freeze()
    pool = ProcessPoolExecutor(1, multiprocessing.get_context("fork"), initializer=follow_parent)
    with ExitStack() as end:
        end.callback(pool.shutdown, cancel_futures=True)
        end.enter_context(ended_on_failure())
        handed = None
        with suppress(OSError):  # where it cannot be put, work is done here
            handed = end.enter_context(tempfile.TemporaryFile(buffering=0))
        pool.submit(gc.disable)  # it ends with the report
        yield SecondCore(pool, handed)


# What takes long to load for a page.
FOR_PAGES = (
    "matplotlib.figure",
    "matplotlib.backends.backend_svg",
    "dewledger.reports.page.hours",
    "dewledger.study",
    "dewledger.weather.numerics.machine_code",
)


def hours_and_maps(study: Study) -> tuple[Section, dict[str, str]]:
    """The design hours' section, and the pictures of every hour of the year as SVG by name."""
    from dewledger.reports.charts.parts import PAIRED_IN
    from dewledger.reports.charts.study import study_maps
    from dewledger.reports.page.hours import hours_section

    display = study.case.display
    maps = {name: chart.svg() for name, chart in study_maps(study, display, PAIRED_IN).items()}
    return hours_section(study, display), maps
