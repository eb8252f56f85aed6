"""A case written from a few answers: a starter's text with some of its values changed.

Sizes that are not asked for follow: those of the room its floor area, those of the unit its supply
flow. Every answer is put into the text and read as a case, so that a wrong one is told in the
sentence that the case file would get. Limits of humidity move with the highest that is answered.
"""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass
from pathlib import Path

from dewledger.case.files import case_from_text, starter
from dewledger.case.model import Case
from dewledger.quantities import parse
from dewledger.weather.errors import InputError

# Keys whose value grows with the floor area, and with the supply flow.
_WITH_THE_ROOM = (
    "conductance", "opaque_conductance", "window_conductance", "ground_conductance", "area",
    "wall_area", "count", "sensible", "moisture", "supply_flow", "outdoor_flow",
)  # fmt: skip
_WITH_THE_FLOW = (
    "fan_power", "rated_fan_power", "condenser_fan_power", "rated_flow", "total_capacity",
    "capacity",
)  # fmt: skip


@dataclass(frozen=True)
class Question:
    """One question, and the place of its answer in the case."""

    section: str
    key: str
    text: str


QUESTIONS = (
    Question("", "title", "What is studied"),
    Question("site", "weather", "Weather: greensboro, miami, sand-point or a weather file"),
    Question("schedule", "holiday_country", "Country of the public holidays, such as US, or none"),
    Question("schedule", "holiday_region", "State or region of that country, or none"),
    Question("schedule", "daylight_saving", "Time zone whose summer time people follow, or none"),
    Question("", "display", "Units of the report: I-P or SI"),
    Question("room", "floor_area", "Floor area"),
    Question("schedule", "weekday", "Occupied hours of Monday to Friday"),
    Question("air", "supply_flow", "Air through the unit"),
    Question("air", "outdoor_flow", "Outdoor air within it"),
    Question("unit", "total_capacity", "Rated total cooling capacity"),
    Question("humidity", "range_high", "Highest relative humidity the room may have"),
    Question("humidity", "range_low", "Lowest relative humidity the room may have"),
    Question("humidity", "limit", "Humidity, or dew point, that the unit dries to"),
    Question("outdoor_air_unit", "supply_dew_point", "Dew point that the supply air is dried to"),
)
# What belongs to the starter's place; asked for anew where the weather is of another.
_OF_THE_PLACE = ("holiday_country", "holiday_region", "daylight_saving")
_MAY_BE_NONE = ("holiday_country", "holiday_region")


class Answers:
    """A case as far as it is answered.

    kind : the starter
    folder : where the case will be written; a weather file's path starts there
    """

    def __init__(self, kind: str, folder: Path) -> None:
        self.kind = kind
        self.folder = folder
        self._starter = starter(kind)
        self._given: dict[str, str] = {}

    def applies(self, question: Question) -> bool:
        """Whether the question has a place in this case, as far as it is answered."""
        if question.key in _OF_THE_PLACE:
            return self._elsewhere()
        if question.key == "outdoor_flow" and self._all_outdoor():
            return False
        return _value(self._starter, question.section, question.key) != ""

    def default(self, question: Question) -> str:
        """The answer where none is given: the starter's, at the size answered so far."""
        return _value(self.text(), question.section, question.key) or "none"

    def answer(self, question: Question, text: str) -> None:
        """Take an answer.

        Raises
        ------
        InputError : it does not fit; the answers are then as before
        """
        before = dict(self._given)
        self._given[question.key] = text.strip()
        try:
            if question.key == "weather":
                self._read_weather()
            if question.key == "holiday_region" and text.strip() != "none":
                self._require_country()
            case = case_from_text(self.text(), self.folder, "the case")
            if question.key == "total_capacity":
                _build_unit(case)
        except InputError:
            self._given = before
            raise

    def text(self) -> str:
        """The case file."""
        text = self._starter
        if self._elsewhere():
            for key in _OF_THE_PLACE:
                text = _without(text, "schedule", key)
            text = _without(text, "prices", "state")
        area = self._ratio("room", "floor_area", "area", 1.0)
        text = _scaled(text, _WITH_THE_ROOM, area)
        text = _scaled(text, _WITH_THE_FLOW, self._ratio("air", "supply_flow", "air flow", area))
        text = self._moved(text)
        for question in QUESTIONS:
            answer = self._given.get(question.key)
            if answer is None or (answer == "none" and question.key in _MAY_BE_NONE):
                continue
            text = _put(text, question.section, question.key, answer)
            if question.key == "supply_flow" and self._all_outdoor():
                text = _put(text, "air", "outdoor_flow", answer)
            of_a_state = self._given.get("holiday_country") == "US"
            if question.key == "holiday_region" and of_a_state and "\n[prices]\n" in text:
                text = _put(text, "prices", "state", answer)
        return _with_head(text, self.kind) if self._given else text

    def _moved(self, text: str) -> str:
        """The text with its relative humidities moved as far as the highest of the range is."""
        if "range_high" not in self._given:
            return text
        usual = float(parse(_value(self._starter, "humidity", "range_high"), "fraction"))
        points = 100.0 * (float(parse(self._given["range_high"], "fraction")) - usual)

        def moved(found: re.Match[str]) -> str:
            return f'{found[1]} = "{max(float(found[2]) + points, 1.0):g} %"'

        size = r'(?<!\w)(range_low|limit|limit_unoccupied) = "([\d.]+) %"'
        return re.sub(size, moved, text) if points else text

    def _elsewhere(self) -> bool:
        """Whether the weather is not that of the starter."""
        home = _value(self._starter, "site", "weather")
        return self._given.get("weather", home) != home

    def _all_outdoor(self) -> bool:
        supply, outdoor = (_value(self._starter, "air", f"{x}_flow") for x in ("supply", "outdoor"))
        return supply == outdoor

    def _read_weather(self) -> None:
        from dewledger.weather.bundled import bundled_path
        from dewledger.weather.files.readers import read

        name = self._given["weather"]
        read(name if bundled_path(name) is not None else str(self.folder / name))

    def _require_country(self) -> None:
        if self._given.get("holiday_country", "none") == "none":
            raise InputError('a region of no country is given; write "none"')

    def _ratio(self, section: str, key: str, kind: str, otherwise: float) -> float:
        """A size answered over that of the starter."""
        answer = self._given.get(key)
        if answer is None:
            return otherwise
        usual = _value(self._starter, section, key)
        ratio = float(parse(answer, kind)) / float(parse(usual, kind))
        if not 0.001 <= ratio <= 1000.0:
            raise InputError(f'{key} "{answer}" is of no room; write for example "{usual}"')
        return ratio


