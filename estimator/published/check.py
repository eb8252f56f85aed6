"""A published figure and what this program computes."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from dewledger.data.standings import READ, STANDINGS

LIBRARY = "computed with an independent library"
DERIVED = "computed from published results"
PRACTICE = "common practice, no source"
# What a check is against, in words for a count: what only a library gives is never published.
KINDS = {
    "published figures": STANDINGS,
    "figures of an independent library": (LIBRARY,),
    "figures computed from published results": (DERIVED,),
    "common practice without a source": (PRACTICE,),
}


@dataclass(frozen=True)
class Check:
    """One published figure.

    tolerance : allowed difference, as a share of the published figure, or absolute in ``unit``
        where ``absolute`` is set
    standing : one of the three standings of a published figure (dewledger.data.standings), or
        where there is none LIBRARY, DERIVED or PRACTICE
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


def counted_apart(checks: Iterable[Check]) -> tuple[int, ...]:
    """How many checks are of each of ``KINDS``, in their order."""
    standings = [check.standing for check in checks]
    return tuple(sum(one in kind for one in standings) for kind in KINDS.values())


def in_words(counts: Iterable[int]) -> str:
    """Counts of ``KINDS``: "83 against published figures, 128 against ..."."""
    kinds = zip(counts, KINDS, strict=True)
    return ", ".join(f"{count} against {kind}" for count, kind in kinds if count)
