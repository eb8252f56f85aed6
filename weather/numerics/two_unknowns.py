"""A root of two unknowns together, for compiled loops that evaluate the functions themselves."""

from __future__ import annotations

from typing import NamedTuple

from dewledger.weather.numerics.compiled import compiled


class Answer(NamedTuple):
    """Steps of two unknowns by their gaps: how far each is to go for what is left of each."""

    first_by_first: float
    first_by_second: float
    second_by_first: float
    second_by_second: float


@compiled
def learned(
    answer: Answer,
    first_step: float,
    second_step: float,
    first_change: float,
    second_change: float,
    weight: float,
) -> Answer:
    """The answer improved by two steps and by how the gaps changed with them.

    Broyden's method (Mathematics of Computation 19, 1965) on the inverse; a second unknown counts
    as ``weight`` times the first.
    """
    first = -(answer.first_by_first * first_change + answer.first_by_second * second_change)
    second = -(answer.second_by_first * first_change + answer.second_by_second * second_change)
    square = weight * weight
    along = first_step * first + square * second_step * second
    if abs(along) < 0.01 * (first_step * first_step + square * second_step * second_step):
        return answer
    first_short = (first_step - first) / along
    second_short = (second_step - second) / along
    by_first = first_step * answer.first_by_first + square * second_step * answer.second_by_first
    by_second = first_step * answer.first_by_second + square * second_step * answer.second_by_second
    return Answer(
        answer.first_by_first + first_short * by_first,
        answer.first_by_second + first_short * by_second,
        answer.second_by_first + second_short * by_first,
        answer.second_by_second + second_short * by_second,
    )
