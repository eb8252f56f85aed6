"""Years of one unit with other reheat coils and condensing ceilings, each solved once.

The search for the coil that a code asks for and the sizing of the coil try the same years: options
that differ only in what is purchased in addition to the coil, and in the coil's own size, share
theirs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass, field, replace
from threading import Lock

import numpy as np

from dewledger.accounts.energy import column
from dewledger.assembly.equal_years import CLEAR, alike
from dewledger.assembly.machine import Machine, Source
from dewledger.dx_unit.types import MODULATING, Plant
from dewledger.hourly.types import CONDENSER, ELECTRIC
from dewledger.weather.physics.moist_air import CP_DRY_AIR, FloatArray

UNLIMITED_W = 1e12
# An hour counts as covered where less than this is purchased [kWh]: a watt over the hour.
COVERED_kWh = 1e-3
# Effectiveness of a condenser-heat coil that is not there yet: common practice, no source.
ADDED_EFFECTIVENESS = 0.6
# A size larger by so much than all the coil gives, or a ceiling so far above all that it needs,
# binds in no hour.
_FREE_OF_SIZE = 1.0005
_FREE_OF_CEILING_K = 0.05
# Where a smaller coil binds in more hours than this share, little is spared by keeping the others.
_FEW = 0.4
# So many trials led by an estimate; beyond them halving is surer.
_LED = 4

Solve = Callable[[Machine], FloatArray]
# With a smaller coil than that of a year solved already.
SolveSmaller = Callable[[Machine, FloatArray], FloatArray]


def with_coil(machine: Machine, capacity_W: float) -> Machine:
    """The machine with a condenser-heat coil of a capacity; one is put first where there is none,
    with the air pressure drop that such a coil has by default.

    Exact: the same arrays that the case would have given.
    """
    plant = machine.plant
    if plant.recovery_effectiveness > 0.0:
        sources = machine.sources.copy()
        sources[sources[:, 0] == CONDENSER, 1] = capacity_W
        reheat = tuple(
            replace(source, capacity_W=capacity_W) if source.name == "condenser" else source
            for source in machine.reheat
        )
        plant = plant._replace(recovery_capacity_W=capacity_W)
    else:
        row = np.array([[float(CONDENSER), capacity_W, 1.0, 0.0, 0.0]])
        sources = np.vstack([row, machine.sources])
        reheat = (Source("condenser", capacity_W, 1.0, ""), *machine.reheat)
        plant = plant._replace(
            recovery_effectiveness=ADDED_EFFECTIVENESS,
            recovery_capacity_W=capacity_W,
            reheat_before_W=0.0,
            reheat_after_W=plant.reheat_before_W + plant.reheat_after_W,
            fan_W=plant.fan_W + machine.added_coil_fan_W,
            coil_drop_share=(plant.coil_drop_share * plant.fan_W + machine.added_coil_fan_W)
            / max(plant.fan_W + machine.added_coil_fan_W, 1e-9),
        )
    return replace(machine, plant=plant, sources=np.ascontiguousarray(sources), reheat=reheat)


def backed(machine: Machine) -> Machine:
    """The machine with purchased heat without limit behind its own condenser heat."""
    rows = machine.sources[machine.sources[:, 0] == float(CONDENSER)]
    trim = np.array([[float(ELECTRIC), UNLIMITED_W, 1.0, 0.0, 0.0]])
    return replace(
        machine,
        plant=machine.plant._replace(reheat_before_W=0.0, reheat_after_W=UNLIMITED_W),
        sources=np.ascontiguousarray(np.vstack([rows, trim])),
    )


@dataclass(frozen=True, eq=False)
class Trial:
    """What a year with one coil and one ceiling says, purchased heat without limit behind it.

    ledger : the year as solved
    purchased_kWh : by hour
    rates_W, runtime : by hour, heat given while the compressor runs, and the share that it runs
    most_purchased_W : the largest purchased while the supply fan runs
    most_given_W : the largest of ``rates_W``
    hottest_C : the hottest that the coil needs the condenser for what it gives; infinite where
        that cannot be said
    """

    ledger: FloatArray
    recovered_kWh: float
    purchased_kWh: FloatArray
    rates_W: FloatArray
    runtime: FloatArray
    most_purchased_W: float
    most_given_W: float
    hottest_C: float

    @property
    def recovered_share(self) -> float | None:
        """Recovered over all reheat; None where there was none."""
        return recovered_share(self.recovered_kWh, float(self.purchased_kWh.sum()))

    @property
    def hours_missed(self) -> int:
        """Hours in which some had to be purchased."""
        return int((self.purchased_kWh > COVERED_kWh).sum())


def recovered_share(recovered_kWh: float, purchased_kWh: float) -> float | None:
    """Recovered over all reheat; None where there was none."""
    reheat = recovered_kWh + purchased_kWh
    return recovered_kWh / reheat if reheat > 0.0 else None


def trial_of(ledger: FloatArray, plant: Plant) -> Trial:
    """What a solved year says of its coil."""
    given = column(ledger, "reheat_recovered_kWh")
    purchased = column(ledger, "reheat_purchased_kWh")
    runtime = column(ledger, "compressor_runtime_frac")
    rates = rate_W(given, runtime)
    return Trial(
        ledger,
        float(given.sum()),
        purchased,
        rates,
        runtime,
        float(rate_W(purchased, column(ledger, "fan_runtime_frac")).max()),
        float(rates.max()),
        _hottest_needed_C(ledger, rates, plant),
    )


def _hottest_needed_C(ledger: FloatArray, rates_W: FloatArray, plant: Plant) -> float:
    """The hottest that a modulating coil needs the condenser: its air, and heat over its reach; of
    dry air, which asks for a little more."""
    if not _plain(plant):
        return math.inf
    gives = rates_W > 0.0
    air_C = column(ledger, "coil_leaving_temp_C")[gives]
    reach_W_K = plant.recovery_effectiveness * CP_DRY_AIR * column(ledger, "supply_flow_kg_s")
    needed_C = air_C + rates_W[gives] / reach_W_K[gives]
    return float(needed_C.max(initial=-math.inf))


def _plain(plant: Plant) -> bool:
    """Whether a coil gives what is asked of it up to its capacity and its ceiling, no more and no
    less: it modulates, and neither valve nor pump-out nor outdoor fans have a say."""
    source = plant.condenser_source
    return (
        plant.arrangement == MODULATING
        and source.valve_low == 0.0
        and source.purge_share == 0.0
        and source.fan_share == 1.0
    )


def rate_W(heat_kWh: FloatArray, runtime: FloatArray) -> FloatArray:
    """Heat [W] while something runs, of its heat in each hour; 0 where it does not run."""
    given = 1000.0 * heat_kWh
    return np.divide(given, runtime, out=np.zeros_like(given), where=runtime > 0.0)


def covered_kWh(year: Trial, sizes_W: FloatArray) -> FloatArray:
    """Heat given in a year by coils of several sizes, as if a smaller one changed nothing else."""
    gives = np.flatnonzero(year.rates_W > 0.0)
    order = gives[np.argsort(year.rates_W[gives])]
    rates, runtime = year.rates_W[order], year.runtime[order]
    # Of a coil: the hours below its size give their heat, the others its size.
    below = np.concatenate(([0.0], np.cumsum(rates * runtime)))
    beyond = np.concatenate((np.cumsum(runtime[::-1])[::-1], [0.0]))
    place = np.searchsorted(rates, sizes_W, side="right")
    return (below[place] + sizes_W * beyond[place]) / 1000.0


@dataclass
class CoilTrials:
    """Trials of all options of a study; threads that ask for the same year wait for one.

    solve_smaller : where it is given, a year begins with that of a coil without limit, of which it
        solves the hours in which the smaller one binds
    """

    solve: Solve
    solve_smaller: SolveSmaller | None = None
    _families: list[Machine] = field(default_factory=list)
    # Machines seen, with their family; one that is kept keeps its id.
    _seen: dict[int, tuple[Machine, int]] = field(default_factory=dict)
    _kept: dict[tuple[int, float, float], Future[Trial]] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    def year(self, machine: Machine, capacity_W: float, ceiling_C: float) -> Trial:
        """The machine with another coil and ceiling, purchased heat without limit behind."""
        with self._lock:
            family = self._family(machine)
        larger = self._larger(machine, family, capacity_W, ceiling_C)
        with self._lock:
            key = (family, capacity_W, ceiling_C)
            kept = self._kept.get(key) or self._as_another(key)
            future = self._kept.setdefault(key, kept or Future())
        if kept is None:
            coil = backed(with_coil(machine, capacity_W))
            plant = coil.plant._replace(condensing_ceiling_C=ceiling_C)
            coil = replace(coil, plant=plant)
            try:
                if self.solve_smaller and larger is not None:
                    ledger = self.solve_smaller(coil, larger)
                else:
                    ledger = self.solve(coil)
                future.set_result(trial_of(ledger, plant))
            except BaseException as error:
                future.set_exception(error)
        return future.result()

    def _larger(
        self, machine: Machine, family: int, capacity_W: float, ceiling_C: float
    ) -> FloatArray | None:
        """The year of a coil without limit, where a smaller one leaves enough of it as it is."""
        if self.solve_smaller is None or not 0.0 < capacity_W < UNLIMITED_W:
            return None
        if not _plain(self._families[family].plant):
            return None
        free = self.year(machine, UNLIMITED_W, ceiling_C)
        binding = np.count_nonzero(free.rates_W > capacity_W)
        return free.ledger if binding < _FEW * free.rates_W.size else None

    def _as_another(self, key: tuple[int, float, float]) -> Future[Trial] | None:
        """A year solved already that is this one: what the two differ in binds in none of them."""
        family, capacity_W, ceiling_C = key
        if capacity_W == 0.0 or not _plain(self._families[family].plant):
            return None
        for (other, solved_W, solved_C), future in self._kept.items():
            if other != family or not future.done() or future.exception() is not None:
                continue
            trial = future.result()
            size_W = min(solved_W, capacity_W)
            top_C = min(solved_C, ceiling_C)
            if (solved_W == capacity_W or trial.most_given_W * _FREE_OF_SIZE < size_W) and (
                solved_C == ceiling_C or trial.hottest_C + _FREE_OF_CEILING_K < top_C
            ):
                return future
        return None

    def _family(self, machine: Machine) -> int:
        """Number of the machines whose condenser heat sizes alike, with a coil of any size."""
        if id(machine) not in self._seen:
            coil = backed(with_coil(machine, UNLIMITED_W))
            family = next((k for k, one in enumerate(self._families) if alike(one, coil)), None)
            if family is None:
                family = len(self._families)
                self._families.append(coil)
            self._seen[id(machine)] = machine, family
        return self._seen[id(machine)][1]

    def share(self, machine: Machine, capacity_W: float) -> float | None:
        """Recovered share of the machine's own year with another coil, as it stands otherwise."""
        coil = with_coil(machine, capacity_W)
        plant = coil.plant
        if plant.reheat_before_W == 0.0:
            trial = self.year(machine, capacity_W, plant.condensing_ceiling_C)
            if trial.most_purchased_W <= CLEAR * plant.reheat_after_W:
                return trial.recovered_share
        ledger = self.solve(coil)
        return recovered_share(
            float(column(ledger, "reheat_recovered_kWh").sum()),
            float(column(ledger, "reheat_purchased_kWh").sum()),
        )


def least_step(
    value: Callable[[int], float],
    target: float,
    known: Mapping[int, float],
    estimate: FloatArray | None = None,
) -> int:
    """The least of the steps of a ladder whose value reaches a target.

    The answer is that of halving; an estimate only spares trials.

    Parameters
    ----------
    value : of a step, by solving; it must not fall as the steps rise
    known : values solved already, by step; the highest reaches the target
    estimate : (highest step + 1,), rising; by default straight lines between what is known
    """
    top = max(known)
    low = max((k for k, found in known.items() if found < target), default=-1)
    high = min(k for k, found in known.items() if found >= target and k > low)
    if estimate is None:
        places = sorted(known)
        estimate = np.interp(np.arange(top + 1), places, [known[k] for k in places])
    shift = 0.0
    trials = 0
    while high - low > 1:
        led = int(np.searchsorted(estimate, target - shift))
        k = min(max(led, low + 1), high - 1) if trials < _LED else (low + high) // 2
        found = value(k)
        trials += 1
        shift = found - float(estimate[k])
        low, high = (low, k) if found >= target else (k, high)
    return high
