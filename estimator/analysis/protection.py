"""Findings that protect people: what a solved option says that must not pass unread.

Each is found from the option's case, its machine and its year, names its figure, and defers to
local codes and the licensed engineer. The mold screen is always reported with them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from dewledger.accounts.energy import column
from dewledger.accounts.humidity_criteria import MoldFinding
from dewledger.analysis.observed_humidity import observed
from dewledger.assembly.machine import Machine
from dewledger.case import Case, OptionCase
from dewledger.case.air import LEAST_FLOW_PER_CAPACITY
from dewledger.case.reading.checks import design_outdoor_flow
from dewledger.codes.parts import energy
from dewledger.components.refrigerant_cycle import tabled_cycle
from dewledger.components.supply_fan import CONSTANT_FLOW
from dewledger.hourly.types import DRIVERS
from dewledger.quantities import Display, parse, rounded, show
from dewledger.weather.physics.moist_air import (
    STANDARD_AIR_DENSITY,
    STANDARD_PRESSURE_PA,
    FloatArray,
    dew_point,
    hum_ratio_from_rel_hum,
)

BoolArray = npt.NDArray[np.bool_]

PA_PER_PSI = 6894.757293168
ATMOSPHERE_PSI = 14.696
# Within this of the ceiling, head pressure is near the switch that trips: common practice, no
# source.
NEAR_CEILING_K = 5.0 / 1.8
# Off a coil the air is nearly saturated: within this of the limit's dew point it dries slowly.
NEAR_LIMIT_K = 2.0 / 1.8
# The lowest rates of the ventilation standard's table (ASHRAE 62.1; not checked against the text).
LEAST_PER_PERSON = parse("5 cfm/person", "air flow per person")
LEAST_PER_AREA = parse("0.06 cfm/ft2", "air flow per area")
# Below this supply flow for each ton in use a coil may freeze: the least that a case lets run.
LEAST_FLOW_PER_W = float(parse(LEAST_FLOW_PER_CAPACITY, "air flow per capacity"))
# Surfaces of coolers in a room: fan coils and split units run at or below this. Common practice,
# no source.
COOLER_SURFACE_C = (55.0 - 32.0) / 1.8
# Mildly flammable refrigerants by ANSI/ASHRAE 34, read second-hand.
A2L = ("R-32", "R-454B")
# Rooms that need more than humidity, by criterion and by process space.
_CRITICAL_CRITERIA = {
    "operating-room": "operating rooms",
    "sterile-compounding": "compounding rooms",
    "pharmacy": "pharmaceutical rooms",
}
_CRITICAL_SPACES = {"surgical suite": "operating rooms", "pharmacy": "compounding rooms"}


@dataclass(frozen=True)
class ProtectionFinding:
    """Something in an option that may hurt people or what they work with.

    key : which finding
    sentence : what was found, with its figures, and what to do
    hours : hours of the year in which it holds; None where it is of no hour
    figure, unit : the figure that matters most; None where there is none
    """

    key: str
    sentence: str
    hours: int | None = None
    figure: float | None = None
    unit: str = ""


class Solved(NamedTuple):
    """An option solved, as the findings read it.

    recovered_worth, penalty_cost : money that the recovered heat would have cost to purchase, and
        that
        of the recovery penalty; None where no prices are known
    """

    case: Case
    machine: Machine
    ledger: FloatArray
    display: Display
    recovered_worth: float | None = None
    penalty_cost: float | None = None


def protection(
    option: OptionCase,
    machine: Machine,
    ledger: FloatArray,
    display: Display,
    recovered_worth: float | None = None,
    penalty_cost: float | None = None,
) -> tuple[ProtectionFinding, ...]:
    """Everything of an option that must not pass unread, in the order of this file.

    Parameters
    ----------
    ledger : (columns, hours)
    recovered_worth, penalty_cost : money a year that the recovered heat would have cost to
        purchase, and
        that of the recovery penalty; without them both are weighed in energy
    """
    solved = Solved(option.case, machine, ledger, display, recovered_worth, penalty_cost)
    return tuple(found for find in FINDINGS for found in find(solved))


def _driver(solved: Solved, name: str) -> FloatArray:
    values: FloatArray = solved.machine.drivers[:, DRIVERS.index(name)]
    return values


def _h(hours: int) -> str:
    return f"{hours:,} h"


# ---------------------------------------------------------------------------------------------
# Air that comes in and goes out


def _exhaust(solved: Solved) -> list[ProtectionFinding]:
    """Exhaust above the unit's outdoor air draws humid air in through the envelope."""
    beyond = _driver(solved, "make_up_kg_s")
    hours = int((beyond > 1e-9).sum())
    if not hours:
        return []
    most = float(beyond.max()) / STANDARD_AIR_DENSITY
    sentence = (
        f"Exhaust takes up to {show(most, 'air flow', solved.display)} more than the outdoor air "
        f"brought in, in {_h(hours)}: the building is then under negative pressure and draws humid "
        "air through its envelope, where it can wet what cannot be seen, and fuel-burning "
        "appliances can spill; bring in at least as much as goes out."
    )
    return [ProtectionFinding("exhaust above outdoor air", sentence, hours, most, "m3/s")]


