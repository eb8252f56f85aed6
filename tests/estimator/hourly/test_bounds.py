"""Bounds that every hour keeps, by hand: heat recovered and rejected, heating, fans, the room."""

from dataclasses import replace

import numpy as np
import pytest
from former_premises import former_case

from dewledger.assembly.machine import assemble
from dewledger.assembly.plausible import require_carried, require_sound
from dewledger.components.supply_fan import fan_power_share
from dewledger.dx_unit.condenser import condenser_fan_share
from dewledger.dx_unit.operate import operate
from dewledger.dx_unit.types import (
    FAN_SPEED,
    FAN_STAGED,
    FULL_CAPACITY,
    AirIn,
    Task,
)
from dewledger.hourly.ledger import INDEX, SHORT_NAMES, empty_ledger
from dewledger.hourly.types import DRIVERS, RELATIVE_HUMIDITY
from dewledger.hourly.year import solve_totals
from dewledger.study import read_weather, solve_option
from dewledger.weather.errors import InputError

CP = 1006.0
ADDED_BY_REHEAT = 1860.0


@pytest.fixture(scope="module")
def clinic():
    case = former_case("clinic")
    year = read_weather(case)
    return {option.key: assemble(option, year) for option in case.option_cases()}


def test_no_more_is_recovered_than_rejected(rig, hours, kept):
    """A load beyond all heat rejected: 10 kW of cooling and 3 kW of work can return 13 kW, and
    the outdoor coil then gives nothing."""
    unit, plant, *_ = rig(sources=(kept["condenser"],), degradation=0.0).arguments(hours())
    task = Task(FULL_CAPACITY, -20000.0, 0.0, 0.002, 0.0, 0, 1, 0)
    found = operate(unit, plant, AirIn(23.0, 0.011, 101325.0, 22.0, 1.0), task, 10.0, 45.0)
    assert found.total_W == pytest.approx(10000.0)
    assert found.recovered_W == pytest.approx(13000.0, rel=1e-9)
    assert found.outdoor_coil_W == pytest.approx(0.0, abs=1e-6)


def test_outdoor_coil_by_conductance_and_temperatures(rig, hours):
    """13 kW through 1000 W/K: condensing 13 K above 35 C outdoors, above its minimum of 32 C."""
    ledger = rig(degradation=0.25).solve(
        hours(40, outdoor_temp_C=35.0, gains_sensible_W=7500.0, outdoor_air_kg_s=0.0)
    )
    assert ledger["compressor_runtime_frac"][-1] == 1.0
    assert ledger["condensing_temp_C"][-1] == pytest.approx(48.0, abs=1e-5)
    assert ledger["outdoor_coil_kWh"][-1] == pytest.approx(13.0, rel=1e-6)


@pytest.mark.parametrize("gains", [1000.0, 2500.0])
def test_refrigerant_closes_with_start_up(rig, hours, gains):
    """Cycling, start-up takes no heat from the air: evaporator heat and work still add up."""
    ledger = rig(degradation=0.25).solve(
        hours(60, outdoor_temp_C=35.0, gains_sensible_W=gains, outdoor_air_kg_s=0.02)
    )
    runtime = ledger["compressor_runtime_frac"][-1]
    assert 0.1 < runtime < 0.9
    rejected = ledger["cooling_total_kWh"][-1] + ledger["compressor_kWh"][-1]
    assert ledger["outdoor_coil_kWh"][-1] == pytest.approx(rejected, rel=1e-6)


def test_recovered_and_rejected_in_every_hour(demo_machines, clinic):
    """Recovered at most rejected, the outdoor coil never takes heat, residuals within 2e-6."""
    machines = [*demo_machines[1].values(), *clinic.values()]
    for machine in machines:
        ledger = solve_option(machine)
        rejected = ledger[INDEX["cooling_total_kWh"]] + ledger[INDEX["compressor_kWh"]]
        recovered = ledger[INDEX["reheat_recovered_kWh"]]
        assert (recovered <= rejected * (1.0 + 1e-9)).all()
        assert (ledger[INDEX["outdoor_coil_kWh"]] >= -1e-9).all()
        residual = np.abs(ledger[INDEX["refrigerant_closure_W"]])
        assert (residual <= 2e-6 * 1000.0 * rejected + 1e-6).all()


