"""Findings that protect people, each on a year drawn by hand.

Expected hours and figures are those put into the ledger, or worked next to the check.
"""

import numpy as np
import pytest
from former_premises import former_text

from dewledger.accounts.humidity_criteria import mold
from dewledger.analysis.protection import (
    COOLER_SURFACE_C,
    MOLD_LIMITS,
    gauge_psi,
    mold_sentence,
    protection,
)
from dewledger.assembly.machine import assemble
from dewledger.case import case_from_text
from dewledger.hourly.ledger import INDEX, empty_ledger
from dewledger.weather.files.readers import read
from dewledger.weather.physics.moist_air import saturation_hum_ratio

CASE = """
format = 2
title = "Hall"
[site]
weather = "greensboro"
[room]
floor_area = "1000 ft2"
height = "10 ft"
conductance = "300 Btu/h/degF"
cooling_setpoint = "75 degF"
heating_setpoint = "70 degF"
[schedule]
weekday = "08:00-18:00"
[loads.people]
count = 20
activity = "seated, very light work"
[air]
supply_flow = "2000 cfm"
outdoor_flow = "300 cfm"
fan = "continuous"
fan_power = "700 W"
[unit]
total_capacity = "5 ton"
sensible_heat_ratio = "74 %"
efficiency = "11.2 EER"
[options.one]
title = "One"
"""
CFM = 0.3048**3 / 60.0  # m3/s
DENSITY = 1.204  # standard air, 0.075 lb/ft3


@pytest.fixture(scope="module")
def year():
    return read("greensboro")


@pytest.fixture
def found(year):
    """Findings by key, of a case whose ledger is zero but for the columns given; outdoor air comes
    as the case states it unless it is given."""

    def of(*changes, text=CASE, worth=None, cost=None, **columns):
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new, 1)
        option = case_from_text(text).option_cases()[0]
        machine = assemble(option, year)
        ledger = empty_ledger(8760)
        ledger[:] = 0.0
        ledger[INDEX["condensing_temp_C"]] = np.nan
        ledger[INDEX["outdoor_air_kg_s"]] = 300.0 * CFM * DENSITY
        for name, values in columns.items():
            ledger[INDEX[name]] = values
        return {one.key: one for one in protection(option, machine, ledger, "I-P", worth, cost)}

    return of


def first(hours, value, rest=0.0):
    """A column of one value in the first hours and another after."""
    values = np.full(8760, rest)
    values[:hours] = value
    return values


def test_a_plain_case_has_none(found):
    assert found() == {}


def test_exhaust_above_outdoor_air(found):
    """900 cfm out and 300 cfm in while occupied: 600 cfm through the envelope."""
    reported = found(
        ('outdoor_flow = "300 cfm"', 'outdoor_flow = "300 cfm"\nexhaust_flow = "900 cfm"')
    )["exhaust above outdoor air"]
    assert reported.figure == pytest.approx(600.0 * CFM, rel=1e-3)
    assert "up to 600 cfm more" in reported.sentence
    assert "negative pressure" in reported.sentence
    # ten hours of every weekday but the holidays named (none)
    assert reported.hours == pytest.approx(261 * 10, abs=20)
    even = ('outdoor_flow = "300 cfm"', 'outdoor_flow = "300 cfm"\nexhaust_flow = "300 cfm"')
    assert "exhaust above outdoor air" not in found(even)


def test_no_outdoor_air_with_people_in(found):
    reported = found(('outdoor_flow = "300 cfm"\n', ""), outdoor_air_kg_s=0.0)["no outdoor air"]
    assert "20 people are in" in reported.sentence
    assert reported.hours == pytest.approx(261 * 10, abs=20)


def test_outdoor_air_below_the_stated_rate_and_shut(found):
    """20 people at 10 cfm and 1,000 ft2 at 0.06 cfm/ft2 are 260 cfm; 200 cfm are 60 short."""
    rates = (
        'outdoor_flow = "300 cfm"',
        'outdoor_per_person = "10 cfm/person"\noutdoor_per_area = "0.06 cfm/ft2"',
    )
    low = found(rates, outdoor_air_kg_s=200.0 * CFM * DENSITY)["outdoor air low"]
    assert "that the case states" in low.sentence
    assert "by up to 60.0 cfm" in low.sentence
    assert "outdoor air low" not in found(rates, outdoor_air_kg_s=260.0 * CFM * DENSITY)
    shut = found(rates, outdoor_air_kg_s=first(4380, 0.0, 260.0 * CFM * DENSITY))
    assert set(shut) == {"outdoor air shut"}
    assert 0 < shut["outdoor air shut"].hours < 4380


