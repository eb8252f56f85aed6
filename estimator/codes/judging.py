"""How each kind of rule is judged: a figure held against a threshold, or what must be stated.

The tests know no code and no edition; a rule of the table (``dewledger.data.reheat_codes``) names
the test that judges it, the fact compared and the threshold.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

from dewledger.case.allowance import Allowance
from dewledger.codes.facts import ReheatFacts, fact_needs, fact_words
from dewledger.codes.parts import (
    SAME,
    Part,
    PartRole,
    Verdict,
    apart,
    capitalized,
    distance,
    energy,
    joined,
    no_less,
    no_more,
    written,
)
from dewledger.data.reheat_codes import Rule
from dewledger.quantities import Display, parse


class Context(NamedTuple):
    """What a test may look at."""

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
    made = Part(
        rule.section,
        rule.item,
        role,
        rule.text,
        verdict,
        evidence,
        rule.source,
        rule.standing(allowance.edition),
        exits=_exits(context, measure) if verdict == "not met" else (),
        missing=missing,
        check=rule.check,
        test=rule.test,
    )
    if measure is None:
        return made
    margin = measure.limit - measure.value if measure.most else measure.value - measure.limit
    texts = _texts(measure, display)
    return replace(
        made,
        kind=measure.kind,
        figure=measure.value,
        threshold=measure.limit,
        margin=margin,
        figure_text=texts[0],
        threshold_text=texts[1],
        margin_text=("−" if margin < 0.0 else "+") + _far(measure, display),
    )


def _far(measure: Measure, display: Display) -> str:
    gap = abs(measure.limit - measure.value)
    if measure.kind == "hours":
        return f"{gap:,.0f} h"
    if measure.kind == "ratio":
        return f"{gap:g}"
    return distance(measure.value, measure.limit, measure.kind, display)


def _texts(measure: Measure, display: Display) -> tuple[str, str]:
    if measure.kind == "hours":
        return f"{measure.value:,.0f} h", f"{measure.limit:,.0f} h"
    if measure.kind == "ratio":
        return f"{measure.value:g}", f"{measure.limit:g}"
    return apart(measure.value, measure.limit, measure.kind, display)


def _exits(context: Context, measure: Measure | None) -> tuple[str, ...]:
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
        words["move"] = energy((measure.limit - measure.value) * facts.reheat_kWh)
    return tuple(exit.format(**words) for exit in rule.exits)


def unknown(context: Context, *facts: str) -> Part:
    needs = tuple(fact_needs()[fact] for fact in facts)
    evidence = f"Cannot be determined: needs {joined(needs)}."
    return part(context, "cannot be determined", evidence, None, needs)


def _to_state(context: Context, sentence: str, measure: Measure | None, *needs: str) -> Part:
    """Met by its figures, as far as what the case does not show holds."""
    evidence = f"{sentence} Cannot be determined: needs {joined(needs)}.".strip()
    return part(context, "cannot be determined", evidence, measure, needs)


def _with_change(found: Part, change: str, size: float | None) -> Part:
    return replace(found, change=change, change_size=size)


# ---------------------------------------------------------------------------------------------
# Tests: how a rule is judged


def _compared(context: Context, most: bool) -> Part:
    """A fact held against the threshold: at most, or at least."""
    rule, _, facts, display = context
    value: float | None = getattr(facts, rule.fact)
    if value is None:
        return unknown(context, rule.fact)
    measure = Measure(value, rule.limit, rule.kind, most)
    met = no_more(value, rule.limit) if most else no_less(value, rule.limit)
    seen, asked = _texts(measure, display)
    words = capitalized(fact_words()[rule.fact])
    bound = "at most" if most else "at least"
    if met:
        return part(context, "met", f"{words} is {seen}: {bound} {asked}.", measure)
    far = distance(value, rule.limit, rule.kind, display)
    side = "above" if most else "short of"
    found = part(context, "not met", f"{words} is {seen}: {far} {side} {asked}.", measure)
    if most and rule.role == "exception" and found.exits:
        return _with_change(found, found.exits[0], 1.0 - rule.limit / value)
    return found


def _at_most(context: Context) -> Part:
    return _compared(context, most=True)


def _at_least(context: Context) -> Part:
    return _compared(context, most=False)


def _thermostat_deadband(context: Context) -> Part:
    found = _compared(context, most=False)
    why = context.facts.thermostat_exception
    if found.verdict != "not met" or why is None:
        return found
    return replace(found, verdict="met", evidence=f"{found.evidence} Stated: {why}.", exits=())


def _stated(context: Context) -> Part:
    """A yes or no that the case or the designer states."""
    rule, _, facts, _ = context
    value: bool | None = getattr(facts, rule.fact)
    if value is None:
        return unknown(context, rule.fact)
    words = fact_words()[rule.fact].removeprefix("whether ")
    verdict: Verdict = "met" if value else "not met"
    return part(context, verdict, f"{capitalized(words)}: {'yes' if value else 'no'}.")


def _unloading_unit(context: Context) -> Part:
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
    shrink, unload = _exits(context, measure)
    if size.verdict == "not met":
        # Only one change at a time: a large unit that does not unload needs two.
        if unloads is False:
            both = (f"{shrink}, each of which {unload.removeprefix('a unit that ')}",)
            return replace(size, evidence=sentence, exits=both, change="", change_size=None)
        return replace(size, evidence=sentence, exits=(shrink,))
    if unloads is None:
        return _to_state(context, size.evidence, measure, rule.needed)
    if unloads:
        return part(context, "met", sentence, measure)
    found = replace(part(context, "not met", sentence, measure), exits=(unload,))
    return _with_change(found, unload, None if least is None else 1.0 - half / least)


# What a designer must state where only the case's outdoor air keeps the flow from being cut more.
_OUTDOOR_RATE = (
    "whether this outdoor air is no more than the ventilation rate asked for "
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
    return _with_change(found, change, 1.0 - limit / value), measure, []


def _still_stated(context: Context, found: Part, measure: Measure | None, needs: list[str]) -> Part:
    return _to_state(context, found.evidence, measure, *needs) if needs else found


def _flow_reduction(context: Context) -> Part:
    """What the system is capable of: how it runs in single hours is no matter."""
    found, measure, needs = _flow(context)
    return _still_stated(context, found, measure, [one for one in needs if one != _THOSE_HOURS])


def _flow_reduction_configured(context: Context) -> Part:
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
    return _with_change(found, change, 0.0)


def _recovered_share(context: Context) -> Part:
    rule, _, facts, display = context
    share = facts.recovered_share
    if share is None:
        return part(context, "does not apply", "No reheat occurred, so there is no share to judge.")
    limit = rule.limit
    measure = Measure(share, limit, "fraction", most=False)
    seen, asked = apart(share, limit, "fraction", display)
    words = f"{seen} of the year's {energy(facts.reheat_kWh)} of reheat was recovered"
    if no_less(share, limit):
        return part(context, "met", f"{words}: at least {asked}.", measure)
    far = distance(share, limit, "fraction", display)
    found = part(context, "not met", f"{words}: {far} short of {asked}.", measure)
    return _with_change(found, found.exits[0] if found.exits else "", limit - share)


def _process_space(context: Context) -> Part:
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
    share = _recovered_share(context)
    # Met or not by its share; a change of the design is named by the exception without a process.
    return replace(share, evidence=f"{share.evidence} {stated}", change="", change_size=None)


def _desiccant(context: Context) -> Part:
    rule, allowance, _, display = context
    if not allowance.desiccant:
        return part(context, "does not apply", "The case has no desiccant system.")
    value = allowance.desiccant_heat_removed
    if value is None:
        return _to_state(context, "Desiccants are not modeled.", None, rule.needed)
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


# ---------------------------------------------------------------------------------------------
# Humidity limits


def _drying_floor(context: Context) -> Part:
    rule, _, facts, display = context
    value = facts.humidity_limit_rh
    if value is None and facts.dried_hours is not None:
        return _dried_by_supply(context, facts.dried_hours, facts.dried_hours_below or 0.0)
    if value is None:
        return part(context, "does not apply", "No humidity limit is enforced.")
    measure = Measure(value, rule.limit, "fraction", most=False)
    seen, asked = apart(value, rule.limit, "fraction", display)
    if no_less(value, rule.limit):
        return part(context, "met", f"Drying stops at {seen} RH: at least {asked}.", measure)
    far = distance(value, rule.limit, "fraction", display)
    return _process_humidity(context, f"The limit is {seen} RH: {far} below {asked}.", measure)


def _dried_by_supply(context: Context, hours: float, below: float) -> Part:
    """Drying that no limit of the room stops: judged by the year's own hours."""
    rule, _, _, display = context
    asked = written(rule.limit, "fraction", display)
    measure = Measure(below, 0.0, "hours")
    words = f"Supply air is dried to a dew point in {hours:,.0f} h, whatever the room's humidity"
    if below <= 0.0:
        sentence = f"{words}: the room is at or above {asked} RH in all of them."
        return part(context, "met", sentence, measure)
    sentence = f"{words}: the room is below {asked} RH in {below:,.0f} of them."
    return _process_humidity(context, sentence, measure)


