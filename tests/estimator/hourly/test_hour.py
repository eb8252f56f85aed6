"""The hour against figures worked out by hand; moist-air properties by psychrolib."""

import numpy as np
import psychrolib
import pytest

from dewledger.dx_unit.types import ON_OFF, VARIABLE
from dewledger.hourly.ledger import INDEX, empty_ledger
from dewledger.hourly.types import DEW_POINT, FAN_CYCLING, FAN_OFF, RELATIVE_HUMIDITY
from dewledger.hourly.year import solve_year

PRESSURE = 101325.0


@pytest.fixture(autouse=True)
def _si():
    psychrolib.SetUnitSystem(psychrolib.SI)


def h(temp, w):
    return psychrolib.GetMoistAirEnthalpy(temp, w)


def temp_at(enthalpy, w):
    return psychrolib.GetTDryBulbFromEnthalpyAndHumRatio(enthalpy, w)


def cp(w):
    return 1006.0 + 1860.0 * w


def vapor(temp):
    return 2_501_000.0 + 1860.0 * temp


def hand_hour(blow_through=0):
    """A steady hour with drying to an 11 C dew point, worked on paper.

    Room 23 C; outdoors 22 C and W = 15 g/kg, 0.1 kg/s of it in 1 kg/s of supply air; gains 2000 W
    and 0.2 g/s; conductance 200 W/K; fan 400 W; the unit, running, takes 10 kW of which 7 kW is
    sensible, for 3 kW of compressor and 300 W of outdoor fan; Cd = 0.25.

    Steady moisture: what comes in goes out on the coil.
        W_room = W_sat(11 C)
        r = g + m_o (W_o - W_room)
        W_mix = 0.1 W_o + 0.9 W_room,  T_mix from h_mix = 0.1 h_o + 0.9 h_room
        T_on = T_mix, or T_mix + fan / (m cp(W_mix)) where the fan blows through the coil
    The unit: latent per hour of running is 3 kW, so the part load is
        PLR = r h_vapor(T_on) / 3000,  runtime = PLR / (1 - 0.25 (1 - PLR))
        coil total = 10 kW PLR, sensible = 7 kW PLR, compressor = 3 kW runtime
    Steady heat: the supply air takes from the room what comes into it.
        W_s = W_mix - r / m,  h_s = h_mix + fan - coil total + reheat  (per kg/s)
        cp(W_s) (T_room - T_s) = gains + UA (T_o - T_room)
    which gives T_s, h_s and with them the reheat. The room never cools below its set point, so
    reheat is all of the overcooling.
    """
    w_room = psychrolib.GetHumRatioFromTDewPoint(11.0, PRESSURE)
    removal = 0.0002 + 0.1 * (0.015 - w_room)
    w_mix = 0.1 * 0.015 + 0.9 * w_room
    h_mix = 0.1 * h(22.0, 0.015) + 0.9 * h(23.0, w_room)
    on_coil = temp_at(h_mix, w_mix) + blow_through * 400.0 / cp(w_mix)
    part_load = removal * vapor(on_coil) / 3000.0
    runtime = part_load / (1.0 - 0.25 * (1.0 - part_load))
    w_supply = w_mix - removal
    supply = 23.0 - (2000.0 + 200.0 * (22.0 - 23.0)) / cp(w_supply)
    reheat = h(supply, w_supply) - h_mix - 400.0 + 10000.0 * part_load
    return {
        "room_temp_C": 23.0,
        "room_hum_ratio_kg_kg": w_room,
        "mixed_temp_C": temp_at(h_mix, w_mix),
        "supply_temp_C": supply,
        "supply_hum_ratio_kg_kg": w_supply,
        "condensate_kg": removal * 3600.0,
        "compressor_runtime_frac": runtime,
        "cooling_total_kWh": 10.0 * part_load,
        "cooling_sensible_kWh": 7.0 * part_load,
        "cooling_latent_kWh": 3.0 * part_load,
        "compressor_kWh": 3.0 * runtime,
        "condenser_fan_kWh": 0.3 * runtime,
        "supply_fan_kWh": 0.4,
        "overcooling_heat_kWh": reheat / 1000.0,
        "sensible_need_kWh": 7.0 * part_load - reheat / 1000.0,
        "reheat_unmet_kWh": 0.0,
        "heating_kWh": 0.0,
        "gains_sensible_kWh": 2.0,
        "gains_moisture_kg": 0.72,
        "envelope_kWh": -0.2,
    }


