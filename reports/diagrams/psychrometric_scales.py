"""The quiet lines of a psychrometric chart, with labels where there is room for them."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from dewledger.reports.charts.style import (
    FAINT,
    INK,
    MIDDLE,
    QUIET,
)
from dewledger.reports.diagrams.labels import Places
from dewledger.reports.diagrams.psychrometric_canvas import StateCanvas
from dewledger.reports.diagrams.psychrometric_lines import (
    Line,
    enthalpy_lines,
    rel_hum_lines,
    saturation_line,
    wet_bulb_lines,
)
from dewledger.weather.physics.moist_air import FloatArray


def draw_reference(canvas: StateCanvas, pressure_Pa: float) -> None:
    """Saturation, relative humidity, wet bulb and enthalpy, with labels where there is room."""
    scales, shown, places = canvas.scales, canvas.shown, canvas.places
    saturated = saturation_line(scales, shown, pressure_Pa)
    canvas.line(saturated, "saturation", color=INK, linewidth=1.2, zorder=3)
    edge = canvas.spot(*saturated[1:])
    # labels stand outside the saturation line, never on it
    outside = Places(
        (places.area[0] - 16.0, places.area[1], places.area[2], places.area[3] + 12.0),
        places.taken,
        places.lines,
    )
    outside.add_line(*edge)
    for line in wet_bulb_lines(scales, shown, pressure_Pa):
        canvas.line(line, f"wet-bulb {line.value:g}", color=FAINT, linewidth=0.4, zorder=2)
        x, y, nx, ny = _outward(edge, canvas.spot(line.temp_C[0], line.hum_ratio[0]))
        outside.place_text(
            (_number(canvas, line.value, x + d * nx, y + d * ny) for d in (8.0, 9.5)),
            canvas.page.renderer,
        )
    for line in enthalpy_lines(scales, shown, pressure_Pa):
        canvas.line(
            line, f"enthalpy {line.value:g}", color=FAINT, linewidth=0.6, zorder=2,
            linestyle=(0, (1, 3)),
        )  # fmt: skip
        _enthalpy_tick(canvas, outside, line, edge)
    for line in rel_hum_lines(scales, shown, pressure_Pa):
        percent = 100.0 * line.value
        canvas.line(line, f"relative-humidity {percent:.0f}", color=MIDDLE, linewidth=0.4, zorder=2)
        _rel_hum_label(canvas, line, percent)


def _number(canvas: StateCanvas, value: float, x: float, y: float) -> Any:
    return canvas.page.text(
        x, y, f"{value:g}".replace("-", "−"), ha="center", va="center", fontsize=6.5, color=QUIET
    )


def _outward(
    edge: tuple[FloatArray, FloatArray], spot: tuple[FloatArray, FloatArray]
) -> tuple[float, float, float, float]:
    """A place on the saturation line, in points, and the unit normal away from moist air."""
    x, y = float(spot[0]), float(spot[1])
    nearest = int(np.argmin((edge[0] - x) ** 2 + (edge[1] - y) ** 2))
    low, high = max(nearest - 1, 0), min(nearest + 1, edge[0].size - 1)
    dx, dy = float(edge[0][high] - edge[0][low]), float(edge[1][high] - edge[1][low])
    length = math.hypot(dx, dy)
    return x, y, -dy / length, dx / length


def _enthalpy_tick(
    canvas: StateCanvas, outside: Places, line: Line, edge: tuple[FloatArray, FloatArray]
) -> None:
    """The enthalpy scale: a stroke outside saturation that goes on in the line's direction."""
    x0, y0 = canvas.spot(line.temp_C[0], line.hum_ratio[0])
    x1, y1 = canvas.spot(line.temp_C[-1], line.hum_ratio[-1])
    length = math.hypot(float(x1 - x0), float(y1 - y0))
    ux, uy = float(x0 - x1) / length, float(y0 - y1) / length
    x, y, nx, ny = _outward(edge, (x0, y0))
    across = ux * nx + uy * ny
    from_edge, to_edge = 17.0 / across, 22.0 / across
    label = (x + ux * (to_edge + 7.0), y + uy * (to_edge + 6.0))
    if outside.place_text([_number(canvas, line.value, *label)], canvas.page.renderer):
        canvas.page.stroke(
            (x + ux * from_edge, x + ux * to_edge),
            (y + uy * from_edge, y + uy * to_edge),
            color=FAINT,
            linewidth=0.7,
        )


def _rel_hum_label(canvas: StateCanvas, line: Line, percent: float) -> None:
    """A percentage along its line near the end, sliding inward until it is clear."""
    x, y = canvas.spot(line.temp_C, line.hum_ratio)
    length = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])

    def candidates() -> Any:
        for back in range(22, 110, 8):
            at = float(length[-1]) - back
            here = (float(np.interp(at, length, x)), float(np.interp(at, length, y)))
            ahead = (float(np.interp(at + 3, length, x)), float(np.interp(at + 3, length, y)))
            yield canvas.page.text(
                *here,
                f"{percent:.0f} %",
                ha="center",
                va="center",
                fontsize=6.5,
                color=QUIET,
                rotation=math.degrees(math.atan2(ahead[1] - here[1], ahead[0] - here[0])),
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6},
            )

    canvas.places.place_text(candidates(), canvas.page.renderer)
