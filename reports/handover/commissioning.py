"""Commissioning: temperatures and pressures to expect at three outdoor conditions; design hours."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from dewledger.accounts.energy import hour_label
from dewledger.dx_unit.cycle import cycle_at
from dewledger.quantities import Display, in_unit, show
from dewledger.reports.page.parts import Cell, Head, Row, Table
from dewledger.reports.words.numbers import NONE
from dewledger.views.design_hours import DESIGN, DesignCheck, design_check
from dewledger.views.unit import StartUp, start_up
from dewledger.weather.errors import InputError

if TYPE_CHECKING:
    from dewledger.accounts.option_year import OptionYear
    from dewledger.assembly.machine import Machine
    from dewledger.components.refrigerant_cycle import Cycle
    from dewledger.dx_unit.types import Unit
    from dewledger.study import Study


Units = list[tuple[str, "Machine", float]]


@dataclass(frozen=True)
class Sheet:
    """What to expect of an option's unit; without conditions, why there are none."""

    conditions: tuple[StartUp, ...]
    refused: str = ""


def units_of(study: Study) -> Units:
    """Key, machine and cooling set point [C] of every option."""
    return [(o.key, o.machine, float(o.option.case.room.cooling_setpoint)) for o in study.options]


def sheets(units: Units, pressure_Pa: float, display: Display) -> dict[str, Sheet]:
    """Expected values of every option's unit at three outdoor conditions, by its key."""
    cycles: dict[tuple[int, float, float], Cycle] = {}

    def cycle_of(unit: Unit, suction_C: float, condensing_C: float) -> Cycle:
        # Options of one unit share its cycles: the refrigerant's states are what takes time.
        at = (id(unit), suction_C, condensing_C)
        if at not in cycles:
            cycles[at] = cycle_at(unit, suction_C, condensing_C)
        return cycles[at]

    found = {}
    for key, machine, room_C in units:
        try:
            found[key] = Sheet(start_up(machine, room_C, pressure_Pa, display, cycle_of))
        except InputError as error:
            found[key] = Sheet((), str(error))
    return found


def sheet_summary(sheet: Sheet) -> list[dict[str, Any]]:
    """A commissioning sheet for summary.json, in SI; pressures are absolute."""

    def state(
        leaving_C: float, suction_C: float, condensing_C: float, cycle: Cycle | None
    ) -> dict[str, float | None]:
        return {
            "leaving_coil_C": leaving_C,
            "saturated_suction_C": suction_C,
            "saturated_condensing_C": condensing_C,
            "suction_pressure_Pa": cycle.suction_pressure_Pa if cycle else None,
            "discharge_pressure_Pa": cycle.condensing_pressure_Pa if cycle else None,
            "discharge_gas_C": cycle.discharge_temp_C if cycle else None,
        }

    found = []
    for one in sheet.conditions:
        at = one.at
        reheat = None
        if at.reheat_W > 0.0:
            reheat = state(
                at.reheat_leaving_C, at.reheat_suction_C, at.reheat_condensing_C, one.reheat
            ) | {"leaving_reheat_coil_C": at.reheated_C}
        found.append(
            {
                "outdoor_C": at.outdoor_C,
                "entering_dry_bulb_C": at.temp_in_C,
                "entering_wet_bulb_C": at.wet_bulb_in_C,
                "cooling": state(at.leaving_C, at.suction_C, at.condensing_C, one.cooling),
                "maximum_reheat": reheat,
            }
        )
    return found


def _pressure(value_Pa: float, display: Display) -> str:
    """Gauge pressure: psig, or kPa gauge."""
    gauge = value_Pa - 101325.0
    if display == "I-P":
        return f"{in_unit(gauge, 'pressure', 'psi'):.1f}"
    return f"{gauge / 1000.0:.0f}"


def _temperature(value_C: float, display: Display) -> str:
    return f"{in_unit(value_C, 'temperature', 'degF' if display == 'I-P' else 'degC'):.1f}"


# Row, unit ("temperature" or "pressure"), key of the sheet in summary.json.
_AIR = (
    ("Entering air, dry bulb", "temperature", "entering_dry_bulb_C"),
    ("Entering air, wet bulb", "temperature", "entering_wet_bulb_C"),
)
_PRESSURES = (
    ("suction pressure", "pressure", "suction_pressure_Pa"),
    ("discharge pressure", "pressure", "discharge_pressure_Pa"),
    ("discharge gas", "temperature", "discharge_gas_C"),
)
_COOLING = (
    ("coil leaving air", "temperature", "leaving_coil_C"),
    ("saturated suction", "temperature", "saturated_suction_C"),
    ("SCT", "temperature", "saturated_condensing_C"),
    *_PRESSURES,
)
_REHEAT = (
    ("air leaving the cooling coil", "temperature", "leaving_coil_C"),
    ("air leaving the reheat coil", "temperature", "leaving_reheat_coil_C"),
    ("saturated suction", "temperature", "saturated_suction_C"),
    ("SCT", "temperature", "saturated_condensing_C"),
    *_PRESSURES,
)


