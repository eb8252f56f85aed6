"""The summary: one page for whom it concerns who signs, with the answer and what it rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dewledger.accounts.energy import column
from dewledger.analysis.observed_humidity import observed
from dewledger.analysis.sensitivity import saving_name
from dewledger.codes.parts import joined
from dewledger.data.standings import READ
from dewledger.quantities import Display
from dewledger.reports.charts.study import overview
from dewledger.reports.page.cautions import caution_names
from dewledger.reports.page.inputs import differing_tables
from dewledger.reports.page.meter import fitted_band
from dewledger.reports.page.parts import Cell, Head, Part, Row, Section, Table, picture_of
from dewledger.reports.words.answer import (
    compared_words,
    effect_words,
    left_above,
    named,
    purchases,
    recovered_words,
    recovery_premises,
    refused,
    saving_sentence,
    short_of_like_for_like,
    too_dry,
)
from dewledger.reports.words.estimates import AUTHORITY, ESTIMATE
from dewledger.reports.words.metrics import (
    best_option,
    change_text,
    controlled,
    filled,
    holds_worse,
    limit_words,
)
from dewledger.reports.words.money import amount, money_sentence
from dewledger.reports.words.numbers import figure

if TYPE_CHECKING:
    from dewledger.accounts.option_year import OptionYear
    from dewledger.study import Study


def summary_part(study: Study, display: Display) -> Part:
    """The one page: compared with what, how much, how sure, is it legal, what could change it."""
    return Part(
        "summary",
        "Summary",
        "One page: what was compared, the answer, the verdict, what could change it.",
        (
            Section(
                "answer",
                "",
                (),
                (_table(study),),
                (picture_of(overview(study, display)),),
                facts=facts(study, display),
            ),
        ),
        (ESTIMATE, AUTHORITY),
        signed=True,
    )


def facts(study: Study, display: Display) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What who signs asks, in the order asked, each with its answer; what has none is left out."""
    best = best_option(study)
    shown = best or study.reference
    found = (
        ("Compared", (_compared(study, best),)),
        ("How much", _how_much(study, best, display)),
        (
            "How sure",
            (
                _band(study, best),
                fitted_band(study, best),
                _premises(best, display),
                _seen_today(study),
            ),
        ),
        ("Energy code", (_verdict(study, shown),)),
        ("Too humid", _too_humid(study, shown, display)),
        ("Too dry", (too_dry(study, shown, display) or _never_dry(study),)),
        ("What could change it", (" ".join(levers(study, best)),)),
        ("Review first", (caution_names(study),)),
    )
    kept = ((question, tuple(filter(None, said))) for question, said in found)
    return tuple((question, said) for question, said in kept if said)


def _compared(study: Study, best: OptionYear | None) -> str:
    """What is compared with what, and whether it saves; a reference that the code refuses."""
    reference = f"the reference, {named(study.reference)}{refused(study)}"
    if best is None:
        return f"No option is compared with {reference}."
    return f"{saving_sentence(study)[:-1]}{refused(study)}."


def _how_much(study: Study, best: OptionYear | None, display: Display) -> tuple[str, ...]:
    """Money and energy against the reference, then against no humidity control: both signs."""
    if best is None:
        cost = amount(_yearly_cost(study.reference))
        return (
            f"It purchases {purchases(study.reference, display)} a year, which costs {cost} "
            f"{study.money.currency} with upkeep.",
        )
    recovered = recovered_words(best, display)
    energy = f"It {f'{recovered}, and ' if recovered else ''}"
    energy += f"{compared_words(best, study.reference, display)}."
    lacking = short_of_like_for_like(best, study.reference, display)
    return (
        money_sentence(study),
        energy,
        f"{lacking[:1].upper()}{lacking[1:]}." if lacking else "",
        _other_respects(study, best, display),
        _today(study, display),
    )


def _premises(best: OptionYear | None, display: Display) -> str:
    """What the recovery penalty of the option named depends on."""
    return "" if best is None else recovery_premises(best, display)


def _verdict(study: Study, option: OptionYear) -> str:
    """What the energy code says of an option, and how well the code's words are known."""
    found = study.judgments[option.key].determination
    text = f"{named(option)} {found.brief}"
    if found.missing:
        text += f"; missing: {joined(found.missing)}"
    text += f"; standing: {found.standing}"
    if found.standing != READ:
        text += ", so that the text is to be looked up before signing"
    return f"{text}."


def _too_humid(study: Study, shown: OptionYear, display: Display) -> tuple[str, ...]:
    """Hours above the range of the option shown, of the reference, and without control."""
    limit = limit_words(study)

    def hours(option: OptionYear) -> str:
        return f"{option.annual['hours_above_range']:,}"

    text = f"With {named(shown)} the room is above {limit} {hours(shown)} h/yr"
    others = [o for o in (study.reference, uncontrolled(study)) if o is not None]
    others = [o for o in dict.fromkeys(others) if o.key != shown.key]
    if others:
        text += f" ({'; '.join(f'{named(o)} {hours(o)}' for o in others)})"
    return f"{text}.", left_above(shown)


def _never_dry(study: Study) -> str:
    low = figure(float(study.case.humidity.range_low), "share", "SI")
    return f"The room is never below {low} % RH."


def uncontrolled(study: Study) -> OptionYear | None:
    """The first option without humidity control."""
    return next((option for option in study.options if not controlled(option)), None)


def _today(study: Study, display: Display) -> str:
    """The option named against the one without humidity control: both signs."""
    best, without = best_option(study), uncontrolled(study)
    if best is None or without is None or without.key == study.reference.key:
        return ""
    currency = study.money.currency
    more = _yearly_cost(best) - _yearly_cost(without)
    fewer = without.annual["hours_above_range"] - best.annual["hours_above_range"]
    return (
        f"Compared with {named(without)}, it {effect_words(best, without, display)}, costs "
        f"{amount(abs(more))} {currency} a year {'more' if more > 0.0 else 'less'}, and is above "
        f"{limit_words(study)} {abs(fewer):,} {'fewer' if fewer >= 0 else 'more'} h/yr."
    )


