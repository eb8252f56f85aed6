"""What ``dewledger unit`` shows of an option: its map, a rainy day, its rating and its cycles."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from dewledger.analysis.modeled_ratings import ModeledRatings, rate_machine
from dewledger.analysis.reheat_coil_size import require_fed
from dewledger.assembly.machine import Machine, assemble
from dewledger.case import Case, OptionCase
from dewledger.components.refrigerant_cycle import Cycle
from dewledger.dx_unit.cycle import cycle_at
from dewledger.dx_unit.types import Unit
from dewledger.hourly.types import DRIVERS
from dewledger.quantities import Display
from dewledger.views.unit_conditions import (
    Condition,
    ConditionMap,
    RainyDay,
    condition,
    condition_map,
    rainy_day,
    rated_condition,
)
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import hum_ratio_from_wet_bulb
from dewledger.weather.year import WeatherYear

# Outdoor dry bulbs and steps of the entering wet bulb of the map.
_OUTDOOR = {
    "I-P": (55.0, 65.0, 75.0, 85.0, 95.0, 105.0),
    "SI": (12.0, 18.0, 24.0, 30.0, 36.0, 42.0),
}
_WET_BULB = {"I-P": (71.0, 4.0), "SI": (21.5, 2.0)}
_WET_BULBS = 4
# The wettest air of the map stays this far below saturation.
_BELOW_DRY_BULB_K = 0.5


@dataclass(frozen=True)
class UnitView:
    """One option's unit, for tables, pictures and sentences.

    cycles : at the rating and on the rainy day; None for a tabulated unit
    """

    case: Case
    option: OptionCase
    machine: Machine
    map: ConditionMap
    rainy: RainyDay
    rated: Condition
    rated_cycle: Cycle | None
    rainy_cycle: Cycle | None
    ratings: ModeledRatings


def _celsius(shown: float, display: Display) -> float:
    return (shown - 32.0) / 1.8 if display == "I-P" else shown


def _wet_bulbs(temp_in_C: float, display: Display) -> tuple[float, ...]:
    """Wet bulbs of the map, rising, the highest a little below the dry bulb."""
    top, step = _WET_BULB[display]
    while _celsius(top, display) > temp_in_C - _BELOW_DRY_BULB_K:
        top -= 1.0
    return tuple(_celsius(top - step * k, display) for k in reversed(range(_WET_BULBS)))


# Three outdoor conditions of the map, for who starts the unit up.
_START_UP = {"I-P": (65.0, 85.0, 95.0), "SI": (18.0, 30.0, 36.0)}


@dataclass(frozen=True)
class StartUp:
    """A unit at one outdoor condition, at full capacity, as who starts it up measures it.

    cooling, reheat : its cycles without reheat and with all the reheat it can give; None for a
        tabulated unit, and where there is no reheat
    """

    at: Condition
    cooling: Cycle | None
    reheat: Cycle | None


def start_up(
    machine: Machine,
    room_C: float,
    pressure_Pa: float,
    display: Display,
    cycle_of: Callable[[Unit, float, float], Cycle] = cycle_at,
) -> tuple[StartUp, ...]:
    """The unit at three outdoor conditions of its map, at one entering wet bulb of it.

    cycle_of : the cycle of a unit at a suction and a condensing temperature

    Raises
    ------
    InputError : air the coil cannot meet; states that the refrigerant does not have
    """
    wet = _wet_bulbs(room_C, display)[1]
    outdoors = [_celsius(value, display) for value in _START_UP[display]]
    found = []
    for outdoor in outdoors:
        hum_ratio = hum_ratio_from_wet_bulb(room_C, wet, pressure_Pa)
        at = condition(machine, outdoor, room_C, hum_ratio, pressure_Pa)
        cooling = reheat = None
        if machine.unit.refrigerant:
            cooling = cycle_of(machine.unit, at.suction_C, at.condensing_C)
            if at.reheat_W > 0.0:
                reheat = cycle_of(machine.unit, at.reheat_suction_C, at.reheat_condensing_C)
        found.append(StartUp(at, cooling, reheat))
    return tuple(found)


def view_unit(
    case: Case,
    option: OptionCase,
    year: WeatherYear,
    display: Display,
    temp_in_C: float | None = None,
) -> UnitView:
    """Look at the unit of an option over outdoor temperature and entering wet bulb.

    Parameters
    ----------
    temp_in_C : dry bulb onto the coil over the map; the room's set point where None

    Raises
    ------
    InputError : an option that cannot be assembled; air the coil cannot meet
    """
    machine = assemble(option, year)
    require_fed(machine)
    room_C = float(option.case.room.cooling_setpoint)
    entering = room_C if temp_in_C is None else temp_in_C
    if not 10.0 <= entering <= 40.0:
        raise InputError(
            f"air of {entering:.1f} C onto the coil is out of range; "
            'write --entering between "50 degF" and "104 degF"'
        )
    pressure = float(year.arrays["pressure_Pa"].mean())
    outdoors = [_celsius(value, display) for value in _OUTDOOR[display]]
    mapped = condition_map(machine, outdoors, _wet_bulbs(entering, display), entering, pressure)
    limits = machine.drivers[:, DRIVERS.index("humidity_limit")]
    outdoor_air = machine.drivers[:, DRIVERS.index("outdoor_air_kg_s")]
    rainy = rainy_day(machine, room_C, float(limits.min()), float(outdoor_air.max()), pressure)
    unit = machine.unit
    rated_cycle = rainy_cycle = None
    if unit.refrigerant:
        rated_cycle = cycle_at(unit, unit.rated_suction_C, unit.rated_condensing_C)
        state = rainy.state
        rainy_cycle = cycle_at(unit, state.reheat_suction_C, state.reheat_condensing_C)
    return UnitView(
        case,
        option,
        machine,
        mapped,
        rainy,
        rated_condition(machine, pressure),
        rated_cycle,
        rainy_cycle,
        rate_machine(option.case, machine),
    )
