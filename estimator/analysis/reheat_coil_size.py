"""How large a condenser-heat coil need be, and how hot its condenser: years re-run, not estimated.

Purchased heat without limit stands behind the coil in every trial, so that the room is dried alike
in
all of them and what the coil does not cover is what had to be purchased. A larger coil or a higher
ceiling never buys more; the shares rise with either.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from dewledger.accounts.energy import column
from dewledger.analysis.coil_for_code import with_coil
from dewledger.assembly.machine import Machine
from dewledger.case.reheat import CoilSizing
from dewledger.dx_unit.steady_state import steady_state
from dewledger.dx_unit.types import MODULATING, SUBCOOLING_THEN_CONDENSER
from dewledger.hourly.types import CONDENSER, ELECTRIC
from dewledger.quantities import show
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray, hum_ratio_from_wet_bulb

UNLIMITED_W = 1e12
# Ceilings are tried up to the edge of the compressor maps.
HIGHEST_CEILING_C = 65.0
# An hour counts as covered where less than this is purchased [kWh]: a watt over the hour.
COVERED_kWh = 1e-3
_SIZE_TOLERANCE = 0.005  # of the largest size that could serve
_CEILING_TOLERANCE_K = 0.1
_CURVE_POINTS = 7
# Arrangements that raise the condenser for the reheat coil, up to the ceiling.
_RAISED = (MODULATING, SUBCOOLING_THEN_CONDENSER)

Solve = Callable[[Machine], FloatArray]


@dataclass(frozen=True)
class Covered:
    """What one coil and ceiling cover in the year.

    setting : coil capacity [W] while it has hot gas, or condensing ceiling [C]
    share : of the heat that the coil is to cover
    hours_missed : hours in which some of it had to be purchased
    """

    setting: float
    share: float
    hours_missed: int


@dataclass(frozen=True)
class Target:
    """The least that meets a stated aim.

    Exactly one of ``share`` (of the annual heat) and ``hours`` (at most so many missed) is given.
    coil : the smallest coil at the case's ceiling; None where none does
    ceiling : the lowest ceiling with a coil of any size; None where none up to the map's edge does
    ceiling_is_floor : the floor of head-pressure control is enough
    """

    share: float | None
    hours: int | None
    coil: Covered | None
    ceiling: Covered | None
    ceiling_is_floor: bool = False


@dataclass(frozen=True)
class Sizing:
    """Coil sizes and ceilings of one option's condenser heat.

    need_kWh : overcooling heat of the year; of it what subcooling leaves where that comes first
    need_kW : the same heat of the hours that have any, largest first
    at_most : what a coil of any size covers at the case's ceiling
    coils, ceilings : what others cover, rising; the coils at the case's ceiling, the ceilings with
        a coil of any size
    """

    need_kWh: float
    need_kW: FloatArray
    at_most: Covered
    targets: tuple[Target, ...]
    coils: tuple[Covered, ...]
    ceilings: tuple[Covered, ...]


def backed(machine: Machine) -> Machine:
    """The machine with purchased heat without limit behind its own condenser heat."""
    rows = machine.sources[machine.sources[:, 0] == float(CONDENSER)]
    trim = np.array([[float(ELECTRIC), UNLIMITED_W, 1.0, 0.0, 0.0]])
    return replace(
        machine,
        plant=machine.plant._replace(reheat_before_W=0.0, reheat_after_W=UNLIMITED_W),
        sources=np.ascontiguousarray(np.vstack([rows, trim])),
    )


def _purchased(ledger: FloatArray) -> FloatArray:
    return column(ledger, "reheat_purchased_kWh")


def exceedance(ledger: FloatArray) -> FloatArray:
    """Heat [kW] left to buy in the hours that have any, largest first: the n-th value is reached
    or exceeded in n hours. Of a year without the coil it is what the coil is to cover."""
    heat = _purchased(ledger)
    return np.sort(heat[heat > 0.0])[::-1]


class _Trials:
    """Years of one machine with other coils and ceilings, each solved once."""

    def __init__(self, machine: Machine, solve: Solve) -> None:
        self.machine = backed(machine)
        self.solve = solve
        self.without = self._ledger(0.0, machine.plant.condensing_ceiling_C)
        self.need_kWh = float(_purchased(self.without).sum())
        self.found: dict[tuple[float, float], Covered] = {}

    def _ledger(self, capacity_W: float, ceiling_C: float) -> FloatArray:
        changed = with_coil(self.machine, capacity_W)
        plant = changed.plant._replace(condensing_ceiling_C=ceiling_C)
        return self.solve(replace(changed, plant=plant))

    def coil(self, capacity_W: float) -> Covered:
        """What a coil covers at the case's own ceiling."""
        ceiling = self.machine.plant.condensing_ceiling_C
        return replace(self._covered(capacity_W, ceiling), setting=capacity_W)

    def ceiling(self, ceiling_C: float) -> Covered:
        """What a coil of any size covers below a ceiling."""
        return replace(self._covered(UNLIMITED_W, ceiling_C), setting=ceiling_C)

    def _covered(self, capacity_W: float, ceiling_C: float) -> Covered:
        key = (capacity_W, ceiling_C)
        if key not in self.found:
            purchased = _purchased(self._ledger(*key))
            share = 1.0 - float(purchased.sum()) / self.need_kWh
            # What is left of a wholly covered year is rounding.
            share = 1.0 if share > 1.0 - 1e-9 else max(share, 0.0)
            self.found[key] = Covered(0.0, share, int((purchased > COVERED_kWh).sum()))
        return self.found[key]

    def rates_W(self) -> tuple[FloatArray, FloatArray]:
        """By hour: heat [W] a coil of any size gives while the compressor runs, and runtime."""
        ledger = self._ledger(UNLIMITED_W, self.machine.plant.condensing_ceiling_C)
        runtime = column(ledger, "compressor_runtime_frac")
        given = column(ledger, "reheat_recovered_kWh") * 1000.0
        return np.divide(given, runtime, out=np.zeros_like(given), where=runtime > 0.0), runtime

    def largest_W(self, rates_W: FloatArray) -> float:
        """A coil that covers as much as one of any size; 0 where none covers anything.

        The largest rate met while the compressor runs, a hair above so that rounding does not
        decide. A coil that has hot gas for part of that time must be larger.
        """
        size = 1.001 * float(rates_W.max())
        most = self.coil(UNLIMITED_W)
        for _ in range(10):
            found = self.coil(size)
            if found.share >= most.share - 1e-9 and found.hours_missed <= most.hours_missed:
                break
            size *= 1.5
        return size


