"""The questions as the page shows them: each with its value, unit, origin and slider."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dewledger.case import Case
from dewledger.case.reading.origins import Origin
from dewledger.interview.in_case import CaseField, case_fields, text_of, value_at, way_of
from dewledger.interview.questions import HUMIDITY, OPTIONS, PLACE, PRICES, ROOM, TODAY, UNIT
from dewledger.interview.readers import REHEATS, TITLES
from dewledger.quantities import Display, Measured, parse
from dewledger.weather.bundled import BUNDLED
from dewledger.weather.errors import InputError

# The page's groups in their order, and the group of the questions each stands for.
GROUPS = (PLACE, ROOM, HUMIDITY, UNIT, OPTIONS, PRICES)
LEVERS = "Levers"
_LEVER_ORDER = (
    "limit", "supply_dew_point", "outdoor_air", "capacity", "effectiveness", "condensing_floor",
    "infiltration", "electricity", "gas",
)  # fmt: skip
_SHOWN_AT_THE_TOP = ("display",)
_NEVER_UNKNOWN = ("title", "system", "considered", "weather")


def group_of(field: CaseField) -> str:
    """The heading a field stands under: what can be moved stands together."""
    if field.place.moves:
        return LEVERS
    if field.name == "title":
        return PLACE
    return UNIT if field.group == TODAY else field.group


def page_fields(case: Case) -> list[CaseField]:
    """Fields of a case in the order of the page: levers first, then group by group."""
    order = {group: at for at, group in enumerate((LEVERS, *GROUPS))}
    levers = {key: at for at, key in enumerate(_LEVER_ORDER)}
    shown = [field for field in case_fields(case) if field.name not in _SHOWN_AT_THE_TOP]
    return sorted(
        shown,
        key=lambda one: (order[group_of(one)], levers[one.field.key] if one.place.moves else 0),
    )


def field_content(
    field: CaseField,
    case: Case,
    first: Case,
    unit: str | None = None,
    answer: str | None = None,
    origins: Mapping[str, Origin] | None = None,
) -> dict[str, Any]:
    """What the page needs to show a field.

    unit : that its value is shown in; None takes the one it is written in
    answer : what was answered here, where no place of the case holds it as it was said
    origins : of the case's inputs; None works them out
    """
    text = text_of(field, case) or (answer or "" if field.name == "age" else "")
    value, own = value_at(case, field.place.path), value_at(first, field.place.path)
    units = usable_units(field, case)
    chosen = unit if unit in units else _unit_of(_measured(value, field), units)
    content: dict[str, Any] = {
        "name": field.name,
        "group": group_of(field),
        "label": field.label,
        "help": field.help,
        "text": in_its_unit(text, _measured(value, field), field, chosen),
        "case_text": text_of(field, first),
        "units": list(units),
        "unit": chosen,
        "choices": _choices(field, case),
        "can_be_unknown": field.name not in _NEVER_UNKNOWN,
        "several": field.name == "considered",
    } | _origin(field, case, case.origins if origins is None else origins)
    slider = _slider(field, case, own, chosen)
    if slider is not None:
        content["slider"] = slider
    return content


def usable_units(field: CaseField, case: Case) -> tuple[str, ...]:
    """The units that the page offers for a field, in the money of the case."""
    return tuple(unit.replace("USD", case.prices.currency) for unit in field.place.units)


def unit_for(field: CaseField, case: Case, display: Display) -> str | None:
    """The unit of a field in a system of units; None where it has none."""
    units = usable_units(field, case)
    if not units:
        return None
    return units[0] if display == "I-P" else units[-1]


def with_unit(text: str, unit: str | None) -> str:
    """A bare number gets the unit that the value is shown in."""
    bare = text.strip().replace(",", "").removeprefix("-").replace(".", "", 1).isdecimal()
    return f"{text.strip()} {unit}" if bare and unit else text


def _choices(field: CaseField, case: Case) -> list[dict[str, str]]:
    """Words that a field may be, each with what it is called."""
    options = case.option_cases()
    if field.name == "system":
        return [{"value": option.key, "text": option.title} for option in options]
    if field.name == "considered":
        there = {way_of(option) for option in options} | {option.key for option in options}
        own = [{"value": option.key, "text": option.title} for option in options]
        return own + [{"value": way, "text": TITLES[way]} for way in REHEATS if way not in there]
    if field.name == "weather":
        return [{"value": name, "text": name} for name in BUNDLED]
    return [{"value": word, "text": word} for word in field.choices]


def _origin(field: CaseField, case: Case, origins: Mapping[str, Origin]) -> dict[str, str]:
    """Origin of a field: given, starter or assumed, and on what ground."""
    path = field.place.path
    if ".reheat." in path:  # a list of tables is one input of the case file
        path = path[: path.index(".reheat.") + len(".reheat")]
    found = origins.get(path)
    if found is None:
        stated = value_at(case, field.place.path) is not None
        return {"origin": "given" if stated else "not stated", "source": ""}
    return {"origin": found.kind, "source": found.source.partition(". ")[0]}


def in_its_unit(text: str, value: Any, field: CaseField, unit: str | None) -> str:
    """The text of a value in a unit: as it is written where that is its own."""
    if not isinstance(value, Measured) or unit is None or text.endswith(f" {unit}"):
        return text
    return f"{float(f'{_in(value, field.place.kind, unit):.4g}'):.10g} {unit}"


def _slider(field: CaseField, case: Case, own: Any, unit: str | None) -> dict[str, Any] | None:
    """Ends, step and value of a field's slider in the unit shown."""
    place = field.place
    value, own = _measured(value_at(case, place.path), field), _measured(own, field)
    if not place.moves or not isinstance(value, float) or unit is None:
        return None

    def shown(value_si: float) -> float:
        return _in(value_si, place.kind, unit)

    if place.span is not None:
        low, high = (shown(parse(end, place.kind)) for end in place.span)
        if field.name == "limit" and place.kind == "fraction":
            low = max(low, shown(float(case.humidity.range_low)))  # it is no lower than the range
    else:
        assert place.factors is not None
        base = shown(own if isinstance(own, float) else value)
        low, high = (factor * base for factor in place.factors)
    now = shown(value)
    if not high > low:
        return None
    step = _step((high - low) / 100.0)
    return {
        "low": _round(min(low, now), step),
        "high": _round(max(high, now), step),
        "step": step,
        "value": _rounded(now),
        "mark": _rounded(shown(own)) if isinstance(own, float) else None,
    }


def _measured(value: Any, field: CaseField) -> Any:
    """A limit is kept as it is written, for control decides its kind: here it is measured."""
    if not isinstance(value, str) or not field.place.kind:
        return value
    try:
        return parse(value, field.place.kind)
    except InputError:
        return value


def _rounded(value: float) -> float:
    return float(f"{value:.6g}")


def _unit_of(value: Any, units: tuple[str, ...]) -> str | None:
    """The unit a value was written in, where it is one of the page's; else the page's first."""
    if isinstance(value, Measured):
        tail = value.text.strip().lstrip("+-0123456789.,eE ").strip()
        if tail in units:
            return tail
    return units[0] if units else None


def _in(value_si: float, kind: str, unit: str) -> float:
    one, zero = (float(parse(f"{x} {unit}", kind)) for x in (1, 0))
    return (float(value_si) - zero) / (one - zero)


def _step(about: float) -> float:
    power = 1.0
    while power > about:
        power /= 10.0
    while power * 10.0 <= about:
        power *= 10.0
    return next(power * f for f in (5.0, 2.0, 1.0) if power * f <= about)


def _round(value: float, step: float) -> float:
    return float(f"{round(value / step) * step:.10g}")
