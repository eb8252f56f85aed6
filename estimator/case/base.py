"""What all tables of the case file share."""

from __future__ import annotations

import ast
import inspect
import sys
from collections.abc import Mapping
from functools import cache
from itertools import pairwise
from typing import Any, ClassVar, Self

from pydantic import (
    BaseModel,
    ConfigDict,
    GetJsonSchemaHandler,
    ModelWrapValidatorHandler,
    ValidationError,
    model_validator,
)

from dewledger.case.reading.problems import sentence
from dewledger.quantities import Measured
from dewledger.weather.errors import InputError


class Section(BaseModel):
    """A table of the case file: frozen, no unknown keys, a docstring under each field.

    Some defaults follow another choice (a Saturday follows the weekday, an efficiency follows its
    source). They are filled in once the table is read, and a case that is written back leaves them
    out, so that they go on following.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    following: ClassVar[frozenset[str]] = frozenset()

    @model_validator(mode="wrap")
    @classmethod
    def _anew(cls, value: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        """A table that is handed on into another case is read anew there: what was filled in by
        its former neighbors is not taken along."""
        return handler(value.given() if isinstance(value, cls) else value)

    @classmethod
    def meaning(cls, name: str) -> str:
        """What the docstring under a field says, in one line; "" where it has none.

        Read from the source when it is asked for: pydantic's own reading of it is a third of what
        importing a case takes.
        """
        return " ".join(_docstrings_of(cls).get(name, "").split())

    @classmethod
    def __get_pydantic_json_schema__(
        cls, core_schema: Any, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        schema = handler(core_schema)
        fields = handler.resolve_ref_schema(schema).get("properties", {})
        for name, text in _docstrings_of(cls).items():
            if name in fields:
                fields[name]["description"] = text
        return schema

    def fill(self, name: str, value: Any) -> None:
        """Set a default that follows another choice; the field still counts as not given."""
        self.__dict__[name] = value

    def as_table(self) -> dict[str, Any]:
        """The table as understood, quantities as written, defaults filled in but for those that
        follow another choice."""
        return {
            name: plain(value)
            for name, value in self
            if value is not None and (name in self.model_fields_set or name not in self.following)
        }

    def given(self) -> dict[str, Any]:
        """What was given, quantities as written, and no default: it reads back to this table."""
        return {
            name: plain(value, given=True)
            for name, value in self
            if value is not None and name in self.model_fields_set
        }

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """A copy with some values changed, read as the table itself is read.

        Raises
        ------
        InputError : the changed table is wrong
        """
        return type(self)._read({**self.given(), **plain(dict(update or {}), given=True)})

    @classmethod
    def _read(cls, table: dict[str, Any]) -> Self:
        try:
            return cls.model_validate({k: v for k, v in table.items() if v is not None})
        except ValidationError as error:
            raise InputError(sentence(error, cls)) from None


@cache
def _docstrings_of(table: type[Section]) -> dict[str, str]:
    """The docstring under each field of a table, those of the tables that it extends included."""
    found: dict[str, str] = {}
    for one in reversed(table.__mro__):
        if issubclass(one, Section):
            body = _classes_of(one.__module__)[one.__name__].body
            for statement, said in pairwise(body):
                match statement, said:
                    case (
                        ast.AnnAssign(target=ast.Name(id=name)),
                        ast.Expr(value=ast.Constant(value=str(text))),
                    ):
                        found[name] = inspect.cleandoc(text)
    return found


@cache
def _classes_of(module: str) -> dict[str, ast.ClassDef]:
    tree = ast.parse(inspect.getsource(sys.modules[module]))
    return {one.name: one for one in tree.body if isinstance(one, ast.ClassDef)}


def plain(value: Any, given: bool = False) -> Any:
    """A value of a case as TOML and JSON know it, quantities as written; ``given`` leaves out the
    defaults of its tables."""
    if isinstance(value, Section):
        return value.given() if given else value.as_table()
    if isinstance(value, Measured):
        return value.text
    if isinstance(value, tuple | list):
        return [plain(item, given) for item in value]
    if isinstance(value, Mapping):
        return {key: plain(item, given) for key, item in value.items()}
    return value


Group = tuple[str, ...]


# Fields of which a table gives one group or the other, by the table's place in the case.
ALTERNATIVES: dict[str, tuple[tuple[Group, Group], ...]] = {
    "room": ((("heat_capacity",), ("heat_capacity_per_area",)),),
    "loads.people": (
        (("count",), ("area_per_person",)),
        (("activity",), ("sensible", "latent")),
    ),
    "loads.lights": ((("power",), ("power_density",)),),
    "loads.equipment": ((("power",), ("power_density",)),),
    "air": ((("fan_power",), ("fan_pressure", "fan_efficiency")),),
    "unit": (
        (("efficiency",), ("compressor_power",)),
        (("sensible_capacity",), ("sensible_heat_ratio",)),
    ),
    "prices": (
        (("electricity",), ("electricity_periods",)),
        (("carbon_electricity",), ("carbon_hourly",)),
    ),
}


# The same, of a choice and a value that selects it; a table may give both.
SELECTED_BY: dict[str, tuple[tuple[Group, Group], ...]] = {
    "unit": (
        (("cycling_form",), ("cycling_degradation",)),
        (("drying_control",), ("drying_leaving_temperature",)),
    ),
}


def lay_over(base: dict[str, Any], over: dict[str, Any], place: str = "") -> dict[str, Any]:
    """``over`` laid over ``base``: tables merge, all else is replaced, lists whole.

    Where ``over`` gives one of two alternatives, the other goes: an option that states a compressor
    power does not keep the efficiency of its case.
    """
    merged = dict(base)
    for first, second in (*ALTERNATIVES.get(place, ()), *SELECTED_BY.get(place, ())):
        for given, other in ((first, second), (second, first)):
            if any(name in over for name in given):
                for name in other:
                    merged.pop(name, None)
    for name, value in over.items():
        below = merged.get(name)
        if isinstance(value, dict) and isinstance(below, dict):
            merged[name] = lay_over(below, value, f"{place}.{name}" if place else name)
        else:
            merged[name] = value
    return merged


def require_one(model: BaseModel, place: str, examples: tuple[str, ...]) -> None:
    """InputError unless the model gives exactly one group of each pair of alternatives."""
    for (first, second), example in zip(ALTERNATIVES[place], examples, strict=True):
        groups = [[n for n in group if getattr(model, n) is not None] for group in (first, second)]
        if groups[0] and groups[1]:
            raise InputError(
                f"{groups[0][0]} and {groups[1][0]} are both given; keep the one meant"
            )
        whole = " or ".join(" and ".join(group) for group in (first, second))
        for group, given in zip((first, second), groups, strict=True):
            if given and len(given) < len(group):
                missing = next(name for name in group if name not in given)
                raise InputError(f"{given[0]} is given without {missing}; write both")
        if not groups[0] and not groups[1]:
            raise InputError(f"{whole} is missing; write for example {example}")
