"""Effects and draws of a study: what a changed value does, and that it is what a case would do."""

from dataclasses import replace

import numpy as np
import pytest
from former_premises import former_text

from dewledger.accounts.energy import column
from dewledger.analysis.assumed_ranges import ranges, value_text
from dewledger.analysis.assumptions import (
    CAPACITY,
    DEW_SETPOINT,
    EFFECTIVENESS,
    ELECTRICITY_PRICE,
    GAS_PRICE,
    SETPOINT,
    WEATHER,
    Values,
    changed,
    rerated,
)
from dewledger.analysis.monte_carlo import Assumed
from dewledger.analysis.sensitivity import (
    left_out_of_draws,
    saving_name,
    sensitivity_study,
    share_name,
)
from dewledger.assembly.machine import assemble
from dewledger.case import case_from_text
from dewledger.components.cooling_coil import ImpossibleRatio
from dewledger.dx_unit.from_rating import unit_from_ratings
from dewledger.hourly.ledger import NAMES, empty_ledger
from dewledger.study import run_study, solve_option
from dewledger.weather.errors import InputError
from dewledger.weather.files.readers import read

DEMO = former_text("music-school")


@pytest.fixture(scope="module")
def year():
    return read("greensboro")


@pytest.fixture(scope="module")
def study(year):
    return run_study(case_from_text(DEMO), year)


def remembering(solve=solve_option):
    """A solution that is done once for each machine that differs in more than its prices."""
    kept = {}

    def once(machine):
        key = (id(machine.sources), machine.plant, machine.room, machine.drivers[:, :].tobytes())
        if key not in kept:
            kept[key] = solve(machine)
        return kept[key]

    return once


def some_days(machine):
    """Five days of July alone, the rest of the year left at zero: what is drawn, effects and
    counted does not ask for more.
    """
    days = slice(24 * 190, 24 * 195)
    year = empty_ledger(8760)
    year[:] = 0.0
    year[:, days] = solve_option(replace(machine, drivers=machine.drivers[days].copy()), 0)
    return year


def two_prices(gas=True):
    listed = [Assumed(ELECTRICITY_PRICE, 0.8, 1.0, 1.2, "a test")]
    return listed + ([Assumed(GAS_PRICE, 0.7, 1.0, 1.3, "a test")] if gas else [])


def test_the_base_answer_is_the_studys(study, year):
    found = sensitivity_study(study.case, [year], remembering(), assumed=two_prices(), draws=1)
    for option in study.options:
        if option.key == study.reference.key:
            continue
        base = found.sensitivity.base
        assert base[saving_name(option.key)] == pytest.approx(option.annual["cost_saving"])
        share = option.annual["recovered_share"]
        expected = np.nan if share is None else share
        assert base[share_name(option.key)] == pytest.approx(expected, nan_ok=True)


@pytest.mark.parametrize(
    ("values", "changes"),
    [
        (Values(setpoint=0.03), [('limit = "53 %"', 'limit = "56 %"')]),
        (Values(outdoor_air=1.2), [('"840 cfm"', '"1008 cfm"')]),
        (Values(infiltration=2.0), [('"0.15 ACH"', '"0.30 ACH"')]),
        (
            Values(moisture_store=1.2),
            [("moisture_storage_ratio = 15", "moisture_storage_ratio = 18")],
        ),
        (Values(effectiveness=0.1), [('effectiveness = "60 %"', 'effectiveness = "70 %"')]),
        (Values(capacity=0.95), [('"10 ton"', '"9.5 ton"')]),
        (Values(efficiency=1.05), [('"11.0 EER"', '"11.55 EER"')]),
        (
            Values(setpoint=-0.02, outdoor_air=0.8, capacity=1.05, efficiency=0.95),
            [
                ('limit = "53 %"', 'limit = "51 %"'),
                ('"840 cfm"', '"672 cfm"'),
                ('"10 ton"', '"10.5 ton"'),
                ('"11.0 EER"', '"10.45 EER"'),
            ],
        ),
    ],
    ids=lambda value: "" if isinstance(value, list) else None,
)
def test_a_changed_machine_is_the_machine_of_the_changed_case(year, values, changes):
    text = DEMO
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    before = case_from_text(DEMO).option_cases()[-1]
    after = case_from_text(text).option_cases()[-1]
    one = solve_option(changed(assemble(before, year), values))
    other = solve_option(assemble(after, year))
    # The hour's own iterations stop at about 1e-8; what they leave open is bounded, not compared.
    left = [index for index, name in enumerate(NAMES) if "closure" in name]
    assert np.nanmax(np.abs(np.concatenate([one[left], other[left]]))) < 1e-2  # W and kg/h
    sums = [np.delete(ledger, left, axis=0).sum(axis=1) for ledger in (one, other)]
    np.testing.assert_allclose(*sums, rtol=1e-6, atol=1e-5)


