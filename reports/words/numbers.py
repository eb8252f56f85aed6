"""Figures as a reader sees them: the unit a result is shown in, and how it is rounded.

Accounts are kept in SI units (kWh, kg, kg/kg). Heat is shown in MMBtu (a million Btu) or MWh,
gas in therms or kWh, electricity in kWh everywhere, so that a reader never takes heat moved for
energy purchased.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any

from dewledger.quantities import Display, conversion, rounded

NONE = "–"  # a figure that does not exist, such as the recovered share of no reheat


@dataclass(frozen=True)
class Shown:
    """How one sort of figure is shown: its unit inside, and on display."""

    si: str
    display_ip: str
    display_si: str
    whole: bool = False  # a count, shown to the last one


SHOWN: dict[str, Shown] = {
    "electricity": Shown("kWh", "kWh", "kWh"),
    "gas": Shown("kWh", "therm", "kWh"),
    "energy": Shown("kWh", "MMBtu", "MWh"),
    "heat": Shown("kWh", "MMBtu", "MWh"),
    "heat rate": Shown("kW", "kBtu/h", "kW"),
    "water": Shown("kg", "lb", "kg"),
    "humidity": Shown("kg/kg", "gr/lb", "g/kg"),
    "share": Shown("fraction", "%", "%"),
    "hours": Shown("h", "h", "h", whole=True),
    "count": Shown("", "", "", whole=True),
    "money": Shown("", "", ""),
}

# Written out in the text of the report; heads of tables keep the short form.
UNIT_WORDS = {"therm": "therms", "MMBtu": "million Btu", "h": "hours"}


@cache
def factor(kind: str, display: Display) -> float:
    """What one SI unit of a kind is in its display unit."""
    shown = SHOWN[kind]
    unit = unit_of(kind, display)
    if unit == shown.si:
        return 1.0
    # gr/lb and g/kg: "gr" and "g" are grains and grams per pound and kilogram of dry air
    return conversion(shown.si.replace("%", "percent"), unit.replace("%", "percent"))


def unit_of(kind: str, display: Display) -> str:
    """The unit a kind of figure is shown in."""
    shown = SHOWN[kind]
    return shown.display_ip if display == "I-P" else shown.display_si


def in_display(value: float, kind: str, display: Display) -> float:
    """A value of the accounts in its display unit."""
    return value * factor(kind, display)


def figure(value: Any, kind: str, display: Display, *, sign: bool = False) -> str:
    """A value of the accounts as the number a reader sees, without its unit.

    Three significant figures, thousands separated; hours are counts and shown whole. ``sign``
    writes a plus before an increase. A value that is absent or not finite is shown as a dash.
    """
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return NONE
    number = in_display(float(value), kind, display)
    if SHOWN[kind].whole:
        text = f"{round(number):,}"
    elif kind == "share":
        text = _percent(number)
    else:
        text = _quiet(number)
    text = text.replace("-", "−")
    if text.strip("−0.,") == "":
        return "0"
    return f"+{text}" if sign and number > 0.0 else text


def _percent(number: float) -> str:
    """Whole percents, but never 100 % for less than all nor 0 % for more than nothing."""
    if 99.9999 < number < 100.0:  # all but the rounding of a sum
        return "100"
    if 99.0 < number < 100.0 or 0.0 < abs(number) < 1.0:
        return f"{math.floor(number * 10.0) / 10.0:.1f}" if number > 99.0 else f"{number:.1f}"
    return f"{number:.0f}"


def _quiet(number: float) -> str:
    """Three significant figures, but no more than two places: less than that is noise."""
    if abs(number) < 0.005:
        return "0"
    text = rounded(number)
    places = len(text.partition(".")[2])
    return f"{number:,.2f}" if places > 2 else text


def position(latitude: float, longitude: float) -> str:
    """A place in words: "36.10° N, 79.95° W"; or that the file does not say."""
    if not (math.isfinite(latitude) and math.isfinite(longitude)):
        return "place not stated"
    return (
        f"{abs(latitude):.2f}° {'N' if latitude >= 0.0 else 'S'}, "
        f"{abs(longitude):.2f}° {'E' if longitude >= 0.0 else 'W'}"
    )


PSI_PA = 6894.757293168  # NIST SP 811, appendix B.8


def station_pressure(pressure_Pa: float, display: Display) -> str:
    """Pressure of the outdoor air: "14.24 psia", or "982 hPa"."""
    if display == "I-P":
        return f"{pressure_Pa / PSI_PA:.2f} psia"
    return f"{pressure_Pa / 100.0:,.0f} hPa"


def words(value: Any, kind: str, display: Display) -> str:
    """A value with its unit, for a sentence: "52.1 million Btu", "1 hour"."""
    text = figure(value, kind, display)
    unit = unit_of(kind, display)
    unit = UNIT_WORDS.get(unit, unit)
    if text == "1" and unit.endswith("s"):
        unit = unit[:-1]
    return f"{text} {unit}".rstrip()
