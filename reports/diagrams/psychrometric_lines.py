"""The lines of a psychrometric chart as arrays, SI inside, and the scales they are shown on.

Everything comes from weather/physics/moist_air.py at one pressure. Dry bulb runs along the chart
and humidity ratio up it; both scales are linear, so the I-P and the SI chart of one hour are the
same picture.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from dewledger.quantities import Display
from dewledger.weather.physics.moist_air import (
    CP_DRY_AIR,
    FloatArray,
    hum_ratio_from_enthalpy,
    saturation_enthalpy,
    saturation_hum_ratio,
    saturation_temp_from_enthalpy,
    temp_from_enthalpy,
    temp_from_saturation_pressure,
    vapor_pressure_from_hum_ratio,
)
from dewledger.weather.physics.moist_air_arrays import (
    hum_ratios_from_rel_hum,
    hum_ratios_from_wet_bulb,
    saturation_hum_ratios,
)

BTU_LB = 2326.0  # J/kg, exact for the international table Btu
# The I-P enthalpy counts dry air from 0 F and water from liquid at 32 F; the SI one, both from 0 C.
IP_ENTHALPY_ZERO = CP_DRY_AIR * (32.0 / 1.8)


@dataclass(frozen=True)
class Scales:
    """How states are shown: units, the usual window, and the steps of the reference lines."""

    temp_unit: str
    ratio_unit: str
    enthalpy_unit: str
    temp_window: tuple[float, float]
    ratio_window: tuple[float, float]
    temp_step: float
    ratio_step: float
    wet_bulb_step: float
    enthalpy_step: float
    cell: tuple[float, float]  # temperature and humidity ratio of a cell of the density
    cell_shift: float  # so that records in whole degrees fall inside cells, not on their edges
    ip: bool

    def temp(self, temp_C: FloatArray | float) -> FloatArray:
        """Temperature as shown."""
        shown = np.asarray(temp_C, dtype=float)
        return shown * 1.8 + 32.0 if self.ip else shown

    def ratio(self, hum_ratio: FloatArray | float) -> FloatArray:
        """Humidity ratio as shown."""
        return np.asarray(hum_ratio, dtype=float) * (7000.0 if self.ip else 1000.0)

    def enthalpy(self, enthalpy_J_kg: FloatArray | float) -> FloatArray:
        """Enthalpy as shown."""
        joules = np.asarray(enthalpy_J_kg, dtype=float)
        return (joules + IP_ENTHALPY_ZERO) / BTU_LB if self.ip else joules / 1000.0

    def temp_C(self, shown: float) -> float:
        """A shown temperature in C."""
        return (shown - 32.0) / 1.8 if self.ip else shown

    def hum_ratio(self, shown: float) -> float:
        """A shown humidity ratio in kg/kg."""
        return shown / (7000.0 if self.ip else 1000.0)

    def enthalpy_J_kg(self, shown: float) -> float:
        """A shown enthalpy in J/kg."""
        return shown * BTU_LB - IP_ENTHALPY_ZERO if self.ip else shown * 1000.0


SCALES: dict[Display, Scales] = {
    "I-P": Scales("°F", "gr/lb", "Btu/lb", (30.0, 110.0), (0.0, 180.0), 10.0, 20.0, 5.0, 5.0,
                  (2.0, 4.0), 0.5, True),
    "SI": Scales("°C", "g/kg", "kJ/kg", (0.0, 45.0), (0.0, 26.0), 5.0, 2.0, 5.0, 10.0,
                 (1.0, 0.5), 0.25, False),
}  # fmt: skip


class Window(NamedTuple):
    """What the chart shows, in display units."""

    temp_low: float
    temp_high: float
    ratio_high: float


def window(scales: Scales, temp_C: FloatArray, hum_ratio: FloatArray) -> Window:
    """The usual window, widened in whole steps until the given states lie well inside it."""
    low, high = scales.temp_window
    top = scales.ratio_window[1]
    if temp_C.size:
        step, rise = scales.temp_step, scales.ratio_step
        margin = 0.4 * step
        low = min(low, step * math.floor((float(scales.temp(temp_C).min()) - margin) / step))
        high = max(high, step * math.ceil((float(scales.temp(temp_C).max()) + margin) / step))
        top = max(top, rise * math.ceil(float(scales.ratio(hum_ratio).max()) / rise + 0.2))
    return Window(low, high, top)


class Line(NamedTuple):
    """One reference line: its value on its own scale, and its points in SI."""

    value: float
    temp_C: FloatArray
    hum_ratio: FloatArray


def saturation_line(scales: Scales, shown: Window, pressure_Pa: float) -> Line:
    """Saturation from the cold edge to where it leaves the window at the top or the warm edge."""
    low = scales.temp_C(shown.temp_low)
    end = _top_temp(1.0, scales, shown, pressure_Pa)
    temps = np.linspace(low, end, 241)
    return Line(1.0, temps, saturation_hum_ratios(temps, pressure_Pa))


def rel_hum_lines(scales: Scales, shown: Window, pressure_Pa: float) -> list[Line]:
    """Relative humidity 10 to 90 %, ended where they leave the window."""
    low = scales.temp_C(shown.temp_low)
    lines = []
    for percent in range(10, 100, 10):
        rel_hum = percent / 100.0
        temps = np.linspace(low, _top_temp(rel_hum, scales, shown, pressure_Pa), 101)
        lines.append(Line(rel_hum, temps, hum_ratios_from_rel_hum(temps, rel_hum, pressure_Pa)))
    return lines


def _top_temp(rel_hum: float, scales: Scales, shown: Window, pressure_Pa: float) -> float:
    """Where a line of relative humidity leaves the window: dry bulb in C."""
    top = vapor_pressure_from_hum_ratio(scales.hum_ratio(shown.ratio_high), pressure_Pa)
    return min(temp_from_saturation_pressure(top / rel_hum), scales.temp_C(shown.temp_high))


def _multiples(low: float, high: float, step: float) -> list[float]:
    return [step * n for n in range(math.ceil(low / step), math.floor(high / step) + 1)]


def wet_bulb_lines(scales: Scales, shown: Window, pressure_Pa: float) -> list[Line]:
    """Wet-bulb lines from saturation down to dry air or the warm edge; values in C."""
    saturated = saturation_line(scales, shown, pressure_Pa)
    ends = scales.temp(saturated.temp_C[[0, -1]])
    lines = []
    for value in _multiples(float(ends[0]), float(ends[1]), scales.wet_bulb_step):
        wet_bulb = scales.temp_C(value)
        # Dry air at this wet bulb is warmer by w_sat x heat of evaporation (over ice 2830 kJ/kg)
        # / 1.006; a little further, then cut where the line meets W = 0.
        widest = wet_bulb + 3000.0 * saturation_hum_ratio(wet_bulb, pressure_Pa)
        temps = np.linspace(wet_bulb, min(widest, scales.temp_C(shown.temp_high)), 41)
        ratios = hum_ratios_from_wet_bulb(temps, wet_bulb, pressure_Pa)
        lines.append(Line(value, *_above_dry(temps, ratios)))
    return lines


def _above_dry(temps: FloatArray, ratios: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The part of a falling line above W = 0, ended on it."""
    if ratios[-1] >= 0.0:
        return temps, ratios
    last = int(np.flatnonzero(ratios < 0.0)[0])
    share = ratios[last - 1] / (ratios[last - 1] - ratios[last])
    end = temps[last - 1] + share * (temps[last] - temps[last - 1])
    return np.append(temps[:last], end), np.append(ratios[:last], 0.0)