def test_gains_scale_heat_and_moisture(study):
    machine = study.reference.machine
    found = changed(machine, Values(gains=1.25))
    assert found.drivers[:, 3] == pytest.approx(1.25 * machine.drivers[:, 3])
    assert found.drivers[:, 4] == pytest.approx(1.25 * machine.drivers[:, 4])
    assert machine.drivers is study.reference.machine.drivers


def test_outdoor_air_stays_within_the_supply(study):
    machine = study.reference.machine
    found = changed(machine, Values(outdoor_air=100.0))
    assert found.drivers[:, 5].max() == machine.plant.flow_kg_s


def test_no_change_is_the_same_year(study):
    machine = study.reference.machine
    same = solve_option(changed(machine, Values()))
    assert np.array_equal(same, study.reference.ledger, equal_nan=True)


def test_price_effects_by_hand(study, year):
    found = sensitivity_study(study.case, [year], remembering(), assumed=two_prices(), draws=1)
    gas = next(option for option in study.options if option.key == "gas")
    electric = study.reference.annual["electricity_cost"] - gas.annual["electricity_cost"]
    burnt = study.reference.annual["gas_cost"] - gas.annual["gas_cost"]
    effects = {s.assumption: s for s in found.sensitivity.ranked(saving_name("gas"))}
    assert effects[ELECTRICITY_PRICE].result_high == pytest.approx(1.2 * electric + burnt)
    assert effects[GAS_PRICE].result_high == pytest.approx(electric + 1.3 * burnt)


def test_same_seed_same_bytes_whatever_the_cores(study, year):
    wide = [
        one
        for one in ranges([option.machine for option in study.options], True, 1)
        if one.name in (SETPOINT, CAPACITY, ELECTRICITY_PRICE)
    ]
    runs = [
        sensitivity_study(study.case, [year], some_days, assumed=wide, draws=9, seed=7, workers=n)
        for n in (1, 2)
    ]
    for name in runs[0].draws.results:
        first, second = (run.draws.results[name] for run in runs)
        assert first.tobytes() == second.tobytes()
    other = sensitivity_study(study.case, [year], some_days, assumed=wide, draws=9, seed=8)
    assert not np.array_equal(
        other.draws.results[saving_name("gas")], runs[0].draws.results[saving_name("gas")]
    )


def test_median_is_the_answer_for_symmetric_ranges_and_ranks_agree(study, year):
    """Savings are linear in prices: the median of draws from symmetric ranges is the answer, and
    the stronger effect is the stronger rank correlation."""
    found = sensitivity_study(study.case, [year], remembering(), assumed=two_prices(), draws=200)
    for key in found.keys:
        base = found.sensitivity.base[saving_name(key)]
        draws = found.draws.results[saving_name(key)]
        # standard error of a median, normal: 1.253 sigma / sqrt(n); three of them
        error = 3.0 * 1.253 * draws.std() / np.sqrt(len(draws))
        assert found.likelihood[key].saving_p50 == pytest.approx(base, abs=error)
    name = saving_name("gas")
    by_effect = [effect.assumption for effect in found.sensitivity.ranked(name)]
    by_rank = [assumption for assumption, _ in found.draws.ranked(name)]
    assert by_effect == by_rank


def test_likelihood_to_keep_the_codes_share(study, year):
    wide = ranges([option.machine for option in study.options], True, 1)
    found = sensitivity_study(study.case, [year], some_days, assumed=wide, draws=12)
    assert found.likelihood["condenser"].probability == 1.0
    assert found.likelihood["gas"].probability == 0.0
    assert found.likelihood["none"].probability is None
    trim = found.likelihood["condenser-trim"]
    shares = found.draws.results[share_name("condenser-trim")]
    assert trim.probability == pytest.approx((shares >= 0.9).mean())
    assert trim.threshold == 0.9
    assert found.option_years == (1 + 2 * len(wide) + 12) * len(study.options)


