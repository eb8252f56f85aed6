"""A DX unit from ten-coefficient compressor polynomials (the form of AHRI Standard 540).

    X = C1 + C2 S + C3 D + C4 S^2 + C5 S D + C6 D^2 + C7 S^3 + C8 D S^2 + C9 S D^2 + C10 D^3

S and D are suction and discharge dew points, X is power, mass flow or capacity. The coil and the
condenser are found from the rating as for a unit from ratings; the suction temperature of the
rating is the one at which the compressor has the rated capacity.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from dewledger.components.refrigerant_tables import Compression, compression, refrigerant_table
from dewledger.components.refrigerants import refrigerant_named
from dewledger.dx_unit.calibration import CompressorGrid, RatedState, calibrated_unit
from dewledger.dx_unit.from_rating import TYPICAL_CONDENSING_C
from dewledger.dx_unit.rating import (
    Circuit,
    GrossRating,
    Rating,
    gross_rating,
    rated_coil,
    rated_compressor_power,
)
from dewledger.dx_unit.types import FloatArray, Unit
from dewledger.weather.errors import InputError
from dewledger.weather.files.user_files import read_text, read_toml

OUTPUT_UNITS = {
    "lb/h": ("flow", 0.45359237 / 3600.0),
    "kg/h": ("flow", 1.0 / 3600.0),
    "kg/s": ("flow", 1.0),
    "Btu/h": ("capacity", 0.2930710701722222),
    "W": ("capacity", 1.0),
}
# Dabiri and Rice, ASHRAE Transactions 1981: share of the density change of the suction gas that
# the compressor's mass flow follows (not checked against the text).
SUPERHEAT_SHARE = 0.75
# Power of the map at the rating over the stated one: beyond, coefficients are out of order.
_LEAST_POWER, _MOST_POWER = 0.7, 1.4
# Overall isentropic efficiency of real compressors at lifts they work at: 45 to 80 % (common
# practice, no source), with room for the ends of their range.
_LEAST_EFFICIENCY, _MOST_EFFICIENCY = 0.25, 0.95


@dataclass(frozen=True)
class CompressorMap:
    """Polynomials of a compressor as its data sheet prints them.

    output_coefficients, output_unit : mass flow ("lb/h", "kg/h", "kg/s") or capacity ("Btu/h", "W")
    power_coefficients : compressor power in W
    temperature_unit : "F" or "C", of the dew points in both polynomials
    suction_range_C, condensing_range_C : where the map is valid; held at its edge beyond
    compressors : how many such compressors the unit runs side by side
    superheat_K, subcooling_K : at which the map was made
    """

    output_coefficients: Sequence[float]
    output_unit: str
    power_coefficients: Sequence[float]
    temperature_unit: str
    suction_range_C: tuple[float, float]
    condensing_range_C: tuple[float, float]
    compressors: int = 1
    superheat_K: float = 20.0 / 1.8
    subcooling_K: float = 15.0 / 1.8

    def dew_point(self, temp_C: float | FloatArray) -> FloatArray:
        """A dew point in the unit of the polynomials [F or C]."""
        scale, offset = (1.8, 32.0) if self.temperature_unit == "F" else (1.0, 0.0)
        return np.asarray(temp_C * scale + offset, dtype=np.float64)


def ten_coefficients(
    coefficients: Sequence[float], suction: FloatArray, discharge: FloatArray
) -> FloatArray:
    """The polynomial at suction and discharge dew points in the units of its coefficients.

    Arrays of one shape; the unit is that of the coefficients [F or C; W, kg/h, lb/h].
    """
    c = coefficients
    s, d = suction, discharge
    return np.asarray(
        c[0]
        + c[1] * s
        + c[2] * d
        + c[3] * s**2
        + c[4] * s * d
        + c[5] * d**2
        + c[6] * s**3
        + c[7] * d * s**2
        + c[8] * s * d**2
        + c[9] * d**3,
        dtype=np.float64,
    )


def _check_map(compressor: CompressorMap) -> None:
    for coefficients, what in (
        (compressor.output_coefficients, "flow or capacity"),
        (compressor.power_coefficients, "power"),
    ):
        if len(coefficients) != 10:
            raise InputError(
                f"the compressor's {what} needs ten coefficients, C1 to C10; it has "
                f"{len(coefficients)}"
            )
        if not np.isfinite(np.asarray(coefficients, dtype=np.float64)).all():
            raise InputError(f"the compressor's {what} has a coefficient that is not a number")
    if compressor.output_unit not in OUTPUT_UNITS:
        raise InputError(
            f'compressor output in "{compressor.output_unit}" is not known; write one of '
            f"{', '.join(OUTPUT_UNITS)}"
        )
    if compressor.temperature_unit not in ("F", "C"):
        raise InputError(
            f'compressor map temperatures in "{compressor.temperature_unit}" are not known; write '
            '"F" or "C"'
        )


class _Points(NamedTuple):
    """The points of a map on its grid."""

    suction_C: FloatArray
    condensing_C: FloatArray
    map: CompressorMap

    def require(self, good: npt.NDArray[np.bool_], what: str) -> None:
        """Raise InputError naming the first point where ``good`` is false, as the map has it."""
        bad = np.argwhere(~good)
        if len(bad):
            suction, condensing = (
                float(self.map.dew_point(temps[tuple(bad[0])]))
                for temps in (self.suction_C, self.condensing_C)
            )
            unit = self.map.temperature_unit
            raise InputError(
                f"the compressor map is not possible at {suction:.1f} {unit} suction and "
                f"{condensing:.1f} {unit} condensing, where {what}; check the coefficients, "
                "their order and their units, or narrow the range the map is valid for"
            )


def _mapped(points: _Points, mapped: Compression) -> tuple[FloatArray, FloatArray]:
    """Mass flow [kg/s] and power [W] of a map at its own superheat, each point plausible."""
    compressor = points.map
    at = (compressor.dew_point(points.suction_C), compressor.dew_point(points.condensing_C))
    kind, factor = OUTPUT_UNITS[compressor.output_unit]
    count = compressor.compressors
    output = count * factor * ten_coefficients(compressor.output_coefficients, *at)
    power = count * ten_coefficients(compressor.power_coefficients, *at)
    flow = output if kind == "flow" else output / mapped.refrigerating_effect
    points.require(flow > 0.0, f"the {kind} is not above zero")
    points.require(power > 0.0, "the power is not above zero")
    # Only where the lift is one that compressors work at; near none the power may bend.
    working = points.condensing_C - points.suction_C >= 20.0
    rising = np.ones_like(working)
    rising[:, 1:] = (power[:, 1:] > power[:, :-1]) | ~working[:, :-1]
    points.require(rising, "the power falls as condensing rises")
    growing = np.ones_like(working)
    growing[1:] = flow[1:] > flow[:-1]
    points.require(growing, "the flow falls as suction rises")
    efficiency = flow * mapped.isentropic_work / power
    points.require(
        (efficiency < _MOST_EFFICIENCY) & ((efficiency > _LEAST_EFFICIENCY) | ~working),
        f"power and flow mean an isentropic efficiency outside {100 * _LEAST_EFFICIENCY:.0f} to "
        f"{100 * _MOST_EFFICIENCY:.0f} %",
    )
    return flow, power


def _grid(compressor: CompressorMap, circuit: Circuit) -> CompressorGrid:
    """The map on uniform axes, at the superheat and subcooling of the unit."""
    suction_axis = _axis(compressor.suction_range_C, -30.0, 30.0, "suction")
    condensing_axis = _axis(compressor.condensing_range_C, 10.0, 65.0, "condensing")
    suction, condensing = np.meshgrid(suction_axis, condensing_axis, indexing="ij")
    mapped, actual = (
        compression(refrigerant_table(circuit.refrigerant, *of), suction, condensing)
        for of in (
            (compressor.superheat_K, compressor.subcooling_K),
            (circuit.superheat_K, circuit.subcooling_K),
        )
    )
    flow, power = _mapped(_Points(suction, condensing, compressor), mapped)
    flow_ratio = 1.0 + SUPERHEAT_SHARE * (actual.suction_density / mapped.suction_density - 1.0)
    return CompressorGrid(
        suction_axis,
        condensing_axis,
        cooling_W=flow * flow_ratio * actual.refrigerating_effect,
        compressor_W=power * flow_ratio * (actual.isentropic_work / mapped.isentropic_work),
    )


def _at_rating(
    grid: CompressorGrid, gross: GrossRating, condensing_C: float
) -> tuple[float, float]:
    """Suction temperature [C] at which the compressor has the rated capacity, and its power [W]."""
    suction_axis, condensing_axis = grid.suction_axis_C, grid.condensing_axis_C
    if not condensing_axis[0] <= condensing_C <= condensing_axis[-1]:
        raise InputError(
            f"the unit's rated condensing temperature of {condensing_C:.1f} C is outside the range "
            "of its compressor map"
        )
    cooling, power = (
        np.array([np.interp(condensing_C, condensing_axis, row) for row in values])
        for values in (grid.cooling_W, grid.compressor_W)
    )
    if not cooling[0] <= gross.total_W <= cooling[-1]:
        raise InputError(
            f"the compressor map gives {cooling[0] / 1000:.3g} to {cooling[-1] / 1000:.3g} kW at "
            f"{condensing_C:.1f} C condensing, and the rated gross total is "
            f"{gross.total_W / 1000:.3g} kW; check the number of compressors and the units"
        )
    suction_C = float(np.interp(gross.total_W, cooling, suction_axis))
    return suction_C, float(np.interp(suction_C, suction_axis, power))


def _check_rated_power(
    map_W: float, stated_W: float, suction: float, condensing: float, unit: str
) -> str:
    """A note of the map's power at the rating against the stated one; InputError far off it.

    The condensing temperature of a rating is often assumed, and 5 K of it are some 10 % of power.
    """
    apart = map_W / stated_W
    at = f"{suction:.1f} {unit} suction and {condensing:.1f} {unit} condensing"
    if not _LEAST_POWER < apart < _MOST_POWER:
        raise InputError(
            f"the compressor map takes {map_W / 1000:.3g} kW at {at}, the rating, and the rated "
            f"efficiency or power leaves {stated_W / 1000:.3g} kW for the compressor; check the "
            "order of the coefficients (C8 goes with D S2, C9 with S D2), their units and "
            "rated_condensing"
        )
    return (
        f"The map takes {map_W / 1000:.3g} kW at the rating ({at}), where the stated efficiency or "
        f"power means {stated_W / 1000:.3g} kW; the map is kept."
    )


def unit_from_compressor_map(
    compressor: CompressorMap, rating: Rating, circuit: Circuit, surface_floor_C: float = 0.0
) -> Unit:
    """A unit with a mapped compressor and the two heat exchangers of its rating.

    The rating may state an efficiency, a compressor power or neither; the map's power is held
    against it. The coil's surface is not let below ``surface_floor_C`` [C].

    Raises
    ------
    InputError : a map with an impossible point, or one that cannot give the rated capacity

    Capacities and powers in [W], temperatures in [C].
    """
    _check_map(compressor)
    circuit = replace(circuit, refrigerant=refrigerant_named(circuit.refrigerant).name)
    grid = _grid(compressor, circuit)
    gross = gross_rating(rating)
    power_stated = rating.efficiency_cop is not None or rating.compressor_W is not None
    stated_W = rated_compressor_power(rating, gross) if power_stated else None
    condensing_C = TYPICAL_CONDENSING_C if circuit.condensing_C is None else circuit.condensing_C
    suction_C, compressor_W = _at_rating(grid, gross, condensing_C)
    notes = [
        f"{circuit.refrigerant}: compressor from ten-coefficient polynomials, held at the edge of "
        "their range.",
        "Suction temperature of the rating: where the compressor map has the rated capacity.",
        *gross.notes,
    ]
    if stated_W is not None:
        notes.append(
            _check_rated_power(
                compressor_W,
                stated_W,
                float(compressor.dew_point(suction_C)),
                float(compressor.dew_point(condensing_C)),
                compressor.temperature_unit,
            )
        )
    flow_kg_s = rating.basis.flow_kg_s
    surface_C, bypass = rated_coil(
        gross.total_W, gross.sensible_W, flow_kg_s, rating.condition, gross.fan_W
    )
    rated = RatedState(
        gross, compressor_W, suction_C, condensing_C, surface_C, bypass, flow_kg_s, rating.condition
    )
    return calibrated_unit(grid, rated, circuit, "compressor map", surface_floor_C, notes)


def _axis(limits: tuple[float, float], lowest: float, highest: float, what: str) -> FloatArray:
    """A uniform axis over a range, half a kelvin or a little less apart."""
    low, high = limits
    if not lowest <= low < high <= highest or high - low < 5.0:
        raise InputError(
            f"the compressor map's {what} range of {low:.1f} to {high:.1f} C is not usable; it "
            f"must lie within {lowest:.0f} and {highest:.0f} C and span at least 5 K"
        )
    return np.linspace(low, high, int(np.ceil((high - low) / 0.5)) + 1)


_MAP_KEYS = {
    "output": "ten coefficients of mass flow or capacity, C1 to C10",
    "output_unit": 'one of "lb/h", "kg/h", "kg/s", "Btu/h", "W"',
    "power": "ten coefficients of power in W, C1 to C10",
    "temperature_unit": '"F" or "C"',
    "suction_range": "lowest and highest suction dew point",
    "condensing_range": "lowest and highest discharge dew point",
}
_MAP_OPTIONS = ("compressors", "superheat", "subcooling")


def read_compressor_map(path: Path) -> CompressorMap:
    """The polynomials that a map file states.

    A TOML file with the keys of ``_MAP_KEYS`` and, if wanted, compressors (a count) and the
    superheat and subcooling of the map, in kelvin or Fahrenheit degrees as temperature_unit says.

    Raises
    ------
    InputError : missing or unreadable file, missing or unknown key

    Values in SI: [W], [m3/s], [C], [K].
    """
    table = read_toml(
        read_text(path, "compressor map"),
        f'compressor map "{path.name}"',
        "write lines key = value",
    )
    for key, meaning in _MAP_KEYS.items():
        if key not in table:
            raise InputError(f'compressor map "{path.name}" has no {key}; write {meaning}')
    for key in table:
        if key not in _MAP_KEYS and key not in _MAP_OPTIONS:
            raise InputError(
                f'compressor map "{path.name}": {key} is not known; keys are '
                f"{', '.join((*_MAP_KEYS, *_MAP_OPTIONS))}"
            )
    fahrenheit = table["temperature_unit"] == "F"

    def numbers(key: str, count: int) -> list[float]:
        values = table[key]
        if not isinstance(values, list) or len(values) != count:
            raise InputError(f'compressor map "{path.name}": {key} needs {count} numbers')
        try:
            return [float(value) for value in values]
        except (TypeError, ValueError):
            raise InputError(f'compressor map "{path.name}": {key} needs numbers only') from None

    def span(key: str) -> tuple[float, float]:
        low, high = numbers(key, 2)
        return ((low - 32.0) / 1.8, (high - 32.0) / 1.8) if fahrenheit else (low, high)

    def single(key: str, value: object, example: str) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise InputError(
                f'compressor map "{path.name}": {key} needs a number; write for example '
                f"{key} = {example}"
            )
        return float(value)

    compressors = single("compressors", table.get("compressors", 1), "2")
    if compressors < 1.0 or compressors != int(compressors):
        raise InputError(
            f'compressor map "{path.name}": compressors = {compressors:g} is not a count; write '
            "1, 2 or more"
        )
    read = CompressorMap(
        output_coefficients=numbers("output", 10),
        output_unit=str(table["output_unit"]),
        power_coefficients=numbers("power", 10),
        temperature_unit=str(table["temperature_unit"]),
        suction_range_C=span("suction_range"),
        condensing_range_C=span("condensing_range"),
        compressors=int(compressors),
    )
    per_kelvin = 1.8 if fahrenheit else 1.0
    if "superheat" in table:
        superheat = single("superheat", table["superheat"], "20")
        read = replace(read, superheat_K=superheat / per_kelvin)
    if "subcooling" in table:
        subcooling = single("subcooling", table["subcooling"], "20")
        read = replace(read, subcooling_K=subcooling / per_kelvin)
    return read
