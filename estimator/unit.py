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

from estimator.coil import leaving_from_heats, settle_fog
from weather.compiled import compiled
from weather.moist_air import (
    enthalpy,
    heat_capacity,
    saturation_hum_ratio,
    saturation_pressure,
    saturation_pressure_slope,
    saturation_temp_from_enthalpy,
    temp_from_enthalpy,
    vapour_enthalpy,
    wet_bulb,
)

FloatArray = npt.NDArray[np.float64]

BALANCE = 0
TABLE = 1


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
    place = (value - first) / step
    if place <= 0.0:
        return 0, 0.0, 0.0
    if place >= size - 1.0:
        return size - 2, 1.0, 0.0
    cell = int(place)
    return cell, place - cell, 1.0 / step


@compiled
def evaporator_cooling(unit_map: UnitMap, suction_C: float, condensing_C: float) -> float:
    """Evaporator heat [W] with all displacement in use; held at the edge of the map."""
    rows, columns = unit_map.cooling_W.shape
    i, x, _ = map_cell(suction_C, unit_map.suction_first_C, unit_map.suction_step_K, rows)
    j, y, _ = map_cell(
        condensing_C, unit_map.condensing_first_C, unit_map.condensing_step_K, columns
    )
    grid = unit_map.cooling_W
    left = (1.0 - y) * grid[i, j] + y * grid[i, j + 1]
    right = (1.0 - y) * grid[i + 1, j] + y * grid[i + 1, j + 1]
    return float(left + x * (right - left))


@compiled
def compressor_power(unit_map: UnitMap, suction_C: float, condensing_C: float) -> float:
    """Compressor power [W] with all displacement in use; held at the edge of the map."""
    rows, columns = unit_map.compressor_W.shape
    i, x, _ = map_cell(suction_C, unit_map.suction_first_C, unit_map.suction_step_K, rows)
    j, y, _ = map_cell(
        condensing_C, unit_map.condensing_first_C, unit_map.condensing_step_K, columns
    )
    grid = unit_map.compressor_W
    left = (1.0 - y) * grid[i, j] + y * grid[i, j + 1]
    right = (1.0 - y) * grid[i + 1, j] + y * grid[i + 1, j + 1]
    return float(left + x * (right - left))


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
def coil_total_at_surface(
    contact_kg_s: float,
    temp_in_C: float,
    hum_ratio_in: float,
    enthalpy_in: float,
    surface_C: float,
    pressure_Pa: float,
) -> tuple[float, float, int]:
    """Coil heat [W] at a surface temperature, its derivative [W/K], and 1 where the coil is wet.

    ``contact_kg_s`` is the flow that touches the surface, m (1 - BF).
    """
    pws = saturation_pressure(surface_C)
    w = 0.621945 * pws / (pressure_Pa - pws)
    if w >= hum_ratio_in:
        slope = contact_kg_s * heat_capacity(hum_ratio_in)
        return slope * (temp_in_C - surface_C), -slope, 0
    w_slope = (
        0.621945
        * pressure_Pa
        / ((pressure_Pa - pws) * (pressure_Pa - pws))
        * saturation_pressure_slope(surface_C, pws)
    )
    total = contact_kg_s * (enthalpy_in - enthalpy(surface_C, w))
    slope = contact_kg_s * (heat_capacity(w) + w_slope * vapour_enthalpy(surface_C))
    return total, -slope, 1


@compiled
def leaving_at_surface(
    total_W: float,
    wet: int,
    surface_C: float,
    bypass: float,
    temp_in_C: float,
    hum_ratio_in: float,
    enthalpy_in: float,
    pressure_Pa: float,
    flow_kg_s: float,
) -> tuple[float, float]:
    """Leaving dry bulb and humidity ratio of a coil whose total and surface are known."""
    w_out = hum_ratio_in
    if wet == 1:
        w_surface = saturation_hum_ratio(surface_C, pressure_Pa)
        w_out = w_surface + bypass * (hum_ratio_in - w_surface)
    temp_out = temp_from_enthalpy(enthalpy_in - total_W / flow_kg_s, w_out)
    return settle_fog(temp_out, w_out, pressure_Pa)


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
    rows, columns = grid.shape
    j, y, _ = map_cell(
        condensing_C, unit_map.condensing_first_C, unit_map.condensing_step_K, columns
    )
    low = -70.0
    high = temp_in_C
    surface = start_surface_C
    if not (surface > low and surface < high):
        surface = temp_in_C - 12.0
    total = 0.0
    wet = 0
    suction = surface
    for _ in range(60):
        total, slope, wet = coil_total_at_surface(
            contact, temp_in_C, hum_ratio_in, h_in, surface, pressure_Pa
        )
        suction = surface - resistance * total
        i, x, inverse_step = map_cell(
            suction, unit_map.suction_first_C, unit_map.suction_step_K, rows
        )
        left = (1.0 - y) * grid[i, j] + y * grid[i, j + 1]
        right = (1.0 - y) * grid[i + 1, j] + y * grid[i + 1, j + 1]
        residual = total - fraction * (left + x * (right - left))
        if residual > 0.0:
            low = surface
        else:
            high = surface
        gradient = slope - fraction * (right - left) * inverse_step * (1.0 - resistance * slope)
        step = residual / gradient
        if abs(step) < 1e-11:
            break
        surface -= step
        if not (surface > low and surface < high):
            surface = 0.5 * (low + high)
    floor_hit = 0
    if surface < unit_map.surface_floor_C:
        floor_hit = 1
        surface = min(unit_map.surface_floor_C, temp_in_C)
        total, _, wet = coil_total_at_surface(
            contact, temp_in_C, hum_ratio_in, h_in, surface, pressure_Pa
        )
        suction = surface - resistance * total
        used = total / evaporator_cooling(unit_map, suction, condensing_C)
    else:
        used = fraction
    power = used * compressor_power(unit_map, suction, condensing_C)
    temp_out, w_out = leaving_at_surface(
        total,
        wet,
        surface,
        bypass,
        temp_in_C,
        hum_ratio_in,
        h_in,
        pressure_Pa,
        flow_kg_s,
    )
    sensible = flow_kg_s * heat_capacity(w_out) * (temp_in_C - temp_out)
    return total, sensible, power, surface, suction, temp_out, w_out, floor_hit


