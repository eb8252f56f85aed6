"""The verbs that a case begins with: ``new`` writes one, ``keys`` lists what it may hold."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from dewledger.weather.errors import InputError


def new(
    path: Annotated[Path | None, typer.Argument(help="The case file to write.")] = None,
    kind: Annotated[
        str | None, typer.Option("--kind", help="What to start from; --kind ? lists the kinds.")
    ] = None,
    answers: Annotated[
        Path | None,
        typer.Option("--answers", help="TOML or JSON file of answers, instead of a terminal."),
    ] = None,
    quick: Annotated[
        bool, typer.Option("--quick", help="Do not run the year for the closing lines.")
    ] = False,
    schema: Annotated[
        bool, typer.Option("--schema", help="Print the JSON Schema of the case file instead.")
    ] = False,
) -> None:
    """Write a case file to start from: a commented one of a kind, or one from a few answers.

    At a terminal and without --kind it asks some fifteen questions, "don't know" allowed, and
    closes with what was given, what was assumed, and what moves the answer most. --answers takes
    the same from a file: **today = "electric reheat"**, **floor_area = "6000 sq ft"**.

    Examples: **dewledger new hall.toml**

    **dewledger new hall.toml --answers answers.toml**

    **dewledger new clinic.toml --kind clinic**
    """
    from dewledger.case import starter, starter_kinds

    if schema:
        typer.echo(json_schema_text(), nl=False)
        return
    if kind == "?":
        for name, purpose in starter_kinds().items():
            typer.echo(f"{name:24s} {purpose}")
        return
    if path is None:
        raise InputError("new needs a file to write, for example: dewledger new hall.toml")
    if kind is not None and answers is not None:
        raise InputError("--kind and --answers are two ways to begin; write one of them")
    if path.exists() or path.is_symlink():
        raise InputError(f'"{path}" exists already; name another file, or remove it')
    if kind is None and (answers is not None or sys.stdin.isatty()):
        _from_answers(path, answers, quick)
        return
    usual = next(iter(starter_kinds()))
    write_case(path, starter(kind or usual))
    if kind is None:
        typer.echo(
            f'no terminal for questions: this is the kind "{usual}"; --kind ? lists the others'
        )
    typer.echo(f"wrote {path}; change it, then: dewledger check {path}")


def _from_answers(path: Path, file: Path | None, quick: bool) -> None:
    from dewledger.case import load_case
    from dewledger.reports.command import asking

    answers = asking.ask(path.parent) if file is None else asking.from_file(file, path.parent)
    write_case(path, answers.text())
    asking.say_what_was_given(answers)
    if not quick:
        try:
            asking.say_what_moves_most(load_case(path))
        except InputError as error:  # the case is written, and can be corrected
            typer.echo(f"\nWhat moves the answer most is not known yet: {error}")
    typer.echo(f"\nwrote {path}; next: dewledger run {path}")


def json_schema_text() -> str:
    """The JSON Schema of the case file as it is printed and written."""
    import json

    from dewledger.case import json_schema

    return json.dumps(json_schema(), indent=2) + "\n"


def write_case(path: Path, text: str) -> None:
    """Write a new case, and next to it the JSON Schema that its first line names to editors.

    Raises
    ------
    InputError : the file exists, or cannot be written
    """
    from dewledger.case.reading.schema import SCHEMA_FILE, SCHEMA_ID, SCHEMA_LINE

    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(SCHEMA_LINE + text)
        schema_path = path.with_name(SCHEMA_FILE)
        # One of an earlier version is brought up to date; a file of the user's own is not touched.
        if not schema_path.exists() or f'"$id": "{SCHEMA_ID}"' in schema_path.read_text(
            encoding="utf-8"
        ):
            schema_path.write_text(json_schema_text(), encoding="utf-8")
    except FileExistsError:
        raise InputError(f'"{path}" exists already; name another file, or remove it') from None
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "a file next to it is not text"
        raise InputError(
            f'"{path}" cannot be written ({reason}); name a file in a folder you own'
        ) from None


def keys(
    table: Annotated[
        str, typer.Argument(help="A table such as unit or loads.people, or a key; top is the top.")
    ] = "",
) -> None:
    """List the tables of a case file, or every key of one: what to write, default, meaning.

    Examples: **dewledger keys**

    **dewledger keys unit**
    """
    from rich.padding import Padding
    from rich.table import Table
    from rich.text import Text

    from dewledger.case.reading.keys import NEEDED, TOP, key_table, key_tables
    from dewledger.reports.command.steps import wide_console

    console = wide_console()
    if not table:
        grid = Table.grid(padding=(0, 2))
        # A name is broken, not cut, where the terminal is too narrow for it.
        grid.add_column(overflow="fold", no_wrap=console.width >= 60)
        grid.add_column()
        for place, one in key_tables().items():
            first = one.meaning.split(". ")[0].rstrip(".") + "."
            grid.add_row(Text(one.head or place), Text(first))
        console.print(grid)
        console.print()
        console.print(
            "dewledger keys TABLE lists the keys of one; an option may hold most of them."
        )
        return
    found = key_table(table)
    console.print(Text(f"{found.head or TOP}: {found.meaning}"))
    for key in found.keys:
        default = {NEEDED: "needed", "-": "no default"}.get(key.default, f"default {key.default}")
        console.print()
        console.print(Text(f"{key.name}: {key.write} ({default})"))
        console.print(Padding(Text(key.meaning), (0, 0, 0, 4)))
