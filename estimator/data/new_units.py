"""What a new unit is assumed to be, by its size: the table new_units.toml."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from dewledger.data.tables import read_table
from dewledger.quantities import parse

# The least IEER of today's binds units made since.
MADE_FROM = 2023
# Below this net capacity a unit is rated by SEER2 (AHRI 210/240).
_SMALLEST = "65000 Btu/h"


@dataclass(frozen=True)
class NewUnit:
    """A row of the table; its fields are explained at the head of the table."""

    below: str
    efficiency: str
    stages: str
    rated_suction: str | None = None
    rated_condensing: str | None = None
    fan_W_per_1000_cfm: float | None = None
    condenser_fan_W_per_ton: float | None = None


@cache
def new_units() -> tuple[str, tuple[NewUnit, ...]]:
    """The source of the rows, and every row, in its order."""
    table = read_table("new_units.toml")
    return table["source"], tuple(NewUnit(**row) for row in table["unit"])


def new_unit(capacity_W: float) -> NewUnit | None:
    """The row of a net capacity [W]; None below and above the sizes that the table holds."""
    if capacity_W < float(parse(_SMALLEST, "heat flow")):
        return None
    for row in new_units()[1]:
        if capacity_W < float(parse(row.below, "heat flow")):
            return row
    return None
