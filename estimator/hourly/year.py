"""The loop over the hours of the year.

Floats of one hour in SI: arguments name their unit, or are listed in docs/nomenclature.md; fields
of the NamedTuples have theirs in types.py. Source: the room's balances (room_balance.py).
"""

from __future__ import annotations

import math

import numpy as np

from dewledger.dx_unit.condenser import start_after
from dewledger.dx_unit.types import NO_START, Plant, Start, UnitMap
from dewledger.hourly.ledger import BLOCK_HOURS, SHORT_NAMES
from dewledger.hourly.ledger_row import (
    state_at,
    write_air,
    write_coil,
    write_reheat,
    write_room,
    write_room_units,
    write_totals,
    write_unit,
)
from dewledger.hourly.outdoor_air_unit import solve_outdoor_air_unit_hour
from dewledger.hourly.room_balance import leakage, room_after
from dewledger.hourly.single_zone_unit import solve_hour
from dewledger.hourly.types import SECONDS, Control, Hour, HourResult, RoomResponse, State
from dewledger.hourly.unit_alone import ANSWERED, run_unit
from dewledger.weather.numerics.compiled import compiled, program, within_callers
from dewledger.weather.numerics.false_position import Bracket, crossing, meeting, narrowed
from dewledger.weather.physics.moist_air import (
    FloatArray,
    saturation_hum_ratio,
    vapor_enthalpy,
)

_CONDENSATION_STEPS = 14
_SECANT_STEPS = 6
# By how much what is released less what condenses grows with what is released.
_LIKELY_SLOPE = 4.0
# Heat of condensation that may be left over, as a share of what the coil takes.
_CLOSE_HEAT = 1e-8
# Beyond these room temperatures [C] no building is meant: the year ends there, and with it searches
# far from anything they were made for. What runs a case says so already at -40 and 60 C.
_COLDEST_C = -60.0
_HOTTEST_C = 80.0
# What the program of the ledger writes of a year: what a trial of a coil looks at; the ledger but
# for its recovery penalty, which takes a second solution; all of it; of a trial, the hours that a
# smaller coil changes.
COIL, WITHOUT_PENALTY, WHOLE, SMALLER_COIL = 0, 1, 2, 3
# What the same program does instead of a year.
UNIT_ALONE = 4
# A room this close to another is as that one, and a coil this far below its size does not bind.
_SAME_K = 1e-7
_SAME_HUM_RATIO = 1e-11
_CLEAR = 1.0 - 1e-6
_NOTICE = "Compiling the hourly solution for this kind of unit: some ten seconds, once."
# Where the first hour's search of the unit starts.
_START = Start(10.0, 20.0)


@compiled
def hour_at(drivers: FloatArray, i: int) -> Hour:
    """A row of the drivers by its names, in their order."""
    return Hour(
        drivers[i, 0], drivers[i, 1], drivers[i, 2], drivers[i, 3], drivers[i, 4], drivers[i, 5],
        drivers[i, 6], drivers[i, 7], drivers[i, 8], drivers[i, 9], drivers[i, 10], drivers[i, 11],
        drivers[i, 12], drivers[i, 13], drivers[i, 14], drivers[i, 15],
    )  # fmt: skip


@compiled
def room_left(room: RoomResponse, hour: Hour, result: HourResult) -> float:
    """Heat [W] that would condense with the water by which a room stays below saturation."""
    saturated = saturation_hum_ratio(result.temp_C, hour.pressure_Pa)
    moved = room.moisture_store_kg / SECONDS + leakage(room, hour) + result.air.outdoor_air_kg_s
    return max(saturated - result.hum_ratio, 0.0) * moved * vapor_enthalpy(result.temp_C)


@compiled
def state_after(
    unit: UnitMap,
    room: RoomResponse,
    hour: Hour,
    before: State,
    result: HourResult,
    released_W: float,
) -> State:
    """What the hour leaves to the next; ``released_W`` is the heat of condensation it had."""
    mass, _, _ = room_after(room, hour, before, result.temp_C)
    dried = NO_START
    if result.call == 1:
        dried = start_after(unit, hour.outdoor_temp_C, result.operation, before.dried)
    return State(
        result.temp_C, mass, result.hum_ratio, result.cooled, dried, result.without_recovery,
        released_W,
    )  # fmt: skip


@compiled
def bounds_from(released_W: float, condensed_W: float, beyond_W: float) -> Bracket:
    """Bounds of the heat of condensation [W] after a first trial at ``released_W``.

    The more heat is released, the less condenses: what did condense, or else the trial, is the
    upper bound. Of the other one nothing is known but its side: it lies on a likely slope.
    """
    if beyond_W < 0.0:
        above = condensed_W - released_W
        return Bracket(released_W, beyond_W, condensed_W, (_LIKELY_SLOPE - 1.0) * above, 0)
    below = min(beyond_W - _LIKELY_SLOPE * released_W, -beyond_W)
    return Bracket(0.0, below, released_W, beyond_W, 0)


