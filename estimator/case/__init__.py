"""The case: one TOML file of site, room, loads, air, unit, humidity, reheat, prices and options."""

from dewledger.case.air import Air
from dewledger.case.base import Section
from dewledger.case.files import (
    bundled_case,
    bundled_text,
    case_from_dict,
    case_from_text,
    load_case,
    starter,
    starter_kinds,
)
from dewledger.case.gains import (
    Electric,
    Loads,
    LoadsFile,
    People,
    Process,
    activities,
    library_profiles,
    room_kinds,
)
from dewledger.case.humidity import Humidity
from dewledger.case.model import Case, OptionCase
from dewledger.case.reading.schema import json_schema
from dewledger.case.reheat import CoilSizing, Reheat
from dewledger.case.room import Profile, Room, Schedule, Site
from dewledger.case.unit import Heating, ReEvaporation, Unit

__all__ = [
    "Air",
    "Case",
    "CoilSizing",
    "Electric",
    "Heating",
    "Humidity",
    "Loads",
    "LoadsFile",
    "OptionCase",
    "People",
    "Process",
    "Profile",
    "ReEvaporation",
    "Reheat",
    "Room",
    "Schedule",
    "Section",
    "Site",
    "Unit",
    "activities",
    "bundled_case",
    "bundled_text",
    "case_from_dict",
    "case_from_text",
    "json_schema",
    "library_profiles",
    "load_case",
    "room_kinds",
    "starter",
    "starter_kinds",
]
