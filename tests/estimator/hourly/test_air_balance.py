"""Exhaust, infiltration and morning recovery: hourly flows by hand, and what they do in a year."""

from dataclasses import replace

import numpy as np
import pytest

from dewledger.accounts.energy import column
from dewledger.assembly.machine import assemble
from dewledger.case import case_from_text
from dewledger.dx_unit.reheat_arrangements import run_with_coil
from dewledger.dx_unit.types import WRAP_AROUND, AirIn
from dewledger.hourly.ledger import NAMES
from dewledger.hourly.types import DRIVERS, FAN_CONTINUOUS, FAN_OFF
from dewledger.study import read_weather, solve_option
from dewledger.weather.errors import InputError

ROOM = """
format = 2
title = "Workshop"
[site]
weather = "miami"
[room]
floor_area = "100 m2"
height = "3 m"
conductance = "100 W/K"
cooling_setpoint = "24 degC"
heating_setpoint = "20 degC"
cooling_setpoint_unoccupied = "30 degC"
{room}
[schedule]
weekday = "08:00-18:00"
{schedule}
[air]
supply_flow = "500 L/s"
outdoor_flow = "100 L/s"
fan_power = "300 W"
fan_unoccupied = "off"
{air}
[unit]
total_capacity = "10 kW"
sensible_heat_ratio = "70 %"
efficiency = "3.3 COP"
{more}
[options.only]
title = "Only"
"""
# kg/s of standard air, 1.204 kg/m3, in a flow of 1 L/s.
STANDARD = 1.204e-3
NOON_MONDAY = 24 + 12
NIGHT_MONDAY = 24 + 2


def machine_of(room="", schedule="", air="", more=""):
    case = case_from_text(ROOM.format(room=room, schedule=schedule, air=air, more=more))
    assert case_from_text(case.to_toml()) == case
    return assemble(case.option_cases()[0], read_weather(case))


def driver(machine, name):
    return machine.drivers[:, DRIVERS.index(name)]


def solved(machine):
    ledger = solve_option(machine)
    assert np.abs(column(ledger, "heat_closure_W")).max() < 1e-3
    assert np.abs(column(ledger, "water_closure_kg_h")).max() < 1e-6
    return ledger


# --- Infiltration --------------------------------------------------------------------------------


def test_infiltration_by_area_by_hand():
    """0.3 L/s for each m2 of 250 m2 of wall and roof, half of it by night."""
    machine = machine_of(
        room='infiltration_per_area = "0.3 L/s/m2"\ninfiltration_area = "250 m2"\n'
        'infiltration_profile = "shut"',
        more=f"[profiles.shut]\nweekday = {[0.5] * 8 + [1.0] * 10 + [0.5] * 6}\n",
    )
    leak = column(solved(machine), "infiltration_kg_s")
    assert leak[NOON_MONDAY] == pytest.approx(75.0 * STANDARD)
    assert leak[NIGHT_MONDAY] == pytest.approx(37.5 * STANDARD)


def test_infiltration_takes_the_wall_area_of_the_envelope():
    text = ROOM.replace('conductance = "100 W/K"\n', "", 1).format(
        room='infiltration_per_area = "0.3 L/s/m2"',
        schedule="",
        air="",
        more='[envelope]\nopaque_conductance = "90 W/K"\nwall_area = "200 m2"\n',
    )
    case = case_from_text(text)
    machine = assemble(case.option_cases()[0], read_weather(case))
    assert machine.room.infiltration_kg_s == pytest.approx(60.0 * STANDARD)


def test_air_changes_with_a_profile_leave_the_water_balance():
    """Twice the profile, twice the infiltration; none of it without."""
    machine = machine_of(room='infiltration = "0.6 ACH"\ninfiltration_profile = "occupied"')
    ledger = solved(machine)
    occupied = machine.calendar.occupied
    assert (column(ledger, "infiltration_kg_s")[~occupied] == 0.0).all()
    # 300 m3 of air of 24 C and 50 % RH, 1.18 kg/m3 within 2 %, 0.6 times an hour.
    assert column(ledger, "infiltration_kg_s")[occupied] == pytest.approx(
        np.full(occupied.sum(), 0.6 * 300 * 1.18 / 3600), rel=0.02
    )


# --- Exhaust -------------------------------------------------------------------------------------


