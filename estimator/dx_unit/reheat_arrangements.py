"""Drying arrangements that share the hour between a cooling mode and a drying mode.

With part loads pc and pd, moisture removals R, sensible capacities S and the heat H that drying
mode recovers, the hour solves pc Rc + pd Rd = moisture asked and pc Sc + pd (Sd - H) = sensible
needed. Neither part load goes below zero: where cooling would, drying mode alone removes the
moisture and overcools. Between runs a wet coil re-evaporates water, by the whole runtime.

On/off condenser heat: H is all that the reheat coil's effectiveness gives at the condensing
temperature of the moment, wanted or not. The room temperature swings between the modes by the net
cooling of drying mode beyond the need, over the room's heat store and the cycling rate.

Liquid subcooling: a coil after the evaporator takes H = effectiveness x refrigerant flow x heat
capacity of the liquid x (liquid - leaving air). The evaporator gains exactly that heat at the same
compressor flow, so the total stays (but for a colder suction), the sensible falls and the latent
rises.

Subcooling, then condenser heat: a modulating reheat coil after the subcooling coil gives what that
leaves, H = liquid + condenser heat. It takes no more than is still rejected and no more than its
effectiveness gives between the air that reaches it and the condensing temperature, which it may
raise up to the ceiling; the liquid's heat never reaches the outdoor coil.

Wrap-around: a sensible loop takes H = effectiveness x air capacity rate x (entering - leaving coil)
from the air before the coil, no further than its dew point, and returns it after the coil. The
refrigerant has no part in it.

Floats of one hour in SI: arguments name their unit, or are listed in docs/nomenclature.md; fields
of the NamedTuples have theirs in types.py. Source: the balances above.
"""

from __future__ import annotations

from typing import NamedTuple

from dewledger.dx_unit.condenser import (
    CLOSE_K,
    HELD_W,
    condenser_fan_share,
    given_by_condenser,
    locked_out,
    outdoor_coil_heat,
    outdoor_conductance,
    reheat_floor,
)
from dewledger.dx_unit.part_load import (
    blended,
    evaporation_terms,
    fixed_point_step,
    humidistat_rate,
    latent_share,
    runtime_of,
)
from dewledger.dx_unit.steady_state import run_at
from dewledger.dx_unit.types import (
    BY_CIRCUITS,
    BY_FANS,
    BY_LOCKOUT,
    BY_PURGE,
    FULL_CAPACITY,
    ON_OFF,
    SUBCOOLING,
    SUBCOOLING_THEN_CONDENSER,
    WRAP_AROUND,
    AirIn,
    Operation,
    Plant,
    Running,
    Task,
    UnitMap,
)
from dewledger.weather.numerics.compiled import compiled
from dewledger.weather.numerics.false_position import Bracket, meeting, narrowed
from dewledger.weather.numerics.two_unknowns import Answer, learned
from dewledger.weather.physics.moist_air import dew_point, enthalpy, heat_capacity, vapor_enthalpy

_SECANT_STEPS = 20
_STEPS = 30
# When what the coil draws is found: watts of a wrap-around loop, share gained by subcooling.
_CLOSE_W = 1e-4
_CLOSE_SHARE = 2e-8
# Of an hour: what rounding leaves of a need is none. A wet coil would take long to meet it.
_NOTHING = 1e-12
# The shares of the hour are found to about the square of this runtime.
_AHEAD = 1e-6
# What a subcooling coil draws is a share; so many K of condensing temperature weigh as much.
_K_OF_A_SHARE = 50.0


@compiled
def cooling_mode(
    unit: UnitMap, plant: Plant, air: AirIn, start_surface_C: float, start_condensing_C: float,
    steps: int,
) -> tuple[Running, float]:  # fmt: skip
    """Running at full capacity without drying mode, and its condensing temperature [C] after so
    many ``steps`` toward it, or when it is found."""
    condensing = start_condensing_C
    running = run_at(unit, 1.0, air, condensing, start_surface_C)
    gap_before = 0.0
    step = 0.0
    for _ in range(steps):
        rejected = running.total_W + running.compressor_W
        by_outdoors = air.outdoor_C + rejected / unit.condenser_conductance_W_K
        new = max(plant.condensing_floor_C, by_outdoors)
        gap = new - condensing
        if abs(gap) < 2e-6:
            break
        step = fixed_point_step(gap, gap_before, step, 0.96)
        gap_before = gap
        condensing += step
        running = run_at(unit, 1.0, air, condensing, running.surface_C)
    return running, condensing


