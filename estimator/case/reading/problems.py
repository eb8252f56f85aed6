"""What pydantic found wrong with a case, as one sentence that names the place as it is written."""

from __future__ import annotations

import types
import typing
from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel, ValidationError

from dewledger.case.words import listed, nearest

Place = tuple[int | str, ...]

# A misspelt key often leaves another missing: the spelling is the thing to say.
_FIRST = ("extra_forbidden",)
_MOST_KEYS = 12
_WORDS = {
    "string_type": "a text is expected; write it in quotes",
    "bool_type": "write true or false, without quotes",
    "bool_parsing": "write true or false, without quotes",
    "int_type": "a whole number is expected, without quotes",
    "int_parsing": "a whole number is expected, without quotes",
    "int_from_float": "a whole number is expected",
    "float_type": "a number is expected, without quotes",
    "float_parsing": "a number is expected, without quotes",
    "finite_number": "a finite number is expected",
    "tuple_type": "a list is expected; write it in square brackets, with commas between",
}


def sentence(
    error: ValidationError,
    model: type[BaseModel],
    option: str = "",
    over: dict[str, Any] | None = None,
) -> str:
    """The first thing to put right.

    Parameters
    ----------
    model : the model that was validated
    option, over : key and content of the option whose merged case it was
    """
    found = error.errors(include_url=False)
    first = next((e for e in found if e["type"] in _FIRST), found[0])
    place = tuple(first["loc"])
    over = over or {}
    inside = bool(option and place and place[0] in over)
    text = _message(first, place, model)
    where, field = _where(place, model, f"options.{option}" if inside else "")
    if option and not inside:
        text = f'{text} (in option "{option}")'
    if field and text.startswith(f"{field} "):
        return f"{where} {text}"
    if first["type"] == "extra_forbidden" and isinstance(first["input"], dict):
        where, field = f"[{'.'.join([where.strip('[]'), field]).lstrip('.')}]", ""
    if place == ("options",):
        field = ""
    head = " ".join(part for part in (where, field) if part)
    return f"{head}: {text}" if head else text


def _message(error: Any, place: Place, model: type[BaseModel]) -> str:
    kind = error["type"]
    if kind == "extra_forbidden":
        return _unknown_key(place, model)
    if kind == "missing":
        return _missing(place, model)
    if kind == "value_error":
        return str(error["ctx"]["error"])
    if kind == "literal_error":
        owner = _model_at(place[:-1], model)
        known = _choices(owner, str(place[-1])) if owner else ()
        value = error["input"]
        return f'"{value}" is not known{nearest(str(value), known)}; write {listed(known)}'
    if kind in ("model_type", "dict_type", "model_attributes_type"):
        return "a table is expected; write its name in [brackets] and its fields below"
    if kind == "tuple_type" and _model_at(place, model) is not None:
        name = place[-1]
        return f"a list of tables is expected; write [[{name}]], or {name} = []"
    if kind == "greater_than_equal":
        return f"{error['input']} is below {error['ctx']['ge']:g}, the least it may be"
    if kind == "less_than_equal":
        return f"{error['input']} is above {error['ctx']['le']:g}, the most it may be"
    return f'"{_quoted(error["input"])}": {_WORDS.get(kind, error["msg"])}'


def _quoted(value: object) -> str:
    """What was written, or its beginning where it is long."""
    if isinstance(value, int) and abs(value) > 10**15:
        return "a number of many digits"
    text = " ".join(str(value).split())
    return text if len(text) <= 60 else f"{text[:57]}..."


