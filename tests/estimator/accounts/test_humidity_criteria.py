"""Humidity ranges, criteria and mold on synthetic years worked by hand."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dewledger.accounts.humidity_criteria import (
    RoomAir,
    evaluate,
    longest_spell,
    moisture_beyond,
    mold,
    out_of_range,
    running_mean,
    spells,
    surface_temp_from_factor,
)
from dewledger.data.humidity_criteria import Criterion, criteria, criterion
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import hum_ratio_from_rel_hum, saturation_hum_ratio
from dewledger.weather.physics.moist_air_arrays import rel_hums_from_hum_ratio

P = 101325.0
HOURS = 8760
DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
MONTH = np.repeat(np.arange(1, 13), DAYS * 24)
PRESSURE = np.full(HOURS, P)
OFFICE = np.tile(np.arange(24), 365)
OCCUPIED = (OFFICE >= 8) & (OFFICE < 18)
JULY = MONTH == 7


def humid(temp_C, rh):
    """Humidity ratios of a year at one temperature."""
    rh = np.broadcast_to(rh, HOURS)
    table = {value: hum_ratio_from_rel_hum(temp_C, value, P) for value in np.unique(rh)}
    return np.array([table[value] for value in rh])


def room_air(temp, w):
    return RoomAir(temp, w, rel_hums_from_hum_ratio(temp, w, PRESSURE), PRESSURE)


def judge(limits, temp_C, rh, **more):
    temp = np.full(HOURS, temp_C)
    return evaluate(limits, room_air(temp, humid(temp_C, rh)), OCCUPIED, MONTH, **more)


def test_range_ends_belong_to_the_range():
    rh = np.array([0.399, 0.40, 0.50, 0.55, 0.551])
    above, below = out_of_range(rh, 0.40, 0.55)
    assert above.tolist() == [False, False, False, False, True]
    assert below.tolist() == [True, False, False, False, False]


def test_spells_by_hand():
    mask = np.array([1, 1, 0, 1, 0, 0, 1, 1, 1], dtype=bool)
    starts, lengths = spells(mask)
    assert starts.tolist() == [0, 3, 6]
    assert lengths.tolist() == [2, 1, 3]
    assert longest_spell(mask) == 3
    assert longest_spell(np.zeros(5, dtype=bool)) == 0
    assert longest_spell(np.zeros(0, dtype=bool)) == 0


@given(st.lists(st.booleans(), max_size=200))
def test_spells_hold_every_hour_once(bits):
    mask = np.array(bits, dtype=bool)
    starts, lengths = spells(mask)
    assert lengths.sum() == mask.sum()
    for start, length in zip(starts, lengths, strict=True):
        assert mask[start : start + length].all()
        assert start == 0 or not mask[start - 1]
    runs = "".join("1" if bit else "0" for bit in bits).split("0")
    assert longest_spell(mask) == max(len(run) for run in runs)


def test_gram_hours_are_humidity_ratio_beyond_the_limit():
    # Two hours at 1 g/kg above the upper end, one at 2 g/kg below the lower, one within.
    top = hum_ratio_from_rel_hum(24.0, 0.60, P)
    bottom = hum_ratio_from_rel_hum(24.0, 0.40, P)
    w = np.array([top + 0.001, top + 0.001, bottom - 0.002, 0.5 * (top + bottom)])
    air = np.array([1.0, 1.0, 0.5, 1.0])
    over, under, water = moisture_beyond(np.full(4, 24.0), w, np.full(4, P), air, 0.40, 0.60)
    assert over == pytest.approx(2.0, abs=1e-9)
    assert under == pytest.approx(2.0, abs=1e-9)
    # 0.5 kg/s of outdoor air for an hour that lacks 2 g/kg.
    assert water == pytest.approx(0.5 * 3600.0 * 0.002, abs=1e-9)


def test_a_humid_july_by_hand():
    found = judge(
        Criterion("own", "Own", "relative humidity", 0.40, 0.60), 24.0, np.where(JULY, 0.70, 0.50)
    )
    assert (found.hours_above, found.hours_below, found.hours_out) == (744, 0, 744)
    assert found.hours_out_occupied == 31 * 10
    assert found.hours_out_unoccupied == 31 * 14
    assert found.longest_spell_h == 744
    assert found.spell_start_hour == found.worst_hour == 181 * 24
    assert found.by_season == {"Dec-Feb": 0, "Mar-May": 0, "Jun-Aug": 744, "Sep-Nov": 0}
    assert found.by_month[6] == 744
    assert found.worst_excess == pytest.approx(0.10)
    assert found.excess_hours == pytest.approx(74.4)
    step = hum_ratio_from_rel_hum(24.0, 0.70, P) - hum_ratio_from_rel_hum(24.0, 0.60, P)
    assert found.gram_hours_above == pytest.approx(744 * 1000 * step)
    assert found.gram_hours_below == 0.0
    assert found.hours_too_warm is None
    assert not found.met


def test_occupied_hours_alone_are_judged_for_comfort():
    temp = np.full(HOURS, 24.0)
    w = np.where(OCCUPIED, 0.012, 0.014)
    found = evaluate(criterion("comfort"), room_air(temp, w), OCCUPIED, MONTH)
    assert found.met
    assert found.hours_judged == 3650
    w = np.where(OCCUPIED, 0.0121, 0.0)
    found = evaluate(criterion("comfort"), room_air(temp, w), OCCUPIED, MONTH)
    assert found.hours_above == 3650
    assert found.longest_spell_h == 10
    assert found.gram_hours_above == pytest.approx(365.0)


def test_dew_point_limit_unoccupied_too():
    temp = np.full(HOURS, 24.0)
    limit = (60.0 - 32.0) / 1.8
    w = np.full(HOURS, saturation_hum_ratio(limit, P))
    rule = criterion("ventilation-2022")
    # The limit binds while the outdoor dew point is above 60 F: here in the first 3,000 hours.
    outdoor = np.where(np.arange(HOURS) < 3000, limit + 2.0, limit)
    assert evaluate(rule, room_air(temp, w), OCCUPIED, MONTH, outdoor).met
    w[~OCCUPIED] = saturation_hum_ratio(limit + 1.0, P)
    found = evaluate(rule, room_air(temp, w), OCCUPIED, MONTH, outdoor)
    assert (found.hours_out_occupied, found.hours_out_unoccupied) == (0, 5110)
    assert found.hours_out_bound == (~OCCUPIED[:3000]).sum()
    assert found.hours_out_bound + found.hours_out_unbound == found.hours_out == 5110
    assert not found.met
    assert found.worst_excess == pytest.approx(1.0, abs=1e-6)


def test_design_point_hours():
    rule = criterion("ventilation-2016")
    dew = np.arange(HOURS) / 400.0  # rises all year: its 35 highest are the last 35
    rh = np.where(np.arange(HOURS) >= HOURS - 20, 0.70, 0.60)
    found = judge(rule, 24.0, rh, outdoor_dew_C=dew)
    assert found.hours_judged == 35
    assert found.hours_above == 20
    assert "35 hours" in found.judged_in
    found = judge(rule, 24.0, rh, outdoor_dew_C=dew, design_dew_C=dew[-10])
    assert found.hours_judged == found.hours_above == 10
    # A design dew point the year never reaches falls back on the year's own highest hours.
    found = judge(rule, 24.0, rh, outdoor_dew_C=dew, design_dew_C=30.0)
    assert found.hours_judged == 35
    with pytest.raises(InputError, match="needs the outdoor dew point"):
        judge(rule, 24.0, rh)


def test_seasonal_drift_follows_up_to_its_limit():
    # A room that swings slowly from 42 to 58 % RH: within A1 (50 +/- 5, drifting by up to 10) but
    # out of AA (no drift). A slow swing from 30 to 70 is out of both.
    year = 2 * np.pi * np.arange(HOURS) / HOURS
    slow = np.round(0.50 + 0.08 * np.sin(year), 4)
    assert judge(criterion("museum-A1"), 21.0, slow).met
    assert not judge(criterion("museum-AA"), 21.0, slow).met
    wide = np.round(0.50 + 0.20 * np.sin(year), 4)
    assert not judge(criterion("museum-A1"), 21.0, wide).met
    # A sudden week 6 points off a steady mean is not seasonal.
    sudden = np.full(HOURS, 0.50)
    sudden[4000:4024] = 0.56
    found = judge(criterion("museum-A1"), 21.0, sudden)
    assert found.hours_above == 24


def test_temperature_limits_are_counted_apart():
    temp = np.full(HOURS, 22.0)
    temp[:100] = 24.5  # above 75 F
    temp[100:130] = 19.0  # below 68 F
    w = np.full(HOURS, hum_ratio_from_rel_hum(22.0, 0.40, P))
    found = evaluate(criterion("operating-room"), room_air(temp, w), OCCUPIED, MONTH)
    assert found.hours_out == 0
    assert (found.hours_too_warm, found.hours_too_cold) == (100, 30)
    assert not found.met


def test_the_pages_name_every_published_criterion():
    text = (Path(__file__).parents[3] / "docs" / "codes.md").read_text(encoding="utf-8")
    for key in criteria():
        assert f"`{key}`" in text, key


def test_bad_criteria():
    with pytest.raises(InputError, match='did you mean "museum-AA"'):
        criterion("museum-AAA")
    with pytest.raises(InputError, match="no limit"):
        Criterion("own", "Own", "dew point", None, None)
    with pytest.raises(InputError, match="low limit at or above"):
        Criterion("own", "Own", "relative humidity", 0.6, 0.4)
    with pytest.raises(InputError, match="both a low"):
        Criterion("own", "Own", "relative humidity", None, 0.4, seasonal_drift=0.1)


def test_running_mean_by_hand():
    values = np.array([1.0, 2.0, 3.0, 4.0, 5.0, 6.0])
    # Trailing over a circle: the first hour is averaged with the last two.
    assert running_mean(values, 3, centered=False) == pytest.approx(
        [(5 + 6 + 1) / 3, (6 + 1 + 2) / 3, 2.0, 3.0, 4.0, 5.0]
    )
    assert running_mean(values, 3, centered=True) == pytest.approx(
        [(6 + 1 + 2) / 3, 2.0, 3.0, 4.0, 5.0, (5 + 6 + 1) / 3]
    )
    assert running_mean(values, 99, centered=False) == pytest.approx(np.full(6, 3.5))


def test_mold_by_hand_on_a_wet_spell():
    # A 15 C surface at 70 % RH but for 40 days at 90 %, from hour 1000. A 720 h mean with n wet
    # hours is 0.70 + 0.20 n/720: 0.80 at n = 360. It is at or above that from 360 wet hours
    # (last hour 1359) until 360 are left: the window of hour h holds wet hours h-719..1959, so
    # h = 1959 + 360 = 2319. Hours 1359..2319 make 961; the mean peaks at 0.90 from hour 1719.
    temp = np.full(HOURS, 15.0)
    rh = np.full(HOURS, 0.70)
    rh[1000:1960] = 0.90
    w = humid(15.0, rh)
    found = mold(temp, np.full(HOURS, 22.0), w, PRESSURE, MONTH)
    assert not found.met
    assert found.hours_at_risk == found.longest_spell_h == 961
    assert found.worst_mean_rh == pytest.approx(0.90, abs=1e-6)
    assert 1719 <= found.worst_hour <= 1959
    assert sum(found.by_month) == 961
    assert found.hours_condensing == 0
    # 14 days of the same are not enough: 336 wet hours make 0.793.
    rh[1336:] = 0.70
    found = mold(15.0, np.full(HOURS, 22.0), humid(15.0, rh), PRESSURE, MONTH)
    assert found.met
    assert found.worst_mean_rh == pytest.approx(0.70 + 0.20 * 336 / 720, abs=1e-6)


def test_mold_needs_warmth():
    found = mold(2.0, np.full(HOURS, 20.0), humid(2.0, 0.95), PRESSURE, MONTH)
    assert found.met
    assert found.worst_mean_rh is None
    assert found.worst_hour is None


def test_condensation_is_counted_and_capped():
    temp = np.full(HOURS, 22.0)
    found = mold(10.0, temp, humid(22.0, 0.60), PRESSURE, MONTH)  # dew point 13.9 C
    assert found.hours_condensing == HOURS
    assert found.worst_mean_rh == pytest.approx(1.0)


def test_surface_factor():
    room, outdoor = np.array([20.0]), np.array([0.0])
    assert surface_temp_from_factor(room, outdoor, 0.75) == pytest.approx([15.0])
    assert surface_temp_from_factor(room, outdoor, 1.0) == pytest.approx([20.0])
    assert surface_temp_from_factor(room, outdoor, 0.0) == pytest.approx([0.0])
    with pytest.raises(InputError, match="between 0"):
        surface_temp_from_factor(room, outdoor, 1.2)
