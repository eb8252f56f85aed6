"""The least efficiency of equipment as parts of a verdict: modeled ratings, with their dates."""

from __future__ import annotations

from collections.abc import Iterable

from dewledger.case.allowance import Allowance
from dewledger.codes.parts import Part
from dewledger.codes.rating_standards import Comparison
from dewledger.data.rating_standards import Minimum
from dewledger.data.standings import UNCHECKED


def binds(minimum: Minimum, allowance: Allowance) -> bool | None:
    """Whether a least value binds the unit: its code, edition and the unit's date of making.

    None where it does so by its code and another rating takes its place since.
    """
    if minimum.editions:
        return allowance.code == "90.1" and allowance.edition in minimum.editions
    made = allowance.unit_made
    if made is None:
        return True
    if minimum.made_from is not None and made < minimum.made_from.year:
        return False
    if minimum.made_before is not None and made >= minimum.made_before.year:
        return None
    return True


def efficiency_parts(allowance: Allowance, comparisons: Iterable[Comparison]) -> tuple[Part, ...]:
    """One part for each least value that binds the unit."""
    parts = []
    for found in comparisons:
        low = found.minimum
        bound = binds(low, allowance)
        if bound is False:
            continue
        asks = f"{low.metric} at least {low.value:g} for equipment of this size{low.dates}."
        if bound is None:
            parts.append(_later_metric(low, asks))
            continue
        if found.value is None:
            parts.append(_not_rated(found, asks))
            continue
        parts.append(
            Part(
                low.section,
                low.metric,
                "condition",
                asks,
                "met" if found.reached else "not met",
                found.sentence,
                low.source,
                low.standing,
                kind=low.metric,
                figure=found.value,
                threshold=low.value,
                margin=found.value - low.value,
                figure_text=f"{found.value:.2f}",
                threshold_text=f"{low.value:g}",
                margin_text=f"{found.value - low.value:+.2f}".replace("-", "−"),
                exits=()
                if found.reached
                else (
                    f"a unit of {low.metric} {low.value:g} or more by its certified rating",
                    "a unit made earlier, exempt by its date (unit_made in [allowance])",
                )[: 2 if low.made_from is not None else 1],
                check=low.check or "the figure for equipment of this size and heating",
                test="minimum_efficiency",
            )
        )
    return tuple(parts)


def _not_rated(found: Comparison, asks: str) -> Part:
    """A least value of equipment with energy recovery, which no model here rates."""
    low = found.minimum
    need = f"the certified {low.metric} of the unit with its recovery device"
    return Part(
        low.section,
        low.metric,
        "condition",
        asks,
        "cannot be determined",
        f"Cannot be determined: needs {need}.",
        low.source,
        low.standing,
        missing=(need,),
        check=low.check or "the figure for equipment with energy recovery",
        test="minimum_efficiency",
    )


def _later_metric(low: Minimum, asks: str) -> Part:
    need = "the IVEC of the unit and the table that holds from 1 January 2029"
    return Part(
        low.section,
        low.metric,
        "condition",
        asks,
        "cannot be determined",
        f"From 1 January 2029 IVEC takes the place of IEER. Cannot be determined: needs {need}.",
        low.source,
        UNCHECKED,
        missing=(need,),
        check="table 2 of 10 CFR 431.97(b), which holds from 1 January 2029",
        test="minimum_efficiency",
    )
