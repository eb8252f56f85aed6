"""What a weather year holds for drying, against published and independently computed figures."""

import numpy as np
import pytest

from dewledger.weather.bundled import PLACES, distance_km, nearest_bundled
from dewledger.weather.climate import (
    VentilationLoad,
    degree_days,
    once_through,
    summarize,
    thermal_zone,
    to_celsius,
    ventilation_load,
)
from dewledger.weather.files.readers import read

KG_PER_LB = 0.45359237
KG_S_PER_SCFM = 4.5 * KG_PER_LB / 3600.0  # 4.5 lb/h of dry air in a cfm of standard air
KW_PER_TON = 3.51685284
BTU_PER_KWH = 3412.1416


@pytest.mark.published
def test_ventilation_load_index_of_miami():
    """17.8 latent + 2.7 sensible ton-hours per cfm and year, Miami, TMY2.

    Harriman, Plager and Kosar, ASHRAE Journal, November 1997; definition from the article, the
    pair and its base (75 F, 50 %) not checked against the text. 2 %: the pair is printed to three
    and two figures, and the article's air density and base humidity are rounded.
    """
    load = summarize(read("miami")).ventilation_load
    assert load.latent_ton_h_cfm == pytest.approx(17.8, rel=0.02)
    assert load.sensible_ton_h_cfm == pytest.approx(2.7, rel=0.02)


def test_ventilation_load_of_one_hour():
    # 85 F and 100 gr/lb: 1.08 x 10 and 0.68 x 35 Btu/h per cfm; colder or drier hours count nothing
    load = ventilation_load(np.array([29.444444, 10.0]), np.array([100 / 7000, 65 / 7000]))
    assert load.sensible_ton_h_cfm == pytest.approx(10.8 / 12000)
    assert load.latent_ton_h_cfm == pytest.approx(23.8 / 12000)


# Computed beforehand with psychrolib from the same files, per scfm: coil F -> hours, ton-hours in
# all, latent, sensible, lb of condensate, kBtu of reheat to 70 and to 75 F.
ONCE_THROUGH = {
    ("miami", 55): (7782, 34.58, 18.60, 15.98, 204, 126.1, 168.1),
    ("miami", 52): (8028, 40.18, 21.74, 18.45, 238, 156.1, 199.4),
    ("greensboro", 55): (3762, 12.50, 6.36, 6.14, 70, 60.9, 81.3),
    ("greensboro", 52): (4025, 15.36, 7.95, 7.41, 87, 78.2, 100.0),
}
# Humidity ratio of saturated air at the coil and the file's mean pressure, by psychrolib 2.5.0.
SATURATED = {
    ("miami", 55): 0.0091565,
    ("miami", 52): 0.0081905,
    ("greensboro", 55): 0.0094439,
    ("greensboro", 52): 0.0084472,
}


@pytest.mark.parametrize(("name", "coil_F"), ONCE_THROUGH)
def test_once_through(name, coil_F):
    hours, total, latent, sensible, condensate, reheat_70, reheat_75 = ONCE_THROUGH[name, coil_F]
    year = read(name)
    got = once_through(year, to_celsius(coil_F), to_celsius(70))
    ton_h = KG_S_PER_SCFM / KW_PER_TON
    assert got.hours == hours
    assert got.total_kWh * ton_h == pytest.approx(total, rel=0.01)
    assert got.latent_kWh * ton_h == pytest.approx(latent, rel=0.01)
    assert got.sensible_kWh * ton_h == pytest.approx(sensible, rel=0.01)
    assert got.condensate_kg * KG_S_PER_SCFM / KG_PER_LB == pytest.approx(condensate, rel=0.01)
    # The reheat figures hold the dry air's 0.240 Btu/lb F alone; the vapor adds 0.444 W
    # (Fundamentals 2017 ch. 1 eq. 30 in I-P units), W being that of saturated air at the coil.
    moist = (0.240 + 0.444 * SATURATED[name, coil_F]) / 0.240
    for reheat_F, dry in ((70, reheat_70), (75, reheat_75)):
        reheat = once_through(year, to_celsius(coil_F), to_celsius(reheat_F)).reheat_kWh
        kbtu = reheat * KG_S_PER_SCFM * BTU_PER_KWH / 1000.0
        assert kbtu == pytest.approx(dry * moist, rel=0.01)


# Counted beforehand with pvlib and pandas from the same files.
@pytest.mark.parametrize(
    ("name", "bins", "above", "degree_hours_F", "above_75F", "mean_dew_C"),
    [
        ("miami", (24, 42, 100, 151, 186, 475, 863, 1347, 2247, 2667, 658),
         (8205, 7782, 6919, 5572, 3325, 658), 29468, 5550, 18.783),
        ("greensboro", (1778, 725, 794, 615, 506, 580, 752, 1252, 1284, 432, 42),
         (4232, 3762, 3010, 1758, 474, 42), 9968, 1643, 8.180),
    ],
)  # fmt: skip
def test_counts(name, bins, above, degree_hours_F, above_75F, mean_dew_C):
    summary = summarize(read(name))
    assert tuple(part.hours for part in summary.dew_point_bins) == bins
    assert summary.dew_point_bins[0].low_C is None
    assert summary.dew_point_bins[1].low_C == pytest.approx(to_celsius(30))
    assert summary.dew_point_bins[-1].high_C == pytest.approx(to_celsius(80))
    assert tuple(part.hours for part in summary.hours_above) == above
    assert summary.cooling_degree_hours_K_h * 1.8 == pytest.approx(degree_hours_F, abs=1.0)
    assert summary.hours_above_base == above_75F
    assert summary.dew_point_C.mean == pytest.approx(mean_dew_C, abs=5e-4)


