"""Places for labels on a chart, so that none covers another.

All lengths are points (1/72 in) from the lower left corner of the figure. Marks that must be read
(numbered circles, legends) are reserved first; a quiet label that finds no place is left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from dewledger.reports.charts.style import POINTS_PER_IN
from dewledger.weather.physics.moist_air import FloatArray

Box = tuple[float, float, float, float]  # left, bottom, right, top


def box_around(x: float, y: float, half_width: float, half_height: float) -> Box:
    """A box from its center."""
    return x - half_width, y - half_height, x + half_width, y + half_height


def overlap(first: Box, second: Box, gap: float = 0.0) -> bool:
    """Whether two boxes come nearer than ``gap``."""
    return (
        first[0] < second[2] + gap
        and second[0] < first[2] + gap
        and first[1] < second[3] + gap
        and second[1] < first[3] + gap
    )


def along(x: FloatArray, y: FloatArray, spacing: float = 2.0) -> FloatArray:
    """Points every ``spacing`` along a polyline, shape (n, 2)."""
    length = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    count = max(2, math.ceil(float(length[-1]) / spacing) + 1)
    places = np.linspace(0.0, float(length[-1]), count)
    return np.column_stack([np.interp(places, length, x), np.interp(places, length, y)])


@dataclass
class Places:
    """What is taken on the chart so far.

    area : no label may leave it
    lines : points of lines that a numbered circle should not cover, shape (n, 2)
    """

    area: Box
    taken: list[Box] = field(default_factory=list)
    lines: FloatArray = field(default_factory=lambda: np.empty((0, 2)))

    def add_line(self, x: FloatArray, y: FloatArray) -> None:
        """Note a line that labels should keep off."""
        self.lines = np.vstack([self.lines, along(x, y)])

    def free(self, box: Box, gap: float = 1.0) -> bool:
        """Whether a box lies inside the area and clear of everything taken."""
        left, bottom, right, top = self.area
        inside = box[0] >= left and box[1] >= bottom and box[2] <= right and box[3] <= top
        return inside and not any(overlap(box, other, gap) for other in self.taken)

    def crossed(self, box: Box, margin: float = 1.0) -> int:
        """How many points of the noted lines a box covers."""
        x, y = self.lines[:, 0], self.lines[:, 1]
        inside = (x > box[0] - margin) & (x < box[2] + margin)
        return int((inside & (y > box[1] - margin) & (y < box[3] + margin)).sum())

    def place_circle(self, x: float, y: float, radius: float) -> tuple[float, float]:
        """The center of a numbered circle near a point, and reserve it.

        Rings of growing distance; the nearest place that covers no label and least of the lines.
        """
        best: tuple[float, float, float] | None = None
        for ring in range(40):
            distance = radius + 5.0 + 4.0 * ring
            for turn in range(24):
                # from straight up, alternately right and left
                angle = math.pi / 2 + (turn + 1) // 2 * math.pi / 12 * (-1 if turn % 2 else 1)
                cx, cy = x + distance * math.cos(angle), y + distance * math.sin(angle)
                box = box_around(cx, cy, radius, radius)
                if not self.free(box, 1.5):
                    continue
                leader = along(
                    np.array([x + 0.3 * (cx - x), cx]), np.array([y + 0.3 * (cy - y), cy])
                )
                cost = (
                    distance
                    + 6.0 * self.crossed(box)
                    + 3.0 * sum(self.crossed((px, py, px, py)) for px, py in leader)
                    + 25.0 * sum(self._under(px, py) for px, py in leader)
                )
                if best is None or cost < best[0]:
                    best = (cost, cx, cy)
            if best is not None and best[0] <= distance:
                break
        if best is None:
            raise ValueError("no free place for a numbered circle: the chart is full")
        self.taken.append(box_around(best[1], best[2], radius, radius))
        return best[1], best[2]

    def _under(self, x: float, y: float) -> bool:
        return any(box[0] < x < box[2] and box[1] < y < box[3] for box in self.taken)

    def place_text(self, texts: Iterable[Any], renderer: Any) -> bool:
        """Keep the first of several artists that fits; the ones before it are removed, and those
        after it are not made."""
        for text in texts:
            box = extent(text, renderer)
            if self.free(box) and self.crossed(box, 0.0) == 0:
                self.taken.append(box)
                return True
            text.remove()
        return False


def extent(text: Any, renderer: Any) -> Box:
    """The box of a text artist in points."""
    scale = POINTS_PER_IN / renderer.dpi
    box = text.get_window_extent(renderer)
    return box.x0 * scale, box.y0 * scale, box.x1 * scale, box.y1 * scale
