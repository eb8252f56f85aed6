"""From an option of a case and a weather year to the floats and arrays the hourly loop takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dewledger.assembly.air import (
    air_flows,
    devices,
    flow_control,
    full_capacity_flow,
    humidifier,
    low_humidity,
    network,
    outdoor_air_unit,
    recovery_fan_power,
    solar_gains,
)
from dewledger.assembly.calendar import Calendar, year_calendar
from dewledger.assembly.gains import Gains, hourly_gains
from dewledger.assembly.plausible import require_carried
from dewledger.assembly.premises import premises_to_look_at
from dewledger.assembly.reheat import UNLIMITED_W, humidistat, plant_of, recovery_of, unusual
from dewledger.assembly.unit import build_unit
from dewledger.case import Case, OptionCase
from dewledger.case.reading.checks import area_infiltration
from dewledger.case.reheat import CONDENSER_COIL_DROP, EFFECTIVENESS
from dewledger.components.air_processes import fan_power
from dewledger.dx_unit.types import Plant, Unit, UnitMap
from dewledger.hourly.types import (
    CONDENSER,
    DEW_POINT,
    DRIVERS,
    ELECTRIC,
    FAN_CONTINUOUS,
    FAN_CYCLING,
    FAN_OFF,
    GAS,
    HOT_WATER,
    NO_CONTROL,
    RELATIVE_HUMIDITY,
    Control,
    ReheatSource,
    RoomResponse,
)
from dewledger.quantities import parse
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import (
    STANDARD_AIR_DENSITY,
    FloatArray,
    hum_ratio_from_rel_hum,
    specific_volume,
)
from dewledger.weather.year import WeatherYear

_SOURCES = {
    "electric": ELECTRIC,
    "gas": GAS,
    "hot water": HOT_WATER,
}
_HUMIDITY_CONTROLS = {
    "none": NO_CONTROL,
    "relative humidity": RELATIVE_HUMIDITY,
    "dew point": DEW_POINT,
}
_FAN_MODES = {"off": FAN_OFF, "continuous": FAN_CONTINUOUS, "cycling": FAN_CYCLING}
# Fan, drive and motor where an added pressure drop needs it and the case states only a power.
_FAN_EFFICIENCY = 0.6
# A heater without a stated size is not limited by it; how long a cycling fan runs for it follows
# the temperature rise of a typical furnace section (common practice, no source).
_HEATING_RISE_K = 22.0


@dataclass(frozen=True)
class Source:
    """A reheat source as the accounts need it: the purchased carrier of its heat."""

    name: str
    capacity_W: float
    efficiency: float
    carrier: str  # "electricity", "gas" or "" for recovered heat


@dataclass(frozen=True)
class Machine:
    """Everything the loop takes for one option, and what the accounts need in addition."""

    unit: Unit
    plant: Plant
    room: RoomResponse
    control: Control
    sources: FloatArray
    reheat: tuple[Source, ...]
    drivers: FloatArray
    calendar: Calendar
    range_low: float
    range_high: float
    notes: tuple[str, ...]
    lights_W: FloatArray  # electric power, hour by hour; part of the gains
    equipment_W: FloatArray
    to_look_at: tuple[str, ...] = ()  # premises that end `check` with 1
    # Fan power that a condenser-heat coil put there by an analysis would add, by its default drop.
    added_coil_fan_W: float = 0.0

    @property
    def of_year(self) -> tuple[UnitMap, Plant, RoomResponse, Control, FloatArray, FloatArray]:
        """What a solution of the year takes, in the order of ``hourly.year.solve_year``."""
        return (
            self.unit.map, self.plant, self.room, self.control, self.sources, self.drivers,
        )  # fmt: skip


# Tables of a case that say nothing of what its hours bring: weather, gains, set points, air.
_NOT_OF_THE_HOURS = frozenset(
    ("title", "note", "options", "reference", "unit", "reheat", "heating", "prices", "cost")
)


def assemble_all(options: Sequence[OptionCase], year: WeatherYear) -> list[Machine]:
    """Arrays and settings of all options of a case; those whose hours are alike share their arrays,
    which takes most of the work."""
    machines: list[Machine] = []
    for option in options:
        like = next(
            (
                machine
                for other, machine in zip(options, machines, strict=False)
                if _hours_alike(other.case, option.case)
            ),
            None,
        )
        machines.append(assemble(option, year, like))
    return machines


def _hours_alike(one: Case, other: Case) -> bool:
    """Whether two options of a case differ in nothing that its hours bring."""
    return all(
        value == other.__dict__[name]
        for name, value in one.__dict__.items()
        if name in Case.model_fields and name not in _NOT_OF_THE_HOURS
    )


def assemble(option: OptionCase, year: WeatherYear, like: Machine | None = None) -> Machine:
    """Arrays and settings of one option on one weather year.

    like : a machine of the same year whose hours are the same
    """
    case = option.case
    calendar = year_calendar(case.schedule, case.site.calendar_year)
    weather = year.arrays
    pressure = weather["pressure_Pa"]
    volume_to_mass = STANDARD_AIR_DENSITY
    if case.air.flow_basis == "actual":
        at = float(case.room.cooling_setpoint)
        mean = float(pressure.mean())
        volume_to_mass = 1.0 / specific_volume(at, hum_ratio_from_rel_hum(at, 0.5, mean), mean)
    flow = float(case.air.supply_flow) * volume_to_mass
    if case.air.fan_power is not None:
        fan_W = float(case.air.fan_power)
    elif case.air.fan_pressure is not None and case.air.fan_efficiency is not None:
        fan_W = fan_power(
            float(case.air.supply_flow),
            float(case.air.fan_pressure),
            float(case.air.fan_efficiency),
        )
    else:
        raise InputError(
            '[air] has no fan: write fan_power = "1.5 hp", or fan_pressure and fan_efficiency'
        )
    fan_W += recovery_fan_power(case)
    unit = build_unit(case, flow)
    recovery = recovery_of(case, flow)

    def coil_fan_W(drop_Pa: float) -> float:
        efficiency = float(case.air.fan_efficiency or _FAN_EFFICIENCY)
        return fan_power(float(case.air.supply_flow), drop_Pa, efficiency)

    coil_W = coil_fan_W(recovery.pressure_drop_Pa)
    fan_W += coil_W
    sources, reheat = _reheat(option)
    if like is None:
        gains = hourly_gains(case, calendar)
        drivers = _drivers(option, calendar, year, volume_to_mass, gains)
        lights_W, equipment_W = gains.lights_W, gains.equipment_W
    else:
        drivers, lights_W, equipment_W = like.drivers, like.lights_W, like.equipment_W
    room = _room(option, float(pressure.mean()), volume_to_mass)
    machine = Machine(
        unit,
        plant_of(option, unit, flow, fan_W, recovery)._replace(
            outdoor=devices(case, volume_to_mass),
            flow=flow_control(case),
            humidistat=humidistat(case, room.moisture_store_kg),
            full_capacity_kg_s=full_capacity_flow(case, unit.rated_total_W),
            coil_drop_share=coil_W / fan_W if coil_W > 0.0 else 0.0,
        ),
        room._replace(network=network(case, year)),
        _control(option, flow)._replace(
            humidifier=humidifier(case), outdoor_air_unit=outdoor_air_unit(case)
        ),
        sources,
        reheat,
        drivers,
        calendar,
        float(case.humidity.range_low),
        float(case.humidity.range_high),
        (*unit.notes, *unusual(case.unit.re_evaporation)),
        lights_W,
        equipment_W,
        premises_to_look_at(case, unit),
        coil_fan_W(float(parse(CONDENSER_COIL_DROP, "pressure"))),
    )
    separate_W = machine.control.outdoor_air_unit.room_capacity_W
    require_carried(drivers, machine.room.infiltration_kg_s, unit.rated_total_W + separate_W)
    return machine


def _reheat(option: OptionCase) -> tuple[FloatArray, tuple[Source, ...]]:
    """The sources in order of use: one row for recovered heat, one for each purchased source."""
    rows: list[ReheatSource] = []
    sources: list[Source] = []
    for source in option.case.reheat:
        capacity = UNLIMITED_W if source.capacity is None else float(source.capacity)
        recovered = source.source in EFFECTIVENESS
        carrier = "" if recovered else "electricity" if source.source == "electric" else "gas"
        efficiency = 1.0 if recovered else float(source.efficiency or 1.0)
        sources.append(Source(source.source, capacity, efficiency, carrier))
        auxiliary = float(source.auxiliary_power)
        if recovered and rows and rows[-1].kind == CONDENSER:
            rows[-1] = rows[-1]._replace(auxiliary_W=rows[-1].auxiliary_W + auxiliary)
            continue
        kind = float(CONDENSER if recovered else _SOURCES[source.source])
        gas = 1.0 if carrier == "gas" else 0.0
        rows.append(ReheatSource(kind, capacity, efficiency, auxiliary, gas))
    shape = (len(rows), len(ReheatSource._fields))
    return np.array(rows, dtype=np.float64).reshape(shape), tuple(sources)


def _room(option: OptionCase, pressure_Pa: float, volume_to_mass: float) -> RoomResponse:
    room = option.case.room
    floor = float(room.floor_area)
    volume = floor * float(room.height)
    start = float(room.cooling_setpoint)
    w_start = hum_ratio_from_rel_hum(start, float(room.start_relative_humidity), pressure_Pa)
    air = volume / specific_volume(start, w_start, pressure_Pa)
    if room.heat_capacity is not None:
        store = float(room.heat_capacity)
    else:
        store = float(room.heat_capacity_per_area or 0.0) * floor
    leak = area_infiltration(option.case)
    return RoomResponse(
        store,
        float(room.conductance or 0.0),
        air * float(room.moisture_storage_ratio),
        air * float(room.infiltration or 0.0) if leak is None else leak * volume_to_mass,
        start,
        w_start,
    )


def _control(option: OptionCase, flow_kg_s: float) -> Control:
    case = option.case
    heating = case.heating
    size = float(heating.capacity or flow_kg_s * 1006.0 * _HEATING_RISE_K)
    capacity = UNLIMITED_W if heating.capacity is None else size
    return Control(
        _HUMIDITY_CONTROLS[case.humidity.control],
        1 if case.humidity.priority == "humidity first" else 0,
        capacity,
        float(heating.efficiency or 1.0),
        1 if heating.source in ("gas", "hot water") else 0,
        size,
    )


def _drivers(
    option: OptionCase,
    calendar: Calendar,
    year: WeatherYear,
    volume_to_mass: float,
    gains: Gains,
) -> FloatArray:
    case = option.case
    weather = year.arrays
    conditioned = calendar.conditioned
    ones = np.ones(len(weather["temp_air_C"]))

    def by_occupancy(inside: float, outside: float | None) -> FloatArray:
        return np.where(conditioned, inside, inside if outside is None else outside) * ones

    room = case.room
    cooling = by_occupancy(room.cooling_setpoint, room.cooling_setpoint_unoccupied)
    heating = by_occupancy(room.heating_setpoint, room.heating_setpoint_unoccupied)
    low = heating if room.low_temperature_limit is None else room.low_temperature_limit * ones
    humidity = case.humidity
    if humidity.control == "none":
        limit = ones
    else:
        limit = by_occupancy(humidity.limit_value, humidity.limit_unoccupied_value)
    modes = by_occupancy(
        _FAN_MODES[case.air.fan],
        _FAN_MODES[case.air.fan_unoccupied] if case.air.fan_unoccupied else None,
    )
    flows = air_flows(case, calendar, modes)
    columns = {
        "outdoor_temp_C": weather["temp_air_C"],
        "outdoor_hum_ratio_kg_kg": weather["hum_ratio"],
        "pressure_Pa": weather["pressure_Pa"],
        "gains_sensible_W": gains.sensible_W,
        "gains_moisture_kg_s": gains.moisture_kg_s,
        "outdoor_air_kg_s": flows.outdoor_m3_s * volume_to_mass,
        "fan_mode": modes,
        "cooling_setpoint_C": cooling,
        "heating_setpoint_C": heating,
        "low_limit_C": low,
        "humidity_limit": limit,
        "solar_W": solar_gains(case, year),
        "low_humidity": low_humidity(case, calendar),
        "infiltration_share": calendar.profile_values(case.profile(room.infiltration_profile)),
        "make_up_kg_s": flows.make_up_m3_s * volume_to_mass,
        "exhaust_share": flows.exhaust_share,
    }
    return np.ascontiguousarray(np.column_stack([columns[name] for name in DRIVERS]))
