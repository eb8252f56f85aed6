"""The unit's controls, its running states, and how cycling meets a task.

Three tasks: match a sensible load, match a moisture removal, or run flat out.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from estimator.coil import (
    bypass_factor,
    coil_leaving,
)
from estimator.flow_control import CONSTANT, FlowControl
from estimator.outdoor_air import NO_DEVICES, OutdoorAir
from estimator.re_evaporation import latent_ratio, scaled_evaporation_ratio, scaled_wet_time
from estimator.unit import UnitMap, fraction_for_surface, steady_state
from weather.compiled import by_address, compiled
from weather.moist_air import enthalpy, heat_capacity, wet_bulb

MATCH_SENSIBLE = 0
MATCH_REMOVAL = 1
FULL_CAPACITY = 2

CYCLING = 0
VARIABLE = 1
STAGES = 2  # all of the coil is active at every stage (intertwined circuits)
FACE_SPLIT = 3  # each stage has its share of the face; the rest passes air untreated

FAN_CONSTANT = 0
FAN_STAGED = 1
FAN_SPEED = 2

MODULATING = 0
ON_OFF = 1
SUBCOOLING = 2
SUBCOOLING_THEN_CONDENSER = 3
WRAP_AROUND = 4


@by_address
class Plant(NamedTuple):
    """The unit's controls, its fan and its reheat sources, as floats the compiled loop takes."""

    flow_kg_s: float  # dry air at full supply flow
    fan_W: float  # at full supply flow
    blow_through: int
    capacity_control: int  # CYCLING, VARIABLE, STAGES or FACE_SPLIT
    stages: tuple[float, float, float, float]  # rising displacement shares, padded with 1
    minimum_fraction: float
    degradation: float  # Cd of PLF = 1 - Cd (1 - PLR)
    drying_leaving_C: float  # a variable unit dries at this leaving temperature or colder
    condensing_floor_C: float
    condensing_ceiling_C: float
    condenser_fan_control: int  # FAN_CONSTANT, FAN_STAGED or FAN_SPEED
    arrangement: int  # MODULATING, ON_OFF, SUBCOOLING, SUBCOOLING_THEN_CONDENSER, WRAP_AROUND
    drying_effectiveness: float  # of the subcooling or wrap-around coil
    # Evaporator effect gained per kelvin of liquid cooling: a + b C + c C^2 of the condensing C.
    liquid_gain: tuple[float, float, float]
    liquid_offset_K: float  # condensing temperature less that of the liquid
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
    outdoor: OutdoorAir = NO_DEVICES
    flow: FlowControl = CONSTANT


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
    precool_W: float  # taken from the air by a wrap-around loop before the coil
    swing_W: float  # net cooling beyond the need in drying mode x the share of the hour it lasts
    limited: int  # 1: flat out and the task is not met
    floor_hit: int
    gap_K: float  # condensing temperature of the balance less that taken; matters in a rough look


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


class Shared(NamedTuple):
    """How the unit shares an hour at a condensing temperature: means over the hour."""

    runtime: float
    part_load: float
    total_W: float
    sensible_W: float
    removal_kg_s: float
    compressor_W: float
    reject_on_W: float  # heat rejected while running
    on: Running  # while running, weighted by runtime
    limited: int  # 1: flat out and the task is not met


class AirIn(NamedTuple):
    """Air entering the cooling coil, and the outdoors."""

    temp_C: float
    hum_ratio: float
    pressure_Pa: float
    outdoor_C: float
    flow_kg_s: float  # dry air
    depression_K: float = math.nan  # dry bulb less wet bulb, where a wet coil gives water back


@compiled
def air_on_coil(
    plant: Plant,
    temp_C: float,
    hum_ratio: float,
    pressure_Pa: float,
    outdoor_C: float,
    flow_kg_s: float,
) -> AirIn:
    """Air entering the cooling coil of a plant."""
    depression = math.nan
    if plant.wet_time_s > 0.0:
        depression = temp_C - wet_bulb(temp_C, hum_ratio, pressure_Pa)
    return AirIn(temp_C, hum_ratio, pressure_Pa, outdoor_C, flow_kg_s, depression)


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
    rough: int = 0  # 1: one look at the unit, its condensing temperature as it is guessed


@compiled
def fixed_point_step(gap: float, gap_before: float, step_before: float, damping: float) -> float:
    """Step towards where a gap closes that narrows about as fast as its place moves up.

    Secant through the last two looks; damped, where that is no help (a first look, a kink between).
    """
    if step_before != 0.0 and gap != gap_before:
        secant = -gap * step_before / (gap - gap_before)
        if abs(secant) < 3.0 * abs(gap):
            return secant
    return damping * gap


@compiled
def runtime_of(part_load: float, degradation: float) -> float:
    """Runtime fraction of a cycling unit: PLR / (1 - Cd (1 - PLR)).

    AHRI 210/240 part-load factor; the start-up loss is runtime without capacity.
    """
    return part_load / (1.0 - degradation * (1.0 - part_load))


