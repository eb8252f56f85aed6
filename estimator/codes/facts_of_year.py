"""What an option's case, its machine and its year say to the rules of an energy code."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from dewledger.accounts.energy import column
from dewledger.assembly.machine import Machine
from dewledger.case import Case, OptionCase
from dewledger.case.reading.checks import design_outdoor_flow, humidifier_limit
from dewledger.codes.determination import (
    Allowance,
    ReheatFacts,
    drying_floor_rh,
    ventilation_limit_C,
)
from dewledger.codes.rating_standards import Comparison
from dewledger.components.supply_fan import CONSTANT_FLOW, fan_power_share
from dewledger.hourly.types import DRIVERS
from dewledger.weather.climate import degree_days, thermal_zone
from dewledger.weather.physics.moist_air import (
    STANDARD_PRESSURE_PA,
    FloatArray,
    dew_point,
    hum_ratio_from_rel_hum,
    rel_hum_from_hum_ratio,
    saturation_hum_ratio,
)

_COOLING_SETPOINT = DRIVERS.index("cooling_setpoint_C")
_HEATING_SETPOINT = DRIVERS.index("heating_setpoint_C")
_OUTDOOR_TEMP = DRIVERS.index("outdoor_temp_C")
_YEAR_H = 8760


def reheat_facts(
    option: OptionCase,
    machine: Machine,
    ledger: FloatArray,
    annual: dict[str, Any],
    reference: tuple[Machine, FloatArray],
    allowance: Allowance,
    comparisons: tuple[Comparison, ...] = (),
) -> ReheatFacts:
    """What an option's case and year say to the code's rules; None where they do not say.

    Parameters
    ----------
    reference : machine and ledger of the reference option, which stands for the code's baseline
    allowance : the designer's statements, which fill in what the case does not know
    comparisons : the unit's ratings, as modeled, against the minimum values of codes
    """
    case = option.case
    unit = machine.unit
    outdoor_share = design_outdoor_flow(case) / float(case.air.supply_flow)
    outdoor_air_unit = case.outdoor_air_unit is not None or outdoor_share > 1.0 - 1e-9
    ventilates = _ventilates(allowance, outdoor_air_unit)
    least_flow, cut_first = _flow(case, machine)
    heating_supply, cooling_supply = _supply_temps(case, ledger)
    hours_above, heat_above = _ventilation(machine, ledger, allowance) if ventilates else (None, 0)
    dried, dried_below = _dried(case, ledger, allowance)
    zone, number = _climate_zone(machine, allowance)
    low_flow, low_power = _low_fan_speed(machine)
    return ReheatFacts(
        reheat_recovered_kWh=annual["reheat_recovered_kWh"],
        reheat_purchased_kWh=annual["reheat_purchased_kWh"],
        reheat_unmet_kWh=max(annual["reheat_unmet_kWh"], 0.0),
        baseline_reheat_kWh=_baseline(reference[1]),
        heating_type="gas" if reference[0].control.heating_gas == 1 else "electricity",
        heating_efficiency=reference[0].control.heating_efficiency,
        computer_room=allowance.process_space == "computer room",
        humidity_limit_rh=_drying_rh(case),
        dried_hours=dried,
        dried_hours_below=dried_below,
        humidifying_rh=_humidifying_rh(case),
        humidity_deadband=_deadband(case),
        cooling_capacity_W=unit.rated_total_W - unit.rated_fan_W,
        minimum_flow_frac=least_flow,
        flow_cut_first=cut_first,
        reheat_flows_above=_flows_above(machine, ledger, least_flow),
        minimum_capacity_frac=_least_capacity(case),
        outdoor_flow_frac=outdoor_share,
        zone_supply_m3_s=float(case.air.supply_flow),
        heating_supply_rise_K=_heating_rise_K(ledger, machine.calendar.occupied),
        heating_supply_C=heating_supply,
        cooling_supply_C=cooling_supply,
        thermostat_deadband_K=_thermostat_deadband_K(machine),
        humidity_devices=1.0,
        humidity_controlled=_humidity_controlled(case),
        ventilation_hours_above=None if hours_above is None else float(hours_above),
        ventilation_heat_above_kWh=None if hours_above is None else float(heat_above),
        openings_above_6_ft=allowance.openings_above_6_ft,
        ventilates_conditioned_zones=ventilates,
        zone_0A_to_3A=_humid_zone(zone, number),
        climate_zone=zone,
        economizer_zone=None if number is None else number > 1,
        has_economizer=case.air.economizer is not None,
        low_fan_flow_frac=low_flow,
        low_fan_power_frac=low_power,
        humidified_dew_point_C=_humidified_dew_point_C(case),
        efficiency_margin=_efficiency_margin(comparisons),
        thermostat_exception=allowance.thermostat_exception,
        outdoor_air_at_code_rate=_at_code_rate(case, allowance),
        zone_control_exception=allowance.zone_control_exception,
        indoor_horticulture=allowance.process_space == "indoor horticulture",
        outdoor_air_unit=outdoor_air_unit,
        variable_flow=case.air.flow_control == "variable" and case.outdoor_air_unit is None,
        supply_reset=_supply_reset(case, allowance),
    )


def _least_capacity(case: Case) -> float:
    """The least capacity the unit runs at, as a share of full."""
    unit = case.unit
    if unit.capacity_control == "variable":
        return float(unit.minimum_capacity)
    if unit.capacity_control == "stages" and unit.stages:
        return float(unit.stages[0])
    return 1.0


def _ventilates(allowance: Allowance, outdoor_air_unit: bool) -> bool | None:
    """Whether other conditioned zones are ventilated: not by a unit that recirculates the air of
    its one room, unless the designer states it."""
    stated = allowance.ventilates_conditioned_zones
    return False if stated is None and not outdoor_air_unit else stated


def _thermostat_deadband_K(machine: Machine) -> float:
    """The least of the year between heating and cooling set point."""
    drivers = machine.drivers
    return float((drivers[:, _COOLING_SETPOINT] - drivers[:, _HEATING_SETPOINT]).min())


def _humidity_controlled(case: Case) -> bool:
    return (
        case.humidity.control != "none"
        or case.humidifier is not None
        or case.outdoor_air_unit is not None
    )


def _flow(case: Case, machine: Machine) -> tuple[float, bool | None]:
    """Supply flow when reheat starts over design flow; whether control cuts it first.

    The second is None where the flow is constant, and for an outdoor-air unit, whose flow follows
    its outdoor air and no dehumidification call.
    """
    flow = machine.plant.flow
    if flow.kind == CONSTANT_FLOW or case.outdoor_air_unit is not None:
        return 1.0, None
    return flow.minimum_share, flow.before_reheat == 1


def _flows_above(machine: Machine, ledger: FloatArray, least: float) -> tuple[float, ...]:
    """Supply flow over design flow in hours with reheat that run above the least flow."""
    reheat = column(ledger, "reheat_recovered_kWh") + column(ledger, "reheat_purchased_kWh")
    share = column(ledger, "supply_flow_kg_s") / machine.plant.flow_kg_s
    above = share[(reheat > 1e-6) & (share > least + 1e-6)]
    return tuple(float(flow) for flow in above)


def _heated(ledger: FloatArray) -> npt.NDArray[np.bool_]:
    """Hours in which the unit heats its supply air."""
    heats = column(ledger, "heating_kWh") > 0.0
    running = column(ledger, "compressor_runtime_frac") > 0.0
    return heats & ~running & np.isfinite(column(ledger, "supply_temp_C"))


def _heating_rise_K(ledger: FloatArray, occupied: npt.NDArray[np.bool_]) -> float:
    """The most by which heating supply air is above the room's set point in occupied hours; 0 where
    none heats. Warm-up and setback before occupancy are free."""
    rise = column(ledger, "supply_temp_C") - column(ledger, "target_temp_C")
    return float(rise[_heated(ledger) & occupied].max(initial=0.0))


def _supply_temps(case: Case, ledger: FloatArray) -> tuple[float | None, float | None]:
    """Supply temperature while heating and while cooling [C]: set points of an outdoor-air unit,
    otherwise the warmest and the coldest of the year."""
    separate = case.outdoor_air_unit
    if separate is not None:
        mild = separate.supply_temperature_mild
        heating = separate.supply_temperature if mild is None else mild
        return float(heating), float(separate.supply_temperature)
    supply = column(ledger, "supply_temp_C")
    warm = supply[_heated(ledger)]
    cold = supply[(column(ledger, "cooling_total_kWh") > 0.0) & np.isfinite(supply)]
    return (
        float(warm.max()) if warm.size else None,
        float(cold.min()) if cold.size else None,
    )


def _supply_reset(case: Case, allowance: Allowance) -> bool | None:
    """Whether the supply temperature is reset: the case knows of an outdoor-air unit."""
    if case.outdoor_air_unit is None:
        return allowance.supply_reset
    return (
        case.outdoor_air_unit.supply_temperature_mild is not None
        or case.outdoor_air_unit.by_room_need
    )


def _low_fan_speed(machine: Machine) -> tuple[float, float]:
    """Flow and power at the low fan speed, as shares of full."""
    flow = machine.plant.flow
    if flow.kind == CONSTANT_FLOW:
        return 1.0, 1.0
    return flow.minimum_share, fan_power_share(flow.minimum_share, flow.set_pressure_share)


def _efficiency_margin(comparisons: tuple[Comparison, ...]) -> float | None:
    """By how much the unit exceeds the least IEER and EER, at its least, as a share of them."""
    shares = [
        found.value / found.minimum.value - 1.0
        for found in comparisons
        if found.value is not None and found.minimum.metric in ("EER", "IEER")
    ]
    return min(shares, default=None)


def _at_code_rate(case: Case, allowance: Allowance) -> bool | None:
    """Whether the outdoor air is no more than ventilation asks for: known where the case states
    rates by people and area."""
    if case.air.outdoor_per_person is not None or case.air.outdoor_per_area is not None:
        return True
    return allowance.outdoor_air_at_code_rate


def _climate_zone(machine: Machine, allowance: Allowance) -> tuple[str | None, int | None]:
    """The climate zone stated, and its number, which the weather year gives where none is."""
    stated = allowance.climate_zone
    if stated is not None:
        return stated, int(stated[0])
    outdoor = machine.drivers[:, _OUTDOOR_TEMP]
    if outdoor.size != _YEAR_H:
        return None, None
    return None, thermal_zone(*degree_days(outdoor))


def _humid_zone(zone: str | None, number: int | None) -> bool | None:
    """Whether the site is in zones 0A to 3A; None where only the letter is missing."""
    if zone is not None:
        return zone in ("0A", "1A", "2A", "3A")
    return False if number is not None and number > 3 else None


# ---------------------------------------------------------------------------------------------
# Humidity


def _as_rh(dew_point_C: float, temp_C: float) -> float:
    w = saturation_hum_ratio(dew_point_C, STANDARD_PRESSURE_PA)
    return float(rel_hum_from_hum_ratio(temp_C, w, STANDARD_PRESSURE_PA))


def _drying_rh(case: Case, occupied: bool | None = None) -> float | None:
    """The humidity limit enforced, a dew point as the RH it means at the cooling set point; the
    lower one where hours of occupancy have another and ``occupied`` is None."""
    settings = case.humidity
    if settings.control == "none":
        return None
    other = settings.limit_unoccupied_value
    limit = settings.limit_value
    if other is not None and occupied is not True:
        limit = other if occupied is False else min(limit, other)
    if settings.control == "relative humidity":
        return limit
    return _as_rh(limit, float(case.room.cooling_setpoint))


def _humidifying_rh(case: Case, occupied: bool | None = None) -> float | None:
    """The humidity that a humidifier holds, a dew point as the RH it means at the heating set
    point; the higher one where hours of occupancy have another and ``occupied`` is None."""
    if case.humidifier is None:
        return None
    if occupied is None:
        limit = max(humidifier_limit(case, True), humidifier_limit(case, False))
    else:
        limit = humidifier_limit(case, occupied)
    if case.humidity.control != "dew point":
        return limit
    return _as_rh(limit, float(case.room.heating_setpoint))


def _humidified_dew_point_C(case: Case) -> float | None:
    """The dew point that a humidifier holds, at its highest; None where nothing humidifies."""
    if case.humidifier is None:
        return None
    limit = max(humidifier_limit(case, True), humidifier_limit(case, False))
    if case.humidity.control == "dew point":
        return limit
    temp = float(case.room.heating_setpoint)
    w = hum_ratio_from_rel_hum(temp, limit, STANDARD_PRESSURE_PA)
    return float(dew_point(w, STANDARD_PRESSURE_PA))


def _deadband(case: Case) -> float | None:
    """Relative humidity between the end of humidifying and the start of drying, at its least."""
    bands = []
    for occupied in (True, False):
        high, low = _drying_rh(case, occupied), _humidifying_rh(case, occupied)
        if high is None or low is None:
            return None
        bands.append(high - low)
    return max(min(bands), 0.0)


def _dried(
    case: Case, ledger: FloatArray, allowance: Allowance
) -> tuple[float | None, float | None]:
    """Hours in which an outdoor-air unit dries to its supply dew point, and those of them with the
    room below the code's least humidity; None where a limit of the room governs drying."""
    floor = drying_floor_rh(allowance.code, allowance.edition)
    if case.outdoor_air_unit is None or case.humidity.control != "none" or floor is None:
        return None, None
    dries = column(ledger, "moisture_call_flag") > 0.0
    below = dries & (column(ledger, "room_rh_frac") < floor - 1e-4)
    return float(dries.sum()), float(below.sum())