@compiled
@within_callers
def solve_any_hour(
    unit: UnitMap,
    plant: Plant,
    room: RoomResponse,
    control: Control,
    sources: FloatArray,
    hour: Hour,
    before: State,
    with_penalty: int,
) -> tuple[HourResult, float]:
    """An hour of either kind of unit; returns it with the heat of condensation it was solved with.

    Water that condenses in a saturated room warms it, and warmer air holds more: the heat it
    releases is found by false position. All other hours are solved once.

    The heat in [W].
    """
    released = before.released_W
    bracket = Bracket(0.0, 0.0, released, 0.0, 0)
    trial = 0
    begun = before
    released_before = 0.0
    beyond_before = 0.0
    dry = False  # whether the hour without condensation was tried
    while True:
        if control.outdoor_air_unit.used == 1:
            result = solve_outdoor_air_unit_hour(
                unit, plant, room, control, sources, hour, begun, released, with_penalty
            )
        else:
            result = solve_hour(
                unit, plant, room, control, sources, hour, begun, released, with_penalty
            )
        heat = result.condensed_W
        close = _CLOSE_HEAT * max(released, result.operation.total_W, 1.0)
        if abs(released - heat) <= close or trial == _CONDENSATION_STEPS - 1:
            return result, released
        # Where nothing condenses, what the room could still hold says how far it is beyond.
        beyond = released - heat
        if heat <= 0.0:
            beyond += room_left(room, hour, result)
        line = crossing(released_before, beyond_before, released, beyond)
        if trial == 0:
            bracket = bounds_from(released, heat, beyond)
        else:
            bracket = narrowed(bracket, released, beyond)
        dry = dry or released == 0.0
        released_before = released
        beyond_before = beyond
        if heat <= 0.0 and bracket.low <= 0.0 and not dry:
            released = 0.0
        elif 0 < trial < _SECANT_STEPS and bracket.low < line < bracket.high:
            released = line
        else:
            released = meeting(bracket)
        trial += 1
        # The unit's searches begin where this trial ended.
        after = state_after(unit, room, hour, before, result, released)
        begun = State(
            before.temp_C, before.mass_C, before.hum_ratio, after.cooled, after.dried,
            after.without_recovery, released,
        )  # fmt: skip


@compiled
def start_of(room: RoomResponse) -> State:
    """The room before the first hour."""
    return State(
        room.start_temp_C,
        room.start_temp_C,
        room.start_hum_ratio,
        _START,
        NO_START,
        NO_START,
        0.0,
    )


@compiled
def put_away(block: FloatArray, row: int, hour: int, count: int, out: FloatArray) -> None:
    """Rows of a block, from ``row`` on, into the columns of the ledger from ``hour`` on."""
    source = block[row : row + count]
    target = out[:, hour : hour + count]
    for column in range(target.shape[0]):
        for i in range(target.shape[1]):
            target[column, i] = source[i, column]


@compiled
def leave_empty(out: FloatArray, hour: int) -> None:
    """The ledger from an hour on: not solved."""
    for column in range(out.shape[0]):
        for i in range(hour, out.shape[1]):
            out[column, i] = math.nan


@compiled
def same_room(one: State, other: State) -> bool:
    """Whether two hours leave the room alike."""
    return (
        abs(one.temp_C - other.temp_C) < _SAME_K
        and abs(one.mass_C - other.mass_C) < _SAME_K
        and abs(one.hum_ratio - other.hum_ratio) < _SAME_HUM_RATIO
    )


@compiled
def coil_serves(plant: Plant, ledger: FloatArray, i: int) -> bool:
    """Whether a coil's own capacity lets it give all that a larger one gave in an hour.

    ledger : of the larger coil, (``COIL_NAMES``, hours); heat in [kWh]
    """
    given_W: float = 1000.0 * ledger[0, i]
    runtime: float = ledger[2, i]
    return given_W <= _CLEAR * plant.recovery_capacity_W * runtime


