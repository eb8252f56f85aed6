"""Answers as the values of a case: what may be said, and how each kind of answer is read."""

from __future__ import annotations

import re
from collections.abc import Callable

from dewledger.case.gains import room_kinds
from dewledger.interview import reading
from dewledger.weather.errors import InputError

# What may stand in the building, or be considered: words for it, and its sources of reheat.
SYSTEMS: dict[str, tuple[str, ...]] = {
    "plain": ("plain unit", "none", "no humidity control", "cooling only", "no reheat"),
    "electric": ("electric reheat", "electric resistance", "resistance"),
    "gas": ("gas reheat", "gas furnace"),
    "hot-water": ("hot-water reheat", "hot water", "hot water reheat", "boiler"),
    "condenser": ("condenser heat", "hot gas", "hot gas reheat", "heat recovery"),
    "outdoor-air unit": ("outdoor air unit", "doas", "dedicated outdoor air", "makeup air unit"),
    "nothing": ("nothing yet", "new building", "new", "not built"),
}
REHEATS: dict[str, tuple[str, ...]] = {
    "plain": SYSTEMS["plain"],
    "electric": SYSTEMS["electric"],
    "gas": SYSTEMS["gas"],
    "hot-water": SYSTEMS["hot-water"],
    "condenser": SYSTEMS["condenser"],
    "condenser-trim": ("condenser heat with electric trim", "condenser and electric", "trim"),
}
TITLES = {
    "plain": "No humidity control",
    "electric": "Electric reheat",
    "gas": "Gas reheat",
    "hot-water": "Hot-water reheat",
    "condenser": "Condenser heat",
    "condenser-trim": "Condenser heat, electric trim",
}


def by_commas(text: str) -> list[str]:
    parts = re.split(r",(?!\d{3}(?:\D|$))|;|\band\b|\n", text)
    return [part.strip() for part in parts if part.strip()]


def by_slashes(text: str) -> list[str]:
    return [part.strip() for part in re.split(r",|;|/|\band\b", text) if part.strip()]


def range_parts(text: str) -> list[str]:
    parts = [p.strip() for p in re.split(r"\bto\b|-|–|,|\band\b", text) if p.strip()]
    # "40 to 60 %": the sign belongs to both.
    if len(parts) == 2 and "%" in parts[1] and "%" not in parts[0]:
        parts[0] += " %"
    return parts


def quantity_reader(kind: str, unit: str, example: str) -> Callable[[str], str]:
    return lambda text: reading.quantity(text, kind, unit, example)


def percent(text: str) -> str:
    return reading.quantity(text, "fraction", "%", '"60 %"')


def capacity(text: str) -> str:
    if re.search(r"EER|COP|cfm|stage|year|R-?\d", text, re.IGNORECASE):
        raise InputError(f'"{text}" is no cooling capacity; write for example "10 ton"')
    written = re.sub(r"\bMBH\b", "kBtu/h", text, flags=re.IGNORECASE)
    return reading.quantity(re.sub(r"\btons?\b", "ton", written), "heat flow", "ton", '"10 ton"')


_EFFICIENCY = re.compile(
    r"(?:(?P<before>EER2?|SEER2?|IEER|COP)\s*[:=]?\s*)?(?P<number>\d+(?:\.\d+)?)\s*"
    r"(?P<after>EER2?|SEER2?|IEER|COP)?",
    re.IGNORECASE,
)


def efficiency(text: str) -> str:
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


REFRIGERANTS = ("R-410A", "R-32", "R-454B", "R-134a", "R-22")


def refrigerant(text: str) -> str:
    low = re.sub(r"[^0-9a-z]", "", text.lower()).removeprefix("r")
    for name in REFRIGERANTS:
        if re.sub(r"[^0-9a-z]", "", name.lower()).removeprefix("r") == low:
            return name
    raise InputError(
        f'"{text}" is no refrigerant that is known; write one of {", ".join(REFRIGERANTS)}'
    )


FANS: dict[str, tuple[str, ...]] = {
    "continuous": ("on", "runs on", "always on", "constant", "continuously"),
    "cycling": ("auto", "automatic", "stops with the compressor", "with the compressor"),
}
FANS_UNOCCUPIED = FANS | {"off": ("stopped", "shut off")}


def fan(text: str) -> str:
    return reading.choice(text, FANS, "setting of the fan while in use")


def fan_unoccupied(text: str) -> str:
    return reading.choice(text, FANS_UNOCCUPIED, "setting of the fan while not in use")


_COUNTS = {"single": 1, "one": 1, "two": 2, "dual": 2, "three": 3, "four": 4}


def stages(text: str) -> str:
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


def age(text: str) -> str:
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


def outdoor_air(text: str) -> str:
    """A flow, or a share of the supply air in percent."""
    if "%" in text or re.search(r"per\s*cent", text, re.IGNORECASE):
        return percent(text)
    return reading.quantity(text, "air flow", "cfm", '"600 cfm" or "20 %"')


def electricity(text: str) -> str:
    if re.search(r"therm|mmbtu|\bgas\b", text, re.IGNORECASE):
        raise InputError(f'"{text}" is a price of gas')
    words = re.sub(r"\b(electricity|electric|power)\b", "", text, flags=re.IGNORECASE)
    return reading.price(words, "kWh", '"0.12 USD/kWh"')


def gas(text: str) -> str:
    words = re.sub(r"\b(natural\s*)?gas\b", "", text, flags=re.IGNORECASE)
    return reading.price(words, "therm", '"1.10 USD/therm"')


def considered(text: str) -> list[str]:
    found = [reading.choice(part, REHEATS, "way to reheat") for part in by_commas(text)]
    return list(dict.fromkeys(found))


def first_cost(text: str) -> dict[str, str]:
    """First cost of the change, by option where several are named; "" is the first of them."""
    found = {}
    for part in by_commas(text):
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


def limit(text: str) -> str:
    """A limit of relative humidity, dew point or humidity ratio; a bare number is of percent."""
    if re.search(r"(?:deg|°|\d)\s*[FC]\b", text):
        return reading.quantity(text, "temperature", "degF", '"55 degF"')
    if re.search(r"gr|g\s*/", text):
        return reading.quantity(text, "humidity ratio", "gr/lb", '"65 gr/lb"')
    return percent(text)


def text_of(text: str) -> str:
    if not text.strip():
        raise InputError("the answer is empty; write a text, or don't know")
    return " ".join(text.split())


def system(text: str) -> str:
    return reading.choice(text, SYSTEMS, "system")


def reheat(text: str) -> str:
    known = {name: REHEATS[name] for name in ("electric", "gas", "hot-water", "condenser")}
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


def room_kind(text: str) -> str:
    known = {name: (kind.title, *_ROOM_WORDS.get(name, ())) for name, kind in room_kinds().items()}
    return reading.choice(text, known, "kind of room")


def display(text: str) -> str:
    return reading.choice(text, {"I-P": ("ip", "us"), "SI": ("metric",)}, "system of units")
