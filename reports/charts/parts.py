"""What the charts of a study share: a chart as a thing, figures, margins, legends, stacked bars.

A chart is drawn only when asked for, as SVG for the page or as PNG or SVG for a file.
"""

from __future__ import annotations

import calendar
import re
import textwrap
from collections.abc import Callable
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from dewledger.quantities import Display, rounded
from dewledger.reports.charts.style import (
    AMBER,
    INK,
    OLIVE,
    PLUM,
    POINTS_PER_IN,
    RULE,
    RUST,
    SLATE,
    TEAL,
    WIDTH_IN,
    png_bytes,
    style_context,
    svg_text,
    write_caution,
)
from dewledger.reports.words.numbers import in_display
from dewledger.weather.physics.moist_air import FloatArray

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from dewledger.accounts.option_year import OptionYear
    from dewledger.study import Study

MONTHS = list(calendar.month_abbr[1:])
PAIRED_IN = 4.7  # width of a picture that shares a row of the page
# Widths of a legend's entry: of a sign of its text, of its swatch and the gap.
_SIGN_PT, _SWATCH_PT = 4.1, 30.0
_JOINED_WIDTH = 64  # signs of a line of names joined in a legend

_MORE_STYLE: dict[str, Any] = {
    "axes.titlesize": 9.0,
    "axes.titlelocation": "left",
    "axes.titleweight": "bold",
    # Nothing stands between a title and its axes: that is not looked for at every drawing.
    "axes.titley": 1.0,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "legend.frameon": False,
    "legend.fontsize": 8.0,
    "hatch.linewidth": 0.6,
}


@dataclass(frozen=True)
class Layer:
    """One part of a stacked bar: the accounts it is the sum of and how it is filled."""

    keys: tuple[str, ...]
    label: str
    fill: str
    hatch: str = ""

    def annual(self, option: OptionYear) -> float:
        """The part's sum over the year, in the unit of its accounts."""
        return float(sum(option.annual[key] for key in self.keys))

    def monthly(self, option: OptionYear) -> FloatArray:
        """The part's sums by month, (12,)."""
        columns = [np.asarray(option.months[key], dtype=np.float64) for key in self.keys]
        total: FloatArray = np.sum(columns, axis=0)
        return total


# Options as lines: color and dash both differ, dark before light.
LINES: tuple[tuple[str, Any, float], ...] = (
    (PLUM, (0, (1, 1.4)), 1.9),
    (AMBER, "-", 3.4),
    (RUST, (0, (5, 2)), 2.2),
    (TEAL, "-", 1.3),
    (SLATE, (0, (2, 2.2)), 1.3),
    (OLIVE, (0, (7, 2, 1, 2)), 1.5),
    ("#5b6fb5", (0, (4, 1.5)), 1.5),
    (INK, (0, (1, 3)), 1.5),
)


@dataclass(frozen=True)
class Chart:
    """A drawn chart: its name, what it shows in words, and how to draw it."""

    name: str
    title: str
    alt: str
    caption: str
    draw: Callable[[], Figure]

    def svg(self) -> str:
        """The chart as an SVG element to set into a page; no clock, no ids that clash."""
        return _tidy(svg_text(self.figure(), self.name), self.name, self.alt)

    def png(self, dots_per_inch: int = 200) -> bytes:
        """The chart as PNG."""
        return png_bytes(self.figure(), dots_per_inch)

    def figure(self) -> Figure:
        """The chart drawn."""
        import matplotlib as mpl

        more: Any = _MORE_STYLE
        with style_context(), mpl.rc_context(more):
            drawn = self.draw()
            write_caution(drawn)
            return drawn


_FONTS = "'Helvetica Neue', Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"


