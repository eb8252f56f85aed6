"""Refrigerant properties on a grid of suction and condensing temperatures, and between its points.

The hours of a year interpolate. Suction and condensing temperatures are dew points at the pressures
before and after the compressor; superheat counts from the suction dew point, subcooling from the
bubble point at the condensing pressure. No pressure drops.

A unit is built from them, and so are its cycles, as reports show them.

At the usual superheat and subcooling the tables are part of the package (refrigerant_tables.json):
an answer does not change with the library's version, and to load its fluids takes two seconds.
``python -m dewledger.components.refrigerant_tables`` writes that file anew. At any other they come
from CoolProp at the time a unit is built, and are kept on disk.
"""

from __future__ import annotations

import io
import json
import zipfile
import zlib
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from dewledger.components.refrigerants import (
    DEFAULT_SUBCOOLING_K,
    DEFAULT_SUPERHEAT_K,
    REFRIGERANTS,
    Refrigerant,
    States,
    refrigerant_named,
)
from dewledger.weather.errors import InputError
from dewledger.weather.numerics.kept_files import cache_folder, damaged, keep, kept

FloatArray = npt.NDArray[np.float64]

SHIPPED = Path(__file__).with_name("refrigerant_tables.json")

SUCTION_GRID_C = np.arange(-30.0, 30.01, 2.5)
CONDENSING_GRID_C = np.arange(10.0, 65.01, 2.5)
# Enthalpy of discharge gas above that of the dew point [J/kg]: between these points its temperature
# is met to 0.02 K.
ABOVE_DEW_GRID = np.arange(0.0, 160_001.0, 20_000.0)
# Further cooling of the liquid at which tables also have its enthalpy [K]: what a subcooling coil
# gains is linear in it to 1 %.
LIQUID_COOLED_K = 20.0


@dataclass(frozen=True)
class RefrigerantTable:
    """Properties on the grid: suction states, condensing states, isentropic work, discharge gas.

    ``isentropic_work`` [J/kg] has shape (suction, condensing), ``gas_temp`` [C] (condensing,
    enthalpy above the dew point), all else is one-dimensional.
    """

    refrigerant: Refrigerant
    superheat_K: float
    subcooling_K: float
    suction_pressure: FloatArray
    suction_density: FloatArray
    suction_enthalpy: FloatArray
    condensing_pressure: FloatArray
    liquid_enthalpy: FloatArray
    cooled_liquid_enthalpy: FloatArray
    bubble_temp: FloatArray
    dew_enthalpy: FloatArray
    bubble_enthalpy: FloatArray
    isentropic_work: FloatArray
    gas_temp: FloatArray


# Arrays of a table with their units, in the order of its members.
_ARRAYS = {
    "suction_pressure": "Pa",
    "suction_density": "kg/m3",
    "suction_enthalpy": "J/kg",
    "condensing_pressure": "Pa",
    "liquid_enthalpy": "J/kg",
    "cooled_liquid_enthalpy": "J/kg",
    "bubble_temp": "C",
    "dew_enthalpy": "J/kg",
    "bubble_enthalpy": "J/kg",
    "isentropic_work": "J/kg",
    "gas_temp": "C",
}


def _compute(refrigerant: Refrigerant, superheat_K: float, subcooling_K: float) -> list[FloatArray]:
    """The arrays of a table from CoolProp."""
    states = States(refrigerant)
    suction = []
    for suction_C in SUCTION_GRID_C:
        pressure = states.dew_pressure(float(suction_C))
        suction.append((pressure, *states.gas(pressure, float(suction_C) + superheat_K)[:3]))
    suction_pressure, suction_enthalpy, entropy, density = np.array(suction).T
    condensing = []
    gas_temp = np.empty((len(CONDENSING_GRID_C), len(ABOVE_DEW_GRID)))
    for row, condensing_C in zip(gas_temp, CONDENSING_GRID_C, strict=True):
        at = states.saturation(float(condensing_C))
        liquid = [
            states.liquid_enthalpy(at.pressure, at.bubble_C - subcooling_K - cooled_K)
            for cooled_K in (0.0, LIQUID_COOLED_K)
        ]
        condensing.append((*at, *liquid))
        temp = float(condensing_C)
        for k, above in enumerate(ABOVE_DEW_GRID):
            temp = states.gas_temp_of(at.pressure, temp, at.dew_enthalpy + float(above))
            row[k] = temp
    condensing_pressure, bubble, dew_enthalpy, bubble_enthalpy, *liquids = np.array(condensing).T
    work = np.empty((len(SUCTION_GRID_C), len(CONDENSING_GRID_C)))
    for i in range(len(SUCTION_GRID_C)):
        for j, condensing_C in enumerate(CONDENSING_GRID_C):
            start = float(condensing_C) + superheat_K + 10.0
            temp = states.gas_temp_at(condensing_pressure[j], start, entropy[i])
            work[i, j] = states.gas(condensing_pressure[j], temp)[0] - suction_enthalpy[i]
    return [
        suction_pressure,
        density,
        suction_enthalpy,
        condensing_pressure,
        *liquids,
        bubble,
        dew_enthalpy,
        bubble_enthalpy,
        work,
        gas_temp,
    ]


