"""One tab of the live page: what it asks, in order; what it is answered, the newest first.

Changes are applied in the order they come; only the newest state is solved, so that quick moves
never queue. What takes longer follows the table, and is dropped where something newer waits: the
pictures one by one, then what the energy code says.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import time
from collections.abc import Callable, Coroutine, Iterator
from typing import TYPE_CHECKING, Any, Protocol

import anyio.to_thread
from starlette.websockets import WebSocket, WebSocketDisconnect

from dewledger.reports.live.session import Session, save_case, write_report
from dewledger.weather.errors import InputError

if TYPE_CHECKING:
    from dewledger.case import Case
    from dewledger.study import Progress

# A move that follows so soon is of the same hand: what takes long waits for it to end.
_PAUSE_S = 0.25
_SILENT_S = 1.0  # what takes longer says how far it is
_BETWEEN_S = 0.2


class Home(Protocol):
    """What a tab needs of its server."""

    case: Case
    stem: str

    def session(self, name: str | None) -> tuple[str, Session]:
        """The session of a name, or a new one."""

    def wait(self) -> None:
        """Until what a first answer needs is loaded."""

    def leave(self, name: str) -> None:
        """A tab has no more use for its session."""


class Tab:
    """One websocket with its session."""

    def __init__(self, live: Home, connection: WebSocket) -> None:
        self.live = live
        self.connection = connection
        self.session = Session(live.case)
        self.name = ""  # of the session, once the page has said hello
        self.newest = 0  # number of the last change applied
        self.wanted = asyncio.Event()
        self.study: Any = None
        self.of_map = ""  # option on the map of the year
        self.of_hour: tuple[str, int] | None = None  # option and hour on the psychrometric chart
        self.jobs: dict[str, asyncio.Task[None]] = {}

    async def serve(self) -> None:
        """Answer until the tab is closed."""
        solver = asyncio.create_task(self._solve())
        try:
            while True:
                await self._take(await self.connection.receive_text())
        except (WebSocketDisconnect, RuntimeError, KeyError):
            pass  # closed, or what came was no text
        finally:
            self.live.leave(self.name)
            for task in (solver, *self.jobs.values()):
                task.cancel()

    async def _send(self, kind: str, **content: Any) -> None:
        # A tab that was closed meanwhile misses nothing.
        with contextlib.suppress(WebSocketDisconnect, RuntimeError):
            await self.connection.send_text(json.dumps({"kind": kind, **content}))

    async def _take(self, text: str) -> None:
        name = ""
        number = None
        try:
            message = json.loads(text)
            name, number = str(message.get("name", "")), message.get("number")
            await self._obey(message, name)
        except InputError as error:
            await self._send("refused", name=name, number=number, sentence=str(error))
        except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
            await self._send(
                "refused", name="", number=None, sentence="the page sent what is no message"
            )

    async def _obey(self, message: dict[str, Any], name: str) -> None:
        kind = message["kind"]
        if kind in _MOVES:
            number = int(message["number"])
            _MOVES[kind](self.session, message, name)
            self.newest = number
            await self._send("state", number=number, **self._state())
            self.wanted.set()
        elif kind == "hello":
            await self._hello(message)
        elif kind == "unit":
            self.session.show_in(name, str(message["unit"]))
            await self._send("state", number=self.newest, **self._state())
        elif kind == "hour":
            self.of_hour = str(message["option"]), int(message["hour"])
            self._start(kind, self._hour())
        elif kind == "map":
            self.of_map = str(message["option"])
            self._start(kind, self._map())
        elif kind == "keep":
            self._keep()
            await self._compare()
        elif kind == "drop":
            self.session.kept = None
            await self._compare()
        elif kind in _JOBS:
            self._start(kind, _JOBS[kind](self))
        else:
            raise InputError("the page asks for what this server does not know")

    async def _hello(self, message: dict[str, Any]) -> None:
        """Find the tab's session again, or begin one; a page that outlived its server brings back
        what was answered."""
        asked = message.get("session")
        self.live.leave(self.name)
        name, self.session = self.live.session(None if asked is None else str(asked))
        self.name = name
        digest = self.session.first.digest()
        if name != asked and message.get("digest") == digest and message.get("answers"):
            given = [(str(key), None if v is None else str(v)) for key, v in message["answers"]]
            try:
                self.session.restore(given)
            except InputError as error:
                await self._send("refused", name="", number=None, sentence=str(error))
        self.newest = int(message.get("number") or 0)
        await self._send("hello", session=name, digest=digest, number=self.newest, **self._state())
        self.wanted.set()

    def _state(self) -> dict[str, Any]:
        return {
            "fields": self.session.fields(),
            "changed": self.session.changed(),
            "answers": self.session.answers(),
            "display": self.session.display,
        }

    def _start(self, kind: str, job: Coroutine[Any, Any, None]) -> None:
        """Begin a job; the same asked anew takes the place of one that has not ended."""
        before = self.jobs.get(kind)
        if before is not None:
            before.cancel()
        self.jobs[kind] = asyncio.create_task(job)

    async def _solve(self) -> None:
        """Solve the newest state whenever it has changed; then show more of it, while nothing newer
        waits."""
        while True:
            await self.wanted.wait()
            self.wanted.clear()
            try:
                await self._answer()
                if not await self._newer_within(_PAUSE_S):
                    await self._show_more()
            except InputError as error:
                await self._send("refused", name="", number=self.newest, sentence=str(error))

    async def _newer_within(self, seconds: float) -> bool:
        try:
            await asyncio.wait_for(self.wanted.wait(), seconds)
        except TimeoutError:
            return False
        return True

    async def _answer(self) -> None:
        from dewledger.reports.live import content

        number, session, case = self.newest, self.session, self.session.case
        if not _ready():
            await self._send("compiling")
        began, progress = time.perf_counter(), self._progress("answer")
        await self._run(self.live.wait)
        self.study = await self._run(lambda: session.solve(case, progress))
        found = content.answer_content(self.study, case.display)
        took = time.perf_counter() - began
        await self._send("answer", number=number, took_s=round(took, 4), **found)
        if session.kept is not None:
            await self._compare()

    async def _show_more(self) -> None:
        """Map, pictures, the hour picked and the verdicts, until something newer waits."""
        from dewledger.reports.live import content

        number, session, study = self.newest, self.session, self.study
        display = study.case.display
        await self._map()
        drawn: Iterator[tuple[str, dict[str, str]]] = content.pictures(study, display)
        while (one := await self._run(lambda: next(drawn, None))) is not None:
            await self._send("picture", number=number, name=one[0], **one[1])
            if self.wanted.is_set():
                return
        if self.of_hour is not None:
            await self._hour()
        if self.wanted.is_set():
            return
        progress = self._progress("verdict")
        judged = await self._run(lambda: session.judge(study.case, progress))
        if self.wanted.is_set():
            return
        verdict = content.verdict_content(judged, display)
        await self._send("verdict", number=number, **verdict)

    async def _run(self, job: Callable[[], Any]) -> Any:
        return await anyio.to_thread.run_sync(job)

    def _progress(self, job: str) -> Progress:
        """Says how far a job is, once it takes over a second; called from its thread."""
        loop = asyncio.get_running_loop()
        began = said = time.monotonic()

        def report(what: str, done: int, total: int) -> None:
            sending = self._send("progress", job=job, what=what, done=done, total=total)
            self._start("progress", sending)

        def progress(what: str, done: int, total: int) -> None:
            nonlocal said
            now = time.monotonic()
            if now - began >= _SILENT_S and now - said >= _BETWEEN_S:
                said = now
                with contextlib.suppress(RuntimeError):  # the server has ended
                    loop.call_soon_threadsafe(report, what, done, total)

        return progress

    async def _hour(self) -> None:
        from dewledger.reports.live.content import hour_picture

        if self.study is not None and self.of_hour is not None:
            study, of_hour = self.study, self.of_hour
            display = study.case.display
            await self._tried("hour", lambda: hour_picture(study, *of_hour, display))

    async def _map(self) -> None:
        from dewledger.reports.live.content import year_map

        if self.study is not None:
            study, option = self.study, self.of_map
            await self._tried("map", lambda: year_map(study, option))

    def _keep(self) -> None:
        if self.study is None:
            raise InputError("there is no answer yet to keep")
        self.session.keep(self.study)

    async def _compare(self) -> None:
        from dewledger.reports.live.content import comparison_content

        kept = self.session.kept
        if kept is None or self.study is None:
            await self._send("kept", kept=False)
        else:
            found = comparison_content(kept, self.study, self.study.case.display)
            await self._send("kept", kept=True, **found)

    async def _tried(self, kind: str, job: Callable[[], dict[str, Any]]) -> None:
        try:
            content = await self._run(job)
        except InputError as error:
            await self._send("refused", name="", number=None, sentence=str(error))
            return
        await self._send(kind, **content)

    async def _save(self) -> None:
        stem = self.live.stem
        await self._tried("saved", lambda: {"path": str(save_case(self.session, stem))})

    async def _report(self) -> None:
        stem, progress = self.live.stem, self._progress("report")
        await self._send("progress", job="report", what="solving", done=0, total=0)
        await self._tried(
            "saved", lambda: {"path": str(write_report(self.session, stem, progress))}
        )

    async def _band(self) -> None:
        from dewledger.reports.live.content import band

        study, number, progress = self.study, self.newest, self._progress("band")
        if study is not None:
            await self._tried(
                "band", lambda: {"number": number, "options": band(self.session, study, progress)}
            )


def _set(session: Session, message: dict[str, Any], name: str) -> None:
    value = message.get("value")
    session.set(name, None if value is None else str(value), message.get("moving") is True)


def _undo(session: Session, message: dict[str, Any], name: str) -> None:
    session.undo(name or None)


# What changes the case, and what takes longer than an answer.
_MOVES: dict[str, Callable[[Session, dict[str, Any], str], None]] = {"set": _set, "undo": _undo}
_JOBS: dict[str, Callable[[Tab], Coroutine[Any, Any, None]]] = {
    "save": Tab._save,
    "report": Tab._report,
    "band": Tab._band,
}


def _ready() -> bool:
    """Whether machine code is kept from an earlier run, so that a first answer comes at once."""
    from dewledger.weather.numerics.compiled import something_compiled

    return something_compiled()
