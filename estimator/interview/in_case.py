"""The questions asked of a case that is there: their fields with the values it has, and the case
that it becomes when some of them are answered anew."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from dewledger.case.base import plain
from dewledger.case.model import Case, OptionCase
from dewledger.case.words import listed
from dewledger.interview.answers import possible_range, shown
from dewledger.interview.build import SOURCES, option_table
from dewledger.interview.defaults import DEFAULTS, RANGES
from dewledger.interview.places import LIMIT_PLACES, Place, full_load, seasonal_range
from dewledger.interview.questions import QUESTIONS, UNASKED, Field
from dewledger.interview.readers import REHEATS, TITLES
from dewledger.quantities import Measured
from dewledger.weather.errors import InputError

_NOT_KNOWN = "not known for sure to those who answered"


@dataclass(frozen=True)
class CaseField:
    """A field of a question with its place in one case.

    name : of the field; that of one option has the option's key behind an @
    label : what it is, with the option's title where it is one option's
    """

    name: str
    group: str
    label: str
    help: str
    field: Field
    place: Place

    @property
    def choices(self) -> tuple[str, ...]:
        """Words it may be, where it is one of a few."""
        return self.field.choices()


def case_fields(case: Case) -> tuple[CaseField, ...]:
    """Every field that can be asked of a case, in the order of the questions."""
    return tuple(_fields(case))


def _fields(case: Case) -> Iterator[CaseField]:
    for question in (*QUESTIONS, *UNASKED):
        for field in question.fields:
            place = _place(field, case)
            if place is None:
                continue
            if not place.of_option:
                yield CaseField(field.key, question.group, field.text, field.help, field, place)
                continue
            for option in case.option_cases():
                path = _path_of(field.key, option, case)
                if path:
                    yield CaseField(
                        f"{field.key}@{option.key}",
                        question.group,
                        f"{option.title}: {field.text[:1].lower()}{field.text[1:]}",
                        field.help,
                        field,
                        replace(place, path=path),
                    )


def _place(field: Field, case: Case) -> Place | None:
    """Where a field stands in this case; None where it has no part in it."""
    if field.key == "limit":
        return LIMIT_PLACES.get(case.humidity.control)
    if field.key == "supply_dew_point" and case.outdoor_air_unit is None:
        return None
    if field.key == "humid_now" and field.place is not None:  # seen with what stands there
        return replace(field.place, path=f"options.{case.reference_key}.{field.place.path}")
    return field.place


def _path_of(key: str, option: OptionCase, case: Case) -> str:
    """Where one option has a field; "" where it has none."""
    if key != "effectiveness":
        return f"options.{option.key}.cost.first_cost"
    for i, source in enumerate(option.case.reheat):
        if (
            source.source == "condenser"
            and source.effectiveness is not None
            and "reheat" in case.options[option.key]
        ):
            return f"options.{option.key}.reheat.{i}.effectiveness"
    return ""


def value_at(case: Case, path: str) -> Any:
    """The value at a place of a case; None where nothing stands there."""
    found: Any = case
    parts = path.split(".")
    if parts[0] == "options" and len(parts) > 1:
        option = next((o for o in case.option_cases() if o.key == parts[1]), None)
        found, parts = option.case if option is not None else None, parts[2:]
    for part in parts:
        if found is None:
            return None
        if part.isdigit():
            found = found[int(part)] if int(part) < len(found) else None
        else:
            found = getattr(found, part, None)
    return found


def text_of(field: CaseField, case: Case) -> str:
    """The value of a field in a case, as it would be answered; nothing where it has none."""
    key = field.field.key
    if key == "age":
        return ""
    if key == "system":
        return case.reference_key
    if key == "considered":
        return ", ".join(case.options)
    if key == "hours":
        days = ("weekday", "saturday", "sunday")
        spans = {day: str(getattr(case.schedule, day)) for day in days}
        return shown(field.field, spans)
    if key == "stages":
        return shown(field.field, _stages(case))
    value = value_at(case, field.place.path)
    if value is None:
        return "none" if key in ("state", "time_zone") else ""
    return value.text if isinstance(value, Measured) else str(value)


def _stages(case: Case) -> str:
    return {"cycling": "1", "variable": "variable"}.get(
        case.unit.capacity_control, str(len(case.unit.stages))
    )


def way_of(option: OptionCase) -> str:
    """The way to reheat that an option has; "" where it is none of the questions'."""
    sources = [source.source for source in option.case.reheat]
    for way, its in SOURCES.items():
        if [source["source"] for source in its] == sources:
            return way
    return ""


def _known(case: Case) -> dict[str, Any]:
    """What the case says, by the fields of the questions."""
    reference = next(o for o in case.option_cases() if o.key == case.reference_key)
    known: dict[str, Any] = {
        field.field.key: text_of(field, case) or None
        for field in case_fields(case)
        if not field.place.of_option
    }
    way = way_of(reference) or "plain"
    outside = case.outdoor_air_unit is not None
    return known | {
        "system": "outdoor-air unit" if outside else way,
        "reheat": way,
        "stages": _stages(case),
        "holiday_country": case.schedule.holiday_country,
    }


