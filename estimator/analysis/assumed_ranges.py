"""The default range of each assumption of a sensitivity, with its reason, and how its values read.

Controls of condenser heat that are off unless a case states them are ranged from off to their usual
value; one that the case states is held at that.
"""

from __future__ import annotations

from collections.abc import Sequence

from dewledger.analysis.assumptions import (
    CAPACITY,
    CIRCUITS,
    DEW_SETPOINT,
    DIFFERENTIAL,
    EFFECTIVENESS,
    EFFICIENCY,
    ELECTRICITY_PRICE,
    EVAPORATION,
    FACTORS,
    FLOOR,
    GAINS,
    GAS_PRICE,
    INFILTRATION,
    LEAST_FLOW,
    LOCKOUT_ABOVE,
    MOISTURE_STORE,
    OUTDOOR_AIR,
    PURGE,
    REHEAT_FANS,
    REHEAT_FLOOR,
    RUN_TIME,
    SETPOINT,
    START_UP,
    STARTS,
    VALVE_HIGH,
    VALVE_LOW,
    WEATHER,
    WET_TIME,
    limited,
    outdoor_air_flows,
)
from dewledger.analysis.monte_carlo import Assumed
from dewledger.assembly.machine import Machine
from dewledger.case import OptionCase
from dewledger.case.ranges import Ranges, ends_of
from dewledger.hourly.types import DEW_POINT, DRIVERS, FAN_CONTINUOUS, RELATIVE_HUMIDITY
from dewledger.quantities import Display

_FAN_MODE = DRIVERS.index("fan_mode")


_NOT_CHECKED = "not checked against the report"
_MANUALS = "off if not stated; rooftop control manuals"
# Default ranges: low, likely, high, and why.
_RANGES: dict[str, tuple[float, float, float, str]] = {
    SETPOINT: (-0.03, 0.0, 0.03, "humidistats in use read 3 % RH either way; common practice"),
    DEW_SETPOINT: (-1.0, 0.0, 1.0, "dew-point sensors in use drift by 1 K; common practice"),
    OUTDOOR_AIR: (0.8, 1.0, 1.2, "dampers are set and measured to about 20 %; common practice"),
    GAINS: (0.75, 1.0, 1.25, "people and equipment are a designer’s guess; common practice"),
    INFILTRATION: (0.5, 1.0, 2.0, "leakage unmeasured, half to twice; common practice"),
    MOISTURE_STORE: (
        0.67,
        1.0,
        1.67,
        "a multiplier of 10 to 25 about 15 is usual; not checked against the text",
    ),
    CAPACITY: (
        0.95,
        1.0,
        1.05,
        "ratings are certified to 5 %; AHRI 340/360, not checked against the text",
    ),
    EFFICIENCY: (
        0.95,
        1.0,
        1.05,
        "ratings are certified to 5 %; AHRI 340/360, not checked against the text",
    ),
    EFFECTIVENESS: (-0.1, 0.0, 0.1, "reheat coils differ by 10 points; common practice"),
    WET_TIME: (720 / 1060, 1.0, 1400 / 1060, f"usual span 720 to 1400 s; {_NOT_CHECKED}"),
    EVAPORATION: (0.8, 1.0, 1.2, f"usual span of gamma 1.0 to 1.5; {_NOT_CHECKED}"),
    START_UP: (45 / 62, 1.0, 80 / 62, f"usual span 45 to 80 s; {_NOT_CHECKED}"),
    STARTS: (2.5 / 2.8, 1.0, 3.1 / 2.8, f"usual span 2.5 to 3.1 an hour; {_NOT_CHECKED}"),
    DIFFERENTIAL: (2 / 3, 1.0, 5 / 3, "3 or 5 % RH in shipped controls; rooftop control manuals"),
    RUN_TIME: (0.0, 0.0, 300.0, "5 min in a thermostat’s manual, to 10; common practice"),
    FLOOR: (-10 / 1.8, 0.0, 9 / 1.8, "86 to 105 °F in use; common practice, no source"),
    REHEAT_FLOOR: (-5.0, 0.0, 10 / 1.8, "96 to 115 °F in use; common practice, no source"),
    LOCKOUT_ABOVE: (-30 / 1.8, 0.0, 0.0, f"100 °F with one compressor; {_MANUALS}"),
    VALVE_LOW: (0.0, 0.0, 0.15, f"valves work from 10 or 15 %; {_MANUALS}"),
    VALVE_HIGH: (-0.15, 0.0, 0.0, f"valves work up to 85 %; {_MANUALS}"),
    PURGE: (0.0, 0.0, 180.0, f"3 min in each hour with reheat; {_MANUALS}"),
    CIRCUITS: (0.5, 1.0, 1.0, f"often one circuit of two; {_MANUALS}"),
    REHEAT_FANS: (1 / 3, 1.0, 1.0, f"one or two outdoor fans of three; {_MANUALS}"),
    LEAST_FLOW: (
        250 / 300,
        1.0,
        350 / 300,
        "250 to 350 cfm/ton in use; common practice, no source",
    ),
    ELECTRICITY_PRICE: (0.8, 1.0, 1.2, "tariffs and years differ by about 20 %; common practice"),
    GAS_PRICE: (0.7, 1.0, 1.3, "prices move by about 30 % between years; common practice"),
}


