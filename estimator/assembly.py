"""From an option of a case and a weather year to the floats and arrays the hourly loop takes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from estimator.balance import Control, Room
from estimator.calendar import Calendar, year_calendar
from estimator.case import Case, OptionCase
from estimator.drying import DEW_POINT, NO_CONTROL, RELATIVE_HUMIDITY
from estimator.hour import (
    CONDENSER,
    DRIVERS,
    ELECTRIC,
    FAN_CONTINUOUS,
    FAN_CYCLING,
    FAN_OFF,
    GAS,
    HOT_WATER,
)
from estimator.loads import hourly_gains
from estimator.operation import (
    CYCLING,
    FAN_CONSTANT,
    FAN_STAGED,
    MODULATING,
    STAGES,
    VARIABLE,
    Plant,
)
from estimator.performance_table import unit_from_table
from estimator.processes import fan_power
from estimator.unit import Unit
from estimator.unit_ratings import unit_from_ratings
from weather.errors import InputError
from weather.moist_air import (
    STANDARD_AIR_DENSITY,
    FloatArray,
    hum_ratio_from_rel_hum,
    specific_volume,
)
from weather.year import WeatherYear

_SOURCES = {
    "condenser": CONDENSER,
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
_CAPACITY_CONTROLS = {"cycling": CYCLING, "variable": VARIABLE, "stages": STAGES}
_CONDENSER_FANS = {"constant": FAN_CONSTANT, "follows floor": FAN_STAGED}
_UNLIMITED_W = 1e12
# A heater without a stated size: the temperature rise of a typical furnace section (common
# practice, no source); it only sets how long a cycling fan runs for heating.
_HEATING_RISE_K = 22.0


@dataclass(frozen=True)
class Source:
    """A reheat source as the accounts need it: what a unit of its heat buys."""

    name: str
    capacity_W: float
    efficiency: float
    buys: str  # "electricity", "gas" or "" for recovered heat


@dataclass(frozen=True)
class Machine:
    """Everything the loop takes for one option, and what the accounts need beside it."""

    unit: Unit
    plant: Plant
    room: Room
    control: Control
    sources: FloatArray
    reheat: tuple[Source, ...]
    drivers: FloatArray
    calendar: Calendar
    range_low: float
    range_high: float
    notes: tuple[str, ...]


def assemble(option: OptionCase, year: WeatherYear) -> Machine:
    """Arrays and settings of one option on one weather year."""
    case = option.case
    calendar = year_calendar(case.schedule, case.site.calendar_year)
    frame = year.frame
    pressure = frame["pressure_Pa"].to_numpy()
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
    unit = build_unit(case)
    sources, reheat = _reheat(option)
    drivers = _drivers(option, calendar, year, volume_to_mass)
    return Machine(
        unit,
        _plant(option, unit, flow, fan_W, reheat),
        _room(option, float(pressure.mean())),
        _control(option, flow),
        sources,
        reheat,
        drivers,
        calendar,
        float(case.humidity.range_low),
        float(case.humidity.range_high),
        unit.notes,
    )


def build_unit(case: Case) -> Unit:
    """The unit of a case, from its rating point or its performance table."""
    settings = case.unit
    condenser_fan = _optional(settings.condenser_fan_power)
    rated_flow = float(case.air.supply_flow if settings.rated_flow is None else settings.rated_flow)
    stated = settings.model_fields_set
    condensing = float(settings.rated_condensing) if "rated_condensing" in stated else None
    if settings.method == "table":
        return unit_from_table(
            case.path_to(settings.table),
            columns=settings.table_columns,
            net=settings.rating == "AHRI net",
            rated_flow_m3_s=rated_flow,
            rated_fan_W=_optional(settings.rated_fan_power),
            condenser_fan_W=condenser_fan,
            temp_in_C=float(settings.rated_entering_dry_bulb),
            wet_bulb_C=float(settings.rated_entering_wet_bulb),
            outdoor_C=float(settings.rated_outdoor),
            condensing_C=condensing,
            surface_floor_C=float(settings.surface_floor),
        )
    total = float(settings.total_capacity)
    if settings.sensible_capacity is not None:
        sensible = float(settings.sensible_capacity)
    else:
        sensible = float(settings.sensible_heat_ratio) * total
    return unit_from_ratings(
        refrigerant=settings.refrigerant,
        total_W=total,
        sensible_W=sensible,
        net=settings.rating == "AHRI net",
        efficiency_cop=_optional(settings.efficiency),
        compressor_W=_optional(settings.compressor_power),
        rated_flow_m3_s=rated_flow,
        rated_fan_W=_optional(settings.rated_fan_power),
        condenser_fan_W=condenser_fan,
        temp_in_C=float(settings.rated_entering_dry_bulb),
        wet_bulb_C=float(settings.rated_entering_wet_bulb),
        outdoor_C=float(settings.rated_outdoor),
        suction_C=float(settings.rated_suction) if "rated_suction" in stated else None,
        condensing_C=condensing,
        superheat_K=float(settings.superheat),
        subcooling_K=float(settings.subcooling),
        clearance=float(settings.clearance),
        surface_floor_C=float(settings.surface_floor),
    )


def _optional(value: float | None) -> float | None:
    return None if value is None else float(value)


def _plant(
    option: OptionCase, unit: Unit, flow_kg_s: float, fan_W: float, reheat: tuple[Source, ...]
) -> Plant:
    case = option.case
    settings = case.unit
    listed = [source.name for source in reheat]
    place = listed.index("condenser") if "condenser" in listed else len(listed)
    condenser = case.reheat[place] if place < len(listed) else None
    recovery = condenser is not None
    evaporation = settings.re_evaporation
    wet = evaporation is not None and evaporation.model != "none"
    return Plant(
        flow_kg_s,
        fan_W,
        1 if case.air.fan_position == "blow-through" else 0,
        _CAPACITY_CONTROLS[settings.capacity_control],
        (1.0, 1.0, 1.0, 1.0),
        float(settings.minimum_capacity),
        float(settings.cycling_degradation),
        float(settings.drying_leaving_temperature),
        float(settings.condensing_floor),
        float(settings.condensing_ceiling),
        _CONDENSER_FANS[settings.condenser_fan_control],
        MODULATING,
        0.0,
        0.0,
        0.0,
        float(condenser.effectiveness) if condenser is not None else 0.0,
        reheat[place].capacity_W if recovery else 0.0,
        sum(source.capacity_W for source in reheat[:place]),
        sum(source.capacity_W for source in reheat[place + 1 :]),
        float(evaporation.wet_time) if wet else 0.0,
        float(evaporation.gamma) if wet else 0.0,
        float(evaporation.start_up_time) if wet else 0.0,
        float(evaporation.cycles_per_hour) if evaporation is not None else 3.0,
        max(unit.rated_latent_W, 1.0),
        max(unit.rated_depression_K, 0.1),
    )


def _reheat(option: OptionCase) -> tuple[FloatArray, tuple[Source, ...]]:
    rows = []
    sources = []
    for source in option.case.reheat:
        capacity = _UNLIMITED_W if source.capacity is None else float(source.capacity)
        buys = {"condenser": "", "electric": "electricity"}.get(source.source, "gas")
        efficiency = 1.0 if source.source == "condenser" else float(source.efficiency)
        sources.append(Source(source.source, capacity, efficiency, buys))
        rows.append(
            (
                float(_SOURCES[source.source]),
                capacity,
                efficiency,
                float(source.auxiliary_power),
                1.0 if buys == "gas" else 0.0,
            )
        )
    return np.array(rows, dtype=np.float64).reshape(len(rows), 5), tuple(sources)


def _room(option: OptionCase, pressure_Pa: float) -> Room:
    room = option.case.room
    floor = float(room.floor_area)
    volume = floor * float(room.height)
    start = float(room.cooling_setpoint)
    w_start = hum_ratio_from_rel_hum(start, float(room.start_relative_humidity), pressure_Pa)
    air = volume / specific_volume(start, w_start, pressure_Pa)
    if room.heat_capacity is not None:
        store = float(room.heat_capacity)
    else:
        store = float(room.heat_capacity_per_area) * floor
    return Room(
        store,
        float(room.conductance),
        air * float(room.moisture_capacity_multiplier),
        air * float(room.infiltration),
        start,
        w_start,
    )


def _control(option: OptionCase, flow_kg_s: float) -> Control:
    case = option.case
    heating = case.heating
    capacity = (
        flow_kg_s * 1006.0 * _HEATING_RISE_K
        if heating.capacity is None
        else float(heating.capacity)
    )
    return Control(
        _HUMIDITY_CONTROLS[case.humidity.control],
        1 if case.humidity.priority == "humidity first" else 0,
        capacity,
        float(heating.efficiency),
        1 if heating.source in ("gas", "hot water") else 0,
    )


def _drivers(
    option: OptionCase, calendar: Calendar, year: WeatherYear, volume_to_mass: float
) -> FloatArray:
    case = option.case
    frame = year.frame
    occupied = calendar.occupied
    gains = hourly_gains(case, calendar)
    ones = np.ones(len(frame))

    def by_occupancy(inside: float, outside: float | None) -> FloatArray:
        return np.where(occupied, inside, inside if outside is None else outside) * ones

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
    outdoor = (
        float(case.air.outdoor_flow)
        * volume_to_mass
        * calendar.profile_values(case.profile(case.air.outdoor_profile))
    )
    columns = {
        "outdoor_temp_C": frame["temp_air_C"].to_numpy(),
        "outdoor_hum_ratio_kg_kg": frame["hum_ratio"].to_numpy(),
        "pressure_Pa": frame["pressure_Pa"].to_numpy(),
        "gains_sensible_W": gains.sensible_W,
        "gains_moisture_kg_s": gains.moisture_kg_s,
        "outdoor_air_kg_s": outdoor,
        "fan_mode": modes,
        "cooling_setpoint_C": cooling,
        "heating_setpoint_C": heating,
        "low_limit_C": low,
        "humidity_limit": limit,
    }
    return np.ascontiguousarray(np.column_stack([columns[name] for name in DRIVERS]))
