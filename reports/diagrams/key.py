"""The key beneath a chart: each numbered point with its figures, and what happened, in words."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import NamedTuple

from dewledger.reports.charts.style import QUIET, RULE
from dewledger.reports.diagrams.canvas import CIRCLE, Page

WORDS_CHARACTERS = 100
HEAD, ROW, LINE, PAD = 26.0, 11.5, 10.0, 6.0  # heights in points
LABEL_WIDTH = 170.0


class Column(NamedTuple):
    """A column of figures: heading, unit, and its share of the width."""

    name: str
    unit: str
    share: float = 1.0


class Entry(NamedTuple):
    """A numbered point: label, its figures by column, and an explanation."""

    label: str
    figures: tuple[str, ...]
    words: str


def _lines(entry: Entry, label_width: float) -> tuple[list[str], list[str]]:
    characters = int((label_width - 20.0) / 6.2)  # of the bold label
    return (
        textwrap.wrap(entry.label, characters) or [""],
        textwrap.wrap(entry.words, WORDS_CHARACTERS),
    )


def _entry_height(entry: Entry, label_width: float) -> float:
    label, words = _lines(entry, label_width)
    return ROW * len(label) + LINE * len(words) + PAD


def key_height(entries: Sequence[Entry], label_width: float = LABEL_WIDTH) -> float:
    """The height [pt] the key needs."""
    return HEAD + sum(_entry_height(entry, label_width) for entry in entries) + PAD


def draw_key(
    page: Page,
    entries: Sequence[Entry],
    columns: Sequence[Column],
    left: float,
    right: float,
    top: float,
    label_width: float = LABEL_WIDTH,
) -> None:
    """Draw the key downward from ``top`` between two margins [pt]."""
    start = left + label_width
    total = sum(column.share for column in columns)
    edges = []
    reach = 0.0
    for column in columns:
        reach += column.share
        edges.append(start + reach / total * (right - start))
    for edge, column in zip(edges, columns, strict=True):
        page.text(edge, top - 8.0, column.name, ha="right", fontsize=7.0, color=QUIET)
        page.text(edge, top - 17.0, column.unit, ha="right", fontsize=7.0, color=QUIET)
    y = top - HEAD + 4.0
    for number, entry in enumerate(entries, 1):
        page.stroke((left, right), (y, y), color=RULE, linewidth=0.6)
        label, words = _lines(entry, label_width)
        line = y - 12.0
        page.number(left + CIRCLE, line + 3.0, number)
        for edge, shown in zip(edges, entry.figures, strict=True):
            page.text(edge, line, shown, ha="right", fontsize=8.5)
        for part in label:
            page.text(left + 20.0, line, part, fontsize=8.5, fontweight="bold")
            line -= ROW
        line += 1.0
        for part in words:
            page.text(left + 20.0, line, part, fontsize=7.5, color=QUIET)
            line -= LINE
        y -= _entry_height(entry, label_width)
