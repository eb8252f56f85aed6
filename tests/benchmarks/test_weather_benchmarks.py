"""How long it takes to read each bundled format, and to sum a year up."""

import pytest

from dewledger.weather.bundled import BUNDLED
from dewledger.weather.climate import summarize
from dewledger.weather.files.readers import read
from dewledger.weather.physics.solar import tilted_irradiance

pytestmark = pytest.mark.benchmark


@pytest.mark.parametrize("name", BUNDLED)
def test_read(benchmark, name):
    year = benchmark(read, name)
    assert year.frame.shape[0] == 8760


def test_summarize(benchmark):
    year = read("miami")
    summary = benchmark(summarize, year)
    assert summary.hours_above_base == 5550


def test_tilted_irradiance(benchmark):
    year = read("miami")
    assert benchmark(tilted_irradiance, year, 90, 180).sum() > 0