def test_a_stated_flow_below_the_lowest_rates(found):
    """20 x 5 + 1,000 x 0.06 = 160 cfm, the lowest of ASHRAE 62.1; 100 cfm are 60 short."""
    reported = found(outdoor_air_kg_s=100.0 * CFM * DENSITY)["outdoor air low"]
    assert "lowest rates of ASHRAE 62.1 (not checked against the text)" in reported.sentence
    assert "60.0 cfm" in reported.sentence


def test_head_pressure_near_its_ceiling(found):
    """Within 5 F of 140 F for 12 h. R-410A at 120 F dew point: 418.3 psig (CoolProp 8.0.0)."""
    assert gauge_psi("R-410A", (120.0 - 32.0) / 1.8) == pytest.approx(418.31, rel=0.01)
    hot = (136.0 - 32.0) / 1.8
    reported = found(condensing_temp_C=first(12, hot, 40.0))["head pressure"]
    assert reported.hours == 12
    assert reported.unit == "psig"
    assert f"{reported.figure:,.0f} psig of R-410A" in reported.sentence
    assert reported.figure > 500.0
    assert "head pressure" not in found(condensing_temp_C=first(12, (134.0 - 32.0) / 1.8, 40.0))


def test_a_recovery_penalty_above_what_the_heat_is_worth(found):
    year = {"reheat_recovered_kWh": first(100, 1.0), "recovery_penalty_kWh": first(100, 0.3)}
    # 100 kWh of heat worth 1 USD as gas against 30 kWh of electricity at 3 USD
    reported = found(worth=1.0, cost=3.0, **year)["recovery penalty"]
    assert reported.figure == pytest.approx(30.0)
    assert "costs more than" in reported.sentence
    assert "recovery penalty" not in found(worth=10.0, cost=3.0, **year)
    # without prices by energy alone
    assert "recovery penalty" not in found(**year)
    assert "recovery penalty" in found(reheat_recovered_kWh=0.1, recovery_penalty_kWh=0.2)


def test_a_coil_that_may_freeze(found):
    frost = found(surface_floor_flag=first(30, 1.0))["coil freezing"]
    assert (frost.hours, "frost limit in 30 h" in frost.sentence) == (30, True)
    # 1,000 cfm at all of 5 tons (gross some 5.2): about 190 cfm a ton
    variable = (
        'fan = "continuous"',
        'fan = "continuous"\nflow_control = "variable"\nminimum_flow = "50 %"',
    )
    low = found(
        variable,
        compressor_runtime_frac=first(7, 1.0),
        capacity_frac=1.0,
        supply_flow_kg_s=1000.0 * CFM * DENSITY,
    )["coil freezing"]
    assert low.hours == 7
    assert "300 cfm is the least" in low.sentence
    half = found(
        variable,
        compressor_runtime_frac=first(7, 1.0),
        capacity_frac=0.5,
        supply_flow_kg_s=1000.0 * CFM * DENSITY,
    )
    assert "coil freezing" not in half


@pytest.mark.parametrize(
    ("refrigerant", "flammable"), [("R-32", True), ("R-454B", True), ("R-410A", False)]
)
def test_flammable_refrigerants(found, refrigerant, flammable):
    # R-32 and R-454B A2L, R-410A A1: ANSI/ASHRAE 34, read second-hand.
    reported = found(("[unit]\n", f'[unit]\nrefrigerant = "{refrigerant}"\n'))
    assert ("flammable refrigerant" in reported) == flammable
    if flammable:
        assert "A2L" in reported["flammable refrigerant"].sentence


def test_water_hygiene_of_a_spray(found):
    humidity = '[humidity]\ncontrol = "relative humidity"\nlimit = "60 %"\n'
    spray = '[humidifier]\nsource = "adiabatic"\nlimit = "40 %"\n[options.one]'
    reported = found(("[options.one]", humidity + spray), humidifier_kg=first(50, 1.0))
    assert reported["water hygiene"].hours == 50
    assert "Legionella" in reported["water hygiene"].sentence
    steam = spray.replace("adiabatic", "electric steam")
    assert "water hygiene" not in found(("[options.one]", humidity + steam), humidifier_kg=1.0)


