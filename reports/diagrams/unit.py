"""Pictures of a unit: its map over outdoor temperature and wet bulb, and its cycle."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from dewledger.dx_unit.cycle import NO_CYCLE, cycle_points
from dewledger.quantities import Display, display_unit, in_unit, show
from dewledger.reports.charts.parts import Chart, grid, margins, page_figure, short_title
from dewledger.reports.charts.style import AMBER, INK, PLUM, QUIET, RUST, SLATE, TEAL
from dewledger.reports.words.unit import rainy_answer, rainy_detail
from dewledger.views.unit_conditions import Condition
from dewledger.weather.errors import InputError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from dewledger.views.unit import UnitView

# Wet bulbs from the driest to the wettest: lightness and dash both differ.
_LINES: tuple[tuple[str, Any], ...] = (
    (AMBER, "-"),
    (RUST, (0, (5, 1.8))),
    (TEAL, "-"),
    (SLATE, (0, (2, 1.4))),
)
_WORDS = 104  # characters of the page's width at its small type
_PANEL_IN, _HEAD_IN, _FOOT_IN = 2.0, 0.5, 1.0


def _panels(display: Display) -> tuple[tuple[str, str, Callable[[Condition], float | None]], ...]:
    """Title, unit and value of each panel."""
    heat, degree = display_unit("heat flow", display), "°F" if display == "I-P" else "°C"

    def temp(value_C: float) -> float:
        return in_unit(value_C, "temperature", display_unit("temperature", display))

    def flow(value_W: float) -> float:
        return in_unit(value_W, "heat flow", heat)

    return (
        ("Gross capacity", heat, lambda c: flow(c.total_W)),
        ("Sensible heat ratio", "", lambda c: c.sensible_heat_ratio),
        ("Power", "kW", lambda c: c.power_W / 1000.0),
        ("Condensing (SCT), no reheat", degree, lambda c: temp(c.condensing_C)),
        ("Reheat available", heat, lambda c: flow(c.reheat_W) if c.reheat_W > 0.0 else None),
        (
            "Max. reheat leaving air",
            degree,
            lambda c: temp(c.reheated_C) if c.reheat_W > 0.0 else None,
        ),
    )


def unit_map(view: UnitView, display: Display) -> Chart:
    """The unit over outdoor temperature, a line per wet bulb; the rainy day marked."""
    answer = rainy_answer(view, display)

    def draw() -> Figure:
        headline = textwrap.wrap(answer, 74)
        detail = textwrap.wrap(rainy_detail(view, display), _WORDS + 16)
        head = _HEAD_IN + 0.19 * len(headline) + 0.145 * len(detail)
        height = head + 2 * _PANEL_IN + _FOOT_IN
        drawn, axes = page_figure(height, 2, 3)
        margins(drawn, 0.42, 0.2, head, _FOOT_IN, wspace=0.24, hspace=0.34)
        left = 0.42 / drawn.get_size_inches()[0]
        y = height - 0.24
        for line in headline:
            drawn.text(left, y / height, line, fontsize=10.5, fontweight="bold")
            y -= 0.19
        for line in detail:
            drawn.text(left, (y + 0.02) / height, line, fontsize=7.5, color=QUIET)
            y -= 0.145
        _draw_panels(axes, view, display)
        _mark(axes[1][2], view, display)
        _draw_key(drawn, left, height, view, display)
        return drawn  # type: ignore[no-any-return]

    return Chart(
        "unit-map",
        f"The unit of {short_title(view.option.title, 50)}",
        f"Six panels over outdoor temperature, a line per entering wet bulb, at full capacity and "
        f"at half "
        f"load: capacity, sensible heat ratio, power, condensing temperature, reheat available, "
        f"reheat leaving air. {answer}",
        "",
        draw,
    )


def _draw_panels(axes: Any, view: UnitView, display: Display) -> None:
    """The six panels: thick at full capacity, thin with dots at half load."""
    degree = display_unit("temperature", display)
    outdoors = [in_unit(value, "temperature", degree) for value in view.map.outdoor_C]
    for axis, (title, unit, value) in zip(axes.ravel(), _panels(display), strict=True):
        for rows, width in ((view.map.full, 1.7), (view.map.half, 0.8)):
            for row, (color, dash) in zip(rows, _LINES, strict=True):
                points = [(x, value(c)) for x, c in zip(outdoors, row, strict=True)]
                kept = [(x, y) for x, y in points if y is not None]
                axis.plot(
                    [x for x, _ in kept], [y for _, y in kept], color=color, linestyle=dash,
                    linewidth=width, marker="o" if width < 1.0 else None, markersize=2.4,
                    clip_on=False,
                )  # fmt: skip
        axis.set_title(f"{title}, {unit}" if unit else title, fontsize=8.2)
        axis.set_xlim(outdoors[0], outdoors[-1])
        axis.set_xticks(outdoors)
        if title != "Sensible heat ratio":
            low, high = axis.get_ylim()
            axis.set_ylim(0.0 if low < 0.75 * high and "°" not in unit else low, high)
        else:
            axis.set_ylim(0.0, 1.04)
        grid(axis, "both")
    for axis in axes[1]:
        axis.set_xlabel(f"outdoor DB, {'°F' if display == 'I-P' else '°C'}")


def _draw_key(drawn: Figure, left: float, height: float, view: UnitView, display: Display) -> None:
    """The lines named below the panels, and what they hold for."""
    from matplotlib.lines import Line2D

    handles = [
        Line2D([], [], color=color, linestyle=dash, linewidth=1.7)
        for color, dash in _LINES[: len(view.map.wet_bulb_C)]
    ]
    labels = [f"entering WB {show(wet, 'temperature', display)}" for wet in view.map.wet_bulb_C]
    handles += [
        Line2D([], [], color=INK, linewidth=1.7),
        Line2D([], [], color=INK, linewidth=0.8, marker="o", markersize=2.4),
    ]
    labels += ["thick: at full capacity", "thin with dots: half load"]
    # Columns fill downward: the wet bulbs in two, then the two loads.
    drawn.legend(
        handles, labels, loc="lower left", bbox_to_anchor=(left - 0.008, 0.16 / height),
        ncols=3, handlelength=2.2, columnspacing=2.0, fontsize=7.5,
    )  # fmt: skip
    drawn.text(
        left, 0.07 / height,
        f"Entering air {show(view.map.temp_in_C, 'temperature', display)} dry bulb; temperatures "
        "while the compressor runs, the rest as means of the hour; power with outdoor fan.",
        fontsize=7.0, color=QUIET,
    )  # fmt: skip


def _mark(axis: Any, view: UnitView, display: Display) -> None:
    """The rainy day on the panel of the reheat leaving air."""
    state = view.rainy.state
    if state.reheat_W <= 0.0:
        axis.text(
            0.5, 0.5, "no heat is recovered", transform=axis.transAxes, ha="center", color=QUIET
        )
        return

    def temp(value_C: float) -> float:
        return in_unit(value_C, "temperature", display_unit("temperature", display))

    x = temp(state.outdoor_C)
    axis.axvline(x, color=PLUM, linewidth=0.7, linestyle=(0, (1, 2)), zorder=1)
    axis.plot([x], [temp(state.reheated_C)], "D", color=PLUM, markersize=5.5, zorder=6)
    low, high = axis.get_ylim()
    right = x < 0.5 * sum(axis.get_xlim())
    axis.annotate(
        f"rain: {show(state.reheated_C, 'temperature', display)}",
        (x, temp(state.reheated_C)),
        (7 if right else -7, -11 if temp(state.reheated_C) > 0.5 * (low + high) else 7),
        textcoords="offset points",
        ha="left" if right else "right",
        fontsize=8.0,
        fontweight="bold",
        color=PLUM,
        zorder=7,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8},
    )


def rated_cycle_chart(view: UnitView, display: Display) -> Chart:
    """The cycle at the rating on a pressure-enthalpy chart.

    Raises
    ------
    InputError : a tabulated unit, which has no cycle
    """
    from dewledger.reports.diagrams.pressure_enthalpy import draw_cycle

    found = view.rated_cycle
    if found is None:
        raise InputError(NO_CYCLE)
    unit = view.machine.unit
    title = f"{unit.refrigerant} at the rating"
    subtitle = (
        f"{show(unit.rated_outdoor_C, 'temperature', display)} outdoors, air in at "
        f"{show(unit.rated_temp_in_C, 'temperature', display)} and "
        f"{show(unit.rated_wet_bulb_C, 'temperature', display)} wet bulb. Discharge gas at "
        f"{show(found.discharge_temp_C, 'temperature', display)}; of the heat rejected "
        f"{100.0 * found.desuperheating_share:.0f}\u00a0% is superheat, "
        f"{100.0 * found.condensing_share:.0f}\u00a0% condenses, "
        f"{100.0 * found.subcooling_share:.0f}\u00a0% subcools."
    )

    def draw() -> Figure:
        return draw_cycle(
            cycle_points(found, display), found.refrigerant, display, title=title, subtitle=subtitle
        )

    return Chart("unit-cycle", title, f"Pressure-enthalpy chart. {subtitle}", subtitle, draw)
