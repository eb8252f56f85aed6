"""Tables on terminals of any width: a figure is shown whole or not at all."""

from __future__ import annotations

from copy import copy
from dataclasses import replace
from typing import Any

from rich import box
from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, RenderResult
from rich.table import Column, Table
from rich.text import Text

# Words may be broken down to this many letters; figures are not broken.
_NARROWEST = 8


class FittingTable(Table):
    """A table that leaves out columns of figures, the last first, where it would cut digits.

    Below it stands what was left out.
    """

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        for column in self.columns:  # a word too long goes on in the next line, it is not cut
            column.overflow = "fold"
        columns = self._fitting(options.max_width)
        if len(columns) == len(self.columns):
            yield from super().__rich_console__(console, options)
            return
        shown = copy(self)
        shown.columns = [replace(column, _index=place) for place, column in enumerate(columns)]
        yield from Table.__rich_console__(shown, console, options)
        left_out = [_head(column) for column in self.columns if column not in columns]
        if any(left_out):
            yield Text(
                f"Left out, the terminal is too narrow: {'; '.join(filter(None, left_out))}",
                style="dim",
            )

    def _fitting(self, width: int) -> list[Column]:
        columns = list(self.columns)
        needs = {id(column): _needed(column) + sum(self.padding[1::2]) for column in columns}
        for figures in (True, False):
            for column in reversed(columns[1:]):
                between = len(columns) - 1 if self.box else 0
                if sum(needs[id(one)] for one in columns) + between <= width:
                    return columns
                if column.no_wrap is figures:
                    columns.remove(column)
        return columns


def _needed(column: Column) -> int:
    cells = [column.header, *column.cells]
    widest = max((cell_len(line) for cell in cells for line in _lines(cell)), default=0)
    if column.no_wrap:
        return widest
    return min(widest, max(column.min_width or 0, _NARROWEST))


def _lines(cell: Any) -> list[str]:
    return (cell.plain if isinstance(cell, Text) else str(cell)).splitlines()


def _head(column: Column) -> str:
    return " ".join(" ".join(_lines(column.header)).split())


def quiet_table(title: str) -> FittingTable:
    """A table of few lines under a bold title."""
    return FittingTable(
        title=Text(title),
        title_justify="left",
        title_style="bold",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        padding=(0, 1, 0, 0),
        show_edge=False,
    )
