"""Settings of the outdoor-air unit, week by week and by hand: resets, return air, room cooling."""

from dataclasses import replace
from functools import cache

import numpy as np
import psychrolib
import pytest
from former_premises import former_text

from dewledger.accounts.energy import column
from dewledger.assembly.machine import assemble
from dewledger.case import case_from_text
from dewledger.hourly.ledger import NAMES
from dewledger.study import read_weather, solve_option

# Day and night alike, all outdoor air.
CLINIC = (
    former_text("clinic")
    .replace('fan_unoccupied = "off"', 'fan_unoccupied = "continuous"')
    .replace('morning_recovery = "2 h"', 'morning_recovery = "0 h"')
)
# Weeks of the year by their first hour: July is damp in Miami, January has mild and dry days.
JULY, JANUARY = 24 * 188, 24 * 7
SUPPLY = 'supply_dew_point = "52 degF"'


@cache
def week(start, *changes):
    """Ledger of a week of the clinic with neutral air, its text changed by pairs."""
    text = CLINIC
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    case = case_from_text(text)
    machine = assemble(case.option_cases()[0], read_weather(case))
    hours = slice(start, start + 168)
    ledger = solve_option(replace(machine, drivers=machine.drivers[hours]))
    columns = {name: column(ledger, name) for name in NAMES}
    assert np.abs(columns["heat_closure_W"]).max() < 1e-3
    assert np.abs(columns["water_closure_kg_h"]).max() < 1e-9
    columns["pressure_Pa"] = read_weather(case).column("pressure_Pa")[hours]
    return columns


def celsius(fahrenheit):
    return (fahrenheit - 32.0) / 1.8


def saturated(dew_points_C, pressures_Pa):
    psychrolib.SetUnitSystem(psychrolib.SI)
    pairs = zip(dew_points_C, pressures_Pa, strict=True)
    return np.array([psychrolib.GetSatHumRatio(*pair) for pair in pairs])


def dew_points(hum_ratios, temps_C, pressures_Pa):
    psychrolib.SetUnitSystem(psychrolib.SI)
    rows = zip(temps_C, hum_ratios, pressures_Pa, strict=True)
    return np.array([psychrolib.GetTDewPointFromHumRatio(*row) for row in rows])


def met(found):
    """Hours in which the unit dries to its set point."""
    return (found["moisture_call_flag"] > 0.0) & (found["full_capacity_flag"] == 0.0)


@pytest.mark.parametrize("by", ["outdoor dew point", "outdoor temperature"])
@pytest.mark.parametrize("start", [JULY, JANUARY])
def test_reset_of_the_supply_dew_point(by, start):
    """58 F of dew point at and below 55 F outdoors, 52 F at and above 70 F, a line between."""
    found = week(
        start,
        (SUPPLY, f'{SUPPLY}\nsupply_dew_point_mild = "58 degF"\ndew_point_reset_by = "{by}"'),
    )
    outdoors = found["outdoor_temp_C"]
    if by == "outdoor dew point":
        outdoors = dew_points(found["outdoor_hum_ratio_kg_kg"], outdoors, found["pressure_Pa"])
    share = np.clip((outdoors - celsius(55.0)) / (15.0 / 1.8), 0.0, 1.0)
    asked = saturated(celsius(58.0 - 6.0 * share), found["pressure_Pa"])
    dried = met(found)
    assert dried.sum() > 20
    ratio = (found["supply_hum_ratio_kg_kg"] / asked)[dried]
    assert ratio.max() < 1.001
    assert np.median(ratio) == pytest.approx(1.0, abs=1e-3)
    # Damper than asked only where the unit is at its limit.
    rest = ~dried & (found["full_capacity_flag"] == 0.0)
    assert (found["supply_hum_ratio_kg_kg"][rest] <= asked[rest] * 1.001).all()


def test_reset_of_the_supply_temperature():
    """74 F at and below 50 F outdoors, 66 F at and above 75 F."""
    reset = 'supply_temperature = "66 degF"\nsupply_temperature_mild = "74 degF"'
    for start in (JULY, JANUARY):
        found = week(start, ('supply_temperature = "72 degF"', reset))
        share = np.clip((found["outdoor_temp_C"] - celsius(50.0)) / (25.0 / 1.8), 0.0, 1.0)
        asked = celsius(74.0 - 8.0 * share)
        assert found["supply_temp_C"] == pytest.approx(asked, abs=0.05)


def test_return_air_in_part():
    """Half outdoor air: onto the coil comes the mean of outdoors and room, as the hour began."""
    found = week(JULY, ('outdoor_flow = "900 cfm"', 'outdoor_flow = "450 cfm"'))
    for name, close in (("hum_ratio_kg_kg", 1e-8), ("temp_C", 0.05)):
        mean = 0.5 * (found[f"outdoor_{name}"][1:] + found[f"room_{name}"][:-1])
        assert found[f"mixed_{name}"][1:] == pytest.approx(mean, abs=close)
    whole = week(JULY)
    assert found["cooling_total_kWh"].sum() < whole["cooling_total_kWh"].sum()


