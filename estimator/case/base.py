"""What all tables of the case file share."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import Any, ClassVar

from pydantic import BaseModel, ConfigDict

from dewledger.quantities import Measured
from dewledger.weather.errors import InputError


class Section(BaseModel):
    """A table of the case file: frozen, no unknown keys, a docstring under each field.

    Some defaults follow another choice (a Saturday follows the weekday, an efficiency follows its
    source). They are filled in once the table is read, and a case that is written back leaves them
    out, so that they go on following.
    """

    model_config = ConfigDict(
        frozen=True, extra="forbid", use_attribute_docstrings=True, allow_inf_nan=False
    )

    following: ClassVar[frozenset[str]] = frozenset()

    def fill(self, name: str, value: Any) -> None:
        """Set a default that follows another choice; the field still counts as not given."""
        self.__dict__[name] = value

    def as_table(self) -> dict[str, Any]:
        """The table as understood, quantities as written, defaults filled in but for those that
        follow another choice."""
        return {
            name: _plain(value)
            for name, value in self
            if value is not None and (name in self.model_fields_set or name not in self.following)
        }


def _plain(value: Any) -> Any:
    if isinstance(value, Section):
        return value.as_table()
    if isinstance(value, BaseModel):
        return value.model_dump(exclude_none=True)
    if isinstance(value, Measured):
        return value.text
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    return value


def nearest(word: str, known: Iterable[str]) -> str:
    """A hint such as ' (did you mean "gas"?)', or nothing where no known word is near."""
    by_lower = {name.lower(): name for name in known}
    low = str(word).lower()
    begins = [name for name in by_lower if len(low) > 2 and name.startswith(low)]
    found = begins if len(begins) == 1 else difflib.get_close_matches(low, by_lower, n=1)
    return f' (did you mean "{by_lower[found[0]]}"?)' if found else ""


def listed(words: Iterable[str]) -> str:
    """'"a", "b" or "c"'."""
    quoted = [f'"{word}"' for word in words]
    return " or ".join([", ".join(quoted[:-1]), quoted[-1]] if len(quoted) > 1 else quoted)


def written(value: float) -> str:
    """A quantity as its user wrote it."""
    return str(getattr(value, "text", f"{value:g}"))


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


def lay_over(base: dict[str, Any], over: dict[str, Any], place: str = "") -> dict[str, Any]:
    """``over`` laid over ``base``: tables merge, all else is replaced, lists whole.

    Where ``over`` gives one of two alternatives, the other goes: an option that states a compressor
    power does not keep the efficiency of its case.
    """
    merged = dict(base)
    for first, second in ALTERNATIVES.get(place, ()):
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
