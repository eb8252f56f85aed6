"""A public service asked over the network: how long it is waited for, and what is said if it fails.

pvlib's functions put the question and read the answer; what they use of ``requests`` is stood in
for here, because one of them has no timeout and neither gives the status of an answer it cannot
use.
"""

import contextlib
import json
import queue
import re
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, TypeVar
from urllib.parse import urlsplit

from dewledger.weather.bundled import BUNDLED
from dewledger.weather.errors import InputError

LARGEST_ANSWER = 50_000_000  # bytes; a year is about 2 MB
Found = TypeVar("Found")


@dataclass(frozen=True)
class Patience:
    """How long a service is waited for, seconds; ``pause_s`` doubles with every try."""

    silence_s: float = 30.0  # without a byte
    whole_s: float = 120.0  # for one answer
    tries: int = 3
    pause_s: float = 2.0
    longest_pause_s: float = 30.0


@dataclass(frozen=True)
class _Answer:
    """What came back, in the words that pvlib uses of it."""

    status_code: int
    content: bytes
    retry_after_s: float

    @property
    def ok(self) -> bool:
        return self.status_code < 400

    def json(self) -> Any:
        return json.loads(self.content)

    def raise_for_status(self) -> None:
        raise _Refused


class _Refused(Exception):
    """The service answered with a status of 400 or more."""


class _TooSlow(Exception):
    """The answer was not whole in time."""


class Asking:
    """Stands where pvlib's modules look for ``requests``.

    pvlib's get_nasa_power has no timeout, and neither function gives the status of an answer that
    it cannot use. This one waits as long as it is set to, and keeps the answer.
    """

    HTTPError = _Refused

    def __init__(self, patience: Patience) -> None:
        self.patience = patience
        self.answer: _Answer | None = None
        self.address = ""

    def get(self, url: str, params: dict[str, Any] | None = None, timeout: float = 0.0) -> _Answer:
        """The answer, or the failure, of a thread that is left behind when it is not done in time.

        The timeout of requests counts from byte to byte: it would wait for ever for a server that
        sends one now and then.
        """
        done: queue.Queue[_Answer | Exception] = queue.Queue()

        def ask() -> None:
            try:
                done.put(self._get(url, params))
            except Exception as problem:
                done.put(problem)

        threading.Thread(target=ask, daemon=True).start()
        try:
            outcome = done.get(timeout=self.patience.whole_s)
        except queue.Empty:
            raise _TooSlow from None
        if isinstance(outcome, Exception):
            raise outcome
        self.answer = outcome
        return outcome

    def _get(self, url: str, params: dict[str, Any] | None) -> _Answer:
        import requests

        with requests.get(
            url, params=params, timeout=self.patience.silence_s, stream=True
        ) as response:
            self.address = response.url
            body = bytearray()
            for piece in response.iter_content(65536):
                body += piece
                if len(body) > LARGEST_ANSWER:
                    raise ValueError("the answer is far longer than a year")
            wait = response.headers.get("Retry-After", "")
        wait_s = float(wait) if wait.isdigit() else 0.0
        return _Answer(response.status_code, bytes(body), wait_s)


def with_patience(
    name: str,
    address: str,
    ask: Callable[[Asking], Found],
    patience: Patience,
    say: Callable[[str], None],
) -> Found:
    """The service's answer, asked again where waiting may help."""
    import requests

    try:
        host = urlsplit(address).hostname
    except ValueError:
        host = None
    if host is None:
        raise InputError(_no_address(address))
    pause = patience.pause_s
    for attempt in range(1, patience.tries + 1):
        say(f"asking {name} at {host}" + (f", try {attempt}" if attempt > 1 else ""))
        asking = Asking(patience)
        again = True
        try:
            return ask(asking)
        except (requests.Timeout, _TooSlow) as problem:
            waited = patience.whole_s if isinstance(problem, _TooSlow) else patience.silence_s
            fault, remedy = f"did not answer at {host} within {waited:g} s", "try again later"
        except requests.RequestException as problem:
            if isinstance(problem, ValueError):  # of the address: requests' own kinds
                raise InputError(_no_address(address)) from None
            if "timed out" in str(problem):
                fault, remedy = f"fell silent in its answer at {host}", "try again later"
            elif isinstance(problem, requests.exceptions.ChunkedEncodingError):
                fault, remedy = f"broke off its answer at {host}", "try again later"
            else:
                fault = f"cannot be reached at {host}"
                remedy = "check the connection to the network"
        except (_Refused, ValueError, KeyError, TypeError, IndexError, AttributeError) as problem:
            answer = asking.answer
            status = 200 if answer is None else answer.status_code
            pause = max(pause, 0.0 if answer is None else answer.retry_after_s)
            if status == 429:
                fault, remedy = (
                    "refuses for now: it has been asked too often (429)",
                    "wait a few minutes",
                )
            elif status >= 500:
                fault, remedy = f"is out of order ({status})", "try again later"
            elif status >= 400:
                fault = f"refuses what was asked ({status}){_reason(answer)}"
                remedy = "choose another place or year"
                again = False
            else:
                if attempt == patience.tries:
                    raise InputError(no_weather(name, problem)) from None
                fault, remedy = "sent no weather year", "try again later"
        if not again or attempt == patience.tries:
            break
        time.sleep(min(pause, patience.longest_pause_s))
        pause *= 2.0
    tried = f" (tried {patience.tries} times)" if again and patience.tries > 1 else ""
    raise InputError(
        f"{name} {fault}{tried}; {remedy}, or use a weather file or a bundled station "
        f"({', '.join(BUNDLED)})"
    )


def _no_address(address: str) -> str:
    return f'"{address}" is no address; write one that starts with https://'


def no_weather(name: str, problem: Exception) -> str:
    return (
        f"{name} sent an answer that is no weather year, cut off or changed in layout "
        f"({_short(problem)}); try again later, or use a weather file or a bundled station "
        f"({', '.join(BUNDLED)})"
    )


def _short(problem: Exception) -> str:
    text = re.sub(r"[^\x20-\x7e]+", " ", f"{type(problem).__name__}: {problem}")
    return text[:80].replace('"', "'")


def _reason(answer: _Answer | None) -> str:
    """The service's own words on a refusal, where it gives them as pvlib knows them."""
    try:
        said = {} if answer is None else answer.json()
    except ValueError:
        return ""
    for key in ("message", "messages", "detail", "header"):
        words = said.get(key) if isinstance(said, dict) else None
        if words:
            return f', saying "{re.sub(r"[^ -~]+", " ", str(words))[:150]}"'
    return ""


@contextlib.contextmanager
def asked_by(module: Any, asking: Asking) -> Iterator[None]:
    usual, module.requests = module.requests, asking
    try:
        yield
    finally:
        module.requests = usual
