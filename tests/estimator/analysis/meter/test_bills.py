"""Bills read from any usual table, or refused in one sentence; periods added up by hand."""

import random
from datetime import date

import numpy as np
import pandas as pd
import pytest

from dewledger.analysis.meter.bills import KWH_PER_THERM, by_period, read_bills
from dewledger.weather.errors import InputError

MONTHS = "Month,kWh,Demand kW,Therms\n2021-01,1000,12.5,30\n2021-02,900,11,28\n2021-03,800,10,20\n"
READS = 'Read Date,Usage (kWh)\n01/05/2021,"1,234"\n02/04/2021,950\n03/08/2021,1010.5\n'


@pytest.fixture
def bills(tmp_path):
    def of(text, **more):
        path = tmp_path / "bills.csv"
        path.write_text(text, encoding="utf-8")
        return read_bills(path, **more)

    return of


def test_months(bills):
    found = bills(MONTHS)
    assert found.start == (date(2021, 1, 1), date(2021, 2, 1), date(2021, 3, 1))
    assert found.end[1] == date(2021, 3, 1)
    assert found.electricity_kWh.tolist() == [1000.0, 900.0, 800.0]
    assert found.demand_kW.tolist() == [12.5, 11.0, 10.0]
    # 1 therm = 100,000 Btu of 1,055.06 J: 29.3 kWh (US Energy Information Administration).
    assert found.gas_kWh[0] == pytest.approx(30 * 29.3, rel=2e-3)
    assert pytest.approx(29.307, abs=1e-3) == KWH_PER_THERM


def test_read_dates_thousands_and_the_reading_before(bills):
    found = bills(READS, first_read="2020-12-03")
    assert found.start[0] == date(2020, 12, 3)
    assert found.start[1:] == found.end[:-1]
    assert found.electricity_kWh[0] == 1234.0
    assert np.isnan(found.gas_kWh).all()
    assert bills(READS).start[0] == date(2020, 12, 5)  # a month before, where nothing is said


def test_a_table_of_pandas_reads_like_its_file(bills, tmp_path):
    frame = pd.read_csv(tmp_path / "bills.csv") if bills(MONTHS) else None
    again = read_bills(frame)
    assert again.electricity_kWh.tolist() == [1000.0, 900.0, 800.0]
    indexed = pd.DataFrame(
        {"kWh": [1.0, 2.0, 3.0]}, index=pd.Index(["2021-01", "2021-02", "2021-03"], name="month")
    )
    assert read_bills(indexed).start[2] == date(2021, 3, 1)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("Month,kWh\n", "holds no bills"),
        ("Month,cost\n2021-01,12\n", "no column of energy"),
        ("kWh,kW\n12,3\n", "no column of dates"),
        ("Month,kWh\n2021-01,-5\n", "below zero"),
        ("Month,kWh\n2021-01,many\n", 'has "many" in column "kWh" of row 1'),
        ("Month,kWh\n2021-13,5\n", 'has "2021-13" as month in row 1'),
        ("Month,kWh\n2021-01,5\n2021-01,6\n", "two bills for 2021-01-01"),
        ("Read date,kWh\n2021-01-05,5\n2021-01-05,6\n", "read date 2021-01-05 twice"),
        ("Start,End,kWh\n2021-02-05,2021-01-05,5\n", "write the later date as the end"),
        ("Month,kWh,usage kWh\n2021-01,5,5\n", "two columns for one thing"),
        ("Month,kWh\n2021-01,1,234\n", "more cells than its head"),
        ("Month,kWh\n2021-01,1e999\n", "write a number"),
    ],
)
def test_one_sentence(bills, text, words):
    with pytest.raises(InputError) as raised:
        bills(text)
    assert words in str(raised.value)
    assert "\n" not in str(raised.value)


def test_a_file_that_is_none(tmp_path):
    with pytest.raises(InputError, match="is not a file"):
        read_bills(tmp_path)
    (tmp_path / "b.csv").write_bytes(b"\xff\xfe\x00month")
    with pytest.raises(InputError, match="UTF-8"):
        read_bills(tmp_path / "b.csv")


def read_or_refused(read):
    """What was read, or the sentence of its refusal."""
    try:
        return read(), ""
    except InputError as error:
        return None, str(error)


@pytest.mark.parametrize("seed", range(40))
def test_mutated_bills_are_read_right_or_refused_in_one_sentence(bills, seed):
    """Characters and lines dropped, doubled, swapped and replaced: 25 mutants of each seed."""
    draw = random.Random(seed)
    for _ in range(25):
        text = list(draw.choice([MONTHS, READS]))
        for _ in range(draw.randint(1, 6)):
            place = draw.randrange(len(text))
            what = draw.randrange(4)
            if what == 0:
                del text[place]
            elif what == 1:
                text.insert(place, draw.choice('0123456789,;"\n-/. \tkWhx\0é'))
            elif what == 2:
                text[place] = draw.choice('0123456789,;"\n-/.e')
            else:
                text = text[: place + 1]
            text = text or ["x"]
        found, sentence = read_or_refused(lambda text=text: bills("".join(text)))
        if found is None:
            assert sentence
            assert "\n" not in sentence
        else:
            assert all(a < b for a, b in zip(found.start, found.end, strict=True))
            assert not (found.electricity_kWh < 0).any()


def test_periods_of_a_steady_kilowatt(bills):
    """24 kWh a day, by hand; a bill that reaches out of the year is not reported."""
    found = bills("Read date,kWh\n2021-01-05,1\n2021-02-04,1\n2021-03-08,1\n2022-01-03,1\n")
    sums = by_period(np.ones(8760), found, 2021)
    assert np.isnan(sums[0])
    assert sums[1:3].tolist() == [24.0 * 30, 24.0 * 32]
    assert np.isnan(sums[3])


def test_a_leap_year_has_its_day(bills):
    """February 2020 has 29 days: the day that the hours leave out counts as the one before."""
    found = bills("Month,kWh\n2020-02,1\n2020-03,1\n2020-12,1\n")
    hourly = np.zeros(8760)
    hourly[58 * 24 : 59 * 24] = 2.0  # 28 February
    assert by_period(np.ones(8760), found, 2020).tolist() == [696.0, 744.0, 744.0]
    assert by_period(hourly, found, 2020).tolist() == [96.0, 0.0, 0.0]


def test_ends_that_are_the_last_day_of_a_bill(bills):
    """1 to 31 January, 1 to 28 February: 31 and 28 days by the calendar; read on one day, 30."""
    found = bills("Start Date,End Date,kWh\n2021-01-01,2021-01-31,5\n2021-02-01,2021-02-28,6\n")
    assert found.end == (date(2021, 2, 1), date(2021, 3, 1))
    shared = bills("From,To,kWh\n2021-01-01,2021-01-31,5\n2021-01-31,2021-02-28,6\n")
    assert shared.end == (date(2021, 1, 31), date(2021, 2, 28))


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ("Month,kWh,kWh", 'two columns called "kWh"'),
        ("Month,kWh,Gas (CCF)", 'the column "Gas (CCF)" in ccf, which is not read'),
        ("Month,MWh,Cost", "in mwh, which is not read; write it as kWh or therms"),
    ],
)
def test_columns_that_nobody_reads_are_not_passed_over(bills, head, words):
    with pytest.raises(InputError) as raised:
        bills(f"{head}\n2021-01,5,6\n")
    assert words in str(raised.value)
