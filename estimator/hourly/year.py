"""The loop over the hours of the year."""

from __future__ import annotations

from dewledger.dx_unit.types import Plant, UnitMap
from dewledger.hourly.outdoor_air_unit import solve_outdoor_air_unit_hour
from dewledger.hourly.single_zone_unit import solve_hour
from dewledger.hourly.types import Control, Room
from dewledger.weather.numerics.compiled import compiled
from dewledger.weather.numerics.false_position import Bracket, meeting, narrowed
from dewledger.weather.physics.moist_air import FloatArray

_CONDENSATION_STEPS = 60


@compiled
def solve_year(
    unit: UnitMap,
    plant: Plant,
    room: Room,
    control: Control,
    sources: FloatArray,
    drivers: FloatArray,
    warm_up: int,
    out: FloatArray,
) -> None:
    """Solve every hour in turn and write the ledger.

    Parameters
    ----------
    sources : (n, 5) reheat sources in order of use: kind, capacity W, efficiency, auxiliary W,
        1 where it buys gas
    drivers : (hours, len(DRIVERS))
    warm_up : hours run first, from the end of the year, to settle temperature and humidity
    out : (len(ledger.NAMES), hours), written
    """
    hours = drivers.shape[0]
    temp = room.start_temp_C
    mass = room.start_temp_C
    w = room.start_hum_ratio
    surface = 10.0
    condensing = 45.0
    for step in range(-warm_up, hours):
        i = step % hours
        # Water that condenses in a saturated room warms it, and warmer air holds more: the heat it
        # releases is found by false position. All other hours are solved once.
        released = 0.0
        bracket = Bracket(0.0, 0.0, 0.0, 0.0, 0)
        for trial in range(_CONDENSATION_STEPS):
            if control.outdoor_air_unit.used == 1:
                after = solve_outdoor_air_unit_hour(
                    unit, plant, room, control, sources, drivers[i], temp, mass, w, surface,
                    condensing, released, out, i,
                )  # fmt: skip
            else:
                after = solve_hour(
                    unit, plant, room, control, sources, drivers[i], temp, mass, w, surface,
                    condensing, released, out, i,
                )  # fmt: skip
            heat = after[5]
            if abs(released - heat) <= 1e-8 * max(released, 1.0):
                break
            if trial == 0:
                bracket = Bracket(0.0, -heat, heat, heat, -1)
            else:
                bracket = narrowed(bracket, released, released - heat)
            released = meeting(bracket)
        temp, mass, w, surface, condensing, _ = after
