"""Typical and actual years distinguished."""

import pytest

from dewledger.weather.files.readers import read


@pytest.mark.parametrize(
    ("name", "title"),
    [
        ("miami", "Miami, FL (typical year)"),
        ("greensboro", "Greensboro Piedmont Triad Int, NC (typical year)"),
    ],
)
def test_a_typical_year_says_so(name, title):
    station = read(name).station
    assert (station.kind, station.year, station.title) == ("typical", None, title)


def test_words_of_a_year():
    assert read("miami").station.year_words == "typical year"


def of_one_year(epw, year):
    return [f"{year}{row[4:]}" if i >= 8 else row for i, row in enumerate(epw)]


def test_months_of_one_year_are_an_actual_year(epw, write):
    epw[0] = epw[0].replace("TMY3", "measured")
    year = read(write(of_one_year(epw, 2013)))
    assert (year.station.kind, year.station.year) == ("actual", 2013)
    assert year.station.title.endswith("(2013)")
    assert year.station.year_words == "actual year 2013"
    assert "actual year" in {finding.check for finding in year.findings}


def test_the_header_outweighs_years_written_over(epw, write):
    year = read(write(of_one_year(epw, 2013)))
    assert (year.station.kind, year.station.year) == ("typical", None)


def test_a_plain_csv_tells_by_its_stamps(write):
    rows = ["temp_air_C,rh_frac,pressure_Pa", *["25,0.5,101325"] * 8760]
    assert read(write(rows)).station.title == "weather (typical or actual not stated)"
    import pandas as pd

    times = pd.date_range("2023-01-01", periods=8760, freq="h")
    stamped = [f"time,{rows[0]}", *[f"{time},{rows[1]}" for time in times]]
    station = read(write(stamped)).station
    assert (station.kind, station.year) == ("actual", 2023)
    assert station.source_years == dict.fromkeys(range(1, 13), 2023)
