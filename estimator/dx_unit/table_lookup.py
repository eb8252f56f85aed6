"""Looking up a unit's performance table: linear in its four axes, held at its edges.

Temperatures in [C], flow in [kg/s], heats and power in [W]. Source: linear interpolation.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from dewledger.components.cooling_coil import coil_total_at_surface, leaving_from_heats, settle_fog
from dewledger.weather.numerics.compiled import apart, compiled
from dewledger.weather.physics.moist_air import (
    FloatArray,
    enthalpy,
    heat_capacity,
    saturation_hum_ratio,
    saturation_temp_from_enthalpy,
    temp_from_enthalpy,
    wet_bulb,
)

if TYPE_CHECKING:
    from dewledger.dx_unit.types import UnitMap


@compiled
def axis_cell(axis: FloatArray, value: float) -> tuple[int, int, float]:
    """Lower and upper node around a value on a rising axis and the place between; held at ends.

    ``axis`` and ``value`` in one unit [C or kg/s]; the place is a fraction [1].
    """
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
    """Total, sensible and power at wet-bulb node ``k``, linear in the three other axes. In [W]."""
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
@apart
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

    Heats and power in [W], temperatures in [C], humidity ratios in [kg/kg].
    """
    entering_wet_bulb = wet_bulb(temp_in_C, hum_ratio_in, pressure_Pa)
    outdoor = equivalent_outdoor(unit_map, entering_wet_bulb, temp_in_C, flow_kg_s, condensing_C)
    total, sensible, power = table_values(
        unit_map, entering_wet_bulb, temp_in_C, outdoor, flow_kg_s
    )
    h_in = enthalpy(temp_in_C, hum_ratio_in)
    contact = flow_kg_s * (1.0 - math.exp(-unit_map.bypass_area_kg_s / flow_kg_s))
    floor = min(unit_map.surface_floor_C, temp_in_C)
    most, _, _, _ = coil_total_at_surface(
        contact, temp_in_C, hum_ratio_in, h_in, floor, pressure_Pa
    )
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
