"""Equipment schedule: a row for each unit of an option, from the case and the model's rating."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from dewledger.quantities import Display, Measured, show
from dewledger.reports.page.parts import Cell, Head, Row, Table

if TYPE_CHECKING:
    from dewledger.accounts.option_year import OptionYear
    from dewledger.case.reheat import Reheat
    from dewledger.dx_unit.types import Plant
    from dewledger.study import Study

_NOT_STATED = "not stated"


@dataclass(frozen=True)
class Item:
    """A line of the schedule.

    what, text : as the page says it
    values : what it says, in SI, by the names of summary.json
    """

    what: str
    text: str
    values: dict[str, Any]


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


def in_si(value: Any) -> Any:
    """An input as summary.json has it: quantities in the SI unit of their kind."""
    if isinstance(value, Measured):
        return float(value)
    return [in_si(one) for one in value] if isinstance(value, list | tuple) else value


def supply_air(plant: Plant, display: Display) -> Item:
    """The supply air flow as a volume of standard air."""
    from dewledger.weather.physics.moist_air import STANDARD_AIR_DENSITY

    flow = plant.flow_kg_s / STANDARD_AIR_DENSITY
    text = f"{show(flow, 'air flow', display)} standard air"
    return Item("Supply air", text, {"supply_air_m3_s": flow})


def reheat_item(place: int, source: Reheat, display: Display) -> Item:
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
    values = {
        "source": source.source,
        "control": source.control,
        "capacity_W": in_si(source.capacity),
        "rated_heat_W": in_si(source.rated_heat),
        "effectiveness": in_si(source.effectiveness),
        "efficiency": in_si(source.efficiency),
        "pressure_drop_Pa": in_si(source.pressure_drop),
    }
    return Item(
        f"Reheat {place}",
        f"{source.source}, {source.control}, {size}{factor}{drop}",
        {f"reheat_{place}": values},
    )


def schedule_items(option: OptionYear, display: Display) -> list[Item]:
    """One option's equipment, line by line."""
    case, machine = option.option.case, option.machine
    unit, plant = machine.unit, machine.plant

    def stated(what: str, name: str, value: Any) -> Item:
        return Item(what, measured(value, display), {name: in_si(value)})

    def modeled(what: str, name: str, value: float, kind: str) -> Item:
        return Item(what, show(value, kind, display), {name: value})

    items = [
        stated("Unit, method of its data", "method", unit.source),
        stated("Refrigerant", "refrigerant", unit.refrigerant or None),
        modeled("Gross total capacity at the rating", "rated_total_W", unit.rated_total_W,
                "heat flow"),
        modeled("Compressor power at the rating", "rated_compressor_W", unit.rated_compressor_W,
                "power"),
        stated("Rated efficiency", "rated_efficiency_COP", case.unit.efficiency),
        stated("Rating basis", "rating_basis", case.unit.rating),
        supply_air(plant, display),
        modeled("Supply fan power", "supply_fan_W", plant.fan_W, "power"),
        stated("Fan position", "fan_position", case.air.fan_position),
        stated("Outdoor air, most", "outdoor_air_most_m3_s", case.air.outdoor_flow),
        stated("Capacity control", "capacity_control", case.unit.capacity_control),
        stated("Minimum condensing temperature", "minimum_condensing_C",
               case.unit.condensing_floor),
        stated("Maximum condensing temperature", "maximum_condensing_C",
               case.unit.condensing_ceiling),
    ]  # fmt: skip
    items += [reheat_item(place, source, display) for place, source in enumerate(case.reheat, 1)]
    if not case.reheat:
        items.append(Item("Reheat", "none", {}))
    return items + _other_equipment(case, display)


def _other_equipment(case: Any, display: Display) -> list[Item]:
    """Heating, energy recovery, humidifier and what an outdoor-air unit has next to it."""

    def joined(what: str, pairs: dict[str, Any], text: str) -> Item:
        words = (measured(value, display) for value in pairs.values())
        return Item(what, text.format(*words), {name: in_si(v) for name, v in pairs.items()})

    heating = case.heating
    items = [
        joined(
            "Space heating",
            {"heating_source": heating.source, "heating_efficiency": heating.efficiency},
            "{}, {}",
        )
    ]
    device, humidifier, room = case.air.recovery, case.humidifier, case.outdoor_air_unit
    if device is not None:
        pairs = {
            "energy_recovery_sensible_frac": device.sensible,
            "energy_recovery_latent_frac": device.latent,
        }
        items.append(joined("Energy recovery", pairs, "sensible {}, latent {}"))
    if humidifier is not None:
        pairs = {
            "humidifier_source": humidifier.source,
            "humidifier_capacity_kg_s": humidifier.capacity,
        }
        items.append(joined("Humidifier", pairs, "{}, {}"))
    if room is not None:
        pairs = {
            "room_unit_efficiency_COP": room.room_cooling_efficiency,
            "room_unit_capacity_W": room.room_cooling_capacity,
        }
        items += [
            Item(
                "This unit is",
                "an outdoor-air unit: all its supply air is outdoor air",
                {"outdoor_air_unit": True},
            ),
            joined("Separate room unit", pairs, "{}, {}"),
        ]
    return items


def schedule_summary(option: OptionYear, display: Display) -> dict[str, Any]:
    """One option's equipment for summary.json, in SI."""
    found: dict[str, Any] = {}
    for item in schedule_items(option, display):
        found |= item.values
    return found


def schedule_table(study: Study, display: Display) -> Table:
    """The schedule of every option, a column each."""
    columns = {
        option.key: {item.what: item.text for item in schedule_items(option, display)}
        for option in study.options
    }
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