def test_weather_years_vary_where_several_are_given(study, year):
    miami = read("miami")
    alone = sensitivity_study(study.case, [miami], some_days, assumed=two_prices(), draws=1)
    found = sensitivity_study(
        study.case,
        [year, miami],
        some_days,
        assumed=[*two_prices(), Assumed(WEATHER, 0.0, 0.0, 1.0, "a test", shape="choice")],
        draws=2,
    )
    saving = alone.sensitivity.base[saving_name("condenser")]
    assert saving > 1.1 * found.sensitivity.base[saving_name("condenser")]
    ranked = found.sensitivity.ranked(saving_name("condenser"))
    (effect,) = (one for one in ranked if one.assumption == WEATHER)
    assert effect.result_high == pytest.approx(saving)
    assert value_text(WEATHER, 1.0, found.weather_names, "I-P") == miami.station.name


def test_only_what_can_matter_has_a_range(study):
    uncontrolled = ranges([study.options[0].machine], False, 1)
    names = {one.name for one in uncontrolled}
    assert SETPOINT not in names
    assert GAS_PRICE not in names
    assert CAPACITY in names
    grounds = ("practice", "memory", "not checked", "manuals")
    assert all(any(word in one.reason for word in grounds) for one in uncontrolled)
    assert WEATHER in {one.name for one in ranges([study.options[0].machine], False, 3)}


def stated(*lines):
    return case_from_text(DEMO + "\n[ranges]\n" + "\n".join(lines)).ranges


def test_ranges_of_the_case_stand_for_the_default_ones(study):
    machines = [option.machine for option in study.options]
    given = stated(
        'reason = "site survey"',
        'set_point = ["-2 %", "1 %"]',
        'outdoor_air = ["100 %", "115 %"]',
        "gains = [1, 1]",
        'coil_effectiveness = ["-5 %", "0 %"]',
    )
    found = {one.name: one for one in ranges(machines, True, 1, given)}
    default = {one.name: one for one in ranges(machines, True, 1)}
    moved = found[SETPOINT]
    assert (moved.low, moved.likely, moved.high) == pytest.approx((-0.02, 0.0, 0.01))
    assert moved.reason == "site survey"
    assert (found["outdoor air"].low, found["outdoor air"].high) == pytest.approx((1.0, 1.15))
    assert found["coil effectiveness"].low == pytest.approx(-0.05)
    # held fixed; and what is not stated stays as it is
    assert "gains" not in found
    assert found[CAPACITY] == default[CAPACITY]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('outdoor_air = ["80 %"]', "a low and a high end are expected"),
        ("gains = 3", "a low and a high end are expected"),
        ('outdoor_air = ["110 %", "120 %"]', "does not hold the case's own value, 100 %"),
        ('coil_effectiveness = ["2 %", "5 %"]', "does not hold the case's own value, 0"),
        ('rated_capacity = ["0 %", "110 %"]', 'goes down to "0 %"; write 5 % or more'),
        ('gains = ["-2 K", "1 K"]', "gains is not a range of temperatures"),
        ('purge = ["0 %", "5 %"]', "purge is a range of times"),
        ('condensing_floor = ["90 %", "110 %"]', "condensing_floor is a range of temperatures"),
        ('valve_low = ["10 %", "15 %"]', "does not hold the case's own value, 0"),
        ('circuits = ["0 min", "1 min"]', "circuits is not a range of temperatures or times"),
        ('set_point = ["-2 K", "1 K"]', "no range of the relative humidity that is limited"),
        ('set_point = ["-3 %", "x"]', '"x" is not a number'),
        ('gain = ["80 %", "120 %"]', 'did you mean "gains"'),
        ('reason = " "', "write why these ranges"),
    ],
)
def test_ranges_that_cannot_be_meant(line, words):
    with pytest.raises(InputError, match=r"\[ranges\]") as raised:
        stated(line)
    assert words in str(raised.value)


def test_an_option_has_no_ranges_of_its_own():
    text = DEMO.replace("[options.gas]\n", '[options.gas]\nranges = { reason = "no" }\n')
    with pytest.raises(InputError, match="at the top of the file"):
        case_from_text(text)


