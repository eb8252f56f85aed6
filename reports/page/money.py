"""What the options cost: a sentence of page one, a section of the page, content of the summary."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from dewledger.accounts.energy import electricity_kW, hour_label
from dewledger.accounts.life_cycle import Answer
from dewledger.quantities import Display, rounded
from dewledger.reports.page.parts import Cell, Head, Row, Section, Table
from dewledger.reports.words.metrics import holds_worse
from dewledger.reports.words.money import amount, carbon, carbon_unit
from dewledger.reports.words.numbers import NONE, figure, unit_of

if TYPE_CHECKING:
    from dewledger.accounts.option_year import OptionYear
    from dewledger.accounts.price_origins import Assumption
    from dewledger.study import Study


def titled(text: str, study: Study) -> str:
    """A sentence with option keys in it, the keys replaced by the options' titles."""
    for option in study.options:
        text = text.replace(f'"{option.key}"', f"“{option.title}”")
    return text


def money_section(study: Study, display: Display) -> Section:
    """Prices, bills, carbon, source energy and life-cycle cost, for the analyst."""
    terms = study.money.terms
    rates = (
        f"Life-cycle figures run over {terms.life_years} years at a real discount rate of "
        f"{100.0 * terms.discount_rate:.1f} % a year; energy prices escalate by "
        f"{100.0 * terms.escalation_electricity:.1f} % (electricity) and "
        f"{100.0 * terms.escalation_gas:.1f} % (gas) a year above inflation. Costs fall at the end "
        "of each year; no residual value is counted (method of NIST Handbook 135)."
    )
    tables = [
        bill_table(study, display),
        savings_table(study, display),
        life_cycle_table(study),
    ]
    tables += price_tables(study)
    points = tuple(
        _credited(study, option) for option in study.options if option.key != study.reference.key
    ) + tuple(demand_sentences(study))
    return Section("money", "Energy cost and life-cycle cost", (rates,), tuple(tables), (), points)


def _credited(study: Study, option: OptionYear) -> str:
    """What an option may cost and still pay; nothing where it holds the room worse."""
    if holds_worse(option, study.reference):
        return (
            f"“{option.title}” holds the room worse than the reference: its saving is not like for "
            "like, and it has no break-even cost."
        )
    return titled(study.money.life_cycle[option.key].verdict, study)


def _heads(*heads: Head) -> tuple[Head, ...]:
    return (Head("Option", number=False), *heads)


def _row(study: Study, option: OptionYear, texts: list[str]) -> Row:
    cells = tuple(Cell(text, True) for text in texts)
    return Row(option.title, cells, marked=option.key == study.reference.key)


def bill_table(study: Study, display: Display) -> Table:
    """What a year costs, and the carbon and source energy that go with it."""
    currency = study.money.currency
    bills = study.money.bills
    demand = any(bill.demand_charge > 0.0 for bill in bills.values())
    priced = any(bill.carbon_charge > 0.0 for bill in bills.values())
    upkeep = any(option.annual["upkeep_cost"] > 0.0 for option in study.options)
    heads = [Head("Electricity", currency)]
    if demand:
        heads.append(Head("of which demand", currency))
    heads.append(Head("Gas", currency))
    if priced:
        heads.append(Head("Carbon price", currency))
    if upkeep:
        heads.append(Head("Upkeep", currency))
    heads += [
        Head("Total", currency),
        Head("Saving", currency),
        Head("Carbon dioxide", carbon_unit(display)),
        Head("Source energy", unit_of("energy", display)),
    ]
    rows = []
    for option in study.options:
        bill, annual = bills[option.key], option.annual
        texts = [amount(bill.electricity_charge)]
        if demand:
            texts.append(amount(bill.demand_charge))
        texts.append(amount(bill.gas_charge))
        if priced:
            texts.append(amount(bill.carbon_charge))
        if upkeep:
            texts.append(amount(annual["upkeep_cost"]))
        texts += [
            amount(annual["energy_cost"] + annual["upkeep_cost"]),
            NONE if option.key == study.reference.key else amount(annual["cost_saving"]),
            carbon(bill.carbon_kg, display),
            figure(bill.source_kWh, "energy", display),
        ]
        rows.append(_row(study, option, texts))
    return Table(
        "Annual energy cost, carbon and source energy",
        _heads(*heads),
        tuple(rows),
        note="Of the modeled equipment alone, at today’s prices; saving is against the reference. "
        "Source energy counts what power plants and pipelines use to deliver the energy purchased.",
    )


