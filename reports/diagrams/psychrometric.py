"""A psychrometric chart of one hour or one year, drawn at the station's pressure.

Quiet reference lines, the year's hours as dots whose area is the number of hours, the wanted
humidity range shaded, and the process of one hour as a path of numbered states; beneath, each
number in words and figures. No label covers another.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from dewledger.quantities import Display
from dewledger.reports.charts.style import (
    IN_RANGE,
    INK,
    RANGE_EDGE,
    RULE,
    style_context,
)
from dewledger.reports.diagrams.air_process import (
    HumidityRange,
    Process,
    StatePoint,
    Step,
    StepKind,
    check_drawable,
    room_line,
    state_figures,
    state_headings,
)
from dewledger.reports.diagrams.canvas import CIRCLE, new_page
from dewledger.reports.diagrams.key import Column, Entry, draw_key, key_height
from dewledger.reports.diagrams.labels import Places, box_around
from dewledger.reports.diagrams.psychrometric_canvas import ROOM_LINE, STEPS, StateCanvas
from dewledger.reports.diagrams.psychrometric_legend import draw_cloud, draw_legend
from dewledger.reports.diagrams.psychrometric_lines import (
    SCALES,
    density,
    range_outline,
    saturation_line,
    window,
)
from dewledger.reports.diagrams.psychrometric_scales import draw_reference
from dewledger.weather.physics.moist_air import FloatArray

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["HumidityRange", "Process", "StatePoint", "Step", "draw_chart", "room_line"]

LEFT, RIGHT = 18.0, 50.0  # margins in points
CHART_HEIGHT, AXIS_HEIGHT = 340.0, 40.0
# the widths of the key's columns, as air_process.state_headings lists them
KEY_SHARES = (1.0, 1.45, 0.7, 1.0, 1.05, 1.0)


def draw_chart(
    *,
    pressure_Pa: float,
    display: Display,
    process: Process | None = None,
    hours: tuple[FloatArray, FloatArray] | None = None,
    humidity_range: HumidityRange | None = None,
    title: str,
    subtitle: str = "",
    key: bool = True,
) -> Figure:
    """The chart as a figure of the page's width.

    Parameters
    ----------
    pressure_Pa : the station's pressure, 50 to 110 kPa
    hours : dry bulb [C] and humidity ratio [kg/kg] of each hour, equal lengths
    key : with each numbered state in words and figures beneath

    Raises
    ------
    InputError : pressure out of range, states not finite or above saturation
    """
    points = process.points if process else ()
    check_drawable(pressure_Pa, points, hours, humidity_range)
    scales = SCALES[display]
    extreme = _extremes(points, hours, humidity_range, pressure_Pa)
    shown = window(scales, *extreme)

    entries = _key_entries(points, pressure_Pa, display) if key else []
    below = key_height(entries) if entries else 6.0
    bottom = below + AXIS_HEIGHT
    with style_context():
        page = new_page(title, subtitle, LEFT, bottom + CHART_HEIGHT)
        area = (LEFT, bottom, page.width - RIGHT, bottom + CHART_HEIGHT)
        canvas = StateCanvas(page.axes(area), page, scales, shown, Places(area))
        _frame(canvas, pressure_Pa)
        if humidity_range:
            _range(canvas, humidity_range, pressure_Pa)
        cloud = density(scales, shown, *hours) if hours else None
        if cloud:
            draw_cloud(canvas, cloud)
        draw_legend(canvas, process, humidity_range, cloud)
        _note_process(canvas, process)
        draw_reference(canvas, pressure_Pa)
        if process:
            _process(canvas, process)
        if entries:
            columns = [
                Column(name, unit, share)
                for (name, unit), share in zip(state_headings(display), KEY_SHARES, strict=True)
            ]
            draw_key(page, entries, columns, LEFT, page.width - 14.0, below)
    return page.figure  # type: ignore[no-any-return]


def _extremes(
    points: Sequence[StatePoint],
    hours: tuple[FloatArray, FloatArray] | None,
    humidity_range: HumidityRange | None,
    pressure_Pa: float,
) -> tuple[FloatArray, FloatArray]:
    """States the window must hold: all points, the range, and hours but the rarest hot ones."""
    temps = [point.temp_C for point in points]
    ratios = [point.hum_ratio for point in points]
    if humidity_range:
        edge = range_outline(
            humidity_range.low_frac,
            humidity_range.high_frac,
            humidity_range.temp_low_C,
            humidity_range.temp_high_C,
            pressure_Pa,
        )
        temps += [float(edge[0].min()), float(edge[0].max())]
        ratios += [float(edge[1].min()), float(edge[1].max())]
    if hours and hours[0].size:
        temps.append(float(np.quantile(hours[0], 0.999)))
        ratios.append(float(np.quantile(hours[1], 0.999)))
    return np.array(temps), np.array(ratios)


def _frame(canvas: StateCanvas, pressure_Pa: float) -> None:
    """Scales and grid: the grid ends at saturation, where moist air ends."""
    from matplotlib.collections import LineCollection

    axes, scales, shown = canvas.axes, canvas.scales, canvas.shown
    axes.set_xlim(shown.temp_low, shown.temp_high)
    axes.set_ylim(0.0, shown.ratio_high)
    axes.yaxis.set_label_position("right")
    axes.yaxis.tick_right()
    for side, spine in axes.spines.items():
        spine.set_visible(side in ("right", "bottom"))
    temps = np.arange(shown.temp_low, shown.temp_high + 1e-9, scales.temp_step)
    # a window widened far keeps its labels apart
    step = scales.ratio_step * math.ceil(shown.ratio_high / scales.ratio_step / 13.0)
    ratios = np.arange(0.0, shown.ratio_high + 1e-9, step)
    axes.set_xticks(temps)
    axes.set_yticks(ratios)
    axes.tick_params(labelsize=7.5)
    axes.set_xlabel(f"dry bulb, {scales.temp_unit}", fontsize=8.5)
    axes.set_ylabel(f"humidity ratio, {scales.ratio_unit} of dry air", fontsize=8.5)
    saturated = saturation_line(scales, shown, pressure_Pa)
    edge_temp, edge_ratio = scales.temp(saturated.temp_C), scales.ratio(saturated.hum_ratio)
    top = np.interp(temps, edge_temp, edge_ratio)
    start = np.interp(ratios, edge_ratio, edge_temp, left=shown.temp_low)
    segments = [[(x, 0.0), (x, y)] for x, y in zip(temps, top, strict=True)]
    segments += [[(x, y), (shown.temp_high, y)] for x, y in zip(start, ratios, strict=True)]
    axes.add_collection(LineCollection(segments, colors=RULE, linewidths=0.45, zorder=1))


def _range(canvas: StateCanvas, wanted: HumidityRange, pressure_Pa: float) -> None:
    outline = range_outline(
        wanted.low_frac, wanted.high_frac, wanted.temp_low_C, wanted.temp_high_C, pressure_Pa
    )
    canvas.axes.fill(
        *canvas.at(*outline),
        facecolor=IN_RANGE,
        edgecolor=RANGE_EDGE,
        linewidth=0.8,
        zorder=1.5,
        gid="range",
    )


def _note_process(canvas: StateCanvas, process: Process | None) -> None:
    """Keep quiet labels off the process."""
    if process is None:
        return
    for place in _paths(process):
        canvas.places.add_line(*canvas.spot(*place[1:]))
    for point in process.points:
        x, y = canvas.spot(point.temp_C, point.hum_ratio)
        canvas.places.taken.append(box_around(float(x), float(y), 2.6, 2.6))


def _paths(process: Process) -> list[tuple[StepKind | None, FloatArray, FloatArray]]:
    """Every line of the process as arrays; the room's ratio line has no kind."""
    paths: list[tuple[StepKind | None, FloatArray, FloatArray]] = []
    if process.room_shr_line:
        paths.append((None, *process.room_shr_line))
    for step in process.steps:
        start, end = process.points[step.start], process.points[step.end]
        if step.kind == "cooling" and process.coil_line:
            paths.append((step.kind, *process.coil_line))
        else:
            paths.append(
                (
                    step.kind,
                    np.array([start.temp_C, end.temp_C]),
                    np.array([start.hum_ratio, end.hum_ratio]),
                )
            )
    return paths


