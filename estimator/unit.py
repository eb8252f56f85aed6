"""A DX unit as the hours of the year see it: a map that compiled code reads.

A unit of kind BALANCE is a compressor and two heat exchangers. The compressor's capacity and power
lie on a grid of suction and condensing temperature; the coil surface stands above suction in
proportion to the coil's heat; the condenser stands above outdoors in proportion to the heat
rejected. A unit of kind TABLE is a performance table of entering wet bulb, entering dry bulb,
outdoor temperature and flow; it answers to a condensing temperature through the outdoor temperature
at which its condenser would stand there.

Units are built by estimator.unit_ratings, estimator.performance_table and estimator.compressor_map.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from estimator.coil import coil_total_at_surface, settle_fog
from estimator.table_lookup import equivalent_outdoor, outside_table, table_state
from weather.compiled import by_address, compiled
from weather.moist_air import (
    enthalpy,
    heat_capacity,
    temp_from_enthalpy,
    wet_bulb,
)

FloatArray = npt.NDArray[np.float64]

BALANCE = 0
TABLE = 1


@by_address
class UnitMap(NamedTuple):
    """A unit as floats and float64 arrays, the form the compiled loop takes."""

    kind: int  # BALANCE or TABLE
    suction_first_C: float
    suction_step_K: float
    condensing_first_C: float
    condensing_step_K: float
    cooling_W: FloatArray  # (suction, condensing), all displacement in use
    compressor_W: FloatArray  # (suction, condensing), all displacement in use
    surface_resistance_K_W: float  # apparatus dew point less suction, over coil heat
    bypass_area_kg_s: float  # A0 of BF = exp(-A0 / m)
    condenser_conductance_W_K: float  # heat rejected over condensing less outdoor
    condenser_fan_W: float
    surface_floor_C: float  # the coil surface is not let below this
    table_wet_bulb_C: FloatArray
    table_dry_bulb_C: FloatArray
    table_outdoor_C: FloatArray
    table_flow_kg_s: FloatArray
    table_total_W: FloatArray  # (wet bulb, dry bulb, outdoor, flow), gross
    table_sensible_W: FloatArray  # gross; above the total where the coil is dry
    table_compressor_W: FloatArray


@dataclass(frozen=True)
class Unit:
    """A unit and its rating point, all gross of the supply fan, with the assumptions made."""

    map: UnitMap
    source: str  # "ratings", "performance table" or "compressor map"
    refrigerant: str  # empty for a tabulated unit
    rated_total_W: float
    rated_sensible_W: float
    rated_compressor_W: float
    rated_fan_W: float  # supply fan power of the rating; 0 for a gross rating
    rated_flow_kg_s: float
    rated_temp_in_C: float
    rated_hum_ratio_in: float
    rated_wet_bulb_C: float
    rated_outdoor_C: float
    rated_suction_C: float  # NaN for a tabulated unit
    rated_condensing_C: float
    rated_surface_C: float
    rated_bypass: float
    isentropic_efficiency: float  # power to the refrigerant over ideal power; NaN where unknown
    superheat_K: float
    subcooling_K: float
    notes: tuple[str, ...]

    @property
    def rated_latent_W(self) -> float:
        """Latent part of the gross total at the rating."""
        return self.rated_total_W - self.rated_sensible_W

    @property
    def rated_rejected_W(self) -> float:
        """Heat rejected at the rating: evaporator and compressor."""
        return self.rated_total_W + self.rated_compressor_W

    @property
    def rated_depression_K(self) -> float:
        """Entering dry bulb less wet bulb at the rating."""
        return self.rated_temp_in_C - self.rated_wet_bulb_C


@compiled
def map_cell(value: float, first: float, step: float, size: int) -> tuple[int, float, float]:
    """Cell of a uniform axis, place in it (0 to 1), and 1.0 / step or 0.0 beyond the edge."""
    inverse = 1.0 / step
    place = (value - first) * inverse
    if place <= 0.0:
        return 0, 0.0, 0.0
    if place >= size - 1.0:
        return size - 2, 1.0, 0.0
    cell = int(place)
    return cell, place - cell, inverse


@compiled
def suction_cell(unit_map: UnitMap, suction_C: float) -> tuple[int, float, float]:
    """``map_cell`` of a suction temperature."""
    return map_cell(
        suction_C,
        unit_map.suction_first_C,
        unit_map.suction_step_K,
        unit_map.cooling_W.shape[0],
    )


@compiled
def condensing_cell(unit_map: UnitMap, condensing_C: float) -> tuple[int, float, float]:
    """``map_cell`` of a condensing temperature."""
    return map_cell(
        condensing_C,
        unit_map.condensing_first_C,
        unit_map.condensing_step_K,
        unit_map.cooling_W.shape[1],
    )


@compiled
def on_grid(grid: FloatArray, i: int, x: float, j: int, y: float) -> float:
    """A grid's value at a place in its cell i, j: linear both ways."""
    left = (1.0 - y) * grid[i, j] + y * grid[i, j + 1]
    right = (1.0 - y) * grid[i + 1, j] + y * grid[i + 1, j + 1]
    return float(left + x * (right - left))