def break_even(value: float | None) -> str:
    """A break-even cost; "never pays" where an option would have to cost less than nothing."""
    if value is None:
        return NONE
    return amount(value) if value > 0.0 else "never pays"


def life_cycle_table(study: Study) -> Table:
    """Whether the first cost pays, option by option; columns without any figure are left out."""
    currency = study.money.currency
    reasons: dict[str, None] = {}
    columns: dict[tuple[str, str], list[str]] = {}

    def put(head: str, unit: str, text: str) -> None:
        columns.setdefault((head, unit), []).append(text)

    for option in study.options:
        found = study.money.life_cycle[option.key]
        reference = option.key == study.reference.key
        first = option.option.case.cost.first_cost
        # what saves by holding less is credited with no first cost
        worse = not reference and holds_worse(option, study.reference)
        added = NONE if reference or worse else break_even(found.break_even_extra_first_cost)
        put("Break-even added first cost", currency, added)
        alone = NONE if worse else break_even(found.break_even_first_cost.value)
        put("Break-even first cost", currency, alone)
        put("First cost", currency, amount(None if first is None else float(first)))
        for head, unit, answer, written in (
            ("Life-cycle cost", currency, found.life_cycle_cost, amount),
            ("Net present value", currency, found.net_present_value, amount),
            ("Simple payback", "years", found.simple_payback_years, lambda v: f"{v:.1f}"),
            (
                "Internal rate of return", "%", found.internal_rate_of_return,
                lambda v: rounded(100.0 * v, 2),
            ),
            (
                "Savings-to-investment ratio (SIR)", "", found.savings_to_investment_ratio,
                lambda v: rounded(v, 2),
            ),
        ):  # fmt: skip
            put(head, unit, NONE if answer.value is None else written(answer.value))
            unpriced = "needs first_cost" in answer.why
            if answer.value is None and not reference and not unpriced:
                reasons[f"“{option.title}”: {titled(answer.why, study)}."] = None
    shown = {key: texts for key, texts in columns.items() if any(t != NONE for t in texts)}
    rows = []
    worse = False
    for place, option in enumerate(study.options):
        row = _row(study, option, [texts[place] for texts in shown.values()])
        if option.key != study.reference.key and holds_worse(option, study.reference):
            row, worse = replace(row, head=f"{row.head} *"), True
        rows.append(row)
    note = (
        "Against the reference. Break-even added first cost: what the option may cost more than "
        "the reference and still pay; break-even first cost: the same with the reference’s own."
    )
    if worse:
        note += (
            " * Holds the room worse than the reference: cheaper for that alone, so it is left out "
            "of the ranking."
        )
    lacking = [f"“{o.title}”" for o in study.options if o.option.case.cost.first_cost is None]
    if lacking:
        named = " and ".join(filter(None, [", ".join(lacking[:-1]), lacking[-1]]))
        reasons = {f"What needs first_cost of {named} is left out or a dash.": None} | reasons
    return Table(
        f"First cost weighed over {study.money.terms.life_years} years",
        _heads(*(Head(head, unit) for head, unit in shown)),
        tuple(rows),
        note=" ".join([note, *reasons]),
    )


