"""What goes with a sweep's table: its summary, changes of verdict, and pictures."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import BinaryIO

import pandas as pd

from dewledger.analysis.sweep.parts import write_whole
from dewledger.analysis.sweep.run import SweepResult
from dewledger.analysis.sweep.summary import by_option, verdict_changes
from dewledger.reports.charts.sweep import sweep_charts


def _put(content: bytes, file: BinaryIO) -> None:
    file.write(content)


def write_summary(result: SweepResult, out: Path) -> list[Path]:
    """Write summary.csv, verdict-changes.csv where there are any, and the pictures as PNG."""
    written = []

    def table(name: str, frame: pd.DataFrame) -> None:
        path = out / name
        write_whole(path, lambda file: frame.to_csv(file, index=False, lineterminator="\n"))
        written.append(path)

    table("summary.csv", by_option(result.annual, result.case))
    changes = verdict_changes(result.annual, result.plan)
    if changes:
        table("verdict-changes.csv", pd.DataFrame([vars(change) for change in changes]))
    for chart in sweep_charts(result.annual, result.case, result.plan):
        path = out / f"{chart.name}.png"
        write_whole(path, partial(_put, chart.png()))
        written.append(path)
    return written
