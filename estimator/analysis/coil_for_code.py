"""The smallest condenser-heat coil with which a code's share of recovered reheat is met."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from dewledger.accounts.energy import column
from dewledger.analysis.coil_trials import (
    ADDED_EFFECTIVENESS,
    CoilTrials,
    covered_kWh,
    least_step,
    rate_W,
)
from dewledger.assembly.machine import Machine
from dewledger.case.allowance import Allowance
from dewledger.case.reheat import CONDENSER_COIL_DROP
from dewledger.codes.determination import recovered_share_threshold
from dewledger.codes.parts import apart, least_kept, no_less, written
from dewledger.components.supply_fan import VARIABLE_FLOW
from dewledger.quantities import Display, rounded, show
from dewledger.weather.physics.moist_air import FloatArray

# The coil's size is found to this share of the largest tried.
COIL_TOLERANCE = 0.005


@dataclass(frozen=True)
class CoilSize:
    """How the condenser-heat coil's size bears on the code's answer.

    threshold : the recovered share asked for; None where the code asks for none
    answer : the smallest coil that reaches it; None where no size decides
    sentence : the answer for a reader
    """

    threshold: float | None
    answer: CoilAnswer | None
    sentence: str


def coil_size(
    machine: Machine,
    annual: dict[str, Any],
    ledger: FloatArray,
    allowance: Allowance,
    trials: CoilTrials,
    display: Display,
) -> CoilSize:
    """How much smaller or larger the condenser-heat coil could be before the answer changes."""
    varies = machine.plant.flow.kind == VARIABLE_FLOW and machine.control.outdoor_air_unit.used == 0
    threshold = recovered_share_threshold(allowance.code, allowance.edition, varies)
    if threshold is None:
        return CoilSize(
            None, None, "The code requires no recovered share, so no coil size decides."
        )
    purchases = any(source.carrier for source in machine.reheat)
    if machine.plant.drying_effectiveness > 0.0 and machine.plant.recovery_effectiveness == 0.0:
        return CoilSize(
            threshold, None, "The recovered heat comes from no condenser-heat coil to be sized."
        )
    has_coil = machine.plant.recovery_effectiveness > 0.0
    if not machine.reheat or (not has_coil and annual["reheat_purchased_kWh"] <= 0.0):
        return CoilSize(threshold, None, "No reheat occurred, so no coil size decides.")
    largest_given_W = _largest_given_W(ledger)
    if not purchases:
        size = show(largest_given_W, "heat flow", display)
        return CoilSize(
            threshold,
            None,
            "Nothing is purchased in addition to the condenser heat, so the recovered share is "
            "100 % with a "
            f"coil of any size; one below {size}, the most it gave in any hour, would leave heat "
            "short or the room wetter instead.",
        )
    rejected_W = machine.unit.rated_rejected_W
    evaluate = partial(trials.share, machine)
    if not has_coil:
        answer = smallest_coil(
            evaluate,
            threshold,
            rejected_W,
            COIL_TOLERANCE * rejected_W,
            None,
            display,
            estimate=partial(_estimated, trials, machine),
        )
        if answer.capacity_W is None:
            return CoilSize(
                threshold, answer, f"Condenser heat ahead of it would not comply. {answer.sentence}"
            )
        size = show(answer.capacity_W, "heat flow", display)
        return CoilSize(
            threshold,
            answer,
            f"A condenser-heat coil of {size} put ahead of the purchased heat (effectiveness "
            f"{100.0 * ADDED_EFFECTIVENESS:.0f} %, air pressure drop {CONDENSER_COIL_DROP}) would "
            f"recover {100.0 * threshold:.0f} % and meet the rule.",
        )
    stated_W = machine.plant.recovery_capacity_W
    limited = stated_W < rejected_W
    designed_W = stated_W if limited else largest_given_W
    largest_W = rejected_W if limited else max(largest_given_W, 1.0)
    answer = smallest_coil(
        evaluate,
        threshold,
        largest_W,
        COIL_TOLERANCE * largest_W,
        designed_W,
        display,
        estimate=partial(_estimated, trials, machine),
    )
    sentence = answer.sentence
    if not limited:
        size = show(largest_given_W, "heat flow", display)
        sentence += (
            f" The case states no size; “designed” is {size}, the most the coil gave in any hour."
        )
    return CoilSize(threshold, answer, sentence)


def _largest_given_W(ledger: FloatArray) -> float:
    """The most condenser heat given while the compressor ran, W."""
    given = column(ledger, "reheat_recovered_kWh")
    return float(rate_W(given, column(ledger, "compressor_runtime_frac")).max())


def _estimated(trials: CoilTrials, machine: Machine, sizes_W: FloatArray) -> FloatArray:
    """Recovered share of coils of several sizes, as if a smaller one changed nothing but what it
    gives."""
    year = trials.year(machine, float(sizes_W[-1]), machine.plant.condensing_ceiling_C)
    reheat = year.recovered_kWh + float(year.purchased_kWh.sum())
    return covered_kWh(year, sizes_W) / reheat


@dataclass(frozen=True)
class CoilAnswer:
    """The smallest coil whose year reaches a recovered share.

    capacity_W : that coil, to the stated tolerance; None where no coil up to the largest tried does
    share : recovered share with it, or with the largest tried; None where no reheat occurred
    runs : years solved to find it
    """

    capacity_W: float | None
    share: float | None
    runs: int
    sentence: str


def smallest_coil(
    evaluate: Callable[[float], float | None],
    threshold: float,
    largest_W: float,
    tolerance_W: float,
    designed_W: float | None = None,
    display: Display = "I-P",
    estimate: Callable[[FloatArray], FloatArray] | None = None,
) -> CoilAnswer:
    """The smallest coil capacity [W] with at least a recovered share, on a ladder of capacities.

    Parameters
    ----------
    evaluate : recovered share (fraction) of a year with a coil of a capacity [W]; None where the
        year has no reheat. More capacity must not lower the share.
    threshold : the share asked for, a fraction
    largest_W : the largest capacity to try
    tolerance_W : the answer is at most this much above the true one
    designed_W : the coil of the design; the sentence says how much it may shrink, or must grow
    estimate : shares of rising capacities as near as they can be known without solving; it spares
        trials and changes no answer
    """
    asked = written(threshold, "fraction", display)
    share = evaluate(largest_W)
    if share is None:
        return CoilAnswer(None, None, 1, "No reheat occurred, so no coil size decides.")
    if not no_less(share, threshold):
        largest = show(largest_W, "heat flow", display)
        seen, asked = apart(share, threshold, "fraction", display)
        return CoilAnswer(
            None, share, 1, f"No coil up to {largest} reaches {asked}: the largest recovers {seen}."
        )
    steps = 1 << max(math.ceil(math.log2(largest_W / tolerance_W)), 0)
    sizes_W = largest_W * np.arange(steps + 1) / steps
    tried: dict[int, float | None] = {steps: share}

    def value(step: int) -> float:
        tried[step] = evaluate(float(sizes_W[step]))
        return tried[step] or 0.0

    step = least_step(
        value,
        least_kept(threshold),
        {0: 0.0, steps: share},
        None if estimate is None else estimate(sizes_W),
    )
    high, share, runs = float(sizes_W[step]), tried[step], len(tried)
    size = show(high, "heat flow", display)
    sentence = f"A coil of {size} is the smallest that recovers {asked}"
    if designed_W is not None:
        change = abs(high - designed_W)
        way = "larger" if high > designed_W else "smaller"
        share_of = f" ({rounded(100.0 * change / designed_W, 2)} %)" if designed_W > 0.0 else ""
        sentence += f": {show(change, 'heat flow', display, 2)}{share_of} {way} than designed"
    return CoilAnswer(high, share, runs, f"{sentence}.")
