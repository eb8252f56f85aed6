"""The unit's controls, its running states, and how cycling meets a task.

Three tasks: match a sensible load, match a moisture removal, or run at full capacity.

Floats of one hour in SI: arguments name their unit, or are listed in docs/nomenclature.md; fields
of the NamedTuples have theirs in types.py. Source: the part-load factor of AHRI Standard 210/240
(not checked against the text) and the wet coil of Henderson and Rengarajan (re_evaporation.py).
"""

from __future__ import annotations

import math

from dewledger.components.re_evaporation import (
    latent_ratio_and_slope,
    moisture_cycles_per_hour,
    scaled_evaporation_ratio,
    scaled_wet_time,
)
from dewledger.dx_unit.types import AirIn, Plant, Running, Shared, Task
from dewledger.weather.numerics.compiled import compiled
from dewledger.weather.physics.moist_air import wet_bulb


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
    return with_depression(
        plant, AirIn(temp_C, hum_ratio, pressure_Pa, outdoor_C, flow_kg_s, math.nan)
    )


@compiled
def with_depression(plant: Plant, air: AirIn) -> AirIn:
    """The air with its wet-bulb depression, where a coil of this plant re-evaporates."""
    if plant.wet_time_s <= 0.0:
        return air
    return AirIn(
        air.temp_C,
        air.hum_ratio,
        air.pressure_Pa,
        air.outdoor_C,
        air.flow_kg_s,
        air.temp_C - wet_bulb(air.temp_C, air.hum_ratio, air.pressure_Pa),
    )


@compiled
def fixed_point_step(gap: float, gap_before: float, step_before: float, damping: float) -> float:
    """Step toward where a gap closes that narrows about as fast as its place moves up.

    Secant through the last two evaluations; damped where that does not help (a first one, a kink
    between). ``gap``, ``gap_before`` and ``step_before`` in one unit [C or K]; ``damping`` a
    factor.
    """
    if step_before != 0.0 and gap != gap_before:
        secant = -gap * step_before / (gap - gap_before)
        if abs(secant) < 3.0 * abs(gap):
            return secant
    return damping * gap


@compiled
def runtime_of(plant: Plant, part_load: float) -> float:
    """Runtime fraction [0-1] of a cycling unit at a part load PLR [0-1].

    PLR (1 + a (1 - PLR)) / (1 - Cd (1 - PLR)); one of a and Cd is zero. With Cd it is the part-load
    factor of AHRI 210/240; with a = 0.13 power is that of AHRI 340/360, LF x (1.13 - 0.13 LF)
    (neither checked against the text). The start-up loss is runtime without capacity.
    """
    idle = 1.0 - part_load
    return part_load * (1.0 + plant.start_loss * idle) / (1.0 - plant.degradation * idle)


@compiled
def runtime_and_slope(plant: Plant, part_load: float) -> tuple[float, float]:
    """``runtime_of`` [0-1] and its derivative [1] by the part load; the derivative is our own."""
    idle = 1.0 - part_load
    more = 1.0 + plant.start_loss * idle
    factor = 1.0 - plant.degradation * idle
    runtime = part_load * more / factor
    return runtime, (more - plant.start_loss * part_load - runtime * plant.degradation) / factor


@compiled
def part_load_of(plant: Plant, runtime: float) -> float:
    """Part load [0-1] of a runtime fraction: the inverse of ``runtime_of``."""
    c = plant.degradation
    a = plant.start_loss
    if a <= 0.0:
        return runtime * (1.0 - c) / (1.0 - c * runtime)
    b = 1.0 + a - c * runtime
    return 2.0 * runtime * (1.0 - c) / (b + math.sqrt(b * b - 4.0 * a * runtime * (1.0 - c)))


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
def humidistat_rate(plant: Plant, running: Running) -> float:
    """Highest cycling rate [1/h] in a dehumidification call, by what the unit removes running."""
    if plant.humidistat.band_kg <= 0.0:
        return plant.cycles_per_hour
    rate = moisture_cycles_per_hour(running.removal_kg_s, plant.humidistat.band_kg)
    return min(max(rate, 1e-3), plant.humidistat.most_per_hour)