@cache
def refrigerant_table(
    name: str,
    superheat_K: float = DEFAULT_SUPERHEAT_K,
    subcooling_K: float = DEFAULT_SUBCOOLING_K,
) -> RefrigerantTable:
    """The table of a refrigerant: that of the package, else one computed before, else computed now.

    Grids of (suction, condensing) in [Pa], [kg/m3], [J/kg], from CoolProp.

    Raises
    ------
    InputError : an unknown refrigerant, a superheat or subcooling outside 0 to 30 K
    """
    refrigerant = refrigerant_named(name)
    if not 0.0 <= superheat_K <= 30.0:
        raise InputError(f"superheat {superheat_K:.3g} K is out of range; write 0 to 30 K")
    if not 0.0 <= subcooling_K <= 30.0:
        raise InputError(f"subcooling {subcooling_K:.3g} K is out of range; write 0 to 30 K")
    arrays = _shipped(refrigerant, superheat_K, subcooling_K)
    if arrays is None:
        arrays = _kept_or_computed(refrigerant, superheat_K, subcooling_K)
    return RefrigerantTable(refrigerant, superheat_K, subcooling_K, *arrays)


def _settings(superheat_K: float, subcooling_K: float) -> dict[str, Any]:
    """What a table was made for, as the file of the package states it."""
    return {
        "superheat_K": round(superheat_K, 4),
        "subcooling_K": round(subcooling_K, 4),
        "liquid_cooled_K": LIQUID_COOLED_K,
        **{name: grid.tolist() for name, grid in _grids().items()},
    }


def _shipped(
    refrigerant: Refrigerant, superheat_K: float, subcooling_K: float
) -> list[FloatArray] | None:
    """The arrays of a table of the package; None where it has none for these settings."""
    said = json.loads(SHIPPED.read_text(encoding="utf-8"))
    if said["settings"] != _settings(superheat_K, subcooling_K):
        return None
    return [np.array(said["tables"][refrigerant.name][name]) for name in _ARRAYS]


def shipped_text() -> str:
    """The tables of the package, computed anew: every number in full, a line for each row."""
    tables = {}
    for refrigerant in REFRIGERANTS.values():
        arrays = _compute(refrigerant, DEFAULT_SUPERHEAT_K, DEFAULT_SUBCOOLING_K)
        rows = (json.dumps(array.tolist()) for array in arrays)
        tables[refrigerant.name] = dict(zip(_ARRAYS, rows, strict=True))
    head = {
        "made_by": "python -m dewledger.components.refrigerant_tables",
        "source": "CoolProp, HEOS equations of state",
        "coolprop": version("CoolProp"),
        "fluids": {one.name: one.coolprop for one in REFRIGERANTS.values()},
        "settings": _settings(DEFAULT_SUPERHEAT_K, DEFAULT_SUBCOOLING_K),
        "units": _ARRAYS,
    }
    stated = [f'  "{key}": {json.dumps(value)},\n' for key, value in head.items()]
    listed = ",\n".join(
        f'    "{refrigerant}": {{\n'
        + ",\n".join(f'      "{name}": {text}' for name, text in table.items()).replace(
            "], [", "],\n        ["
        )
        + "\n    }"
        for refrigerant, table in tables.items()
    )
    return "{\n" + "".join(stated) + '  "tables": {\n' + listed + "\n  }\n}\n"


def _grids() -> dict[str, FloatArray]:
    return {
        "suction_C": SUCTION_GRID_C,
        "condensing_C": CONDENSING_GRID_C,
        "above_dew_J_kg": ABOVE_DEW_GRID,
    }


def _kept_or_computed(
    refrigerant: Refrigerant, superheat_K: float, subcooling_K: float
) -> list[FloatArray]:
    folder = cache_folder("refrigerant-grids")
    path = folder and folder / (
        f"{refrigerant.coolprop}-superheat{superheat_K:.4f}-subcooling{subcooling_K:.4f}"
        f"-coolprop{version('CoolProp')}.npz"
    )
    arrays = _load(path) if path else None
    if arrays is None:
        arrays = _compute(refrigerant, superheat_K, subcooling_K)
        if path:
            _save(path, arrays)
    return arrays


