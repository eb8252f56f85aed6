"""What the code's rules read of a case and its year, on ledgers drawn by hand."""

from dataclasses import replace

import numpy as np
import pytest
from former_premises import former_text

from dewledger.assembly.machine import assemble
from dewledger.case import case_from_text
from dewledger.codes.determination import Allowance, determine, recovered_share_threshold
from dewledger.codes.facts_of_year import reheat_facts
from dewledger.hourly.ledger import INDEX, empty_ledger
from dewledger.weather.files.readers import read

DEMO = former_text("music-school")
LATEST = Allowance(edition="2022")
YEAR_KWH = {
    "reheat_recovered_kWh": 0.0,
    "reheat_purchased_kWh": 1000.0,
    "reheat_unmet_kWh": 0.0,
}


@pytest.fixture(scope="module")
def year():
    return read("greensboro")


@pytest.fixture
def facts(year):
    """Facts of a case's option on a ledger that is zero but for the columns given."""

    def of(text, *changes, key=None, allowance=LATEST, annual=None, **columns):
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new)
        options = case_from_text(text).option_cases()
        option = next(one for one in options if key in (None, one.key))
        machine = assemble(option, year)
        ledger = empty_ledger(8760)
        ledger[:] = 0.0
        for name, values in columns.items():
            ledger[INDEX[name]] = values
        figures = annual or YEAR_KWH
        return reheat_facts(option, machine, ledger, figures, (machine, ledger), allowance)

    return of


def exception(found, item, **statements):
    answer = determine(Allowance(edition=statements.pop("edition", "2022"), **statements), found)
    return next(one for one in answer.exceptions if one.item == item)


def condition(found, item, **statements):
    answer = determine(Allowance(edition="2022", **statements), found)
    return next(one for one in answer.conditions if one.item == item)


VARIABLE = (
    'fan = "continuous"',
    'fan = "continuous"\nflow_control = "variable"\nminimum_flow = "45 %"\n',
)


def test_a_constant_flow_is_never_cut(facts):
    found = facts(DEMO)
    assert found.minimum_flow_frac == 1.0
    assert exception(found, "1").verdict == "not met"


def test_a_variable_flow_that_goes_down_first_meets_the_exception(facts):
    found = facts(DEMO, VARIABLE)
    assert found.minimum_flow_frac == pytest.approx(0.45)
    # The demo's outdoor air is 840 of 4000 cfm: 50 % is the larger.
    for edition in ("2004", "2010", "2022"):
        assert exception(found, "1", edition=edition).verdict == "met"


def test_hours_that_reheat_at_more_than_the_cut_flow_are_told(facts):
    """Of 100 h with reheat nine run at full flow and one at 48 %, within the 50 % all the same."""
    flow = np.full(8760, 0.45)
    flow[:9], flow[9] = 1.0, 0.48
    reheat = np.zeros(8760)
    reheat[:100] = 1.0
    design = 4000.0 * 0.3048**3 / 60.0 * 1.204  # kg/s of 4000 cfm
    found = facts(DEMO, VARIABLE, supply_flow_kg_s=design * flow, reheat_purchased_kWh=reheat)
    assert len(found.reheat_flows_above) == 10
    early, late = exception(found, "1", edition="2013"), exception(found, "1")
    assert (early.verdict, late.verdict) == ("met", "cannot be determined")
    for finding in (early, late):
        assert "In 9 h of the year reheat runs with more." in finding.evidence
    assert "cuts it in those hours too" in late.missing[0]
    assert exception(found, "1", supply_flow_reduced_first=True).verdict == "met"


def test_a_variable_flow_that_stays_up_is_capable_and_not_configured(facts):
    stays = (VARIABLE[0], VARIABLE[1] + "flow_before_reheat = false\n")
    found = facts(DEMO, stays)
    assert exception(found, "1", edition="2010").verdict == "met"
    late = exception(found, "1")
    assert late.verdict == "not met"
    assert "of the case does not cut supply air before reheat" in late.evidence
    assert late.change_size == 0.0
    # What the case knows goes before what is stated.
    assert exception(found, "1", supply_flow_reduced_first=True).verdict == "not met"


def test_a_speed_above_half_is_not_enough(facts):
    found = facts(DEMO, (VARIABLE[0], VARIABLE[1].replace("45", "60")))
    assert exception(found, "1").evidence == (
        "Supply air is 60 % of design flow when reheat starts: 10 percentage points above 50 %."
    )


