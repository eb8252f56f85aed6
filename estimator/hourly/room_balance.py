"""The room's heat and moisture balances of an hour, and the unit's operation that meets them.

Room temperature and humidity are taken at the end of the hour (backward Euler), so that what flows
in the hour and what is stored in it add up exactly.

Room heat:      K T = B + ventilation + fan - sensible cooling + reheat + heating
Room moisture:  D W = E + outdoor air m (Wo - W) - condensate

Floats of one hour in SI: arguments name their unit, or are listed in docs/nomenclature.md; fields
of the NamedTuples have theirs in types.py. Source: the balances above; ISO 13790:2008 annex C for
the room's network.
"""

from __future__ import annotations

import math

from dewledger.components.air_processes import heated, mix
from dewledger.components.envelope import air_coefficients, network_after
from dewledger.dx_unit.condenser import CLOSE_K
from dewledger.dx_unit.operate import operate
from dewledger.dx_unit.part_load import with_depression
from dewledger.dx_unit.types import (
    FULL_CAPACITY,
    MODULATING,
    AirIn,
    Operation,
    Plant,
    Task,
    UnitMap,
)
from dewledger.hourly.types import (
    AT_FULL_CAPACITY,
    ONE_LOOK_AT_FULL_CAPACITY,
    ROUGH_IN_SATURATED,
    SECONDS,
    Aim,
    Attempt,
    Balance,
    Hour,
    RoomResponse,
    RoomTerms,
    State,
)
from dewledger.weather.numerics.compiled import apart, compiled, within_callers
from dewledger.weather.numerics.false_position import Bracket, meeting, narrowed
from dewledger.weather.physics.moist_air import heat_capacity, saturation_hum_ratio, vapor_enthalpy

# Of cp(supply) / cp(mixed): alike.
SAME_RATIO = 1e-11
# At full capacity in a saturated room, heat that may be left over, as a share of the sensible.
_CLOSE_HEAT = 1e-9


@compiled
def leakage(room: RoomResponse, hour: Hour) -> float:
    """Outdoor air [kg/s] that comes in past the unit: leaks, and what exhaust draws in."""
    return room.infiltration_kg_s * hour.infiltration_share + hour.make_up_kg_s


@compiled
def room_terms(room: RoomResponse, hour: Hour, before: State, released_W: float) -> RoomTerms:
    """The room's balances without its unit, for the temperature and humidity at the hour's end.

    Heat store by backward Euler, or the network of ISO 13790:2008 annex C; ``released_W`` is the
    heat of water that condenses on the room's surfaces.
    """
    outdoor = hour.outdoor_temp_C
    if room.network.used == 1:
        heat_K, heat_B = air_coefficients(
            room.network, before.mass_C, outdoor, hour.gains_sensible_W, hour.solar_W
        )
    else:
        store = room.heat_store_J_K / SECONDS
        heat_K = store + room.conductance_W_K
        heat_B = (
            store * before.temp_C
            + room.conductance_W_K * outdoor
            + hour.gains_sensible_W
            + hour.solar_W
        )
    air = leakage(room, hour)
    leak = air * heat_capacity(hour.outdoor_hum_ratio_kg_kg)
    w_store = room.moisture_store_kg / SECONDS
    return RoomTerms(
        heat_B + leak * outdoor + released_W,
        heat_K + leak,
        w_store * before.hum_ratio + air * hour.outdoor_hum_ratio_kg_kg + hour.gains_moisture_kg_s,
        w_store + air,
    )


@compiled
def room_after(
    room: RoomResponse, hour: Hour, before: State, temp_C: float
) -> tuple[float, float, float]:
    """The hour at the room temperature of its end.

    Returns the temperature of the room's mass [C], the heat stored, and the heat into the room
    through envelope and leakage [W].
    """
    outdoor = hour.outdoor_temp_C
    if room.network.used == 1:
        mass, _, _, shell = network_after(
            room.network, before.mass_C, outdoor, hour.gains_sensible_W, hour.solar_W, temp_C
        )
        stored = room.network.mass_J_K / SECONDS * (mass - before.mass_C)
    else:
        mass = temp_C
        stored = room.heat_store_J_K / SECONDS * (temp_C - before.temp_C)
        shell = room.conductance_W_K * (outdoor - temp_C)
    leak = leakage(room, hour) * heat_capacity(hour.outdoor_hum_ratio_kg_kg)
    return mass, stored, shell + leak * (outdoor - temp_C)