@compiled
def evaporator_cooling(unit_map: UnitMap, suction_C: float, condensing_C: float) -> float:
    """Evaporator heat [W] with all displacement in use; held at the edge of the map."""
    i, x, _ = suction_cell(unit_map, suction_C)
    j, y, _ = condensing_cell(unit_map, condensing_C)
    return on_grid(unit_map.cooling_W, i, x, j, y)


@compiled
def compressor_power(unit_map: UnitMap, suction_C: float, condensing_C: float) -> float:
    """Compressor power [W] with all displacement in use; held at the edge of the map."""
    i, x, _ = suction_cell(unit_map, suction_C)
    j, y, _ = condensing_cell(unit_map, condensing_C)
    return on_grid(unit_map.compressor_W, i, x, j, y)


@compiled
def fraction_for_surface(
    unit_map: UnitMap, surface_C: float, total_W: float, condensing_C: float
) -> tuple[float, float, float]:
    """Displacement fraction, suction [C] and compressor power [W] that hold a surface.

    Explicit: suction = surface - R total, fraction = total / cooling there. NaN for a tabulated
    unit, which runs at full displacement only.
    """
    if unit_map.kind == 1:
        return math.nan, math.nan, math.nan
    suction = surface_C - unit_map.surface_resistance_K_W * total_W
    fraction = total_W / evaporator_cooling(unit_map, suction, condensing_C)
    return fraction, suction, fraction * compressor_power(unit_map, suction, condensing_C)


