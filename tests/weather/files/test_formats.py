"""Every format against pvlib's reader of it, and against the same hours in another format."""

import json
from pathlib import Path

import numpy as np
import pvlib
import pytest

from dewledger.weather.bundled import BUNDLED, bundled_path
from dewledger.weather.errors import InputError
from dewledger.weather.files.readers import read
from dewledger.weather.year import MEASURED

TOLERANCE = 1e-9


def same(year, columns, tolerance=TOLERANCE):
    for name, values in columns.items():
        assert np.allclose(year.column(name), np.asarray(values, float), rtol=0, atol=tolerance), (
            name
        )


@pytest.mark.published
@pytest.mark.parametrize("name", ["greensboro", "sand-point"])
def test_tmy3_equals_pvlib(name):
    # pvlib 0.16: an independent reader of NREL's format (NREL/TP-581-43156)
    frame, meta = pvlib.iotools.read_tmy3(bundled_path(name), map_variables=True)
    year = read(name)
    same(
        year,
        {
            "temp_air_C": frame.temp_air,
            "temp_dew_C": frame.temp_dew,
            "rh_frac": frame.relative_humidity / 100,
            "pressure_Pa": frame.pressure * 100,
            "ghi_Wm2": frame.ghi,
            "dni_Wm2": frame.dni,
            "dhi_Wm2": frame.dhi,
            "wind_m_s": frame.wind_speed,
        },
        1e-8,
    )
    assert year.station.latitude == meta["latitude"]
    assert year.station.longitude == meta["longitude"]
    assert year.station.altitude_m == meta["altitude"]
    assert year.station.utc_offset_h == meta["TZ"]
    assert year.station.label == "end"


@pytest.mark.published
def test_tmy2_equals_pvlib():
    # pvlib 0.16: an independent reader of NREL's format; it keeps tenths, percent and mbar
    frame, meta = pvlib.iotools.read_tmy2(bundled_path("miami"))
    year = read("miami")
    same(
        year,
        {
            "temp_air_C": frame.DryBulb / 10,
            "temp_dew_C": frame.DewPoint / 10,
            "rh_frac": frame.RHum / 100,
            "pressure_Pa": frame.Pressure * 100,
            "ghi_Wm2": frame.GHI,
            "dni_Wm2": frame.DNI,
            "dhi_Wm2": frame.DHI,
            "wind_m_s": frame.Wspd / 10,
        },
    )
    assert year.station.latitude == pytest.approx(meta["latitude"])
    assert year.station.longitude == pytest.approx(meta["longitude"])
    assert year.station.utc_offset_h == meta["TZ"]
    assert year.station.source_years[1] == 1962


def test_epw_equals_the_same_hours_as_tmy3(epw, write):
    year, greensboro = read(write(epw, "hill.epw")), read("greensboro")
    assert year.station.format == "EPW"
    same(year, {name: greensboro.column(name) for name in MEASURED}, 1e-8)
    assert year.station.source_years == greensboro.station.source_years


@pytest.mark.published
def test_epw_equals_pvlib(epw, write):
    path = write(epw, "hill.epw")
    frame, _ = pvlib.iotools.read_epw(path)
    year = read(path)
    same(
        year,
        {
            "temp_air_C": frame.temp_air,
            "pressure_Pa": frame.atmospheric_pressure,
            "dhi_Wm2": frame.dhi,
            "wind_m_s": frame.wind_speed,
        },
    )


def test_nsrdb_equals_the_same_hours_as_tmy3(nsrdb, write):
    year, greensboro = read(write(nsrdb)), read("greensboro")
    assert (year.station.format, year.station.label) == ("NSRDB CSV", "mid")
    same(year, {name: greensboro.column(name) for name in MEASURED}, 1e-8)


def test_pvgis_is_rolled_from_utc_to_local(pvgis, write):
    year, greensboro = read(write(pvgis), site={"utc_offset_h": -5}), read("greensboro")
    assert (year.station.format, year.station.utc_offset_h) == ("PVGIS TMY", -5.0)
    # 05:00 UTC is midnight: the fixture's row 5 becomes hour 0, its row 0 hour 8755
    for name in ("temp_air_C", "pressure_Pa", "ghi_Wm2"):
        assert np.allclose(year.column(name), np.roll(greensboro.column(name), -5), atol=1e-8)
    assert year.station.source_years[7] == 2007
    assert "zone assumed" not in {finding.check for finding in year.findings}