@compiled
def latent_share(
    plant: Plant, wet_s: float, evaporation: float, runtime: float, cycles_per_hour: float
) -> tuple[float, float]:
    """Share of the steady latent capacity that stays removed when the unit cycles, and its
    derivative by the runtime. Both [1]."""
    if wet_s <= 0.0 or runtime >= 1.0:
        return 1.0, 0.0
    return latent_ratio_and_slope(
        runtime, wet_s, evaporation, plant.start_up_time_s, cycles_per_hour
    )


# Of what the unit does running: what rounding leaves of a need, for which it does not start.
_NOTHING = 1e-12


@compiled
def part_load_for(plant: Plant, rate: float, base: float, per_runtime: float) -> float:
    """Part load at which ``part_load * rate = base + per_runtime * runtime(part_load)``.

    The largest root of the quadratic that the part-load factor makes of it; above 1 where running
    all hour is not enough, 0 where any running is.

    A part load [1]; ``rate``, ``base`` and ``per_runtime`` in one unit [W or kg/s].
    """
    if rate <= 0.0:
        # A trial of air far above saturation, which leaves the coil warmer than it came.
        return 0.0
    if base <= _NOTHING * rate and per_runtime == 0.0:
        return 0.0
    if base + per_runtime >= rate:
        return (base + per_runtime) / rate
    if per_runtime == 0.0:
        return base / rate
    loss = plant.degradation
    more = plant.start_loss
    a = rate * loss + per_runtime * more
    b = rate * (1.0 - loss) - base * loss - per_runtime * (1.0 + more)
    c = -base * (1.0 - loss)
    if base <= 0.0 and (b >= 0.0 or b * b < 4.0 * a * c):
        return 0.0
    if abs(a) < 1e-12 * rate:
        return max(-c / b, 0.0) if b > 0.0 else 2.0
    root = math.sqrt(max(b * b - 4.0 * a * c, 0.0))
    if a > 0.0:
        return max(0.5 * (root - b) / a, 0.0)
    # Dry outdoor air that comes with the runtime: the smaller of two positive roots.
    return max(-2.0 * c / (b + root), 0.0) if b + root > 0.0 else 2.0


# Where the slope changes by more between two looks, the share has met its bound, 0 or 1; where half
# the latent heat is lost, it bends too much.
_SMOOTH = 0.08


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
    cycles_per_hour: float,
) -> tuple[float, float]:
    """Part load at which a wet coil that cycles meets a demand, and the latent share kept.

    ``part_load (free + kept x share) = asked``, rising with the part load; the answer lies between
    ``start``, the part load were all latent heat kept, and ``end``. Newton's method, from its
    second look on with the bend that two slopes give, halving where it leaves the bracket; after a
    last short step, whose error is its square or cube, no look is needed.

    Both are fractions [1]; ``free``, ``kept`` and ``asked`` in one unit [W or kg/s].
    """
    low = min(start, end)
    high = max(start, end)
    found = start
    share = 1.0
    gradient = 0.0
    moved = 0.0
    for _ in range(60):
        gradient_before = gradient
        runtime, runtime_slope = runtime_and_slope(plant, found)
        share = 1.0
        slope = 0.0
        if runtime < 1.0:
            share, slope = latent_ratio_and_slope(
                runtime, wet_s, evaporation, plant.start_up_time_s, cycles_per_hour
            )
            slope *= runtime_slope
        f = found * (free + share * kept) - asked
        if f > 0.0:
            high = found
        else:
            low = found
        gradient = free + share * kept + found * slope * kept
        step = -f / gradient
        close = abs(step) < 3e-5 * found
        changed = abs(gradient - gradient_before)
        if moved != 0.0 and share > 0.5 and changed < _SMOOTH * gradient:
            bend = 0.5 * (gradient - gradient_before) / (moved * gradient) * step
            close = abs(step) < 4.5e-3 * found and abs(step * bend) < 2e-6 * found
            step *= 1.0 - bend
        new = found + step
        if close:
            found = new
            share = min(max((asked / found - free) / kept, 0.0), 1.0)
            break
        before = found
        found = new if new > low and new < high else 0.5 * (low + high)
        moved = found - before
        if high - low < 1e-13:
            break
    return found, share


