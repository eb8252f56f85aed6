"""Every input of a case with its value and its origin: given, from the starter, or assumed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from dewledger.case.base import Section
from dewledger.quantities import Display, Measured, display_unit, show

if TYPE_CHECKING:
    from dewledger.accounts.option_year import OptionYear
    from dewledger.case import Case
    from dewledger.study import Study


@dataclass(frozen=True)
class Input:
    """One input: the table of the case file it stands in, its name, its value, its origin.

    origin : "given", "starter" or "assumed"
    meaning : what the input is
    shown : the value in the display's unit where that is not the unit it was written in
    """

    table: str
    name: str
    value: str
    shown: str
    origin: str
    meaning: str

    @property
    def path(self) -> str:
        return f"{self.table}.{self.name}" if self.table else self.name


# The head of the report says these, and each option's own part the options.
_SAID_ELSEWHERE = ("format", "title", "note", "display", "reference", "origin", "options")


def _text(value: Any) -> str:
    if isinstance(value, Measured):
        return value.text
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, dict):
        return ", ".join(f"{key}: {_text(item)}" for key, item in value.items())
    if isinstance(value, list | tuple):
        return ", ".join(_text(item) for item in value)
    return str(value)


def _shown(value: Any, display: Display) -> str:
    """The value in the display's unit, or nothing where it is written in it already."""
    if not isinstance(value, Measured):
        return ""
    unit = display_unit(value.kind.name, display)
    plain = unit.replace("degF", "").replace("degC", "")
    if unit == "fraction" or (plain and plain in value.text) or unit in value.text:
        return ""
    return show(float(value), value.kind.name, display)


def inputs(model: Section, display: Display, table: str = "", given: bool = True) -> list[Input]:
    """Inputs of a model and of the models within it, in the order of its fields."""
    return list(_walk(model, display, table, given))


def _walk(model: Section, display: Display, table: str, given: bool) -> Iterator[Input]:
    for name in type(model).model_fields:
        value = getattr(model, name)
        stated = given and name in model.model_fields_set
        inner = f"{table}.{name}" if table else name
        if value is None or (not table and name in _SAID_ELSEWHERE):
            continue
        if isinstance(value, Section):
            yield from _walk(value, display, inner, stated)
        elif isinstance(value, list | tuple) and any(isinstance(v, Section) for v in value):
            for place, item in enumerate(value, start=1):
                yield from _walk(item, display, f"{inner} {place}", stated)
        elif isinstance(value, dict) and any(isinstance(v, Section) for v in value.values()):
            for key, item in value.items():
                yield from _walk(item, display, f"{inner}.{key}", stated)
        elif isinstance(value, list | tuple | dict) and not value:
            continue
        else:
            yield Input(
                table,
                name,
                _text(value),
                _shown(value, display),
                "given" if stated else "assumed",
                type(model).meaning(name),
            )


def differences(study: Study, display: Display) -> dict[str, list[Input]]:
    """For each option, its inputs that are not those of the case itself."""
    base = {item.path: item.value for item in inputs(study.case, display)}
    found = {}
    for option in study.options:
        own = inputs(option.option.case, display)
        values = {item.path: item.value for item in own}
        changed = [
            item for item in own if base.get(item.path) != item.value and _read(item, values)
        ]
        left = {item.path for item in own}
        changed += [
            Input(*path.rpartition(".")[::2], "none", "", "given", "")
            for path in base
            if path not in left
        ]
        found[option.key] = changed
    return found


def _some(text: str) -> bool:
    """Whether a quantity as written is not nothing."""
    return not text.lstrip("0.").startswith(" ")


