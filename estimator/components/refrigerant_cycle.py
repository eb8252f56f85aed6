"""Refrigerants and the vapor-compression cycle.

Property states come from CoolProp at the time a unit is built, on a grid of suction and condensing
temperatures kept on disk; the hours of a year interpolate. Suction and condensing temperatures are
dew points at the pressures before and after the compressor; superheat counts from the suction dew
point, subcooling from the bubble point at the condensing pressure. No pressure drops.
"""

from __future__ import annotations

import dataclasses
import hashlib
import io
import json
import math
import zipfile
import zlib
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from dewledger.weather.errors import InputError
from dewledger.weather.numerics.kept_files import cache_folder, damaged, drop_oldest, keep, kept

FloatArray = npt.NDArray[np.float64]

DEFAULT_SUPERHEAT_K = 10.0 / 1.8
DEFAULT_SUBCOOLING_K = 10.0 / 1.8


@dataclass(frozen=True)
class Refrigerant:
    """A refrigerant: its name for users, for CoolProp, and its re-expansion exponent.

    ``re_expansion`` is n of the volumetric efficiency 1 + c - c r^(1/n): the ratio of specific
    heats of the thin vapor at 27 C and one atmosphere, computed with CoolProp 8.0.0 (textbooks
    give 1.18 for R-22 and 1.11 for R-134a, not checked against the text).
    """

    name: str
    coolprop: str
    re_expansion: float


REFRIGERANTS: dict[str, Refrigerant] = {
    refrigerant.name: refrigerant
    for refrigerant in (
        # R-410A as a pseudo-pure fluid: the mixture solver fails at some pressures.
        Refrigerant("R-410A", "R410A", 1.17),
        Refrigerant("R-32", "R32", 1.25),
        Refrigerant("R-454B", "R454B.mix", 1.20),
        Refrigerant("R-134a", "R134a", 1.12),
        Refrigerant("R-22", "R22", 1.18),
    )
}


def refrigerant_named(name: str) -> Refrigerant:
    """The refrigerant a user names; "R410A" and "r-410a" will do.

    Raises
    ------
    InputError : an unknown name, with the known ones
    """
    plain = name.upper().replace("-", "").replace(" ", "")
    for refrigerant in REFRIGERANTS.values():
        if refrigerant.name.upper().replace("-", "") == plain:
            return refrigerant
    raise InputError(f'refrigerant "{name}" is not known; write one of {", ".join(REFRIGERANTS)}')


class Saturation(NamedTuple):
    """Saturation at one pressure."""

    pressure: float
    bubble_C: float
    dew_enthalpy: float
    bubble_enthalpy: float


class _States:
    """States of one refrigerant from CoolProp's low-level interface, in C, Pa, J/kg, J/(kg K)."""

    def __init__(self, refrigerant: Refrigerant) -> None:
        import CoolProp
        from CoolProp.CoolProp import AbstractState

        self._name = refrigerant.name
        self._c: Any = CoolProp
        self._state: Any = AbstractState("HEOS", refrigerant.coolprop)

    def dew_pressure(self, temp_C: float) -> float:
        self._state.unspecify_phase()
        self._state.update(self._c.QT_INPUTS, 1.0, temp_C + 273.15)
        return float(self._state.p())

    def bubble_temp(self, pressure: float) -> float:
        self._state.unspecify_phase()
        self._state.update(self._c.PQ_INPUTS, pressure, 0.0)
        return float(self._state.T()) - 273.15

    def saturated_enthalpy(self, pressure: float, quality: float) -> float:
        self._state.unspecify_phase()
        self._state.update(self._c.PQ_INPUTS, pressure, quality)
        return float(self._state.hmass())

    def saturation(self, dew_C: float) -> Saturation:
        """Saturation at a dew point.

        For mixtures the library has no solution in bands a few kelvin wide. There the states come
        from a polynomial through the three nearest that it can give on either side, half a kelvin
        apart (cubic by least squares; the properties bend so little that the error is below 1e-5).
        """
        try:
            return self._saturation_at(dew_C)
        except ValueError:
            pass
        offsets: list[float] = []
        rows: list[Saturation] = []
        for side in (-1.0, 1.0):
            found = 0
            for steps in range(1, 21):
                offset = side * 0.5 * steps
                try:
                    rows.append(self._saturation_at(dew_C + offset))
                except ValueError:
                    continue
                offsets.append(offset)
                found += 1
                if found == 3:
                    break
            if found < 3:
                raise InputError(
                    f"no saturation states of {self._name} are known near {dew_C:.1f} C; the "
                    "condensing temperature must stay well below the critical point"
                )
        columns = np.array(rows)
        columns[:, 0] = np.log(columns[:, 0])
        fitted = np.polynomial.polynomial.polyfit(np.array(offsets), columns, 3)[0]
        return Saturation(math.exp(fitted[0]), *(float(value) for value in fitted[1:]))

    def _saturation_at(self, dew_C: float) -> Saturation:
        pressure = self.dew_pressure(dew_C)
        return Saturation(
            pressure,
            self.bubble_temp(pressure),
            self.saturated_enthalpy(pressure, 1.0),
            self.saturated_enthalpy(pressure, 0.0),
        )

    def liquid_enthalpy(self, pressure: float, temp_C: float) -> float:
        self._state.specify_phase(self._c.iphase_liquid)
        self._state.update(self._c.PT_INPUTS, pressure, temp_C + 273.15)
        return float(self._state.hmass())

    def gas(self, pressure: float, temp_C: float) -> tuple[float, float, float, float]:
        """Enthalpy, entropy, density and specific heat of superheated vapor."""
        self._state.specify_phase(self._c.iphase_gas)
        self._state.update(self._c.PT_INPUTS, pressure, temp_C + 273.15)
        state = self._state
        return (
            float(state.hmass()),
            float(state.smass()),
            float(state.rhomass()),
            float(state.cpmass()),
        )

    def gas_temp_at(self, pressure: float, start_C: float, entropy: float) -> float:
        """Temperature of vapor at a pressure and an entropy, by Newton on temperature.

        Own iteration: the library's flashes from entropy fail or crawl for mixtures.
        """
        temp = start_C
        for _ in range(50):
            _, s, _, cp = self.gas(pressure, temp)
            step = (s - entropy) * (temp + 273.15) / cp
            temp -= min(max(step, -40.0), 40.0)
            if abs(step) < 1e-9:
                break
        return temp

    def gas_temp_of(self, pressure: float, start_C: float, enthalpy: float) -> float:
        """Temperature of vapor at a pressure and an enthalpy, by Newton on temperature."""
        temp = start_C
        for _ in range(50):
            h, _, _, cp = self.gas(pressure, temp)
            step = (h - enthalpy) / cp
            temp -= min(max(step, -40.0), 40.0)
            if abs(step) < 1e-9:
                break
        return temp


