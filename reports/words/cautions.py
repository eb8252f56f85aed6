"""What must not pass unread, each thing once: findings that protect people, figures far off."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from dewledger.accounts.humidity_criteria import MoldFinding
from dewledger.analysis.plausible import Implausible
from dewledger.analysis.protection import MOLD_LIMITS, ProtectionFinding, mold_sentence

DEFERS = (
    "Local codes and the licensed engineer decide; what is not listed here is not thereby cleared."
)
NOT_SOLVED = (
    "The year was not solved, since the gains are far beyond the unit: the findings that protect "
    "people and the mold screen are not known. Correct what is far off, then check again."
)


class Said(NamedTuple):
    """A finding of one option: what it is of, and how bad, so that the worst of several is
    reported.
    """

    key: str
    title: str
    sentence: str
    weight: float


def said_of(
    title: str, protection: Iterable[ProtectionFinding], implausible: Iterable[Implausible]
) -> list[Said]:
    """The findings of one option; people first, then figures far from the usual."""
    people = [Said(one.key, title, one.sentence, float(one.hours or 0.0)) for one in protection]
    return people + [Said(one.figure, title, one.sentence, 0.0) for one in implausible]


def mold_said(title: str, found: MoldFinding) -> Said:
    """The mold screen of one option."""
    weight = float(found.hours_at_risk) + (found.worst_mean_rh or 0.0)
    return Said("mold", title, mold_sentence(found), weight)


def merged(said: Sequence[Said], options: int) -> list[str]:
    """Each finding once, with the options it holds for; where they differ in it, the worst is
    reported.

    Parameters
    ----------
    options : how many there are; a finding of all of them names none
    """
    by_key: dict[str, list[Said]] = {}
    for one in said:
        by_key.setdefault(one.key, []).append(one)
    lines = []
    for members in by_key.values():
        worst = max(members, key=lambda one: one.weight)
        sentences = {one.sentence for one in members}
        whose = "; ".join(dict.fromkeys(one.title for one in members))
        if len(sentences) == 1:
            lines.append(
                worst.sentence if len(members) >= options else f"{whose}: {worst.sentence}"
            )
        else:
            of = "all options" if len(members) >= options else whose
            lines.append(f"Worst of {of} is {worst.title}: {worst.sentence}")
    return lines


def mold_lines(said: Sequence[Said], options: int) -> list[str]:
    """The mold screen, always reported, and what it does not cover."""
    return [f"{line} {MOLD_LIMITS}" for line in merged(said, options)]
