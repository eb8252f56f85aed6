"""Charts of all 8760 hours: duration curves, day-by-hour pictures, exceedance."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from dewledger.accounts.energy import column
from dewledger.quantities import Display
from dewledger.reports.charts.parts import (
    JOINED,
    MONTHS,
    PAIRED_IN,
    Chart,
    curve_groups,
    grid,
    legend_below,
    legend_shape,
    listed,
    margins,
    page_figure,
    plot_curves,
    short_title,
    thousands,
)
from dewledger.reports.charts.style import IN_RANGE, QUIET, STYLE, WIDTH_IN
from dewledger.reports.words.metrics import controlled
from dewledger.reports.words.numbers import figure, in_display, unit_of, words
from dewledger.weather.physics.moist_air import FloatArray

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from dewledger.accounts.option_year import OptionYear
    from dewledger.study import Study

MONTH_STARTS = np.cumsum([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])


def duration(study: Study, display: Display, width_in: float = WIDTH_IN) -> Chart:
    """Hours of the year in which the room is at least so humid, all options."""
    options = study.options
    curves = [100.0 * np.sort(column(o.ledger, "room_rh_frac"))[::-1] for o in options]
    low = 100.0 * float(study.case.humidity.range_low)
    high = 100.0 * float(study.case.humidity.range_high)
    groups = curve_groups(curves, 0.25)
    rows, columns = legend_shape(groups, list(options), width_in)
    every = slice(0, None, 40)
    hours = np.arange(float(curves[0].size))[every]

    def draw() -> Figure:
        drawn, axes = page_figure(2.55 + 0.17 * rows, width_in=width_in)
        margins(drawn, 0.56, 0.22, 0.08, 0.46 + 0.17 * rows)
        axis = axes[0][0]
        axis.axhspan(low, high, color=IN_RANGE, zorder=0)
        axis.annotate(
            f"range {low:.0f}–{high:.0f} %",
            (0.0, low),
            (5, 4),
            xycoords=("axes fraction", "data"),
            textcoords="offset points",
            color=QUIET,
            fontsize=8.0,
        )
        plot_curves(axis, hours, list(options), [curve[every] for curve in curves], groups, study)
        axis.set_xlim(0, 8760)
        lowest = min(float(c[-1]) for c in curves)
        highest = max(float(c[0]) for c in curves)
        axis.set_ylim(
            max(0.0, 10.0 * np.floor(min(lowest, low) / 10.0)),
            min(100.0, 10.0 * np.ceil(max(highest, high + 5.0) / 10.0)),
        )
        ticks = [*range(0, 8000, 1000 if width_in > PAIRED_IN else 2000), 8760]
        axis.set_xticks(ticks, [f"{hour:,}" for hour in ticks])
        axis.set_xlabel("Hours of the year at or above that relative humidity")
        axis.set_ylabel("Room relative humidity, %")
        grid(axis, "both")
        legend_below(drawn, axis, columns)
        return drawn  # type: ignore[no-any-return]

    alt = "Duration curves of room relative humidity: " + listed(
        [
            f"{o.title} above {high:.0f} % for {o.annual['hours_above_range']:,} hours, "
            f"below {low:.0f} % for {o.annual['hours_below_range']:,}"
            for o in options
        ]
    )
    caption = "The shaded band is the range that hours are counted against. "
    caption += JOINED if columns == 1 else ""
    return Chart(
        "humidity-duration", "Relative humidity duration curve", alt, caption.strip(), draw
    )


# Steps of room humidity around the range, in points of relative humidity; lightness falls all the
# way from dry to humid, so that the picture reads the same in gray.
_HUMIDITY_STEPS = (-15.0, -5.0, 0.0)
_HUMIDITY_ABOVE = (0.0, 5.0, 10.0, 20.0)
_HUMIDITY_FILLS = (
    "#fdf3dc", "#fbe7bd", "#f1d79f", "#c9d8c5", "#7fa6b4", "#4d7d96", "#2b5674", "#142f4c",
)  # fmt: skip


def _day_by_hour(values: FloatArray) -> FloatArray:
    """A year's hours as a picture: (24, 365), midnight at the bottom."""
    return values.reshape(365, 24).T