DRYING = {"outdoor_air_kg_s": 0.1, "humidity_limit": 11.0}


@pytest.mark.parametrize("blow_through", [0, 1], ids=["draw-through", "blow-through"])
def test_constant_year_is_one_hand_computed_hour(rig, hours, blow_through):
    """8,760 hours of one outdoor state: each hour, and so the year, is the hour on paper."""
    year = rig(
        humidity_control=DEW_POINT, blow_through=blow_through, start_rh=0.466
    ).solve(hours(8760, **DRYING), warm_up=336)  # fmt: skip
    expected = hand_hour(blow_through)
    for name, value in expected.items():
        assert year[name] == pytest.approx(np.full(8760, value), rel=1e-7, abs=1e-7), name
    for name in ("cooling_total_kWh", "overcooling_heat_kWh", "condensate_kg", "compressor_kWh"):
        assert year[name].sum() == pytest.approx(8760 * expected[name], rel=1e-7), name
    # Electric resistance gives what it takes.
    assert year["reheat_purchased_electricity_kWh"] == pytest.approx(year["overcooling_heat_kWh"])
    assert not year["reheat_recovered_kWh"].any()
    assert not year["recovery_penalty_kWh"].any()
    assert year["moisture_call_flag"].all()


def test_condenser_heat_by_hand(rig, hours, kept):
    """The hand hour with condenser heat: same coil, and a condenser that its floor holds up.

    Of 13 kW rejected while running, reheat / runtime goes to the reheat coil; the rest over 1 kW/K
    puts the condenser at 22 + 13 - reheat / runtime (kW), here under the floor of 32 C; the reheat
    coil (effectiveness 0.6) needs less than that.
    """
    expected = hand_hour()
    ledger = rig(humidity_control=DEW_POINT, sources=(kept["condenser"],)).solve(
        hours(50, **DRYING)
    )
    reheat = expected["overcooling_heat_kWh"]
    assert ledger["reheat_recovered_kWh"][-1] == pytest.approx(reheat, rel=1e-6)
    assert ledger["reheat_purchased_kWh"][-1] == 0.0
    assert ledger["reheat_purchased_electricity_kWh"][-1] == 0.0
    assert 22.0 + 13.0 - reheat / expected["compressor_runtime_frac"] < 32.0
    assert ledger["condensing_temp_C"][-1] == pytest.approx(32.0, abs=1e-5)
    # A unit whose power does not answer to the condenser pays nothing for recovery.
    assert ledger["recovery_penalty_kWh"][-1] == pytest.approx(0.0, abs=1e-9)


def test_condensing_temperature_by_hand(rig, hours, kept):
    """Outdoors 30 C: 30 + (13 - recovered while running) K over 1 kW/K, above the floor."""
    ledger = rig(humidity_control=DEW_POINT, sources=(kept["condenser"],)).solve(
        hours(50, **DRYING, outdoor_temp_C=30.0, gains_sensible_W=0.0)
    )
    recovered_on = ledger["reheat_recovered_kWh"][-1] / ledger["compressor_runtime_frac"][-1]
    assert recovered_on > 0.3
    assert ledger["condensing_temp_C"][-1] == pytest.approx(43.0 - recovered_on, abs=1e-5)


