"""A sweep in the terminal: options over all points, what could not be solved, where verdicts
change, and the best point found."""

from __future__ import annotations

from typing import Any

import pandas as pd
from rich.console import Console
from rich.text import Text

from dewledger.analysis.sweep.find import Found
from dewledger.analysis.sweep.run import SweepResult
from dewledger.analysis.sweep.summary import by_option, verdict_changes
from dewledger.quantities import rounded
from dewledger.reports.terminal.tables import FittingTable

_MOST_LINES = 6


def summary(result: SweepResult, console: Console) -> None:
    """Print each option over all points, then problems and changes of verdict."""
    table = by_option(result.annual, result.case)
    money = result.case.prices.currency
    count = len(result.plan.points)
    console.print(f"{result.case.title}: {count:,} points, varying {', '.join(result.plan.paths)}")
    if len(result.problems) == count:
        _problems(result, console)
        return
    shown = FittingTable(box=None, padding=(0, 2, 0, 0), header_style="bold")
    shown.add_column("option")
    for head in (
        f"annual cost, {money}",
        "hours too humid",
        "recovered share",
        "energy code",
    ):
        figures = head != "energy code"
        shown.add_column(head, justify="right" if figures else "left", no_wrap=figures)
    for row in _rows(table):
        verdicts = [
            f"{name.removeprefix('points: ')} {int(value):,}"
            for name, value in row.items()
            if name.startswith("points: ") and value > 0
        ]
        shown.add_row(
            str(row["title"]),
            _span(row, "annual_cost", 1.0),
            _span(row, "hours_above_range", 1.0),
            _span(row, "recovered_share", 100.0, " %"),
            ", ".join(verdicts),
        )
    console.print(shown)
    console.print("From the least to the most of all points.")
    _problems(result, console)
    _changes(result, console)


def _rows(table: pd.DataFrame) -> list[dict[str, Any]]:
    return [{str(name): row[name] for name in row} for row in table.to_dict("records")]


def _span(row: dict[str, Any], name: str, factor: float, sign: str = "") -> str:
    values = [row[f"{name}_{word}"] for word in ("least", "most")]
    if any(value is None or pd.isna(value) for value in values):
        return "-"
    low, high = (_number(factor * float(value)) for value in values)
    return (low if low == high else f"{low} to {high}") + sign


def _number(value: float) -> str:
    return f"{value:,.0f}" if abs(value) >= 100.0 else rounded(value, 3)


def _problems(result: SweepResult, console: Console) -> None:
    problems = result.problems
    if not len(problems):
        return
    count = f"{len(problems):,} points" if len(problems) > 1 else "1 point"
    console.print(f"\n{count} could not be solved:")
    for row in problems.head(_MOST_LINES).to_dict("records"):
        at = ", ".join(f"{path} = {row[path]}" for path in result.plan.paths)
        console.print(Text(f"  point {row['point']} ({at}): {row['problem']}"))
    if len(problems) > _MOST_LINES:
        console.print("  and more; annual.csv has every sentence")


def _changes(result: SweepResult, console: Console) -> None:
    changes = verdict_changes(result.annual, result.plan)
    if not changes:
        return
    console.print("\nWhere the energy code’s verdict changes:")
    for change in changes[:_MOST_LINES]:
        console.print(
            Text(
                f"  {change.option}, {change.lever} {change.value} → {change.next_value}"
                f"{' at ' + change.at if change.at else ''}: "
                f"{change.verdict} → {change.next_verdict}. {change.reason}"
            )
        )
    if len(changes) > _MOST_LINES:
        console.print(f"  and {len(changes) - _MOST_LINES:,} more; see verdict-changes.csv")


def found_best(found: Found, console: Console) -> None:
    """Print the best point, what limits it and what one step beyond costs."""
    for sentence in found.sentences:
        console.print(Text(sentence))
