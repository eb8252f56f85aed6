"""The picture of a weather year: written in each form, the same bytes each time."""

import pytest

from dewledger.reports.charts.climate import draw
from dewledger.weather.climate import summarize
from dewledger.weather.errors import InputError
from dewledger.weather.files.readers import read

STARTS = {".png": b"\x89PNG", ".svg": b"<?xml", ".pdf": b"%PDF"}


@pytest.mark.parametrize(
    ("suffix", "display"), [(".png", "I-P"), (".svg", "I-P"), (".svg", "SI"), (".pdf", "SI")]
)
def test_written_and_repeatable(suffix, display, tmp_path):
    year = read("greensboro")
    summary = summarize(year)
    paths = [tmp_path / f"{n}{suffix}" for n in (1, 2)]
    for path in paths:
        draw(year, summary, display, path)
    one, two = (path.read_bytes() for path in paths)
    assert one.startswith(STARTS[suffix])
    assert one == two


def test_what_it_says(tmp_path):
    year = read("miami")
    path = tmp_path / "miami.svg"
    draw(year, summarize(year), "I-P", path)
    text = path.read_text(encoding="utf-8")
    for words in (
        "Miami, FL",
        "Dew point above 55 °F in 7,782 of 8,760 h",
        "0.4 % dew point of this typical year 77 °F",
        "moisture, 17.6 a year",
        "ton-hours per cfm",
        "hour of the day (standard time)",
        "2,667",
    ):
        assert words in text, words
    draw(year, summarize(year), "SI", path)
    text = path.read_text(encoding="utf-8")
    assert "12.8 °C" in text
    assert "kWh per L/s" in text
    assert "°F" not in text


def test_weather_without_a_place(tmp_path):
    source = tmp_path / "constant.csv"
    source.write_text("temp_air_C,rh_frac,pressure_Pa\n" + "25,0.5,101325\n" * 8760)
    year = read(source)
    draw(year, summarize(year), "SI", tmp_path / "constant.png")
    source.write_text("temp_air_C,temp_dew_C,pressure_Pa\n" + "-20,-30,101325\n" * 8760)
    year = read(source, site={"name": "A $5 cold store with a very long name, " * 3})
    draw(year, summarize(year), "I-P", tmp_path / "cold.png")


def test_paths_that_cannot_serve(tmp_path):
    year = read("miami")
    with pytest.raises(InputError, match=r"ends in .png, .svg, .pdf"):
        draw(year, summarize(year), "I-P", tmp_path / "miami.gif")
    with pytest.raises(InputError, match="cannot be written"):
        draw(year, summarize(year), "I-P", tmp_path / "none" / "miami.png")
