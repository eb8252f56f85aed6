"""Measured and modeled bills, period by period."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from dewledger.reports.charts.parts import (
    Chart,
    grid,
    legend_below,
    margins,
    page_figure,
    thousands,
)
from dewledger.reports.charts.style import AMBER, INK, SLATE

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from dewledger.analysis.meter.comparison import MeterComparison


def bills_chart(found: MeterComparison, title: str) -> Chart:
    """Bars of what was billed next to bars of what is modeled."""
    table = found.monthly
    labels = [f"{start:%b %d}" for start in table["start"]]
    measured = table["measured_kWh"].to_numpy(dtype=float)
    modeled = table["modeled_kWh"].to_numpy(dtype=float)

    def draw() -> Figure:
        drawn, axes = page_figure(2.5)
        margins(drawn, 0.75, 0.15, 0.12, 0.72)
        axis = axes[0][0]
        place = np.arange(len(labels))
        axis.bar(place - 0.2, measured, 0.38, color=SLATE, label="measured")
        axis.bar(
            place + 0.2, modeled, 0.38, color=AMBER, edgecolor=INK, linewidth=0.4, hatch="////",
            label="modeled",
        )  # fmt: skip
        axis.set_xticks(place, labels)
        axis.set_xlabel("first day of the billing period")
        axis.set_ylabel("electricity, kWh")
        thousands(axis.yaxis)
        grid(axis, "y")
        legend_below(drawn, axis, 2)
        return drawn  # type: ignore[no-any-return]

    spoken = "; ".join(
        f"{label} {a:,.0f} and {b:,.0f}"
        for label, a, b in zip(labels, measured, modeled, strict=True)
    )
    return Chart(
        "bills",
        "Measured and modeled bills",
        f"Electricity in kWh of each billing period, measured and modeled: {spoken}",
        f"Electricity billed and modeled for “{title}” in {found.year}.",
        draw,
    )
