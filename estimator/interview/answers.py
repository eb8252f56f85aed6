"""Answers to the questions, and the case that they make.

Every answer is put into the case and read as a case file is read, so that a wrong one is reported
in the sentence that the file would get, and leaves the answers as they were.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dewledger.case.files import case_from_dict
from dewledger.case.model import Case
from dewledger.case.words import listed, nearest
from dewledger.interview.build import Draft, written
from dewledger.interview.defaults import DEFAULTS
from dewledger.interview.questions import QUESTIONS, UNASKED, Field, Question
from dewledger.interview.reading import is_unknown
from dewledger.weather.errors import InputError
from dewledger.weather.files.user_files import read_text

if TYPE_CHECKING:
    from dewledger.weather.year import Station, WeatherYear

ALL = {question.key: question for question in (*QUESTIONS, *UNASKED)}
FIELDS = {field.key: field for question in ALL.values() for field in question.fields}
# Gets weather for (latitude, longitude) and gives the name of the file it wrote.
Fetch = Callable[[float, float], str]


class Answers:
    """A case as far as it is answered.

    folder : where the case will be written; a weather file's path starts there
    fetch : asks a weather service for a place, where the user allows it; None where not
    """

    def __init__(self, folder: Path, fetch: Fetch | None = None) -> None:
        self.folder = folder
        self.fetch = fetch
        self._given: dict[str, Any] = {}
        self._unknown: set[str] = set()
        self._station: Station | None = None
        self._ratios: dict[str, str | None] = {}
        self._ranges: dict[str, list[str] | None] = {}

    def applies(self, question: Question) -> bool:
        """Whether a question is worth asking, as far as it is answered."""
        if question.key == "humid_now":
            return self._given.get("system") != "nothing"
        if question.key != "region":
            return True
        from dewledger.weather.bundled import bundled_path

        return bundled_path(str(self._given.get("weather", "greensboro"))) is None

    def default(self, question: Question) -> str:
        """What is taken where nothing is answered, in words."""
        values, _ = self._values()
        parts = [
            shown(field, values[field.key])
            for field in question.fields
            if values[field.key] not in (None, "") and self._wanted(field, values)
        ]
        return ", ".join(parts) if parts else question.otherwise

    def answer(self, question: Question, text: str) -> None:
        """Take an answer; nothing, or "don't know", leaves it to what is assumed.

        Raises
        ------
        InputError : it does not fit; the answers are then as before
        """
        before = dict(self._given), set(self._unknown), self._station
        keys = [field.key for field in question.fields]
        try:
            for key in keys:
                self._given.pop(key, None)
                self._unknown.discard(key)
            if is_unknown(text):
                self._unknown |= set(keys)
            elif text.strip():
                self._take(question, text)
            case = self.case()
            if set(keys) & _OF_THE_UNIT:
                _build_units(case)
        except InputError:
            self._given, self._unknown, self._station = before
            raise

    def answer_all(self, table: Mapping[str, Any]) -> None:
        """Take the answers of a file: by question, or by the single values of one.

        Raises
        ------
        InputError : a name that is no question, or an answer that does not fit
        """
        single: dict[str, str] = {}
        for key, value in table.items():
            if key in ALL and isinstance(value, Mapping):
                fields = {field.key for field in ALL[key].fields}
                for name, inner in value.items():
                    if name not in fields:
                        raise InputError(
                            f'{key}: "{name}" is not asked{nearest(name, fields)}; write '
                            f"{listed(sorted(fields))}"
                        )
                    single[name] = _as_text(inner, f"{key}.{name}")
            elif key not in ALL and key not in FIELDS:
                raise InputError(
                    f'"{key}" is no question{nearest(key, [*ALL, *FIELDS])}; write {listed(ALL)}'
                )
        for question in ALL.values():
            if question.key in table and not isinstance(table[question.key], Mapping):
                self._named(question.key, question, _as_text(table[question.key], question.key))
        for key in FIELDS:
            value = single.get(key)
            if value is None and key in table and key not in ALL:
                value = _as_text(table[key], key)
            if value is not None:
                field = FIELDS[key]
                self._named(key, Question(key, "", field.text, "", (field,)), value)

    def _named(self, key: str, question: Question, text: str) -> None:
        try:
            self.answer(question, text)
        except InputError as error:
            raise InputError(f"{key}: {error}") from None

    def case(self) -> Case:
        """The case that the answers make; InputError where they do not agree."""
        return case_from_dict(self._draft(), self.folder)

    def text(self) -> str:
        """The case file."""
        return written(self._draft())

    def lists(self) -> tuple[list[tuple[str, str]], list[tuple[str, str, str]]]:
        """What was given: (what, value); what was assumed: (place in the case, value, source)."""
        values, _ = self._values()
        given = [
            (field.text, shown(field, values[key]))
            for key, field in FIELDS.items()
            if key in self._given
        ]
        stated = self._draft().get("origin", {}).get("assumed", {})
        assumed = [
            (place, ", ".join(one["value"]) if isinstance(one["value"], list) else one["value"],
             one["source"])
            for place, one in stated.items()
            if place.partition(".")[0] not in ("title", "display", "options")
        ]  # fmt: skip
        return given, assumed

    def _draft(self) -> dict[str, Any]:
        values, sources = self._values()
        table = Draft(values, set(self._given), sources, self._unknown).build()
        self._fit(table)
        return table

    def _fit(self, table: dict[str, Any]) -> None:
        """Move the sensible heat ratio, which is assumed, to the nearest that capacity and air
        flow allow; where none is near, it stays, and the unit's own sentence says why."""
        place = "unit.sensible_heat_ratio"
        unit, why = table["unit"], table["origin"]["assumed"][place]
        rating = repr((unit, table["air"]["supply_flow"]))
        if rating not in self._ratios:
            self._ratios[rating] = _possible_ratio(table, self.folder)
        found = self._ratios[rating]
        if found is not None and found != unit["sensible_heat_ratio"]:
            unit["sensible_heat_ratio"] = found
            why |= {"value": found, "source": f"the nearest to {why['value']} that is possible"}
        if "rated_capacity" in table.get("ranges", {}):
            self._fit_range(table, rating)

    def _fit_range(self, table: dict[str, Any], rating: str) -> None:
        """Narrow the range of a capacity that is not known to what the air flow allows."""
        if rating not in self._ranges:
            self._ranges[rating] = possible_range(table, self.folder)
        found = self._ranges[rating]
        if found is None:
            del table["ranges"]["rated_capacity"]
        else:
            table["ranges"]["rated_capacity"] = found

    def _values(self) -> tuple[dict[str, Any], dict[str, str]]:
        known: dict[str, Any] = dict(self._given)
        if self._station is not None:
            known["utc_offset"] = self._station.utc_offset_h
            known["station"] = self._station.name
        sources: dict[str, str] = {}
        for key, assume in DEFAULTS.items():
            if key in self._given:
                continue
            assumed = assume(known)
            known[key] = None if assumed is None else assumed.value
            sources[key] = "" if assumed is None else assumed.source
        return known, sources

    def _wanted(self, field: Field, values: Mapping[str, Any]) -> bool:
        return field.key != "reheat" or values["system"] == "outdoor-air unit"

    def _take(self, question: Question, text: str) -> None:
        if len(question.fields) == 1:
            field = question.fields[0]
            self._given[field.key] = field.read(text)
        else:
            self._given |= dict(_shared(question, text))
        if "weather" in self._given and question.fields[0].key == "weather":
            self._read_weather()

    def _read_weather(self) -> None:
        name, year = weather_of(self._given["weather"], self.folder, self.fetch)
        self._given["weather"] = name
        self._station = year.station


