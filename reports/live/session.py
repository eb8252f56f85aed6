"""One tab of the live page: a case, what was answered in it, and the state kept to compare with."""

from __future__ import annotations

import itertools
import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from dewledger.case import Case
from dewledger.interview.in_case import CaseField, answered, case_fields, text_of
from dewledger.quantities import Display
from dewledger.reports.live.fields import field_content, page_fields, unit_for, with_unit
from dewledger.weather.errors import InputError

if TYPE_CHECKING:
    from dewledger.study import Progress, Study
    from dewledger.weather.year import WeatherYear

# matplotlib keeps its style for the whole process.
drawing = threading.Lock()
_LONGEST_TEXT = 300
_MOST_CHANGES = 500
_MOST_YEARS = 4


class Change(NamedTuple):
    """One answer: the name of its field, what was answered (None for don't know), and whether a
    slider still moved when it was sent."""

    name: str
    text: str | None
    moving: bool = False


@dataclass
class Kept:
    """A state kept to compare with: its answers, and the accounts of its options."""

    case: Case
    titles: dict[str, str]
    annuals: dict[str, dict[str, Any]]


@dataclass
class Session:
    """The state of one tab.

    first : the case as the page was opened with
    changes : answers laid over it, in order; moves of one slider are one change
    units : that fields are shown in, by their name, where chosen
    weather : years read before, by their site; shared with others
    written : the changes when the case was last saved
    """

    first: Case
    changes: list[Change] = field(default_factory=list)
    units: dict[str, str] = field(default_factory=dict)
    kept: Kept | None = None
    written: tuple[Change, ...] = ()
    weather: dict[str, WeatherYear] = field(default_factory=dict, repr=False)
    case: Case = field(init=False)

    def __post_init__(self) -> None:
        self.case = self.first

    @property
    def display(self) -> Display:
        """Units of what is shown."""
        return self.case.display

    def set(self, name: str, text: str | None, moving: bool = False) -> None:
        """Answer one field; None is don't know.

        Raises
        ------
        InputError : the case cannot take it; nothing has changed then
        """
        fields = {one.name: one for one in case_fields(self.case)}
        if name not in fields:
            raise InputError(f'"{name[:60]}" is no field of this page')
        if text is not None and len(text) > _LONGEST_TEXT:
            raise InputError("the value is longer than 300 signs; write a value with its unit")
        if text is not None:
            text = with_unit(text, self._unit(fields[name]))
            if name == "weather":
                self._require_weather(text)
        before = self.changes
        if before and before[-1].name == name and before[-1].moving:
            before = before[:-1]
        if len(before) >= _MOST_CHANGES:
            # The oldest are put together: of each field the last one holds.
            latest = {one.name: one for one in before}
            before = list(latest.values())
        self._take([*before, Change(name, text, moving)])
        if name == "display":
            self.units = {}

    def undo(self, name: str | None = None) -> None:
        """Take back the last change, or all changes of one field."""
        if name is None:
            self._take(self.changes[:-1])
        else:
            self._take([change for change in self.changes if change.name != name])

    def show_in(self, name: str, unit: str) -> None:
        """Show a field's value in another unit; the case stays as it is written."""
        if any(one.name == name and unit in one.place.units for one in case_fields(self.case)):
            self.units[name] = unit

    def restore(self, answers: list[tuple[str, str | None]]) -> None:
        """Take the answers of an earlier session, as far as the case takes them.

        Raises
        ------
        InputError : the case takes none of them so
        """
        changes = [Change(name, text) for name, text in answers[:_MOST_CHANGES]]
        for one in changes:
            if one.name == "weather" and one.text is not None:
                self._require_weather(one.text)
        self._take(changes)

    def copy(self) -> Session:
        """A session of its own in the same state."""
        twin = Session(
            self.first, list(self.changes), dict(self.units), self.kept, self.written, self.weather
        )
        twin.case = self.case
        return twin

    def _unit(self, one: CaseField) -> str | None:
        """The unit a field's value is shown in: as chosen, or of the display where it changed."""
        if one.name in self.units:
            return self.units[one.name]
        if self.display != self.first.display:
            return unit_for(one, self.case, self.display)
        content: str | None = field_content(one, self.case, self.first, origins={})["unit"]
        return content

    def _take(self, changes: list[Change]) -> None:
        answers = {one.name: one.text for one in changes}
        case = answered(self.first, answers) if answers else self.first
        self.changes, self.case = changes, case

    def _require_weather(self, text: str) -> None:
        """InputError where the page would read a file outside the case's folder, or none."""
        from dewledger.interview.answers import weather_of
        from dewledger.weather.bundled import bundled_path

        if bundled_path(text) is not None or text == self.first.site.weather:
            return
        folder = self.first.folder.resolve()
        if not (self.first.folder / text).resolve().is_relative_to(folder):
            raise InputError(
                f'"{text[:60]}" lies outside the folder of the case; put the file next to the case'
            )
        weather_of(text, self.first.folder)

    def solve(self, case: Case, progress: Progress | None = None) -> Study:
        """Ledgers, accounts and money of every option of a state of the case; no code."""
        from dewledger.study import run_study

        return run_study(case, self._year(case), progress, codes=False, sizing=False)

    def judge(self, case: Case, progress: Progress | None = None) -> Study:
        """The same with what the energy code and the criteria say of every option."""
        from dewledger.study import run_study

        return run_study(case, self._year(case), progress, sizing=False)

    def whole(self, progress: Progress | None = None) -> Study:
        """The study as ``run`` makes it."""
        from dewledger.study import run_study
        from dewledger.views.meter import DEFAULT_SEED, with_measurements

        case = self.case
        study = run_study(case, self._year(case), progress)
        if case.meter is None and case.trend is None:
            return study
        return with_measurements(study, None, DEFAULT_SEED, lambda done, total: None)

    def _year(self, case: Case) -> WeatherYear:
        from dewledger.study import read_weather

        place = repr(case.site)
        year = self.weather.get(place)
        if year is None:
            if len(self.weather) >= _MOST_YEARS:
                self.weather.clear()
            year = self.weather[place] = read_weather(case)
        return year

    def fields(self) -> list[dict[str, Any]]:
        """Every field of the page with its value."""
        origins = self.case.origins
        latest = {one.name: one.text for one in self.changes}
        return [
            field_content(
                one, self.case, self.first, self._shown_unit(one), latest.get(one.name), origins
            )
            for one in page_fields(self.case)
        ]

    def _shown_unit(self, one: CaseField) -> str | None:
        if one.name in self.units or self.display != self.first.display:
            return self._unit(one)
        return None

    def changed(self) -> list[dict[str, str]]:
        """What differs from the case as it was opened, by field."""
        latest = {one.name: one.text for one in self.changes}
        return differing(self.first, self.case, latest)

    def answers(self) -> list[tuple[str, str | None]]:
        """What was answered, the last of each field, for a page that must begin anew."""
        return list({one.name: one.text for one in self.changes}.items())

    def keep(self, study: Study) -> None:
        """Keep a solved state to compare with."""
        self.kept = Kept(
            study.case,
            {option.key: option.title for option in study.options},
            {option.key: dict(option.annual) for option in study.options},
        )

    @property
    def unsaved(self) -> bool:
        """Whether something was changed since the case was last written."""
        return tuple(self.changes) != self.written


