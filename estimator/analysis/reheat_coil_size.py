"""How large a condenser-heat coil need be, and how hot its condenser: years re-run, not estimated.

Purchased heat without limit stands behind the coil in every trial, so that the room is dried alike
in all of them and what the coil does not cover is what had to be purchased. A larger coil or a
higher ceiling never purchases more; the shares rise with either.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from dewledger.analysis.coil_trials import (
    UNLIMITED_W,
    CoilTrials,
    covered_kWh,
    least_step,
)
from dewledger.assembly.equal_years import alike
from dewledger.assembly.machine import Machine
from dewledger.assembly.reheat import floor_in_reheat
from dewledger.case.reheat import CoilSizing
from dewledger.dx_unit.steady_state import steady_state
from dewledger.dx_unit.types import MODULATING, SUBCOOLING_THEN_CONDENSER
from dewledger.quantities import show
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray, hum_ratio_from_wet_bulb

# Ceilings are tried up to the edge of the compressor maps.
HIGHEST_CEILING_C = 65.0
# The curve's steps, and the finer ones within each that an answer is found to: 0.4 % of the largest
# coil that could serve, and at most 0.1 K.
_CURVE_STEPS = 6
_FINER = 40
_CEILING_STEP_K = 0.1
# Arrangements that raise the condenser for the reheat coil, up to the ceiling.
_RAISED = (MODULATING, SUBCOOLING_THEN_CONDENSER)


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


def exceedance(purchased_kWh: FloatArray) -> FloatArray:
    """Heat [kW] left to purchase in the hours that have any, largest first: the n-th value is
    reached or exceeded in n hours. Of a year without the coil it is what the coil is to cover.
    """
    return np.sort(purchased_kWh[purchased_kWh > 0.0])[::-1]


class _Coils:
    """What other coils and ceilings of one machine cover."""

    def __init__(self, machine: Machine, trials: CoilTrials) -> None:
        self.machine = machine
        self.trials = trials
        self.ceiling_C = machine.plant.condensing_ceiling_C
        self.without = trials.year(machine, 0.0, self.ceiling_C)
        self.need_kWh = float(self.without.purchased_kWh.sum())

    def coil(self, capacity_W: float) -> Covered:
        """What a coil covers at the case's own ceiling."""
        if capacity_W == 0.0:
            return Covered(0.0, 0.0, self.without.hours_missed)
        return self._covered(capacity_W, capacity_W, self.ceiling_C)

    def ceiling(self, ceiling_C: float) -> Covered:
        """What a coil of any size covers below a ceiling."""
        return self._covered(ceiling_C, UNLIMITED_W, ceiling_C)

    def _covered(self, setting: float, capacity_W: float, ceiling_C: float) -> Covered:
        year = self.trials.year(self.machine, capacity_W, ceiling_C)
        share = 1.0 - float(year.purchased_kWh.sum()) / self.need_kWh
        # What is left of a wholly covered year is rounding.
        share = 1.0 if share > 1.0 - 1e-9 else max(share, 0.0)
        return Covered(setting, share, year.hours_missed)

    def largest_W(self) -> float:
        """A coil that covers as much as one of any size; 0 where none covers anything.

        The largest rate met while the compressor runs, a hair above so that rounding does not
        decide. A coil that has hot gas for part of that time must be larger.
        """
        most = self.coil(UNLIMITED_W)
        size = 1.001 * float(
            self.trials.year(self.machine, UNLIMITED_W, self.ceiling_C).rates_W.max()
        )
        for _ in range(10):
            found = self.coil(size)
            if found.share >= most.share - 1e-9 and found.hours_missed <= most.hours_missed:
                break
            size *= 1.5
        return size


@dataclass(frozen=True)
class _Aim:
    """A share of the annual heat, or hours that may be missed; exactly one is given."""

    share: float | None
    hours: int | None

    @property
    def least(self) -> float:
        return -float(self.hours) if self.share is None else self.share - 1e-12  # type: ignore[arg-type]

    def of(self, found: Covered) -> float:
        """What is to reach ``least``; it rises with the coil and with the ceiling."""
        return -float(found.hours_missed) if self.share is None else found.share

    def met(self, found: Covered) -> bool:
        return self.of(found) >= self.least

    def estimate(self, coils: _Coils, sizes_W: FloatArray) -> FloatArray:
        """The same of coils of several sizes, as if a smaller one changed nothing else."""
        year = coils.trials.year(coils.machine, UNLIMITED_W, coils.ceiling_C)
        if self.share is None:
            rates = np.sort(year.rates_W[year.rates_W > 0.0])
            missed = rates.size - np.searchsorted(rates, sizes_W, "right")
            return (-float(year.hours_missed) - missed).astype(np.float64)
        return covered_kWh(year, sizes_W) / coils.need_kWh


