"""Sunshine on tilted surfaces: pvlib with the sun where each format's irradiance stands."""

import numpy as np
import pandas as pd
import pvlib
import pytest

from dewledger.weather.errors import InputError
from dewledger.weather.files.readers import read
from dewledger.weather.physics.solar import tilted_irradiance

SURFACES = [(0, 180), (90, 0), (90, 90), (90, 180), (90, 270), (30, 200)]


@pytest.mark.published
@pytest.mark.parametrize(("tilt", "azimuth"), SURFACES)
def test_equals_pvlib_at_mid_hour(tilt, azimuth):
    # pvlib 0.16 on its own reading of the file; TMY3 is stamped at the end of the hour, so the
    # middle is half an hour earlier (pvlib's guidance for such data). Dates in 1990, not 2001.
    path = pvlib.tools.__file__.replace("tools.py", "data/723170TYA.CSV")
    frame, meta = pvlib.iotools.read_tmy3(path, coerce_year=1990, map_variables=True)
    times = frame.index - pd.Timedelta(minutes=30)
    sun = pvlib.solarposition.get_solarposition(
        times, meta["latitude"], meta["longitude"], altitude=meta["altitude"]
    )
    expected = pvlib.irradiance.get_total_irradiance(
        tilt, azimuth, sun.apparent_zenith.to_numpy(), sun.azimuth.to_numpy(),
        frame.dni.to_numpy(), frame.ghi.to_numpy(), frame.dhi.to_numpy(),
        dni_extra=pvlib.irradiance.get_extra_radiation(times.day_of_year.to_numpy()), albedo=0.2,
        model="haydavies",
    )["poa_global"]  # fmt: skip
    got = tilted_irradiance(read("greensboro"), tilt, azimuth)
    assert got.shape == (8760,)
    assert got.sum() == pytest.approx(expected.sum(), rel=1e-3)
    # the sun of another year stands up to 0.3 degrees elsewhere
    assert np.quantile(np.abs(got - expected), 0.99) < 3.0


def _closure(year, minute):
    """RMS of DNI cos(zenith) + DHI - GHI with the sun of a minute of each hour."""
    station = year.station
    times = pd.date_range("2001-01-01", periods=8760, freq="h", tz="UTC") + pd.Timedelta(
        minutes=minute - 60 * station.utc_offset_h
    )
    zenith = pvlib.solarposition.get_solarposition(
        times, station.latitude, station.longitude
    ).apparent_zenith.to_numpy()
    up = np.maximum(np.cos(np.radians(zenith)), 0.0)
    ghi, dni, dhi = (year.column(name) for name in ("ghi_Wm2", "dni_Wm2", "dhi_Wm2"))
    return np.sqrt(np.mean((dni * up + dhi - ghi) ** 2))


@pytest.mark.parametrize("name", ["greensboro", "miami", "sand-point"])
def test_irradiance_stands_for_the_middle_of_the_hour(name):
    """Global = direct on the horizontal + diffuse holds best with the sun where it belongs."""
    year = read(name)
    here = _closure(year, year.station.irradiance_minute)
    assert here < 0.8 * _closure(year, 15) < 0.8 * _closure(year, 0)
    assert here < 0.8 * _closure(year, 45) < 0.8 * _closure(year, 60)


def test_sunrise_hour_counts_once():
    """The horizontal gets the file's global irradiance, month by month, and none at night."""
    year = read("greensboro")
    flat = tilted_irradiance(year, 0, 180)
    ghi = year.column("ghi_Wm2")
    assert (flat[ghi == 0.0] < 1.0).all()
    month = year.frame["month"].to_numpy()
    for number in range(1, 13):
        here = month == number
        assert flat[here].sum() == pytest.approx(ghi[here].sum(), rel=0.01)
    # the first sunlit hour of each day: no more than the file gives, beyond rounding of a low sun
    days = ghi.reshape(365, 24)
    first = np.argmax(days > 0.0, axis=1)
    at = np.arange(365) * 24 + first
    assert flat[at].sum() == pytest.approx(ghi[at].sum(), rel=0.10)


@pytest.mark.parametrize(("tilt", "azimuth"), SURFACES)
def test_tmy3_and_epw_of_one_year_give_the_same_sunshine(tilt, azimuth, epw, write):
    """pvlib stamps the two an hour apart; here they are the same hours."""
    one = read("greensboro")
    other = read(write(epw))
    month = one.frame["month"].to_numpy()
    first, second = (tilted_irradiance(year, tilt, azimuth) for year in (one, other))
    for number in range(1, 13):
        here = month == number
        assert second[here].sum() == pytest.approx(first[here].sum(), rel=0.01)


def by_month(year, tilt, azimuth):
    month = year.frame["month"].to_numpy()
    sun = tilted_irradiance(year, tilt, azimuth)
    return np.array([sun[month == number].sum() for number in range(1, 13)])