def test_set_point_of_an_outdoor_air_unit_is_its_supply_dew_point(year):
    option = case_from_text(former_text("clinic")).option_cases()[0]
    machine = assemble(option, year)
    (effects,) = [one for one in ranges([machine], False, 1) if "set point" in one.name]
    assert effects.name == DEW_SETPOINT
    assert (effects.low, effects.high) == (-1.0, 1.0)
    text = former_text("clinic").replace('"52 degF"', '"53.8 degF"')
    warmer = assemble(case_from_text(text).option_cases()[0], year)
    found = changed(machine, Values(dew_setpoint=1.0))
    assert found.control.outdoor_air_unit.dew_point_C == pytest.approx(
        warmer.control.outdoor_air_unit.dew_point_C
    )


def test_limits_of_either_kind_have_each_their_own_range(study, year):
    """One option limited by RH, one by dew point: each effects in its own unit."""
    text = DEMO.replace(
        "[options.gas]\n",
        '[options.gas]\nhumidity = { control = "dew point", limit = "54 degF" }\n',
    )
    machine = assemble(case_from_text(text).option_cases()[2], year)
    both = {one.name: one for one in ranges([study.reference.machine, machine], True, 1)}
    assert both[SETPOINT].high == 0.03
    assert both[DEW_SETPOINT].high == 1.0
    moved = changed(machine, Values(setpoint=0.03, dew_setpoint=0.5)).drivers[:, 10]
    assert moved == pytest.approx(machine.drivers[:, 10] + 0.5)
    rh = 'control = "relative humidity"\nlimit = "53 %"'
    dew = DEMO.replace(rh, 'control = "dew point"\nlimit = "54 degF"')
    case = case_from_text(dew + '\n[ranges]\nset_point = ["-2 degF", "2 degF"]\n')
    (effects,) = [
        one for one in ranges([machine], True, 1, case.ranges) if one.name == DEW_SETPOINT
    ]
    assert (effects.low, effects.high) == pytest.approx((-2.0 / 1.8, 2.0 / 1.8))


def test_one_instrument_moves_both_limits(year):
    option = case_from_text(former_text("museum-store")).option_cases()[0]
    drivers = changed(assemble(option, year), Values(setpoint=-0.03)).drivers
    assert drivers[:, 10] == pytest.approx(0.47)
    assert drivers[:, 12] == pytest.approx(0.42)


def test_a_wrap_around_loop_has_an_effectiveness_too(year):
    text = former_text("museum-store")
    better = text.replace('effectiveness = "40 %"', 'effectiveness = "50 %"')
    plain, after = (assemble(case_from_text(one).option_cases()[1], year) for one in (text, better))
    moved = changed(plain, Values(effectiveness=0.1)).plant
    assert moved.drying_effectiveness == pytest.approx(after.plant.drying_effectiveness)
    assert moved.recovery_effectiveness == after.plant.recovery_effectiveness == 0.0
    assert EFFECTIVENESS in {one.name for one in ranges([plain], False, 1)}


def test_one_option_alone_cannot_be_compared(year):
    text = DEMO.split("[options.none]")[0] + '[options.electric]\ntitle = "Electric reheat"\n'
    with pytest.raises(InputError, match="compares options with the reference"):
        sensitivity_study(case_from_text(text), [year], solve_option)


@pytest.mark.parametrize(
    ("name", "value", "display", "text"),
    [
        (SETPOINT, 0.03, "I-P", "+3 % RH"),
        (SETPOINT, -0.03, "SI", "−3 % RH"),
        (DEW_SETPOINT, 1.0, "I-P", "+1.8 °F"),
        (DEW_SETPOINT, -0.2, "SI", "−0.2 K"),
        (CAPACITY, 0.95, "SI", "95 %"),
        ("pump-out in an hour with reheat", 180.0, "SI", "+3 min"),
        ("most opening of the reheat valve", -0.15, "SI", "−15 points"),
        ("minimum condensing temperature", -10.0 / 1.8, "I-P", "−10.0 °F"),
    ],
)
def test_values_as_a_reader_sees_them(name, value, display, text):
    assert value_text(name, value, (), display) == text


def moved_to(year, latitude, name):
    """The same weather said to be measured elsewhere."""
    return replace(year, station=replace(year.station, latitude=latitude, name=name))