def _calendar_axis(axis: Any, last: bool) -> None:
    """Hours upward, months across; the last of several panels names the months."""
    from matplotlib.lines import Line2D
    from matplotlib.markers import TICKDOWN, MarkerStyle

    axis.set_xlim(0, 365)
    axis.set_ylim(0, 24)
    axis.set_yticks([0, 12, 24], ["0", "12", "24"])
    axis.set_xticks(MONTH_STARTS + 15 if last else [], MONTHS if last else [], va="baseline")
    axis.tick_params(axis="x", length=0, pad=11)
    axis.tick_params(axis="y", length=2)
    # One artist; as ticks, the beginnings of the months of all panels take longer than the rest.
    axis.add_artist(
        Line2D(
            MONTH_STARTS, np.zeros(12), linestyle="none", marker=MarkerStyle(TICKDOWN),
            markersize=2, markeredgewidth=STYLE["xtick.major.width"], color=QUIET, clip_on=False,
            zorder=2.01,
        )
    )  # fmt: skip


def _picture(axis: Any, values: FloatArray, fills: list[str], bounds: list[float]) -> None:
    from matplotlib.colors import BoundaryNorm, ListedColormap

    axis.imshow(
        _day_by_hour(values),
        origin="lower",
        extent=(0, 365, 0, 24),
        aspect="auto",
        interpolation="none",
        cmap=ListedColormap(fills),
        norm=BoundaryNorm(bounds, len(fills)),
    )


def _panels(count: int, width_in: float) -> tuple[Any, Any]:
    each = 0.85 if width_in > PAIRED_IN else 0.7
    drawn, axes = page_figure(0.62 + each * count, count, 1, width_in)
    # The title of a panel stands clear of the ticks of the one above.
    margins(drawn, 0.46, 0.06, 0.24, 0.6, hspace=0.46 if width_in > PAIRED_IN else 0.72)
    return drawn, axes[:, 0]


