"""Rating points of an option's unit: the model run at a standard's conditions.

Modeled, not certified. The arithmetic of the standards is in codes/rating_standards.py; here the
unit of a machine becomes the function it asks for, its condensing temperature solved at each
condition.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock
from typing import Any

from dewledger.assembly.machine import Machine
from dewledger.assembly.reheat import floor_in_reheat
from dewledger.case import Case
from dewledger.case.reading.checks import design_outdoor_flow
from dewledger.codes.rating_standards import (
    BTU_H_PER_W,
    Capacity,
    Comparison,
    EfficiencyRating,
    MoistureRating,
    Running,
    UnitModel,
    compare,
    efficiency_rating,
    moisture_rating,
)
from dewledger.data.rating_standards import minimums
from dewledger.dx_unit.steady_state import condensing_without_recovery, steady_state
from dewledger.dx_unit.types import FACE_SPLIT, STAGES, TABLE, VARIABLE, Unit
from dewledger.weather.physics.moist_air import (
    STANDARD_PRESSURE_PA,
    enthalpy,
    heat_capacity,
    hum_ratio_from_wet_bulb,
    temp_from_enthalpy,
)

MOISTURE_KEYS = ("ISMRE", "ISMRE2", "ISMRE2-70")
# Below this net capacity a unit is rated by AHRI 210/240 and not by AHRI 340/360.
SMALLEST_W = 65_000.0 / BTU_H_PER_W


@dataclass(frozen=True)
class ModeledRatings:
    """What an option's unit would score, and the minimum values it is compared with.

    efficiency : AHRI 340/360, of a unit that returns room air; None for an outdoor-air unit
    moisture : AHRI 920, of a unit on outdoor air alone; empty for any other
    comparisons : against the least values of codes for equipment of its size
    notes : what a reader must know of how it was rated
    """

    efficiency: EfficiencyRating | None
    moisture: tuple[MoistureRating, ...]
    comparisons: tuple[Comparison, ...]
    notes: tuple[str, ...]


def capacity_of(machine: Machine) -> Capacity:
    """How the unit's displacement can be set."""
    plant = machine.plant
    if machine.unit.map.kind == TABLE:
        return Capacity()
    if plant.capacity_control == VARIABLE:
        return Capacity((min(plant.minimum_fraction, 1.0), 1.0), continuous=True)
    if plant.capacity_control in (STAGES, FACE_SPLIT):
        steps = sorted({stage for stage in plant.stages if stage > 0.0})
        return Capacity(tuple(steps))
    return Capacity()


def unit_model(machine: Machine, flow_kg_s: float, fan_W: float) -> UnitModel:
    """The unit of a machine as a function of a rating condition, at standard pressure.

    Parameters
    ----------
    flow_kg_s, fan_W : supply air (dry) and supply fan of the rating

    The condensing temperature is outdoor temperature plus heat rejected over the condenser's
    conductance, held at the floor. Condenser heat that could be recovered is what the reheat coil
    takes from a condenser not raised for it.
    """
    plant = machine.plant
    unit_map = machine.unit.map

    def run(outdoor_C: float, temp_C: float, wet_bulb_C: float, share: float) -> Running:
        w = hum_ratio_from_wet_bulb(temp_C, wet_bulb_C, STANDARD_PRESSURE_PA)
        fan_rise = fan_W / (flow_kg_s * heat_capacity(w))
        entering = temp_C + fan_rise if plant.blow_through == 1 else temp_C
        split = plant.capacity_control == FACE_SPLIT
        displacement, face = (1.0, share) if split else (share, 1.0)

        def at(condensing_C: float) -> tuple[float, float, float, float, float]:
            found = steady_state(
                unit_map, displacement, entering, w, STANDARD_PRESSURE_PA, flow_kg_s, condensing_C,
                10.0,
            )  # fmt: skip
            # Out of a map's arrays they come as numpy's floats.
            total, _, compressor, _, _, leaving, w_out, _ = map(float, found)
            if face < 1.0:
                # The rest of the face passes air untreated.
                total, compressor = face * total, face * compressor
                w_out = face * w_out + (1.0 - face) * w
                leaving = temp_from_enthalpy(enthalpy(entering, w) - total / flow_kg_s, w_out)
            balance = condensing_without_recovery(
                unit_map, outdoor_C, total + compressor, plant.condensing_floor_C
            )
            return total, compressor, leaving, w_out, balance

        condensing = _settled(lambda tried_C: at(tried_C)[4], plant.condensing_floor_C)
        total, compressor, leaving, w_out, _ = at(condensing)
        rejected = total + compressor
        reheat = 0.0
        if plant.recovery_effectiveness > 0.0:
            reach = plant.recovery_effectiveness * flow_kg_s * heat_capacity(w_out)
            reheat = min(
                rejected,
                plant.recovery_capacity_W,
                _given_back(
                    reach, leaving, outdoor_C, rejected, unit_map.condenser_conductance_W_K,
                    floor_in_reheat(plant),
                ),
            )  # fmt: skip
        supply = leaving
        if plant.blow_through == 0:
            supply += fan_W / (flow_kg_s * heat_capacity(w_out))
        return Running(
            total, compressor, unit_map.condenser_fan_W, fan_W, supply, w_out, flow_kg_s, reheat
        )

    return run