def weather_of(name: str, folder: Path, fetch: Fetch | None = None) -> tuple[str, WeatherYear]:
    """Name and year of the weather that an answer names; a place is asked for where it is allowed.

    Raises
    ------
    InputError : there is no such file, it cannot be read, or a place that nobody may ask for
    """
    from dewledger.weather.bundled import bundled_path, nearest_bundled
    from dewledger.weather.files.readers import read
    from dewledger.weather.remote import place_from_text

    try:
        place = place_from_text(name)
    except InputError:
        place = None
    if place is not None:
        if fetch is None:
            station, far = nearest_bundled(*place)
            raise InputError(
                f'"{name}" has no weather file yet; get one with dewledger weather --at '
                f'"{name}" --save place.csv and write its name, or allow ask_service = true; '
                f"the nearest bundled station, {station}, is {far:.0f} km away"
            )
        name = fetch(*place)
    bundled = bundled_path(name) is not None
    return name, read(name if bundled else str(folder / name))


_OF_THE_UNIT = {"system", "capacity", "airflow", "efficiency", "refrigerant", "outdoor_air"}


def _possible_ratio(table: Mapping[str, Any], folder: Path) -> str | None:
    """The sensible heat ratio nearest to the table's own with which the unit can be built."""
    own = float(table["unit"]["sensible_heat_ratio"].split()[0])
    for step in sorted(range(-16, 13), key=abs):
        ratio = f"{own + step:g} %"
        unit = {**table["unit"], "sensible_heat_ratio": ratio}
        try:
            _build_units(case_from_dict({**table, "unit": unit}, folder))
        except InputError:
            continue
        return ratio
    return None


