"""The server of the live page: loopback only, a token in the address, no file but its own.

Every tab has a websocket and a session of its own. Changes are applied in the order they come;
only the newest state is solved, so that quick moves never queue. Pictures follow the table, and are
dropped where something newer waits.
"""

from __future__ import annotations

import asyncio
import json
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import anyio.to_thread
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocket, WebSocketDisconnect

from dewledger.case import Case
from dewledger.reports.live import session as work
from dewledger.reports.live.session import Session
from dewledger.weather.errors import InputError

ASSETS = Path(__file__).parent / "assets"
_KINDS = {".html": "text/html", ".css": "text/css", ".js": "text/javascript"}
_FILES = ("live.css", "live.js")
LARGEST_MESSAGE_BYTES = 65_536
_MOST_SESSIONS = 32
_REFUSED = 4403  # a close before the socket is accepted: the browser sees HTTP 403
_HEADERS = {
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self' data:; connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; "
    "form-action 'none'",
    "referrer-policy": "no-referrer",
    "x-content-type-options": "nosniff",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cache-control": "no-store",
}


class _Headers:
    """The same safe headers on every answer."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] += [(k.encode(), v.encode()) for k, v in _HEADERS.items()]
            await send(message)

        await self.app(scope, receive, with_headers)


@dataclass
class Live:
    """What all tabs share: the case opened, the token, and the sessions by their name."""

    case: Case
    stem: str
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    sessions: dict[str, Session] = field(default_factory=dict)

    def session(self, name: str | None) -> tuple[str, Session]:
        """The session of a name, or a new one."""
        if name is not None and name in self.sessions:
            return name, self.sessions[name]
        while len(self.sessions) >= _MOST_SESSIONS:
            del self.sessions[next(iter(self.sessions))]
        name = secrets.token_urlsafe(12)
        self.sessions[name] = Session(self.case)
        return name, self.sessions[name]

    def lets_in(self, token: str) -> bool:
        """Whether a token is this server's, compared in constant time."""
        return secrets.compare_digest(token.encode(), self.token.encode())


def app_of(live: Live) -> Starlette:
    """The application of a live page."""

    async def page(request: Request) -> Response:
        return _file(live, request, "live.html")

    async def asset(request: Request) -> Response:
        name = request.path_params["name"]
        if name not in _FILES:
            return PlainTextResponse("not found", 404)
        return _file(live, request, name)

    async def download(request: Request) -> Response:
        if not live.lets_in(request.path_params["token"]):
            return _refusal()
        found = live.sessions.get(request.path_params["session"])
        name = request.path_params["name"]
        if found is None or name not in _DOWNLOADS:
            return PlainTextResponse("not found", 404)
        kind, make = _DOWNLOADS[name]
        content = await anyio.to_thread.run_sync(make, found)
        return Response(
            content,
            media_type=kind,
            headers={"content-disposition": f'attachment; filename="{live.stem}-{name}"'},
        )

    async def socket(connection: WebSocket) -> None:
        if not live.lets_in(connection.path_params["token"]) or not _same_origin(connection):
            await connection.close(_REFUSED)
            return
        await connection.accept()
        await _Tab(live, connection).serve()

    async def elsewhere(request: Request) -> Response:
        return _refusal()

    return Starlette(
        routes=[
            Route("/live/{token}/", page),
            Route("/live/{token}/{name}", asset),
            Route("/live/{token}/download/{session}/{name}", download),
            WebSocketRoute("/live/{token}/socket", socket),
            Route("/{rest:path}", elsewhere),
        ],
        middleware=[
            Middleware(_Headers),
            Middleware(TrustedHostMiddleware, allowed_hosts=["127.0.0.1", "localhost", "[::1]"]),
        ],
    )


def _refusal() -> Response:
    return PlainTextResponse("this page opens only by the address that the command printed", 403)


def _file(live: Live, request: Request, name: str) -> Response:
    if not live.lets_in(request.path_params["token"]):
        return _refusal()
    return Response((ASSETS / name).read_bytes(), media_type=_KINDS[Path(name).suffix])


def _same_origin(connection: WebSocket) -> bool:
    """Whether a socket was opened by our own page; one without an Origin is no browser's."""
    origin = connection.headers.get("origin")
    return origin is None or origin == f"http://{connection.headers.get('host', '')}"


def _toml(found: Session) -> bytes:
    return found.case.to_toml(found.first.folder).encode("utf-8")


def _xlsx(found: Session) -> bytes:
    from dewledger.reports.files.workbook import workbook

    return workbook(found.solve())


_DOWNLOADS: dict[str, tuple[str, Callable[[Session], bytes]]] = {
    "case.toml": ("application/toml", _toml),
    "results.xlsx": (
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        _xlsx,
    ),
}


