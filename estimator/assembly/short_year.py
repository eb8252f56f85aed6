"""A year solved for what draws need: energy, reheat, the room; no penalty, no closures."""

from __future__ import annotations

from dewledger.assembly.machine import Machine
from dewledger.assembly.plausible import COLDEST_C, HOTTEST_C, all_of_a_building
from dewledger.assembly.year import WARM_UP_HOURS
from dewledger.hourly.ledger import SHORT_INDEX, SHORT_NAMES, empty_ledger
from dewledger.hourly.year import solve_totals
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray


def short_ledger(machine: Machine, warm_up_hours: int = WARM_UP_HOURS) -> FloatArray:
    """The short ledger of one option-year, (columns of ``ledger.SHORT_NAMES``, 8760).

    Raises
    ------
    InputError : the room leaves all that a building can be
    """
    ledger = empty_ledger(machine.drivers.shape[0], SHORT_NAMES)
    solve_totals(*machine.of_year, warm_up_hours, ledger)
    if not all_of_a_building(ledger[SHORT_INDEX["room_temp_C"]]):
        raise InputError(
            f"the room leaves {COLDEST_C:.0f} to {HOTTEST_C:.0f} C at values within the ranges; "
            "narrow the ranges of the assumptions"
        )
    return ledger


def solve_short(machine: Machine, warm_up_hours: int = WARM_UP_HOURS) -> dict[str, FloatArray]:
    """The columns of ``short_ledger`` by their names, (8760,) each; it raises the same."""
    return dict(zip(SHORT_NAMES, short_ledger(machine, warm_up_hours), strict=True))
