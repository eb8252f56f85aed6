"""How the command ends: one sentence and an exit code, whatever happens.

0 done, 1 something to review, 2 cannot be used, 70 a fault of the program, 128 and the number of
the signal where it was stopped, or where nobody reads the output any more. Nothing half-written and
no process is left behind.
"""

from __future__ import annotations

import datetime
import errno
import importlib.metadata
import multiprocessing
import os
import platform
import signal
import sys
import threading
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, NoReturn

import typer

from dewledger.reports.command.streams import errors, lead_nowhere, prepare_streams
from dewledger.reports.files.unfinished import remove_unfinished
from dewledger.weather.errors import InputError

STOPPED = "dewledger: stopped; nothing was written"
# Signals that ask for an end; the first is Ctrl-C, the last a terminal that was closed.
_STOPS = tuple(
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
)
_GRACE_S = 0.5  # for work to notice the signal and tidy up, before it is ended where it stands
# What the place, not the program, is to blame for.
_OF_THE_PLACE = {
    errno.EACCES, errno.EPERM, errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EIO, errno.EMFILE,
    errno.ENFILE, errno.ENAMETOOLONG, errno.EISDIR, errno.ENOTDIR, errno.ENODEV,
    errno.ENXIO, errno.EFBIG, errno.ELOOP,
}  # fmt: skip
_KEPT_LOGS = 20
# As of a program that a closed pipe ends: what reads it, such as `head`, has seen enough.
_NOBODY_READS = 128 + getattr(signal, "SIGPIPE", 13)


class _Stopped(BaseException):
    """Raised where the work stands when a signal asks for an end."""

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.number = number


class _Watch:
    """Ends the process where a signal is not obeyed soon: compiling takes ten seconds.

    The signal's own handler leaves a byte in a pipe; a thread waits for it. From then on the
    process has _GRACE_S to end by itself, interpreter's exit and all.
    """

    def __init__(self) -> None:
        self._read, self._write = os.pipe()
        os.set_blocking(self._write, False)
        signal.set_wakeup_fd(self._write, warn_on_full_buffer=False)
        self._started = False
        self.reported = False

    def start(self) -> None:
        if not self._started:
            self._started = True
            threading.Thread(target=self._wait, daemon=True).start()

    def _wait(self) -> None:
        while (first := os.read(self._read, 1)) and first[0] not in _STOPS:
            pass
        os.close(self._read)
        if not first:
            return
        time.sleep(_GRACE_S)
        _end_children()
        remove_unfinished()
        try:
            if not self.reported:
                show_cursor = "\x1b[?25h" if sys.stderr.isatty() else ""
                os.write(2, f"{show_cursor}\n{STOPPED}\n".encode())
        finally:
            os._exit(128 + first[0])

    def close(self) -> None:
        signal.set_wakeup_fd(-1)
        os.close(self._write)
        if not self._started:
            os.close(self._read)


def _end_children() -> None:
    """Processes that work for this one: leaving the interpreter would wait for them."""
    for process in multiprocessing.active_children():
        process.kill()


_watch: _Watch | None = None


def watch_for_stops() -> None:
    """From here on a stop is obeyed even inside work that does not notice signals.

    A thread watches. So it is called after this process has been copied, and before long work.
    """
    if _watch is not None:
        _watch.start()


@contextmanager
def _obeying_signals() -> Iterator[None]:
    """A signal stops the work, which has a moment to tidy up."""
    global _watch
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def stop(number: int, frame: Any) -> NoReturn:
        for one in _STOPS:
            signal.signal(one, signal.SIG_IGN)
        watch_for_stops()  # tidying up is not to last either
        raise _Stopped(number)

    show = sys.unraisablehook

    def stop_again(lost: sys.UnraisableHookArgs) -> None:
        """Where it cannot be raised, as in what is called when an object goes, a stop would
        come to nothing: it is asked for again, a moment later."""
        if isinstance(lost.exc_value, _Stopped):
            signal.set_wakeup_fd(-1)  # the watch has heard of it
            signal.signal(lost.exc_value.number, stop)
            threading.Timer(0.01, signal.raise_signal, (lost.exc_value.number,)).start()
        else:
            show(lost)

    sys.unraisablehook = stop_again
    before = {one: signal.signal(one, stop) for one in _STOPS}
    _watch = watch = _Watch()
    try:
        yield
    except _Stopped:
        _end_children()
        watch.reported = True
        _print(STOPPED)
        raise
    finally:
        watch.close()
        _watch = None
        sys.unraisablehook = show
        for one, handler in before.items():
            signal.signal(one, handler)