def _humidifying_ceiling(context: Context) -> Part:
    rule, _, facts, display = context
    value = facts.humidifying_rh
    if value is None:
        return part(context, "does not apply", "Nothing humidifies.")
    measure = Measure(value, rule.limit, "fraction")
    seen, asked = apart(value, rule.limit, "fraction", display)
    if no_more(value, rule.limit):
        return part(context, "met", f"Humidifying stops at {seen} RH: at most {asked}.", measure)
    far = distance(value, rule.limit, "fraction", display)
    return _process_humidity(context, f"Humidified to {seen} RH: {far} above {asked}.", measure)


def _process_humidity(context: Context, sentence: str, measure: Measure) -> Part:
    """Beyond a humidity set-point rule: its exceptions for process needs and tight control.

    They free by statement and deadband, not by the kind of room.
    """
    rule, allowance, facts, display = context
    stated = allowance.process_humidity
    if allowance.tight_humidity:
        sentence += " Stated: 5 % RH either way or tighter is required and approved."
        return part(context, "met", sentence, measure)
    if stated is None:
        sentence += " No process or accreditation need is stated."
        return part(context, "not met", sentence, measure)
    sentence += f" Stated: {stated.rstrip('.')}; the approval or accreditation is to be documented."
    # A deadband separates drying from humidifying: without either there is none to judge.
    if not rule.also or facts.humidifying_rh is None or facts.humidity_limit_rh is None:
        return part(context, "met", sentence, measure)
    deadband = facts.humidity_deadband
    if deadband is None:
        deadband = allowance.humidity_deadband
    if deadband is None:
        need = "the deadband of humidity control (humidity_deadband in [allowance])"
        return _to_state(context, sentence, measure, need)
    seen, asked = apart(deadband, rule.also_limit, "fraction", display)
    if no_less(deadband, rule.also_limit):
        sentence += f" The deadband is {seen} RH: at least {asked}."
        return part(context, "met", sentence, measure)
    sentence += f" The deadband is {seen} RH: less than {asked}."
    found = part(context, "not met", sentence, measure)
    wider = (
        f"a deadband of at least {asked} RH between humidifying and drying, in which neither runs"
    )
    return replace(found, exits=(wider, found.exits[-1]))


