"""The sequence of operation in words, made from the controls of a case.

A table of sentences: each belongs to one key of the case file and has that key's value in it, so
that a changed control changes what is written.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from dewledger.quantities import Display, Measured, parse, show
from dewledger.reports.handover.schedule import in_si, measured

Tables = Mapping[str, Any]


@dataclass(frozen=True)
class Clause:
    """A sentence for one key of one table.

    text : with {} for the value; or a sentence for each value of a key of few
    absent : where the key is not stated; "" says nothing
    where, also : (table, key, values): said only where that key has one of those values, or,
        where values is empty, is stated
    """

    table: str
    key: str
    text: str | Mapping[Any, str]
    absent: str = ""
    where: tuple[str, str, tuple[Any, ...]] | None = None
    also: tuple[str, str, tuple[Any, ...]] | None = None


_VARIABLE = ("unit", "capacity_control", ("variable",))
_STAGES = ("unit", "capacity_control", ("stages",))
_HELD = ("humidity", "control", ("relative humidity", "dew point"))
_DEW_RESET = ("outdoor_air_unit", "supply_dew_point_mild", ())
_TEMP_RESET = ("outdoor_air_unit", "supply_temperature_mild", ())
_FLOW = ("air", "flow_control", ("two-speed", "variable"))
_FLOW_VARIABLE = ("air", "flow_control", ("variable",))

GROUPS: tuple[tuple[str, tuple[Clause, ...]], ...] = (
    (
        "Occupancy",
        (
            Clause("schedule", "weekday", "Monday to Friday the space is occupied: {}."),
            Clause("schedule", "saturday", "Saturday: {}."),
            Clause("schedule", "sunday", "Sunday and holidays: {}."),
            Clause("schedule", "holidays", "Further holidays: {}."),
            Clause("schedule", "holiday_country", "Public holidays of {} count as Sundays."),
            Clause("schedule", "holiday_region", "They are those of {}."),
            Clause("schedule", "closures", "Closed, with nobody in: {}."),
            Clause(
                "schedule",
                "morning_recovery",
                "Fan, set points and limits change to occupied {} before occupied hours.",
            ),
            Clause("schedule", "daylight_saving", "Clock time follows: {}."),
        ),
    ),
    (
        "Supply fan and ventilation",
        (
            Clause(
                "air",
                "fan",
                {
                    "continuous": "Occupied: the supply fan runs continuously.",
                    "cycling": "Occupied: the supply fan cycles with the call.",
                },
            ),
            Clause(
                "air",
                "fan_unoccupied",
                {
                    "continuous": "Unoccupied: the supply fan runs continuously.",
                    "cycling": "Unoccupied: the supply fan cycles with the call.",
                    "off": "Unoccupied: the unit is off.",
                },
                "Unoccupied: the supply fan runs as in occupied hours.",
            ),
            Clause(
                "air",
                "flow_control",
                {
                    "constant": "Supply air flow is constant.",
                    "two-speed": "The supply fan has two speeds and follows the sensible load.",
                    "variable": "Supply air flow is variable and follows the sensible load.",
                },
            ),
            Clause("air", "minimum_flow", "Minimum supply flow: {} of full flow.", where=_FLOW),
            Clause(
                "air",
                "least_flow_per_capacity",
                "No less than {} of compressor capacity in use; the flow goes up for more of it.",
                where=_FLOW,
            ),
            Clause(
                "air", "set_pressure", "The fan holds {} of its pressure at any flow.", where=_FLOW
            ),
            Clause(
                "air",
                "leaving_temperature",
                "Flow is chosen for {} coil leaving air.",
                where=_FLOW_VARIABLE,
            ),
            Clause(
                "air",
                "leaving_temperature_mild",
                "In mild weather that is reset to {}.",
                where=_FLOW_VARIABLE,
            ),
            Clause(
                "air", "reset_from", "The reset is complete at {} outdoors.", where=_FLOW_VARIABLE
            ),
            Clause("air", "reset_to", "The reset ends at {} outdoors.", where=_FLOW_VARIABLE),
            Clause(
                "air",
                "flow_before_reheat",
                {
                    True: "In a dehumidification call the flow goes to its minimum before reheat "
                    "is used.",
                    False: "In a dehumidification call reheat is used without lowering the flow.",
                },
                where=_FLOW,
            ),
            Clause("air", "outdoor_flow", "Outdoor air at full ventilation: {}."),
            Clause("air", "outdoor_profile", "Outdoor air follows the profile “{}”."),
            Clause(
                "air",
                "outdoor_in_morning_recovery",
                {
                    True: "The outdoor-air damper follows its profile in morning recovery too.",
                    False: "The outdoor-air damper is closed in morning recovery.",
                },
            ),
            Clause(
                "air",
                "demand_control",
                {
                    True: "Demand control: outdoor air per person follows the people present.",
                    False: "No demand control of outdoor air.",
                },
            ),
            Clause("air", "exhaust_flow", "Exhaust: {}."),
            Clause("air", "exhaust_profile", "Exhaust follows the profile “{}”."),
            Clause(
                "air.economizer",
                "control",
                {
                    "dry bulb": "Economizer: enabled by dry bulb.",
                    "dew point": "Economizer: enabled by dew point against the room’s.",
                    "enthalpy": "Economizer: enabled by enthalpy against the room’s.",
                },
            ),
            Clause("air.economizer", "high_limit", "It is locked out above {} outdoors."),
            Clause("air.economizer", "humidity_lockout", "And above {} outdoor dew point."),
            Clause("air.economizer", "flow", "Outdoor air with the economizer open: {}."),
            Clause(
                "air.recovery",
                "bypass",
                {
                    True: "Energy recovery is bypassed where cool outdoor air does cooling.",
                    False: "Energy recovery has no bypass.",
                },
            ),
            Clause(
                "air.recovery", "frost_limit", "Frost control limits recovery below {} outdoors."
            ),
        ),
    ),
    (
        "Cooling",
        (
            Clause("room", "cooling_setpoint", "Cooling set point, occupied: {}."),
            Clause(
                "room",
                "cooling_setpoint_unoccupied",
                "Cooling set point, unoccupied: {}.",
                "The cooling set point is the same in unoccupied hours.",
            ),
            Clause(
                "unit",
                "capacity_control",
                {
                    "cycling": "On a cooling call the compressor cycles.",
                    "variable": "On a cooling call compressor capacity modulates.",
                    "stages": "On a cooling call compressor stages are energized in turn.",
                },
            ),
            Clause(
                "unit", "minimum_capacity", "It modulates down to {}, then cycles.", where=_VARIABLE
            ),
            Clause("unit", "stages", "Stages, of full displacement: {}.", where=_STAGES),
            Clause(
                "unit",
                "stage_coil",
                {
                    "intertwined": "Every stage uses the entire coil (intertwined).",
                    "face split": "Every stage uses its own part of the coil (face split).",
                },
                where=_STAGES,
            ),
            Clause("unit", "minimum_run_time", "Minimum compressor run time: {}."),
            Clause("unit", "surface_floor", "The coil surface is held at or above {} (frost)."),
        ),
    ),
    (
        "Dehumidification and reheat",
        (
            Clause(
                "humidity",
                "control",
                {
                    "none": "No humidity control: there is no dehumidification call.",
                    "relative humidity": "A dehumidification call starts above the limit of "
                    "relative humidity.",
                    "dew point": "A dehumidification call starts above the limit of dew point.",
                },
            ),
            Clause("humidity", "limit", "Limit, occupied: {}.", where=_HELD),
            Clause(
                "humidity",
                "limit_unoccupied",
                "Limit, unoccupied: {}.",
                "The limit is the same in unoccupied hours.",
                where=_HELD,
            ),
            Clause(
                "humidity",
                "differential",
                "A call ends {} below the limit.",
                "A call ends below the limit by the usual differential (3 % RH, or 2 °F of dew "
                "point).",
                where=_HELD,
            ),
            Clause(
                "unit",
                "drying_control",
                {
                    "least overcooling": "In a call the unit uses the stage, speed and coil "
                    "surface that remove the moisture with the least overcooling.",
                    "all stages": "In a call every stage is energized.",
                    "leaving air": "In a call the unit is controlled by coil leaving air.",
                },
                where=_HELD,
            ),
            Clause(
                "humidity",
                "priority",
                {
                    "temperature first": "Where reheat cannot meet its load, dehumidification is "
                    "limited so that the room keeps its temperature.",
                    "humidity first": "Where reheat cannot meet its load, dehumidification goes on "
                    "and the room is allowed to cool.",
                },
                where=_HELD,
            ),
            Clause(
                "room",
                "low_temperature_limit",
                "It may cool down to {}.",
                where=("humidity", "priority", ("humidity first",)),
            ),
            Clause(
                "unit",
                "drying_leaving_temperature",
                "In a dehumidification call the unit runs for {} coil leaving air or colder.",
                where=("unit", "drying_control", ("leaving air",)),
                also=_HELD,
            ),
        ),
    ),
    (
        "Head pressure",
        (
            Clause(
                "unit",
                "condensing_floor",
                "Head pressure control holds condensing temperature at or above {}.",
            ),
            Clause(
                "unit",
                "reheat_condensing_floor",
                "In hours with reheat from the condenser it holds {} or above.",
            ),
            Clause(
                "unit", "condensing_ceiling", "Condenser-heat reheat may raise it to {} at most."
            ),
            Clause(
                "unit",
                "condenser_fan_control",
                {
                    "constant": "The condenser fans run at constant speed.",
                    "staged": "The condenser fans are staged to hold it.",
                    "variable speed": "The condenser fans vary their speed to hold it.",
                },
            ),
        ),
    ),
    (
        "Heating and humidification",
        (
            Clause("room", "heating_setpoint", "Heating set point, occupied: {}."),
            Clause(
                "room",
                "heating_setpoint_unoccupied",
                "Heating set point, unoccupied: {}.",
                "The heating set point is the same in unoccupied hours.",
            ),
            Clause("heating", "source", "Space heating by {}; it is never reheat."),
            Clause(
                "heating", "capacity", "Heating capacity: {}.", "Heating is not limited by size."
            ),
            Clause("humidifier", "source", "Humidifier: {}."),
            Clause("humidifier", "limit", "It holds {}."),
            Clause("humidifier", "limit_unoccupied", "Unoccupied it holds {}."),
            Clause("humidifier", "capacity", "Its capacity: {}."),
        ),
    ),
    (
        "Outdoor-air unit",
        (
            Clause("outdoor_air_unit", "supply_dew_point", "Supply air is dried to {} dew point."),
            Clause("outdoor_air_unit", "supply_dew_point_mild", "In mild weather to {}."),
            *(
                Clause("outdoor_air_unit", key, text, where=_DEW_RESET)
                for key, text in (
                    ("dew_point_reset_by", "Dew point reset by {}."),
                    ("dew_point_reset_from", "The reset is complete at {}."),
                    ("dew_point_reset_to", "The dew point reset ends at {}."),
                )
            ),
            Clause(
                "outdoor_air_unit",
                "by_room_humidity",
                {
                    True: "It dries no further than the room’s humidity limit needs.",
                    False: "It dries to its dew point whatever the room’s humidity.",
                },
            ),
            Clause("outdoor_air_unit", "supply_temperature", "Supply air temperature: {}."),
            Clause("outdoor_air_unit", "supply_temperature_mild", "In mild weather: {}."),
            *(
                Clause("outdoor_air_unit", key, text, where=_TEMP_RESET)
                for key, text in (
                    ("reset_from", "Temperature reset complete at {} outdoors."),
                    ("reset_to", "Temperature reset ends at {} outdoors."),
                )
            ),
            Clause(
                "outdoor_air_unit",
                "by_room_need",
                {
                    True: "Supply air is colder where the room needs cooling.",
                    False: "Supply air temperature does not follow the room’s cooling need.",
                },
            ),
            Clause(
                "outdoor_air_unit",
                "least_temperature",
                "It is never colder than {}.",
                where=("outdoor_air_unit", "by_room_need", (True,)),
            ),
        ),
    ),
)


def _table(tables: Tables, path: str) -> Any:
    first, _, inner = path.partition(".")
    table = tables.get(first)
    return getattr(table, inner, None) if inner and table is not None else table


def _limit(clause: Clause, value: Any, tables: Tables) -> Measured | None:
    """A humidity limit as a quantity, of the kind that control holds; None of other clauses."""
    if clause.table not in ("humidity", "humidifier") or not clause.key.startswith("limit"):
        return None
    control = _table(tables, "humidity").control
    return parse(str(value), "temperature" if control == "dew point" else "fraction")


def _written(clause: Clause, value: Any, display: Display, tables: Tables) -> str:
    limit = _limit(clause, value, tables)
    if limit is not None:
        kind = limit.kind.name
        return show(float(limit), kind, display) + (" RH" if kind == "fraction" else " dew point")
    return measured(value, display) if isinstance(value, Measured | tuple | list) else str(value)


def _holds(where: tuple[str, str, tuple[Any, ...]], tables: Tables) -> bool:
    table, key, values = where
    found = getattr(_table(tables, table), key, None)
    return found in values if values else found is not None


def sentence(clause: Clause, tables: Tables, display: Display) -> str:
    """The sentence of a clause for the tables of a case; "" where it has none."""
    table = _table(tables, clause.table)
    if table is None:
        return ""
    if not all(_holds(one, tables) for one in (clause.where, clause.also) if one is not None):
        return ""
    value = getattr(table, clause.key)
    if clause.key == "morning_recovery" and not value:
        return ""
    if value is None or value in ((), []):
        return clause.absent
    if isinstance(clause.text, Mapping):
        return clause.text[value]
    return clause.text.format(_written(clause, value, display, tables))


@dataclass(frozen=True)
class Said:
    """A sentence of the sequence, and the key of the case with the value that it says.

    key : table and key, "humidity.limit"; of a reheat source with its place, "reheat.1.capacity"
    """

    text: str
    key: str
    value: Any


def _said(clause: Clause, tables: Tables, display: Display) -> Said | None:
    text = sentence(clause, tables, display)
    if not text:
        return None
    value = getattr(_table(tables, clause.table), clause.key)
    limit = _limit(clause, value, tables) if text != clause.absent else None
    return Said(text, f"{clause.table}.{clause.key}", value if limit is None else limit)


def _reheat_sentences(sources: Any, display: Display) -> list[Said]:
    """The reheat sources in the order in which they are used."""
    lines = []
    for place, source in enumerate(sources, 1):
        size = "" if source.capacity is None else f", up to {measured(source.capacity, display)}"
        valve = f", {source.control} valve" if "control" in source.model_fields_set else ""
        text = f"Reheat source {place}: {source.source}{valve}{size}."
        lines.append(Said(text, f"reheat.{place}.capacity", source.capacity))
        lines += [
            Said(
                text.format(measured(getattr(source, key), display)),
                f"reheat.{place}.{key}",
                getattr(source, key),
            )
            for key, text, idle in _CONDENSER_CONTROLS
            if source.source == "condenser" and getattr(source, key) not in (None, idle)
        ]
    return lines or [Said("There is no reheat.", "reheat", None)]


# Controls of a condenser source: (key, sentence, the value that does nothing).
_CONDENSER_CONTROLS = (
    ("lockout_below", "It is locked out below {} outdoors.", None),
    ("lockout_above", "It is locked out above {} outdoors.", None),
    ("valve_low", "Its open valve passes at least {} of the heat rejected.", 0.0),
    ("valve_high", "It passes at most {} of it.", 1.0),
    ("purge", "Pump-out takes {} of each hour with reheat.", 0.0),
    ("circuits", "{} of the circuits have reheat.", 1.0),
    ("reheat_fan_share", "In reheat {} of the condenser fans are left running.", 1.0),
)


def tables_of(case: Any) -> dict[str, Any]:
    """The tables of a case that hold controls, by name."""
    names = {clause.table.partition(".")[0] for _, clauses in GROUPS for clause in clauses}
    return {name: getattr(case, name) for name in sorted(names)} | {"reheat": case.reheat}


def said(tables: Tables, display: Display) -> list[tuple[str, list[Said]]]:
    """The sequence of operation by heading, each sentence with the key that it says."""
    found = []
    for heading, clauses in GROUPS:
        lines = [one for clause in clauses if (one := _said(clause, tables, display))]
        if heading == "Dehumidification and reheat":
            lines += _reheat_sentences(tables["reheat"], display)
        if lines:
            found.append((heading, lines))
    return found


def sequence(tables: Tables, display: Display) -> list[tuple[str, list[str]]]:
    """The sequence of operation by heading, each a list of sentences."""
    return [(heading, [one.text for one in lines]) for heading, lines in said(tables, display)]


def sequence_summary(tables: Tables, display: Display) -> list[dict[str, Any]]:
    """The sequence of operation for summary.json: each sentence, its key, its value in SI."""
    return [
        {
            "heading": heading,
            "sentences": [
                {
                    "text": one.text,
                    "key": one.key,
                    "value": in_si(one.value),
                    "unit": one.value.kind.si if isinstance(one.value, Measured) else None,
                }
                for one in lines
            ],
        }
        for heading, lines in said(tables, display)
    ]
