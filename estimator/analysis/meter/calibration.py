"""The uncertain inputs of a study weighed by how well each draw of them meets the bills.

Importance weights on draws of the inputs' ranges (the prior): a draw counts by its likelihood, the
bills of each period being normal about the model with the stated scatter. Where few draws carry the
weight (effective sample size 1 / sum of squared weights below 100), new ones are drawn from a
widened normal about those that do, and each weight is divided by the density it was drawn with
(Owen, Monte Carlo theory, methods and examples, ch. 9 and 10; not checked against the text).

Draws are kept as standard normal numbers, one for each input, so that the prior is the standard
normal whatever the shape of a range.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from dewledger.analysis.meter.comparison import base_load
from dewledger.analysis.monte_carlo import Assumed, Evaluate, evaluated
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray

ENOUGH = 100.0  # effective sample size that an interval takes
_HEAVIEST = 0.10  # weight of one draw above which no interval is given
_ROUNDS = 8
_WIDER = 1.4  # standard deviations of the proposal over those of the weighted draws
_FROM_PRIOR = 0.1  # share of each refined set still drawn from the whole prior
# Effective draws for each input that a proposal is made from.
_FOR_EACH_INPUT = 5.0
# An input is distinguished where its P10-P90 span shrinks to less than this share of the prior's.
_TOLD_APART = 0.8


@dataclass(frozen=True, eq=False)
class Evidence:
    """What was measured, by period.

    names : of the results of the evaluation that stand for the periods
    measured, scatter : (periods,) in the results' unit
    days : days of each period, where a steady base load is to be fitted; None where there is none
    """

    names: tuple[str, ...]
    measured: FloatArray
    scatter: FloatArray
    days: FloatArray | None = None

    def modeled(self, results: Mapping[str, FloatArray]) -> FloatArray:
        """Modeled periods of each draw, base load included, (draws, periods)."""
        modeled = np.column_stack([results[name] for name in self.names])
        if self.days is not None:
            _, modeled = base_load(self.measured, modeled, self.days)
        return modeled

    def log_likelihood(self, results: Mapping[str, FloatArray]) -> FloatArray:
        """Log likelihood of each draw but for a constant, (draws,)."""
        gap = (self.measured - self.modeled(results)) / self.scatter
        found: FloatArray = -0.5 * np.nansum(gap * gap, axis=1)
        return found


@dataclass(frozen=True)
class Band:
    """P10, P50 and P90 of a result."""

    p10: float
    p50: float
    p90: float

    def holds(self, value: float) -> bool:
        """Whether a value lies between P10 and P90."""
        return self.p10 <= value <= self.p90


@dataclass(frozen=True)
class Learned:
    """An input before and after the bills."""

    name: str
    prior: Band
    posterior: Band

    @property
    def told_apart(self) -> bool:
        """Whether the bills narrow it."""
        before = self.prior.p90 - self.prior.p10
        return before > 0.0 and (self.posterior.p90 - self.posterior.p10) < _TOLD_APART * before


@dataclass(frozen=True, eq=False)
class Calibration:
    """What the bills leave of the inputs' ranges and of the results.

    prior, posterior : bands of each result by its name
    inputs : each input before and after
    effective_size : of the weighted draws; draws : how many were evaluated
    refined : whether draws were made anew about those that fit
    warnings : sentences; among them where no draw fits or the bills cannot distinguish
    """

    prior: Mapping[str, Band]
    posterior: Mapping[str, Band]
    inputs: tuple[Learned, ...]
    effective_size: float
    draws: int
    refined: bool
    warnings: tuple[str, ...]


def weights_of(log_weight: FloatArray) -> FloatArray:
    """Weights that add up to 1, from logarithms of any size."""
    from scipy.special import logsumexp

    found: FloatArray = np.exp(log_weight - logsumexp(log_weight))
    return found


def effective_size(weights: FloatArray) -> float:
    """Kish's effective sample size, 1 / sum of squared weights that add up to 1."""
    return float(1.0 / np.sum(weights * weights))


def band(values: FloatArray, weights: FloatArray | None = None) -> Band:
    """P10, P50 and P90, weighted; values that are no numbers are left out."""
    known = np.isfinite(values)
    if weights is None:
        weights = np.full(len(values), 1.0 / max(len(values), 1))
    if not known.any() or weights[known].sum() <= 0.0:
        return Band(np.nan, np.nan, np.nan)
    found = np.quantile(
        values[known], [0.1, 0.5, 0.9], weights=weights[known], method="inverted_cdf"
    )
    return Band(*(float(value) for value in found))


@dataclass(frozen=True, eq=False)
class Draws:
    """Evaluated draws: standard normal numbers, values of the inputs, results, log densities."""

    normal: FloatArray  # (draws, inputs)
    values: FloatArray
    results: Mapping[str, FloatArray]
    log_prior_over_proposal: FloatArray

    def joined(self, other: Draws) -> Draws:
        """Both sets as one."""
        return Draws(
            np.vstack([self.normal, other.normal]),
            np.vstack([self.values, other.values]),
            {n: np.concatenate([v, other.results[n]]) for n, v in self.results.items()},
            np.concatenate([self.log_prior_over_proposal, other.log_prior_over_proposal]),
        )