def _settled(balance: Callable[[float], float], floor_C: float) -> float:
    """The condensing temperature [C] at which a unit rejects what its outdoor coil gives away.

    balance : of a condensing temperature, that which the outdoor coil then has, the floor or above.
        More of the one is less of the other: one crossing, found along secants, which halving
        keeps between its bounds
    """
    low, at_low = floor_C, balance(floor_C) - floor_C
    if at_low <= 0.0:
        return floor_C
    high = floor_C + at_low
    at_high = balance(high) - high
    tried = low
    for _ in range(80):
        before = tried
        tried = low + at_low * (high - low) / (at_low - at_high)
        if not low < tried < high:
            tried = 0.5 * (low + high)
        gap = balance(tried) - tried
        if abs(gap) < 1e-11 or abs(tried - before) < 1e-12:
            break
        if gap > 0.0:
            low, at_low = tried, gap
        else:
            high, at_high = tried, gap
    return tried


def _given_back(
    reach_W_K: float,
    leaving_C: float,
    outdoor_C: float,
    rejected_W: float,
    conductance_W_K: float,
    floor_C: float,
) -> float:
    """Heat the reheat coil takes where its own taking lowers the condensing temperature.

    reach (condensing - leaving) with condensing = outdoor + (rejected - heat) / conductance, or the
    floor where that is higher.
    """
    at_floor = reach_W_K * (floor_C - leaving_C)
    undiverted = outdoor_C + rejected_W / conductance_W_K
    floating = reach_W_K * (undiverted - leaving_C) / (1.0 + reach_W_K / conductance_W_K)
    return max(at_floor, floating, 0.0)


def rate_machine(case: Case, machine: Machine, outdoor_air: bool | None = None) -> ModeledRatings:
    """Rate the unit of an option by the standard for its kind.

    Parameters
    ----------
    outdoor_air : rate it on outdoor air alone; by default an outdoor-air unit, and any whose supply
        air is all outdoor air
    """
    if outdoor_air is None:
        most = float(case.air.supply_flow) * (1.0 - 1e-9)
        outdoor_air = case.outdoor_air_unit is not None or design_outdoor_flow(case) >= most
    # What is purchased in addition changes no rating, so options that share a unit are rated once.
    plant = machine.plant._replace(reheat_before_W=0.0, reheat_after_W=0.0)
    same = id(machine.unit), plant, outdoor_air, case.air.recovery is None, case.heating.source
    with _rating:
        kept = _rated.pop(same, None)
        if kept is None:
            kept = machine.unit, _rate(case, machine, outdoor_air)
        _rated[same] = kept
        while len(_rated) > _MOST_RATED:
            del _rated[next(iter(_rated))]
    return kept[1]


_MOST_RATED = 64
# The unit is held with its ratings, so that its id stays its own.
_rated: dict[Any, tuple[Unit, ModeledRatings]] = {}
_rating = Lock()


def _rate(case: Case, machine: Machine, outdoor_air: bool) -> ModeledRatings:
    unit = machine.unit
    plant = machine.plant
    capacity = capacity_of(machine)
    if outdoor_air:
        model = unit_model(machine, plant.flow_kg_s, plant.fan_W)
        rated = tuple(moisture_rating(model, capacity, key) for key in MOISTURE_KEYS)
        comparisons = tuple(
            found
            for rating in rated
            if rating.value is not None
            for found in compare(rating.standard.key, rating.value, unit.rated_total_W)
        )
        notes = [
            "Rated on outdoor air alone at the case’s supply flow and fan power, without energy "
            "recovery."
        ]
        if case.air.recovery is not None:
            notes.append("The recovery device is left out of the rating.")
            comparisons = tuple(
                Comparison(low, None) for low in minimums() if low.energy_recovery is True
            )
        return ModeledRatings(None, rated, comparisons, tuple(notes))
    fan_W = unit.rated_fan_W if unit.rated_fan_W > 0.0 else plant.fan_W
    rating = efficiency_rating(unit_model(machine, unit.rated_flow_kg_s, fan_W), capacity)
    heating = "electric or none" if case.heating.source in ("electric", "heat pump") else "other"
    comparisons = tuple(
        found
        for metric, value in (("EER", rating.full_load_eer), ("IEER", rating.ieer))
        for found in compare(metric, value, rating.net_capacity_W, heating)  # type: ignore[arg-type]
    )
    listed = []
    if unit.rated_fan_W <= 0.0:
        listed.append("The rating states no supply fan; the case’s own fan is counted.")
    if rating.net_capacity_W < SMALLEST_W * (1.0 - 1e-9):
        listed.append(
            "Below 65,000 Btu/h a unit is rated by SEER2 (AHRI 210/240), a three-phase one too: a "
            "single package at 13.4 or more (10 CFR 430.32(c) since 2023 and 431.97(b) since 2025, "
            "not checked against the text). That season is not modeled here, so these figures are "
            "compared with no minimum value: check the unit’s own SEER2."
        )
    return ModeledRatings(rating, (), comparisons, tuple(listed))
