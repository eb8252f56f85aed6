"""Trend files: a ledger written as one, with gaps, irregular times and summer time, agrees with
itself; the hours of a clock are those of the IANA zone data (America/New_York)."""

import random

import numpy as np
import pandas as pd
import pytest

from dewledger.analysis.meter.trends import compare_trends, read_trends
from dewledger.case.meter import Trend
from dewledger.weather.errors import InputError

YEAR = 2021
ZONE = "America/New_York"


def ledger():
    hours = np.arange(8760)
    return {
        "room_temp_C": 23.0 + 2.0 * np.sin(hours / 24.0),
        "room_rh_frac": 0.5 + 0.1 * np.sin(hours / 100.0),
        "supply_temp_C": 13.0 + np.cos(hours / 7.0),
        "outdoor_temp_C": 20.0 + 10.0 * np.sin(hours / 1000.0),
        "compressor_runtime_frac": (hours % 10) / 10.0,
    }


def written(tmp_path, zone=None, seed=0):
    """The ledger as a building automation system would have kept it."""
    draw = np.random.default_rng(seed)
    table = ledger()
    start = pd.Timestamp(YEAR, 1, 1)
    rows = []
    for hour in range(8760):
        if draw.random() < 0.05 or 3000 < hour < 3100:  # gaps
            continue
        for minute in sorted(draw.choice(60, draw.integers(1, 5), replace=False)):
            stamp = start + pd.Timedelta(hours=hour, minutes=int(minute))
            if zone:
                stamp = stamp.tz_localize("Etc/GMT+5").tz_convert(zone).tz_localize(None)
            rows.append(
                (
                    stamp.strftime("%m/%d/%Y %I:%M %p"),
                    table["room_temp_C"][hour] * 1.8 + 32.0,
                    table["room_rh_frac"][hour] * 100.0,
                    table["supply_temp_C"][hour] * 1.8 + 32.0,
                    table["compressor_runtime_frac"][hour] * 100.0,
                )
            )
    frame = pd.DataFrame(rows, columns=["Time", "ZN-T", "ZN-RH", "DA-T", "Comp"])
    frame.to_csv(tmp_path / "trend.csv", index=False)
    return frame


def trend(**more):
    table = {
        "file": "trend.csv", "time": "Time",
        "columns": {"room_temperature": "ZN-T", "room_relative_humidity": "ZN-RH",
                    "supply_temperature": "DA-T", "compressor": "Comp"},
    }  # fmt: skip
    return Trend.model_validate(table | more)


@pytest.mark.parametrize("zone", [None, ZONE])
def test_a_ledger_written_as_trends_has_no_bias(tmp_path, zone):
    written(tmp_path, zone)
    read = read_trends(trend(**({"time_zone": zone} if zone else {})), tmp_path, YEAR, -5.0)
    found = compare_trends(read, ledger(), 0.55, "unit")
    assert found.hours_compared > 8000
    for one in found.agreements:
        assert abs(one.bias) < 1e-9
        assert one.scatter < 1e-9
    assert found.hours_above_measured == found.hours_above_modeled > 1000


@pytest.mark.parametrize("kept", ["newest first", "rows twice"])
def test_the_hour_that_comes_twice_in_files_of_other_orders(tmp_path, kept):
    """The same rows from the last to the first, or each row twice, as some systems export them."""
    frame = written(tmp_path, ZONE)
    frame = frame[::-1] if kept == "newest first" else frame.loc[frame.index.repeat(2)]
    frame.to_csv(tmp_path / "trend.csv", index=False)
    read = read_trends(trend(time_zone=ZONE), tmp_path, YEAR, -5.0)
    for one in compare_trends(read, ledger(), 0.55, "unit").agreements:
        assert abs(one.bias) < 1e-9
        assert one.scatter < 1e-9


def test_summer_time_taken_for_standard_time_shows(tmp_path):
    written(tmp_path, ZONE)
    read = read_trends(trend(), tmp_path, YEAR, -5.0)
    found = compare_trends(read, ledger(), 0.55, "unit")
    assert found["compressor"].scatter > 0.1


def test_words_and_other_units(tmp_path):
    (tmp_path / "trend.csv").write_text(
        "Time,ZN-T,Comp\n2021-07-01 00:10,24.5,On\n2021-07-01 00:40,23.5,Off\n"
    )
    read = read_trends(
        trend(columns={"room_temperature": "ZN-T", "compressor": "Comp"},
              units={"room_temperature": "degC"}),
        tmp_path, YEAR, -5.0,
    )  # fmt: skip
    hour = 181 * 24
    assert read.values["room_temperature"][hour] == pytest.approx(24.0)
    assert read.values["compressor"][hour] == pytest.approx(0.5)
    assert np.isnan(read.values["compressor"][hour + 1])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("When,ZN-T\n1,2\n", 'no column "Time"'),
        ("Time,ZN-T\nsoon,70\n", 'has "soon" as time'),
        ("Time,ZN-T\n2021-07-01 00:10,70\nlater,70\n", 'has "later" as time in row 2'),
        ("Time,ZN-T\n2019-07-01 00:10,70\n", "no times in 2021"),
        ("Time,ZN-T\n2021-07-01 00:10,warm\n", "no number"),
        ("Time,ZN-T\n2021-07-01 00:10,700\n", "cannot be room temperature"),
    ],
)
def test_one_sentence(tmp_path, text, words):
    (tmp_path / "trend.csv").write_text(text)
    with pytest.raises(InputError) as raised:
        read_trends(trend(columns={"room_temperature": "ZN-T"}), tmp_path, YEAR, -5.0)
    assert words in str(raised.value)
    assert "\n" not in str(raised.value)


def test_an_unknown_zone_is_one_sentence(tmp_path):
    written(tmp_path)
    with pytest.raises(InputError, match='time_zone "Mars/Base" is not known'):
        read_trends(trend(time_zone="Mars/Base"), tmp_path, YEAR, -5.0)


def read_or_refused(read):
    """What was read, or the sentence of its refusal."""
    try:
        return read(), ""
    except InputError as error:
        return None, str(error)


@pytest.mark.parametrize("seed", range(20))
def test_mutated_trends_are_read_right_or_refused_in_one_sentence(tmp_path, seed):
    """25 mutants of each seed: cells and lines changed at random."""
    draw = random.Random(seed)
    lines = ["Time,ZN-T,ZN-RH,DA-T,Comp"]
    lines += [
        f"2021-07-{d:02d} {h:02d}:{draw.randrange(60):02d},{70 + h % 5},{50 + h},55,{h % 2}"
        for d in range(1, 4)
        for h in range(24)
    ]
    for _ in range(25):
        text = list("\n".join(lines))
        for _ in range(draw.randint(1, 8)):
            place = draw.randrange(len(text))
            if draw.random() < 0.4:
                del text[place]
            else:
                text[place] = draw.choice('0123456789,;"\n-/. :xé')
        (tmp_path / "trend.csv").write_text("".join(text), encoding="utf-8")
        read, sentence = read_or_refused(lambda: read_trends(trend(), tmp_path, YEAR, -5.0))
        if read is None:
            assert sentence
            assert "\n" not in sentence
        else:
            temp = read.values["room_temperature"]
            assert np.nanmax(temp) < 90.0