def _where(place: Place, model: type[BaseModel], prefix: str) -> tuple[str, str]:
    """The table in brackets and the field within it, "" where there is none."""
    tables: list[str] = [prefix] if prefix else []
    field = ""
    owner: Any = model
    in_list = ""
    for step in place:
        if isinstance(step, int):
            if field:
                field = f"{field}, value {step + 1}"
            else:
                in_list = f"number {step + 1}"
            continue
        annotation = _annotation(owner, step)
        inner = _inner_model(annotation)
        if field:
            field = f"{field}.{step}"
        elif isinstance(owner, _Values):
            tables.append(_key(step))
            owner = owner.model
        elif inner is not None:
            tables.append(_key(step))
            owner = inner
        else:
            field = step
    name = ".".join(tables)
    if not name:
        return "", field
    bracketed = f"[[{name}]] {in_list}" if in_list else f"[{name}]"
    return bracketed, field


class _Values:
    """A table whose keys the user names, each value a model."""

    def __init__(self, model: Any) -> None:
        self.model = model


def _key(name: str) -> str:
    return name if name.replace("-", "").replace("_", "").isalnum() else f'"{name}"'


def _annotation(owner: Any, name: str) -> Any:
    if isinstance(owner, type) and issubclass(owner, BaseModel) and name in owner.model_fields:
        return owner.model_fields[name].annotation
    return None


def _inner_model(annotation: Any) -> Any:
    """The model within an annotation, or _Values of it for a dict; None where there is none."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    origin, inner = typing.get_origin(annotation), typing.get_args(annotation)
    if origin is dict:
        found = _inner_model(inner[1])
        return _Values(found) if found is not None else None
    if origin in (typing.Union, types.UnionType, tuple, list, typing.Annotated):
        for part in inner:
            found = _inner_model(part)
            if found is not None:
                return found
    return None


def _model_at(place: Place, model: type[BaseModel]) -> Any:
    owner: Any = model
    for step in place:
        if isinstance(step, int):
            continue
        owner = (
            owner.model if isinstance(owner, _Values) else _inner_model(_annotation(owner, step))
        )
        if owner is None:
            return None
    return owner


def _choices(owner: Any, name: str) -> tuple[str, ...]:
    def literals(annotation: Any) -> Iterator[str]:
        if typing.get_origin(annotation) is typing.Literal:
            yield from typing.get_args(annotation)
        else:
            for part in typing.get_args(annotation):
                yield from literals(part)

    return tuple(literals(_annotation(owner, name)))


def _tables(model: Any, name: str = "") -> Iterator[tuple[str, Any]]:
    yield name, model
    for field, info in model.model_fields.items():
        inner = _inner_model(info.annotation)
        if isinstance(inner, type):
            yield from _tables(inner, f"{name}.{field}" if name else field)


def _unknown_key(place: Place, model: type[BaseModel]) -> str:
    key = str(place[-1])
    owner = _model_at(place[:-1], model)
    known = list(owner.model_fields) if owner else []
    hint = nearest(key, known)
    if not hint:
        homes = [
            f"[{table}]" for table, other in _tables(model) if table and key in other.model_fields
        ]
        if homes:
            return f"this key is not known here; it belongs in {' or '.join(homes[:3])}"
        more = f" and {len(known) - _MOST_KEYS} more" if len(known) > _MOST_KEYS else ""
        shown = ", ".join(known[:_MOST_KEYS])
        return f"this key is not known{f'; known are {shown}{more}' if known else ''}"
    return f"this key is not known{hint}"


def _missing(place: Place, model: type[BaseModel]) -> str:
    name = str(place[-1])
    owner = _model_at(place[:-1], model)
    inner = _inner_model(_annotation(owner, name))
    if inner is not None:
        fields = [field for field, info in inner.model_fields.items() if info.is_required()]
        needs = f" with {', '.join(fields)}" if fields else ""
        return f"this table is missing; write it{needs}"
    example = _example(owner, name)
    return f"this field is missing{f'; write for example {name} = {example}' if example else ''}"


_EXAMPLES = {
    "title": '"Instrument library"',
    "weather": '"greensboro"',
    "source": '"electric"',
    "path": '"loads.csv"',
}


def _example(owner: Any, name: str) -> str:
    schema = owner.model_json_schema()["properties"].get(name, {})
    examples = schema.get("examples")
    return f'"{examples[0]}"' if examples else _EXAMPLES.get(name, "")