def test_reheat_coil_may_raise_the_condenser(rig, hours, kept):
    """Effectiveness 0.15: the reheat coil needs leaving-coil + recovered / (0.15 m cp)."""
    machine = rig(humidity_control=DEW_POINT, sources=(kept["condenser"],), effectiveness=0.15)
    ledger = machine.solve(hours(50, **DRYING))
    recovered_on = 1000 * ledger["reheat_recovered_kWh"][-1] / ledger["compressor_runtime_frac"][-1]
    w = ledger["coil_leaving_hum_ratio_kg_kg"][-1]
    needed = ledger["coil_leaving_temp_C"][-1] + recovered_on / (0.15 * cp(w))
    assert needed > 32.0
    assert ledger["condensing_temp_C"][-1] == pytest.approx(needed, abs=1e-5)


def test_ceiling_limits_recovery(rig, hours, kept):
    """At the ceiling recovered = effectiveness m cp (ceiling - leaving), while running."""
    machine = rig(
        humidity_control=DEW_POINT,
        sources=(kept["condenser"], kept["electric"]),
        effectiveness=0.15,
        condensing_ceiling_C=36.0,
    )
    ledger = machine.solve(hours(50, **DRYING))
    leaving, w = ledger["coil_leaving_temp_C"][-1], ledger["coil_leaving_hum_ratio_kg_kg"][-1]
    most = 0.15 * cp(w) * (36.0 - leaving) * ledger["compressor_runtime_frac"][-1] / 1000.0
    assert ledger["reheat_recovered_kWh"][-1] == pytest.approx(most, rel=1e-7)
    assert ledger["condensing_temp_C"][-1] == pytest.approx(36.0, abs=1e-5)
    assert ledger["reheat_purchased_kWh"][-1] == pytest.approx(
        hand_hour()["overcooling_heat_kWh"] - most, rel=1e-6
    )


def test_saturated_room_by_hand(rig, hours):
    """Unit off, vapor for ever: the room stays at saturation, all vapor condenses on its surfaces
    and its heat goes through the envelope: UA (T - T_o) = gains + g (2501 + 1.86 T) kJ/kg."""
    ledger = rig(heat_store_J_K=1e6, moisture_store_kg=100.0).solve(
        hours(400, outdoor_temp_C=10.0, outdoor_hum_ratio_kg_kg=0.005, gains_sensible_W=700.0,
              fan_mode=float(FAN_OFF))
    )  # fmt: skip
    temp = ledger["room_temp_C"][-1]
    heat = 0.0002 * (2_501_000.0 + 1860.0 * temp)
    assert temp == pytest.approx(10.0 + (700.0 + heat) / 200.0, rel=1e-6)
    assert ledger["room_rh_frac"][-1] == pytest.approx(1.0, abs=1e-9)
    assert ledger["surface_condensation_kg"][-1] == pytest.approx(0.72, rel=1e-6)
    assert ledger["surface_condensation_heat_kWh"][-1] == pytest.approx(heat / 1000.0, rel=1e-6)
    assert np.abs(ledger["heat_closure_W"]).max() < 1e-6
    assert np.abs(ledger["water_closure_kg_h"]).max() < 1e-9


def test_floating_room_by_hand(rig, hours):
    """No call: T = (gains + fan + (UA + m_o cp_o) T_o) / (UA + m_o cp_o); W = W_o + g / m_o."""
    ledger = rig(heat_store_J_K=1e6, moisture_store_kg=100.0).solve(
        hours(400, outdoor_temp_C=18.0, outdoor_hum_ratio_kg_kg=0.011, gains_sensible_W=700.0)
    )
    outdoors = 200.0 + 0.2 * cp(0.011)
    assert ledger["room_temp_C"][-1] == pytest.approx(18.0 + 1100.0 / outdoors, rel=1e-9)
    assert ledger["room_hum_ratio_kg_kg"][-1] == pytest.approx(0.011 + 0.0002 / 0.2, rel=1e-9)
    assert not ledger["cooling_total_kWh"].any()
    assert not ledger["heating_kWh"].any()


