"""Real files, some of them awkward; read from the folder that DEWLEDGER_WEATHER_FILES names.

Expected figures were taken from the files with pvlib and pandas: hours with a dew point above 55 F
and highest dew point [C], mean pressure [mbar].
"""

import os
from pathlib import Path

import numpy as np
import pytest

from dewledger.weather.climate import summarize
from dewledger.weather.errors import InputError
from dewledger.weather.files.readers import read
from dewledger.weather.physics.solar import tilted_irradiance

FOLDER = os.environ.get("DEWLEDGER_WEATHER_FILES")
pytestmark = [
    pytest.mark.wide,
    pytest.mark.skipif(not FOLDER, reason="DEWLEDGER_WEATHER_FILES is not set"),
]

# file -> format, UTC offset, mean dry bulb C, hours with dew point > 55 F, highest C, mean mbar,
# findings that must be there
FILES = {
    "722430TYA.CSV": ("TMY3", -6, 20.4, 5880, 26.1, 1014, set()),
    "722190TYA.CSV": ("TMY3", -5, 16.7, 4061, 23.9, 982, set()),
    "722780TYA.CSV": ("TMY3", -7, 23.8, 1447, 23.3, 974, set()),
    "725300TYA.CSV": ("TMY3", -6, 10.0, 2518, 25.6, 992, set()),
    "725650TYA.CSV": ("TMY3", -7, 10.9, 410, 17.2, 835, set()),
    # 1156 h as the file has it; clipping to the dry bulb leaves fewer
    "723940TYA.CSV": ("TMY3", -8, 13.4, None, 15.8, 1008,
                      {"dew point above dry bulb", "unchanging dew point", "humidity disagrees"}),
    "tmy_data_mcmaster.csv": ("PVGIS TMY", -6, 9.9, 2225, 23.9, 993,
                              {"zone assumed", "dew point derived"}),
    "GBR_ENG_London.City.AP.037683_TMYx.2007-2021.epw": ("EPW", 0, 12.3, 1106, 19.0, 1013, set()),
    "psm3_demo.csv": ("NSRDB CSV", -7, 9.3, 84, 15.0, None, {"pressure missing"}),
    "Ithaca_2020.epw": ("EPW", -5, 10.2, 2506, 23.8, 991, {"leap day", "pressure unit"}),
    # the two half-hours of 77 h (weighed by a half) are averaged first
    "test_read_psm3.csv": ("NSRDB CSV", -7, 8.1, 77, None, 788, {"sub-hourly rows"}),
}  # fmt: skip


def path(name):
    found = Path(FOLDER) / name
    if not found.exists():
        pytest.skip(f"{name} is not in the folder")
    return found


@pytest.mark.parametrize("name", FILES)
def test_real_file(name):
    form, offset, mean_C, wet_hours, most_C, mbar, expected = FILES[name]
    year = read(path(name))
    frame = year.frame
    assert not frame.isna().any(axis=None)
    assert (year.station.format, year.station.utc_offset_h) == (form, offset)
    assert frame.temp_air_C.mean() == pytest.approx(mean_C, abs=0.06)
    summary = summarize(year)
    if wet_hours is not None:
        assert summary.hours_above[1].hours == pytest.approx(wet_hours, abs=3)
    if most_C is not None:
        assert summary.dew_point_C.maximum == pytest.approx(most_C, abs=0.06)
    if mbar is not None:
        assert frame.pressure_Pa.mean() / 100 == pytest.approx(mbar, abs=0.6)
    assert expected <= {finding.check for finding in year.findings}
    assert (frame.temp_dew_C <= frame.temp_air_C).all()
    assert (frame.wet_bulb_C <= frame.temp_air_C + 1e-9).all()
    assert sum(part.hours for part in summary.dew_point_bins) == 8760
    flat = tilted_irradiance(year, 0, 180)
    assert flat.sum() == pytest.approx(frame.ghi_Wm2.sum(), rel=0.03)


