"""A psychrometric chart of one hour or one year, drawn at the station's pressure.

Quiet reference lines, the year's hours as dots whose area is the number of hours, the wanted
humidity range shaded, and the process of one hour as a path of numbered states; beneath, each
number in words and figures. No label covers another.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from dewledger.quantities import Display
from dewledger.reports.charts.style import (
    AMBER,
    CLOUD,
    FAINT,
    IN_RANGE,
    INK,
    MIDDLE,
    PLUM,
    QUIET,
    RANGE_EDGE,
    RULE,
    RUST,
    SLATE,
    TEAL,
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
from dewledger.reports.diagrams.canvas import CIRCLE, Page, new_page
from dewledger.reports.diagrams.key import Column, Entry, draw_key, key_height
from dewledger.reports.diagrams.labels import Places, box_around, extent
from dewledger.reports.diagrams.psychrometric_lines import (
    SCALES,
    Density,
    Line,
    Scales,
    Window,
    density,
    enthalpy_lines,
    range_outline,
    rel_hum_lines,
    saturation_line,
    wet_bulb_lines,
    window,
)
from dewledger.weather.physics.moist_air import FloatArray

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["HumidityRange", "Process", "StatePoint", "Step", "draw_chart", "room_line"]

# What each kind of step is called in the key, and its color, dash and width.
STEPS: dict[StepKind, tuple[str, str, Any, float]] = {
    "mixing": ("mixing", QUIET, (0, (4, 2)), 1.3),
    "cooling": ("cooling coil", SLATE, "-", 2.4),
    "reheat": ("reheat", AMBER, "-", 3.2),
    "fan": ("fan heat", PLUM, (0, (1.2, 1.2)), 2.4),
    "heating": ("space heating", RUST, (0, (5, 1.5)), 2.4),
    "room": ("supply to room", TEAL, "-", 1.3),
    "other": ("other", INK, (0, (6, 1.5, 1, 1.5)), 1.3),
}
ROOM_LINE = ("room sensible heat ratio", RUST, (0, (7, 2, 1.2, 2)), 1.0)

LEFT, RIGHT = 18.0, 50.0  # margins in points
CHART_HEIGHT, AXIS_HEIGHT = 340.0, 40.0
# the widths of the key's columns, as air_process.state_headings lists them
KEY_SHARES = (1.0, 1.45, 0.7, 1.0, 1.05, 1.0)


@dataclass
class _Canvas:
    """The axes of a chart and the map from states to points of the figure."""

    axes: Any
    page: Page
    scales: Scales
    shown: Window
    places: Places

    def at(self, temp_C: FloatArray | float, hum_ratio: FloatArray | float) -> Any:
        """A state in display units."""
        return self.scales.temp(temp_C), self.scales.ratio(hum_ratio)

    def spot(
        self, temp_C: FloatArray | float, hum_ratio: FloatArray | float
    ) -> tuple[FloatArray, FloatArray]:
        """A state in points of the figure."""
        left, bottom, right, top = self.places.area
        temp, ratio = self.at(temp_C, hum_ratio)
        low, high, most = self.shown
        return (
            left + (temp - low) / (high - low) * (right - left),
            bottom + ratio / most * (top - bottom),
        )

    def line(self, line: Line | tuple[FloatArray, FloatArray], name: str, **look: Any) -> None:
        """Draw a line of states; ``name`` marks it for tests and for the SVG."""
        temp, ratio = self.at(*line[-2:])
        self.axes.plot(temp, ratio, gid=name, **look)


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
        canvas = _Canvas(page.axes(area), page, scales, shown, Places(area))
        _frame(canvas, pressure_Pa)
        if humidity_range:
            _range(canvas, humidity_range, pressure_Pa)
        cloud = density(scales, shown, *hours) if hours else None
        if cloud:
            _cloud(canvas, cloud)
        _legend(canvas, process, humidity_range, cloud)
        _note_process(canvas, process)
        _reference(canvas, pressure_Pa)
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


def _frame(canvas: _Canvas, pressure_Pa: float) -> None:
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


def _range(canvas: _Canvas, wanted: HumidityRange, pressure_Pa: float) -> None:
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


def _dot_diameter(canvas: _Canvas, hours: FloatArray, most: float) -> FloatArray:
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


def _cloud(canvas: _Canvas, cloud: Density) -> None:
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


def _legend(
    canvas: _Canvas,
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
                f"wanted: {100 * wanted.low_frac:.0f}–{100 * wanted.high_frac:.0f} % RH, "
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


def _dot_key(canvas: _Canvas, cloud: Density, left: float, y: float) -> float:
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


def _note_process(canvas: _Canvas, process: Process | None) -> None:
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


def _reference(canvas: _Canvas, pressure_Pa: float) -> None:
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


def _number(canvas: _Canvas, value: float, x: float, y: float) -> Any:
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
    canvas: _Canvas, outside: Places, line: Line, edge: tuple[FloatArray, FloatArray]
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


def _rel_hum_label(canvas: _Canvas, line: Line, percent: float) -> None:
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


def _process(canvas: _Canvas, process: Process) -> None:
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
