"""The cooling coil: apparatus dew point and bypass factor.

The coil is a surface at one temperature, the apparatus dew point. A share of the air, the bypass
factor, passes it untouched and the rest leaves saturated at the surface, so enthalpy and humidity
ratio both lie on the straight line between the entering air and saturation at the surface. The
bypass factor falls with the time the air spends in the coil, BF = exp(-A0 / m). (ASHRAE Handbook -
Fundamentals and standard texts on air conditioning; equations not checked against the text.)

Air that enters close to saturation can be led by the straight line into the fog region. There the
excess water is taken to condense at constant enthalpy, and the air leaves saturated.

Heats are those of the air-enthalpy method, per kilogram of dry air; the enthalpy of the condensate
(about 0.5 % of the total) is not deducted:

    total     m (h_in - h_out)
    sensible  m cp(W_out) (T_in - T_out)
    latent    m (W_in - W_out) h_vapor(T_in)

and total = sensible + latent exactly. The sensible heat ratio depends on the entering air and the
apparatus dew point only, not on the bypass factor.
"""

from __future__ import annotations

import math
from functools import lru_cache

from dewledger.weather.errors import InputError
from dewledger.weather.numerics.compiled import apart, compiled, program, within_callers
from dewledger.weather.physics.moist_air import (
    CP_VAPOR,
    FloatArray,
    enthalpy,
    heat_capacity,
    saturation_enthalpy,
    saturation_hum_ratio,
    saturation_hum_ratio_and_slope,
    saturation_hum_ratio_slope_and_bend,
    saturation_temp_from_enthalpy,
    temp_from_enthalpy,
    temp_from_saturation_pressure,
    vapor_enthalpy,
    vapor_pressure_from_hum_ratio,
)


@compiled
def bypass_factor(bypass_area_kg_s: float, flow_kg_s: float) -> float:
    """Bypass factor at a dry-air flow: exp(-A0 / m).

    Share of the air [1]; ``bypass_area_kg_s`` is A0 in the unit of the flow.
    """
    return math.exp(-bypass_area_kg_s / flow_kg_s)


@compiled
@apart
def settle_fog(temp_C: float, hum_ratio: float, pressure_Pa: float) -> tuple[float, float]:
    """Dry bulb and humidity ratio once any water above saturation has condensed, same enthalpy.

    Returns [C] and [kg/kg].
    """
    if hum_ratio <= saturation_hum_ratio(temp_C, pressure_Pa):
        return temp_C, hum_ratio
    h = enthalpy(temp_C, hum_ratio)
    temp = saturation_temp_from_enthalpy(h, pressure_Pa, temp_C)
    return temp, saturation_hum_ratio(temp, pressure_Pa)


@compiled
def coil_leaving(
    temp_in_C: float,
    hum_ratio_in: float,
    surface_C: float,
    bypass: float,
    pressure_Pa: float,
) -> tuple[float, float]:
    """Dry bulb [C] and humidity ratio [kg/kg] of the air leaving a coil.

    Dry where the surface is at or above the entering dew point: the humidity ratio stays.
    """
    w_surface = saturation_hum_ratio(surface_C, pressure_Pa)
    if w_surface >= hum_ratio_in:
        return surface_C + bypass * (temp_in_C - surface_C), hum_ratio_in
    h_surface = enthalpy(surface_C, w_surface)
    h_out = h_surface + bypass * (enthalpy(temp_in_C, hum_ratio_in) - h_surface)
    w_out = w_surface + bypass * (hum_ratio_in - w_surface)
    return settle_fog(temp_from_enthalpy(h_out, w_out), w_out, pressure_Pa)


@program()
def find_coil_leaving(
    temp_in_C: FloatArray,
    hum_ratio_in: FloatArray,
    surface_C: FloatArray,
    bypass: FloatArray,
    pressure_Pa: FloatArray,
    out: FloatArray,
) -> None:
    """``coil_leaving`` of many states, in arrays of one dimension: rows of ``out`` are the dry bulb
    [C] and the humidity ratio [kg/kg]."""
    for i in range(temp_in_C.size):
        out[0, i], out[1, i] = coil_leaving(
            temp_in_C[i], hum_ratio_in[i], surface_C[i], bypass[i], pressure_Pa[i]
        )


