"""The dehumidification call: dry to the limit, as far as capacity and reheat allow.

Floats of one hour in SI: arguments name their unit, or are listed in docs/nomenclature.md; fields
of the NamedTuples have theirs in types.py. Source: the room's balances (room_balance.py).
"""

from __future__ import annotations

import math

from dewledger.dx_unit.types import MODULATING, Plant, UnitMap
from dewledger.hourly.room_balance import (
    attempt,
    fan_runtime,
    needed_sensible,
    outdoor_vapor_rate,
    removal_balance,
    solve_moisture,
    with_heat_and_moisture,
)
from dewledger.hourly.types import (
    DRY,
    DRY_AT_FULL_CAPACITY,
    DRY_BY_NEED,
    RELATIVE_HUMIDITY,
    Attempt,
    Balance,
    Control,
)
from dewledger.weather.numerics.compiled import apart, compiled
from dewledger.weather.numerics.false_position import Bracket, meeting, narrowed
from dewledger.weather.physics.moist_air import hum_ratio_from_rel_hum, saturation_hum_ratio

# Overcooling this small [W] is held to be none.
_HELD_W = 1e-6
# The driest hour that is held is sought to this humidity ratio [kg/kg]; where by halving, first
# this share of the way from the hour that is not, and, where a line has met the other side, this
# share of the way back.
_EDGE = 1e-8
_FIRST = 0.05
_BACK = 0.05
# Where a trial of it is to overcool whatever it cools, the room needs this many times less.
_FAR = 10.0


@compiled
def humidity_limit(control: int, limit: float, temp_C: float, pressure_Pa: float) -> float:
    """The humidity ratio [kg/kg] that the limit allows at a room temperature [C].

    ``limit`` is a relative humidity (fraction) or a dew point [C], as ``control`` says.
    """
    if control == RELATIVE_HUMIDITY:
        return hum_ratio_from_rel_hum(temp_C, limit, pressure_Pa)
    return saturation_hum_ratio(limit, pressure_Pa)


@compiled
def dry_to_limit(
    unit: UnitMap,
    plant: Plant,
    balance: Balance,
    temp_C: float,
    limit_hum_ratio: float,
    ratio_start: float,
    surface_C: float,
    condensing_C: float,
) -> tuple[Attempt, int]:
    """Dry to the limit at a room temperature, or as near to it as full capacity gets.

    Returns the trial and 1 where full capacity did not reach the limit.
    """
    trial = attempt(
        unit, plant, balance, DRY, temp_C, limit_hum_ratio, ratio_start, surface_C, condensing_C
    )
    return or_at_full_capacity(unit, plant, balance, trial)


@compiled
def or_at_full_capacity(
    unit: UnitMap, plant: Plant, balance: Balance, dried: Attempt
) -> tuple[Attempt, int]:
    """The hour as dried, or where its capacity is short of that, as near as full capacity gets.

    Returns the trial and 1 where full capacity did not get there.
    """
    if dried.operation.limited == 0:
        return dried, 0
    trial = solve_moisture(
        unit, plant, balance, DRY_AT_FULL_CAPACITY, dried.temp_C, dried.hum_ratio,
        dried.operation.start_surface_C, dried.operation.condensing_C,
    )  # fmt: skip
    return trial, 1


@compiled
def overcooling_of(plant: Plant, balance: Balance, trial: Attempt) -> float:
    """Sensible cooling [W] beyond what the room needs; negative where the room would warm."""
    operation = trial.operation
    fan = fan_runtime(balance, operation)
    needed = needed_sensible(plant, balance, trial.temp_C, trial.hum_ratio, trial.ratio, fan)
    return operation.sensible_W - needed


@compiled
def beyond_reheat(plant: Plant, balance: Balance, trial: Attempt) -> float:
    """Overcooling [W] beyond what the reheat sources can make up for; negative where
    they can."""
    return overcooling_of(plant, balance, trial) - trial.operation.available_W


@compiled
def water_left(balance: Balance, trial: Attempt) -> float:
    """Humidity ratio [kg/kg] at which a room would end its hour if nothing condensed on its
    surfaces; that of the trial where the room is not saturated."""
    operation = trial.operation
    if trial.hum_ratio < saturation_hum_ratio(trial.temp_C, balance.outdoors.pressure_Pa):
        return trial.hum_ratio
    left = removal_balance(balance, trial.hum_ratio, fan_runtime(balance, operation))
    whole = balance.room.moisture_D + outdoor_vapor_rate(balance)
    return trial.hum_ratio + max(left - operation.removal_kg_s, 0.0) / whole


