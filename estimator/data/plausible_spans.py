"""Spans in which the figures of a case usually lie: the table plausible_spans.toml."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from dewledger.data.tables import read_table


@dataclass(frozen=True)
class Span:
    """A usual span of one figure; the fields are explained at the head of the table."""

    figure: str
    name: str
    key: str
    low: float
    high: float
    usual: float
    unit: str
    source: str
    si_unit: str = ""
    si_factor: float = 1.0
    si_offset: float = 0.0
    only: str = ""

    def shown(self, value: float, si: bool) -> str:
        """A value of the span's unit with its unit, as a reader of either system writes it."""
        unit = self.si_unit if si and self.si_unit else self.unit
        return f"{self.bare(value, si)} {unit}".rstrip()

    def bare(self, value: float, si: bool) -> str:
        """The same without its unit."""
        if not si or not self.si_unit:
            return f"{value:,.4g}"
        return f"{(value - self.si_offset) * self.si_factor:,.4g}"


@cache
def spans() -> tuple[Span, ...]:
    """Every span of the table, in its order."""
    return tuple(Span(**row) for row in read_table("plausible_spans.toml")["span"])
