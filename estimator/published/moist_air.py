"""Worked examples and state tables of moist air."""

from __future__ import annotations

from collections.abc import Callable

from dewledger.components.air_processes import (
    cooling_with_condensate,
    fan_temp_rise,
    mix,
    moisture_and_heat,
)
from dewledger.data.standings import READ, UNCHECKED
from dewledger.published.check import LIBRARY, PRACTICE, Check
from dewledger.weather.physics.moist_air import (
    STANDARD_PRESSURE_PA,
    dew_point,
    enthalpy,
    hum_ratio_from_rel_hum,
    hum_ratio_from_wet_bulb,
    rel_hum_from_hum_ratio,
    saturation_hum_ratio,
    specific_volume,
    wet_bulb,
)

P = STANDARD_PRESSURE_PA
_EXAMPLES = "ASHRAE Handbook - Fundamentals, ch. 1 worked examples"
_TABLE = "psychrolib 2.5.0 at 14.696 psia"
_ROUNDED = "printed figures are read from a chart and rounded; editions' property tables differ"
LB_H = 0.45359237 / 3600.0
BTU_H = 1055.05585262 / 3600.0
FT3_LB = 0.028316846592 / 0.45359237
CFM = 0.028316846592 / 60.0


def F(temp_F: float) -> float:
    """Fahrenheit to Celsius."""
    return (temp_F - 32.0) / 1.8


def to_F(temp_C: float) -> float:
    """Celsius to Fahrenheit."""
    return temp_C * 1.8 + 32.0


def h_IP(temp_C: float, w: float) -> float:
    """Enthalpy in Btu/lb above 0 F dry air, the I-P zero of the Handbook."""
    return 0.240 * to_F(temp_C) + w * (1061.0 + 0.444 * to_F(temp_C))


def _example(
    item: str,
    published: float,
    unit: str,
    compute: Callable[..., float],
    tolerance: float = 0.005,
    absolute: bool = False,
    standing: str = LIBRARY,
) -> Check:
    return Check(
        "Moist-air examples", item, _EXAMPLES, published, unit, tolerance, _ROUNDED, compute,
        absolute, standing,
    )  # fmt: skip


def _si_cooling() -> tuple[float, float]:
    w1 = hum_ratio_from_rel_hum(30.0, 0.5, P)
    w2 = saturation_hum_ratio(10.0, P)
    flow = 5.0 / specific_volume(30.0, w1, P)
    return flow * cooling_with_condensate(30.0, w1, 10.0, w2) / 1000.0, flow * (w1 - w2)


def _ip_cooling() -> tuple[float, float]:
    w1 = hum_ratio_from_rel_hum(F(85.0), 0.5, P)
    w2 = saturation_hum_ratio(F(50.0), P)
    flow = 10000.0 * CFM / specific_volume(F(85.0), w1, P)
    heat = flow * cooling_with_condensate(F(85.0), w1, F(50.0), w2)
    return heat / BTU_H, flow * (w1 - w2) / LB_H


def _si_mixing() -> tuple[float, float]:
    w1 = hum_ratio_from_wet_bulb(4.0, 2.0, P)
    w2 = hum_ratio_from_rel_hum(25.0, 0.5, P)
    m1 = 2.0 / specific_volume(4.0, w1, P)
    m2 = 6.25 / specific_volume(25.0, w2, P)
    temp, w = mix(m1 / (m1 + m2), 4.0, w1, 25.0, w2)
    return temp, wet_bulb(temp, w, P)


def _ip_mixing() -> tuple[float, float]:
    w1 = hum_ratio_from_wet_bulb(F(40.0), F(35.0), P)
    w2 = hum_ratio_from_rel_hum(F(75.0), 0.5, P)
    m1 = 5000.0 / specific_volume(F(40.0), w1, P)
    m2 = 15000.0 / specific_volume(F(75.0), w2, P)
    temp, w = mix(m1 / (m1 + m2), F(40.0), w1, F(75.0), w2)
    return to_F(temp), to_F(wet_bulb(temp, w, P))


def _si_heating() -> float:
    w = saturation_hum_ratio(2.0, P)
    flow = 10.0 / specific_volume(2.0, w, P)
    return flow * (enthalpy(40.0, w) - enthalpy(2.0, w)) / 1000.0


def _ip_heating() -> float:
    w = saturation_hum_ratio(F(35.0), P)
    flow = 20000.0 * CFM / specific_volume(F(35.0), w, P)
    return flow * (enthalpy(F(100.0), w) - enthalpy(F(35.0), w)) / BTU_H


