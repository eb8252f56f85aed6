"""The published checks of this version, as a section: what was compared, with what, how close.

The results are kept in a file, so that a report need not wait for them and repeats byte for byte:
``python -m dewledger.reports.files.published`` computes every check and writes the file anew.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from dewledger.published.check import counted_apart, in_words
from dewledger.reports.page.parts import Cell, Head, Row, Section, Table

if TYPE_CHECKING:
    from dewledger.published import Check, Result

RECORD = Path(__file__).parent.parent / "data" / "published.csv"


class Group(NamedTuple):
    """The checks of one subject.

    counts : of checks by what they are against, as ``dewledger.published.check.KINDS`` has them
    farthest : the largest difference as a share of what is allowed
    """

    name: str
    checks: int
    met: int
    counts: tuple[int, ...]
    farthest: float
    sources: str


def sources_of(checks: Iterable[Check]) -> str:
    """Every source once, with how well its figures are known."""
    named: dict[str, None] = {}
    for check in checks:
        known = check.standing != check.source
        named[f"{check.source} ({check.standing})" if known else check.source] = None
    return "; ".join(named)


def grouped(results: Iterable[Result]) -> list[Group]:
    """Results by subject, in the order of the checks."""
    subjects: dict[str, list[Result]] = {}
    for result in results:
        subjects.setdefault(result.check.group, []).append(result)
    return [
        Group(
            name,
            len(found),
            sum(result.passed for result in found),
            counted_apart(result.check for result in found),
            max(abs(result.difference) / result.check.tolerance for result in found),
            sources_of(result.check for result in found),
        )
        for name, found in subjects.items()
    ]


def recorded() -> list[Group]:
    """The results kept with this version."""
    with RECORD.open(encoding="utf-8", newline="") as file:
        return [
            Group(row["name"], int(row["checks"]), int(row["met"]),
                  tuple(map(int, row["counts"].split())), float(row["farthest"]), row["sources"])
            for row in csv.DictReader(file)
        ]  # fmt: skip


def published_section() -> Section:
    """What this version was checked against, for whoever has to trust it."""
    groups = recorded()
    checks, met = sum(group.checks for group in groups), sum(group.met for group in groups)
    rows = tuple(
        Row(
            group.name,
            (
                Cell(f"{group.met} of {group.checks}", True),
                Cell(f"{100.0 * group.farthest:.0f}", True),
                Cell(group.sources),
            ),
        )
        for group in groups
    )
    table = Table(
        "Checks against figures from outside the program",
        (
            Head("Subject", number=False),
            Head("Met"),
            Head("Farthest off", "% of allowed"),
            Head("Source", number=False),
        ),
        rows,
        note="Each check names its figure, its allowed difference and the reason for it; "
        "“dewledger verify” computes all of them again on your machine and prints them.",
        long=True,
        kind="published",
    )
    counts = (sum(kind) for kind in zip(*(group.counts for group in groups), strict=True))
    said = f"{met} of {checks} checks are met by this version of the program: {in_words(counts)}."
    return Section("published", "Checks from outside the program", (said,), (table,))


def main() -> None:
    """Compute every check and keep the results."""
    from dewledger.published import run_checks

    groups = grouped(run_checks())
    RECORD.parent.mkdir(exist_ok=True)
    with RECORD.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(Group._fields)
        for group in groups:
            counts = " ".join(map(str, group.counts))
            writer.writerow((*group[:3], counts, round(group.farthest, 3), group.sources))
    print(f"wrote {RECORD}")


if __name__ == "__main__":
    main()
