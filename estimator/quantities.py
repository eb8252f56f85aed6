"""Quantities with units: "2400 cfm" to SI and back.

One table of kinds says, for each kind of quantity, its SI unit (what the code uses inside), its
I-P and SI display units, and an example to show a user who wrote it wrongly. The unit registry is
our own short list on pint, so that "ton" is refrigeration, and "C" is not coulomb. Factors of the
units that the table itself names are part of the package (unit_factors.json), so that few runs load
pint; ``python -m dewledger.quantities`` writes that file anew.
"""

from __future__ import annotations

import difflib
import hashlib
import json
import math
import re
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from pydantic import PlainSerializer, PlainValidator, WithJsonSchema
from pydantic_core import core_schema

from dewledger.weather.errors import InputError
from dewledger.weather.numerics.kept_files import cache_folder, damaged, keep, kept

if TYPE_CHECKING:
    import pint

Display = Literal["I-P", "SI"]

# Exact definitions: international foot, pound and Btu (ISO 31-4), standard gravity.
_UNITS = """
meter = [length] = m
kilogram = [mass] = kg
second = [time] = s = sec
kelvin = [temperature]; offset: 0 = K = degK
currency = [currency] = USD = EUR = GBP = CAD = AUD = INR = JPY = SGD
person = [person] = people
EER_base = []
fraction = []
percent = 0.01
gram = 0.001 * kilogram = g
grain = 0.06479891 * gram = gr
pound = 0.45359237 * kilogram = lb = lbm = lbs
foot = 0.3048 * meter = ft = feet
inch = 0.0254 * meter = in
centimeter = 0.01 * meter = cm
millimeter = 0.001 * meter = mm
minute = 60 * second = min
hour = 3600 * second = h = hr = hours
day = 24 * hour = d = days
week = 7 * day = weeks
year = 365 * day = years = yr
month = year / 12 = months
joule = kilogram * meter ** 2 / second ** 2 = J
kilojoule = 1000 * joule = kJ
megajoule = 1e6 * joule = MJ
gigajoule = 1e9 * joule = GJ
watt = joule / second = W
kilowatt = 1000 * watt = kW
megawatt = 1e6 * watt = MW
watt_hour = watt * hour = Wh
kilowatt_hour = 1000 * watt * hour = kWh
megawatt_hour = 1e6 * watt * hour = MWh
Btu = 1055.05585262 * joule = BTU = btu
kBtu = 1000 * Btu
MMBtu = 1e6 * Btu
therm = 1e5 * Btu = therms
MBH = 1000 * Btu / hour = MBtuh
Btuh = Btu / hour
ton = 12000 * Btu / hour = tons = TR
horsepower = 745.69987158227022 * watt = hp
newton = kilogram * meter / second ** 2 = N
pascal = newton / meter ** 2 = Pa
kilopascal = 1000 * pascal = kPa
hectopascal = 100 * pascal = hPa
millibar = 100 * pascal = mbar
bar = 1e5 * pascal
pound_force = 4.4482216152605 * newton = lbf
psi = pound_force / inch ** 2 = psia
inH2O = 249.08891 * pascal = inwg = inWC = inwc = iwg
inHg = 3386.389 * pascal
degF_step = 5 / 9 * kelvin
cfm = foot ** 3 / minute = CFM = scfm
liter = 0.001 * meter ** 3 = L = l
gallon = 3.785411784 * liter = gal
square_foot = foot ** 2 = ft2 = sqft = sf
square_meter = meter ** 2 = m2 = sqm
cubic_foot = foot ** 3 = ft3
cubic_meter = meter ** 3 = m3
ACH = 1 / hour = ach
EER = Btu / hour / watt = SEER
COP = [] = cop
Mcf = 1000 * foot ** 3
tonne = 1000 * kilogram = t
"""


@dataclass(frozen=True)
class Kind:
    """One kind of quantity: its units inside, on display, and an example of writing it."""

    name: str
    si: str
    display_ip: str
    display_si: str
    example: str
    minimum: float = -math.inf  # in SI units
    maximum: float = math.inf
    bare: bool = False  # a bare number is allowed (ratios only)