def savings_table(study: Study, display: Display) -> Table:
    """What each option saves of everything that is called a saving, each by its name."""
    base = study.reference.annual
    kinds = (
        ("Site energy", "site_kWh", "energy"),
        ("Electricity", "electricity_kWh", "electricity"),
        ("Gas", "gas_kWh", "gas"),
        ("Source energy", "source_kWh", "energy"),
    )
    rows = []
    for option in study.options:
        if option.key == study.reference.key:
            continue
        texts = [figure(base[key] - option.annual[key], kind, display) for _, key, kind in kinds]
        saved = base["carbon_kg"] - option.annual["carbon_kg"]
        texts += [carbon(saved, display), amount(option.annual["cost_saving"])]
        rows.append(_row(study, option, [text.replace("-", "−") for text in texts]))
    return Table(
        "Annual savings against the reference",
        _heads(
            *(Head(f"{head} saving", unit_of(kind, display)) for head, _, kind in kinds),
            Head("Carbon saving", carbon_unit(display)),
            Head("Cost saving", study.money.currency),
        ),
        tuple(rows),
        note="A minus is more than the reference.",
    )


def demand_sentences(study: Study) -> list[str]:
    """The hour that set the demand of each option, where demand is charged."""
    lines = []
    for option in study.options:
        bill = study.money.bills[option.key]
        if bill.demand_charge <= 0.0:
            continue
        use = electricity_kW(option.ledger)
        hour = int(np.argmax(use))
        ratchet = [
            month
            for month, (billed, peak) in enumerate(
                zip(bill.billed_demand_kW, bill.peak_kW, strict=True)
            )
            if billed > peak
        ]
        text = (
            f"“{option.title}”: the highest demand, {use[hour]:.1f} kW, is the mean of the hour "
            f"beginning {hour_label(study.weather, hour)} standard time."
        )
        if ratchet:
            text += f" The ratchet sets the billed demand of {len(ratchet)} other months."
        lines.append(text)
    return lines


def price_tables(study: Study) -> list[Table]:
    """Every price and factor with its origin; a table of its own for options that differ."""
    tables = [_price_table("Prices, carbon and rates", study.money.assumptions)]
    for option in study.options:
        if option.key in study.money.own_prices:
            own = study.money.own_prices[option.key]
            common = set(study.money.assumptions)
            differing = tuple(item for item in own if item not in common)
            tables.append(_price_table(f"Prices of “{option.title}” that differ", differing))
    return tables


def _price_table(caption: str, listed: tuple[Assumption, ...]) -> Table:
    return Table(
        caption,
        (
            Head("", number=False),
            Head("Value", number=False),
            Head("Origin", number=False),
            Head("Source", number=False),
        ),
        tuple(
            Row(
                f"{item.name[:1].upper()}{item.name[1:]}",
                (Cell(item.value), Cell(item.origin), Cell(item.source)),
            )
            for item in listed
            if item.value != "none"
        ),
        note="“case”: from the case file; “default”: a public figure taken where none is given. "
        "What is not listed is zero.",
        long=True,
    )


def money_summary(study: Study) -> dict[str, Any]:
    """The money side of a study as the content of summary.json."""
    money = study.money

    def answered(found: Any) -> Any:
        return {
            name: asdict(value) if isinstance(value, Answer) else value
            for name, value in vars(found).items()
        }

    return {
        "currency": money.currency,
        "terms": asdict(money.terms),
        "assumptions": [asdict(item) for item in money.assumptions],
        "own_prices": {
            key: [asdict(item) for item in items] for key, items in money.own_prices.items()
        },
        "options": {
            key: {
                "like_for_like": key == study.reference.key
                or not holds_worse(study.option(key), study.reference),
                "bill": {
                    **asdict(bill),
                    "demand_charge": bill.demand_charge,
                    "electricity_charge": bill.electricity_charge,
                    "gas_charge": bill.gas_charge,
                    "total": bill.total,
                },
                "life_cycle": answered(money.life_cycle[key]),
            }
            for key, bill in money.bills.items()
        },
    }
