"""A DX unit from one rating point.

Three constants are unknown - displacement, the resistance between coil surface and refrigerant, the
conductance of the condenser - and the rating point gives three heats to find them from: the balance
then meets the rating exactly. The compressor's efficiency at the rating follows from the rated
power, elsewhere from the shape of its kind. Suction and condensing temperature at the rating are
assumptions, typical unless stated.

Source: AHRI Standard 210/240 and 340/360 for the rating conditions (not checked against the text);
the balance of compressor, coil and condenser otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from numbers import Real

import numpy as np

from dewledger.components.compressor import (
    LEAST_EFFICIENCY,
    MOST_EFFICIENCY,
    scroll_efficiency,
)
from dewledger.components.cooling_coil import ImpossibleRatio, apparatus_dew_point
from dewledger.components.refrigerant_cycle import (
    DEFAULT_SUBCOOLING_K,
    DEFAULT_SUPERHEAT_K,
    compression,
    refrigerant_named,
    refrigerant_table,
    volumetric_efficiency,
)
from dewledger.dx_unit.steady_state import compressor_power, evaporator_cooling
from dewledger.dx_unit.types import BALANCE, FloatArray, Unit, UnitMap
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import (
    STANDARD_AIR_DENSITY,
    STANDARD_PRESSURE_PA,
    hum_ratio_from_wet_bulb,
)

TON_W = 3516.8528

# AHRI Standard 210/240 and 340/360 cooling rating condition: 80 F dry bulb and 67 F wet bulb
# entering, 95 F outdoors (not checked against the text).
RATING_TEMP_IN_C = 80.0 / 1.8 - 32.0 / 1.8
RATING_WET_BULB_C = 67.0 / 1.8 - 32.0 / 1.8
RATING_OUTDOOR_C = 35.0
# AHRI Standard 210/240 default for a coil rated without its fan: 365 W per 1000 cfm (value from
# memory), in W per m3/s.
DEFAULT_FAN_W_M3_S = 365.0 / 0.47194745
# Common practice, no source: typical of comfort units at the rating condition.
TYPICAL_SUCTION_C = 13.0 / 1.8  # 45 F
TYPICAL_CONDENSING_C = 88.0 / 1.8  # 120 F
TYPICAL_CONDENSER_FAN_W_TON = 70.0
TYPICAL_CLEARANCE = 0.06

# Fine enough that linear interpolation is good to 1e-4 (tested).
SUCTION_MAP_C = np.linspace(-30.0, 30.0, 121)
CONDENSING_MAP_C = np.linspace(10.0, 65.0, 111)


def supply_fan(
    net: bool, rated_fan_W: float | None, flow_m3_s: float
) -> tuple[float, tuple[str, ...]]:
    """Supply fan power [W] inside a rating, with a note where it is the standard's default."""
    if not net:
        return 0.0, ()
    if rated_fan_W is not None:
        return rated_fan_W, ()
    fan_W = DEFAULT_FAN_W_M3_S * flow_m3_s
    return fan_W, (
        f"Rating fan power not stated: {fan_W:.0f} W taken, 365 W per 1000 cfm, the default of "
        "AHRI Standard 210/240 (not checked against the text).",
    )


def condenser_fan(stated_W: float | None, gross_total_W: float) -> tuple[float, tuple[str, ...]]:
    """Outdoor fan power [W], with a note where it is a typical one."""
    if stated_W is not None:
        return stated_W, ()
    fan_W = TYPICAL_CONDENSER_FAN_W_TON * gross_total_W / TON_W
    return fan_W, (
        f"Outdoor fan power not stated: {fan_W:.0f} W taken, {TYPICAL_CONDENSER_FAN_W_TON:.0f} W "
        "per ton (common practice, no source).",
    )


