"""How well a figure is known: the three standings, printed wherever such a figure decides."""

from __future__ import annotations

from collections.abc import Iterable

READ = "read in the source"
SECOND_HAND = "read second-hand"
UNCHECKED = "not checked against the text"
# From the strongest to the weakest.
STANDINGS = (READ, SECOND_HAND, UNCHECKED)


def weakest(standings: Iterable[str]) -> str:
    """The weakest of several standings; what is none of the three counts as not checked."""
    places = [STANDINGS.index(one) if one in STANDINGS else 2 for one in standings]
    return STANDINGS[max(places, default=2)]