def test_outdoor_air_by_people_and_area_counts(facts):
    """26 people at 10 cfm and 1000 ft2 at 0.12 cfm/ft2 are 380 of 1400 cfm."""
    found = facts(former_text("classroom"), key="two-speed")
    assert found.outdoor_flow_frac == pytest.approx(380.0 / 1400.0, rel=1e-6)
    assert found.minimum_flow_frac == pytest.approx(0.60)


def test_an_outdoor_air_unit_has_nothing_to_cut_but_its_rate_is_to_be_shown(facts):
    found = facts(former_text("clinic"))
    assert found.outdoor_air_unit
    for edition in ("2010", "2022"):
        finding = exception(found, "1", edition=edition)
        assert finding.verdict == "cannot be determined"
        assert "no more than the ventilation rate required" in finding.evidence
        assert "control sequence" not in finding.evidence
    stated = Allowance(edition="2022", outdoor_air_at_code_rate=True)
    at_rate = facts(former_text("clinic"), allowance=stated)
    assert exception(at_rate, "1").verdict == "met"


def test_a_humidifier_is_held_against_30_percent(facts):
    """The museum store humidifies to 45 % and dries from 50 %: a deadband of 5 % (90.1 6.4.3.6
    asks for 10 %, not checked against the text)."""
    found = facts(former_text("museum-store"))
    assert found.humidifying_rh == pytest.approx(0.45)
    assert found.humidity_deadband == pytest.approx(0.05)
    plain = condition(found, "humidifying")
    assert plain.verdict == "not met"
    assert "45 % RH: 15 percentage points above 30 %" in plain.evidence
    stated = {"process_humidity": "the lender's terms", "process_space": "museum"}
    for item in ("drying", "humidifying"):
        narrow = condition(found, item, **stated)
        assert narrow.verdict == "not met"
        assert "deadband is 5 % RH: less than 10 %" in narrow.evidence
        assert condition(found, item, tight_humidity=True, **stated).verdict == "met"
    # The deadband of the case goes before the one stated.
    assert condition(found, "drying", humidity_deadband=0.2, **stated).verdict == "not met"


def test_a_dew_point_is_the_rh_it_means(facts):
    """Saturation pressures at 55, 72, 40 and 68 F: 0.2141, 0.3886, 0.1217, 0.3391 psia (ASHRAE
    Fundamentals, thermodynamic properties of water; not checked against the text)."""
    found = facts(
        DEMO,
        (
            'control = "relative humidity"\nlimit = "53 %"',
            'control = "dew point"\nlimit = "55 degF"',
        ),
        ("[options.electric]\n", '[options.electric]\nhumidifier = { limit = "40 degF" }\n'),
        key="electric",
    )
    assert found.humidity_limit_rh == pytest.approx(0.2141 / 0.3886, abs=0.002)
    assert found.humidifying_rh == pytest.approx(0.1217 / 0.3391, abs=0.002)


def test_drying_to_a_supply_dew_point_is_judged_by_the_years_hours(facts):
    """2,000 h of drying, 300 of them with the room at 55 %, the rest at 62 %."""
    call = np.zeros(8760)
    call[:2000] = 1.0
    rh = np.full(8760, 0.40)
    rh[:2000] = 0.62
    rh[:300] = 0.55
    clinic = former_text("clinic")
    found = facts(clinic, moisture_call_flag=call, room_rh_frac=rh)
    assert found.humidity_limit_rh is None
    low = condition(found, "drying")
    assert low.verdict == "not met"
    assert "in 2,000 h" in low.evidence
    assert "below 60 % RH in 300 of them" in low.evidence
    assert (low.figure, low.threshold, low.margin, low.unit) == (300.0, 0.0, -300.0, "h")
    shown = condition(found, "drying", process_humidity="a sterile store")
    assert shown.verdict == "met"
    assert "a sterile store" in shown.evidence
    rh[:300] = 0.60
    kept = condition(facts(clinic, moisture_call_flag=call, room_rh_frac=rh), "drying")
    assert kept.verdict == "met"


def test_an_outdoor_air_unit_that_follows_the_room_is_held_to_its_limit(facts):
    found = facts(
        former_text("clinic"),
        ("[outdoor_air_unit]\n", "[outdoor_air_unit]\nby_room_humidity = true\n"),
        ("[humidity]\n", '[humidity]\ncontrol = "relative humidity"\nlimit = "60 %"\n'),
    )
    assert found.dried_hours is None
    assert condition(found, "drying").verdict == "met"


