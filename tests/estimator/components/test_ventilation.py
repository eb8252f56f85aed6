"""Outdoor air of an hour: recovery, economizer and demand control, against paper and properties."""

import numpy as np
import psychrolib
import pytest
from former_premises import former_text
from hypothesis import given, settings
from hypothesis import strategies as st

from dewledger.assembly.air import outdoor_flow
from dewledger.assembly.calendar import year_calendar
from dewledger.case import case_from_text
from dewledger.components.ventilation import (
    DRY_BULB,
    ENTHALPY,
    NO_DEVICES,
    OutdoorAir,
    economizer_open,
    effectiveness_at,
    outdoor_air,
)
from dewledger.hourly.types import FAN_CYCLING, RELATIVE_HUMIDITY

PRESSURE = 101325.0
WHEEL = OutdoorAir(
    recovery=1,
    sensible_full=0.70,
    sensible_low=0.76,
    latent_full=0.60,
    latent_low=0.68,
    rated_kg_s=0.4,
    bypass=1,
)


def flow_of(devices, **changes):
    at = {
        "least": 0.4,
        "outdoor": 35.0,
        "w_outdoor": 0.016,
        "room": 24.0,
        "w_room": 0.0093,
        "surplus": 1000.0,
        "setpoint": 24.0,
        "fan": 1.0,
        "open": True,
        "exhaust": 1.0,
    } | changes
    return outdoor_air(
        devices, at["least"], at["outdoor"], at["w_outdoor"], PRESSURE, at["room"], at["w_room"],
        at["surplus"], at["setpoint"], at["fan"], at["open"],
        at["exhaust"],
    )  # fmt: skip


@pytest.mark.published
def test_effectiveness_between_the_two_rated_flows():
    """AHRI 1060 rates at 100 and 75 % flow; in between it is a line (common practice)."""
    assert effectiveness_at(0.70, 0.76, 1.0) == pytest.approx(0.70)
    assert effectiveness_at(0.70, 0.76, 0.75) == pytest.approx(0.76)
    assert effectiveness_at(0.70, 0.76, 0.875) == pytest.approx(0.73)
    # Beyond the rating it is followed to half the flow and a quarter above it.
    assert effectiveness_at(0.70, 0.76, 0.2) == effectiveness_at(0.70, 0.76, 0.5)
    assert effectiveness_at(0.90, 0.99, 0.5) == 0.95


@pytest.mark.published
def test_recovery_at_the_conditions_of_ahri_1060(rig, hours):
    """Outdoor 95/78 F and return 75/63 F (AHRI 1060, not checked against the text): states by the
    definitions.

    eps = (x1 - x2) / (x1 - x3) for dry bulb and humidity ratio, equal flows.
    """
    psychrolib.SetUnitSystem(psychrolib.SI)
    outdoor, room = (95.0 - 32.0) / 1.8, (75.0 - 32.0) / 1.8
    w_outdoor = psychrolib.GetHumRatioFromTWetBulb(outdoor, (78.0 - 32.0) / 1.8, PRESSURE)
    machine = rig(start_temp_C=room)
    drivers = hours(
        1, outdoor_temp_C=outdoor, outdoor_hum_ratio_kg_kg=w_outdoor, outdoor_air_kg_s=0.4
    )
    unit, plant, *rest = machine.arguments(drivers)
    plant = plant._replace(outdoor=WHEEL)
    ledger = solved(unit, plant, *rest)
    temp, w = ledger["room_temp_C"][0], ledger["room_hum_ratio_kg_kg"][0]
    t2 = outdoor - 0.70 * (outdoor - temp)
    w2 = w_outdoor - 0.60 * (w_outdoor - w)
    mixed_w = 0.4 * w2 + 0.6 * w
    mixed_h = 0.4 * psychrolib.GetMoistAirEnthalpy(t2, w2) + 0.6 * psychrolib.GetMoistAirEnthalpy(
        temp, w
    )
    assert ledger["mixed_hum_ratio_kg_kg"][0] == pytest.approx(mixed_w, rel=1e-9)
    assert ledger["mixed_temp_C"][0] == pytest.approx(
        psychrolib.GetTDryBulbFromEnthalpyAndHumRatio(mixed_h, mixed_w), abs=1e-6
    )
    assert ledger["outdoor_recovery_moisture_kg"][0] == pytest.approx(
        0.4 * 3600.0 * (w2 - w_outdoor), rel=1e-9
    )
    assert ledger["heat_closure_W"][0] == pytest.approx(0.0, abs=1e-3)
    assert ledger["water_closure_kg_h"][0] == pytest.approx(0.0, abs=1e-6)


