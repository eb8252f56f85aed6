"""The answer of a study in sentences: compared with what, how much, and what is left."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dewledger.assembly.reheat import floor_in_reheat
from dewledger.dx_unit.types import WRAP_AROUND
from dewledger.quantities import Display, show
from dewledger.reports.words.metrics import (
    best_option,
    controlled,
    holds_worse,
    leaves_unmet,
    limit_words,
    site_change,
)
from dewledger.reports.words.money import amount
from dewledger.reports.words.numbers import figure, words

if TYPE_CHECKING:
    from dewledger.accounts.option_year import OptionYear
    from dewledger.study import Study

# What would bring the hours of a cause back into range.
_REMEDY = {
    "system off": "the schedule keeps the unit off; running it would dehumidify then",
    "no humidity control": "nothing calls for dehumidification; a humidity control is needed",
    "coil-surface floor": "the coil would freeze if it ran colder",
    "unit at full capacity": "the unit runs at full capacity, and reheat adds no "
    "dehumidification; more capacity or less moisture is needed",
    "reheat limited": "reheat cannot meet the reheat load of more dehumidification; more reheat "
    "capacity is needed",
    "within its limit": "control is met, and its limit lies outside the range",
}


def answer(study: Study, display: Display) -> list[str]:
    """The answer in sentences: the saving, what is compared, the result, what is left above and
    below range."""
    reference = study.reference
    best = best_option(study)
    sentences = [*filter(None, [saving_sentence(study)]), _before(study, display)]
    if best is not None:
        sentences.append(_against(best, study, display))
    left = (left_above(best or reference), too_dry(study, best or reference, display))
    return [*sentences, *filter(None, left)]


def saving_sentence(study: Study) -> str:
    """Whether the option of the answer saves or costs money against the reference, and how much;
    "" where there is none."""
    best, reference = best_option(study), study.reference
    if best is None:
        return ""
    saving = study.money.life_cycle[best.key].annual_saving
    currency = study.money.currency
    if abs(saving) < 0.5:
        return f"{named(best)} costs as much a year as {named(reference)}, the reference."
    if saving > 0.0 and holds_worse(best, reference):
        return (
            f"{named(best)} costs {amount(saving)} {currency} a year less than {named(reference)}, "
            "the reference, but holds the room worse, so that no saving is credited."
        )
    if saving > 0.0:
        verb, against = "saves", "against"
    else:
        verb, against = "costs", "more than"
    return (
        f"{named(best)} {verb} {amount(abs(saving))} {currency} a year {against} "
        f"{named(reference)}, the reference."
    )


def named(option: OptionYear) -> str:
    """An option in quotation marks."""
    return f"“{option.title}”"


def _before(study: Study, display: Display) -> str:
    """The reference, what the code says of it, and what stands without humidity control."""
    reference = study.reference
    hours = f"{words(reference.annual['hours_above_range'], 'count', display)} h/yr"
    limit = limit_words(study)
    plain = next((o for o in study.options if not controlled(o)), None)
    lead = f"Reference: {named(reference)}{refused(study)}"
    if plain is not None and plain.key == reference.key:
        return (
            f"{lead}, without humidity control: the room is above {limit} {hours}, and it "
            f"purchases {purchases(reference, display)} a year."
        )
    text = f"{lead}: the room is above {limit} {hours}{_reheat(reference, display)}."
    if plain is not None:
        before = f"{words(plain.annual['hours_above_range'], 'count', display)} h/yr"
        text += f" With {named(plain)} it is above {limit} {before}."
    return text


def refused(study: Study) -> str:
    """That the energy code does not allow the reference, where it was judged and does not."""
    found = study.judgments.get(study.reference.key)
    refused = found is not None and found.determination.verdict == "does not comply"
    return ", which does not comply with the energy code" if refused else ""


def _reheat(option: OptionYear, display: Display) -> str:
    purchased = option.annual["reheat_purchased_kWh"]
    if figure(purchased, "heat", display) == "0":
        return ""
    return f", with {words(purchased, 'heat', display)} of purchased reheat"


def purchases(option: OptionYear, display: Display) -> str:
    parts = [f"{words(option.annual['electricity_kWh'], 'electricity', display)} of electricity"]
    if option.annual["gas_kWh"] > 0.0:
        parts.append(f"{words(option.annual['gas_kWh'], 'gas', display)} of gas")
    return " and ".join(parts)


def _change(saved: float, kind: str, what: str, display: Display) -> tuple[bool, str] | None:
    """(whether it saves, "15,300 kWh of electricity"), or None where there is no difference."""
    if figure(saved, kind, display) == "0":
        return None
    return saved > 0.0, f"{words(abs(saved), kind, display)} of {what}"


def effect_words(option: OptionYear, base: OptionYear, display: Display) -> str:
    """What an option saves and what it costs more than another: both signs, in one clause."""
    changes = [
        _change(base.annual[f"{what}_kWh"] - option.annual[f"{what}_kWh"], what, what, display)
        for what in ("electricity", "gas")
    ]
    saves = " and ".join(text for saved, text in filter(None, changes) if saved)
    costs = " and ".join(text for saved, text in filter(None, changes) if not saved)
    if saves and costs:
        return f"saves {saves} a year and uses {costs} more"
    if saves:
        return f"saves {saves} a year"
    if costs:
        return f"uses {costs} a year more"
    return "uses as much energy"


def recovered_words(option: OptionYear, display: Display) -> str:
    """ "recovers 71.6 million Btu, 100 % of its reheat, from ..."; "" where it recovers none."""
    share = option.annual["recovered_share"]
    recovered = option.annual["reheat_recovered_kWh"]
    if not share or figure(recovered, "heat", display) == "0":
        return ""
    return (
        f"recovers {words(recovered, 'heat', display)}, {figure(share, 'share', display)} % of its "
        f"reheat, from heat {_origin_of_heat(option)}"
    )


def compared_words(option: OptionYear, reference: OptionYear, display: Display) -> str:
    """What an option saves and costs against the reference, with its change of site energy."""
    text = effect_words(option, reference, display) + " compared with the reference"
    part = site_change(option, reference)
    if part is not None and figure(abs(part), "share", display) != "0":
        sign = "less" if part < 0.0 else "more"
        text += f" ({figure(abs(part), 'share', display)} % {sign} site energy, electricity + gas)"
    return text


def short_of_like_for_like(option: OptionYear, reference: OptionYear, display: Display) -> str:
    """What an option does not do that the reference does; "" where it does it all."""
    lacking = []
    if leaves_unmet(option):
        unmet = words(option.annual["reheat_unmet_kWh"], "heat", display)
        lacking.append(f"{unmet} of reheat is unmet, so that the room is at times below set point")
    if holds_worse(option, reference):
        lacking.append(
            "it holds the room worse than the reference, so its saving is not like for like"
        )
    return "; ".join(lacking)


def _against(best: OptionYear, study: Study, display: Display) -> str:
    """What the best option recovers and saves."""
    recovered = recovered_words(best, display)
    lead = f"Option {named(best)} " + (f"{recovered}; it " if recovered else "")
    hours = words(best.annual["hours_above_range"], "count", display)
    text = (
        f"{lead}{compared_words(best, study.reference, display)}; the room is above "
        f"{limit_words(study)} {hours} h/yr"
    )
    lacking = short_of_like_for_like(best, study.reference, display)
    text += f"; {lacking}." if lacking else "."
    return " ".join(filter(None, (text, recovery_premises(best, display))))


def _origin_of_heat(option: OptionYear) -> str:
    if option.machine.plant.arrangement == WRAP_AROUND:
        return "that the air brings to the cooling coil"
    return "the condenser would otherwise reject outdoors"


def recovery_premises(option: OptionYear, display: Display) -> str:
    """The recovery penalty of an option, and the two premises it depends on; "" where nothing is
    recovered."""
    annual, plant = option.annual, option.machine.plant
    if figure(annual["reheat_recovered_kWh"], "heat", display) == "0":
        return ""
    penalty = annual["recovery_penalty_kWh"]
    much = words(abs(penalty), "electricity", display)
    which = "a benefit here" if penalty < 0.0 else "counted in"
    text = f"The recovery penalty is {'−' if penalty < 0.0 else ''}{much} a year ({which})"
    if plant.recovery_effectiveness <= 0.0:
        return f"{text}."
    unit = option.option.case.unit
    usual = type(unit).model_fields
    floors = (
        ("condensing_floor", plant.condensing_floor_C, "otherwise"),
        ("reheat_condensing_floor", floor_in_reheat(plant), "in hours with reheat"),
    )
    ordinary, raised = (
        f"{show(at_C, 'temperature', display)} {when} "
        f"({'default' if getattr(unit, key) == usual[key].default else 'stated'})"
        for key, at_C, when in floors
    )
    return (
        f"{text}; it depends on two premises, minimum condensing temperatures of {raised} and "
        f"{ordinary}."
    )


def left_above(option: OptionYear) -> str:
    """Why the option is still above range, mostly."""
    causes: dict[str, int] = option.annual["hours_above_by_cause"]
    total = sum(causes.values())
    if total == 0:
        return ""
    name = max(causes, key=lambda cause: causes[cause])
    if causes[name] == total:
        return f"All {total:,} hours too humid: {_REMEDY[name]}."
    return f"Of its {total:,} hours too humid, {causes[name]:,} h: {_REMEDY[name]}."


def too_dry(study: Study, option: OptionYear, display: Display) -> str:
    """The hours below the range, and what a humidifier would do, where nothing adds moisture."""
    hours = int(option.annual["hours_below_range"])
    if hours == 0:
        return ""
    low = f"{figure(float(study.case.humidity.range_low), 'share', 'SI')} % RH"
    text = f"Separately, the room is below {low} {hours:,} h/yr"
    if option.annual["humidifier_kg"] > 0.0:
        return f"{text} although a humidifier adds moisture."
    water = words(option.annual["moisture_to_low_limit_kg"], "water", display)
    return (
        f"{text}: dehumidification cannot correct this. A humidifier would have to add about "
        f"{water} of water a year to hold that limit (not in this account)."
    )
