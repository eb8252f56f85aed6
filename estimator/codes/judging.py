"""How each kind of rule is judged: a figure held against a threshold, or what must be shown.

The tests know no code and no edition; a rule of the table (``dewledger.codes.facts``) names the
test that judges it, the fact compared and the threshold.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from dewledger.case.allowance import Allowance
from dewledger.codes.facts import ReheatFacts, fact_needs, fact_words
from dewledger.data.reheat_codes import Rule
from dewledger.quantities import Display, display_unit, in_unit, rounded, show

Verdict = Literal[
    "met",
    "not met",
    "designer's judgment",
    "cannot be determined",
    "not modeled",
    "does not apply",
]
# Figures equal to this are equal: unit conversion must not decide a design exactly at a threshold.
_SAME = 1e-9


@dataclass(frozen=True)
class Finding:
    """One rule judged.

    value, limit : the figure of the design and the one it is held against, SI; None where no
        figure decides
    sentence : the verdict for a reader, with figures
    change : the single change that would turn "not met" into "met", where there is one
    change_size : how large that change is, as a share of what is changed
    """

    rule: Rule
    verdict: Verdict
    sentence: str
    value: float | None = None
    limit: float | None = None
    change: str | None = None
    change_size: float | None = None


class Context(NamedTuple):
    """What a test may look at."""

    rule: Rule
    allowance: Allowance
    facts: ReheatFacts
    display: Display


# ---------------------------------------------------------------------------------------------
# Words for figures


def written(value: float, kind: str, display: Display, figures: int = 3) -> str:
    """A figure with its unit, without zeros behind the decimal point that say nothing."""
    if kind == "temperature":
        unit = display_unit(kind, display)
        decimals = max(figures - 3, 0)
        number = in_unit(value, kind, unit)
        text = f"{number:.{decimals}f} {'°F' if unit == 'degF' else '°C'}"
    else:
        text = show(value, kind, display, figures)
    return re.sub(r"(\.\d*?)0+(?= |$)", r"\1", text).replace(". ", " ").rstrip(".")


def apart(value: float, limit: float, kind: str, display: Display) -> tuple[str, str]:
    """A value and its limit, with as many figures as it takes to tell them apart, up to seven."""
    for figures in range(3, 8):
        pair = (
            written(value, kind, display, figures),
            written(limit, kind, display, figures),
        )
        if pair[0] != pair[1]:
            return pair
    return written(value, kind, display, 3), written(limit, kind, display, 3)


def _far(value: float, limit: float, kind: str, display: Display) -> str:
    """The distance between two figures."""
    if kind == "fraction":
        return f"{rounded(100.0 * abs(value - limit), 2)} percentage points"
    difference = "temperature difference" if kind == "temperature" else kind
    return show(abs(value - limit), difference, display, 2)


def energy(kWh: float) -> str:
    return f"{rounded(kWh)} kWh"


def no_more(value: float, limit: float) -> bool:
    return value <= limit + _SAME * max(1.0, abs(limit))


def no_less(value: float, limit: float) -> bool:
    return value >= least_kept(limit)


def least_kept(limit: float) -> float:
    """The least value that still keeps a limit, rounding allowed for."""
    return limit - _SAME * max(1.0, abs(limit))


def capitalized(text: str) -> str:
    return text[:1].upper() + text[1:]


# ---------------------------------------------------------------------------------------------
# Tests: how a rule is judged


def unknown(context: Context, *facts: str) -> Finding:
    words = " and ".join(fact_needs()[fact] for fact in facts)
    return Finding(context.rule, "cannot be determined", f"Cannot be determined: needs {words}.")


def _compared(context: Context, most: bool) -> Finding:
    """A fact held against the threshold: at most, or at least."""
    rule, _, facts, display = context
    value: float | None = getattr(facts, rule.fact)
    if value is None:
        return unknown(context, rule.fact)
    limit = rule.limit
    met = no_more(value, limit) if most else no_less(value, limit)
    seen, asked = apart(value, limit, rule.kind, display)
    words = capitalized(fact_words()[rule.fact])
    bound = "at most" if most else "at least"
    if met:
        return Finding(rule, "met", f"{words} is {seen}: {bound} {asked}.", value, limit)
    far = _far(value, limit, rule.kind, display)
    side = "above" if most else "short of"
    sentence = f"{words} is {seen}: {far} {side} {asked}."
    change = _smaller(context, value, limit) if most else None
    size = 1.0 - limit / value if change else None
    return Finding(rule, "not met", sentence, value, limit, change, size)


def _smaller(context: Context, value: float, limit: float) -> str | None:
    rule, _, facts, display = context
    if not rule.change:
        return None
    count = math.ceil(value * facts.number_of_units / limit - _SAME)
    return rule.change.format(threshold=written(limit, rule.kind, display, 3), count=count)


def _at_most(context: Context) -> Finding:
    return _compared(context, most=True)


def _at_least(context: Context) -> Finding:
    return _compared(context, most=False)


def _unloading_unit(context: Context) -> Finding:
    rule, allowance, facts, display = context
    size = _compared(context, most=True)
    if size.verdict == "cannot be determined":
        return size
    half = rule.also_limit
    least = facts.minimum_capacity_frac
    unloads = allowance.unloads_to_half if least is None else no_more(least, half)
    unloading = {
        True: "The unit unloads far enough",
        False: "The unit does not unload far enough",
        None: "Whether the unit unloads far enough is not known",
    }[unloads]
    if least is not None:
        unloading += f" (to {apart(least, half, 'fraction', display)[0]})"
    sentence = f"{size.sentence} {unloading}."
    if size.verdict == "not met":
        # Only one change at a time: a large unit that does not unload needs two.
        alone = unloads is not False
        return Finding(
            rule,
            "not met",
            sentence,
            size.value,
            size.limit,
            size.change if alone else None,
            size.change_size if alone else None,
        )
    if unloads is None:
        sentence = f"{size.sentence} To be shown: {rule.needed}."
        return Finding(rule, "designer's judgment", sentence, size.value, size.limit)
    if unloads:
        return Finding(rule, "met", sentence, size.value, size.limit)
    change = rule.also_change.format(also=rule.also)
    step = None if least is None else 1.0 - half / least
    return Finding(rule, "not met", sentence, size.value, size.limit, change, step)


# What a designer must show where only the case's outdoor air keeps the flow from being cut further.
_OUTDOOR_RATE = "that this outdoor air is no more than the ventilation rate asked for"


_THOSE_HOURS = "that the control of the unit built cuts it in those hours too"


def _flow(context: Context) -> tuple[Finding, list[str]]:
    """The flow when reheat starts against what it must be cut to, and what is left to be shown."""
    rule, _, facts, display = context
    value = facts.minimum_flow_frac
    if value is None:
        return unknown(context, rule.fact), []
    outdoor = facts.outdoor_flow_frac
    limit = max(rule.limit, outdoor or 0.0)
    seen, asked = apart(value, limit, "fraction", display)
    if limit > rule.limit:
        asked += ", the outdoor air"
    if no_more(value, limit):
        sentence = f"Supply air is {seen} of design flow when reheat starts: at most {asked}."
        shown = [] if no_more(value, rule.limit) else [_OUTDOOR_RATE]
        hours = sum(flow > limit + 1e-6 for flow in facts.reheat_flows_above)
        if hours:
            sentence += f" In {hours:,} h of the year reheat runs with more."
            shown += [_THOSE_HOURS]
        return Finding(rule, "met", sentence, value, limit), shown
    if outdoor is None:
        return unknown(context, "outdoor_flow_frac"), []
    far = _far(value, limit, "fraction", display)
    sentence = f"Supply air is {seen} of design flow when reheat starts: {far} above {asked}."
    change = rule.change.format(threshold=written(limit, "fraction", display, 3))
    return Finding(rule, "not met", sentence, value, limit, change, 1.0 - limit / value), []


def _still_shown(found: Finding, shown: list[str]) -> Finding:
    if not shown:
        return found
    sentence = f"{found.sentence} To be shown: {', and '.join(shown)}."
    return replace(found, verdict="designer's judgment", sentence=sentence)


def _flow_reduction(context: Context) -> Finding:
    """What the system is capable of: how it runs in single hours is no matter."""
    found, shown = _flow(context)
    return _still_shown(found, [one for one in shown if one != _THOSE_HOURS])


def _flow_reduction_configured(context: Context) -> Finding:
    rule, allowance, facts, _ = context
    found, shown = _flow(context)
    # A unit that never brings more than its outdoor air has nothing to cut.
    at_outdoor_rate = facts.outdoor_flow_frac is not None and facts.outdoor_flow_frac > 1.0 - _SAME
    if found.verdict != "met" or at_outdoor_rate:
        return _still_shown(found, shown)
    known = facts.flow_cut_first
    cuts = allowance.supply_flow_reduced_first if known is None else known
    if cuts is None:
        return _still_shown(found, [rule.needed, *shown])
    if cuts:
        return _still_shown(found, shown)
    who = "is stated not to" if known is None else "of the case does not"
    sentence = f"{found.sentence} The control {who} cut supply air before reheat."
    change = "set up the control to cut supply air before any reheat"
    return Finding(rule, "not met", sentence, found.value, found.limit, change, 0.0)


def _recovered_share(context: Context) -> Finding:
    rule, _, facts, display = context
    share = facts.recovered_share
    if share is None:
        sentence = "Cannot be determined: no reheat occurred, so there is no share to judge."
        return Finding(rule, "cannot be determined", sentence)
    limit = rule.limit
    seen, asked = apart(share, limit, "fraction", display)
    words = f"{seen} of the year's {energy(facts.reheat_kWh)} of reheat was recovered"
    if no_less(share, limit):
        return Finding(rule, "met", f"{words}: at least {asked}.", share, limit)
    far = _far(share, limit, "fraction", display)
    move = (limit - share) * facts.reheat_kWh
    return Finding(
        rule,
        "not met",
        f"{words}: {far} short of {asked}.",
        share,
        limit,
        rule.change.format(move=energy(move)) if rule.change else None,
        limit - share,
    )


def _process_space(context: Context) -> Finding:
    rule, allowance, _, _ = context
    if allowance.process_humidity is None:
        sentence = "No process that needs a specific humidity is stated."
        return Finding(rule, "not met", sentence)
    if allowance.process_space not in rule.spaces:
        sentence = f"This edition does not name a {allowance.process_space} among such spaces."
        return Finding(rule, "not met", sentence)
    stated = f"stated: {allowance.process_humidity.rstrip('.')}"
    if not rule.threshold:
        sentence = f"To be shown: {rule.needed} ({stated})."
        return Finding(rule, "designer's judgment", sentence)
    share = _recovered_share(context)
    if share.verdict != "met":
        return share
    sentence = f"{share.sentence} To be shown: {rule.needed} ({stated})."
    return Finding(rule, "designer's judgment", sentence, share.value, share.limit)


def _desiccant(context: Context) -> Finding:
    rule, allowance, _, display = context
    if not allowance.desiccant:
        sentence = "Not modeled: the case has no desiccant system."
        return Finding(rule, "not modeled", sentence)
    value = allowance.desiccant_heat_removed
    if value is None:
        return Finding(rule, "not modeled", f"Desiccants are not modeled: show {rule.needed}.")
    limit = rule.limit
    seen, asked = apart(value, limit, "fraction", display)
    if no_less(value, limit):
        sentence = (
            f"Desiccants are not modeled; stated {seen}, at least {asked}. To be shown: "
            f"{rule.needed}."
        )
        return Finding(rule, "designer's judgment", sentence, value, limit)
    far = _far(value, limit, "fraction", display)
    sentence = f"Desiccants are not modeled; stated {seen}, {far} short of {asked}."
    return Finding(rule, "not met", sentence, value, limit)


def _drying_floor(context: Context) -> Finding:
    rule, _, facts, display = context
    value = facts.humidity_limit_rh
    if value is None and facts.dried_hours is not None:
        return _dried_by_supply(context, facts.dried_hours, facts.dried_hours_below or 0.0)
    if value is None:
        return Finding(rule, "does not apply", "No humidity limit is enforced.")
    seen, asked = apart(value, rule.limit, "fraction", display)
    if no_less(value, rule.limit):
        sentence = f"Drying stops at {seen} RH: at least {asked}."
        return Finding(rule, "met", sentence, value, rule.limit)
    far = _far(value, rule.limit, "fraction", display)
    return _process_humidity(context, f"The limit is {seen} RH: {far} below {asked}.", value)


def _dried_by_supply(context: Context, hours: float, below: float) -> Finding:
    """Drying that no limit of the room stops: judged by the year's own hours."""
    rule, _, _, display = context
    asked = written(rule.limit, "fraction", display)
    words = f"Supply air is dried to a dew point in {hours:,.0f} h, whatever the room's humidity"
    if below <= 0.0:
        sentence = f"{words}: the room is at or above {asked} RH in all of them."
        return Finding(rule, "met", sentence, below, 0.0)
    sentence = f"{words}: the room is below {asked} RH in {below:,.0f} of them."
    return _process_humidity(context, sentence, None)


