"""Rating arithmetic on units simple enough to work by hand."""

import numpy as np
import pytest

from dewledger.codes.rating_standards import (
    BTU_H_PER_W,
    Capacity,
    Running,
    compare,
    cycling_eer,
    efficiency_rating,
    moisture_rating,
    year_efficiency,
)
from dewledger.data.rating_standards import standards
from dewledger.weather.physics.moist_air import saturation_hum_ratio

DEW_55_F = (55.0 - 32.0) / 1.8
MONTH = np.repeat(np.arange(1, 13), np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]) * 24)


def cooler(outdoor_C, entering_C, entering_wet_bulb_C, frac):
    """10.5 kW gross and 2.5 kW of compressor at full displacement, whatever the weather."""
    assert entering_C == pytest.approx(80 / 1.8 - 32 / 1.8)
    assert entering_wet_bulb_C == pytest.approx(35 / 1.8)
    return Running(
        total_W=10_500.0 * frac,
        compressor_W=2_300.0 * frac,
        condenser_fan_W=200.0 * frac,
        fan_W=500.0,
        supply_temp_C=12.0,
        supply_hum_ratio=0.0085,
        flow_kg_s=0.6,
    )


def test_ieer_of_a_cycling_unit_by_hand():
    # AHRI 340/360. Net 10,000 W. At load factor LF: EER = 3.412142 x LF x 10000 /
    # (LF x (1.13 - 0.13 LF) x 2500 + 500).
    # LF 1:    34121.42 / 3000                    = 11.37381
    # LF 0.75: CD 1.0325; 25591.06 / (1935.94+500) = 10.50563
    # LF 0.5:  CD 1.065;  17060.71 / (1331.25+500) = 9.31643
    # LF 0.25: CD 1.0975; 8530.35 / (685.94+500)   = 7.19292
    # IEER = 0.020 A + 0.617 B + 0.238 C + 0.125 D = 0.22748 + 6.48197 + 2.21731 + 0.89912
    found = efficiency_rating(cooler, Capacity())
    eers = [point.eer for point in found.points]
    assert eers == pytest.approx([11.37381, 10.50563, 9.31643, 7.19292], abs=2e-4)
    assert [point.load_factor for point in found.points] == pytest.approx([1.0, 0.75, 0.5, 0.25])
    assert found.full_load_eer == pytest.approx(11.37381, abs=2e-4)
    assert found.ieer == pytest.approx(9.82588, abs=5e-4)
    assert found.net_capacity_W == pytest.approx(10_000.0)
    assert found.label == "modeled, not certified"


def test_ieer_of_a_continuous_unit_by_hand():
    # Set exactly to each load: net 10500 f - 500 = load, so f = 1, 8000/10500, 5500/10500,
    # 3000/10500, of power 2500 f + 500. EER = 3.412142 x load / power:
    # 11.37381; 25591.06/2404.76 = 10.64183; 17060.71/1809.52 = 9.42829; 8530.35/1214.29 = 7.02498.
    found = efficiency_rating(cooler, Capacity(steps=(0.2, 1.0), continuous=True))
    assert [point.eer for point in found.points] == pytest.approx(
        [11.37381, 10.64183, 9.42829, 7.02498], abs=2e-4
    )
    assert [point.capacity_frac for point in found.points] == pytest.approx(
        [1.0, 8000 / 10500, 5500 / 10500, 3000 / 10500], abs=1e-6
    )
    assert found.ieer == pytest.approx(
        0.020 * 11.37381 + 0.617 * 10.64183 + 0.238 * 9.42829 + 0.125 * 7.02498, abs=5e-4
    )


def test_ieer_between_steps_is_interpolated():
    # Steps 0.5 (net 4750, power 1750) and 1 (net 10000, power 3000): EER 9.26153 and 11.37381.
    # 75 % load is (7500 - 4750)/5250 = 0.52381 of the way: 10.36796. 50 %: (5000-4750)/5250 =
    # 0.047619: 9.36211. 25 % is below the lowest step: LF = 2500/4750 = 0.526316, CD = 1.061579,
    # 3.412142 x 2500 / (0.526316 x 1.061579 x 1250 + 500) = 8530.35/1198.41 = 7.11807.
    found = efficiency_rating(cooler, Capacity(steps=(0.5, 1.0)))
    assert [point.eer for point in found.points] == pytest.approx(
        [11.37381, 10.36796, 9.36211, 7.11807], abs=3e-4
    )


def test_controls_power_counts():
    running = cooler(35.0, 80 / 1.8 - 32 / 1.8, 35 / 1.8, 1.0)
    assert cycling_eer(running, 1.0, 100.0) == pytest.approx(BTU_H_PER_W * 10_000 / 3_100)


def outdoor_air_unit(reheat_W=0.0):
    def unit(outdoor_C, entering_C, entering_wet_bulb_C, frac):
        assert entering_C == outdoor_C
        # Supply dew point falls with capacity: 55 F at half displacement, 53 F at full.
        dew = DEW_55_F + (0.5 - frac) * 4.0 / 1.8
        return Running(
            total_W=30_000.0 * frac,
            compressor_W=8_000.0 * frac,
            condenser_fan_W=0.0,
            fan_W=1_000.0,
            supply_temp_C=dew,
            supply_hum_ratio=saturation_hum_ratio(dew, 101325.0),
            flow_kg_s=1.0,
            reheat_W=reheat_W,
        )

    return unit