def answered(first: Case, answers: Mapping[str, str | None]) -> Case:
    """A case with some of its questions answered anew.

    Parameters
    ----------
    first : the case that is there
    answers : by the name of the field, as it would be typed; None for don't know, which takes what
        is assumed in the questions, with its source, and its range for the sensitivity

    Raises
    ------
    InputError : no such field, or an answer that does not fit
    """
    case = first
    if answers.get("considered") is not None:
        case = _considered(case, str(answers["considered"]))
    fields = {field.name: field for field in case_fields(case)}
    known = _known(case)
    values: dict[str, Any] = {}
    for name, text in answers.items():
        if name == "system" and text is not None:
            values["reference"] = _reference(case, text)
        elif name in fields and name not in ("considered", "system") and text is not None:
            value = _in_money(fields[name].field.read(text), fields[name].place, case)
            values[name] = value
            known[fields[name].field.key] = value
        elif name not in fields and "@" not in name:
            raise InputError(f'"{name[:60]}" is no question')
    return _with(case, answers, fields, known, values)


def _in_money(value: Any, place: Place, case: Case) -> Any:
    """A value of money in that of the case; answers are read in dollars."""
    currency = case.prices.currency
    if place.kind not in ("energy price", "money") or currency == "USD":
        return value
    if isinstance(value, Mapping):
        return {name: text.replace("USD", currency) for name, text in value.items()}
    return value.replace("USD", currency)


def _with(
    case: Case,
    answers: Mapping[str, str | None],
    fields: Mapping[str, CaseField],
    known: dict[str, Any],
    values: Mapping[str, Any],
) -> Case:
    """The case with what was read put in its places, and with what is not known assumed."""
    put: dict[str, Any] = {}
    assumed: dict[str, dict[str, Any]] = {}
    ranges: dict[str, Any] = {}
    order = {key: at for at, key in enumerate(DEFAULTS)}
    for name in sorted(answers, key=lambda one: order.get(one.partition("@")[0], len(order))):
        if name == "system" and name in values:
            put["reference"] = values[name]
        if name not in fields or name in ("considered", "system"):
            continue
        field = fields[name]
        if name in values:
            put |= field.place.values(values[name], known)
            seasonal = seasonal_range(values[name]) if name == "efficiency" else None
            if seasonal is not None:
                value, why = full_load(values[name])
                assumed[field.place.path] = {"value": value, "source": why}
                ranges["rated_efficiency"], ranges["reason"] = seasonal
            continue
        default = None if field.place.of_option else DEFAULTS[name](known)
        known[name] = default.value if default is not None else None
        here = field.place.values(known[name], known)
        put |= here
        if default is not None:
            assumed |= {path: {"value": v, "source": default.source} for path, v in here.items()
                        if v is not None}  # fmt: skip
        if name in RANGES:
            key, ends = RANGES[name]
            ranges[key] = ends
    if "reference" in values:
        put["reference"] = values["reference"]
    if assumed:
        put["origin.assumed"] = assumed
    changed = case.with_values(put) if put else case
    return _ranged(changed, ranges) if ranges else changed


def _ranged(case: Case, ranges: dict[str, Any]) -> Case:
    """The case with ranges of what is not known, as far as its unit can still be rated."""
    if "rated_capacity" in ranges:
        found = possible_range(case.given(), case.folder)
        if found is None:
            del ranges["rated_capacity"]
        else:
            ranges["rated_capacity"] = found
    if not ranges:
        return case
    return case.with_values({"ranges": {"reason": _NOT_KNOWN, **ranges}})


def _reference(case: Case, text: str) -> str:
    """An option of the case by its key or its title."""
    for option in case.option_cases():
        if text.strip().lower() in (option.key, option.title.lower()):
            return option.key
    titles = [option.title for option in case.option_cases()]
    raise InputError(f'"{text[:60]}" is none of the options; write {listed(titles)}')


def _considered(case: Case, text: str) -> Case:
    """The case with the options named alone: its own by their keys, others by their way."""
    wanted = [part.strip() for part in text.split(",") if part.strip()]
    own = case.given()["options"]
    options: dict[str, Any] = {}
    for name in wanted:
        if name in own:
            options[name] = own[name]
        elif name in REHEATS:
            room_unit = case.outdoor_air_unit is None
            options[name] = {"title": TITLES[name], **option_table(name, room_unit)}
        else:
            raise InputError(
                f'"{name[:60]}" is no way to reheat; write some of {listed([*own, *REHEATS])}'
            )
    if not options:
        raise InputError("no option is left; choose at least one")
    if case.reference_key not in options:
        titles = {option.key: option.title for option in case.option_cases()}
        raise InputError(
            f"“{titles[case.reference_key]}” is what the others are compared with; choose "
            "another for what stands there today first"
        )
    ordered = [*(key for key in own if key in options), *(key for key in options if key not in own)]
    return case.model_copy(update={"options": {key: plain(options[key]) for key in ordered}})
