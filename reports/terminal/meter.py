"""Bills and trends against the model, on a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Console
from rich.text import Text

from dewledger.reports.page.meter import calibration_sentences, meter_sentences, trend_sentences
from dewledger.reports.terminal.study import WIDTH

if TYPE_CHECKING:
    from dewledger.study import Study


def meter_lines(study: Study, console: Console) -> None:
    """Print what bills and trends say of the model, where the case gives any."""
    groups = (meter_sentences(study), calibration_sentences(study), trend_sentences(study))
    for sentences in groups:
        if sentences:
            console.print()
            console.print(Text(" ".join(sentences)), width=min(WIDTH, console.width))
