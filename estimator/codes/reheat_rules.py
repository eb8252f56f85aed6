"""Rules on reheat: sizes and flows held against thresholds, recovered shares, process spaces."""

from __future__ import annotations

from dataclasses import replace

from dewledger.codes.evidence import (
    Context,
    Measure,
    exits,
    part,
    texts,
    to_state,
    unknown,
    with_change,
)
from dewledger.codes.facts import fact_words
from dewledger.codes.parts import (
    SAME,
    Part,
    Verdict,
    apart,
    capitalized,
    distance,
    energy,
    no_less,
    no_more,
    written,
)


def _compared(context: Context, most: bool) -> Part:
    """A fact held against the threshold: at most, or at least."""
    rule, _, facts, display = context
    value: float | None = getattr(facts, rule.fact)
    if value is None:
        return unknown(context, rule.fact)
    measure = Measure(value, rule.limit, rule.kind, most)
    met = no_more(value, rule.limit) if most else no_less(value, rule.limit)
    seen, asked = texts(measure, display)
    words = capitalized(fact_words()[rule.fact])
    bound = "at most" if most else "at least"
    if met:
        return part(context, "met", f"{words} is {seen}: {bound} {asked}.", measure)
    far = distance(value, rule.limit, rule.kind, display)
    side = "above" if most else "short of"
    found = part(context, "not met", f"{words} is {seen}: {far} {side} {asked}.", measure)
    if most and rule.role == "exception" and found.exits:
        return with_change(found, found.exits[0], 1.0 - rule.limit / value)
    return found


def at_most(context: Context) -> Part:
    """The fact must not be above the threshold."""
    return _compared(context, most=True)


def at_least(context: Context) -> Part:
    """The fact must not be below the threshold."""
    return _compared(context, most=False)


def thermostat_deadband(context: Context) -> Part:
    """The deadband between heating and cooling set point, or a stated exception."""
    found = _compared(context, most=False)
    why = context.facts.thermostat_exception
    if found.verdict != "not met" or why is None:
        return found
    return replace(found, verdict="met", evidence=f"{found.evidence} Stated: {why}.", exits=())


def stated(context: Context) -> Part:
    """A yes or no that the case or the designer states."""
    rule, _, facts, _ = context
    value: bool | None = getattr(facts, rule.fact)
    if value is None:
        return unknown(context, rule.fact)
    words = fact_words()[rule.fact].removeprefix("whether ")
    verdict: Verdict = "met" if value else "not met"
    return part(context, verdict, f"{capitalized(words)}: {'yes' if value else 'no'}.")


def unloading_unit(context: Context) -> Part:
    """A unit below a size that can unload to half or less."""
    rule, allowance, facts, display = context
    size = _compared(context, most=True)
    if size.verdict == "cannot be determined" or size.figure is None:
        return size
    measure = Measure(size.figure, rule.limit, rule.kind)
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
    sentence = f"{size.evidence} {unloading}."
    shrink, unload = exits(context, measure)
    if size.verdict == "not met":
        # Only one change at a time: a large unit that does not unload needs two.
        if unloads is False:
            both = (f"{shrink}, each of which {unload.removeprefix('a unit that ')}",)
            return replace(size, evidence=sentence, exits=both, change="", change_size=None)
        return replace(size, evidence=sentence, exits=(shrink,))
    if unloads is None:
        return to_state(context, size.evidence, measure, rule.needed)
    if unloads:
        return part(context, "met", sentence, measure)
    found = replace(part(context, "not met", sentence, measure), exits=(unload,))
    return with_change(found, unload, None if least is None else 1.0 - half / least)


# What a designer must state where only the case's outdoor air keeps the flow from being cut more.
_OUTDOOR_RATE = (
    "whether this outdoor air is no more than the ventilation rate required "
    "(outdoor_air_at_code_rate in [allowance], or rates by people and area in [air])"
)
_THOSE_HOURS = (
    "whether the control of the unit built cuts it in those hours too "
    "(supply_flow_reduced_first in [allowance])"
)


def _flow(context: Context) -> tuple[Part, Measure | None, list[str]]:
    """The flow when reheat starts against what it must be cut to, and what is left to be stated."""
    rule, _, facts, display = context
    value = facts.minimum_flow_frac
    if value is None:
        return unknown(context, rule.fact), None, []
    outdoor = facts.outdoor_flow_frac
    limit = max(rule.limit, outdoor or 0.0)
    measure = Measure(value, limit, "fraction")
    seen, asked = apart(value, limit, "fraction", display)
    if limit > rule.limit:
        asked += ", the outdoor air"
    if no_more(value, limit):
        sentence = f"Supply air is {seen} of design flow when reheat starts: at most {asked}."
        missing = []
        if not no_more(value, rule.limit) and not facts.outdoor_air_at_code_rate:
            missing.append(_OUTDOOR_RATE)
        hours = sum(flow > limit + 1e-6 for flow in facts.reheat_flows_above)
        if hours:
            sentence += f" In {hours:,} h of the year reheat runs with more."
            missing.append(_THOSE_HOURS)
        return part(context, "met", sentence, measure), measure, missing
    if outdoor is None:
        return unknown(context, "outdoor_flow_frac"), measure, []
    far = distance(value, limit, "fraction", display)
    sentence = f"Supply air is {seen} of design flow when reheat starts: {far} above {asked}."
    found = part(context, "not met", sentence, measure)
    asked_of = written(limit, "fraction", display)
    change = rule.exits[0].format(threshold=asked_of)
    found = replace(found, exits=(change,))
    return with_change(found, change, 1.0 - limit / value), measure, []