_STATED = str.__len__  # whatever is written counts
_HELD = ("relative humidity", "dew point")
_MILD_FLOW = ("reset_from", "reset_to", "leaving_temperature_mild")
_DEW_RESET = ("dew_point_reset_by", "dew_point_reset_from", "dew_point_reset_to")
_CONDENSER_CONTROLS = (
    "control", "lockout_below", "lockout_above", "valve_low", "valve_high", "purge", "circuits",
    "reheat_fan_share",
)  # fmt: skip
# Keys that are read only where another has one of some values: (table, keys, that other key, its
# values or what is true of its value). A leading dot: a key of the same table of a list.
_READ_WHERE: tuple[tuple[str, tuple[str, ...], str, Any], ...] = (
    ("unit", ("stages", "stage_coil"), "unit.capacity_control", ("stages",)),
    ("unit", ("minimum_capacity",), "unit.capacity_control", ("variable",)),
    ("unit", ("drying_leaving_temperature",), "unit.drying_control", ("leaving air",)),
    (
        "unit", ("clearance", "superheat", "subcooling"), "unit.method",
        ("ratings", "compressor map"),
    ),
    ("humidity", ("priority", "differential"), "humidity.control", _HELD),
    ("air", _MILD_FLOW, "air.flow_control", ("variable",)),
    ("air", ("minimum_flow", "set_pressure"), "air.flow_control", ("two-speed", "variable")),
    (
        "air", ("flow_before_reheat", "leaving_temperature", "least_flow_per_capacity"),
        "air.flow_control", ("two-speed", "variable"),
    ),
    (
        "air", ("outdoor_profile", "outdoor_in_morning_recovery", "demand_control"),
        "air.outdoor_flow", _some,
    ),
    ("room", ("infiltration_profile",), "room.infiltration", _some),
    ("outdoor_air_unit", _DEW_RESET, "outdoor_air_unit.supply_dew_point_mild", _STATED),
    (
        "outdoor_air_unit", ("reset_from", "reset_to"), "outdoor_air_unit.supply_temperature_mild",
        _STATED,
    ),
    ("outdoor_air_unit", ("least_temperature",), "outdoor_air_unit.by_room_need", ("yes",)),
    ("reheat", _CONDENSER_CONTROLS, ".source", ("condenser",)),
    ("reheat", ("rated_condensing", "rated_entering"), ".rated_heat", _STATED),
    ("prices", ("demand_ratchet_months",), "prices.demand_ratchet", _STATED),
)  # fmt: skip


def _read(item: Input, values: Mapping[str, str]) -> bool:
    """Whether an input has a part in a case whose inputs have these values."""
    if item.table == "ranges" and item.name == "reason":
        return False
    plain = item.table.partition(" ")[0]
    for table, keys, decides, where in _READ_WHERE:
        if plain != table or item.name not in keys:
            continue
        path = f"{item.table}{decides}" if decides.startswith(".") else decides
        value = values.get(path, "")
        if not (value and where(value) if callable(where) else value in where):
            return False
    return True


def _values(case: Section, display: Display) -> dict[str, str]:
    return {item.path: item.value for item in inputs(case, display)}


def with_origins(case: Case, display: Display) -> list[Input]:
    """Inputs of a case with their three origins; keys that no option reads are left out."""
    origins = case.origins
    readers = [_values(one, display) for one in (case, *(o.case for o in case.option_cases()))]
    found = []
    for item in inputs(case, display):
        if not any(_read(item, values) for values in readers):
            continue
        whole = item.table.partition(" ")[0]  # a list of tables is one input of the case file
        origin = origins.get(item.path) or origins.get(whole)
        kind = origin.kind if origin is not None else item.origin
        if kind == "given" and item.origin == "assumed":  # a default within a table that is given
            kind = "assumed"
        found.append(replace(item, origin=kind))
    return found


# What an option may differ in, as a reader calls it.
_RESPECTS = {
    "reheat": "reheat",
    "unit": "the unit",
    "air": "air flow and ventilation",
    "humidity": "humidity control",
    "outdoor_air_unit": "the outdoor-air unit",
    "heating": "space heating",
    "humidifier": "the humidifier",
    "room": "the room",
    "loads": "the loads",
    "schedule": "the schedule",
    "site": "the site",
    "envelope": "the envelope",
}


def differing_tables(option: OptionYear, other: OptionYear, display: Display) -> list[str]:
    """The respects in which two options differ physically, in the order of the case's tables."""
    one, two = (
        {item.path: item.value for item in inputs(solved.option.case, display)}
        for solved in (option, other)
    )
    changed = {path for path in {*one, *two} if one.get(path) != two.get(path)}
    changed.discard("humidity.observed_high")  # what is seen, not what the option is
    tables = {path.partition(".")[0].partition(" ")[0] for path in changed}
    return [words for table, words in _RESPECTS.items() if table in tables]