@compiled
def would_draw(
    plant: Plant, air: AirIn, running: Running, condensing_C: float, most_moved_W: float
) -> float:
    """What the coil of the drying mode would draw in a running state, as ``run_with_coil`` takes
    it: a share, or [W]; ``most_moved_W`` as there."""
    if plant.arrangement == ON_OFF:
        return 0.0
    if plant.arrangement == WRAP_AROUND:
        rate = air.flow_kg_s * heat_capacity(air.hum_ratio)
        return min(plant.drying_effectiveness * rate * (air.temp_C - running.temp_C), most_moved_W)
    cooled = condensing_C - plant.liquid_offset_K - running.temp_C
    a, b, c = plant.liquid_gain
    per_K = a + condensing_C * (b + condensing_C * c)
    return per_K * plant.drying_effectiveness * max(cooled, 0.0)


@compiled
def run_with_coil(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    condensing_C: float,
    drawn: float,
    most_moved_W: float,
    start_surface_C: float,
) -> tuple[Running, float, float]:
    """Running at full capacity in parallel with the coil of the drying mode, at what that coil is
    assumed to draw.

    Parameters
    ----------
    drawn : heat that a wrap-around loop moves [W]; evaporator effect that subcooling gains, as a
        share; 0 for on/off condenser heat
    most_moved_W : where the wrap-around loop would cool to the dew point: it stays sensible

    Returns
    -------
    The state, the heat moved [W], and what the coil would draw in that state.
    """
    if plant.arrangement == ON_OFF:
        return run_at(unit, 1.0, air, condensing_C, start_surface_C), 0.0, 0.0
    if plant.arrangement == WRAP_AROUND:
        rate = air.flow_kg_s * heat_capacity(air.hum_ratio)
        onto = AirIn(
            air.temp_C - drawn / rate, air.hum_ratio, air.pressure_Pa, air.outdoor_C,
            air.flow_kg_s, air.depression_K,
        )  # fmt: skip
        running = run_at(unit, 1.0, onto, condensing_C, start_surface_C)
        # Totals count the loop's share before the coil. Effectiveness of equal capacity rates.
        total = air.flow_kg_s * (
            enthalpy(air.temp_C, air.hum_ratio) - enthalpy(running.temp_C, running.hum_ratio)
        )
        sensible = total - running.removal_kg_s * vapor_enthalpy(air.temp_C)
        would = would_draw(plant, air, running, condensing_C, most_moved_W)
        return with_heats(running, total, sensible, running.compressor_W), drawn, would
    running = run_at(unit, 1.0 + drawn, air, condensing_C, start_surface_C)
    would = would_draw(plant, air, running, condensing_C, most_moved_W)
    # The compressor moves the same refrigerant: only the effect per kilogram grew.
    moved = running.total_W * drawn / (1.0 + drawn)
    power = running.compressor_W / (1.0 + drawn)
    return with_heats(running, running.total_W, running.sensible_W, power), moved, would


@compiled
def with_heats(running: Running, total_W: float, sensible_W: float, compressor_W: float) -> Running:
    """The state with other heats and power, at full displacement."""
    return Running(
        total_W, sensible_W, running.removal_kg_s, compressor_W, running.surface_C,
        running.suction_C, running.temp_C, running.hum_ratio, 1.0, running.floor_hit,
    )  # fmt: skip


@compiled
def takes_condenser_heat(plant: Plant, air: AirIn) -> bool:
    """Whether condenser heat flows in drying mode: not where the outdoor temperature locks it
    out."""
    return plant.arrangement == ON_OFF or (
        plant.arrangement == SUBCOOLING_THEN_CONDENSER and not locked_out(plant, air.outdoor_C)
    )