# The greatest values are far above those of any building: what passes them is a slip of the pen.
KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("temperature", "degC", "degF", "degC", '"75 degF" or "24 degC"', -100.0, 200.0),
        Kind("temperature difference", "K", "degF", "K", '"10 degF" or "5 K"'),
        Kind("air flow", "m3/s", "cfm", "L/s", '"2400 cfm" or "1130 L/s"', 0.0, 1e4),
        Kind("air flow per area", "m/s", "cfm/ft2", "L/s/m2", '"0.06 cfm/ft2"', 0.0),
        Kind(
            "air flow per person", "m3/s/person", "cfm/person", "L/s/person", '"5 cfm/person"', 0.0
        ),
        Kind("air flow per capacity", "m3/s/W", "cfm/ton", "L/s/kW", '"300 cfm/ton"', 0.0),
        Kind("heat flow", "W", "kBtu/h", "kW", '"7.5 ton", "90 kBtu/h" or "26 kW"', 0.0, 1e9),
        Kind("power", "W", "W", "W", '"900 W" or "1.2 hp"', 0.0, 1e9),
        Kind("power per area", "W/m2", "W/ft2", "W/m2", '"0.8 W/ft2"', 0.0, 1e5),
        Kind("heat per person", "W/person", "Btu/h/person", "W/person", '"75 W/person"', 0.0),
        Kind("pressure", "Pa", "inH2O", "Pa", '"1.2 inH2O" or "300 Pa"', 0.0, 1e5),
        Kind("area", "m2", "ft2", "m2", '"4000 ft2" or "370 m2"', 0.0, 1e7),
        Kind("area per person", "m2/person", "ft2/person", "m2/person", '"50 ft2/person"', 0.0),
        Kind("length", "m", "ft", "m", '"14 ft" or "4.3 m"', -500.0, 1e4),
        Kind("volume", "m3", "ft3", "m3", '"56000 ft3"', 0.0, 1e9),
        Kind("conductance", "W/K", "Btu/h/degF", "W/K", '"900 Btu/h/degF" or "475 W/K"', 0.0, 1e8),
        Kind(
            "conductance per area",
            "W/m2/K",
            "Btu/h/ft2/degF",
            "W/m2/K",
            '"0.05 Btu/h/ft2/degF"',
            0.0,
            1e3,
        ),
        Kind(
            "heat capacity", "J/K", "Btu/degF", "kJ/K", '"20000 Btu/degF" or "38 MJ/K"', 0.0, 1e13
        ),
        Kind(
            "heat capacity per area",
            "J/m2/K",
            "Btu/ft2/degF",
            "kJ/m2/K",
            '"8 Btu/ft2/degF" or "165 kJ/m2/K"',
            0.0,
        ),
        Kind("moisture flow", "kg/s", "lb/h", "kg/h", '"2 lb/h" or "900 g/h"', 0.0, 1e3),
        Kind("water flow", "m3/s", "gal/day", "L/day", '"250 gal/day" or "950 L/day"', 0.0, 10.0),
        Kind("rate", "1/s", "ACH", "ACH", '"0.2 ACH"', 0.0, 100.0 / 3600),
        Kind("time", "s", "h", "h", '"15 min" or "2 h"', 0.0),
        Kind("span of years", "year", "year", "year", '"15 year"', 0.0),
        Kind("efficiency ratio", "COP", "EER", "COP", '"11.2 EER" or "3.3 COP"', 0.0),
        Kind("efficiency", "fraction", "%", "%", '"80 %" or "3.2 COP"', 0.0, 12.0, bare=True),
        Kind("people", "person", "people", "people", '30 or "30 people"', 0.0, 1e6, bare=True),
        Kind("number", "fraction", "fraction", "fraction", "30", 0.0, bare=True),
        Kind("fraction", "fraction", "%", "%", '"50 %" or 0.5', 0.0, 1.0, bare=True),
        Kind("rate per year", "fraction", "%", "%", '"3 %" or 0.03', -1.0, 1.0, bare=True),
        Kind("ratio", "fraction", "fraction", "fraction", "15", bare=True),
        Kind("humidity ratio", "kg/kg", "gr/lb", "g/kg", '"65 gr/lb" or "9.3 g/kg"', 0.0, 1.0),
        Kind(
            "energy price",
            "currency/kWh",
            "USD/kWh",
            "USD/kWh",
            '"0.12 USD/kWh" or "1.10 USD/therm"',
        ),
        Kind("demand price", "currency/kW", "USD/kW", "USD/kW", '"14 USD/kW"'),
        Kind("money", "currency", "USD", "USD", '"6500 USD"'),
        Kind("money per month", "currency/month", "USD/month", "USD/month", '"25 USD/month"'),
        Kind("money per year", "currency/year", "USD/year", "USD/year", '"300 USD/year"'),
        Kind(
            "carbon per energy",
            "kg/kWh",
            "lb/MWh",
            "kg/MWh",
            '"767 lb/MWh" or "53.06 kg/MMBtu"',
            0.0,
        ),
        Kind("carbon price", "currency/kg", "USD/tonne", "USD/tonne", '"50 USD/tonne"', 0.0),
    )
}


