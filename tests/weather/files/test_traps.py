"""What real files do wrong: each made by spoiling a copy of a bundled one."""

import numpy as np
import pytest

from dewledger.weather.errors import InputError
from dewledger.weather.files.readers import read

FIRST = {"tmy2": 1, "tmy3": 2, "epw": 8, "nsrdb": 3, "pvgis": 17}
# field of each column in a row, by format; TMY2 by position
DRY_BULB = {"tmy3": 31, "epw": 6, "nsrdb": 5, "pvgis": 1}
DEW_POINT = {"tmy3": 34, "epw": 7, "nsrdb": 6}
HUMIDITY = {"tmy3": 37, "epw": 8, "nsrdb": 7, "pvgis": 2}
PRESSURE = {"tmy3": 40, "epw": 9, "nsrdb": 8, "pvgis": 9}
IRRADIANCE = {"tmy3": 4, "epw": 13, "nsrdb": 9, "pvgis": 3}
WIND = {"tmy3": 46, "epw": 21, "nsrdb": 12, "pvgis": 7}
MISSING = {
    "tmy3": ("-9900",) * 6,
    "epw": ("99.9", "99.9", "999", "999999", "9999", "999"),
    "nsrdb": ("-9999",) * 6,
}
COLUMNS = ("temp_air_C", "temp_dew_C", "rh_frac", "pressure_Pa", "ghi_Wm2", "wind_m_s")


def put(lines, row, field, text):
    fields = lines[row].split(",")
    fields[field] = text
    lines[row] = ",".join(fields)


def checks(year):
    return {finding.check: finding for finding in year.findings}


@pytest.mark.parametrize("form", ["tmy3", "epw", "nsrdb"])
@pytest.mark.parametrize("which", range(6), ids=COLUMNS)
def test_missing_codes_are_filled_and_said(form, which, request, write):
    lines = request.getfixturevalue(form)
    field = (DRY_BULB, DEW_POINT, HUMIDITY, PRESSURE, IRRADIANCE, WIND)[which][form]
    sound = read(write(lines)).column(COLUMNS[which])
    for hour in (4000, 4001):
        put(lines, FIRST[form] + hour, field, MISSING[form][which])
    year = read(write(lines))
    got = year.column(COLUMNS[which])
    if COLUMNS[which] == "rh_frac":  # made up from the dew point
        assert np.allclose(got[4000:4002], sound[4000:4002], atol=0.05)
        return
    if COLUMNS[which] == "temp_dew_C":  # made up from relative humidity
        assert checks(year)["dew point derived"].hours == (4000, 4001)
        assert np.allclose(got[4000:4002], sound[4000:4002], atol=1.0)
        return
    third = (sound[4002] - sound[3999]) / 3
    assert np.allclose(got[4000:4002], sound[3999] + third * np.array([1, 2]))
    finding = checks(year)["gap"]
    assert (finding.column, finding.hours, finding.severity) == (
        COLUMNS[which],
        (4000, 4001),
        "note",
    )
    assert "interpolated" in finding.sentence


def test_missing_codes_of_tmy2(tmy2, write):
    row = tmy2[1 + 100]
    tmy2[1 + 100] = row[:67] + "9999" + row[71:73] + "9999" + row[77:79] + "999" + row[82:]
    year = read(write(tmy2))
    assert checks(year)["gap"].hours == (100,)
    assert year.column("temp_air_C")[100] == pytest.approx(
        year.column("temp_air_C")[[99, 101]].mean()
    )


def test_long_gap_names_its_hours(tmy3, write):
    for hour in range(1416, 1423):  # 1 March 00:00, seven hours
        put(tmy3, 2 + hour, DRY_BULB["tmy3"], "-9900")
    with pytest.raises(
        InputError, match=r"dry bulb is missing for more than 6 h .*1 March 00:00 to 1 March 07:00"
    ):
        read(write(tmy3))


def test_gap_of_six_hours_over_new_year(tmy3, write):
    hours = [8757, 8758, 8759, 0, 1, 2]
    for hour in hours:
        put(tmy3, 2 + hour, DRY_BULB["tmy3"], "-9900")
    temp = read(write(tmy3)).column("temp_air_C")
    step = (temp[3] - temp[8756]) / 7
    assert np.allclose(temp[hours], temp[8756] + step * np.arange(1, 7))