@compiled
def drying_mode(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    start: Running,
    start_condensing_C: float,
    start_drawn: float,
    known_moved_W: float,
    extra_W: float,
) -> tuple[Running, float, float, float, float, int]:
    """Running in drying mode.

    Condensing temperature and what the coil draws are found together, each by its own secant: they
    depend little on each other; ``start_drawn`` is in the unit of ``run_with_coil``, or negative
    where nothing is known of it. ``known_moved_W`` is the heat that its coil moves where ``start``
    is a state of its own, or negative; ``extra_W`` condenser heat asked for after subcooling.

    Returns
    -------
    The state, reheat [W], of it from the condenser [W], condensing temperature [C], what
    the coil draws (as ``run_with_coil`` takes it), and which controls of the source bind.
    """
    condensing = start_condensing_C
    drawn = start_drawn
    running = start
    moved = known_moved_W
    from_condenser = 0.0
    source = plant.condenser_source
    serving = 1.0 - source.purge_share
    recovers = takes_condenser_heat(plant, air)
    floor = reheat_floor(plant) if recovers else plant.condensing_floor_C
    condensing = max(condensing, floor)
    conductance = unit.condenser_conductance_W_K
    bound = 0
    most_moved = 0.0
    close = _CLOSE_SHARE
    if plant.arrangement == WRAP_AROUND:
        close = _CLOSE_W
        dew = dew_point(max(air.hum_ratio, 1e-6), air.pressure_Pa)
        most_moved = air.flow_kg_s * heat_capacity(air.hum_ratio) * max(air.temp_C - dew, 0.0)
    # Condenser heat that follows the condensing temperature answers strongly.
    first = 0.5 if plant.arrangement == ON_OFF else 0.96
    drawn_here = would_draw(plant, air, start, condensing, most_moved)
    follows = would_draw(plant, air, start, condensing + 1.0, most_moved) - drawn_here
    answer = Answer(first, 0.0, first * follows, 1.0)
    if drawn < 0.0:
        drawn = drawn_here
    step, gap_before, draw_step, draw_gap_before = 0.0, 0.0, 0.0, 0.0
    for iteration in range(60):
        would = drawn
        if iteration > 0 or known_moved_W < 0.0:
            running, moved, would = run_with_coil(
                unit, plant, air, condensing, drawn, most_moved, running.surface_C
            )
        evaporator = running.total_W - (moved if plant.arrangement == WRAP_AROUND else 0.0)
        rejected = evaporator + running.compressor_W
        liquid = 0.0 if plant.arrangement == WRAP_AROUND else moved
        rate = air.flow_kg_s * heat_capacity(running.hum_ratio)
        reach = plant.recovery_effectiveness * rate
        lifted = -1e9
        from_condenser = 0.0
        bound = 0
        if recovers:
            conductance = outdoor_conductance(
                plant, unit.condenser_conductance_W_K, air.outdoor_C, rejected - liquid
            )
        if plant.arrangement == ON_OFF:
            coil = min(plant.recovery_capacity_W, max(reach * (condensing - running.temp_C), 0.0))
            passed = min(coil, source.circuits * rejected)
            if passed < min(coil, rejected):
                bound |= BY_CIRCUITS
            if serving < 1.0:
                bound |= BY_PURGE
            from_condenser = passed * serving
        elif recovers and extra_W > 0.0 and reach > 0.0:
            given = given_by_condenser(
                plant, extra_W, running.temp_C + moved / rate, reach, rejected - liquid,
                rejected - liquid, air.outdoor_C, conductance,
            )  # fmt: skip
            from_condenser = given.heat_W
            lifted = given.condensing_C
            bound = given.bound
        elif plant.arrangement == SUBCOOLING_THEN_CONDENSER and not recovers and extra_W > 0.0:
            bound = BY_LOCKOUT
        by_outdoors = air.outdoor_C + (rejected - liquid - from_condenser) / conductance
        if conductance < unit.condenser_conductance_W_K and by_outdoors > floor:
            bound |= BY_FANS
        new = max(max(floor, lifted), by_outdoors)
        gap = new - condensing
        draw_gap = would - drawn
        if abs(gap) < 2e-6 and abs(draw_gap) < close:
            break
        if 0 < iteration < _SECANT_STEPS:
            answer = learned(
                answer, step, draw_step, gap - gap_before, draw_gap - draw_gap_before, _K_OF_A_SHARE
            )
        elif iteration == _SECANT_STEPS:
            answer = Answer(0.5, 0.0, 0.0, 0.5)
        step = answer.first_by_first * gap + answer.first_by_second * draw_gap
        if new <= floor:
            step = gap
        draw_step = answer.second_by_first * gap + answer.second_by_second * draw_gap
        gap_before = gap
        draw_gap_before = draw_gap
        condensing += step
        drawn += draw_step
    return running, moved + from_condenser, from_condenser, condensing, drawn, bound