def enthalpy_lines(scales: Scales, shown: Window, pressure_Pa: float) -> list[Line]:
    """Lines of constant enthalpy from saturation down to dry air or the warm edge."""
    saturated = saturation_line(scales, shown, pressure_Pa)
    ends = [
        float(scales.enthalpy(saturation_enthalpy(float(temp), pressure_Pa)))
        for temp in saturated.temp_C[[0, -1]]
    ]
    lines = []
    for value in _multiples(ends[0], ends[1], scales.enthalpy_step):
        joules = scales.enthalpy_J_kg(value)
        start = saturation_temp_from_enthalpy(joules, pressure_Pa, float(saturated.temp_C.mean()))
        dry = temp_from_enthalpy(joules, 0.0)
        temps = np.linspace(start, min(dry, scales.temp_C(shown.temp_high)), 13)
        lines.append(Line(value, temps, hum_ratio_from_enthalpy(joules, temps)))
    return lines


def range_outline(
    low_frac: float, high_frac: float, temp_low_C: float, temp_high_C: float, pressure_Pa: float
) -> tuple[FloatArray, FloatArray]:
    """The edge of a humidity range as a closed polygon, C and kg/kg."""
    temps = np.linspace(temp_low_C, temp_high_C, 31)
    lower = hum_ratios_from_rel_hum(temps, low_frac, pressure_Pa)
    upper = hum_ratios_from_rel_hum(temps, high_frac, pressure_Pa)
    return np.concatenate([temps, temps[::-1]]), np.concatenate([lower, upper[::-1]])


class Density(NamedTuple):
    """The year's hours in cells of the chart, and those off it."""

    temp: FloatArray  # mean of each cell that has hours, in display units
    ratio: FloatArray
    hours: FloatArray
    colder: int
    hotter: int
    moister: int


def density(scales: Scales, shown: Window, temp_C: FloatArray, hum_ratio: FloatArray) -> Density:
    """Count hours in cells; every hour is in a cell or counted as off the chart."""
    temp, ratio = scales.temp(temp_C), scales.ratio(hum_ratio)
    colder = temp < shown.temp_low
    hotter = temp > shown.temp_high
    moister = ~colder & ~hotter & (ratio > shown.ratio_high)
    inside = ~colder & ~hotter & ~moister
    temp, ratio = temp[inside], ratio[inside]
    across = np.floor((temp - shown.temp_low + scales.cell_shift) / scales.cell[0]).astype(int)
    up = np.floor(ratio / scales.cell[1]).astype(int)
    _, cell, hours = np.unique(across * 100_000 + up, return_inverse=True, return_counts=True)
    return Density(
        np.bincount(cell, temp) / hours if hours.size else np.empty(0),
        np.bincount(cell, ratio) / hours if hours.size else np.empty(0),
        hours.astype(float),
        int(colder.sum()),
        int(hotter.sum()),
        int(moister.sum()),
    )
