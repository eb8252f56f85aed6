"""Outdoor air of an hour: economizer, and a recovery device between it and the room's exhaust.

A device of sensible effectiveness es and latent effectiveness el (AHRI 1060, ASHRAE 84: share of
the difference between outdoor and room state) brings outdoor air in at T_o + es (T - T_o) and
W_o + el (W - W_o): linear in the room's state, as the room's balances are.
"""

from __future__ import annotations

from typing import NamedTuple

from dewledger.weather.numerics.compiled import compiled
from dewledger.weather.physics.moist_air import dew_point, enthalpy, heat_capacity

NO_ECONOMIZER = 0
DRY_BULB = 1
DEW_POINT = 2
ENTHALPY = 3

# The two flows of a rating; beyond them the line is followed only a little way.
_RATED_LOW = 0.75
_FLOW_RANGE = (0.5, 1.25)
_HIGHEST = 0.95


class OutdoorAir(NamedTuple):
    """Economizer and recovery device; the defaults are neither."""

    economizer: int = 0  # NO_ECONOMIZER, DRY_BULB, DEW_POINT or ENTHALPY
    most_kg_s: float = 0.0  # outdoor air with the economizer wide open
    high_limit_C: float = 0.0  # dry bulb above which it stays shut
    lockout_dew_C: float = 100.0  # dew point above which it stays shut
    recovery: int = 0
    sensible_full: float = 0.0  # effectiveness at the rated flow
    sensible_low: float = 0.0  # and at 75 % of it
    latent_full: float = 0.0
    latent_low: float = 0.0
    rated_kg_s: float = 1.0
    frost_C: float = -100.0  # below this outdoors no more is recovered than at it
    bypass: int = 0  # 1: recovery is turned down where cool outdoor air is welcome
    power_W: float = 0.0  # exhaust side and drive, while outdoor air flows


NO_DEVICES = OutdoorAir()


@compiled
def effectiveness_at(full: float, low: float, flow_share: float) -> float:
    """Effectiveness on the line through ``full``, at the rated flow, and ``low``, at 75 % of it.

    A fraction [1]; AHRI 1060 rates both flows (not checked against the text).
    """
    share = min(max(flow_share, _FLOW_RANGE[0]), _FLOW_RANGE[1])
    return min(max(full + (low - full) * (1.0 - share) / (1.0 - _RATED_LOW), 0.0), _HIGHEST)


@compiled
def economizer_open(
    devices: OutdoorAir,
    outdoor_C: float,
    outdoor_hum_ratio: float,
    pressure_Pa: float,
    room_C: float,
    room_hum_ratio: float,
) -> bool:
    """Whether the economizer's limits let more outdoor air in; compared with the room's air.

    Temperatures [C], humidity ratios [kg/kg]; the limits are those that the case states.
    """
    if devices.economizer == NO_ECONOMIZER or outdoor_C > devices.high_limit_C:
        return False
    if dew_point(max(outdoor_hum_ratio, 1e-6), pressure_Pa) > devices.lockout_dew_C:
        return False
    if devices.economizer == DEW_POINT:
        return outdoor_hum_ratio <= room_hum_ratio
    if devices.economizer == ENTHALPY:
        return enthalpy(outdoor_C, outdoor_hum_ratio) <= enthalpy(room_C, room_hum_ratio)
    return True


@compiled
def outdoor_air(
    devices: OutdoorAir,
    least_kg_s: float,
    outdoor_C: float,
    outdoor_hum_ratio: float,
    pressure_Pa: float,
    room_C: float,
    room_hum_ratio: float,
    surplus_W: float,
    setpoint_C: float,
    fan_base: float,
    may_open: bool,
    exhaust_share: float,
) -> tuple[float, float, float]:
    """Outdoor air [kg/s] and effectiveness, sensible and latent, of an hour.

    Controls act on the room's state as the hour begins.

    Parameters
    ----------
    least_kg_s : outdoor air that ventilation asks for
    surplus_W : heat beyond what keeps the room at its cooling set point, without outdoor air
    fan_base : 1 with a fan that runs all hour, 0 with one that cycles with the compressor
    may_open : whether the economizer may bring more than the least
    exhaust_share : exhaust through the recovery device over the outdoor air through it, at most 1:
        effectiveness is of the lesser of the two flows
    """
    flow = least_kg_s
    sensible = 0.0
    latent = 0.0
    if devices.recovery == 1 and flow > 0.0:
        share = flow / devices.rated_kg_s
        sensible = effectiveness_at(devices.sensible_full, devices.sensible_low, share)
        latent = effectiveness_at(devices.latent_full, devices.latent_low, share)
        sensible *= exhaust_share
        latent *= exhaust_share
        if outdoor_C < devices.frost_C and room_C > devices.frost_C:
            kept = (room_C - devices.frost_C) / (room_C - outdoor_C)
            sensible *= kept
            latent *= kept
    if surplus_W <= 0.0 or outdoor_C >= setpoint_C:
        return flow, sensible, latent
    # Cool outdoor air is welcome: as much of it as holds the cooling set point.
    wanted = flow
    if fan_base > 0.0:
        wanted = surplus_W / (heat_capacity(outdoor_hum_ratio) * (setpoint_C - outdoor_C))
    if (
        wanted > flow
        and may_open
        and economizer_open(
            devices, outdoor_C, outdoor_hum_ratio, pressure_Pa, room_C, room_hum_ratio
        )
    ):
        return max(min(wanted, devices.most_kg_s), flow), 0.0, 0.0
    damp = latent > 0.0 and outdoor_hum_ratio > room_hum_ratio
    if devices.bypass == 1 and sensible > 0.0 and not damp:
        turned = min(max(1.0 - wanted / flow, 0.0), sensible)
        latent *= turned / sensible
        sensible = turned
    return flow, sensible, latent