def test_the_band_of_one_site_draws_no_weather_of_another(study, year):
    """Draws by hand: with weather 900 km away alone, no column of weather is drawn; with a second
    year 20 km away (0.18 degrees of latitude), both years of the site are, and the third never."""
    far, near = moved_to(year, 28.0, "far"), moved_to(year, 36.28, "near")
    both = [*two_prices(), Assumed(WEATHER, 0.0, 0.0, 1.0, "a test", shape="choice")]
    found = sensitivity_study(
        study.case, [year, far], remembering(some_days), assumed=both, draws=4
    )
    assert found.elsewhere == ("far",)
    assert [one.name for one in found.draws.assumed] == [ELECTRICITY_PRICE, GAS_PRICE]
    assert {effect.assumption for effect in found.sensitivity.effects} >= {WEATHER}
    assert "Weather of another site (far) is tried alone" in left_out_of_draws(found)

    three = [*two_prices(), Assumed(WEATHER, 0.0, 0.0, 2.0, "a test", shape="choice")]
    found = sensitivity_study(
        study.case, [year, far, near], remembering(some_days), assumed=three, draws=20
    )
    assert found.weather_names == (year.station.name, "near", "far")
    assert set(found.draws.values[:, 2]) == {0.0, 1.0}
    assert found.elsewhere == ("far",)


def test_weather_that_does_not_say_its_place_is_of_another_site(study, year):
    unplaced = moved_to(year, float("nan"), "attic")
    found = sensitivity_study(
        study.case, [year, unplaced], remembering(some_days), assumed=two_prices(), draws=1
    )
    assert found.elsewhere == ("attic",)


def demo_with(values, option=None):
    """The demo changed, or its option of condenser heat with other keys of the source."""
    coil = [{"source": "condenser", "effectiveness": "60 %", **(option or {})}]
    return case_from_text(DEMO).with_values(values | {"options.condenser.reheat": coil})


def condenser(case):
    return next(option for option in case.option_cases() if option.key == "condenser")


TWO_STAGES = {"unit.capacity_control": "stages", "unit.stages": ["50 %", "100 %"]}


def test_drying_controls_stand_side_by_side(year):
    """Each is the year of the case that states it; the reference is dried by the same control."""
    case = demo_with(TWO_STAGES)
    found = sensitivity_study(case, [year], remembering(some_days), assumed=two_prices(), draws=1)
    by = {(one.key, one.control): one for one in found.drying}
    held = demo_with(TWO_STAGES | {"unit.drying_control": "leaving air"})
    ledger = some_days(assemble(condenser(held), year))
    shown = by["condenser", "leaving air"]
    reheat_load = column(ledger, "overcooling_heat_kWh").sum()
    assert shown.overcooling_heat_kWh == pytest.approx(reheat_load, rel=1e-6)
    assert by[case.reference_key, "all stages"].saving is None
    assert by["condenser", "all stages"].saving is not None
    least = by["condenser", "least overcooling"]
    assert least.saving == pytest.approx(found.sensitivity.base[saving_name("condenser")])
    assert least.overcooling_heat_kWh <= shown.overcooling_heat_kWh
    assert "none" not in {one.key for one in found.drying}


def test_a_unit_that_cycles_has_no_drying_control(year):
    case = demo_with({"unit.capacity_control": "cycling", "unit.stages": None})
    found = sensitivity_study(case, [year], some_days, assumed=two_prices(), draws=1)
    assert found.drying == ()


@pytest.mark.parametrize(
    ("values", "key", "value"),
    [
        (Values(valve_low=0.15), "valve_low", "15 %"),
        (Values(valve_high=-0.15), "valve_high", "85 %"),
        (Values(purge=180.0), "purge", "3 min"),
        (Values(circuits=0.5), "circuits", "50 %"),
        (Values(reheat_fans=0.5), "reheat_fan_share", "50 %"),
        (Values(lockout_above=-50 / 1.8), "lockout_above", "80 degF"),
    ],
)
def test_a_control_ranged_is_the_control_stated(year, values, key, value):
    before, after = condenser(demo_with({})), condenser(demo_with({}, {key: value}))
    one = some_days(changed(assemble(before, year), values))
    np.testing.assert_allclose(one, some_days(assemble(after, year)), rtol=1e-9, atol=1e-9)