@cache
def registry() -> pint.UnitRegistry[Any]:
    """Our own short list of units on pint, which takes its time to load."""
    import pint

    units: pint.UnitRegistry[Any] = pint.UnitRegistry(None, case_sensitive=True)
    for line in _UNITS.strip().splitlines():
        units.define(line)
    return units


class Measured(float):
    """A value in its kind's SI unit that remembers how it was written."""

    kind: Kind
    text: str

    def __new__(cls, value: float, kind: Kind, text: str) -> Measured:
        measured = super().__new__(cls, value)
        measured.kind = kind
        measured.text = text
        return measured

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: Any) -> core_schema.CoreSchema:
        """Written as its text where it stands as a default in a JSON Schema."""
        return core_schema.any_schema(
            serialization=core_schema.plain_serializer_function_ser_schema(lambda one: one.text)
        )

    def __getnewargs__(self) -> tuple[float, Kind, str]:  # type: ignore[override]
        return float(self), self.kind, self.text


_PATTERN = re.compile(
    r"^([-+]?(?:(?:[1-9]\d{0,2}(?:,\d{3})+|\d+)\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)(?![\d,.])\s*(.*)$"
)
# The same for a JSON Schema, whose patterns are those of ECMAScript: a number, then a unit.
_SCHEMA_NUMBER = r"^\s*[-+]?(\d[\d,]*\.?\d*|\.\d+)([eE][-+]?\d+)?"
_SCHEMA_UNIT = r"\s*[A-Za-z°%$1]"
_LONGEST = 100  # letters of a quantity
# A unit is words joined by / * and blanks, with exponents of one digit: no numbers, signs or
# brackets in it.
_NO_UNIT = re.compile(r"(?:^|[\s*/])\d|[-+(),;]|\^(?!\d(?:[\s*/]|$))")
_UNIT = re.compile(r"^[A-Za-z0-9°%$*/^ ]+$")


_MOST_FACTORS = 1000
_SHIPPED = Path(__file__).with_name("unit_factors.json")
# What pages and terminal show besides the table's own units: by kind, and one unit in another.
_ALSO_SHOWN = (
    ("energy price", "USD/MMBtu"),
    ("heat flow", "Btu/h"),
    ("heat flow", "therm/h"),
    ("pressure", "psi"),
)
_ALSO_CONVERTED = (
    ("fraction", "percent"),
    ("kg", "lb"),
    ("kW", "kBtu/h"),
    ("kWh", "MMBtu"),
    ("kWh", "therm"),
)


@cache
def _factors_file() -> Path | None:
    """Where factors of units are kept, by our list and pint's version."""
    folder = cache_folder("unit-factors")
    digest = hashlib.sha256(f"{version('pint')} {_UNITS} {sorted(KINDS)}".encode()).hexdigest()
    return folder and folder / f"{digest[:16]}.json"


@cache
def _factors() -> dict[str, float]:
    """Factors of the package and those found in earlier runs, by kind and unit."""
    shipped: dict[str, float] = json.loads(_SHIPPED.read_text(encoding="utf-8"))
    path = _factors_file()
    content = None if path is None else kept(path)
    if path is None or content is None:
        return shipped
    try:
        return {str(key): float(value) for key, value in json.loads(content).items()} | shipped
    except (ValueError, TypeError, AttributeError):
        damaged(path)
        return shipped


def shipped_text() -> str:
    """The factors of the package, computed anew by pint, a line for each."""
    named = list(_ALSO_SHOWN)
    for kind in KINDS.values():
        written = re.findall(r'"[\d.]+ ([^"]+)"', kind.example)
        named += [(kind.name, unit) for unit in (kind.si, kind.display_ip, kind.display_si)]
        named += [(kind.name, unit) for unit in written]
    factors = {_key(unit, KINDS[name]): _computed_factor(unit, KINDS[name]) for name, unit in named}
    factors |= {_pair(*pair): _computed_conversion(*pair) for pair in _ALSO_CONVERTED}
    return json.dumps(factors, indent=0, sort_keys=True, ensure_ascii=False) + "\n"


@lru_cache(maxsize=4096)
def _unit_factor(unit: str, kind: Kind) -> float:
    """SI units of ``kind`` in one ``unit``; raises InputError where the two do not match.

    Kept on disk, because loading pint takes longer than reading a case.
    """
    return _kept_factor(_key(unit, kind), lambda: _computed_factor(unit, kind))


