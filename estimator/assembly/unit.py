"""The unit of a case, built from its rating, its performance table or its compressor map."""

from __future__ import annotations

from dewledger.assembly.kept_units import rated_unit
from dewledger.case.model import Case
from dewledger.case.words import written
from dewledger.dx_unit.from_compressor_map import read_compressor_map, unit_from_compressor_map
from dewledger.dx_unit.from_table import unit_from_table
from dewledger.dx_unit.types import Unit
from dewledger.quantities import show
from dewledger.weather.errors import InputError


def build_unit(case: Case) -> Unit:
    """The unit of a case, from its rating point or its performance table."""
    try:
        unit = _unit_of(case)
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


def _unit_of(case: Case) -> Unit:
    settings = case.unit
    condenser_fan = _optional(settings.condenser_fan_power)
    rated_flow = float(case.air.supply_flow if settings.rated_flow is None else settings.rated_flow)
    stated = settings.model_fields_set
    condensing = float(settings.rated_condensing) if "rated_condensing" in stated else None
    if settings.method == "table":
        return unit_from_table(
            case.path_to(settings.table or ""),
            columns=settings.table_columns,
            net=settings.rating == "AHRI net",
            rated_flow_m3_s=rated_flow,
            rated_fan_W=_optional(settings.rated_fan_power),
            condenser_fan_W=condenser_fan,
            temp_in_C=float(settings.rated_entering_dry_bulb),
            wet_bulb_C=float(settings.rated_entering_wet_bulb),
            outdoor_C=float(settings.rated_outdoor),
            condensing_C=condensing,
            surface_floor_C=float(settings.surface_floor),
        )
    # The case has checked that a unit with a rating states its capacities.
    total = float(settings.total_capacity or 0.0)
    if settings.sensible_capacity is not None:
        sensible = float(settings.sensible_capacity)
    else:
        sensible = float(settings.sensible_heat_ratio or 0.0) * total
    if settings.method == "compressor map":
        return unit_from_compressor_map(
            **read_compressor_map(case.path_to(settings.compressor_map or "")),
            refrigerant=settings.refrigerant,
            total_W=total,
            sensible_W=sensible,
            net=settings.rating == "AHRI net",
            efficiency_cop=_optional(settings.efficiency),
            compressor_W=_optional(settings.compressor_power),
            rated_flow_m3_s=rated_flow,
            rated_fan_W=_optional(settings.rated_fan_power),
            condenser_fan_W=condenser_fan,
            temp_in_C=float(settings.rated_entering_dry_bulb),
            wet_bulb_C=float(settings.rated_entering_wet_bulb),
            outdoor_C=float(settings.rated_outdoor),
            condensing_C=float(settings.rated_condensing),
            superheat_K=float(settings.superheat),
            subcooling_K=float(settings.subcooling),
            surface_floor_C=float(settings.surface_floor),
        )
    return rated_unit(
        refrigerant=settings.refrigerant,
        total_W=total,
        sensible_W=sensible,
        net=settings.rating == "AHRI net",
        efficiency_cop=_optional(settings.efficiency),
        compressor_W=_optional(settings.compressor_power),
        rated_flow_m3_s=rated_flow,
        rated_fan_W=_optional(settings.rated_fan_power),
        condenser_fan_W=condenser_fan,
        temp_in_C=float(settings.rated_entering_dry_bulb),
        wet_bulb_C=float(settings.rated_entering_wet_bulb),
        outdoor_C=float(settings.rated_outdoor),
        suction_C=float(settings.rated_suction) if "rated_suction" in stated else None,
        condensing_C=condensing,
        superheat_K=float(settings.superheat),
        subcooling_K=float(settings.subcooling),
        clearance=float(settings.clearance),
        scroll=settings.compressor_curve == "scroll",
        surface_floor_C=float(settings.surface_floor),
    )


def _optional(value: float | None) -> float | None:
    return None if value is None else float(value)
