"""Years that are whole and wrong: each by one change to a sound file, and what is said of it.

What a change is comes from the change itself: rows moved by so many hours, a sign turned, a unit's
factor (3.6 kJ/h per W).
"""

import numpy as np
import pytest

from dewledger.weather.bundled import BUNDLED
from dewledger.weather.errors import InputError
from dewledger.weather.files.readers import read
from dewledger.weather.physics.solar import tilted_irradiance

PLACES = {"dry": 5, "dew": 6, "rh": 7, "pressure": 8, "ghi": 9, "dni": 10, "dhi": 11}
SUN = ("ghi", "dni", "dhi")
ALL = tuple(PLACES)


class Table:
    """The rows of an NSRDB CSV as numbers, and back to lines."""

    def __init__(self, lines):
        self.head, self.rows = lines[:3], [row.split(",") for row in lines[3:]]

    def get(self, name):
        return np.array([float(row[PLACES[name]]) for row in self.rows])

    def put(self, name, values):
        for row, value in zip(self.rows, values, strict=True):
            row[PLACES[name]] = f"{value:.6g}"

    def change(self, names, by, where=slice(None)):
        for name in names:
            values = self.get(name)
            values[where] = by(values)[where]
            self.put(name, values)
        return self

    def of_place(self, name, text):
        heads, values = (line.split(",") for line in self.head[:2])
        values[heads.index(name)] = text
        self.head[1] = ",".join(values)
        return self

    @property
    def lines(self):
        return [*self.head, *(",".join(row) for row in self.rows)]


@pytest.fixture
def table(nsrdb):
    """Greensboro, which is in order: 36.1 N, 79.95 W, UTC-5."""
    return Table(nsrdb)


def found(year):
    return {finding.check: finding for finding in year.findings}


@pytest.mark.parametrize("name", BUNDLED)
def test_sound_files_are_left_in_peace(name):
    usual = {"humidity disagrees", "constant pressure"}
    assert {finding.check for finding in read(name).findings} <= usual


@pytest.mark.parametrize(
    ("hours", "words"),
    [(1, "60 min late"), (-1, "60 min early"), (2, "2.0 h late"), (-3, "3.0 h early")],
)
def test_rows_of_another_clock(table, write, hours, words):
    year = read(write(table.change(ALL, lambda v: np.roll(v, hours)).lines))
    said = found(year)["clock"].sentence
    assert abs(float(said.split(" is ")[1].split()[0]) - float(words.split()[0])) < 5
    assert said.split(" is ")[1].split()[1:3] == words.split()[1:]


def test_half_a_day_cannot_serve(table, write):
    with pytest.raises(InputError, match=r"12\.\d h (late|early).*warmest near 2\.\d h"):
        read(write(table.change(ALL, lambda v: np.roll(v, 12)).lines))


def test_a_clock_put_forward_in_summer(table, write):
    summer = np.zeros(8760, dtype=bool)
    summer[69 * 24 : 306 * 24] = True  # 11 March to 2 November
    year = read(write(table.change(ALL, lambda v: np.roll(v, 1), summer).lines))
    assert "as if the clock were put forward in summer" in found(year)["summer time"].sentence


@pytest.mark.parametrize(
    ("name", "text", "check"),
    [
        ("Latitude", "55", "latitude"),
        ("Longitude", "-65", "clock"),
        ("Longitude", "79.95", "sun of another hour"),
        ("Elevation", "1500", "pressure unlike altitude"),
        ("Local Time Zone", "-8", "two time zones"),
    ],
)
def test_another_place(table, write, name, text, check):
    assert check in found(read(write(table.of_place(name, text).lines)))


def test_a_southern_latitude_with_northern_seasons(table, write):
    with pytest.raises(InputError, match=r"as at latitude 3\d.*dry bulb is 2\d.* in June"):
        read(write(table.of_place("Latitude", "-36.1").lines))


def test_a_zone_in_minutes(table, write):
    with pytest.raises(InputError, match="no such UTC offset exists"):
        read(write(table.of_place("Time Zone", "-300").of_place("Local Time Zone", "-300").lines))


def test_sunshine_at_night(table, write):
    year = read(write(table.change(["ghi"], lambda v: v + 30.0).lines))
    assert "by night in" in found(year)["sun at night"].sentence


