"""What is read from a case and its year for those who sign, and the size of the coil."""

import csv
import io
from dataclasses import replace

import numpy as np
import pytest
from former_premises import former_text, on_former_premises

from dewledger.accounts.energy import column
from dewledger.accounts.humidity_criteria import out_of_range
from dewledger.analysis.coil_for_code import coil_size
from dewledger.analysis.coil_trials import CoilTrials, with_coil
from dewledger.analysis.compliance import _whatever_the_coil, judge_option
from dewledger.analysis.modeled_ratings import rate_machine
from dewledger.assembly.machine import assemble
from dewledger.case import case_from_text
from dewledger.codes.determination import Allowance, determine
from dewledger.codes.facts_of_year import reheat_facts
from dewledger.reports.files.data_files import hourly_csv
from dewledger.study import run_study, solve_option
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import saturation_hum_ratio

BTU_H = 1055.05585262 / 3600.0
DEMO = on_former_premises(former_text("music-school"))
LATEST = Allowance(code="90.1", edition="2019")
FIRST_COSTS = {"electric": 2800.0, "condenser-trim": 4100.0}


@pytest.fixture(scope="module")
def study():
    return run_study(case_from_text(DEMO))


def by_key(study, key):
    return next(option for option in study.options if option.key == key)


def variant(*changes):
    text = DEMO
    for old, new in changes:
        assert text.count(old) >= 1, old
        text = text.replace(old, new)
    return case_from_text(text)


def judged(study, key, *changes):
    """An option judged by a case whose changes leave its year as it is."""
    option = by_key(study, key)
    case = next(one for one in variant(*changes).option_cases() if one.key == key)
    return judge_option(
        replace(option, option=case), study.reference, study.weather, CoilTrials(solve_option),
        "I-P", study.ratings[key].comparisons,
    )  # fmt: skip


def facts_of(study, key, allowance=None, reference=None):
    option = by_key(study, key) if isinstance(key, str) else key
    reference = reference or study.reference
    return reheat_facts(
        option.option,
        option.machine,
        option.ledger,
        option.annual,
        (reference.machine, reference.ledger),
        allowance or LATEST,
    )


def test_facts_are_the_cases(study):
    """By hand from the demo's file: 10 tons net, 53 %, 72 and 68 F, 840 of 4000 cfm."""
    facts = facts_of(study, "condenser-trim")
    assert facts.cooling_capacity_W == pytest.approx(120_000.0 * BTU_H, rel=1e-9)
    assert facts.humidity_limit_rh == pytest.approx(0.53)
    assert facts.thermostat_deadband_K == pytest.approx(4.0 / 1.8)
    assert facts.outdoor_flow_frac == pytest.approx(0.21)
    assert facts.minimum_flow_frac == 1.0
    assert facts.minimum_capacity_frac == 1.0
    assert facts.ventilates_conditioned_zones is False
    assert facts.outdoor_air_unit is False
    assert facts.recovered_share == by_key(study, "condenser-trim").annual["recovered_share"]


def test_the_baseline_is_what_the_reference_purchases(study):
    """Appendix G counts a quarter: 90.1 G3.1.3.18. A therm is 100,000 Btu, 29.307 kWh."""
    purchased = column(study.reference.ledger, "reheat_purchased_kWh").sum()
    counted = study.judgments["condenser"].determination.counted
    # as heat of the system's own heating type: the demo's gas at 80 %
    assert counted.baseline_kWh == pytest.approx(purchased / 0.80)
    assert counted.counted_kWh == pytest.approx(0.25 * purchased / 0.80)
    assert counted.counted_therm == pytest.approx(0.25 * purchased / 0.80 / 29.3071, rel=1e-4)
    assert counted.heating_type == "gas"


def test_a_reference_that_buys_no_reheat_is_no_baseline(study):
    condenser = by_key(study, "condenser")
    facts = facts_of(study, "electric", reference=condenser)
    counted = determine(LATEST, facts).counted
    assert "Cannot be determined: needs" in counted.sentence
    assert counted.counted_kWh is None


def test_without_a_code_90_1_2019_is_assumed_and_said(study):
    for key in ("none", "condenser"):
        assumed = judged(study, key, ('[allowance]\ncode = "90.1"\nedition = "2019"\n', ""))
        stated = study.judgments[key]
        assert assumed.code_assumed
        assert not stated.code_assumed
        assert assumed.determination == stated.determination


