"""Whatever a user gets wrong: one clear sentence with the remedy, exit code 2, nothing written."""

import os
import re

import numpy as np
import pytest

DAY = 20.0 + 5.0 * np.sin(np.arange(8760) * 2.0 * np.pi / 24.0)


def reported(said, *words):
    """Exit 2 and one sentence on the error stream that holds the words; nothing of Python."""
    assert said.code == 2
    sentences = [line for line in said.err.splitlines() if line.startswith("dewledger: ")]
    assert len(sentences) == 1
    # Only progress lines may stand before it.
    for line in said.err.splitlines()[:-1]:
        assert re.fullmatch(r".+ \(\d+/\d+\)", line), line
    sentence = sentences[0]
    assert said.err.splitlines()[-1] == sentence
    assert "Traceback" not in said.err
    assert "fault inside" not in sentence
    assert re.search(r"write|use|add|fill|name|state|give|check|lower|did you mean|help", sentence)
    for word in words:
        assert word in sentence, (word, sentence)


@pytest.fixture
def untouched(tmp_path):
    """Nothing but the test's own input files may be left behind."""
    yield
    left = {path.name for path in tmp_path.rglob("*")}
    assert left <= {"print-room.toml", "station.csv", "year.csv", "taken", "other.csv"}, left


pytestmark = pytest.mark.usefixtures("untouched")


def spoil(field, rows, text):
    def change(lines):
        for row in rows:
            cells = lines[row].split(",")
            cells[field] = text
            lines[row] = ",".join(cells)
        return lines

    return change


# --- weather --------------------------------------------------------------------------------------


def test_missing_weather_file(dewledger, tmp_path):
    reported(dewledger("weather", tmp_path / "nowhere.epw"), "nowhere.epw", "greensboro")


def test_empty_weather_file(dewledger, tmp_path):
    (tmp_path / "year.csv").write_text("")
    reported(dewledger("weather", tmp_path / "year.csv"), "is empty")


def test_weather_of_no_known_format(dewledger, tmp_path):
    (tmp_path / "year.csv").write_text("a letter\n" * 9000)
    reported(dewledger("weather", tmp_path / "year.csv"), "format is not known", "temp_air_C")


def test_8759_rows(dewledger, tmy3):
    reported(dewledger("weather", tmy3(lambda lines: lines[:-1])), "8759", "31 December 23:00")


def test_8759_rows_of_a_plain_csv(dewledger, plain):
    path = plain(temp_air_C=DAY, rh_percent=50.0, pressure_Pa=101325.0)
    path.write_text("\n".join(path.read_text().splitlines()[:-1]))
    reported(dewledger("weather", path), "8759", "8760")


def test_a_long_run_of_missing_hours(dewledger, tmy3):
    path = tmy3(spoil(31, range(4002, 4012), "-9900"))
    reported(dewledger("weather", path), "dry bulb is missing", "16 June 16:00", "10 h")


def test_no_pressure_and_no_altitude(dewledger, plain):
    reported(dewledger("weather", plain(temp_air_C=DAY, rh_percent=50.0)), "pressure", "altitude")


def test_no_humidity(dewledger, plain):
    reported(
        dewledger("weather", plain(temp_air_C=DAY, pressure_Pa=101325.0)), "humidity", "rh_frac"
    )


@pytest.mark.parametrize(
    ("column", "value", "remedy"),
    [("rh_percent", 0.5, "name it rh_frac"), ("rh_frac", 50.0, "name it rh_percent")],
)
def test_percent_and_fraction_mixed_up(dewledger, plain, column, value, remedy):
    path = plain(temp_air_C=DAY, pressure_Pa=101325.0, **{column: value})
    reported(dewledger("weather", path), remedy)


def test_bad_weather_of_a_case(dewledger, case, tmp_path):
    """The same sentences through ``run`` and ``check``; nothing is written."""
    (tmp_path / "year.csv").write_text("")
    path = case(('"greensboro"', '"year.csv"'))
    reported(dewledger("run", path, "--out", tmp_path / "out"), "is empty")
    reported(dewledger("check", path), "is empty")
    reported(
        dewledger("run", case(), "--weather", "grensboro", "--out", tmp_path / "out"), "greensboro"
    )


# Odd, yet the file serves: what was done is said.


def test_half_hour_zone(dewledger, tmy3):
    def india(lines):
        cells = lines[0].split(",")
        cells[3:6] = ["5.5", "12.9", "80.2"]
        return [",".join(cells), *lines[1:]]

    said = dewledger("weather", tmy3(india))
    assert said.code == 0
    assert "UTC +5.5 h" in said.out


def test_comma_in_the_city(dewledger, tmy3):
    def comma(lines):
        cells = lines[0].split(",")
        cells[1] = '"GREENSBORO, PIEDMONT"'
        return [",".join(cells), *lines[1:]]

    said = dewledger("weather", tmy3(comma))
    assert said.code == 0
    assert "Greensboro, Piedmont" in said.out


@pytest.mark.parametrize("pressure", [{"pressure_Pa": 1013.25}, {"pressure_mbar": 1013.25}])
def test_pressure_in_hPa(dewledger, plain, pressure):
    said = dewledger("weather", plain(temp_air_C=DAY, rh_percent=50.0, **pressure))
    assert said.code == 0
    assert "14.70 psia" in said.out