@compiled
def axis_cell(axis: FloatArray, value: float) -> tuple[int, int, float]:
    """Lower and upper node around a value on a rising axis and the place between; held at ends."""
    size = axis.size
    if size == 1 or value <= axis[0]:
        return 0, 0, 0.0
    if value >= axis[size - 1]:
        return size - 1, size - 1, 0.0
    low = 0
    high = size - 1
    while high - low > 1:
        middle = (low + high) // 2
        if value >= axis[middle]:
            low = middle
        else:
            high = middle
    return low, high, (value - axis[low]) / (axis[high] - axis[low])


@compiled
def table_node_values(
    unit_map: UnitMap, k: int, temp_in_C: float, outdoor_C: float, flow_kg_s: float
) -> tuple[float, float, float]:
    """Total, sensible and power at wet-bulb node ``k``, linear in the three other axes."""
    d0, d1, d = axis_cell(unit_map.table_dry_bulb_C, temp_in_C)
    o0, o1, o = axis_cell(unit_map.table_outdoor_C, outdoor_C)
    f0, f1, f = axis_cell(unit_map.table_flow_kg_s, flow_kg_s)
    total = 0.0
    sensible = 0.0
    power = 0.0
    for a in range(2):
        i = d1 if a == 1 else d0
        weight_d = d if a == 1 else 1.0 - d
        if weight_d == 0.0:
            continue
        for b in range(2):
            j = o1 if b == 1 else o0
            weight_o = weight_d * (o if b == 1 else 1.0 - o)
            if weight_o == 0.0:
                continue
            for c in range(2):
                m = f1 if c == 1 else f0
                weight = weight_o * (f if c == 1 else 1.0 - f)
                if weight == 0.0:
                    continue
                total += weight * unit_map.table_total_W[k, i, j, m]
                sensible += weight * unit_map.table_sensible_W[k, i, j, m]
                power += weight * unit_map.table_compressor_W[k, i, j, m]
    return total, sensible, power


@compiled
def table_values(
    unit_map: UnitMap, wet_bulb_C: float, temp_in_C: float, outdoor_C: float, flow_kg_s: float
) -> tuple[float, float, float]:
    """Total, sensible and power [W] of a performance table.

    A dry coil's capacity does not depend on humidity: where the sensible would pass the total, the
    wet bulb is raised until they meet, and total and power are those of that dry limit.
    """
    low, high, x = axis_cell(unit_map.table_wet_bulb_C, wet_bulb_C)
    total, sensible, power = table_node_values(unit_map, low, temp_in_C, outdoor_C, flow_kg_s)
    if high > low:
        total_1, sensible_1, power_1 = table_node_values(
            unit_map, high, temp_in_C, outdoor_C, flow_kg_s
        )
        total += x * (total_1 - total)
        sensible += x * (sensible_1 - sensible)
        power += x * (power_1 - power)
    if sensible <= total:
        return total, sensible, power
    for k in range(low + 1, unit_map.table_wet_bulb_C.size):
        total_1, sensible_1, power_1 = table_node_values(
            unit_map, k, temp_in_C, outdoor_C, flow_kg_s
        )
        excess = sensible - total
        excess_1 = sensible_1 - total_1
        if excess_1 <= 0.0:
            x = excess / (excess - excess_1)
            total += x * (total_1 - total)
            return total, total, power + x * (power_1 - power)
        total, sensible, power = total_1, sensible_1, power_1
    return total, total, power


