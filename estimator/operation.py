"""What the unit does in an hour for a given air state and a given task.

Three tasks: match a sensible load, match a moisture removal, or run flat out. The capacity control
(cycling or variable) finds how; the condensing temperature answers to outdoor temperature, to heat
diverted to the reheat coil, to the head-pressure floor and ceiling.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from estimator.coil import (
    bypass_factor,
    coil_leaving,
    surface_for_leaving_hum_ratio,
    surface_for_leaving_temp,
)
from estimator.re_evaporation import latent_ratio, scaled_evaporation_ratio, scaled_wet_time
from estimator.unit import UnitMap, fraction_for_surface, steady_state
from weather.compiled import compiled
from weather.moist_air import enthalpy, heat_capacity, vapour_enthalpy, wet_bulb

MATCH_SENSIBLE = 0
MATCH_REMOVAL = 1
FULL_CAPACITY = 2

CYCLING = 0
VARIABLE = 1


class Plant(NamedTuple):
    """The unit's controls, its fan and its reheat sources, as floats the compiled loop takes."""

    flow_kg_s: float  # dry air while the fan runs
    fan_W: float
    blow_through: int
    capacity_control: int  # CYCLING or VARIABLE
    minimum_fraction: float
    degradation: float  # Cd of PLF = 1 - Cd (1 - PLR)
    drying_leaving_C: float  # a variable unit dries at this leaving temperature or colder
    condensing_floor_C: float
    condensing_ceiling_C: float
    condenser_fan_follows: int  # 1: the fan holds the floor by running less
    recovery_effectiveness: float  # 0 where there is no condenser-heat coil
    recovery_capacity_W: float
    reheat_before_W: float  # new-energy capacity listed before the condenser
    reheat_after_W: float  # new-energy capacity listed after it
    wet_time_s: float  # retained water over latent capacity at the rating; 0 turns it off
    evaporation_ratio: float  # initial off-cycle evaporation over latent capacity at the rating
    start_up_time_s: float
    cycles_per_hour: float
    rated_latent_W: float
    rated_depression_K: float  # entering dry bulb less wet bulb at the rating


class Operation(NamedTuple):
    """The unit's hour: means over the hour unless named 'on', which holds while it runs."""

    runtime: float
    part_load: float  # coil load over the coil load of running all hour
    fraction: float  # displacement in use while running
    total_W: float
    sensible_W: float
    removal_kg_s: float
    compressor_W: float
    condenser_fan_W: float
    condensing_C: float
    surface_C: float
    suction_C: float
    on_temp_C: float
    on_hum_ratio: float
    recovered_W: float
    available_W: float  # what all reheat sources could have given
    outdoor_coil_W: float
    limited: int  # 1: flat out and the task is not met
    floor_hit: int


class Running(NamedTuple):
    """Steady running at one displacement."""

    total_W: float
    sensible_W: float
    removal_kg_s: float
    compressor_W: float
    surface_C: float
    suction_C: float
    temp_C: float
    hum_ratio: float
    fraction: float
    floor_hit: int


class AirIn(NamedTuple):
    """Air entering the cooling coil, and the outdoors."""

    temp_C: float
    hum_ratio: float
    pressure_Pa: float
    outdoor_C: float


class Task(NamedTuple):
    """What is asked of the unit; the second number of each pair counts per unit of fan runtime.

    With a fan that cycles with the compressor, ventilation and fan heat grow with the runtime, so
    demands are ``base + per_runtime * runtime``; with a continuous fan ``per_runtime`` is 0.
    """

    kind: int
    sensible_base_W: float
    sensible_per_runtime_W: float
    removal_base_kg_s: float
    removal_per_runtime_kg_s: float
    fan_cycles: int
    recover: int  # 1: overcooling beyond the sensible demand is given back by the reheat sources


@compiled
def runtime_of(part_load: float, degradation: float) -> float:
    """Runtime fraction of a cycling unit: PLR / (1 - Cd (1 - PLR)).

    AHRI 210/240 part-load factor; the start-up loss is runtime without capacity.
    """
    return part_load / (1.0 - degradation * (1.0 - part_load))


