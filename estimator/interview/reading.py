"""Answers as people write them, as a case file takes them: "6000 sq ft", "7 am to 7 pm"."""

from __future__ import annotations

import re
from collections.abc import Mapping

from dewledger.case.words import listed, nearest
from dewledger.quantities import Measured, parse
from dewledger.weather.errors import InputError

_UNKNOWN = re.compile(
    r"\s*(\?+|d/?k|don['’]?t know|do not know|unknown|not sure|no idea|n/?a)\s*", re.IGNORECASE
)
# Ways to write a unit, and how the case writes it; the first that fits is taken.
_UNITS = (
    (r"°\s*", "deg"),
    (r"degrees?\s*([FC])\b", r"deg\1"),
    (r"(?<![a-z])(?:sq(?:uare)?\.?\s*(?:ft|feet|foot)\.?|sf)(?![a-z])", " ft2"),
    (r"\bsq(?:uare)?\.?\s*m(?:eters?)?\b", "m2"),
    (r"\b(?:feet|foot)\b|(?<=\d)\s*['’]", " ft"),
    (r"\bmeters?\b", "m"),
    (r"\bper\s*cent\b|\bpercent\b", "%"),
    (r"\s+(?:per|an?)\s+", "/"),
    (r"\bBTUs?\s*/?\s*h(?:r|our)?\b|\bBTUH\b", "Btu/h"),
    (r"\bkwh?s?\b", lambda found: "kWh" if "h" in found[0].lower() else "kW"),
    (r"\bmmbtu\b", "MMBtu"),
    (r"\btherms\b", "therm"),
    (r"\bCFMs?\b", "cfm"),
)


# Words of people who know a value roughly: it is taken as it stands.
_ROUGHLY = re.compile(r"^(?:about|around|roughly|approx(?:imately|\.)?|up to|~|ca\.?)\s*", re.I)


def is_unknown(text: str) -> bool:
    """Whether an answer says that it is not known."""
    return _UNKNOWN.fullmatch(text) is not None


def quantity(text: str, kind: str, unit: str, example: str) -> str:
    """A quantity of a kind, as the case writes it; a bare number has the usual unit."""
    written = _ROUGHLY.sub("", text.strip().strip("."))
    for pattern, unit_name in _UNITS:
        written = re.sub(pattern, unit_name, written, flags=re.IGNORECASE)
    if re.fullmatch(r"[-+]?[\d,]*\.?\d+", written):
        written = f"{written} {unit}"
    written = re.sub(r"(\d)\s*([A-Za-z%])", r"\1 \2", " ".join(written.split()))
    try:
        found = parse(written, kind)
    except InputError as error:
        raise InputError(f"{_first(str(error))}; write for example {example}") from None
    if found <= 0.0 and kind not in ("temperature", "money", "energy price", "rate"):
        raise InputError(f'"{text.strip()}" must be above zero; write for example {example}')
    return found.text


def _first(message: str) -> str:
    return message.split("; write for example")[0]


def choice(text: str, known: Mapping[str, tuple[str, ...]], what: str) -> str:
    """One of several words, by its own name, by another name for it, or by how it begins."""
    low = " ".join(text.lower().replace("-", " ").split())
    by_name = {}
    for name, others in known.items():
        for word in (name, *others):
            by_name[word.lower().replace("-", " ")] = name
    if low in by_name:
        return by_name[low]
    begun = {name for word, name in by_name.items() if len(low) > 2 and word.startswith(low)}
    if not begun:  # "exam rooms", "office building": a known word, and more
        begun = {name for word, name in by_name.items() if re.match(rf"{re.escape(word)}s?\b", low)}
    if len(begun) == 1:
        return begun.pop()
    hint = nearest(low, by_name)
    raise InputError(f'"{text.strip()}" is no {what}{hint}; write {listed(known)}')