@compiled
def part_load_of(runtime: float, degradation: float) -> float:
    """Part load of a runtime fraction: the inverse of ``runtime_of``."""
    return runtime * (1.0 - degradation) / (1.0 - degradation * runtime)


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
    return (
        scaled_wet_time(plant.wet_time_s, plant.rated_latent_W, latent),
        scaled_evaporation_ratio(
            plant.evaporation_ratio,
            plant.rated_latent_W,
            latent,
            plant.rated_depression_K,
            air.depression_K,
        ),
    )


@compiled
def latent_share(plant: Plant, wet_s: float, evaporation: float, runtime: float) -> float:
    """Share of the steady latent capacity that stays removed when the unit cycles."""
    if wet_s <= 0.0 or runtime >= 1.0:
        return 1.0
    return latent_ratio(runtime, wet_s, evaporation, plant.start_up_time_s, plant.cycles_per_hour)


@compiled
def run_at(
    unit: UnitMap,
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
        air.flow_kg_s,
        condensing_C,
        start_surface_C,
    )
    removal = air.flow_kg_s * (air.hum_ratio - hum_ratio)
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
    bypass = bypass_factor(unit.bypass_area_kg_s, air.flow_kg_s)
    surface = max(surface_C, unit.surface_floor_C)
    temp, hum_ratio = coil_leaving(air.temp_C, air.hum_ratio, surface, bypass, air.pressure_Pa)
    total = air.flow_kg_s * (enthalpy(air.temp_C, air.hum_ratio) - enthalpy(temp, hum_ratio))
    fraction, suction, power = fraction_for_surface(unit, surface, total, condensing_C)
    if fraction > 1.0:
        return run_at(unit, 1.0, air, condensing_C, surface)
    if fraction < plant.minimum_fraction:
        return run_at(unit, plant.minimum_fraction, air, condensing_C, surface)
    sensible = air.flow_kg_s * heat_capacity(hum_ratio) * (air.temp_C - temp)
    removal = air.flow_kg_s * (air.hum_ratio - hum_ratio)
    floor_hit = 1 if surface_C < unit.surface_floor_C else 0
    return Running(
        total, sensible, removal, power, surface, suction, temp, hum_ratio, fraction, floor_hit
    )


@compiled
def surface_for_sensible(unit: UnitMap, sensible_W: float, air: AirIn) -> float:
    """Coil surface temperature at which steady running takes out a sensible load."""
    bypass = bypass_factor(unit.bypass_area_kg_s, air.flow_kg_s)
    flow = air.flow_kg_s
    coldest = -60.0
    # The dry coil: straight line, exact where the surface stays above the dew point.
    rate = flow * heat_capacity(air.hum_ratio) * (1.0 - bypass)
    surface = max(air.temp_C - sensible_W / rate, coldest)
    temp, w = coil_leaving(air.temp_C, air.hum_ratio, surface, bypass, air.pressure_Pa)
    if w == air.hum_ratio:
        return surface
    # The wet coil bends little: secant steps, first with the dry slope.
    before = surface
    residual = flow * heat_capacity(w) * (air.temp_C - temp) - sensible_W
    residual_before = 0.0
    slope = -rate
    for step in range(40):
        if step > 0 and surface != before:
            slope = (residual - residual_before) / (surface - before)
        change = residual / slope
        before = surface
        residual_before = residual
        surface -= change
        if abs(change) < 1e-8:
            break
        if surface < coldest:
            return coldest
        temp, w = coil_leaving(air.temp_C, air.hum_ratio, surface, bypass, air.pressure_Pa)
        residual = flow * heat_capacity(w) * (air.temp_C - temp) - sensible_W
    return surface


@compiled
def part_load_for(rate: float, base: float, per_runtime: float, degradation: float) -> float:
    """Part load at which ``part_load * rate = base + per_runtime * runtime(part_load)``.

    The positive root of the quadratic that the part-load factor makes of it; above 1 where running
    all hour is not enough.
    """
    if rate <= 0.0:
        # A trial of air far above saturation, which leaves the coil warmer than it came.
        return 0.0
    if base + per_runtime >= rate:
        return (base + per_runtime) / rate
    if per_runtime == 0.0:
        return max(base / rate, 0.0)
    a = rate * degradation
    b = rate * (1.0 - degradation) - base * degradation - per_runtime
    c = -base * (1.0 - degradation)
    if a < 1e-12 * rate:
        return max(-c / b, 0.0) if b > 0.0 else 2.0
    return max(0.5 * (-b + math.sqrt(max(b * b - 4.0 * a * c, 0.0))) / a, 0.0)