def test_santa_maria_counts():
    findings = {finding.check: finding for finding in read(path("723940TYA.CSV")).findings}
    above = findings["dew point above dry bulb"]
    assert above.count == 182
    assert "8.3 K" in above.sentence
    assert "86 %" in above.sentence
    assert "67 h" in findings["unchanging dew point"].sentence


def test_999_mbar_hours_are_kept():
    assert (read(path("725300TYA.CSV")).column("pressure_Pa") == 99900.0).sum() == 246
    assert (read(path("722190TYA.CSV")).column("pressure_Pa") == 99900.0).sum() == 10


def test_london_states_its_design_dew_point():
    year = read(path("GBR_ENG_London.City.AP.037683_TMYx.2007-2021.epw"))
    assert year.station.dehumidification_dew_point_C == 17.2
    assert year.station.stated_design(0.4).hum_ratio == pytest.approx(0.0123)
    assert year.station.longitude == 0.055
    # a typical year is near the long record it was drawn from
    assert summarize(year).design_dew_points[0].dew_point_C == pytest.approx(17.2, abs=1.0)


@pytest.mark.published
def test_houston_is_near_its_published_design_dew_point():
    # 2009 climatic design data: dew point 25.5 C, 20.8 g/kg, mean coincident dry bulb 28.3 C
    point = summarize(read(path("722430TYA.CSV"))).design_dew_points[0]
    assert point.dew_point_C == pytest.approx(25.5, abs=0.6)
    assert point.hum_ratio == pytest.approx(0.0208, rel=0.04)
    assert point.mean_coincident_dry_bulb_C == pytest.approx(28.3, abs=1.0)


def test_file_without_temperature_is_refused():
    with pytest.raises(InputError, match="no dry-bulb temperature and no humidity"):
        read(path("test_psm4_polar_tmy_2023.csv"))


def test_index_is_refused():
    with pytest.raises(InputError, match="format is not known"):
        read(path("INDEX.md"))


def test_irradiance_of_pvgis_stands_at_the_stamp():
    year = read(path("tmy_data_mcmaster.csv"))
    assert year.station.irradiance_minute == 0.0
    assert np.ptp(year.frame.hour[year.column("ghi_Wm2") > 0]) < 20


@pytest.mark.parametrize("name", [name for name in FILES if FILES[name][0] == "TMY3"])
def test_labels_of_tmy3_and_epw_give_the_same_sunshine(name, as_epw, write):
    """The hours of a real TMY3, stamped at the end of the hour, in an EPW, stamped as it is."""
    lines = path(name).read_text(encoding="utf-8-sig").splitlines()
    one, other = read(path(name)), read(write(as_epw(lines)))
    month = one.frame["month"].to_numpy()
    for tilt, azimuth in ((90, 90), (90, 180), (90, 270), (30, 200)):
        first, second = (tilted_irradiance(year, tilt, azimuth) for year in (one, other))
        for number in range(1, 13):
            here = month == number
            assert second[here].sum() == pytest.approx(first[here].sum(), rel=0.01)


# What sun and series say of these files, all of it true of them: London's sunshine is half an hour
# early in winter and late in summer, the PVGIS file's half an hour early; Phoenix falls by 16.1 K
# from one row to the next, and Santa Maria's pressure reads 1005 mbar for 78 rows.
ODD = {
    "GBR_ENG_London.City.AP.037683_TMYx.2007-2021.epw": {"summer time"},
    "tmy_data_mcmaster.csv": {"clock"},
    "722780TYA.CSV": {"step"},
    "723940TYA.CSV": {"unchanging value"},
}
USUAL = {
    "humidity disagrees", "dew point above dry bulb", "unchanging dew point", "zone assumed",
    "dew point derived", "pressure missing", "pressure unit", "leap day", "sub-hourly rows",
    "actual year",
}  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_nothing_untrue_is_said_of_real_files(name):
    checks = {finding.check for finding in read(path(name)).findings}
    assert checks - USUAL == ODD.get(name, set())
