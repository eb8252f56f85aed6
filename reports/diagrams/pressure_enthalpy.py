"""The refrigeration cycle on a pressure-enthalpy chart: numbered states on the saturation dome.

Pressure is absolute and on a logarithmic scale. Enthalpy counts from CoolProp's zero for the
refrigerant; only differences mean anything.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from dewledger.components.refrigerants import Refrigerant, refrigerant_named
from dewledger.quantities import Display, rounded
from dewledger.reports.charts.style import FAINT, INK, MIDDLE, QUIET, RULE, SLATE, style_context
from dewledger.reports.diagrams.canvas import CIRCLE, Page, new_page
from dewledger.reports.diagrams.key import Column, Entry, draw_key, key_height
from dewledger.reports.diagrams.labels import Places, box_around
from dewledger.reports.diagrams.refrigerant_dome import Dome, dome, isotherm
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray

if TYPE_CHECKING:
    from matplotlib.figure import Figure

LEFT, RIGHT = 46.0, 14.0  # margins in points
CHART_HEIGHT, AXIS_HEIGHT = 290.0, 40.0
KEY_LEFT, LABEL_WIDTH = 18.0, 240.0
# Near the critical temperature an isotherm runs along the top of the dome and shows nothing.
HUGS_DOME_K = (-3.0, 8.0)
PSI = 6894.757293168
BTU_LB = 2326.0

CyclePoint = tuple[str, float, float]  # label, enthalpy [J/kg], pressure [Pa]


@dataclass(frozen=True)
class Scales:
    """Units of the chart and the steps of its lines."""

    pressure_unit: str
    pressure_Pa: float  # one unit
    enthalpy_unit: str
    enthalpy_J_kg: float
    temp_unit: str
    temp_step: float
    ip: bool

    def temp(self, temp_C: float) -> float:
        """Temperature as shown."""
        return temp_C * 1.8 + 32.0 if self.ip else temp_C

    def temp_C(self, shown: float) -> float:
        """A shown temperature in C."""
        return (shown - 32.0) / 1.8 if self.ip else shown


SCALES: dict[Display, Scales] = {
    "I-P": Scales("psi", PSI, "Btu/lb", BTU_LB, "°F", 20.0, True),
    "SI": Scales("kPa", 1000.0, "kJ/kg", 1000.0, "°C", 10.0, False),
}


@dataclass(frozen=True)
class _Window:
    """Limits in J/kg and Pa."""

    enthalpy_low: float
    enthalpy_high: float
    pressure_low: float
    pressure_high: float


@dataclass
class _Canvas:
    """The axes and the map from states to points of the page."""

    axes: Any
    page: Page
    scales: Scales
    shown: _Window
    places: Places

    def spot(
        self, enthalpy: FloatArray | float, pressure: FloatArray | float
    ) -> tuple[FloatArray, FloatArray]:
        """A state in points of the page."""
        left, bottom, right, top = self.places.area
        shown = self.shown
        across = (np.asarray(enthalpy, dtype=float) - shown.enthalpy_low) / (
            shown.enthalpy_high - shown.enthalpy_low
        )
        up = np.log(np.asarray(pressure, dtype=float) / shown.pressure_low) / math.log(
            shown.pressure_high / shown.pressure_low
        )
        return left + across * (right - left), bottom + up * (top - bottom)

    def line(self, enthalpy: FloatArray, pressure: FloatArray, name: str, **look: Any) -> None:
        """Draw a line of states; ``name`` marks it for tests and for the SVG."""
        self.axes.plot(
            enthalpy / self.scales.enthalpy_J_kg,
            pressure / self.scales.pressure_Pa,
            gid=name,
            **look,
        )


def draw_cycle(
    points: Sequence[CyclePoint],
    refrigerant: str,
    display: Display,
    *,
    title: str,
    subtitle: str = "",
    closed: bool = True,
) -> Figure:
    """The cycle as a figure of the page's width, its key beneath.

    Parameters
    ----------
    points : (label, enthalpy [J/kg], absolute pressure [Pa]) in the order of flow; enthalpies on
        CoolProp's zero for the refrigerant
    closed : join the last point to the first

    Raises
    ------
    InputError : unknown refrigerant, no points, pressures outside the dome's
    """
    substance = refrigerant_named(refrigerant)
    edge = dome(substance)
    _check(points, edge, substance)
    scales = SCALES[display]
    key = [
        Entry(label, _figures(enthalpy, pressure, edge, scales), _phase(enthalpy, pressure, edge))
        for label, enthalpy, pressure in points
    ]
    below = key_height(key, LABEL_WIDTH)
    bottom = below + AXIS_HEIGHT
    with style_context():
        page = new_page(title, subtitle, KEY_LEFT, bottom + CHART_HEIGHT)
        area = (LEFT, bottom, page.width - RIGHT, bottom + CHART_HEIGHT)
        canvas = _Canvas(page.axes(area), page, scales, _window(points, edge), Places(area))
        _frame(canvas)
        _saturation(canvas, edge)
        _note_cycle(canvas, points, closed)
        _temperatures(canvas, edge, substance)
        _cycle(canvas, points, closed)
        columns = [
            Column("pressure", f"{scales.pressure_unit} absolute", 1.25),
            Column("bubble point", scales.temp_unit, 1.1),
            Column("dew point", scales.temp_unit, 1.1),
            Column("enthalpy", scales.enthalpy_unit),
        ]
        draw_key(page, key, columns, KEY_LEFT, page.width - RIGHT, below, LABEL_WIDTH)
    return page.figure  # type: ignore[no-any-return]


def _check(points: Sequence[CyclePoint], edge: Dome, substance: Refrigerant) -> None:
    if not points:
        raise InputError("a refrigeration cycle has no points; give at least one state")
    low, high = edge.dew.pressure_Pa[0], edge.critical_pressure_Pa
    for label, enthalpy, pressure in points:
        if not (math.isfinite(enthalpy) and low < pressure < high):
            raise InputError(
                f'state "{label}" of {substance.name} cannot be drawn; give an enthalpy in J/kg '
                f"and a pressure of {low / 1000:.0f} to {high / 1000:.0f} kPa"
            )


def _figures(enthalpy: float, pressure: float, edge: Dome, scales: Scales) -> tuple[str, ...]:
    shown = (
        rounded(pressure / scales.pressure_Pa),
        f"{scales.temp(float(edge.bubble.temp_at(pressure))):.1f}",
        f"{scales.temp(float(edge.dew.temp_at(pressure))):.1f}",
        rounded(enthalpy / scales.enthalpy_J_kg, 4),
    )
    return tuple(text.replace("-", "−") for text in shown)


def _phase(enthalpy: float, pressure: float, edge: Dome) -> str:
    """What the refrigerant is at a state, in words."""
    bubble = float(edge.bubble.enthalpy_at(pressure))
    dew = float(edge.dew.enthalpy_at(pressure))
    quality = (enthalpy - bubble) / (dew - bubble)
    if quality > 1.002:
        return "Superheated vapor."
    if quality < -0.002:
        return "Subcooled liquid."
    if quality > 0.998:
        return "Saturated vapor."
    if quality < 0.002:
        return "Saturated liquid."
    return f"Liquid and vapor, {100.0 * quality:.0f} % vapor by mass."


def _window(points: Sequence[CyclePoint], edge: Dome) -> _Window:
    """Room around the cycle, and the whole dome above its lowest pressure."""
    enthalpies = [point[1] for point in points]
    pressures = [point[2] for point in points]
    low = max(0.55 * min(pressures), float(edge.dew.pressure_Pa[0]))
    enthalpy, _ = edge.outline(low)
    left = min(*enthalpies, float(enthalpy.min()))
    right = max(*enthalpies, float(enthalpy.max()))
    span = right - left
    return _Window(left - 0.10 * span, right + 0.14 * span, low, 1.25 * edge.critical_pressure_Pa)


def _round_steps(low: float, high: float) -> list[float]:
    """Round pressures across a logarithmic scale."""
    found = []
    for power in range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1):
        found += [m * 10.0**power for m in (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0)]
    return [value for value in found if low <= value <= high]


def _frame(canvas: _Canvas) -> None:
    from matplotlib.ticker import FixedLocator, NullLocator

    axes, scales, shown = canvas.axes, canvas.scales, canvas.shown
    axes.set_yscale("log")
    axes.set_xlim(
        shown.enthalpy_low / scales.enthalpy_J_kg, shown.enthalpy_high / scales.enthalpy_J_kg
    )
    low, high = shown.pressure_low / scales.pressure_Pa, shown.pressure_high / scales.pressure_Pa
    axes.set_ylim(low, high)
    ticks = _round_steps(low, high)
    axes.yaxis.set_major_locator(FixedLocator(ticks))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.set_yticks(ticks, [f"{tick:,.0f}" for tick in ticks])
    axes.tick_params(labelsize=7.5)
    for side, spine in axes.spines.items():
        spine.set_visible(side in ("left", "bottom"))
    axes.grid(color=RULE, linewidth=0.45)
    axes.set_axisbelow(True)
    axes.set_xlabel(f"enthalpy, {scales.enthalpy_unit}", fontsize=8.5)
    axes.set_ylabel(f"pressure, {scales.pressure_unit} absolute", fontsize=8.5)


def _saturation(canvas: _Canvas, edge: Dome) -> None:
    enthalpy, pressure = edge.outline(canvas.shown.pressure_low)
    canvas.line(enthalpy, pressure, "saturation", color=INK, linewidth=1.2, zorder=3)
    canvas.places.add_line(*canvas.spot(enthalpy, pressure))


def _temperatures(canvas: _Canvas, edge: Dome, substance: Refrigerant) -> None:
    """Vapor isotherms with their temperature at the foot; bubble points next to the liquid line."""
    scales, shown, page = canvas.scales, canvas.shown, canvas.page
    left, bottom, right, top = canvas.places.area
    step = scales.temp_step
    coldest = scales.temp(float(edge.dew.temp_at(shown.pressure_low)))
    value = step * math.ceil(coldest / step)
    foot: list[float] = []
    while scales.temp_C(value) < 200.0:
        name = f"{value:.0f}".replace("-", "−")
        temp = scales.temp_C(value)
        if HUGS_DOME_K[0] < temp - edge.dew.temp_C[-1] < HUGS_DOME_K[1]:
            value += step
            continue
        enthalpy, pressure = isotherm(substance, temp, shown.pressure_low, shown.pressure_high)
        x, y = canvas.spot(enthalpy, pressure)
        if x[0] > right - 8.0:
            break
        inside = x <= right
        canvas.line(
            enthalpy[inside], pressure[inside], f"isotherm {value:g}", color=FAINT,
            linewidth=0.5, zorder=2,
        )  # fmt: skip
        if not foot or x[0] - foot[-1] > 16.0:
            near = min(bottom + 7.0, float(y[-1]))
            text = page.text(
                float(np.interp(near, y, x)), near, name, ha="center", va="center", fontsize=6.5,
                color=QUIET, bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6},
            )  # fmt: skip
            if canvas.places.place_text([text], page.renderer):
                foot.append(float(x[0]))
        if temp < edge.bubble.temp_C[-1]:
            _bubble_label(canvas, edge, temp, name)
        value += step
    page.text(
        left + 8.0,
        top - 4.0,
        f"thin lines: vapor at one temperature, {scales.temp_unit}\n"
        f"next to the liquid line: bubble point, {scales.temp_unit}",
        va="top",
        fontsize=7.0,
        color=QUIET,
        linespacing=1.5,
    )


def _bubble_label(canvas: _Canvas, edge: Dome, temp_C: float, name: str) -> None:
    """A stroke and the bubble point left of the liquid line."""
    pressure = edge.bubble.pressure_at(temp_C)
    if not canvas.shown.pressure_low <= pressure:
        return
    x, y = (float(v) for v in canvas.spot(float(edge.bubble.enthalpy_at(pressure)), pressure))
    text = canvas.page.text(x - 9.0, y, name, ha="right", va="center", fontsize=6.5, color=QUIET)
    if canvas.places.place_text([text], canvas.page.renderer):
        canvas.page.stroke((x - 6.0, x - 2.0), (y, y), color=MIDDLE, linewidth=0.7)


def _cycle_lines(points: Sequence[CyclePoint], closed: bool) -> list[tuple[CyclePoint, CyclePoint]]:
    following = [*points[1:], *([points[0]] if closed and len(points) > 2 else [])]
    return list(zip(points, following, strict=False))


def _note_cycle(canvas: _Canvas, points: Sequence[CyclePoint], closed: bool) -> None:
    for start, end in _cycle_lines(points, closed):
        x, y = canvas.spot(np.array([start[1], end[1]]), np.array([start[2], end[2]]))
        canvas.places.add_line(x, y)
    for _, enthalpy, pressure in points:
        x, y = canvas.spot(enthalpy, pressure)
        canvas.places.taken.append(box_around(float(x), float(y), 2.6, 2.6))


def _cycle(canvas: _Canvas, points: Sequence[CyclePoint], closed: bool) -> None:
    """The path with a small arrow on each part, its states, and their numbers on leaders."""
    for number, (start, end) in enumerate(_cycle_lines(points, closed), 1):
        enthalpy, pressure = np.array([start[1], end[1]]), np.array([start[2], end[2]])
        canvas.line(
            enthalpy, pressure, f"cycle {number}", color=SLATE, linewidth=2.2, zorder=4.5,
            solid_capstyle="round",
        )  # fmt: skip
        x, y = canvas.spot(enthalpy, pressure)
        if math.hypot(float(x[1] - x[0]), float(y[1] - y[0])) > 40.0:
            _arrow(canvas, x, y)
    for number, (_, enthalpy_J_kg, pressure_Pa) in enumerate(points, 1):
        canvas.axes.plot(
            [enthalpy_J_kg / canvas.scales.enthalpy_J_kg],
            [pressure_Pa / canvas.scales.pressure_Pa],
            "o", markersize=4.2, color=INK, markeredgecolor="white", markeredgewidth=0.6,
            zorder=6, gid=f"state {number}",
        )  # fmt: skip
        x0, y0 = (float(v) for v in canvas.spot(enthalpy_J_kg, pressure_Pa))
        cx, cy = canvas.places.place_circle(x0, y0, CIRCLE)
        canvas.page.stroke((x0, cx), (y0, cy), color=INK, linewidth=0.6, zorder=5.0)
        canvas.page.number(cx, cy, number)


def _arrow(canvas: _Canvas, x: FloatArray, y: FloatArray) -> None:
    """A chevron in the middle of a straight part."""
    length = math.hypot(float(x[1] - x[0]), float(y[1] - y[0]))
    ux, uy = float(x[1] - x[0]) / length, float(y[1] - y[0]) / length
    tip_x, tip_y = float(x.mean()) + 3.0 * ux, float(y.mean()) + 3.0 * uy
    for side in (1.0, -1.0):
        canvas.page.stroke(
            (tip_x, tip_x - 6.0 * ux + side * 4.0 * uy),
            (tip_y, tip_y - 6.0 * uy - side * 4.0 * ux),
            color=SLATE, linewidth=1.6, zorder=5.0, solid_capstyle="round",
        )  # fmt: skip
