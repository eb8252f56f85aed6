"""Reheat of an hour: the sources in their order meet the reheat load.

Floats of one hour in SI: arguments name their unit, or are listed in docs/nomenclature.md; fields
of the NamedTuples have theirs in types.py. Source: overcooling heat = recovered + purchased +
unmet.
"""

from __future__ import annotations

import numpy as np

from dewledger.dx_unit.condenser import HELD_W
from dewledger.dx_unit.types import Operation
from dewledger.hourly.types import CONDENSER, NO_REHEAT, ReheatHour, ReheatSource
from dewledger.weather.numerics.compiled import compiled
from dewledger.weather.physics.moist_air import FloatArray


@compiled
def source_at(sources: FloatArray, place: int) -> ReheatSource:
    """A row of the reheat sources by its names."""
    return ReheatSource(
        sources[place, 0],
        sources[place, 1],
        sources[place, 2],
        sources[place, 3],
        sources[place, 4],
    )


@compiled
def reheat_of(
    sources: FloatArray, operation: Operation, overcooling_W: float, load_W: float, fan: float
) -> ReheatHour:
    """Reheat of an hour: recovered and purchased heat, electricity and gas [W].

    Parameters
    ----------
    sources : (n, 5) in order of use, the columns of ``ReheatSource``
    overcooling_W : sensible cooling beyond what the room needed
    load_W : of it, what the control lets reheat make up for
    fan : share of the hour that the fan runs; purchased heat serves as long, condenser heat with
        the compressor

    What rounding leaves of a need that is just met is no load, and starts no source.
    """
    if overcooling_W <= HELD_W and operation.recovered_W <= 0.0:
        return NO_REHEAT
    remaining = load_W
    recovered = 0.0
    purchased = 0.0
    electricity = 0.0
    gas = 0.0
    for place in range(sources.shape[0]):
        source = source_at(sources, place)
        serving = fan
        if source.kind == CONDENSER:
            given = min(operation.recovered_W, remaining)
            recovered += given
            serving = operation.runtime
        else:
            given = min(remaining, source.capacity_W * fan)
            purchased += given
            if source.burns_gas == 1.0:
                gas += given / source.efficiency
            else:
                electricity += given / source.efficiency
        if given > 0.0:
            electricity += source.auxiliary_W * serving
        remaining -= given
    return ReheatHour(overcooling_W, recovered, purchased, electricity, gas)


def purchased_over(
    sources: FloatArray, heat_kWh: FloatArray, fan: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Electricity and gas [kWh] of hours whose purchased heat [kWh] is known, (hours,) each.

    The rule of ``reheat_of`` over arrays, for years that are not solved for it.
    """
    electricity, gas = np.zeros_like(heat_kWh), np.zeros_like(heat_kWh)
    left = heat_kWh
    for source in map(ReheatSource._make, sources.tolist()):
        if source.kind == CONDENSER:
            continue
        given = np.minimum(left, source.capacity_W * fan / 1000.0)
        purchased = gas if source.burns_gas == 1.0 else electricity
        purchased += given / source.efficiency
        electricity += np.where(given > 0.0, source.auxiliary_W * fan / 1000.0, 0.0)
        left = left - given
    return electricity, gas