SUCTION_GRID_C = np.arange(-30.0, 30.01, 2.5)
CONDENSING_GRID_C = np.arange(10.0, 65.01, 2.5)


@dataclass(frozen=True)
class RefrigerantTable:
    """Properties on the grid: suction states, liquid states and isentropic work.

    ``isentropic_work`` [J/kg] has shape (suction, condensing), all else is one-dimensional.
    """

    refrigerant: Refrigerant
    superheat_K: float
    subcooling_K: float
    suction_pressure: FloatArray
    suction_density: FloatArray
    suction_enthalpy: FloatArray
    condensing_pressure: FloatArray
    liquid_enthalpy: FloatArray
    isentropic_work: FloatArray


_ARRAYS = (
    "suction_pressure",
    "suction_density",
    "suction_enthalpy",
    "condensing_pressure",
    "liquid_enthalpy",
    "isentropic_work",
)


def _compute(refrigerant: Refrigerant, superheat_K: float, subcooling_K: float) -> list[FloatArray]:
    """The arrays of a table from CoolProp."""
    states = _States(refrigerant)
    suction = []
    for suction_C in SUCTION_GRID_C:
        pressure = states.dew_pressure(float(suction_C))
        suction.append((pressure, *states.gas(pressure, float(suction_C) + superheat_K)[:3]))
    suction_pressure, suction_enthalpy, entropy, density = np.array(suction).T
    condensing = []
    for condensing_C in CONDENSING_GRID_C:
        at = states.saturation(float(condensing_C))
        liquid = states.liquid_enthalpy(at.pressure, at.bubble_C - subcooling_K)
        condensing.append((at.pressure, liquid))
    condensing_pressure, liquid_enthalpy = np.array(condensing).T
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
        liquid_enthalpy,
        work,
    ]