def _key(unit: str, kind: Kind) -> str:
    return f"{kind.name} in {kind.si}: {unit}"


def conversion(unit: str, into: str) -> float:
    """What one of a unit is in another, both by the names of our list."""
    return _kept_factor(_pair(unit, into), lambda: _computed_conversion(unit, into))


def _pair(unit: str, into: str) -> str:
    return f"{unit} to {into}"


def _computed_conversion(unit: str, into: str) -> float:
    return float(registry().Quantity(1.0, unit).to(into).magnitude)


def _kept_factor(key: str, compute: Callable[[], float]) -> float:
    known = _factors()
    if key not in known:
        known[key] = compute()
        path = _factors_file()
        if path is not None and len(known) <= _MOST_FACTORS:
            keep(path, json.dumps(dict(known)).encode())
    return known[key]


def _computed_factor(unit: str, kind: Kind) -> float:
    import pint

    text = unit.replace("²", "2").replace("³", "3").replace("·", "*").replace("**", "^")
    if _NO_UNIT.search(text.removeprefix("1/")) or not _UNIT.match(text):
        raise InputError(f'unit "{unit}" cannot be read; write for example {kind.example}')
    text = re.sub(r"\bdeg\s?F\b|°F", "degF_step", text)
    text = re.sub(r"\bdeg\s?C\b|°C", "K", text)
    # The signs are no names of units: pint takes them for operators.
    text = text.replace("%", "percent").replace("$", "USD").replace("^", "**")
    text = re.sub(r"([A-Za-z])([23])\b", r"\1**\2", text)
    units = registry()
    try:
        factor = units.parse_expression(text)
    except pint.UndefinedUnitError as error:
        unknown = error.unit_names if isinstance(error.unit_names, str) else error.unit_names[0]
        hint = _unit_hint(str(unknown), text, kind)
        raise InputError(
            f'unit "{unit}" is not known{hint}; write for example {kind.example}'
        ) from None
    except Exception:
        raise InputError(
            f'unit "{unit}" cannot be read; write for example {kind.example}'
        ) from None
    if not isinstance(factor, pint.Quantity):
        factor = units.Quantity(factor, "")
    target = "K" if kind.si == "degC" else kind.si
    try:
        return float(factor.to(target).magnitude)
    except pint.DimensionalityError:
        raise InputError(
            f'"{unit}" is not a unit of {kind.name}; write for example {kind.example}'
        ) from None


def _unit_hint(unknown: str, text: str, kind: Kind) -> str:
    """' (did you mean "kWh"?)': a unit spelt much like the unknown one that makes the whole a unit
    of the kind; nothing where there is none, however alike the spelling."""
    units = registry()
    names = {str(name).lower(): str(name) for name in units}
    target = units.parse_expression("K" if kind.si == "degC" else kind.si)
    for near in difflib.get_close_matches(unknown.lower(), names, n=5):
        corrected = re.sub(rf"\b{re.escape(unknown)}\b", names[near], text)
        try:
            whole = units.Quantity(1.0, "") * units.parse_expression(corrected)
            if whole.is_compatible_with(target):
                return f' (did you mean "{names[near]}"?)'
        except Exception:  # what pint cannot read is no hint
            continue
    return ""


def parse(text: object, kind_name: str) -> Measured:
    """A quantity as a user writes it, in the SI unit of its kind.

    Parameters
    ----------
    text : "2400 cfm", or a bare number for ratios
    kind_name : a key of KINDS

    Raises
    ------
    InputError : no unit, unknown unit, wrong dimension, out of the kind's bounds
    """
    # A sweep reads the same texts for every point.
    return _read_text(text, kind_name) if type(text) is str else _read(text, kind_name)


