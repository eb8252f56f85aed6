"""The vapor-compression cycle.

Suction and condensing temperatures are dew points at the pressures before and after the compressor;
superheat counts from the suction dew point, subcooling from the bubble point at the condensing
pressure. No pressure drops.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from dewledger.components.refrigerant_tables import (
    ABOVE_DEW_GRID,
    CONDENSING_GRID_C,
    LIQUID_COOLED_K,
    SUCTION_GRID_C,
    FloatArray,
    RefrigerantTable,
    at_point,
    refrigerant_table,
)
from dewledger.components.refrigerants import (
    DEFAULT_SUBCOOLING_K,
    DEFAULT_SUPERHEAT_K,
    Saturation,
    States,
    refrigerant_named,
)


@dataclass(frozen=True)
class Cycle:
    """One vapor-compression cycle: states and what follows from them, per kilogram.

    States: 1 suction, 2 discharge, 3 liquid before the valve, 4 after it.
    """

    refrigerant: str
    suction_pressure_Pa: float
    condensing_pressure_Pa: float
    suction_temp_C: float  # state 1, with superheat
    discharge_temp_C: float
    condensing_dew_C: float
    condensing_bubble_C: float
    liquid_temp_C: float
    enthalpies_J_kg: tuple[float, float, float, float]
    cop: float
    rejection_ratio: float  # heat rejected over evaporator heat
    desuperheating_share: float  # of the heat rejected
    condensing_share: float
    subcooling_share: float
    flow_kg_s_W: float  # refrigerant per watt of evaporator heat


@lru_cache(maxsize=512)
def cycle(
    refrigerant_name: str,
    suction_C: float,
    condensing_C: float,
    superheat_K: float = DEFAULT_SUPERHEAT_K,
    subcooling_K: float = DEFAULT_SUBCOOLING_K,
    isentropic: float = 0.7,
) -> Cycle:
    """The cycle between two dew points, all compressor work reaching the refrigerant.

    Enthalpies [J/kg], pressures [Pa], temperatures [C], from CoolProp, whose fluids take two
    seconds to load.

    Raises
    ------
    InputError : an unknown refrigerant, states that it does not have
    """
    refrigerant = refrigerant_named(refrigerant_name)
    states = States(refrigerant)
    low = states.dew_pressure(suction_C)
    high = states.saturation(condensing_C)
    h1, s1, _, _ = states.gas(low, suction_C + superheat_K)
    temp_2s = states.gas_temp_at(high.pressure, condensing_C + 20.0, s1)
    h2 = h1 + (states.gas(high.pressure, temp_2s)[0] - h1) / isentropic
    h3 = states.liquid_enthalpy(high.pressure, high.bubble_C - subcooling_K)
    discharge_C = states.gas_temp_of(high.pressure, temp_2s + 10.0, h2)
    temps = (suction_C + superheat_K, discharge_C, condensing_C, high.bubble_C - subcooling_K)
    return _closed(refrigerant.name, low, high, (h1, h2, h3), temps)


def tabled_cycle(
    refrigerant_name: str,
    suction_C: float,
    condensing_C: float,
    superheat_K: float = DEFAULT_SUPERHEAT_K,
    subcooling_K: float = DEFAULT_SUBCOOLING_K,
    isentropic: float = 0.7,
) -> Cycle:
    """The same cycle between the points of the refrigerant's table, and ``cycle`` beyond them.

    Enthalpies [J/kg] to 0.1 J/kg of CoolProp's, pressures [Pa] to 1e-6, temperatures [C] to 0.02 K,
    without loading its fluids.

    Raises
    ------
    InputError : an unknown refrigerant, states that it does not have
    """
    table = refrigerant_table(refrigerant_name, superheat_K, subcooling_K)
    found = _in_table(table, suction_C, condensing_C, isentropic)
    if found is not None:
        return found
    at = (suction_C, condensing_C, superheat_K, subcooling_K)
    return cycle(refrigerant_name, *at, isentropic=isentropic)


def liquid_cooling_gain(
    refrigerant_name: str,
    suction_C: float,
    condensing_C: float,
    superheat_K: float = DEFAULT_SUPERHEAT_K,
    subcooling_K: float = DEFAULT_SUBCOOLING_K,
) -> float:
    """Evaporator effect gained by cooling the liquid further, over the effect [1/K].

    Definition: by LIQUID_COOLED_K, from the refrigerant's table, or from CoolProp beyond it.

    Raises
    ------
    InputError : an unknown refrigerant, states that it does not have
    """
    if _inside(SUCTION_GRID_C, suction_C) and _inside(CONDENSING_GRID_C, condensing_C):
        table = refrigerant_table(refrigerant_name, superheat_K, subcooling_K)
        gas = float(at_point(SUCTION_GRID_C, table.suction_enthalpy, suction_C))
        liquids = np.column_stack((table.liquid_enthalpy, table.cooled_liquid_enthalpy))
        plain, cooled = at_point(CONDENSING_GRID_C, liquids, condensing_C).tolist()
        return float((plain - cooled) / (gas - plain) / LIQUID_COOLED_K)
    at = (refrigerant_name, suction_C, condensing_C, superheat_K)
    colder = cycle(*at, subcooling_K + LIQUID_COOLED_K)
    return (cycle(*at, subcooling_K).flow_kg_s_W / colder.flow_kg_s_W - 1.0) / LIQUID_COOLED_K


def _inside(grid: FloatArray, at: float) -> bool:
    return bool(grid[0] <= at <= grid[-1])


def _in_table(
    table: RefrigerantTable, suction_C: float, condensing_C: float, isentropic: float
) -> Cycle | None:
    """The cycle between the points of a table; None where it leaves the table."""
    if not (_inside(SUCTION_GRID_C, suction_C) and _inside(CONDENSING_GRID_C, condensing_C)):
        return None
    at_suction = np.column_stack((np.log(table.suction_pressure), table.suction_enthalpy))
    log_low, h1 = at_point(SUCTION_GRID_C, at_suction, suction_C).tolist()
    at_condensing = np.column_stack(
        (
            np.log(table.condensing_pressure),
            table.bubble_temp,
            table.dew_enthalpy,
            table.bubble_enthalpy,
            table.liquid_enthalpy,
        )
    )
    log_high, *saturated, h3 = at_point(CONDENSING_GRID_C, at_condensing, condensing_C).tolist()
    high = Saturation(math.exp(log_high), *saturated)
    works = at_point(CONDENSING_GRID_C, table.isentropic_work.T, condensing_C)
    h2 = h1 + float(at_point(SUCTION_GRID_C, works, suction_C)) / isentropic
    if not _inside(ABOVE_DEW_GRID, h2 - high.dew_enthalpy):
        return None
    gas_temps = at_point(CONDENSING_GRID_C, table.gas_temp, condensing_C)
    discharge_C = float(at_point(ABOVE_DEW_GRID, gas_temps, h2 - high.dew_enthalpy))
    liquid_C = high.bubble_C - table.subcooling_K
    temps = (suction_C + table.superheat_K, discharge_C, condensing_C, liquid_C)
    return _closed(table.refrigerant.name, math.exp(log_low), high, (h1, h2, h3), temps)


def _closed(
    refrigerant: str,
    low_Pa: float,
    high: Saturation,
    enthalpies: tuple[float, float, float],
    temps: tuple[float, float, float, float],
) -> Cycle:
    """What follows from the states: suction, discharge, liquid; temperatures of the three and the
    condensing dew point before the last."""
    h1, h2, h3 = enthalpies
    suction_C, discharge_C, condensing_C, liquid_C = temps
    rejected = h2 - h3
    effect = h1 - h3
    return Cycle(
        refrigerant=refrigerant,
        suction_pressure_Pa=low_Pa,
        condensing_pressure_Pa=high.pressure,
        suction_temp_C=suction_C,
        discharge_temp_C=discharge_C,
        condensing_dew_C=condensing_C,
        condensing_bubble_C=high.bubble_C,
        liquid_temp_C=liquid_C,
        enthalpies_J_kg=(h1, h2, h3, h3),
        cop=effect / (h2 - h1),
        rejection_ratio=rejected / effect,
        desuperheating_share=(h2 - high.dew_enthalpy) / rejected,
        condensing_share=(high.dew_enthalpy - high.bubble_enthalpy) / rejected,
        subcooling_share=(high.bubble_enthalpy - h3) / rejected,
        flow_kg_s_W=1.0 / effect,
    )
