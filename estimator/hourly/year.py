"""The loop over the hours of the year."""

from __future__ import annotations

from dewledger.dx_unit.types import Plant, UnitMap
from dewledger.hourly.ledger_row import (
    write_air,
    write_reheat,
    write_room,
    write_room_units,
    write_unit,
)
from dewledger.hourly.outdoor_air_unit import solve_outdoor_air_unit_hour
from dewledger.hourly.room_balance import room_after
from dewledger.hourly.single_zone_unit import solve_hour
from dewledger.hourly.types import Control, Hour, HourResult, RoomResponse, State
from dewledger.weather.numerics.compiled import compiled
from dewledger.weather.numerics.false_position import Bracket, meeting, narrowed
from dewledger.weather.physics.moist_air import FloatArray

_CONDENSATION_STEPS = 60
# Where the first hour's search of the unit starts.
_START_SURFACE_C = 10.0
_START_CONDENSING_C = 45.0


@compiled
def hour_at(drivers: FloatArray, i: int) -> Hour:
    """A row of the drivers by its names, in their order."""
    return Hour(
        drivers[i, 0], drivers[i, 1], drivers[i, 2], drivers[i, 3], drivers[i, 4], drivers[i, 5],
        drivers[i, 6], drivers[i, 7], drivers[i, 8], drivers[i, 9], drivers[i, 10], drivers[i, 11],
        drivers[i, 12], drivers[i, 13], drivers[i, 14], drivers[i, 15],
    )  # fmt: skip


@compiled
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
    """
    released = 0.0
    bracket = Bracket(0.0, 0.0, 0.0, 0.0, 0)
    trial = 0
    while True:
        if control.outdoor_air_unit.used == 1:
            result = solve_outdoor_air_unit_hour(
                unit, plant, room, control, sources, hour, before, released, with_penalty
            )
        else:
            result = solve_hour(
                unit, plant, room, control, sources, hour, before, released, with_penalty
            )
        heat = result.condensed_W
        if abs(released - heat) <= 1e-8 * max(released, 1.0) or trial == _CONDENSATION_STEPS - 1:
            return result, released
        if trial == 0:
            bracket = Bracket(0.0, -heat, heat, heat, -1)
        else:
            bracket = narrowed(bracket, released, released - heat)
        released = meeting(bracket)
        trial += 1


@compiled
def state_after(room: RoomResponse, hour: Hour, before: State, result: HourResult) -> State:
    """What the hour leaves to the next."""
    mass, _, _ = room_after(room, hour, before, result.temp_C)
    return State(
        result.temp_C,
        mass,
        result.hum_ratio,
        result.operation.surface_C,
        result.operation.condensing_C,
    )


@compiled
def start_of(room: RoomResponse) -> State:
    """The room before the first hour."""
    return State(
        room.start_temp_C,
        room.start_temp_C,
        room.start_hum_ratio,
        _START_SURFACE_C,
        _START_CONDENSING_C,
    )


@compiled
def solve_year(
    unit: UnitMap,
    plant: Plant,
    room: RoomResponse,
    control: Control,
    sources: FloatArray,
    drivers: FloatArray,
    warm_up: int,
    out: FloatArray,
) -> None:
    """Solve every hour in turn and write the ledger.

    Parameters
    ----------
    sources : (n, 5) reheat sources in order of use, the columns of ``ReheatSource``
    drivers : (hours, len(DRIVERS))
    warm_up : hours run first, from the end of the year, to settle temperature and humidity
    out : (len(ledger.NAMES), hours) of ``ledger.empty_ledger``, written
    """
    hours = drivers.shape[0]
    before = start_of(room)
    for step in range(-warm_up, hours):
        i = step % hours
        hour = hour_at(drivers, i)
        wanted = 1 if step >= 0 else 0
        result, released = solve_any_hour(unit, plant, room, control, sources, hour, before, wanted)
        if wanted == 1:
            write_air(out, i, hour, result)
            write_unit(out, i, unit, plant, hour, result)
            write_reheat(out, i, result)
            write_room_units(out, i, control, result)
            write_room(out, i, room, hour, before, result, released)
        before = state_after(room, hour, before, result)
