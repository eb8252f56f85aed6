"""The published checks that ``dewledger verify`` runs, and that the tests run one by one.

Each check names its source, the published figure, the tolerance and why that tolerance;
``standing`` says how well it is known, or that it is a library's or common practice.
"""

from __future__ import annotations

from dewledger.published.check import Check, Result, counted_apart, evaluate, in_words

__all__ = [
    "Check",
    "Result",
    "all_checks",
    "counted_apart",
    "evaluate",
    "in_words",
    "run_checks",
]


def all_checks() -> tuple[Check, ...]:
    """Every check, in the order in which it is shown."""
    from dewledger.published import (
        climate,
        factory_tables,
        moist_air,
        refrigeration,
        standard_140,
        unit_map,
    )

    return (
        *moist_air.checks(),
        *refrigeration.checks(),
        *unit_map.checks(),
        *factory_tables.checks(),
        *climate.checks(),
        *standard_140.checks(),
    )


def run_checks(progress: object = None) -> tuple[Result, ...]:
    """Compute every check; ``progress`` is called with (what, step, steps)."""
    found = all_checks()
    results = []
    for step, check in enumerate(found):
        if callable(progress):
            progress(check.group, step, len(found))
        results.append(evaluate(check))
    return tuple(results)
