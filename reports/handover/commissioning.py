"""Commissioning: temperatures and pressures to expect at three outdoor conditions; design hours."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dewledger.accounts.energy import hour_label
from dewledger.dx_unit.cycle import cycle_at
from dewledger.quantities import Display, in_unit, show
from dewledger.reports.page.parts import Cell, Head, Row, Table
from dewledger.reports.words.numbers import NONE
from dewledger.views.design_hours import DESIGN, design_check
from dewledger.views.unit import start_up_map

if TYPE_CHECKING:
    from dewledger.study import OptionYear, Study
    from dewledger.views.unit_conditions import Condition


def conditions(option: OptionYear, study: Study, display: Display) -> tuple[Condition, ...]:
    """The unit of an option at three outdoor conditions, those of ``dewledger unit``."""
    pressure = float(study.weather.frame["pressure_Pa"].mean())
    room_C = float(option.option.case.room.cooling_setpoint)
    return start_up_map(option.machine, room_C, pressure, display).full[0]


def _pressure(value_Pa: float, display: Display) -> str:
    """Gauge pressure: psig, or kPa gauge."""
    gauge = value_Pa - 101325.0
    if display == "I-P":
        return f"{in_unit(gauge, 'pressure', 'psi'):.1f}"
    return f"{gauge / 1000.0:.0f}"


def _temperature(value_C: float, display: Display) -> str:
    return f"{in_unit(value_C, 'temperature', 'degF' if display == 'I-P' else 'degC'):.1f}"


def start_up_table(option: OptionYear, study: Study, display: Display) -> Table:
    """Expected values at three outdoor conditions, without reheat and at maximum reheat."""
    found = conditions(option, study, display)
    degree = "°F" if display == "I-P" else "°C"
    gauge = "psig" if display == "I-P" else "kPa gauge"
    unit = option.machine.unit

    def pressures(at: Condition, reheat: bool) -> tuple[str, str, str]:
        if not unit.refrigerant:
            return NONE, NONE, NONE
        state = (
            cycle_at(unit, at.reheat_suction_C, at.reheat_condensing_C)
            if reheat
            else cycle_at(unit, at.suction_C, at.condensing_C)
        )
        return (
            _pressure(state.suction_pressure_Pa, display),
            _pressure(state.condensing_pressure_Pa, display),
            _temperature(state.discharge_temp_C, display),
        )

    rows = [
        ("Entering air, dry bulb", degree, [_temperature(c.temp_in_C, display) for c in found]),
        ("Entering air, wet bulb", degree, [_temperature(c.wet_bulb_in_C, display) for c in found]),
        ("Cooling: coil leaving air", degree, [_temperature(c.leaving_C, display) for c in found]),
        ("Cooling: saturated suction", degree, [_temperature(c.suction_C, display) for c in found]),
        ("Cooling: SCT", degree, [_temperature(c.condensing_C, display) for c in found]),
    ]
    names = ("suction pressure", "discharge pressure", "discharge gas")
    plain = [pressures(c, False) for c in found]
    for place, name in enumerate(names):
        rows.append(
            (f"Cooling: {name}", degree if place == 2 else gauge, [p[place] for p in plain])
        )
    if any(c.reheat_W > 0.0 for c in found):
        heated = [pressures(c, True) for c in found]
        rows += [
            ("Maximum reheat: air leaving the cooling coil", degree,
             [_temperature(c.reheat_leaving_C, display) for c in found]),
            ("Maximum reheat: air leaving the reheat coil", degree,
             [_temperature(c.reheated_C, display) for c in found]),
            ("Maximum reheat: SCT", degree,
             [_temperature(c.reheat_condensing_C, display) for c in found]),
        ]  # fmt: skip
        for place, name in enumerate(names):
            rows.append(
                (f"Maximum reheat: {name}", degree if place == 2 else gauge,
                 [p[place] for p in heated])
            )  # fmt: skip
    return Table(
        f"Commissioning: {option.title}, at full capacity",
        (
            Head("", number=False),
            Head("Unit", number=False),
            *(Head(f"{_temperature(c.outdoor_C, display)} {degree} outdoors") for c in found),
            Head("Measured"),
        ),
        tuple(
            Row(name, (*(Cell(v, True) for v in values), Cell("", True)), unit=unit_text)
            for name, unit_text, values in rows
        ),
        note="Expected values of the model, the same as dewledger unit gives; saturated "
        "temperatures are dew points, pressures above the standard atmosphere. Charge and set by "
        "the maker’s instructions, by who is certified for the refrigerant.",
        units_in_rows=True,
        long=True,
    )


def design_table(study: Study, display: Display) -> Table:
    """Every option at the design hours of the case's own weather year, and what it lacks."""
    rows = []
    for what, words in DESIGN.items():
        group = f"{words[:1].upper()}{words[1:]}"
        for option in study.options:
            found = design_check(option.ledger, option.machine, study.weather, what)
            rows.append(_design_row(study, option, found, display, group))
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


def _design_row(study: Study, option: OptionYear, found: Any, display: Display, group: str) -> Row:
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