# ---------------------------------------------------------------------------------------------
# Baseline and ventilation air


def _baseline(ledger: FloatArray) -> float | None:
    """Heat of the reference's purchased reheat [kWh]; None where it purchases none."""
    purchased = float(column(ledger, "reheat_purchased_kWh").sum())
    return purchased if purchased > 0.0 else None


def _ventilation(
    machine: Machine, ledger: FloatArray, allowance: Allowance
) -> tuple[int | None, float]:
    """Hours and heat in which ventilation air is warmed above the code's limit.

    Reheat, heating, and the heat of a recovery device where all the air comes through it.
    """
    limit_C = ventilation_limit_C(allowance.code, allowance.edition)
    if limit_C is None:
        return None, 0.0
    fan = column(ledger, "fan_runtime_frac")
    w = np.nan_to_num(column(ledger, "supply_hum_ratio_kg_kg"))
    flow = np.nan_to_num(column(ledger, "supply_flow_kg_s"))
    rate_W_K = fan * flow * (1006.0 + 1860.0 * w)
    given = 1000.0 * (
        column(ledger, "reheat_recovered_kWh")
        + column(ledger, "reheat_purchased_kWh")
        + column(ledger, "heating_kWh")
    )
    if machine.control.outdoor_air_unit.used == 1:
        # Cooling in the zone shows that it needs some; the unit's own only that its air is warm.
        cooling = column(ledger, "room_cooling_kWh") > 0.0
        given = given + 1000.0 * column(ledger, "outdoor_recovery_sensible_kWh").clip(min=0.0)
    else:
        cooling = column(ledger, "sensible_need_kWh") > 0.0
    supply = np.nan_to_num(column(ledger, "supply_temp_C"), nan=-100.0)
    running = rate_W_K > 0.0
    before = supply - np.divide(given, rate_W_K, out=np.zeros_like(given), where=running)
    return ventilation_heat_above(supply, before, rate_W_K, cooling, limit_C)


def ventilation_heat_above(
    supply_temp_C: FloatArray,
    before_heating_C: FloatArray,
    heat_capacity_rate_W_K: FloatArray,
    zones_cooling: npt.NDArray[np.bool_],
    limit_C: float,
) -> tuple[int, float]:
    """Hours, and heat [kWh], in which heating or recovery warms ventilation air above a limit.

    Parameters
    ----------
    supply_temp_C : temperature the air is supplied at, (hours,)
    before_heating_C : its temperature before reheat and heating; air that comes warmer than the
        limit by itself is not warmed beyond it by what follows, only further
    heat_capacity_rate_W_K : of the air, zero while the fan is off
    zones_cooling : most zones need cooling

    Only the heat that lifts the air above the limit counts.
    """
    beyond_K = supply_temp_C - np.maximum(before_heating_C, limit_C)
    # 1e-6 K: an air supplied exactly at the limit is within it.
    warmed = zones_cooling & (beyond_K > 1e-6) & (heat_capacity_rate_W_K > 0.0)
    heat_kWh = float((beyond_K * heat_capacity_rate_W_K)[warmed].sum()) / 1000.0
    return int(warmed.sum()), heat_kWh
