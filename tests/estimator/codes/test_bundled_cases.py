"""The bundled cases may be built today, or say what may not be.

Refrigerants: 40 CFR 84.54(a)(1), a global warming potential below 700 in new units since 1 January
2025. Verdicts: 90.1-2019 as the table of codes holds it, with the standing printed beside it.
"""

from functools import cache

import pytest

from dewledger.case import bundled_case, starter_kinds
from dewledger.quantities import in_unit
from dewledger.study import run_study

# Parts that an option does not meet on purpose, or that cannot be determined, by kind.
SHOWN = {
    "clinic": {
        # Neutral air all year: what the code bars, shown to say what it would cost.
        "neutral-electric": {"6.5.2.6", "6.5.3.5", "6.8.1"},
        "neutral-condenser": {"6.5.2.6", "6.5.3.5"},
        # No rating with energy recovery is modeled.
        "recovery": {"6.8.1", "10 CFR 431.97"},
    },
    "school-outdoor-air": {
        "neutral-gas": {"6.5.2.3", "6.5.2.6", "6.8.1"},
        "neutral-condenser": {"6.5.2.6"},
    },
    # Gas reheat alone of a unit this large; the first sentence of the answer says so.
    "indoor-pool": {"gas": {"6.5.2.3"}},
}
KINDS = tuple(starter_kinds())


@cache
def study(kind):
    return run_study(bundled_case(kind), sizing=False)


@pytest.mark.parametrize("kind", KINDS)
def test_units_are_of_today(kind):
    for option in bundled_case(kind).option_cases():
        case = option.case
        assert case.unit.refrigerant in ("R-32", "R-454B"), option.key
        apart = float(case.room.cooling_setpoint) - float(case.room.heating_setpoint)
        assert apart >= 5.0 / 1.8 - 1e-9, option.key
        assert case.allowance.code == "90.1", option.key


@pytest.mark.parametrize("kind", KINDS)
def test_no_option_breaks_a_rule_by_oversight(kind):
    for option in study(kind).options:
        found = study(kind).judgments[option.key].determination
        open_parts = {
            part.section
            for part in found.parts
            if part.role != "exception" and part.verdict in ("not met", "cannot be determined")
        }
        if found.verdict == "no reheat":
            assert not open_parts, option.key
        else:
            assert open_parts == SHOWN.get(kind, {}).get(option.key, set()), option.key


@pytest.mark.parametrize("kind", KINDS)
def test_units_reach_the_least_rating_of_their_size(kind):
    """The federal minimum, where one binds: by the model's own arithmetic."""
    shown = SHOWN.get(kind, {})
    for option in study(kind).options:
        if option.key not in shown:
            for found in study(kind).ratings[option.key].comparisons:
                if not found.minimum.editions or "2019" in found.minimum.editions:
                    assert found.reached, found.sentence


@pytest.mark.parametrize("kind", ["music-school", "rooftop", "indoor-pool", "archive"])
def test_low_fan_speeds_keep_the_coil_from_freezing(kind):
    """300 cfm for each ton, gross, at the low speed: the least of two units' product data (package
    series 558D, p. 18; rooftop series 580J, table 29)."""
    for option in study(kind).options:
        air = option.option.case.air
        low = float(air.supply_flow) * float(air.minimum_flow)
        tons = option.machine.unit.rated_total_W / 3516.85
        assert in_unit(low, "air flow", "cfm") / tons >= 299.7, option.key
