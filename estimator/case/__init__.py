"""The case: one TOML file of site, room, loads, air, unit, humidity, reheat, prices and options."""

from estimator.case.air import Air
from estimator.case.base import Section
from estimator.case.files import (
    bundled_case,
    bundled_text,
    case_from_text,
    json_schema,
    load_case,
    starter,
    starter_kinds,
)
from estimator.case.gains import (
    Electric,
    Loads,
    LoadsFile,
    People,
    Process,
    activities,
    library_profiles,
    room_kinds,
)
from estimator.case.machine import CoilSizing, Heating, Humidity, ReEvaporation, Reheat, Unit
from estimator.case.model import Case, OptionCase
from estimator.case.room import Profile, Room, Schedule, Site

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
    "case_from_text",
    "json_schema",
    "library_profiles",
    "load_case",
    "room_kinds",
    "starter",
    "starter_kinds",
]
