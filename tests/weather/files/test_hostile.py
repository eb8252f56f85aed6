"""Files that mean harm or are no weather: one sentence, soon, and nothing of them quoted."""

import os
import re
import time

import pytest

from dewledger.weather.errors import InputError
from dewledger.weather.files.readers import read

SECRET = "hunter2-do-not-print"


def refused(path, words):
    start = time.process_time()
    with pytest.raises(InputError, match=words) as raised:
        read(path)
    assert "\n" not in str(raised.value)
    assert SECRET not in str(raised.value)
    return str(raised.value), time.process_time() - start


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes have names on POSIX only")
def test_devices_and_pipes_are_not_opened(tmp_path):
    pipe = tmp_path / "pipe.csv"
    os.mkfifo(pipe)
    refused(pipe, "is a device or a pipe")
    for device in ("/dev/zero", "/dev/null", "/dev/tty"):
        refused(device, r"is a device or a pipe|neither a file")


@pytest.mark.skipif(not os.access("/proc/kmsg", os.R_OK), reason="read by root of Linux only")
def test_a_file_that_is_waited_for_is_not_waited_for():
    refused("/proc/kmsg", "cannot be read|is empty|format is not known|more than")


def test_a_large_file_is_not_read(tmp_path):
    large = tmp_path / "large.csv"
    with large.open("wb") as file:
        file.truncate(3_000_000_000)  # a file of holes
    refused(large, "more than 60 MB")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"x" * 5_000_000, "line 1 has 5,000,000 characters"),
        (b"a," * 2_000_000, "line 1 has 4,000,000 characters"),
        (b"\n" * 2_000_000 + b"x", "2,000,000 lines"),
        (b"\r" * 2_000_000 + b"x", "2,000,000 lines"),
        (b"12345" + b" " * 2_500 + b"\n1\n", "format is not known"),
        (b"12345 " + b"A " * 1_250 + b"\n1\n", "format is not known"),
        (b" 12345 CITY" + b"  X" * 6_000 + b"\n1\n", "format is not known"),
        (b'"' + b"q" * 140_000 + b'",1\n' + b"1,2\n" * 9000, "characters"),
        (b'temp_air_C,rh_frac\n"' + b"1,2\n" * 9000, "quotes|CSV|line"),
        (
            b"temp_air_C,rh_frac" + b",x" * 2_000 + b"\n" + (b"1," * 2_001 + b"1\n") * 4_000,
            "columns of",
        ),
        (f"root:{SECRET}:0:0\n".encode() * 3, "format is not known"),
        (f"{SECRET};a;b\n1;2;3\n".encode(), "separated by semicolons"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_text_that_is_no_weather(content, words, tmp_path):
    path = tmp_path / "odd.csv"
    path.write_bytes(content)
    refused(path, words)


def test_a_mapping_opens_nothing(tmp_path):
    """Columns named by the user make any file a plain CSV; its heads are still not shown."""
    path = tmp_path / "secret.csv"
    path.write_text(f"{SECRET},other\n1,2\n")
    with pytest.raises(InputError, match="is not in the file, which is no year") as raised:
        read(path, columns={"temp_air_C": "outside"})
    assert SECRET not in str(raised.value)


@pytest.mark.parametrize("form", ["tmy3", "nsrdb", "pvgis"])
def test_a_column_twice(form, request, write):
    lines = request.getfixturevalue(form)
    at = {"tmy3": 1, "nsrdb": 2, "pvgis": 16}[form]
    heads = {"tmy3": "Dry-bulb (C)", "nsrdb": "Temperature", "pvgis": "T2m"}[form]
    other = {"tmy3": "Dew-point (C)", "nsrdb": "Dew Point", "pvgis": "SP"}[form]
    lines[at] = lines[at].replace(other, heads)
    with pytest.raises(InputError, match=f'column "{re.escape(heads)}" appears twice'):
        read(write(lines))


@pytest.mark.parametrize("second", ["temp_air_C", " temp_air_C ", "rh_frac"])
def test_a_column_twice_in_a_plain_csv(second, write):
    rows = [f"temp_air_C,rh_frac,{second}", *["25,0.5,25"] * 8760]
    with pytest.raises(InputError, match=f'column "{second.strip()}" appears twice'):
        read(write(rows))


def test_pvgis_of_half_hours_is_averaged(pvgis, write):
    sound = read(write(pvgis), site={"utc_offset_h": 0})
    head, rows, tail = pvgis[:17], pvgis[17 : 17 + 8760], pvgis[17 + 8760 :]
    halves = [half for row in rows for half in (row, row.replace("00,", "30,", 1))]
    year = read(write([*head, *halves, *tail]), site={"utc_offset_h": 0})
    assert year.frame.temp_air_C.equals(sound.frame.temp_air_C)
    assert "sub-hourly rows" in {finding.check for finding in year.findings}


@pytest.mark.parametrize("size", [41, 400, 4000])
def test_numbers_of_many_digits(size, write):
    rows = ["temp_air_C,rh_frac,pressure_Pa", *["25,0.5,101325"] * 8760]
    rows[50] = f"25,{'9' * size},101325"
    with pytest.raises(InputError, match='line 51 has "9'):
        read(write(rows))
    with pytest.raises(InputError, match=r"gives .* as latitude"):
        read(write([f"# latitude: {'9' * size}", *rows]))


def test_times_of_several_offsets(write):
    """Clock time with its offset from UTC, which changes in summer, is no standard time."""
    times = [f"2023-{'07' if i > 4000 else '01'}-01T00:00-0{4 if i > 4000 else 5}:00"
             for i in range(8760)]  # fmt: skip
    rows = ["time,temp_air_C,rh_frac,pressure_Pa", *[f"{time},25,0.5,101325" for time in times]]
    with pytest.raises(InputError, match="more than one offset from UTC"):
        read(write(rows))


def test_tmy2_rows_that_have_lost_a_character(tmy2, write):
    """What stands after it would be read from the neighbor's digits."""
    tmy2[500] = tmy2[500][:60] + tmy2[500][61:] + " "
    with pytest.raises(InputError, match="line 501 is no row of the TMY2 format"):
        read(write(tmy2))