def test_tmy2_tmy3_and_epw_of_one_year_give_the_same_sunshine(tmy2, as_tmy3, as_epw, write):
    """pvlib stamps TMY2 and EPW at the start of the hour and TMY3 at its end."""
    tmy3 = as_tmy3(tmy2)
    years = [read(write(lines)) for lines in (tmy2, tmy3, as_epw(tmy3))]
    assert [year.station.format for year in years] == ["TMY2", "TMY3", "EPW"]
    for tilt, azimuth in SURFACES:
        first, *others = (by_month(year, tilt, azimuth) for year in years)
        for other in others:
            assert other == pytest.approx(first, rel=0.01)


@pytest.mark.published
def test_south_window_on_a_clear_winter_noon(write):
    """40 N, 21 December at solar noon: pvlib's clear sky (Ineichen and Perez), put on the wall by
    hand with the declination of the solstice, -23.44 degrees.

    7.5 degrees east of the clock's meridian, 11:30 standard time is solar noon within 2 minutes.
    """
    times = pd.date_range("2001-01-01 07:30", periods=8760, freq="h", tz="UTC")
    zenith = pvlib.solarposition.get_solarposition(times, 40.0, -97.5).apparent_zenith.to_numpy()
    zenith = np.minimum(zenith, 89.9)  # below the horizon the sky is dark, not undefined
    sky = pvlib.clearsky.ineichen(
        zenith, pvlib.atmosphere.get_relative_airmass(zenith), linke_turbidity=2.5,
        dni_extra=pvlib.irradiance.get_extra_radiation(times.day_of_year.to_numpy()),
    )  # fmt: skip
    ghi, dni, dhi = (np.nan_to_num(sky[name]) for name in ("ghi", "dni", "dhi"))
    head = "temp_air_C,rh_frac,pressure_Pa,ghi_Wm2,dni_Wm2,dhi_Wm2"
    lines = [head] + [
        f"5,0.5,101325,{whole:.3f},{beam:.3f},{rest:.3f}"
        for whole, beam, rest in zip(ghi, dni, dhi, strict=True)
    ]
    site = {"latitude": 40.0, "longitude": -97.5, "utc_offset_h": -7.0, "altitude_m": 0.0}
    got = tilted_irradiance(read(write(lines), site=site), 90.0, 180.0)
    noon = 354 * 24 + 11  # 21 December, 11:00 to 12:00
    ghi, dni, dhi = ghi[noon], dni[noon], dhi[noon]
    assert dni > 700.0
    declination, latitude = np.radians(-23.44), np.radians(40.0)
    # Facing south on a wall, at solar noon, the beam stands as high above the horizon as the sun.
    height = np.pi / 2 - latitude + declination
    assert np.degrees(height) == pytest.approx(26.56)
    on_wall, up = np.cos(height), np.sin(height)
    # Hay and Davies: the share of the beam over that outside the air is circumsolar; 1413 W/m2 is
    # the solar constant of 1366 W/m2 at the solstice's distance (Spencer).
    share = dni / 1413.0
    expected = dni * on_wall + dhi * (0.5 * (1 - share) + share * on_wall / up) + 0.1 * ghi
    assert got[noon] == pytest.approx(expected, rel=0.01)
    # The hours on both sides, 15 degrees off: less, and alike.
    assert got[noon - 1] == pytest.approx(got[noon + 1], rel=0.03)
    assert got[noon - 1] < got[noon]


def test_east_wall_has_its_sun_in_the_morning():
    year = read("miami")
    hour = year.frame["hour"].to_numpy()
    east, west = (tilted_irradiance(year, 90, azimuth) for azimuth in (90, 270))
    assert east[hour < 12].sum() > 2 * east[hour >= 12].sum()
    assert west[hour >= 12].sum() > 2 * west[hour < 12].sum()
    south, north = (tilted_irradiance(year, 90, azimuth) for azimuth in (180, 0))
    assert south.sum() > north.sum()


def test_albedo_lights_a_wall():
    year = read("miami")
    black, white = (tilted_irradiance(year, 90, 180, albedo) for albedo in (0.0, 1.0))
    # half of what the ground reflects reaches a wall
    assert white.sum() - black.sum() == pytest.approx(year.column("ghi_Wm2").sum() / 2, rel=1e-6)


def test_no_irradiance_or_no_place(write):
    lines = ["temp_air_C,rh_frac,pressure_Pa", *["25,0.5,101325"] * 8760]
    with pytest.raises(InputError, match="no complete irradiance"):
        tilted_irradiance(read(write(lines)), 90, 180)
    lines = ["temp_air_C,rh_frac,pressure_Pa,ghi_Wm2,dni_Wm2,dhi_Wm2"]
    lines += ["25,0.5,101325,0,0,0"] * 8760
    with pytest.raises(InputError, match="solar gain needs the place"):
        tilted_irradiance(read(write(lines)), 90, 180)