class Shares(NamedTuple):
    """How cooling mode and drying mode share an hour, and what comes of it."""

    part_cool: float
    part_dry: float
    runtime: float
    sensible_W: float
    removal_kg_s: float
    needed_W: float  # sensible cooling the room needs
    limited: int  # 1: at full capacity and the moisture asked for is not removed


NO_SHARES = Shares(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0)


@compiled
def shares_at(
    plant: Plant, task: Task, cool: Running, dry: Running, given_W: float, kept_cool: float,
    kept_dry: float, runtime_asked: float,
) -> Shares:  # fmt: skip
    """The shares that a compressor runtime asks for, by fan heat, outdoor air and wet coil.

    ``kept_`` is the share of each mode's latent capacity that stays removed.
    """
    asked = task.removal_base_kg_s + task.removal_per_runtime_kg_s * runtime_asked
    needed = task.sensible_base_W + task.sensible_per_runtime_W * runtime_asked
    cool_removal = kept_cool * cool.removal_kg_s
    dry_removal = kept_dry * dry.removal_kg_s
    cool_sensible = cool.total_W - kept_cool * (cool.total_W - cool.sensible_W)
    dry_sensible = dry.total_W - kept_dry * (dry.total_W - dry.sensible_W)
    net = dry_sensible - given_W
    determinant = cool_removal * net - dry_removal * cool_sensible
    part_cool = 0.0
    part_dry = 2.0
    limited = 0
    if task.kind != FULL_CAPACITY and abs(determinant) > 1e-12:
        part_cool = (asked * net - dry_removal * needed) / determinant
        part_dry = (cool_removal * needed - asked * cool_sensible) / determinant
    if part_cool < 0.0:
        part_cool = 0.0
        part_dry = 2.0
        if dry_removal > 0.0:
            part_dry = asked / dry_removal
        elif asked <= 0.0:
            part_dry = 0.0
    if part_dry < 0.0:
        # Cooling alone dries enough; where the modes hardly differ, it is what dries.
        part_dry = 0.0
        part_cool = max(needed / cool_sensible, 0.0) if cool_sensible > 0.0 else 2.0
        if asked > 0.0:
            part_cool = max(part_cool, asked / cool_removal) if cool_removal > 0.0 else 2.0
    if part_cool + part_dry > 1.0:
        limited = 0 if task.kind == FULL_CAPACITY else 1
        part_cool = 0.0
        if cool_sensible - net > 0.0:
            part_cool = min(max((needed - net) / (cool_sensible - net), 0.0), 1.0)
        part_dry = 1.0 - part_cool
    sensible = part_cool * cool_sensible + part_dry * dry_sensible
    removal = part_cool * cool_removal + part_dry * dry_removal
    runtime = runtime_of(plant, part_cool + part_dry)
    return Shares(part_cool, part_dry, runtime, sensible, removal, needed, limited)


