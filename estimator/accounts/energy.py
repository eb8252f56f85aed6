"""Monthly and annual accounts of a ledger: totals, peaks, hours out of range and their cause."""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from dewledger.accounts.humidity_criteria import (
    longest_spell,
    moisture_beyond,
    out_of_range,
)
from dewledger.hourly.ledger import (
    COIL_INDEX,
    COLUMNS,
    INDEX,
    SHORT_INDEX,
    SHORT_NAMES,
    purchased,
)
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import WeatherYear

if TYPE_CHECKING:
    from dewledger.assembly.machine import Machine, Source

Annual = dict[str, Any]

SUMMED = tuple(column.name for column in COLUMNS if column.total == "sum")

# Columns that are purchased; together they are electricity_kWh and gas_kWh.
ELECTRICITY = purchased("electricity")
GAS = purchased("gas")

# Why an hour is above the range, in order of precedence, with what the cause means.
CAUSES = {
    "system off": "the schedule keeps the unit off",
    "no humidity control": "nothing calls for dehumidification beyond sensible cooling",
    "coil-surface floor": "the coil would freeze if it ran colder",
    "unit at full capacity": "the unit runs at full capacity; reheat adds no dehumidification",
    "reheat limited": "the reheat sources cannot meet the reheat load of more dehumidification",
    "within its limit": "control is met; its limit is outside the range that is counted",
}

# The condensing temperature stands at its minimum within this.
_AT_FLOOR_K = 1e-3
_PEAKS = {
    "peak_overcooling": "overcooling_heat_kWh",
    "peak_recovered": "reheat_recovered_kWh",
    "peak_new_energy": "reheat_purchased_kWh",
    "peak_cooling": "cooling_total_kWh",
}


# Places of the columns of each kind of ledger, by how many it has.
_PLACES = {len(places): places for places in (INDEX, SHORT_INDEX, COIL_INDEX)}


def column(ledger: FloatArray, name: str) -> FloatArray:
    """One column of a ledger, of any kind, (8760,)."""
    values: FloatArray = ledger[_PLACES[ledger.shape[0]][name]]
    return values


def added(ledger: FloatArray, names: tuple[str, ...]) -> FloatArray:
    """Sum of columns of a ledger in their units, (8760,)."""
    first, *others = names
    total = column(ledger, first).copy()
    for name in others:
        total += column(ledger, name)
    return total


def electricity_kW(ledger: FloatArray) -> FloatArray:
    """Electricity purchased in each hour, (8760,) kWh per hour."""
    if ledger.shape[0] == len(SHORT_NAMES):
        return column(ledger, "electricity_kWh")
    return added(ledger, ELECTRICITY)


def gas_kW(ledger: FloatArray) -> FloatArray:
    """Gas purchased in each hour, (8760,) kWh per hour, higher heating value."""
    if ledger.shape[0] == len(SHORT_NAMES):
        return column(ledger, "gas_kWh")
    return added(ledger, GAS)


@dataclass(frozen=True, eq=False)
class Sums:
    """What both accounts and the bill are made of, taken from a ledger once.

    electricity, gas : purchased in each hour [kWh]
    months : (columns, 12) sums of the ledger's columns by month, whose sums are those of the year
    first : the first hour of each month
    """

    electricity: FloatArray
    gas: FloatArray
    months: FloatArray
    first: npt.NDArray[np.int64]


def sums_of(ledger: FloatArray, year: WeatherYear) -> Sums:
    """The sums of a ledger, (columns, 8760)."""
    first = np.flatnonzero(np.diff(year.arrays["month"], prepend=0))
    months = np.add.reduceat(ledger, first, axis=1)
    return Sums(electricity_kW(ledger), gas_kW(ledger), months, first)


def reference_source(reference: Machine) -> Source:
    """The new-energy source that recovered heat is counted against.

    The reference option's first purchased source; electric resistance where it purchases none.
    """
    from dewledger.assembly.machine import Source

    for source in reference.reheat:
        if source.carrier:
            return source
    return Source("electric", float("inf"), 1.0, "electricity")


