"""What energy costs and carries: the prices a case states, and the defaults where it does not.

``Prices`` is what the user writes; ``bills.py`` settles it into numbers and multiplies;
``assumptions`` states where each number came from. The defaults are a table,
data/price_defaults.csv, each with year, source and standing.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

from dewledger.case.prices import Prices
from dewledger.data.standings import READ
from dewledger.quantities import Measured, parse


@dataclass(frozen=True)
class Default:
    """One default of the table, with where it is from."""

    value: Measured
    place: str
    source: str


# What the reader must know of how a stated price is applied.
_APPLIED = {
    "demand": "; applied to the highest hour of each month of the modeled equipment alone",
    "gas_monthly": "; charged to the options that burn gas",
}

# Fields that have a default in the table, and the kind of quantity of each.
_DEFAULT_KINDS = {
    "electricity": "energy price",
    "gas": "energy price",
    "carbon_electricity": "carbon per energy",
    "carbon_gas": "carbon per energy",
    "source_electricity": "ratio",
    "source_gas": "ratio",
    "discount_rate": "rate per year",
    "life": "span of years",
}


@cache
def defaults() -> dict[tuple[str, str], Default]:
    """The table of defaults by (field, place)."""
    table = {}
    path = Path(__file__).parent.parent / "data" / "price_defaults.csv"
    with path.open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            standing = "" if row["standing"] == READ else f" ({row['standing']})"
            year = f", {row['year']}" if row["year"] else ""
            table[row["field"], row["place"]] = Default(
                value=parse(row["value"], _DEFAULT_KINDS[row["field"]]),
                place=row["place"],
                source=f"{row['source']}{year}{standing}",
            )
    return table


@dataclass(frozen=True)
class Assumption:
    """One number the money and carbon figures rest on, for the reader."""

    name: str
    value: str
    origin: Literal["case", "default"]
    source: str


def settled(prices: Prices, field: str) -> tuple[float, Assumption]:
    """The value of a price field in SI units, the case's own or the default, and its origin."""
    value = getattr(prices, field)
    name = field.replace("_", " ")
    if value is not None:
        source = "stated in the case" + _APPLIED.get(field, "")
        return float(value), Assumption(name, value.text, "case", source)
    if field not in _DEFAULT_KINDS:
        return 0.0, Assumption(name, "none", "default", "not stated in the case")
    table = defaults()
    place = prices.state or "US"
    default = table.get((field, place)) or table[field, "US"]
    source = default.source
    if field == "electricity":
        if not prices.state:
            source += "; no state is given, so the US average is used: write electricity or state"
        elif default.place == "US":
            held = ", ".join(sorted(place for name, place in table if name == field))
            source += (
                f"; no figure for {prices.state} is held (there are {held}), so the US average "
                'is taken: write your own price, for example electricity = "0.12 USD/kWh"'
            )
    elif prices.currency != "USD" and field not in ("discount_rate", "life"):
        source += "; a US figure, write your own country's"
    return float(default.value), Assumption(name, default.value.text, "default", source)


def assumptions(prices: Prices) -> tuple[Assumption, ...]:
    """Every number behind the money and carbon figures, with where it is from."""
    listed: list[Assumption] = []
    for field in (
        *("electricity", "electricity_monthly", "demand", "demand_ratchet", "gas", "gas_monthly"),
        *("carbon_electricity", "carbon_gas", "carbon_price", "source_electricity", "source_gas"),
        *("discount_rate", "life", "escalation_electricity", "escalation_gas"),
    ):
        if field == "electricity" and prices.electricity_periods:
            for period in prices.electricity_periods:
                when = f"months {period.months}, days {period.days}, hours {period.hours}"
                listed.append(
                    Assumption(
                        f"electricity, {period.name}",
                        f"{period.price.text}; {when}",  # type: ignore[attr-defined]
                        "case",
                        "stated in the case",
                    )
                )
        elif field == "carbon_electricity" and prices.carbon_hourly is not None:
            listed.append(
                Assumption(
                    "carbon electricity", "hourly", "case", f"the file {prices.carbon_hourly}"
                )
            )
        else:
            listed.append(settled(prices, field)[1])
    return tuple(listed)