@program(_NOTICE)
def solve_rows(
    unit: UnitMap,
    plant: Plant,
    room: RoomResponse,
    control: Control,
    sources: FloatArray,
    drivers: FloatArray,
    warm_up: int,
    extent: int,
    block: FloatArray,
    out: FloatArray,
) -> None:
    """Solve every hour in turn and write the ledger; parameters as of ``solve_year``.

    extent : COIL, WITHOUT_PENALTY, WHOLE or SMALLER_COIL. One program serves them all: each further
        one would take its time to compile
    block : (hours, columns of ``out``), room for some hours' rows

    With UNIT_ALONE for an extent it is ``run_unit``, of conditions for drivers.
    """
    if extent == UNIT_ALONE:
        run_unit(unit, plant, drivers, out)
        return
    hours = drivers.shape[0]
    size = block.shape[0]
    before = start_of(room)
    alike = False  # whether the hour before left the room as with the larger coil
    for step in range(-warm_up, hours):
        i = step % hours
        if alike and coil_serves(plant, out, i):
            before = state_at(out, i)
            continue
        larger = state_at(out, i) if extent == SMALLER_COIL else before
        hour = hour_at(drivers, i)
        wanted = 1 if step >= 0 else 0
        penalty = 1 if wanted == 1 and extent == WHOLE else 0
        result, released = solve_any_hour(
            unit, plant, room, control, sources, hour, before, penalty
        )
        sound = result.temp_C > _COLDEST_C and result.temp_C < _HOTTEST_C
        after = state_after(unit, room, hour, before, result, released)
        if wanted == 1 or not sound:
            row = i % size
            if extent in (COIL, SMALLER_COIL):
                write_coil(block, row, result, after)
            else:
                write_air(block, row, hour, result)
                write_unit(block, row, unit, plant, hour, result)
                write_reheat(block, row, result)
                write_room_units(block, row, control, result)
                write_room(block, row, room, hour, before, result, released)
            if not sound:
                leave_empty(out, i + 1 if wanted == 1 else 0)
            if wanted == 0 or extent == SMALLER_COIL:
                put_away(block, row, i, 1, out)
            elif row == size - 1 or i == hours - 1 or not sound:
                put_away(block, 0, i - row, row + 1, out)
        if not sound:
            return
        alike = extent == SMALLER_COIL and wanted == 1 and same_room(after, larger)
        before = larger if alike else after


@program(_NOTICE)
def solve_short_rows(
    unit: UnitMap,
    plant: Plant,
    room: RoomResponse,
    control: Control,
    sources: FloatArray,
    drivers: FloatArray,
    warm_up: int,
    block: FloatArray,
    out: FloatArray,
) -> None:
    """Solve every hour in turn and write the short ledger; parameters as of ``solve_totals``.

    block : (hours, len(ledger.SHORT_NAMES)), room for some hours' rows
    """
    hours = drivers.shape[0]
    size = block.shape[0]
    before = start_of(room)
    no_penalty = 0
    for step in range(-warm_up, hours):
        i = step % hours
        hour = hour_at(drivers, i)
        result, released = solve_any_hour(
            unit, plant, room, control, sources, hour, before, no_penalty
        )
        sound = result.temp_C > _COLDEST_C and result.temp_C < _HOTTEST_C
        if step >= 0:
            row = i % size
            write_totals(block, row, plant, control, hour, result)
            if row == size - 1 or i == hours - 1 or not sound:
                put_away(block, 0, i - row, row + 1, out)
        if not sound:
            leave_empty(out, i + 1 if step >= 0 else 0)
            return
        before = state_after(unit, room, hour, before, result, released)


def solve_year(
    unit: UnitMap,
    plant: Plant,
    room: RoomResponse,
    control: Control,
    sources: FloatArray,
    drivers: FloatArray,
    warm_up: int,
    out: FloatArray,
    extent: int = WHOLE,
) -> None:
    """Solve every hour in turn and write the ledger.

    Parameters
    ----------
    sources : (n, 5) reheat sources in order of use, the columns of ``ReheatSource``
    drivers : (hours, len(DRIVERS))
    warm_up : hours run first, from the end of the year, to settle temperature and humidity
    out : (len(ledger.NAMES), hours) of ``ledger.empty_ledger``, written; a room that leaves all
        that a building can be ends the year, and the hours after it stay empty (NaN)
    extent : what is written, WHOLE or WITHOUT_PENALTY; of COIL and SMALLER_COIL ``out`` is
        of ``ledger.COIL_NAMES``, and of SMALLER_COIL it comes with the year of a larger coil, the
        rest alike
    """
    block = np.empty((BLOCK_HOURS, out.shape[0]))
    solve_rows(unit, plant, room, control, sources, drivers, warm_up, extent, block, out)


def solve_totals(
    unit: UnitMap,
    plant: Plant,
    room: RoomResponse,
    control: Control,
    sources: FloatArray,
    drivers: FloatArray,
    warm_up: int,
    out: FloatArray,
) -> None:
    """Solve every hour in turn and write the short ledger: sweeps and draws need no more.

    The recovery penalty, which takes a second solution, and the closures are left out; parameters
    as of ``solve_year``.

    out : (len(ledger.SHORT_NAMES), hours) of ``ledger.empty_ledger``, written
    """
    block = np.empty((BLOCK_HOURS, len(SHORT_NAMES)))
    solve_short_rows(unit, plant, room, control, sources, drivers, warm_up, block, out)


def operate_alone(
    unit: UnitMap,
    plant: Plant,
    room: RoomResponse,
    control: Control,
    sources: FloatArray,
    asked: FloatArray,
) -> FloatArray:
    """A unit at stated conditions; (``unit_alone.ANSWERED``, conditions), in [W], [C], [kg/s].

    Parameters
    ----------
    room, control, sources : of its machine; they have no part here
    asked : (conditions, ``unit_alone.ASKED``), in the units of these names
    """
    out = np.empty((len(ANSWERED), len(asked)))
    solve_rows(unit, plant, room, control, sources, asked, 0, UNIT_ALONE, np.empty((0, 0)), out)
    return out