def test_supply_temperatures_of_an_outdoor_air_unit_are_its_set_points(facts):
    """WAC 51-11C-40341, exception 3 (read): a unit run on its supply temperature by that exception
    heats to at most 65 F and cools to no less than 72 F, unless reset. The clinic's 72 F is the one
    and not the other."""
    clinic = former_text("clinic")
    washington = Allowance(code="Washington", zone_control_exception=True)

    def verdicts(*changes, stated=washington):
        found = facts(clinic, *changes, allowance=stated, supply_temp_C=np.nan)
        answer = determine(stated, found)
        return {one.item: one.verdict for one in answer.conditions if "supply" in one.item}

    assert verdicts() == {"heating supply": "not met", "cooling supply": "met"}
    colder = ('supply_temperature = "72 degF"', 'supply_temperature = "65 degF"')
    assert verdicts(colder) == {"heating supply": "met", "cooling supply": "not met"}
    reset = ("[outdoor_air_unit]\n", '[outdoor_air_unit]\nsupply_temperature_mild = "75 degF"\n')
    assert set(verdicts(reset).values()) == {"does not apply"}
    zoned = Allowance(code="Washington", zone_control_exception=False)
    assert set(verdicts(stated=zoned).values()) == {"does not apply"}
    # Kept whether or not the exception is claimed; broken only where it is.
    silent = verdicts(stated=Allowance(code="Washington"))
    assert silent == {"heating supply": "cannot be determined", "cooling supply": "met"}
    assert facts(DEMO, allowance=washington).supply_reset is None


def test_supply_temperatures_of_other_units_are_the_years(facts):
    supply = np.full(8760, np.nan)
    supply[:4] = 35.0, 30.0, 13.0, 12.0
    heat = np.zeros(8760)
    heat[[0, 1, 100]] = 5.0  # in hour 100 the fan does not run
    cool = np.zeros(8760)
    cool[2:4] = 5.0

    def found_with(text):
        return facts(
            text, supply_temp_C=supply, heating_kWh=heat, cooling_total_kWh=cool, target_temp_C=20.0
        )

    found = found_with(DEMO)
    assert (found.heating_supply_C, found.cooling_supply_C) == (35.0, 12.0)
    # New Year's night: warm-up before occupancy is free of the limit on heating supply air.
    assert found.heating_supply_rise_K == 0.0
    always = DEMO.replace('sunday = "13:00-18:00"', 'sunday = "always"')
    always = always.replace('closures = ["12-23 to 01-02"]\n', "")
    assert found_with(always).heating_supply_rise_K == 15.0
    idle = facts(DEMO)
    assert (idle.heating_supply_C, idle.cooling_supply_C) == (None, None)


def test_iecc_waiver_of_variable_flow_is_no_word_on_a_constant_one(facts):
    """IECC 2018: at least 75 % recovered waives limits on reheat in variable-air-volume systems;
    not checked against the text."""
    iecc = Allowance(code="IECC", edition="2018")
    for change, verdict in ((("", ""), "does not apply"), (VARIABLE, "not met")):
        found = facts(DEMO, change, allowance=iecc)
        assert determine(iecc, found).exceptions[0].verdict == verdict
    assert recovered_share_threshold("IECC", "2018") is None
    assert recovered_share_threshold("IECC", "2018", variable_flow=True) == 0.75
    assert recovered_share_threshold("90.1", "2022") == 0.90


def test_ventilation_air_is_too_warm_only_while_the_zone_needs_cooling(facts):
    """Supply air at 22 C of 0.5 kg/s, all of it reheated from 12 C. Above 60 F (15.56 C) are 6.44
    K x 0.5 kg/s x (1.006 + 1.86 x 0.009) kJ/(kg K) = 3.29 kW, in each of the 700 h with cooling in
    the zone apart from the unit; the unit's own cooling is no such need."""
    stated = Allowance(edition="2022", ventilates_conditioned_zones=True)
    zone = np.zeros(8760)
    zone[:700] = 2.0
    rate = 0.5 * (1.006 + 1.86 * 0.009)
    found = facts(
        former_text("clinic"),
        allowance=stated,
        fan_runtime_frac=1.0,
        supply_flow_kg_s=0.5,
        supply_hum_ratio_kg_kg=0.009,
        supply_temp_C=22.0,
        reheat_recovered_kWh=10.0 * rate,
        sensible_need_kWh=3.0,
        room_cooling_kWh=zone,
    )
    assert found.ventilation_hours_above == 700
    above_K = 22.0 - 28.0 / 1.8
    assert found.ventilation_heat_above_kWh == pytest.approx(700 * above_K * rate, rel=1e-3)
    answer = determine(stated, found)
    late = next(one for one in answer.conditions if one.section == "6.5.2.6")
    assert late.verdict == "not met"
    assert "60 °F in 700 h while zones need cooling, with 7.87 million Btu" in late.evidence


