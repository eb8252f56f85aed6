"""The server of the live page: loopback only, a token in the address, no file but its own.

Every tab has a websocket and a session of its own.
"""

from __future__ import annotations

import multiprocessing
import os
import secrets
import signal
import sys
import threading
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import anyio.to_thread
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocket

from dewledger.case import Case
from dewledger.reports.live.session import Session, save_case
from dewledger.reports.live.tab import Tab
from dewledger.weather.errors import InputError
from dewledger.weather.year import WeatherYear

if TYPE_CHECKING:
    import uvicorn

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
    in_use: set[str] = field(default_factory=set)
    weather: dict[str, WeatherYear] = field(default_factory=dict)
    _warm: threading.Thread | None = None

    def warm(self) -> None:
        """Begin to load what a first answer needs, while the browser opens."""
        self._warm = threading.Thread(target=self._load, daemon=True)
        self._warm.start()

    def _load(self) -> None:
        from dewledger.reports.live.content import answer_content, pictures

        with suppress(InputError):  # the tab that asks gets the sentence
            study = Session(self.case, weather=self.weather).solve(self.case)
            answer_content(study, self.case.display)
            self._warm = None
            next(pictures(study, self.case.display))

    def wait(self) -> None:
        """Until a first answer need load no more."""
        loading = self._warm
        if loading is not None:
            while loading.is_alive() and self._warm is not None:
                loading.join(0.05)

    def session(self, name: str | None) -> tuple[str, Session]:
        """The session of a name, a copy of it where another tab has it, or a new one."""
        found = self.sessions.get(name or "")
        if name is not None and found is not None and name not in self.in_use:
            self.in_use.add(name)
            return name, found
        if len(self.sessions) >= _MOST_SESSIONS:
            self._make_room()
        new = secrets.token_urlsafe(12)
        self.sessions[new] = (
            Session(self.case, weather=self.weather) if found is None else found.copy()
        )
        self.in_use.add(new)
        return new, self.sessions[new]

    def _make_room(self) -> None:
        """Forget a session that no tab has: one without changes, else the oldest, saved."""
        idle = [key for key in self.sessions if key not in self.in_use]
        unchanged = [key for key in idle if not self.sessions[key].unsaved]
        if not idle:
            raise InputError(f"{_MOST_SESSIONS} tabs are open; close some and reload this one")
        gone = self.sessions.pop((unchanged or idle)[0])
        if gone.unsaved:
            save_case(gone, self.stem)

    def leave(self, name: str) -> None:
        """A tab was closed; its session can be taken up again."""
        self.in_use.discard(name)

    def end(self) -> list[Path]:
        """Write every case that was changed and not saved, each once; returns the paths."""
        unsaved = {one.case.to_toml(): one for one in self.sessions.values() if one.unsaved}
        return [save_case(one, self.stem) for one in unsaved.values()]

    def lets_in(self, token: str) -> bool:
        """Whether a token is this server's, compared in constant time."""
        return secrets.compare_digest(token.encode(), self.token.encode())


def app_of(live: Live, leave: Callable[[], None] = lambda: None) -> Starlette:
    """The application of a live page.

    leave : called at its end, once what was changed is saved
    """

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
        await Tab(live, connection).serve()

    @asynccontextmanager
    async def lifetime(app: Starlette) -> AsyncIterator[None]:
        live.warm()
        yield
        try:
            for path in await anyio.to_thread.run_sync(live.end):
                print(f"wrote {path}: what was changed on the page", file=sys.stderr)
        except InputError as error:
            print(f"dewledger: what was changed on the page is lost: {error}", file=sys.stderr)
        leave()

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
        lifespan=lifetime,
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

    return workbook(found.whole())


_DOWNLOADS: dict[str, tuple[str, Callable[[Session], bytes]]] = {
    "case.toml": ("application/toml", _toml),
    "results.xlsx": (
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        _xlsx,
    ),
}


def serve(case: Case, stem: str, port: int, open_browser: bool) -> None:
    """Serve the page until Ctrl-C; what was changed and not saved is then written.

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
            app_of(live, _leave),
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
        _server(settings).run(sockets=[listening])


def _leave() -> None:
    """End the process though a thread still solves or compiles: nobody waits for its answer."""
    from dewledger.reports.files.unfinished import remove_unfinished

    for process in multiprocessing.active_children():
        process.kill()
    remove_unfinished()
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(0)


def _server(settings: uvicorn.Config) -> uvicorn.Server:
    """A server that a signal ends as it is meant to end: what was changed is saved, and no more is
    made of it."""
    import uvicorn

    class Ending(uvicorn.Server):
        @contextmanager
        def capture_signals(self) -> Iterator[None]:
            names = ("SIGINT", "SIGTERM", "SIGHUP")
            numbers = [getattr(signal, name) for name in names if hasattr(signal, name)]
            before = {number: signal.signal(number, self.handle_exit) for number in numbers}
            try:
                yield
            finally:
                for number, handler in before.items():
                    signal.signal(number, handler)

    return Ending(settings)