@compiled
def idle(condensing_C: float, surface_C: float) -> Operation:
    """An hour without the compressor."""
    return Operation(
        0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, condensing_C, surface_C, math.nan, math.nan,
        math.nan, 0.0, 0.0, 0.0, 0.0, 0.0, 0, 0, 0.0, surface_C, 0,
    )  # fmt: skip


@compiled
def next_condensing(operation: Operation) -> float:
    """Where to take the condensing temperature after an evaluation: a hotter condenser rejects a
    little less, so that the gap closes by a little more than the step. In [C].
    """
    return operation.condensing_C + 0.96 * operation.gap_K


@compiled
def outdoor_hum_ratio_in(balance: Balance, hum_ratio: float) -> float:
    """Humidity ratio of the outdoor air after the recovery device. In [kg/kg]."""
    return balance.outdoors.hum_ratio + balance.ventilation.latent * (
        hum_ratio - balance.outdoors.hum_ratio
    )


@compiled
def outdoor_rate(balance: Balance, hum_ratio: float) -> float:
    """Heat [W/K] that outdoor air brings per kelvin between outdoors and room, while it flows."""
    return (
        balance.ventilation.flow_kg_s
        * (1.0 - balance.ventilation.sensible)
        * heat_capacity(outdoor_hum_ratio_in(balance, hum_ratio))
    )


@compiled
def outdoor_vapor_rate(balance: Balance) -> float:
    """Vapor [kg/s] that outdoor air brings per difference of humidity ratio, while it flows."""
    return balance.ventilation.flow_kg_s * (1.0 - balance.ventilation.latent)


@compiled
def air_entering(plant: Plant, balance: Balance, temp_C: float, hum_ratio: float) -> AirIn:
    """Air entering the coil while the fan runs: return air mixed adiabatically with outdoor air,
    which has passed the recovery device. Its wet-bulb depression is left open."""
    share = balance.ventilation.flow_kg_s / balance.fan.flow_kg_s
    outdoor_C = balance.outdoors.temp_C + balance.ventilation.sensible * (
        temp_C - balance.outdoors.temp_C
    )
    temp, w = mix(share, outdoor_C, outdoor_hum_ratio_in(balance, hum_ratio), temp_C, hum_ratio)
    if plant.blow_through == 1:
        temp = heated(temp, w, balance.fan.power_W / balance.fan.flow_kg_s)
    return AirIn(
        temp,
        w,
        balance.outdoors.pressure_Pa,
        balance.outdoors.temp_C,
        balance.fan.flow_kg_s,
        math.nan,
    )


@compiled
def fan_and_ventilation(
    plant: Plant, balance: Balance, temp_C: float, hum_ratio: float, ratio: float
) -> float:
    """Sensible heat [W] that fan and outdoor air bring to the room per unit of fan runtime.

    ``ratio`` is cp(supply) / cp(mixed): outdoor air's sensible heat reaches the room with the
    moisture content of the supply air.
    """
    fan = balance.fan.power_W * (ratio if plant.blow_through == 1 else 1.0)
    return fan + outdoor_rate(balance, hum_ratio) * (balance.outdoors.temp_C - temp_C) * ratio


@compiled
def needed_sensible(
    plant: Plant, balance: Balance, temp_C: float, hum_ratio: float, ratio: float, fan: float
) -> float:
    """Sensible cooling [W] that keeps the room at a temperature, heating of the hour included:
    B - K T + heating + fan (fan heat + outdoor air)."""
    return (
        balance.room.heat_B
        - balance.room.heat_K * temp_C
        + balance.heating_W
        + fan * fan_and_ventilation(plant, balance, temp_C, hum_ratio, ratio)
    )


@compiled
def removal_balance(balance: Balance, hum_ratio: float, fan: float) -> float:
    """Moisture [kg/s] the coil must remove for the room to end the hour at a humidity ratio:
    E - D W + fan m (Wo - W)."""
    return (
        balance.room.moisture_E
        - balance.room.moisture_D * hum_ratio
        + fan * outdoor_vapor_rate(balance) * (balance.outdoors.hum_ratio - hum_ratio)
    )


@compiled
def with_heat_and_moisture(balance: Balance, heat_W: float, moisture_kg_s: float) -> Balance:
    """The balance with heat and moisture added to the room."""
    room = balance.room
    return Balance(
        balance.outdoors,
        RoomTerms(
            room.heat_B + heat_W, room.heat_K, room.moisture_E + moisture_kg_s, room.moisture_D
        ),
        balance.ventilation,
        balance.fan,
        balance.heating_W,
    )