def test_one_step_of_storage_by_hand(rig, hours):
    """Backward Euler, one hour from 23 C and 50 %: C (T - T0) / 3600 = B - K T, likewise for W."""
    ledger = rig().solve(hours(1, outdoor_temp_C=18.0, gains_sensible_W=700.0))
    outdoors = 200.0 + 0.2 * cp(0.015)
    store = 20e6 / 3600.0
    assert ledger["room_temp_C"][0] == pytest.approx(
        (store * 23.0 + outdoors * 18.0 + 1100.0) / (store + outdoors), rel=1e-12
    )
    w0 = psychrolib.GetHumRatioFromRelHum(23.0, 0.5, PRESSURE)
    held = 3000.0 / 3600.0
    assert ledger["room_hum_ratio_kg_kg"][0] == pytest.approx(
        (held * w0 + 0.2 * 0.015 + 0.0002) / (held + 0.2), rel=1e-9
    )


@pytest.mark.parametrize("gas", [0, 1])
def test_heating_by_hand(rig, hours, gas):
    """Heating = UA (20 - 0) + m_o cp_o (20 - 0) - gains - fan; it is no reheat."""
    ledger = rig(heat_store_J_K=1e6, heating_gas=gas).solve(
        hours(200, outdoor_temp_C=0.0, outdoor_hum_ratio_kg_kg=0.003, outdoor_air_kg_s=0.1)
    )
    # The outdoor air's heat reaches the room at its own heat capacity: nothing condenses.
    expected = 200.0 * 20.0 + 0.1 * cp(0.003) * 20.0 - 2000.0 - 400.0
    assert ledger["heating_kWh"][-1] == pytest.approx(expected / 1000.0, rel=1e-9)
    purchased = {0: "heating_purchased_electricity_kWh", 1: "heating_purchased_gas_kWh"}
    assert ledger[purchased[gas]][-1] == pytest.approx(expected / 1000.0 / 0.8, rel=1e-9)
    assert not ledger[purchased[1 - gas]].any()
    assert ledger["room_temp_C"][-1] == pytest.approx(20.0, rel=1e-12)
    for name in ("overcooling_heat_kWh", "reheat_purchased_kWh", "reheat_recovered_kWh"):
        assert not ledger[name].any()


def test_sensible_hour_by_hand(rig, hours):
    """No humidity control: the coil's sensible is gains + fan - outdoors' cooling, to the watt.

    Steady moisture: 3 kW PLR = r h_vapor with r = g + m_o (W_o - W); here m_o = 0, so r = g.
    """
    ledger = rig(moisture_store_kg=100.0).solve(hours(300, outdoor_air_kg_s=0.0))
    part_load = (2000.0 + 400.0 - 200.0) / 7000.0
    assert ledger["cooling_sensible_kWh"][-1] == pytest.approx(2.2, rel=1e-9)
    assert ledger["compressor_runtime_frac"][-1] == pytest.approx(
        part_load / (0.75 + 0.25 * part_load), rel=1e-9
    )
    assert ledger["room_temp_C"][-1] == pytest.approx(23.0, rel=1e-12)


def test_cycling_fan_by_hand(rig, hours):
    """Fan with the compressor: 7 kW PLR = gains + UA (T_o - T) + X (fan + m_o cp_o (T_o - T)).

    With the moisture the supply air holds, X = PLR / (1 - Cd (1 - PLR)); no outdoor air here.
        7000 P = 1800 + 400 P / (0.75 + 0.25 P),  a quadratic in P
    """
    ledger = rig().solve(hours(20, outdoor_air_kg_s=0.0, fan_mode=float(FAN_CYCLING)))
    a, b, c = 7000 * 0.25, 7000 * 0.75 - 1800 * 0.25 - 400, -1800 * 0.75
    part_load = (-b + np.sqrt(b * b - 4 * a * c)) / (2 * a)
    runtime = part_load / (0.75 + 0.25 * part_load)
    assert ledger["fan_runtime_frac"][-1] == pytest.approx(runtime, rel=1e-9)
    assert ledger["compressor_runtime_frac"][-1] == pytest.approx(runtime, rel=1e-9)
    assert ledger["supply_fan_kWh"][-1] == pytest.approx(0.4 * runtime, rel=1e-9)
    assert ledger["cooling_total_kWh"][-1] == pytest.approx(10.0 * part_load, rel=1e-9)