def possible_range(table: Mapping[str, Any], folder: Path) -> list[str] | None:
    """The widest usual range of the rated capacity with which the unit can still be rated."""
    from dewledger.analysis.assumptions import rerated
    from dewledger.assembly.unit import build_unit

    try:
        unit = build_unit(case_from_dict(table, folder).option_cases()[0].case)
    except InputError:
        return None
    possible = []
    for wanted in ((80, 90, 95, 98), (125, 115, 110, 105, 102)):
        for percent in wanted:
            try:
                rerated(unit, percent / 100.0, 1.0)
            except InputError:
                continue
            possible.append(f"{percent} %")
            break
    return possible if len(possible) == 2 else None


def _build_units(case: Case) -> None:
    """InputError where the rating is impossible, such as a capacity beyond the air flow."""
    from dewledger.assembly.unit import build_unit

    for option in case.option_cases():
        build_unit(option.case)


def _shared(question: Question, text: str) -> Iterator[tuple[str, Any]]:
    """Each part of an answer with the first value it can be."""
    left = list(question.fields)
    for part in question.split(text):
        problems = []
        for field in left:
            try:
                value = field.read(part)
            except InputError as error:
                problems.append(str(error))
                continue
            left.remove(field)
            yield field.key, value
            break
        else:
            if 1 <= len(problems) <= 2:
                raise InputError(problems[0])
            raise InputError(
                f'"{part}" is not understood among {question.text[:1].lower()}'
                f"{question.text[1:]}; write for example {question.help}"
            )


def shown(field: Field, value: Any) -> str:
    """A value as it would be answered."""
    if field.key == "hours":
        names = {"weekday": "Mon-Fri", "saturday": "Sat", "sunday": "Sun"}
        spans = [f"{names[day]} {span}" for day, span in value.items() if span != "none"]
        return ", ".join(spans) or "never"
    if field.key == "first_cost":
        return ", ".join(f"{way} {cost}".strip() for way, cost in value.items())
    if field.key == "stages" and value != "variable":
        return f"{value} stage{'s' if value != '1' else ''}"
    if isinstance(value, list):
        return ", ".join(value)
    return str(value)


def _as_text(value: Any, key: str) -> str:
    """An answer of a file as it would be typed."""
    if isinstance(value, str):
        return value
    if isinstance(value, bool) or value is None or isinstance(value, Mapping):
        raise InputError(f'{key} is neither a text nor a number; write for example {key} = "..."')
    if isinstance(value, list | tuple):
        return ", ".join(_as_text(item, key) for item in value)
    if isinstance(value, int | float):
        return f"{value:.15g}"
    raise InputError(f"{key} is neither a text nor a number; write it in quotes")


def answers_of_file(path: Path) -> tuple[dict[str, Any], bool]:
    """The answers of a TOML or JSON file, and whether a weather service may be asked.

    Raises
    ------
    InputError : no such file, or neither TOML nor JSON
    """
    text = read_text(path, "answers", 1_000_000)
    try:
        if path.suffix.lower() == ".json" or text.lstrip().startswith("{"):
            table = json.loads(text)
        else:
            table = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(
            f'answers "{path}" is neither TOML nor JSON ({str(error).splitlines()[0]}); write '
            'lines such as floor_area = "6000 sq ft"'
        ) from None
    if not isinstance(table, dict):
        raise InputError(f'answers "{path}" is no table of answers; write {{"today": "electric"}}')
    allowed = table.pop("ask_service", False)
    if not isinstance(allowed, bool):
        raise InputError("ask_service is neither true nor false; write ask_service = true")
    return table, allowed
