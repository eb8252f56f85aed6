"""Gains: by hand, and hourly loads from a file."""

from datetime import datetime, timedelta

import numpy as np
import pytest

from dewledger.assembly.calendar import year_calendar
from dewledger.assembly.gains import hourly_gains
from dewledger.case import case_from_text
from dewledger.weather.errors import InputError

ROOM = """
format = 2
title = "Store"
[site]
weather = "greensboro"
[room]
floor_area = "100 m2"
height = "3 m"
conductance = "100 W/K"
cooling_setpoint = "24 degC"
heating_setpoint = "20 degC"
[schedule]
weekday = "08:00-18:00"
[air]
supply_flow = "500 L/s"
fan_power = "300 W"
[unit]
total_capacity = "10 kW"
sensible_heat_ratio = "70 %"
efficiency = "3.3 COP"
[options.only]
title = "Only"
"""
NOON_MONDAY = 24 + 12
NIGHT_MONDAY = 24 + 2
# Enthalpy of vapor at 24 C, ASHRAE Handbook - Fundamentals (2017) ch. 1 eq. 30: 2501 + 1.86 t.
VAPOR_24C = 2_501_000.0 + 1860.0 * 24.0


def gains_of(text, folder="."):
    case = case_from_text(ROOM + text, folder)
    return hourly_gains(case, year_calendar(case.schedule, 2023))


def test_no_loads_are_no_gains():
    gains = gains_of("")
    assert not gains.sensible_W.any()
    assert not gains.moisture_kg_s.any()


def test_people_lights_equipment_and_a_process_by_hand():
    gains = gains_of(
        """
[loads.people]
count = 10
activity = "seated, very light work"
[loads.lights]
power_density = "8 W/m2"
[loads.equipment]
power = "500 W"
profile = "always"
[loads.process]
sensible = "1 kW"
moisture = "900 g/h"
"""
    )
    # 10 people of 70 W sensible and 45 W latent, 100 m2 of 8 W/m2, 500 W, 1 kW; 450 W over the
    # enthalpy of vapor and 900 g/h.
    assert gains.sensible_W[NOON_MONDAY] == pytest.approx(700 + 800 + 500 + 1000)
    assert gains.sensible_W[NIGHT_MONDAY] == pytest.approx(500 + 1000)
    assert gains.lights_W[NOON_MONDAY] == pytest.approx(800)
    assert gains.equipment_W[NIGHT_MONDAY] == pytest.approx(500)
    assert gains.moisture_kg_s[NOON_MONDAY] == pytest.approx(450 / VAPOR_24C + 0.9 / 3600)
    assert gains.moisture_kg_s[NIGHT_MONDAY] == pytest.approx(0.9 / 3600)


@pytest.mark.published
def test_latent_heat_of_people_as_vapor():
    # Common practice, no source: 200 Btu/h of latent heat is about 0.19 lb/h at 1061 to 1076
    # Btu/lb; our vapor at 24 C has 1094 Btu/lb, which the range of 3 % covers.
    gains = gains_of(
        '[loads.people]\ncount = 1\nsensible = "250 Btu/h/person"\nlatent = "200 Btu/h/person"\n'
    )
    assert gains.moisture_kg_s.max() * 3600 / 0.45359237 == pytest.approx(0.19, rel=0.04)


def test_people_by_area_and_a_profile():
    gains = gains_of(
        """
[loads.people]
area_per_person = "5 m2/person"
sensible = "70 W/person"
latent = "0 W/person"
profile = "half"
[profiles.half]
weekday = [0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0.5, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0]
"""
    )
    assert gains.sensible_W[NOON_MONDAY] == pytest.approx(20 * 0.5 * 70)
    assert gains.sensible_W[NOON_MONDAY + 1] == 0.0


def test_an_office_by_hand():
    gains = gains_of('[loads]\nroom_kind = "office"\n')
    # At 10:00 on a weekday: 100 m2 over 275 ft2 (25.5483 m2) a person at 0.95 of 75 W, lights of
    # 0.64 and equipment of 0.75 W/ft2 at 0.90.
    per_m2 = 1 / 0.09290304
    expected = 100 / 25.548336 * 0.95 * 75 + (0.64 + 0.75) * per_m2 * 100 * 0.9
    assert gains.sensible_W[24 + 10] == pytest.approx(expected)


# --- Hourly loads from a file --------------------------------------------------------------------