def differing(before: Case, now: Case, only: dict[str, str | None] | None = None) -> list[
    dict[str, str]
]:  # fmt: skip
    """Fields whose values differ between two cases: label, before, now.

    only : names of fields that were answered; the unit's age has no place to look at
    """
    olds = {one.name: one for one in case_fields(before)}
    news = {one.name: one for one in case_fields(now)}
    found = []
    for name in dict.fromkeys(itertools.chain(news, olds)):
        if only is not None and name not in only:
            continue
        one = news.get(name) or olds[name]
        texts = [
            _called(fields[name], case) if name in fields else ""
            for fields, case in ((olds, before), (news, now))
        ]
        if name == "age" and only is not None:
            texts[1] = only[name] or ""
        if texts[0] != texts[1] or only is not None:
            found.append(
                {
                    "name": name,
                    "label": one.label,
                    "before": texts[0] or "not stated",
                    "now": texts[1] or "not stated",
                }
            )
    return found


def _called(one: CaseField, case: Case) -> str:
    """The value of a field as a reader knows it: options by their titles."""
    text = text_of(one, case)
    if one.name not in ("system", "considered"):
        return text
    titles = {option.key: option.title for option in case.option_cases()}
    return ", ".join(titles.get(key, key) for key in text.split(", "))


def free_name(folder: Path, stem: str, ending: str) -> Path:
    """A name in a folder that nothing has yet: stem.toml, stem-2.toml, ..."""
    path = folder / f"{stem}{ending}"
    number = 1
    while path.exists():
        number += 1
        path = folder / f"{stem}-{number}{ending}"
    return path


def save_case(session: Session, stem: str) -> Path:
    """Write the case as it is next to the first; never over a file that is there."""
    folder = session.first.folder
    changes = tuple(session.changes)
    text = session.case.to_toml(folder)
    path = free_name(folder, f"{stem}-live", ".toml")
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        raise InputError(
            f'"{path}" cannot be written ({(error.strerror or str(error)).lower()})'
        ) from None
    session.written = changes
    return path


def write_report(session: Session, stem: str, progress: Progress | None = None) -> Path:
    """Write what ``run`` writes for the case as it stands, into a folder of its own."""
    from dewledger.reports.files.writer import write_outputs

    study = session.whole(progress)
    out = free_name(session.first.folder, f"{stem}-live-results", "")
    with drawing:
        write_outputs(study, out, progress=progress)
    return out