@compiled
def evaporation_terms(
    plant: Plant, running: Running, air: AirIn, task: Task
) -> tuple[float, float]:
    """Wet time [s] and initial evaporation ratio of the coil as it runs now; 0, 0 where off.

    A fan that cycles with the compressor leaves the water on the coil.
    """
    latent = running.total_W - running.sensible_W
    if plant.wet_time_s <= 0.0 or task.fan_cycles == 1 or latent <= 1e-6 * running.total_W:
        return 0.0, 0.0
    depression = air.temp_C - wet_bulb(air.temp_C, air.hum_ratio, air.pressure_Pa)
    return (
        scaled_wet_time(plant.wet_time_s, plant.rated_latent_W, latent),
        scaled_evaporation_ratio(
            plant.evaporation_ratio,
            plant.rated_latent_W,
            plant.rated_depression_K,
            latent,
            depression,
        ),
    )


@compiled
def latent_share(plant: Plant, wet_s: float, evaporation: float, runtime: float) -> float:
    """Share of the steady latent capacity that stays removed when the unit cycles."""
    if wet_s <= 0.0 or runtime >= 1.0:
        return 1.0
    return latent_ratio(
        runtime, wet_s, evaporation, plant.start_up_time_s, plant.cycles_per_hour
    )


@compiled
def run_at(
    unit: UnitMap,
    plant: Plant,
    fraction: float,
    air: AirIn,
    condensing_C: float,
    start_surface_C: float,
) -> Running:
    """Steady running at a displacement fraction."""
    total, sensible, power, surface, suction, temp, hum_ratio, floor_hit = steady_state(
        unit,
        fraction,
        air.temp_C,
        air.hum_ratio,
        air.pressure_Pa,
        plant.flow_kg_s,
        condensing_C,
        start_surface_C,
    )
    removal = plant.flow_kg_s * (air.hum_ratio - hum_ratio)
    return Running(
        total, sensible, removal, power, surface, suction, temp, hum_ratio, fraction, floor_hit
    )


@compiled
def run_at_surface(
    unit: UnitMap,
    plant: Plant,
    surface_C: float,
    air: AirIn,
    condensing_C: float,
) -> Running:
    """Steady running at the displacement that holds the coil surface at a temperature.

    Explicit: the surface fixes the leaving air and the coil's heat, and these fix the suction
    temperature. Held between the minimum and the full displacement and at the surface floor.
    """
    bypass = bypass_factor(unit.bypass_area_kg_s, plant.flow_kg_s)
    surface = max(surface_C, unit.surface_floor_C)
    temp, hum_ratio = coil_leaving(air.temp_C, air.hum_ratio, surface, bypass, air.pressure_Pa)
    total = plant.flow_kg_s * (enthalpy(air.temp_C, air.hum_ratio) - enthalpy(temp, hum_ratio))
    fraction, suction, power = fraction_for_surface(unit, surface, total, condensing_C)
    if fraction > 1.0:
        return run_at(unit, plant, 1.0, air, condensing_C, surface)
    if fraction < plant.minimum_fraction:
        return run_at(unit, plant, plant.minimum_fraction, air, condensing_C, surface)
    sensible = plant.flow_kg_s * heat_capacity(hum_ratio) * (air.temp_C - temp)
    removal = plant.flow_kg_s * (air.hum_ratio - hum_ratio)
    floor_hit = 1 if surface_C < unit.surface_floor_C else 0
    return Running(
        total, sensible, removal, power, surface, suction, temp, hum_ratio, fraction, floor_hit
    )


@compiled
def surface_for_sensible(
    unit: UnitMap, plant: Plant, sensible_W: float, air: AirIn, start_surface_C: float
) -> float:
    """Coil surface temperature at which steady running takes out a sensible load."""
    bypass = bypass_factor(unit.bypass_area_kg_s, plant.flow_kg_s)
    surface = start_surface_C
    hum_ratio = air.hum_ratio
    for _ in range(40):
        temp = air.temp_C - sensible_W / (plant.flow_kg_s * heat_capacity(hum_ratio))
        if temp < -60.0:
            return -60.0
        surface = surface_for_leaving_temp(
            air.temp_C, air.hum_ratio, temp, bypass, air.pressure_Pa, surface
        )
        _, w_new = coil_leaving(air.temp_C, air.hum_ratio, surface, bypass, air.pressure_Pa)
        if abs(w_new - hum_ratio) < 1e-13:
            break
        hum_ratio = w_new
    return surface