def _people(solved: Solved) -> FloatArray:
    """People present in each hour, (hours,)."""
    people, calendar = solved.case.loads.people, solved.machine.calendar
    if people is None:
        return np.zeros(calendar.occupied.size)
    values = calendar.profile_values(solved.case.profile(people.profile))
    present: FloatArray = people.number(float(solved.case.room.floor_area)) * values
    return present


def _outdoor_air(solved: Solved) -> list[ProtectionFinding]:
    """Outdoor air of none, or below what people and area ask for, and hours that shut it."""
    case, display = solved.case, solved.display
    present = _people(solved)
    # As the case states flows: of standard air, or of the room's.
    density = float(solved.machine.plant.flow_kg_s) / float(case.air.supply_flow)
    brought = column(solved.ledger, "outdoor_air_kg_s") / density
    inside = present > 0.0
    if not inside.any():
        return []
    if design_outdoor_flow(case) <= 0.0:
        hours = int(inside.sum())
        sentence = (
            f"The unit brings no outdoor air, yet up to {present.max():,.0f} people are in, in "
            f"{_h(hours)} of the year: ventilation must come by other means that the local code "
            "accepts."
        )
        return [ProtectionFinding("no outdoor air", sentence, hours, 0.0, "m3/s")]
    per_person, per_area = case.air.outdoor_per_person, case.air.outdoor_per_area
    stated = per_person is not None or per_area is not None
    floor = float(case.room.floor_area)
    asked = present * float(per_person or 0.0) + float(per_area or 0.0) * floor
    whose = "the rate by people and area that the case states"
    if not stated:
        asked = present * float(LEAST_PER_PERSON) + float(LEAST_PER_AREA) * floor
        whose = (
            "5 cfm a person and 0.06 cfm/ft2, the lowest rates of ASHRAE 62.1 (not checked against "
            "the text)"
        )
    found = []
    shut = inside & (brought <= 1e-9)
    if shut.any():
        hours = int(shut.sum())
        sentence = (
            f"Controls or the schedule shut the outdoor air in {_h(hours)} with people in, up to "
            f"{present[shut].max():,.0f} of them: check the ventilation that the local code asks "
            "for while the room is in use."
        )
        found.append(ProtectionFinding("outdoor air shut", sentence, hours, 0.0, "m3/s"))
    low = inside & ~shut & (brought < 0.99 * asked)
    if low.any():
        hours = int(low.sum())
        worst = int(np.argmax(np.where(low, asked - brought, -1.0)))
        sentence = (
            f"Outdoor air is below {whose} in {_h(hours)} with people in, by up to "
            f"{show(float(asked[worst] - brought[worst]), 'air flow', display)}: raise it, or show "
            "the rate that the local code requires."
        )
        short = float(asked[worst] - brought[worst])
        found.append(ProtectionFinding("outdoor air low", sentence, hours, short, "m3/s"))
    return found


# ---------------------------------------------------------------------------------------------
# Refrigerant and coil


