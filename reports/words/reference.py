"""Pages of reference under docs/, made from the tables that the program itself runs by.

``python -m dewledger.reports.words.reference docs`` writes them anew; a test holds them to this.
"""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import fields
from pathlib import Path

from dewledger.case.gains import activities, library_profiles, room_kinds
from dewledger.case.reading.keys import NEEDED, KeyTable, key_tables
from dewledger.data import reheat_codes
from dewledger.data.humidity_criteria import Criterion, criteria
from dewledger.hourly.ledger import COLUMNS
from dewledger.quantities import KINDS, show

_MADE = (
    "<!-- Made by python -m dewledger.reports.words.reference docs; change the tables instead. -->"
    "\n"
)


def _rows(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A Markdown table."""
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    for row in rows:
        cells = (" ".join(str(cell).split()).replace("|", "/") for cell in row)
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def _page(title: str, intro: str, *parts: str) -> str:
    return "\n".join((f"# {title}\n", _MADE, f"{intro}\n", *parts))


def keys_page() -> str:
    """Every table and key of a case file."""
    intro = (
        "A case is one TOML file. Quantities are texts with their unit, I-P or SI, mixed as you "
        'like: "2400 cfm", "1130 L/s". "-" means none, or as the last column says. At the terminal '
        "`dewledger keys` lists the tables and `dewledger keys unit` one of them; `dewledger new "
        "--schema` prints the JSON Schema that editors read. Files that a key names are described "
        "in files.md.\n\nAn option, `[options.KEY]`, has a `title` and any of these tables, laid "
        "over the case: tables merge, lists are replaced whole. It cannot hold `site`, `display`, "
        "`reference`, `note` or `ranges`, nor currency, discount rate, life and escalations of "
        "`[prices]`: these apply to the case as a whole."
    )
    return _page("Keys of a case file", intro, *map(key_section, key_tables().values()))


def key_section(table: KeyTable) -> str:
    """One table of the case file in Markdown."""
    rows = [
        (
            f"`{key.name}`",
            key.write,
            "**needed**" if key.default == NEEDED else key.default,
            key.meaning,
        )
        for key in table.keys
    ]
    head = f"`{table.head}`" if table.head else "The top of the file"
    return f"## {head}\n\n{table.meaning}\n\n" + _rows(("key", "write", "default", ""), rows)


def columns_page() -> str:
    """Every column of the hourly ledger, with all that the table of columns says of it."""
    names = [field.name for field in fields(COLUMNS[0])]
    rows = [
        [
            f"`{value}`" if name == "name" else ("" if value is None else value)
            for name, value in row
        ]
        for row in ([(name, getattr(column, name)) for name in names] for column in COLUMNS)
    ]
    intro = (
        "One row for each of the 8760 hours of the weather year, in local standard time; an hour "
        "is the interval that begins at its stamp. Energies are of the hour. A column's total over "
        "a month or the year is its sum, its mean, or none."
    )
    head = [name.replace("_", " ") for name in names]
    return _page("Columns of the hourly ledger", intro, _rows(head, rows))


def codes_page() -> str:
    """Energy codes' rules on reheat, and the humidity criteria."""
    parts = []
    for code, editions in reheat_codes.known_codes().items():
        parts.append(f"## {code}: {', '.join(editions)}\n")
        rows = [
            (
                f"{rule.section}{f' ({rule.item})' if rule.item else ''}",
                ", ".join(rule.editions),
                rule.role,
                rule.text.replace("{threshold}", rule.threshold).replace("{also}", rule.also),
                f"{rule.source}; {_standings(rule)}",
            )
            for rule in reheat_codes.all_rules()
            if rule.code == code
        ]
        parts.append(_rows(("section", "editions", "role", "in our words", "source"), rows))
        parts += [
            f"{edition.name}: {' '.join(said)}\n"
            for edition in (reheat_codes.edition_of(code, one) for one in editions)
            if (said := _said_of(edition))
        ]
    parts.append("## Humidity criteria\n\nKeys of `criteria` in `[humidity]`.\n")
    judged = [
        (f"`{one.key}`", one.title, _limits(one), one.hours, one.condition,
         f"{one.source}; {one.standing}")
        for one in criteria().values()
    ]  # fmt: skip
    parts.append(_rows(("key", "criterion", "limits", "hours", "", "source"), judged))
    intro = (
        "What `[allowance]` can judge by. The rules are given in our own words; the last column "
        "gives for each edition whether its figures were read in the source, read second-hand, or "
        "not checked against the text. Verify every finding against the edition adopted where the "
        "project stands; a licensed engineer decides."
    )
    return _page("Codes and criteria", intro, *parts)


def _standings(rule: reheat_codes.Rule) -> str:
    """How well a rule is known, by edition where that differs."""
    by_standing: dict[str, list[str]] = {}
    for edition in rule.editions:
        by_standing.setdefault(rule.standing(edition), []).append(edition)
    if len(by_standing) == 1:
        return next(iter(by_standing))
    return "; ".join(f"{', '.join(editions)} {word}" for word, editions in by_standing.items())


def _said_of(edition: reheat_codes.Edition) -> list[str]:
    """What holds of an edition as a whole."""
    said = [edition.note] if edition.note else []
    return said + ([f"Not judged: {edition.not_judged}."] if edition.not_judged else [])


def _limits(one: Criterion) -> str:
    kind = {"relative humidity": "fraction", "dew point": "temperature"}.get(
        one.quantity, "humidity ratio"
    )
    ends = [
        (word, value) for word, value in (("from", one.low), ("to", one.high)) if value is not None
    ]
    text = one.quantity + "".join(f" {word} {_shown(value, kind)}" for word, value in ends)
    for word, value in (("from", one.temp_low_C), ("to", one.temp_high_C)):
        if value is not None:
            text += f", temperature {word} {show(value, 'temperature', 'I-P')}"
    return text


def _shown(value: float, kind: str) -> str:
    return f"{100.0 * value:.0f} %" if kind == "fraction" else show(value, kind, "I-P")


def room_kinds_page() -> str:
    """Kinds of room, what people do, and profiles."""

    def of(table: dict[str, object]) -> str:
        return ", ".join(f"{key} {value}" for key, value in table.items())

    kinds = [
        (f"`{name}`", kind.title, *(of(kind.tables.get(part, {})) for part in _LOADS), kind.source)
        for name, kind in room_kinds().items()
    ]
    done = [
        (f"`{name}`", one.sensible.text, one.latent.text, one.source)
        for name, one in activities().items()
    ]
    profiles = [
        (f"`{name}`", *(_day(getattr(one, day)) for day in ("weekday", "saturday", "sunday")),
         getattr(one, "source", None) or "")
        for name, one in library_profiles().items()
    ]  # fmt: skip
    intro = (
        "Typical loads for `room_kind` in `[loads]`; what a case gives itself takes their place. "
        "Figures marked as not checked, or as an assumption, are to be verified before they carry "
        "a design."
    )
    return _page(
        "Kinds of room",
        intro,
        _rows(("room_kind", "", *_LOADS, "source"), kinds),
        "## What people do\n\n`activity` in `[loads.people]`.\n",
        _rows(("activity", "sensible", "latent", "source"), done),
        "## Profiles\n\nFractions of the full load for each hour from 00:00; in addition to "
        "`occupied`, `always` and the case's own.\n",
        _rows(("profile", "weekday", "saturday", "sunday", "source"), profiles),
    )


_LOADS = ("people", "lights", "equipment")


def _day(values: Iterable[float] | None) -> str:
    return "as weekday" if values is None else " ".join(f"{value:g}" for value in values)


def nomenclature_page() -> str:
    """Words, endings of names, and kinds of quantity."""
    path = Path(reheat_codes.__file__).parent / "terms.toml"
    tables = tomllib.loads(path.read_text(encoding="utf-8"))
    pairs = {
        name: [(row["name"], row["meaning"]) for row in tables[name]]
        for name in ("term", "suffix", "name")
    }
    kinds = [
        (kind.name, kind.si, kind.display_ip, kind.display_si, kind.example.replace(" or ", ", "),
         _bounds(kind.minimum), _bounds(kind.maximum))
        for kind in KINDS.values()
    ]  # fmt: skip
    return _page(
        "Nomenclature",
        "One word for one thing, on every screen, page and file, and in the code.",
        "## Words\n",
        _rows(("word", "meaning"), pairs["term"]),
        "## Endings of names\n",
        _rows(("ending", "meaning"), [(f"`{name}`", meaning) for name, meaning in pairs["suffix"]]),
        "## Names without an ending\n\nArguments of the functions of physics, coil, unit, hour.\n",
        _rows(("name", "meaning"), [(f"`{name}`", meaning) for name, meaning in pairs["name"]]),
        "## Kinds of quantity\n\nInside, everything is SI; a case is written in either system.\n",
        _rows(("kind", "inside", "shown I-P", "shown SI", "written", "least", "most"), kinds),
    )


def _bounds(value: float) -> str:
    return "" if abs(value) == float("inf") else f"{value:g}"


PAGES: dict[str, Callable[[], str]] = {
    "keys.md": keys_page,
    "columns.md": columns_page,
    "codes.md": codes_page,
    "room-kinds.md": room_kinds_page,
    "nomenclature.md": nomenclature_page,
}


def write_pages(folder: Path) -> None:
    """Write every page anew."""
    for name, page in PAGES.items():
        (folder / name).write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    write_pages(Path(sys.argv[1] if len(sys.argv) > 1 else "docs"))
