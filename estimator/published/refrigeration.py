"""Saturation pressures, cycles, coil examples and bounds of recovered heat."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from dewledger.components.cooling_coil import apparatus_dew_point, coil_leaving
from dewledger.components.refrigerant_cycle import Cycle, tabled_cycle
from dewledger.data.standings import READ
from dewledger.published.check import LIBRARY, PRACTICE, Check
from dewledger.published.moist_air import BTU_H, CFM, LB_H, F, to_F
from dewledger.weather.physics.moist_air import (
    STANDARD_PRESSURE_PA,
    enthalpy,
    heat_capacity,
    hum_ratio_from_rel_hum,
    hum_ratio_from_wet_bulb,
    specific_volume,
)

P = STANDARD_PRESSURE_PA
PSI = 6894.757293168

# psig at a dew point in F: published charts where a site is named, else CoolProp 8.0.0.
_CHARTS = "published pressure-temperature charts (hvacptcharts.com, calcspec.com)"
_PRESSURES = (
    ("R-410A", 40, 118.35, _CHARTS, READ),
    ("R-410A", 120, 418.31, "CoolProp 8.0.0", LIBRARY),
    ("R-134a", 40, 35.0, _CHARTS, READ),
    ("R-134a", 120, 171.2, _CHARTS, READ),
    ("R-22", 40, 68.6, _CHARTS, READ),
    ("R-22", 120, 260.0, _CHARTS, READ),
    ("R-32", 40, 120.95, "CoolProp 8.0.0", LIBRARY),
    ("R-32", 120, 429.34, "CoolProp 8.0.0", LIBRARY),
    ("R-454B", 40, 107.49, "CoolProp 8.0.0", LIBRARY),
    ("R-454B", 120, 385.53, "CoolProp 8.0.0", LIBRARY),
)
# Suction 45 F, isentropic efficiency 0.70: condensing, superheat, subcooling F; discharge F, COP,
# heat rejected over evaporator heat.
_CYCLES = (
    ("R-410A", 45, 120, 10, 10, 179.1, 3.592, 1.278),
    ("R-410A", 45, 120, 20, 15, 190.5, 3.703, 1.270),
    ("R-410A", 45, 105, 10, 10, 155.5, 4.826, 1.207),
    ("R-410A", 45, 130, 10, 10, 194.6, 2.993, 1.334),
    ("R-410A", 40, 120, 10, 10, 183.2, 3.294, 1.304),
    ("R-410A", 50, 120, 10, 10, 175.2, 3.933, 1.254),
    ("R-32", 45, 120, 10, 10, 212.6, 3.687, 1.271),
    ("R-32", 45, 120, 20, 15, 225.5, 3.743, 1.267),
    ("R-454B", 45, 120, 10, 10, 189.8, 3.696, 1.271),
    ("R-454B", 45, 120, 20, 15, 201.5, 3.778, 1.265),
    ("R-134a", 45, 120, 10, 10, 154.6, 3.918, 1.255),
    ("R-134a", 45, 120, 20, 15, 164.8, 4.042, 1.247),
    ("R-22", 45, 120, 10, 10, 185.9, 3.888, 1.257),
)


@cache
def _cycle(name: str, suction: float, condensing: float, superheat: float, subcool: float) -> Cycle:
    return tabled_cycle(name, F(suction), F(condensing), superheat / 1.8, subcool / 1.8, 0.7)


def _saturation_psig(name: str, dew_F: float) -> float:
    if dew_F < 80.0:
        return _cycle(name, dew_F, 120.0, 10, 10).suction_pressure_Pa / PSI - 14.696
    return _cycle(name, 45.0, dew_F, 10, 10).condensing_pressure_Pa / PSI - 14.696


def _pressures() -> list[Check]:
    return [
        Check("Refrigerant pressures", f"{name} saturated vapor at {temp} F", source, psig, "psig",
              0.01, "charts differ by up to 1 %", lambda n=name, t=temp: _saturation_psig(n, t),
              False, standing)
        for name, temp, psig, source, standing in _PRESSURES
    ]  # fmt: skip


def _cycles() -> list[Check]:
    found = []
    source = "CoolProp 8.0.0, isentropic efficiency 0.70, no pressure drops"
    reason = "same property library; equations of state differ between versions"
    for name, suction, condensing, superheat, subcool, discharge, cop, rejection in _CYCLES:
        at = f"{name} {suction}/{condensing} F, {superheat}/{subcool} F"
        args = (name, suction, condensing, superheat, subcool)
        found += [
            Check("Refrigeration cycle", f"discharge temperature, {at}", source, discharge, "F",
                  2.0, reason, lambda a=args: to_F(_cycle(*a).discharge_temp_C), True, LIBRARY),
            Check("Refrigeration cycle", f"COP, {at}", source, cop, "-", 0.01, reason,
                  lambda a=args: _cycle(*a).cop, False, LIBRARY),
            Check("Refrigeration cycle", f"rejected over cooling, {at}", source, rejection, "-",
                  0.01, reason, lambda a=args: _cycle(*a).rejection_ratio, False, LIBRARY),
        ]  # fmt: skip
    return found


def _supply_rise_F(share: float) -> float:
    """Rise of 400 standard cfm per ton when a share of the rejected heat warms it, cp 0.245."""
    rejected = 12000.0 * _cycle("R-410A", 45, 120, 10, 10).rejection_ratio
    return rejected * share / (400.0 * 4.5 * 0.24)


def _subcooling_gain() -> float:
    """Evaporator effect gained by cooling the liquid from 110 F to 70 F, %."""
    plain = _cycle("R-410A", 45, 120, 10, 10)
    more = _cycle("R-410A", 45, 120, 10, 50)
    return 100.0 * (plain.flow_kg_s_W / more.flow_kg_s_W - 1.0)


def _coil(bypass: float) -> tuple[float, float, float]:
    """1000 actual cfm at 80/67 F on a 50 F surface: leaving F, lb/lb, total Btu/h."""
    temp, w = F(80.0), hum_ratio_from_wet_bulb(F(80.0), F(67.0), P)
    flow = 1000.0 * CFM / specific_volume(temp, w, P)
    out, w_out = coil_leaving(temp, w, F(50.0), bypass, P)
    return to_F(out), w_out, flow * (enthalpy(temp, w) - enthalpy(out, w_out)) / BTU_H


def _sensible_ratio(bypass: float) -> float:
    temp, w = F(80.0), hum_ratio_from_wet_bulb(F(80.0), F(67.0), P)
    out, w_out = coil_leaving(temp, w, F(50.0), bypass, P)
    sensible = heat_capacity(w_out) * (temp - out)
    return sensible / (enthalpy(temp, w) - enthalpy(out, w_out))


def _rating(flow_lb_h: float) -> tuple[float, float]:
    """36,000 Btu/h gross, sensible heat ratio 0.75, 80/67 F: apparatus dew point F, bypass."""
    temp, w = F(80.0), hum_ratio_from_wet_bulb(F(80.0), F(67.0), P)
    surface, bypass = apparatus_dew_point(
        temp, w, 36000.0 * BTU_H, 27000.0 * BTU_H, flow_lb_h * LB_H, P
    )
    return to_F(surface), bypass


def _worked_bypass() -> float:
    """Bypass factor that brings 30 C 60 % air to 14 C on a 10 C surface, by bisection."""
    w = hum_ratio_from_rel_hum(30.0, 0.6, P)
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        temp, _w = coil_leaving(30.0, w, 10.0, middle, P)
        low, high = (middle, high) if temp < 14.0 else (low, middle)
    return low


def _coils() -> list[Check]:
    source = "psychrolib 2.5.0 state functions, bypass-factor line worked by hand"
    reason = "same equations; I-P and SI constants differ in the fourth figure"

    def row(item: str, value: float, unit: str, compute: Callable[..., float]) -> Check:
        return Check("Coil", item, source, value, unit, 0.003, reason, compute, False, LIBRARY)

    return [
        row("leaving dry bulb, BF 0.05", 51.51, "F", lambda: _coil(0.05)[0]),
        row("leaving humidity ratio, BF 0.05", 0.007807, "lb/lb", lambda: _coil(0.05)[1]),
        row("total, BF 0.05", 46023.0, "Btu/h", lambda: _coil(0.05)[2]),
        row("leaving dry bulb, BF 0.10", 53.02, "F", lambda: _coil(0.10)[0]),
        row("total, BF 0.10", 43601.0, "Btu/h", lambda: _coil(0.10)[2]),
        row("leaving dry bulb, BF 0.20", 56.03, "F", lambda: _coil(0.20)[0]),
        row("total, BF 0.20", 38756.0, "Btu/h", lambda: _coil(0.20)[2]),
        row("sensible heat ratio, any BF", 0.6530, "-", lambda: _sensible_ratio(0.20)),
        row("rating turned round: apparatus dew point", 55.440, "F", lambda: _rating(5400.0)[0]),
        Check("Coil", "rating turned round: bypass factor", source, 0.1663, "-", 0.01,
              "a small difference of large ones: 0.240 against 0.2403 Btu/(lb F) moves it 0.8 %",
              lambda: _rating(5400.0)[1], False, LIBRARY),
        Check("Coil", "bypass factor, 30 C 60 % in, 14 C out, dew point 10 C",
              "worked example (taftan.com, contact factor), temperature form", 0.20, "-", 0.02,
              "the example takes temperatures for enthalpies", _worked_bypass),
    ]  # fmt: skip


def checks() -> tuple[Check, ...]:
    """The refrigeration and coil checks."""
    bounds = "CoolProp 8.0.0, R-410A 45/120 F, isentropic efficiency 0.70"
    return (
        *_pressures(),
        *_cycles(),
        *_coils(),
        Check("Recovered heat", "rise of 400 cfm/ton, all heat rejected", bounds, 35.5, "F", 0.01,
              "air constant 1.08", lambda: _supply_rise_F(1.0), False, LIBRARY),
        Check("Recovered heat", "rise of 400 cfm/ton, desuperheating only", bounds, 9.0, "F", 0.01,
              "air constant 1.08", lambda: _supply_rise_F(
                  _cycle("R-410A", 45, 120, 10, 10).desuperheating_share), False, LIBRARY),
        Check("Recovered heat", "evaporator effect gained, liquid 110 F to 70 F", bounds, 24.7, "%",
              0.01, "same property library", _subcooling_gain, False, LIBRARY),
        Check("Trade facts", "R-410A entering the evaporator", PRACTICE, 120.0, "psig", 10.0,
              "stated as 'about 120 psig'", lambda: _saturation_psig("R-410A", 40.0), True,
              PRACTICE),
        Check("Trade facts", "R-410A high side at moderate outdoor temperature", PRACTICE, 387.5,
              "psig", 12.5, "stated as 'about 375 to 400 psig', here condensing at 114 F",
              lambda: _saturation_psig("R-410A", 114.0), True, PRACTICE),
    )  # fmt: skip