def gross_rating(
    total_W: float,
    sensible_W: float,
    net: bool,
    efficiency_cop: float | None,
    compressor_W: float | None,
    rated_flow_m3_s: float,
    rated_fan_W: float | None,
    condenser_fan_W: float | None,
) -> tuple[float, float, float, float, float, list[str]]:
    """Gross total, gross sensible, compressor, supply fan and condenser fan [W], and notes.

    Net ratings (AHRI): capacity less supply fan heat, over the power of compressor, outdoor and
    supply fan. Gross ratings: coil capacity, over the power of compressor and outdoor fan.

    Raises
    ------
    InputError : powers that leave the compressor nothing, or disagree
    """
    for value, what in ((total_W, "total capacity"), (sensible_W, "sensible capacity")):
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(f'the unit\'s rated {what} must be above zero, such as "90 kBtu/h"')
    if not (math.isfinite(rated_flow_m3_s) and rated_flow_m3_s > 0.0):
        raise InputError('the unit\'s rated air flow must be above zero, such as "3000 cfm"')
    if sensible_W > total_W:
        raise InputError(
            f"the unit's rated sensible capacity, {sensible_W / 1000:.3g} kW, is above its total "
            f"of {total_W / 1000:.3g} kW; it must be part of it"
        )
    fan_W, fan_notes = supply_fan(net, rated_fan_W, rated_flow_m3_s)
    gross_total = total_W + fan_W
    gross_sensible = sensible_W + fan_W
    condenser_fan_W, condenser_notes = condenser_fan(condenser_fan_W, gross_total)
    notes = [*fan_notes, *condenser_notes]
    if (efficiency_cop is None) == (compressor_W is None):
        raise InputError(
            "the unit's rating needs either an efficiency or a compressor power, not both; write "
            'for example "11.2 EER"'
        )
    if compressor_W is None:
        assert efficiency_cop is not None
        if not efficiency_cop > 0.0:
            raise InputError('the unit\'s rated efficiency must be above zero, such as "11.2 EER"')
        power = total_W / efficiency_cop
        compressor_W = power - condenser_fan_W - fan_W
        if compressor_W < 0.3 * power:
            raise InputError(
                f"the rated efficiency means {power:.0f} W in total, of which the fans take "
                f"{condenser_fan_W + fan_W:.0f} W: too little is left for the compressor; check "
                "the efficiency and the fan powers"
            )
    elif not compressor_W > 0.0:
        raise InputError('the unit\'s rated compressor power must be above zero, such as "6 kW"')
    return gross_total, gross_sensible, compressor_W, fan_W, condenser_fan_W, notes


def balance_unit(
    *,
    source: str,
    refrigerant: str,
    suction_axis_C: FloatArray,
    condensing_axis_C: FloatArray,
    cooling_W: FloatArray,
    compressor_W: FloatArray,
    total_W: float,
    sensible_W: float,
    rated_compressor_W: float,
    fan_W: float,
    condenser_fan_W: float,
    flow_kg_s: float,
    temp_in_C: float,
    wet_bulb_C: float,
    outdoor_C: float,
    suction_C: float,
    condensing_C: float,
    surface_C: float,
    bypass: float,
    surface_floor_C: float,
    isentropic_efficiency: float,
    superheat_K: float,
    subcooling_K: float,
    pressure_Pa: float,
    notes: Sequence[str],
) -> Unit:
    """A unit of kind BALANCE from its compressor on uniform axes and its rating point.

    The map is scaled so that interpolation at the rating gives the rating exactly.

    Axes (n,) and (m,) in [C], capacity and power (n, m) in [W].

    Raises
    ------
    InputError : a rating whose coil, condenser or map is impossible, with the remedy
    """
    if surface_C <= suction_C:
        raise InputError(
            f"the unit's rated suction temperature of {suction_C:.1f} C is not below the apparatus "
            f"dew point of its rating, {surface_C:.1f} C; write a lower suction temperature or "
            "check the sensible capacity and the air flow"
        )
    if condensing_C <= outdoor_C:
        raise InputError(
            f"the unit's rated condensing temperature of {condensing_C:.1f} C must be above the "
            f"outdoor temperature of the rating, {outdoor_C:.1f} C"
        )
    one = np.zeros(1)
    unit_map = UnitMap(
        kind=BALANCE,
        suction_first_C=float(suction_axis_C[0]),
        suction_step_K=float(suction_axis_C[1] - suction_axis_C[0]),
        condensing_first_C=float(condensing_axis_C[0]),
        condensing_step_K=float(condensing_axis_C[1] - condensing_axis_C[0]),
        cooling_W=np.ascontiguousarray(cooling_W, dtype=np.float64),
        compressor_W=np.ascontiguousarray(compressor_W, dtype=np.float64),
        surface_resistance_K_W=(surface_C - suction_C) / total_W,
        bypass_area_kg_s=-flow_kg_s * math.log(bypass),
        condenser_conductance_W_K=(total_W + rated_compressor_W) / (condensing_C - outdoor_C),
        condenser_fan_W=float(condenser_fan_W),
        surface_floor_C=float(surface_floor_C),
        table_wet_bulb_C=one,
        table_dry_bulb_C=one,
        table_outdoor_C=one,
        table_flow_kg_s=one,
        table_total_W=np.zeros((1, 1, 1, 1)),
        table_sensible_W=np.zeros((1, 1, 1, 1)),
        table_compressor_W=np.zeros((1, 1, 1, 1)),
    )
    at = (suction_C, condensing_C)
    unit_map = unit_map._replace(
        cooling_W=unit_map.cooling_W * (total_W / evaporator_cooling(unit_map, *at)),
        compressor_W=unit_map.compressor_W * (rated_compressor_W / compressor_power(unit_map, *at)),
    )
    return Unit(
        map=unit_map,
        source=source,
        refrigerant=refrigerant,
        rated_total_W=total_W,
        rated_sensible_W=sensible_W,
        rated_compressor_W=rated_compressor_W,
        rated_fan_W=fan_W,
        rated_flow_kg_s=flow_kg_s,
        rated_temp_in_C=temp_in_C,
        rated_hum_ratio_in=hum_ratio_from_wet_bulb(temp_in_C, wet_bulb_C, pressure_Pa),
        rated_wet_bulb_C=wet_bulb_C,
        rated_outdoor_C=outdoor_C,
        rated_suction_C=suction_C,
        rated_condensing_C=condensing_C,
        rated_surface_C=surface_C,
        rated_bypass=bypass,
        isentropic_efficiency=isentropic_efficiency,
        superheat_K=superheat_K,
        subcooling_K=subcooling_K,
        notes=tuple(notes),
    )


