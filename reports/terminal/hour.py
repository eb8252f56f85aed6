"""One hour at the terminal: its states, the heats between them, refrigeration and the decision."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

from dewledger.reports.diagrams.hour import Figures, heat_table, refrigeration_table, state_table
from dewledger.reports.terminal.study import WIDTH, caution
from dewledger.reports.terminal.tables import quiet_table
from dewledger.reports.words.text import plain

if TYPE_CHECKING:
    from rich.console import Console

    from dewledger.quantities import Display
    from dewledger.views.hour import HourDetail


def report_hour(
    detail: HourDetail, title: str, display: Display, console: Console, *, dated: bool = True
) -> None:
    """Print an hour in detail in at most 100 columns.

    title : of the case and option
    dated : an hour of the year, not a stated condition
    """
    width = min(WIDTH, console.width)
    console.print(Text(plain(title), style="bold"), width=width)
    console.print(Text(plain(detail.when)), width=width)
    if dated:
        console.print(Text("The hour that begins then, local standard time.", "dim"), width=width)
    console.print()
    console.print(Text(detail.decision), width=width)
    if detail.room_shr is not None:
        console.print(Text(f"Room sensible heat ratio: {detail.room_shr:.2f}"), width=width)
    tables = [("States of the air", state_table(detail, display))]
    tables += [("Heats", heat_table(detail, display))]
    refrigeration = refrigeration_table(detail, display)
    name = "Refrigeration: temperatures while the compressor runs, the rest as means of the hour"
    tables += [(name, refrigeration)] if refrigeration.rows else []
    for name, figures in tables:
        console.print()
        _print(name, figures, console, width)
    console.print()
    for number, point in enumerate(detail.points, 1):
        console.print(
            Text(f"{number} {point.label}: {point.explanation}"), width=width, style="dim"
        )

    console.print()
    caution(console)


def _print(name: str, figures: Figures, console: Console, width: int) -> None:
    table = quiet_table(name)
    table.add_column("", justify="left", min_width=16)
    for head, unit in figures.heads:
        table.add_column(
            Text(f"{head}\n{unit}" if unit else head, justify="right"), justify="right"
        )
    for label, values in figures.rows:
        table.add_row(Text(label), *(Text(value) for value in values))
    console.print(table, width=width)