# The field of [ranges] that states each range.
_STATED = {
    OUTDOOR_AIR: "outdoor_air",
    GAINS: "gains",
    INFILTRATION: "infiltration",
    MOISTURE_STORE: "moisture_storage",
    CAPACITY: "rated_capacity",
    EFFICIENCY: "rated_efficiency",
    EFFECTIVENESS: "coil_effectiveness",
    WET_TIME: "wet_time",
    EVAPORATION: "gamma",
    START_UP: "start_up_time",
    STARTS: "cycles_per_hour",
    DIFFERENTIAL: "differential",
    RUN_TIME: "minimum_run_time",
    FLOOR: "condensing_floor",
    REHEAT_FLOOR: "reheat_condensing_floor",
    LOCKOUT_ABOVE: "lockout_above",
    VALVE_LOW: "valve_low",
    VALVE_HIGH: "valve_high",
    PURGE: "purge",
    CIRCUITS: "circuits",
    REHEAT_FANS: "reheat_fan_share",
    LEAST_FLOW: "least_flow_per_capacity",
    ELECTRICITY_PRICE: "electricity_price",
    GAS_PRICE: "gas_price",
}


# Controls of a condenser source that are off unless stated.
_OFF = (LOCKOUT_ABOVE, VALVE_LOW, VALVE_HIGH, PURGE, CIRCUITS, REHEAT_FANS)


def tried_alone(stated: Ranges) -> frozenset[str]:
    """Controls that are off and whose range the case does not state: each is tried on its own, and
    none is drawn, since all could only be switched on and would move the middle of the band."""
    return frozenset(name for name in _OFF if getattr(stated, _STATED[name]) is None)


def _with_stated(
    table: dict[str, tuple[float, float, float, str]], stated: Ranges, held: set[str]
) -> dict[str, tuple[float, float, float, str]]:
    """The default ranges with those that the case states in their place; fixed values and those
    held left out."""
    table = dict(table)
    for name, key in _STATED.items():
        written = getattr(stated, key)
        if written is not None:
            low, high = ends_of(written)
            table[name] = (float(low), table[name][1], float(high), stated.reason)
        elif name in held:
            del table[name]
    if stated.set_point is not None:
        low, high = ends_of(stated.set_point)
        name = SETPOINT if low.kind.name == "ratio" else DEW_SETPOINT
        table[name] = (float(low), 0.0, float(high), stated.reason)
    return {name: row for name, row in table.items() if row[0] < row[2]}


def ranges(
    machines: Sequence[Machine],
    burns_gas: bool,
    weather_years: int,
    stated: Ranges | None = None,
    options: Sequence[OptionCase] = (),
) -> tuple[Assumed, ...]:
    """The range of each assumption that can matter here, with its reason.

    Parameters
    ----------
    machines : of all options
    burns_gas : whether any option may purchase gas
    stated : ranges that the case states instead of the default ones
    options : those of the machines, whose stated controls are held
    """
    controls = {limited(machine) for machine in machines}
    matters = {
        SETPOINT: RELATIVE_HUMIDITY in controls,
        DEW_SETPOINT: DEW_POINT in controls,
        OUTDOOR_AIR: any(outdoor_air_flows(machine) for machine in machines),
        INFILTRATION: any(machine.room.infiltration_kg_s > 0.0 for machine in machines),
        EFFECTIVENESS: any(
            max(machine.plant.recovery_effectiveness, machine.plant.drying_effectiveness) > 0.0
            for machine in machines
        ),
        GAS_PRICE: burns_gas,
        DIFFERENTIAL: any(
            _wet(machine) and machine.plant.humidistat.band_kg > 0.0 for machine in machines
        ),
    }
    matters[LEAST_FLOW] = any(machine.plant.full_capacity_kg_s > 0.0 for machine in machines)
    recovers = any(machine.plant.recovery_effectiveness > 0.0 for machine in machines)
    matters |= dict.fromkeys((REHEAT_FLOOR, *_OFF), recovers)
    wet = any(_wet(machine) for machine in machines)
    matters |= dict.fromkeys((WET_TIME, EVAPORATION, START_UP, STARTS, RUN_TIME), wet)
    table = _with_stated(_RANGES, stated or Ranges(), _held(options))
    listed = [Assumed(name, *row) for name, row in table.items() if matters.get(name, True)]
    if weather_years > 1:
        last = float(weather_years - 1)
        listed.append(Assumed(WEATHER, 0.0, 0.0, last, "the weather files given", shape="choice"))
    return tuple(listed)


def _held(options: Sequence[OptionCase]) -> set[str]:
    """Controls, off by default, that every option with that kind of control states."""
    units = [option.case.unit for option in options]
    coils = [one for option in options for one in option.case.reheat if one.source == "condenser"]
    held = {
        name
        for name in _OFF
        if coils and all(_STATED[name] in coil.model_fields_set for coil in coils)
    }
    if units and all(unit.minimum_run_time is not None for unit in units):
        held.add(RUN_TIME)
    return held


def _wet(machine: Machine) -> bool:
    """Whether a coil of this machine re-evaporates water."""
    continuous = (machine.drivers[:, _FAN_MODE] == FAN_CONTINUOUS).any()
    return machine.plant.wet_time_s > 0.0 and bool(continuous)


def value_text(name: str, value: float, names: Sequence[str], display: Display) -> str:
    """A value of an assumption as a reader sees it: "+3 % RH", "80 %", a weather file's name."""
    if name in FACTORS:
        return f"{100.0 * value:.0f} %"
    if name == WEATHER:
        return names[round(value)]
    if name in (EFFECTIVENESS, VALVE_LOW, VALVE_HIGH):
        return f"{100.0 * value:+.0f} points".replace("-", "−")
    if name in (RUN_TIME, PURGE):
        return f"{value / 60.0:+.0f} min".replace("-", "−")
    if name in (DEW_SETPOINT, FLOOR, REHEAT_FLOOR, LOCKOUT_ABOVE):
        shown = value * (1.8 if display == "I-P" else 1.0)
        return f"{shown:+.1f} {'°F' if display == 'I-P' else 'K'}".replace("-", "−")
    return f"{100.0 * value:+.0f} % RH".replace("-", "−")
