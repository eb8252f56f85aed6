"""The unit of a case, built from its rating, its performance table or its compressor map."""

from __future__ import annotations

from dataclasses import replace

from dewledger.assembly.kept_units import kept_unit, unit_at_flow
from dewledger.case.model import Case
from dewledger.case.unit import Unit as UnitTable
from dewledger.case.words import written
from dewledger.dx_unit.from_compressor_map import read_compressor_map, unit_from_compressor_map
from dewledger.dx_unit.from_rating import GenericCompressor
from dewledger.dx_unit.from_table import unit_from_table
from dewledger.dx_unit.rating import Circuit, Rating, RatingBasis, RatingCondition
from dewledger.dx_unit.types import Unit
from dewledger.quantities import show
from dewledger.weather.errors import InputError


def build_unit(case: Case, flow_kg_s: float | None = None) -> Unit:
    """The unit of a case, from its rating point or its performance table.

    flow_kg_s : its usual supply flow, where a year is to be solved
    """
    try:
        unit = _unit_of(case, flow_kg_s)
    except InputError as problem:
        raise InputError(f"[unit]: {problem}") from None
    floor = case.unit.surface_floor
    if unit.rated_surface_C <= float(floor):
        raise InputError(
            f'[unit] surface_floor "{written(floor)}" would hold the unit back at its own rating, '
            f"where its coil is at {show(unit.rated_surface_C, 'temperature', case.display)}; "
            'write a lower one, such as "32 degF"'
        )
    return unit


def _unit_of(case: Case, flow_kg_s: float | None) -> Unit:
    settings = case.unit
    floor_C = float(settings.surface_floor)
    basis, condition = _basis(case), _condition(settings)

    def at_flow(unit: Unit) -> Unit:
        return unit if flow_kg_s is None else replace(unit, map=unit.map.with_usual_flow(flow_kg_s))

    if settings.method == "table":
        return at_flow(
            unit_from_table(
                case.path_to(settings.table or ""),
                basis,
                condition,
                columns=settings.table_columns,
                condensing_C=_circuit(settings).condensing_C,
                surface_floor_C=floor_C,
            )
        )
    # The case has checked that a unit with a rating states its capacities.
    total = float(settings.total_capacity or 0.0)
    if settings.sensible_capacity is not None:
        sensible = float(settings.sensible_capacity)
    else:
        sensible = float(settings.sensible_heat_ratio or 0.0) * total
    rating = Rating(
        total,
        sensible,
        basis,
        efficiency_cop=_optional(settings.efficiency),
        compressor_W=_optional(settings.compressor_power),
        condition=condition,
    )
    if settings.method == "compressor map":
        compressor_map = read_compressor_map(case.path_to(settings.compressor_map or ""))
        circuit = replace(_circuit(settings), condensing_C=float(settings.rated_condensing))
        return at_flow(unit_from_compressor_map(compressor_map, rating, circuit, floor_C))
    compressor = GenericCompressor(
        clearance=float(settings.clearance), scroll=settings.compressor_curve == "scroll"
    )
    if flow_kg_s is None:
        return kept_unit(rating, _circuit(settings), compressor, floor_C)
    return unit_at_flow(rating, _circuit(settings), compressor, floor_C, flow_kg_s)


def _basis(case: Case) -> RatingBasis:
    settings = case.unit
    flow = case.air.supply_flow if settings.rated_flow is None else settings.rated_flow
    return RatingBasis(
        net=settings.rating == "AHRI net",
        flow_m3_s=float(flow),
        fan_W=_optional(settings.rated_fan_power),
        condenser_fan_W=_optional(settings.condenser_fan_power),
    )


def _condition(settings: UnitTable) -> RatingCondition:
    return RatingCondition(
        temp_in_C=float(settings.rated_entering_dry_bulb),
        wet_bulb_C=float(settings.rated_entering_wet_bulb),
        outdoor_C=float(settings.rated_outdoor),
    )


def _circuit(settings: UnitTable) -> Circuit:
    """The refrigerant's side; saturated temperatures of the rating where the case states them."""
    stated = settings.model_fields_set
    return Circuit(
        refrigerant=settings.refrigerant,
        suction_C=float(settings.rated_suction) if "rated_suction" in stated else None,
        condensing_C=float(settings.rated_condensing) if "rated_condensing" in stated else None,
        superheat_K=float(settings.superheat),
        subcooling_K=float(settings.subcooling),
    )


def _optional(value: float | None) -> float | None:
    return None if value is None else float(value)