@compiled
def outside_table(
    unit_map: UnitMap, wet_bulb_C: float, temp_in_C: float, outdoor_C: float, flow_kg_s: float
) -> int:
    """1 where a point lies outside a performance table, with a tolerance of 0.01 of each unit.

    Air drier than the driest column is inside where the coil is dry there: nothing changes below.
    """
    tolerance = 0.01
    axis = unit_map.table_dry_bulb_C
    if temp_in_C < axis[0] - tolerance or temp_in_C > axis[axis.size - 1] + tolerance:
        return 1
    axis = unit_map.table_outdoor_C
    if outdoor_C < axis[0] - tolerance or outdoor_C > axis[axis.size - 1] + tolerance:
        return 1
    axis = unit_map.table_flow_kg_s
    if axis.size > 1 and (
        flow_kg_s < axis[0] * (1.0 - tolerance)
        or flow_kg_s > axis[axis.size - 1] * (1.0 + tolerance)
    ):
        return 1
    axis = unit_map.table_wet_bulb_C
    if wet_bulb_C > axis[axis.size - 1] + tolerance:
        return 1
    if wet_bulb_C < axis[0] - tolerance:
        total, sensible, _ = table_node_values(unit_map, 0, temp_in_C, outdoor_C, flow_kg_s)
        if sensible < total:
            return 1
    return 0


@compiled
def equivalent_outdoor(
    unit_map: UnitMap, wet_bulb_C: float, temp_in_C: float, flow_kg_s: float, condensing_C: float
) -> float:
    """Outdoor temperature [C] at which a tabulated unit would condense at ``condensing_C``.

    outdoor = condensing - (total + power) / UA, by the secant method.
    """
    conductance = unit_map.condenser_conductance_W_K
    outdoor = condensing_C - 15.0
    total, _, power = table_values(unit_map, wet_bulb_C, temp_in_C, outdoor, flow_kg_s)
    residual = condensing_C - (total + power) / conductance - outdoor
    last = outdoor
    last_residual = residual
    outdoor += residual
    for _ in range(40):
        total, _, power = table_values(unit_map, wet_bulb_C, temp_in_C, outdoor, flow_kg_s)
        residual = condensing_C - (total + power) / conductance - outdoor
        if abs(residual) < 1e-10 or outdoor == last:
            break
        gradient = (residual - last_residual) / (outdoor - last)
        last = outdoor
        last_residual = residual
        # The gradient is near -1 for any real unit; a table's kink may spoil one secant.
        outdoor -= residual / min(max(gradient, -2.0), -0.3)
    return outdoor


@compiled
def table_state(
    unit_map: UnitMap,
    temp_in_C: float,
    hum_ratio_in: float,
    pressure_Pa: float,
    flow_kg_s: float,
    condensing_C: float,
) -> tuple[float, float, float, float, float, float, float, int]:
    """Steady running of a tabulated unit; returns what steady_state returns, suction NaN.

    The surface is the one that gives the total with the bypass factor of the rating. Beyond the
    table's edge, where its sensible share is a guess, air is not let leave drier than that surface.
    """
    entering_wet_bulb = wet_bulb(temp_in_C, hum_ratio_in, pressure_Pa)
    outdoor = equivalent_outdoor(unit_map, entering_wet_bulb, temp_in_C, flow_kg_s, condensing_C)
    total, sensible, power = table_values(
        unit_map, entering_wet_bulb, temp_in_C, outdoor, flow_kg_s
    )
    h_in = enthalpy(temp_in_C, hum_ratio_in)
    contact = flow_kg_s * (1.0 - math.exp(-unit_map.bypass_area_kg_s / flow_kg_s))
    floor = min(unit_map.surface_floor_C, temp_in_C)
    most, _, _ = coil_total_at_surface(contact, temp_in_C, hum_ratio_in, h_in, floor, pressure_Pa)
    floor_hit = 0
    if total > most:
        floor_hit = 1
        power *= most / total
        sensible *= most / total
        total = most
        surface = floor
    else:
        dry = temp_in_C - total / (contact * heat_capacity(hum_ratio_in))
        if saturation_hum_ratio(dry, pressure_Pa) >= hum_ratio_in:
            surface = dry
        else:
            surface = saturation_temp_from_enthalpy(h_in - total / contact, pressure_Pa, dry)
    temp_out, w_out = leaving_from_heats(temp_in_C, hum_ratio_in, total, sensible, flow_kg_s)
    if (
        floor_hit == 1
        or outside_table(unit_map, entering_wet_bulb, temp_in_C, outdoor, flow_kg_s) == 1
    ):
        driest = min(hum_ratio_in, saturation_hum_ratio(surface, pressure_Pa))
        if w_out < driest:
            w_out = driest
            temp_out = temp_from_enthalpy(h_in - total / flow_kg_s, w_out)
    temp_out, w_out = settle_fog(temp_out, w_out, pressure_Pa)
    sensible = flow_kg_s * heat_capacity(w_out) * (temp_in_C - temp_out)
    return total, sensible, power, surface, math.nan, temp_out, w_out, floor_hit


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
