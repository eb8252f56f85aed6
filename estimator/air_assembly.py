"""Outdoor air, its devices, flow control, humidifier and envelope, as the loop takes them."""

from __future__ import annotations

import numpy as np

from estimator.calendar import Calendar
from estimator.case import Case
from estimator.case.model import design_outdoor_flow, humidifier_limit
from estimator.envelope import NO_NETWORK, Network, network_of
from estimator.flow_control import (
    CONSTANT,
    TWO_SPEED,
    VARIABLE_FLOW,
    FlowControl,
)
from estimator.humidifying import ADIABATIC, NO_HUMIDIFIER, STEAM, STEAM_HEAT_J_KG, Humidifier
from estimator.outdoor_air import DEW_POINT, DRY_BULB, ENTHALPY, NO_DEVICES, OutdoorAir
from estimator.processes import fan_power
from weather.errors import InputError
from weather.moist_air import FloatArray
from weather.solar import tilted_irradiance
from weather.year import WeatherYear

_ECONOMIZERS = {"dry bulb": DRY_BULB, "dew point": DEW_POINT, "enthalpy": ENTHALPY}
_NEVER_C = 100.0
_UNLIMITED_KG_S = 1e6
_J_KWH = 3.6e6


def outdoor_flow(case: Case, calendar: Calendar) -> FloatArray:
    """Outdoor air through the unit that ventilation asks for [m3/s], (8760,).

    A recovery device's leakage raises it: that much of the flow is the room's own air.
    """
    air = case.air
    profile = calendar.profile_values(case.profile(air.outdoor_profile))
    if air.demand_control and case.loads.people is not None:
        people = case.loads.people
        floor = float(case.room.floor_area)
        present = people.number(floor) * calendar.profile_values(case.profile(people.profile))
        flow = float(air.outdoor_per_area or 0.0) * floor * profile
        flow = flow + float(air.outdoor_per_person or 0.0) * present
    else:
        flow = design_outdoor_flow(case) * profile
    if air.recovery is None:
        return flow
    flow = flow / (1.0 - float(air.recovery.leakage))
    if flow.max() > float(air.supply_flow) * _least_share(case) * (1.0 + 1e-9):
        raise InputError(
            "[air.recovery] leakage raises the outdoor air above the least supply flow; raise "
            "supply_flow or minimum_flow, or lower outdoor_flow"
        )
    return flow


def _least_share(case: Case) -> float:
    air = case.air
    return 1.0 if air.flow_control == "constant" else float(air.minimum_flow)


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


def humidifier(case: Case) -> Humidifier:
    """The humidifier as the loop takes it."""
    settings = case.humidifier
    if settings is None:
        return NO_HUMIDIFIER
    if settings.source == "adiabatic":
        energy = settings.power_per_flow * _J_KWH
    else:
        energy = STEAM_HEAT_J_KG / float(settings.efficiency or 1.0)
    return Humidifier(
        ADIABATIC if settings.source == "adiabatic" else STEAM,
        1 if case.humidity.control == "dew point" else 0,
        _UNLIMITED_KG_S if settings.capacity is None else float(settings.capacity),
        float(energy),
        1 if settings.source == "gas steam" else 0,
    )


def low_humidity(case: Case, calendar: Calendar) -> FloatArray:
    """The humidifier's limit in each hour; 0 where there is none."""
    if case.humidifier is None:
        return np.zeros(len(calendar.occupied))
    return np.where(calendar.occupied, humidifier_limit(case, True), humidifier_limit(case, False))


def network(case: Case, year: WeatherYear) -> Network:
    """The envelope's network; unused where the case gives a plain conductance."""
    envelope = case.envelope
    if envelope is None:
        return NO_NETWORK
    ground = envelope.ground_temperature
    mean = float(year.frame["temp_air_C"].mean())
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
    gains = np.zeros(len(year.frame))
    if case.envelope is None:
        return gains
    for window in case.envelope.windows:
        glass = float(window.area) * float(window.solar_factor) * float(window.shading)
        gains += glass * tilted_irradiance(year, window.tilt, window.azimuth)
    return gains