def _tidy(svg: str, name: str, alt: str) -> str:
    """Only the element: sized by the page, named for readers who do not see it."""
    body = svg[svg.index("<svg") :]
    body = re.sub(r"<metadata>.*?</metadata>", "", body, flags=re.S)
    body = re.sub(r"<!--.*?-->", "", body, flags=re.S)
    body = re.sub(r'<g id="[^"]*"', "<g", body)
    body = re.sub(r" ?font-family: [^;\"]*;?", "", body)
    body = re.sub(r'(<image\b[^>]*?) id="[^"]*"', r"\1", body)
    # ids of clip paths, markers and hatches are hashes; the chart's name keeps charts apart
    body = re.sub(r'\bid="', f'id="{name}-', body)
    body = re.sub(r"url\(#", f"url(#{name}-", body)
    body = re.sub(r'href="#', f'href="#{name}-', body)
    body = re.sub(r"\n\s*", "\n", body)
    head = re.match(r"<svg[^>]*>", body)
    assert head is not None
    box = re.search(r'viewBox="[^"]*"', head[0])
    assert box is not None
    opening = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'{box[0]} font-family="{_FONTS}" role="img" aria-label="{escape(alt)}">'
    )
    return opening + body[head.end() :]


def page_figure(
    height_in: float, rows: int = 1, columns: int = 1, width_in: float = WIDTH_IN, **kwargs: Any
) -> tuple[Any, Any]:
    """A figure as wide as the page by default; margins are set by the caller in inches."""
    from matplotlib.figure import Figure

    drawn = Figure(figsize=(width_in, height_in))
    axes = drawn.subplots(rows, columns, squeeze=False, **kwargs)
    return drawn, axes


def margins(
    drawn: Any, left: float, right: float, top: float, bottom: float, **kwargs: Any
) -> None:
    """Margins in inches: the same on every chart, without a layout engine's cost."""
    width, height = drawn.get_size_inches()
    drawn.subplots_adjust(
        left=left / width,
        right=1.0 - right / width,
        top=1.0 - top / height,
        bottom=bottom / height,
        **kwargs,
    )


def short_title(title: str, width: int = 34) -> str:
    """A title that fits a chart: control characters gone, cut with an ellipsis where too long."""
    clean = " ".join("".join(c if c.isprintable() else " " for c in title).split())
    if len(clean) > width:
        clean = clean[: width - 1].rstrip() + "…"
    return clean


def legend_columns(labels: list[str], width_in: float, most: int) -> int:
    """How many columns of a legend fit a picture's width, ``most`` at most."""
    room = (width_in - 0.1) * POINTS_PER_IN
    longest = max((len(line) for label in labels for line in label.split("\n")), default=1)
    return max(1, min(most, int(room / (_SIGN_PT * longest + _SWATCH_PT))))


def wrapped(title: str, width: int = 20, lines: int = 2) -> str:
    """A title in a few lines; what does not fit is cut with an ellipsis."""
    whole = short_title(title, width * lines)
    return "\n".join(textwrap.wrap(whole, width, max_lines=lines, placeholder="…"))


def listed(parts: list[str]) -> str:
    return "; ".join(parts)


def grid(axis: Any, which: str) -> None:
    axis.grid(axis=which, color=RULE, linewidth=0.6)
    axis.set_axisbelow(True)


def thousands(axis: Any) -> None:
    axis.set_major_formatter(lambda number, place: f"{number:,.0f}".replace("-", "−"))


def used(layers: tuple[Layer, ...], options: tuple[OptionYear, ...]) -> list[Layer]:
    """The layers that would be seen: at least a two-hundredth of the longest bar."""
    longest = max(sum(part.annual(o) for part in layers) for o in options)
    return [p for p in layers if any(p.annual(o) > 0.005 * longest for o in options)]