def _head_pressure(solved: Solved) -> list[ProtectionFinding]:
    """Saturated condensing temperature and pressure near the ceiling."""
    case = solved.case
    condensing = np.nan_to_num(column(solved.ledger, "condensing_temp_C"), nan=-100.0)
    ceiling = float(case.unit.condensing_ceiling)
    near = condensing > ceiling - NEAR_CEILING_K
    hours = int(near.sum())
    if not hours or not solved.machine.unit.refrigerant:
        return []
    highest = float(condensing.max())
    psig = gauge_psi(case.unit.refrigerant, highest)
    limit = gauge_psi(case.unit.refrigerant, ceiling)
    sentence = (
        f"Saturated condensing temperature reaches {show(highest, 'temperature', solved.display)} "
        f"({psig:,.0f} psig of {case.unit.refrigerant}) and is within 5 °F of its ceiling of "
        f"{show(ceiling, 'temperature', solved.display)} ({limit:,.0f} psig) in {_h(hours)}: the "
        "high-pressure cutout and the pressure ratings of coil, valve and piping must be checked."
    )
    return [ProtectionFinding("head pressure", sentence, hours, psig, "psig")]


def gauge_psi(refrigerant: str, dew_C: float) -> float:
    """Saturation pressure of a refrigerant at a dew point, psig."""
    found = tabled_cycle(refrigerant, dew_C - 30.0, dew_C)
    return found.condensing_pressure_Pa / PA_PER_PSI - ATMOSPHERE_PSI


def _penalty(solved: Solved) -> list[ProtectionFinding]:
    """A recovery penalty above what the recovered heat is worth."""
    recovered = float(column(solved.ledger, "reheat_recovered_kWh").sum())
    penalty = float(column(solved.ledger, "recovery_penalty_kWh").sum())
    if recovered <= 0.0 or penalty <= 0.0:
        return []
    worth, cost = solved.recovered_worth, solved.penalty_cost
    if worth is None or cost is None:
        worth, cost = recovered, penalty
        compared = "a year, against"
    else:
        compared = "a year, and costs more than"
    if cost <= worth:
        return []
    sentence = (
        f"Recovering heat takes {rounded(penalty)} kWh of compressor and fan electricity "
        f"{compared} {energy(recovered, solved.display)} of heat that it gives: it does not pay; "
        "purchased reheat or a larger coil would cost less."
    )
    return [ProtectionFinding("recovery penalty", sentence, None, penalty, "kWh")]


def _freezing(solved: Solved) -> list[ProtectionFinding]:
    """A supply flow that goes low enough to freeze the coil."""
    machine = solved.machine
    flow = machine.plant.flow
    surface = column(solved.ledger, "surface_floor_flag") > 0.0
    running = column(solved.ledger, "compressor_runtime_frac") > 0.0
    share = np.nan_to_num(column(solved.ledger, "capacity_frac"), nan=0.0)
    used_W = np.maximum(share, 1e-6) * machine.unit.rated_total_W
    volume = np.nan_to_num(column(solved.ledger, "supply_flow_kg_s")) / STANDARD_AIR_DENSITY
    # The full flow is the design's own.
    design = machine.plant.flow_kg_s / STANDARD_AIR_DENSITY / machine.unit.rated_total_W
    low = running & (volume < 0.999 * min(LEAST_FLOW_PER_W, design) * used_W)
    if solved.case.outdoor_air_unit is not None or flow.kind == CONSTANT_FLOW:
        # Deep coils for outdoor air run at less by design; a constant flow is the design's own.
        low = np.zeros_like(low)
    if not low.any() and not surface.any():
        return []
    hours = int((low | surface).sum())
    causes = []
    if low.any():
        least = float((volume[low] / used_W[low]).min()) * float(parse("1 ton", "heat flow"))
        per_ton = show(least, "air flow", solved.display)
        causes.append(
            f"supply air goes down to {per_ton} for each ton in use in {_h(int(low.sum()))}, where "
            "300 cfm is the least that product data of two units list"
        )
    if surface.any():
        causes.append(f"the coil is at its frost limit in {_h(int(surface.sum()))}")
    sentence = (
        f"The cooling coil may freeze: {' and '.join(causes)}. Keep the least airflow of the "
        f"unit's data, and do not cut the flow below it for the code's sake."
    )
    return [ProtectionFinding("coil freezing", sentence, hours)]