def test_exhaust_beyond_outdoor_air_leaks_in():
    machine = machine_of(air='exhaust_flow = "160 L/s"\nexhaust_profile = "always"')
    make_up = driver(machine, "make_up_kg_s")
    assert make_up[NOON_MONDAY] == pytest.approx(60.0 * STANDARD)
    # The unit is off by night and brings nothing.
    assert make_up[NIGHT_MONDAY] == pytest.approx(160.0 * STANDARD)
    ledger = solved(machine)
    assert column(ledger, "infiltration_kg_s") == pytest.approx(make_up)
    less = solved(machine_of(air='exhaust_flow = "60 L/s"'))
    assert (column(less, "infiltration_kg_s") == 0.0).all()
    # Miami's air is damper than the room's by day: what leaks in is paid for at the coil.
    plain = solved(machine_of())
    assert np.array_equal(column(plain, "cooling_total_kWh"), column(less, "cooling_total_kWh"))
    assert column(ledger, "cooling_latent_kWh").sum() > column(plain, "cooling_latent_kWh").sum()


def test_exhaust_follows_the_outdoor_air_unless_it_is_told():
    machine = machine_of(air='exhaust_flow = "100 L/s"\noutdoor_profile = "always"')
    # By night the unit is off, and its exhaust fan draws the outdoor air in past it.
    assert driver(machine, "make_up_kg_s")[NIGHT_MONDAY] == pytest.approx(100.0 * STANDARD)
    machine = machine_of(air='exhaust_flow = "100 L/s"')
    assert (driver(machine, "make_up_kg_s") == 0.0).all()


def test_recovery_acts_with_the_exhaust_there_is():
    """Half the exhaust, half of eps: (W2 - W1) / (W3 - W1) = eps m_min / m_outdoor (ASHRAE 84)."""
    device = '[air.recovery]\nsensible = "70 %"\nlatent = "60 %"\nbypass = false\n'
    half = device + 'exhaust_share = "50 %"\n'
    both = [
        solved(machine_of(air=f'exhaust_flow = "100 L/s"\n{table}')) for table in (device, half)
    ]
    for ledger, share in zip(both, (1.0, 0.5), strict=True):
        on = column(ledger, "outdoor_air_kg_s") > 0.0
        brought = column(ledger, "outdoor_air_kg_s")[on]
        w_out = column(ledger, "outdoor_hum_ratio_kg_kg")[on]
        w_room = column(ledger, "room_hum_ratio_kg_kg")[on]
        given = column(ledger, "outdoor_recovery_moisture_kg")[on]
        assert given == pytest.approx(0.6 * share * brought * (w_room - w_out) * 3600.0, abs=1e-9)
    assert column(both[1], "cooling_total_kWh").sum() > column(both[0], "cooling_total_kWh").sum()
    # All exhaust passing the device is what no exhaust_flow says.
    plain = solved(machine_of(air=device))
    assert column(plain, "compressor_kWh") == pytest.approx(column(both[0], "compressor_kWh"))


def test_leakage_of_the_device_is_no_outdoor_air():
    machine = machine_of(
        air='exhaust_flow = "100 L/s"\n[air.recovery]\nsensible = "70 %"\nleakage = "5 %"\n'
    )
    assert driver(machine, "make_up_kg_s").max() == pytest.approx(0.0, abs=1e-12)
    assert driver(machine, "exhaust_share").min() == pytest.approx(1.0)


def test_an_economizer_and_exhaust_bring_the_same_sum():
    """Cool hours in which outdoor air holds the set point: what leaks in the economizer spares."""
    economizer = "\n[air.economizer]\nhigh_limit = '20 degC'\n"
    loads = '[loads.process]\nsensible = "3 kW"\n'
    one = solved(machine_of(air=economizer, more=loads))
    other = solved(machine_of(air=f'exhaust_flow = "160 L/s"{economizer}', more=loads))
    free = (
        (column(one, "compressor_runtime_frac") == 0.0)
        & (column(other, "compressor_runtime_frac") == 0.0)
        & (column(one, "outdoor_air_kg_s") > 200.0 * STANDARD)
        & (column(one, "outdoor_air_kg_s") < 490.0 * STANDARD)
    )
    assert free.sum() > 20
    total = column(other, "outdoor_air_kg_s") + column(other, "infiltration_kg_s")
    # Rooms that began the hour alike; a few come from an hour that only one of them met.
    same = free & (
        np.abs(np.roll(column(one, "room_temp_C") - column(other, "room_temp_C"), 1)) < 0.01
    )
    assert same.sum() > 20
    assert total[same] == pytest.approx(column(one, "outdoor_air_kg_s")[same], rel=0.02)


# --- Morning recovery ----------------------------------------------------------------------------


