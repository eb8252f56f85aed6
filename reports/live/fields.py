"""What the live page asks and moves: a table of places in a case, with words and spans."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from dewledger.case import Case
from dewledger.quantities import Display, Measured, parse
from dewledger.weather.errors import InputError


@dataclass(frozen=True)
class Field:
    """One input of the page.

    path : its place in the case, as ``Case.with_values`` takes it
    kind : of quantity; "" for a word or a text
    span : lowest and highest value of its slider as written texts, or factors on the case's value
    choices : words it may be, where it is one of a few
    """

    path: str
    group: str
    label: str
    help: str
    kind: str = ""
    span: tuple[str, str] | None = None
    factors: tuple[float, float] | None = None
    units: tuple[str, ...] = ()
    choices: tuple[str, ...] = ()


PLACE, ROOM, UNIT, OPTIONS, PRICES = "Place", "Room", "Today’s unit", "Options", "Prices"

FIELDS: tuple[Field, ...] = (
    Field("site.weather", PLACE, "Weather", "A bundled station (greensboro, miami, sand-point) or "
          "a weather file in the case’s folder."),
    Field("schedule.weekday", PLACE, "Hours on weekdays", "When people are there, for example "
          "07:00-19:00; always, or closed."),
    Field("room.floor_area", ROOM, "Floor area", "Floor area of the space the unit serves.",
          "area", factors=(0.5, 2.0), units=("ft2", "m2")),
    Field("room.height", ROOM, "Height", "Mean height of the air volume.", "length",
          factors=(0.6, 1.8), units=("ft", "m")),
    Field("room.cooling_setpoint", ROOM, "Cooling set point", "The space is cooled to this.",
          "temperature", ("65 degF", "82 degF"), units=("degF", "degC")),
    Field("room.heating_setpoint", ROOM, "Heating set point", "The space is heated to this.",
          "temperature", ("55 degF", "75 degF"), units=("degF", "degC")),
    Field("room.infiltration", ROOM, "Infiltration", "Outdoor air that leaks in, in air changes an "
          "hour.", "rate", ("0 ACH", "2 ACH"), units=("ACH",)),
    Field("humidity.limit", ROOM, "Humidity limit", "Dehumidification is called for above this.",
          "fraction", ("35 %", "70 %"), units=("%",)),
    Field("humidity.range_low", ROOM, "Range, low end", "Hours drier than this are counted.",
          "fraction", ("10 %", "50 %"), units=("%",)),
    Field("humidity.range_high", ROOM, "Range, high end", "Hours more humid than this are counted.",
          "fraction", ("40 %", "80 %"), units=("%",)),
    Field("unit.total_capacity", UNIT, "Capacity", "Rated total cooling capacity.", "heat flow",
          factors=(0.5, 2.0), units=("ton", "kBtu/h", "kW")),
    Field("unit.efficiency", UNIT, "Efficiency", "Rated efficiency of the nameplate.",
          "efficiency ratio", factors=(0.7, 1.5), units=("EER", "COP")),
    Field("unit.condensing_floor", UNIT, "Minimum condensing temperature",
          "Head-pressure control holds the condenser at or above this.", "temperature",
          ("70 degF", "115 degF"), units=("degF", "degC")),
    Field("air.supply_flow", UNIT, "Supply air", "Air the unit’s fan moves.", "air flow",
          factors=(0.6, 1.5), units=("cfm", "L/s")),
    Field("air.outdoor_flow", UNIT, "Outdoor air", "Ventilation air in occupied hours.", "air flow",
          factors=(0.0, 2.0), units=("cfm", "L/s")),
    Field("prices.electricity", PRICES, "Electricity price", "Price of a kWh; where a bill has "
          "demand charges, its average.", "energy price", factors=(0.4, 2.5), units=("USD/kWh",)),
    Field("prices.gas", PRICES, "Gas price", "Price of gas.", "energy price", factors=(0.4, 2.5),
          units=("USD/therm", "USD/kWh")),
)  # fmt: skip


def option_fields(case: Case) -> tuple[Field, ...]:
    """Fields of the options: first cost, and the effectiveness of condenser heat."""
    found = []
    for option in case.option_cases():
        place = f"options.{option.key}"
        for i, source in enumerate(option.case.reheat):
            if source.source == "condenser" and "reheat" in case.options[option.key]:
                found.append(
                    Field(
                        f"{place}.reheat.{i}.effectiveness", OPTIONS,
                        f"{option.title}: coil effectiveness",
                        "Share of the temperature difference between condenser and air that the "
                        "reheat coil takes.",
                        "fraction", ("20 %", "90 %"), units=("%",),
                    )
                )  # fmt: skip
        found.append(
            Field(
                f"{place}.cost.first_cost", OPTIONS, f"{option.title}: first cost",
                "What it costs to put in, installed.", "money", units=("USD",),
            )
        )  # fmt: skip
    return tuple(found)


def all_fields(case: Case) -> tuple[Field, ...]:
    """Every field of the page for a case, in the order shown."""
    return (*FIELDS, *option_fields(case))


def value_at(case: Case, path: str) -> Any:
    """The value at a place of a case; None where nothing stands there."""
    found: Any = case
    parts = path.split(".")
    if parts[0] == "options":
        option = next(o for o in case.option_cases() if o.key == parts[1])
        found, parts = option.case, parts[2:]
    for part in parts:
        found = found[int(part)] if part.isdigit() else getattr(found, part, None)
        if found is None:
            return None
    return found


def written(value: Any) -> str:
    """A value as it stands in the case file."""
    if value is None:
        return ""
    if isinstance(value, Measured):
        return value.text
    return str(value)


def field_content(field: Field, case: Case, first: Case, display: Display) -> dict[str, Any]:
    """What the page needs to show a field."""
    value = value_at(case, field.path)
    own = value_at(first, field.path)
    content: dict[str, Any] = {
        "path": field.path,
        "group": field.group,
        "label": field.label,
        "help": field.help,
        "value": written(value),
        "case_value": written(own),
        "units": list(field.units if display == "I-P" else reversed(field.units)),
        "choices": list(field.choices),
    }
    slider = _slider(field, value, own)
    if slider is not None:
        content["slider"] = slider
    return content


def _slider(field: Field, value: Any, own: Any) -> dict[str, Any] | None:
    """Ends, step and value of a field's slider, in the unit the case writes it in."""
    value, own = _measured(value, field), _measured(own, field)
    if not isinstance(value, float) or (field.span is None and field.factors is None):
        return None
    unit = _unit_of(value, field)
    if field.span is not None:
        low, high = (_in(float(parse(end, field.kind)), field.kind, unit) for end in field.span)
    else:
        assert field.factors is not None
        base = _in(float(own if isinstance(own, float) else value), field.kind, unit)
        low, high = (factor * base for factor in field.factors)
    now = _in(float(value), field.kind, unit)
    if not high > low:
        return None
    step = _step((high - low) / 100.0)
    return {
        "low": _round(min(low, now), step),
        "high": _round(max(high, now), step),
        "step": step,
        "value": _rounded(now),
        "mark": _rounded(_in(float(own), field.kind, unit)) if isinstance(own, float) else None,
        "unit": unit,
    }


def _measured(value: Any, field: Field) -> Any:
    """A limit is kept as it is written, for its kind hangs on the control: here it is measured."""
    if not isinstance(value, str) or not field.kind:
        return value
    try:
        return parse(value, field.kind)
    except InputError:
        return value


def _rounded(value: float) -> float:
    return float(f"{value:.6g}")


def _unit_of(value: float, field: Field) -> str:
    """The unit a value was written in, where it is one of the page's; else the page's first."""
    if isinstance(value, Measured):
        tail = value.text.strip().lstrip("+-0123456789.,eE ").strip()
        if tail in field.units:
            return tail
    return field.units[0]


def _in(value_si: float, kind: str, unit: str) -> float:
    one, zero = (float(parse(f"{x} {unit}", kind)) for x in (1, 0))
    return (value_si - zero) / (one - zero)


def _step(about: float) -> float:
    power = 1.0
    while power > about:
        power /= 10.0
    while power * 10.0 <= about:
        power *= 10.0
    return next(power * f for f in (5.0, 2.0, 1.0) if power * f <= about)


def _round(value: float, step: float) -> float:
    return float(f"{round(value / step) * step:.10g}")
