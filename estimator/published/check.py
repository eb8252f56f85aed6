"""A published figure and what this program computes."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from dewledger.data.standings import READ, STANDINGS

LIBRARY = "computed with an independent library"
PRACTICE = "common practice, no source"


@dataclass(frozen=True)
class Check:
    """One published figure.

    tolerance : allowed difference, as a share of the published figure, or absolute in ``unit``
        where ``absolute`` is set
    standing : one of the three standings of a published figure (dewledger.data.standings), or
        where there is none LIBRARY, PRACTICE or whatever else it was computed with
    """

    group: str
    item: str
    source: str
    published: float
    unit: str
    tolerance: float
    reason: str
    compute: Callable[..., float]
    absolute: bool = False
    standing: str = READ

    @property
    def is_published(self) -> bool:
        """Whether the figure is one of a source, however well known: no library's, no habit."""
        return self.standing in STANDINGS


@dataclass(frozen=True)
class Result:
    """A check computed on this machine."""

    check: Check
    computed: float

    @property
    def difference(self) -> float:
        """Computed less published: relative, or absolute where the check is absolute."""
        gap = self.computed - self.check.published
        if self.check.absolute or self.check.published == 0.0:
            return gap
        return gap / abs(self.check.published)

    @property
    def passed(self) -> bool:
        return math.isfinite(self.computed) and abs(self.difference) <= self.check.tolerance


def evaluate(check: Check) -> Result:
    """Compute one check."""
    return Result(check, float(check.compute()))
