"""Rules on humidity set points: where drying and humidifying must stop."""

from __future__ import annotations

from dataclasses import replace

from dewledger.codes.evidence import (
    Context,
    Measure,
    part,
    to_state,
)
from dewledger.codes.parts import Part, apart, distance, no_less, no_more, written


def drying_floor(context: Context) -> Part:
    """Drying must not go below a relative humidity."""
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


def humidifying_ceiling(context: Context) -> Part:
    """Humidifying must not go above a relative humidity."""
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
        return to_state(context, sentence, measure, need)
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
