"""One hour in detail: states along the air path, heats between them, refrigeration, decision."""

from __future__ import annotations

import calendar
import re
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from dewledger.accounts.energy import column, hour_label
from dewledger.accounts.humidity_criteria import out_of_range
from dewledger.assembly.machine import Machine
from dewledger.dx_unit.cycle import coil_shares, cycle_at
from dewledger.dx_unit.types import SUBCOOLING, SUBCOOLING_THEN_CONDENSER, WRAP_AROUND, AirIn
from dewledger.hourly.ledger import empty_ledger
from dewledger.hourly.types import DRIVERS, FAN_CYCLING
from dewledger.hourly.year import solve_year
from dewledger.quantities import Display
from dewledger.views.air_path import Point, path
from dewledger.views.hour_decision import decision
from dewledger.views.solved_hour import SolvedHour
from dewledger.views.unit_conditions import heat_by_subcooling
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import (
    FloatArray,
    heat_capacity,
    hum_ratio_from_wet_bulb,
    saturation_hum_ratio,
)
from dewledger.weather.year import WeatherYear

MONTHS = tuple(calendar.month_abbr[1:])
WORST = {
    "reheat": "the hour with the most overcooling heat",
    "dew-point": "the hour with the highest outdoor dew point",
    "dry-bulb": "the hour with the highest outdoor dry bulb",
    "out-of-range": "the hour with the room's humidity farthest out of its range",
}
# A stated condition is held this long, so that room temperature and humidity settle.
_SETTLE_HOURS = 24 * 60


@dataclass(frozen=True)
class HourDetail:
    """One hour of one option.

    heats : (what, W) means over the hour, in the order of the air path; heat out of the air is
        negative
    refrigeration : (what, value, kind of quantity); heats are means over the hour
    """

    when: str
    pressure_Pa: float
    points: tuple[Point, ...]
    heats: tuple[tuple[str, float], ...]
    refrigeration: tuple[tuple[str, float, str], ...]
    decision: str
    room_sensible_W: float
    room_latent_W: float
    runtime: float

    @property
    def room_shr(self) -> float | None:
        """Sensible heat ratio of what the supply air takes from the room; None without load."""
        total = self.room_sensible_W + self.room_latent_W
        if self.room_sensible_W <= 0.0 or self.room_latent_W < 0.0 or total <= 0.0:
            return None
        return self.room_sensible_W / total


def hour_of(year: WeatherYear, text: str) -> int:
    """Hour of the year 0..8759 of "Jul 15 16:00" (the hour that starts then, standard time).

    Raises
    ------
    InputError : not a day and hour of a 365-day year
    """
    match = re.fullmatch(r"\s*([A-Za-z]{3})[a-z]*\s+(\d{1,2})\s+(\d{1,2})(?::(\d\d))?\s*", text)
    name = match[1].title() if match else ""
    if match is None or name not in MONTHS:
        raise InputError(f'"{text}" is not an hour of the year; write for example "Jul 15 16:00"')
    clock = year.arrays
    mask = (
        (clock["month"] == MONTHS.index(name) + 1)
        & (clock["day"] == int(match[2]))
        & (clock["hour"] == int(match[3]))
    )
    if not mask.any():
        raise InputError(
            f'"{text}" is not in a year of 365 days with hours 0 to 23; '
            'write for example "Jul 15 16:00"'
        )
    return int(np.argmax(mask))


def worst_hour(ledger: FloatArray, machine: Machine, year: WeatherYear, what: str) -> int | None:
    """The hour in which the named thing (a key of ``WORST``) is at its worst; None if it never is.

    Raises
    ------
    InputError : not a key of ``WORST``
    """
    rh = column(ledger, "room_rh_frac")
    measures: dict[str, Callable[[], FloatArray]] = {
        "reheat": lambda: column(ledger, "overcooling_heat_kWh"),
        "dew-point": lambda: year.arrays["temp_dew_C"],
        "dry-bulb": lambda: year.arrays["temp_air_C"],
        "out-of-range": lambda: np.maximum(rh - machine.range_high, machine.range_low - rh),
    }
    if what not in measures:
        raise InputError(f'--worst "{what}" is not known; write one of {", ".join(WORST)}')
    measure = measures[what]()
    hour = int(np.argmax(measure))
    # outdoors some hour is always the worst; a room may never overcool nor leave its range
    if what == "reheat" and measure[hour] <= 0.0:
        return None
    if what == "out-of-range" and not np.any(
        out_of_range(rh[hour : hour + 1], machine.range_low, machine.range_high)
    ):
        return None
    return hour


