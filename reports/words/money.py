"""Money and carbon in words."""

from __future__ import annotations

from dewledger.quantities import Display, conversion, rounded
from dewledger.reports.words.metrics import best_option, holds_worse
from dewledger.reports.words.numbers import NONE
from dewledger.study import Study


def amount(value: float | None) -> str:
    """Money to three figures, without its currency: "1,460", "−85"."""
    if value is None:
        return NONE
    if abs(value) < 0.5:
        return "0"
    return rounded(value, 3 if abs(value) >= 100.0 else 2).replace("-", "−")


def carbon_unit(display: Display) -> str:
    """The unit carbon dioxide is shown in."""
    return "lb" if display == "I-P" else "kg"


def carbon(value_kg: float, display: Display) -> str:
    """Carbon dioxide of a year to three figures, in the display's unit of mass."""
    return rounded(value_kg * conversion("kg", carbon_unit(display)))


def money_sentence(study: Study) -> str:
    """What the option of the answer saves in money, and what it may cost; "" where none does."""
    best = best_option(study)
    if best is None:
        return ""
    found = study.money.life_cycle[best.key]
    currency = study.money.currency
    saving = found.annual_saving
    if abs(saving) < 0.5:
        return f"Option “{best.title}” costs as much to run as the reference."
    reference = study.reference.annual["energy_cost"] + study.reference.annual["upkeep_cost"]
    share = abs(saving) / reference if reference > 0.0 else 0.0
    worse = holds_worse(best, study.reference)
    text = f"At the prices stated, option “{best.title}” "
    if saving > 0.0 and not worse:
        text += f"saves {amount(saving)} {currency} a year of "
    else:
        way = "less" if saving > 0.0 else "more"
        text += f"costs {amount(abs(saving))} {currency} a year {way} than "
    text += f"the {amount(reference)} {currency} of reference annual operating cost"
    text += f" ({100.0 * share:.0f} %)"
    life = study.money.terms.life_years
    worth = found.break_even_extra_first_cost
    if worth > 0.0 and not worse:
        text += f"; break-even added first cost {amount(worth)} {currency} over {life} years"
    return f"{text}."
