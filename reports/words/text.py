"""Text made fit for one line."""

from __future__ import annotations


def plain(text: str) -> str:
    """A title fit for one cell: no control characters, which a terminal would obey."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