def stated_hour(
    machine: Machine,
    outdoor_C: float,
    wet_bulb_C: float,
    pressure_Pa: float,
    sensible_share: float,
    latent_share: float,
) -> tuple[FloatArray, Machine]:
    """A stated outdoor state and shares of the largest gains, held until the room has settled.

    Outdoor air, fan, set points and limit are those of the hour with the largest gains.
    Returns the ledger of the settled hour, (columns, 1), and a machine with that one hour.
    """
    if wet_bulb_C > outdoor_C:
        raise InputError(
            "--wet-bulb is above --outdoor, which no air can be; write a wet bulb at or below the "
            "dry bulb"
        )
    ratio = hum_ratio_from_wet_bulb(outdoor_C, wet_bulb_C, pressure_Pa)
    if ratio <= 0.0 or ratio > saturation_hum_ratio(outdoor_C, pressure_Pa) * 1.0001:
        raise InputError(
            "--wet-bulb is too low for --outdoor: such air would hold no moisture; write a higher "
            "wet bulb"
        )
    drivers = machine.drivers
    gains = drivers[:, DRIVERS.index("gains_sensible_W")]
    moisture = drivers[:, DRIVERS.index("gains_moisture_kg_s")]
    row = drivers[int(np.argmax(gains))].copy()
    row[DRIVERS.index("outdoor_temp_C")] = outdoor_C
    row[DRIVERS.index("outdoor_hum_ratio_kg_kg")] = ratio
    row[DRIVERS.index("pressure_Pa")] = pressure_Pa
    row[DRIVERS.index("gains_sensible_W")] = sensible_share * float(gains.max())
    row[DRIVERS.index("gains_moisture_kg_s")] = latent_share * float(moisture.max())
    held = np.ascontiguousarray(row.reshape(1, -1))
    out = empty_ledger(1)
    at_condition = replace(machine, drivers=held)
    solve_year(*at_condition.of_year, _SETTLE_HOURS, out)
    return out, at_condition


def detail_at(
    ledger: FloatArray, machine: Machine, year: WeatherYear, hour: int, display: Display
) -> HourDetail:
    """An hour of the year in detail, named by its date."""
    return report_hour(ledger, machine, hour, hour_label(year, hour), display)


def report_hour(
    ledger: FloatArray, machine: Machine, hour: int, when: str, display: Display
) -> HourDetail:
    """One hour of a ledger in detail; ``display`` for the figures in its decision."""
    solved = SolvedHour(ledger, machine, hour)
    points = path(solved)
    sensible, latent = solved.taken_from_room()
    return HourDetail(
        when,
        solved.driver("pressure_Pa"),
        tuple(points),
        heats(solved),
        refrigeration(solved),
        decision(solved, display),
        sensible,
        latent,
        solved.at("compressor_runtime_frac"),
    )


def heats(solved: SolvedHour) -> tuple[tuple[str, float], ...]:
    """What heat went where, but for what is zero."""
    watts = solved.watts
    sensible, latent = solved.taken_from_room()
    rows = (
        ("gains in the room, sensible", watts("gains_sensible_kWh")),
        ("sun through the windows", watts("solar_gains_kWh")),
        ("through the envelope and by infiltration", watts("envelope_kWh")),
        ("with the outdoor air of the unit, sensible", watts("ventilation_sensible_kWh")),
        (
            "energy recovery device on the outdoor air, sensible",
            watts("outdoor_recovery_sensible_kWh"),
        ),
        ("with the humidifier's moisture, sensible", watts("humidifier_heat_kWh")),
        ("supply fan", solved.fan_W()),
        ("cooling coil, sensible", -watts("cooling_sensible_kWh")),
        ("cooling coil, latent", -watts("cooling_latent_kWh")),
        ("cooling coil, total", -watts("cooling_total_kWh")),
        ("overcooling heat (reheat load)", watts("overcooling_heat_kWh")),
        ("reheat: recovered", watts("reheat_recovered_kWh")),
        ("reheat: purchased", watts("reheat_purchased_kWh")),
        ("reheat: unmet", watts("reheat_unmet_kWh")),
        ("space heating", watts("heating_kWh")),
        ("room sensible cooling by supply air", sensible),
        ("room latent cooling by supply air", latent),
    )
    return tuple(row for row in rows if abs(row[1]) > 0.5)