def test_fan_off(rig, hours):
    """Unoccupied and off: nothing runs, the room follows gains and envelope."""
    ledger = rig(humidity_control=RELATIVE_HUMIDITY).solve(
        hours(20, fan_mode=float(FAN_OFF), gains_sensible_W=9000.0)
    )
    for name in ("supply_fan_kWh", "compressor_kWh", "cooling_total_kWh", "outdoor_air_kg_s"):
        assert not ledger[name].any()
    assert ledger["system_off_flag"].all()
    assert np.isnan(ledger["supply_temp_C"]).all()
    store = 20e6 / 3600.0
    assert ledger["room_temp_C"][0] == pytest.approx(
        (store * 23.0 + 200.0 * 22.0 + 9000.0) / (store + 200.0), rel=1e-12
    )


def test_dry_coil_has_no_latent(rig, hours, rated_unit):
    """A surface above the entering dew point takes no water: latent and condensate exactly 0."""
    ledger = rig(unit=rated_unit, start_rh=0.2).solve(
        hours(200, outdoor_hum_ratio_kg_kg=0.003, outdoor_temp_C=30.0, gains_moisture_kg_s=0.0,
              gains_sensible_W=np.linspace(3000.0, 9000.0, 200))
    )  # fmt: skip
    assert (ledger["cooling_total_kWh"] > 0.0).all()
    assert (ledger["cooling_latent_kWh"] == 0.0).all()
    assert (ledger["condensate_kg"] == 0.0).all()


def test_reheat_is_m_cp_dT(rig, hours, rated_unit, kept):
    """Air off the coil to supply air: m cp (T_s - T_leaving) = reheat + fan.

    A variable unit that dries all hour, so that the leaving state is the hour's mean.
    """
    ledger = rig(
        unit=rated_unit,
        capacity_control=VARIABLE,
        humidity_control=DEW_POINT,
        sources=(kept["condenser"],),
        moisture_store_kg=100.0,
    ).solve(hours(100, humidity_limit=9.0, gains_sensible_W=500.0))
    assert ledger["compressor_runtime_frac"][-1] == 1.0
    rise = ledger["supply_temp_C"][-1] - ledger["coil_leaving_temp_C"][-1]
    heat = 1.0 * cp(ledger["supply_hum_ratio_kg_kg"][-1]) * rise
    assert ledger["reheat_recovered_kWh"][-1] > 2.0
    assert heat == pytest.approx(1000.0 * ledger["reheat_recovered_kWh"][-1] + 400.0, rel=1e-9)


@pytest.mark.parametrize("gains", [0.0, 6000.0], ids=["floating", "dry coil"])
def test_no_gain_and_no_ventilation_leave_humidity_where_it_was(rig, hours, rated_unit, gains):
    ledger = rig(unit=rated_unit, start_rh=0.25).solve(
        hours(100, outdoor_temp_C=21.0, outdoor_air_kg_s=0.0, gains_moisture_kg_s=0.0,
              gains_sensible_W=gains)
    )  # fmt: skip
    start = psychrolib.GetHumRatioFromRelHum(23.0, 0.25, PRESSURE)
    assert ledger["room_hum_ratio_kg_kg"] == pytest.approx(np.full(100, start), rel=1e-12)
    assert (ledger["condensate_kg"] == 0.0).all()
    assert (ledger["cooling_total_kWh"].sum() > 0.0) == (gains > 0.0)