def _flammable(solved: Solved) -> list[ProtectionFinding]:
    """Refrigerants of class A2L."""
    refrigerant = solved.machine.unit.refrigerant
    if refrigerant not in A2L:
        return []
    sentence = (
        f"{refrigerant} is of class A2L, mildly flammable (ANSI/ASHRAE 34, read second-hand): "
        "charge limits, leak detection, ventilation and ignition sources are to be checked against "
        "ANSI/ASHRAE 15, the unit's listing and the local code."
    )
    return [ProtectionFinding("flammable refrigerant", sentence)]


# ---------------------------------------------------------------------------------------------
# The room


def _spray(solved: Solved) -> list[ProtectionFinding]:
    """Water hygiene of a humidifier that sprays."""
    humidifier = solved.case.humidifier
    if humidifier is None or humidifier.source != "adiabatic":
        return []
    hours = int((column(solved.ledger, "humidifier_kg") > 0.0).sum())
    sentence = (
        f"Water is sprayed into the air in {_h(hours)}: standing or untreated water breeds "
        "Legionella and others; treatment, draining when idle, cleaning and a water management "
        "plan (ANSI/ASHRAE 188, not checked against the text) are needed, and droplets must not "
        "wet the filters or ducts."
    )
    return [ProtectionFinding("water hygiene", sentence, hours)]


def _critical_rooms(solved: Solved) -> list[ProtectionFinding]:
    """Rooms whose safety rests on more than their humidity."""
    case = solved.case
    rooms = {_CRITICAL_CRITERIA[key] for key in case.humidity.criteria if key in _CRITICAL_CRITERIA}
    stated = case.allowance
    if stated is not None and stated.process_humidity and stated.process_space in _CRITICAL_SPACES:
        rooms.add(_CRITICAL_SPACES[stated.process_space])
    if not rooms:
        return []
    names = " and ".join(sorted(rooms))
    sentence = (
        f"{names[:1].upper()}{names[1:]} also need a pressure difference to their neighbors, air "
        "changes and filtration by the standard that governs them (such as ASHRAE/ASHE 170 or USP "
        "<797>): none of these is judged here, and no flow may be cut below them."
    )
    return [ProtectionFinding("pressure, air changes, filtration", sentence)]


def _coolers(solved: Solved) -> list[ProtectionFinding]:
    """Coolers in the room that are said to be dry, with their surface below its dew point."""
    separate = solved.case.outdoor_air_unit
    if separate is None or float(separate.room_sensible_heat_ratio) < 1.0 - 1e-9:
        return []
    w = np.maximum(column(solved.ledger, "room_hum_ratio_kg_kg"), 1e-7)
    cools = column(solved.ledger, "room_cooling_kWh") > 0.0
    if not cools.any():
        return []
    # One call for each hour that matters; the dew point rises with the humidity ratio.
    limit_w = hum_ratio_from_rel_hum(COOLER_SURFACE_C, 1.0, STANDARD_PRESSURE_PA)
    wet = cools & (w > limit_w)
    if not wet.any():
        return []
    highest = float(dew_point(float(w[cools].max()), STANDARD_PRESSURE_PA))
    hours = int(wet.sum())
    display = solved.display
    sentence = (
        f"The room's coolers are specified to stay dry, yet its dew point is above "
        f"{show(COOLER_SURFACE_C, 'temperature', display)}, where the surfaces of fan coils and "
        f"split units usually are (common practice, no source), in {_h(hours)} of their running, "
        f"and reaches {show(highest, 'temperature', display)}: they will drip unless their surface "
        "is kept above that; write room_sensible_heat_ratio below 100 %, or lower the supply dew "
        "point."
    )
    return [ProtectionFinding("wet coolers", sentence, hours, highest, "degC")]


