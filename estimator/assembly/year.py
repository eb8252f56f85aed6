"""The weather year that a case names, and the year of a machine solved."""

from __future__ import annotations

from threading import local

import numpy as np

from dewledger.assembly.machine import Machine
from dewledger.assembly.plausible import require_sound
from dewledger.case import Case
from dewledger.hourly.ledger import empty_ledger
from dewledger.hourly.year import solve_year
from dewledger.weather.files.readers import read
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import WeatherYear

WARM_UP_HOURS = 336


class _Scratch(local):
    """Ledgers of this thread that the hours are written into, row by row; written over every time,
    because fresh memory costs as much as an account."""

    def __init__(self) -> None:
        self.by_hours: dict[int, FloatArray] = {}

    def of(self, hours: int) -> FloatArray:
        if hours not in self.by_hours:
            self.by_hours[hours] = empty_ledger(hours)
        else:
            self.by_hours[hours].fill(np.nan)
        return self.by_hours[hours]


_scratch = _Scratch()


def solve_option(
    machine: Machine, warm_up_hours: int = WARM_UP_HOURS, out: FloatArray | None = None
) -> FloatArray:
    """The ledger of one option-year, (columns, 8760), column by column in memory.

    out : a ledger to write over, of a year that is no longer needed

    Raises
    ------
    InputError : the room leaves all that a building can be
    """
    rows = _scratch.of(machine.drivers.shape[0])
    solve_year(
        machine.unit.map,
        machine.plant,
        machine.room,
        machine.control,
        machine.sources,
        machine.drivers,
        warm_up_hours,
        rows,
    )
    require_sound(rows)
    # The hours are written row by row; accounts go column by column, several times over.
    if out is None:
        return rows.copy(order="C")
    np.copyto(out, rows)
    return out


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