def _key(drawn: Any, fills: list[str], labels: list[str], width: float) -> None:
    """Steps of shade with their meaning, beneath the panels."""
    from matplotlib.patches import Patch

    drawn.legend(
        [Patch(facecolor=fill, edgecolor=QUIET, linewidth=0.5) for fill in fills],
        labels,
        loc="lower left",
        bbox_to_anchor=(0.0, 0.0),
        ncols=len(fills) if width > PAIRED_IN else -(-len(fills) // 2),
        handlelength=1.3,
        handletextpad=0.4,
        columnspacing=0.9,
        fontsize=7.5,
    )


def humidity_map(study: Study, display: Display, width_in: float = WIDTH_IN) -> Chart:
    """Room humidity by hour of day and day of year, one panel per option."""
    low = 100.0 * float(study.case.humidity.range_low)
    high = 100.0 * float(study.case.humidity.range_high)
    inner = [low + step for step in _HUMIDITY_STEPS] + [high + step for step in _HUMIDITY_ABOVE]
    labels = [
        f"under {inner[0]:.0f} %",
        *(f"{max(a, 0.0):.0f}–{min(b, 100.0):.0f}" for a, b in pairwise(inner)),
        f"over {inner[-1]:.0f} %",
    ]
    labels[3] += " (in range)"
    # a value that only touches the range's edge is in range
    edges = [*inner[:2], inner[2] - 0.02, *(bound + 0.02 for bound in inner[3:])]
    # Next to a range near 0 or 100 % some shades have nothing to show.
    shades = [
        shade
        for shade in zip([-1.0, *edges], [*edges, 101.0], _HUMIDITY_FILLS, labels, strict=True)
        if shade[1] > 0.0 and shade[0] < 100.0
    ]
    fills, labels = [shade[2] for shade in shades], [shade[3] for shade in shades]
    bounds = [-1.0, *(shade[1] for shade in shades[:-1]), 101.0]

    def draw() -> Figure:
        drawn, panels = _panels(len(study.options), width_in)
        for axis, option in zip(panels, study.options, strict=True):
            values = 100.0 * column(option.ledger, "room_rh_frac")
            _picture(axis, values, fills, bounds)
            axis.set_title(short_title(option.title, 70), fontsize=8.5, pad=3.0)
            _calendar_axis(axis, axis is panels[-1])
        panels[len(panels) // 2].set_ylabel("Hour of day")
        _key(drawn, fills, labels, width_in)
        return drawn  # type: ignore[no-any-return]

    def season(option: OptionYear) -> str:
        above = column(option.ledger, "room_rh_frac") * 100.0 > high + 0.02
        if not above.any():
            return f"{option.title} never above range"
        month = np.repeat(np.arange(12), np.diff([*MONTH_STARTS, 365]) * 24)
        counts = np.bincount(month[above], minlength=12)
        worst = int(np.argmax(counts))
        return f"{option.title} most often above range in {MONTHS[worst]}, {counts[worst]:,} hours"

    return Chart(
        "humidity-map",
        "Room humidity, every hour of the year",
        "Room relative humidity by hour of day and day of year, darker where more humid: "
        + listed([season(o) for o in study.options]),
        "Each column is a day, midnight to midnight in local standard time; shades step at the "
        "limits of the range and grow darker with humidity.",
        draw,
    )


_HEAT_FILLS = ["#ffffff", "#f3dfc4", "#e3b985", "#cb8a4a", "#9c5a2b", "#5c2d18"]


def _nice(number: float) -> float:
    """The next 1, 2, 2.5 or 5 of a power of ten at or above ``number``."""
    if number <= 0.0:
        return 1.0
    scale = 10.0 ** np.floor(np.log10(number))
    return float(next(s * scale for s in (1.0, 2.0, 2.5, 5.0, 10.0) if s * scale >= number * 0.999))


def reheat_map(study: Study, display: Display, width_in: float = WIDTH_IN) -> Chart | None:
    """Reheat by hour of day and day of year, one panel per option that reheats; None if none."""
    reheating = [o for o in study.options if _reheat(o).max() > 0.0]
    if not reheating:
        return None
    kind = "heat rate"
    unit = unit_of(kind, display)
    top = max(_usual_top(_reheat(o)) for o in reheating) * in_display(1.0, kind, display)
    step = _nice(top / (len(_HEAT_FILLS) - 1))
    bounds = [0.0, *(step * place for place in range(1, len(_HEAT_FILLS)))]
    labels = [
        "none",
        *(f"{a:g}–{b:g}" for a, b in pairwise(bounds)),
    ]
    labels[1] = f"up to {bounds[1]:g}"
    labels[-1] = f"over {bounds[-2]:g} {unit}"

    def draw() -> Figure:
        drawn, panels = _panels(len(reheating), width_in)
        for axis, option in zip(panels, reheating, strict=True):
            values = in_display(1.0, kind, display) * _reheat(option)
            _picture(axis, values, _HEAT_FILLS, [-1.0, 1e-6 * top, *bounds[1:-1], 1e9])
            axis.set_title(short_title(option.title, 70), fontsize=8.5, pad=3.0)
            _calendar_axis(axis, axis is panels[-1])
        panels[len(panels) // 2].set_ylabel("Hour of day")
        _key(drawn, _HEAT_FILLS, labels, width_in)
        return drawn  # type: ignore[no-any-return]

    def said(option: OptionYear) -> str:
        hours = int((_reheat(option) > 0.0).sum())
        peak = float(_reheat(option).max())
        return f"{option.title} in {hours:,} hours, at most {words(peak, kind, display)}"

    without = [o.title for o in study.options if o not in reheating]
    caption = "Reheat of the hour, from any source."
    if without:
        caption += f" Without any reheat: {', '.join(without)}."
    return Chart(
        "reheat-map",
        "Reheat, every hour of the year",
        "Reheat by hour of day and day of year, darker where more: "
        + listed([said(o) for o in reheating]),
        caption,
        draw,
    )


def _reheat(option: OptionYear) -> FloatArray:
    return column(option.ledger, "reheat_recovered_kWh") + column(
        option.ledger, "reheat_purchased_kWh"
    )


def _usual_top(heat: FloatArray) -> float:
    """What all but the highest hundredth of the reheating hours stay below."""
    return float(np.quantile(heat[heat > 0.0], 0.99))


def exceedance(study: Study, display: Display, width_in: float = WIDTH_IN) -> Chart | None:
    """How often overcooling heat exceeds a rate, and what a reheat coil of that size meets.

    None where no option dehumidifies beyond sensible cooling.
    """
    drying = [
        option
        for option in study.options
        if controlled(option) and option.annual["overcooling_heat_kWh"] > 0.0
    ]
    if not drying:
        return None
    kind = "heat rate"
    unit = unit_of(kind, display)
    scale = in_display(1.0, kind, display)
    heats = [scale * np.sort(column(o.ledger, "overcooling_heat_kWh")) for o in drying]
    top = max(float(heat[-1]) for heat in heats)
    sizes = np.linspace(0.0, top, 161)
    hours = [
        float(heat.size) - np.searchsorted(heat, sizes, side="right").astype(np.float64)
        for heat in heats
    ]
    carried = [
        100.0 * np.array([np.minimum(heat, size).sum() for size in sizes]) / heat.sum()
        for heat in heats
    ]

    groups = curve_groups(carried, 1.0)
    rows, columns = legend_shape(groups, drying, width_in)

    def size_for(heat: FloatArray, share: float) -> float:
        total = float(heat.sum())
        covered = np.array([np.minimum(heat, size).sum() for size in sizes]) / total
        return float(np.interp(share, covered, sizes))

    def draw() -> Figure:
        drawn, axes = page_figure(2.4 + 0.17 * rows, 1, 2, width_in)
        margins(
            drawn,
            0.7,
            0.12,
            0.28,
            0.46 + 0.17 * rows,
            wspace=0.22 if width_in > PAIRED_IN else 0.32,
        )
        left, right = axes[0]
        plot_curves(left, sizes, drying, hours, groups, study)
        left.set_title("Hours a year above a rate")
        left.set_ylabel("h")
        thousands(left.yaxis)
        left.set_ylim(0, None)
        plot_curves(right, sizes, drying, carried, groups, study)
        right.set_title("Share met by a coil")
        right.set_ylabel("%")
        right.set_ylim(0, 103)
        for axis in (left, right):
            axis.set_xlim(0, top)
            axis.set_xlabel(f"Overcooling heat, {unit}")
            grid(axis, "both")
        legend_below(drawn, left, columns)
        return drawn  # type: ignore[no-any-return]

    said = [
        f"{o.title} at most {figure(heat[-1] / scale, kind, display)} {unit}, "
        f"95 % of the year's heat within a coil of "
        f"{figure(size_for(heat, 0.95) / scale, kind, display)} {unit}"
        for o, heat in zip(drying, heats, strict=True)
    ]
    caption = "A coil sized for the peak is rarely needed. " if _peaky(heats[0]) else ""
    caption += JOINED if columns == 1 else ""
    return Chart(
        "overcooling-exceedance",
        "Reheat load duration curve",
        "Overcooling heat, hours above a rate and share met by a coil of that size: "
        + listed(said),
        caption.strip(),
        draw,
    )


def _peaky(heat: FloatArray) -> bool:
    """Whether four fifths of the peak rate already carry 98 % of the heat."""
    return bool(np.minimum(heat, 0.8 * heat[-1]).sum() >= 0.98 * heat.sum())
