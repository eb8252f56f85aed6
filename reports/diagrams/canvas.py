"""A figure measured in points: header, chart, key; text, strokes and numbered circles on it."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import Any

from dewledger.reports.charts.style import INK, POINTS_PER_IN, QUIET, WIDTH_IN
from dewledger.reports.diagrams.labels import Box

CIRCLE = 6.2  # radius of a numbered circle
TITLE_CHARACTERS, SUBTITLE_CHARACTERS = 66, 100


@dataclass
class Page:
    """A figure, its renderer for measuring text, and its size in points."""

    figure: Any
    renderer: Any
    width: float
    height: float

    def text(self, x: float, y: float, words: str, **look: Any) -> Any:
        """Text at a place in points."""
        return self.figure.text(x / self.width, y / self.height, words, **look)

    def stroke(self, x: tuple[float, float], y: tuple[float, float], **look: Any) -> None:
        """A straight line between two places in points."""
        from matplotlib.lines import Line2D

        across = [place / self.width for place in x]
        up = [place / self.height for place in y]
        self.figure.add_artist(Line2D(across, up, **look))

    def box(self, box: Box, **look: Any) -> None:
        """A filled rectangle."""
        from matplotlib.patches import Rectangle

        left, bottom, right, top = box
        self.figure.add_artist(
            Rectangle(
                (left / self.width, bottom / self.height),
                (right - left) / self.width,
                (top - bottom) / self.height,
                **look,
            )
        )

    def disc(self, x: float, y: float, radius: float, **look: Any) -> None:
        """A circle, round whatever the page's shape."""
        from matplotlib.patches import Circle
        from matplotlib.transforms import Affine2D

        disc = Circle((x, y), radius, **look)
        # By the figure, like its text: both then move alike where a picture is saved with a foot.
        points = Affine2D().scale(1.0 / self.width, 1.0 / self.height)
        disc.set_transform(points + self.figure.transFigure)
        self.figure.add_artist(disc)

    def number(self, x: float, y: float, number: int) -> None:
        """A numbered circle."""
        self.disc(x, y, CIRCLE, facecolor="white", edgecolor=INK, linewidth=0.8, zorder=6)
        self.text(
            x, y, f"{number}", ha="center", va="center_baseline", fontsize=7.5,
            fontweight="bold", zorder=7,
        )  # fmt: skip

    def axes(self, box: Box) -> Any:
        """Axes that fill a box."""
        left, bottom, right, top = box
        axes = self.figure.add_axes(
            (
                left / self.width,
                bottom / self.height,
                (right - left) / self.width,
                (top - bottom) / self.height,
            )
        )
        # the axes' patch would hide labels of the page that stand within it
        axes.patch.set_visible(False)
        return axes


def new_page(title: str, subtitle: str, left: float, content_height: float) -> Page:
    """A page of the report's width with its header written above ``content_height`` points."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    headings = textwrap.wrap(title, TITLE_CHARACTERS)
    subheads = textwrap.wrap(subtitle, SUBTITLE_CHARACTERS)
    height = content_height + 14.0 + 14.0 * len(headings) + 11.0 * len(subheads)
    figure = Figure(figsize=(WIDTH_IN, height / POINTS_PER_IN))
    canvas: Any = FigureCanvasAgg(figure)
    page = Page(figure, canvas.get_renderer(), WIDTH_IN * POINTS_PER_IN, height)
    y = height - 16.0
    for words in headings:
        page.text(left, y, words, fontsize=10.5, fontweight="bold")
        y -= 14.0
    for words in subheads:
        page.text(left, y + 1.0, words, fontsize=8.0, color=QUIET)
        y -= 11.0
    return page
