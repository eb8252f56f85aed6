"""A root between two bounds, for compiled loops that evaluate the function themselves."""

from __future__ import annotations

import math
from typing import NamedTuple

from dewledger.weather.numerics.compiled import compiled


class Bracket(NamedTuple):
    """Bounds of the root of a rising function, and the function at each."""

    low: float
    f_low: float  # at most 0
    high: float
    f_high: float  # at least 0
    moved: int  # which bound moved last: 1 the upper, -1 the lower, 0 neither


@compiled
def meeting(bracket: Bracket) -> float:
    """Where the line between the bounds crosses zero: the next trial."""
    return (bracket.low * bracket.f_high - bracket.high * bracket.f_low) / (
        bracket.f_high - bracket.f_low
    )


@compiled
def crossing(first: float, f_first: float, second: float, f_second: float) -> float:
    """Where the line through ``first`` and ``second``, ``f_first`` and ``f_second`` there, crosses
    zero, between them or not: a secant; NaN where it does not. In their unit."""
    if f_first == f_second:
        return math.nan
    return second - f_second * (second - first) / (f_second - f_first)


@compiled
def narrowed(bracket: Bracket, at: float, f: float) -> Bracket:
    """The bounds after a trial.

    Illinois false position: the value at a bound that stays twice is halved, so that the next
    trial falls on its side (Dowell and Jarratt, BIT 11, 1971).
    """
    if f > 0.0:
        f_low = 0.5 * bracket.f_low if bracket.moved == 1 else bracket.f_low
        return Bracket(bracket.low, f_low, at, f, 1)
    f_high = 0.5 * bracket.f_high if bracket.moved == -1 else bracket.f_high
    return Bracket(at, f, bracket.high, f_high, -1)