@pytest.fixture(scope="module")
def small_coil(study):
    """A condenser-heat coil of 36 kBtu/h with electric trim: it recovers 75 to 90 %."""
    option = by_key(study, "condenser-trim")
    machine = with_coil(option.machine, 36_000.0 * BTU_H)
    return replace(option, machine=machine, ledger=solve_option(machine))


def annual_of(ledger):
    return {
        name: column(ledger, name).sum()
        for name in ("reheat_recovered_kWh", "reheat_purchased_kWh", "reheat_unmet_kWh")
    }


def test_what_is_signed_follows_from_the_hourly_files_by_calculator(study):
    """Recovered share, Appendix G energy, moisture removal of July, saving, payback and present
    value from the columns of the hourly CSV alone.

    Prices: 9.67 c/kWh (US EIA 2023, NC commercial), 10.93 USD/MMBtu of gas at 293.071 kWh; first
    costs of the demo 2800 and 4100 USD; factor of 15 years at 3 %: 11.938.
    """

    def rows_of(key):
        return list(csv.DictReader(io.StringIO(hourly_csv(study, by_key(study, key)))))

    def sums(rows):
        return lambda *names: sum(float(row[name]) for row in rows for name in names)

    trim_rows = rows_of("condenser-trim")
    trim = sums(trim_rows)
    recovered = trim("reheat_recovered_kWh")
    share = recovered / (recovered + trim("reheat_purchased_kWh"))
    assert study.judgments["condenser-trim"].determination.recovered_share == pytest.approx(
        share, rel=1e-6
    )
    electric = sums(rows_of("electric"))
    purchased = electric("reheat_purchased_kWh") / 0.80  # gas, the heating type of the system
    counted = study.judgments["condenser-trim"].determination.counted
    assert counted.counted_kWh == pytest.approx(purchased / 4.0, rel=1e-6)
    assert counted.counted_therm == pytest.approx(purchased / 4.0 / 29.3071, rel=1e-5)

    drying = ("compressor_kWh", "condenser_fan_kWh", "supply_fan_kWh", "reheat_coil_fan_kWh")
    july = sums([row for row in trim_rows if row["month"] == "7"])
    pounds = july("condensate_kg") / 0.45359237
    energy = july(*drying, "reheat_purchased_electricity_kWh", "reheat_purchased_gas_kWh")
    by_month = study.judgments["condenser-trim"].efficiency.monthly_lb_kWh
    assert by_month[6] == pytest.approx(pounds / energy, rel=1e-6)

    def cost(use):
        electricity = use(
            *drying, "reheat_purchased_electricity_kWh", "heating_purchased_electricity_kWh"
        )
        gas = use("reheat_purchased_gas_kWh", "heating_purchased_gas_kWh")
        return 0.0967 * electricity + 10.93 / 293.071 * gas

    extra = FIRST_COSTS["condenser-trim"] - FIRST_COSTS["electric"]
    saving = cost(electric) - cost(trim)
    found = study.money.life_cycle["condenser-trim"]
    assert found.annual_saving == pytest.approx(saving, rel=1e-5)
    assert found.simple_payback_years.value == pytest.approx(extra / saving, rel=1e-5)
    assert found.net_present_value.value == pytest.approx(11.938 * saving - extra, rel=1e-4)
    assert found.break_even_extra_first_cost == pytest.approx(11.938 * saving, rel=1e-4)


@pytest.mark.parametrize(("edition", "verdict"), [("2010", "met"), ("2019", "not met")])
def test_75_became_90_percent(study, small_coil, edition, verdict):
    """A coil that recovers between 75 and 90 % of the reheat; 6.5.2.3 exception 5."""
    option = replace(small_coil, annual=annual_of(small_coil.ledger))
    found = determine(Allowance(edition=edition), facts_of(study, option))
    assert 0.75 < found.recovered_share < 0.90
    assert found.rule.verdict == verdict
    assert bool(found.smallest_change) == (verdict == "not met")


