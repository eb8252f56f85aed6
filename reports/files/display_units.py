"""The hourly ledger in the units of the case's display: what the workbook and a CSV file show."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from dewledger.hourly.ledger import COLUMNS, Column
from dewledger.quantities import Display, in_unit
from dewledger.reports.files.number_text import fixed_decimals, joined
from dewledger.reports.words.metrics import METRICS
from dewledger.reports.words.numbers import factor, unit_of
from dewledger.weather.physics.moist_air import STANDARD_AIR_DENSITY

if TYPE_CHECKING:
    from dewledger.accounts.option_year import OptionYear
    from dewledger.study import Study


# What the comparison calls electricity is that by the hour too, such as the recovery penalty.
_KINDS = {metric.key: metric.kind for metric in METRICS}


def shown_unit(column: Column, display: Display) -> tuple[str, float, float]:
    """How a ledger column is shown in the case's units: (unit, factor, offset)."""
    kind = column.carrier or {"kWh": "heat", "kg": "water", "kg/kg": "humidity"}.get(column.unit)
    if column.unit == "kWh":
        kind = _KINDS.get(column.name, kind)
    if kind is not None:
        return unit_of(kind, display), factor(kind, display), 0.0
    if column.unit == "C":
        return ("°F", 1.8, 32.0) if display == "I-P" else ("°C", 1.0, 0.0)
    if column.unit == "K" and display == "I-P":
        return "°F difference", 1.8, 0.0
    if column.unit == "kg/s":
        unit = "scfm" if display == "I-P" else "L/s of standard air"
        per = in_unit(1.0 / STANDARD_AIR_DENSITY, "air flow", "cfm" if display == "I-P" else "L/s")
        return unit, per, 0.0
    return {"-": "fraction"}.get(column.unit, column.unit), 1.0, 0.0


# The unit as the end of a column's name, and decimals: about six figures of what matters. Heat of
# an hour is in kBtu or kWh: its mean rate in kBtu/h or kW.
_ENDS = {
    "°F": ("F", 3),
    "°C": ("C", 4),
    "°F difference": ("F_difference", 3),
    "MMBtu": ("kBtu", 4),
    "MWh": ("kWh", 6),
    "therm": ("therm", 7),
    "kWh": ("kWh", 6),
    "gr/lb": ("gr_lb", 4),
    "g/kg": ("g_kg", 5),
    "lb": ("lb", 6),
    "kg": ("kg", 6),
    "scfm": ("scfm", 3),
    "L/s of standard air": ("L_s_standard", 4),
}
_SI_ENDS = ("_kg_kg", "_kg_s", "_kWh", "_kg", "_C", "_K")


def _named(column: Column, unit: str) -> tuple[str, int, float]:
    """(name, decimals, further factor) of a column in a display's unit."""
    if unit not in _ENDS:
        return column.name, 6, 1.0
    end, decimals = _ENDS[unit]
    stem = next(column.name.removesuffix(si) for si in (*_SI_ENDS, "") if column.name.endswith(si))
    return f"{stem}_{end}", decimals, 1000.0 if unit in ("MMBtu", "MWh") else 1.0


def hourly_display_csv(study: Study, option: OptionYear) -> str:
    """hourly-<option>-<I-P or SI>.csv: the columns of the hourly CSV in the units of the case.

    Each name ends in its unit. A difference of temperatures is in degrees, without the 32 of a
    temperature. An empty cell is a value that does not exist in the hour.
    """
    arrays, display = study.weather.arrays, study.case.display
    heads = ["month", "day", "hour", "occupied"]
    marks = [arrays[name] for name in heads[:3]]
    fields = [fixed_decimals(mark, 0) for mark in (*marks, option.machine.calendar.occupied)]
    for column, kept in zip(COLUMNS, option.ledger, strict=True):
        unit, per, offset = shown_unit(column, display)
        name, decimals, more = _named(column, unit)
        heads.append(name)
        shown = np.asarray(kept, dtype=np.float64) * (per * more) + offset
        fields.append(fixed_decimals(shown, 0 if column.unit == "0/1" else decimals))
    return joined(fields, f"{','.join(heads)}\n")
