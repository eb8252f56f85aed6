"""What the command prints: the comparison and the published checks, in at most 100 columns.

No figure rests on colour: the reference is marked in words, so that a pipe or a plain terminal
loses nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from reports.comparison import (
    BY_KEY,
    answer,
    change_text,
    short_keys,
)
from reports.numbers import figure, unit_of

if TYPE_CHECKING:
    from estimator.published import Result
    from estimator.study import Study

_HEADS = {
    "electricity_kWh": "electricity",
    "gas_kWh": "gas",
    "overcooling_heat_kWh": "over-\ncooling",
    "reheat_recovered_kWh": "re-\ncovered",
    "reheat_new_energy_kWh": "bought",
    "reheat_shortfall_kWh": "short",
    "hours_above_range": "above\nrange",
    "hours_below_range": "below\nrange",
}
WIDTH = 100


def plain(text: str) -> str:
    """A title fit for one cell: no control characters, which a terminal would obey."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def _table(title: str) -> Table:
    return Table(
        title=Text(title),
        title_justify="left",
        title_style="bold",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        padding=(0, 1, 0, 0),
        show_edge=False,
    )


def comparison(study: Study, console: Console) -> None:
    """Print the answer of a study and its comparison, one line per option."""
    display = study.case.display
    width = min(WIDTH, console.width)
    for sentence in answer(study, display)[:2]:
        console.print(Text(plain(sentence)), width=width)
    console.print()
    table = _table(f"{plain(study.case.title)}: one year")
    table.add_column(Text("option\n"), justify="left", overflow="fold", min_width=14)
    for key in short_keys(study):
        head = _HEADS[key]
        lines = head.count("\n")
        head = f"{head}{chr(10) * (1 - lines)}\n{unit_of(BY_KEY[key].kind, display)}"
        table.add_column(Text(head, justify="right"), justify="right", no_wrap=True)
    table.add_column(Text("all\nbought\nvs. ref.", justify="right"), justify="right", no_wrap=True)
    for option in study.options:
        reference = option.key == study.reference.key
        table.add_row(
            Text(plain(option.title), style="bold" if reference else ""),
            *(
                Text(figure(option.annual[key], BY_KEY[key].kind, display))
                for key in short_keys(study)
            ),
            Text("ref." if reference else change_text(option, study.reference)),
        )
    console.print(table, width=width)
    console.print()
    console.print(
        Text(
            "Overcooling heat is recovered, bought as reheat, or left short. All bought: "
            "electricity and gas together at the meter, against the reference (ref.)."
        ),
        width=width,
        style="dim",
    )


def verification(results: Sequence[Result], console: Console) -> None:
    """Print the published checks: source, published, computed, difference."""
    width = min(WIDTH, console.width)
    table = _table("Published checks")
    table.add_column("check and source", overflow="fold")
    for head in ("published", "computed", "difference", "allowed"):
        table.add_column(head, justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    group = ""
    for result in results:
        check = result.check
        if check.group != group:
            group = check.group
            table.add_section()
            table.add_row(Text(group, style="bold"), "", "", "", "", "")
        told = Text(check.item)
        said = f"{check.source}; {check.standing}" if check.standing else check.source
        told.append(f"\n{said}", style="dim")
        table.add_row(
            told,
            Text(f"{check.published:,.4g} {check.unit}".rstrip()),
            Text(f"{result.computed:,.4g}"),
            Text(_difference(result.difference, check.absolute, check.unit)),
            Text(_difference(check.tolerance, check.absolute, check.unit)),
            Text("ok" if result.passed else "FAILS", style="" if result.passed else "bold"),
        )
    console.print(table, width=width)
    failed = sum(not result.passed for result in results)
    console.print()
    console.print(
        Text(
            f"All {len(results)} published checks are met."
            if failed == 0
            else f"{failed} of {len(results)} published checks are not met."
        ),
        style="bold",
    )


def _difference(value: float, absolute: bool, unit: str) -> str:
    return f"{value:.2g} {unit}".rstrip() if absolute else f"{100.0 * value:.2g} %"