def test_morning_recovery_starts_fan_and_set_points_early():
    machine = machine_of(schedule='morning_recovery = "2 h"')
    monday = 24
    modes = driver(machine, "fan_mode")[monday : monday + 24]
    assert [h for h in range(24) if modes[h] == FAN_CONTINUOUS] == list(range(6, 18))
    assert modes[5] == FAN_OFF
    cooling = driver(machine, "cooling_setpoint_C")[monday : monday + 24]
    assert cooling[5] == 30.0
    assert cooling[6] == 24.0
    outdoor = driver(machine, "outdoor_air_kg_s")[monday : monday + 24]
    assert [h for h in range(24) if outdoor[h] > 0.0] == list(range(8, 18))
    # Nobody is in before eight.
    assert not machine.calendar.occupied[monday + 7]
    opened = machine_of(
        schedule='morning_recovery = "2 h"',
        air='outdoor_profile = "always"\noutdoor_in_morning_recovery = true',
    )
    shut = machine_of(schedule='morning_recovery = "2 h"', air='outdoor_profile = "always"')
    assert driver(opened, "outdoor_air_kg_s")[monday + 7] == pytest.approx(100.0 * STANDARD)
    assert driver(shut, "outdoor_air_kg_s")[monday + 7] == 0.0
    assert driver(shut, "outdoor_air_kg_s")[monday + 8] == pytest.approx(100.0 * STANDARD)


def test_morning_recovery_has_the_room_ready():
    """At the first occupied hour of a summer Monday the room has its set point only with it."""
    limit = '[humidity]\ncontrol = "relative humidity"\nlimit = "55 %"\n'
    late = solved(machine_of(more=limit))
    machine = machine_of(schedule='morning_recovery = "3 h"', more=limit)
    early = solved(machine)
    first = machine.calendar.occupied & ~np.roll(machine.calendar.occupied, 1)
    summer = (np.arange(8760) > 24 * 151) & (np.arange(8760) < 24 * 243)
    before = np.roll(first & summer, -1)
    assert column(early, "room_temp_C")[before].mean() < column(late, "room_temp_C")[before].mean()
    assert (
        column(early, "room_rh_frac")[before].mean() < column(late, "room_rh_frac")[before].mean()
    )
    assert column(early, "supply_fan_kWh").sum() > column(late, "supply_fan_kWh").sum()


def test_morning_recovery_of_the_first_day_reaches_back_over_the_new_year():
    machine = machine_of(schedule='sunday = "01:00-05:00"\nmorning_recovery = "2 h"')
    # 1 January 2023 was a Sunday: its second hour before one o'clock is the year's last.
    assert driver(machine, "fan_mode")[-1] == FAN_CONTINUOUS
    assert driver(machine, "fan_mode")[0] == FAN_CONTINUOUS


# --- Mistakes ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("parts", "says"),
    [
        ({"schedule": 'morning_recovery = "90 min"'}, "is not a whole number of hours up to 12"),
        ({"schedule": 'morning_recovery = "13 h"'}, "is not a whole number of hours up to 12"),
        ({"schedule": "morning_recovery = 2"}, "morning_recovery"),
        (
            {"room": 'infiltration = "1 ACH"\ninfiltration_per_area = "0.3 L/s/m2"'},
            "infiltration and infiltration_per_area are both given",
        ),
        ({"room": 'infiltration_per_area = "0.3 L/s/m2"'}, "infiltration_per_area has no area"),
        ({"room": 'infiltration_area = "30 m2"'}, "without infiltration_per_area"),
        ({"room": 'infiltration_profile = "nightly"'}, '"nightly" is not a profile'),
        ({"air": 'exhaust_profile = "always"'}, "exhaust_profile is given without exhaust_flow"),
        (
            {"air": 'exhaust_flow = "9 L/s"\nexhaust_profile = "nightly"'},
            '[air] exhaust_profile "nightly" is not a profile',
        ),
        (
            {"air": '[air.recovery]\nsensible = "70 %"\nexhaust_share = "50 %"'},
            "exhaust_share is given without [air] exhaust_flow",
        ),
    ],
)
def test_one_sentence(parts, says):
    filled = {"room": "", "schedule": "", "air": "", "more": ""} | parts
    with pytest.raises(InputError) as caught:
        case_from_text(ROOM.format(**filled))
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


def test_exhaust_beside_a_cycling_fan_is_told():
    with pytest.raises(InputError, match="exhaust_flow runs in hours whose fan cycles"):
        machine_of(air='fan = "cycling"\nexhaust_flow = "90 L/s"')


# --- A wrap-around loop with a recovery device ----------------------------------------------------

DRIED = '[humidity]\ncontrol = "relative humidity"\nlimit = "50 %"\n'
WHEEL = "recovery = { sensible = '70 %', latent = '60 %' }"
LOOP = (
    '[[reheat]]\nsource = "wrap-around"\neffectiveness = "40 %"\n[[reheat]]\nsource = "electric"\n'
)
PLAIN = '[[reheat]]\nsource = "electric"\n'