def test_design_dew_points_are_ranks(tmp_path):
    # dew points 0.001, 0.002, ... 8.760 C in a scrambled order: the 35th highest is 8.726 C
    hour = np.arange(8760)
    dew = (hour * 7919 % 8760 + 1) / 1000.0
    path = tmp_path / "ranks.csv"
    rows = "\n".join(f"{10 + value:.3f},{value:.3f},101325" for value in dew)
    path.write_text(f"temp_air_C,temp_dew_C,pressure_Pa\n{rows}\n")
    points = summarize(read(path)).design_dew_points
    assert [point.percent for point in points] == [0.4, 1.0, 2.0]
    assert [point.dew_point_C for point in points] == pytest.approx([8.726, 8.673, 8.586])
    # dry bulb is the dew point plus 10: hours within 0.5 K, cut off at the highest, average
    # (8.226 + 8.760) / 2 + 10
    assert points[0].mean_coincident_dry_bulb_C == pytest.approx(18.493, abs=2e-3)
    # psychrolib 2.5.0 at 8.726 C and 101325 Pa
    assert points[0].hum_ratio == pytest.approx(0.006995695, rel=1e-6)
    assert {point.source for point in points} == {"of this year of weather"}


def test_stated_design_point_is_kept_apart(epw, write):
    cooling = ["0"] * 16 + ["25.5", "20.8", "28.3", "25.0", "20.2", "28.1", "24.6", "19.7", "27.9"]
    epw[1] = "DESIGN CONDITIONS,1,x,,Heating,1,Cooling," + ",".join(cooling)
    summary = summarize(read(write(epw)))
    assert summary.stated_dew_points[0].dew_point_C == 25.5
    assert summary.stated_dew_points[0].source == "stated in the file"
    assert summary.design_dew_points[0].dew_point_C == pytest.approx(23.9)


def test_missing_data_report(tmy3, write):
    for hour in (10, 11):
        fields = tmy3[2 + hour].split(",")
        fields[31] = "-9900"
        tmy3[2 + hour] = ",".join(fields)
    missing = summarize(read(write(tmy3))).missing
    assert [(f.check, f.column, f.count) for f in missing] == [("gap", "temp_air_C", 2)]
    assert summarize(read("miami")).missing == ()


def test_cold_dry_climate_has_a_bin(tmp_path):
    path = tmp_path / "cold.csv"
    path.write_text("temp_air_C,temp_dew_C,pressure_Pa\n" + "-20,-30,101325\n" * 8760)
    summary = summarize(read(path))
    assert [part.hours for part in summary.dew_point_bins] == [8760, 0]
    assert summary.ventilation_load == VentilationLoad(0.0, 0.0)
    assert summary.cooling_degree_hours_K_h == 0.0


@pytest.mark.parametrize(
    ("cooling", "heating", "zone"),
    [
        (6001, 0, 0), (6000, 0, 1), (5001, 0, 1), (5000, 0, 2), (3501, 900, 2), (3500, 2000, 3),
        (1000, 2001, 4), (1000, 3001, 5), (900, 4001, 6), (500, 5001, 7), (100, 7000, 7),
        (100, 7001, 8),
    ],
)  # fmt: skip
def test_thermal_zones(cooling, heating, zone):
    """Thresholds of ANSI/ASHRAE 169-2013, not checked against the text."""
    assert thermal_zone(cooling, heating) == zone


def test_degree_days_by_hand():
    """A year of days at 30 C by day and 10 C by night has 10 C-days above 10 C in each."""
    days = np.tile(np.repeat([30.0, 10.0], 12), 365)
    assert degree_days(days) == pytest.approx((3650.0, 0.0))
    assert degree_days(np.full(8760, 8.0)) == pytest.approx((0.0, 3650.0))


@pytest.mark.parametrize(("station", "zone"), [("miami", 1), ("greensboro", 4)])
def test_zones_of_bundled_stations(station, zone):
    """Miami is the standard's own example of zone 1A, Greensboro lies where 3 and 4 meet."""
    assert summarize(read(station)).thermal_zone == zone


def test_places_of_bundled_stations_are_their_files():
    for name, place in PLACES.items():
        station = read(name).station
        assert place == pytest.approx((station.latitude, station.longitude), abs=1e-4)
    assert nearest_bundled(36.0, -80.0)[0] == "greensboro"
    # a degree of a great circle on a sphere of 6371 km
    assert distance_km((0, 179.5), (0, -179.5)) == pytest.approx(111.195, abs=0.001)
