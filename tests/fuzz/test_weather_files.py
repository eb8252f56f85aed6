"""Weather files that went wrong: a weather year, or one sentence."""

import pytest

from dewledger.weather.bundled import bundled_path
from dewledger.weather.files.readers import read

pytestmark = pytest.mark.fuzz

PLAIN = "time,temp_air_C,temp_dew_C\n" + "".join(
    f"{month:02d}-{day:02d} {hour:02d}:00,{15 + 5 * (hour > 12)},{8 + month % 3}\n"
    for month, days in enumerate((31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31), start=1)
    for day in range(1, days + 1)
    for hour in range(24)
)


def texts():
    path = bundled_path("greensboro")
    assert path is not None
    return (path.read_text(encoding="utf-8"), PLAIN)


@pytest.mark.parametrize("block", range(4))
def test_mutated_weather_files(tmp_path, mutated, effort, result_or_sentence, block):
    path = tmp_path / "year.csv"
    for seed in range(block * 6 * effort, (block + 1) * 6 * effort):
        path.write_bytes(mutated(texts()[seed % 2], seed))
        result_or_sentence(read, path)