@compiled
def steady_state(
    unit_map: UnitMap,
    fraction: float,
    temp_in_C: float,
    hum_ratio_in: float,
    pressure_Pa: float,
    flow_kg_s: float,
    condensing_C: float,
    start_surface_C: float,
) -> tuple[float, float, float, float, float, float, float, int]:
    """Steady running at a displacement fraction and a condensing temperature.

    Parameters
    ----------
    fraction : share of the displacement in use, above 0 to 1 (a tabulated unit ignores it)
    temp_in_C, hum_ratio_in : air entering the coil
    flow_kg_s : dry air
    start_surface_C : where the search begins, best the last answer; any number will do

    Returns
    -------
    total_W, sensible_W, compressor_W, surface_C, suction_C, temp_out_C, hum_ratio_out, floor_hit.
    floor_hit is 1 where the surface would have gone below the floor: it is then held there, which
    takes less displacement than was asked for.

    The balance is fraction x cooling(suction, condensing) = coil heat(surface) with suction =
    surface - R x heat: Newton on the surface, kept inside a bracket (the difference falls steadily
    with the surface temperature).
    """
    if unit_map.kind == 1:
        return table_state(unit_map, temp_in_C, hum_ratio_in, pressure_Pa, flow_kg_s, condensing_C)
    bypass = math.exp(-unit_map.bypass_area_kg_s / flow_kg_s)
    contact = flow_kg_s * (1.0 - bypass)
    resistance = unit_map.surface_resistance_K_W
    h_in = enthalpy(temp_in_C, hum_ratio_in)
    grid = unit_map.cooling_W
    j, y, _ = condensing_cell(unit_map, condensing_C)
    low = -70.0
    high = temp_in_C
    surface = start_surface_C
    if not (surface > low and surface < high):
        surface = temp_in_C - 12.0
    total = 0.0
    slope = 0.0
    w_surface = hum_ratio_in
    w_slope = 0.0
    suction = surface
    for _ in range(60):
        total, slope, w_surface, w_slope = coil_total_at_surface(
            contact, temp_in_C, hum_ratio_in, h_in, surface, pressure_Pa
        )
        suction = surface - resistance * total
        i, x, inverse_step = suction_cell(unit_map, suction)
        left = (1.0 - y) * grid[i, j] + y * grid[i, j + 1]
        right = (1.0 - y) * grid[i + 1, j] + y * grid[i + 1, j + 1]
        residual = total - fraction * (left + x * (right - left))
        if residual > 0.0:
            low = surface
        else:
            high = surface
        gradient = slope - fraction * (right - left) * inverse_step * (1.0 - resistance * slope)
        step = residual / gradient
        surface -= step
        w_next = w_surface - step * w_slope
        # Newton squares the error: after a last short step nothing need be looked at again. On the
        # wet line, clear of dew point and ice, 3e-4 K leave 1e-8 of the heat; across a kink 1e-5 K.
        smooth = w_surface < hum_ratio_in and w_next < hum_ratio_in and surface > 0.02
        if abs(step) < (3e-4 if smooth else 1e-5):
            w_surface = w_next
            total -= slope * step
            suction = surface - resistance * total
            break
        if not (surface > low and surface < high):
            surface = 0.5 * (low + high)
    floor_hit = 0
    if surface < unit_map.surface_floor_C:
        floor_hit = 1
        surface = min(unit_map.surface_floor_C, temp_in_C)
        total, slope, w_surface, w_slope = coil_total_at_surface(
            contact, temp_in_C, hum_ratio_in, h_in, surface, pressure_Pa
        )
        suction = surface - resistance * total
    i, x, _ = suction_cell(unit_map, suction)
    used = fraction
    if floor_hit == 1:
        used = total / on_grid(grid, i, x, j, y)
    power = used * on_grid(unit_map.compressor_W, i, x, j, y)
    w_out = w_surface + bypass * (hum_ratio_in - w_surface)
    temp_out = temp_from_enthalpy(h_in - total / flow_kg_s, w_out)
    if w_surface < hum_ratio_in:
        # The saturation curve lies above its tangent (here that of the last look, and a little
        # flatter for it): below that there can be no fog. Not from ice to water, where the curve
        # bends down.
        tangent = 0.999 * w_slope
        if surface <= 0.01 or w_out > w_surface + tangent * (temp_out - surface):
            temp_out, w_out = settle_fog(temp_out, w_out, pressure_Pa)
    # All of a dry coil's heat is sensible: its latent is exactly zero.
    sensible = total
    if w_out != hum_ratio_in:
        sensible = flow_kg_s * heat_capacity(w_out) * (temp_in_C - temp_out)
    return total, sensible, power, surface, suction, temp_out, w_out, floor_hit


@compiled
def outside_map(
    unit_map: UnitMap,
    temp_in_C: float,
    hum_ratio_in: float,
    pressure_Pa: float,
    flow_kg_s: float,
    suction_C: float,
    condensing_C: float,
) -> int:
    """1 where a running state lies outside what the unit's map or table covers."""
    if unit_map.kind == 1:
        entering = wet_bulb(temp_in_C, hum_ratio_in, pressure_Pa)
        outdoor = equivalent_outdoor(unit_map, entering, temp_in_C, flow_kg_s, condensing_C)
        return outside_table(unit_map, entering, temp_in_C, outdoor, flow_kg_s)
    rows, columns = unit_map.cooling_W.shape
    suction_last = unit_map.suction_first_C + unit_map.suction_step_K * (rows - 1)
    condensing_last = unit_map.condensing_first_C + unit_map.condensing_step_K * (columns - 1)
    if (
        suction_C < unit_map.suction_first_C
        or suction_C > suction_last
        or condensing_C < unit_map.condensing_first_C
        or condensing_C > condensing_last
    ):
        return 1
    return 0


@compiled
def condensing_without_recovery(
    unit_map: UnitMap, outdoor_C: float, rejected_W: float, floor_C: float
) -> float:
    """Condensing temperature [C] with all heat rejected outdoors, held at the floor."""
    return max(floor_C, outdoor_C + rejected_W / unit_map.condenser_conductance_W_K)