@compiled
def share_modes(
    plant: Plant, air: AirIn, task: Task, cool: Running, dry: Running, given_W: float, start: float
) -> Shares:  # fmt: skip
    """Shares that solve the sensible and the moisture balance together.

    With a cycling fan both demands depend on the runtime, and so does what a wet coil re-evaporates
    between runs: the runtime is then the root of "runtime assumed - runtime that the shares make",
    which lies between 0 and 1: by Newton's steps, or false position where these leave the bounds.
    ``start`` is a runtime to begin with, or 0.
    """
    wet_cool, gone_cool = evaporation_terms(plant, cool, air, task)
    wet_dry, gone_dry = evaporation_terms(plant, dry, air, task)
    rate_cool = humidistat_rate(plant, cool)
    rate_dry = humidistat_rate(plant, dry)
    high = 1.0
    at_high = shares_at(plant, task, cool, dry, given_W, 1.0, 1.0, high)
    if task.fan_cycles == 0 and wet_cool <= 0.0 and wet_dry <= 0.0:
        return at_high
    f_high = high - at_high.runtime
    low = 0.0
    kept_cool, _ = latent_share(plant, wet_cool, gone_cool, low, rate_cool)
    kept_dry, _ = latent_share(plant, wet_dry, gone_dry, low, rate_dry)
    at_low = shares_at(plant, task, cool, dry, given_W, kept_cool, kept_dry, low)
    f_low = low - at_low.runtime
    if f_high <= 0.0:
        return at_high
    if f_low >= 0.0:
        return at_low
    bracket = Bracket(low, f_low, high, f_high, 0)
    found = at_low
    middle = start if start > 0.0 else at_high.runtime
    for look in range(100):
        kept_cool, slope_cool = latent_share(plant, wet_cool, gone_cool, middle, rate_cool)
        kept_dry, slope_dry = latent_share(plant, wet_dry, gone_dry, middle, rate_dry)
        found = shares_at(plant, task, cool, dry, given_W, kept_cool, kept_dry, middle)
        f = middle - found.runtime
        bracket = narrowed(bracket, middle, f)
        nothing = found.runtime < _NOTHING and task.fan_cycles == 0
        if nothing or abs(f) < 1e-11 or bracket.high - bracket.low < 1e-13:
            break
        ahead = shares_at(
            plant, task, cool, dry, given_W, kept_cool + slope_cool * _AHEAD,
            kept_dry + slope_dry * _AHEAD, middle + _AHEAD,
        )  # fmt: skip
        step = f * _AHEAD / (ahead.runtime - found.runtime - _AHEAD)
        if abs(step) < _AHEAD and abs(f) < 1e3 * _AHEAD:  # what Newton leaves is of its square
            found = shares_at(
                plant, task, cool, dry, given_W, kept_cool + slope_cool * step,
                kept_dry + slope_dry * step, middle + step,
            )  # fmt: skip
            break
        root = middle + step
        newton = look < _SECANT_STEPS and bracket.low < root < bracket.high
        middle = root if newton else meeting(bracket)
    return found