def rated_coil(
    total_W: float,
    sensible_W: float,
    flow_kg_s: float,
    temp_in_C: float,
    wet_bulb_C: float,
    pressure_Pa: float,
    fan_W: float = 0.0,
) -> tuple[float, float]:
    """Apparatus dew point [C] and bypass factor of a gross rating.

    ``fan_W`` is the supply fan's heat that the rating was stated net of, so that an impossible
    ratio is reported, and the nearest possible one, as it was stated.

    Raises
    ------
    ImpossibleRatio : a sensible heat ratio that no coil has; InputError : other impossible ratings
    """
    if wet_bulb_C > temp_in_C:
        raise InputError(
            f"the rated entering wet bulb of {wet_bulb_C:.1f} C is above the dry bulb of "
            f"{temp_in_C:.1f} C; it must be below"
        )
    w = hum_ratio_from_wet_bulb(temp_in_C, wet_bulb_C, pressure_Pa)
    if w <= 0.0:
        raise InputError(
            f"a wet bulb of {wet_bulb_C:.1f} C cannot go with a dry bulb of {temp_in_C:.1f} C in "
            "the rating; check both"
        )
    try:
        surface, bypass = apparatus_dew_point(
            temp_in_C, w, total_W, sensible_W, flow_kg_s, pressure_Pa
        )
    except ImpossibleRatio as problem:
        net_W = total_W - fan_W
        stated, nearest = ((r * total_W - fan_W) / net_W for r in (problem.ratio, problem.nearest))
        raise ImpossibleRatio(stated, nearest) from None
    return surface, max(bypass, 1e-4)


