"""Design hours of a case's own weather year, and whether the option meets them.

The 0.4 % values are those of the year itself, exceeded in 0.4 % of its hours: no published design
conditions of the place.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dewledger.accounts.energy import column
from dewledger.accounts.humidity_criteria import TOLERANCES
from dewledger.assembly.machine import Machine
from dewledger.hourly.dehumidification import humidity_limit
from dewledger.hourly.types import DRIVERS, NO_CONTROL
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import WeatherYear

SHARE = 0.004
DESIGN = {
    "dew-point": "0.4 % dew point of the case's own weather year",
    "dry-bulb": "0.4 % dry bulb of the case's own weather year",
    "part-load": "part load: 0.4 % dew point of the hours not warmer outdoors than the cooling "
    "set point",
}
# A room this much warmer than its set point is not held.
_TEMP_TOLERANCE_K = 0.1


def design_hour(machine: Machine, year: WeatherYear, what: str) -> int:
    """The hour of the year of a key of ``DESIGN``.

    The hour whose value is the nearest to the one that is exceeded in 0.4 % of the hours that
    count, the first of several.
    """
    dew = year.arrays["temp_dew_C"]
    dry = year.arrays["temp_air_C"]
    values = dry if what == "dry-bulb" else dew
    counted = np.ones(values.size, dtype=bool)
    if what == "part-load":
        mild = dry <= machine.drivers[:, DRIVERS.index("cooling_setpoint_C")]
        counted = mild if mild.any() else counted
    hours = np.flatnonzero(counted)
    ordered = np.sort(values[hours])[::-1]
    wanted = ordered[min(round(SHARE * hours.size), hours.size - 1)]
    return int(hours[np.argmin(np.abs(values[hours] - wanted))])


@dataclass(frozen=True)
class DesignCheck:
    """One design hour of one option; temperatures [C], humidity ratios [kg/kg], heat [W].

    humidity_short : humidity ratio of the room above its limit; None without humidity control
    temp_short_K : room above its cooling set point
    reheat_short_W : reheat unmet in the hour
    """

    what: str
    hour: int
    outdoor_C: float
    outdoor_dew_C: float
    room_C: float
    room_rh: float
    humidity_short: float | None
    temp_short_K: float
    reheat_short_W: float

    @property
    def met(self) -> bool:
        """Whether temperature and humidity are held and no reheat is unmet."""
        wet = self.humidity_short is not None and self.humidity_short > 1e-5
        return not wet and self.temp_short_K <= _TEMP_TOLERANCE_K and self.reheat_short_W <= 1.0


def design_check(ledger: FloatArray, machine: Machine, year: WeatherYear, what: str) -> DesignCheck:
    """The state of a design hour against set point and limit."""
    hour = design_hour(machine, year, what)
    row = machine.drivers[hour]
    room_C = float(column(ledger, "room_temp_C")[hour])
    control = machine.control.humidity_control
    limit = float(row[DRIVERS.index("humidity_limit")])
    short = None
    if control != NO_CONTROL and np.isfinite(limit):
        pressure = float(row[DRIVERS.index("pressure_Pa")])
        held = humidity_limit(control, limit, room_C, pressure)
        short = max(float(column(ledger, "room_hum_ratio_kg_kg")[hour]) - held, 0.0)
        rh = float(column(ledger, "room_rh_frac")[hour])
        if short < TOLERANCES["relative humidity"] * held / max(rh, 1e-6):
            short = 0.0
    setpoint = float(row[DRIVERS.index("cooling_setpoint_C")])
    return DesignCheck(
        what,
        hour,
        float(year.arrays["temp_air_C"][hour]),
        float(year.arrays["temp_dew_C"][hour]),
        room_C,
        float(column(ledger, "room_rh_frac")[hour]),
        short,
        max(room_C - setpoint, 0.0),
        max(1000.0 * float(column(ledger, "reheat_unmet_kWh")[hour]), 0.0),
    )