def solved(unit, plant, room, control, sources, drivers, warm_up):
    from dewledger.hourly.ledger import INDEX, NAMES, empty_ledger
    from dewledger.hourly.year import solve_year

    out = empty_ledger(drivers.shape[0])
    solve_year(unit, plant, room, control, sources, drivers, warm_up, out)
    return {name: out[INDEX[name]] for name in NAMES}


@settings(max_examples=40, deadline=None)
@given(
    outdoor=st.floats(26.0, 40.0),
    w_outdoor=st.floats(0.012, 0.020),
    more=st.floats(0.0, 0.3),
    cycling=st.booleans(),
)
def test_more_effectiveness_never_adds_coil_load(rig, hours, outdoor, w_outdoor, more, cycling):
    """Outdoors hotter and more humid than the room: the coil is spared what the device does."""
    loads = []
    for extra in (0.0, more):
        wheel = WHEEL._replace(
            sensible_full=0.5 + extra, sensible_low=0.5 + extra,
            latent_full=0.4 + extra, latent_low=0.4 + extra,
        )  # fmt: skip
        drivers = hours(
            24,
            outdoor_temp_C=outdoor,
            outdoor_hum_ratio_kg_kg=w_outdoor,
            fan_mode=float(FAN_CYCLING) if cycling else 1.0,
        )
        unit, plant, *rest = rig().arguments(drivers, 48)
        ledger = solved(unit, plant._replace(outdoor=wheel), *rest)
        loads.append(ledger["cooling_total_kWh"][-1])
    assert loads[1] <= loads[0] + 1e-6


def test_frost_limit_holds_the_heat_of_the_limit():
    """At -20 C with a limit of -10 C and a room at 20 C: 30 / 40 of the effectiveness."""
    device = WHEEL._replace(frost_C=-10.0)
    _, sensible, latent = flow_of(device, outdoor=-20.0, w_outdoor=0.0006, room=20.0, surplus=-1e4)
    assert sensible == pytest.approx(0.70 * 30.0 / 40.0)
    assert latent == pytest.approx(0.60 * 30.0 / 40.0)
    _, sensible, _ = flow_of(device, outdoor=-5.0, w_outdoor=0.002, room=20.0, surplus=-1e4)
    assert sensible == pytest.approx(0.70)


def test_bypass_lets_in_what_holds_the_set_point():
    """1000 W to remove at 24 C with dry air of 14 C: m (1 - es) cp 10 K = 1000 W."""
    _, sensible, latent = flow_of(WHEEL, outdoor=14.0, w_outdoor=0.005)
    cp = 1006.0 + 1860.0 * 0.005
    assert 0.4 * (1.0 - sensible) * cp * 10.0 == pytest.approx(max(1000.0, 0.4 * 0.3 * cp * 10.0))
    _, sensible, latent = flow_of(WHEEL, outdoor=14.0, w_outdoor=0.005, surplus=2500.0)
    assert 0.4 * (1.0 - sensible) * cp * 10.0 == pytest.approx(2500.0)
    assert latent == pytest.approx(0.60 * sensible / 0.70)
    # Damp outdoor air keeps the wheel turning; so does a bypass that is not there.
    assert flow_of(WHEEL, outdoor=20.0, w_outdoor=0.012, surplus=9e3)[1] == pytest.approx(0.70)
    assert flow_of(WHEEL._replace(bypass=0), outdoor=14.0, surplus=9e3)[1] == pytest.approx(0.70)


