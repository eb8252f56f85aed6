"""The vapor-compression cycle.

Suction and condensing temperatures are dew points at the pressures before and after the compressor;
superheat counts from the suction dew point, subcooling from the bubble point at the condensing
pressure. No pressure drops.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import math
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.metadata import version
from pathlib import Path

import numpy as np

from dewledger.components import refrigerants
from dewledger.components.refrigerant_tables import (
    ABOVE_DEW_GRID,
    CONDENSING_GRID_C,
    SUCTION_GRID_C,
    FloatArray,
    RefrigerantTable,
    at_point,
    refrigerant_table,
)
from dewledger.components.refrigerants import (
    DEFAULT_SUBCOOLING_K,
    DEFAULT_SUPERHEAT_K,
    Refrigerant,
    Saturation,
    States,
    refrigerant_named,
)
from dewledger.weather.numerics.kept_files import cache_folder, damaged, drop_oldest, keep, kept


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


MOST_CYCLES_KEPT = 500  # files of half a kilobyte; the oldest go first


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

    Enthalpies [J/kg], pressures [Pa], temperatures [C], from CoolProp, or from disk where they have
    been computed before: to load its fluids takes CoolProp two seconds.

    Raises
    ------
    InputError : an unknown refrigerant, states that it does not have
    """
    refrigerant = refrigerant_named(refrigerant_name)
    at = (suction_C, condensing_C, superheat_K, subcooling_K, isentropic)
    folder = cache_folder("cycles")
    if folder is None:
        return _cycle(refrigerant, *at)
    text = json.dumps([_cycle_digest(), refrigerant.coolprop, *(float(value) for value in at)])
    path = folder / f"{hashlib.sha256(text.encode()).hexdigest()}.json"
    found = _kept_cycle(path)
    if found is None:
        found = _cycle(refrigerant, *at)
        keep(path, json.dumps(dataclasses.asdict(found)).encode())
        drop_oldest(folder, MOST_CYCLES_KEPT)
    return found


@cache
def _cycle_digest() -> str:
    """What makes cycles: this source, that of states, and the library's version."""
    source = Path(__file__).read_bytes() + Path(refrigerants.__file__).read_bytes()
    return hashlib.sha256(source + version("CoolProp").encode()).hexdigest()


def _kept_cycle(path: Path) -> Cycle | None:
    content = kept(path)
    if content is None:
        return None
    try:
        said = json.loads(content)
        return Cycle(**{**said, "enthalpies_J_kg": tuple(said["enthalpies_J_kg"])})
    except (ValueError, KeyError, TypeError):
        damaged(path)
        return None


def _cycle(
    refrigerant: Refrigerant,
    suction_C: float,
    condensing_C: float,
    superheat_K: float,
    subcooling_K: float,
    isentropic: float,
) -> Cycle:
    """The cycle from CoolProp's states."""
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
    without loading its fluids: for what is shown, not for what a year is solved by.

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


def _in_table(
    table: RefrigerantTable, suction_C: float, condensing_C: float, isentropic: float
) -> Cycle | None:
    """The cycle between the points of a table; None where it leaves the table."""

    def inside(grid: FloatArray, at: float) -> bool:
        return bool(grid[0] <= at <= grid[-1])

    if not (inside(SUCTION_GRID_C, suction_C) and inside(CONDENSING_GRID_C, condensing_C)):
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
    if not inside(ABOVE_DEW_GRID, h2 - high.dew_enthalpy):
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