def _read(text: object, kind_name: str) -> Measured:
    kind = KINDS[kind_name]
    if isinstance(text, Measured):
        if text.kind is not kind:
            raise InputError(f'"{text.text}" is {_a(text.kind)}, not {_a(kind)}')
        return text
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        raise InputError(f"{_a(kind)} is expected; write for example {kind.example}")
    if isinstance(text, int | float):
        if isinstance(text, int) and abs(text) > sys.float_info.max:  # no float holds it
            raise InputError(
                f"a number as large as this is no {kind.name}; write for example {kind.example}"
            )
        if not kind.bare:
            raise InputError(f"{text:g} has no unit; write for example {kind.example}")
        written, unit = f"{text:g}", ""
        number = float(text)
    else:
        written = text.strip()
        if len(written) > _LONGEST:
            raise InputError(
                f"a text of {len(written)} letters is no {kind.name}; "
                f"write for example {kind.example}"
            )
        match = _PATTERN.match(written)
        if not match:
            raise InputError(
                f'"{written}" is not a number with a unit{_comma(written)}; '
                f"write for example {kind.example}"
            )
        number = float(match[1].replace(",", ""))
        unit = match[2]
        if not unit and not kind.bare:
            raise InputError(f'"{written}" has no unit; write for example {kind.example}')
    if not math.isfinite(number):
        raise InputError(f'"{written}" is not a finite number; write for example {kind.example}')
    value = _to_si(number, unit, kind)
    if not kind.minimum <= value <= kind.maximum:
        if kind.name in ("fraction", "rate per year") and not unit and 1.0 < number <= 100.0:
            raise InputError(f'{written} is above 1; write "{written} %" if percent is meant')
        bound = "cannot be negative" if value < kind.minimum == 0.0 else "is out of range"
        raise InputError(f'"{written}" {bound} for {_a(kind)}; write for example {kind.example}')
    return Measured(value, kind, written)


_read_text = lru_cache(maxsize=8192)(_read)


def _a(kind: Kind) -> str:
    return f"{'an' if kind.name[0] in 'aeiou' else 'a'} {kind.name}"


def _comma(written: str) -> str:
    return ", its decimal mark being a comma" if re.match(r"[-+]?\d+,\d", written) else ""


def _to_si(number: float, unit: str, kind: Kind) -> float:
    if not unit:
        return number
    if kind.si == "degC":
        bare = unit.replace("°", "deg").replace(" ", "")
        if bare in ("degC", "C", "celsius"):
            return number
        if bare in ("degF", "F", "fahrenheit"):
            return (number - 32.0) / 1.8
        if bare in ("K", "kelvin"):
            return number - 273.15
        raise InputError(f'"{unit}" is not a unit of temperature; write for example {kind.example}')
    if kind.name == "temperature difference" and unit in ("F", "C"):
        unit = "deg" + unit
    return number * _unit_factor(unit, kind)


def in_unit(value_si: float, kind_name: str, unit: str) -> float:
    """An SI value of a kind, as a number in another unit."""
    kind = KINDS[kind_name]
    if kind.si == "degC":
        return value_si * 1.8 + 32.0 if unit == "degF" else value_si
    return value_si / _unit_factor(unit, kind)


def display_unit(kind_name: str, display: Display) -> str:
    """The unit a kind is shown in."""
    kind = KINDS[kind_name]
    return kind.display_ip if display == "I-P" else kind.display_si


def show(value_si: float, kind_name: str, display: Display, figures: int = 3) -> str:
    """An SI value for a reader: rounded to ``figures`` significant figures, with its unit."""
    unit = display_unit(kind_name, display)
    number = in_unit(value_si, kind_name, unit)
    sign = {"degF": "°F", "degC": "°C", "fraction": ""}.get(unit, unit)
    if kind_name == "temperature":
        return f"{number:.0f} {sign}" if display == "I-P" else f"{number:.1f} {sign}"
    return f"{rounded(number, figures)} {sign}".rstrip()


def rounded(number: float, figures: int = 3) -> str:
    """A number to significant figures, thousands separated, never in powers of ten."""
    if number == 0 or not math.isfinite(number):
        return "0" if number == 0 else "-"
    for _ in range(2):  # rounding may carry into another digit: 0.09996 is 0.100
        digits = figures - 1 - math.floor(math.log10(abs(number)))
        number = round(number, digits)
    return f"{number:,.{max(digits, 0)}f}"


def quantity(kind_name: str, above_zero: bool = False) -> Any:
    """The pydantic pieces of a quantity field: ``Annotated[float, *quantity("air flow")]``.

    ``above_zero`` refuses zero as well as what the kind refuses.
    """
    kind = KINDS[kind_name]

    def validate(value: object) -> Measured:
        measured = parse(value, kind_name)
        if above_zero and measured <= 0.0:
            raise InputError(
                f'"{measured.text}" must be above zero; write for example {kind.example}'
            )
        return measured

    schema = {
        "type": ["string", "number"] if kind.bare else "string",
        "pattern": _SCHEMA_NUMBER + ("" if kind.bare else _SCHEMA_UNIT),
        "description": kind.name,
        "examples": [example.strip('"') for example in re.split(r" or |, ", kind.example)],
    }
    return (
        PlainValidator(validate),
        PlainSerializer(lambda value: value.text, return_type=str),
        WithJsonSchema(schema),
    )


if __name__ == "__main__":
    _SHIPPED.write_text(shipped_text(), encoding="utf-8")