def test_economizer_opens_no_further_than_needed():
    device = NO_DEVICES._replace(economizer=DRY_BULB, most_kg_s=1.0, high_limit_C=20.0)
    cp = 1006.0 + 1860.0 * 0.005
    flow, _, _ = flow_of(device, outdoor=14.0, w_outdoor=0.005, surplus=8000.0)
    assert flow * cp * 10.0 == pytest.approx(8000.0)
    assert flow_of(device, outdoor=14.0, w_outdoor=0.005, surplus=5e4)[0] == 1.0
    assert flow_of(device, outdoor=14.0, w_outdoor=0.005, surplus=10.0)[0] == 0.4
    assert flow_of(device, outdoor=14.0, surplus=5e4, open=False)[0] == 0.4
    assert flow_of(device, outdoor=21.0, w_outdoor=0.005, surplus=5e4)[0] == 0.4


def test_limits_of_the_economizer():
    device = NO_DEVICES._replace(economizer=ENTHALPY, most_kg_s=1.0, high_limit_C=24.0)
    room = (24.0, 0.0093)
    assert economizer_open(device, 22.0, 0.009, PRESSURE, *room)
    # 22 C and 11 g/kg holds 50.1 kJ/kg, the room 47.8 kJ/kg.
    assert not economizer_open(device, 22.0, 0.011, PRESSURE, *room)
    locked = device._replace(economizer=DRY_BULB, lockout_dew_C=12.0)
    # 9 g/kg has a dew point of 12.4 C, 8.5 g/kg of 11.5 C.
    assert not economizer_open(locked, 20.0, 0.009, PRESSURE, *room)
    assert economizer_open(locked, 20.0, 0.0085, PRESSURE, *room)


def test_a_moisture_call_shuts_the_economizer(rig, hours):
    drivers = hours(
        48, outdoor_temp_C=18.0, outdoor_hum_ratio_kg_kg=0.0125, gains_sensible_W=6000.0
    )
    unit, plant, *rest = rig(humidity_control=RELATIVE_HUMIDITY).arguments(drivers, 48)
    open_wide = NO_DEVICES._replace(economizer=DRY_BULB, most_kg_s=1.0, high_limit_C=22.0)
    ledger = solved(unit, plant._replace(outdoor=open_wide), *rest)
    assert ledger["moisture_call_flag"].all()
    assert ledger["outdoor_air_kg_s"] == pytest.approx(np.full(48, 0.2))


DEMO = former_text("music-school")


def changed(**lines):
    text = DEMO
    for old, new in lines.items():
        assert f"{old} = " in text
        start = text.index(f"{old} = ")
        text = text[:start] + new + text[text.index("\n", start) :]
    return case_from_text(text)


@pytest.mark.published
def test_outdoor_air_by_people_and_area():
    """ASHRAE 62.1 rates for a classroom (not checked against the text): 10 cfm/person and 0.12
    cfm/ft2.

    60 people on 4000 ft2: 600 + 480 = 1080 cfm.
    """
    case = changed(
        outdoor_flow='outdoor_per_person = "10 cfm/person"\noutdoor_per_area = "0.12 cfm/ft2"'
    )
    flow = outdoor_flow(case, year_calendar(case.schedule, 2023))
    assert flow.max() / 0.00047194745 == pytest.approx(1080.0, rel=1e-6)


def test_demand_control_never_brings_more():
    rates = 'outdoor_per_person = "10 cfm/person"\noutdoor_per_area = "0.06 cfm/ft2"'
    plain, demand = (
        changed(outdoor_flow=rates),
        changed(outdoor_flow=f"{rates}\ndemand_control = true"),
    )
    calendar = year_calendar(plain.schedule, 2023)
    always, following = outdoor_flow(plain, calendar), outdoor_flow(demand, calendar)
    occupied = calendar.occupied
    assert (following[occupied] <= always[occupied] + 1e-12).all()
    assert following[occupied].mean() < 0.7 * always[occupied].mean()


def test_leakage_raises_the_flow():
    case = changed(outdoor_flow='outdoor_flow = "840 cfm"').model_copy()
    recovery = '\n[air.recovery]\nsensible = "70 %"\nleakage = "5 %"\n'
    leaky = case_from_text(DEMO.replace("[unit]", f"{recovery}\n[unit]", 1))
    calendar = year_calendar(case.schedule, 2023)
    assert outdoor_flow(leaky, calendar).max() == pytest.approx(
        outdoor_flow(case, calendar).max() / 0.95
    )