def _si_room() -> tuple[float, float]:
    """Supply at 15 C that takes 9 kW and 0.0015 kg/s of vapor at 2555.52 kJ/kg from 25/19 C."""
    w_room = hum_ratio_from_wet_bulb(25.0, 19.0, P)
    vapor = 2555.52e3
    flow = 0.5
    for _ in range(60):
        # Supply such that heat and moisture bring it exactly to the room.
        w = w_room - 0.0015 / flow
        temp, _after = moisture_and_heat(15.0, w, 9000.0 / flow, 0.0015 / flow, vapor)
        flow *= (temp - 15.0) / 10.0
    w = w_room - 0.0015 / flow
    return flow * specific_volume(15.0, w, P), wet_bulb(15.0, w, P)


def _si_steam() -> tuple[float, float]:
    """100 kg/min of dry air at 20/8 C, saturated steam at 110 C to a dew point of 13 C."""
    w1 = hum_ratio_from_wet_bulb(20.0, 8.0, P)
    w2 = saturation_hum_ratio(13.0, P)
    temp, _ = moisture_and_heat(20.0, w1, 0.0, w2 - w1, 2691.1e3)
    return 100.0 * (w2 - w1), temp


_STATES = (
    # db F, wb F, W lb/lb, h Btu/lb, v ft3/lb, RH %, dew point F
    (80, 67, 0.011169, 31.447, 13.849, 51.10, 60.32),
    (95, 75, 0.014065, 38.316, 14.300, 39.8, 66.76),
    (95, 78, 0.016771, 41.301, 14.360, 47.3, 71.78),
    (80, 73, 0.015856, 36.586, 13.952, 72.0, 70.17),
    (70, 66, 0.012762, 30.737, 13.627, 81.3, 64.02),
    (63, 59, 0.009726, 25.711, 13.383, 79.4, 56.52),
)
_SATURATED = (
    (55, 0.009195, 23.180),
    (52, 0.008225, 21.396),
    (50, 0.007630, 20.265),
    (45, 0.006308, 17.619),
)


def _states() -> list[Check]:
    found = []
    reason = "same equations; I-P and SI constants differ in the fourth figure"
    for db, wb, w, h, v, rh, dp in _STATES:
        ratio = hum_ratio_from_wet_bulb(F(db), F(wb), P)
        at = f"{db}/{wb} F"
        rows: tuple[tuple[str, float, str, float, bool, Callable[..., float]], ...] = (
            ("humidity ratio", w, "lb/lb", 0.002, False, lambda r=ratio: r),
            ("enthalpy", h, "Btu/lb", 0.002, False, lambda r=ratio, t=F(db): h_IP(t, r)),
            ("volume", v, "ft3/lb", 0.002, False,
             lambda r=ratio, t=F(db): specific_volume(t, r, P) / FT3_LB),
            ("relative humidity", rh, "%", 0.1, True,
             lambda r=ratio, t=F(db): 100 * rel_hum_from_hum_ratio(t, r, P)),
            ("dew point", dp, "F", 0.05, True, lambda r=ratio: to_F(dew_point(r, P))),
        )  # fmt: skip
        for name, value, unit, tolerance, absolute, compute in rows:
            found.append(
                Check("Moist-air states", f"{name} at {at}", _TABLE, value, unit, tolerance,
                      reason, compute, absolute, LIBRARY)
            )  # fmt: skip
    for db, w, h in _SATURATED:
        ratio = saturation_hum_ratio(F(db), P)
        found.append(
            Check("Moist-air states", f"humidity ratio, saturated {db} F", _TABLE, w, "lb/lb",
                  0.002, reason, lambda r=ratio: r, False, LIBRARY)
        )  # fmt: skip
        found.append(
            Check("Moist-air states", f"enthalpy, saturated {db} F", _TABLE, h, "Btu/lb", 0.002,
                  reason, lambda r=ratio, t=F(db): h_IP(t, r), False, LIBRARY)
        )  # fmt: skip
    return found


