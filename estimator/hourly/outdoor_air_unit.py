"""An hour of an outdoor-air unit, with cooling and heating of the room beside it.

The unit dries its air to a supply dew point and brings it to a supply temperature; what the room
still asks for goes to the cooling and heating beside it. Return air and exhaust are taken as they
were when the hour began; room temperature and humidity are those at its end.
"""

from __future__ import annotations

import math

from dewledger.components.envelope import air_coefficients, network_after
from dewledger.components.humidifier import heat_with_moisture
from dewledger.components.supply_fan import VARIABLE_FLOW
from dewledger.components.ventilation import outdoor_air
from dewledger.dx_unit.operate import operate, recovery_penalty
from dewledger.dx_unit.steady_state import outside_map
from dewledger.dx_unit.types import (
    FULL_CAPACITY,
    MATCH_REMOVAL,
    MATCH_SENSIBLE,
    Plant,
    Task,
    UnitMap,
)
from dewledger.hourly import ledger as at
from dewledger.hourly.dehumidification import humidity_limit
from dewledger.hourly.reheat import give_back
from dewledger.hourly.room_balance import air_entering, condensed_on_surfaces, idle
from dewledger.hourly.sensible_control import at_flow
from dewledger.hourly.types import NO_CONTROL, SECONDS, Balance, Control, Room
from dewledger.weather.numerics.compiled import compiled
from dewledger.weather.physics.moist_air import (
    FloatArray,
    dew_point,
    enthalpy,
    heat_capacity,
    hum_ratio_from_rel_hum,
    rel_hum_from_hum_ratio,
    saturation_hum_ratio,
    temp_from_enthalpy,
    vapor_enthalpy,
)

_HUMIDIFIER_STEPS = 40


@compiled
def supply_target(
    control: Control, outdoor_C: float, setpoint_C: float, surplus_W: float, rate_W_K: float
) -> float:
    """Supply temperature asked for [C].

    Linear between the reset's ends. By the room's need, it is no warmer than what takes out the
    surplus, the heat beyond what keeps the room at its cooling set point without supply air.
    """
    unit = control.outdoor_air_unit
    span = (outdoor_C - unit.reset_low_C) / (unit.reset_high_C - unit.reset_low_C)
    target = unit.temp_mild_C + min(max(span, 0.0), 1.0) * (unit.temp_C - unit.temp_mild_C)
    if unit.by_room == 1:
        target = min(target, max(setpoint_C - surplus_W / rate_W_K, unit.least_C))
    return target


@compiled
def supply_dew_point(
    control: Control, outdoor_C: float, outdoor_hum_ratio: float, pressure_Pa: float
) -> float:
    """Supply dew point asked for [C]: linear between the reset's ends, by the outdoor dew point or
    the outdoor temperature."""
    unit = control.outdoor_air_unit
    by = outdoor_C
    if unit.dew_by_dew_point == 1:
        by = dew_point(max(outdoor_hum_ratio, 1e-6), pressure_Pa)
    span = (by - unit.dew_low_C) / (unit.dew_high_C - unit.dew_low_C)
    return unit.dew_mild_C + min(max(span, 0.0), 1.0) * (unit.dew_point_C - unit.dew_mild_C)


@compiled
def supply_hum_ratio(
    control: Control,
    dew_point_C: float,
    pressure_Pa: float,
    limit: float,
    room_C: float,
    moisture_E: float,
    moisture_D: float,
    flow_kg_s: float,
) -> float:
    """Humidity ratio the supply air is dried to: of its dew point, or no drier than keeps the room
    at its limit.

    Room at the limit W at the hour's end: (D + m) W = E + m W_supply. ``limit`` is as [humidity]
    control measures it; ``room_C`` is the room's temperature with the supply temperature asked.
    """
    w_supply = saturation_hum_ratio(dew_point_C, pressure_Pa)
    if control.outdoor_air_unit.by_humidity == 1 and control.humidity_control != NO_CONTROL:
        w_limit = humidity_limit(control.humidity_control, limit, room_C, pressure_Pa)
        needed = ((moisture_D + flow_kg_s) * w_limit - moisture_E) / flow_kg_s
        w_supply = max(w_supply, needed)
    return w_supply