def test_dew_point_above_dry_bulb(dewledger, tmy3):
    said = dewledger("weather", tmy3(spoil(34, range(4002, 4012), "60.0")))
    assert said.code == 0
    assert "dew point" in said.out
    assert "10 h" in said.out


def test_missing_pressure_with_an_altitude(dewledger, case, plain):
    """The standard atmosphere at the altitude, and a word about it."""
    plain(temp_air_C=DAY, rh_percent=50.0)
    path = case(('weather = "greensboro"', 'weather = "year.csv"\naltitude = "300 m"'))
    said = dewledger("check", path)
    assert said.code == 1
    assert "standard" in said.out


# --- the case -------------------------------------------------------------------------------------


MISTAKES = {
    "unknown key": (("supply_flow", "suply_flow"), ("[air] suply_flow", 'mean "supply_flow"')),
    "no unit": (('"800 L/s"', "800"), ("[air] supply_flow", "has no unit", "2400 cfm")),
    "no unit in the text": (('"800 L/s"', '"800"'), ("has no unit", "2400 cfm")),
    "wrong dimension": (('"800 L/s"', '"75 degF"'), ("not a unit of air flow", "2400 cfm")),
    "unknown unit": (('"800 L/s"', '"800 cmf"'), ("cmf", "cfm")),
    "sensible heat ratio too low": (('"72 %"', '"45 %"'), ("[unit]", "0.450", "nearest possible")),
    "a sign after the unit": (('"800 L/s"', '"800 L/s!"'), ("supply_flow", "cannot be read")),
    "a flow of no building": (('"800 L/s"', '"1e9 L/s"'), ("supply_flow", "out of range")),
    "a capacity beyond the flow": (('"14 kW"', '"1400 kW"'), ("[unit]", "check the total")),
    "a fan that is a furnace": (('"400 W"', '"90 kW"'), ("fan_power", "warm")),
    "a limit that is no quantity": (('limit = "55 %"', "limit = true"), ("limit", "quotes")),
    "sensible heat ratio above one": (('"72 %"', '"120 %"'), ("sensible_heat_ratio", "120 %")),
    "negative capacity": (('"14 kW"', '"-14 kW"'), ("total_capacity", "cannot be negative")),
    "zero flow": (('"800 L/s"', '"0 L/s"'), ("supply_flow", "above zero")),
    "outdoor air above supply air": (('"100 L/s"', '"900 L/s"'), ("900 L/s", "800 L/s")),
    "set points crossed": (('"20 degC"', '"25 degC"'), ("cross", "lower")),
    "a flow too small for the capacity": (('"800 L/s"', '"101 L/s"'), ("impossible", "flow")),
    "not TOML": (('"Print room"', "Print room"), ("line 3",)),
    "no option": (("[options.electric]", "[notoptions.electric]"), ("notoptions",)),
    "limit without a unit of its kind": (('"55 %"', '"55 degF"'), ("limit",)),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_mistake_in_the_case(dewledger, case, tmp_path, name):
    change, words = MISTAKES[name]
    reported(dewledger("run", case(change), "--out", tmp_path / "out"), *words)
    assert not (tmp_path / "out").exists()


def test_missing_case(dewledger, tmp_path):
    reported(dewledger("run", tmp_path / "nowhere.toml"), "does not exist", "dewledger new")


def test_empty_case(dewledger, case):
    path = case()
    path.write_text("")
    reported(dewledger("run", path), "is empty", "dewledger new")


# --- where it is written --------------------------------------------------------------------------


def test_output_folder_exists(dewledger, case, tmp_path):
    (tmp_path / "taken").mkdir()
    said = dewledger("run", case(), "--out", tmp_path / "taken")
    reported(said, "exists already", "--out")
    assert "solving" not in said.err  # reported before the work, not after it
    reported(dewledger("demo", "--out", tmp_path / "taken"), "exists already")
    assert not any((tmp_path / "taken").iterdir())


def test_output_folder_under_a_file(dewledger, case, tmp_path):
    (tmp_path / "taken").write_text("")
    said = dewledger("run", case(), "--out", tmp_path / "taken" / "out")
    reported(said, "cannot be written", "--out")
    assert "solving" not in said.err


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_output_folder_of_someone_else(dewledger, case, tmp_path):
    (tmp_path / "taken").mkdir(mode=0o500)
    reported(dewledger("run", case(), "--out", tmp_path / "taken" / "out"), "cannot be written")


def test_new_does_not_overwrite(dewledger, case):
    path = case()
    before = path.read_bytes()
    reported(dewledger("new", path), "exists already")
    assert path.read_bytes() == before


# --- the command line -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("rn",), ("'rn'", "did you mean 'run'")),
        (("run",), ("missing argument", "dewledger run --help")),
        (("demo", "--fmt", "x"), ("--fmt", "--format")),
        (("demo", "--format", "odt"), ("odt is not a format", "html")),
        (("weather", "greensboro", "--display", "metric"), ("metric", "I-P or SI")),
        (("weather", "greensboro", "--picture", "x.bmp"), ("x.bmp", ".png")),
        (("new",), ("dewledger new hall.toml",)),
        (("new", "x.toml", "--kind", "archve"), ('mean "archive"',)),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else None,
)
def test_command_line(dewledger, monkeypatch, tmp_path, arguments, words):
    monkeypatch.chdir(tmp_path)
    reported(dewledger(*arguments), *words)
