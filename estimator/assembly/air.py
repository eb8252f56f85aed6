"""Outdoor air, its devices, flow control, humidifier and envelope, as the loop takes them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dewledger.assembly.calendar import Calendar
from dewledger.case import Case
from dewledger.case.reading.checks import design_outdoor_flow, humidifier_limit, least_supply_share
from dewledger.components.air_processes import fan_power
from dewledger.components.envelope import NO_NETWORK, Network, network_of
from dewledger.components.humidifier import (
    ADIABATIC,
    NO_HUMIDIFIER,
    STEAM,
    STEAM_HEAT_J_KG,
    HumidifierControl,
)
from dewledger.components.supply_fan import CONSTANT, TWO_SPEED, VARIABLE_FLOW, FlowControl
from dewledger.components.ventilation import DEW_POINT, DRY_BULB, ENTHALPY, NO_DEVICES, OutdoorAir
from dewledger.hourly.types import FAN_CYCLING, FAN_OFF, NO_OUTDOOR_AIR_UNIT, OutdoorAirControl
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import STANDARD_AIR_DENSITY, FloatArray
from dewledger.weather.physics.solar import tilted_irradiance
from dewledger.weather.year import WeatherYear

_ECONOMIZERS = {"dry bulb": DRY_BULB, "dew point": DEW_POINT, "enthalpy": ENTHALPY}
_NEVER_C = 100.0
_UNLIMITED_KG_S = 1e6
_UNLIMITED_W = 1e12
_J_KWH = 3.6e6


def outdoor_flow(case: Case, calendar: Calendar) -> FloatArray:
    """Outdoor air through the unit that ventilation asks for [m3/s], (8760,).

    A recovery device's leakage raises it: that much of the flow is the room's own air.
    """
    air = case.air
    profile = _outdoor_profile(case, calendar)
    if air.demand_control and case.loads.people is not None:
        people = case.loads.people
        floor = float(case.room.floor_area)
        present = people.number(floor) * calendar.profile_values(case.profile(people.profile))
        present = present * _not_shut(case, calendar)
        flow = float(air.outdoor_per_area or 0.0) * floor * profile
        flow = flow + float(air.outdoor_per_person or 0.0) * present
    else:
        flow = design_outdoor_flow(case) * profile
    if air.recovery is None:
        return flow
    flow = flow / (1.0 - float(air.recovery.leakage))
    if flow.max() > float(air.supply_flow) * least_supply_share(case) * (1.0 + 1e-9):
        raise InputError(
            "[air.recovery] leakage raises the outdoor air above the least supply flow; raise "
            "supply_flow or minimum_flow, or lower outdoor_flow"
        )
    return flow


@dataclass(frozen=True)
class AirFlows:
    """Air of each hour; arrays of 8760.

    outdoor_m3_s : outdoor air through the unit while its fan runs
    make_up_m3_s : outdoor air that exhaust beyond it draws in through the envelope
    exhaust_share : exhaust through a recovery device over the outdoor air through it, at most 1
    """

    outdoor_m3_s: FloatArray
    make_up_m3_s: FloatArray
    exhaust_share: FloatArray


def air_flows(case: Case, calendar: Calendar, fan_modes: FloatArray) -> AirFlows:
    """Outdoor air, and what exhaust makes of it.

    Exhaust is weighed against the outdoor air that ventilation asks for. Where an economizer brings
    more, that much less would leak in: all of it is outdoor air, and the room has the same sum.

    Raises
    ------
    InputError : exhaust in hours whose outdoor air comes and goes with a cycling fan
    """
    air = case.air
    through = outdoor_flow(case, calendar)
    if air.exhaust_flow is None:
        return AirFlows(through, np.zeros(len(through)), np.ones(len(through)))
    if air.exhaust_profile is None:
        profile = _outdoor_profile(case, calendar)
    else:
        profile = calendar.profile_values(case.profile(air.exhaust_profile))
    exhaust = float(air.exhaust_flow) * profile
    brought = np.where(fan_modes == FAN_OFF, 0.0, through)
    if ((fan_modes == FAN_CYCLING) & (brought > 0.0) & (exhaust > 0.0)).any():
        raise InputError(
            "[air] exhaust_flow runs in hours whose fan cycles, and with it the outdoor air; write "
            'fan = "continuous" and fan_unoccupied "continuous" or "off", or profiles that keep '
            "exhaust and outdoor air apart"
        )
    share = np.ones(len(through))
    if air.recovery is not None:
        brought = brought * (1.0 - float(air.recovery.leakage))
        past = exhaust * float(air.recovery.exhaust_share)
        flows = brought > 0.0
        share[flows] = np.minimum(past[flows] / brought[flows], 1.0)
    return AirFlows(through, np.maximum(exhaust - brought, 0.0), share)


def _outdoor_profile(case: Case, calendar: Calendar) -> FloatArray:
    profile = calendar.profile_values(case.profile(case.air.outdoor_profile))
    return profile * _not_shut(case, calendar)


def _not_shut(case: Case, calendar: Calendar) -> FloatArray:
    """0 in the hours of morning recovery that keep the outdoor air shut, otherwise 1."""
    if case.air.outdoor_in_morning_recovery:
        return np.ones(len(calendar.occupied))
    return np.where(calendar.conditioned & ~calendar.occupied, 0.0, 1.0)


def devices(case: Case, volume_to_mass: float) -> OutdoorAir:
    """Economizer and recovery device."""
    air = case.air
    found = NO_DEVICES
    if air.economizer is not None:
        economizer = air.economizer
        most = air.supply_flow if economizer.flow is None else economizer.flow
        lockout = economizer.humidity_lockout
        found = found._replace(
            economizer=_ECONOMIZERS[economizer.control],
            most_kg_s=float(most) * volume_to_mass,
            high_limit_C=float(economizer.high_limit),
            lockout_dew_C=_NEVER_C if lockout is None else float(lockout),
        )
    if air.recovery is not None:
        recovery = air.recovery
        through = design_outdoor_flow(case) / (1.0 - float(recovery.leakage))
        rated = through if recovery.rated_flow is None else float(recovery.rated_flow)
        found = found._replace(
            recovery=1,
            sensible_full=float(recovery.sensible),
            sensible_low=float(recovery.sensible_low or 0.0),
            latent_full=float(recovery.latent),
            latent_low=float(recovery.latent_low or 0.0),
            rated_kg_s=max(rated * volume_to_mass, 1e-9),
            frost_C=-_NEVER_C if recovery.frost_limit is None else float(recovery.frost_limit),
            bypass=1 if recovery.bypass else 0,
            power_W=float(recovery.drive_power) + recovery_fan_power(case),
        )
    return found


def recovery_fan_power(case: Case) -> float:
    """Fan power [W] that each air stream of the recovery device takes at the design outdoor air."""
    recovery = case.air.recovery
    if recovery is None:
        return 0.0
    through = design_outdoor_flow(case) / (1.0 - float(recovery.leakage))
    return float(
        fan_power(through, float(recovery.pressure_drop), float(recovery.exhaust_fan_efficiency))
    )


def flow_control(case: Case) -> FlowControl:
    """How the supply flow follows the load."""
    air = case.air
    if air.flow_control == "constant":
        return CONSTANT
    leaving = float(air.leaving_temperature)
    mild = air.leaving_temperature_mild
    return FlowControl(
        TWO_SPEED if air.flow_control == "two-speed" else VARIABLE_FLOW,
        float(air.minimum_flow),
        float(air.set_pressure),
        leaving,
        leaving if mild is None else float(mild),
        float(air.reset_from),
        float(air.reset_to),
        1 if air.flow_before_reheat else 0,
    )


def full_capacity_flow(case: Case, rated_total_W: float) -> float:
    """Least supply air [kg/s] with all of the displacement in use; 0 where the flow is the design's
    own: constant, or that of an outdoor-air unit."""
    if case.air.flow_control == "constant" or case.outdoor_air_unit is not None:
        return 0.0
    return float(case.air.least_flow_per_capacity) * rated_total_W * STANDARD_AIR_DENSITY


def humidifier(case: Case) -> HumidifierControl:
    """The humidifier as the loop takes it."""
    settings = case.humidifier
    if settings is None:
        return NO_HUMIDIFIER
    if settings.source == "adiabatic":
        energy = settings.power_per_flow * _J_KWH
    else:
        energy = STEAM_HEAT_J_KG / float(settings.efficiency or 1.0)
    return HumidifierControl(
        ADIABATIC if settings.source == "adiabatic" else STEAM,
        1 if case.humidity.control == "dew point" else 0,
        _UNLIMITED_KG_S if settings.capacity is None else float(settings.capacity),
        float(energy),
        1 if settings.source == "gas steam" else 0,
    )


def outdoor_air_unit(case: Case) -> OutdoorAirControl:
    """Set points of an outdoor-air unit, and the separate cooling of the room."""
    settings = case.outdoor_air_unit
    if settings is None:
        return NO_OUTDOOR_AIR_UNIT
    temp = float(settings.supply_temperature)
    mild = settings.supply_temperature_mild
    dew_mild = settings.supply_dew_point_mild
    capacity = settings.room_cooling_capacity
    return OutdoorAirControl(
        1,
        float(settings.supply_dew_point),
        float(settings.supply_dew_point if dew_mild is None else dew_mild),
        float(settings.dew_point_reset_from),
        float(settings.dew_point_reset_to),
        1 if settings.dew_point_reset_by == "outdoor dew point" else 0,
        1 if settings.by_room_humidity else 0,
        temp,
        temp if mild is None else float(mild),
        float(settings.reset_from),
        float(settings.reset_to),
        1 if settings.by_room_need else 0,
        float(settings.least_temperature or 0.0),
        float(settings.room_cooling_efficiency),
        float(settings.room_sensible_heat_ratio),
        _UNLIMITED_W if capacity is None else float(capacity),
    )


def low_humidity(case: Case, calendar: Calendar) -> FloatArray:
    """The humidifier's limit in each hour; 0 where there is none."""
    if case.humidifier is None:
        return np.zeros(len(calendar.occupied))
    return np.where(
        calendar.conditioned, humidifier_limit(case, True), humidifier_limit(case, False)
    )


def network(case: Case, year: WeatherYear) -> Network:
    """The envelope's network; unused where the case gives a plain conductance."""
    envelope = case.envelope
    if envelope is None:
        return NO_NETWORK
    ground = envelope.ground_temperature
    mean = float(year.arrays["temp_air_C"].mean())
    try:
        return network_of(
            float(case.room.floor_area),
            float(envelope.opaque_conductance),
            float(envelope.window_conductance),
            envelope.mass,
            float(envelope.ground_conductance),
            mean if ground is None else float(ground),
        )
    except ValueError as error:
        raise InputError(f"[envelope] {error}") from None


def solar_gains(case: Case, year: WeatherYear) -> FloatArray:
    """Sun through the windows [W], (8760,)."""
    gains = np.zeros(len(year.arrays["temp_air_C"]))
    if case.envelope is None:
        return gains
    for window in case.envelope.windows:
        glass = float(window.area) * float(window.solar_factor) * float(window.shading)
        gains += glass * tilted_irradiance(year, window.tilt, window.azimuth)
    return gains
