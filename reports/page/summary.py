"""The summary: one page for whom it concerns who signs, with the answer and what it rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dewledger.accounts.energy import column
from dewledger.analysis.observed_humidity import observed
from dewledger.analysis.sensitivity import saving_name
from dewledger.quantities import Display
from dewledger.reports.charts.study import overview
from dewledger.reports.page.cautions import caution_names
from dewledger.reports.page.inputs import differing_tables
from dewledger.reports.page.parts import Cell, Head, Part, Row, Section, Table, picture_of
from dewledger.reports.words.answer import answer, effect_words, named
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
    from dewledger.study import OptionYear, Study

ESTIMATE = (
    "Estimates for comparing options on one weather year: no forecast of a bill, no guarantee of "
    "savings or of room conditions."
)
AUTHORITY = (
    "Energy code findings must be verified against the adopted edition with its amendments; the "
    "authority having jurisdiction decides. Refrigerant, electrical and indoor-air safety follow "
    "local codes. Not an engineering document under seal: design decisions rest with a licensed "
    "professional."
)


def summary_part(study: Study, display: Display) -> Part:
    """The one page: compared with what, how much, how sure, is it legal, what could change it."""
    best = best_option(study)
    return Part(
        "summary",
        "Summary",
        "One page: what was compared, the answer, the verdict, what could change it.",
        (
            Section(
                "answer",
                "",
                tuple(_answer(study, display)),
                (_table(study),),
                (picture_of(overview(study, display)),),
                kind="answer",
            ),
            Section(
                "decides",
                "What decides it, and how sure it is",
                tuple(
                    filter(
                        None,
                        (
                            _band(study, best),
                            _other_respects(study, best, display),
                            _seen_today(study),
                            caution_names(study),
                        ),
                    )
                ),
                points=tuple(levers(study, best)),
            ),
        ),
        (ESTIMATE, AUTHORITY),
        signed=True,
    )


def _answer(study: Study, display: Display) -> list[str]:
    """The answer, its worth in money in its third place, the verdict and today's system."""
    sentences = answer(study, display)
    more = (money_sentence(study), _verdicts(study), _today(study, display))
    return [*sentences[:2], *filter(None, more), *sentences[2:]]


def _verdicts(study: Study) -> str:
    """What the energy code says of the option named, else of the reference."""
    option = best_option(study) or study.reference
    found = study.judgments[option.key].determination
    return f"Energy code: {named(option)} {found.brief}; {found.standing}."


def _today(study: Study, display: Display) -> str:
    """The option named against the one without humidity control: both signs."""
    best = best_option(study)
    plain = next((o for o in study.options if not controlled(o)), None)
    if best is None or plain is None or plain.key == study.reference.key:
        return ""
    currency = study.money.currency
    more = _yearly_cost(best) - _yearly_cost(plain)
    fewer = plain.annual["hours_above_range"] - best.annual["hours_above_range"]
    return (
        f"Compared with {named(plain)}, {named(best)} {effect_words(best, plain, display)}; it "
        f"costs {amount(abs(more))} {currency} a year {'more' if more > 0.0 else 'less'}, and the "
        f"room is above {limit_words(study)} {abs(fewer):,} {'fewer' if fewer >= 0 else 'more'} "
        "h/yr."
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
        f"{', '.join(changed)}): the saving is of all of them together."
    )
    for option in study.options:
        own = differing_tables(option, study.reference, display)
        if option.key != best.key and len(own) == 1 and own[0] in changed:
            saving = option.annual["cost_saving"]
            text += (
                f" {named(option)} differs in {own[0]} alone and saves {amount(saving)} "
                f"{study.money.currency} a year."
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
        f"{name} 10 % higher: saving {'+' if change > 0.0 else ''}{amount(change)} {currency} a "
        "year."
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
