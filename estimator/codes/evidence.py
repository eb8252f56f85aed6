"""A rule judged: verdict, evidence in one sentence, figure against threshold, ways to meet it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, NamedTuple

from dewledger.case.allowance import Allowance
from dewledger.codes.facts import ReheatFacts, fact_needs
from dewledger.codes.parts import (
    SAME,
    Part,
    PartRole,
    Verdict,
    alike,
    apart,
    distance,
    energy,
    joined,
    written,
)
from dewledger.data.reheat_codes import Rule
from dewledger.quantities import Display


class Context(NamedTuple):
    """What a rule is judged by."""

    rule: Rule
    allowance: Allowance
    facts: ReheatFacts
    display: Display


class Measure(NamedTuple):
    """A figure of the design and the one it is compared with."""

    value: float
    limit: float
    kind: str
    most: bool = True  # the limit is an upper one


def part(
    context: Context,
    verdict: Verdict,
    evidence: str,
    measure: Measure | None = None,
    missing: tuple[str, ...] = (),
) -> Part:
    """A rule judged; its exits are those of the table, where it is not met."""
    rule, allowance, _, display = context
    role: PartRole = "rule" if rule.role == "baseline" else rule.role
    compared: dict[str, Any] = {}
    if measure is not None:
        gap = 0.0 if alike(measure.value, measure.limit) else measure.limit - measure.value
        margin = gap if measure.most else -gap
        shown = texts(measure, display)
        compared = {
            "kind": measure.kind,
            "figure": measure.value,
            "threshold": measure.limit,
            "margin": margin,
            "figure_text": shown[0],
            "threshold_text": shown[1],
            "margin_text": _margin_text(margin, measure, display),
        }
    return Part(
        rule.section,
        rule.item,
        role,
        rule.text,
        verdict,
        evidence,
        rule.source,
        rule.standing(allowance.edition),
        exits=exits(context, measure) if verdict == "not met" else (),
        missing=missing,
        check=rule.check,
        test=rule.test,
        **compared,
    )


def _margin_text(margin: float, measure: Measure, display: Display) -> str:
    if margin == 0.0:
        return "0"
    return ("−" if margin < 0.0 else "+") + _far(measure, display)


def _far(measure: Measure, display: Display) -> str:
    gap = abs(measure.limit - measure.value)
    if measure.kind == "hours":
        return f"{gap:,.0f} h"
    if measure.kind == "ratio":
        return f"{gap:g}"
    return distance(measure.value, measure.limit, measure.kind, display)


def texts(measure: Measure, display: Display) -> tuple[str, str]:
    """A figure and its limit as text, with enough digits to differ."""
    if measure.kind == "hours":
        return f"{measure.value:,.0f} h", f"{measure.limit:,.0f} h"
    if measure.kind == "ratio":
        return f"{measure.value:g}", f"{measure.limit:g}"
    return apart(measure.value, measure.limit, measure.kind, display)


def exits(context: Context, measure: Measure | None) -> tuple[str, ...]:
    """What would meet the rule, its figures filled in."""
    rule, _, facts, display = context
    words = {
        "threshold": written(rule.limit, rule.kind, display) if rule.threshold else "",
        "also": written(rule.also_limit, rule.also_kind, display) if rule.also else "",
        "count": "",
        "move": "",
    }
    if measure is not None and measure.kind == "heat flow" and rule.threshold:
        count = math.ceil(measure.value * facts.number_of_units / rule.limit - SAME)
        words["count"] = str(count)
    if measure is not None and rule.test in ("recovered_share", "process_space"):
        words["move"] = energy((measure.limit - measure.value) * facts.reheat_kWh, display)
    return tuple(exit.format(**words) for exit in rule.exits)


def unknown(context: Context, *facts: str) -> Part:
    """A rule that cannot be judged without these facts."""
    needs = tuple(fact_needs()[fact] for fact in facts)
    evidence = f"Cannot be determined: needs {joined(needs)}."
    return part(context, "cannot be determined", evidence, None, needs)


def to_state(context: Context, sentence: str, measure: Measure | None, *needs: str) -> Part:
    """Met by its figures, as far as what the case does not show holds."""
    evidence = f"{sentence} Cannot be determined: needs {joined(needs)}.".strip()
    return part(context, "cannot be determined", evidence, measure, needs)


def with_change(found: Part, change: str, size: float | None) -> Part:
    """A rule not met, with the one change that would meet it and its size as a share."""
    return replace(found, change=change, change_size=size)
