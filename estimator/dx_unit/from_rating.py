"""A DX unit from one rating point.

The compressor's efficiency at the rating follows from the rated power, elsewhere from the shape of
its kind. Suction and condensing temperature at the rating are assumptions, typical unless stated.

Source: AHRI Standard 210/240 and 340/360 for the rating conditions (not checked against the text);
the balance of compressor, coil and condenser otherwise.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from numbers import Real

import numpy as np

from dewledger.components.compressor import (
    LEAST_EFFICIENCY,
    MOST_EFFICIENCY,
    scroll_efficiency,
)
from dewledger.components.refrigerant_tables import (
    RefrigerantTable,
    compression,
    refrigerant_table,
    volumetric_efficiency,
)
from dewledger.components.refrigerants import (
    DEFAULT_SUBCOOLING_K,
    DEFAULT_SUPERHEAT_K,
    refrigerant_named,
)
from dewledger.dx_unit.calibration import CompressorGrid, RatedState, calibrated_unit
from dewledger.dx_unit.rating import (
    RATING_OUTDOOR_C,
    RATING_TEMP_IN_C,
    RATING_WET_BULB_C,
    Circuit,
    Rating,
    RatingBasis,
    RatingCondition,
    gross_rating,
    rated_coil,
    rated_compressor_power,
)
from dewledger.dx_unit.types import FloatArray, Unit
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import STANDARD_PRESSURE_PA

# Common practice, no source: typical of comfort units at the rating condition.
TYPICAL_SUCTION_C = 13.0 / 1.8  # 45 F
TYPICAL_CONDENSING_C = 88.0 / 1.8  # 120 F
TYPICAL_CLEARANCE = 0.06

# Fine enough that linear interpolation is good to 1e-4 (tested).
SUCTION_MAP_C = np.linspace(-30.0, 30.0, 121)
CONDENSING_MAP_C = np.linspace(10.0, 65.0, 111)


@dataclass(frozen=True)
class GenericCompressor:
    """A compressor of which only the kind is known.

    ``clearance`` is c of the volumetric efficiency 1 + c - c r^(1/n). With ``scroll`` the
    efficiency over pressure ratio has the shape of a published scroll compressor, scaled to the
    rating; else it is constant.
    """

    clearance: float = TYPICAL_CLEARANCE
    scroll: bool = False


@dataclass(frozen=True)
class _SweptVolume:
    """What a volume swept by a compressor takes in, over suction and condensing temperature."""

    table: RefrigerantTable
    clearance: float
    re_expansion: float

    def over(
        self, suction_C: FloatArray, condensing_C: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Capacity and ideal power per volume swept, and pressure ratio."""
        state = compression(self.table, suction_C, condensing_C)
        flow_per_volume = state.suction_density * volumetric_efficiency(
            state.pressure_ratio, self.clearance, self.re_expansion
        )
        capacity = flow_per_volume * state.refrigerating_effect
        return capacity, flow_per_volume * state.isentropic_work, state.pressure_ratio

    def at(self, suction_C: float, condensing_C: float) -> tuple[float, float, float]:
        """The same at one pair of temperatures."""
        capacity, ideal, ratio = self.over(np.array([suction_C]), np.array([condensing_C]))
        return float(capacity[0]), float(ideal[0]), float(ratio[0])


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
    rating = Rating(
        total_W=total_W,
        sensible_W=sensible_W,
        basis=RatingBasis(net, rated_flow_m3_s, rated_fan_W, condenser_fan_W),
        efficiency_cop=efficiency_cop,
        compressor_W=compressor_W,
        condition=RatingCondition(temp_in_C, wet_bulb_C, outdoor_C, pressure_Pa),
    )
    circuit = Circuit(refrigerant, suction_C, condensing_C, superheat_K, subcooling_K)
    return rated_unit(rating, circuit, GenericCompressor(clearance, scroll), surface_floor_C)