def _humidifying_ceiling(context: Context) -> Finding:
    rule, _, facts, display = context
    value = facts.humidifying_rh
    if value is None:
        return Finding(rule, "does not apply", "Nothing humidifies.")
    seen, asked = apart(value, rule.limit, "fraction", display)
    if no_more(value, rule.limit):
        sentence = f"Humidifying stops at {seen} RH: at most {asked}."
        return Finding(rule, "met", sentence, value, rule.limit)
    far = _far(value, rule.limit, "fraction", display)
    return _process_humidity(context, f"Humidified to {seen} RH: {far} above {asked}.", value)


def _process_humidity(context: Context, sentence: str, value: float | None) -> Finding:
    """Beyond a humidity set-point rule: its exceptions for process needs and tight control."""
    rule, allowance, facts, display = context
    if allowance.process_humidity is None and not allowance.tight_humidity:
        sentence += " No process or accreditation need is stated."
        return Finding(rule, "not met", sentence, value, rule.limit)
    shown = f" To be shown: {rule.needed}."
    # A deadband separates drying from humidifying: without either there is none to judge.
    both = facts.humidifying_rh is not None and facts.humidity_limit_rh is not None
    if rule.also and both and not allowance.tight_humidity:
        deadband = facts.humidity_deadband
        if deadband is None:
            deadband = allowance.humidity_deadband
        if deadband is None:
            sentence += (
                " Cannot be determined: needs the deadband of humidity control "
                "(humidity_deadband in [allowance])."
            )
            return Finding(rule, "cannot be determined", sentence, value, rule.limit)
        seen, asked = apart(deadband, rule.also_limit, "fraction", display)
        if not no_less(deadband, rule.also_limit):
            sentence += f" The deadband is {seen} RH: less than {asked}."
            return Finding(rule, "not met", sentence, value, rule.limit)
        sentence += f" The deadband is {seen} RH: at least {asked}."
    return Finding(rule, "designer's judgment", sentence + shown, value, rule.limit)


