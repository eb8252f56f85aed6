"""The section of what must not pass unread: findings that protect people, and figures far off."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from dewledger.analysis.protection import MOLD_LIMITS, mold_sentence
from dewledger.reports.page.parts import Section
from dewledger.reports.words.cautions import DEFERS, merged, mold_lines, mold_said, said_of

if TYPE_CHECKING:
    from dewledger.analysis.compliance import Judgment
    from dewledger.study import Study


def caution_lines(study: Study) -> list[str]:
    """Every finding once with the options it holds for, then the mold screen, always reported."""
    judged = [(option.title, study.judgments[option.key]) for option in study.options]
    said = [
        one
        for title, judgment in judged
        for one in said_of(title, judgment.protection, judgment.implausible)
    ]
    screens = [mold_said(title, judgment.mold) for title, judgment in judged]
    return merged(said, len(judged)) + mold_lines(screens, len(judged))


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
    return f"To be reviewed before signing: {'; '.join(names)} (see “For the engineer”)."


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
        "mold_screen": f"{mold_sentence(judgment.mold)} {MOLD_LIMITS}",
        "defers": DEFERS,
    }