def rated_unit(
    rating: Rating,
    circuit: Circuit,
    compressor: GenericCompressor,
    surface_floor_C: float = 0.0,
) -> Unit:
    """A unit whose balance meets one rating point exactly; ``unit_from_ratings`` by its parts.

    Raises
    ------
    InputError : a rating that no such unit can have

    The coil's surface is not let below ``surface_floor_C`` [C].
    """
    gross = gross_rating(rating)
    compressor_W = rated_compressor_power(rating, gross)
    clearance = compressor.clearance
    if not 0.0 <= clearance <= 0.2:
        raise InputError(f"clearance {clearance:.3g} is out of range; write 0 to 0.2")
    flow_kg_s = rating.basis.flow_kg_s
    surface_C, bypass = rated_coil(
        gross.total_W, gross.sensible_W, flow_kg_s, rating.condition, gross.fan_W
    )
    chosen = refrigerant_named(circuit.refrigerant)
    table = refrigerant_table(chosen.name, circuit.superheat_K, circuit.subcooling_K)
    swept = _SweptVolume(table, clearance, chosen.re_expansion)

    def implied(suction_C: float, condensing_C: float) -> float:
        """Isentropic efficiency that the rating implies between two temperatures."""
        capacity, ideal, _ = swept.at(suction_C, condensing_C)
        return ideal / capacity * gross.total_W / compressor_W

    suction_C, condensing_C, assumed = _rated_temperatures(
        implied, circuit, surface_C, compressor.scroll
    )
    inside_map(suction_C, condensing_C)
    rated = RatedState(
        gross, compressor_W, suction_C, condensing_C, surface_C, bypass, flow_kg_s, rating.condition
    )
    grid, curve = _grid(swept, rated, compressor.scroll)
    efficiency = _plausible(implied(suction_C, condensing_C))
    described = (
        f"{chosen.name}: compressor clearance {100 * clearance:.3g} %, re-expansion exponent "
        f"{chosen.re_expansion:.2f}, {curve}, {100 * efficiency:.0f} % at the rating (from it)."
    )
    return calibrated_unit(
        grid,
        rated,
        replace(circuit, refrigerant=chosen.name),
        "ratings",
        surface_floor_C,
        (*gross.notes, *assumed, described),
        efficiency,
    )


def _grid(swept: _SweptVolume, rated: RatedState, scroll: bool) -> tuple[CompressorGrid, str]:
    """Capacity and power of a generic compressor, and its efficiency curve in words."""
    suction, condensing = np.meshgrid(SUCTION_MAP_C, CONDENSING_MAP_C, indexing="ij")
    capacity, ideal, ratio = swept.over(suction, condensing)
    # Extreme lifts can leave no volumetric efficiency: a small positive rest keeps a balance there.
    capacity = np.maximum(capacity, 1e-3 * float(capacity.max()))
    ideal = np.maximum(ideal, 1e-3 * float(ideal.max()))
    rated_capacity, rated_ideal, rated_ratio = swept.at(rated.suction_C, rated.condensing_C)
    power = ideal * (rated.compressor_W / rated_ideal)
    curve = "constant efficiency"
    if scroll:
        power *= float(scroll_efficiency(np.array(rated_ratio))) / scroll_efficiency(ratio)
        curve = "efficiency over pressure ratio by a published scroll compressor"
    cooling = capacity * (rated.gross.total_W / rated_capacity)
    return CompressorGrid(SUCTION_MAP_C, CONDENSING_MAP_C, cooling, power), curve


def _plausible(isentropic: float) -> float:
    if not 0.3 < isentropic < 0.95:
        raise InputError(
            f"the rated capacity and power would take a compressor of {100 * isentropic:.0f} % "
            "isentropic efficiency between the rated suction and condensing temperatures, and "
            "real ones have 45 to 80 %; check the power or efficiency and both temperatures"
        )
    return isentropic


# How far the temperatures of a rating that states none may be taken from 45 and 120 F: 40 to 50 F
# and 105 to 130 F (common practice, no source).
_SUCTION_SPAN_C = (4.4, 10.0)
_CONDENSING_SPAN_C = (40.6, 54.4)
_LEAST_APPROACH_K = 2.0  # from suction to the coil surface


def _rated_temperatures(
    implied: Callable[[float, float], float], circuit: Circuit, surface_C: float, plausible: bool
) -> tuple[float, float, list[str]]:
    """Suction and condensing temperature of a rating [C], and notes of those assumed.

    Typical ones where none are stated; with ``plausible`` the condensing temperature, then the
    suction temperature, as near to them as leaves the compressor a plausible efficiency.
    """
    suction_C, condensing_C = circuit.suction_C, circuit.condensing_C
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