def _smallest(
    cover: Callable[[float], Covered],
    good: Callable[[Covered], bool],
    low: float,
    high: float,
    near: float | None,
    tolerance: float,
) -> Covered | None:
    """The smallest setting between ``low`` and ``high`` that is good, by bisection.

    near : a guess, tried a little to either side first
    """
    best = cover(high)
    if not good(best):
        return None
    if near is not None:
        for guess in (near + 2.0 * tolerance, near - 2.0 * tolerance):
            if low < guess < high:
                trial = cover(guess)
                if good(trial):
                    high, best = guess, trial
                else:
                    low = guess
    while high - low > tolerance:
        middle = 0.5 * (low + high)
        trial = cover(middle)
        if good(trial):
            high, best = middle, trial
        else:
            low = middle
    return best


def sizeable(machine: Machine) -> bool:
    """Whether the option has a condenser-heat coil to be sized."""
    return machine.plant.recovery_effectiveness > 0.0 and machine.control.humidity_control != 0


def size_reheat(
    machine: Machine,
    solve: Solve,
    share: float,
    hours: int,
) -> Sizing | None:
    """Smallest coil and lowest ceiling that cover a share of the year's overcooling heat, and all
    but some hours of it.

    Parameters
    ----------
    solve : solves the year of a changed machine
    share : of the annual heat, above 0 to 1
    hours : in which some may be missed

    None where the option has no condenser-heat coil, or nothing is ever overcooled.
    """
    if not 0.0 < share <= 1.0:
        raise InputError(
            f"a share of {share:g} cannot be covered; write more than 0, at most 100 %"
        )
    if hours < 0:
        raise InputError(f"{hours} hours cannot be missed; write zero or more")
    if not sizeable(machine):
        return None
    trials = _Trials(machine, solve)
    if trials.need_kWh <= 0.0:
        return None
    rates, runtime = trials.rates_W()
    largest = trials.largest_W(rates)
    at_most = trials.coil(UNLIMITED_W)
    plant = machine.plant
    floor = plant.condensing_floor_C
    targets = tuple(
        _target(trials, aim_share, aim_hours, rates, runtime, largest)
        for aim_share, aim_hours in ((share, None), (None, hours))
    )
    sizes = np.linspace(0.0, largest, _CURVE_POINTS)[1:]
    ceilings = np.linspace(floor, max(plant.condensing_ceiling_C, floor + 5.0), _CURVE_POINTS - 1)
    coils = {0.0: Covered(0.0, 0.0, int((_purchased(trials.without) > COVERED_kWh).sum()))}
    tried = [*map(float, sizes), *(t.coil.setting for t in targets if t.coil is not None)]
    coils |= {size: trials.coil(size) for size in tried}
    heights = {}
    # Where the floor alone covers everything, a higher ceiling has nothing to add.
    if plant.arrangement in _RAISED and trials.ceiling(floor).share < 1.0:
        tried = [*map(float, ceilings), *(t.ceiling.setting for t in targets if t.ceiling)]
        heights = {height: trials.ceiling(height) for height in tried}
    return Sizing(
        trials.need_kWh,
        exceedance(trials.without),
        at_most,
        targets,
        tuple(coils[size] for size in sorted(coils)),
        tuple(heights[height] for height in sorted(heights)),
    )