@compiled
def wet_part_load(
    plant: Plant,
    wet_s: float,
    evaporation: float,
    free: float,
    kept: float,
    asked: float,
    start: float,
    end: float,
) -> tuple[float, float]:
    """Part load at which a wet coil that cycles meets a demand, and the latent share kept.

    ``part_load (free + kept x share) = asked``, rising with the part load; the answer lies between
    ``start``, the part load were all latent heat kept, and ``end``. Secant steps, halving where
    they leave the bracket.
    """
    close = 1e-9 * (abs(free) + abs(kept))
    low = min(start, end)
    high = max(start, end)
    found = start
    share = latent_share(plant, wet_s, evaporation, runtime_of(found, plant.degradation))
    rate = free + share * kept
    f = found * rate - asked
    new = asked / rate if rate > 0.0 else end
    for _ in range(60):
        if abs(f) < close or high - low < 1e-13:
            break
        if f > 0.0:
            high = found
        else:
            low = found
        if not (new > low and new < high):
            new = 0.5 * (low + high)
        before = found
        f_before = f
        found = new
        share = latent_share(plant, wet_s, evaporation, runtime_of(found, plant.degradation))
        f = found * (free + share * kept) - asked
        if f != f_before:
            new = found - f * (found - before) / (f - f_before)
    return found, share


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
    return wet_part_load(
        plant, wet, evaporation, running.total_W, -latent, task.sensible_base_W, part_load, 0.0
    )


@compiled
def match_removal(plant: Plant, running: Running, air: AirIn, task: Task) -> tuple[float, float]:
    """Part load and latent share at which cycling at ``running`` removes the moisture asked for."""
    if running.removal_kg_s <= 0.0:
        # A dry coil; with a cycling fan the outdoor air that comes with the runtime may dry.
        if task.removal_base_kg_s <= 0.0:
            return 0.0, 1.0
        dries = -task.removal_per_runtime_kg_s
        if dries <= task.removal_base_kg_s:
            return 2.0, 1.0
        return part_load_of(task.removal_base_kg_s / dries, plant.degradation), 1.0
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
    return wet_part_load(
        plant, wet, evaporation, 0.0, running.removal_kg_s, task.removal_base_kg_s, part_load, 1.0
    )


@compiled
def cycled(plant: Plant, running: Running, part_load: float, share: float, limited: int) -> Shared:
    """An hour of cycling at one running state."""
    runtime = runtime_of(part_load, plant.degradation)
    latent = running.total_W - running.sensible_W
    return Shared(
        runtime,
        part_load,
        part_load * running.total_W,
        part_load * (running.total_W - share * latent),
        part_load * share * running.removal_kg_s,
        runtime * running.compressor_W,
        running.total_W + running.compressor_W,
        running,
        limited,
    )


@compiled
def blended(first: Running, second: Running, share_second: float) -> Running:
    """Two running states weighted by the time spent in each."""
    a = 1.0 - share_second
    b = share_second
    return Running(
        a * first.total_W + b * second.total_W,
        a * first.sensible_W + b * second.sensible_W,
        a * first.removal_kg_s + b * second.removal_kg_s,
        a * first.compressor_W + b * second.compressor_W,
        a * first.surface_C + b * second.surface_C,
        a * first.suction_C + b * second.suction_C,
        a * first.temp_C + b * second.temp_C,
        a * first.hum_ratio + b * second.hum_ratio,
        a * first.fraction + b * second.fraction,
        max(first.floor_hit if a > 0.0 else 0, second.floor_hit if b > 0.0 else 0),
    )


@compiled
def time_shared(first: Shared, second: Shared, share_second: float) -> Shared:
    """Part of the hour run one way, the rest the other way."""
    a = 1.0 - share_second
    b = share_second
    runtime = a * first.runtime + b * second.runtime
    weight = b * second.runtime / runtime if runtime > 0.0 else b
    return Shared(
        runtime,
        a * first.part_load + b * second.part_load,
        a * first.total_W + b * second.total_W,
        a * first.sensible_W + b * second.sensible_W,
        a * first.removal_kg_s + b * second.removal_kg_s,
        a * first.compressor_W + b * second.compressor_W,
        (1.0 - weight) * first.reject_on_W + weight * second.reject_on_W,
        blended(first.on, second.on, weight),
        0,
    )


@compiled
def condenser_fan_share(
    control: int, reject_W: float, conductance_W_K: float, lift_K: float
) -> float:
    """Share of its rated power that the outdoor fan draws while the compressor runs.

    Conductance is taken to follow the air flow: a staged (or cycling) fan needs power in
    proportion to it, a fan of variable speed in proportion to its cube (fan laws).
    """
    if control == FAN_CONSTANT or lift_K <= 0.0:
        return 1.0
    share = min(max(reject_W / (conductance_W_K * lift_K), 0.0), 1.0)
    if control == FAN_SPEED:
        return share * share * share
    return share


@compiled
def most_from_condenser(
    reach_W_K: float,
    entering_C: float,
    highest_C: float,
    outdoor_C: float,
    reject_W: float,
    conductance_W_K: float,
) -> float:
    """Most heat [W] a reheat coil can take from the condenser.

    ``reach_W_K`` is effectiveness x air capacity rate. Either the condensing temperature is raised
    up to ``highest_C``, or it stands where the outdoors hold it while the heat is diverted:
    heat = reach (outdoor + (reject - heat) / conductance - entering).
    """
    raised = reach_W_K * (highest_C - entering_C)
    standing = (
        reach_W_K
        * (outdoor_C + reject_W / conductance_W_K - entering_C)
        / (1.0 + reach_W_K / conductance_W_K)
    )
    return max(max(raised, standing), 0.0)