# ---------------------------------------------------------------------------------------------
# The unit and its air


def _ventilation_heating(context: Context) -> Part:
    rule, _, facts, display = context
    hours = facts.ventilation_hours_above
    if hours is None:
        return unknown(context, "ventilation_hours_above")
    measure = Measure(hours, 0.0, "hours")
    limit = written(rule.limit, "temperature", display, 3)
    if hours <= 0.0:
        sentence = f"No hour warms ventilation air above {limit} while zones need cooling."
        return part(context, "met", sentence, measure)
    heat = facts.ventilation_heat_above_kWh
    words = "" if heat is None else f", with {energy(heat)} of heat beyond it"
    over = f"{hours:,.0f} h while zones need cooling{words}"
    sentence = f"Ventilation air is warmed above {limit} in {over}."
    return part(context, "not met", sentence, measure)


def _economizer(context: Context) -> Part:
    """Asked of units from a size on; freed by humidification for a process, or by efficiency."""
    rule, allowance, facts, display = context
    size = facts.cooling_capacity_W
    if size is None:
        return unknown(context, rule.fact)
    measure = Measure(size, rule.limit, rule.kind)
    seen, asked = apart(size, rule.limit, rule.kind, display)
    if not no_less(size, rule.limit):
        return part(context, "does not apply", f"The unit gives {seen}, below {asked}.", measure)
    if facts.has_economizer is None:
        return unknown(context, "has_economizer")
    sentence = f"The unit gives {seen}, at or above {asked}, and "
    if facts.has_economizer:
        return part(context, "met", f"{sentence}has an economizer.", None)
    sentence += "has no economizer."
    dew, process = facts.humidified_dew_point_C, allowance.process_humidity
    if dew is not None and process is not None and not no_more(dew, rule.also_limit):
        at = written(dew, "temperature", display)
        return part(context, "met", f"{sentence} Stated process: humidified to a {at} dew point.")
    more = facts.efficiency_margin
    table = {zone: float(parse(share, "fraction")) for zone, share in rule.by_zone}
    zone = facts.climate_zone
    if more is None or more <= 0.0 or not table:
        return part(context, "not met", sentence)
    share = written(more, "fraction", display)
    beyond = f"{sentence} Its efficiency, as modeled, is {share} above the minimum"
    wanted = table.get(zone or "")
    if wanted is None:
        if more < min(table.values()):
            return part(context, "not met", sentence)
        return _to_state(context, f"{beyond}.", None, fact_needs()["zone_0A_to_3A"])
    shares = Measure(more, wanted, "fraction", most=False)
    asked = written(wanted, "fraction", display)
    if no_less(more, wanted):
        return part(context, "met", f"{beyond}: at least {asked} (zone {zone}).", shares)
    return part(context, "not met", f"{beyond}: {asked} is required in zone {zone}.", shares)


