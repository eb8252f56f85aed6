"""Figures of a case that are far from the usual: one finding each, and what may have been meant.

Nothing here is an error: what is meant may stay. The spans are data, data/plausible_spans.toml.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

from dewledger.assembly.machine import Machine
from dewledger.case import Case, OptionCase
from dewledger.case.reading.checks import design_outdoor_flow
from dewledger.data.plausible_spans import Span, spans
from dewledger.hourly.types import DRIVERS
from dewledger.quantities import Display, in_unit, show

# Set points this near each other make a unit cool and heat in turn: common practice, no source.
NEAREST_SETPOINTS_K = 2.0 / 1.8
# Figures beyond which a year says nothing: the unit is far too small for what is given.
BEYOND_THE_UNIT = ("gains over capacity", "moisture over capacity")
# Latent heat of vapor near room temperature, J/kg: only to weigh gains against a capacity.
_LATENT_J_KG = 2.45e6


@dataclass(frozen=True)
class Implausible:
    """A figure far from the usual.

    figure : which; value, low, high : in the span's unit, None where no span is behind it
    sentence : what it is, what is usual, and what may have been meant
    """

    figure: str
    sentence: str
    value: float | None = None
    low: float | None = None
    high: float | None = None
    source: str = ""


class _Looked(NamedTuple):
    """What a figure is computed from."""

    case: Case
    machine: Machine


def implausible(option: OptionCase, machine: Machine, display: Display) -> tuple[Implausible, ...]:
    """Every figure of an option that is outside its usual span, in the order of the table."""
    looked = _Looked(option.case, machine)
    kinds = _kinds(option.case)
    found: list[Implausible] = []
    judged: set[str] = set()
    for span in spans():
        if span.figure in judged or (span.only and span.only not in kinds):
            continue
        judged.add(span.figure)
        value = FIGURES[span.figure](looked)
        if value is not None and not span.low <= value <= span.high:
            found.append(_far(span, value, display == "SI"))
    compressor = [Implausible("compressor", sentence) for sentence in machine.to_look_at]
    return (*found, *compressor, *_set_points(option.case, display), *_limit(option.case))


def _kinds(case: Case) -> set[str]:
    all_outdoor = design_outdoor_flow(case) >= float(case.air.supply_flow) * (1.0 - 1e-9)
    kinds = {"outdoor-air unit" if all_outdoor or case.outdoor_air_unit else "room unit"}
    stated = case.allowance
    grows = stated is not None and stated.process_space == "indoor horticulture"
    if grows or case.loads.plants is not None:
        kinds.add("horticulture")
    if case.prices is None or case.prices.currency == "USD":
        kinds.add("USD")
    return kinds


def _far(span: Span, value: float, si: bool) -> Implausible:
    """ "12 USD/kWh is 100 times the usual; was 0.12 meant?" """
    usual = span.shown(span.usual, si)
    low, high = span.bare(span.low, si), span.shown(span.high, si)
    said = f"{span.key}: {span.name} of {span.shown(value, si)}"
    meant = _meant(span, value)
    if value <= 0.0 or span.si_offset:
        how = f"is outside {low} to {high}, where {usual} is usual"
    else:
        ratio = value / span.usual
        times = f"{_round(ratio)} times" if ratio >= 1.0 else f"1/{_round(1.0 / ratio)} of"
        how = f"is {times} the usual {usual} ({low} to {high})"
    ask = f"; was {span.shown(meant, si)} meant?" if meant is not None else "; is it meant?"
    return Implausible(
        span.figure, f"{said} {how}{ask} ({span.source})", value, span.low, span.high, span.source
    )


def _round(ratio: float) -> str:
    return f"{ratio:,.0f}" if ratio >= 10.0 else f"{ratio:.2g}"


def _meant(span: Span, value: float) -> float | None:
    """The value with its decimal point moved into the span, where that gives one near the usual."""
    if span.si_offset or value <= 0.0:
        return None
    for step in range(1, 7):
        for moved in (value / 10.0**step, value * 10.0**step):
            if max(span.low, span.usual / 4.0) <= moved <= min(span.high, span.usual * 4.0):
                return moved
    return None


def _set_points(case: Case, display: Display) -> list[Implausible]:
    """Set points so near each other that the unit cools and heats in turn."""
    room = case.room
    pairs = {
        "": (room.cooling_setpoint, room.heating_setpoint),
        " in unoccupied hours": (
            room.cooling_setpoint
            if room.cooling_setpoint_unoccupied is None
            else room.cooling_setpoint_unoccupied,
            room.heating_setpoint
            if room.heating_setpoint_unoccupied is None
            else room.heating_setpoint_unoccupied,
        ),
    }
    found: list[Implausible] = []
    for when, (cooling, heating) in pairs.items():
        apart_K = float(cooling) - float(heating)
        if apart_K < NEAREST_SETPOINTS_K - 1e-9 and not found:
            gap = show(apart_K, "temperature difference", display, 2)
            found.append(
                Implausible(
                    "set points",
                    f"[room]: the set points all but meet{when}, {gap} apart: the unit would cool "
                    "and heat in turn; 5 °F is usual (common practice, no source)",
                    apart_K,
                )
            )
    return found


def _limit(case: Case) -> list[Implausible]:
    """A humidity limit above the range that hours are counted against."""
    settings = case.humidity
    if settings.control != "relative humidity":
        return []
    high = float(settings.range_high)
    limits = [settings.limit_value]
    if settings.limit_unoccupied_value is not None:
        limits.append(settings.limit_unoccupied_value)
    above = max(limits)
    if above <= high + 1e-9:
        return []
    return [
        Implausible(
            "limit",
            f"[humidity]: the limit of {100.0 * above:g} % RH is above range_high, "
            f"{100.0 * high:g} %: the room is let damper than the range it is counted against; "
            "lower the limit or raise range_high",
            above,
        )
    ]


# ---------------------------------------------------------------------------------------------
# Figures


def _power_density(looked: _Looked, name: str) -> float | None:
    table = getattr(looked.case.loads, name)
    if table is None:
        return None
    floor = float(looked.case.room.floor_area)
    power = table.power
    watts = float(table.power_density) * floor if power is None else float(power)
    # No power at all is stated on purpose.
    return watts / floor / _W_FT2 if watts > 0.0 else None


_W_FT2 = 10.763910416709722  # W/m2
_CFM = 0.3048**3 / 60.0  # m3/s
_FT2 = 0.3048**2  # m2
_TON_W = 12000.0 * 1055.05585262 / 3600.0


def _people(looked: _Looked) -> float | None:
    people, floor = looked.case.loads.people, float(looked.case.room.floor_area)
    number = 0.0 if people is None else people.number(floor)
    return floor / number / _FT2 if number > 0.0 else None


def _flow_per_area(looked: _Looked) -> float:
    return float(looked.case.air.supply_flow) / _CFM / (float(looked.case.room.floor_area) / _FT2)


def _tons(looked: _Looked) -> float:
    return looked.machine.unit.rated_total_W / _TON_W


def _flow_per_ton(looked: _Looked) -> float:
    return float(looked.case.air.supply_flow) / _CFM / _tons(looked)


def _area_per_ton(looked: _Looked) -> float:
    return float(looked.case.room.floor_area) / _FT2 / _tons(looked)


def _most(looked: _Looked, name: str) -> float:
    return float(looked.machine.drivers[:, DRIVERS.index(name)].max())


def _gains(looked: _Looked) -> float:
    return _most(looked, "gains_sensible_W") / looked.machine.unit.rated_total_W


def _moisture(looked: _Looked) -> float:
    latent_W = _most(looked, "gains_moisture_kg_s") * _LATENT_J_KG
    return latent_W / looked.machine.unit.rated_total_W


def _fan(looked: _Looked) -> float | None:
    power = looked.case.air.fan_power
    if power is None or power <= 0.0:
        return None
    return float(power) / (float(looked.case.air.supply_flow) / _CFM)


def _efficiency(looked: _Looked) -> float | None:
    stated = looked.case.unit.efficiency
    return None if stated is None else in_unit(float(stated), "efficiency ratio", "EER")


def _electricity_price(looked: _Looked) -> float | None:
    prices = looked.case.prices
    if prices is None:
        return None
    stated = [period.price for period in prices.electricity_periods]
    if prices.electricity is not None:
        stated.append(prices.electricity)
    if not stated:
        return None
    found = [in_unit(float(price), "energy price", "USD/kWh") for price in stated]
    # The one farthest from the usual speaks for a tariff of several.
    return max(found, key=lambda price: abs(price - 0.12))


def _gas_price(looked: _Looked) -> float | None:
    prices = looked.case.prices
    if prices is None or prices.gas is None:
        return None
    return in_unit(float(prices.gas), "energy price", "USD/MMBtu")


def _demand_price(looked: _Looked) -> float | None:
    prices = looked.case.prices
    if prices is None or prices.demand is None:
        return None
    return in_unit(float(prices.demand), "demand price", "USD/kW")


def _fahrenheit(value: float) -> float:
    return in_unit(float(value), "temperature", "degF")


FIGURES: dict[str, Callable[[_Looked], float | None]] = {
    "lights": lambda looked: _power_density(looked, "lights"),
    "equipment": lambda looked: _power_density(looked, "equipment"),
    "people": _people,
    "airflow per area": _flow_per_area,
    "airflow per ton": _flow_per_ton,
    "area per ton": _area_per_ton,
    "gains over capacity": _gains,
    "moisture over capacity": _moisture,
    "fan power per flow": _fan,
    "efficiency": _efficiency,
    "electricity price": _electricity_price,
    "gas price": _gas_price,
    "demand price": _demand_price,
    "height": lambda looked: float(looked.case.room.height) / 0.3048,
    "infiltration": lambda looked: (
        None
        if looked.case.room.infiltration is None
        else in_unit(float(looked.case.room.infiltration), "rate", "ACH")
    ),
    "cooling set point": lambda looked: _fahrenheit(looked.case.room.cooling_setpoint),
    "heating set point": lambda looked: _fahrenheit(looked.case.room.heating_setpoint),
}