def test_the_smallest_coil_is_the_smallest(study):
    option = by_key(study, "condenser-trim")
    answer = study.judgments["condenser-trim"].coil.answer

    def share(capacity_W):
        ledger = solve_option(with_coil(option.machine, capacity_W))
        recovered = column(ledger, "reheat_recovered_kWh").sum()
        return recovered / (recovered + column(ledger, "reheat_purchased_kWh").sum())

    assert share(answer.capacity_W) >= 0.90
    # found to half a per cent of the largest tried, which is the heat rejected at the rating
    step = 0.005 * option.machine.unit.rated_rejected_W
    assert share(answer.capacity_W - 1.01 * step) < 0.90
    assert "smaller than designed" in study.judgments["condenser-trim"].coil.sentence


def test_an_undersized_coil_must_grow(small_coil):
    ledger = small_coil.ledger
    arguments = (
        small_coil.machine,
        annual_of(ledger),
        ledger,
        LATEST,
        CoilTrials(solve_option),
        "I-P",
    )
    found = coil_size(*arguments)
    assert found.answer.capacity_W > 36_000.0 * BTU_H
    assert "larger than designed" in found.sentence


def test_a_changed_coil_is_the_machine_its_case_would_give(study):
    """Another capacity, and a coil put ahead of purchased heat, against assembling the case
    anew.
    """
    smaller = variant(('capacity = "50 kBtu/h"', 'capacity = "30 kBtu/h"'))
    added = variant(
        (
            "[[options.electric.reheat]]",
            '[[options.electric.reheat]]\nsource = "condenser"\ncapacity = "30 kBtu/h"\n'
            'effectiveness = "60 %"\n[[options.electric.reheat]]',
        )
    )
    for case, key in ((smaller, "condenser-trim"), (added, "electric")):
        anew = next(
            assemble(option, study.weather) for option in case.option_cases() if option.key == key
        )
        changed = with_coil(by_key(study, key).machine, 30_000.0 * BTU_H)
        assert changed.plant._asdict().keys() == anew.plant._asdict().keys()
        for one, other in zip(changed.plant, anew.plant, strict=True):
            assert one == pytest.approx(other)
        assert changed.sources == pytest.approx(anew.sources)
        assert [source.name for source in changed.reheat] == [s.name for s in anew.reheat]
        one, other = solve_option(changed).sum(axis=1), solve_option(anew).sum(axis=1)
        np.testing.assert_allclose(one, other, rtol=1e-9, atol=1e-6)


def test_coil_sentences_where_no_size_decides(study):
    assert "No reheat occurred" in study.judgments["none"].coil.sentence
    assert "Nothing is purchased" in study.judgments["condenser"].coil.sentence
    assert study.judgments["condenser"].coil.answer is None
    assert "put ahead of the purchased heat" in study.judgments["electric"].coil.sentence
    option = by_key(study, "electric")
    found = coil_size(
        option.machine,
        option.annual,
        option.ledger,
        Allowance(code="Florida"),
        CoilTrials(solve_option),
        "I-P",
    )
    assert found.threshold is None


def test_an_exception_without_recovered_heat_is_met_whatever_the_coil(study):
    facts = replace(
        facts_of(study, "electric"),
        cooling_capacity_W=60_000.0 * BTU_H,
        minimum_capacity_frac=0.4,
    )
    assert _whatever_the_coil(determine(LATEST, facts)) == "Exception 2 is met whatever the coil. "
    assert _whatever_the_coil(determine(LATEST, facts_of(study, "condenser-trim"))) == ""
    assert _whatever_the_coil(determine(LATEST, facts_of(study, "electric"))) == ""


def test_ventilation_air_is_judged_where_it_is_stated(study):
    """90.1 6.5.2.6: hours above 60 F by a count on the ledger itself."""
    stated = Allowance(code="90.1", edition="2019", ventilates_conditioned_zones=True)
    facts = facts_of(study, "electric", stated)
    ledger = study.reference.ledger
    supply = column(ledger, "supply_temp_C")
    given = column(ledger, "reheat_purchased_kWh") + column(ledger, "heating_kWh")
    cooling = column(ledger, "sensible_need_kWh") > 0.0
    limit = (60.0 - 32.0) / 1.8
    by_hand = (supply > limit + 1e-6) & (given > 0.0) & cooling
    assert facts.ventilation_hours_above == by_hand.sum() > 0
    # no more heat can lie above the limit than was given in those hours
    assert 0.0 < facts.ventilation_heat_above_kWh <= given[by_hand].sum() + 1e-6
    assert facts_of(study, "electric").ventilation_hours_above is None