def _yearly_cost(option: OptionYear) -> float:
    return float(option.annual["energy_cost"] + option.annual["upkeep_cost"])


def _table(study: Study) -> Table:
    """Five columns, a row per option."""
    currency = study.money.currency
    rows = []
    for option in study.options:
        reference = option.key == study.reference.key
        worse = not reference and holds_worse(option, study.reference)
        rows.append(
            Row(
                f"{option.title} *" if worse else option.title,
                (
                    Cell(change_text(option, study.reference), True),
                    Cell("reference" if reference else amount(option.annual["cost_saving"]), True),
                    *(
                        Cell(figure(option.annual[key], "hours", "SI"), True, (option.key, key))
                        for key in ("hours_above_range", "hours_below_range")
                    ),
                    Cell(study.judgments[option.key].determination.short),
                ),
                marked=reference,
            )
        )
    marked = any("*" in row.head for row in rows)
    note = "Site energy and saving are against the reference; a minus is less energy."
    if marked:
        note += (
            " * Holds the room worse than the reference: its saving is not like for like, and it "
            "is left out of the ranking."
        )
    return Table(
        "The options over one year",
        (
            Head("Option", number=False),
            Head("Site energy", "vs. reference"),
            Head("Cost saving", f"{currency} a year"),
            Head(filled("Hours > {high} % RH", study), "h"),
            Head(filled("Hours < {low} % RH", study), "h"),
            Head("Energy code", number=False),
        ),
        tuple(rows),
        note=note,
        kind="options",
    )


def _band(study: Study, best: OptionYear | None) -> str:
    """How sure the saving is, where samples of the assumptions were drawn."""
    found = study.sensitivity
    if best is None:
        return ""
    if found is None or best.key not in found.likelihood:
        return (
            "No band was computed: the saving applies to the inputs as stated. Run with "
            "--sensitivity for its band over all assumptions."
        )
    one = found.likelihood[best.key]
    return (
        f"Over {len(found.draws.values):,} samples of all assumptions the saving of {named(best)} "
        f"is {amount(one.saving_p10)} to {amount(one.saving_p90)} {study.money.currency} a year "
        f"(P10 to P90; median {amount(one.saving_p50)})."
    )


def _other_respects(study: Study, best: OptionYear | None, display: Display) -> str:
    """Where the option named differs from the reference in more than its reheat, and what a run
    gives of the parts."""
    if best is None:
        return ""
    changed = differing_tables(best, study.reference, display)
    if len(changed) < 2:
        return ""
    text = (
        f"{named(best)} differs from the reference in {len(changed)} respects ("
        f"{', '.join(changed)}): the difference in cost is of all of them together."
    )
    for option in study.options:
        own = differing_tables(option, study.reference, display)
        alike = controlled(option) and not holds_worse(option, study.reference)
        if option.key != best.key and alike and len(own) == 1 and own[0] in changed:
            saving = option.annual["cost_saving"]
            text += (
                f" {named(option)} differs in {own[0]} alone and "
                f"{'saves' if saving >= 0.0 else 'costs'} {amount(abs(saving))} "
                f"{study.money.currency} a year{'' if saving >= 0.0 else ' more'}."
            )
            break
    else:
        text += " No option of this case distinguishes them."
    return text


def _seen_today(study: Study) -> str:
    """How humid users report the room with what is in place, against its model."""
    for option in study.options:
        found = observed(
            option.option.case.humidity.observed_high, column(option.ledger, "room_rh_frac")
        )
        if found is not None:
            return f"{named(option)}: {found.brief[:1].lower()}{found.brief[1:]}"
    return ""


def levers(study: Study, best: OptionYear | None) -> list[str]:
    """The three inputs that move the saving of the option named most.

    From the sensitivity where there is one. Else three that follow from the account itself: each
    price 10 % higher, and 10 % more reheat load, everything else as it is.
    """
    if best is None:
        return []
    currency = study.money.currency
    if study.sensitivity is not None:
        ranked = study.sensitivity.sensitivity.ranked(saving_name(best.key))[:3]
        return [
            f"{one.assumption[:1].upper()}{one.assumption[1:]}: saving {amount(one.result_low)} to "
            f"{amount(one.result_high)} {currency} a year over its range."
            for one in ranked
        ]
    bills = study.money.bills
    mine, other = bills[best.key], bills[study.reference.key]
    moves = [
        ("Electricity price", 0.1 * (other.electricity_charge - mine.electricity_charge)),
        ("Gas price", 0.1 * (other.gas_charge - mine.gas_charge)),
        ("Reheat load", _reheat_lever(study, best)),
    ]
    moves = [move for move in moves if abs(move[1]) >= 0.5]
    moves.sort(key=lambda move: -abs(move[1]))
    return [
        f"{name} 10 % higher: the saving {'rises' if change > 0.0 else 'falls'} by "
        f"{amount(abs(change))} {currency} a year."
        for name, change in moves
    ]


def _reheat_lever(study: Study, best: OptionYear) -> float:
    """What a tenth more avoided reheat energy is worth, at the reference's mean prices."""
    bill, annual = study.money.bills[study.reference.key], study.reference.annual
    worth = 0.0
    for what, charge in (("electricity", bill.electricity_charge), ("gas", bill.gas_charge)):
        used = annual[f"{what}_kWh"]
        if used > 0.0:
            worth += 0.1 * best.annual[f"avoided_{what}_kWh"] * charge / used
    return worth