def test_humidity_missing_in_both_columns_is_a_gap(tmy3, write):
    for hour in range(10, 20):
        put(tmy3, 2 + hour, DEW_POINT["tmy3"], "-9900")
        put(tmy3, 2 + hour, HUMIDITY["tmy3"], "-9900")
    with pytest.raises(InputError, match=r"dew point is missing.*1 January 10:00"):
        read(write(tmy3))


def test_999_mbar_is_a_pressure(tmy3, write):
    for hour in range(50):
        put(tmy3, 2 + hour, PRESSURE["tmy3"], "999")
    year = read(write(tmy3))
    assert (year.column("pressure_Pa")[:50] == 99900.0).all()
    assert "gap" not in checks(year)


def test_epw_pressure_in_millibar_is_seen_and_said(epw, write):
    pascal = read(write(epw)).column("pressure_Pa")
    for row in range(8, len(epw)):
        put(epw, row, PRESSURE["epw"], f"{float(epw[row].split(',')[9]) / 100:g}")
    year = read(write(epw))
    assert np.allclose(year.column("pressure_Pa"), pascal)
    assert "mbar where Pa is due" in checks(year)["pressure unit"].sentence


def test_pressure_of_no_place(epw, write):
    for row in range(8, len(epw)):
        put(epw, row, PRESSURE["epw"], "9800")
    with pytest.raises(InputError, match="pressure is 9800"):
        read(write(epw))


@pytest.mark.published
def test_pressure_missing_is_the_standard_atmosphere(nsrdb, write):
    lines = [*nsrdb[:2], nsrdb[2].replace("Pressure,", "")]
    for row in nsrdb[3:]:
        fields = row.split(",")
        lines.append(",".join(fields[:8] + fields[9:]))
    lines[1] = lines[1].replace(",273,", ",1500,")
    year = read(write(lines))
    # ASHRAE Fundamentals 2017 ch. 1 table 1: 84.556 kPa at 1500 m
    assert np.allclose(year.column("pressure_Pa"), 84556.0, atol=5.0, rtol=0)
    assert checks(year)["pressure missing"].count == 8760
    assert "1500 m" in checks(year)["pressure missing"].sentence


def test_pressure_that_does_not_fit_the_altitude(epw, write):
    epw[0] = epw[0].replace(",273.0", ",1500.0")
    assert "1500 m" in checks(read(write(epw)))["pressure unlike altitude"].sentence


def test_dew_point_above_dry_bulb_is_clipped_and_counted(tmy3, write):
    for hour in (5000, 6000):
        put(tmy3, 2 + hour, DEW_POINT["tmy3"], "39.0")
        put(tmy3, 2 + hour, DRY_BULB["tmy3"], "30.0")
    year = read(write(tmy3))
    assert (year.column("temp_dew_C")[[5000, 6000]] == 30.0).all()
    finding = checks(year)["dew point above dry bulb"]
    assert finding.hours == (5000, 6000)
    assert "9.0 K at most" in finding.sentence
    assert (year.column("wet_bulb_C") <= year.column("temp_air_C") + 1e-9).all()


def test_impossible_values_are_taken_as_missing(tmy3, write):
    put(tmy3, 2 + 77, DRY_BULB["tmy3"], "99.9")
    year = read(write(tmy3))
    assert checks(year)["impossible values"].hours == (77,)
    assert checks(year)["gap"].hours == (77,)


def test_relative_humidity_that_contradicts_dew_point(tmy3, write):
    before = checks(read(write(tmy3)))["humidity disagrees"].count
    summer = 4400
    for hour in range(summer, summer + 40):
        put(tmy3, 2 + hour, HUMIDITY["tmy3"], "5")
    assert checks(read(write(tmy3)))["humidity disagrees"].count >= before + 30


def test_stuck_dew_point(tmy3, write):
    for hour in range(5000, 5060):
        put(tmy3, 2 + hour, DEW_POINT["tmy3"], "14.3")
    assert "60 h" in checks(read(write(tmy3)))["unchanging dew point"].sentence


