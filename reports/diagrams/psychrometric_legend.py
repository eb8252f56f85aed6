"""The year's hours as dots on a psychrometric chart, and what its lines and dots mean."""

from __future__ import annotations

from typing import Any

import numpy as np

from dewledger.reports.charts.style import (
    CLOUD,
    FAINT,
    IN_RANGE,
    MIDDLE,
    QUIET,
    RANGE_EDGE,
)
from dewledger.reports.diagrams.air_process import HumidityRange, Process
from dewledger.reports.diagrams.labels import extent
from dewledger.reports.diagrams.psychrometric_canvas import ROOM_LINE, STEPS, StateCanvas
from dewledger.reports.diagrams.psychrometric_lines import (
    Density,
)
from dewledger.weather.physics.moist_air import FloatArray


def _dot_diameter(canvas: StateCanvas, hours: FloatArray, most: float) -> FloatArray:
    """Diameter [pt] of the dot of a cell; the fullest just touches its neighbors.

    In steps of a quarter point, since a few markers used many times make a small file.
    """
    left, bottom, right, top = canvas.places.area
    shown, cell = canvas.shown, canvas.scales.cell
    widest = min(
        (right - left) * cell[0] / (shown.temp_high - shown.temp_low),
        (top - bottom) * cell[1] / shown.ratio_high,
    )
    diameter = widest * np.sqrt(np.asarray(hours, dtype=float) / most)
    steps: FloatArray = np.maximum(np.round(4.0 * diameter), 3.0) / 4.0
    return steps


def draw_cloud(canvas: StateCanvas, cloud: Density) -> None:
    """The hours as dots, the area of each that of the hours in its cell."""
    if not cloud.hours.size:
        return
    diameters = _dot_diameter(canvas, cloud.hours, float(cloud.hours.max()))
    for diameter in np.unique(diameters):
        cells = diameters == diameter
        canvas.axes.plot(
            cloud.temp[cells], cloud.ratio[cells], "o", markersize=diameter, color=CLOUD,
            markeredgewidth=0.0, zorder=1.8, gid="hours",
        )  # fmt: skip


def _off_chart(cloud: Density) -> list[str]:
    inside = int(cloud.hours.sum())
    parts = [
        f"{count:,} h {word}"
        for count, word in (
            (cloud.colder, "colder"),
            (cloud.hotter, "hotter"),
            (cloud.moister, "moister"),
        )
        if count
    ]
    return [f"{inside:,} h shown", *([f"off the chart: {', '.join(parts)}"] if parts else [])]


def draw_legend(
    canvas: StateCanvas,
    process: Process | None,
    wanted: HumidityRange | None,
    cloud: Density | None,
) -> None:
    """What the lines mean, in the corner where no air can be."""
    scales, page = canvas.scales, canvas.page
    left, _, _, top = canvas.places.area
    rows: list[tuple[str, Any]] = []
    if process:
        used = {step.kind for step in process.steps}
        rows += [(name, look) for kind, (name, *look) in STEPS.items() if kind in used]
        if process.room_shr_line:
            name, *look = ROOM_LINE
            ratio = "" if process.room_shr is None else f" {process.room_shr:.2f}"
            rows.append((name + ratio, look))
    rows += [
        (f"wet bulb, {scales.temp_unit}", (FAINT, "-", 0.6)),
        (f"enthalpy, {scales.enthalpy_unit} (outer scale)", (FAINT, (0, (1, 2)), 0.9)),
        ("relative humidity", (MIDDLE, "-", 0.6)),
    ]
    if wanted:
        low, high = (float(scales.temp(t)) for t in (wanted.temp_low_C, wanted.temp_high_C))
        rows.append(
            (
                f"range: {100 * wanted.low_frac:.0f}–{100 * wanted.high_frac:.0f} % RH, "
                f"{low:.0f}–{high:.0f} {scales.temp_unit}",
                "range",
            )
        )
    if cloud and cloud.hours.size:
        cell = f"{scales.cell[0]:g} {scales.temp_unit} × {scales.cell[1]:g} {scales.ratio_unit}"
        rows += [("", "dots"), (f"in a cell of {cell}", None)]
        rows += [(words, None) for words in _off_chart(cloud)]
    y = top - 6.0
    right = left
    for name, look in rows:
        if look == "range":
            page.box(
                (left, y - 3.5, left + 24.0, y + 3.5),
                facecolor=IN_RANGE, edgecolor=RANGE_EDGE, linewidth=0.8,
            )  # fmt: skip
        elif look == "dots":
            assert cloud is not None
            right = max(right, _dot_key(canvas, cloud, left, y))
        elif look is not None:
            color, dash, weight = look
            page.stroke((left, left + 24.0), (y, y), color=color, linestyle=dash, linewidth=weight)
        if name:
            words = canvas.page.text(
                left + 30.0, y, name, va="center_baseline", fontsize=7.5, color=QUIET
            )
            right = max(right, extent(words, canvas.page.renderer)[2])
        y -= 12.0
    canvas.places.taken.append((left, y + 4.0, right, top))


def _dot_key(canvas: StateCanvas, cloud: Density, left: float, y: float) -> float:
    """Three dots and their hours; returns the right edge."""
    most = float(cloud.hours.max())
    sizes = sorted({max(1, round(most * share)) for share in (0.1, 0.4, 1.0)})
    x = left + 30.0
    for size in sizes:
        radius = 0.5 * float(_dot_diameter(canvas, np.array(float(size)), most))
        canvas.page.disc(x + radius, y, radius, facecolor=CLOUD, linewidth=0.0)
        words = canvas.page.text(
            x + 2.0 * radius + 3.0, y, f"{size}", va="center_baseline", fontsize=7.5, color=QUIET
        )
        x = extent(words, canvas.page.renderer)[2] + 8.0
    words = canvas.page.text(
        x - 3.0, y, "hours outdoors", va="center_baseline", fontsize=7.5, color=QUIET
    )
    return extent(words, canvas.page.renderer)[2]
