"""A plain CSV: constant weather, mapped columns, and what is said when it cannot serve."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from dewledger.weather.errors import InputError
from dewledger.weather.files.readers import read


def constant(head, row, hours=8760):
    return [head, *[row] * hours]


def checks(year):
    return {finding.check for finding in year.findings}


@pytest.mark.published
@pytest.mark.parametrize(
    ("head", "row"),
    [
        ("temp_air_C,rh_frac,pressure_Pa", "25,0.5,101325"),
        ("temp_air_C,rh_percent,pressure_Pa", "25,50,101325"),
        ("temp_air_C,rh_percent,pressure_mbar", "25,50,1013.25"),
        ("temp_air_C,rh_percent,pressure_hPa", "25,50,1013.25"),
        ("temp_air_C,rh_percent,pressure_kPa", "25,50,101.325"),
        ("temp_air_F,rh_frac,pressure_Pa", "77,0.5,101325"),
        ("temp_air_C,temp_dew_C,pressure_Pa", "25,13.863973,101325"),
        ("temp_air_C,temp_dew_F,pressure_Pa", "25,56.955152,101325"),
        ("temp_air_C,hum_ratio,pressure_Pa", "25,0.0098811,101325"),
        ("pressure_Pa, rh_frac, temp_air_C", "101325, 0.5, 25"),
    ],
)
def test_constant_weather(head, row, write):
    """25 C, 50 %, 101325 Pa: W, h and wet bulb by psychrolib 2.5.0 (Fundamentals 2017 ch. 1)."""
    frame = read(write(constant(head, row))).frame
    for name in ("hum_ratio", "enthalpy_J_kg", "wet_bulb_C", "rh_frac"):
        assert np.ptp(frame[name]) == 0.0
    hour = frame.iloc[4000]
    assert hour.hum_ratio == pytest.approx(0.009881044, rel=2e-5)
    assert hour.enthalpy_J_kg == pytest.approx(50321.96, rel=1e-4)
    assert hour.wet_bulb_C == pytest.approx(17.889432, abs=2e-3)
    assert hour.rh_frac == pytest.approx(0.5, abs=1e-4)


def test_a_steady_hot_condition_is_meant(write):
    """46.1 C all year: the outdoor state of the hottest cooling cases of ANSI/ASHRAE 140."""
    year = read(write(constant("temp_air_C,rh_frac,pressure_Pa", "46.1,0.2,101325")))
    assert (year.column("temp_air_C") == 46.1).all()


def test_mapped_columns_and_site(write):
    path = write(constant("outside,wet,Pa", "25,50,98000"), "attic.csv")
    year = read(
        path,
        columns={"temp_air_C": "outside", "rh_percent": "wet", "pressure_Pa": "Pa"},
        site={"name": "Attic", "latitude": 40, "longitude": -80, "utc_offset_h": -5},
    )
    station = year.station
    assert (station.name, station.latitude, station.utc_offset_h) == ("Attic", 40.0, -5.0)
    assert (year.column("pressure_Pa") == 98000.0).all()
    assert read(path, columns={"temp_air_C": "outside", "rh_percent": "wet"},
                site={"altitude_m": 0}).station.name == "attic"  # fmt: skip


@pytest.mark.published
def test_missing_pressure_is_standard_at_the_altitude(write):
    path = write(constant("temp_air_C,rh_frac", "25,0.5"))
    year = read(path, site={"altitude_m": 1500})
    # ASHRAE Fundamentals 2017 ch. 1 table 1: 84.556 kPa at 1500 m
    assert np.allclose(year.column("pressure_Pa"), 84556.0, atol=5.0, rtol=0)
    assert "pressure missing" in checks(year)
    with pytest.raises(InputError, match="no pressure and no altitude"):
        read(path)


def test_zone_defaults_to_longitude(write):
    year = read(
        write(constant("temp_air_C,rh_frac,pressure_Pa", "25,0.5,101325")),
        site={"longitude": 10.0},
    )
    assert year.station.utc_offset_h == 1.0
    assert "zone assumed" in checks(year)


def test_irradiance_and_wind_may_be_missing(write):
    year = read(write(constant("temp_air_C,rh_frac,pressure_Pa", "25,0.5,101325")))
    assert np.isnan(year.column("ghi_Wm2")).all()
    assert np.isnan(year.column("wind_m_s")).all()
    assert {"no irradiance", "no wind"} <= checks(year)


def test_our_own_frame_reads_back(tmp_path):
    greensboro = read("greensboro")
    path = tmp_path / "frame.csv"
    greensboro.frame.to_csv(path, index=False)
    # the frame has both dew point and humidity ratio; the mapping chooses
    names = ("temp_air_C", "temp_dew_C", "rh_frac", "pressure_Pa", "ghi_Wm2", "dni_Wm2",
             "dhi_Wm2", "wind_m_s")  # fmt: skip
    back = read(path, columns={name: name for name in names})
    for name in (*names, "hum_ratio", "wet_bulb_C"):
        assert np.allclose(back.column(name), greensboro.column(name), atol=1e-9), name


def test_rows_out_of_order(write):
    lines = ["month,day,hour,temp_air_C,rh_frac,pressure_Pa"]
    lines += [f"{r.month},{r.day},{r.hour},20,0.5,101325" for r in read("miami").frame.itertuples()]
    assert read(write(lines)).frame.shape[0] == 8760
    lines[200], lines[201] = lines[201], lines[200]
    with pytest.raises(InputError, match="row 200 is month 1, day 9, hour 8 where 9 January 07:00"):
        read(write(lines))


def test_stamps_of_other_kinds(write):
    frame = read("miami").frame
    for heads, stamp in (
        ("month,day,hour", "{r.month},{r.day},{ends}"),  # 1 to 24
        ("time", "2021-{r.month:02d}-{r.day:02d}T{r.hour:02d}:00"),
    ):
        lines = [f"{heads},temp_air_C,rh_frac,pressure_Pa"]
        lines += [
            stamp.format(r=r, ends=r.hour + 1) + f",{r.hour},0.5,101325" for r in frame.itertuples()
        ]
        year = read(write(lines))
        assert (year.column("temp_air_C") == frame["hour"]).all()
        assert "columns not used" not in checks(year)
        lines[200], lines[201] = lines[201], lines[200]
        with pytest.raises(InputError, match="row 200 is month 1, day 9, hour 8"):
            read(write(lines))


def test_columns_that_are_not_used_are_said(write):
    year = read(write(constant("temp_air_C,rh_frac,temp_dew,pressure_Pa", "25,0.5,3,101325")))
    said = next(f for f in year.findings if f.check == "columns not used").sentence
    assert "temp_dew" in said
    assert "in the order of the file" in said


@pytest.mark.parametrize(("rows", "check"), [(8784, "leap day"), (17520, "sub-hourly rows")])
def test_other_lengths_that_serve(rows, check, write):
    year = read(write(constant("temp_air_C,rh_frac,pressure_Pa", "25,0.5,101325", rows)))
    assert check in checks(year)
    assert year.frame.shape[0] == 8760


@pytest.mark.parametrize("rows", [1, 24, 8759, 8761, 9000])
def test_other_lengths_that_do_not(rows, write):
    with pytest.raises(InputError, match=f"{rows} rows where 8760"):
        read(write(constant("temp_air_C,rh_frac,pressure_Pa", "25,0.5,101325", rows)))


@pytest.mark.parametrize(
    ("head", "row", "columns", "words"),
    [
        ("temp_air_C,rh_frac", "25,55", None, "is percent and not a fraction; name it rh_percent"),
        ("temp_air_C,rh_percent", "25,0.5", None, "is a fraction and not percent; name it rh_frac"),
        ("temp_air_C,hum_ratio", "25,10.5", None, "kg/kg"),
        ("temp_air_C,hum_ratio", "25,-0.001", None, "kg/kg"),
        ("temp_air_C,ghi_Wm2", "25,100", None, "a dry bulb and a humidity are needed"),
        ("rh_frac,ghi_Wm2", "0.5,100", None, "a dry bulb and a humidity are needed"),
        ("temp_air_C,temp_air_F,rh_frac", "25,77,0.5", None, "given twice"),
        ("T,RH", "25,50", {"temp_air_C": "T", "rh_percent": "H"}, '"H" .* are T, RH'),
        ("T,RH", "25,50", {"dry_bulb": "T"}, '"dry_bulb" is no column of weather'),
        ("temp_air_C,rh_frac", "mild,0.5", None, 'line 2 has "mild"'),
        ("temp_air_C,temp_dew_C,pressure_Pa", ",12,101325", None, "no dry-bulb temperature"),
        ("temp_air_C,rh_frac,pressure_Pa", "25,,101325", None, "no humidity"),
    ],
)  # fmt: skip
def test_what_cannot_serve(head, row, columns, words, write):
    with pytest.raises(InputError, match=words) as raised:
        read(write(constant(head, row)), columns=columns, site={"altitude_m": 0})
    assert "\n" not in str(raised.value)


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(
        st.one_of(
            st.text(alphabet=st.characters(exclude_characters="\0"), max_size=40),
            st.sampled_from(
                ["temp_air_C,rh_frac", "25,0.5", "LOCATION,a,b", "Source,Location ID", ",,,", '"']
            ),
        ),
        max_size=30,
    )
)
@example(["temp_air_C", ",0"])
def test_any_text_reads_or_says_why_in_one_sentence(tmp_path_factory, lines):
    path = tmp_path_factory.mktemp("any") / "any.csv"
    path.write_text("\n".join(lines), encoding="utf-8", errors="replace", newline="")
    with pytest.raises(InputError) as raised:
        read(path)
    assert "\n" not in str(raised.value)


@pytest.mark.parametrize(
    ("kind", "hours", "year", "said"),
    [
        ("actual 2021", 8760, 2021, None),
        ("actual year 2021", 8760, 2021, None),
        ("actual 2024", 8784, 2024, None),  # a leap year with its day
        ("actual 2024", 8760, 2024, None),  # and without it
        ("actual 2021", 8784, None, "which has no 29 February"),
        ("actual", 8760, None, "and not which; write kind: actual 2021"),
        ("actual 21", 8760, None, "and not which; write kind: actual 2021"),
        ("typical year", 8760, None, None),
    ],
)
def test_the_year_that_the_head_states(kind, hours, year, said, write):
    """A plain CSV of hours in order, without a column of times."""
    path = write([f"# kind: {kind}", *constant("temp_air_C,rh_frac,pressure_Pa", "25,0.5,1e5",
                                               hours)])  # fmt: skip
    if said is not None:
        with pytest.raises(InputError, match=said):
            read(path)
        return
    station = read(path).station
    assert station.year == year
    assert station.kind == kind.split()[0]


def test_head_and_rows_of_different_years(write):
    times = pd.date_range("2020-01-01", "2020-12-31 23:00", freq="h")
    rows = [f"{time:%Y-%m-%dT%H:%M},25,0.5,1e5" for time in times]
    path = write(["# kind: actual 2021", "time,temp_air_C,rh_frac,pressure_Pa", *rows])
    with pytest.raises(InputError, match="the head says actual 2021, and rows are of 2020"):
        read(path)
