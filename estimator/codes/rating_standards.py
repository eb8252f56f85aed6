"""Rating points of a modeled unit: what it would score where catalogs state a score.

Modeled, not certified: a rating is measured in a laboratory under a standard's whole procedure;
this is the arithmetic of that standard over the model of a unit. Conditions, weights and least
values are data, data/rating_standards.toml.

A unit is any function of outdoor dry bulb, entering dry bulb, entering wet bulb and the share of
its displacement in use, so nothing here depends on how a unit is modeled.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dewledger.data.rating_standards import Heating, Minimum, Point, Standard, minimums, standards
from dewledger.weather.physics.moist_air import (
    STANDARD_PRESSURE_PA,
    FloatArray,
    dew_point,
    heat_capacity,
)

LABEL = "modeled, not certified"
BTU_H_PER_W = 3600.0 / 1055.05585262
LB_PER_KG = 1.0 / 0.45359237


@dataclass(frozen=True)
class Running:
    """A unit running steadily at one condition, all per unit time.

    total_W : cooling done on the air by the coil, gross of the supply fan
    supply_temp_C, supply_hum_ratio : air leaving the unit before any reheat, fan heat included
    flow_kg_s : dry air
    reheat_W : the most condenser heat the unit could return to its supply air here
    """

    total_W: float
    compressor_W: float
    condenser_fan_W: float
    fan_W: float
    supply_temp_C: float
    supply_hum_ratio: float
    flow_kg_s: float
    reheat_W: float = 0.0

    @property
    def net_W(self) -> float:
        """Cooling less the heat of the supply fan."""
        return self.total_W - self.fan_W

    @property
    def outdoor_W(self) -> float:
        """Power of compressor and condenser fan."""
        return self.compressor_W + self.condenser_fan_W


# outdoor dry bulb [C], entering dry bulb [C], entering wet bulb [C], displacement share in use
UnitModel = Callable[[float, float, float, float], Running]


@dataclass(frozen=True)
class Capacity:
    """How a unit's displacement can be set: steps, or any share from the least of them to 1.

    One step of 1 is a unit that only cycles.
    """

    steps: tuple[float, ...] = (1.0,)
    continuous: bool = False

    def __post_init__(self) -> None:
        ascending = tuple(sorted(self.steps))
        if not self.steps or ascending != self.steps or self.steps[0] <= 0 or self.steps[-1] != 1:
            raise ValueError("capacity steps ascend from above 0 to 1")


@dataclass(frozen=True)
class Comparison:
    """A modeled rating and the minimum value that a code requires.

    value : None where the model gives no such rating, as with an energy recovery device
    """

    minimum: Minimum
    value: float | None

    @property
    def reached(self) -> bool:
        """At or above the least value, to the two decimals shown."""
        return self.value is not None and round(self.value, 2) >= self.minimum.value

    @property
    def sentence(self) -> str:
        """The comparison for a reader."""
        low = self.minimum
        if self.value is None:
            return (
                f"{low.metric} of at least {low.value:g} is required by {low.source}{low.dates} "
                f"({low.standing}); it cannot be determined here: needs a certified rating."
            )
        word = "reaches" if self.reached else f"is {low.value - self.value:.2f} short of"
        return (
            f"{low.metric} {self.value:.2f} ({LABEL}) {word} {low.value:g} of {low.source}"
            f"{low.dates} ({low.standing})."
        )


def compare(
    metric: str,
    value: float,
    net_capacity_W: float,
    heating: Heating = "electric or none",
    energy_recovery: bool = False,
) -> tuple[Comparison, ...]:
    """A rating against the least values for equipment of its size, heating and recovery.

    Empty where the table holds none, as for units under 65,000 Btu/h, which are rated otherwise.
    """
    size = net_capacity_W * (1.0 + 1e-9)  # a unit exactly at a class's lower end belongs to it
    return tuple(
        Comparison(low, value)
        for low in minimums()
        if low.metric == metric
        and low.from_W <= size < low.below_W
        and low.heating in (None, heating)
        and low.energy_recovery in (None, energy_recovery)
    )


# ---------------------------------------------------------------------------------------------
# Energy efficiency: AHRI 340/360


def degradation(load_factor: float) -> float:
    """Coefficient of degradation of a cycling unit (AHRI 340/360): 1.13 - 0.13 LF."""
    return 1.13 - 0.13 * load_factor


def cycling_eer(running: Running, load_factor: float, controls_W: float = 0.0) -> float:
    """EER [Btu/Wh] of a unit on for ``load_factor`` of the time, fan running on (AHRI 340/360).

    LF x net / (LF x CD x (compressor + condenser fan) + fan + controls); at a load factor of 1 it
    is the steady EER.
    """
    power = load_factor * degradation(load_factor) * running.outdoor_W + running.fan_W + controls_W
    return BTU_H_PER_W * load_factor * running.net_W / power


@dataclass(frozen=True)
class EfficiencyPoint:
    """EER at one condition: how the unit ran, and its load factor where it had to cycle."""

    point: Point
    eer: float
    capacity_frac: float
    load_factor: float


@dataclass(frozen=True)
class EfficiencyRating:
    """Full load and IEER of a modeled unit."""

    standard: Standard
    net_capacity_W: float
    full_load_eer: float
    ieer: float
    points: tuple[EfficiencyPoint, ...]
    label: str = LABEL


def efficiency_rating(
    unit: UnitModel, capacity: Capacity, controls_W: float = 0.0
) -> EfficiencyRating:
    """Full-load EER and IEER (AHRI 340/360).

    A continuous unit is set to each load exactly; between two steps the EER is interpolated by
    load; below the lowest step the unit cycles, its fan running on.
    """
    standard = standards()["IEER"]
    entering, wet_bulb = standard.entering_C, standard.entering_wet_bulb_C
    if entering is None or wet_bulb is None:
        raise ValueError("rating_standards.toml: IEER states no entering air")
    full = unit(standard.points[0].outdoor_C, entering, wet_bulb, 1.0)
    points = []
    for point in standard.points:
        if point.load is None:
            raise ValueError(f"rating_standards.toml: IEER {point.letter} states no load")

        def at(frac: float, outdoor_C: float = point.outdoor_C) -> Running:
            return unit(outdoor_C, entering, wet_bulb, frac)

        points.append(_efficiency_point(at, capacity, point, point.load * full.net_W, controls_W))
    return EfficiencyRating(
        standard,
        full.net_W,
        cycling_eer(full, 1.0, controls_W),
        sum(found.point.weight * found.eer for found in points),
        tuple(points),
    )


def _efficiency_point(
    at: Callable[[float], Running],
    capacity: Capacity,
    point: Point,
    load_W: float,
    controls_W: float,
) -> EfficiencyPoint:
    lowest = capacity.steps[0]
    running = at(lowest)
    if running.net_W >= load_W:
        factor = load_W / running.net_W
        return EfficiencyPoint(point, cycling_eer(running, factor, controls_W), lowest, factor)
    if capacity.continuous:
        frac = _bisect(lambda share: at(share).net_W - load_W, lowest)
        return EfficiencyPoint(point, cycling_eer(at(frac), 1.0, controls_W), frac, 1.0)
    below = running
    for step in capacity.steps[1:]:
        above = at(step)
        if above.net_W >= load_W:
            share = (load_W - below.net_W) / (above.net_W - below.net_W)
            eer = cycling_eer(below, 1.0, controls_W) * (1.0 - share)
            eer += cycling_eer(above, 1.0, controls_W) * share
            return EfficiencyPoint(point, eer, step, 1.0)
        below = above
    return EfficiencyPoint(point, cycling_eer(below, 1.0, controls_W), 1.0, 1.0)


def _bisect(rising: Callable[[float], float], low: float) -> float:
    """The share in [low, 1] at which a rising function is zero; 1 where it never is."""
    high = 1.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        if rising(middle) < 0.0:
            low = middle
        else:
            high = middle
    return high


# ---------------------------------------------------------------------------------------------
# Moisture removal: AHRI 920


@dataclass(frozen=True)
class MoisturePoint:
    """Moisture removal at one condition.

    removal_kg_s : water taken from the outdoor air (MRC)
    power_W : compressor, condenser fan, supply fan and controls
    supplementary_W : heat purchased to bring the supply to its temperature, counted as power
    efficiency_lb_kWh : MRC over all of it (MRE)
    """

    point: Point
    capacity_frac: float
    supply_temp_C: float
    supply_dew_C: float
    removal_kg_s: float
    power_W: float
    supplementary_W: float
    efficiency_lb_kWh: float

    @property
    def removal_lb_h(self) -> float:
        """Moisture removal capacity, lb/h."""
        return self.removal_kg_s * 3600.0 * LB_PER_KG


@dataclass(frozen=True)
class MoistureRating:
    """A moisture removal rating of a modeled unit.

    value : lb/kWh; None where a supply dew point exceeds what the standard allows, said in sentence
    """

    standard: Standard
    points: tuple[MoisturePoint, ...]
    value: float | None
    sentence: str
    label: str = LABEL


def moisture_rating(
    unit: UnitModel, capacity: Capacity, key: str, controls_W: float = 0.0
) -> MoistureRating:
    """ISMRE, ISMRE2 or ISMRE2-70 (AHRI 920) of a unit on outdoor air alone.

    Each condition is run at the least capacity that brings the supply dew point down to the
    standard's; a unit that is drier at its lowest capacity is rated as it is. Where the standard
    has a supply temperature, condenser heat warms the supply as far as it goes and the rest is
    supplementary heat, added to the power as heat.
    """
    standard = standards()[key]
    dew_C = standard.supply_dew_point_C
    if dew_C is None:
        raise ValueError(f"{key} is not a moisture removal rating")
    points = tuple(
        _moisture_point(unit, capacity, point, dew_C, standard.supply_C, controls_W)
        for point in standard.points
    )
    wet = [found for found in points if found.supply_dew_C > dew_C + 0.01]
    if wet:
        letters = ", ".join(found.point.letter for found in wet)
        worst = max(found.supply_dew_C for found in wet)
        sentence = (
            f"{key} cannot be given: at full capacity the supply dew point is "
            f"{1.8 * worst + 32.0:.1f} °F where {1.8 * dew_C + 32.0:.0f} °F is allowed "
            f"(condition {letters})."
        )
        return MoistureRating(standard, points, None, sentence)
    value = sum(found.point.weight * found.efficiency_lb_kWh for found in points)
    return MoistureRating(standard, points, value, f"{key} {value:.2f} lb/kWh ({LABEL}).")


def _moisture_point(
    unit: UnitModel,
    capacity: Capacity,
    point: Point,
    dew_C: float,
    supply_C: float | None,
    controls_W: float,
) -> MoisturePoint:
    if point.outdoor_wet_bulb_C is None:
        raise ValueError(f"rating_standards.toml: condition {point.letter} states no wet bulb")
    wet_bulb_C = point.outdoor_wet_bulb_C

    def at(frac: float) -> Running:
        return unit(point.outdoor_C, point.outdoor_C, wet_bulb_C, frac)

    def dryness(frac: float) -> float:
        return dew_C - dew_point(at(frac).supply_hum_ratio, STANDARD_PRESSURE_PA)

    frac = next((step for step in capacity.steps if dryness(step) >= 0.0), 1.0)
    if capacity.continuous and frac > capacity.steps[0]:
        frac = _bisect(dryness, capacity.steps[0])
    running = at(frac)
    removal = running.flow_kg_s * (point.outdoor_hum_ratio - running.supply_hum_ratio)
    power = running.outdoor_W + running.fan_W + controls_W
    supplementary = 0.0
    supply_temp = running.supply_temp_C
    if supply_C is not None and supply_C > supply_temp:
        capacity_rate = running.flow_kg_s * heat_capacity(running.supply_hum_ratio)
        asked = capacity_rate * (supply_C - supply_temp)
        supplementary = max(asked - running.reheat_W, 0.0)
        supply_temp = supply_C
    pounds_per_hour = removal * 3600.0 * LB_PER_KG
    return MoisturePoint(
        point,
        frac,
        supply_temp,
        dew_point(running.supply_hum_ratio, STANDARD_PRESSURE_PA),
        removal,
        power,
        supplementary,
        pounds_per_hour / ((power + supplementary) / 1000.0),
    )


# ---------------------------------------------------------------------------------------------
# The year's own figure


@dataclass(frozen=True)
class YearEfficiency:
    """Moisture removed per electricity used, lb/kWh; None in a month that used none."""

    annual_lb_kWh: float | None
    monthly_lb_kWh: tuple[float | None, ...]


def year_efficiency(
    condensate_kg: FloatArray, energy_kWh: FloatArray, month: npt.NDArray[np.int64]
) -> YearEfficiency:
    """The year's moisture removal efficiency, by month.

    Parameters
    ----------
    condensate_kg : water taken from the air, (hours,)
    energy_kWh : energy charged to it, (hours,): to compare with AHRI 920, compressor, condenser
        fan, supply fan and purchased reheat
    month : (hours,) 1..12
    """

    def over(hours: npt.NDArray[np.bool_]) -> float | None:
        energy = float(energy_kWh[hours].sum())
        return float(condensate_kg[hours].sum()) * LB_PER_KG / energy if energy > 0.0 else None

    everything = np.ones(month.size, dtype=np.bool_)
    return YearEfficiency(over(everything), tuple(over(month == m) for m in range(1, 13)))