@compiled
def dry_as_far(
    unit: UnitMap, plant: Plant, balance: Balance, hum_ratio: float, start: Attempt
) -> Attempt:
    """Dry to a humidity ratio [kg/kg], the search begun from another trial at its temperature.

    Beyond saturation it stands for the water that is left to condense on the room's surfaces, as
    ``water_left`` counts it.
    """
    saturated = saturation_hum_ratio(start.temp_C, balance.outdoors.pressure_Pa)
    if hum_ratio > saturated:
        whole = balance.room.moisture_D + outdoor_vapor_rate(balance)
        balance = with_heat_and_moisture(balance, 0.0, -(hum_ratio - saturated) * whole)
        hum_ratio = saturated
    return attempt(
        unit, plant, balance, DRY, start.temp_C, hum_ratio, start.ratio,
        start.operation.start_surface_C, start.operation.condensing_C,
    )  # fmt: skip


@compiled
def driest_held_by_halving(
    unit: UnitMap,
    plant: Plant,
    balance: Balance,
    dried: Attempt,
    sensible_only: Attempt,
) -> Attempt:
    """``driest_held`` where the fan cycles: without a sensible load nothing would run at all.

    The edge is met by secants from the dry side, where what is beyond reheat falls nearly along a
    line, and closed in on from the other; halving where they do not serve.
    """
    dry = dried.hum_ratio
    f_dry = beyond_reheat(plant, balance, dried)
    before = dry
    f_before = f_dry
    held = water_left(balance, sensible_only)
    best = sensible_only
    trial = dried
    back = 0.0
    for step in range(60):
        if held - dry < _EDGE:
            break
        w = 0.5 * (dry + held)
        met = 0
        if step == 0:
            w = dry + _FIRST * (held - dry)
        elif back > 0.0 and held - back > dry:
            w = held - back
        elif back == 0.0 and f_before > f_dry and dry > before:
            line = dry + f_dry * (dry - before) / (f_before - f_dry) + 0.25 * _EDGE
            w = min(line, held - 0.5 * _EDGE)
            met = 1
        trial = dry_as_far(unit, plant, balance, w, trial)
        if overcooling_of(plant, balance, trial) < -_HELD_W:
            # A coil that re-evaporates all its water removes as little by running less: no drying.
            held = w
            before = dry
            back = 0.0
            continue
        f = beyond_reheat(plant, balance, trial)
        if f > _HELD_W:
            before = dry
            f_before = f_dry
            dry = w
            f_dry = f
            back = 0.0
        else:
            held = w
            best = trial
            if met == 1 or back > 0.0:
                back = 4.0 * back if back > 0.0 else max(_BACK * (w - dry), 0.5 * _EDGE)
    return best


@compiled
@apart
def driest_held(
    unit: UnitMap,
    plant: Plant,
    balance: Balance,
    dried: Attempt,
    sensible_only: Attempt,
) -> Attempt:
    """The driest hour whose temperature reheat holds, of those that two modes or a thermostat call
    share.

    From some humidity ratio up nothing is left over, so that there is an edge and no root. There is
    one for a unit that only dries, as if the room asked for no cooling: beyond reheat as before on
    the dry side, and less than the room needs on the other. It is met by false position.
    """
    if balance.fan.cycles == 1:
        return driest_held_by_halving(unit, plant, balance, dried, sensible_only)
    operation = dried.operation
    over = overcooling_of(plant, balance, dried)
    needed = operation.sensible_W - over
    less = needed + _FAR * (abs(operation.sensible_W) + abs(operation.available_W))
    unneeded = with_heat_and_moisture(balance, -less, 0.0)
    low = dried.hum_ratio
    f_low = operation.available_W - over
    high = water_left(balance, sensible_only)
    trial = dry_as_far(unit, plant, unneeded, high, dried)
    f_high = -beyond_reheat(plant, balance, trial)
    near = -_EDGE * f_low / (high - low) if high > low else math.inf
    if f_high <= near:
        return sensible_only
    edge = high
    bracket = Bracket(low, f_low, high, f_high, 0)
    for _ in range(40):
        edge = meeting(bracket)
        trial = dry_as_far(unit, plant, unneeded, edge, trial)
        f = -beyond_reheat(plant, balance, trial)
        bracket = narrowed(bracket, edge, f)
        if abs(f) < 0.1 * near or bracket.high - bracket.low < _EDGE:
            break
    # A hair to the other side nothing is left over; dried by no more than a hair, it is not dried.
    further = 0.25 * _EDGE
    while edge + further < high - _EDGE:
        trial = dry_as_far(unit, plant, balance, edge + further, trial)
        over = overcooling_of(plant, balance, trial)
        # A coil that re-evaporates all its water removes as little by running less: no drying.
        if over >= -_HELD_W and over - trial.operation.available_W <= _HELD_W:
            return trial
        further *= 4.0
    return sensible_only