def test_rooms_that_need_more_than_humidity(found):
    for table in (
        '[humidity]\ncriteria = ["operating-room"]\n',
        '[humidity]\ncriteria = ["sterile-compounding"]\n',
        '[allowance]\nedition = "2019"\nprocess_humidity = "surgery"\n'
        'process_space = "surgical suite"\n',
    ):
        reported = found(("[options.one]", f"{table}[options.one]"))
        assert "filtration" in reported["pressure, air changes, filtration"].sentence
        assert (
            "none of these is judged here" in reported["pressure, air changes, filtration"].sentence
        )


CLINIC = former_text("clinic")


def test_coolers_said_to_be_dry(found):
    """Rooms at a 60 F dew point for 90 h of cooling: above the 55 F of usual cooler surfaces."""
    wet = saturation_hum_ratio((60.0 - 32.0) / 1.8, 101325.0)
    dry = saturation_hum_ratio((54.0 - 32.0) / 1.8, 101325.0)
    columns = {"room_cooling_kWh": 1.0, "room_hum_ratio_kg_kg": first(90, wet, dry)}
    reported = found(text=CLINIC, outdoor_air_kg_s=1.0, **columns)["wet coolers"]
    assert reported.hours == 90
    assert reported.figure == pytest.approx((60.0 - 32.0) / 1.8, abs=0.01)
    assert pytest.approx(12.78, abs=0.01) == COOLER_SURFACE_C
    assert "they will drip" in reported.sentence
    said = ('room_sensible_heat_ratio = "100 %"', 'room_sensible_heat_ratio = "80 %"')
    assert "wet coolers" not in found(said, text=CLINIC, **columns)


def test_leaving_air_near_the_limit(found):
    """53 % RH at 72 F is a dew point of 53.9 F (ASHRAE psychrometric chart no. 1, about 54 F): air
    off the coil at 55 F dries nothing, at 50 F it does."""
    text = CASE.replace('cooling_setpoint = "75 degF"', 'cooling_setpoint = "72 degF"')
    text = text.replace('heating_setpoint = "70 degF"', 'heating_setpoint = "66 degF"')
    limit = '[humidity]\ncontrol = "relative humidity"\nlimit = "53 %"\n[options.one]'
    text = text.replace("[options.one]", limit)
    control = 'capacity_control = "variable"\ndrying_leaving_temperature = '
    from dewledger.case.unit import Unit

    if "drying_control" in Unit.model_fields:
        control = 'drying_control = "leaving air"\n' + control
    warm = found(("[unit]\n", f'[unit]\n{control}"55 degF"\n'), text=text)["leaving air"]
    assert warm.figure == pytest.approx(1.1 / 1.8, abs=0.15)
    assert "54 °F" in warm.sentence
    cold = found(("[unit]\n", f'[unit]\n{control}"50 degF"\n'), text=text)
    assert "leaving air" not in cold
    assert "leaving air" not in found(text=text)


def test_heating_of_a_stated_size_that_binds(found):
    """10 kW given in full for 40 h, with the room at 60 F, 10 F below its set point."""
    size = ("[unit]\n", '[heating]\nsource = "gas"\ncapacity = "10 kW"\n[unit]\n')
    year = {
        "heating_kWh": first(60, 10.0),
        "room_temp_C": first(40, (60.0 - 32.0) / 1.8, 22.0),
    }
    reported = found(size, **year)["heating size"]
    assert reported.hours == 40
    assert "60 °F" in reported.sentence
    assert "heating size" not in found(**year)


def test_the_mold_screen_is_never_an_all_clear():
    """A surface far below 80 % RH passes the criterion, and the sentence clears nothing."""
    month = np.repeat(np.arange(1, 13), 730)
    dry = mold(20.0, np.full(8760, 20.0), np.full(8760, 0.004), np.full(8760, 101325.0), month)
    assert dry.met
    reported = mold_sentence(dry)
    assert "below 80 %" in reported
    for word in ("safe", "no mold", "clear", "free of"):
        assert word not in reported
    for part in ("no all-clear", "hidden cavities", "ducts", "leaks"):
        assert part in MOLD_LIMITS
    wet = mold(10.0, np.full(8760, 20.0), np.full(8760, 0.0075), np.full(8760, 101325.0), month)
    assert "mold is to be expected" in mold_sentence(wet)