def to_an_end(work: Callable[[], Any]) -> NoReturn:
    """Do the work of the command and end the process."""
    prepare_streams()
    try:
        with _obeying_signals():
            code = work()
            sys.stdout.flush()
        raise SystemExit(code)
    except InputError as error:
        _say(str(error))
        raise SystemExit(2) from None
    except SystemExit as leave:
        if isinstance(leave.__context__, BrokenPipeError):  # click says 1, as for a finding
            raise SystemExit(_NOBODY_READS) from None
        raise
    except _Stopped as stop:
        _leave(128 + stop.number)
    except KeyboardInterrupt:  # raised by other than the signal
        _print(STOPPED)
        raise SystemExit(128 + signal.SIGINT) from None
    except Exception as error:
        if isinstance(error, typer.Abort) and not isinstance(error.__cause__, EOFError):
            _print(STOPPED)  # at a question
            raise SystemExit(128 + signal.SIGINT) from None
        if hasattr(error, "format_message"):  # a word on the command line that is not understood
            _not_understood(error)
        if isinstance(error, OSError) and error.errno in _OF_THE_PLACE:
            lead_nowhere(sys.stdout)
            _say(_place_at_fault(error))
            raise SystemExit(2) from None
        if isinstance(error, MemoryError):
            _say(
                "there is not enough memory for this; run fewer options or points at once, or "
                "close other programs"
            )
            raise SystemExit(2) from None
        if os.environ.get("DEWLEDGER_TRACE"):
            raise
        _say(_fault(error.__cause__ if isinstance(error, typer.Abort) else error))
        raise SystemExit(70) from None


def _leave(code: int) -> NoReturn:
    """End at once: the interpreter would free what was compiled piece by piece, in seconds."""
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError, ValueError):
            stream.flush()
    os._exit(code)


def _say(sentence: str) -> None:
    _print(f"dewledger: {sentence}")


def _print(line: str) -> None:
    with suppress(OSError):  # the terminal may be gone
        errors.print(line, soft_wrap=True)


def _place_at_fault(error: OSError) -> str:
    reason = (error.strerror or str(error)).lower()
    if error.filename is None:
        return f"the output cannot be written ({reason}); send it to another place"
    name = str(error.filename)
    shown = name if len(name) <= 80 else f"{name[:77]}..."
    return f'"{shown}" cannot be used ({reason}); name another file or folder'


def _fault(error: BaseException | None) -> str:
    """The sentence of a fault of the program itself, whose traceback is kept in a file."""
    kind = type(error).__name__
    detail = " ".join(str(error).split())
    said = f"{kind}: {detail}" if detail else kind
    said = said if len(said) <= 200 else f"{said[:197]}..."
    try:
        log = _keep_log(error)
    except OSError:
        return (
            f"a fault inside the program ({said}); set DEWLEDGER_TRACE=1, run it again and report "
            "what it prints"
        )
    return (
        f"a fault inside the program ({said}), not of what you wrote; please report it with the "
        f'case file and with "{log}"'
    )


def _keep_log(error: BaseException | None) -> Path:
    """Write what is to be reported into a file of the user's own; the oldest files go."""
    import platformdirs

    folder = Path(platformdirs.user_log_dir("dewledger", appauthor=False))
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    moment = datetime.datetime.now().astimezone()
    path = folder / f"fault-{moment:%Y-%m-%d-%H%M%S}-{os.getpid()}.log"
    try:
        installed = importlib.metadata.version("dewledger")
    except importlib.metadata.PackageNotFoundError:
        installed = "not installed"
    trace = "".join(traceback.format_exception(error))
    lines = (
        f"dewledger {installed}, Python {platform.python_version()}, {platform.platform()}",
        f"{moment.isoformat(timespec='seconds')}",
        f"command: {' '.join(sys.argv)[:2000]}",
        "",
        trace if len(trace) < 100_000 else f"{trace[:50_000]}\n...\n{trace[-50_000:]}",
    )
    with open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8",
              errors="backslashreplace") as file:  # fmt: skip
        file.write("\n".join(lines))
    for old in sorted(folder.glob("fault-*.log"))[:-_KEPT_LOGS]:
        old.unlink(missing_ok=True)
    return path


def _not_understood(error: Any) -> NoReturn:
    """One sentence for a verb, option or argument that is missing or not known."""
    context = getattr(error, "ctx", None)
    words = context.command_path if context is not None else "dewledger"
    said, _, near = error.format_message().rstrip(".").partition(". Did you mean ")
    if not said:  # the help has been shown
        raise SystemExit(2) from None
    said += f" (did you mean {near})" if near else ""
    sentence = InputError(f"{said[:1].lower()}{said[1:]}; {words} --help shows what can be written")
    _say(str(sentence))
    raise SystemExit(2) from None