@cache
def refrigerant_table(
    name: str,
    superheat_K: float = DEFAULT_SUPERHEAT_K,
    subcooling_K: float = DEFAULT_SUBCOOLING_K,
) -> RefrigerantTable:
    """The table of a refrigerant, from disk where it has been computed before.

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
    folder = cache_folder("refrigerant-tables")
    path = folder and folder / (
        f"{refrigerant.coolprop}-superheat{superheat_K:.4f}-subcooling{subcooling_K:.4f}"
        f"-coolprop{version('CoolProp')}.npz"
    )
    arrays = _load(path) if path else None
    if arrays is None:
        arrays = _compute(refrigerant, superheat_K, subcooling_K)
        if path:
            _save(path, arrays)
    return RefrigerantTable(refrigerant, superheat_K, subcooling_K, *arrays)


def _load(path: Path) -> list[FloatArray] | None:
    """The arrays of a stored table; None where there is none or it does not fit this code."""
    content = kept(path)
    if content is None:
        return None
    suction, condensing = len(SUCTION_GRID_C), len(CONDENSING_GRID_C)
    shapes = [(suction,)] * 3 + [(condensing,)] * 2 + [(suction, condensing)]
    try:
        with np.load(io.BytesIO(content)) as stored:
            arrays = [stored[name] for name in _ARRAYS]
            grids = [stored["suction_grid"], stored["condensing_grid"]]
    except (ValueError, KeyError, OSError, EOFError, zlib.error, zipfile.BadZipFile):
        damaged(path)
        return None
    if not np.array_equal(grids[0], SUCTION_GRID_C) or not np.array_equal(
        grids[1], CONDENSING_GRID_C
    ):
        return None
    if [array.shape for array in arrays] != shapes or not all(
        array.dtype == np.float64 and np.isfinite(array).all() for array in arrays
    ):
        damaged(path)
        return None
    return arrays


def _save(path: Path, arrays: list[FloatArray]) -> None:
    contents = dict(zip(_ARRAYS, arrays, strict=True))
    contents |= {"suction_grid": SUCTION_GRID_C, "condensing_grid": CONDENSING_GRID_C}
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


@dataclass(frozen=True)
class Cycle:
    """One vapor-compression cycle: states and what follows from them, per kilogram.

    States: 1 suction, 2 discharge, 3 liquid before the valve, 4 after it.
    """

    refrigerant: str
    suction_pressure_Pa: float
    condensing_pressure_Pa: float
    suction_temp_C: float  # state 1, with superheat
    discharge_temp_C: float
    condensing_dew_C: float
    condensing_bubble_C: float
    liquid_temp_C: float
    enthalpies_J_kg: tuple[float, float, float, float]
    cop: float
    rejection_ratio: float  # heat rejected over evaporator heat
    desuperheating_share: float  # of the heat rejected
    condensing_share: float
    subcooling_share: float
    flow_kg_s_W: float  # refrigerant per watt of evaporator heat


MOST_CYCLES_KEPT = 500  # files of half a kilobyte; the oldest go first


@lru_cache(maxsize=512)
def cycle(
    refrigerant_name: str,
    suction_C: float,
    condensing_C: float,
    superheat_K: float = DEFAULT_SUPERHEAT_K,
    subcooling_K: float = DEFAULT_SUBCOOLING_K,
    isentropic: float = 0.7,
) -> Cycle:
    """The cycle between two dew points, all compressor work reaching the refrigerant.

    Enthalpies [J/kg], pressures [Pa], temperatures [C], from CoolProp, or from disk where they have
    been computed before: to load its fluids takes CoolProp two seconds.

    Raises
    ------
    InputError : an unknown refrigerant, states that it does not have
    """
    refrigerant = refrigerant_named(refrigerant_name)
    at = (suction_C, condensing_C, superheat_K, subcooling_K, isentropic)
    folder = cache_folder("cycles")
    if folder is None:
        return _cycle(refrigerant, *at)
    text = json.dumps([_cycle_digest(), refrigerant.coolprop, *(float(value) for value in at)])
    path = folder / f"{hashlib.sha256(text.encode()).hexdigest()}.json"
    found = _kept_cycle(path)
    if found is None:
        found = _cycle(refrigerant, *at)
        keep(path, json.dumps(dataclasses.asdict(found)).encode())
        drop_oldest(folder, MOST_CYCLES_KEPT)
    return found


@cache
def _cycle_digest() -> str:
    """What makes cycles: this source and the library's version."""
    source = Path(__file__).read_bytes()
    return hashlib.sha256(source + version("CoolProp").encode()).hexdigest()


def _kept_cycle(path: Path) -> Cycle | None:
    content = kept(path)
    if content is None:
        return None
    try:
        said = json.loads(content)
        return Cycle(**{**said, "enthalpies_J_kg": tuple(said["enthalpies_J_kg"])})
    except (ValueError, KeyError, TypeError):
        damaged(path)
        return None


def _cycle(
    refrigerant: Refrigerant,
    suction_C: float,
    condensing_C: float,
    superheat_K: float,
    subcooling_K: float,
    isentropic: float,
) -> Cycle:
    """The cycle from CoolProp's states."""
    states = _States(refrigerant)
    low = states.dew_pressure(suction_C)
    high = states.saturation(condensing_C)
    h1, s1, _, _ = states.gas(low, suction_C + superheat_K)
    temp_2s = states.gas_temp_at(high.pressure, condensing_C + 20.0, s1)
    h2 = h1 + (states.gas(high.pressure, temp_2s)[0] - h1) / isentropic
    h3 = states.liquid_enthalpy(high.pressure, high.bubble_C - subcooling_K)
    rejected = h2 - h3
    effect = h1 - h3
    return Cycle(
        refrigerant=refrigerant.name,
        suction_pressure_Pa=low,
        condensing_pressure_Pa=high.pressure,
        suction_temp_C=suction_C + superheat_K,
        discharge_temp_C=states.gas_temp_of(high.pressure, temp_2s + 10.0, h2),
        condensing_dew_C=condensing_C,
        condensing_bubble_C=high.bubble_C,
        liquid_temp_C=high.bubble_C - subcooling_K,
        enthalpies_J_kg=(h1, h2, h3, h3),
        cop=effect / (h2 - h1),
        rejection_ratio=rejected / effect,
        desuperheating_share=(h2 - high.dew_enthalpy) / rejected,
        condensing_share=(high.dew_enthalpy - high.bubble_enthalpy) / rejected,
        subcooling_share=(high.bubble_enthalpy - h3) / rejected,
        flow_kg_s_W=1.0 / effect,
    )
