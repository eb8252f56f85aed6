"""The weather year that a case names, and the year of a machine solved."""

from __future__ import annotations

from dewledger.assembly.machine import Machine
from dewledger.assembly.plausible import all_of_a_building, require_sound
from dewledger.case import Case
from dewledger.hourly.ledger import COIL_INDEX, COIL_NAMES, empty_ledger
from dewledger.hourly.year import COIL, SMALLER_COIL, WHOLE, WITHOUT_PENALTY, solve_year
from dewledger.weather.files.readers import read
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import WeatherYear

WARM_UP_HOURS = 336


def solve_option(
    machine: Machine,
    warm_up_hours: int = WARM_UP_HOURS,
    out: FloatArray | None = None,
    *,
    penalty: bool = True,
) -> FloatArray:
    """The ledger of one option-year, (columns, 8760).

    out : a ledger to write over, of a year that is no longer needed
    penalty : whether to work out the recovery penalty, which takes a second solution

    Raises
    ------
    InputError : the room leaves all that a building can be
    """
    ledger = empty_ledger(machine.drivers.shape[0]) if out is None else out
    solve_year(*machine.of_year, warm_up_hours, ledger, WHOLE if penalty else WITHOUT_PENALTY)
    require_sound(ledger)
    return ledger


def solve_coil(machine: Machine, warm_up_hours: int = WARM_UP_HOURS) -> FloatArray:
    """What a trial of a reheat coil looks at, (columns of ``ledger.COIL_NAMES``, 8760).

    Raises
    ------
    InputError : the room leaves all that a building can be
    """
    ledger = empty_ledger(machine.drivers.shape[0], COIL_NAMES)
    solve_year(*machine.of_year, warm_up_hours, ledger, COIL)
    return _of_a_building(ledger, machine, warm_up_hours)


def solve_smaller_coil(
    machine: Machine, larger: FloatArray, warm_up_hours: int = WARM_UP_HOURS
) -> FloatArray:
    """The same, from what a larger coil said, all else alike, purchased heat without limit behind
    both.

    The room is then dried alike: only hours in which the smaller coil binds are solved, and those
    after them until the room is as it was with the larger one.

    Raises
    ------
    InputError : the room leaves all that a building can be
    """
    ledger = larger.copy()
    solve_year(*machine.of_year, warm_up_hours, ledger, SMALLER_COIL)
    return _of_a_building(ledger, machine, warm_up_hours)


def _of_a_building(ledger: FloatArray, machine: Machine, warm_up_hours: int) -> FloatArray:
    """The ledger of a trial; InputError where the room leaves all that a building can be."""
    if not all_of_a_building(ledger[COIL_INDEX["room_temp_C"]]):
        solve_option(machine, warm_up_hours, penalty=False)  # raises, and says in which hour
    return ledger


def read_weather(case: Case) -> WeatherYear:
    """The weather year a case names."""
    site = case.site
    return read(
        case.weather_path(),
        columns=site.weather_columns,
        site={
            key: value
            for key, value in {
                "name": site.name,
                "latitude": site.latitude,
                "longitude": site.longitude,
                "altitude_m": None if site.altitude is None else float(site.altitude),
                "utc_offset_h": site.utc_offset,
            }.items()
            if value is not None
        },
    )