def _build_unit(case: Case) -> None:
    """InputError where the capacity does not go with the flow."""
    from dewledger.assembly.unit import build_unit

    for option in case.option_cases():
        build_unit(option.case)


# ---------------------------------------------------------------------------------------------
# The text of a case file


def _section(text: str, name: str) -> tuple[int, int]:
    """Where a table's own lines begin and end; "" is the top of the file."""
    start = 0
    if name:
        head = re.search(rf"^\[{re.escape(name)}\][^\n]*\n", text, re.MULTILINE)
        if head is None:
            return len(text), len(text)
        start = head.end()
    following = re.compile(r"^\[", re.MULTILINE).search(text, start)
    return start, following.start() if following else len(text)


def _line(key: str) -> re.Pattern[str]:
    return re.compile(rf'^{key} = "([^"\n]*)"', re.MULTILINE)


def _value(text: str, section: str, key: str) -> str:
    """The text a key has in a table, or nothing."""
    start, end = _section(text, section)
    found = _line(key).search(text, start, end)
    return found[1] if found else ""


def _put(text: str, section: str, key: str, value: str) -> str:
    """The text with a key of a table set, what stands behind it on the line kept."""
    line = f"{key} = {json.dumps(value, ensure_ascii=False)}"
    start, end = _section(text, section)
    found = _line(key).search(text, start, end)
    if found:
        return text[: found.start()] + line + text[found.end() :]
    return f"{text[:start]}{line}\n{text[start:]}"


def _without(text: str, section: str, key: str) -> str:
    start, end = _section(text, section)
    found = re.compile(rf"^{key} = [^\n]*\n", re.MULTILINE).search(text, start, end)
    return text[: found.start()] + text[found.end() :] if found else text


def _scaled(text: str, keys: tuple[str, ...], ratio: float) -> str:
    """The text with the sizes of some keys multiplied, wherever they stand; shares are none."""
    if ratio == 1.0:
        return text
    size = re.compile(rf'(?<!\w)({"|".join(keys)}) = (?:"([\d.,]+) ([^"%]+)"|([\d.]+))')

    def larger(found: re.Match[str]) -> str:
        key, number, unit, bare = found.groups()
        if bare:
            return f"{key} = {max(1, round(float(bare) * ratio))}"
        return f'{key} = "{_three_figures(float(number.replace(",", "")) * ratio)} {unit}"'

    return size.sub(larger, text)


def _three_figures(value: float) -> str:
    if value == 0.0:
        return "0"
    places = 2 - math.floor(math.log10(value))
    written = f"{round(value, places):.{max(places, 0)}f}"
    return written.rstrip("0").rstrip(".") if "." in written else written


def _with_head(text: str, kind: str) -> str:
    """The text with its first comment told anew, and without the starter's note."""
    body = text[text.index("\nformat = ") + 1 :]
    body = re.sub(r"^note = [^\n]*\n", "", body, count=1, flags=re.MULTILINE)
    return (
        f'# Written by dewledger new from the kind "{kind}" and a few answers\n'
        "#\n"
        "# Sizes that were not asked for follow floor area and supply flow. Look them over, and\n"
        "# the comments, which are those of the kind; then run dewledger check on this file.\n"
        "\n" + body
    )