def unit_from_ratings(
    *,
    refrigerant: str,
    total_W: float,
    sensible_W: float,
    net: bool,
    rated_flow_m3_s: float,
    efficiency_cop: float | None = None,
    compressor_W: float | None = None,
    rated_fan_W: float | None = None,
    condenser_fan_W: float | None = None,
    temp_in_C: float = RATING_TEMP_IN_C,
    wet_bulb_C: float = RATING_WET_BULB_C,
    outdoor_C: float = RATING_OUTDOOR_C,
    suction_C: float | None = None,
    condensing_C: float | None = None,
    superheat_K: float = DEFAULT_SUPERHEAT_K,
    subcooling_K: float = DEFAULT_SUBCOOLING_K,
    clearance: float = TYPICAL_CLEARANCE,
    scroll: bool = False,
    surface_floor_C: float = 0.0,
    pressure_Pa: float = STANDARD_PRESSURE_PA,
) -> Unit:
    """A unit whose balance meets one rating point exactly.

    Parameters
    ----------
    total_W, sensible_W : rated capacities; ``net`` of the supply fan's heat (AHRI), or gross
    rated_flow_m3_s : standard air (1.204 kg/m3)
    efficiency_cop : net: net total over compressor, outdoor and supply fan; gross: gross total over
        compressor and outdoor fan. Or state ``compressor_W``.
    temp_in_C, wet_bulb_C, outdoor_C : the rating condition
    suction_C, condensing_C : saturated, at the rating; where None 45 F and 120 F or, with a scroll
        compressor, the nearest to them that its efficiency is plausible at
    clearance : c of the volumetric efficiency 1 + c - c r^(1/n)
    scroll : efficiency over pressure ratio by the shape of a published scroll compressor, scaled
        to the rating; else constant

    Raises
    ------
    InputError : a rating that no such unit can have

    Capacities and powers in [W], flow in [m3/s] of standard air, temperatures in [C].
    """
    for name, value in (("total_W", total_W), ("sensible_W", sensible_W),
                        ("rated_flow_m3_s", rated_flow_m3_s)):  # fmt: skip
        if not isinstance(value, Real):
            raise InputError(f"{name} is not a number; a unit has one rating, in W and m3/s")
    total, sensible, compressor, fan_W, condenser_fan_W, notes = gross_rating(
        total_W,
        sensible_W,
        net,
        efficiency_cop,
        compressor_W,
        rated_flow_m3_s,
        rated_fan_W,
        condenser_fan_W,
    )
    if not 0.0 <= clearance <= 0.2:
        raise InputError(f"clearance {clearance:.3g} is out of range; write 0 to 0.2")
    flow = rated_flow_m3_s * STANDARD_AIR_DENSITY
    surface, bypass = rated_coil(total, sensible, flow, temp_in_C, wet_bulb_C, pressure_Pa, fan_W)
    chosen = refrigerant_named(refrigerant)
    table = refrigerant_table(chosen.name, superheat_K, subcooling_K)
    suction, condensing = np.meshgrid(SUCTION_MAP_C, CONDENSING_MAP_C, indexing="ij")

    def relative(at_suction: FloatArray, at_condensing: FloatArray) -> tuple[FloatArray, ...]:
        """Capacity and ideal power per volume swept, and pressure ratio."""
        state = compression(table, at_suction, at_condensing)
        flow_per_volume = state.suction_density * volumetric_efficiency(
            state.pressure_ratio, clearance, chosen.re_expansion
        )
        capacity = flow_per_volume * state.refrigerating_effect
        return capacity, flow_per_volume * state.isentropic_work, state.pressure_ratio

    def implied(suction_C: float, condensing_C: float) -> float:
        """Isentropic efficiency that the rating implies between two temperatures."""
        rated = relative(np.array([suction_C]), np.array([condensing_C]))
        return float(rated[1][0] / rated[0][0]) * total / compressor

    suction_C, condensing_C, assumed = _rated_temperatures(
        implied, suction_C, condensing_C, surface, scroll
    )
    notes += assumed
    inside_map(suction_C, condensing_C)
    capacity, ideal, ratio = relative(suction, condensing)
    # Extreme lifts can leave no volumetric efficiency: a small positive rest keeps a balance there.
    capacity = np.maximum(capacity, 1e-3 * float(capacity.max()))
    ideal = np.maximum(ideal, 1e-3 * float(ideal.max()))
    rated_capacity, rated_ideal, rated_ratio = (
        float(value[0]) for value in relative(np.array([suction_C]), np.array([condensing_C]))
    )
    power = ideal * (compressor / rated_ideal)
    curve = "constant efficiency"
    if scroll:
        power *= float(scroll_efficiency(np.array(rated_ratio))) / scroll_efficiency(ratio)
        curve = "efficiency over pressure ratio by a published scroll compressor"
    isentropic = implied(suction_C, condensing_C)
    if not 0.3 < isentropic < 0.95:
        raise InputError(
            f"the rated capacity and power would take a compressor of {100 * isentropic:.0f} % "
            "isentropic efficiency between the rated suction and condensing temperatures, and "
            "real ones have 45 to 80 %; check the power or efficiency and both temperatures"
        )
    notes.append(
        f"{chosen.name}: compressor clearance {100 * clearance:.3g} %, re-expansion exponent "
        f"{chosen.re_expansion:.2f}, {curve}, {100 * isentropic:.0f} % at the rating (from it)."
    )
    return balance_unit(
        source="ratings",
        refrigerant=chosen.name,
        suction_axis_C=SUCTION_MAP_C,
        condensing_axis_C=CONDENSING_MAP_C,
        cooling_W=capacity * (total / rated_capacity),
        compressor_W=power,
        total_W=total,
        sensible_W=sensible,
        rated_compressor_W=compressor,
        fan_W=fan_W,
        condenser_fan_W=condenser_fan_W,
        flow_kg_s=flow,
        temp_in_C=temp_in_C,
        wet_bulb_C=wet_bulb_C,
        outdoor_C=outdoor_C,
        suction_C=suction_C,
        condensing_C=condensing_C,
        surface_C=surface,
        bypass=bypass,
        surface_floor_C=surface_floor_C,
        isentropic_efficiency=isentropic,
        superheat_K=superheat_K,
        subcooling_K=subcooling_K,
        pressure_Pa=pressure_Pa,
        notes=notes,
    )


