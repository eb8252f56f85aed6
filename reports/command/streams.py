"""What the command reads and prints: any terminal, any encoding, streams that are closed."""

from __future__ import annotations

import codecs
import os
import sys
import unicodedata
from typing import TextIO

from rich.console import Console

# Square brackets are what a user wrote, such as a table of the case, not markup.
errors = Console(stderr=True, highlight=False, markup=False)

# Signs that the command prints, in letters that every encoding has. The degree sign leaves a gap:
# the columns of a table stay in line.
_PLAIN = {
    "°": " ", "²": "2", "³": "3", "·": "*", "×": "x", "−": "-", "–": "-", "—": "-", "→": "->",
    "←": "<-", "≤": "<=", "≥": ">=", "≈": "~", "±": "+/-", "Δ": "delta ", "½": "1/2", "…": "...",
    "“": '"', "”": '"', "‘": "'", "’": "'", "•": "*", "✓": "yes", "✗": "no", "ß": "ss",
}  # fmt: skip
_HANDLER = "dewledger.plain"


def _in_plain_letters(error: UnicodeError) -> tuple[str, int]:
    """Handler of an encoding that lacks a sign: the sign in plain letters, else a question mark."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    written = []
    for sign in error.object[error.start : error.end]:
        plain = _PLAIN.get(sign)
        if plain is None:
            plain = unicodedata.normalize("NFKD", sign).encode("ascii", "ignore").decode() or "?"
        written.append(plain)
    return "".join(written), error.end


def prepare_streams() -> None:
    """Make the three streams usable: closed ones lead nowhere, and every sign can be printed."""
    codecs.register_error(_HANDLER, _in_plain_letters)
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        try:
            os.fstat(number)
        except OSError:  # closed: else the next file that is opened would take its place
            os.open(os.devnull, os.O_RDONLY if number == 0 else os.O_WRONLY)
        if getattr(sys, name) is None:
            mode = "r" if number == 0 else "w"
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=_HANDLER)


def lead_nowhere(stream: TextIO) -> None:
    """What could not be printed is not tried again when the process ends."""
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
    except (OSError, ValueError):
        return