def test_flow_follows_the_outdoor_air():
    """A variable flow is that of the outdoor air: 900 cfm of standard air by day, 60 % by night."""
    night = ('outdoor_profile = "always"', 'outdoor_profile = "night"')
    fan = 'fan = "continuous"'
    profile = ", ".join(["0.6"] * 8 + ["1"] * 10 + ["0.6"] * 6)
    found = week(
        JULY,
        night,
        ("[loads.people]", f"[profiles.night]\nweekday = [{profile}]\n[loads.people]"),
        (fan, f'{fan}\nflow_control = "variable"\nminimum_flow = "40 %"'),
    )  # fmt: skip
    full = 900.0 * 0.00047194745 * 1.204
    flows = found["supply_flow_kg_s"]
    assert set(np.round(flows / full, 6)) == {0.6, 1.0}
    assert flows == pytest.approx(found["outdoor_air_kg_s"])
    # Fan laws with 30 % of the pressure held: 0.6 x (0.3 + 0.7 x 0.36) of 550 W.
    fans = np.unique(np.round(found["supply_fan_kWh"], 6))
    assert fans == pytest.approx([0.55 * 0.6 * (0.3 + 0.7 * 0.36), 0.55])


def test_room_cooling_with_a_sensible_heat_ratio_of_its_own():
    """Coils that dry too take 1 / 0.8 of the sensible heat, and leave the room drier."""
    dry = week(JULY)
    ratio = ('room_sensible_heat_ratio = "100 %"', 'room_sensible_heat_ratio = "80 %"')
    wet = week(JULY, ratio)
    both = (dry["room_cooling_kWh"] > 0.1) & (wet["room_cooling_kWh"] > 0.1)
    assert both.sum() > 50
    # The supply air's heat moves a little with its moisture.
    assert wet["room_cooling_kWh"][both] / dry["room_cooling_kWh"][both] == pytest.approx(
        1.25, rel=0.02
    )
    assert wet["room_cooling_electricity_kWh"] == pytest.approx(wet["room_cooling_kWh"] / 3.2)
    assert wet["room_hum_ratio_kg_kg"].mean() < dry["room_hum_ratio_kg_kg"].mean()


def test_room_cooling_that_is_too_small_lets_the_room_warm_up():
    settings = 'room_sensible_heat_ratio = "80 %"\nroom_cooling_capacity = "2 kW"'
    found = week(JULY, ('room_sensible_heat_ratio = "100 %"', settings))
    assert found["room_cooling_kWh"].max() == pytest.approx(2.0)
    assert found["room_temp_C"].max() > celsius(75.0)


def test_drying_no_further_than_the_room_needs():
    """By room humidity: the room ends no hour above its limit but with the driest air there is, and
    less is dried and reheated."""
    found = week(
        JULY,
        (SUPPLY, f"{SUPPLY}\nby_room_humidity = true"),
        ("[humidity]", '[humidity]\ncontrol = "relative humidity"\nlimit = "55 %"'),
    )
    always = week(JULY)
    assert found["condensate_kg"].sum() < always["condensate_kg"].sum()
    assert found["overcooling_heat_kWh"].sum() < always["overcooling_heat_kWh"].sum()
    # Never drier than its dew point, and as dry as that where the room is above its limit.
    least = saturated(np.full(168, celsius(52.0)), found["pressure_Pa"])
    ratio = found["supply_hum_ratio_kg_kg"] / least
    assert (ratio[met(found)] > 0.99).all()
    above = found["room_rh_frac"] > 0.5501
    assert (ratio[above] < 1.001).all()
    held = met(found) & (ratio > 1.01)
    assert held.sum() > 50
    assert found["room_rh_frac"][held] == pytest.approx(0.55, abs=1e-3)


def test_humidifier_beside_the_unit():
    """Dry days: steam holds 40 % at the end of each hour, and nothing is added on damp ones."""
    steam = "[humidifier]\nlimit = '40 %'\n[humidity]"
    dry = week(JANUARY, ("[humidity]", steam))
    assert dry["humidifier_kg"].sum() > 5.0
    assert dry["room_rh_frac"].min() == pytest.approx(0.40, abs=1e-4)
    # Steam tables: 2675.6 kJ/kg over water at 0 C, less 41.86 of water at 10 C, at 95 %.
    per_kg = (2675.6 - 41.86) / 3600.0 / 0.95
    assert dry["humidifier_electricity_kWh"].sum() == pytest.approx(
        per_kg * dry["humidifier_kg"].sum(), rel=1e-3
    )