@compiled
def operate_two_modes(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    start_surface_C: float,
    start_condensing_C: float,
    start_runtime: float,
) -> Operation:
    """The hour shared between cooling mode and drying mode.

    With part loads pc and pd: pc Rc + pd Rd = moisture asked and pc Sc + pd (Sd - Hd) = sensible
    needed. Where that would take negative cooling, drying mode alone removes the moisture and
    overcools; where it takes more than the hour, the hour is full.
    """
    # Where drying mode alone removes the water, as subcooling mostly does, cooling mode counts for
    # nothing.
    waits = plant.arrangement in (SUBCOOLING, SUBCOOLING_THEN_CONDENSER)
    cool, cool_condensing = cooling_mode(
        unit, plant, air, start_surface_C, start_condensing_C, 0 if waits else _STEPS
    )
    extra = 0.0
    dry = cool
    drawn = -1.0
    given = 0.0
    from_condenser = 0.0
    condensing = cool_condensing
    bound = 0
    runtime = start_runtime
    shares = NO_SHARES
    known = -1.0
    for _ in range(40):
        before_C = condensing
        drawn_before = drawn
        dry, given, from_condenser, condensing, drawn, bound = drying_mode(
            unit, plant, air, dry, condensing, drawn, known, extra
        )
        if condensing == before_C and drawn == drawn_before and shares.part_cool == 0.0:
            # The same state, and no more taken from it than is overcooled: drying alone, as long.
            break
        shares = share_modes(plant, air, task, cool, dry, given, runtime)
        runtime = shares.runtime
        if waits and shares.part_cool > 0.0:
            waits = False
            cool, cool_condensing = cooling_mode(
                unit, plant, air, cool.surface_C, cool_condensing, _STEPS
            )
            known = given - from_condenser
            continue
        if plant.arrangement != SUBCOOLING_THEN_CONDENSER or shares.part_dry <= 0.0:
            break
        liquid = given - from_condenser
        wanted = max((shares.sensible_W - shares.needed_W) / shares.part_dry - liquid, 0.0)
        if abs(wanted - extra) < 1e-6:
            break
        # From below: more than is wanted would balance too, with cooling mode to use it up.
        extra = wanted
        known = liquid
    part_cool = shares.part_cool
    part_dry = shares.part_dry
    needed = shares.needed_W
    overcooling = shares.sensible_W - needed
    parts = part_cool + part_dry
    share_dry = part_dry / parts if parts > 0.0 else 0.0
    on = blended(cool, dry, share_dry)
    total = part_cool * cool.total_W + part_dry * dry.total_W
    compressor = runtime * on.compressor_W
    recovered = 0.0
    if overcooling > HELD_W or plant.arrangement == WRAP_AROUND:
        recovered = min(part_dry * given, max(overcooling, 0.0))
    precool = part_dry * given if plant.arrangement == WRAP_AROUND else 0.0
    fan = runtime if task.fan_cycles == 1 else 1.0
    condenser_fan = 0.0
    outdoor_coil = 0.0
    for mode in range(2):
        running = cool if mode == 0 else dry
        at = cool_condensing if mode == 0 else condensing
        back = 0.0 if mode == 0 or plant.arrangement == WRAP_AROUND else given
        reject = running.total_W + running.compressor_W - back
        if mode == 1 and plant.arrangement == WRAP_AROUND:
            reject -= given
        share = (1.0 - share_dry) if mode == 0 else share_dry
        part = part_cool if mode == 0 else part_dry
        rest = reject - running.compressor_W
        conductance = unit.condenser_conductance_W_K
        floor = plant.condensing_floor_C
        if mode == 1 and takes_condenser_heat(plant, air):
            conductance = outdoor_conductance(
                plant, conductance, air.outdoor_C, reject + from_condenser
            )
            floor = reheat_floor(plant)
        held = at <= floor + CLOSE_K or (
            mode == 1 and from_condenser > 0.0 and plant.arrangement == SUBCOOLING_THEN_CONDENSER
        )
        if held:
            outdoor_coil += part * rest + share * runtime * running.compressor_W
        else:
            outdoor_coil += outdoor_coil_heat(
                conductance, at, air.outdoor_C, share * runtime, (share * runtime - part) * rest
            )
        fan_share = condenser_fan_share(
            plant.condenser_fan_control, reject, conductance, at - air.outdoor_C
        ) * (conductance / unit.condenser_conductance_W_K)
        condenser_fan += share * runtime * unit.condenser_fan_W * fan_share
    if plant.arrangement != WRAP_AROUND:
        # What the air does not take up after all goes outdoors.
        outdoor_coil += part_dry * given - recovered
    mean_condensing = (1.0 - share_dry) * cool_condensing + share_dry * condensing
    available = part_dry * given + (plant.reheat_before_W + plant.reheat_after_W) * fan
    swing = abs(needed - (dry.sensible_W - given)) * part_dry
    return Operation(
        runtime, parts, on.fraction, total, shares.sensible_W, shares.removal_kg_s, compressor,
        condenser_fan, mean_condensing, on.surface_C, on.suction_C, on.temp_C, on.hum_ratio,
        recovered, available, outdoor_coil, precool, swing, shares.limited, on.floor_hit, 0.0,
        cool.surface_C, bound if part_dry > 0.0 else 0,
    )  # fmt: skip