def test_a_condition_that_lacks_an_input_says_what_it_needs(study):
    facts = replace(facts_of(study, "electric"), heating_supply_rise_K=20.0)
    found = next(one for one in determine(LATEST, facts).conditions if one.section == "6.5.2.1.1")
    assert found.verdict == "cannot be determined"
    assert found.evidence.startswith("Cannot be determined: needs whether supply and return")


def test_statements_of_the_designer_reach_the_conditions(study):
    stated = 'edition = "2019"\nopenings_above_6_ft = true\nclimate_zone = "4a"\n'
    conditions = judged(study, "condenser", ('edition = "2019"', stated)).determination.conditions
    by_section = {found.section: found for found in conditions}
    assert by_section["6.5.2.1.1"].verdict in ("met", "not met")
    assert by_section["6.5.3.5"].verdict == "does not apply"


def test_the_own_range_is_that_of_the_accounts(study):
    for option in study.options:
        found = study.judgments[option.key].own_range
        assert found.hours_above == option.annual["hours_above_range"]
        assert found.hours_below == option.annual["hours_below_range"]
        assert found.gram_hours_above == pytest.approx(option.annual["gram_hours_above"], rel=1e-3)


def test_criteria_named_in_the_case_are_judged(study):
    for judgment in study.judgments.values():
        assert [finding.criterion.key for finding in judgment.criteria] == ["museum-B"]
    worst = study.judgments["none"].criteria[0]
    assert worst.hours_out > study.judgments["electric"].criteria[0].hours_out


OWN = """[[humidity.own_criteria]]
title = "Piano store"
low = "42 %"
high = "50 %"
temperature_high = "74 degF"
source = "the maker's letter"

[[humidity.own_criteria]]
title = "Dew point while open"
measure = "dew point"
high = "55 degF"
hours = "occupied"

[heating]"""


def test_limits_of_the_users_own_are_judged_beside_the_published(study):
    option = by_key(study, "none")
    _, pianos, dew = judged(study, "none", ("[heating]", OWN)).criteria
    above, below = out_of_range(column(option.ledger, "room_rh_frac"), 0.42, 0.50)
    assert pianos.hours_above == above.sum() > 0
    assert pianos.hours_below == below.sum() > 0
    warm = column(option.ledger, "room_temp_C") > (74.0 - 32.0) / 1.8 + 0.01
    assert pianos.hours_too_warm == warm.sum()
    assert pianos.criterion.source == "the maker's letter"
    occupied = option.machine.calendar.occupied
    assert dew.hours_judged == occupied.sum()
    assert dew.criterion.high == pytest.approx((55.0 - 32.0) / 1.8)
    assert 0 < dew.hours_above <= occupied.sum()


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("", '"Mine" has no limit; write low, high or both'),
        ('low = "60 %"\nhigh = "50 %"', '"60 %" at or above its high limit "50 %"'),
        ('high = "60 degF"', "measure"),
        ('measure = "dew point"\nhigh = "60 %"', '"%" is not a unit of temperature'),
        ('measure = "wet bulb"\nhigh = "60 degF"', '"wet bulb" is not known'),
        ('high = "60 %"\nseasonal_drift = "10 %"', "needs a low and a high relative humidity"),
        ('hihg = "60 %"', 'did you mean "high"'),
    ],
)
def test_limits_of_the_users_own_that_cannot_be_meant(line, words):
    text = f'[[humidity.own_criteria]]\ntitle = "Mine"\n{line}\n\n[heating]'
    with pytest.raises(InputError) as raised:
        variant(("[heating]", text))
    assert words in str(raised.value)


def test_a_cold_pipe_grows_mold_where_the_walls_do_not(study):
    assert study.judgments["none"].mold.met
    pipe = ('range_low = "40 %"', 'range_low = "40 %"\ncold_surface_temperature = "50 degF"')
    found = judged(study, "none", pipe).mold
    assert not found.met
    assert found.hours_at_risk > 1000
    assert "50 °F" in found.surface