@compiled
def solve_outdoor_air_unit_hour(
    unit: UnitMap,
    plant: Plant,
    room: Room,
    control: Control,
    sources: FloatArray,
    driver: FloatArray,
    temp_before: float,
    mass_before: float,
    w_before: float,
    surface_C: float,
    condensing_C: float,
    released_W: float,
    out: FloatArray,
    i: int,
) -> tuple[float, float, float, float, float, float]:
    """One hour, written to the ledger; arguments and result as of ``hour.solve_hour``."""
    outdoor = driver[0]
    w_outdoor = driver[1]
    pressure = driver[2]
    gains = driver[3]
    moisture = driver[4]
    fan = 0.0 if driver[6] == 0.0 else 1.0
    cooling_setpoint = driver[7]
    heating_setpoint = driver[8]
    solar = driver[11]
    beside = control.outdoor_air_unit
    store = room.heat_store_J_K / SECONDS
    leakage = room.infiltration_kg_s * driver[13] + driver[14]
    leak = leakage * heat_capacity(w_outdoor)
    if room.network.used == 1:
        heat_K, heat_B = air_coefficients(room.network, mass_before, outdoor, gains, solar)
    else:
        heat_K = store + room.conductance_W_K
        heat_B = store * temp_before + room.conductance_W_K * outdoor + gains + solar
    heat_K += leak
    heat_B += leak * outdoor + released_W
    w_store = room.moisture_store_kg / SECONDS
    moisture_E = w_store * w_before + leakage * w_outdoor + moisture
    moisture_D = w_store + leakage
    surplus = heat_B - heat_K * cooling_setpoint

    # The unit: cool to the supply temperature; where that leaves too much moisture, dry and reheat.
    m_outdoor, sensible_back, latent_back = outdoor_air(
        plant.outdoor, driver[5] * fan, outdoor, w_outdoor, pressure, temp_before, w_before,
        surplus, cooling_setpoint, 1.0, False, driver[15],
    )  # fmt: skip
    balance = Balance(
        outdoor, w_outdoor, pressure, heat_B, heat_K, moisture_E, moisture_D, m_outdoor, fan, 0,
        0.0, sensible_back, latent_back, plant.flow_kg_s, plant.fan_W,
    )  # fmt: skip
    if plant.flow.kind == VARIABLE_FLOW:
        # The supply flow follows the outdoor air that ventilation asks for.
        share = max(plant.flow.minimum_share, driver[5] / plant.flow_kg_s)
        balance = at_flow(plant, balance, min(share, 1.0))
    air = air_entering(plant, balance, temp_before, w_before)
    flow = balance.flow_kg_s
    operation = idle(condensing_C, surface_C)
    call = 0
    full = 0
    short = 0
    overcooling = 0.0
    recovered = 0.0
    new_energy = 0.0
    purchased_electricity = 0.0
    purchased_gas = 0.0
    preheat = 0.0
    price = 0.0
    target = beside.temp_C
    # Heat of a fan after the coil is part of the way to the supply temperature.
    fan_after = balance.fan_W if plant.blow_through == 0 else 0.0
    if fan > 0.0:
        rate = flow * heat_capacity(air.hum_ratio)
        target = supply_target(control, outdoor, cooling_setpoint, surplus, rate)
        needed = rate * (air.temp_C - target) + fan_after
        room_C = (heat_B + rate * target) / (heat_K + rate)
        room_C = min(max(room_C, heating_setpoint), cooling_setpoint)
        w_supply = supply_hum_ratio(
            control, supply_dew_point(control, outdoor, w_outdoor, pressure), pressure, driver[10],
            room_C, moisture_E, moisture_D, flow,
        )  # fmt: skip
        asked = flow * (air.hum_ratio - w_supply)
        if needed > 0.0:
            task = Task(MATCH_SENSIBLE, needed, 0.0, 0.0, 0.0, 0, 0, 0)
            operation = operate(unit, plant, air, task, surface_C, condensing_C)
            full = operation.limited
        if asked > 1e-9 * flow and operation.removal_kg_s < asked * (1.0 - 1e-9):
            call = 1
            # Supplied drier, air of the same enthalpy difference moves a little less heat.
            rate = flow * heat_capacity(w_supply)
            needed = rate * (air.temp_C - target) + fan_after
            if full == 0:
                task = Task(MATCH_REMOVAL, needed, 0.0, asked, 0.0, 0, 1, 0)
                operation = operate(unit, plant, air, task, surface_C, condensing_C)
                if operation.limited == 1:
                    full = 1
                    task = Task(FULL_CAPACITY, needed, 0.0, asked, 0.0, 0, 1, 0)
                    operation = operate(unit, plant, air, task, surface_C, condensing_C)
            overcooling = max(operation.sensible_W - needed, 0.0)
            recovered, new_energy, purchased_electricity, purchased_gas = give_back(
                sources, operation, overcooling, 1.0
            )
            if overcooling - recovered - new_energy > 1e-6:
                short = 1
            if recovered > 0.0:
                price = recovery_penalty(unit, plant, air, needed, 0, operation)
        elif needed < 0.0:
            preheat = min(-needed, control.heating_capacity_W)
    given_back = recovered + new_energy
    supply_w = air.hum_ratio
    supply_temp = temp_before
    if fan > 0.0:
        supply_w = air.hum_ratio - operation.removal_kg_s / flow
        supply_temp = temp_from_enthalpy(
            enthalpy(air.temp_C, air.hum_ratio)
            + (fan_after - operation.total_W + given_back + preheat) / flow,
            supply_w,
        )

    # The room, with cooling or heating beside the unit.
    supply_rate = fan * flow * heat_capacity(supply_w)
    whole = heat_K + supply_rate
    water = moisture_D + fan * flow
    humidifier = control.humidifier
    humidifies = humidifier.kind != 0 and fan > 0.0 and water > 0.0
    added = 0.0
    added_heat = 0.0
    temp = temp_before
    w = w_before
    cooling = 0.0
    room_heat = 0.0
    latent = 0.0
    room_removal = 0.0
    for step in range(_HUMIDIFIER_STEPS):
        brought = heat_B + added_heat + supply_rate * supply_temp
        temp = brought / whole
        cooling = 0.0
        room_heat = 0.0
        if temp > cooling_setpoint:
            most = beside.room_capacity_W * beside.room_shr
            cooling = min(brought - whole * cooling_setpoint, most)
        elif temp < heating_setpoint:
            most = control.heating_capacity_W - preheat
            room_heat = min(whole * heating_setpoint - brought, most)
        temp = (brought - cooling + room_heat) / whole
        latent = cooling * (1.0 / beside.room_shr - 1.0)
        room_removal = latent / vapor_enthalpy(temp)
        if water > 0.0:
            vapor = moisture_E + added + fan * flow * supply_w
            w = max((vapor - room_removal) / water, 0.0)
            # Cooling takes no more vapor than there is.
            room_removal = vapor - water * w
        if not humidifies or step == _HUMIDIFIER_STEPS - 1:
            break
        if humidifier.dew_point == 1:
            low = saturation_hum_ratio(driver[12], pressure)
        else:
            low = hum_ratio_from_rel_hum(temp, driver[12], pressure)
        new = min(max(added + water * (low - w), 0.0), humidifier.capacity_kg_s)
        if abs(new - added) < 1e-12:
            break
        added = new
        added_heat = heat_with_moisture(humidifier.kind, added, temp)

    condensed, condensed_W = condensed_on_surfaces(temp, w, water, pressure)
    if condensed > 0.0:
        w -= condensed / water

    if room.network.used == 1:
        mass, _, _, shell = network_after(room.network, mass_before, outdoor, gains, solar, temp)
        stored = room.network.mass_J_K / SECONDS * (mass - mass_before)
    else:
        mass = temp
        stored = store * (temp - temp_before)
        shell = room.conductance_W_K * (outdoor - temp)
    shell += leak * (outdoor - temp)
    w_stored = w_store * (w - w_before)
    from_unit = supply_rate * (supply_temp - temp)
    heating = preheat + room_heat
    heating_purchased = heating / control.heating_efficiency
    cooling_total = cooling
    if latent > 0.0:
        cooling_total += room_removal * vapor_enthalpy(temp)
    running = operation.runtime > 0.0
    w_in = w_outdoor + latent_back * (w_before - w_outdoor)
    kWh = 0.001
    humidifier_W = added * humidifier.energy_J_kg

    out[:, i] = 0.0
    out[at.OUTDOOR_TEMP, i] = outdoor
    out[at.OUTDOOR_W, i] = w_outdoor
    out[at.ROOM_TEMP, i] = temp
    out[at.ROOM_W, i] = w
    out[at.ROOM_RH, i] = rel_hum_from_hum_ratio(temp, w, pressure)
    out[at.TARGET_TEMP, i] = temp
    out[at.MIXED_TEMP, i] = air.temp_C if fan > 0.0 else math.nan
    out[at.MIXED_W, i] = air.hum_ratio if fan > 0.0 else math.nan
    out[at.COIL_TEMP, i] = operation.on_temp_C if running else math.nan
    out[at.COIL_W, i] = operation.on_hum_ratio if running else math.nan
    out[at.SUPPLY_TEMP, i] = supply_temp if fan > 0.0 else math.nan
    out[at.SUPPLY_W, i] = supply_w if fan > 0.0 else math.nan
    out[at.SUPPLY_FLOW, i] = flow if fan > 0.0 else math.nan
    out[at.SURFACE_TEMP, i] = operation.surface_C if running else math.nan
    out[at.SUCTION_TEMP, i] = operation.suction_C if running else math.nan
    out[at.CONDENSING_TEMP, i] = operation.condensing_C if running else math.nan
    out[at.FAN_RUNTIME, i] = fan
    out[at.RUNTIME, i] = operation.runtime
    out[at.CAPACITY, i] = operation.fraction if running else math.nan
    out[at.OUTDOOR_AIR, i] = m_outdoor * fan
    out[at.COOLING_TOTAL, i] = (operation.total_W - operation.precool_W) * kWh
    out[at.COOLING_SENSIBLE, i] = (operation.sensible_W - operation.precool_W) * kWh
    out[at.COOLING_LATENT, i] = (operation.total_W - operation.sensible_W) * kWh
    out[at.SENSIBLE_NEED, i] = max(operation.sensible_W - overcooling, 0.0) * kWh
    out[at.COMPRESSOR, i] = operation.compressor_W * kWh
    out[at.CONDENSER_FAN, i] = operation.condenser_fan_W * kWh
    out[at.SUPPLY_FAN, i] = fan * balance.fan_W * kWh
    out[at.OVERCOOLING, i] = overcooling * kWh
    out[at.RECOVERED, i] = recovered * kWh
    out[at.REHEAT_PURCHASED, i] = new_energy * kWh
    out[at.REHEAT_UNMET, i] = (overcooling - recovered - new_energy) * kWh
    out[at.PURCHASED_ELECTRICITY, i] = purchased_electricity * kWh
    out[at.PURCHASED_GAS, i] = purchased_gas * kWh
    out[at.RECOVERY_PENALTY, i] = price * kWh
    out[at.HEATING, i] = heating * kWh
    out[at.HEATING_ELECTRICITY, i] = 0.0 if control.heating_gas == 1 else heating_purchased * kWh
    out[at.HEATING_GAS, i] = heating_purchased * kWh if control.heating_gas == 1 else 0.0
    out[at.CONDENSATE, i] = operation.removal_kg_s * SECONDS
    out[at.GAINS, i] = gains * kWh
    out[at.GAINS_MOISTURE, i] = moisture * SECONDS
    out[at.ENVELOPE, i] = shell * kWh
    out[at.VENTILATION, i] = (
        m_outdoor * heat_capacity(w_in) * (1.0 - sensible_back) * (outdoor - temp_before) * kWh
    )
    out[at.OUTDOOR_MOISTURE, i] = (
        m_outdoor * (w_in - w_before) + leakage * (w_outdoor - w)
    ) * SECONDS
    out[at.STORED, i] = stored * kWh
    out[at.MOISTURE_STORED, i] = w_stored * SECONDS
    out[at.HEAT_CLOSURE, i] = (
        stored - shell - gains - solar - added_heat - released_W - from_unit + cooling - room_heat
    )
    out[at.WATER_CLOSURE, i] = (
        w_stored
        - leakage * (w_outdoor - w)
        - moisture
        - added
        + condensed
        - fan * flow * (supply_w - w)
        + room_removal
    ) * SECONDS
    out[at.REFRIGERANT_CLOSURE, i] = (
        (operation.total_W - operation.precool_W)
        + operation.compressor_W
        - operation.outdoor_coil_W
        - (recovered - operation.precool_W)
    )
    out[at.CALL, i] = call
    out[at.FULL, i] = full
    out[at.SHORT, i] = short
    out[at.FLOOR_HIT, i] = operation.floor_hit if running else 0.0
    out[at.OUTSIDE_MAP, i] = (
        outside_map(
            unit, air.temp_C, air.hum_ratio, pressure, flow, operation.suction_C,
            operation.condensing_C,
        )
        if running
        else 0.0
    )  # fmt: skip
    out[at.SYSTEM_OFF, i] = 1.0 if fan == 0.0 else 0.0
    out[at.SOLAR, i] = solar * kWh
    out[at.DEVICE_HEAT, i] = (
        m_outdoor * heat_capacity(w_in) * sensible_back * (temp_before - outdoor) * kWh
    )
    out[at.DEVICE_MOISTURE, i] = m_outdoor * (w_in - w_outdoor) * SECONDS
    out[at.DEVICE_POWER, i] = plant.outdoor.power_W * kWh if m_outdoor > 0.0 else 0.0
    out[at.ROOM_COOLING, i] = cooling_total * kWh
    out[at.ROOM_COOLING_ELECTRICITY, i] = cooling_total / beside.room_cop * kWh
    out[at.ADDED_MOISTURE, i] = added * SECONDS
    out[at.ADDED_HEAT, i] = added_heat * kWh
    out[at.ADDED_ELECTRICITY, i] = 0.0 if humidifier.gas == 1 else humidifier_W * kWh
    out[at.ADDED_GAS, i] = humidifier_W * kWh if humidifier.gas == 1 else 0.0
    out[at.INFILTRATION, i] = leakage
    out[at.WALL_CONDENSATION, i] = condensed * SECONDS
    out[at.WALL_CONDENSATION_HEAT, i] = released_W * kWh
    # Without the reheat, the cooling beside the unit would have had that much less to do.
    out[at.NEUTRAL_AIR, i] = min(given_back, cooling) / beside.room_shr / beside.room_cop * kWh
    return temp, mass, w, operation.surface_C, operation.condensing_C, condensed_W
