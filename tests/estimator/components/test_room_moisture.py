"""Pool evaporation against the handbook formula's worked figure; plants return their water."""

import numpy as np
import pytest

from dewledger.assembly.calendar import year_calendar
from dewledger.assembly.gains import hourly_gains
from dewledger.case import bundled_case
from dewledger.components.room_moisture import (
    HEAT_OF_TRANSPIRATION_J_KG,
    pool_evaporation,
    transpiration,
)

LB_H = 0.45359237 / 3600.0


@pytest.mark.published
def test_pool_of_a_thousand_square_feet():
    """1,000 ft2 of 82 F water under air of 84 F and 55 %: 0.1 A dp = 45.6 lb/h at factor 1
    (ASHRAE Handbook - HVAC Applications, natatoriums, formula read second-hand; the figure worked
    out by hand from steam tables)."""
    water, air = (82.0 - 32.0) / 1.8, (84.0 - 32.0) / 1.8
    found = pool_evaporation(92.90304, water, air, 0.55, 1.0)
    assert found / LB_H == pytest.approx(45.6, rel=0.005)


def test_no_water_rises_into_air_damper_than_the_surface():
    assert pool_evaporation(100.0, 20.0, 30.0, 0.95, 1.0) == 0.0


@pytest.mark.parametrize("hours_of_light", [0, 12, 18, 24])
def test_plants_give_back_their_irrigation_over_the_year(hours_of_light):
    """Within 0.1 % of irrigation x share, whatever the lights do."""
    light = np.tile((np.arange(24) < hours_of_light).astype(float), 365)
    vapor = transpiration(0.01, 0.9, 0.3, light)
    assert vapor.sum() / 8760 == pytest.approx(0.009, rel=1e-3)
    if 0 < hours_of_light < 24:
        assert vapor[light == 0].sum() / vapor.sum() == pytest.approx(0.3)


def test_in_a_case_the_vapor_takes_its_heat_from_the_air():
    case = bundled_case("rooftop").with_values(
        {"loads.plants": {"irrigation": "100 gal/day", "returned": "90 %"}}
    )
    plain = bundled_case("rooftop")
    calendar = year_calendar(plain.schedule, plain.site.calendar_year)
    before, after = hourly_gains(plain, calendar), hourly_gains(case, calendar)
    vapor = after.moisture_kg_s - before.moisture_kg_s
    # 100 gal is 378.5 L, 377.8 kg, of which 90 % come back: 340 kg a day.
    assert vapor.sum() * 3600 / 365 == pytest.approx(340.0, rel=1e-3)
    taken = before.sensible_W - after.sensible_W
    assert taken == pytest.approx(vapor * HEAT_OF_TRANSPIRATION_J_KG)


def test_a_pool_in_a_case():
    case = bundled_case("rooftop").with_values({"loads.pool": {"area": "500 ft2"}})
    plain = bundled_case("rooftop")
    calendar = year_calendar(plain.schedule, plain.site.calendar_year)
    vapor = hourly_gains(case, calendar).moisture_kg_s - hourly_gains(plain, calendar).moisture_kg_s
    assert vapor.min() > 0.0
    assert vapor.min() / vapor.max() == pytest.approx(0.74)
