"""Processes that work for this one: none outlives it, and all end at once where it gives up."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager


def follow_parent() -> None:
    """In a process that works for another: end with it, and leave its signals to it.

    The first process is the one to be stopped, by Ctrl-C too, which a terminal sends to both.
    """
    signal.set_wakeup_fd(-1)  # a copy of the process shares the first one's
    for name in ("SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_DFL)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


@contextmanager
def ended_on_failure() -> Iterator[None]:
    """End the processes started inside at once where it fails, however busy they are."""
    before = set(multiprocessing.active_children())
    try:
        yield
    except BaseException:
        for process in set(multiprocessing.active_children()) - before:
            process.kill()
        raise