def test_doubling_identical_hours_doubles_energy(rig, hours, rated_unit, kept):
    machine = rig(unit=rated_unit, humidity_control=RELATIVE_HUMIDITY, sources=(kept["gas"],))
    once = machine.solve(hours(300), warm_up=300)
    twice = machine.solve(hours(600), warm_up=300)
    for name in ("compressor_kWh", "cooling_total_kWh", "reheat_purchased_gas_kWh"):
        assert once[name].sum() > 0.0
        assert twice[name].sum() == pytest.approx(2.0 * once[name].sum(), rel=1e-6), name


@pytest.mark.parametrize("vary", ["capacity", "effectiveness"])
def test_more_recovered_heat_never_raises_purchased_reheat(rig, hours, rated_unit, kept, vary):
    """Condenser heat listed before resistance: the larger its coil, the less is purchased.

    Recovered heat itself need not rise with effectiveness: a coil that serves with a cooler
    condenser leaves the unit more capacity and a colder surface, so that there is less overcooling
    to recover. What is purchased is what decides, and it only falls.
    """
    got = []
    for scale in (0.02, 0.05, 0.1, 0.2, 0.4, 0.6, 0.9):
        condenser = kept["condenser"]
        settings = {"effectiveness": scale}
        if vary == "capacity":
            condenser = (condenser[0], scale * 1e4, *condenser[2:])
            settings = {}
        ledger = rig(
            unit=rated_unit,
            humidity_control=RELATIVE_HUMIDITY,
            sources=(condenser, kept["electric"]),
            **settings,
        ).solve(hours(100))
        assert not ledger["reheat_short_flag"].any()
        got.append((ledger["reheat_recovered_kWh"].sum(), ledger["reheat_purchased_kWh"].sum()))
    recovered, purchased = np.array(got).T
    assert (np.diff(purchased) <= 1e-6).all()
    assert purchased[0] > purchased[-1]
    assert recovered[0] < recovered[-1]


def test_gas_and_auxiliary_power(rig, hours, kept):
    """Gas purchased is heat over 0.8; a burner's 60 W as long as it gives heat, all hour."""
    gas = (*kept["gas"][:3], 60.0, 1.0)
    ledger = rig(humidity_control=DEW_POINT, sources=(gas,)).solve(hours(50, **DRYING))
    reheat = hand_hour()["overcooling_heat_kWh"]
    assert ledger["reheat_purchased_gas_kWh"][-1] == pytest.approx(reheat / 0.8, rel=1e-6)
    assert ledger["reheat_purchased_electricity_kWh"][-1] == pytest.approx(0.06, rel=1e-9)


def test_on_off_eases_off_to_the_driest_hour_that_reheat_holds(rig, hours, rated_unit, kept):
    """Short of reheat, the hour ends where a limit just mild enough would have ended it."""
    machine = rig(
        unit=rated_unit, sources=(kept["condenser"],), effectiveness=0.1, start_rh=0.75,
        condensing_ceiling_C=35.0, moisture_store_kg=300.0, humidity_control=DEW_POINT,
    )  # fmt: skip

    def ended(limit):
        unit, plant, *rest = machine.arguments(hours(1, humidity_limit=limit))
        out = empty_ledger(1)
        solve_year(unit, plant._replace(arrangement=ON_OFF), *rest, out)
        return out[INDEX["reheat_short_flag"], 0], out[INDEX["room_hum_ratio_kg_kg"], 0]

    short, eased = ended(8.0)
    assert short == 1.0
    low, high = 8.0, 20.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        if ended(middle)[0] == 1.0:
            low = middle
        else:
            high = middle
    assert eased == pytest.approx(ended(high)[1], rel=1e-6)