@compiled
def fan_runtime(balance: Balance, operation: Operation) -> float:
    """Share of the hour the supply fan runs, 0 to 1. A share [1]."""
    if balance.fan.cycles == 1:
        return balance.fan.base + operation.runtime
    return balance.fan.base


@compiled
def capacity_ratio(air: AirIn, removal_kg_s: float, fan: float) -> float:
    """cp(supply) / cp(mixed) for a removal [kg/s] spread over the fan's runtime; heat capacities of
    moist air, ASHRAE Fundamentals 2017 ch. 1 eq. 30."""
    if fan <= 0.0:
        return 1.0
    return heat_capacity(air.hum_ratio - removal_kg_s / (fan * air.flow_kg_s)) / heat_capacity(
        air.hum_ratio
    )


@compiled
def condensed_on_surfaces(
    temp_C: float, hum_ratio: float, vapor_kg_s: float, pressure_Pa: float
) -> tuple[float, float]:
    """Water [kg/s] that condenses on a room's surfaces, and its heat [W].

    Where an hour would end above saturation, the water beyond it condenses there.
    ``vapor_kg_s`` is what a unit of humidity ratio at the hour's end moves in the water balance.
    """
    saturated = saturation_hum_ratio(temp_C, pressure_Pa)
    beyond = hum_ratio - saturated
    if beyond <= 0.0 or saturated <= 0.0:  # from the boiling point on nothing condenses
        return 0.0, 0.0
    return beyond * vapor_kg_s, beyond * vapor_kg_s * vapor_enthalpy(temp_C)


@compiled
@within_callers
def attempt(
    unit: UnitMap,
    plant: Plant,
    balance: Balance,
    aim: Aim,
    temp_C: float,
    hum_ratio: float,
    ratio_start: float,
    surface_C: float,
    condensing_C: float,
) -> Attempt:
    """Run the unit with the room held at a trial temperature and humidity ratio.

    The unit is asked for the sensible heat [W] and the moisture [kg/s] that close the room's two
    balances there. With a cycling fan both depend on the runtime, and in a saturated room on what
    condenses there, which substitution finds; a rough aim leaves that to the next trial too.

    Parameters
    ----------
    aim : what is asked of the unit
    temp_C, hum_ratio : the room, [C] and [kg/kg]
    ratio_start : cp(supply) / cp(mixed) to begin with, where moisture asked for does not give it
    surface_C, condensing_C : where the unit's own search begins
    """
    air = air_entering(plant, balance, temp_C, hum_ratio)
    cycles = balance.fan.cycles
    if cycles == 0 and (aim.kind != FULL_CAPACITY or plant.arrangement != MODULATING):
        air = with_depression(plant, air)
    base = balance.fan.base
    removal = removal_balance(balance, hum_ratio, base)
    ratio = ratio_start
    if cycles == 0 and aim.rough != ROUGH_IN_SATURATED:
        ratio = capacity_ratio(air, max(removal, 0.0), base)
    rough = 0 if aim.rough == 0 else 1
    operation = idle(condensing_C, surface_C)
    for _ in range(30):
        task = Task(
            aim.kind,
            needed_sensible(plant, balance, temp_C, hum_ratio, ratio, base),
            fan_and_ventilation(plant, balance, temp_C, hum_ratio, ratio) * cycles,
            removal,
            outdoor_vapor_rate(balance) * (balance.outdoors.hum_ratio - hum_ratio) * cycles,
            cycles,
            aim.recover,
            rough,
        )
        operation = operate(unit, plant, air, task, surface_C, condensing_C)
        # In a saturated room what the coil leaves of the moisture condenses there.
        if cycles == 0 and (
            operation.removal_kg_s >= removal
            or hum_ratio < saturation_hum_ratio(temp_C, balance.outdoors.pressure_Pa)
        ):
            break
        # The runtime, and with it the moisture of the supply air, is part of the answer.
        new = capacity_ratio(air, operation.removal_kg_s, fan_runtime(balance, operation))
        done = abs(new - ratio) < SAME_RATIO or rough == 1
        ratio = new
        # At full capacity the unit does as it does, whatever is asked.
        if done or (aim.kind == FULL_CAPACITY and aim.recover == 0):
            break
        surface_C = operation.start_surface_C
        condensing_C = next_condensing(operation)
    return Attempt(temp_C, hum_ratio, operation, ratio, air.depression_K)


# Trials of a search that leave the condensing temperature to the next one.
_ROUGH_TRIALS = 12


