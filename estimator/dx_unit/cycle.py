"""The refrigeration cycle of a unit at a suction and a condensing temperature.

Source: the textbook vapor-compression cycle with states from CoolProp; [C], [Pa], [J/kg].
"""

from __future__ import annotations

import math
from typing import NamedTuple

from dewledger.components.refrigerant_cycle import Cycle, tabled_cycle
from dewledger.dx_unit.steady_state import compressor_power, evaporator_cooling
from dewledger.dx_unit.types import Unit
from dewledger.quantities import Display, show
from dewledger.weather.errors import InputError

NO_CYCLE = (
    "A unit known by its performance table has no refrigeration cycle: the table says nothing of "
    "the refrigerant's states."
)


def cycle_at(unit: Unit, suction_C: float, condensing_C: float) -> Cycle:
    """The cycle of the unit's own compressor between two dew points, all power to the refrigerant.

    The compressor's efficiency is the one its map has there: ideal work over power, per watt of
    evaporator heat.

    Raises
    ------
    InputError : a tabulated unit; states that the refrigerant does not have
    """
    if not unit.refrigerant:
        raise InputError(NO_CYCLE)
    at = (unit.refrigerant, suction_C, condensing_C, unit.superheat_K, unit.subcooling_K)
    try:
        ideal = tabled_cycle(*at, isentropic=1.0)
        cooling = evaporator_cooling(unit.map, suction_C, condensing_C)
        power = compressor_power(unit.map, suction_C, condensing_C)
        found = tabled_cycle(*at, isentropic=cooling / (ideal.cop * power))
    except ValueError:
        found = None
    if found is None or not all(math.isfinite(value) for value in found.enthalpies_J_kg):
        raise InputError(
            f"{unit.refrigerant} has no cycle between {suction_C:.1f} C suction and "
            f"{condensing_C:.1f} C condensing; both must stay well below its critical point"
        )
    return found


class CoilShares(NamedTuple):
    """Heat that gives up superheat, condenses and subcools refrigerant in a reheat coil [W]."""

    desuperheating_W: float
    condensing_W: float
    subcooling_W: float


def coil_shares(found: Cycle, heat_W: float) -> CoilShares:
    """A reheat coil in parallel with the outdoor coil: its share of the discharge gas leaves it as
    liquid.
    """
    return CoilShares(
        heat_W * found.desuperheating_share,
        heat_W * found.condensing_share,
        heat_W * found.subcooling_share,
    )


def cycle_points(found: Cycle, display: Display) -> list[tuple[str, float, float]]:
    """Label, enthalpy [J/kg] and absolute pressure [Pa] of the states in the order of flow."""

    def at(label: str, temp_C: float) -> str:
        return f"{label}, {show(temp_C, 'temperature', display)}"

    suction, discharge, liquid, expanded = found.enthalpies_J_kg
    low, high = found.suction_pressure_Pa, found.condensing_pressure_Pa
    return [
        (at("Suction gas", found.suction_temp_C), suction, low),
        (at("Discharge gas", found.discharge_temp_C), discharge, high),
        (at("Liquid before the valve", found.liquid_temp_C), liquid, high),
        ("After the valve", expanded, low),
    ]