@pytest.mark.parametrize("form", ["tmy2", "tmy3", "epw", "nsrdb", "pvgis"])
def test_a_missing_row_is_named(form, request, write):
    lines = request.getfixturevalue(form)
    del lines[FIRST[form] + 1416]
    with pytest.raises(InputError, match=r"8759 rows .* 1 March 00:00 is the first hour missing"):
        read(write(lines))


@pytest.mark.parametrize("form", ["tmy2", "tmy3", "epw", "nsrdb", "pvgis"])
def test_leap_day_is_dropped_and_said(form, request, write):
    lines = request.getfixturevalue(form)
    sound = read(write(lines), site={"utc_offset_h": 0})
    day = lines[FIRST[form] + 58 * 24 : FIRST[form] + 59 * 24]
    old, new = {
        "tmy2": ("0228", "0229"),
        "tmy3": ("02/28/", "02/29/"),
        "epw": (",2,28,", ",2,29,"),
        "nsrdb": (",2,28,", ",2,29,"),
        "pvgis": ("0228:", "0229:"),
    }[form]
    extra = [line.replace(old, new, 1) for line in day]
    at = FIRST[form] + 59 * 24
    year = read(write([*lines[:at], *extra, *lines[at:]]), site={"utc_offset_h": 0})
    assert year.frame.equals(sound.frame)
    assert "29 February" in checks(year)["leap day"].sentence


def test_a_row_twice(tmy3, write):
    tmy3.insert(500, tmy3[500])
    with pytest.raises(InputError, match="row 500 is month 1, day 21"):
        read(write(tmy3))


def test_rows_after_the_year(tmy3, write):
    with pytest.raises(InputError, match="8761 rows"):
        read(write([*tmy3, tmy3[-1]]))


@pytest.mark.parametrize("city", ["Greensboro, Old Town", '"Greensboro, Old Town"', "A, B, C"])
def test_comma_in_the_city_of_an_epw(epw, write, city):
    sound = read(write(epw))
    epw[0] = epw[0].replace("Greensboro Hill", city)
    year = read(write(epw))
    assert year.station.latitude == 36.1
    assert year.station.utc_offset_h == -5.0
    assert city.strip('"').split(",")[0] in year.station.name
    assert year.frame.equals(sound.frame)


def test_comma_in_the_name_of_a_tmy3(tmy3, write):
    tmy3[0] = '723170,"GREENSBORO, PIEDMONT TRIAD",NC,-5.0,36.100,-79.950,273'
    station = read(write(tmy3)).station
    assert (station.name, station.latitude) == ("Greensboro, Piedmont Triad, NC", 36.1)


def test_city_of_two_words_and_blank_last_line_in_a_tmy2(tmy2, write):
    tmy2[0] = tmy2[0].replace("MIAMI      ", "MIAMI BEACH")
    assert read(write([*tmy2, "", ""])).station.name == "Miami Beach, FL"


def test_one_header_line_fewer_loses_no_hour(epw, write):
    sound = read(write(epw))
    del epw[5]
    assert read(write(epw)).frame.equals(sound.frame)


def test_header_out_of_place(epw, write):
    epw[0] = "LOCATION,Hill,NC,USA,TMY3,36.100,-79.950,-5.0,273.0,1200000"
    with pytest.raises(InputError, match=r"no such .* exists"):
        read(write(epw))


def test_header_without_numbers(epw, write):
    epw[0] = "LOCATION,Hill,NC,USA,TMY3,1,north,-79.95,-5,273"
    with pytest.raises(InputError, match='"north" as latitude'):
        read(write(epw))


def test_zone_of_the_wrong_sign(epw, write):
    epw[0] = epw[0].replace("-5.0", "5.0")
    assert "check its sign" in checks(read(write(epw)))["zone unlike longitude"].sentence


def test_site_elsewhere_is_said(tmy3, write):
    year = read(write(tmy3), site={"latitude": 30.0, "longitude": -79.95})
    assert "latitude" in checks(year)["site elsewhere"].sentence
    assert year.station.latitude == 36.1