@compiled
def solve_moisture(
    unit: UnitMap,
    plant: Plant,
    balance: Balance,
    aim: Aim,
    temp_C: float,
    start_hum_ratio: float,
    surface_C: float,
    condensing_C: float,
) -> Attempt:
    """The room humidity ratio [kg/kg] at which the coil removes what the room's balance requires.

    The residual, removed less required [kg/s], grows with humidity, so each trial bounds the
    answer; secant steps, halving where they leave the bounds. The condensing temperature settles on
    the way, by one evaluation of the unit in each of the first trials: only a settled trial bounds
    or ends. No room is above saturation: what the coil then leaves condenses elsewhere.
    """
    low = 0.0
    saturated = saturation_hum_ratio(temp_C, balance.outdoors.pressure_Pa)
    if saturated <= 0.0:  # from the boiling point on
        saturated = 1.0
    high = saturated
    w = min(start_hum_ratio, saturated)
    follows = balance.fan.cycles == 1  # cp(supply) / cp(mixed) settles on the way too
    trial = attempt(
        unit, plant, balance, Aim(aim.kind, aim.recover, 1), temp_C, w, 1.0, surface_C, condensing_C
    )
    ratio_before = 1.0
    w_before = w
    residual_before = 0.0
    for iteration in range(80):
        operation = trial.operation
        fan = fan_runtime(balance, operation)
        residual = operation.removal_kg_s - removal_balance(balance, w, fan)
        settled = abs(operation.gap_K) < CLOSE_K
        if (follows or w >= saturated) and (aim.kind != FULL_CAPACITY or aim.recover == 1):
            settled = settled and abs(trial.ratio - ratio_before) < SAME_RATIO
        if settled and residual > 0.0:
            high = w
        elif settled and w >= saturated:
            break
        elif settled:
            low = w
        slope = balance.room.moisture_D + fan * outdoor_vapor_rate(balance)
        if iteration > 0 and w != w_before:
            secant = (residual - residual_before) / (w - w_before)
            if secant > 0.2 * slope:
                slope = secant
        elif operation.removal_kg_s > 0.0:
            slope += (
                0.6 * operation.runtime * (balance.fan.flow_kg_s - balance.ventilation.flow_kg_s)
            )
        if slope <= 0.0:
            slope = 1e-6
        step = -residual / slope
        if settled and (abs(step) < 1e-10 or high - low < 1e-13):
            break
        new = w + step
        if new >= saturated and high >= saturated:
            new = saturated
        elif new <= low or new >= high:
            new = 0.5 * (low + high)
        w_before = w
        residual_before = residual
        w = new
        ratio_before = trial.ratio
        rough = 0
        if iteration < _ROUGH_TRIALS:
            rough = ROUGH_IN_SATURATED if w >= saturated else 1
        trial = attempt(
            unit, plant, balance, Aim(aim.kind, aim.recover, rough), temp_C, w, trial.ratio,
            operation.start_surface_C, next_condensing(operation),
        )  # fmt: skip
    return trial


@compiled
@apart
def saturated_full_load(
    unit: UnitMap, plant: Plant, balance: Balance, setpoint_C: float, start: Attempt
) -> tuple[Attempt, bool]:
    """Room temperature (above the set point) at full capacity all hour where the room is saturated.

    Secants on its heat balance, the condensing temperature settling on the way; ``start`` is the
    hour as it would be if air held more. Returns the trial, and whether it is the answer.
    """
    temp = start.temp_C
    slope = balance.room.heat_K + 0.1 * balance.fan.flow_kg_s * 1006.0
    trial = start
    heat_before = 0.0
    step = 0.0
    for number in range(20):
        w = saturation_hum_ratio(temp, balance.outdoors.pressure_Pa)
        trial = attempt(
            unit, plant, balance, ONE_LOOK_AT_FULL_CAPACITY, temp, w, trial.ratio,
            trial.operation.start_surface_C, next_condensing(trial.operation),
        )  # fmt: skip
        operation = trial.operation
        fan = fan_runtime(balance, operation)
        if operation.removal_kg_s > removal_balance(balance, w, fan):
            break
        heat = operation.sensible_W - needed_sensible(plant, balance, temp, w, trial.ratio, fan)
        close = abs(heat) < _CLOSE_HEAT * max(abs(operation.sensible_W), 1.0)
        if close and abs(operation.gap_K) < CLOSE_K:
            return trial, temp > setpoint_C
        if number > 0 and (heat - heat_before) * step > 0.0:
            slope = (heat - heat_before) / step
        heat_before = heat
        step = -heat / slope
        temp += step
    return trial, False