def prior_draws(
    assumed: Sequence[Assumed],
    evaluate: Evaluate,
    draws: int,
    seed: int,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Draws:
    """Draws of the inputs' ranges by a Latin hypercube, evaluated."""
    from scipy.special import ndtri
    from scipy.stats import qmc

    if draws < 1:
        raise InputError(f"{draws} draws are too few; write 1 or more, for example 1000")
    unit = qmc.LatinHypercube(len(assumed), rng=np.random.default_rng(seed)).random(draws)
    unit = np.clip(unit, 1e-12, 1.0 - 1e-12)
    found = evaluated(assumed, unit, evaluate, seed, "thread", workers, progress)
    return Draws(ndtri(unit), found.values, found.results, np.zeros(draws))


def refine(
    assumed: Sequence[Assumed],
    evaluate: Evaluate,
    evidence: Evidence,
    start: Draws,
    draws: int,
    seed: int,
    workers: int | None = None,
) -> Draws:
    """New draws about those that fit, round by round until enough of them carry the weight."""
    from scipy.special import ndtr
    from scipy.stats import multivariate_normal

    rng = np.random.default_rng((seed, 1))
    found = start
    inputs = len(assumed)
    for _ in range(_ROUNDS):
        log_weight = evidence.log_likelihood(found.results) + found.log_prior_over_proposal
        power = _softened(log_weight, _FOR_EACH_INPUT * inputs)
        weights = weights_of(power * log_weight)
        center = weights @ found.normal
        away = found.normal - center
        spread = (weights[:, None] * away).T @ away
        spread = _WIDER**2 * spread + 1e-6 * np.eye(inputs)
        whole = rng.random(draws) < _FROM_PRIOR
        normal = np.where(
            whole[:, None],
            rng.standard_normal((draws, inputs)),
            rng.multivariate_normal(center, spread, draws, method="cholesky"),
        )
        log_prior = -0.5 * (normal * normal).sum(axis=1) - 0.5 * inputs * np.log(2.0 * np.pi)
        log_proposal = np.logaddexp(
            np.log(_FROM_PRIOR) + log_prior,
            np.log(1.0 - _FROM_PRIOR) + multivariate_normal(center, spread).logpdf(normal),
        )
        run = evaluated(assumed, ndtr(normal), evaluate, seed, "thread", workers)
        anew = Draws(normal, run.values, run.results, log_prior - log_proposal)
        # Sets drawn about the whole likelihood count together; softened ones only lead there.
        found = found.joined(anew) if power == 1.0 else anew
        log_weight = evidence.log_likelihood(found.results) + found.log_prior_over_proposal
        if effective_size(weights_of(log_weight)) >= ENOUGH:
            break
    return found


def _softened(log_weight: FloatArray, enough: float) -> float:
    """Power at most 1 of the weights at which enough draws carry them, to draw anew about."""
    power = 1.0
    while effective_size(weights_of(power * log_weight)) < enough and power > 1e-4:
        power *= 0.7
    return power


def weigh(
    assumed: Sequence[Assumed],
    start: Draws,
    evidence: Evidence,
    refined: Draws | None = None,
) -> Calibration:
    """The bands that the bills leave.

    Parameters
    ----------
    start : draws of the prior
    refined : draws made anew about those that fit, where ``start`` had too few
    """
    used = start if refined is None else refined
    log_likelihood = evidence.log_likelihood(used.results)
    weights = weights_of(log_likelihood + used.log_prior_over_proposal)
    size = effective_size(weights)
    inputs = tuple(
        Learned(one.name, band(start.values[:, i]), band(used.values[:, i], weights))
        for i, one in enumerate(assumed)
    )
    return Calibration(
        {name: band(values) for name, values in start.results.items()},
        {name: band(values, weights) for name, values in used.results.items()},
        inputs,
        size,
        len(start.normal) + (0 if refined is None else len(refined.normal)),
        refined is not None,
        _warnings(log_likelihood, weights, size, evidence, inputs),
    )


def _warnings(
    log_likelihood: FloatArray,
    weights: FloatArray,
    size: float,
    evidence: Evidence,
    inputs: Sequence[Learned],
) -> tuple[str, ...]:
    found = []
    periods = int(np.isfinite(evidence.measured).sum())
    # Chi-square of the best draw: its mean is the number of periods, its deviation sqrt(2 n).
    best = -2.0 * float(log_likelihood.max())
    if best > periods + 3.0 * np.sqrt(2.0 * periods):
        found.append(
            "no draw of the inputs fits the bills within their scatter: something that no range "
            "here covers differs between building and model, and the band below is not to be used"
        )
    if size < ENOUGH or weights.max() > _HEAVIEST:
        found.append(
            f"only {size:.0f} draws in effect carry the result; more draws are needed before an "
            "interval is quoted"
        )
    # No bill of energy can say anything of a price.
    blind = [one.name for one in inputs if not one.told_apart and "price" not in one.name]
    if blind:
        found.append(f"the bills say little about {', '.join(blind)}: their ranges stay as assumed")
    return tuple(found)


def calibrate(
    assumed: Sequence[Assumed],
    evaluate: Evaluate,
    evidence: Evidence,
    *,
    draws: int,
    seed: int,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Calibration:
    """Draws of the inputs weighed by the bills, drawn anew where too few of them fit."""
    start = prior_draws(assumed, evaluate, draws, seed, workers, progress)
    weights = weights_of(evidence.log_likelihood(start.results))
    if effective_size(weights) >= ENOUGH and weights.max() <= _HEAVIEST:
        return weigh(assumed, start, evidence)
    anew = refine(assumed, evaluate, evidence, start, draws, seed, workers)
    return weigh(assumed, start, evidence, anew)