def test_fan_power_at_two_speeds():
    """Fan laws: half the flow takes an eighth of the power; with 30 % of the pressure held, half of
    0.3 + 0.7 x 0.25. A staged outdoor fan cycles: half the heat, half the power."""
    assert fan_power_share(0.5, 0.0) == pytest.approx(0.125)
    assert fan_power_share(0.5, 0.3) == pytest.approx(0.2375)
    assert condenser_fan_share(FAN_SPEED, 5000.0, 1000.0, 10.0) == pytest.approx(0.125)
    assert condenser_fan_share(FAN_SPEED, 8000.0, 1000.0, 10.0) == pytest.approx(0.512)
    assert condenser_fan_share(FAN_STAGED, 5000.0, 1000.0, 10.0) == pytest.approx(0.5)


def test_reheat_is_no_more_than_the_coil_cools(clinic):
    """Heating the air from below its supply temperature is heating, with drying or without."""
    heated = 0
    for machine in clinic.values():
        ledger = solve_option(machine)
        load = ledger[INDEX["overcooling_heat_kWh"]]
        assert (load <= ledger[INDEX["cooling_sensible_kWh"]] + 1e-9).all()
        calls = ledger[INDEX["moisture_call_flag"]] > 0.0
        heated += int((calls & (ledger[INDEX["heating_kWh"]] > 0.0)).sum())
    assert heated > 10


def test_an_outdoor_air_unit_heats_cold_damp_air_and_reheats_what_it_cooled(clinic):
    """By hand: cp m (supply - entering) less fan heat is heating, all sensible cooling is load."""
    machine = clinic["neutral-electric"]
    drivers = machine.drivers[:1].repeat(2, axis=0).copy()
    at = DRIVERS.index
    drivers[:, at("outdoor_temp_C")] = 14.0
    drivers[:, at("outdoor_hum_ratio_kg_kg")] = 0.0098
    drivers[:, at("fan_mode")] = 1.0
    ledger = solve_option(replace(machine, drivers=drivers), 0)[:, -1]
    flow = ledger[INDEX["supply_flow_kg_s"]]
    assert ledger[INDEX["moisture_call_flag"]] == 1.0
    assert ledger[INDEX["overcooling_heat_kWh"]] == pytest.approx(
        ledger[INDEX["cooling_sensible_kWh"]], rel=1e-9
    )
    rise = ledger[INDEX["supply_temp_C"]] - ledger[INDEX["mixed_temp_C"]]
    cp = CP + ADDED_BY_REHEAT * ledger[INDEX["supply_hum_ratio_kg_kg"]]
    fan = 1000.0 * ledger[INDEX["supply_fan_kWh"]]
    room = ledger[INDEX["heating_kWh"]] * 1000.0 - (flow * cp * rise - fan)
    # What is left of the heating is the room's own, which the supply air at 22.2 C spares.
    assert room == pytest.approx(0.0, abs=0.02 * flow * cp * rise) or room > 0.0


def test_stated_heating_binds_and_is_counted(rig, hours):
    """Steady at -10 C: 200 W/K and 1 kW of gains and fan hold 20 C with 5 kW; 2 kW leave 5 C.

    K T = UA To + gains + fan + heating: 200 (20 + 10) = 400 + 600 + 5000.
    """
    cold = {
        "outdoor_temp_C": -10.0, "outdoor_hum_ratio_kg_kg": 0.001, "gains_sensible_W": 600.0,
        "outdoor_air_kg_s": 0.0, "gains_moisture_kg_s": 0.0,
    }  # fmt: skip
    enough = rig(heating_capacity_W=1e12).solve(hours(800, **cold))
    assert enough["heating_kWh"][-1] == pytest.approx(5.0, rel=1e-6)
    assert not enough["heating_limited_flag"].any()
    small = rig(heating_capacity_W=2000.0).solve(hours(800, **cold))
    assert small["heating_limited_flag"][-1] == 1.0
    assert small["room_temp_C"][-1] == pytest.approx(5.0, abs=1e-3)


