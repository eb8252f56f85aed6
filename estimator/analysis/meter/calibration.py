"""The uncertain inputs of a study weighed by how well each draw of them meets what was measured.

Importance weights on draws of the inputs' ranges (the prior): a draw counts by its likelihood,
what was measured being normal about the model with the stated scatter. Where few draws carry the
weight (effective sample size 1 / sum of squared weights below 100), new ones are drawn from a
widened normal about those that do, and each weight is divided by the density it was drawn with
(Owen, Monte Carlo theory, methods and examples, ch. 9 and 10; not checked against the text).

Draws are kept as standard normal numbers, one for each input, so that the prior is the standard
normal whatever the shape of a range.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from dewledger.analysis.meter.comparison import base_load
from dewledger.analysis.monte_carlo import Assumed, Evaluate, evaluated
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray

ENOUGH = 100.0  # effective sample size that an interval takes
_HEAVIEST = 0.10  # weight of one draw above which no interval is given
_ROUNDS = 8
_MOST_IN_A_ROUND = 500
# Standard deviations of the proposal over those of what fits: by lines, where more would leave few
# of twenty inputs' draws that fit, and by the weighted draws.
_WIDER = 1.1
_WIDER_BY_WEIGHT = 1.4
# Results that nothing is weighed by are evaluated for so many draws of the prior, and for so many
# drawn by their weights.
_PRIOR_SHOWN = 200
_SHOWN = 400
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
    others : what else was measured, and counts with it: gas, trends, what users see
    """

    names: tuple[str, ...]
    measured: FloatArray
    scatter: FloatArray
    days: FloatArray | None = None
    others: tuple[Evidence, ...] = ()

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
        for other in self.others:
            found = found + other.log_likelihood(results)
        return found

    def in_scatters(self, results: Mapping[str, FloatArray]) -> tuple[FloatArray, FloatArray]:
        """Modeled (draws, values) and measured (values,), each over its scatter; known ones."""
        known = np.isfinite(self.measured)
        modeled = (self.modeled(results) / self.scatter)[:, known]
        measured = (self.measured / self.scatter)[known]
        for other in self.others:
            one, two = other.in_scatters(results)
            modeled, measured = np.hstack([modeled, one]), np.concatenate([measured, two])
        return modeled, measured

    @property
    def count(self) -> int:
        """Values measured, all together."""
        own = int(np.isfinite(self.measured).sum())
        return own + sum(other.count for other in self.others)


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


@dataclass(frozen=True, eq=False)
class _Set:
    """Where a set of draws is from: a normal of this center and spread, a share from the prior."""

    center: FloatArray
    spread: FloatArray
    count: int

    def draw(self, rng: np.random.Generator) -> FloatArray:
        """Standard normal numbers of the inputs, (count, inputs)."""
        whole = rng.random(self.count) < _FROM_PRIOR
        return np.where(
            whole[:, None],
            rng.standard_normal((self.count, len(self.center))),
            rng.multivariate_normal(self.center, self.spread, self.count, method="cholesky"),
        )

    def log_density(self, normal: FloatArray) -> FloatArray:
        """Logarithm of the density that draws are from, (draws,)."""
        from scipy.stats import multivariate_normal

        around = multivariate_normal(self.center, self.spread).logpdf(normal)
        found: FloatArray = np.logaddexp(
            np.log(_FROM_PRIOR) + _log_prior(normal), np.log(1.0 - _FROM_PRIOR) + around
        )
        return found


def _log_prior(normal: FloatArray) -> FloatArray:
    found: FloatArray = -0.5 * (normal * normal).sum(axis=1) - 0.5 * normal.shape[1] * np.log(
        2.0 * np.pi
    )
    return found


def refine(
    assumed: Sequence[Assumed],
    evaluate: Evaluate,
    evidence: Evidence,
    start: Draws,
    draws: int,
    seed: int,
    workers: int | None = None,
) -> Draws:
    """The draws with new ones about those that fit, round by round until enough carry the weight.

    Every draw counts by its prior over the mean density of all sets, the first one included
    (balance heuristic; Veach and Guibas 1995, not checked against the text), so that no set drawn
    in the wrong place spoils the others.
    """
    from scipy.special import ndtr

    rng = np.random.default_rng((seed, 1))
    found, first = start, len(start.normal)
    sets: list[_Set] = []
    for round_ in range(_ROUNDS):
        place = _where_lines_meet if round_ % 2 == 0 else _where_weight_is
        one = _Set(*place(found, evidence), min(draws, _MOST_IN_A_ROUND))
        normal = one.draw(rng)
        run = evaluated(assumed, ndtr(normal), evaluate, seed, "thread", workers)
        found = found.joined(Draws(normal, run.values, run.results, np.zeros(len(normal))))
        sets.append(one)
        log_prior = _log_prior(found.normal)
        parts = [np.log(first) + log_prior]
        parts += [np.log(one.count) + one.log_density(found.normal) for one in sets]
        log_mean = np.logaddexp.reduce(parts, axis=0) - np.log(len(found.normal))
        found = replace(found, log_prior_over_proposal=log_prior - log_mean)
        weights = weights_of(evidence.log_likelihood(found.results) + log_prior - log_mean)
        if effective_size(weights) >= ENOUGH and weights.max() <= _HEAVIEST:
            break
    return found


