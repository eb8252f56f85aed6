"""A DX unit from a performance table: a CSV file over entering air, outdoor temperature and flow.

Columns (a unit is part of each name, F or C, cfm or L_s, W, kW or kBtu_h):

    entering_wet_bulb_F, entering_dry_bulb_F, outdoor_dry_bulb_F, air_flow_cfm (may be absent),
    total_kBtu_h, sensible_kBtu_h, compressor_power_kW

Every combination of the values found must be there, once. Air flow is standard air. Lines that are
empty or begin with # are passed over.

Source: the table itself; linear between its nodes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from dewledger.dx_unit.calibration import check_condensing
from dewledger.dx_unit.rating import (
    RatingBasis,
    RatingCondition,
    check_flow,
    condenser_fan,
    rated_coil,
    supply_fan,
)
from dewledger.dx_unit.table_lookup import outside_table, table_values
from dewledger.dx_unit.types import TABLE, FloatArray, Unit, UnitMap
from dewledger.weather.errors import InputError
from dewledger.weather.files.case_tables import numbers_of, read_csv_table
from dewledger.weather.physics.moist_air import STANDARD_AIR_DENSITY

# Common practice, no source: condensing temperature above outdoors at the rating.
TYPICAL_APPROACH_K = 25.0 / 1.8

_TEMPERATURE = {"F": (1.0 / 1.8, -32.0 / 1.8), "C": (1.0, 0.0)}
_FLOW = {"cfm": (0.47194745e-3, 0.0), "L_s": (1e-3, 0.0)}
_HEAT = {"W": (1.0, 0.0), "kW": (1000.0, 0.0), "kBtu_h": (293.0710701722222, 0.0)}
_POWER = {"W": (1.0, 0.0), "kW": (1000.0, 0.0)}
_COLUMNS: dict[str, dict[str, tuple[float, float]]] = {
    "entering_wet_bulb": _TEMPERATURE,
    "entering_dry_bulb": _TEMPERATURE,
    "outdoor_dry_bulb": _TEMPERATURE,
    "air_flow": _FLOW,
    "total": _HEAT,
    "sensible": _HEAT,
    "compressor_power": _POWER,
}
_AXES = ("entering_wet_bulb", "entering_dry_bulb", "outdoor_dry_bulb", "air_flow")
_VALUES = ("total", "sensible", "compressor_power")
# A sensible share this close to 1 is that of a dry coil, in a table that is printed rounded.
_DRY_SHARE = 0.999
# No table of a unit has larger numbers, in any of its units.
_LARGEST = 1e9


def _headers(found: list[str], columns: Mapping[str, str], name: str) -> dict[str, tuple[int, str]]:
    """Place and unit of each of our columns in the header line of a table."""
    places: dict[str, tuple[int, str]] = {}
    for column, units in _COLUMNS.items():
        for unit in units:
            own = f"{column}_{unit}"
            header = columns.get(own, own)
            if header in found:
                if column in places:
                    raise InputError(f"{name} states {column} in two units; keep one column")
                places[column] = (found.index(header), unit)
    for column, units in _COLUMNS.items():
        if column not in places and column != "air_flow":
            names = " or ".join(f"{column}_{unit}" for unit in units)
            raise InputError(f"{name} has no column {names} in its header line")
    return places


def read_table(
    path: Path, columns: Mapping[str, str] | None = None
) -> tuple[list[FloatArray], list[FloatArray]]:
    """Axes and values of a performance table in SI.

    ``columns`` gives the file's own header for any of our column names. Returns the four axes (C,
    C, C, m3/s; the flow axis empty where the table has none) and total, sensible and compressor
    power [W] of shape (wet bulb, dry bulb, outdoor, flow).

    Raises
    ------
    InputError : a missing or repeated column or combination, a value out of order
    """
    import pandas as pd

    name = path.name
    table = read_csv_table(path, name, "performance table", comments=True)
    if table.empty:
        raise InputError(f"{name} has no rows; write a header line and one line per point")
    places = _headers(list(table.columns), columns or {}, name)
    points = pd.DataFrame({"air_flow": 0.0}, index=table.index)
    for column, (place, unit) in places.items():
        cells = table.iloc[:, place]
        values, wrong = numbers_of(cells)
        if wrong is not None:
            raise InputError(
                f'{name}, line {cells.index[wrong]}: "{cells.iloc[wrong]}" in {column}_{unit} is '
                "not a number"
            )
        large = np.flatnonzero(np.abs(values) > _LARGEST)
        if large.size:
            raise InputError(
                f'{name}, line {cells.index[large[0]]}: "{cells.iloc[large[0]]}" in '
                f"{column}_{unit} is more than any unit has"
            )
        factor, offset = _COLUMNS[column][unit]
        points[column] = (values * factor + offset).round(9)
    for column in (*_VALUES, "air_flow"):
        if column in places and (points[column] <= 0.0).any():
            line = points.index[points[column] <= 0.0][0]
            raise InputError(f"{name}, line {line}: {column} must be above zero")
    above = points["sensible"] / points["total"] - 1.0
    if (above > 0.02).any():
        line = above.index[above > 0.02][0]
        raise InputError(
            f"{name}, line {line}: the sensible capacity is {100 * above[line]:.0f} % above the "
            "total; it must be part of it"
        )
    twice = points.duplicated([*_AXES])
    if twice.any():
        raise InputError(
            f"{name}, line {points.index[twice][0]}: this combination is there a second time"
        )
    rows = {
        tuple(point[: len(_AXES)]): tuple(point[len(_AXES) :])
        for point in points[[*_AXES, *_VALUES]].itertuples(index=False, name=None)
    }
    axes = [np.array(sorted({key[k] for key in rows})) for k in range(4)]
    if len(axes[0]) < 2:
        raise InputError(f"{name} has one entering wet bulb only; at least two are needed")
    shape = tuple(len(axis) for axis in axes)
    missing = []
    values = np.zeros((3, *shape))
    for index in np.ndindex(*shape):
        key = tuple(float(axis[i]) for axis, i in zip(axes, index, strict=True))
        if key in rows:
            values[(slice(None), *index)] = rows[key]
        else:
            missing.append(_in_words(key, places))
    if missing:
        more = f" and {len(missing) - 3} more" if len(missing) > 3 else ""
        raise InputError(
            f"{name} must have every combination of its values; missing: "
            f"{'; '.join(missing[:3])}{more}"
        )
    if "air_flow" not in places:
        axes[3] = np.zeros(0)
    return axes, list(values)


def _in_words(key: tuple[float, ...], places: Mapping[str, tuple[int, str]]) -> str:
    words = []
    for axis, value in zip(_AXES, key, strict=True):
        if axis in places:
            unit = places[axis][1]
            factor, offset = _COLUMNS[axis][unit]
            words.append(f"{axis} {(value - offset) / factor:.4g} {unit.replace('_', '/')}")
    return ", ".join(words)


def continue_dry_nodes(
    wet_bulb_C: FloatArray, total: FloatArray, sensible: FloatArray
) -> FloatArray:
    """Sensible capacity with the dry nodes continued from wetter ones.

    A node where sensible equals total says only that the coil is dry. The sensible capacity a coil
    at that wet bulb would have if it were wet follows from the two nearest wetter nodes in a
    straight line; it is at least the total. With one wetter node the mean slope of the table
    serves; with none the node stays dry.

    Arrays (nodes,) in [C] and in any one unit of heat [W].
    """
    dry = sensible >= _DRY_SHARE * total
    slopes = np.diff(sensible, axis=0) / np.diff(wet_bulb_C)[:, None, None, None]
    both_wet = ~dry[1:] & ~dry[:-1]
    mean_slope = float(slopes[both_wet].mean()) if both_wet.any() else 0.0
    continued = np.where(dry, total, sensible)
    size = len(wet_bulb_C)
    for column in np.ndindex(*total.shape[1:]):
        wet = [k for k in range(size) if not dry[(k, *column)]]
        for k in range(size):
            above = [j for j in wet if j > k]
            if not dry[(k, *column)] or not above:
                continue
            near = above[0]
            slope = mean_slope
            if len(above) > 1:
                far = above[1]
                slope = (sensible[(far, *column)] - sensible[(near, *column)]) / (
                    wet_bulb_C[far] - wet_bulb_C[near]
                )
            value = sensible[(near, *column)] + slope * (wet_bulb_C[k] - wet_bulb_C[near])
            continued[(k, *column)] = max(value, total[(k, *column)])
    return continued


def unit_from_table(
    path: Path,
    basis: RatingBasis,
    condition: RatingCondition,
    *,
    columns: Mapping[str, str] | None = None,
    condensing_C: float | None = None,
    surface_floor_C: float = 0.0,
) -> Unit:
    """A unit that runs by a performance table, at full displacement only.

    Parameters
    ----------
    basis : what the table's capacities count in; its flow is that of a table without a flow column
    condition : where the bypass factor is found
    columns : the file's own header for any of our column names
    condensing_C : at the rating; outdoors + 25 F where None

    Raises
    ------
    InputError : a table that is not complete or not possible

    Powers in [W], flow in [m3/s] of standard air, temperatures in [C].
    """
    axes, (total, sensible, power) = read_table(path, columns)
    check_flow(basis)
    flows = axes[3] if axes[3].size else np.array([basis.flow_m3_s])
    fan_W, fan_notes = supply_fan(basis)
    # At other flows of the table the same power per flow.
    fans_W = fan_W * flows / basis.flow_m3_s
    unit_map = _table_map(axes, flows, total + fans_W, sensible + fans_W, power, surface_floor_C)
    flow_kg_s = basis.flow_kg_s
    point = (condition.wet_bulb_C, condition.temp_in_C, condition.outdoor_C, flow_kg_s)
    notes = _edges(axes)
    if outside_table(unit_map, *point):
        notes.append("The rating condition lies outside the performance table: its edge is used.")
    rated_total, rated_sensible, rated_power = table_values(unit_map, *point)
    try:
        surface, bypass = rated_coil(rated_total, rated_sensible, flow_kg_s, condition)
    except InputError as error:
        raise InputError(f"{path.name} at the rating condition: {error}") from None
    condenser_fan_W, condenser_notes = condenser_fan(basis.condenser_fan_W, rated_total)
    notes += [*fan_notes, *condenser_notes]
    if condensing_C is None:
        condensing_C = condition.outdoor_C + TYPICAL_APPROACH_K
        notes.append(
            "Condensing temperature at the rating not stated: 25 F (13.9 K) above outdoors taken "
            "(common practice, no source)."
        )
    check_condensing(condensing_C, condition.outdoor_C)
    lift_K = condensing_C - condition.outdoor_C
    return Unit(
        map=unit_map._replace(
            bypass_area_kg_s=-flow_kg_s * math.log(bypass),
            condenser_conductance_W_K=(rated_total + rated_power) / lift_K,
            condenser_fan_W=float(condenser_fan_W),
        ),
        source="performance table",
        refrigerant="",
        rated_total_W=rated_total,
        rated_sensible_W=rated_sensible,
        rated_compressor_W=rated_power,
        rated_fan_W=fan_W,
        rated_flow_kg_s=flow_kg_s,
        rated_temp_in_C=condition.temp_in_C,
        rated_hum_ratio_in=condition.hum_ratio_in,
        rated_wet_bulb_C=condition.wet_bulb_C,
        rated_outdoor_C=condition.outdoor_C,
        rated_suction_C=math.nan,
        rated_condensing_C=condensing_C,
        rated_surface_C=surface,
        rated_bypass=bypass,
        isentropic_efficiency=math.nan,
        superheat_K=math.nan,
        subcooling_K=math.nan,
        notes=tuple(notes),
    )


def _edges(axes: Sequence[FloatArray]) -> list[str]:
    """Notes of what the table does not vary."""
    notes = []
    if axes[3].size == 0:
        notes.append("The performance table has no air flow: it is used at any flow.")
    for axis, what in ((axes[1], "entering dry bulb"), (axes[2], "outdoor dry bulb")):
        if axis.size == 1:
            notes.append(f"The performance table has one {what}: it is used at any other.")
    return notes


def _table_map(
    axes: Sequence[FloatArray],
    flows_m3_s: FloatArray,
    total_W: FloatArray,
    sensible_W: FloatArray,
    power_W: FloatArray,
    surface_floor_C: float,
) -> UnitMap:
    """A map of kind TABLE; what its rating point gives is yet to be laid over it."""
    return UnitMap(
        kind=TABLE,
        suction_first_C=0.0,
        suction_step_K=1.0,
        condensing_first_C=0.0,
        condensing_step_K=1.0,
        cooling_W=np.zeros((2, 2)),
        compressor_W=np.zeros((2, 2)),
        surface_resistance_K_W=0.0,
        bypass_area_kg_s=1.0,
        condenser_conductance_W_K=1.0,
        condenser_fan_W=0.0,
        surface_floor_C=float(surface_floor_C),
        table_wet_bulb_C=axes[0],
        table_dry_bulb_C=axes[1],
        table_outdoor_C=axes[2],
        table_flow_kg_s=flows_m3_s * STANDARD_AIR_DENSITY,
        table_total_W=np.ascontiguousarray(total_W),
        table_sensible_W=np.ascontiguousarray(continue_dry_nodes(axes[0], total_W, sensible_W)),
        table_compressor_W=np.ascontiguousarray(power_W),
    )