@compiled
@apart
def full_load_by_brackets(
    unit: UnitMap, plant: Plant, balance: Balance, setpoint_C: float, start: Attempt
) -> Attempt:
    """``solve_full_load`` by roots within roots, each bracketed: humidity within temperature."""
    trial = start
    step = 1.0
    bracket = Bracket(setpoint_C, 0.0, setpoint_C, 0.0, 0)
    temp = setpoint_C
    for trial_number in range(100):
        trial = solve_moisture(
            unit, plant, balance, AT_FULL_CAPACITY, temp, trial.hum_ratio,
            trial.operation.start_surface_C, trial.operation.condensing_C,
        )  # fmt: skip
        fan = fan_runtime(balance, trial.operation)
        heat = trial.operation.sensible_W - needed_sensible(
            plant, balance, temp, trial.hum_ratio, trial.ratio, fan
        )
        close = abs(heat) < _CLOSE_HEAT * max(abs(trial.operation.sensible_W), 1.0)
        if close or (bracket.f_high > 0.0 and bracket.high - bracket.low < 1e-9):
            break
        if heat > 0.0 and trial_number == 0:
            break
        bracket = narrowed(bracket, temp, heat)
        if bracket.f_high > 0.0:
            temp = meeting(bracket)
        else:
            temp += step
            step *= 2.0
    return trial


@compiled
@apart
def solve_full_load(
    unit: UnitMap,
    plant: Plant,
    balance: Balance,
    setpoint_C: float,
    start_hum_ratio: float,
    surface_C: float,
    condensing_C: float,
) -> Attempt:
    """Room temperature (above the set point) and humidity with the unit at full capacity all hour.

    Broyden's method (Mathematics of Computation 19, 1965) on the two balances together, in K and
    g/kg, started from the slopes of the room itself, while the condensing temperature settles on
    the way; where that strays, roots within roots, each bracketed (false position, Illinois).
    """
    temp = setpoint_C
    w = start_hum_ratio
    trial = attempt(
        unit, plant, balance, ONE_LOOK_AT_FULL_CAPACITY, temp, w, 1.0, surface_C, condensing_C
    )  # fmt: skip
    fan = fan_runtime(balance, trial.operation)
    heat = trial.operation.sensible_W - needed_sensible(plant, balance, temp, w, trial.ratio, fan)
    water = trial.operation.removal_kg_s - removal_balance(balance, w, fan)
    # Jacobian of (heat [W], water [mg/s]) in (K, g/kg).
    j11 = balance.room.heat_K + fan * outdoor_rate(balance, w)
    j11 += 0.03 * balance.fan.flow_kg_s * 1006.0
    j12 = 0.0
    j21 = 0.0
    j22 = 1000.0 * (balance.room.moisture_D + fan * outdoor_vapor_rate(balance))
    j22 += 500.0 * (balance.fan.flow_kg_s - balance.ventilation.flow_kg_s) + 1e-6
    settled = False
    for _ in range(30):
        water_mg = water * 1e6
        determinant = j11 * j22 - j12 * j21
        step_t = -(heat * j22 - water_mg * j12) / determinant
        step_w = -(water_mg * j11 - heat * j21) / determinant
        step_t = min(max(step_t, -5.0), 5.0)
        step_w = min(max(step_w, -3.0), 3.0)
        settled = abs(step_t) < 1e-7 and abs(step_w) < 1e-7 and abs(trial.operation.gap_K) < CLOSE_K
        if settled:
            break
        temp += step_t
        w = max(w + step_w / 1000.0, 1e-6)
        trial = attempt(
            unit, plant, balance, ONE_LOOK_AT_FULL_CAPACITY, temp, w, trial.ratio,
            trial.operation.start_surface_C, next_condensing(trial.operation),
        )  # fmt: skip
        fan = fan_runtime(balance, trial.operation)
        heat = trial.operation.sensible_W - needed_sensible(
            plant, balance, temp, w, trial.ratio, fan
        )
        water = trial.operation.removal_kg_s - removal_balance(balance, w, fan)
        # The residuals left over are what the Jacobian missed (Broyden's rank-one update).
        size = max(step_t * step_t + step_w * step_w, 1e-30)
        j11 += heat * step_t / size
        j12 += heat * step_w / size
        j21 += water * 1e6 * step_t / size
        j22 += water * 1e6 * step_w / size
    if settled and w <= saturation_hum_ratio(temp, balance.outdoors.pressure_Pa):
        return trial
    if settled:
        trial, settled = saturated_full_load(unit, plant, balance, setpoint_C, trial)
        if settled:
            return trial
    return full_load_by_brackets(unit, plant, balance, setpoint_C, trial)
