"""The section of what must not pass unread: findings that protect people, and figures far off."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from dewledger.analysis.protection import mold_sentence
from dewledger.reports.page.code import titles
from dewledger.reports.page.parts import Section

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from dewledger.analysis.compliance import Judgment
    from dewledger.study import OptionYear, Study

DEFERS = (
    "Local codes and the licensed engineer decide; what is not listed here is not thereby cleared."
)


def caution_lines(study: Study) -> list[str]:
    """Every finding once with the options it holds for: people first, then figures far from the
    usual, then the mold screen, which is always told."""
    return [
        *_once(study, lambda judgment: (one.sentence for one in judgment.protection)),
        *_once(study, lambda judgment: (one.sentence for one in judgment.implausible)),
        *_once(study, lambda judgment: (mold_sentence(judgment.mold),)),
    ]


def _once(study: Study, told: Callable[[Judgment], Iterable[str]]) -> list[str]:
    holders: dict[str, list[OptionYear]] = {}
    for option in study.options:
        for sentence in told(study.judgments[option.key]):
            holders.setdefault(sentence, []).append(option)
    return [
        sentence if len(options) == len(study.options) else f"{titles(options)}: {sentence}"
        for sentence, options in holders.items()
    ]


def caution_names(study: Study) -> str:
    """The names of what must not pass unread, for a page that has no room for the findings."""
    names = dict.fromkeys(
        name
        for judgment in study.judgments.values()
        for name in (
            *(one.key for one in judgment.protection),
            *(f"{one.figure} far from the usual" for one in judgment.implausible),
        )
    )
    if not names:
        return ""
    return f"To be looked at before signing: {'; '.join(names)} (told in “For the engineer”)."


def cautions_section(study: Study) -> Section:
    """What was found that may hurt people, the building or the answer."""
    return Section(
        "cautions", "What must not pass unread", (DEFERS,), (), (), tuple(caution_lines(study))
    )


def findings_summary(judgment: Judgment) -> dict[str, Any]:
    """One option's findings as the content of summary.json."""
    return {
        "protection": [asdict(one) for one in judgment.protection],
        "implausible": [asdict(one) for one in judgment.implausible],
        "mold_screen": mold_sentence(judgment.mold),
        "defers": DEFERS,
    }
