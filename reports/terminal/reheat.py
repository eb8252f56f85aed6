"""Reheat coil sizes on the terminal."""

from __future__ import annotations

from rich.console import Console

from dewledger.reports.page.reheat_sizing import _groups, _names, bounds_points, sizing_sentences
from dewledger.reports.terminal.study import WIDTH
from dewledger.study import Study


def reheat_lines(study: Study, console: Console) -> None:
    """Print the sizes of condenser-heat coils, and what bound drying."""
    display = study.case.display
    width = min(WIDTH, console.width)
    from rich.text import Text

    lines = [
        f"{_names(options)}: {' '.join(sizing_sentences(sizing, options[0], display))}"
        for sizing, options in _groups(study)
    ]
    for line in [*lines, *bounds_points(study, display)]:
        console.print(Text(line), width=width)