@compiled
def no_cooling_needed(running: Running, task: Task) -> bool:
    """Whether nothing is needed while the unit is off, so that only the fan's own outdoor air would
    ask for cooling."""
    return task.sensible_per_runtime_W > 0.0 and (task.sensible_base_W <= 1e-9 * running.sensible_W)


@compiled
def match_sensible(
    plant: Plant, running: Running, air: AirIn, task: Task, cycles_per_hour: float
) -> tuple[float, float]:
    """Part load and latent share at which cycling at ``running`` meets the sensible demand.

    A part load above 1 says that running all hour is not enough.

    Fractions [1].
    """
    if no_cooling_needed(running, task):
        return 0.0, 1.0
    part_load = part_load_for(
        plant, running.sensible_W, task.sensible_base_W, task.sensible_per_runtime_W
    )
    wet, evaporation = evaporation_terms(plant, running, air, task)
    if wet <= 0.0 or part_load >= 1.0 or part_load <= 0.0:
        return part_load, 1.0
    # Less latent is more sensible: the answer lies below the part load without re-evaporation.
    latent = running.total_W - running.sensible_W
    return wet_part_load(
        plant, wet, evaporation, running.total_W, -latent, task.sensible_base_W, part_load, 0.0,
        cycles_per_hour,
    )  # fmt: skip


@compiled
def match_removal(
    plant: Plant, running: Running, air: AirIn, task: Task, cycles_per_hour: float
) -> tuple[float, float]:
    """Part load and latent share at which cycling at ``running`` removes the moisture asked for.

    Fractions [1].
    """
    if running.removal_kg_s <= 0.0:
        # A dry coil; with a cycling fan the outdoor air that comes with the runtime may dry.
        if task.removal_base_kg_s <= 0.0:
            return 0.0, 1.0
        dries = -task.removal_per_runtime_kg_s
        if dries <= task.removal_base_kg_s:
            return 2.0, 1.0
        return part_load_of(plant, task.removal_base_kg_s / dries), 1.0
    if (
        task.removal_per_runtime_kg_s > 0.0
        and task.removal_base_kg_s <= 1e-9 * running.removal_kg_s
        and task.sensible_base_W <= 1e-9 * abs(running.sensible_W)
    ):
        # Neither dry nor cool air is needed while it is off: only running would bring moisture.
        return 0.0, 1.0
    part_load = part_load_for(
        plant, running.removal_kg_s, task.removal_base_kg_s, task.removal_per_runtime_kg_s
    )
    wet, evaporation = evaporation_terms(plant, running, air, task)
    if wet <= 0.0 or part_load >= 1.0 or part_load <= 0.0:
        return part_load, 1.0
    # Water re-evaporated between runs requires more running.
    return wet_part_load(
        plant, wet, evaporation, 0.0, running.removal_kg_s, task.removal_base_kg_s, part_load, 1.0,
        cycles_per_hour,
    )  # fmt: skip


@compiled
def cycled(plant: Plant, running: Running, part_load: float, share: float, limited: int) -> Shared:
    """An hour of cycling at one running state."""
    runtime = runtime_of(plant, part_load)
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
        -1.0,
        running.surface_C,
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
        first.limited & second.limited,
        -1.0,
        first.start_surface_C,
    )
