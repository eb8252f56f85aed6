"""HumidifierControl, supply flow and envelope in the hour, against paper."""

import numpy as np
import psychrolib
import pytest

from dewledger.case import bundled_text, case_from_text
from dewledger.components.envelope import network_of
from dewledger.components.humidifier import ADIABATIC, STEAM, STEAM_HEAT_J_KG, HumidifierControl
from dewledger.components.supply_fan import (
    TWO_SPEED,
    VARIABLE_FLOW,
    FlowControl,
    fan_power_share,
    leaving_setpoint,
    mean_fan_power_share,
)
from dewledger.dx_unit.types import VARIABLE
from dewledger.hourly.ledger import INDEX, NAMES, empty_ledger
from dewledger.hourly.types import RELATIVE_HUMIDITY
from dewledger.hourly.year import solve_year

PRESSURE = 101325.0
WINTER = {
    "outdoor_temp_C": 0.0,
    "outdoor_hum_ratio_kg_kg": 0.003,
    "gains_sensible_W": 500.0,
    "gains_moisture_kg_s": 0.0,
    "low_humidity": 0.35,
    "humidity_limit": 0.55,
}


def solve(machine, drivers, warm_up=200, plant=None, control=None, room=None):
    arguments = list(machine.arguments(drivers, warm_up))
    for place, changes in ((1, plant), (2, room), (3, control)):
        if changes:
            arguments[place] = arguments[place]._replace(**changes)
    out = empty_ledger(drivers.shape[0])
    solve_year(*arguments, out)
    assert np.nanmax(np.abs(out[INDEX["heat_closure_W"]])) < 1e-3
    assert np.nanmax(np.abs(out[INDEX["water_closure_kg_h"]])) < 1e-6
    return {name: out[INDEX[name]] for name in NAMES}


def steam(**changes):
    return {
        "humidifier": HumidifierControl(STEAM, 0, 1.0, STEAM_HEAT_J_KG / 0.95, 0)._replace(
            **changes
        )
    }


