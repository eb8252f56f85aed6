"""A unit at stated conditions: what it cools and dries, and how warm its reheat can make the air.

The hour's own solution is asked, with the condensing temperature solved for floor, ceiling and
recovery: nothing is modeled a second time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dewledger.assembly.machine import Machine
from dewledger.assembly.reheat import floor_in_reheat
from dewledger.components.air_processes import heated, mix
from dewledger.dx_unit.part_load import air_on_coil
from dewledger.dx_unit.steady_state import outside_map
from dewledger.dx_unit.types import (
    FULL_CAPACITY,
    MATCH_REMOVAL,
    MATCH_SENSIBLE,
    ON_OFF,
    SUBCOOLING,
    WRAP_AROUND,
    AirIn,
    Operation,
    Plant,
    Task,
    UnitMap,
)
from dewledger.hourly.dehumidification import humidity_limit
from dewledger.hourly.types import DEW_POINT, NO_CONTROL
from dewledger.hourly.unit_alone import ANSWERED
from dewledger.hourly.year import operate_alone
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import (
    heat_capacity,
    hum_ratio_from_rel_hum,
    hum_ratio_from_wet_bulb,
    rel_hum_from_hum_ratio,
    saturation_hum_ratio,
    wet_bulb,
)

# Sensible cooling of which nothing is needed, so that all of it is reheat load.
_NOTHING_NEEDED_W = -1e7
# Arrangements whose heat does not follow how far the condenser may be raised.
_FIXED = (ON_OFF, SUBCOOLING, WRAP_AROUND)
# An outdoor coil that any heat leaves without a rise: the condenser stands at its floor.
_NO_LIFT_W_K = 1e12
FULL_LOAD = 1.0
HALF_LOAD = 0.5
RAINY_DAY_C = 65.0 / 1.8 - 32.0 / 1.8


@dataclass(frozen=True)
class Condition:
    """The unit at one condition; heats and powers are means over an hour.

    Without reheat: the first group. With all the reheat the unit can give: ``reheat``, up to the
    condensing ceiling; ``reheat_unraised`` as far as the condensing temperature of the weather and
    the floor reaches. Temperatures hold while the compressor runs; ``reheated`` is off the reheat
    coil, before the supply fan. There is no reheat where the coil takes no moisture out.
    """

    outdoor_C: float
    temp_in_C: float
    wet_bulb_in_C: float
    runtime: float
    total_W: float
    sensible_W: float
    compressor_W: float
    condenser_fan_W: float
    condensing_C: float
    suction_C: float
    leaving_C: float
    reheat_W: float
    reheat_total_W: float  # coil heat in reheat
    reheat_compressor_W: float
    reheat_condensing_C: float
    reheat_suction_C: float
    reheat_leaving_C: float  # off the cooling coil in reheat
    reheated_C: float
    reheat_unraised_W: float
    reheated_unraised_C: float
    dry: bool  # the coil takes no moisture out at full capacity
    surface_floor: bool
    outside_map: bool

    @property
    def sensible_heat_ratio(self) -> float:
        """Sensible over total capacity."""
        return self.sensible_W / self.total_W

    @property
    def power_W(self) -> float:
        """Compressor and outdoor fan."""
        return self.compressor_W + self.condenser_fan_W


def recovers(machine: Machine) -> bool:
    """Whether the option recovers any condenser or loop heat."""
    plant = machine.plant
    return plant.recovery_effectiveness > 0.0 or plant.drying_effectiveness > 0.0


def _operate(
    machine: Machine, unit: UnitMap, plant: Plant, air: AirIn, task: Task, condensing_C: float
) -> Operation:
    """One condition, searched for from a condensing temperature."""
    asked = np.array([(*air, *task, air.temp_C - 12.0, condensing_C)])
    _, _, room, control, sources, _ = machine.of_year
    answer = operate_alone(unit, plant, room, control, sources, asked)[:, 0]
    found = dict(zip(ANSWERED, answer.tolist(), strict=True))
    flags = {name: int(found[name]) for name in ("limited", "floor_hit", "bound")}
    return Operation(**found | flags)


def _run(machine: Machine, plant: Plant, air: AirIn, task: Task) -> Operation:
    found = _operate(machine, machine.unit.map, plant, air, task, air.outdoor_C + 12.0)
    if not found.total_W > 0.0:
        raise InputError(
            f"the unit takes no heat from air of {air.temp_C:.1f} C at {air.outdoor_C:.1f} C "
            "outdoors; state warmer entering air"
        )
    return found


def _unraised(
    machine: Machine, plant: Plant, air: AirIn, task: Task, without_C: float
) -> Operation:
    """Reheat with the condenser where weather and floor put it, not raised for the reheat coil.

    The ceiling is lowered to the condensing temperature that then results: bisection between the
    floor and the one without reheat.
    """
    low = floor_in_reheat(plant)
    high = max(without_C, low)
    found = _run(machine, plant._replace(condensing_ceiling_C=high), air, task)
    for _ in range(30):
        if high - low < 1e-4:
            break
        middle = 0.5 * (low + high)
        trial = _run(machine, plant._replace(condensing_ceiling_C=middle), air, task)
        if trial.condensing_C > middle + 1e-5:
            low = middle
        else:
            high, found = middle, trial
    return found


def _reheated(plant: Plant, found: Operation) -> float:
    if found.recovered_W <= 0.0:
        return found.on_temp_C
    rate = plant.flow_kg_s * heat_capacity(found.on_hum_ratio)
    return found.on_temp_C + found.recovered_W / found.runtime / rate


def condition(
    machine: Machine,
    outdoor_C: float,
    temp_in_C: float,
    hum_ratio_in: float,
    pressure_Pa: float,
    load: float = FULL_LOAD,
) -> Condition:
    """The unit of an option with air entering its cooling coil, supply fan running.

    Parameters
    ----------
    temp_in_C, hum_ratio_in : air onto the cooling coil
    load : 1 for at full capacity; below, that share of the sensible cooling it has at full capacity
    and, in reheat,
        of the moisture it then removes, met as the unit's capacity control meets it
    """
    # Purchased reheat has no part here.
    plant = machine.plant._replace(reheat_before_W=0.0, reheat_after_W=0.0)
    air = air_on_coil(plant, temp_in_C, hum_ratio_in, pressure_Pa, outdoor_C, plant.flow_kg_s)
    full = _run(machine, plant, air, Task(FULL_CAPACITY, 0.0, 0.0, 0.0, 0.0, 0, 0))
    plain = full
    drying = Task(FULL_CAPACITY, _NOTHING_NEEDED_W, 0.0, 0.0, 0.0, 0, 1)
    if load < FULL_LOAD:
        asked = Task(MATCH_SENSIBLE, load * full.sensible_W, 0.0, 0.0, 0.0, 0, 0)
        plain = _run(machine, plant, air, asked)
        removal = load * full.removal_kg_s
        drying = Task(MATCH_REMOVAL, _NOTHING_NEEDED_W, 0.0, removal, 0.0, 0, 1)
    most = unraised = None
    if recovers(machine) and full.removal_kg_s > 0.0:
        most = _run(machine, plant, air, drying)
        unraised = most
        if plant.arrangement not in _FIXED:
            without = _run(machine, plant, air, drying._replace(recover=0))
            unraised = _unraised(machine, plant, air, drying, without.condensing_C)
    states = [found for found in (plain, most) if found is not None]
    return Condition(
        outdoor_C,
        temp_in_C,
        wet_bulb(temp_in_C, hum_ratio_in, pressure_Pa),
        plain.runtime,
        plain.total_W,
        plain.sensible_W,
        plain.compressor_W,
        plain.condenser_fan_W,
        plain.condensing_C,
        plain.suction_C,
        plain.on_temp_C,
        most.recovered_W if most else 0.0,
        most.total_W if most else plain.total_W,
        most.compressor_W if most else plain.compressor_W,
        most.condensing_C if most else plain.condensing_C,
        most.suction_C if most else plain.suction_C,
        most.on_temp_C if most else plain.on_temp_C,
        _reheated(plant, most) if most else plain.on_temp_C,
        unraised.recovered_W if unraised else 0.0,
        _reheated(plant, unraised) if unraised else plain.on_temp_C,
        not full.removal_kg_s > 0.0,
        any(found.floor_hit == 1 for found in states),
        any(
            outside_map(
                machine.unit.map, temp_in_C, hum_ratio_in, pressure_Pa, plant.flow_kg_s,
                found.suction_C, found.condensing_C,
            ) == 1
            for found in states
        ),
    )  # fmt: skip


def heat_by_subcooling(
    machine: Machine,
    air: AirIn,
    needed_W: float,
    removal_kg_s: float,
    condensing_C: float,
    fan_cycles: int,
) -> float:
    """What the subcooling coil gives [W] of an hour's heat, where a reheat coil follows it.

    The hour once more without the reheat coil, its condenser held where the hour had it: the liquid
    and the air that meet in the first coil are then the same.

    Parameters
    ----------
    air : onto the cooling coil
    needed_W, removal_kg_s : sensible cooling that the room needed and moisture removed in the hour
    """
    plant = machine.plant._replace(
        arrangement=SUBCOOLING, recovery_effectiveness=0.0, condensing_floor_C=condensing_C
    )
    unit = machine.unit.map._replace(condenser_conductance_W_K=_NO_LIFT_W_K)
    task = Task(MATCH_REMOVAL, needed_W, 0.0, removal_kg_s, 0.0, fan_cycles, 1)
    return _operate(machine, unit, plant, air, task, condensing_C).recovered_W


@dataclass(frozen=True)
class ConditionMap:
    """A unit over outdoor temperature and entering wet bulb, at full capacity and at half load.

    ``full`` and ``half`` are rows by wet bulb, columns by outdoor temperature.
    """

    outdoor_C: tuple[float, ...]
    wet_bulb_C: tuple[float, ...]
    temp_in_C: float
    pressure_Pa: float
    full: tuple[tuple[Condition, ...], ...]
    half: tuple[tuple[Condition, ...], ...]


def condition_map(
    machine: Machine,
    outdoor_C: Sequence[float],
    wet_bulb_C: Sequence[float],
    temp_in_C: float,
    pressure_Pa: float,
) -> ConditionMap:
    """The unit of an option over outdoor temperatures and entering wet bulbs at one dry bulb."""
    for wet in wet_bulb_C:
        if hum_ratio_from_wet_bulb(temp_in_C, wet, pressure_Pa) <= 0.0 or wet > temp_in_C:
            raise InputError(
                f"air of {temp_in_C:.1f} C dry bulb cannot have a wet bulb of {wet:.1f} C; state "
                "another entering dry bulb"
            )

    def grid(load: float) -> tuple[tuple[Condition, ...], ...]:
        return tuple(
            tuple(
                condition(
                    machine, outdoor, temp_in_C,
                    hum_ratio_from_wet_bulb(temp_in_C, wet, pressure_Pa), pressure_Pa, load,
                )
                for outdoor in outdoor_C
            )
            for wet in wet_bulb_C
        )  # fmt: skip

    return ConditionMap(
        tuple(outdoor_C), tuple(wet_bulb_C), temp_in_C, pressure_Pa, grid(FULL_LOAD),
        grid(HALF_LOAD),
    )  # fmt: skip


def rated_condition(machine: Machine, pressure_Pa: float) -> Condition:
    """The unit of an option at its rating condition, at the air flow of the case."""
    unit = machine.unit
    return condition(
        machine, unit.rated_outdoor_C, unit.rated_temp_in_C, unit.rated_hum_ratio_in, pressure_Pa
    )


@dataclass(frozen=True)
class RainyDay:
    """At full capacity on a mild day of rain: saturated air outdoors, the room at its humidity
    limit.
    """

    state: Condition
    room_C: float
    room_rh: float
    outdoor_share: float
    fan_rise_K: float  # of a fan after the coils; 0 where the fan blows through


def rainy_day(
    machine: Machine,
    room_C: float,
    limit: float | None,
    outdoor_flow_kg_s: float,
    pressure_Pa: float,
    outdoor_C: float = RAINY_DAY_C,
) -> RainyDay:
    """The unit at full capacity on a rainy day.

    Parameters
    ----------
    limit : of the humidity control, None without; the top of the range then
    """
    plant = machine.plant
    control = machine.control.humidity_control
    if control == NO_CONTROL or limit is None:
        w_room = hum_ratio_from_rel_hum(room_C, machine.range_high, pressure_Pa)
    else:
        w_room = humidity_limit(control, limit, room_C, pressure_Pa)
        if control == DEW_POINT:
            w_room = min(w_room, saturation_hum_ratio(room_C, pressure_Pa))
    share = outdoor_flow_kg_s / plant.flow_kg_s
    temp, w = mix(share, outdoor_C, saturation_hum_ratio(outdoor_C, pressure_Pa), room_C, w_room)
    rise = plant.fan_W / (plant.flow_kg_s * heat_capacity(w))
    if plant.blow_through == 1:
        temp = heated(temp, w, plant.fan_W / plant.flow_kg_s)
    found = condition(machine, outdoor_C, temp, w, pressure_Pa)
    return RainyDay(
        found,
        room_C,
        rel_hum_from_hum_ratio(room_C, w_room, pressure_Pa),
        share,
        0.0 if plant.blow_through == 1 else rise,
    )