def account(
    ledger: FloatArray,
    machine: Machine,
    reference: Machine,
    year: WeatherYear,
    sums: Sums | None = None,
) -> Annual:
    """Totals and indices of one option-year; names end in their unit.

    ``recovered_share`` is None where there was no reheat at all.

    sums : those of the ledger, where they are at hand
    """
    sums = sums_of(ledger, year) if sums is None else sums
    totals = sums.months.sum(axis=1).tolist()
    annual: Annual = {name: totals[INDEX[name]] for name in SUMMED}
    recovered = annual["reheat_recovered_kWh"]
    reheat = recovered + annual["reheat_purchased_kWh"]
    source = reference_source(reference)
    avoided = recovered / source.efficiency
    annual["recovered_share"] = recovered / reheat if reheat > 0.0 else None
    annual["avoided_new_energy_kWh"] = avoided
    annual["avoided_electricity_kWh"] = avoided if source.carrier == "electricity" else 0.0
    annual["avoided_gas_kWh"] = avoided if source.carrier == "gas" else 0.0
    annual["avoided_source"] = source.name
    annual["lights_kWh"] = float(machine.lights_W.sum()) / 1000.0
    annual["equipment_kWh"] = float(machine.equipment_W.sum()) / 1000.0
    annual["electricity_kWh"] = float(sums.electricity.sum())
    annual["gas_kWh"] = float(sums.gas.sum())
    annual["hours_at_condensing_floor"] = _hours_at_condensing_floor(ledger, machine)
    annual["hours_at_reheat_floor"] = _hours_at_reheat_floor(ledger, machine)
    by_differential, by_least_run = _hours_cycled(ledger, machine)
    annual["hours_cycled_by_differential"] = by_differential
    annual["hours_cycled_by_least_run"] = by_least_run
    annual.update(_out_of_range(ledger, machine, year))
    for name, source_column in _PEAKS.items():
        values = column(ledger, source_column)
        hour = int(np.argmax(values))
        annual[f"{name}_kW"] = float(values[hour])
        annual[f"{name}_hour"] = hour_label(year, hour) if values[hour] > 0.0 else None
    humidity = column(ledger, "room_hum_ratio_kg_kg")
    hour = int(np.argmax(humidity))
    annual["peak_room_hum_ratio_g_kg"] = float(humidity[hour]) * 1000.0
    annual["peak_room_hum_ratio_hour"] = hour_label(year, hour)
    annual["lowest_room_temp_C"] = float(column(ledger, "room_temp_C").min())
    annual["heat_closure_max_W"] = float(np.abs(column(ledger, "heat_closure_W")).max())
    annual["water_closure_max_kg_h"] = float(np.abs(column(ledger, "water_closure_kg_h")).max())
    annual["refrigerant_closure_max_W"] = float(
        np.abs(column(ledger, "refrigerant_closure_W")).max()
    )
    return annual


def _hours_at_condensing_floor(ledger: FloatArray, machine: Machine) -> int:
    """Hours in which head-pressure control holds the ordinary minimum condensing temperature."""
    at_floor = column(ledger, "condensing_temp_C") < machine.plant.condensing_floor_C + _AT_FLOOR_K
    return int((at_floor & (column(ledger, "compressor_runtime_frac") > 0.0)).sum())


def _hours_cycled(ledger: FloatArray, machine: Machine) -> tuple[int, int]:
    """Hours of a dehumidification call in which a wet coil cycles, by what sets its rate: the
    humidity differential, or the least run where that allows fewer starts."""
    plant = machine.plant
    band_kg = plant.humidistat.band_kg
    if plant.wet_time_s <= 0.0 or band_kg <= 0.0:
        return 0, 0
    runs = column(ledger, "compressor_runtime_frac")
    cycled = (column(ledger, "moisture_call_flag") > 0.0) & (runs > 1e-6) & (runs < 1.0 - 1e-6)
    cycled &= column(ledger, "fan_runtime_frac") > 1.0 - 1e-9
    taken = column(ledger, "mixed_hum_ratio_kg_kg") - column(ledger, "coil_leaving_hum_ratio_kg_kg")
    removal_kg_s = column(ledger, "supply_flow_kg_s") * taken
    rate = 3600.0 * removal_kg_s / (4.0 * band_kg)  # moisture_cycles_per_hour
    by_differential = cycled & (rate <= plant.humidistat.most_per_hour)
    return int(by_differential.sum()), int((cycled & ~by_differential).sum())


def _hours_at_reheat_floor(ledger: FloatArray, machine: Machine) -> int:
    """Hours in which condenser heat is given at its minimum condensing temperature."""
    plant = machine.plant
    if plant.recovery_effectiveness <= 0.0:
        return 0
    floor_C = max(plant.condensing_floor_C, plant.condenser_source.floor_C)
    given = column(ledger, "reheat_recovered_kWh") > 0.0
    at_floor = column(ledger, "condensing_temp_C") < floor_C + _AT_FLOOR_K
    return int((given & at_floor).sum())


