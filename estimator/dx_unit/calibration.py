"""A unit whose coil, compressor and condenser balance at its rating exactly.

Three constants are unknown - displacement, the resistance between coil surface and refrigerant, the
conductance of the condenser - and the rating point gives three heats to find them from.

Source: the balance of compressor, coil and condenser.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dewledger.dx_unit.rating import Circuit, GrossRating, RatingCondition
from dewledger.dx_unit.steady_state import compressor_power, evaporator_cooling
from dewledger.dx_unit.types import BALANCE, FloatArray, Unit, UnitMap
from dewledger.weather.errors import InputError


@dataclass(frozen=True)
class CompressorGrid:
    """Capacity and power (suction, condensing) [W] of a compressor on uniform axes [C]."""

    suction_axis_C: FloatArray
    condensing_axis_C: FloatArray
    cooling_W: FloatArray
    compressor_W: FloatArray


@dataclass(frozen=True)
class RatedState:
    """Compressor [W], refrigerant and coil [C] and air flow of a unit at its rating."""

    gross: GrossRating
    compressor_W: float
    suction_C: float
    condensing_C: float
    surface_C: float
    bypass: float
    flow_kg_s: float
    condition: RatingCondition

    def check(self) -> None:
        """Raise InputError where heat would flow from cold to warm at the rating."""
        if self.surface_C <= self.suction_C:
            raise InputError(
                f"the unit's rated suction temperature of {self.suction_C:.1f} C is not below the "
                f"apparatus dew point of its rating, {self.surface_C:.1f} C; write a lower suction "
                "temperature or check the sensible capacity and the air flow"
            )
        check_condensing(self.condensing_C, self.condition.outdoor_C)


def check_condensing(condensing_C: float, outdoor_C: float) -> None:
    """Raise InputError where a rated condensing temperature is not above outdoors."""
    if condensing_C <= outdoor_C:
        raise InputError(
            f"the unit's rated condensing temperature of {condensing_C:.1f} C must be above the "
            f"outdoor temperature of the rating, {outdoor_C:.1f} C"
        )


def calibrated_unit(
    grid: CompressorGrid,
    rated: RatedState,
    circuit: Circuit,
    source: str,
    surface_floor_C: float,
    notes: Sequence[str],
    isentropic_efficiency: float = math.nan,
) -> Unit:
    """A unit of kind BALANCE from its compressor and its rating point.

    The map is scaled so that interpolation at the rating gives the rating exactly.

    Capacity and power of the grid (n, m) in [W]; the efficiency is NaN where it is not known.

    Raises
    ------
    InputError : a rating whose coil or condenser is impossible, with the remedy
    """
    rated.check()
    unit_map = _scaled(
        _balance_map(grid, rated, surface_floor_C),
        rated,
    )
    condition = rated.condition
    return Unit(
        map=unit_map,
        source=source,
        refrigerant=circuit.refrigerant,
        rated_total_W=rated.gross.total_W,
        rated_sensible_W=rated.gross.sensible_W,
        rated_compressor_W=rated.compressor_W,
        rated_fan_W=rated.gross.fan_W,
        rated_flow_kg_s=rated.flow_kg_s,
        rated_temp_in_C=condition.temp_in_C,
        rated_hum_ratio_in=condition.hum_ratio_in,
        rated_wet_bulb_C=condition.wet_bulb_C,
        rated_outdoor_C=condition.outdoor_C,
        rated_suction_C=rated.suction_C,
        rated_condensing_C=rated.condensing_C,
        rated_surface_C=rated.surface_C,
        rated_bypass=rated.bypass,
        isentropic_efficiency=isentropic_efficiency,
        superheat_K=circuit.superheat_K,
        subcooling_K=circuit.subcooling_K,
        notes=tuple(notes),
    )


def _balance_map(grid: CompressorGrid, rated: RatedState, surface_floor_C: float) -> UnitMap:
    total_W = rated.gross.total_W
    lift_K = rated.condensing_C - rated.condition.outdoor_C
    one = np.zeros(1)
    return UnitMap(
        kind=BALANCE,
        suction_first_C=float(grid.suction_axis_C[0]),
        suction_step_K=float(grid.suction_axis_C[1] - grid.suction_axis_C[0]),
        condensing_first_C=float(grid.condensing_axis_C[0]),
        condensing_step_K=float(grid.condensing_axis_C[1] - grid.condensing_axis_C[0]),
        cooling_W=np.ascontiguousarray(grid.cooling_W, dtype=np.float64),
        compressor_W=np.ascontiguousarray(grid.compressor_W, dtype=np.float64),
        surface_resistance_K_W=(rated.surface_C - rated.suction_C) / total_W,
        bypass_area_kg_s=-rated.flow_kg_s * math.log(rated.bypass),
        condenser_conductance_W_K=(total_W + rated.compressor_W) / lift_K,
        condenser_fan_W=float(rated.gross.condenser_fan_W),
        surface_floor_C=float(surface_floor_C),
        table_wet_bulb_C=one,
        table_dry_bulb_C=one,
        table_outdoor_C=one,
        table_flow_kg_s=one,
        table_total_W=np.zeros((1, 1, 1, 1)),
        table_sensible_W=np.zeros((1, 1, 1, 1)),
        table_compressor_W=np.zeros((1, 1, 1, 1)),
    )


def _scaled(unit_map: UnitMap, rated: RatedState) -> UnitMap:
    at = (rated.suction_C, rated.condensing_C)
    cooling = rated.gross.total_W / evaporator_cooling(unit_map, *at)
    power = rated.compressor_W / compressor_power(unit_map, *at)
    return unit_map._replace(
        cooling_W=unit_map.cooling_W * cooling, compressor_W=unit_map.compressor_W * power
    )