def sizeable(machine: Machine) -> bool:
    """Whether the option has a condenser-heat coil to be sized."""
    return machine.plant.recovery_effectiveness > 0.0 and machine.control.humidity_control != 0


def size_reheat(
    machine: Machine,
    trials: CoilTrials,
    share: float,
    hours: int,
) -> Sizing | None:
    """Smallest coil and lowest ceiling that cover a share of the year's overcooling heat, and all
    but some hours of it.

    Parameters
    ----------
    trials : solves years with other coils
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
    coils = _Coils(machine, trials)
    if coils.need_kWh <= 0.0:
        return None
    aims = (_Aim(share, None), _Aim(None, hours))
    sizes: FloatArray = (
        coils.largest_W() * np.arange(_CURVE_STEPS * _FINER + 1) / (_CURVE_STEPS * _FINER)
    )
    by_size = _Ladder(coils.coil, sizes, range(0, sizes.size, _FINER))
    plant = machine.plant
    floor = floor_in_reheat(plant)
    lowest = coils.ceiling(floor)
    # Where the floor alone covers everything, a higher ceiling has nothing to add.
    raised = plant.arrangement in _RAISED and lowest.share < 1.0
    top = max(plant.condensing_ceiling_C, floor + 5.0)
    finer = math.ceil((top - floor) / (_CURVE_STEPS - 1) / _CEILING_STEP_K)
    step_K = (top - floor) / (_CURVE_STEPS - 1) / finer
    count = max((_CURVE_STEPS - 1) * finer, math.floor((HIGHEST_CEILING_C - floor) / step_K))
    heights: FloatArray = floor + step_K * np.arange(count + 1.0)
    shown = range(0, (_CURVE_STEPS - 1) * finer + 1, finer) if raised else range(1)
    by_height = _Ladder(coils.ceiling, heights, shown)
    targets = []
    for aim in aims:
        coil = by_size.least(aim, aim.estimate(coils, sizes)) if sizes[-1] > 0.0 else None
        enough = aim.met(lowest)
        ceiling = lowest if enough else by_height.least(aim) if raised else None
        targets.append(Target(aim.share, aim.hours, coil, ceiling, enough))
    return Sizing(
        coils.need_kWh,
        exceedance(coils.without.purchased_kWh),
        coils.coil(UNLIMITED_W),
        tuple(targets),
        by_size.curve([target.coil for target in targets]),
        by_height.curve([target.ceiling for target in targets]) if raised else (),
    )


class _Ladder:
    """Rising settings of which some are solved for the curve, and others only where they are asked
    for."""

    def __init__(
        self, cover: Callable[[float], Covered], settings: FloatArray, shown: Iterable[int]
    ) -> None:
        self.cover = cover
        self.settings = settings
        self.known = {step: cover(float(settings[step])) for step in shown}

    def least(self, aim: _Aim, estimate: FloatArray | None = None) -> Covered | None:
        """The lowest setting that meets an aim; None where the highest does not."""
        top = self.settings.size - 1
        known = {step: aim.of(found) for step, found in self.known.items()}
        if top not in known:
            known[top] = aim.of(self.cover(float(self.settings[top])))
        if known[top] < aim.least:
            return None
        step = least_step(
            lambda k: aim.of(self.cover(float(self.settings[k]))), aim.least, known, estimate
        )
        return self.cover(float(self.settings[step]))

    def curve(self, also: Iterable[Covered | None]) -> tuple[Covered, ...]:
        """What the curve's settings cover, and others around them, rising."""
        listed = {found.setting: found for found in also if found is not None}
        listed |= {found.setting: found for found in self.known.values()}
        return tuple(listed[setting] for setting in sorted(listed))


def size_all(
    machines: Sequence[Machine],
    aims: Sequence[CoilSizing],
    trials: CoilTrials,
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
    found = run(lambda k: size_reheat(machines[k], trials, *aim(k)), distinct)
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
