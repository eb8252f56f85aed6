"""Equipment schedule: a row for each unit of an option, from the case and the model's rating."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dewledger.quantities import Display, Measured, show
from dewledger.reports.page.parts import Cell, Head, Row, Table

if TYPE_CHECKING:
    from dewledger.case.reheat import Reheat
    from dewledger.study import OptionYear, Study

_NOT_STATED = "not stated"


def measured(value: Any, display: Display) -> str:
    """An input as a schedule writes it: in the display's unit, words as they are."""
    if isinstance(value, Measured):
        if value.kind.name == "time" and 0.0 < float(value) < 3600.0:
            return f"{float(value) / 60.0:g} min"
        return show(float(value), value.kind.name, display)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return ", ".join(measured(one, display) for one in value)
    return _NOT_STATED if value is None else str(value)


def standard_flow(kg_s: float, display: Display) -> str:
    """A mass flow as a volume of standard air."""
    from dewledger.weather.physics.moist_air import STANDARD_AIR_DENSITY

    return f"{show(kg_s / STANDARD_AIR_DENSITY, 'air flow', display)} standard air"


def reheat_source_words(source: Reheat, display: Display) -> str:
    """A source of reheat in a line: control, size, effectiveness or efficiency, pressure drop."""
    size = "not limited by size" if source.capacity is None else measured(source.capacity, display)
    if source.rated_heat is not None:
        size = f"{measured(source.rated_heat, display)} at its rating"
    factor = ""
    if source.effectiveness is not None:
        factor = f", effectiveness {measured(source.effectiveness, display)}"
    elif source.efficiency is not None:
        factor = f", efficiency {measured(source.efficiency, display)}"
    drop = ""
    if source.pressure_drop:
        drop = f", air pressure drop {measured(source.pressure_drop, display)}"
    return f"{source.source}, {source.control}, {size}{factor}{drop}"


def schedule_rows(option: OptionYear, display: Display) -> list[tuple[str, str]]:
    """(what, value) of one option's equipment."""
    case, machine = option.option.case, option.machine
    unit, plant = machine.unit, machine.plant
    rows = [
        ("Unit, method of its data", f"{unit.source}"),
        ("Refrigerant", unit.refrigerant or _NOT_STATED),
        ("Gross total capacity at the rating", show(unit.rated_total_W, "heat flow", display)),
        ("Compressor power at the rating", show(unit.rated_compressor_W, "power", display)),
        ("Rated efficiency", measured(case.unit.efficiency, display)),
        ("Rating basis", case.unit.rating),
        ("Supply air", standard_flow(plant.flow_kg_s, display)),
        ("Supply fan power", show(plant.fan_W, "power", display)),
        ("Fan position", case.air.fan_position),
        ("Outdoor air, most", measured(case.air.outdoor_flow, display)),
        ("Capacity control", case.unit.capacity_control),
        ("Minimum condensing temperature", measured(case.unit.condensing_floor, display)),
        ("Maximum condensing temperature", measured(case.unit.condensing_ceiling, display)),
    ]
    for place, source in enumerate(case.reheat, 1):
        rows.append((f"Reheat {place}", reheat_source_words(source, display)))
    if not case.reheat:
        rows.append(("Reheat", "none"))
    rows.append(
        ("Space heating", f"{case.heating.source}, {measured(case.heating.efficiency, display)}")
    )
    if case.air.recovery is not None:
        device = case.air.recovery
        rows.append(
            (
                "Energy recovery",
                f"sensible {measured(device.sensible, display)}, latent "
                f"{measured(device.latent, display)}",
            )
        )
    if case.humidifier is not None:
        rows.append(
            (
                "Humidifier",
                f"{case.humidifier.source}, {measured(case.humidifier.capacity, display)}",
            )
        )
    if case.outdoor_air_unit is not None:
        room = case.outdoor_air_unit
        rows += [
            ("This unit is", "an outdoor-air unit: all its supply air is outdoor air"),
            (
                "Separate room unit",
                f"{measured(room.room_cooling_efficiency, display)}, "
                f"{measured(room.room_cooling_capacity, display)}",
            ),
        ]
    return rows


def design_table(study: Study, display: Display) -> Table:
    """The schedule of every option, a column each."""
    columns = {option.key: dict(schedule_rows(option, display)) for option in study.options}
    names: dict[str, None] = {}
    for column in columns.values():
        names |= dict.fromkeys(column)
    return Table(
        "Equipment schedule",
        (
            Head("", number=False),
            *(
                Head(o.title, "reference" if o.key == study.reference.key else "", number=False)
                for o in study.options
            ),
        ),
        tuple(
            Row(name, tuple(Cell(columns[o.key].get(name, "–")) for o in study.options))
            for name in names
        ),
        note="From the case. Capacities are as modeled; select equipment by its maker’s data at "
        "the design conditions.",
        long=True,
    )