def test_text_where_a_number_is_due(tmy3, write):
    put(tmy3, 102, DRY_BULB["tmy3"], "warm")
    with pytest.raises(InputError, match=r'line 103 has "warm"'):
        read(write(tmy3))


def test_a_broken_row(epw, write):
    epw[1000] = "<html>"
    with pytest.raises(InputError, match=r'line 1001 is no row .* starts "<html>"'):
        read(write(epw))


@pytest.mark.parametrize("form", ["tmy3", "epw", "nsrdb", "pvgis"])
def test_a_row_cut_short(form, request, write):
    lines = request.getfixturevalue(form)
    last = FIRST[form] + 8759
    lines[last] = lines[last][: len(lines[last]) // 2]
    with pytest.raises(InputError, match=rf"line {last + 1} has \d+ values where \d+ are due"):
        read(write(lines))


def test_header_only(epw, write):
    with pytest.raises(InputError, match="no rows of data"):
        read(write(epw[:8]))


def test_nothing_to_dry_with(nsrdb, write):
    rows = [",".join(row.split(",")[:5]) + ",1" for row in nsrdb[3:]]
    lines = [*nsrdb[:2], "Year,Month,Day,Hour,Minute,GHI", *rows]
    with pytest.raises(InputError, match="no dry-bulb temperature and no humidity"):
        read(write(lines))


def test_nsrdb_in_other_units(nsrdb, write):
    nsrdb[1] = nsrdb[1].replace(",c,", ",f,")
    with pytest.raises(InputError, match='"Temperature Units" is f'):
        read(write(nsrdb))


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"\n \n", "is empty"),
        (b"\xef\xbb\xbf", "nothing in this file"),
        (b"\xef\xbb\xbf\n \n", "nothing in this file"),
        (b"PK\x03\x04rest", "zip archive or a workbook"),
        (b"\x00\x01\x02", "binary"),
        (b"\x1f\x8b\x08rest", "gzip archive; unpack"),
        (b"by hand\ntemp_air_C,rh_frac\n1,2\n", "header is in line 2; take out"),
        (b"temp_air_C;rh_frac\n1,5;0,5\n", "separated by semicolons"),
        (b"\xff\xfeL\x00O\x00", "UTF-16; save it as UTF-8"),
        (b"<html><body>404</body></html>", "format is not known"),
        (b"a,b,c\n1,2,3\n", "format is not known"),
        (b"LOCATION,Hill\n", "no rows of data"),
        (b"LOCATION,Hill\n2001,1,1,1,0,x,1,2\n", "header line has 2 fields"),
    ],
)
def test_files_that_are_no_weather(content, words, tmp_path):
    path = tmp_path / "odd.epw"
    path.write_bytes(content)
    with pytest.raises(InputError, match=words) as raised:
        read(path)
    assert "\n" not in str(raised.value)


def test_folder_and_missing_file(tmp_path):
    with pytest.raises(InputError, match="is a folder"):
        read(tmp_path)
    with pytest.raises(InputError, match="neither a file nor a bundled station"):
        read(tmp_path / "none.epw")
    with pytest.raises(InputError, match=r"cannot be read|neither a file"):
        read("bad\0name")


def test_names_in_latin_1(epw, tmp_path):
    epw[0] = epw[0].replace("Greensboro Hill", "São Aldeia")
    path = tmp_path / "latin.epw"
    path.write_bytes("\n".join(epw).encode("latin-1"))
    assert read(path).station.name.startswith("São Aldeia")


def test_column_mapping_for_a_known_format(tmy3, write):
    with pytest.raises(InputError, match="leave out the column mapping"):
        read(write(tmy3), columns={"temp_air_C": "T"})


def test_irradiance_missing_throughout_is_a_note(nsrdb, write):
    lines = [*nsrdb[:2], nsrdb[2].replace("GHI,DNI,DHI,", "")]
    for row in nsrdb[3:]:
        fields = row.split(",")
        lines.append(",".join(fields[:9] + fields[12:]))
    year = read(write(lines))
    assert np.isnan(year.column("dni_Wm2")).all()
    assert "solar gain" in checks(year)["no irradiance"].sentence