@compiled
def surface_for_leaving_temp(
    temp_in_C: float,
    hum_ratio_in: float,
    temp_out_C: float,
    bypass: float,
    pressure_Pa: float,
    start_C: float,
) -> float:
    """Coil surface temperature [C] at which the air leaves at ``temp_out_C``.

    Newton from ``start_C`` on the wet line; the dry coil and the saturated outlet are explicit.
    """
    dry = (temp_out_C - bypass * temp_in_C) / (1.0 - bypass)
    if saturation_hum_ratio(dry, pressure_Pa) >= hum_ratio_in:
        return dry
    h_in = enthalpy(temp_in_C, hum_ratio_in)
    surface = min(start_C, dry)
    if not surface > -80.0:
        surface = dry
    for _ in range(50):
        w, slope = saturation_hum_ratio_and_slope(surface, pressure_Pa)
        w_out = w + bypass * (hum_ratio_in - w)
        # Enthalpy on the line less the enthalpy of air at the leaving dry bulb: zero at the answer.
        h_line = (1.0 - bypass) * enthalpy(surface, w) + bypass * h_in
        residual = h_line - enthalpy(temp_out_C, w_out)
        gradient = (1.0 - bypass) * (
            heat_capacity(w) + slope * (vapor_enthalpy(surface) - vapor_enthalpy(temp_out_C))
        )
        step = min(max(residual / gradient, -20.0), 20.0)
        surface = max(surface - step, -90.0)
        if abs(step) < 1e-6:  # Newton squares the error
            break
    w = saturation_hum_ratio(surface, pressure_Pa)
    w_sat = saturation_hum_ratio(temp_out_C, pressure_Pa)
    if w + bypass * (hum_ratio_in - w) <= w_sat:
        return surface
    h_surface = h_in - (h_in - enthalpy(temp_out_C, w_sat)) / (1.0 - bypass)
    return saturation_temp_from_enthalpy(h_surface, pressure_Pa, surface)


@compiled
def surface_for_leaving_hum_ratio(
    hum_ratio_in: float, hum_ratio_out: float, bypass: float, pressure_Pa: float
) -> float:
    """Coil surface temperature [C] at which the straight line leads to ``hum_ratio_out``.

    NaN where no surface is dry enough. Where the line ends in fog the coil takes out more than
    was asked, and this surface is colder than needed.
    """
    w_surface = (hum_ratio_out - bypass * hum_ratio_in) / (1.0 - bypass)
    if not w_surface > 1e-7:
        return math.nan
    return temp_from_saturation_pressure(vapor_pressure_from_hum_ratio(w_surface, pressure_Pa))


@compiled
@within_callers
def is_wet(hum_ratio_in: float, saturated: float) -> bool:
    """Whether air condenses on a surface where saturated air holds so much [kg/kg]; beyond the
    boiling point, where that is negative, nothing does."""
    return 0.0 < saturated < hum_ratio_in


@compiled
@within_callers
def coil_heat(
    contact_kg_s: float,
    temp_in_C: float,
    hum_ratio_in: float,
    enthalpy_in: float,
    surface_C: float,
    saturated: tuple[float, float, float],
) -> tuple[float, float, float]:
    """Coil heat [W] at a surface temperature, its derivative [W/K] and the second one [W/K2].

    Total heat is that of the air that touches the surface, m (1 - BF), brought to saturation at it;
    on a dry surface to its temperature alone.

    saturated : humidity ratio of saturated air at the surface, its slope and the slope's own
    """
    w, w_slope, w_bend = saturated
    slope = -contact_kg_s * heat_capacity(hum_ratio_in)
    total = slope * (surface_C - temp_in_C)
    bend = 0.0
    if is_wet(hum_ratio_in, w):
        vapor = vapor_enthalpy(surface_C)
        total = contact_kg_s * (enthalpy_in - enthalpy(surface_C, w))
        slope = -contact_kg_s * (heat_capacity(w) + w_slope * vapor)
        bend = -contact_kg_s * (w_bend * vapor + 2.0 * CP_VAPOR * w_slope)
    return total, slope, bend


@compiled
def coil_total_at_surface(
    contact_kg_s: float,
    temp_in_C: float,
    hum_ratio_in: float,
    enthalpy_in: float,
    surface_C: float,
    pressure_Pa: float,
) -> tuple[float, float, float, float]:
    """Coil heat [W] at a surface temperature and its derivative [W/K]; humidity ratio at the
    surface and its derivative [1/K].

    ``contact_kg_s`` is the flow that touches the surface, m (1 - BF). A dry surface has the
    humidity ratio of the entering air.
    """
    saturated = saturation_hum_ratio_slope_and_bend(surface_C, pressure_Pa)
    total, slope, _ = coil_heat(
        contact_kg_s, temp_in_C, hum_ratio_in, enthalpy_in, surface_C, saturated
    )
    if is_wet(hum_ratio_in, saturated[0]):
        return total, slope, saturated[0], saturated[1]
    return total, slope, hum_ratio_in, 0.0


@compiled
def leaving_from_heats(
    temp_in_C: float, hum_ratio_in: float, total_W: float, sensible_W: float, flow_kg_s: float
) -> tuple[float, float]:
    """Leaving dry bulb and humidity ratio from total and sensible heat: the inverse.

    Returns [C] and [kg/kg]; sensible m cp (T - T_out), total m (h - h_out).
    """
    w_out = hum_ratio_in - (total_W - sensible_W) / (flow_kg_s * vapor_enthalpy(temp_in_C))
    return temp_in_C - sensible_W / (flow_kg_s * heat_capacity(w_out)), w_out


