"""The questions of ``new`` at a terminal or from a file, and what is said at their end."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from dewledger.weather.errors import InputError

if TYPE_CHECKING:
    from rich.console import Console

    from dewledger.case import Case
    from dewledger.interview.answers import Answers, Fetch
    from dewledger.weather.year import WeatherYear

MOST = 3


def ask(folder: Path) -> Answers:
    """Answers given at the terminal; a wrong one is said and asked again."""
    from dewledger.interview.answers import Answers
    from dewledger.interview.questions import QUESTIONS

    typer.echo(
        "Press Enter to accept a [default]; write don't know where it is unknown: the value is "
        "then assumed, and its range tried in the sensitivity."
    )
    answers = Answers(folder, _fetch(folder, confirmed=False))
    group = ""
    for question in QUESTIONS:
        if not answers.applies(question):
            continue
        if question.group != group:
            group = question.group
            typer.echo(f"\n{group}")
        typer.echo(f"  {question.text}: {question.help}")
        while True:
            said = typer.prompt(f"  [{answers.default(question)}]", default="", show_default=False)
            try:
                answers.answer(question, said)
            except InputError as error:
                typer.echo(f"  {error}", err=True)
                continue
            break
    return answers


def from_file(path: Path, folder: Path) -> Answers:
    """Answers of a TOML or JSON file."""
    from dewledger.interview.answers import Answers, answers_of_file

    table, allowed = answers_of_file(path)
    answers = Answers(folder, _fetch(folder, confirmed=True) if allowed else None)
    answers.answer_all(table)
    return answers


def _fetch(folder: Path, confirmed: bool) -> Fetch:
    """Asks the public weather service for a place, on the user's word."""

    def fetch(latitude: float, longitude: float) -> str:
        from dewledger.weather.remote import fetch as ask_service

        name = f"weather_{latitude:.2f}_{longitude:.2f}.csv"
        save = folder / name
        if save.exists():
            typer.echo(f"  {save} is there already and is used", err=True)
            return name
        if not confirmed and not typer.confirm(
            "  Ask a public weather service for a typical year there, once?", default=False
        ):
            raise InputError(
                "nothing is asked; write greensboro, miami, sand-point or a weather file"
            )
        ask_service(latitude, longitude, save, say=lambda text: typer.echo(f"  {text}", err=True))
        return name

    return fetch


def say_what_was_given(answers: Answers) -> None:
    """List what was given and what was assumed, each assumption with its source."""
    from rich.table import Table
    from rich.text import Text

    from dewledger.reports.command.steps import wide_console

    given, assumed = answers.lists()
    console = wide_console()
    for title, rows in (("Given", given), ("Assumed", assumed)):
        console.print(f"\n{title}" if rows else f"\n{title}: nothing")
        grid = Table.grid(padding=(0, 2))
        for row in rows:
            grid.add_row("", *map(Text, row))
        console.print(grid)
    console.print("The case file marks these and every value that follows from them.")


def say_what_moves_most(case: Case) -> None:
    """Run the year and say which three assumptions move the answer most."""
    from dewledger.analysis.assumed_ranges import value_text
    from dewledger.analysis.sensitivity import saving_name, sensitivity_study
    from dewledger.assembly.short_year import short_ledger
    from dewledger.reports.command.steps import progress_shown, say_if_compiling, wide_console
    from dewledger.study import read_weather

    say_if_compiling()
    year = read_weather(case)
    with progress_shown() as progress:
        found = sensitivity_study(case, [year], short_ledger, draws=1, progress=progress)
    titles = {option.key: option.title for option in case.option_cases()}
    reheated = [option.key for option in case.option_cases() if option.case.reheat]
    key = next((key for key in found.keys if key in reheated), found.keys[0])
    ranked = found.sensitivity.ranked(saving_name(key))[:MOST]
    console = wide_console()
    currency = case.prices.currency
    saved = ranked[0].base
    said = f"saves {_money(saved)} {currency} a year"
    if saved < 0.0:
        said = f"costs {_money(-saved)} {currency} a year more"
    console.print(
        f"\n“{titles[key]}” against “{titles[case.reference_key]}”: {said}, upkeep counted. "
        "What moves that saving most:"
    )
    for effect in ranked:
        ends = [
            value_text(effect.assumption, value, found.weather_names, case.display)
            for value in (effect.value_low, effect.value_high)
        ]
        console.print(
            f"  {effect.assumption}: {_money(effect.result_low)} at {ends[0]}, "
            f"{_money(effect.result_high)} at {ends[1]}"
        )
    _say_what_is_seen(case, year, console)


def _say_what_is_seen(case: Case, year: WeatherYear, console: Console) -> None:
    """How humid the room gets today as its users say, and as modeled."""
    from dewledger.accounts.energy import column
    from dewledger.analysis.observed_humidity import observed
    from dewledger.assembly.machine import assemble
    from dewledger.study import solve_option

    for option in case.option_cases():
        if option.case.humidity.observed_high is None:
            continue
        ledger = solve_option(assemble(option, year))
        found = observed(option.case.humidity.observed_high, column(ledger, "room_rh_frac"))
        if found is not None:
            console.print(f"\n“{option.title}”: {found.sentence[:1].lower()}{found.sentence[1:]}")


def _money(value: float) -> str:
    return f"{value:,.0f}".replace("-", "−")
