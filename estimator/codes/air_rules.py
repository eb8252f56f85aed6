"""Rules on the unit and its air: warmed ventilation air, economizer, fan speeds."""

from __future__ import annotations

from dewledger.codes.evidence import (
    Context,
    Measure,
    part,
    to_state,
    unknown,
)
from dewledger.codes.facts import fact_needs
from dewledger.codes.parts import SAME, Part, apart, energy, no_less, no_more, written
from dewledger.quantities import parse


def ventilation_heating(context: Context) -> Part:
    """Ventilation air must not be warmed above a temperature while zones need cooling."""
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
    words = "" if heat is None else f", with {energy(heat, display)} of heat beyond it"
    over = f"{hours:,.0f} h while zones need cooling{words}"
    sentence = f"Ventilation air is warmed above {limit} in {over}."
    return part(context, "not met", sentence, measure)


def economizer(context: Context) -> Part:
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
        return to_state(context, f"{beyond}.", None, fact_needs()["zone_0A_to_3A"])
    shares = Measure(more, wanted, "fraction", most=False)
    asked = written(wanted, "fraction", display)
    if no_less(more, wanted):
        return part(context, "met", f"{beyond}: at least {asked} (zone {zone}).", shares)
    return part(context, "not met", f"{beyond}: {asked} is required in zone {zone}.", shares)


def fan_speeds(context: Context) -> Part:
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
