"""Bills, trends and sweeps that went wrong: read, or one sentence; written well, read right."""

from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dewledger.analysis.meter.bills import read_bills
from dewledger.analysis.meter.trends import read_trends
from dewledger.analysis.sweep.points import make_plan
from dewledger.case import bundled_text, case_from_text
from dewledger.case.meter import Trend

pytestmark = pytest.mark.fuzz

BILLS = "Read Date,Usage (kWh),Demand (kW),Therms\n" + "".join(
    f"2021-{month:02d}-{26 + month % 3},{1000 + 37 * month},{12 + month % 5},{30 - month}\n"
    for month in range(1, 13)
)
TRENDS = "Time,ZN-T,ZN-RH,Comp\n" + "".join(
    f"2021-{7 + i // 744:02d}-{1 + i % 744 // 24:02d} {i % 24:02d}:{7 * i % 60:02d},"
    f"{72 + i % 5},{50 + i % 12},{i % 2}\n"
    for i in range(744)
)
TREND = Trend.model_validate(
    {
        "file": "beside.csv", "time": "Time", "time_zone": "America/New_York",
        "columns": {"room_temperature": "ZN-T", "room_relative_humidity": "ZN-RH",
                    "compressor": "Comp"},
    }
)  # fmt: skip
SWEEPS = (
    "humidity.limit=48 %, 50 %\nair.outdoor_flow=300 to 700 cfm\nsite.weather=miami, greensboro"
)


def test_mutated_bills(tmp_path, mutated, effort, result_or_sentence):
    path = tmp_path / "bills.csv"
    for seed in range(100 * effort):
        path.write_bytes(mutated(BILLS, seed))
        found = result_or_sentence(read_bills, path)
        if found is None:
            continue
        # What is read is bills: periods in order, none twice, nothing below zero.
        assert all(start < end for start, end in zip(found.start, found.end, strict=True))
        assert all(a <= b for a, b in zip(found.end, found.start[1:], strict=False))
        for values in (found.electricity_kWh, found.demand_kW, found.gas_kWh):
            assert (np.isnan(values) | (values >= 0.0)).all()


def test_mutated_trends(tmp_path, mutated, effort, result_or_sentence):
    path = tmp_path / "beside.csv"
    for seed in range(30 * effort):
        path.write_bytes(mutated(TRENDS, seed))
        found = result_or_sentence(read_trends, TREND, tmp_path, 2021, -5.0)
        if found is not None:
            humidity = found.values["room_relative_humidity"]
            assert (np.isnan(humidity) | ((humidity >= 0.0) & (humidity <= 1.0))).all()


def test_mutated_sweeps(mutated, effort, result_or_sentence):
    case = case_from_text(bundled_text("music-school"))
    for seed in range(30 * effort):
        text = mutated(SWEEPS, seed).decode("utf-8", "replace")
        vary = dict(line.split("=", 1) for line in text.split("\n") if "=" in line)
        result_or_sentence(make_plan, case, vary)


MONEY = st.sampled_from(["{:.0f}", "{:,.0f}", "{:.2f}"])


@settings(max_examples=40, deadline=None, derandomize=True,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(
    days=st.lists(st.integers(20, 40), min_size=3, max_size=12),
    kWh=st.lists(st.integers(0, 99_999), min_size=12, max_size=12),
    form=st.sampled_from(["%Y-%m-%d", "%m/%d/%Y", "%d.%m.%Y", "%b %d, %Y"]),
    title=st.sampled_from(["kWh", "Usage (kWh)", "Electricity", "Total kWh"]),
    shown=MONEY,
    separator=st.sampled_from([",", ";", "\t"]),
    upward=st.booleans(),
)
def test_bills_in_any_usual_form_are_read_right(
    tmp_path, days, kWh, form, title, shown, separator, upward
):
    reads = [date(2021, 1, 5)]
    for length in days:
        reads.append(reads[-1] + timedelta(days=length))
    rows = [(f"{read:{form}}", shown.format(k)) for read, k in zip(reads[1:], kWh, strict=False)]
    table = pd.DataFrame(rows if upward else rows[::-1], columns=["Read Date", title])
    path = tmp_path / "bills.csv"
    table.to_csv(path, index=False, sep=separator)
    found = read_bills(path, first_read="2021-01-05")
    assert found.start == tuple(reads[:-1])
    assert found.end == tuple(reads[1:])
    assert found.electricity_kWh == pytest.approx(kWh[: len(days)])