@compiled
def part_load_for(rate: float, base: float, per_runtime: float, degradation: float) -> float:
    """Part load at which ``part_load * rate = base + per_runtime * runtime(part_load)``.

    The positive root of the quadratic that the part-load factor makes of it; above 1 where running
    all hour is not enough.
    """
    if base + per_runtime >= rate:
        return (base + per_runtime) / max(rate, 1e-12)
    if per_runtime == 0.0:
        return max(base / rate, 0.0)
    a = rate * degradation
    b = rate * (1.0 - degradation) - base * degradation - per_runtime
    c = -base * (1.0 - degradation)
    if a < 1e-12 * rate:
        return max(-c / b, 0.0) if b > 0.0 else 2.0
    return max(0.5 * (-b + math.sqrt(max(b * b - 4.0 * a * c, 0.0))) / a, 0.0)


@compiled
def match_sensible(plant: Plant, running: Running, air: AirIn, task: Task) -> tuple[float, float]:
    """Part load and latent share at which cycling at ``running`` meets the sensible demand.

    A part load above 1 says that running all hour is not enough.
    """
    part_load = part_load_for(
        running.sensible_W,
        task.sensible_base_W,
        task.sensible_per_runtime_W,
        plant.degradation,
    )
    wet, evaporation = evaporation_terms(plant, running, air, task)
    if wet <= 0.0 or part_load >= 1.0 or part_load <= 0.0:
        return part_load, 1.0
    # Less latent is more sensible: the answer lies below the part load without re-evaporation.
    latent = running.total_W - running.sensible_W
    low = 0.0
    high = part_load
    f_low = -task.sensible_base_W
    share = latent_share(plant, wet, evaporation, runtime_of(high, plant.degradation))
    f_high = high * (running.total_W - share * latent) - task.sensible_base_W
    side = 0
    for _ in range(60):
        if high - low < 1e-13 or abs(f_high) < 1e-9:
            break
        middle = (low * f_high - high * f_low) / (f_high - f_low)
        share = latent_share(plant, wet, evaporation, runtime_of(middle, plant.degradation))
        f = middle * (running.total_W - share * latent) - task.sensible_base_W
        if abs(f) < 1e-9:
            high = middle
            break
        if f > 0.0:
            high = middle
            f_high = f
            if side == 1:
                f_low *= 0.5
            side = 1
        else:
            low = middle
            f_low = f
            if side == -1:
                f_high *= 0.5
            side = -1
    return high, latent_share(plant, wet, evaporation, runtime_of(high, plant.degradation))


@compiled
def match_removal(plant: Plant, running: Running, air: AirIn, task: Task) -> tuple[float, float]:
    """Part load and latent share at which cycling at ``running`` removes the moisture asked for."""
    if running.removal_kg_s <= 0.0:
        return 2.0, 1.0
    part_load = part_load_for(
        running.removal_kg_s,
        task.removal_base_kg_s,
        task.removal_per_runtime_kg_s,
        plant.degradation,
    )
    wet, evaporation = evaporation_terms(plant, running, air, task)
    if wet <= 0.0 or part_load >= 1.0 or part_load <= 0.0:
        return part_load, 1.0
    # Water given back between runs asks for more running.
    asked = task.removal_base_kg_s
    scale = running.removal_kg_s
    low = part_load
    high = 1.0
    share = latent_share(plant, wet, evaporation, runtime_of(low, plant.degradation))
    f_low = low * share - asked / scale
    f_high = 1.0 - asked / scale
    side = 0
    for _ in range(60):
        if high - low < 1e-13 or f_low >= 0.0:
            break
        middle = (low * f_high - high * f_low) / (f_high - f_low)
        share = latent_share(plant, wet, evaporation, runtime_of(middle, plant.degradation))
        f = middle * share - asked / scale
        if abs(f) < 1e-13:
            high = middle
            break
        if f > 0.0:
            high = middle
            f_high = f
            if side == 1:
                f_low *= 0.5
            side = 1
        else:
            low = middle
            f_low = f
            if side == -1:
                f_high *= 0.5
            side = -1
    return high, latent_share(plant, wet, evaporation, runtime_of(high, plant.degradation))