def _process(canvas: StateCanvas, process: Process) -> None:
    """The path, then its states as dots, then their numbers on leaders."""
    for number, (kind, temp, ratio) in enumerate(_paths(process)):
        _, color, dash, weight = STEPS[kind] if kind else ROOM_LINE
        canvas.line(
            (temp, ratio), f"{kind or 'room-ratio'} {number}", color=color, linestyle=dash,
            linewidth=weight, zorder=4.5 if kind else 4.2,
        )  # fmt: skip
    for number, point in enumerate(process.points, 1):
        temp, hum_ratio = canvas.at(point.temp_C, point.hum_ratio)
        canvas.axes.plot(
            [temp], [hum_ratio], "o", markersize=4.2, color=INK, markeredgecolor="white",
            markeredgewidth=0.6, zorder=6, gid=f"state {number}",
        )  # fmt: skip
        x, y = (float(value) for value in canvas.spot(point.temp_C, point.hum_ratio))
        cx, cy = canvas.places.place_circle(x, y, CIRCLE)
        canvas.page.stroke((x, cx), (y, cy), color=INK, linewidth=0.6, zorder=5.0)
        canvas.page.number(cx, cy, number)


def _key_entries(points: Sequence[StatePoint], pressure_Pa: float, display: Display) -> list[Entry]:
    return [
        Entry(point.label, state_figures(point, pressure_Pa, display), point.explanation)
        for point in points
    ]