def price(text: str, default_unit: str, example: str) -> str:
    """A price of energy: "0.12", "$0.12 per kWh", "12 cents/kWh", "1.10 a therm"."""
    written = re.sub(r"\b(?:dollars?|usd)\b", "USD", text.strip(), flags=re.IGNORECASE)
    cents = re.search(r"(?:¢|\bcents?\b|\bct\b|(?<=\d)\s*c(?=\s*/))", written, re.IGNORECASE)
    number = re.search(r"\d[\d,]*\.?\d*|\.\d+", written)
    if number is None:
        raise InputError(f'"{text.strip()}" holds no price; write for example {example}')
    if "-" in written[: number.start()]:
        raise InputError(f'"{text.strip()}" is negative; write for example {example}')
    value = float(number[0].replace(",", "")) / (100.0 if cents else 1.0)
    rest = written[number.end() :]
    named = re.search(r"(kwh|mwh|therms?|mmbtu|mcf|ccf)\b", rest, re.IGNORECASE)
    unit = default_unit
    if named:
        names = {"kwh": "kWh", "mwh": "MWh", "therm": "therm", "therms": "therm", "mmbtu": "MMBtu"}
        if named[1].lower() not in names:
            raise InputError(
                f'"{text.strip()}" is a price per volume of gas; write it per therm, for example '
                f"{example}"
            )
        unit = names[named[1].lower()]
    elif re.search(r"[A-Za-z]", re.sub(r"USD|cents?|ct|¢|/|\bper\b|\ba\b", "", rest)):
        raise InputError(f'"{text.strip()}" is no price of energy; write for example {example}')
    found = parse(f"{value:.6g} USD/{unit}", "energy price")
    return found.text


_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_DAY = r"(?:mon|tues?|wed(?:nes)?|thu(?:rs?)?|fri|sat(?:ur)?|sun)(?:days?)?"
_SPAN = re.compile(
    rf"(?P<days>weekdays?|weekends?|daily|every\s*day|{_DAY}(?:\s*(?:-|–|to|through)\s*{_DAY})?)?"
    r"[\s:]*(?P<hours>always|24\s*/\s*7|24\s*hours?|closed|never|none|"
    r"\d{1,2}(?::\d\d)?\s*(?:am|pm|a\.m\.|p\.m\.)?\s*(?:-|–|to|until)\s*"
    r"\d{1,2}(?::\d\d)?\s*(?:am|pm|a\.m\.|p\.m\.)?)",
    re.IGNORECASE,
)
HOURS_EXAMPLE = '"7 am to 7 pm", or "Mon-Fri 7-19, Sat 9-13"'


def hours(text: str) -> dict[str, str]:
    """Occupied hours of "weekday", "saturday" and "sunday" as the case writes them.

    Hours without days are those of Monday to Friday; "24/7" is always.
    """
    found: dict[str, str] = {}
    rest = text
    for match in _SPAN.finditer(text):
        rest = rest.replace(match[0], " ", 1)
        span = _span(match["hours"], text)
        always = re.fullmatch(r"24\s*/\s*7|always", match["hours"], re.IGNORECASE) is not None
        for day in _days(match["days"], always, text):
            found[day] = f"{found[day]}, {span}" if day in found else span
    if not found or re.search(r"\w", re.sub(r"\band\b", "", rest)):
        raise InputError(f'"{text.strip()}" is not understood as hours; write {HOURS_EXAMPLE}')
    return {"weekday": "none", "saturday": "none", "sunday": "none"} | found