def _ventilation_heating(context: Context) -> Finding:
    rule, _, facts, display = context
    hours = facts.ventilation_hours_above
    if hours is None:
        return unknown(context, "ventilation_hours_above")
    limit = written(rule.limit, "temperature", display, 3)
    if hours <= 0.0:
        sentence = f"No hour warms ventilation air above {limit} while zones need cooling."
        return Finding(rule, "met", sentence, hours, 0.0)
    heat = facts.ventilation_heat_above_kWh
    words = "" if heat is None else f", with {energy(heat)} of heat beyond it"
    over = f"{hours:,.0f} h while zones need cooling{words}"
    sentence = f"Ventilation air is warmed above {limit} in {over}."
    return Finding(rule, "not met", sentence, hours, 0.0)


def _designer(context: Context) -> Finding:
    rule = context.rule
    return Finding(rule, "designer's judgment", f"To be shown: {rule.needed}.")


TESTS: dict[str, Callable[[Context], Finding]] = {
    "at_most": _at_most,
    "at_least": _at_least,
    "unloading_unit": _unloading_unit,
    "flow_reduction": _flow_reduction,
    "flow_reduction_configured": _flow_reduction_configured,
    "recovered_share": _recovered_share,
    "process_space": _process_space,
    "desiccant": _desiccant,
    "drying_floor": _drying_floor,
    "humidifying_ceiling": _humidifying_ceiling,
    "ventilation_heating": _ventilation_heating,
    "designer": _designer,
}


def judge(context: Context) -> Finding:
    """A rule judged, after what decides whether it speaks of the system at all."""
    rule, facts = context.rule, context.facts
    missing = []
    for name in rule.applies:
        value: bool | None = getattr(facts, name.lstrip("!"))
        if value is None:
            missing.append(name.lstrip("!"))
        elif value == name.startswith("!"):
            words = fact_words()[name.lstrip("!")].removeprefix("whether ")
            answer = "yes" if value else "no"
            return Finding(rule, "does not apply", f"Does not apply ({words}: {answer}).")
    return unknown(context, *missing) if missing else TESTS[rule.test](context)