def _facts() -> list[Check]:
    room = hum_ratio_from_rel_hum(F(75.0), 0.5, P)
    mixed = hum_ratio_from_wet_bulb(F(80.0), F(67.0), P)
    return [
        Check("Trade facts", "dew point of mixed air at 80/67 F", PRACTICE, 60.0, "F", 1.0,
              "stated as 'near 60 F'", lambda: to_F(dew_point(mixed, P)), True, PRACTICE),
        Check("Trade facts", "dew point of a room at 75 F, 50 %", PRACTICE, 55.0, "F", 1.0,
              "stated as 'about 55 F'", lambda: to_F(dew_point(room, P)), True, PRACTICE),
        Check("Fan heat", "temperature rise per inH2O at efficiency 1",
              "ASHRAE Handbook - Fundamentals 2021, fan heat equation (dry cp 0.24, 0.075 lb/ft3)",
              0.3707, "F", 0.01, "the equation's rounded constants",
              lambda: 1.8 * fan_temp_rise(249.08891, 1.0, 0.075 * 16.01846), False, READ),
        Check("Fan heat", "temperature rise at 3 inH2O, total efficiency 0.65",
              "ASHRAE Handbook - Fundamentals 2021, fan heat equation", 1.711, "F", 0.01,
              "the equation's rounded constants",
              lambda: 1.8 * fan_temp_rise(3 * 249.08891, 0.65, 0.075 * 16.01846), False, READ),
    ]  # fmt: skip


def checks() -> tuple[Check, ...]:
    """The moist-air checks."""
    w_si = hum_ratio_from_wet_bulb(40.0, 20.0, P)
    w_ip = hum_ratio_from_wet_bulb(F(100.0), F(65.0), P)
    return (
        _example("40/20 C: humidity ratio", 0.006401, "kg/kg", lambda: w_si),
        _example("40/20 C: enthalpy", 56.73, "kJ/kg", lambda: enthalpy(40.0, w_si) / 1000),
        _example("40/20 C: dew point", 7.43, "C", lambda: dew_point(w_si, P), 0.05, True),
        _example("40/20 C: relative humidity", 13.98, "%",
                 lambda: 100 * rel_hum_from_hum_ratio(40.0, w_si, P)),
        _example("40/20 C: volume", 0.8962, "m3/kg", lambda: specific_volume(40.0, w_si, P)),
        _example("heating 10 m3/s saturated 2 C to 40 C", 490.0, "kW", _si_heating,
                 standing=UNCHECKED),
        _example("cooling 5 m3/s 30 C 50 % to saturated 10 C", 197.0, "kW",
                 lambda: _si_cooling()[0], standing=UNCHECKED),
        _example("cooling 5 m3/s 30 C 50 %: condensate", 0.03238, "kg/s",
                 lambda: _si_cooling()[1]),
        _example("mixing 2 m3/s 4/2 C with 6.25 m3/s 25 C 50 %: dry bulb", 19.67, "C",
                 lambda: _si_mixing()[0], standing=READ),
        _example("mixing 2 m3/s with 6.25 m3/s: wet bulb", 14.58, "C",
                 lambda: _si_mixing()[1], standing=READ),
        _example("room 25/19 C, 9 kW and 5.4 kg/h: supply at 15 C", 0.730, "m3/s",
                 lambda: _si_room()[0]),
        _example("room 25/19 C: supply wet bulb", 14.02, "C", lambda: _si_room()[1]),
        _example("steam at 110 C into 100 kg/min: dry bulb", 21.13, "C", lambda: _si_steam()[1]),
        # The printed answer, 0.72 kg/min, used a humidity ratio rounded on the chart: 5 % lower.
        _example("steam to a 13 C dew point", 0.7555, "kg/min", lambda: _si_steam()[0]),
        _example("100/65 F: humidity ratio", 0.00519, "lb/lb", lambda: w_ip),
        _example("100/65 F: enthalpy", 29.74, "Btu/lb", lambda: h_IP(F(100.0), w_ip)),
        _example("100/65 F: dew point", 40.0, "F", lambda: to_F(dew_point(w_ip, P)),
                 standing=UNCHECKED),
        _example("100/65 F: volume", 14.2, "ft3/lb",
                 lambda: specific_volume(F(100.0), w_ip, P) / FT3_LB, standing=UNCHECKED),
        _example("heating 20,000 cfm saturated 35 F to 100 F", 1_507_000.0, "Btu/h", _ip_heating,
                 standing=UNCHECKED),
        _example("cooling 10,000 cfm 85 F 50 % to saturated 50 F", 609_500.0, "Btu/h",
                 lambda: _ip_cooling()[0], standing=UNCHECKED),
        _example("cooling 10,000 cfm 85 F 50 %: condensate", 224.87, "lb/h",
                 lambda: _ip_cooling()[1]),
        _example("mixing 5,000 cfm 40/35 F with 15,000 cfm 75 F 50 %: dry bulb", 65.9, "F",
                 lambda: _ip_mixing()[0], standing=UNCHECKED),
        _example("mixing 5,000 cfm with 15,000 cfm: wet bulb", 56.6, "F",
                 lambda: _ip_mixing()[1], standing=UNCHECKED),
        *_states(),
        *_facts(),
    )  # fmt: skip