@compiled
@apart
def limit_dehumidification(
    unit: UnitMap,
    plant: Plant,
    balance: Balance,
    dried: Attempt,
    sensible_only: Attempt,
) -> Attempt:
    """Dry only as far as the reheat sources can hold the temperature.

    False position on the room's humidity ratio between the dried and the sensible_only hour; where
    there is no reheat to make up for anything, from some humidity ratio up nothing is overcooled.
    """
    if plant.arrangement != MODULATING or dried.operation.available_W <= _HELD_W:
        return driest_held(unit, plant, balance, dried, sensible_only)
    low = dried.hum_ratio
    high = water_left(balance, sensible_only)
    f_low = beyond_reheat(plant, balance, dried)
    trial = dry_as_far(unit, plant, balance, high, dried)
    f_high = 0.0
    if overcooling_of(plant, balance, trial) > -_HELD_W:
        f_high = min(beyond_reheat(plant, balance, trial), 0.0)
    best = sensible_only
    side = 0
    for _ in range(60):
        if f_high < 0.0:
            w = (low * f_high - high * f_low) / (f_high - f_low)
        else:
            # Nothing is recovered without the compressor: halve toward the hour without drying.
            w = 0.5 * (low + high)
            if high - low < 1e-6:
                break
        trial = dry_as_far(unit, plant, balance, w, trial)
        f = beyond_reheat(plant, balance, trial)
        if overcooling_of(plant, balance, trial) < -_HELD_W:
            # A coil that re-evaporates all its water removes as little by running less: no drying.
            high = w
            f_high = 0.0
            side = 0
            continue
        if f > _HELD_W:
            low = w
            f_low = f
            if side == 1:
                f_high *= 0.5
            side = 1
        else:
            high = w
            f_high = f
            best = trial
            if side == -1:
                f_low *= 0.5
            side = -1
        if abs(f) < _HELD_W:
            best = trial
            break
        if high - low < 1e-12:
            break
    return best


@compiled
@apart
def let_room_cool(
    unit: UnitMap,
    plant: Plant,
    balance: Balance,
    control: Control,
    limit: float,
    low_limit_C: float,
    dried: Attempt,
    sensible_only: Attempt,
) -> tuple[Attempt, int]:
    """Humidity first: let the room cool, no further than its low limit, so that drying goes on."""
    pressure = balance.outdoors.pressure_Pa
    low = low_limit_C
    high = dried.temp_C
    f_high = beyond_reheat(plant, balance, dried)
    w_limit = humidity_limit(control.humidity_control, limit, low, pressure)
    trial, full = dry_to_limit(
        unit, plant, balance, low, w_limit, dried.ratio, dried.operation.start_surface_C,
        dried.operation.condensing_C,
    )  # fmt: skip
    f_low = beyond_reheat(plant, balance, trial)
    if f_low > 1e-6:
        at_low = solve_moisture(
            unit, plant, balance, DRY_BY_NEED, low, sensible_only.hum_ratio,
            trial.operation.start_surface_C, trial.operation.condensing_C,
        )  # fmt: skip
        # Reheat is what ends the drying here, not capacity.
        return limit_dehumidification(unit, plant, balance, trial, at_low), 0
    best = trial
    bracket = Bracket(low, f_low, high, f_high, 0)
    for _ in range(60):
        temp = meeting(bracket)
        w_limit = humidity_limit(
            control.humidity_control, limit, temp, balance.outdoors.pressure_Pa
        )
        trial, full_now = dry_to_limit(
            unit, plant, balance, temp, w_limit, trial.ratio, trial.operation.start_surface_C,
            trial.operation.condensing_C,
        )  # fmt: skip
        f = beyond_reheat(plant, balance, trial)
        bracket = narrowed(bracket, temp, f)
        done = abs(f) < 1e-6 or bracket.high - bracket.low < 1e-10
        if f <= 0.0 or done:
            best = trial
            full = full_now
        if done:
            break
    return best, full
