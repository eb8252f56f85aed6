"""The parts a page is made of, so that a section is data and the template need not know it."""

from __future__ import annotations

from dataclasses import dataclass, field

from dewledger.reports.charts.parts import Chart


@dataclass(frozen=True)
class Cell:
    """A cell of a table; ``trace`` names the account it shows, as (option, key)."""

    text: str
    number: bool = False
    trace: tuple[str, str] | None = None


@dataclass(frozen=True)
class Head:
    """A column's head with the unit of its figures."""

    text: str
    unit: str = ""
    number: bool = True


@dataclass(frozen=True)
class Row:
    """A row: its head, its cells, and how it stands among the others."""

    head: str
    cells: tuple[Cell, ...]
    unit: str = ""
    detail: str = ""  # a quiet second line of the head
    part: bool = False  # a part of the row above
    marked: bool = False  # the reference
    group: str = ""  # set on the first row of a group


@dataclass(frozen=True)
class Table:
    """A table; ``long`` ones may run over several printed pages, repeating their head.

    side : narrow; placed next to its neighbor where the page is wide enough
    """

    caption: str
    heads: tuple[Head, ...]
    rows: tuple[Row, ...]
    note: str = ""
    long: bool = False
    units_in_rows: bool = False
    side: bool = False
    kind: str = ""  # a name for its look


@dataclass(frozen=True)
class Picture:
    """A picture as markup with its alternative text inside, and a caption."""

    markup: str
    caption: str = ""


@dataclass(frozen=True)
class Section:
    """A section of the page: everything in it is text, tables and pictures.

    facts : short questions, each with its answer in a sentence or two
    paired : its parts are pictures, two in a row where the page is wide enough
    """

    key: str
    title: str
    paragraphs: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    pictures: tuple[Picture, ...] = ()
    points: tuple[str, ...] = field(default=())
    parts: tuple[Section, ...] = ()  # sections within it, one heading deeper
    kind: str = ""  # "answer" sets its paragraphs apart
    facts: tuple[tuple[str, tuple[str, ...]], ...] = ()
    paired: bool = False


@dataclass(frozen=True)
class Part:
    """One part of the report, for one reader; each can be written alone.

    purpose : whom it is for and what it answers
    cautions : what stands at its foot
    signed : whether it ends with lines for signatures
    """

    key: str
    title: str
    purpose: str
    sections: tuple[Section, ...]
    cautions: tuple[str, ...]
    signed: bool = False


def picture_of(chart: Chart) -> Picture:
    """A chart as a picture of the page."""
    return Picture(chart.svg(), chart.caption)
