"""Sensible heat and moisture that arise in the room, hour by hour."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from dewledger.assembly.calendar import HOURS, Calendar
from dewledger.case.gains import LoadsFile
from dewledger.case.model import Case
from dewledger.case.words import listed, nearest
from dewledger.components.room_moisture import (
    HEAT_OF_TRANSPIRATION_J_KG,
    pool_evaporation,
    transpiration,
)
from dewledger.quantities import parse
from dewledger.weather.errors import InputError
from dewledger.weather.files.case_tables import numbers_of, read_csv_table

if TYPE_CHECKING:
    import pandas as pd
from dewledger.weather.physics.moist_air import vapor_enthalpy

FloatArray = npt.NDArray[np.float64]

# Columns a file of loads may have: what they are, and the unit their name ends in.
_FILE_COLUMNS = {
    "sensible_W": ("sensible", "W"),
    "sensible_kW": ("sensible", "kW"),
    "sensible_Btu_h": ("sensible", "Btu/h"),
    "sensible_kBtu_h": ("sensible", "kBtu/h"),
    "latent_W": ("latent", "W"),
    "latent_kW": ("latent", "kW"),
    "latent_Btu_h": ("latent", "Btu/h"),
    "latent_kBtu_h": ("latent", "kBtu/h"),
    "moisture_kg_s": ("moisture", "kg/s"),
    "moisture_kg_h": ("moisture", "kg/h"),
    "moisture_g_h": ("moisture", "g/h"),
    "moisture_lb_h": ("moisture", "lb/h"),
}


WATER_KG_M3 = 998.0  # at room temperature


@dataclass(frozen=True)
class Gains:
    """Gains of each hour of the year; arrays of 8760, read-only.

    lights_W, equipment_W : electric power of lights and equipment, part of sensible_W
    """

    sensible_W: FloatArray
    moisture_kg_s: FloatArray
    lights_W: FloatArray
    equipment_W: FloatArray


def hourly_gains(case: Case, calendar: Calendar) -> Gains:
    """Gains of a case: people, lights, equipment, process and file added up.

    Latent heat becomes vapor at the vapor's enthalpy at the cooling set point.
    """
    loads = case.loads
    floor_area = float(case.room.floor_area)
    heat_of_vapor = vapor_enthalpy(float(case.room.cooling_setpoint))
    sensible = np.zeros(HOURS)
    moisture = np.zeros(HOURS)
    if loads.people is not None:
        people = loads.people
        assert people.sensible is not None
        assert people.latent is not None
        present = people.number(floor_area) * calendar.profile_values(case.profile(people.profile))
        sensible += present * float(people.sensible)
        moisture += present * float(people.latent) / heat_of_vapor
    electric = []
    for table in (loads.lights, loads.equipment):
        power = np.zeros(HOURS)
        if table is not None:
            full = table.power
            if full is None:
                assert table.power_density is not None
                full = table.power_density * floor_area
            power = float(full) * calendar.profile_values(case.profile(table.profile))
        electric.append(power)
        sensible += power
    if loads.process is not None:
        running = calendar.profile_values(case.profile(loads.process.profile))
        sensible += float(loads.process.sensible) * running
        moisture += float(loads.process.moisture) * running
    if loads.pool is not None:
        moisture += _pool(case, calendar)
    if loads.plants is not None:
        vapor = _plants(case, calendar)
        moisture += vapor
        sensible -= vapor * HEAT_OF_TRANSPIRATION_J_KG
    if loads.file is not None:
        file_sensible, file_latent, file_moisture = read_loads(loads.file, case.folder)
        sensible += file_sensible
        moisture += file_moisture + file_latent / heat_of_vapor
    gains = Gains(sensible, moisture, *electric)
    for array in (gains.sensible_W, gains.moisture_kg_s, gains.lights_W, gains.equipment_W):
        array.setflags(write=False)
    return gains


def _pool(case: Case, calendar: Calendar) -> FloatArray:
    """Vapor [kg/s] of a pool in each hour, between still water and water in use."""
    pool = case.loads.pool
    assert pool is not None
    use = calendar.profile_values(case.profile(pool.profile))
    still, used = (
        pool_evaporation(
            float(pool.area),
            float(pool.water_temperature),
            float(case.room.cooling_setpoint),
            float(pool.room_relative_humidity),
            float(factor),
        )
        for factor in (pool.still, pool.activity)
    )
    return still + (used - still) * use


def _plants(case: Case, calendar: Calendar) -> FloatArray:
    """Vapor [kg/s] of plants in each hour, as their lights are on."""
    plants, lights = case.loads.plants, case.loads.lights
    assert plants is not None
    light = (
        calendar.profile_values(case.profile(lights.profile))
        if lights is not None
        else np.ones(HOURS)
    )
    return transpiration(
        float(plants.irrigation) * WATER_KG_M3,
        float(plants.returned),
        float(plants.dark_share),
        light,
    )


def read_loads(file: LoadsFile, folder: Path) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Sensible heat [W], latent heat [W] and vapor [kg/s] of each hour of a CSV, summed by kind.

    Raises
    ------
    InputError : no such file or column, not 8760 rows, a cell that is no number, times that are
        not those of the weather year
    """
    path = folder / file.path
    place = f'[loads.file] "{path.name}"'
    table = read_csv_table(path, place, "[loads.file] path:")
    chosen = _chosen_columns(file, list(table.columns), place)
    if len(table) != HOURS:
        leap = " (leave out 29 February)" if len(table) == 8784 else ""
        raise InputError(
            f"{place} has {len(table)} rows; write 8760, one for each hour of local standard time"
            f"{leap}"
        )
    _require_aligned(table, place)
    totals = {"sensible": np.zeros(HOURS), "latent": np.zeros(HOURS), "moisture": np.zeros(HOURS)}
    for name, index in chosen.items():
        what, unit = _FILE_COLUMNS[name]
        kind = "moisture flow" if what == "moisture" else "heat flow"
        factor = float(parse(f"1 {unit}", kind))
        cells = table.iloc[:, index]
        values, wrong = numbers_of(cells)
        if wrong is not None:
            raise InputError(
                f'{place} has "{cells.iloc[wrong]}" in column "{table.columns[index]}" of hour '
                f"{wrong + 1} of the year; write a number"
            )
        totals[what] += values * factor
    return totals["sensible"], totals["latent"], totals["moisture"]