def _out_of_range(ledger: FloatArray, machine: Machine, year: WeatherYear) -> Annual:
    rh = column(ledger, "room_rh_frac")
    occupied = machine.calendar.occupied
    above, below = out_of_range(rh, machine.range_low, machine.range_high)
    over, under, water = moisture_beyond(
        column(ledger, "room_temp_C"),
        column(ledger, "room_hum_ratio_kg_kg"),
        year.arrays["pressure_Pa"],
        column(ledger, "outdoor_air_kg_s") + column(ledger, "infiltration_kg_s"),
        machine.range_low,
        machine.range_high,
    )
    return {
        "hours_above_range": int(above.sum()),
        "hours_below_range": int(below.sum()),
        "hours_above_range_occupied": int((above & occupied).sum()),
        "hours_below_range_occupied": int((below & occupied).sum()),
        "longest_spell_above_h": int(longest_spell(above)),
        "longest_spell_below_h": int(longest_spell(below)),
        "gram_hours_above": over,
        "gram_hours_below": under,
        "moisture_to_low_limit_kg": water,
        "hours_above_by_cause": causes(ledger, machine, above),
    }


def causes(ledger: FloatArray, machine: Machine, above: np.ndarray) -> dict[str, int]:
    """Hours above the range by their cause; every such hour has exactly one."""
    off = column(ledger, "system_off_flag") > 0.0
    floor = column(ledger, "surface_floor_flag") > 0.0
    full = column(ledger, "full_capacity_flag") > 0.0
    short = column(ledger, "reheat_short_flag") > 0.0
    uncontrolled = np.full(
        off.shape,
        machine.control.humidity_control == 0 and machine.control.outdoor_air_unit.used == 0,
    )
    tests = {
        "system off": off,
        "no humidity control": uncontrolled,
        "coil-surface floor": floor & full,
        "unit at full capacity": full,
        "reheat limited": short,
        "within its limit": np.ones(off.shape, dtype=bool),
    }
    left = above.copy()
    counts = {}
    for name, test in tests.items():
        counts[name] = int((left & test).sum())
        left &= ~test
    return counts


def monthly_account(
    ledger: FloatArray, year: WeatherYear, sums: Sums | None = None
) -> dict[str, FloatArray]:
    """Sums of the ledger's summed columns by month, one for each month 1..12 of the year.

    sums : those of the ledger, where they are at hand
    """
    sums = sums_of(ledger, year) if sums is None else sums
    month, first, by_month = year.arrays["month"], sums.first, sums.months
    hours = np.diff(first, append=month.size)
    totals: dict[str, Any] = {"month": month[first].astype(np.int64)}
    totals |= {name: by_month[INDEX[name]] for name in SUMMED}
    totals["electricity_kWh"] = np.add.reduceat(sums.electricity, first)
    totals["gas_kWh"] = np.add.reduceat(sums.gas, first)
    totals["hours"] = hours
    for name in ("room_temp_C", "room_rh_frac", "room_hum_ratio_kg_kg"):
        totals[f"mean_{name}"] = by_month[INDEX[name]] / hours
    return totals


# Units of accounts that are no ledger columns, by the end of their names.
_ENDINGS = (
    ("_kWh", "kWh"), ("_kW", "kW"), ("_kg_h", "kg/h"), ("_kg", "kg"), ("_g_kg", "g/kg"),
    ("_W", "W"), ("_share", "-"), ("_frac", "-"), ("_C", "C"), ("_h", "h"), ("_hour", ""),
    ("_source", ""), ("hum_ratio_kg_kg", "kg/kg"),
)  # fmt: skip


def unit_of_account(name: str, currency: str) -> str:
    """Unit of a column of the annual or monthly account; empty for words."""
    bare = name.removeprefix("mean_")
    if bare in INDEX:
        return COLUMNS[INDEX[bare]].unit
    if "cost" in name:
        return currency
    if name.startswith("gram_hours"):
        return "g h/kg"
    if name.startswith("hours"):
        return "h"
    return next((unit for ending, unit in _ENDINGS if name.endswith(ending)), "-")


# Read once: the names of the calendar are looked up anew at every use.
_MONTHS = tuple(calendar.month_abbr)


def hour_label(year: WeatherYear, hour: int) -> str:
    """An hour of the year for a reader: "Jul 15 16:00", the start of the hour, standard time."""
    month, day, clock = (int(year.arrays[name][hour]) for name in ("month", "day", "hour"))
    return f"{_MONTHS[month]} {day} {clock:02d}:00"