def start_up_table(option: OptionYear, sheet: Sheet, display: Display) -> Table:
    """Expected values at three outdoor conditions, without reheat and at maximum reheat."""
    found = sheet_summary(sheet)
    degree = "°F" if display == "I-P" else "°C"
    gauge = "psig" if display == "I-P" else "kPa gauge"

    def row(name: str, kind: str, values: list[float | None]) -> Row:
        show_one = _temperature if kind == "temperature" else _pressure
        cells = (NONE if value is None else show_one(value, display) for value in values)
        unit = degree if kind == "temperature" else gauge
        return Row(name, (*(Cell(text, True) for text in cells), Cell("", True)), unit=unit)

    rows = [row(name, kind, [one[key] for one in found]) for name, kind, key in _AIR]
    for title, group, lines in (
        ("Cooling", "cooling", _COOLING),
        ("Maximum reheat", "maximum_reheat", _REHEAT),
    ):
        states = [one[group] for one in found]
        if any(states):
            rows += [
                row(f"{title}: {name}", kind, [state and state[key] for state in states])
                for name, kind, key in lines
            ]
    return Table(
        f"Commissioning: {option.title}, at full capacity",
        (
            Head("", number=False),
            Head("Unit", number=False),
            *(
                Head(f"{_temperature(one['outdoor_C'], display)} {degree} outdoors")
                for one in found
            ),
            Head("Measured"),
        ),
        tuple(rows),
        note=_COMMISSIONING if found else f"No sheet: {sheet.refused}.",
        units_in_rows=True,
        long=True,
    )


_COMMISSIONING = (
    "Expected values of the model, the same as dewledger unit gives; saturated "
    "temperatures are dew points, pressures above the standard atmosphere. Charge and set by "
    "the maker’s instructions, by who is certified for the refrigerant."
)


Checks = Mapping[str, Mapping[str, DesignCheck]]


def design_checks(study: Study) -> Checks:
    """Every option at the design hours: by its key, then by that of the hour."""
    return {
        option.key: {
            what: design_check(option.ledger, option.machine, study.weather, what)
            for what in DESIGN
        }
        for option in study.options
    }


def design_summary(checks: Mapping[str, DesignCheck], study: Study) -> dict[str, Any]:
    """One option's design hours for summary.json, in SI."""
    return {
        what: {
            "hour_of_year": found.hour,
            "hour_beginning": hour_label(study.weather, found.hour),
            "outdoor_C": found.outdoor_C,
            "outdoor_dew_point_C": found.outdoor_dew_C,
            "room_C": found.room_C,
            "room_rh_frac": found.room_rh,
            "hum_ratio_above_limit_kg_kg": found.humidity_short,
            "above_setpoint_K": round(found.temp_short_K, 9),  # no 1e-15
            "reheat_unmet_W": found.reheat_short_W,
            "met": found.met,
        }
        for what, found in checks.items()
    }


def design_table(study: Study, checks: Checks, display: Display) -> Table:
    """Every option at the design hours of the case's own weather year, and what it lacks."""
    rows = []
    for what, words in DESIGN.items():
        group = f"{words[:1].upper()}{words[1:]}"
        for option in study.options:
            rows.append(_design_row(study, option, checks[option.key][what], display, group))
            group = ""
    degree = "°F" if display == "I-P" else "°C"
    return Table(
        "What each option holds at the design hours",
        (
            Head("Option", number=False),
            Head("Hour beginning", "standard time", number=False),
            Head("Outdoor DB", degree),
            Head("Outdoor dew point", degree),
            Head("Room DB", degree),
            Head("Room", "% RH"),
            Head("Held", number=False),
        ),
        tuple(rows),
        note="0.4 % values of the case’s own weather year, not the published design conditions of "
        "the place. Hours as the year runs them, with the loads of that hour.",
    )


def _design_row(
    study: Study, option: OptionYear, found: DesignCheck, display: Display, group: str
) -> Row:
    short = []
    if found.humidity_short:
        short.append(f"{show(found.humidity_short, 'humidity ratio', display)} above the limit")
    if found.temp_short_K > 0.1:
        short.append(
            f"{show(found.temp_short_K, 'temperature difference', display)} above set point"
        )
    if found.reheat_short_W > 1.0:
        short.append(f"{show(found.reheat_short_W, 'heat flow', display)} of reheat unmet")
    held = "met" if found.met else f"short by {' and '.join(short)}"
    if found.humidity_short is None:
        held += ", no humidity limit"
    figures = (
        _temperature(found.outdoor_C, display),
        _temperature(found.outdoor_dew_C, display),
        _temperature(found.room_C, display),
        f"{100.0 * found.room_rh:.0f}",
    )
    return Row(
        option.title,
        (
            Cell(hour_label(study.weather, found.hour)),
            *(Cell(text, True) for text in figures),
            Cell(held),
        ),
        marked=option.key == study.reference.key,
        group=group,
    )