def stack_rows(
    axis: Any, options: tuple[OptionYear, ...], layers: list[Layer], kind: str, display: Display
) -> None:
    """Horizontal stacked bars, one per option, first option on top."""
    place = np.arange(len(options))
    left = np.zeros(len(options))
    for part in layers:
        values = np.array([in_display(part.annual(o), kind, display) for o in options])
        bars(axis, (left, place - 0.31), (left + values, place + 0.31), part, 0.5)
        left = left + values
    axis.set_ylim(len(options) - 0.5, -0.5)
    axis.set_yticks(place, [wrapped(o.title) for o in options])
    axis.tick_params(axis="y", length=0)
    axis.spines["left"].set_visible(False)
    for at, total in zip(place, left, strict=True):
        axis.annotate(
            _total(total),
            (total, at),
            (4, 0),
            textcoords="offset points",
            va="center",
            fontsize=8.5,
        )
    axis.set_xlim(0.0, max(float(left.max()), 1e-9) * 1.16)


def bars(
    axis: Any,
    low: tuple[ArrayLike, ArrayLike],
    high: tuple[ArrayLike, ArrayLike],
    part: Layer,
    linewidth: float,
) -> None:
    """Bars of a layer between their lower left and upper right corners (x, y), drawn as one shape.

    One at a time, each would be measured and styled anew; limits are set by who draws them.
    """
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path as Outline

    (left, bottom), (right, top) = low, high
    corners = [(left, bottom), (right, bottom), (right, top), (left, top), (left, bottom)]
    points = np.array([np.broadcast_arrays(x, y) for x, y in corners])  # corner, axis, bar
    codes = [Outline.MOVETO, Outline.LINETO, Outline.LINETO, Outline.LINETO, Outline.CLOSEPOLY]
    count = points.shape[2]
    axis.add_artist(
        PathPatch(
            Outline(points.transpose(2, 0, 1).reshape(-1, 2), codes * count),
            facecolor=part.fill,
            hatch=part.hatch,
            edgecolor=INK,
            linewidth=linewidth,
            label=part.label,
        )
    )


def _total(number: float) -> str:
    return "0" if number < 0.005 else rounded(float(number))


def legend_below(drawn: Any, axis: Any, columns: int, at: float = 0.0) -> None:
    handles, labels = axis.get_legend_handles_labels()
    drawn.legend(
        handles,
        labels,
        loc="lower left",
        bbox_to_anchor=(at, 0.0),
        ncols=columns,
        handlelength=1.6,
        handleheight=0.9,
        columnspacing=1.4,
    )


def curve_groups(curves: list[FloatArray], tolerance: float) -> list[list[int]]:
    """Places of curves that lie on one another, together: one line is drawn for each group."""
    left = list(range(len(curves)))
    groups = []
    while left:
        first = left.pop(0)
        same = [i for i in left if float(np.abs(curves[first] - curves[i]).mean()) < tolerance]
        left = [i for i in left if i not in same]
        groups.append([first, *same])
    return groups


def plot_curves(
    axis: Any,
    x: FloatArray,
    options: list[OptionYear],
    curves: list[FloatArray],
    groups: list[list[int]],
    study: Study,
) -> None:
    """A line for each group, looking the same on every chart: as its first option's place says."""
    places = {option.key: place for place, option in enumerate(study.options)}
    for group in groups:
        color, dash, width = LINES[places[options[group[0]].key] % len(LINES)]
        axis.plot(
            x,
            curves[group[0]],
            color=color,
            linestyle=dash,
            linewidth=width,
            label=curve_label(group, options),
            solid_capstyle="butt",
        )


def curve_label(group: list[int], options: list[OptionYear]) -> str:
    """Names of the options on one curve, in lines short enough for the narrowest picture."""
    names = " = ".join(short_title(options[member].title, 30) for member in group)
    return "\n".join(textwrap.wrap(names, _JOINED_WIDTH, break_long_words=False))


def legend_shape(
    groups: list[list[int]], options: list[OptionYear], width_in: float
) -> tuple[int, int]:
    """(lines, columns) of a legend of curves: long joined names take a row each."""
    labels = [curve_label(group, options) for group in groups]
    if any(len(group) > 1 for group in groups):
        return sum(label.count("\n") + 1 for label in labels), 1
    columns = legend_columns(labels, width_in, 3)
    return -(-len(groups) // columns), columns


JOINED = "Options joined by = lie on one curve."