@pytest.mark.parametrize("kind", [STEAM, ADIABATIC])
def test_humidifier_holds_its_limit_in_a_steady_winter(rig, hours, kind):
    """0.2 kg/s of air at 3 g/kg is brought to the room's humidity: G = 0.2 (W_room - 0.003)."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    ledger = solve(rig(), hours(24, **WINTER), control=steam(kind=kind))
    low = psychrolib.GetHumRatioFromRelHum(20.0, 0.35, PRESSURE)
    assert ledger["room_temp_C"][-1] == pytest.approx(20.0, abs=1e-6)
    assert ledger["room_rh_frac"][-1] == pytest.approx(0.35, abs=1e-6)
    added = 0.2 * (low - 0.003)
    assert ledger["humidifier_kg"][-1] / 3600.0 == pytest.approx(added, rel=1e-5)
    # Steam comes at 100 C, water at 10 C and leaves the air colder by its evaporation.
    heat = 1860.0 * 80.0 if kind == STEAM else 4186.0 * 10.0 - (2.501e6 + 1860.0 * 20.0)
    assert ledger["humidifier_heat_kWh"][-1] * 1000.0 == pytest.approx(added * heat, rel=1e-4)
    dry = solve(rig(), hours(24, **WINTER))
    assert ledger["heating_kWh"][-1] - dry["heating_kWh"][-1] == pytest.approx(
        -ledger["humidifier_heat_kWh"][-1], rel=1e-3, abs=0.002
    )


@pytest.mark.published
def test_steam_takes_the_heat_of_the_steam_tables(rig, hours):
    """Vapor at 100 C over water at 10 C: 2675.6 - 41.9 = 2633.7 kJ/kg (steam tables)."""
    ledger = solve(rig(), hours(24, **WINTER), control=steam(gas=1))
    purchased = ledger["humidifier_gas_kWh"][-1]
    assert purchased * 0.95 * 3600.0 / ledger["humidifier_kg"][-1] == pytest.approx(
        2633.7, rel=1e-4
    )
    assert ledger["humidifier_electricity_kWh"].sum() == 0.0


def test_small_humidifier_stays_below_its_limit(rig, hours):
    ledger = solve(rig(), hours(24, **WINTER), control=steam(capacity_kg_s=2e-4))
    assert ledger["humidifier_kg"] == pytest.approx(np.full(24, 0.72))
    assert (ledger["room_rh_frac"] < 0.35).all()


def test_fan_laws_with_a_held_pressure():
    """Half flow: half of (0.3 + 0.7 / 4) is 23.75 %; nothing held: the cube."""
    assert fan_power_share(0.5, 0.3) == pytest.approx(0.2375)
    assert fan_power_share(0.5, 0.0) == pytest.approx(0.125)
    assert fan_power_share(1.0, 0.3) == pytest.approx(1.0)


def test_two_speeds_share_an_hour_between_them():
    """A mean flow of 80 % from speeds of 60 and 100 % is half an hour at each. By hand: at 60 %
    0.6 (0.3 + 0.7 x 0.36) = 0.3312 of the power, so (0.3312 + 1) / 2; a fan of variable speed takes
    0.8 (0.3 + 0.7 x 0.64) = 0.5984."""
    two = FlowControl(kind=TWO_SPEED, minimum_share=0.6, set_pressure_share=0.3)
    assert mean_fan_power_share(two, 0.6) == pytest.approx(0.3312)
    assert mean_fan_power_share(two, 0.8) == pytest.approx(0.6656)
    assert mean_fan_power_share(two, 1.0) == pytest.approx(1.0)
    variable = two._replace(kind=VARIABLE_FLOW)
    assert mean_fan_power_share(variable, 0.8) == pytest.approx(0.5984)


def test_reset_of_the_leaving_air():
    reset = FlowControl(leaving_C=12.0, leaving_mild_C=16.0, reset_low_C=15.0, reset_high_C=25.0)
    assert [leaving_setpoint(reset, t) for t in (0.0, 15.0, 20.0, 25.0, 40.0)] == [
        16.0, 16.0, 14.0, 12.0, 12.0,
    ]  # fmt: skip


HOT = {"outdoor_temp_C": 32.0, "outdoor_hum_ratio_kg_kg": 0.012, "outdoor_air_kg_s": 0.1}


def test_variable_flow_follows_the_load(rig, rated_unit, hours):
    """The coil leaves at its set point, and the flow is what the load asks for."""
    machine = rig(unit=rated_unit, capacity_control=VARIABLE, minimum_fraction=0.1)
    control = {"flow": FlowControl(2, 0.3, 0.3, 13.0, 13.0, 0.0, 1.0, 1)}
    ledger = solve(machine, hours(24, gains_sensible_W=4500.0, **HOT), plant=control)
    flow = ledger["supply_flow_kg_s"][-1]
    assert 0.35 < flow < 0.95
    assert ledger["coil_leaving_temp_C"][-1] == pytest.approx(13.0, abs=0.15)
    assert ledger["supply_fan_kWh"][-1] == pytest.approx(0.4 * flow * (0.3 + 0.7 * flow**2))
    more = solve(machine, hours(24, gains_sensible_W=6000.0, **HOT), plant=control)
    assert more["supply_flow_kg_s"][-1] > flow + 0.1


def test_two_speeds(rig, rated_unit, hours):
    machine = rig(unit=rated_unit)
    control = {"flow": FlowControl(1, 0.6, 0.3, 13.0, 13.0, 0.0, 1.0, 1)}
    low = solve(machine, hours(24, gains_sensible_W=3000.0, **HOT), plant=control)
    high = solve(machine, hours(24, gains_sensible_W=10500.0, **HOT), plant=control)
    assert low["supply_flow_kg_s"][-1] == pytest.approx(0.6)
    assert high["supply_flow_kg_s"][-1] == pytest.approx(1.0)


def test_flow_goes_down_before_reheat(rig, rated_unit, hours):
    """The same limit with less reheat than at constant flow, and none where flow alone will do."""
    machine = rig(
        unit=rated_unit, humidity_control=RELATIVE_HUMIDITY, capacity_control=VARIABLE,
        minimum_fraction=0.2,
    )  # fmt: skip
    drivers = hours(48, humidity_limit=0.52, gains_sensible_W=4500.0, **HOT)
    constant = solve(machine, drivers)
    variable = solve(
        machine, drivers, plant={"flow": FlowControl(2, 0.3, 0.3, 15.0, 15.0, 0.0, 1.0, 1)}
    )
    held = solve(
        machine, drivers, plant={"flow": FlowControl(2, 0.3, 0.3, 15.0, 15.0, 0.0, 1.0, 0)}
    )
    for ledger in (constant, variable, held):
        assert ledger["room_rh_frac"][-1] <= 0.5201
    assert variable["overcooling_heat_kWh"][-1] <= held["overcooling_heat_kWh"][-1] + 1e-9
    assert variable["supply_flow_kg_s"][-1] <= held["supply_flow_kg_s"][-1]


def test_network_room_closes_and_answers_the_sun(rig, hours):
    """Steady winter: heating = losses - gains; sun lowers it by all but the share windows lose."""
    network = network_of(100.0, 100.0, 50.0, "medium")
    dark = solve(rig(), hours(24, **WINTER), 2000, room={"network": network})
    sunny = solve(rig(), hours(24, solar_W=1000.0, **WINTER), 2000, room={"network": network})
    assert dark["solar_gains_kWh"].sum() == 0.0
    assert sunny["solar_gains_kWh"][-1] == pytest.approx(1.0)
    saved = dark["heating_kWh"][-1] - sunny["heating_kWh"][-1]
    # Sun warms mass and surface, which lose part of it outdoors before the air has it.
    assert 0.85 < saved < 1.0


DEMO = bundled_text("music-school")
ENVELOPE = """
[envelope]
opaque_conductance = "500 Btu/h/degF"
window_conductance = "150 Btu/h/degF"
"""


def with_envelope(more=""):
    text = DEMO.replace('conductance = "400 Btu/h/degF"\n', "", 1)
    text = "\n".join(line for line in text.splitlines() if not line.startswith("heat_capacity_per"))
    return case_from_text(text.replace("[heating]", f"{ENVELOPE}{more}\n[heating]", 1))


def test_sun_of_a_case_is_that_of_its_windows():
    from dewledger.assembly.air import solar_gains
    from dewledger.study import read_weather
    from dewledger.weather.physics.solar import tilted_irradiance

    window = '[[envelope.windows]]\narea = "200 ft2"\nazimuth = 180\nshading = "80 %"\n'
    case = with_envelope(window)
    year = read_weather(case)
    assert not solar_gains(with_envelope(), year).any()
    expected = 200.0 * 0.09290304 * 0.60 * 0.80 * tilted_irradiance(year, 90.0, 180.0)
    assert solar_gains(case, year) == pytest.approx(expected)


def test_daylight_saving_moves_people_and_no_weather():
    from dewledger.assembly.machine import assemble
    from dewledger.hourly.types import DRIVERS
    from dewledger.study import read_weather

    window = '[[envelope.windows]]\narea = "200 ft2"\nazimuth = 180\n'
    summer = with_envelope(window)
    year = read_weather(summer)
    text = DEMO.replace('daylight_saving = "America/New_York"', 'daylight_saving = "none"')
    standard = case_from_text(text)
    a = assemble(summer.option_cases()[0], year).drivers
    b = assemble(standard.option_cases()[0], year).drivers
    for name in ("outdoor_temp_C", "outdoor_hum_ratio_kg_kg", "pressure_Pa"):
        index = DRIVERS.index(name)
        assert a[:, index].sum() == b[:, index].sum()
    gains = DRIVERS.index("gains_sensible_W")
    assert not np.array_equal(a[:, gains], b[:, gains])
    assert a[:, DRIVERS.index("solar_W")].sum() > 0.0
