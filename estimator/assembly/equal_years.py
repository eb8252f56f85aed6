"""Options whose years differ only in what their reheat is purchased as: solved once.

Purchased heat that is never short leaves air and unit as they are, whatever it is made of and
however much more of it there could be.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

import numpy as np

from dewledger.assembly.machine import Machine
from dewledger.hourly.ledger import INDEX, SHORT_INDEX, SHORT_NAMES
from dewledger.hourly.reheat import purchased_over
from dewledger.weather.physics.moist_air import FloatArray

# What is purchased must stay this far below what can be, to be as if it had no limit.
CLEAR = 0.999


def alike(one: Machine, other: Machine) -> bool:
    """Whether two machines are the same but for what is purchased for reheat and how large a
    condenser-heat coil is.
    """
    plants = [
        machine.plant._replace(reheat_before_W=0.0, reheat_after_W=0.0, recovery_capacity_W=0.0)
        for machine in (one, other)
    ]
    return (
        plants[0] == plants[1]
        and one.room == other.room
        and one.control == other.control
        and all(
            np.array_equal(np.asarray(a), np.asarray(b))
            for a, b in zip(one.unit.map, other.unit.map, strict=True)
        )
        and (one.drivers is other.drivers or np.array_equal(one.drivers, other.drivers))
    )


def _purchases_alone(machine: Machine) -> bool:
    """Whether all of a machine's reheat is purchased."""
    plant = machine.plant
    recovers = plant.recovery_effectiveness > 0.0 or plant.drying_effectiveness > 0.0
    return not recovers and len(machine.sources) > 0


def first_of_equals(machines: Sequence[Machine]) -> list[int]:
    """Of each machine, the place of the first that differs from it in its purchases for reheat
    alone; its own where there is none."""

    def equal(j: int, k: int) -> bool:
        return (
            _purchases_alone(machines[j])
            and _purchases_alone(machines[k])
            and alike(machines[j], machines[k])
        )

    return [next((j for j in range(k) if equal(j, k)), k) for k in range(len(machines))]


def solved_in_turn(
    machines: Sequence[Machine],
    solve: Callable[[int], FloatArray],
    run: Callable[..., Iterable[FloatArray]] = map,
    first: Sequence[int] | None = None,
) -> Iterator[FloatArray]:
    """The ledgers of machines in their order, years that are equal solved once.

    Parameters
    ----------
    solve : the ledger, whole or short, of the machine at a place
    run : maps a function over a list; a pool's ``map`` shares the work
    first : ``first_of_equals``, where it is at hand
    """
    if first is None:
        first = first_of_equals(machines)
    own = iter(run(solve, [place for place, at in enumerate(first) if at == place]))
    ledgers: list[FloatArray] = []
    for place, at in enumerate(first):
        if at == place:
            ledger = next(own)
        else:
            derived = otherwise_purchased(ledgers[at], machines[at], machines[place])
            ledger = solve(place) if derived is None else derived
        ledgers.append(ledger)
        yield ledger


def otherwise_purchased(ledger: FloatArray, one: Machine, other: Machine) -> FloatArray | None:
    """The ledger of another machine, from that of one that differs in its purchases alone; None
    where either would be short of heat, so that the other's year is to be solved."""
    short = len(ledger) == len(SHORT_NAMES)
    places = SHORT_INDEX if short else INDEX
    heat, fan = ledger[places["reheat_purchased_kWh"]], ledger[places["fan_runtime_frac"]]
    capacity_W = min(
        machine.plant.reheat_before_W + machine.plant.reheat_after_W for machine in (one, other)
    )
    if (1000.0 * heat > CLEAR * capacity_W * fan).any():
        return None
    changed = ledger.copy()
    electricity, gas = purchased_over(other.sources, heat, fan)
    if short:
        before_electricity, before_gas = purchased_over(one.sources, heat, fan)
        changed[places["electricity_kWh"]] += electricity - before_electricity
        changed[places["gas_kWh"]] += gas - before_gas
    else:
        changed[places["reheat_purchased_electricity_kWh"]] = electricity
        changed[places["reheat_purchased_gas_kWh"]] = gas
    return changed
