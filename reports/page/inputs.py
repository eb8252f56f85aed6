"""Every input of a case with its value and its origin: given, from the starter, or assumed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from dewledger.quantities import Display, Measured, display_unit, show

if TYPE_CHECKING:
    from dewledger.case import Case
    from dewledger.study import OptionYear, Study


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


def inputs(model: BaseModel, display: Display, table: str = "", given: bool = True) -> list[Input]:
    """Inputs of a model and of the models within it, in the order of its fields."""
    return list(_walk(model, display, table, given))


def _walk(model: BaseModel, display: Display, table: str, given: bool) -> Iterator[Input]:
    for name, field in type(model).model_fields.items():
        value = getattr(model, name)
        stated = given and name in model.model_fields_set
        inner = f"{table}.{name}" if table else name
        if value is None or (not table and name in _SAID_ELSEWHERE):
            continue
        if isinstance(value, BaseModel):
            yield from _walk(value, display, inner, stated)
        elif isinstance(value, list | tuple) and any(isinstance(v, BaseModel) for v in value):
            for place, item in enumerate(value, start=1):
                yield from _walk(item, display, f"{inner} {place}", stated)
        elif isinstance(value, dict) and any(isinstance(v, BaseModel) for v in value.values()):
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
                " ".join((field.description or "").split()),
            )


def differences(study: Study, display: Display) -> dict[str, list[Input]]:
    """For each option, its inputs that are not those of the case itself."""
    base = {item.path: item.value for item in inputs(study.case, display)}
    found = {}
    for option in study.options:
        own = inputs(option.option.case, display)
        changed = [item for item in own if base.get(item.path) != item.value]
        left = {item.path for item in own}
        changed += [
            Input(*path.rpartition(".")[::2], "none", "", "given", "")
            for path in base
            if path not in left
        ]
        found[option.key] = changed
    return found


# Keys that have no part in the account: (table, keys, the key that decides, values with which they
# have none).
_INERT: tuple[tuple[str, tuple[str, ...], str, tuple[str, ...]], ...] = (
    ("unit", ("stages", "stage_coil"), "unit.capacity_control", ("cycling", "variable")),
    ("unit", ("minimum_capacity",), "unit.capacity_control", ("cycling", "stages")),
    ("unit", ("drying_leaving_temperature",), "unit.capacity_control", ("cycling", "stages")),
    ("unit", ("clearance", "superheat", "subcooling"), "unit.method", ("table",)),
    ("humidity", ("priority",), "humidity.control", ("none",)),
    ("air", ("reset_from", "reset_to"), "air.flow_control", ("constant", "two-speed")),
    ("air", ("minimum_flow", "set_pressure"), "air.flow_control", ("constant",)),
    ("air", ("flow_before_reheat", "leaving_temperature"), "air.flow_control", ("constant",)),
)


def with_origins(case: Case, display: Display) -> list[Input]:
    """Inputs of a case with their three origins; keys that have no part in it are left out."""
    origins = case.origins
    listed = inputs(case, display)
    values = {item.path: item.value for item in listed}
    found = []
    for item in listed:
        if any(
            item.table == table and item.name in keys and values.get(decides) in without
            for table, keys, decides, without in _INERT
        ):
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
