"""report.html: one self-contained page in parts, read without a script, printed on A4 or Letter."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dewledger.reports.page.parts import Part
from dewledger.study import versions

if TYPE_CHECKING:
    from jinja2 import Environment

    from dewledger.reports.page.panel import Panel
    from dewledger.study import Study

_TEMPLATES = Path(__file__).parent.parent / "templates"


@cache
def _environment() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_visible,
    )
    environment.tests["unbroken"] = lambda text: any(len(w) > _LONG_WORD for w in text.split())
    return environment


# Signs that turn the direction of all text after them: a title may hold them, a page must not.
_TURNING = re.compile("[\u202a-\u202e\u2066-\u2069]")
# A word that would widen a column, so that a table runs off its page.
_LONG_WORD = 18


def _visible(value: Any) -> Any:
    """What is printed on the page, without what would reorder the text that follows."""
    if isinstance(value, str) and _TURNING.search(value):
        return value.translate(dict.fromkeys(map(ord, _TURNING.findall(value))))
    return value


def page(
    study: Study, parts: Sequence[Part], *, date: str | None = None, panel: Panel | None = None
) -> str:
    """Parts of the report of a study as one HTML page, a contents list before several.

    Parameters
    ----------
    date : printed in the head and foot; without it the page carries none, so that the same study
        gives the same bytes
    panel : levers to move over a grid solved beforehand, by the page's one script; without it the
        page has none
    """
    return (
        _environment()
        .get_template("report.html")
        .render(
            title=study.case.title,
            note=study.case.note,
            date=date,
            panel=None if panel is None else panel.data(),
            display=study.case.display,
            station=study.weather.station,
            contents=parts,
            case_sha256=study.case.digest(),
            versions=versions(),
        )
    )