def refrigeration(solved: SolvedHour) -> tuple[tuple[str, float, str], ...]:
    """The refrigerant side of the hour; nothing while the compressor is off."""
    at, watts = solved.at, solved.watts
    if at("compressor_runtime_frac") <= 0.0:
        return ()
    loop = solved.machine.plant.arrangement == WRAP_AROUND
    to_air = 0.0 if loop else watts("reheat_recovered_kWh")
    rejected = watts("cooling_total_kWh") + watts("compressor_kWh")
    rows = (
        ("suction, saturated", at("suction_temp_C"), "temperature"),
        ("coil surface (apparatus dew point)", at("surface_temp_C"), "temperature"),
        ("condensing, saturated", at("condensing_temp_C"), "temperature"),
        ("compressor runs", at("compressor_runtime_frac"), "fraction"),
        ("capacity in use while it runs", at("capacity_frac"), "fraction"),
        ("compressor power", watts("compressor_kWh"), "power"),
        ("condenser fan power", watts("condenser_fan_kWh"), "power"),
        ("heat rejected", rejected, "heat flow"),
        ("of it to the reheat coil", to_air, "heat flow"),
        ("of it outdoors", rejected - to_air, "heat flow"),
        *_coil_shares(solved, to_air),
    )
    return tuple(row for row in rows if np.isfinite(row[1]))


def _coil_shares(solved: SolvedHour, to_air_W: float) -> tuple[tuple[str, float, str], ...]:
    """What the refrigerant does in the reheat coil, where hot gas enters and liquid leaves."""
    unit, plant = solved.machine.unit, solved.machine.plant
    if to_air_W <= 0.5 or not unit.refrigerant:
        return ()
    first: tuple[tuple[str, float, str], ...] = ()
    if plant.arrangement in (SUBCOOLING, SUBCOOLING_THEN_CONDENSER):
        liquid_W = to_air_W
        if plant.arrangement == SUBCOOLING_THEN_CONDENSER:
            liquid_W = _by_subcooling(solved)
            # What cooling mode and the first coil do alone leaves nothing but rounding.
            liquid_W = liquid_W if liquid_W < 0.998 * to_air_W else to_air_W
        first = (("in the subcooling coil: liquid subcooled", liquid_W, "heat flow"),)
        to_air_W -= liquid_W
    if to_air_W <= 0.5 or plant.arrangement == WRAP_AROUND:
        return first
    found = cycle_at(unit, solved.at("suction_temp_C"), solved.at("condensing_temp_C"))
    shares = coil_shares(found, to_air_W)
    return (
        *first,
        ("in the reheat coil: superheat given up", shares.desuperheating_W, "heat flow"),
        ("in the reheat coil: condensed", shares.condensing_W, "heat flow"),
        ("in the reheat coil: liquid subcooled", shares.subcooling_W, "heat flow"),
        ("discharge gas", found.discharge_temp_C, "temperature"),
    )


def _by_subcooling(solved: SolvedHour) -> float:
    at, watts, plant = solved.at, solved.watts, solved.machine.plant
    w = at("mixed_hum_ratio_kg_kg")
    flow = at("supply_flow_kg_s")
    fan = at("fan_runtime_frac")
    fan_rise = solved.fan_W() / fan / (flow * heat_capacity(w))
    onto = at("mixed_temp_C") + (fan_rise if plant.blow_through == 1 else 0.0)
    return heat_by_subcooling(
        solved.machine,
        AirIn(onto, w, solved.driver("pressure_Pa"), at("outdoor_temp_C"), flow),
        watts("cooling_sensible_kWh") - watts("overcooling_heat_kWh"),
        at("condensate_kg") / 3600.0,
        at("condensing_temp_C"),
        1 if solved.driver("fan_mode") == FAN_CYCLING else 0,
    )
