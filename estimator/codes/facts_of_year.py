"""What an option's case, its machine and its year say to the rules of an energy code."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from dewledger.accounts.energy import column
from dewledger.assembly.machine import Machine
from dewledger.case import Case, OptionCase
from dewledger.case.checks import design_outdoor_flow, humidifier_limit
from dewledger.codes.determination import (
    Allowance,
    ReheatFacts,
    drying_floor_rh,
    ventilation_heat_above,
    ventilation_limit_C,
)
from dewledger.components.supply_fan import CONSTANT_FLOW
from dewledger.weather.physics.moist_air import (
    STANDARD_PRESSURE_PA,
    FloatArray,
    rel_hum_from_hum_ratio,
    saturation_hum_ratio,
)

# Places in the hourly drivers (dewledger.hourly.single_zone_unit.DRIVERS).
_COOLING_SETPOINT, _HEATING_SETPOINT = 7, 8


def reheat_facts(
    option: OptionCase,
    machine: Machine,
    ledger: FloatArray,
    annual: dict[str, Any],
    reference: tuple[Machine, FloatArray],
    allowance: Allowance,
) -> ReheatFacts:
    """What an option's case and year say to the code's rules; None where they do not say.

    Parameters
    ----------
    reference : machine and ledger of the reference option, which stands for the code's baseline
    allowance : the designer's statements, which fill in what the case does not know
    """
    case = option.case
    unit = machine.unit
    least = {
        "variable": float(case.unit.minimum_capacity),
        "stages": float(case.unit.stages[0]) if case.unit.stages else 1.0,
    }.get(case.unit.capacity_control, 1.0)
    outdoor_share = design_outdoor_flow(case) / float(case.air.supply_flow)
    outdoor_air_unit = case.outdoor_air_unit is not None or outdoor_share > 1.0 - 1e-9
    # A unit that recirculates the air of its one room ventilates no other zone.
    ventilates = allowance.ventilates_conditioned_zones
    if ventilates is None and not outdoor_air_unit:
        ventilates = False
    least_flow, cut_first = _flow(case, machine)
    heating_supply, cooling_supply = _supply_temps(case, ledger)
    hours_above, heat_above = _ventilation(machine, ledger, allowance) if ventilates else (None, 0)
    baseline, heating_type = _baseline(*reference)
    dried, dried_below = _dried(case, ledger, allowance)
    zone = allowance.climate_zone
    return ReheatFacts(
        reheat_recovered_kWh=annual["reheat_recovered_kWh"],
        reheat_purchased_kWh=annual["reheat_purchased_kWh"],
        reheat_unmet_kWh=max(annual["reheat_unmet_kWh"], 0.0),
        heating_type=heating_type,
        humidity_limit_rh=_drying_rh(case),
        dried_hours=dried,
        dried_hours_below=dried_below,
        humidifying_rh=_humidifying_rh(case),
        humidity_deadband=_deadband(case),
        cooling_capacity_W=unit.rated_total_W - unit.rated_fan_W,
        minimum_flow_frac=least_flow,
        flow_cut_first=cut_first,
        reheat_flows_above=_flows_above(machine, ledger, least_flow),
        minimum_capacity_frac=least,
        outdoor_flow_frac=outdoor_share,
        zone_supply_m3_s=float(case.air.supply_flow),
        heating_supply_rise_K=_heating_rise_K(ledger),
        heating_supply_C=heating_supply,
        cooling_supply_C=cooling_supply,
        thermostat_deadband_K=float(
            (machine.drivers[:, _COOLING_SETPOINT] - machine.drivers[:, _HEATING_SETPOINT]).min()
        ),
        humidity_devices=1.0,
        humidity_controlled=(
            case.humidity.control != "none"
            or case.humidifier is not None
            or case.outdoor_air_unit is not None
        ),
        ventilation_hours_above=None if hours_above is None else float(hours_above),
        ventilation_heat_above_kWh=None if hours_above is None else float(heat_above),
        baseline_reheat_kWh=baseline,
        openings_above_6_ft=allowance.openings_above_6_ft,
        ventilates_conditioned_zones=ventilates,
        zone_0A_to_3A=None if zone is None else zone in ("0A", "1A", "2A", "3A"),
        outdoor_air_unit=outdoor_air_unit,
        variable_flow=case.air.flow_control == "variable" and case.outdoor_air_unit is None,
        supply_reset=_supply_reset(case, allowance),
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


def _heating_rise_K(ledger: FloatArray) -> float:
    """The most by which heating supply air is above the room's set point; 0 where none heats."""
    rise = column(ledger, "supply_temp_C") - column(ledger, "target_temp_C")
    return float(rise[_heated(ledger)].max(initial=0.0))


def _supply_temps(case: Case, ledger: FloatArray) -> tuple[float | None, float | None]:
    """Supply temperature while heating and while cooling [C]: set points of an outdoor-air unit,
    otherwise the warmest and the coldest of the year."""
    beside = case.outdoor_air_unit
    if beside is not None:
        mild = beside.supply_temperature_mild
        heating = beside.supply_temperature if mild is None else mild
        return float(heating), float(beside.supply_temperature)
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


def _baseline(machine: Machine, ledger: FloatArray) -> tuple[float | None, str]:
    """Energy the reference's reheat buys and its type; None where it buys none."""
    purchased = float(
        column(ledger, "reheat_purchased_electricity_kWh").sum()
        + column(ledger, "reheat_purchased_gas_kWh").sum()
    )
    source = next((source for source in machine.reheat if source.buys), None)
    if source is None or purchased <= 0.0:
        return None, ""
    return purchased, source.name


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
