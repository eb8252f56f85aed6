"""How each kind of rule is judged: a figure held against a threshold, or what must be stated.

The tests know no code and no edition; a rule of the table (``dewledger.data.reheat_codes``) names
the test that judges it, the fact compared and the threshold.
"""

from __future__ import annotations

from collections.abc import Callable

from dewledger.codes import air_rules, humidity_rules, reheat_rules
from dewledger.codes.evidence import Context, part, unknown
from dewledger.codes.facts import fact_words
from dewledger.codes.parts import Part

TESTS: dict[str, Callable[[Context], Part]] = {
    "at_most": reheat_rules.at_most,
    "at_least": reheat_rules.at_least,
    "thermostat_deadband": reheat_rules.thermostat_deadband,
    "stated": reheat_rules.stated,
    "unloading_unit": reheat_rules.unloading_unit,
    "flow_reduction": reheat_rules.flow_reduction,
    "flow_reduction_configured": reheat_rules.flow_reduction_configured,
    "recovered_share": reheat_rules.recovered_share,
    "process_space": reheat_rules.process_space,
    "desiccant": reheat_rules.desiccant,
    "drying_floor": humidity_rules.drying_floor,
    "humidifying_ceiling": humidity_rules.humidifying_ceiling,
    "ventilation_heating": air_rules.ventilation_heating,
    "economizer": air_rules.economizer,
    "fan_speeds": air_rules.fan_speeds,
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
