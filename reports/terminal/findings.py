"""What the command prints below the comparison: money, code, criteria, ratings, what moves them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Console, JustifyMethod
from rich.text import Text

from dewledger.analysis.assumed_ranges import value_text
from dewledger.analysis.sensitivity import left_out_of_draws, saving_name, share_name
from dewledger.codes.parts import joined
from dewledger.quantities import Display
from dewledger.reports.page.cautions import caution_lines
from dewledger.reports.page.code import grouped, titles
from dewledger.reports.page.money import break_even
from dewledger.reports.page.ratings import scores
from dewledger.reports.page.sensitivity import drying_table, probability_text
from dewledger.reports.terminal.study import WIDTH
from dewledger.reports.terminal.tables import quiet_table
from dewledger.reports.words.cautions import DEFERS
from dewledger.reports.words.metrics import best_option, holds_worse
from dewledger.reports.words.money import amount, carbon, carbon_unit, money_sentence
from dewledger.reports.words.numbers import NONE, figure
from dewledger.reports.words.text import plain

if TYPE_CHECKING:
    from dewledger.accounts import humidity_criteria as humidity
    from dewledger.analysis.modeled_ratings import ModeledRatings
    from dewledger.reports.page.parts import Table
    from dewledger.study import Study


def verdicts(study: Study, console: Console) -> None:
    """Print cost, life-cycle answer, code determination and criteria, one line per option."""
    width = min(WIDTH, console.width)
    display = study.case.display
    currency = study.money.currency
    sentence = money_sentence(study)
    if sentence:
        console.print(Text(plain(sentence)), width=width)
        console.print()
    table = quiet_table("Money and code")
    table.add_column("option", min_width=14)
    for head in (
        f"cost\n{currency}/year",
        f"saving\n{currency}/year",
        f"break-even\nadded {currency}",
        f"carbon\n{carbon_unit(display)}",
        "recovered\nshare %",
    ):
        table.add_column(Text(head, justify="right"), justify="right", no_wrap=True)
    codes = {
        found.edition.name: " (assumed)" if judgment.code_assumed else ""
        for judgment in study.judgments.values()
        for found in (judgment.determination,)
    }
    table.add_column("\n".join(codes))
    for option in study.options:
        judgment = study.judgments[option.key]
        found = judgment.determination
        life = study.money.life_cycle[option.key]
        reference = option.key == study.reference.key
        worse = not reference and holds_worse(option, study.reference)
        table.add_row(
            Text(plain(option.title) + (" *" if worse else ""), style="bold" if reference else ""),
            amount(option.annual["energy_cost"] + option.annual["upkeep_cost"]),
            "ref." if reference else amount(life.annual_saving),
            NONE if reference or worse else break_even(life.break_even_extra_first_cost),
            carbon(option.annual["carbon_kg"], display),
            figure(found.recovered_share, "share", "SI"),
            Text(plain(found.short)),
        )
    console.print(table, width=width)
    console.print()
    by = ", ".join(name + assumed for name, assumed in codes.items())
    judged = f"Judged by {by}; verify against the edition adopted. "
    console.print(
        Text(
            judged + "Break-even added: first cost above the reference’s at which the option just "
            "pays." + _worse(study)
        ),
        width=width,
        style="dim",
    )
    for line in code_lines(study):
        console.print(Text(plain(line)), width=width)
    _criteria(study, console, width)
    console.print()
    console.print(Text("Findings", style="bold"))
    for line in caution_lines(study):
        console.print(Text(f"- {plain(line)}"), width=width)
    console.print(Text(DEFERS), width=width, style="dim")


def code_lines(study: Study) -> list[str]:
    """The verdicts with their sections, those alike together, and how they are known."""
    lines = []
    groups = grouped(
        study.options,
        lambda o: (
            study.judgments[o.key].determination.brief,
            study.judgments[o.key].determination.standing,
            study.judgments[o.key].determination.missing,
        ),
    )
    for (brief, standing, missing), options in groups:
        whose = "All options" if len(options) == len(study.options) else titles(options)
        needs = f" Needs {joined(missing)}." if missing else ""
        lines.append(f"{whose}: {brief}; {standing}.{needs}")
    return lines


def _worse(study: Study) -> str:
    """Options that hold the room worse than the reference, whose savings are no credit."""
    names = [
        plain(o.title)
        for o in study.options
        if o.key != study.reference.key and holds_worse(o, study.reference)
    ]
    if not names:
        return ""
    return f" * Left out of the ranking, worse humidity than the reference: {', '.join(names)}."


def _criteria(study: Study, console: Console, width: int) -> None:
    named = {
        finding.criterion.key: finding.criterion.title
        for judgment in study.judgments.values()
        for finding in judgment.criteria
    }
    if not named:
        return
    console.print()
    table = quiet_table("Hours outside the humidity criteria")
    table.add_column("option", min_width=14)
    for title in (*named.values(), "mold criterion"):
        table.add_column(Text(title, justify="right"), justify="right")
    for option in study.options:
        judgment = study.judgments[option.key]
        by_key = {finding.criterion.key: finding for finding in judgment.criteria}
        table.add_row(
            Text(plain(option.title)),
            *(_hours_out(by_key[key]) if key in by_key else NONE for key in named),
            f"{judgment.mold.hours_at_risk:,}",
        )
    console.print(table, width=width)


def _hours_out(found: humidity.Finding) -> str:
    """Hours outside a criterion: those of its temperatures named, and those that do not bind."""
    if found.hours_out_bound is None:
        hours = f"{found.hours_out:,}"
    else:
        hours = f"{found.hours_out_bound:,} + {found.hours_out_unbound:,} outdoors drier"
    beyond = (found.hours_too_warm or 0) + (found.hours_too_cold or 0)
    hours = f"{hours}; temperature {beyond:,}" if beyond else hours
    return f"{hours}, {'met' if found.met else 'not met'}"


def sensitivity(study: Study, console: Console) -> None:
    """Print what moves the answer, where it was asked for."""
    found = study.sensitivity
    if found is None:
        return
    width = min(WIDTH, console.width)
    currency = study.money.currency
    console.print()
    draws = len(found.draws.values)
    table = quiet_table(
        f"Monte Carlo over all assumptions, {draws:,} Latin hypercube samples, seed "
        f"{found.draws.seed}"
    )
    table.add_column("option", min_width=14)
    for head in (
        f"saving P10\n{currency}/year",
        "P50",
        "P90",
        "share P10\n%",
        "P50",
        "P90",
        "keeps the\ncode’s share %",
    ):
        table.add_column(Text(head, justify="right"), justify="right", no_wrap=True)
    for option in study.options:
        if option.key not in found.likelihood:
            continue
        one = found.likelihood[option.key]
        table.add_row(
            Text(plain(option.title)),
            *(amount(value) for value in (one.saving_p10, one.saving_p50, one.saving_p90)),
            *(
                figure(value, "share", "SI")
                for value in (one.share_p10, one.share_p50, one.share_p90)
            ),
            probability_text(one.probability),
        )
    console.print(table, width=width)
    if left_out := left_out_of_draws(found):
        console.print(Text(left_out), width=width, style="dim")
    console.print()
    _drying(study, console, width)
    best = best_option(study)
    key = best.key if best is not None else found.keys[0]
    title = next(option.title for option in study.options if option.key == key)
    _effects(study, key, title, console, width)


def _drying(study: Study, console: Console, width: int) -> None:
    made = drying_table(study)
    if made is None:
        return
    _print_table(made, console, width)
    console.print()


def _print_table(made: Table, console: Console, width: int) -> None:
    """A table of the report, with its note."""
    table = quiet_table(made.caption)
    for head in made.heads:
        text = f"{head.text}\n{head.unit}" if head.unit else head.text
        side: JustifyMethod = "right" if head.number else "left"
        table.add_column(Text(text, justify=side), justify=side)
    for row in made.rows:
        table.add_row(plain(row.head), *(cell.text for cell in row.cells))
    console.print(table, width=width)
    console.print(Text(made.note), width=width, style="dim")


def _effects(study: Study, key: str, title: str, console: Console, width: int) -> None:
    found = study.sensitivity
    assert found is not None
    shares = {effect.assumption: effect for effect in found.sensitivity.ranked(share_name(key))}
    table = quiet_table(f"Sensitivity of “{plain(title)}”, one assumption at a time")
    table.add_column("assumption")
    for head in ("low", "high", f"saving, {study.money.currency}", "recovered share, %"):
        table.add_column(head, justify="right", no_wrap=True)
    for effect in found.sensitivity.ranked(saving_name(key)):
        share = shares[effect.assumption]
        ends = (effect.value_low, effect.value_high)
        table.add_row(
            effect.assumption,
            *(
                value_text(effect.assumption, value, found.weather_names, study.case.display)
                for value in ends
            ),
            f"{amount(effect.result_low)} to {amount(effect.result_high)}",
            f"{figure(share.result_low, 'share', 'SI')} to "
            f"{figure(share.result_high, 'share', 'SI')}",
        )
    console.print(table, width=width)


def print_ratings(found: ModeledRatings, display: Display, console: Console) -> None:
    """Print a unit's rating points and the minimum values for them."""
    width = min(WIDTH, console.width)
    console.print(Text("Ratings, modeled, not certified", style="bold"), width=width)
    tables, sentences = scores(found, display)
    for made in tables:
        console.print()
        _print_table(made, console, width)
    console.print()
    for sentence in sentences:
        console.print(Text(f"- {sentence}"), width=width)
