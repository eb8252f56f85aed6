"""The table of questions. The command asks them at a terminal, ``--answers`` reads them from a
file, and a page shows them as fields; all three take the same answers to the same case."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from dewledger.case.gains import room_kinds
from dewledger.interview import reading
from dewledger.weather.errors import InputError

# What may stand in the building, or be considered: words for it, and its sources of reheat.
SYSTEMS: dict[str, tuple[str, ...]] = {
    "plain": ("plain unit", "none", "no humidity control", "cooling only", "no reheat"),
    "electric": ("electric reheat", "electric resistance", "resistance"),
    "gas": ("gas reheat", "gas furnace"),
    "condenser": ("condenser heat", "hot gas", "hot gas reheat", "heat recovery"),
    "outdoor-air unit": ("outdoor air unit", "doas", "dedicated outdoor air", "makeup air unit"),
    "nothing": ("nothing yet", "new building", "new", "not built"),
}
REHEATS: dict[str, tuple[str, ...]] = {
    "plain": SYSTEMS["plain"],
    "electric": SYSTEMS["electric"],
    "gas": SYSTEMS["gas"],
    "condenser": SYSTEMS["condenser"],
    "condenser-trim": ("condenser heat with electric trim", "condenser and electric", "trim"),
}
TITLES = {
    "plain": "No humidity control",
    "electric": "Electric reheat",
    "gas": "Gas reheat",
    "condenser": "Condenser heat",
    "condenser-trim": "Condenser heat, electric trim",
}


@dataclass(frozen=True)
class Field:
    """One value of an answer.

    key : its name in a file of answers
    text : what it is, for a field of a page and for sentences
    read : an answer to the value as the case takes it; InputError where it does not fit
    """

    key: str
    text: str
    read: Callable[[str], Any]


@dataclass(frozen=True)
class Question:
    """One question; its answer may hold several values.

    key : its name in a file of answers
    group : the heading it stands under
    text : as it is asked
    help : one line on how to answer
    fields : the values of its answer, in their order
    split : the parts of an answer, each of which is one value
    otherwise : what is taken where nothing is answered and no value is assumed
    """

    key: str
    group: str
    text: str
    help: str
    fields: tuple[Field, ...]
    split: Callable[[str], list[str]] = lambda text: [text]
    otherwise: str = "not known"


def _commas(text: str) -> list[str]:
    parts = re.split(r",(?!\d{3}(?:\D|$))|;|\band\b|\n", text)
    return [part.strip() for part in parts if part.strip()]


def _slashes(text: str) -> list[str]:
    return [part.strip() for part in re.split(r",|;|/|\band\b", text) if part.strip()]


def _range(text: str) -> list[str]:
    parts = [p.strip() for p in re.split(r"\bto\b|-|–|,|\band\b", text) if p.strip()]
    # "40 to 60 %": the sign belongs to both.
    if len(parts) == 2 and "%" in parts[1] and "%" not in parts[0]:
        parts[0] += " %"
    return parts


def _reader(kind: str, unit: str, example: str) -> Callable[[str], str]:
    return lambda text: reading.quantity(text, kind, unit, example)


def _percent(text: str) -> str:
    return reading.quantity(text, "fraction", "%", '"60 %"')


def _capacity(text: str) -> str:
    if re.search(r"EER|COP|cfm|stage|year|R-?\d", text, re.IGNORECASE):
        raise InputError(f'"{text}" is no cooling capacity; write for example "10 ton"')
    written = re.sub(r"\bMBH\b", "kBtu/h", text, flags=re.IGNORECASE)
    return reading.quantity(re.sub(r"\btons?\b", "ton", written), "heat flow", "ton", '"10 ton"')


_EFFICIENCY = re.compile(
    r"(?:(?P<before>EER2?|SEER2?|IEER|COP)\s*[:=]?\s*)?(?P<number>\d+(?:\.\d+)?)\s*"
    r"(?P<after>EER2?|SEER2?|IEER|COP)?",
    re.IGNORECASE,
)


def _efficiency(text: str) -> str:
    """ "11.2 EER", "SEER2 14.3", "14.8 IEER" or "3.3 COP", number first."""
    match = _EFFICIENCY.fullmatch(text.strip())
    measure = (match["before"] or match["after"] or "").upper() if match else ""
    if not match or not measure:
        raise InputError(f'"{text}" is no efficiency; write for example "11.2 EER" or "14.8 IEER"')
    number = float(match["number"])
    least, most = (1.0, 12.0) if measure == "COP" else (5.0, 40.0)
    if not least <= number <= most:
        raise InputError(
            f'"{text}" is no {measure} of a cooling unit; write for example "11.2 EER"'
        )
    return f"{number:g} {measure}"


_REFRIGERANTS = ("R-410A", "R-32", "R-454B", "R-134a", "R-22")


def _refrigerant(text: str) -> str:
    low = re.sub(r"[^0-9a-z]", "", text.lower()).removeprefix("r")
    for name in _REFRIGERANTS:
        if re.sub(r"[^0-9a-z]", "", name.lower()).removeprefix("r") == low:
            return name
    raise InputError(
        f'"{text}" is no refrigerant that is known; write one of {", ".join(_REFRIGERANTS)}'
    )


_COUNTS = {"single": 1, "one": 1, "two": 2, "dual": 2, "three": 3, "four": 4}


def _stages(text: str) -> str:
    low = text.lower().strip()
    if re.search(r"variable|inverter|modulating|digital", low):
        return "variable"
    match = re.fullmatch(r"(\d|[a-z]+)[\s-]*(?:stages?|speeds?|compressors?|circuits?)?", low)
    word = match[1] if match else ""
    number = int(word) if word.isdigit() else _COUNTS.get(word, 0)
    if not 1 <= number <= 4 or (word.isdigit() and low == word):
        raise InputError(f'"{text}" is no number of stages; write "1 stage" to "4 stages", or '
                         '"variable"')  # fmt: skip
    return str(number)


def _age(text: str) -> str:
    """The year a unit was made, from the year or from its age."""
    from datetime import UTC, datetime

    now = datetime.now(UTC).year
    match = re.fullmatch(
        r"(?:made\s*|built\s*|from\s*|age\s*)?(\d+)\s*(?:years?(?:\s*old)?|yrs?)?",
        text.lower().strip(),
    )
    number = int(match[1]) if match else -1
    if 1950 <= number <= now + 1:
        return str(number)
    if 0 <= number <= 70:
        return str(now - number)
    raise InputError(
        f'"{text}" is no year or age of a unit; write for example "2012" or "12 years"'
    )


def _outdoor_air(text: str) -> str:
    """A flow, or a share of the supply air in percent."""
    if "%" in text or re.search(r"per\s*cent", text, re.IGNORECASE):
        return _percent(text)
    return reading.quantity(text, "air flow", "cfm", '"600 cfm" or "20 %"')


def _electricity(text: str) -> str:
    if re.search(r"therm|mmbtu|\bgas\b", text, re.IGNORECASE):
        raise InputError(f'"{text}" is a price of gas')
    words = re.sub(r"\b(electricity|electric|power)\b", "", text, flags=re.IGNORECASE)
    return reading.price(words, "kWh", '"0.12 USD/kWh"')


def _gas(text: str) -> str:
    words = re.sub(r"\b(natural\s*)?gas\b", "", text, flags=re.IGNORECASE)
    return reading.price(words, "therm", '"1.10 USD/therm"')


def _considered(text: str) -> list[str]:
    found = [reading.choice(part, REHEATS, "way to reheat") for part in _commas(text)]
    return list(dict.fromkeys(found))


def _first_cost(text: str) -> dict[str, str]:
    """First cost of the change, by option where several are named; "" is the first of them."""
    found = {}
    for part in _commas(text):
        match = re.fullmatch(
            r"(?P<name>[A-Za-z -]*?)[\s:=]*\$?\s*(?P<money>\d[\d,]*\.?\d*)\s*(?P<k>k)?"
            r"\s*(?:USD|dollars?)?",
            part,
            re.IGNORECASE,
        )
        if match is None:
            raise InputError(
                f'"{part}" is no first cost; write for example "12000 USD", or "condenser 12000, '
                'gas 8000"'
            )
        name = match["name"].strip()
        key = reading.choice(name, REHEATS, "way to reheat") if name else ""
        money = float(match["money"].replace(",", "")) * (1000.0 if match["k"] else 1.0)
        found[key] = f"{money:g} USD" if money < 1e6 else f"{money:.0f} USD"
    return found


def _text(text: str) -> str:
    if not text.strip():
        raise InputError("the answer is empty; write a text, or don't know")
    return " ".join(text.split())


def _system(text: str) -> str:
    return reading.choice(text, SYSTEMS, "system")


def _reheat(text: str) -> str:
    known = {name: REHEATS[name] for name in ("electric", "gas", "condenser")}
    return reading.choice(text, known, "way to reheat")


# Other names that people have for the kinds of room.
_ROOM_WORDS: dict[str, tuple[str, ...]] = {
    "office": ("offices", "administration"),
    "classroom": ("school", "music room", "training room"),
    "assembly": ("auditorium", "church", "theater", "conference room", "meeting room"),
    "retail": ("store", "shop", "boutique"),
    "museum": ("gallery", "exhibition"),
    "archive": ("library", "collection", "storage"),
    "clinic": (
        "examination", "exam room", "medical office", "doctor's office", "doctors office",
        "dental office", "dentist", "outpatient", "waiting room", "health center",
    ),
    "operating room": ("surgery", "surgical suite"),
    "laboratory": ("lab",),
    "process room": ("production", "packaging", "manufacturing"),
}  # fmt: skip


def _room_kind(text: str) -> str:
    known = {name: (kind.title, *_ROOM_WORDS.get(name, ())) for name, kind in room_kinds().items()}
    return reading.choice(text, known, "kind of room")


def _display(text: str) -> str:
    return reading.choice(text, {"I-P": ("ip", "us"), "SI": ("metric",)}, "system of units")


_AREA = Field("floor_area", "Floor area", _reader("area", "ft2", '"6000 sq ft"'))
_HEIGHT = Field("height", "Ceiling height", _reader("length", "ft", '"10 ft"'))
_COOLING = Field("cooling", "Cooling set point", _reader("temperature", "degF", '"75 degF"'))
_HEATING = Field("heating", "Heating set point", _reader("temperature", "degF", '"70 degF"'))
_AIRFLOW = Field("airflow", "Supply air flow", _reader("air flow", "cfm", '"4000 cfm"'))


QUESTIONS: tuple[Question, ...] = (
    Question(
        "today", "Today", "What stands there today",
        "plain (no humidity control), electric, gas, condenser, outdoor-air unit (and its reheat), "
        "or nothing yet",
        (Field("system", "What stands there today", _system),
         Field("reheat", "Reheat of an outdoor-air unit", _reheat)),
        _commas,
    ),
    Question(
        "place", "Place", "Place",
        'greensboro, miami, sand-point, a weather file, or "27.95, -82.46"',
        (Field("weather", "Weather", _text),),
    ),
    Question(
        "region", "Place", "State and time zone",
        '"FL, Eastern"; it sets holidays, summer time and average prices',
        (Field("state", "State", reading.state),
         Field("time_zone", "Time zone", reading.time_zone)),
        _commas,
    ),
    Question(
        "room_kind", "Room", "Kind of room",
        ", ".join(room_kinds()),
        (Field("room_kind", "Kind of room", _room_kind),),
    ),
    Question(
        "size", "Room", "Floor area and ceiling height", '"6000 sq ft, 10 ft"', (_AREA, _HEIGHT),
        _commas,
    ),
    Question(
        "hours", "Room", "Hours of use", reading.HOURS_EXAMPLE,
        (Field("hours", "Hours of use", reading.hours),),
    ),
    Question(
        "nameplate", "Unit", "The unit's nameplate",
        'as much as is known: "10 ton, 11.2 EER, 4000 cfm, R-410A, 2 stages, 2012"',
        (Field("capacity", "Cooling capacity", _capacity),
         Field("efficiency", "Efficiency: EER, IEER or SEER2", _efficiency),
         # Before the air flow: "2012" alone is a year.
         Field("age", "Year it was made", _age),
         _AIRFLOW,
         Field("refrigerant", "Refrigerant", _refrigerant),
         Field("stages", "Stages", _stages)),
        _commas,
    ),
    Question(
        "outdoor_air", "Unit", "Outdoor air", '"600 cfm", or "20 %" of the supply air',
        (Field("outdoor_air", "Outdoor air", _outdoor_air),),
    ),
    Question(
        "humid_now", "Humidity", "How humid it gets now, at worst", '"70 %"',
        (Field("humid_now", "How humid it gets now", _percent),),
    ),
    Question(
        "set_points", "Humidity", "Set points of cooling and heating", '"75 F, 70 F"',
        (_COOLING, _HEATING), _slashes,
    ),
    Question(
        "range", "Humidity", "Relative humidity wanted, lowest to highest", '"30 to 60 %"',
        (Field("low", "Lowest relative humidity", _percent),
         Field("high", "Highest relative humidity", _percent)),
        _range,
    ),
    Question(
        "prices", "Money", "Price of electricity and gas, or the bill's average",
        '"0.12 per kWh, 1.10 per therm"',
        (Field("electricity", "Price of electricity", _electricity),
         Field("gas", "Price of gas", _gas)),
        _commas, "averages with their source",
    ),
    Question(
        "considered", "Options", "What is considered",
        "some of plain, electric, gas, condenser, condenser-trim",
        (Field("considered", "What is considered", _considered),),
    ),
    Question(
        "first_cost", "Options", "First cost of the change",
        '"12000 USD", or "condenser 12000, gas 8000"',
        (Field("first_cost", "First cost", _first_cost),),
    ),
)  # fmt: skip
# Values that a file of answers or a page may give, and that are not asked for at a terminal.
UNASKED: tuple[Question, ...] = (
    Question("title", "Today", "Title", "what is studied", (Field("title", "Title", _text),)),
    Question(
        "display", "Today", "Units", "I-P or SI", (Field("display", "Units", _display),)
    ),
)  # fmt: skip