def _fan_speeds(context: Context) -> Part:
    """At least two fan speeds of a unit from a size on, the low one low in flow and power."""
    rule, _, facts, display = context
    size = facts.cooling_capacity_W
    if size is None:
        return unknown(context, rule.fact)
    seen, asked = apart(size, rule.size_W, "heat flow", display)
    if not no_less(size, rule.size_W):
        return part(context, "does not apply", f"The unit gives {seen}, below {asked}.")
    flow, power = facts.low_fan_flow_frac, facts.low_fan_power_frac
    if flow is None or power is None:
        return unknown(context, "low_fan_flow_frac")
    limit = max(rule.limit, facts.outdoor_flow_frac or 0.0)
    measure = Measure(flow, limit, "fraction")
    low = written(flow, "fraction", display)
    watts = written(power, "fraction", display)
    if flow > 1.0 - SAME and limit < 1.0 - SAME:
        sentence = f"The unit gives {seen}, at or above {asked}, and its fan has one speed."
        return part(context, "not met", sentence, measure)
    sentence = f"The fan turns down to {low} of flow"
    if not no_more(flow, limit):
        sentence += f": {written(limit, 'fraction', display)} is required."
        return part(context, "not met", sentence, measure)
    # At the ventilation rate itself no lower power can be asked.
    if limit <= rule.limit and not no_more(power, rule.also_limit):
        most = written(rule.also_limit, "fraction", display)
        sentence += f" at {watts} of the power: at most {most} is required."
        return part(context, "not met", sentence, Measure(power, rule.also_limit, "fraction"))
    return part(context, "met", f"{sentence} at {watts} of the power.", measure)


TESTS: dict[str, Callable[[Context], Part]] = {
    "at_most": _at_most,
    "at_least": _at_least,
    "thermostat_deadband": _thermostat_deadband,
    "stated": _stated,
    "unloading_unit": _unloading_unit,
    "flow_reduction": _flow_reduction,
    "flow_reduction_configured": _flow_reduction_configured,
    "recovered_share": _recovered_share,
    "process_space": _process_space,
    "desiccant": _desiccant,
    "drying_floor": _drying_floor,
    "humidifying_ceiling": _humidifying_ceiling,
    "ventilation_heating": _ventilation_heating,
    "economizer": _economizer,
    "fan_speeds": _fan_speeds,
}


def judge(context: Context) -> Part:
    """A rule judged, after what decides whether it bears on the system at all."""
    rule, facts = context.rule, context.facts
    missing = []
    for name in rule.applies:
        value: bool | None = getattr(facts, name.lstrip("!"))
        if value is None:
            missing.append(name.lstrip("!"))
        elif value == name.startswith("!"):
            words = fact_words()[name.lstrip("!")].removeprefix("whether ")
            answer = "yes" if value else "no"
            return part(context, "does not apply", f"Does not apply ({words}: {answer}).")
    if not missing:
        return TESTS[rule.test](context)
    found = TESTS[rule.test](context)
    # Where its figure is kept, it is no matter whether the rule bears on the system.
    return found if found.verdict in ("met", "does not apply") else unknown(context, *missing)