def test_the_rating_point_comes_back(study):
    """The unit is built from an AHRI net rating of 11.0 EER and 10 tons: its full load is that."""
    rated = study.ratings["electric"].efficiency
    assert rated.full_load_eer == pytest.approx(11.0, abs=1e-6)
    assert rated.net_capacity_W == pytest.approx(120_000.0 * BTU_H, rel=1e-8)
    # IEER weights of AHRI 340/360: 0.020, 0.617, 0.238, 0.125
    a, b, c, d = (point.eer for point in rated.points)
    assert rated.ieer == pytest.approx(0.020 * a + 0.617 * b + 0.238 * c + 0.125 * d)
    # a cooler condenser at a lower load: better until cycling and the fan weigh more
    assert a < b < c
    sentences = [found.sentence for found in study.ratings["electric"].comparisons]
    assert all("modeled, not certified" in sentence for sentence in sentences)
    assert len(sentences) == 2


def test_an_outdoor_air_unit_is_rated_by_moisture(study):
    option = by_key(study, "condenser")
    case = option.option.case
    too_much = rate_machine(case, option.machine, outdoor_air=True)
    assert too_much.efficiency is None
    assert [rating.standard.key for rating in too_much.moisture] == ["ISMRE", "ISMRE2", "ISMRE2-70"]
    # 400 cfm/ton on outdoor air of 78 F wet bulb does not come down to 55 F
    assert all(rating.value is None for rating in too_much.moisture)
    assert "cannot be given" in too_much.moisture[0].sentence
    slow = replace(
        option.machine,
        plant=option.machine.plant._replace(
            flow_kg_s=option.machine.plant.flow_kg_s / 3.0, fan_W=400.0
        ),
    )
    plain, recent, warm = rate_machine(case, slow, outdoor_air=True).moisture
    # AHRI 920-2020 weights: 0.14, 0.34, 0.39, 0.13
    weights = (0.14, 0.34, 0.39, 0.13)
    by_hand = sum(w * p.efficiency_lb_kWh for w, p in zip(weights, recent.points, strict=True))
    assert recent.value == pytest.approx(by_hand)
    # water balance of condition A by hand: 117.4 gr/lb in (AHRI 920 condition A)
    first = recent.points[0]
    assert first.supply_dew_C <= 55.0 / 1.8 - 32.0 / 1.8 + 0.01
    leaving = saturation_hum_ratio(first.supply_dew_C, 101325.0)
    removal = slow.plant.flow_kg_s * (117.4 / 7000.0 - leaving)
    assert first.removal_kg_s == pytest.approx(removal, rel=2e-3)
    assert 0.0 < warm.value <= recent.value
    assert plain.value is not None
    # condenser heat serves most of the way to 70 F
    assert all(point.supplementary_W < 2000.0 for point in warm.points)


@pytest.mark.parametrize(
    ("air", "note"),
    [
        ('outdoor_flow = "900 cfm"', "without energy recovery"),
        # the same 900 cfm by people: 30 of them
        ('outdoor_per_person = "30 cfm/person"', "without energy recovery"),
        (
            'outdoor_flow = "900 cfm"\nrecovery = { sensible = "70 %", latent = "62 %" }',
            "ISMRE2 of at least 5 is required by 10 CFR 431.97, for units made on or after 1 May "
            "2024",
        ),
    ],
)
def test_an_outdoor_air_unit_is_known_by_its_case(study, air, note):
    text = former_text("clinic").replace('outdoor_flow = "900 cfm"', air)
    option = case_from_text(text).option_cases()[0]
    rated = rate_machine(option.case, assemble(option, study.weather))
    assert [one.standard.key for one in rated.moisture] == ["ISMRE", "ISMRE2", "ISMRE2-70"]
    assert rated.efficiency is None
    assert note in " ".join((*rated.notes, *(one.sentence for one in rated.comparisons)))


def test_the_years_own_efficiency_adds_up(study):
    option = by_key(study, "condenser")
    energy = sum(
        option.annual[name]
        for name in (
            "compressor_kWh",
            "condenser_fan_kWh",
            "supply_fan_kWh",
            "reheat_coil_fan_kWh",
            "reheat_purchased_electricity_kWh",
            "reheat_purchased_gas_kWh",
        )
    )
    found = study.judgments["condenser"].efficiency
    pounds = option.annual["condensate_kg"] / 0.45359237
    assert found.annual_lb_kWh == pytest.approx(pounds / energy)
    assert len(found.monthly_lb_kWh) == 12