def test_heat_of_a_recovery_device_warms_ventilation_air_too(facts):
    stated = Allowance(edition="2022", ventilates_conditioned_zones=True)
    found = facts(
        former_text("clinic"),
        key="recovery",
        allowance=stated,
        fan_runtime_frac=1.0,
        supply_flow_kg_s=0.5,
        supply_temp_C=20.0,
        outdoor_recovery_sensible_kWh=5.0,
        room_cooling_kWh=1.0,
    )
    assert found.ventilation_hours_above == 8760


def test_what_the_case_does_not_say_is_asked_for_by_its_key(facts):
    """In Miami, zone 1 by its degree days, the letter of the zone is asked for."""
    found = replace(facts(former_text("clinic")), zone_0A_to_3A=None, heating_supply_rise_K=20.0)
    answer = determine(LATEST, found)

    def needs_of(answer):
        return [need for one in answer.conditions for need in one.missing]

    for key in ("openings_above_6_ft", "ventilates_conditioned_zones"):
        assert any(f"({key} in [allowance])" in need for need in needs_of(answer)), key
    ventilates = replace(found, ventilates_conditioned_zones=True)
    needs = needs_of(determine(LATEST, ventilates))
    assert any("(climate_zone in [allowance])" in need for need in needs)
    assert "a reference option that purchases some" in answer.counted.sentence


def test_the_zone_is_the_years_where_none_is_stated(facts, year):
    """Greensboro is in zone 4 by the degree days of its year (ASHRAE 169 lists it as 4A): an
    economizer is asked for, and the humid zones 0A to 3A are not its own."""
    found = facts(DEMO)
    assert (found.economizer_zone, found.zone_0A_to_3A, found.climate_zone) == (True, False, None)
    assert condition(found, "economizer").verdict == "not met"
    hot = facts(DEMO, allowance=Allowance(edition="2022", climate_zone="1A"))
    assert (hot.economizer_zone, hot.zone_0A_to_3A) == (False, True)
    assert condition(hot, "economizer").verdict == "does not apply"


def test_the_low_fan_speed_is_that_of_the_case(facts):
    """Constant flow has one speed. At 45 % of flow with 30 % of the pressure held, power is 0.45 x
    (0.3 + 0.7 x 0.45^2) = 19.9 % by the fan laws."""
    assert condition(facts(DEMO), "fan speeds").verdict == "not met"
    slow = facts(DEMO, VARIABLE)
    assert slow.low_fan_flow_frac == pytest.approx(0.45)
    assert slow.low_fan_power_frac == pytest.approx(0.45 * (0.3 + 0.7 * 0.45**2))
    assert condition(slow, "fan speeds").verdict == "met"


def test_the_baseline_reheats_by_its_own_heating_type(facts):
    """90.1 G3.1.3.18: reheat of the system's own heating type. The demo heats with gas at 80 %:
    800 kWh of electric reheat's heat are 1,000 kWh of gas, of which a quarter counts."""
    reheat = np.zeros(8760)
    reheat[:8] = 100.0
    found = facts(DEMO, key="electric", reheat_purchased_kWh=reheat)
    counted = determine(LATEST, found).counted
    assert counted.heating_type == "gas"
    assert counted.baseline_kWh == pytest.approx(1000.0)
    assert counted.counted_kWh == pytest.approx(250.0)
    assert counted.counted_therm == pytest.approx(250.0 / 29.3071, rel=1e-5)
    servers = Allowance(edition="2022", process_space="computer room")
    room = facts(DEMO, key="electric", allowance=servers, reheat_purchased_kWh=reheat)
    assert determine(servers, room).counted.counted_kWh == 0.0
