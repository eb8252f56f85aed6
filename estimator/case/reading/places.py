"""Values of a case by their place in it: "humidity.limit", "options.condenser.reheat"."""

from __future__ import annotations

from typing import Any

from dewledger.case.base import lay_over
from dewledger.case.words import listed, nearest
from dewledger.weather.errors import InputError

_DEEPEST = 20


def put(table: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    """A case's table with one value put in its place, or taken out where the value is None.

    Parameters
    ----------
    path : tables and key, joined by dots; a number is the place in a list, from 0
    value : a table is laid over the one that is there; of two alternatives the other goes

    Raises
    ------
    InputError : the path leads nowhere; whether the key at its end is known is said when the
        table is read
    """
    steps = path.split(".") if isinstance(path, str) else []
    if not steps or not all(step.strip() for step in steps):
        raise InputError(f'"{path}" is no place in a case; write for example "humidity.limit"')
    if len(steps) > _DEEPEST:
        raise InputError(
            f'"{path[:60]}..." has {len(steps):,} dotted parts; write a place in the case, such as '
            '"humidity.limit"'
        )
    if steps[0] == "options" and len(steps) > 2 and steps[1] not in table.get("options", {}):
        known = table.get("options", {})
        raise InputError(
            f'"{path}": "{steps[1]}" is not an option{nearest(steps[1], known)}; '
            f"write one of {listed(known)}"
        )
    changed: dict[str, Any] = _put(table, steps, value, path, 0)
    return changed


def _put(inner: Any, steps: list[str], value: Any, path: str, depth: int) -> Any:
    step, last = steps[depth], depth == len(steps) - 1
    if isinstance(inner, list):
        at = int(step) if step.isdecimal() and len(step) < 5 else -1
        if not 0 <= at < len(inner):
            raise InputError(
                f'"{path}": "{".".join(steps[:depth])}" is a list of {len(inner)}; write the '
                "number of one of them, from 0"
            )
        changed = list(inner)
        changed[at] = value if last else _put(inner[at], steps, value, path, depth + 1)
        return changed
    if not isinstance(inner, dict):
        raise InputError(
            f'"{path}": "{".".join(steps[:depth])}" is a value and holds nothing; write that alone'
        )
    if not last:
        return {**inner, step: _put(inner.get(step, {}), steps, value, path, depth + 1)}
    if value is None:
        return {key: item for key, item in inner.items() if key != step}
    # An option's tables stand two steps deeper than those of the case.
    own = steps[2 if steps[0] == "options" else 0 : depth]
    return lay_over(inner, {step: value}, ".".join(own))