@compiled
def milder_coil(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    condensing_C: float,
    cold_C: float,
    mild_C: float,
) -> tuple[Running, float, float]:
    """The mildest coil that, run just long enough for the sensible need, removes what is asked.

    ``cold_C`` removes enough and ``mild_C`` does not: false position on the surface between them.
    """
    low = cold_C
    high = mild_C
    f_low = 0.0
    f_high = 0.0
    running = run_at_surface(unit, plant, low, air, condensing_C)
    part_load, share = match_sensible(plant, running, air, task)
    best = running
    best_load = min(part_load, 1.0)
    best_share = share
    side = 0
    surface = low
    for step in range(60):
        if step == 1:
            surface = high
        elif step > 1:
            surface = (low * f_high - high * f_low) / (f_high - f_low)
        running = run_at_surface(unit, plant, surface, air, condensing_C)
        part_load, share = match_sensible(plant, running, air, task)
        part_load = min(part_load, 1.0)
        f = part_load * share * running.removal_kg_s - (
            task.removal_base_kg_s
            + task.removal_per_runtime_kg_s * runtime_of(part_load, plant.degradation)
        )
        if f >= 0.0:
            best = running
            best_load = part_load
            best_share = share
            low = surface
            f_low = f
            if side == 1:
                f_high *= 0.5
            side = 1
        else:
            high = surface
            f_high = f
            if side == -1:
                f_low *= 0.5
            side = -1
        if step == 1:
            side = 0
            if f >= 0.0:
                break
        if abs(f) < 1e-13 or high - low < 1e-11:
            if f < 0.0:
                best = running
                best_load = part_load
                best_share = share
            break
    return best, best_load, best_share


@compiled
def share_hour(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    condensing_C: float,
    start_surface_C: float,
) -> tuple[Running, float, float, int]:
    """How the unit runs through the hour at a condensing temperature.

    Returns the running state, the part load at it, the latent share and 1 where it is flat out
    and the task is not met.

    A cycling unit always runs at full displacement. A variable one meets a sensible load at the
    mildest coil that does it, all hour; asked for more drying it first lowers the coil and stops
    part of the hour, so that the sensible cooling stays what the room needs; once the leaving air
    is at the drying temperature it overcools, first for longer, then colder.
    """
    if task.kind == FULL_CAPACITY or plant.capacity_control == CYCLING:
        full = run_at(unit, plant, 1.0, air, condensing_C, start_surface_C)
        if task.kind == FULL_CAPACITY:
            return full, 1.0, 1.0, 0
        if task.kind == MATCH_SENSIBLE:
            part_load, share = match_sensible(plant, full, air, task)
        else:
            part_load, share = match_removal(plant, full, air, task)
        if part_load > 1.0:
            return full, 1.0, 1.0, 1
        return full, part_load, share, 0

    needed = max(task.sensible_base_W + task.sensible_per_runtime_W, 0.0)
    mild_surface = surface_for_sensible(unit, plant, needed, air, start_surface_C)
    mild = run_at_surface(unit, plant, mild_surface, air, condensing_C)
    part_load, share = match_sensible(plant, mild, air, task)
    if task.kind == MATCH_SENSIBLE:
        if part_load > 1.0 + 1e-9:
            return mild, 1.0, 1.0, 1
        return mild, min(part_load, 1.0), share, 0

    bypass = bypass_factor(unit.bypass_area_kg_s, plant.flow_kg_s)
    low_surface = surface_for_leaving_temp(
        air.temp_C,
        air.hum_ratio,
        min(plant.drying_leaving_C, air.temp_C - 1.0),
        bypass,
        air.pressure_Pa,
        mild_surface,
    )
    low_surface = min(low_surface, mild_surface)
    drying = run_at_surface(unit, plant, low_surface, air, condensing_C)
    by_need, by_need_share = match_sensible(plant, drying, air, task)
    by_need = min(by_need, 1.0)
    removed = by_need * by_need_share * drying.removal_kg_s
    asked = task.removal_base_kg_s + task.removal_per_runtime_kg_s * runtime_of(
        by_need, plant.degradation
    )
    if removed >= asked:
        running, by_need, by_need_share = milder_coil(
            unit, plant, air, task, condensing_C, low_surface, mild_surface
        )
        return running, by_need, by_need_share, 0
    part_load, share = match_removal(plant, drying, air, task)
    if part_load <= 1.0:
        return drying, part_load, share, 0
    asked = task.removal_base_kg_s + task.removal_per_runtime_kg_s
    surface = surface_for_leaving_hum_ratio(
        air.hum_ratio, air.hum_ratio - asked / plant.flow_kg_s, bypass, air.pressure_Pa
    )
    if math.isnan(surface):
        surface = -60.0
    deep = run_at_surface(unit, plant, surface, air, condensing_C)
    limited = 1 if deep.removal_kg_s < asked * (1.0 - 1e-9) else 0
    return deep, 1.0, 1.0, limited