def _still_stated(context: Context, found: Part, measure: Measure | None, needs: list[str]) -> Part:
    return to_state(context, found.evidence, measure, *needs) if needs else found


def flow_reduction(context: Context) -> Part:
    """What the system is capable of: how it runs in single hours is no matter."""
    found, measure, needs = _flow(context)
    return _still_stated(context, found, measure, [one for one in needs if one != _THOSE_HOURS])


def flow_reduction_configured(context: Context) -> Part:
    """Capable of cutting its supply air, and set up to do so before any reheat."""
    rule, allowance, facts, _ = context
    found, measure, needs = _flow(context)
    # A unit that never brings more than its outdoor air has nothing to cut.
    at_outdoor_rate = facts.outdoor_flow_frac is not None and facts.outdoor_flow_frac > 1.0 - SAME
    if found.verdict != "met" or at_outdoor_rate:
        return _still_stated(context, found, measure, needs)
    known, said = facts.flow_cut_first, allowance.supply_flow_reduced_first
    cuts = said if known is None else known
    if said and known is not False:
        needs = [one for one in needs if one != _THOSE_HOURS]
    if cuts is None:
        return _still_stated(context, found, measure, [rule.needed, *needs])
    if cuts:
        return _still_stated(context, found, measure, needs)
    who = "is stated not to" if known is None else "of the case does not"
    sentence = f"{found.evidence} The control {who} cut supply air before reheat."
    change = "set up the control to cut supply air before any reheat ([air] flow_before_reheat)"
    found = replace(part(context, "not met", sentence, measure), exits=(change,))
    return with_change(found, change, 0.0)


def recovered_share(context: Context) -> Part:
    """The year's reheat, of which a share must be recovered on site."""
    rule, _, facts, display = context
    share = facts.recovered_share
    if share is None:
        return part(context, "does not apply", "No reheat occurred, so there is no share to judge.")
    limit = rule.limit
    measure = Measure(share, limit, "fraction", most=False)
    seen, asked = apart(share, limit, "fraction", display)
    words = f"{seen} of the year's {energy(facts.reheat_kWh, display)} of reheat was recovered"
    if no_less(share, limit):
        return part(context, "met", f"{words}: at least {asked}.", measure)
    far = distance(share, limit, "fraction", display)
    found = part(context, "not met", f"{words}: {far} short of {asked}.", measure)
    return with_change(found, found.exits[0] if found.exits else "", limit - share)


def process_space(context: Context) -> Part:
    """A space named by the edition, with a stated process need of a specific humidity."""
    rule, allowance, _, _ = context
    if allowance.process_humidity is None:
        found = part(context, "not met", "No process that needs a specific humidity is stated.")
        state = f"a statement of {rule.needed}" if rule.needed else ""
        return replace(found, exits=(state,))
    if allowance.process_space not in rule.spaces:
        space = allowance.process_space
        article = "an" if space[0] in "aeiou" else "a"
        sentence = f"This edition does not name {article} {space} among such spaces."
        return replace(part(context, "not met", sentence), exits=())
    stated = f"Stated: {allowance.process_humidity.rstrip('.')}; to be documented."
    if not rule.threshold:
        return part(context, "met", stated)
    share = recovered_share(context)
    # Met or not by its share; a change of the design is named by the exception without a process.
    return replace(share, evidence=f"{share.evidence} {stated}", change="", change_size=None)


def desiccant(context: Context) -> Part:
    """Heat that a desiccant adds, of which a share must be removed: stated, not modeled."""
    rule, allowance, _, display = context
    if not allowance.desiccant:
        return part(context, "does not apply", "The case has no desiccant system.")
    value = allowance.desiccant_heat_removed
    if value is None:
        return to_state(context, "Desiccants are not modeled.", None, rule.needed)
    measure = Measure(float(value), rule.limit, "fraction", most=False)
    seen, asked = apart(value, rule.limit, "fraction", display)
    if no_less(value, rule.limit):
        sentence = (
            f"Stated: {seen}, at least {asked}; desiccants are not modeled, so that this and the "
            "energy recovery are to be documented."
        )
        return part(context, "met", sentence, measure)
    far = distance(value, rule.limit, "fraction", display)
    return part(context, "not met", f"Stated: {seen}, {far} short of {asked}.", measure)
