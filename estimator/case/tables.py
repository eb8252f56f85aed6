"""The tables of a case, before they are held against each other."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from dewledger.case.air import Air
from dewledger.case.allowance import Allowance
from dewledger.case.base import Section
from dewledger.case.conditioning import Envelope, Humidifier, OutdoorAirUnit
from dewledger.case.gains import Loads
from dewledger.case.humidity import Humidity
from dewledger.case.meter import Meter, Trend
from dewledger.case.prices import OptionCost, Prices
from dewledger.case.ranges import Ranges, Sweep
from dewledger.case.reading.origins import OriginTable
from dewledger.case.reheat import CoilSizing, Reheat
from dewledger.case.room import Profile, Room, Schedule, Site
from dewledger.case.unit import Heating, Unit
from dewledger.quantities import Display


class Tables(Section):
    """Every table and key that a case file may hold."""

    format: Literal[2] = 2
    """Format of the case file."""
    title: str
    """What is studied."""
    note: str | None = None
    """Anything a reader should know."""
    display: Display = "I-P"
    """Units of what is shown."""
    reference: str | None = None
    """Key of the option that the others are compared with; default the first."""
    site: Site
    room: Room
    schedule: Schedule = Schedule()
    profiles: dict[str, Profile] = Field(default_factory=dict)
    loads: Loads = Loads()
    air: Air
    unit: Unit
    humidity: Humidity = Humidity()
    reheat: tuple[Reheat, ...] = ()
    sizing: CoilSizing = CoilSizing()
    heating: Heating = Heating()
    outdoor_air_unit: OutdoorAirUnit | None = None
    """Makes the unit an outdoor-air unit; default it serves the room alone."""
    humidifier: Humidifier | None = None
    """Moisture added where the room is too dry; default none."""
    envelope: Envelope | None = None
    """The envelope as a network with windows; default [room] conductance and heat capacity."""
    prices: Prices = Prices()
    allowance: Allowance | None = None
    """The energy code that reheat is judged by; default none."""
    cost: OptionCost = OptionCost()
    """What the option costs to put in and to keep up; usually given in each option."""
    ranges: Ranges = Ranges()
    """How far assumptions may be off, for --sensitivity; default ranges where none is stated."""
    meter: Meter | None = None
    """Utility bills to hold the model against; default none."""
    trend: Trend | None = None
    """Trend data of a building automation system to hold the model against; default none."""
    origin: OriginTable = OriginTable()
    """What of this case is from a starter or was assumed."""
    sweep: Sweep | None = None
    """Many cases from this one, for dewledger sweep; default none."""
    options: dict[str, dict[str, Any]] = Field(default_factory=dict)
    """Each option: a title and whatever differs from the case."""
