"""The table of questions. The command asks them at a terminal, ``--answers`` reads them from a
file, and a page shows them as fields; all three take the same answers to the same case."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from dewledger.case.gains import room_kinds
from dewledger.interview import places, readers, reading
from dewledger.interview.places import Place
from dewledger.interview.readers import quantity_reader


@dataclass(frozen=True)
class Field:
    """One value of an answer.

    key : its name in a file of answers
    text : what it is, for a field of a page and for sentences
    read : an answer to the value as the case takes it; InputError where it does not fit
    help : one line on what it is; a page shows it
    place : where it stands in a case; None where nothing of a case that is there holds it
    choices : gives the words it may be, where it is one of a few
    """

    key: str
    text: str
    read: Callable[[str], Any]
    help: str = ""
    place: Place | None = None
    choices: Callable[[], tuple[str, ...]] = lambda: ()


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


def _words(*words: str) -> Callable[[], tuple[str, ...]]:
    return lambda: words


_AREA = Field(
    "floor_area", "Floor area", quantity_reader("area", "ft2", '"6000 sq ft"'),
    "Floor area of the space that the unit serves.",
    Place("room.floor_area", "area", ("ft2", "m2")),
)  # fmt: skip
_HEIGHT = Field(
    "height", "Ceiling height", quantity_reader("length", "ft", '"10 ft"'),
    "Mean height of the air volume.",
    Place("room.height", "length", ("ft", "m")),
)  # fmt: skip
_COOLING = Field(
    "cooling", "Cooling set point", quantity_reader("temperature", "degF", '"75 degF"'),
    "The space is cooled down to this.",
    Place("room.cooling_setpoint", "temperature", ("degF", "degC")),
)  # fmt: skip
_HEATING = Field(
    "heating", "Heating set point", quantity_reader("temperature", "degF", '"70 degF"'),
    "The space is heated up to this.",
    Place("room.heating_setpoint", "temperature", ("degF", "degC")),
)  # fmt: skip
_CAPACITY = Field(
    "capacity", "Cooling capacity", readers.capacity,
    "Rated total cooling capacity.",
    Place("unit.total_capacity", "heat flow", ("ton", "kBtu/h", "kW"), factors=(0.6, 1.6)),
)  # fmt: skip
_EFFICIENCY = Field(
    "efficiency", "Efficiency: EER, IEER or SEER2", readers.efficiency,
    "Of the nameplate; a seasonal figure is turned into one of full load.",
    Place("unit.efficiency", "efficiency ratio", ("EER", "COP"), write=places.efficiency),
)  # fmt: skip
_AGE = Field(
    "age", "Year it was made", readers.age,
    "The year, or how old it is; it goes into the note of the case.",
    Place("note", write=places.age),
)  # fmt: skip
_AIRFLOW = Field(
    "airflow", "Supply air flow", quantity_reader("air flow", "cfm", '"4000 cfm"'),
    "Air that the unit’s fan moves.",
    Place("air.supply_flow", "air flow", ("cfm", "L/s")),
)  # fmt: skip
_REFRIGERANT = Field(
    "refrigerant", "Refrigerant", readers.refrigerant, "As the nameplate says.",
    Place("unit.refrigerant"), _words(*readers.REFRIGERANTS),
)  # fmt: skip
_STAGES = Field(
    "stages", "Stages", readers.stages, "Steps of its compressors, or variable.",
    Place("unit.capacity_control", write=places.stages),
    _words("1 stage", "2 stages", "3 stages", "4 stages", "variable"),
)  # fmt: skip


TODAY, PLACE, ROOM, UNIT, HUMIDITY, PRICES, OPTIONS = (
    "Today", "Place", "Room", "Today’s unit", "Set points and humidity", "Prices", "Options"
)  # fmt: skip

QUESTIONS: tuple[Question, ...] = (
    Question(
        "today", TODAY, "What is in place today",
        "plain (no humidity control), electric, gas, hot-water, condenser, outdoor-air unit (and "
        "its reheat), or nothing yet",
        (Field("system", "What is in place today", readers.system,
               "The other options are compared with this one.", Place("reference")),
         Field("reheat", "Reheat of an outdoor-air unit", readers.reheat)),
        readers.by_commas,
    ),
    Question(
        "place", PLACE, "Place",
        'a bundled station (greensboro, miami, sand-point), a weather file, or latitude and '
        'longitude such as "27.95, -82.46", for which a public service is asked',
        (Field("weather", "Weather", readers.text_of,
               "A bundled station (greensboro, miami, sand-point), or a weather file next to the "
               "case.", Place("site.weather")),),
    ),
    Question(
        "region", PLACE, "State and time zone",
        '"FL, Eastern"; it sets holidays, summer time and average prices',
        (Field("state", "State", reading.state, "Two letters; none outside the US.",
               Place("prices.state", write=places.state)),
         Field("time_zone", "Time zone", reading.time_zone,
               "Such as Eastern; it sets summer time. None keeps standard time.",
               Place("schedule.daylight_saving"))),
        readers.by_commas,
    ),
    Question(
        "room_kind", ROOM, "Kind of room",
        ", ".join(room_kinds()),
        (Field("room_kind", "Kind of room", readers.room_kind,
               "It sets typical people, lights and equipment.", Place("loads.room_kind"),
               lambda: tuple(room_kinds())),),
    ),
    Question(
        "size", ROOM, "Floor area and ceiling height", '"6000 sq ft, 10 ft"', (_AREA, _HEIGHT),
        readers.by_commas,
    ),
    Question(
        "hours", ROOM, "Hours of use", reading.HOURS_EXAMPLE,
        (Field("hours", "Hours of use", reading.hours,
               "When people are there, such as Mon-Fri 7-19, Sat 9-13; or always.",
               Place("schedule.weekday", write=places.hours)),),
    ),
    Question(
        "nameplate", UNIT, "The unit's nameplate",
        'as much of it as can be read: "10 ton, 11.2 EER, 4000 cfm, R-410A, 2 stages, 2012"',
        # Its year before the air flow: "2012" alone is a year.
        (_CAPACITY, _EFFICIENCY, _AGE, _AIRFLOW, _REFRIGERANT, _STAGES),
        readers.by_commas,
    ),
    Question(
        "fan", UNIT, "Whether the fan runs on while the compressor stops, in use and not in use",
        '"on" (it runs on, and the stopped coil gives its water back), "auto" (it stops too); '
        '"on, off" where it is off at night',
        (Field("fan", "Fan while in use", readers.fan,
               "It runs on while the compressor stops, or cycles with it. Running on, it carries "
               "the water of the stopped coil back into the room.",
               Place("air.fan"), _words(*readers.FANS)),
         Field("fan_unoccupied", "Fan while not in use", readers.fan_unoccupied,
               "The same outside the hours of use, or off.",
               Place("air.fan_unoccupied"), _words(*readers.FANS_UNOCCUPIED))),
        readers.by_commas,
    ),
    Question(
        "outdoor_air", UNIT, "Outdoor air", '"600 cfm", or "20 %" of the supply air',
        (Field("outdoor_air", "Outdoor air", readers.outdoor_air,
               "Ventilation in occupied hours: a flow, or a share of the supply air such as 20 %.",
               Place("air.outdoor_flow", "air flow", ("cfm", "L/s"), factors=(0.2, 2.0),
                           write=places.outdoor_air)),),
    ),
    Question(
        "humid_now", HUMIDITY, "How humid it gets now, at worst", '"70 %"',
        (Field("humid_now", "How humid it gets now", readers.percent,
               "At worst, as is seen there; the year of what stands there is held against it.",
               Place("humidity.observed_high", "fraction", ("%",))),),
    ),
    Question(
        "set_points", HUMIDITY, "Set points of cooling and heating", '"75 F, 70 F"',
        (_COOLING, _HEATING), readers.by_slashes,
    ),
    Question(
        "range", HUMIDITY, "Relative humidity wanted, lowest to highest", '"30 to 60 %"',
        (Field("low", "Lowest relative humidity", readers.percent,
               "Hours drier than this are counted.",
               Place("humidity.range_low", "fraction", ("%",))),
         Field("high", "Highest relative humidity", readers.percent,
               "Hours more humid than this are counted.",
               Place("humidity.range_high", "fraction", ("%",)))),
        readers.range_parts,
    ),
    Question(
        "prices", PRICES, "Price of electricity and gas, or the bill's average",
        '"0.12 per kWh, 1.10 per therm"',
        (Field("electricity", "Price of electricity", readers.electricity,
               "Of a kWh; where a bill has demand charges, its average.",
               Place("prices.electricity", "energy price", ("USD/kWh",), factors=(0.4, 2.5))),
         Field("gas", "Price of gas", readers.gas, "Of a therm or a kWh.",
               Place("prices.gas", "energy price", ("USD/therm", "USD/kWh"),
                     factors=(0.4, 2.5)))),
        readers.by_commas, "averages with their source",
    ),
    Question(
        "considered", OPTIONS, "What is considered",
        "one or more of condenser (reheat by heat of the condenser), condenser-trim (the same with "
        "electric help), electric, gas, hot-water, plain (no reheat)",
        (Field("considered", "What is considered", readers.considered,
               "The ways that are compared over the year.", Place("options")),),
    ),
    Question(
        "first_cost", OPTIONS, "First cost of the change",
        'on top of what stands there: "12000 USD", or "condenser 12000, gas 8000"',
        (Field("first_cost", "First cost", readers.first_cost, "What it costs to put in.",
               Place("cost.first_cost", "money", ("USD",), write=places.first_cost,
                     of_option=True)),),
    ),
)  # fmt: skip
# Values that a file of answers or a page may give, and that are not asked for at a terminal.
UNASKED: tuple[Question, ...] = (
    Question(
        "title", TODAY, "Title", "what is studied",
        (Field("title", "Title", readers.text_of, "What is studied; the reports carry it.",
               Place("title")),),
    ),
    Question(
        "display", TODAY, "Units", "I-P or SI",
        (Field("display", "Units", readers.display, "Of all that is shown.", Place("display"),
               _words("I-P", "SI")),),
    ),
    Question(
        "limit", HUMIDITY, "Humidity limit", "dehumidification is called for above this",
        (Field("limit", "Humidity limit", readers.limit,
               "Dehumidification is called for above this.",
               places.LIMIT_PLACES["relative humidity"]),),
    ),
    Question(
        "infiltration", ROOM, "Infiltration", 'outdoor air that leaks in, such as "0.2 ACH"',
        (Field("infiltration", "Infiltration", quantity_reader("rate", "ACH", '"0.2 ACH"'),
               "Outdoor air that leaks in, in air changes an hour.",
               Place("room.infiltration", "rate", ("ACH",), ("0 ACH", "2 ACH"))),),
    ),
    Question(
        "condensing_floor", UNIT, "Minimum condensing temperature",
        'head-pressure control holds the condenser at or above this, such as "96 degF"',
        (Field("condensing_floor", "Minimum condensing temperature",
               quantity_reader("temperature", "degF", '"96 degF"'),
               "Head-pressure control holds the condenser at or above this.",
               Place("unit.condensing_floor", "temperature", ("degF", "degC"),
                     ("70 degF", "115 degF"))),),
    ),
    Question(
        "supply_dew_point", UNIT, "Dew point of an outdoor-air unit's supply air",
        'as dry as it delivers the air, such as "52 degF"',
        (Field("supply_dew_point", "Supply dew point",
               quantity_reader("temperature", "degF", '"52 degF"'),
               "As dry as an outdoor-air unit delivers the air.",
               Place("outdoor_air_unit.supply_dew_point", "temperature", ("degF", "degC"),
                     ("42 degF", "60 degF"))),),
    ),
    Question(
        "effectiveness", OPTIONS, "Effectiveness of a condenser-heat coil", '"60 %"',
        (Field("effectiveness", "Coil effectiveness", readers.percent,
               "Share of the temperature difference between condenser and air that the reheat coil "
               "takes.",
               Place("reheat.effectiveness", "fraction", ("%",), ("20 %", "90 %"),
                     of_option=True)),),
    ),
)  # fmt: skip
