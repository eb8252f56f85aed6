"""Reheat of an hour: the sources in their order give back what drying overcooled."""

from __future__ import annotations

from dewledger.dx_unit.types import Operation
from dewledger.hourly.types import CONDENSER
from dewledger.weather.numerics.compiled import compiled
from dewledger.weather.physics.moist_air import FloatArray


@compiled
def give_back(
    sources: FloatArray, operation: Operation, overcooling_W: float, fan: float
) -> tuple[float, float, float, float]:
    """Recovered heat, new-energy heat, electricity and gas purchased [W] of an hour.

    Parameters
    ----------
    sources : (n, 5) in order of use: kind, capacity W, efficiency, auxiliary W, 1 where it buys gas
    fan : share of the hour that the fan runs; purchased heat serves as long, condenser heat with
    the
        compressor
    """
    remaining = overcooling_W
    recovered = 0.0
    new_energy = 0.0
    electricity = 0.0
    gas = 0.0
    for k in range(sources.shape[0]):
        if int(sources[k, 0]) == CONDENSER:
            given = min(operation.recovered_W, remaining)
            recovered += given
        else:
            given = min(remaining, sources[k, 1] * fan)
            new_energy += given
            if sources[k, 4] == 1.0:
                gas += given / sources[k, 2]
            else:
                electricity += given / sources[k, 2]
        if given > 0.0:
            serving = operation.runtime if int(sources[k, 0]) == CONDENSER else fan
            electricity += sources[k, 3] * serving
        remaining -= given
    return recovered, new_energy, electricity, gas