def _days(text: str | None, always: bool, whole: str) -> list[str]:
    low = (text or "").lower().replace(" ", "")
    if low in ("daily", "everyday") or (not low and always):
        return ["weekday", "saturday", "sunday"]
    if not low or low.startswith("weekday"):
        return ["weekday"]
    if low.startswith("weekend"):
        return ["saturday", "sunday"]
    ends = [_DAYS.index(part[:3]) for part in re.split(r"-|–|through|to", low) if part]
    first, last = ends[0], ends[-1]
    covered = {(first + step) % 7 for step in range((last - first) % 7 + 1)}
    weekdays = covered & set(range(5))
    if weekdays and weekdays != set(range(5)):
        raise InputError(
            f'"{whole.strip()}" distinguishes weekdays, which a case does not; write '
            f"{HOURS_EXAMPLE}"
        )
    names = ["weekday"] if weekdays else []
    return [*names, *(["saturday"] if 5 in covered else []), *(["sunday"] if 6 in covered else [])]


def _span(text: str, whole: str) -> str:
    low = text.lower().replace(".", "").strip()
    if low in ("closed", "never", "none"):
        return "none"
    if low.startswith(("24", "always")) and not re.search(r"24\s*-", low):
        return "always"
    ends = re.split(r"\s*(?:-|–|to|until)\s*", low)
    clock = [re.fullmatch(r"(\d{1,2})(?::(\d\d))?\s*(am|pm)?", end.strip()) for end in ends]
    numbers = []
    for end in clock:
        if end is None or int(end[1]) > 24 or (end[3] and not 1 <= int(end[1]) <= 12):
            raise InputError(f'"{whole.strip()}" is not understood as hours; write {HOURS_EXAMPLE}')
        if end[2] not in (None, "00"):
            raise InputError(
                f'"{whole.strip()}" must begin and end on the hour, since the account is hourly; '
                f"write {HOURS_EXAMPLE}"
            )
        hour = int(end[1])
        numbers.append(hour % 12 + (12 if end[3] == "pm" else 0) if end[3] else hour)
    first, last = numbers
    if last <= first and last + 12 > first and clock[1] is not None and not clock[1][3]:
        last += 12  # 8 to 5
    if last == 0:
        last = 24
    if last == first:
        raise InputError(f'"{whole.strip()}" begins and ends at once; write {HOURS_EXAMPLE}')
    return f"{first:02d}:00-{last:02d}:00"


ZONES = {
    "Eastern": "America/New_York",
    "Central": "America/Chicago",
    "Mountain": "America/Denver",
    "Arizona": "America/Phoenix",
    "Pacific": "America/Los_Angeles",
    "Alaska": "America/Anchorage",
    "Hawaii": "Pacific/Honolulu",
}


def time_zone(text: str) -> str:
    """A zone such as "America/New_York" from "Eastern", "ET", "EST" or its own name; or "none"."""
    from zoneinfo import available_timezones

    word = re.sub(r"\b(standard|daylight|time|zone)\b", "", text.strip(), flags=re.IGNORECASE)
    word = word.strip()
    letters = {"E": "Eastern", "C": "Central", "M": "Mountain", "P": "Pacific"}
    short = re.fullmatch(r"([ECMP])[SD]?T", word.upper())
    if short:
        return ZONES[letters[short[1]]]
    if word.title() in ZONES:
        return ZONES[word.title()]
    if word.lower() == "none" or word in available_timezones():
        return word
    raise InputError(
        f'"{text.strip()}" is no time zone{nearest(word, [*ZONES, *available_timezones()])}; write '
        'for example "Eastern" or "America/New_York"'
    )


def state(text: str) -> str:
    """Two letters of a US state from its letters or its name; "none" outside the US."""
    import holidays

    word = text.strip()
    us = holidays.country_holidays("US")
    names = {name.lower(): str(code) for name, code in us.subdivisions_aliases.items()}
    if word.lower() == "none":
        return "none"
    if word.upper() in us.subdivisions:
        return word.upper()
    if word.lower() in names:
        return names[word.lower()]
    raise InputError(
        f'"{word}" is no US state{nearest(word, names)}; write its two letters, or "none" elsewhere'
    )


def measured(text: str, kind: str) -> Measured:
    """A quantity that was read before."""
    return parse(text, kind)