def _leaving_air(solved: Solved) -> list[ProtectionFinding]:
    """Air set to leave the coil nearly as moist as the limit of the room."""
    leaving_C = _stated_leaving_C(solved.case)
    limit_C = _limit_dew_point_C(solved.case)
    if leaving_C is None or limit_C is None or leaving_C <= limit_C - NEAR_LIMIT_K:
        return []
    display = solved.display
    sentence = (
        f"Air leaves the coil at {show(leaving_C, 'temperature', display)}, nearly saturated, and "
        f"the room may have a dew point of {show(limit_C, 'temperature', display)}: it dries "
        "slowly or not at all, at much overcooling; set it at "
        f"{show(limit_C - NEAR_LIMIT_K, 'temperature', display)} or below."
    )
    return [ProtectionFinding("leaving air", sentence, None, leaving_C - limit_C, "K")]


def _stated_leaving_C(case: Case) -> float | None:
    """A set point of the air off the coil in a dehumidification call; None where none is held."""
    if case.outdoor_air_unit is not None:
        return float(case.outdoor_air_unit.supply_dew_point)
    stepless = case.unit.capacity_control in ("variable", "stages")
    if not stepless or case.unit.drying_control != "leaving air":
        return None
    return float(case.unit.drying_leaving_temperature)


def _limit_dew_point_C(case: Case) -> float | None:
    """The dew point that the limit means at the cooling set point; that of the range where an
    outdoor-air unit follows no limit."""
    settings = case.humidity
    if settings.control == "dew point":
        return settings.limit_value
    if settings.control == "none":
        if case.outdoor_air_unit is None:
            return None
        limit = float(settings.range_high)
    else:
        limit = settings.limit_value
    w = hum_ratio_from_rel_hum(float(case.room.cooling_setpoint), limit, STANDARD_PRESSURE_PA)
    return float(dew_point(w, STANDARD_PRESSURE_PA))


def _heating(solved: Solved) -> list[ProtectionFinding]:
    """Heating of a stated size that does not hold the set point."""
    size = solved.case.heating.capacity
    if size is None:
        return []
    given_W = 1000.0 * column(solved.ledger, "heating_kWh")
    room = column(solved.ledger, "room_temp_C")
    short = (given_W > 0.999 * float(size)) & (room < _driver(solved, "heating_setpoint_C") - 0.05)
    hours = int(short.sum())
    if not hours:
        return []
    lowest = float(room[short].min())
    display = solved.display
    sentence = (
        f"Heating of {show(float(size), 'heat flow', display)} does not hold the set point in "
        f"{_h(hours)}; the room falls to {show(lowest, 'temperature', display)}: check freezing, "
        "comfort and what the room holds, or write a larger size."
    )
    return [ProtectionFinding("heating size", sentence, hours, lowest, "degC")]


def _seen(solved: Solved) -> list[ProtectionFinding]:
    """What users of the room see that the model does not."""
    high = solved.case.humidity.observed_high
    found = observed(high, column(solved.ledger, "room_rh_frac"))
    if found is None or found.agrees:
        return []
    return [ProtectionFinding("humidity as seen", found.sentence, None, found.modeled, "fraction")]


FINDINGS = (
    _exhaust,
    _outdoor_air,
    _head_pressure,
    _penalty,
    _freezing,
    _flammable,
    _spray,
    _critical_rooms,
    _coolers,
    _leaving_air,
    _heating,
    _seen,
)


# ---------------------------------------------------------------------------------------------
# Mold: always reported, and never an all-clear

MOLD_LIMITS = (
    "It is a screen of this one surface and no all-clear: it covers no hidden cavities, ducts, "
    "wet coils and pans, leaks, spills or ground moisture, no surface colder than this one, no "
    "swings within the 30 days, and no material or dirt that feeds mold."
)


def mold_sentence(found: MoldFinding) -> str:
    """The mold screen of one option in a sentence; MOLD_LIMITS must be shown with it."""
    if found.hours_at_risk > 0:
        result = (
            f"the 30-day mean passes the criterion in {found.hours_at_risk:,} h: mold is to be "
            "expected there"
        )
    elif found.worst_mean_rh is None:
        result = "the surface is never in the temperatures that the criterion covers"
    else:
        result = f"the worst 30-day mean is {100.0 * found.worst_mean_rh:.0f} % RH, below 80 %"
    wet = f", and the surface is wet in {found.hours_condensing:,} h"
    return (
        f"Mold screen of {found.surface}: {result}{wet if found.hours_condensing else ''} "
        f"({found.source})."
    )