def _load(path: Path) -> list[FloatArray] | None:
    """The arrays of a stored table; None where there is none or it does not fit this code."""
    content = kept(path)
    if content is None:
        return None
    suction, condensing, above = len(SUCTION_GRID_C), len(CONDENSING_GRID_C), len(ABOVE_DEW_GRID)
    shapes: list[tuple[int, ...]] = [*[(suction,)] * 3, *[(condensing,)] * 6]
    shapes += [(suction, condensing), (condensing, above)]
    try:
        with np.load(io.BytesIO(content)) as stored:
            arrays = [stored[name] for name in _ARRAYS]
            grids = {name: stored[name] for name in _grids()}
    except KeyError:  # of a version with other arrays
        return None
    except (ValueError, OSError, EOFError, zlib.error, zipfile.BadZipFile):
        damaged(path)
        return None
    if not all(np.array_equal(grids[name], grid) for name, grid in _grids().items()):
        return None
    if [array.shape for array in arrays] != shapes or not all(
        array.dtype == np.float64 and np.isfinite(array).all() for array in arrays
    ):
        damaged(path)
        return None
    return arrays


def _save(path: Path, arrays: list[FloatArray]) -> None:
    contents = dict(zip(_ARRAYS, arrays, strict=True)) | _grids()
    file = io.BytesIO()
    np.savez(file, **contents)  # type: ignore[arg-type]
    keep(path, file.getvalue())


@dataclass(frozen=True)
class Compression:
    """What a compressor meets over arrays of suction and condensing temperature, broadcast."""

    pressure_ratio: FloatArray
    suction_density: FloatArray
    refrigerating_effect: FloatArray  # J/kg
    isentropic_work: FloatArray  # J/kg


def at_point(grid: FloatArray, values: FloatArray, at: float) -> FloatArray:
    """Pressures [Pa], enthalpies [J/kg] or temperatures [C] over a grid, at one point of it.

    Definition: the polynomial through the six nearest points of the grid. Splines come with half a
    second of imports, and one point takes no spline.

    Parameters
    ----------
    grid : (n,), rising
    values : (n,) or (n, more), each column by itself
    """
    first = min(max(int(np.searchsorted(grid, at)) - 3, 0), len(grid) - 6)
    near = slice(first, first + 6)
    found: FloatArray = np.polynomial.polynomial.polyfit(grid[near] - at, values[near], 5)[0]
    return found


LEAST_LIFT_K = 10.0  # below this a compressor cannot be run; its map is held there


def compression(
    table: RefrigerantTable, suction_C: FloatArray, condensing_C: FloatArray
) -> Compression:
    """Smooth interpolation of a table at arrays of one shape.

    Pressures and densities by cubic splines of their logarithms, the work by a bicubic one. The
    condensing pressure is held at least LEAST_LIFT_K above suction.

    Pressures [Pa], density [kg/m3], work [J/kg], of the shape given.
    """
    from scipy.interpolate import CubicSpline, RectBivariateSpline

    lifted_C = np.maximum(condensing_C, suction_C + LEAST_LIFT_K)

    def spline(axis: FloatArray, values: FloatArray, at: FloatArray) -> FloatArray:
        return np.asarray(CubicSpline(axis, values)(at), dtype=np.float64)

    suction_pressure = np.exp(spline(SUCTION_GRID_C, np.log(table.suction_pressure), suction_C))
    pressure = np.exp(spline(CONDENSING_GRID_C, np.log(table.condensing_pressure), lifted_C))
    work = RectBivariateSpline(SUCTION_GRID_C, CONDENSING_GRID_C, table.isentropic_work)
    return Compression(
        pressure_ratio=pressure / suction_pressure,
        suction_density=np.exp(spline(SUCTION_GRID_C, np.log(table.suction_density), suction_C)),
        refrigerating_effect=spline(SUCTION_GRID_C, table.suction_enthalpy, suction_C)
        - spline(CONDENSING_GRID_C, table.liquid_enthalpy, condensing_C),
        isentropic_work=np.asarray(work.ev(suction_C, lifted_C), dtype=np.float64),
    )


def volumetric_efficiency(
    pressure_ratio: FloatArray, clearance: float, re_expansion: float
) -> FloatArray:
    """Volumetric efficiency 1 + c - c r^(1/n): gas left in the clearance expands again.

    A fraction [1], of the shape of the ratio; clearance volume over swept volume c, re-expansion
    exponent n (reciprocating-compressor theory, common practice, no source).
    """
    return 1.0 + clearance - clearance * pressure_ratio ** (1.0 / re_expansion)


if __name__ == "__main__":
    SHIPPED.write_text(shipped_text(), encoding="utf-8")