def test_temperature_first_eases_off_drying(rig, hours, kept):
    """1 kW of resistance where 3 are asked: temperature held, the source at full capacity, room
    damper.
    """
    small = (*kept["electric"][:1], 1000.0, *kept["electric"][2:])
    ledger = rig(humidity_control=DEW_POINT, sources=(small,), moisture_store_kg=100.0).solve(
        hours(300, **DRYING)
    )
    assert ledger["room_temp_C"][-1] == pytest.approx(23.0, abs=1e-6)
    assert ledger["overcooling_heat_kWh"][-1] == pytest.approx(1.0, rel=1e-6)
    assert ledger["reheat_unmet_kWh"][-1] == pytest.approx(0.0, abs=1e-9)
    assert ledger["reheat_short_flag"][-1] == 1.0
    assert ledger["room_hum_ratio_kg_kg"][-1] > psychrolib.GetHumRatioFromTDewPoint(11.0, PRESSURE)


def test_humidity_first_lets_the_room_cool(rig, hours, kept):
    """The same unit, humidity first: the limit is kept and the room cools, no lower than 20 C.

    Each kelvin below the set point saves UA + m_o cp_o of overcooling, so about
    (3.1 - 1.0 kW) / (200 + 0.1 cp) W/K is more than the 3 K allowed: the room stands at 20 C.
    """
    small = (*kept["electric"][:1], 1000.0, *kept["electric"][2:])
    machine = rig(
        humidity_control=DEW_POINT, humidity_first=1, sources=(small,), moisture_store_kg=100.0,
        heat_store_J_K=1e5,
    )  # fmt: skip
    at_low = machine.solve(hours(300, **DRYING))
    assert at_low["room_temp_C"][-1] == pytest.approx(20.0, abs=1e-6)
    assert at_low["reheat_unmet_kWh"][-1] > 0.0
    warm = machine.solve(hours(300, **DRYING, low_limit_C=10.0))
    limit = psychrolib.GetHumRatioFromTDewPoint(11.0, PRESSURE)
    assert warm["room_hum_ratio_kg_kg"][-1] == pytest.approx(limit, rel=1e-7)
    assert 10.0 < warm["room_temp_C"][-1] < 20.0
    assert warm["reheat_purchased_kWh"][-1] == pytest.approx(1.0, rel=1e-6)
    easing = rig(
        humidity_control=DEW_POINT, sources=(small,), moisture_store_kg=100.0, heat_store_J_K=1e5
    ).solve(hours(300, **DRYING))
    assert warm["room_hum_ratio_kg_kg"][-1] < at_low["room_hum_ratio_kg_kg"][-1]
    assert at_low["room_hum_ratio_kg_kg"][-1] < easing["room_hum_ratio_kg_kg"][-1]


def test_full_capacity_is_said(rig, hours):
    """More moisture than 3 kW of latent can take: at full capacity, flagged, limit not met."""
    ledger = rig(humidity_control=DEW_POINT, moisture_store_kg=100.0).solve(
        hours(300, outdoor_air_kg_s=0.3, humidity_limit=11.0)
    )
    assert ledger["full_capacity_flag"][-1] == 1.0
    assert ledger["compressor_runtime_frac"][-1] == 1.0
    assert ledger["cooling_total_kWh"][-1] == pytest.approx(10.0, rel=1e-9)
    w = ledger["room_hum_ratio_kg_kg"][-1]
    removal = 0.0002 + 0.3 * (0.015 - w)
    assert ledger["condensate_kg"][-1] == pytest.approx(3600.0 * removal, rel=1e-7)
    assert w > psychrolib.GetHumRatioFromTDewPoint(11.0, PRESSURE)


