"""One hour of the room and its unit, solved; and the loop over the year.

Order of control in an hour: fan and ventilation, sensible call, then dehumidification call; reheat
holds the temperature the room would have had without drying.
"""

from __future__ import annotations

import math

from dewledger.components.air_processes import mix
from dewledger.components.envelope import air_coefficients, network_after
from dewledger.dx_unit.operate import recovery_penalty
from dewledger.dx_unit.steady_state import outside_map
from dewledger.dx_unit.types import Plant, UnitMap
from dewledger.hourly import ledger as at
from dewledger.hourly.dehumidification import (
    beyond_reheat,
    dry_to_limit,
    humidity_limit,
    let_room_cool,
    limit_dehumidification,
    overcooling_of,
)
from dewledger.hourly.reheat import give_back
from dewledger.hourly.room_balance import (
    air_entering,
    capacity_ratio,
    condensed_on_surfaces,
    fan_runtime,
    needed_sensible,
    outdoor_hum_ratio_in,
    outdoor_rate,
    outdoor_vapor_rate,
)
from dewledger.hourly.sensible_control import with_less_flow, without_drying
from dewledger.hourly.types import (
    DEW_POINT,
    FAN_CONTINUOUS,
    FAN_CYCLING,
    FAN_OFF,
    NO_CONTROL,
    SECONDS,
    Balance,
    Control,
    Demand,
    Room,
)
from dewledger.weather.numerics.compiled import compiled
from dewledger.weather.physics.moist_air import (
    FloatArray,
    enthalpy,
    heat_capacity,
    rel_hum_from_hum_ratio,
    temp_from_enthalpy,
)


