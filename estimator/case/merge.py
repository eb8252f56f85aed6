"""Laying one table over another: an option over its case, given loads over a kind of room's."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel

from weather.errors import InputError

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
