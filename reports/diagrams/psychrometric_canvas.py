"""Where a state of the air lies on a psychrometric chart, and how each step of it is drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dewledger.reports.charts.style import (
    AMBER,
    INK,
    PLUM,
    QUIET,
    RUST,
    SLATE,
    TEAL,
)
from dewledger.reports.diagrams.air_process import StepKind
from dewledger.reports.diagrams.canvas import Page
from dewledger.reports.diagrams.labels import Places
from dewledger.reports.diagrams.psychrometric_lines import (
    Line,
    Scales,
    Window,
)
from dewledger.weather.physics.moist_air import FloatArray

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


@dataclass
class StateCanvas:
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