# How far the temperatures of a rating that states none may be taken from 45 and 120 F: 40 to 50 F
# and 105 to 130 F (common practice, no source).
_SUCTION_SPAN_C = (4.4, 10.0)
_CONDENSING_SPAN_C = (40.6, 54.4)
_LEAST_APPROACH_K = 2.0  # from suction to the coil surface


def _rated_temperatures(
    implied: Callable[[float, float], float],
    suction_C: float | None,
    condensing_C: float | None,
    surface_C: float,
    plausible: bool,
) -> tuple[float, float, list[str]]:
    """Suction and condensing temperature of a rating [C], and notes of those assumed.

    Typical ones where none are stated; with ``plausible`` the condensing temperature, then the
    suction temperature, as near to them as leaves the compressor a plausible efficiency.
    """
    at = TYPICAL_SUCTION_C if suction_C is None else suction_C
    to = TYPICAL_CONDENSING_C if condensing_C is None else condensing_C
    if plausible:
        limit = min(max(implied(at, to), LEAST_EFFICIENCY), MOST_EFFICIENCY)
        more_lift = implied(at, to) < limit
        if condensing_C is None:
            end = _CONDENSING_SPAN_C[1 if more_lift else 0]
            to = _until(lambda value: implied(at, value), to, end, limit)
        if suction_C is None:
            end = _SUCTION_SPAN_C[0 if more_lift else 1]
            end = min(end, max(surface_C - _LEAST_APPROACH_K, at))
            at = _until(lambda value: implied(value, to), at, end, limit)
    notes = []
    for stated, value, typical, what in (
        (suction_C, at, TYPICAL_SUCTION_C, "Suction"),
        (condensing_C, to, TYPICAL_CONDENSING_C, "Condensing"),
    ):
        if stated is None:
            why = "(common practice, no source)"
            shown = f"{32.0 + 1.8 * value:.0f}"
            if value != typical:
                shown = f"{32.0 + 1.8 * value:.1f}"
                why = (
                    f"and not {32.0 + 1.8 * typical:.0f} F (common practice, no source), so that "
                    f"the compressor stays within {100 * LEAST_EFFICIENCY:.0f} to "
                    f"{100 * MOST_EFFICIENCY:.0f} % efficiency"
                )
            notes.append(
                f"{what} temperature at the rating not stated: {shown} F ({value:.1f} C) taken "
                f"{why}."
            )
    return at, to, notes


def _until(of: Callable[[float], float], start: float, end: float, limit: float) -> float:
    """The value nearest ``start`` on the way to ``end`` at which ``of`` is at the limit; the end
    where it is not reached."""
    low, high = sorted((of(start), of(end)))
    if abs(of(start) - limit) < 1e-9 or start == end:
        return start
    if not low <= limit <= high:
        return end
    inside, outside = end, start
    rising = of(end) > of(start)
    for _ in range(60):
        middle = 0.5 * (inside + outside)
        if (of(middle) >= limit) == rising:
            inside = middle
        else:
            outside = middle
    return inside


def inside_map(suction_C: float, condensing_C: float) -> None:
    """Raise InputError for rated temperatures the map cannot serve."""
    if not -10.0 <= suction_C <= 20.0:
        raise InputError(
            f"the unit's rated suction temperature of {suction_C:.1f} C is out of range; comfort "
            "units have 0 to 15 C (32 to 59 F)"
        )
    if not 25.0 <= condensing_C <= 62.0:
        raise InputError(
            f"the unit's rated condensing temperature of {condensing_C:.1f} C is out of range; "
            "air-cooled units have 40 to 57 C (104 to 135 F)"
        )