def test_pvgis_zone_comes_from_longitude_and_is_said(pvgis, write):
    year = read(write(pvgis))
    assert year.station.utc_offset_h == -5.0  # -79.95 / 15 = -5.33
    assert "zone assumed" in {finding.check for finding in year.findings}


def test_half_hour_zone_of_utc_data(pvgis, write):
    # hh:00 UTC is half past an hour at UTC+5:30, so row j lies in local hour j + 5
    year = read(write(pvgis), site={"utc_offset_h": 5.5})
    greensboro = read("greensboro")
    assert np.allclose(year.column("temp_air_C"), np.roll(greensboro.column("temp_air_C"), 5))
    assert (year.station.utc_offset_h, year.station.irradiance_minute) == (5.5, 30.0)


def test_half_hour_zones_in_headers(epw, nsrdb, write):
    epw[0] = "LOCATION,Dry Plain,-,IND,-,1,28.6,77.2,5.5,216"
    assert read(write(epw)).station.utc_offset_h == 5.5
    nsrdb[1] = "NSRDB,1,-,-,-,28.6,77.2,5.5,216,5.5,c,mbar"
    assert read(write(nsrdb)).station.utc_offset_h == 5.5


def test_nsrdb_in_utc_is_rolled_by_its_local_zone(nsrdb, write):
    nsrdb[1] = "NSRDB,1,-,-,-,36.1,-79.95,0,273,-5,c,mbar"
    year, greensboro = read(write(nsrdb)), read("greensboro")
    assert np.allclose(year.column("temp_air_C"), np.roll(greensboro.column("temp_air_C"), -5))


def test_half_hourly_nsrdb_is_averaged(nsrdb, write):
    rows = []
    for row in nsrdb[3:]:
        year, month, day, hour, _, temp, rest = row.split(",", 6)
        rows.append(f"{year},{month},{day},{hour},0,{temp},{rest}")
        rows.append(f"{year},{month},{day},{hour},30,{float(temp) + 1.0:.1f},{rest}")
    year, greensboro = read(write([*nsrdb[:3], *rows])), read("greensboro")
    same(year, {"temp_air_C": greensboro.column("temp_air_C") + 0.5}, 1e-8)
    same(year, {"pressure_Pa": greensboro.column("pressure_Pa")}, 1e-8)
    assert "sub-hourly rows" in {finding.check for finding in year.findings}
    assert year.station.irradiance_minute == 15.0


def test_spreadsheet_resaved_tmy3(tmy3, write):
    """CRLF, padded first line, 1/1/1988, 1:00, 24:00:00, an extra column without a head."""
    rows = []
    for row in tmy3[2:]:
        date, hour, rest = row.split(",", 2)
        month, day, year = date.split("/")
        clock = "24:00:00" if hour == "24:00" else f"{int(hour[:2])}:00"
        rows.append(f"{int(month)}/{int(day)}/{year},{clock},{rest},285.2")
    saved = [tmy3[0].replace('"', "") + "," * 64, tmy3[1] + ",", *rows]
    year = read(write(saved, end="\r\n"))
    greensboro = read("greensboro")
    same(year, {name: greensboro.column(name) for name in MEASURED})
    assert year.station.name == greensboro.station.name


def test_rows_longer_than_the_heads(tmy3, write):
    longer = [tmy3[0], tmy3[1], *(row + ",1" for row in tmy3[2:])]
    same(read(write(longer)), {"temp_dew_C": read("greensboro").column("temp_dew_C")})


@pytest.mark.parametrize("form", ["tmy3", "epw", "nsrdb", "pvgis"])
def test_byte_order_mark(form, request, tmp_path):
    lines = request.getfixturevalue(form)
    path = tmp_path / "bom"
    path.write_bytes(("\n".join(lines)).encode("utf-8-sig"))
    assert np.allclose(
        np.sort(read(path).column("temp_air_C")), np.sort(read("greensboro").column("temp_air_C"))
    )


@pytest.mark.parametrize("form", ["tmy2", "tmy3", "epw", "nsrdb", "pvgis"])
def test_format_is_known_by_content(form, request, write):
    lines = request.getfixturevalue(form)
    year = read(write(lines, "file.txt"))
    assert year.station.format.upper().startswith(form.upper())


