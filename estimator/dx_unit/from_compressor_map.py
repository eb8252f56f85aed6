"""A DX unit from ten-coefficient compressor polynomials (the form of AHRI Standard 540).

    X = C1 + C2 S + C3 D + C4 S^2 + C5 S D + C6 D^2 + C7 S^3 + C8 D S^2 + C9 S D^2 + C10 D^3

S and D are suction and discharge dew points, X is power, mass flow or capacity. The coil and the
condenser are found from the rating as for a unit from ratings; the suction temperature of the
rating is the one at which the compressor has the rated capacity.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from dewledger.components.refrigerant_cycle import (
    DEFAULT_SUBCOOLING_K,
    DEFAULT_SUPERHEAT_K,
    compression,
    refrigerant_named,
    refrigerant_table,
)
from dewledger.dx_unit.from_rating import (
    RATING_OUTDOOR_C,
    RATING_TEMP_IN_C,
    RATING_WET_BULB_C,
    TYPICAL_CONDENSING_C,
    balance_unit,
    condenser_fan,
    gross_rating,
    rated_coil,
    supply_fan,
)
from dewledger.dx_unit.types import FloatArray, Unit
from dewledger.weather.errors import InputError
from dewledger.weather.files.user_files import read_text, read_toml
from dewledger.weather.physics.moist_air import STANDARD_AIR_DENSITY, STANDARD_PRESSURE_PA

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


def _check_coefficients(coefficients: Sequence[float], what: str) -> None:
    if len(coefficients) != 10:
        raise InputError(
            f"the compressor's {what} needs ten coefficients, C1 to C10; it has {len(coefficients)}"
        )
    if not np.isfinite(np.asarray(coefficients, dtype=np.float64)).all():
        raise InputError(f"the compressor's {what} has a coefficient that is not a number")


def _require(
    good: npt.NDArray[np.bool_], suction: FloatArray, condensing: FloatArray, unit: str, what: str
) -> None:
    """Raise InputError naming the first point of the map where ``good`` is false.

    suction, condensing, unit : dew points as the map has them, and their unit
    """
    bad = np.argwhere(~good)
    if len(bad):
        i, j = bad[0]
        raise InputError(
            f"the compressor map is not possible at {suction[i, j]:.1f} {unit} suction and "
            f"{condensing[i, j]:.1f} {unit} condensing, where {what}; check the coefficients, "
            "their order and their units, or narrow the range the map is valid for"
        )


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
    *,
    refrigerant: str,
    output_coefficients: Sequence[float],
    output_unit: str,
    power_coefficients: Sequence[float],
    temperature_unit: str,
    suction_range_C: tuple[float, float],
    condensing_range_C: tuple[float, float],
    total_W: float,
    sensible_W: float,
    net: bool,
    rated_flow_m3_s: float,
    efficiency_cop: float | None = None,
    compressor_W: float | None = None,
    compressors: int = 1,
    map_superheat_K: float = 20.0 / 1.8,
    map_subcooling_K: float = 15.0 / 1.8,
    rated_fan_W: float | None = None,
    condenser_fan_W: float | None = None,
    temp_in_C: float = RATING_TEMP_IN_C,
    wet_bulb_C: float = RATING_WET_BULB_C,
    outdoor_C: float = RATING_OUTDOOR_C,
    condensing_C: float = TYPICAL_CONDENSING_C,
    superheat_K: float = DEFAULT_SUPERHEAT_K,
    subcooling_K: float = DEFAULT_SUBCOOLING_K,
    surface_floor_C: float = 0.0,
    pressure_Pa: float = STANDARD_PRESSURE_PA,
) -> Unit:
    """A unit with a mapped compressor and the two heat exchangers of its rating.

    Parameters
    ----------
    output_coefficients, output_unit : mass flow ("lb/h", "kg/h", "kg/s") or capacity ("Btu/h", "W")
    power_coefficients : compressor power in W
    temperature_unit : "F" or "C", of the dew points in both polynomials
    suction_range_C, condensing_range_C : where the map is valid; held at its edge beyond
    efficiency_cop, compressor_W : of the rating, one or neither; the map's power is held against it
    compressors : how many such compressors the unit runs side by side
    map_superheat_K, map_subcooling_K : at which the map was made
    total_W, sensible_W, net, rated_flow_m3_s, ... : as for a unit from ratings

    Raises
    ------
    InputError : a map with an impossible point, or one that cannot give the rated capacity

    Capacities and powers in [W], flows in [m3/s] of standard air, temperatures in [C].
    """
    _check_coefficients(output_coefficients, "flow or capacity")
    _check_coefficients(power_coefficients, "power")
    if output_unit not in OUTPUT_UNITS:
        raise InputError(
            f'compressor output in "{output_unit}" is not known; write one of '
            f"{', '.join(OUTPUT_UNITS)}"
        )
    if temperature_unit not in ("F", "C"):
        raise InputError(
            f'compressor map temperatures in "{temperature_unit}" are not known; write "F" or "C"'
        )
    chosen = refrigerant_named(refrigerant)
    suction_axis = _axis(suction_range_C, -30.0, 30.0, "suction")
    condensing_axis = _axis(condensing_range_C, 10.0, 65.0, "condensing")
    suction, condensing = np.meshgrid(suction_axis, condensing_axis, indexing="ij")
    scale, offset = (1.8, 32.0) if temperature_unit == "F" else (1.0, 0.0)
    at = (suction * scale + offset, condensing * scale + offset)
    point = (*at, temperature_unit)
    kind, factor = OUTPUT_UNITS[output_unit]
    output = compressors * factor * ten_coefficients(output_coefficients, *at)
    power = compressors * ten_coefficients(power_coefficients, *at)
    mapped = compression(
        refrigerant_table(chosen.name, map_superheat_K, map_subcooling_K), suction, condensing
    )
    actual = compression(
        refrigerant_table(chosen.name, superheat_K, subcooling_K), suction, condensing
    )
    map_flow = output if kind == "flow" else output / mapped.refrigerating_effect
    _require(map_flow > 0.0, *point, f"the {kind} is not above zero")
    _require(power > 0.0, *point, "the power is not above zero")
    # Only where the lift is one that compressors work at; near none the power may bend.
    working = condensing - suction >= 20.0
    rising = np.ones_like(working)
    rising[:, 1:] = (power[:, 1:] > power[:, :-1]) | ~working[:, :-1]
    _require(rising, *point, "the power falls as condensing rises")
    growing = np.ones_like(working)
    growing[1:] = map_flow[1:] > map_flow[:-1]
    _require(growing, *point, "the flow falls as suction rises")
    efficiency = map_flow * mapped.isentropic_work / power
    _require(
        (efficiency < _MOST_EFFICIENCY) & ((efficiency > _LEAST_EFFICIENCY) | ~working),
        *point,
        f"power and flow mean an isentropic efficiency outside {100 * _LEAST_EFFICIENCY:.0f} to "
        f"{100 * _MOST_EFFICIENCY:.0f} %",
    )
    flow_ratio = 1.0 + SUPERHEAT_SHARE * (actual.suction_density / mapped.suction_density - 1.0)
    cooling = map_flow * flow_ratio * actual.refrigerating_effect
    power = power * flow_ratio * (actual.isentropic_work / mapped.isentropic_work)

    notes: list[str] = [
        f"{chosen.name}: compressor from ten-coefficient polynomials, held at the edge of their "
        "range.",
        "Suction temperature of the rating: where the compressor map has the rated capacity.",
    ]
    if efficiency_cop is None and compressor_W is None:
        stated_W = None
        fan_W, fan_notes = supply_fan(net, rated_fan_W, rated_flow_m3_s)
        total = total_W + fan_W
        sensible = sensible_W + fan_W
        condenser_fan_W, condenser_notes = condenser_fan(condenser_fan_W, total)
        notes += [*fan_notes, *condenser_notes]
    else:
        total, sensible, stated_W, fan_W, condenser_fan_W, rating_notes = gross_rating(
            total_W, sensible_W, net, efficiency_cop, compressor_W, rated_flow_m3_s, rated_fan_W,
            condenser_fan_W,
        )  # fmt: skip
        notes += rating_notes
    if not condensing_axis[0] <= condensing_C <= condensing_axis[-1]:
        raise InputError(
            f"the unit's rated condensing temperature of {condensing_C:.1f} C is outside the range "
            "of its compressor map"
        )
    rated_cooling = np.array([np.interp(condensing_C, condensing_axis, row) for row in cooling])
    if not rated_cooling[0] <= total <= rated_cooling[-1]:
        raise InputError(
            f"the compressor map gives {rated_cooling[0] / 1000:.3g} to "
            f"{rated_cooling[-1] / 1000:.3g} kW at {condensing_C:.1f} C condensing, and the rated "
            f"gross total is {total / 1000:.3g} kW; check the number of compressors and the units"
        )
    suction_C = float(np.interp(total, rated_cooling, suction_axis))
    rated_power = float(
        np.interp(
            suction_C,
            suction_axis,
            [np.interp(condensing_C, condensing_axis, row) for row in power],
        )
    )
    if stated_W is not None:
        rated = (suction_C * scale + offset, condensing_C * scale + offset)
        notes.append(_check_rated_power(rated_power, stated_W, *rated, temperature_unit))
    flow = rated_flow_m3_s * STANDARD_AIR_DENSITY
    surface, bypass = rated_coil(total, sensible, flow, temp_in_C, wet_bulb_C, pressure_Pa, fan_W)
    return balance_unit(
        source="compressor map",
        refrigerant=chosen.name,
        suction_axis_C=suction_axis,
        condensing_axis_C=condensing_axis,
        cooling_W=cooling,
        compressor_W=power,
        total_W=total,
        sensible_W=sensible,
        rated_compressor_W=rated_power,
        fan_W=fan_W,
        condenser_fan_W=condenser_fan_W,
        flow_kg_s=flow,
        temp_in_C=temp_in_C,
        wet_bulb_C=wet_bulb_C,
        outdoor_C=outdoor_C,
        suction_C=suction_C,
        condensing_C=condensing_C,
        surface_C=surface,
        bypass=bypass,
        surface_floor_C=surface_floor_C,
        isentropic_efficiency=float("nan"),
        superheat_K=superheat_K,
        subcooling_K=subcooling_K,
        pressure_Pa=pressure_Pa,
        notes=notes,
    )


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


def read_compressor_map(path: Path) -> dict[str, Any]:
    """The keyword arguments of ``unit_from_compressor_map`` that a map file states.

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
    found: dict[str, Any] = {
        "output_coefficients": numbers("output", 10),
        "output_unit": table["output_unit"],
        "power_coefficients": numbers("power", 10),
        "temperature_unit": table["temperature_unit"],
        "suction_range_C": span("suction_range"),
        "condensing_range_C": span("condensing_range"),
        "compressors": int(compressors),
    }
    for key in ("superheat", "subcooling"):
        if key in table:
            degrees = single(key, table[key], "20")
            found[f"map_{key}_K"] = degrees / (1.8 if fahrenheit else 1.0)
    return found