@compiled
def solve_hour(
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
    """One hour; returns the room's air and mass temperature, its humidity ratio, where the next
    solve may start, and the heat of water that condensed on the room's surfaces, of which
    ``released_W`` is assumed."""
    outdoor = driver[0]
    w_outdoor = driver[1]
    pressure = driver[2]
    gains = driver[3]
    moisture = driver[4]
    fan_mode = int(driver[6])
    limit = driver[10]
    solar = driver[11]
    low_limit = driver[9]
    cp_outdoor = heat_capacity(w_outdoor)
    store = room.heat_store_J_K / SECONDS
    leakage = room.infiltration_kg_s * driver[13] + driver[14]
    leak = leakage * cp_outdoor
    if room.network.used == 1:
        heat_K, heat_B = air_coefficients(room.network, mass_before, outdoor, gains, solar)
    else:
        heat_K = store + room.conductance_W_K
        heat_B = store * temp_before + room.conductance_W_K * outdoor + gains + solar
    w_store = room.moisture_store_kg / SECONDS
    closed = Balance(
        outdoor,
        w_outdoor,
        pressure,
        heat_B + leak * outdoor + released_W,
        heat_K + leak,
        w_store * w_before + leakage * w_outdoor + moisture,
        w_store + leakage,
        0.0,
        1.0 if fan_mode == FAN_CONTINUOUS else 0.0,
        1 if fan_mode == FAN_CYCLING else 0,
        0.0,
        0.0,
        0.0,
        plant.flow_kg_s,
        plant.fan_W,
    )
    demand = Demand(
        0 if fan_mode == FAN_OFF else 1,
        driver[7],
        driver[8],
        driver[5] if fan_mode != FAN_OFF else 0.0,
        driver[12],
        driver[15],
        temp_before,
        w_before,
    )
    controlled = control.humidity_control != NO_CONTROL and fan_mode != FAN_OFF

    # The hour without drying; a dehumidification call shuts the economizer.
    found = without_drying(unit, plant, control, closed, demand, True, surface_C, condensing_C)
    w_limit = 1.0
    if controlled:
        w_limit = humidity_limit(control.humidity_control, limit, found.attempt.temp_C, pressure)
        if (
            found.attempt.hum_ratio > w_limit * (1.0 + 1e-9)
            and found.balance.outdoor_air_kg_s > demand.least_outdoor_kg_s
        ):
            found = without_drying(
                unit, plant, control, closed, demand, False, surface_C, condensing_C
            )
            w_limit = humidity_limit(
                control.humidity_control, limit, found.attempt.temp_C, pressure
            )

    # The dehumidification call.
    call = 0
    full = 0
    short = 0
    # A cycling fan that runs for the heater does not run for the compressor.
    may_dry = controlled and not (fan_mode == FAN_CYCLING and found.balance.fan_cycles == 0)
    if may_dry and found.attempt.hum_ratio > w_limit * (1.0 + 1e-9):
        call = 1
        if plant.flow.before_reheat == 1 and found.limited == 0:
            found = with_less_flow(
                unit, plant, control, found.balance, demand, found, limit,
                control.humidity_control == DEW_POINT,
            )  # fmt: skip
            w_limit = humidity_limit(
                control.humidity_control, limit, found.attempt.temp_C, pressure
            )
    balance = found.balance
    sensible_only = found.attempt
    target = found.target_C
    heating = found.heating_W
    limited_by_heat = found.limited
    chosen = sensible_only
    if call == 1 and sensible_only.hum_ratio > w_limit * (1.0 + 1e-9):
        if limited_by_heat == 1:
            full = 1
        else:
            dried, full = dry_to_limit(unit, plant, balance, target, w_limit, sensible_only)
            chosen = dried
            if balance.fan_cycles == 1 and overcooling_of(plant, balance, dried) < -1e-3:
                # Damp outdoor air comes with the fan: to run less is no way to dry.
                chosen = sensible_only
                full = 1
            elif beyond_reheat(plant, balance, dried) > 1e-6:
                short = 1
                if control.humidity_first == 1 and low_limit < target - 1e-9:
                    chosen, full = let_room_cool(
                        unit, plant, balance, control, limit, low_limit, dried, sensible_only
                    )
                else:
                    chosen = limit_dehumidification(unit, plant, balance, dried, sensible_only)
                    full = 0

    operation = chosen.operation
    fan = fan_runtime(balance, operation)
    air = air_entering(plant, balance, chosen.temp_C, chosen.hum_ratio)

    # End of hour, exact for what the unit did.
    vapor_rate = fan * outdoor_vapor_rate(balance)
    whole = balance.moisture_D + vapor_rate
    w = chosen.hum_ratio
    if whole > 0.0:
        w = (balance.moisture_E + vapor_rate * w_outdoor - operation.removal_kg_s) / whole
    condensed, condensed_W = condensed_on_surfaces(chosen.temp_C, w, whole, pressure)
    if condensed > 0.0:
        w -= condensed / whole
    ratio = capacity_ratio(air, operation.removal_kg_s, fan)
    overcooling = 0.0
    recovered = 0.0
    remaining = 0.0
    new_energy = 0.0
    purchased_electricity = 0.0
    purchased_gas = 0.0
    if call == 1 and operation.runtime > 0.0 and limited_by_heat == 0:
        overcooling = max(
            operation.sensible_W - needed_sensible(plant, balance, target, w, ratio, fan), 0.0
        )
        remaining = max(
            operation.sensible_W - needed_sensible(plant, balance, chosen.temp_C, w, ratio, fan),
            0.0,
        )
        remaining = min(remaining, overcooling)
        recovered, new_energy, purchased_electricity, purchased_gas = give_back(
            sources, operation, remaining, fan
        )
    given_back = recovered + new_energy
    fan_heat = balance.fan_W * (ratio if plant.blow_through == 1 else 1.0)
    vent = fan * outdoor_rate(balance, w) * ratio
    temp = (
        balance.heat_B
        + heating
        + fan * fan_heat
        + vent * outdoor
        - operation.sensible_W
        + given_back
    ) / (balance.heat_K + vent)

    # What recovery cost: the same moisture removal without it.
    price = 0.0
    if recovered > 0.0:
        needed = needed_sensible(plant, balance, chosen.temp_C, w, ratio, fan)
        price = recovery_penalty(unit, plant, air, needed, balance.fan_cycles, operation)

    # Balances rebuilt along the air path.
    heat_closure = 0.0
    water_closure = 0.0
    supply_temp = math.nan
    supply_w = math.nan
    mixed_temp = math.nan
    mixed_w = math.nan
    if room.network.used == 1:
        mass, _, _, shell = network_after(room.network, mass_before, outdoor, gains, solar, temp)
        stored = room.network.mass_J_K / SECONDS * (mass - mass_before)
    else:
        mass = temp
        stored = store * (temp - temp_before)
        shell = room.conductance_W_K * (outdoor - temp)
    shell += leak * (outdoor - temp)
    w_stored = w_store * (w - w_before)
    rate = fan * balance.outdoor_air_kg_s
    w_in = outdoor_hum_ratio_in(balance, w)
    humidifier_W = found.added_kg_s * control.humidifier.energy_J_kg
    from_unit = 0.0
    water_from_unit = 0.0
    if fan > 0.0:
        flow = fan * balance.flow_kg_s
        share = balance.outdoor_air_kg_s / balance.flow_kg_s
        t_in = outdoor + balance.recovery_sensible * (temp - outdoor)
        mixed_temp, mixed_w = mix(share, t_in, w_in, temp, w)
        supply_w = mixed_w - operation.removal_kg_s / flow
        h_supply = (
            enthalpy(mixed_temp, mixed_w)
            + (fan * balance.fan_W - operation.total_W + given_back + heating) / flow
        )
        supply_temp = temp_from_enthalpy(h_supply, supply_w)
        from_unit = flow * heat_capacity(supply_w) * (supply_temp - temp)
        water_from_unit = flow * (supply_w - w)
    heat_closure = stored - shell - gains - solar - found.added_heat_W - released_W - from_unit
    water_closure = (
        w_stored
        - leakage * (w_outdoor - w)
        - moisture
        - found.added_kg_s
        + condensed
        - water_from_unit
    )
    # A wrap-around loop moves heat within the air; only the rest came from the refrigerant.
    refrigerant_closure = (
        (operation.total_W - operation.precool_W)
        + operation.compressor_W
        - operation.outdoor_coil_W
        - (recovered - operation.precool_W)
    )

    heating_purchased = heating / control.heating_efficiency
    running = operation.runtime > 0.0
    kWh = 0.001
    out[at.OUTDOOR_TEMP, i] = outdoor
    out[at.OUTDOOR_W, i] = w_outdoor
    out[at.ROOM_TEMP, i] = temp
    out[at.ROOM_W, i] = w
    out[at.ROOM_RH, i] = rel_hum_from_hum_ratio(temp, w, pressure)
    out[at.TARGET_TEMP, i] = target
    out[at.MIXED_TEMP, i] = mixed_temp
    out[at.MIXED_W, i] = mixed_w
    out[at.COIL_TEMP, i] = operation.on_temp_C if running else math.nan
    out[at.COIL_W, i] = operation.on_hum_ratio if running else math.nan
    out[at.SUPPLY_TEMP, i] = supply_temp
    out[at.SUPPLY_W, i] = supply_w
    out[at.SURFACE_TEMP, i] = operation.surface_C if running else math.nan
    out[at.SUCTION_TEMP, i] = operation.suction_C if running else math.nan
    out[at.CONDENSING_TEMP, i] = operation.condensing_C if running else math.nan
    out[at.FAN_RUNTIME, i] = fan
    out[at.RUNTIME, i] = operation.runtime
    out[at.CAPACITY, i] = operation.fraction if running else math.nan
    out[at.OUTDOOR_AIR, i] = rate
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
    out[at.SWING, i] = (
        operation.swing_W * SECONDS / (room.heat_store_J_K * plant.cycles_per_hour)
        if call == 1
        else 0.0
    )
    out[at.HEATING, i] = heating * kWh
    out[at.HEATING_ELECTRICITY, i] = 0.0 if control.heating_gas == 1 else heating_purchased * kWh
    out[at.HEATING_GAS, i] = heating_purchased * kWh if control.heating_gas == 1 else 0.0
    out[at.CONDENSATE, i] = operation.removal_kg_s * SECONDS
    out[at.GAINS, i] = gains * kWh
    out[at.GAINS_MOISTURE, i] = moisture * SECONDS
    out[at.ENVELOPE, i] = shell * kWh
    out[at.VENTILATION, i] = vent * (outdoor - temp) * kWh
    out[at.OUTDOOR_MOISTURE, i] = (vapor_rate + leakage) * (w_outdoor - w) * SECONDS
    out[at.STORED, i] = stored * kWh
    out[at.MOISTURE_STORED, i] = w_stored * SECONDS
    out[at.HEAT_CLOSURE, i] = heat_closure
    out[at.WATER_CLOSURE, i] = water_closure * SECONDS
    out[at.REFRIGERANT_CLOSURE, i] = refrigerant_closure
    out[at.CALL, i] = call
    out[at.FULL, i] = full if call == 1 else limited_by_heat
    out[at.SHORT, i] = short
    out[at.FLOOR_HIT, i] = operation.floor_hit if running else 0.0
    out[at.OUTSIDE_MAP, i] = (
        outside_map(
            unit,
            air.temp_C,
            air.hum_ratio,
            pressure,
            balance.flow_kg_s,
            operation.suction_C,
            operation.condensing_C,
        )
        if running
        else 0.0
    )  # fmt: skip
    out[at.SYSTEM_OFF, i] = 1.0 if fan_mode == FAN_OFF else 0.0
    out[at.SUPPLY_FLOW, i] = balance.flow_kg_s if fan > 0.0 else math.nan
    out[at.SOLAR, i] = solar * kWh
    out[at.DEVICE_HEAT, i] = (
        rate * heat_capacity(w_in) * balance.recovery_sensible * (temp - outdoor) * kWh
    )
    out[at.DEVICE_MOISTURE, i] = rate * (w_in - w_outdoor) * SECONDS
    out[at.DEVICE_POWER, i] = plant.outdoor.power_W * fan * kWh if rate > 0.0 else 0.0
    out[at.ADDED_MOISTURE, i] = found.added_kg_s * SECONDS
    out[at.ADDED_HEAT, i] = found.added_heat_W * kWh
    out[at.ADDED_ELECTRICITY, i] = 0.0 if control.humidifier.gas == 1 else humidifier_W * kWh
    out[at.ADDED_GAS, i] = humidifier_W * kWh if control.humidifier.gas == 1 else 0.0
    out[at.ROOM_COOLING, i] = 0.0
    out[at.ROOM_COOLING_ELECTRICITY, i] = 0.0
    out[at.NEUTRAL_AIR, i] = 0.0
    out[at.INFILTRATION, i] = leakage
    out[at.WALL_CONDENSATION, i] = condensed * SECONDS
    out[at.WALL_CONDENSATION_HEAT, i] = released_W * kWh
    return temp, mass, w, operation.surface_C, operation.condensing_C, condensed_W
