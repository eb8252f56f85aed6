"""The outdoor-air unit with room cooling, by hand; and the bundled cases of air systems."""

import io
from dataclasses import replace
from functools import cache

import numpy as np
import psychrolib
import pytest
from former_premises import former_case, former_text
from rich.console import Console

from dewledger.accounts.energy import column
from dewledger.assembly.machine import assemble
from dewledger.case import case_from_text
from dewledger.hourly.types import RELATIVE_HUMIDITY
from dewledger.reports.terminal.study import comparison
from dewledger.reports.words.metrics import METRICS
from dewledger.study import run_study
from dewledger.weather.errors import InputError

CLINIC = former_text("clinic")


@cache
def studied(kind):
    return run_study(former_case(kind))


@pytest.fixture(scope="module")
def clinic():
    return studied("clinic")


def ledger_of(study, key):
    return next(option for option in study.options if option.key == key).ledger


def annual_of(study, key):
    return next(option for option in study.options if option.key == key).annual


def test_supply_reaches_its_set_points(clinic):
    ledger = ledger_of(clinic, "neutral-electric")
    calls = (column(ledger, "moisture_call_flag") > 0.0) & (
        column(ledger, "full_capacity_flag") == 0
    )
    assert calls.sum() > 1500
    # 72 F, and the humidity ratio of a 52 F dew point at the pressure of the hour.
    assert column(ledger, "supply_temp_C")[calls] == pytest.approx((72 - 32) / 1.8, abs=0.05)
    psychrolib.SetUnitSystem(psychrolib.SI)
    pressures = clinic.weather.frame["pressure_Pa"].to_numpy()[calls]
    saturated = [psychrolib.GetSatHumRatio((52 - 32) / 1.8, pressure) for pressure in pressures]
    supplied = column(ledger, "supply_hum_ratio_kg_kg")[calls]
    # Never damper; up to 1 % drier in the few hours whose coil line would pass through fog.
    ratio = supplied / np.array(saturated)
    assert ratio.max() < 1.0001
    assert ratio.min() > 0.99
    assert (ratio < 0.9999).mean() < 0.01


def test_neutral_air_is_paid_twice(clinic):
    """Electricity of room cooling that takes reheat out again: the less of the two over COP."""
    ledger = ledger_of(clinic, "neutral-electric")
    reheat = column(ledger, "reheat_purchased_kWh")
    room = column(ledger, "room_cooling_kWh")
    paid = column(ledger, "neutral_air_electricity_kWh")
    assert paid == pytest.approx(np.minimum(reheat, room) / 3.2, abs=1e-9)
    assert column(ledger, "room_cooling_electricity_kWh") == pytest.approx(room / 3.2)
    assert paid.sum() > 1000.0
    # Air as cool as the rooms need takes less reheat and less room cooling.
    need = annual_of(clinic, "by-need")
    neutral = annual_of(clinic, "neutral-condenser")
    assert need["overcooling_heat_kWh"] < neutral["overcooling_heat_kWh"]
    assert need["room_cooling_kWh"] < neutral["room_cooling_kWh"]
    assert need["electricity_kWh"] < neutral["electricity_kWh"]


def test_neutral_cool_and_cold_air_on_one_year(clinic):
    """The colder the supply air, the less is reheated and recooled (trade fact: common
    practice, no source). Each step is the heat of the flow over the kelvins between."""
    neutral, cool, cold = (annual_of(clinic, key) for key in ("neutral-condenser", "cool", "cold"))
    for one, other, steps in ((neutral, cool, 10.0), (cool, cold, 7.0)):
        for key in ("overcooling_heat_kWh", "room_cooling_kWh", "neutral_air_electricity_kWh"):
            assert other[key] < one[key]
        assert other["electricity_kWh"] < one["electricity_kWh"]
        # 900 scfm at 1.1 Btu/(h cfm F), at most in all hours that the fan runs
        hours = 8760 - one["system_off_flag"]
        most = 900.0 * 1.1 * steps * hours / 3412.0
        assert one["overcooling_heat_kWh"] - other["overcooling_heat_kWh"] < most
    # What the room's own cooling purchases beyond that of cold air is nearly all for neutral air.
    more = neutral["room_cooling_electricity_kWh"] - cold["room_cooling_electricity_kWh"]
    paid = neutral["neutral_air_electricity_kWh"] - cold["neutral_air_electricity_kWh"]
    assert 0.7 * paid < more < 1.3 * paid