def _target(
    trials: _Trials,
    share: float | None,
    hours: int | None,
    rates_W: FloatArray,
    runtime: FloatArray,
    largest: float,
) -> Target:
    """The smallest coil and the lowest ceiling for one aim."""

    def good(found: Covered) -> bool:
        if share is not None:
            return found.share >= share - 1e-12
        return hours is not None and found.hours_missed <= hours

    plant = trials.machine.plant
    coil = None
    if largest > 0.0:
        near = _guess(rates_W, runtime, share, hours, trials.need_kWh)
        coil = _smallest(trials.coil, good, 0.0, largest, near, _SIZE_TOLERANCE * largest)
    lowest = trials.ceiling(plant.condensing_floor_C)
    if good(lowest) or plant.arrangement not in _RAISED:
        return Target(share, hours, coil, lowest if good(lowest) else None, good(lowest))
    ceiling = _smallest(
        trials.ceiling, good, plant.condensing_floor_C, HIGHEST_CEILING_C, None,
        _CEILING_TOLERANCE_K,
    )  # fmt: skip
    return Target(share, hours, coil, ceiling)


def _guess(
    rates_W: FloatArray,
    runtime: FloatArray,
    share: float | None,
    hours: int | None,
    need_kWh: float,
) -> float:
    """Coil size as if a smaller coil changed nothing but what it gives."""
    if hours is not None:
        return float(np.sort(rates_W)[::-1][min(hours, rates_W.size - 1)])
    assert share is not None
    low, high = 0.0, float(rates_W.max())
    for _ in range(40):
        middle = 0.5 * (low + high)
        given = float((np.minimum(rates_W, middle) * runtime).sum()) / 1000.0
        low, high = (middle, high) if given < share * need_kWh else (low, middle)
    return high


def alike(one: Machine, other: Machine) -> bool:
    """Whether two options' condenser heat sizes alike: the same but for what is purchased beside it
    and how large its coil is."""
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
        and np.array_equal(one.drivers, other.drivers)
    )


def size_all(
    machines: Sequence[Machine],
    aims: Sequence[CoilSizing],
    solve: Solve,
    run: Callable[..., Iterable[Sizing | None]] = map,
) -> list[Sizing | None]:
    """Sizings of several options, those alike sized once.

    aims : what each option's case sizes for
    run : maps a function over a list; a pool's ``map`` shares the work
    """

    def aim(k: int) -> tuple[float, int]:
        return float(aims[k].share), aims[k].hours

    first = [
        next(j for j in range(k + 1) if aim(j) == aim(k) and alike(machines[j], machines[k]))
        for k in range(len(machines))
    ]
    distinct = sorted(set(first))
    found = run(lambda k: size_reheat(machines[k], solve, *aim(k)), distinct)
    sized = dict(zip(distinct, found, strict=True))
    return [sized[k] for k in first]


def most_rejected_W(machine: Machine) -> float:
    """The most heat the unit can reject while it runs: at full capacity on very warm, wet air [W].

    Entering 27 C saturated to a 24 C wet bulb (80 and 75 F), beyond what rooms under humidity
    control send back, at the floor or the ceiling of the condensing temperature, the greater.
    """
    plant = machine.plant
    pressure = 101325.0
    w = hum_ratio_from_wet_bulb(27.0, 24.0, pressure)
    most = 0.0
    for condensing in (plant.condensing_floor_C, plant.condensing_ceiling_C):
        total, _, power, *_ = steady_state(
            machine.unit.map, 1.0, 27.0, w, pressure, plant.flow_kg_s, condensing, 12.0
        )
        most = max(most, total + power)
    return most


def require_fed(machine: Machine) -> None:
    """Refuse a reheat coil larger than the unit can ever feed.

    Raises
    ------
    InputError : the stated capacity is above all the heat the unit can reject
    """
    capacity = machine.plant.recovery_capacity_W
    if not sizeable(machine) or capacity >= UNLIMITED_W:
        return
    most = most_rejected_W(machine)
    if capacity > most:
        sizes = [
            f"{show(w, 'heat flow', 'I-P')} ({show(w, 'heat flow', 'SI')})"
            for w in (capacity, most)
        ]
        raise InputError(
            f'[[reheat]] source = "condenser" of {sizes[0]} is larger than the unit can ever feed: '
            f"it rejects at most {sizes[1]}; write a smaller capacity, or none"
        )