def test_sensible_load_beyond_the_unit(rig, hours):
    """Gains of 9 kW against 7 kW of sensible: at full capacity, and the room warms until it closes.

    Steady: r = 3 kW / h_vapor(T_mix) = g + m_o (W_o - W); supply air from the mixed air's enthalpy
    less 10 kW plus the fan takes gains + UA (T_o - T) from the room. Fixed point in T.
    """
    ledger = rig(heat_store_J_K=1e5, moisture_store_kg=10.0).solve(
        hours(500, outdoor_air_kg_s=0.1, gains_sensible_W=9000.0)
    )
    room, w = 30.0, 0.008
    for _ in range(400):
        h_mix = 0.1 * h(22.0, 0.015) + 0.9 * h(room, w)
        w_mix = 0.1 * 0.015 + 0.9 * w
        removal = 3000.0 / vapor(temp_at(h_mix, w_mix))
        w = 0.015 + (0.0002 - removal) / 0.1
        w_supply = w_mix - removal
        supply = temp_at(h_mix + 400.0 - 10000.0, w_supply)
        come_in = 9000.0 + 200.0 * (22.0 - room)
        room += (come_in - cp(w_supply) * (room - supply)) / 1200.0
    assert ledger["room_temp_C"][-1] == pytest.approx(room, rel=1e-6)
    assert ledger["room_hum_ratio_kg_kg"][-1] == pytest.approx(w, rel=1e-5)
    assert room > 23.0
    assert ledger["full_capacity_flag"][-1] == 1.0


def test_variable_unit_turns_down_instead_of_cycling(rig, hours, rated_unit):
    """A sensible load between minimum and full: all hour at part displacement, need met."""
    machine = rig(unit=rated_unit, capacity_control=VARIABLE, moisture_store_kg=100.0)
    ledger = machine.solve(hours(200, gains_sensible_W=7000.0))
    assert ledger["compressor_runtime_frac"][-1] == pytest.approx(1.0, abs=1e-12)
    assert 0.3 < ledger["capacity_frac"][-1] < 1.0
    assert ledger["room_temp_C"][-1] == pytest.approx(23.0, abs=1e-9)
    tiny = machine.solve(hours(200, gains_sensible_W=400.0, outdoor_temp_C=23.0))
    assert tiny["capacity_frac"][-1] == pytest.approx(0.3)
    assert tiny["compressor_runtime_frac"][-1] < 1.0


def test_variable_unit_dries_at_its_leaving_temperature_or_colder(rig, hours, rated_unit):
    """Once it overcools, the air leaves at the drying temperature or colder."""
    ledger = rig(
        unit=rated_unit, capacity_control=VARIABLE, humidity_control=DEW_POINT,
        moisture_store_kg=100.0,
    ).solve(
        hours(100, humidity_limit=np.linspace(14.0, 8.0, 100), gains_sensible_W=500.0)
    )  # fmt: skip
    over = ledger["overcooling_heat_kWh"] > 1e-6
    assert over.any()
    assert (ledger["coil_leaving_temp_C"][over] <= 12.0 + 1e-6).all()


def test_recovery_penalty_is_the_difference_of_two_runs(rig, hours, rated_unit, kept):
    """The same steady hour with and without recovery: price = compressor and outdoor fan, apart."""
    settings = {"unit": rated_unit, "humidity_control": DEW_POINT}
    for floor in (25.0, 45.0):
        plain = rig(**settings, condensing_floor_C=floor).solve(hours(50, **DRYING))
        recovering = rig(
            **settings, condensing_floor_C=floor, sources=(kept["condenser"],)
        ).solve(hours(50, **DRYING))  # fmt: skip
        energy = [
            run["compressor_kWh"][-1] + run["condenser_fan_kWh"][-1] for run in (recovering, plain)
        ]
        assert recovering["reheat_recovered_kWh"][-1] > 1.0
        assert recovering["recovery_penalty_kWh"][-1] == pytest.approx(
            energy[0] - energy[1], rel=1e-6, abs=1e-8
        )
    # With the floor above what the outdoors asks in both runs, recovery is free.
    assert recovering["recovery_penalty_kWh"][-1] == pytest.approx(0.0, abs=1e-9)