def test_the_clinic_is_dry_where_people_are(clinic):
    """A bundled case shows good practice: its unit is large enough and its people sit dry."""
    for option in clinic.options:
        assert option.annual["full_capacity_flag"] < 30
        assert option.annual["hours_above_range_occupied"] < 100


def test_recovery_spares_the_coil(clinic):
    assert (
        annual_of(clinic, "recovery")["cooling_total_kWh"]
        < 0.8 * annual_of(clinic, "neutral-condenser")["cooling_total_kWh"]
    )


@pytest.mark.parametrize("kind", ["clinic", "museum-store"])
def test_lines_of_the_comparison_add_up(kind):
    """Every use of electricity and gas stands in the comparison, room cooling, recovery device and
    humidifier too."""
    for option in studied(kind).options:
        for total in ("electricity", "gas"):
            parts = [m.key for m in METRICS if m.part and m.kind == total]
            purchased = sum(option.annual[part] for part in parts)
            assert option.annual[f"{total}_kWh"] == pytest.approx(purchased)


def test_the_terminal_shows_what_is_purchased_beside_the_unit():
    said = io.StringIO()
    for kind in ("clinic", "museum-store"):
        comparison(studied(kind), Console(file=said, width=100))
    for head in ("Separate room unit", "reheated supply air", "recovery", "umidifier"):
        assert head in said.getvalue()
    neutral = annual_of(studied("clinic"), "neutral-electric")["neutral_air_electricity_kWh"]
    steam = annual_of(studied("museum-store"), "electric")["humidifier_electricity_kWh"]
    for value in (neutral, steam):
        assert f"{float(f'{value:.3g}'):,.0f}" in said.getvalue().split()
    assert all(len(line) <= 100 for line in said.getvalue().splitlines())


def test_no_window_no_sun(clinic):
    """An envelope without windows has no solar gain, whatever the sky."""
    text = CLINIC.replace('conductance = "500 Btu/h/degF"', "").replace(
        "[schedule]", '[envelope]\nopaque_conductance = "500 Btu/h/degF"\n[schedule]', 1
    )
    case = case_from_text(text)
    sunless = dict.fromkeys(("ghi_Wm2", "dni_Wm2", "dhi_Wm2"), np.zeros(8760))
    dark = {**clinic.weather.arrays, **sunless}
    night = replace(clinic.weather, arrays=dark)
    one, other = (assemble(case.option_cases()[0], year) for year in (clinic.weather, night))
    assert np.array_equal(one.drivers, other.drivers, equal_nan=True)


@pytest.mark.parametrize("kind", ["clinic", "classroom", "packaging", "museum-store"])
def test_case_runs_and_closes(kind):
    study = studied(kind)
    for option in study.options:
        annual = option.annual
        assert annual["heat_closure_max_W"] < 0.01
        assert annual["water_closure_max_kg_h"] < 1e-6
        assert annual["refrigerant_closure_max_W"] < 0.01
        assert annual["overcooling_heat_kWh"] == pytest.approx(
            annual["reheat_recovered_kWh"]
            + annual["reheat_purchased_kWh"]
            + annual["reheat_unmet_kWh"]
        )