def sensible_ratio_of_surface(
    temp_in_C: float, hum_ratio_in: float, surface_C: float, pressure_Pa: float
) -> float:
    """Sensible heat ratio of a coil with this surface: 1 - h_vapor dW/dh along the line.

    A fraction [1].
    """
    w_surface = min(saturation_hum_ratio(surface_C, pressure_Pa), hum_ratio_in)
    drop = enthalpy(temp_in_C, hum_ratio_in) - enthalpy(surface_C, w_surface)
    return 1.0 - vapor_enthalpy(temp_in_C) * (hum_ratio_in - w_surface) / drop


@lru_cache(maxsize=256)
def lowest_sensible_ratio(
    temp_in_C: float, hum_ratio_in: float, pressure_Pa: float
) -> tuple[float, float]:
    """Lowest sensible heat ratio any coil can have with this entering air, and its surface [C].

    There the line from the entering air touches the saturation curve. Golden-section search
    between -60 C and the dew point: the ratio has one minimum, the curve being convex.
    """
    low = -60.0
    high = temp_from_saturation_pressure(vapor_pressure_from_hum_ratio(hum_ratio_in, pressure_Pa))
    golden = (math.sqrt(5.0) - 1.0) / 2.0
    for _ in range(80):
        a = high - golden * (high - low)
        b = low + golden * (high - low)
        if sensible_ratio_of_surface(
            temp_in_C, hum_ratio_in, a, pressure_Pa
        ) < sensible_ratio_of_surface(temp_in_C, hum_ratio_in, b, pressure_Pa):
            high = b
        else:
            low = a
    surface = 0.5 * (low + high)
    return sensible_ratio_of_surface(temp_in_C, hum_ratio_in, surface, pressure_Pa), surface


class ImpossibleRatio(InputError):
    """A sensible heat ratio that no coil has with its entering air, total and air flow."""

    def __init__(self, ratio: float, nearest: float) -> None:
        self.ratio, self.nearest = ratio, nearest
        # Rounded inwards, so that the value stated can be written back.
        thousandths = math.ceil(nearest * 1000) if ratio < nearest else math.floor(nearest * 1000)
        super().__init__(
            f"stated sensible heat ratio {ratio:.3f} is impossible with this entering air, total "
            f"and air flow; the nearest possible is {thousandths / 1000:.3f}"
        )


@lru_cache(maxsize=256)
def apparatus_dew_point(
    temp_in_C: float,
    hum_ratio_in: float,
    total_W: float,
    sensible_W: float,
    flow_kg_s: float,
    pressure_Pa: float,
) -> tuple[float, float]:
    """Apparatus dew point [C] and bypass factor of a rating: the coil turned round.

    Parameters
    ----------
    temp_in_C, hum_ratio_in : entering air
    total_W, sensible_W : gross heat taken from the air
    flow_kg_s : dry air

    Raises
    ------
    InputError : the line through entering and leaving air does not meet saturation, or meets it
        before the leaving air is reached; the sentence gives the nearest possible ratio
    """
    ratio = sensible_W / total_W
    h_in = enthalpy(temp_in_C, hum_ratio_in)
    h_out = h_in - total_W / flow_kg_s
    dew = temp_from_saturation_pressure(vapor_pressure_from_hum_ratio(hum_ratio_in, pressure_Pa))
    lowest, touch = lowest_sensible_ratio(temp_in_C, hum_ratio_in, pressure_Pa)
    # At this enthalpy the highest sensible ratio is that of saturated leaving air.
    saturated = saturation_temp_from_enthalpy(h_out, pressure_Pa, touch)
    if saturated >= dew:
        highest = 1.0
    else:
        highest = sensible_ratio_of_surface(temp_in_C, hum_ratio_in, saturated, pressure_Pa)
    if not saturated > touch or lowest >= highest:  # NaN where no air is as cold
        raise InputError(
            f"a stated total of {total_W / 1000:.3g} kW is impossible at the stated air flow: the "
            f"air would leave at a wet bulb below {touch:.1f} C, and no coil surface gives that "
            "with this entering air; check the total, the flow and the entering state"
        )
    if not lowest <= ratio <= highest:
        raise ImpossibleRatio(ratio, lowest if ratio < lowest else highest)
    # The ratio rises with the surface from the touching point to the dew point: bisection.
    low, high = touch, dew
    for _ in range(200):
        middle = 0.5 * (low + high)
        if sensible_ratio_of_surface(temp_in_C, hum_ratio_in, middle, pressure_Pa) < ratio:
            low = middle
        else:
            high = middle
        if high - low < 1e-12:
            break
    surface = 0.5 * (low + high)
    h_surface = saturation_enthalpy(surface, pressure_Pa)
    if ratio >= 1.0:
        h_surface = enthalpy(surface, hum_ratio_in)
    return surface, (h_out - h_surface) / (h_in - h_surface)