def write_loads(folder, head="sensible_W,moisture_kg_h", rows=8760, row="{i},1.8"):
    lines = [head, *(row.format(i=i) for i in range(rows))]
    (folder / "loads.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def from_file(folder, columns=""):
    return gains_of(f'[loads.file]\npath = "loads.csv"\n{columns}\n', folder)


def test_loads_of_a_file_are_added(tmp_path):
    write_loads(tmp_path)
    gains = from_file(tmp_path, "[loads.lights]\npower = '100 W'\nprofile = 'always'")
    assert np.array_equal(gains.sensible_W, np.arange(8760) + 100.0)
    assert gains.moisture_kg_s == pytest.approx(np.full(8760, 1.8 / 3600))


def test_units_and_names_of_columns(tmp_path):
    write_loads(tmp_path, "Hour,Hall sensible,Hall latent", row="{i},3412.141633,1000")
    gains = from_file(
        tmp_path,
        'columns = { sensible_Btu_h = "Hall sensible", latent_W = "Hall latent" }',
    )
    assert gains.sensible_W == pytest.approx(np.full(8760, 1000.0))
    assert gains.moisture_kg_s == pytest.approx(np.full(8760, 1000 / VAPOR_24C))


@pytest.mark.parametrize(
    ("make", "columns", "says"),
    [
        ({"rows": 8784}, "", "has 8784 rows; write 8760.*leave out 29 February"),
        (
            {"rows": 8759},
            "",
            "has 8759 rows; write 8760, one for each hour of local standard time$",
        ),
        ({"row": "{i},"}, "", 'has "" in column "moisture_kg_h" of hour 1 of the year'),
        ({"row": "{i},nan"}, "", 'has "nan"'),
        ({"row": "{i}"}, "", 'has "" in column "moisture_kg_h"'),
        ({"head": "a,b"}, "", 'no column that names a load.*columns = { sensible_W = "a" }'),
        ({}, 'columns = { sensible_watt = "a" }', 'sensible_watt is not known .did you mean "sens'),
        ({}, 'columns = { sensible_W = "sensible" }', 'no column "sensible" .did you mean "sensib'),
        ({"rows": -1, "head": ""}, "", "is empty"),
    ],
)
def test_one_sentence_for_a_wrong_file(tmp_path, make, columns, says):
    write_loads(tmp_path, **make)
    with pytest.raises(InputError, match=says) as caught:
        from_file(tmp_path, columns)
    assert "[loads.file]" in str(caught.value)


def test_one_sentence_for_a_missing_file(tmp_path):
    with pytest.raises(InputError, match=r"\[loads.file\] path: .* cannot be read"):
        from_file(tmp_path)


def test_one_sentence_for_a_file_that_is_no_text(tmp_path):
    (tmp_path / "loads.csv").write_bytes(b"\xff\xfe\x00\x01")
    with pytest.raises(InputError, match="is not a CSV in UTF-8"):
        from_file(tmp_path)


# --- Times of the rows ----------------------------------------------------------------------------

STAMPS = [datetime(2023, 1, 1) + timedelta(hours=hour) for hour in range(8761)]


def stamped(folder, head, rows):
    lines = [f"{head},sensible_W", *(f"{row},100" for row in rows)]
    (folder / "loads.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return from_file(folder)


@pytest.mark.parametrize(
    ("head", "rows"),
    [
        ("Time", [f"{time:%Y-%m-%d %H:%M}" for time in STAMPS[:-1]]),
        ("timestamp", [f"{time:%Y-%m-%dT%H:30:00}" for time in STAMPS[:-1]]),
        ("Date/Time", [f"{time:%m/%d/%Y %H:%M}" for time in STAMPS[1:]]),
        ("Date,Time", [f"{time:%m/%d/%Y},{time.hour + 1}:00" for time in STAMPS[:-1]]),
        ("month,day,hour", [f"{t.month},{t.day},{t.hour}" for t in STAMPS[:-1]]),
        ("month,day,hour", [f"{t.month},{t.day},{t.hour + 1}" for t in STAMPS[:-1]]),
        ("hour", [str(hour) for hour in range(1, 8761)]),
    ],
    ids=["begin", "middle", "end", "two columns to 24:00", "0 to 23", "1 to 24", "hour of year"],
)
def test_times_of_the_weather_year_are_taken(tmp_path, head, rows):
    assert stamped(tmp_path, head, rows).sensible_W == pytest.approx(np.full(8760, 100.0))


def summer_time():
    """A year by a clock that is put forward on 12 March and back on 5 November."""
    before, after = STAMPS[: 70 * 24 + 2], STAMPS[70 * 24 + 3 : 308 * 24 + 2]
    return [*before, *after, STAMPS[308 * 24 + 1], *STAMPS[308 * 24 + 2 : -1]]


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        (
            [f"{time:%Y-%m-%d %H:%M}" for time in [*STAMPS[5:-1], *STAMPS[:5]]],
            "begins at 01-01 05:00; write the hour from 01-01 00:00 first",
        ),
        (
            [f"{time:%Y-%m-%d %H:%M}" for time in summer_time()],
            "has 03-12 03:00 in hour 1683 of the year, where 03-12 02:00 is due.* summer time",
        ),
        (["2024-02-29 00:00"] * 8760, 'has "2024-02-29 00:00" in column "Time" of hour 1'),
        (["noon"] * 8760, 'has "noon" in column "Time".*or leave that column out'),
    ],
    ids=["late", "summer time", "leap day", "no time"],
)
def test_rows_out_of_step_are_told(tmp_path, rows, says):
    assert len(rows) == 8760
    with pytest.raises(InputError, match=says) as caught:
        stamped(tmp_path, "Time", rows)
    assert "\n" not in str(caught.value)