def test_least_airflow_is_ranged_where_the_flow_follows_the_load(year):
    """350 for 300 cfm/ton; a constant flow is the design's own."""
    two_speed = {"air.flow_control": "two-speed", "air.minimum_flow": "60 %"}
    option = condenser(demo_with(two_speed))
    machine = assemble(option, year)
    named = {one.name: one for one in ranges([machine], False, 1, None, [option])}
    lever = named["least airflow for each ton"]
    assert (lever.low * 300.0, lever.high * 300.0) == pytest.approx((250.0, 350.0))
    given = condenser(demo_with(two_speed | {"air.least_flow_per_capacity": "350 cfm/ton"}))
    one = some_days(changed(machine, Values(least_flow=lever.high)))
    np.testing.assert_allclose(one, some_days(assemble(given, year)), rtol=1e-9, atol=1e-9)
    option = condenser(demo_with({}))
    names = {one.name for one in ranges([assemble(option, year)], False, 1, None, [option])}
    assert "least airflow for each ton" not in names


def test_a_control_that_is_stated_is_held():
    """Unless [ranges] says otherwise."""
    year = read("greensboro")
    open_, held = condenser(demo_with({})), condenser(demo_with({}, {"circuits": "100 %"}))
    names = [
        {one.name for one in ranges([assemble(option, year)], False, 1, None, [option])}
        for option in (open_, held)
    ]
    assert names[0] - names[1] == {"share of circuits with reheat"}
    given = stated('circuits = ["90 %", "100 %"]')
    found = {one.name: one for one in ranges([assemble(held, year)], False, 1, given, [held])}
    assert found["share of circuits with reheat"].low == pytest.approx(0.9)


@pytest.mark.parametrize("lines", ["", '\n[ranges]\ncircuits = ["50 %", "100 %"]\n'])
def test_a_control_that_is_off_is_drawn_only_where_its_range_is_stated(year, lines):
    """All that are off could only be switched on: drawn, they would move the middle of the band."""
    found = sensitivity_study(case_from_text(DEMO + lines), [year], remembering(some_days), draws=1)
    circuits, fans = "share of circuits with reheat", "outdoor fans left running in reheat"
    tried = {effect.assumption for effect in found.sensitivity.effects}
    assert {circuits, fans} <= tried
    drawn = {one.name for one in found.draws.assumed}
    assert fans not in drawn
    assert (circuits in drawn) == bool(lines)
    off = left_out_of_draws(found)
    assert "state their ranges in [ranges]" in off
    assert fans in off
    assert (circuits in off) == (not lines)


def rated(ratio):
    return unit_from_ratings(
        refrigerant="R-454B",
        total_W=35_000.0,
        sensible_W=ratio * 35_000.0,
        net=False,
        rated_flow_m3_s=2000.0 * 0.47194745e-3,
        compressor_W=13_000.0,
        suction_C=-9.0,
    )


@pytest.mark.parametrize(("beyond", "capacity"), [(0.30, 0.95), (0.99, 1.05)])
def test_a_rating_at_the_end_of_what_a_coil_can_have_may_still_move(beyond, capacity):
    """A sensible heat ratio that the moved capacity cannot have becomes the nearest one it can."""
    with pytest.raises(ImpossibleRatio) as refused:
        rated(beyond)
    end = refused.value.nearest
    moved = rerated(rated(end), capacity, 1.0)
    assert moved.rated_total_W == pytest.approx(capacity * 35_000.0)
    assert moved.rated_sensible_W / moved.rated_total_W == pytest.approx(end, rel=0.05)
    assert 0.0 < moved.rated_bypass < 1.0


@pytest.mark.parametrize(
    ("values", "key"),
    [
        (Values(floor=5.0), "condensing_floor"),
        (Values(reheat_floor=5.0), "reheat_condensing_floor"),
    ],
)
def test_a_floor_ranged_is_the_floor_stated(year, values, key):
    floors = {"unit.condensing_floor": "96 degF", "unit.reheat_condensing_floor": "105 degF"}
    raised = floors | {f"unit.{key}": "105 degF" if key == "condensing_floor" else "114 degF"}
    one = some_days(changed(assemble(condenser(demo_with(floors)), year), values))
    other = some_days(assemble(condenser(demo_with(raised)), year))
    np.testing.assert_allclose(one, other, rtol=1e-9, atol=1e-9)


def test_a_longer_least_run_is_fewer_starts(year):
    """Thermostat law: the shortest run is 900 s over the highest rate."""
    unit = {"unit.re_evaporation": {"cycles_per_hour": 2.8}}
    plant = changed(assemble(condenser(demo_with(unit)), year), Values(run_time=300.0)).plant
    assert plant.cycles_per_hour == pytest.approx(900.0 / (900.0 / 2.8 + 300.0))
    assert plant.humidistat.most_per_hour == pytest.approx(900.0 / 600.0)
