"""Tables on narrow terminals: a figure is shown whole or not at all."""

import io

import pytest
from rich.console import Console
from rich.text import Text

from dewledger.reports.terminal.tables import quiet_table

FIGURES = {"electricity": "17,300", "over-\ncooling": "25.2", "hours": "1,007", "share": "−20 %"}


def shown(width):
    table = quiet_table("One year")
    table.add_column("option", min_width=10, overflow="fold")
    for head in FIGURES:
        table.add_column(Text(head, justify="right"), justify="right", no_wrap=True)
    table.add_column("verdict", overflow="fold")
    table.add_row("Condenser heat", *FIGURES.values(), "does not comply")
    out = io.StringIO()
    Console(file=out, width=width).print(table)
    return out.getvalue()


@pytest.mark.parametrize("width", range(20, 101, 4))
def test_no_figure_is_cut(width):
    text = shown(width)
    reported = text.partition("Left out")
    assert max(len(line) for line in reported[0].splitlines()) <= width
    for head, figure in FIGURES.items():
        left_out = " ".join(head.split()) in " ".join(reported[2].split())
        assert (figure in reported[0]) is not left_out


def test_what_fits_is_left_as_it_is():
    assert "Left out" not in shown(100)
    assert "does not comply" in shown(100)


@pytest.mark.parametrize("width", range(20, 60, 4))
def test_a_word_too_long_is_broken_not_cut(width):
    table = quiet_table("Ratings")
    table.add_column("condition")
    table.add_column("displacement", justify="right")
    table.add_row("A: weight 0.02", "100 %")
    out = io.StringIO()
    Console(file=out, width=width).print(table)
    assert "…" not in out.getvalue()