class _Tab:
    """One websocket: what it asks, in order; what it is answered, the newest first."""

    def __init__(self, live: Live, connection: WebSocket) -> None:
        self.live = live
        self.connection = connection
        self.session = Session(live.case)
        self.newest = 0  # number of the last change applied
        self.wanted = asyncio.Event()
        self.study: Any = None
        self.shown: tuple[str, int] | None = None  # option and hour on the psychrometric chart
        self.jobs: set[asyncio.Task[None]] = set()

    async def serve(self) -> None:
        """Answer until the tab is closed."""
        solver = asyncio.create_task(self._solve())
        try:
            while True:
                text = await self.connection.receive_text()
                await self._take(text)
        except (WebSocketDisconnect, RuntimeError):
            pass
        finally:
            for task in (solver, *self.jobs):
                task.cancel()

    async def _send(self, kind: str, **content: Any) -> None:
        await self.connection.send_text(json.dumps({"kind": kind, **content}))

    async def _take(self, text: str) -> None:
        try:
            message = json.loads(text)
            kind = message["kind"]
        except (ValueError, TypeError, KeyError, RecursionError):
            await self._send("refused", path="", sentence="the page sent what is no message")
            return
        path = str(message.get("path", ""))
        number = message.get("number", 0)
        try:
            if kind == "hello":
                name, self.session = self.live.session(message.get("session"))
                await self._send("hello", session=name, **self._state())
            elif kind == "set":
                value = message.get("value")
                self.session.set(path, None if value is None else str(value))
            elif kind == "undo":
                self.session.undo(path or None)
            elif kind == "hour":
                self.shown = str(message.get("option")), int(message.get("hour", -1))
                self._start(self._hour())
                return
            elif kind == "map":
                self._start(self._map(str(message.get("option"))))
                return
            elif kind in _JOBS:
                self._start(_JOBS[kind](self))
                return
            else:
                raise InputError("the page asks for what this server does not know")
        except InputError as error:
            await self._send("refused", path=path, number=number, sentence=str(error))
            return
        except (TypeError, ValueError):
            await self._send(
                "refused", path=path, number=number, sentence="the page sent what is no message"
            )
            return
        self.newest = int(number) if isinstance(number, int) else self.newest
        await self._send("state", number=self.newest, **self._state())
        self.wanted.set()

    def _state(self) -> dict[str, Any]:
        return {"fields": self.session.fields(), "changed": self.session.changed()}

    def _start(self, job: Any) -> None:
        task = asyncio.create_task(job)
        self.jobs.add(task)
        task.add_done_callback(self.jobs.discard)

    async def _solve(self) -> None:
        """Solve the newest state whenever it has changed; then draw it, unless a newer waits."""
        while True:
            await self.wanted.wait()
            self.wanted.clear()
            number, session = self.newest, self.session
            if not _ready():
                await self._send("compiling")
            try:
                study = await anyio.to_thread.run_sync(session.solve)
                content = work.answer_content(study, session.display)
            except InputError as error:
                await self._send("refused", path="", number=number, sentence=str(error))
                continue
            self.study = study
            await self._send("answer", number=number, **content)
            if self.wanted.is_set():
                continue
            drawn = await anyio.to_thread.run_sync(work.pictures, study, session.display)
            if self.wanted.is_set():
                continue
            await self._send("pictures", number=number, pictures=drawn)
            if self.shown is not None:
                await self._hour()

    async def _hour(self) -> None:
        if self.study is None or self.shown is None:
            return
        await self._tried("hour", work.hour_picture, self.study, *self.shown, self.session.display)

    async def _map(self, option: str) -> None:
        if self.study is not None and option in {o.key for o in self.study.options}:
            await self._tried("map", work.year_map, self.study, option)

    async def _tried(self, kind: str, job: Callable[..., dict[str, Any]], *asked: Any) -> None:
        try:
            content = await anyio.to_thread.run_sync(job, *asked)
        except InputError as error:
            await self._send("refused", path="", sentence=str(error))
            return
        await self._send(kind, **content)

    async def _save(self) -> None:
        await self._tried(
            "saved", lambda: {"path": str(work.save_case(self.session, self.live.stem))}
        )

    async def _report(self) -> None:
        await self._send("working", what="writing the report")
        await self._tried(
            "reported", lambda: {"path": str(work.write_report(self.session, self.live.stem))}
        )

    async def _band(self) -> None:
        if self.study is None:
            return
        loop = asyncio.get_running_loop()

        def progress(what: str, done: int, total: int) -> None:
            asyncio.run_coroutine_threadsafe(
                self._send("progress", what=what, done=done, total=total), loop
            )

        await self._tried(
            "band", lambda: {"options": work.band(self.session, self.study, progress)}
        )


_JOBS: dict[str, Callable[[_Tab], Any]] = {
    "save": _Tab._save,
    "report": _Tab._report,
    "band": _Tab._band,
}


def _ready() -> bool:
    """Whether machine code is kept from an earlier run, so that a first answer comes at once."""
    from dewledger.weather.numerics.compiled import something_compiled

    return something_compiled()


def serve(case: Case, stem: str, port: int, open_browser: bool) -> None:
    """Serve the page until Ctrl-C.

    Raises
    ------
    InputError : the port is taken
    """
    import socket

    import uvicorn

    live = Live(case, stem)
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as listening:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind(("127.0.0.1", port))
        except OSError as error:
            raise InputError(
                f"--port {port} cannot be used ({error.strerror}); write another, or leave it out"
            ) from None
        listening.listen(64)
        address = f"http://127.0.0.1:{listening.getsockname()[1]}/live/{live.token}/"
        settings = uvicorn.Config(
            app_of(live),
            ws="websockets-sansio",
            ws_max_size=LARGEST_MESSAGE_BYTES,
            timeout_graceful_shutdown=1,
            log_level="critical",
            access_log=False,
            server_header=False,
        )
        print(address, flush=True)
        if open_browser:
            import webbrowser

            webbrowser.open(address)
        uvicorn.Server(settings).run(sockets=[listening])
