"""Tuples that compiled functions take by address: read as the tuple itself, and let go again."""

import sys
from typing import NamedTuple

import numpy as np

from weather.compiled import by_address, compiled


class Inner(NamedTuple):
    share: float
    kind: int


@by_address
class Outer(NamedTuple):
    first: float
    kind: int
    values: np.ndarray
    inner: Inner
    stages: tuple[float, float]


@compiled
def one(outer, place):
    return outer.first + outer.values[place] * outer.inner.share + outer.stages[place % 2]


@compiled
def all_of(outer):
    total = 0.0
    for place in range(outer.values.shape[0]):
        total += one(outer, place) * outer.kind * outer.inner.kind
    return total


def test_members_read_as_in_plain_python():
    values = np.arange(5.0)
    outer = Outer(1.5, 2, values, Inner(0.25, 3), (10.0, 20.0))
    # 5 x 1.5 + 0.25 x 10 + 3 x 10 + 2 x 20, times 2 x 3.
    assert all_of(outer) == 480.0
    assert all_of(outer._replace(first=0.0, stages=(0.0, 0.0))) == 15.0
    held = sys.getrefcount(values)
    for _ in range(100):
        all_of(outer)
    assert sys.getrefcount(values) == held
