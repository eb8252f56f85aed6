"""How far an answer moves when what it rests on moves.

Two views of the same named assumptions, each with a low, a likely and a high value and a reason:
``one_at_a_time`` moves one at a time to its ends, the others staying likely; ``monte_carlo`` draws
all of them together, by a seeded Latin hypercube (McKay, Beckman and Conover, Technometrics 21,
1979; here scipy.stats.qmc), each independent of the others.

Both take a function ``evaluate(values) -> results``, a dict of floats by assumption to a dict of
floats by result. A result that cannot be determined is NaN: it is counted, never averaged.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context
from typing import Literal

import numpy as np
import numpy.typing as npt

from dewledger.analysis.worker_processes import ended_on_failure, follow_parent
from dewledger.weather.errors import InputError

FloatArray = npt.NDArray[np.float64]
Evaluate = Callable[[dict[str, float]], Mapping[str, float]]
Progress = Callable[[int, int], None]
Pool = Literal["process", "thread", "none"]


@dataclass(frozen=True)
class Assumed:
    """One uncertain assumption: its range, how values spread over it, and why.

    triangular : most often near ``likely``, never outside low..high
    uniform : any value of the range alike; ``likely`` is only the value of the base answer
    choice : one of the whole numbers low..high alike, for example the place of a file in a list
    """

    name: str
    low: float
    likely: float
    high: float
    reason: str
    shape: Literal["triangular", "uniform", "choice"] = "triangular"

    def __post_init__(self) -> None:
        values = (self.low, self.likely, self.high)
        if not all(math.isfinite(value) for value in values):
            raise InputError(f'the range of "{self.name}" has a value that is not a finite number')
        if not (self.low <= self.likely <= self.high and self.low < self.high):
            raise InputError(
                f'the range of "{self.name}" runs from {self.low:g} by {self.likely:g} to '
                f"{self.high:g}; write low, likely and high in rising order, high above low"
            )
        if not self.reason.strip():
            raise InputError(f'the range of "{self.name}" gives no reason; write one')
        if self.shape == "choice" and not all(float(value).is_integer() for value in values):
            raise InputError(f'the choices of "{self.name}" must be whole numbers')

    def at(self, probability: FloatArray) -> FloatArray:
        """Values below which the given probabilities (0..1) of all draws lie."""
        low, likely, high = self.low, self.likely, self.high
        if self.shape == "choice":
            return np.minimum(low + np.floor(probability * (high - low + 1.0)), high)
        if self.shape == "uniform":
            return low + probability * (high - low)
        rising = low + np.sqrt(probability * (high - low) * (likely - low))
        falling = high - np.sqrt((1.0 - probability) * (high - low) * (high - likely))
        return np.where(probability < (likely - low) / (high - low), rising, falling)

    def ends(self) -> list[float]:
        """The values that a one-at-a-time run tries: both ends, or every choice."""
        if self.shape == "choice":
            return [float(value) for value in range(int(self.low), int(self.high) + 1)]
        return [self.low, self.high]


@dataclass(frozen=True)
class Effect:
    """What one result does when one assumption goes to its low and to its high value.

    For a choice, low and high are the choices with the lowest and the highest result.
    """

    assumption: str
    reason: str
    result: str
    base: float
    value_low: float
    value_high: float
    result_low: float
    result_high: float

    @property
    def size(self) -> float:
        """Spread of the result over the low, the likely and the high value; NaN if undetermined."""
        seen = (self.base, self.result_low, self.result_high)
        return max(seen) - min(seen) if all(map(math.isfinite, seen)) else math.nan


@dataclass(frozen=True)
class Sensitivity:
    """The base answer and every effect."""

    base: Mapping[str, float]
    effects: tuple[Effect, ...]

    def ranked(self, result: str) -> tuple[Effect, ...]:
        """Effects of one result, the widest first; undetermined ones last."""
        mine = [effect for effect in self.effects if effect.result == result]
        return tuple(sorted(mine, key=lambda s: -s.size if math.isfinite(s.size) else math.inf))


@dataclass(frozen=True)
class Summary:
    """One result over all draws. P10 is the value that 10 % of the draws lie below."""

    result: str
    p10: float
    p50: float
    p90: float
    mean: float
    draws: int  # those in which the result could be determined
    undetermined: int


@dataclass(frozen=True, eq=False)
class MonteCarlo:
    """All draws and all results, read-only, in the order drawn."""

    assumed: tuple[Assumed, ...]
    seed: int
    values: FloatArray  # (draws, assumptions)
    results: Mapping[str, FloatArray]  # (draws,) each

    def summary(self, result: str) -> Summary:
        """P10, P50, P90 and mean of one result."""
        known = self._known(result)
        found = self.results[result][known]
        p10, p50, p90 = np.percentile(found, [10.0, 50.0, 90.0]) if len(found) else [math.nan] * 3
        return Summary(
            result=result,
            p10=float(p10),
            p50=float(p50),
            p90=float(p90),
            mean=float(found.mean()) if len(found) else math.nan,
            draws=len(found),
            undetermined=int((~known).sum()),
        )

    def probability_at_least(self, result: str, threshold: float) -> float:
        """Share of the determined draws in which a result is at or above ``threshold``."""
        found = self.results[result][self._known(result)]
        return float((found >= threshold).mean()) if len(found) else math.nan

    def ranked(self, result: str) -> tuple[tuple[str, float], ...]:
        """Assumptions and Spearman's rank correlation of each with a result, strongest first.

        Zero where the result or the assumption never moves.
        """
        from scipy.stats import rankdata

        known = self._known(result)
        found = rankdata(self.results[result][known])
        ranked = []
        for i, assumed in enumerate(self.assumed):
            drawn = rankdata(self.values[known, i])
            moves = len(found) > 1 and np.ptp(found) > 0.0 and np.ptp(drawn) > 0.0
            ranked.append((assumed.name, float(np.corrcoef(drawn, found)[0, 1]) if moves else 0.0))
        return tuple(sorted(ranked, key=lambda item: -abs(item[1])))

    def _known(self, result: str) -> npt.NDArray[np.bool_]:
        return np.isfinite(self.results[result])


def one_at_a_time(
    assumed: Sequence[Assumed],
    evaluate: Evaluate,
    *,
    pool: Pool = "none",
    workers: int | None = None,
    progress: Progress | None = None,
) -> Sensitivity:
    """Move each assumption alone to its ends, the others staying at their likely values."""
    likely = _likely(assumed)
    cases = [likely]
    for one in assumed:
        cases += [likely | {one.name: value} for value in one.ends()]
    base, *moved = _evaluate_all(cases, evaluate, pool, workers, progress)
    found = []
    first = 0
    for one in assumed:
        ends = one.ends()
        seen = moved[first : first + len(ends)]
        first += len(ends)
        for result in base:
            order = list(range(len(ends)))
            if one.shape == "choice":
                # an undetermined choice sorts last, so that the effect is undetermined too
                order.sort(key=lambda i, r=result, s=seen: (math.isnan(s[i][r]), s[i][r]))  # type: ignore[misc]
            low, high = order[0], order[-1]
            found.append(
                Effect(
                    assumption=one.name,
                    reason=one.reason,
                    result=result,
                    base=base[result],
                    value_low=ends[low],
                    value_high=ends[high],
                    result_low=seen[low][result],
                    result_high=seen[high][result],
                )
            )
    return Sensitivity(base=base, effects=tuple(found))


def monte_carlo(
    assumed: Sequence[Assumed],
    evaluate: Evaluate,
    *,
    draws: int,
    seed: int,
    pool: Pool = "process",
    workers: int | None = None,
    progress: Progress | None = None,
) -> MonteCarlo:
    """Draw all assumptions together and evaluate every draw.

    The same assumptions, draws and seed give the same bytes, whatever the pool and the workers.

    Parameters
    ----------
    evaluate : must be picklable (a function of a module, or functools.partial of one) for processes
    pool : "process" for Python code, "thread" for code that releases the interpreter lock, "none"
    workers : by default one per core
    progress : called as progress(done, total) in the calling thread

    Raises
    ------
    InputError : no assumption, one named twice, fewer than one draw, and whatever evaluate raises
    """
    from scipy.stats import qmc

    _likely(assumed)
    if draws < 1:
        raise InputError(f"{draws} draws are too few; write 1 or more, for example 1000")
    sampler = qmc.LatinHypercube(len(assumed), rng=np.random.default_rng(seed))
    return evaluated(assumed, sampler.random(draws), evaluate, seed, pool, workers, progress)


def evaluated(
    assumed: Sequence[Assumed],
    unit: FloatArray,
    evaluate: Evaluate,
    seed: int,
    pool: Pool = "process",
    workers: int | None = None,
    progress: Progress | None = None,
) -> MonteCarlo:
    """The results at given probabilities of each assumption, ``unit`` (draws, assumptions)."""
    values = np.column_stack([one.at(unit[:, i]) for i, one in enumerate(assumed)])
    names = [one.name for one in assumed]
    cases = [dict(zip(names, row, strict=True)) for row in values.tolist()]
    found = _evaluate_all(cases, evaluate, pool, workers, progress)
    results = {name: np.array([one[name] for one in found], dtype=np.float64) for name in found[0]}
    for array in (values, *results.values()):
        array.flags.writeable = False
    return MonteCarlo(tuple(assumed), seed, values, results)


def _likely(assumed: Sequence[Assumed]) -> dict[str, float]:
    if not assumed:
        raise InputError("no assumption has a range; give at least one")
    likely = {one.name: one.likely for one in assumed}
    if len(likely) != len(assumed):
        names = [one.name for one in assumed]
        twice = next(name for name in names if names.count(name) > 1)
        raise InputError(f'the assumption "{twice}" has two ranges; give it one')
    return likely


# In a worker process: the function it was started for, sent once and not with every piece of work.
_evaluate_here: Evaluate | None = None


def _start_worker(evaluate: Evaluate) -> None:
    global _evaluate_here
    _evaluate_here = evaluate
    follow_parent()


def _evaluate_sent(cases: list[dict[str, float]]) -> list[dict[str, float]]:
    assert _evaluate_here is not None
    return _evaluate_some(_evaluate_here, cases)


def _evaluate_some(evaluate: Evaluate, cases: list[dict[str, float]]) -> list[dict[str, float]]:
    return [{name: float(x) for name, x in evaluate(dict(case)).items()} for case in cases]


def cores() -> int:
    """Cores this process may run on."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _evaluate_all(
    cases: list[dict[str, float]],
    evaluate: Evaluate,
    pool: Pool,
    workers: int | None,
    progress: Progress | None,
) -> list[dict[str, float]]:
    """Results of all cases, in their order, on as many cores as asked."""
    count = min(workers or cores(), len(cases))
    # Pieces small enough for a moving progress bar, large enough that sending them costs little.
    size = max(1, min(100, len(cases) // (8 * count)))
    pieces = [cases[i : i + size] for i in range(0, len(cases), size)]
    found: list[list[dict[str, float]]] = [[] for _ in pieces]
    done = 0

    def keep(i: int, results: list[dict[str, float]]) -> None:
        nonlocal done
        found[i] = results
        done += len(results)
        if progress is not None:
            progress(done, len(cases))

    if pool == "none" or count == 1:
        for i, piece in enumerate(pieces):
            keep(i, _evaluate_some(evaluate, piece))
    else:
        executor: Executor
        work: Callable[[list[dict[str, float]]], list[dict[str, float]]]
        if pool == "thread":
            executor, work = ThreadPoolExecutor(count), partial(_evaluate_some, evaluate)
        else:
            # Spawned, not forked: a fork of a process that has threads may never wake up.
            executor, work = (
                ProcessPoolExecutor(
                    count, get_context("spawn"), initializer=_start_worker, initargs=(evaluate,)
                ),
                _evaluate_sent,
            )
        try:
            with ended_on_failure():
                started = {executor.submit(work, piece): i for i, piece in enumerate(pieces)}
                for future in as_completed(started):
                    keep(started[future], future.result())
        finally:
            executor.shutdown(cancel_futures=True)
    results = [one for piece in found for one in piece]
    if any(one.keys() != results[0].keys() for one in results):
        raise ValueError("evaluate must return the same results for every case")
    return results