def test_ismre2_by_hand():
    # AHRI 920-2020. Water saturates at 55 F at 0.2140 psia (steam tables, not checked against the
    # text), so W = 0.621945 x 0.2140 / (14.696 - 0.2140) = 0.009191 or 64.33 gr/lb (ideal gas;
    # tables of moist air, with an enhancement factor, are 0.4 % higher). Entering 117.36, 110.98,
    # 89.32, 68.07 gr/lb. At half displacement power is 4 + 1 = 5 kW for 1 kg/s of dry air, 7936.64
    # lb/h. MRC = 7936.64 x (W entering - 64.33)/7000 = 60.13, 52.89, 28.33, 4.24 lb/h MRE = MRC/5 =
    # 12.03, 10.58, 5.67, 0.85 ISMRE2 = 0.14 x 12.03 + 0.34 x 10.58 + 0.39 x 5.67 + 0.13 x 0.85 =
    # 7.60 lb/kWh.
    found = moisture_rating(outdoor_air_unit(), Capacity((0.2, 1.0), continuous=True), "ISMRE2")
    assert [point.capacity_frac for point in found.points] == pytest.approx([0.5] * 4, abs=1e-6)
    removal = [point.removal_lb_h for point in found.points]
    assert removal == pytest.approx([60.13, 52.89, 28.33, 4.24], abs=0.06)
    assert found.value == pytest.approx(7.60, abs=0.015)
    assert [point.supplementary_W for point in found.points] == [0.0] * 4
    assert "modeled, not certified" in found.sentence


def test_supply_at_70_F_costs_supplementary_heat():
    # From 55 to 70 F with 1 kg/s: (1006 + 1860 x 0.00923) x 8.333 K = 8,526 W. Without condenser
    # heat the power is 5,000 + 8,526 W; with 5 kW of it 5,000 + 3,526; with 20 kW just 5,000.
    capacity = Capacity((0.2, 1.0), continuous=True)
    for reheat, purchased in ((0.0, 8526.0), (5000.0, 3526.0), (20_000.0, 0.0)):
        found = moisture_rating(outdoor_air_unit(reheat), capacity, "ISMRE2-70")
        for point in found.points:
            assert point.supplementary_W == pytest.approx(purchased, abs=3.0)
            assert 1.8 * point.supply_temp_C + 32 == pytest.approx(70.0)
        cold = moisture_rating(outdoor_air_unit(), capacity, "ISMRE2").value
        assert found.value == pytest.approx(cold * 5000.0 / (5000.0 + purchased), rel=1e-3)


def test_steps_take_the_first_that_is_dry_enough():
    found = moisture_rating(outdoor_air_unit(), Capacity((0.4, 0.6, 1.0)), "ISMRE")
    assert {point.capacity_frac for point in found.points} == {0.6}
    drier = moisture_rating(outdoor_air_unit(), Capacity((0.8, 1.0), continuous=True), "ISMRE")
    assert {point.capacity_frac for point in drier.points} == {0.8}


def test_a_supply_too_humid_gives_no_rating():
    def unit(*state):
        wet = outdoor_air_unit()(*state)
        return Running(
            **{
                **wet.__dict__,
                "supply_hum_ratio": saturation_hum_ratio(58 / 1.8 - 32 / 1.8, 101325),
            }
        )

    found = moisture_rating(unit, Capacity(), "ISMRE2")
    assert found.value is None
    assert "58.0 °F where 55 °F is allowed (condition A, B, C, D)" in found.sentence


def test_comparison_sentence():
    (short,) = compare("ISMRE2", 3.5, 50_000.0)
    assert not short.reached
    assert "is 0.30 short of 3.8" in short.sentence
    (reached,) = compare("ISMRE2", 3.8, 50_000.0)
    assert reached.reached
    assert "modeled, not certified" in reached.sentence


def test_weights_of_every_standard_sum_to_one():
    for standard in standards().values():
        assert sum(point.weight for point in standard.points) == pytest.approx(1.0)


def test_capacity_steps_must_ascend_to_one():
    for steps in ((), (0.5,), (1.0, 0.5), (0.0, 1.0)):
        with pytest.raises(ValueError, match="ascend"):
            Capacity(steps)


def test_year_efficiency_by_month():
    # 1 kg and 0.5 kWh an hour in July: 2.20462 lb / 0.5 kWh = 4.409; fans alone elsewhere in
    # summer; nothing runs in January.
    july = MONTH == 7
    condensate = np.where(july, 1.0, 0.0)
    energy = np.where(july, 0.5, np.where(MONTH == 1, 0.0, 0.1))
    found = year_efficiency(condensate, energy, MONTH)
    assert found.monthly_lb_kWh[6] == pytest.approx(4.40925, abs=1e-4)
    assert found.monthly_lb_kWh[0] is None
    assert found.monthly_lb_kWh[5] == 0.0
    # 744 x 2.20462 lb over 372 + 0.1 x (8760 - 744 - 744) = 1099.2 kWh.
    assert found.annual_lb_kWh == pytest.approx(744 * 2.20462 / 1099.2, rel=1e-5)