def _leading(found: Draws, evidence: Evidence) -> FloatArray:
    """Weights of the draws, softened until enough of them lead where new ones are drawn."""
    log_weight = evidence.log_likelihood(found.results) + found.log_prior_over_proposal
    power = _softened(log_weight, _FOR_EACH_INPUT * found.normal.shape[1])
    return weights_of(power * log_weight)


def _where_lines_meet(found: Draws, evidence: Evidence) -> tuple[FloatArray, FloatArray]:
    """Center and spread of a normal about the inputs that fit, by lines.

    What was measured is taken as linear in the inputs near the draws that fit best, which makes the
    weighted prior a normal one; inputs that move nothing keep their prior.
    """
    inputs = found.normal.shape[1]
    weights = _leading(found, evidence)
    modeled, measured = evidence.in_scatters(found.results)
    root = np.sqrt(weights)[:, None]
    given = np.column_stack([np.ones(len(weights)), found.normal])
    slopes = np.linalg.lstsq(root * given, root * modeled, rcond=1e-6)[0]
    left = modeled - given @ slopes
    deviation = np.sqrt(1.0 + weights @ (left * left))
    by_input = slopes[1:] / deviation
    spread = np.linalg.inv(np.eye(inputs) + by_input @ by_input.T)
    center = spread @ (by_input @ ((measured - slopes[0]) / deviation))
    return center, _WIDER**2 * 0.5 * (spread + spread.T)


def _where_weight_is(found: Draws, evidence: Evidence) -> tuple[FloatArray, FloatArray]:
    """Center and spread of the draws by their weights, for what is no line at all."""
    weights = _leading(found, evidence)
    center = weights @ found.normal
    away = found.normal - center
    spread = (weights[:, None] * away).T @ away
    return center, _WIDER_BY_WEIGHT**2 * spread + 1e-6 * np.eye(len(center))


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
    refined : the draws with new ones about those that fit, where ``start`` had too few
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
        len(used.normal),
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
    periods = evidence.count
    # Chi-square of the best draw: its mean is the number of values, its deviation sqrt(2 n).
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


def _by_weight(weights: FloatArray, count: int) -> tuple[FloatArray, FloatArray]:
    """Places of draws taken by their weights at even steps, and how often each was taken."""
    steps = (np.arange(count) + 0.5) / count
    taken = np.minimum(np.searchsorted(np.cumsum(weights), steps), len(weights) - 1)
    places, often = np.unique(taken, return_counts=True)
    return places, often / count


def calibrate(
    assumed: Sequence[Assumed],
    evaluate: Evaluate,
    evidence: Evidence,
    *,
    draws: int,
    seed: int,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
    outcomes: Evaluate | None = None,
) -> Calibration:
    """Draws of the inputs weighed by what was measured, drawn anew where too few of them fit.

    Parameters
    ----------
    evaluate : what was measured, as modeled at values of the inputs; done for every draw
    outcomes : results that nothing is weighed by, done for the draws that are shown alone; None
        where ``evaluate`` gives them
    """
    start = prior_draws(assumed, evaluate, draws, seed, workers, progress)
    fits = evidence.log_likelihood(start.results)
    weights = weights_of(fits)
    anew = None
    if effective_size(weights) < ENOUGH or weights.max() > _HEAVIEST:
        anew = refine(assumed, evaluate, evidence, start, draws, seed, workers)
    if outcomes is None:
        return weigh(assumed, start, evidence, anew)

    from scipy.special import ndtr

    def bands(normal: FloatArray, weights: FloatArray | None = None) -> dict[str, Band]:
        run = evaluated(assumed, ndtr(normal), outcomes, seed, "thread", workers, progress)
        return {name: band(values, weights) for name, values in run.results.items()}

    used = start if anew is None else anew
    log_weight = evidence.log_likelihood(used.results) + used.log_prior_over_proposal
    places, weights = _by_weight(weights_of(log_weight), _SHOWN)
    found = weigh(assumed, start, evidence, anew)
    return replace(
        found,
        prior={**found.prior, **bands(start.normal[:_PRIOR_SHOWN])},
        posterior={**found.posterior, **bands(used.normal[places], weights)},
    )