def test_heating_without_a_stated_size_is_not_limited(demo_machines):
    for machine in demo_machines[1].values():
        assert machine.control.heating_capacity_W >= 1e9
        assert not solve_option(machine)[INDEX["heating_limited_flag"]].any()


def _with_gains(machine, name, value):
    drivers = machine.drivers.copy()
    drivers[:, DRIVERS.index(name)] = value
    return replace(machine, drivers=drivers)


def test_a_room_no_building_can_be_ends_in_one_sentence(demo_machines):
    machine = demo_machines[1]["condenser"]
    with pytest.raises(InputError, match=r"^the room reaches [\d,]+ C .* check gains") as hot:
        solve_option(_with_gains(machine, "gains_sensible_W", 5e6))
    assert "\n" not in str(hot.value)
    with pytest.raises(InputError, match="cannot be solved on Jan 1 00:00"):
        solve_option(_with_gains(machine, "gains_sensible_W", np.nan))


def test_moisture_that_has_nowhere_to_go_is_refused(demo_machines):
    """1,000 lb/h in a room whose unit can condense some 150."""
    machine = demo_machines[1]["condenser"]
    much = _with_gains(machine, "gains_moisture_kg_s", 1000.0 * 0.45359237 / 3600.0)
    carry = machine.room.infiltration_kg_s, machine.unit.rated_total_W
    require_carried(machine.drivers, *carry)
    with pytest.raises(InputError, match=r"^the moisture gains are 1,000 lb/h on average"):
        require_carried(much.drivers, *carry)


def test_a_ledger_that_is_not_finite_is_refused():
    ledger = np.zeros_like(empty_ledger(24))
    require_sound(ledger)
    ledger[INDEX["room_temp_C"], 7] = -50.0
    with pytest.raises(InputError, match=r"^the room reaches -50 C \(-58 F\) on Jan 1 07:00"):
        require_sound(ledger)
    ledger[INDEX["water_closure_kg_h"], 5] = np.inf
    with pytest.raises(InputError, match="Jan 1 05:00"):
        require_sound(ledger)


@pytest.mark.parametrize("key", ["condenser-trim", "gas"])
def test_short_ledger_equals_the_ledger(demo_machines, key):
    from dewledger.accounts.energy import electricity_kW, gas_kW

    machine = demo_machines[1][key]
    ledger = solve_option(machine, 0)
    short = empty_ledger(8760, SHORT_NAMES)
    solve_totals(
        machine.unit.map, machine.plant, machine.room, machine.control, machine.sources,
        machine.drivers, 0, short,
    )  # fmt: skip
    whole = {"electricity_kWh": electricity_kW(ledger), "gas_kWh": gas_kW(ledger)}
    for place, name in enumerate(SHORT_NAMES):
        values = whole[name] if name in whole else ledger[INDEX[name]]
        # Two programs may fuse the same sum in two ways, and end a search one look apart.
        scale = float(np.abs(values).max())
        assert short[place] == pytest.approx(values, abs=1e-7 * scale), name


def test_auxiliaries_of_condenser_heat_run_with_the_compressor(rig, hours, kept):
    """A 100 W pump that serves as long as the compressor runs, some part of the hour."""
    source = (*kept["condenser"][:3], 100.0, 0.0)
    ledger = rig(sources=(source,), humidity_control=RELATIVE_HUMIDITY).solve(
        hours(200, outdoor_air_kg_s=0.1)
    )
    runtime = ledger["compressor_runtime_frac"][-1]
    assert 0.1 < runtime < 0.9
    assert ledger["reheat_recovered_kWh"][-1] > 0.1
    assert ledger["reheat_purchased_electricity_kWh"][-1] == pytest.approx(0.1 * runtime, rel=1e-9)