def july(air="", more=""):
    """The ledger of the second week of July, damp in Miami, with the fan on day and night."""
    machine = machine_of(
        "",
        'saturday = "always"\nsunday = "always"',
        air,
        DRIED + more,
    )
    week = replace(machine, drivers=machine.drivers[24 * 188 : 24 * 195])
    ledger = solved(week)
    return {name: column(ledger, name) for name in NAMES}


def test_wrap_around_with_a_recovery_device():
    plain, wheel = july(more=PLAIN), july(WHEEL, PLAIN)
    loop, both = july(more=LOOP), july(WHEEL, LOOP)
    for ledger in (plain, wheel, loop, both):
        assert np.abs(ledger["refrigerant_closure_W"]).max() < 0.01
        assert ledger["overcooling_heat_kWh"] == pytest.approx(
            ledger["reheat_recovered_kWh"]
            + ledger["reheat_purchased_kWh"]
            + ledger["reheat_unmet_kWh"],
            abs=1e-9,
        )
    # Air onto the unit by hand: the outdoor air of the device, 70 % and 60 % of the way to the
    # room's, in the room's own air; enthalpies of Fundamentals ch. 1.
    dries = (both["reheat_recovered_kWh"] > 0.0) & (both["outdoor_air_kg_s"] > 0.0)
    assert dries.sum() > 20
    share = 0.2  # 100 of 500 L/s
    w_in = 0.4 * both["outdoor_hum_ratio_kg_kg"] + 0.6 * both["room_hum_ratio_kg_kg"]
    w_mixed = share * w_in + (1.0 - share) * both["room_hum_ratio_kg_kg"]
    assert both["mixed_hum_ratio_kg_kg"][dries] == pytest.approx(w_mixed[dries], rel=1e-3)
    t_in = 0.3 * both["outdoor_temp_C"] + 0.7 * both["room_temp_C"]
    t_mixed = share * t_in + (1.0 - share) * both["room_temp_C"]
    assert both["mixed_temp_C"][dries] == pytest.approx(t_mixed[dries], abs=0.05)
    # The loop returns at most 40 % of what lies between the air onto it and off the coil
    # (methods of heat-pipe loops: T1 - eps (T1 - Tc)), in moist air of 1.02 kJ/(kg K).
    flow = 0.5 * 1.204 * 1.024
    most = 0.4 * flow * (both["mixed_temp_C"] - both["coil_leaving_temp_C"])
    assert (both["reheat_recovered_kWh"][dries] <= most[dries] * 1.01).all()
    # Each spares the coil, and both together spare it most.
    total = [sum(ledger["cooling_total_kWh"]) for ledger in (plain, loop, wheel, both)]
    assert total[3] < min(total[1:3])
    assert max(total[1:3]) < total[0]
    purchased = [sum(ledger["reheat_purchased_kWh"]) for ledger in (plain, loop, wheel, both)]
    assert purchased[3] < min(purchased[:3])


@pytest.mark.published
def test_wrap_around_loop_at_the_condition_of_its_rating(rig):
    """95 F onto the loop, 52 F off the coil, effectiveness 0.40: 17.2 F each way, so 77.8 F onto
    the coil and 69.2 F off the loop. By the definition of effectiveness, equal flows."""
    w = 0.008
    cp = 1006.0 + 1860.0 * w  # moist air of Fundamentals ch. 1, J/(kg K)
    across_the_coil = 2.0 * cp * (77.8 - 52.0) / 1.8
    machine = rig(flow_kg_s=2.0, unit=dry_unit(rig().unit, across_the_coil))
    unit, plant, *_ = machine.arguments(np.zeros((1, len(DRIVERS))))
    plant = plant._replace(arrangement=WRAP_AROUND, drying_effectiveness=0.40)
    air = AirIn((95.0 - 32.0) / 1.8, w, 101325.0, 35.0, 2.0, 7.0)
    given = 2.0 * cp * 17.2 / 1.8
    running, moved, would = run_with_coil(unit, plant, air, 45.0, given, 1e9, 10.0)
    assert moved == given
    assert running.temp_C * 1.8 + 32.0 == pytest.approx(52.0, abs=0.1)
    # What the loop draws in that state is what it was taken to draw.
    assert would == pytest.approx(given, rel=2e-3)
    assert 52.0 + would / (2.0 * cp) * 1.8 == pytest.approx(69.2, abs=0.1)


def dry_unit(unit, sensible_W):
    """The flat unit of the rig, dry, with another sensible capacity."""
    one = np.ones_like(unit.table_total_W)
    return unit._replace(table_total_W=sensible_W * one, table_sensible_W=sensible_W * one)