# Heads of columns that give the time of a row, in small letters.
_STAMPS = ("time", "timestamp", "datetime", "date/time", "date and time", "date time")
_STAMP = re.compile(
    r"\s*(?:(?:\d{4}-)?(\d{1,2})-|(\d{1,2})/)(\d{1,2})(?:/\d{2,4})?[ T]+(\d{1,2})(?::\d\d)?"
)


def _require_aligned(table: pd.DataFrame, place: str) -> None:
    """InputError where columns of times show that row i is not hour i of the weather year.

    An hour may carry its begin, its middle or its end; without such columns the order stands.
    """
    found = _row_hours(table, place)
    if not found:
        return
    first = found[0]
    if first not in (0, 1):
        raise InputError(
            f"{place} begins at {_told(first)}; write the hour from 01-01 00:00 first, in local "
            "standard time"
        )
    for i, hour in enumerate(found):
        if hour != (i + first) % HOURS:
            raise InputError(
                f"{place} has {_told(hour)} in hour {i + 1} of the year, where "
                f"{_told((i + first) % HOURS)} is due; write every hour in its order, in local "
                "standard time without summer time"
            )


def _row_hours(table: pd.DataFrame, place: str) -> list[int]:
    """Hour of the year that each row's own columns give, or nothing."""
    at = {str(title).lower(): index for index, title in enumerate(table.columns)}

    def cells(name: str) -> pd.Series[str]:
        return table.iloc[:, at[name]]

    stamp = next((name for name in _STAMPS if name in at), None)
    if {"month", "day", "hour"} <= set(at):
        written = cells("month") + "-" + cells("day") + " " + cells("hour")
        title = "hour"
    elif stamp is not None:
        written = cells("date") + " " + cells(stamp) if "date" in at else cells(stamp)
        title = str(table.columns[at[stamp]])
    else:
        return []
    return [_hour_of_year(text, i, title, place) for i, text in enumerate(written)]


def _hour_of_year(text: str, i: int, title: str, place: str) -> int:
    match = _STAMP.match(text)
    try:
        if not match or int(match[4]) > 24:
            raise ValueError
        day = date(2023, int(match[1] or match[2]), int(match[3]))
    except ValueError:
        raise InputError(
            f'{place} has "{text}" in column "{title}" of hour {i + 1} of the year; write times '
            "such as 2023-01-31 14:00 without 29 February, or leave that column out"
        ) from None
    return ((day - date(2023, 1, 1)).days * 24 + int(match[4])) % HOURS


def _told(hour: int) -> str:
    time = datetime(2023, 1, 1) + timedelta(hours=hour)
    return f"{time:%m-%d %H:00}"


def _chosen_columns(file: LoadsFile, head: list[str], place: str) -> dict[str, int]:
    """Our column name and its index in the file."""
    if file.columns is None:
        chosen = {name: head.index(name) for name in _FILE_COLUMNS if name in head}
        if not chosen:
            raise InputError(
                f"{place} has no column that names a load and its unit; its head is "
                f"{', '.join(head[:6])}; name one sensible_W, or write columns = "
                f'{{ sensible_W = "{head[0]}" }}'
            )
        return chosen
    chosen = {}
    for name, title in file.columns.items():
        if name not in _FILE_COLUMNS:
            raise InputError(
                f"[loads.file] columns: {name} is not known{nearest(name, _FILE_COLUMNS)}; write "
                f"{listed(_FILE_COLUMNS)}"
            )
        if title not in head:
            raise InputError(
                f'{place} has no column "{title}"{nearest(title, head)}; its head is '
                f"{', '.join(head[:6])}"
            )
        chosen[name] = head.index(title)
    return chosen
