"""A published figure beside what this program computes."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Check:
    """One published figure.

    tolerance : allowed difference, as a share of the published figure, or absolute in ``unit``
        where ``absolute`` is set
    standing : "" where the figure was read in its source; otherwise "value from memory",
        "computed with an independent library" or "common practice, no source"
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
    standing: str = ""


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
