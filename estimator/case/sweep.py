"""The table [sweep] of a case: which values to vary, and how their points are chosen."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from dewledger.case.base import Section

Method = Literal["grid", "list", "latin hypercube"]


class Sweep(Section):
    """Many cases from this one, each solved with all its options; ``dewledger sweep`` runs them."""

    vary: dict[str, str | int | float | list[Any]] = Field(min_length=1)
    """Values by their place in the case, for example "humidity.limit" = "48 %, 50 %, 53 %" or
    "site.weather" = "stations/*.csv"; a list of values, or a range such as "45 % to 55 %"."""
    method: Method = "grid"
    """grid: every combination; list: the first of each, then the second of each, and so on; latin
    hypercube: points spread evenly over all ranges."""
    points: int | None = Field(default=None, ge=1, le=1_000_000)
    """How many points a Latin hypercube has."""
    seed: int = Field(default=1, ge=0)
    """Seed of a Latin hypercube: the same seed, the same points."""
    hourly: bool = False
    """Keep the hourly ledger of every point and option too."""