@pytest.mark.parametrize("factor", [3.6, 0.5, 0.317, 0.001])
def test_irradiance_in_another_unit(table, write, factor):
    year = read(write(table.change(SUN, lambda v: v * factor).lines))
    checks = found(year)
    assert "irradiance unit" in checks
    with pytest.raises(InputError, match="solar gain cannot be computed"):
        tilted_irradiance(year, 90, 180)


def test_one_month_of_another_unit(table, write):
    june = slice(151 * 24, 181 * 24)
    year = read(write(table.change(SUN, lambda v: v * 3.6, june).lines))
    finding = found(year)["irradiance unit"]
    assert min(finding.hours) >= 151 * 24
    assert max(finding.hours) < 181 * 24


def test_direct_and_diffuse_change_places(table, write):
    dni, dhi = table.get("dni"), table.get("dhi")
    table.put("dni", dhi)
    table.put("dhi", dni)
    assert "irradiance disagrees" in found(read(write(table.lines)))


def test_a_month_in_place_of_another(table, write):
    """January's rows where July's are due."""
    july = slice(181 * 24, 212 * 24)
    year = read(write(table.change(ALL, lambda v: np.roll(v, 181 * 24), july).lines))
    assert "July" in found(year)["length of days"].sentence


def test_a_stretch_in_fahrenheit(table, write):
    block = slice(3000, 3400)
    year = read(write(table.change(["dry"], lambda v: np.minimum(1.8 * v + 32, 69), block).lines))
    assert {3000, 3400} <= set(found(year)["step"].hours)


def test_single_hours(table, write):
    year = read(write(table.change(["dry"], lambda v: v + 20.0, np.array([100, 5000])).lines))
    assert found(year)["single hours"].hours == (100, 5000)


def test_a_stretch_with_its_signs_turned(table, write):
    cold = int(np.argmin(table.get("dry")))
    block = slice(cold - 5, cold + 5)
    year = read(write(table.change(["dry", "dew"], lambda v: -v, block).lines))
    assert "sign turned" in found(year) or "step" in found(year)


def test_minus_signs_lost(table, write):
    year = read(write(table.change(["dry", "dew"], np.abs).lines))
    assert {finding.column for finding in year.findings if finding.check == "sign lost"} == {
        "temp_air_C",
        "temp_dew_C",
    }


@pytest.mark.parametrize("name", ["dry", "dew", "rh", "pressure", "ghi", "dni", "dhi"])
def test_one_value_for_three_days(table, write, name):
    values = table.get(name)
    start = 4000 + int(np.argmax(values[4000:4024]))  # irradiance by day
    block = slice(start, start + 72)
    year = read(write(table.change([name], lambda v: np.full(8760, v[start]), block).lines))
    checks = found(year)
    assert {"unchanging value", "unchanging dew point", "sun at night"} & set(checks)


def test_days_that_are_the_day_before(table, write):
    block = slice(4080, 4128)
    year = read(write(table.change(ALL, lambda v: np.tile(v[4056:4080], 365), block).lines))
    finding = found(year)["day repeated"]
    assert finding.hours == tuple(range(4080, 4128))


def test_humidity_in_another_unit_for_a_month(table, write):
    sound = read(write(table.lines)).column("rh_frac")
    year = read(write(table.change(["rh"], lambda v: v / 100.0, slice(2000, 2700)).lines))
    finding = found(year)["relative humidity unit"]
    assert finding.hours == tuple(range(2000, 2700))
    assert np.allclose(year.column("rh_frac"), sound)


def test_dryness_for_humidity(table, write):
    year = read(write(table.change(["rh"], lambda v: 100.0 - v).lines))
    assert "humidity rises with warmth" in found(year)


def test_a_step_of_pressure(table, write):
    year = read(write(table.change(["pressure"], lambda v: v + 25.0, slice(100, 200)).lines))
    assert found(year)["pressure step"].hours == (100, 200)


def test_air_that_is_warmest_in_the_morning(table, write):
    year = read(
        write(table.change(["dry", "dew", "rh", "pressure"], lambda v: np.roll(v, -7)).lines)
    )
    assert {"warmest hour", "warmest by night"} & set(found(year))