def test_classroom_grows_damp_in_its_summer_closure_unless_dried():
    study = studied("classroom")
    assert annual_of(study, "none")["hours_above_range"] > 500
    assert annual_of(study, "condenser")["hours_above_range"] < 100
    assert (
        annual_of(study, "demand")["outdoor_moisture_kg"]
        <= annual_of(study, "condenser")["outdoor_moisture_kg"]
    )
    rh = column(ledger_of(study, "none"), "room_rh_frac")
    damp = rh > 0.62
    closed = np.zeros(damp.size, dtype=bool)
    closed[24 * 165 : 24 * 225] = True
    assert damp[closed].mean() > 2.0 * damp[~closed].mean()


def test_museum_store_keeps_both_limits():
    study = studied("museum-store")
    for option in study.options:
        assert option.machine.control.humidity_control == RELATIVE_HUMIDITY
        assert option.annual["hours_below_range"] < 20
        assert option.annual["humidifier_kg"] > 500.0
    steam, spray = annual_of(study, "condenser"), annual_of(study, "adiabatic")
    assert spray["humidifier_electricity_kWh"] < 0.05 * steam["humidifier_electricity_kWh"]
    assert spray["heating_kWh"] > steam["heating_kWh"]
    loop = annual_of(study, "wrap-around")
    assert loop["overcooling_heat_kWh"] < annual_of(study, "electric")["overcooling_heat_kWh"]


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        (
            '"72 degF"\nroom',
            '"50 degF"\nroom',
            'temperature "50 degF" is below supply_dew_p',
        ),
        (
            '"72 degF"\nroom',
            '"72 degF"\nby_room_need = true\nleast_temperature = "75 degF"\nroom',
            'least_temperature "75 degF" is above supply_temperature "72 degF"',
        ),
        (
            '"72 degF"\nroom',
            '"72 degF"\nsupply_temperature_mild = "74 degF"\nreset_to = "40 degF"\nroom',
            "is not below reset_to",
        ),
        ('"72 degF"\nroom', '"72 degF"\nreset_to = "40 degF"\nroom', "resets nothing without"),
        (
            '"72 degF"\nroom',
            '"72 degF"\ndew_point_reset_to = "70 degF"\nroom',
            "dew_point_reset_to resets nothing without supply_dew_point_mild",
        ),
        (
            '"72 degF"\nroom',
            '"72 degF"\nsupply_dew_point_mild = "50 degF"\nroom',
            'supply_dew_point_mild "50 degF" is below supply_dew_point "52 degF"',
        ),
        (
            '"72 degF"\nroom',
            '"72 degF"\nsupply_dew_point_mild = "56 degF"\ndew_point_reset_from = "80 degF"\nroom',
            "is not below dew_point_reset_to",
        ),
        (
            '"72 degF"\nroom',
            '"72 degF"\nleast_temperature = "60 degF"\nroom',
            "least_temperature belongs to by_room_need",
        ),
        ('"72 degF"\nroom', '"72 degF"\nby_room_humidity = true\nroom', "needs a limit to follow"),
        ('fan_unoccupied = "off"', 'fan_unoccupied = "cycling"', "needs a continuous fan"),
        (
            "[humidity]",
            '[humidity]\ncontrol = "dew point"\nlimit = "55 degF"',
            "with [outdoor",
        ),
        ("[humidity]", "[air.economizer]\n[humidity]", "[air.economizer] cannot be used with"),
        (
            'fan = "continuous"',
            'fan = "continuous"\nflow_control = "two-speed"',
            'flow_control = "two-speed" cannot be used with [outdoor_air_unit]',
        ),
        (
            'fan = "continuous"',
            'fan = "continuous"\nflow_control = "variable"\nleaving_temperature = "52 degF"',
            "leaving_temperature has no effect with [outdoor_air_unit]",
        ),
    ],
)
def test_one_sentence(old, new, says):
    assert old in CLINIC
    with pytest.raises(InputError) as caught:
        case_from_text(CLINIC.replace(old, new, 1))
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)