def every(lines, form, field, change):
    for row in range(FIRST[form], FIRST[form] + 8760):
        put(lines, row, field[form], change(lines[row].split(",")[field[form]]))
    return lines


def fahrenheit(text):
    return f"{float(text) * 1.8 + 32:.1f}"


def test_dry_bulb_in_fahrenheit_or_kelvin(tmy3, epw, write):
    every(tmy3, "tmy3", DRY_BULB, fahrenheit)
    with pytest.raises(InputError, match=r"dry bulb is .* may be degrees Fahrenheit; convert"):
        read(write(tmy3))
    every(epw, "epw", DRY_BULB, lambda text: f"{float(text) + 273.15:.2f}")
    with pytest.raises(InputError, match=r"dry bulb is .* may be kelvin; convert"):
        read(write(epw))


def test_dew_point_on_another_scale_than_the_dry_bulb(nsrdb, write):
    every(nsrdb, "nsrdb", DEW_POINT, fahrenheit)
    with pytest.raises(InputError, match=r"dew point is .*degrees"):
        read(write(nsrdb))


@pytest.mark.parametrize("form", ["tmy3", "pvgis"])
def test_relative_humidity_as_a_fraction_is_seen_and_said(form, request, write):
    lines = request.getfixturevalue(form)
    sound = read(write(lines), site={"utc_offset_h": 0})
    every(lines, form, HUMIDITY, lambda text: f"{float(text) / 100:.3f}")
    year = read(write(lines), site={"utc_offset_h": 0})
    for name in ("temp_dew_C", "rh_frac"):
        assert np.allclose(year.column(name), sound.column(name), atol=1e-9)
    assert "a fraction where percent is due" in checks(year)["relative humidity unit"].sentence


def test_pressure_of_a_tmy3_in_pascal(tmy3, write):
    sound = read(write(tmy3)).column("pressure_Pa")
    every(tmy3, "tmy3", PRESSURE, lambda text: f"{text}00")
    year = read(write(tmy3))
    assert np.allclose(year.column("pressure_Pa"), sound)
    assert "Pa where mbar is due" in checks(year)["pressure unit"].sentence


@pytest.mark.parametrize("form", ["tmy3", "epw", "nsrdb", "pvgis"])
@pytest.mark.parametrize("change", ["decimal comma", "value lost"])
def test_a_row_of_another_width_is_named(form, change, request, write):
    lines = request.getfixturevalue(form)
    row, field = FIRST[form] + 4000, DRY_BULB[form]
    fields = lines[row].split(",")
    fields[field : field + 1] = ["21", "5"] if change == "decimal comma" else []
    lines[row] = ",".join(fields)
    with pytest.raises(InputError, match=rf"line {row + 1} has {len(fields)} values where"):
        read(write(lines))


def test_text_in_a_pvgis_row_is_named(pvgis, write):
    put(pvgis, 4000, DRY_BULB["pvgis"], "warm")
    with pytest.raises(InputError, match=r'line 4001 has "warm" where a number is due'):
        read(write(pvgis))


def test_blank_values_of_pvgis_are_a_gap(pvgis, write):
    put(pvgis, FIRST["pvgis"] + 4000, PRESSURE["pvgis"], "")
    assert checks(read(write(pvgis), site={"utc_offset_h": 0}))["gap"].hours == (4000,)


def test_epw_that_ends_at_the_wind_and_one_all_in_quotes(epw, write):
    sound = read(write(epw)).frame
    ends = epw[:8] + [",".join(row.split(",")[:22]) for row in epw[8:]]
    assert read(write(ends)).frame.equals(sound)
    quoted = [",".join(f'"{text}"' for text in row.split(",")) for row in epw]
    assert read(write(quoted)).frame.equals(sound)


def test_half_hour_zone_of_a_tmy2(tmy2, write):
    tmy2[0] = tmy2[0].replace(" -5 N", " -3.5 N")
    assert read(write(tmy2)).station.utc_offset_h == -3.5


def test_dim_sun(epw, write):
    every(epw, "epw", IRRADIANCE, lambda text: f"{float(text) / 1000:.3f}")
    assert "check its unit" in checks(read(write(epw)))["dim sun"].sentence