@compiled
def operate(
    unit: UnitMap,
    plant: Plant,
    air: AirIn,
    task: Task,
    start_surface_C: float,
    start_condensing_C: float,
) -> Operation:
    """The unit's hour, with the condensing temperature solved.

    The condensing temperature is the highest of the floor; outdoor temperature + (rejected -
    recovered) / outdoor-coil conductance; and, where the reheat coil needs a hotter condenser,
    leaving-coil temperature + recovered / (effectiveness x air capacity rate), which may not pass
    the ceiling: the ceiling then limits what is recovered.
    """
    conductance = unit.condenser_conductance_W_K
    condensing = start_condensing_C
    surface = start_surface_C
    running, part_load, share, limited = share_hour(unit, plant, air, task, condensing, surface)
    runtime = 0.0
    sensible = 0.0
    recovered_on = 0.0
    available = 0.0
    reject_on = 0.0
    before_C = condensing
    gap_before = 0.0
    highest = max(plant.condensing_ceiling_C, plant.condensing_floor_C)
    for iteration in range(40):
        runtime = runtime_of(part_load, plant.degradation)
        latent = running.total_W - running.sensible_W
        sensible = part_load * (running.total_W - share * latent)
        reject_on = running.total_W + running.compressor_W
        recovered_on = 0.0
        available = 0.0
        reheat_condensing = -1e9
        if task.recover == 1:
            needed = task.sensible_base_W + task.sensible_per_runtime_W * runtime
            overcooling = max(sensible - needed, 0.0)
            # Bought reheat serves as long as the fan runs, condenser heat with the compressor.
            fan = runtime if task.fan_cycles == 1 else 1.0
            before = plant.reheat_before_W * fan
            available = before + plant.reheat_after_W * fan
            if plant.recovery_effectiveness > 0.0 and runtime > 0.0:
                capacity_rate = plant.flow_kg_s * heat_capacity(running.hum_ratio)
                entering = running.temp_C
                if before > 0.0:
                    entering += min(before, overcooling) / fan / capacity_rate
                reach = plant.recovery_effectiveness * capacity_rate
                # The heat rejected over the hour, per hour of running.
                rejected = part_load / runtime * running.total_W + running.compressor_W
                limit = min(
                    min(plant.recovery_capacity_W, rejected), max(reach * (highest - entering), 0.0)
                )
                available += limit * runtime
                recovered_on = min(max(overcooling - before, 0.0) / runtime, limit)
                if recovered_on > 0.0:
                    reheat_condensing = entering + recovered_on / reach
        by_outdoors = air.outdoor_C + (reject_on - recovered_on) / conductance
        gap = max(plant.condensing_floor_C, max(by_outdoors, reheat_condensing)) - condensing
        if abs(gap) < 2e-6:
            break
        # A hotter condenser rejects hardly less: the plain step nearly lands, the secant does.
        step = gap
        if iteration > 0 and gap != gap_before:
            secant = -gap * (condensing - before_C) / (gap - gap_before)
            if abs(secant) < 3.0 * abs(gap):
                step = secant
        before_C = condensing
        gap_before = gap
        condensing += step
        surface = running.surface_C
        running, part_load, share, limited = share_hour(
            unit, plant, air, task, condensing, surface
        )
    lift = condensing - air.outdoor_C
    if plant.condenser_fan_follows == 1 and lift > 0.0:
        fan_share = min(max((reject_on - recovered_on) / (conductance * lift), 0.0), 1.0)
    else:
        fan_share = 1.0
    latent = running.total_W - running.sensible_W
    total = part_load * running.total_W
    removal = part_load * share * running.removal_kg_s
    if share < 1.0:
        sensible = total - removal * vapour_enthalpy(air.temp_C)
    compressor = runtime * running.compressor_W
    recovered = recovered_on * runtime
    return Operation(
        runtime,
        part_load,
        running.fraction,
        total,
        sensible,
        removal,
        compressor,
        runtime * fan_share * unit.condenser_fan_W,
        condensing,
        running.surface_C,
        running.suction_C,
        running.temp_C,
        running.hum_ratio,
        recovered,
        available,
        total + compressor - recovered,
        limited,
        running.floor_hit,
    )
