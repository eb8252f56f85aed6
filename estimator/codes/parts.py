"""What a verdict is made of: its parts, each with figure, threshold, margin, evidence and standing.

The words for figures that every sentence on a code uses are here too.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from dewledger.quantities import Display, conversion, display_unit, in_unit, rounded, show

Verdict = Literal["met", "not met", "cannot be determined", "does not apply"]
PartRole = Literal["rule", "exception", "condition"]

# Figures equal to this are equal: unit conversion must not decide a design exactly at a threshold.
SAME = 1e-9
# What a figure of each kind is given in where the display does not matter.
_SI_UNITS = {
    "fraction": "fraction",
    "heat flow": "W",
    "temperature": "degC",
    "temperature difference": "K",
    "air flow": "m3/s",
    "ratio": "number",
    "hours": "h",
    "EER": "Btu/Wh",
    "IEER": "Btu/Wh",
    "ISMRE": "lb/kWh",
    "ISMRE2": "lb/kWh",
}


@dataclass(frozen=True)
class Part:
    """One requirement judged.

    section, item : where it stands in the code; the item is an exception's number or a word
    asks : what it asks, in our own words
    evidence : the verdict for a reader, with figures
    standing : one of the three standings of its figures
    figure, threshold : the design's figure and the one it is held against, SI, of ``kind``; None
        where no figure decides
    margin : how far the figure is on the good side; negative where it is beyond
    figure_text, threshold_text, margin_text : the same as displayed
    exits : single changes or statements with which it would be met
    missing : what must be known before it can be judged
    check : what to look up in the text before signing
    change, change_size : the smallest design change that would meet it, and how large that is as a
        share of what it changes
    """

    section: str
    item: str
    role: PartRole
    asks: str
    verdict: Verdict
    evidence: str
    source: str
    standing: str
    kind: str = ""
    figure: float | None = None
    threshold: float | None = None
    margin: float | None = None
    figure_text: str = ""
    threshold_text: str = ""
    margin_text: str = ""
    exits: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    check: str = ""
    test: str = ""
    change: str = ""
    change_size: float | None = None

    @property
    def name(self) -> str:
        """Section and item: "6.5.2.3 exception 5", "6.4.3.6 drying"."""
        word = "exception " if self.role == "exception" and self.item.isdigit() else ""
        return f"{self.section} {word}{self.item}".rstrip()

    @property
    def unit(self) -> str:
        """The unit of figure, threshold and margin; empty where there is none."""
        return _SI_UNITS.get(self.kind, "")


# ---------------------------------------------------------------------------------------------
# Words for figures


@lru_cache(maxsize=4096)
def written(value: float, kind: str, display: Display, figures: int = 3) -> str:
    """A figure with its unit, without zeros behind the decimal point that say nothing.

    What is zero but for the rounding of the arithmetic is zero.
    """
    value = 0.0 if abs(value) < SAME else value
    if kind == "temperature":
        unit = display_unit(kind, display)
        decimals = max(figures - 3, 0)
        number = in_unit(value, kind, unit)
        text = f"{number:.{decimals}f} {'°F' if unit == 'degF' else '°C'}"
    else:
        text = show(value, kind, display, figures)
    return re.sub(r"(\.\d*?)0+(?= |$)", r"\1", text).replace(". ", " ").rstrip(".")


def apart(value: float, limit: float, kind: str, display: Display) -> tuple[str, str]:
    """A value and its limit, with as many figures as it takes to distinguish them, up to seven."""
    for figures in range(3, 8):
        pair = (
            written(value, kind, display, figures),
            written(limit, kind, display, figures),
        )
        if pair[0] != pair[1]:
            return pair
    return written(value, kind, display, 3), written(limit, kind, display, 3)


def distance(value: float, limit: float, kind: str, display: Display) -> str:
    """The distance between two figures."""
    if kind == "fraction":
        return f"{rounded(100.0 * abs(value - limit), 2)} percentage points"
    difference = "temperature difference" if kind == "temperature" else kind
    return show(abs(value - limit), difference, display, 2)


def energy(kWh: float, display: Display) -> str:
    """Heat of the year in the unit in which the report has every other heat."""
    if display == "I-P":
        return f"{rounded(kWh * conversion('kWh', 'MMBtu'))} million Btu"
    return f"{rounded(kWh / 1000.0)} MWh"


def alike(value: float, limit: float) -> bool:
    """Whether two figures are the same but for the rounding of the arithmetic."""
    return abs(value - limit) <= SAME * max(1.0, abs(limit))


def no_more(value: float, limit: float) -> bool:
    return value <= limit + SAME * max(1.0, abs(limit))


def no_less(value: float, limit: float) -> bool:
    return value >= least_kept(limit)


def least_kept(limit: float) -> float:
    """The least value that still keeps a limit, rounding allowed for."""
    return limit - SAME * max(1.0, abs(limit))


def capitalized(text: str) -> str:
    return text[:1].upper() + text[1:]


def joined(items: Iterable[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    names = list(items)
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 2 else names)