@pytest.mark.parametrize("form", ["tmy2", "tmy3", "epw", "nsrdb", "pvgis"])
def test_rows_stand_in_their_hour(form, request, write):
    """A mark at 15:00 to 16:00 on 1 March must come out at that hour of that day."""
    lines = request.getfixturevalue(form)
    plain = read(write(lines), site={"utc_offset_h": 0.0}).column("temp_air_C")
    hour = (31 + 28) * 24 + 15
    first = next(i for i, line in enumerate(lines) if _is_row(form, line))
    stamp = {"tmy2": "030116", "tmy3": "03/01/", "epw": ",3,1,16,60,", "nsrdb": ",3,1,15,30,",
             "pvgis": "0301:1500"}[form]  # fmt: skip
    assert stamp in lines[first + hour]
    if form == "tmy2":
        row = lines[first + hour]
        lines[first + hour] = row[:67] + " 400" + row[71:]
    else:
        fields = lines[first + hour].split(",")
        at = {"tmy3": 31, "epw": 6, "nsrdb": 5, "pvgis": 1}[form]
        fields[at] = "40.0"
        lines[first + hour] = ",".join(fields)
    marked = read(write(lines), site={"utc_offset_h": 0.0})
    changed = np.flatnonzero(marked.column("temp_air_C") != plain)
    assert changed.tolist() == [hour]
    row = marked.frame.loc[hour]
    assert (row.month, row.day, row.hour) == (3, 1, 15)


def _is_row(form, line):
    return {
        "tmy2": line.startswith(" 6201"),
        "tmy3": line.startswith("01/01/"),
        "epw": line[:4].isdigit(),
        "nsrdb": line[:4].isdigit(),
        "pvgis": line[:6].isdigit(),
    }[form]


def test_types_and_calendar():
    frame = read("miami").frame
    assert frame.index.equals(type(frame.index)(range(8760)))
    assert (frame.dtypes.drop(["month", "day", "hour"]) == "float64").all()
    assert (frame.dtypes[["month", "day", "hour"]] == "int64").all()
    assert frame.month.value_counts()[2] == 28 * 24
    assert frame.iloc[-1][["month", "day", "hour"]].tolist() == [12, 31, 23]


def test_the_same_file_gives_the_same_year():
    one, two = read("greensboro"), read("GREENSBORO")
    assert one.frame.equals(two.frame)
    assert one.station == two.station
    assert one.findings == two.findings


def test_bundled_names_and_unknown_name():
    for name in BUNDLED:
        assert read(name.upper()).frame.shape[0] == 8760
    with pytest.raises(InputError, match="greensboro, miami, sand-point"):
        read("atlantis")


def test_design_line_of_an_epw(epw, write):
    # London City Airport: 2021 climatic design data as a public EPW file's header carries them
    epw[1] = (
        "DESIGN CONDITIONS,1,Climatic Design Information,,Heating,1,-1.8,-0.2,-5.2,2.4,1.1,-4.1,"
        "2.7,1.8,12.1,10.2,11.1,10.4,2.7,20,0.556,Cooling,7,7.7,28.0,18.8,26.0,17.6,24.1,17.1,"
        "19.7,25.7,18.7,23.7,17.9,22.4,3.8,90,17.2,12.3,21.7,16.9,12.0,21.4,16.0,11.4,20.4,56.3,"
        "25.7,53.2,23.7,50.7,22.5,24.3,Extremes,10.2,9.1,8.2"
    )
    station = read(write(epw)).station
    assert station.dehumidification_dew_point_C == 17.2
    stated = station.stated_design(0.4)
    assert stated.hum_ratio == pytest.approx(0.0123)
    assert stated.mean_coincident_dry_bulb_C == 21.7
    assert [point.dew_point_C for point in station.design_dew_points] == [17.2, 16.9, 16.0]


@pytest.mark.parametrize("line", ["DESIGN CONDITIONS,0", "DESIGN CONDITIONS,1,x,,Cooling,1,2", "-"])
def test_no_design_line(epw, write, line):
    epw[1] = line
    station = read(write(epw)).station
    assert station.dehumidification_dew_point_C is None
    assert station.stated_design(0.4) is None


def test_pvgis_json_is_refused_in_one_sentence(tmp_path: Path):
    path = tmp_path / "tmy.json"
    path.write_text(json.dumps({"inputs": {}, "outputs": {"tmy_hourly": []}}))
    with pytest.raises(InputError, match="format is not known"):
        read(path)
