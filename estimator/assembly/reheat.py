"""Controls, fan and recovered heat of an option, as the floats the hourly loop takes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dewledger.case import Case, OptionCase
from dewledger.case.reheat import EFFECTIVENESS, Reheat
from dewledger.case.unit import ReEvaporation
from dewledger.components.refrigerant_cycle import liquid_cooling_gain, tabled_cycle
from dewledger.dx_unit.types import (
    ALL_STAGES,
    AS_THERMOSTAT,
    CYCLING,
    FACE_SPLIT,
    FAN_CONSTANT,
    FAN_SPEED,
    FAN_STAGED,
    LEAST_OVERCOOLING,
    LEAVING_AIR,
    MODULATING,
    ON_OFF,
    STAGES,
    SUBCOOLING,
    SUBCOOLING_THEN_CONDENSER,
    UNRESTRICTED,
    VARIABLE,
    WRAP_AROUND,
    CondenserSource,
    Humidistat,
    Plant,
    Unit,
)
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import (
    STANDARD_PRESSURE_PA,
    heat_capacity,
    saturation_hum_ratio,
)

_CAPACITY_CONTROLS = {"cycling": CYCLING, "variable": VARIABLE, "stages": STAGES}
_CONDENSER_FANS = {
    "constant": FAN_CONSTANT,
    "staged": FAN_STAGED,
    "variable speed": FAN_SPEED,
}
UNLIMITED_W = 1e12
DRYING_CONTROLS = {
    "least overcooling": LEAST_OVERCOOLING,
    "all stages": ALL_STAGES,
    "leaving air": LEAVING_AIR,
}
# Usual spans of what the wet coil is described by (not checked against the report of Henderson and
# Rengarajan 1996 nor of those after them).
_USUAL = (
    ("wet_time", 720.0, 1400.0, "720 to 1400 s"),
    ("gamma", 1.0, 1.5, "1.0 to 1.5"),
    ("start_up_time", 45.0, 80.0, "45 to 80 s"),
    ("cycles_per_hour", 2.5, 3.1, "2.5 to 3.1"),
)
# AHRI 340/360: power at load factor LF is LF (1.13 - 0.13 LF) (not checked against the text).
COMMERCIAL_START_LOSS = 0.13
# Starts in an hour at half load where no wet coil is modeled; they matter to the temperature swing
# of two modes alone (common practice, no source).
_STARTS_WITHOUT = 3.0
# Least run in a dehumidification call: at least 5 min on and 5 min off (a thermostat's manual).
_LEAST_RUN_S = 300.0


def unusual(evaporation: ReEvaporation | None) -> tuple[str, ...]:
    """A note of each constant of re-evaporation outside its usual range."""
    if evaporation is None or evaporation.model == "none":
        return ()
    return tuple(
        f"re_evaporation {name} is outside its usual span, {words} (not checked against the text)."
        for name, low, high, words in _USUAL
        if not low * (1.0 - 1e-9) <= float(getattr(evaporation, name)) <= high * (1.0 + 1e-9)
    )


@dataclass(frozen=True)
class RecoveryCoil:
    """The recovered-heat part of the reheat list."""

    arrangement: int
    drying_effectiveness: float
    condenser_effectiveness: float
    capacity_W: float
    before_W: float
    after_W: float
    pressure_drop_Pa: float


def recovery_of(case: Case, flow_kg_s: float) -> RecoveryCoil:
    """The recovered heat of a case's reheat list at its supply flow.

    Raises
    ------
    InputError : sources that cannot be used in this order or with the unit's capacity control; a
        rated heat that the air could not take
    """
    sources = case.reheat
    recovered = [k for k, source in enumerate(sources) if source.source in EFFECTIVENESS]
    names = [sources[k].source for k in recovered]
    purchased = [
        0.0 if k in recovered else UNLIMITED_W if s.capacity is None else float(s.capacity)
        for k, s in enumerate(sources)
    ]
    drop = sum(float(source.pressure_drop or 0.0) for source in sources)
    if not recovered:
        return RecoveryCoil(MODULATING, 0.0, 0.0, 0.0, sum(purchased, 0.0), 0.0, drop)
    kinds = {
        ("condenser",): MODULATING,
        ("subcooling",): SUBCOOLING,
        ("subcooling", "condenser"): SUBCOOLING_THEN_CONDENSER,
        ("wrap-around",): WRAP_AROUND,
    }
    arrangement = kinds.get(tuple(names))
    if arrangement is None or recovered != list(range(recovered[0], recovered[0] + len(recovered))):
        raise InputError(
            f"[[reheat]] sources {', '.join(names)} cannot work together in this order; recovered "
            'heat is "condenser", "subcooling", "subcooling" then "condenser", or "wrap-around", '
            "with purchased heat after it"
        )
    first = sources[recovered[0]]
    last = sources[recovered[-1]]
    if last.control == "on/off":
        if arrangement != MODULATING:
            raise InputError(
                '[[reheat]] control = "on/off" is for condenser heat only; leave it out after '
                '"subcooling"'
            )
        arrangement = ON_OFF
    if arrangement != MODULATING and case.unit.capacity_control != "cycling":
        raise InputError(
            f"[[reheat]] {' then '.join(names)}, which is on or off, needs [unit] "
            'capacity_control = "cycling"; write that, or a "condenser" source with control = '
            '"modulating"'
        )
    if arrangement != MODULATING and recovered[0] > 0:
        raise InputError(
            f"[[reheat]] {sources[0].source} stands before {' then '.join(names)}, whose heat is "
            "on or off and cannot wait for it; list purchased heat after it"
        )
    effectiveness = 0.0
    capacity = 0.0
    if last.source == "condenser":
        capacity = UNLIMITED_W if last.capacity is None else float(last.capacity)
        effectiveness = float(last.effectiveness or 0.0)
        if last.rated_heat is not None:
            span = float(last.rated_condensing) - float(last.rated_entering)
            effectiveness = float(last.rated_heat) / max(
                flow_kg_s * heat_capacity(0.009) * span, 1e-9
            )
            if not 0.0 < effectiveness <= 1.0:
                raise InputError(
                    "[[reheat]] rated_heat is more than the air could take between "
                    "rated_entering and rated_condensing; check the three"
                )
    return RecoveryCoil(
        arrangement,
        0.0 if first.source == "condenser" else float(first.effectiveness or 0.0),
        effectiveness,
        capacity,
        sum(purchased[: recovered[0]], 0.0),
        sum(purchased[recovered[-1] :], 0.0),
        drop,
    )


# Condensing temperatures through which the gain of liquid cooling is laid [C]: mild weather, the
# typical rating, the hottest.
_LIQUID_AT_C = (32.0, 46.0, 60.0)


def _liquid(unit: Unit, arrangement: int) -> tuple[tuple[float, float, float], float]:
    """Evaporator effect gained per kelvin of liquid cooling, as a quadratic of the condensing
    temperature; condensing less liquid temperature.

    At the rated suction, of 20 K of liquid cooling: the gain is linear in it to 1 %, and grows by
    half from 32 to 60 C as the effect shrinks.
    """
    if arrangement not in (SUBCOOLING, SUBCOOLING_THEN_CONDENSER):
        return (0.0, 0.0, 0.0), 0.0
    if not unit.refrigerant or not np.isfinite(unit.rated_suction_C):
        raise InputError(
            '[[reheat]] source = "subcooling" needs the refrigerant\'s own states; write [unit] '
            'method = "ratings"'
        )
    settings = (unit.superheat_K, unit.subcooling_K)
    gains = [
        liquid_cooling_gain(unit.refrigerant, unit.rated_suction_C, condensing, *settings)
        for condensing in _LIQUID_AT_C
    ]
    a, b, c = np.polynomial.polynomial.polyfit(_LIQUID_AT_C, gains, 2)
    rated = tabled_cycle(unit.refrigerant, unit.rated_suction_C, unit.rated_condensing_C, *settings)
    return (float(a), float(b), float(c)), unit.rated_condensing_C - rated.liquid_temp_C


def _stages(option: OptionCase) -> tuple[float, float, float, float]:
    given = [float(stage) for stage in option.case.unit.stages] or [1.0]
    padded = [*given, 1.0, 1.0, 1.0, 1.0]
    return padded[0], padded[1], padded[2], padded[3]


def plant_of(
    option: OptionCase, unit: Unit, flow_kg_s: float, fan_W: float, recovery: RecoveryCoil
) -> Plant:
    """The controls of an option; flow of dry air and fan power while the fan runs at full flow."""
    case = option.case
    settings = case.unit
    evaporation = settings.re_evaporation
    wet = evaporation is not None and evaporation.model != "none"
    gain, offset = _liquid(unit, recovery.arrangement)
    control = _CAPACITY_CONTROLS[settings.capacity_control]
    if control == STAGES and settings.stage_coil == "face split":
        control = FACE_SPLIT
    cycles = _STARTS_WITHOUT
    if evaporation is not None and (wet or "cycles_per_hour" in evaporation.model_fields_set):
        cycles = float(evaporation.cycles_per_hour)
    if settings.minimum_run_time is not None:
        cycles = min(cycles, most_starts(float(settings.minimum_run_time)))
    commercial = settings.cycling_form == "commercial"
    return Plant(
        flow_kg_s,
        fan_W,
        1 if case.air.fan_position == "blow-through" else 0,
        control,
        _stages(option),
        float(settings.minimum_capacity),
        0.0 if commercial else float(settings.cycling_degradation or 0.0),
        float(settings.drying_leaving_temperature),
        float(settings.condensing_floor),
        float(settings.condensing_ceiling),
        _CONDENSER_FANS[settings.condenser_fan_control],
        recovery.arrangement,
        recovery.drying_effectiveness,
        gain,
        offset,
        recovery.condenser_effectiveness,
        recovery.capacity_W,
        recovery.before_W,
        recovery.after_W,
        float(evaporation.wet_time) if evaporation is not None and wet else 0.0,
        float(evaporation.gamma) if evaporation is not None and wet else 0.0,
        float(evaporation.start_up_time) if evaporation is not None and wet else 0.0,
        cycles,
        max(unit.rated_latent_W, 1.0),
        max(unit.rated_depression_K, 0.1),
        start_loss=COMMERCIAL_START_LOSS if commercial else 0.0,
        drying_control=DRYING_CONTROLS[settings.drying_control],
        condenser_source=condenser_source(case),
    )


def most_starts(least_run_s: float) -> float:
    """Highest cycling rate [1/h] that a least run time allows.

    The shortest run of the thermostat law N = 4 Nmax X (1 - X) is 900 s / Nmax, near X = 0.
    """
    return 900.0 / least_run_s


def floor_in_reheat(plant: Plant) -> float:
    """Minimum condensing temperature [C] of a plant in hours with condenser heat."""
    return max(plant.condensing_floor_C, plant.condenser_source.floor_C)


def condenser_source(case: Case) -> CondenserSource:
    """Controls of the case's condenser-heat source; where it has none, those that one put there
    would have by default."""
    found = [source for source in case.reheat if source.source == "condenser"]
    source = found[0] if found else Reheat(source="condenser")
    below, above = source.lockout_below, source.lockout_above
    return CondenserSource(
        case.unit.floor_in_reheat_C,
        UNRESTRICTED.lockout_below_C if below is None else float(below),
        UNRESTRICTED.lockout_above_C if above is None else float(above),
        float(source.valve_low),
        float(source.valve_high),
        float(source.purge) / 3600.0,
        float(source.circuits),
        float(source.reheat_fan_share),
    )


def humidistat(case: Case, moisture_store_kg: float) -> Humidistat:
    """How often a dehumidification call starts the unit in a room of this moisture store [kg of
    dry air].

    The differential of relative humidity is taken at the cooling set point, that of a dew point at
    the limit. Where a supply dew point is held there is no store to cycle on: thermostat law.
    """
    separate = case.outdoor_air_unit
    held = separate is not None and not separate.by_room_humidity
    if case.humidity.control == "none" or held:
        return AS_THERMOSTAT
    differential = case.humidity.differential_value
    if case.humidity.control == "relative humidity":
        at = float(case.room.cooling_setpoint)
        band = differential * saturation_hum_ratio(at, STANDARD_PRESSURE_PA)
    else:
        dew = case.humidity.limit_value
        band = saturation_hum_ratio(dew, STANDARD_PRESSURE_PA) - saturation_hum_ratio(
            dew - differential, STANDARD_PRESSURE_PA
        )
    stated = case.unit.minimum_run_time
    least_run_s = _LEAST_RUN_S if stated is None else float(stated)
    return Humidistat(max(moisture_store_kg, 1.0) * band, most_starts(least_run_s))
