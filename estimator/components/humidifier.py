"""Moisture added to a room that is too dry, and what it takes.

Source: the definition of the enthalpy of water vapor, ASHRAE Handbook - Fundamentals (2017) chapter
1.
"""

from __future__ import annotations

from typing import NamedTuple

from dewledger.weather.numerics.compiled import compiled
from dewledger.weather.physics.moist_air import vapor_enthalpy

STEAM = 1
ADIABATIC = 2

_CP_VAPOR = 1860.0  # J/(kg K), as in the enthalpy of moist air of Fundamentals ch. 1
_CP_WATER = 4186.0
_STEAM_C = 100.0
_WATER_C = 10.0  # water as it comes from the main (common practice, no source)
# Steam tables: vapor at 100 C holds 2675.6 kJ/kg over liquid at 0 C.
STEAM_HEAT_J_KG = 2675.6e3 - _CP_WATER * _WATER_C


class HumidifierControl(NamedTuple):
    """A humidifier that holds a low limit; ``kind`` 0 is none."""

    kind: int = 0  # STEAM or ADIABATIC
    dew_point: int = 0  # 1: the limit is a dew point [C], 0: a relative humidity
    capacity_kg_s: float = 0.0
    energy_J_kg: float = 0.0  # purchased for each kg added
    gas: int = 0  # 1: gas, 0: electricity


NO_HUMIDIFIER = HumidifierControl()


@compiled
def heat_with_moisture(kind: int, added_kg_s: float, room_C: float) -> float:
    """Sensible heat [W] that added moisture brings to the room's air; negative for water.

    Enthalpy of what is added less that of vapor at the room's temperature.
    """
    if kind == ADIABATIC:
        return added_kg_s * (_CP_WATER * _WATER_C - vapor_enthalpy(room_C))
    return added_kg_s * _CP_VAPOR * (_STEAM_C - room_C)
