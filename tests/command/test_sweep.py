"""The verb ``sweep``: its table, summary and pictures, the best point, and its refusals.

Expected values are taken from the rows that it writes itself, counted again with numpy.
"""

import csv
import re

import numpy as np
import pytest

from dewledger.reports.words.estimates import CAUTION

PRICES = '[prices]\nelectricity = "0.12 USD/kWh"\ngas = "1.05 USD/therm"\n\n[options.electric]'
ALLOWED = '[allowance]\ncode = "90.1"\nedition = "2019"\n\n'
VARY = (
    "--vary", "humidity.limit=50 %, 55 %",
    "--vary", "site.weather=greensboro, miami, sand-point",
)  # fmt: skip


@pytest.fixture
def hall(case):
    return case(("[options.electric]", ALLOWED + PRICES))


def rows_of(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_a_sweep_writes_its_table_summary_and_pictures(dewledger, hall, tmp_path):
    out = tmp_path / "swept"
    said = dewledger("sweep", hall, *VARY, "--out", out)
    assert said.code == 0, said.err
    rows = rows_of(out / "annual.csv")
    assert len(rows) == 2 * 3 * 2
    assert {row["site.weather"] for row in rows} == {"greensboro", "miami", "sand-point"}
    wrote = set(re.findall(r"^wrote (.+)$", said.out, re.MULTILINE))
    assert wrote >= {str(out / name) for name in ("annual.csv", "summary.csv")}
    pictures = sorted(out.glob("*.png"))
    assert {str(path) for path in pictures} <= wrote
    # Two levers, a front of cost against hours, three stations on a map.
    assert len(pictures) >= 3
    assert all(path.read_bytes().startswith(b"\x89PNG") for path in pictures)

    for row in rows_of(out / "summary.csv"):
        mine = [float(one["annual_cost"]) for one in rows if one["option"] == row["option"]]
        assert int(row["points"]) == len(mine) == 6
        for word, value in (("least", min(mine)), ("median", np.median(mine)), ("most", max(mine))):
            assert float(row[f"annual_cost_{word}"]) == pytest.approx(value, rel=1e-9)
        assert row["title"] in said.out
        spans = f"{min(mine):,.0f} to {max(mine):,.0f}"
        assert spans in said.out
    assert "6 points, varying humidity.limit, site.weather" in said.out
    assert said.out.rstrip().endswith(CAUTION)


def test_what_cannot_be_solved_is_printed_with_its_sentence(dewledger, hall, tmp_path):
    out = tmp_path / "swept"
    said = dewledger("sweep", hall, "--vary", "air.outdoor_flow=100 L/s, 5000 L/s", "--out", out)
    assert said.code == 1  # there is something to look at
    assert "\n1 point could not be solved" in said.out
    assert "outdoor_flow" in said.out.partition("could not be solved")[2]
    assert sum(bool(row["problem"]) for row in rows_of(out / "annual.csv")) == 2


def test_a_sweep_of_no_point_that_can_be_solved(dewledger, hall, tmp_path):
    """The table has every column, so that a script that reads it finds them; all empty."""
    out = tmp_path / "swept"
    said = dewledger("sweep", hall, "--vary", "unit.total_capacity=50 kW, 60 kW", "--out", out)
    assert said.code == 1, said.err
    assert "2 points could not be solved" in said.out
    assert "From the least" not in said.out
    rows = rows_of(out / "annual.csv")
    assert len(rows) == 4
    assert all(row["problem"] and not row["code_verdict"] and not row["station"] for row in rows)
    assert {"annual_cost", "hours_above_range", "recovered_share"} <= set(rows[0])


def test_the_best_is_the_best_of_all_points(dewledger, hall, tmp_path):
    """A search against the same points solved one by one: the least cost within the hours."""
    out = tmp_path / "swept"
    vary = ("--vary", "humidity.limit=50 %, 53 %, 56 %")
    assert dewledger("sweep", hall, *vary, "--out", out).code == 0
    rows = rows_of(out / "annual.csv")
    good = [row for row in rows if float(row["hours_above_range"]) <= 200.0]
    best = min(good, key=lambda row: float(row["annual_cost"]))
    said = dewledger(
        "sweep", hall, *vary, "--find", "--least", "annual cost",
        "--hours-above", 200, "--any-verdict",
    )  # fmt: skip
    assert said.code == 0, said.out
    cost = f"{float(best['annual_cost']):,.0f} USD"
    at = f"option {best['option']} at humidity.limit = {best['humidity.limit']}"
    assert f"Least annual cost: {cost}, {at}" in said.out
    assert said.out.rstrip().endswith(CAUTION)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--vary", "humidity.limit"), "names no value; write for example"),
        (("--vary", "humidity.limit=50 %", "--vary", "humidity.limit=55 %"), "is given twice"),
        (("--vary", "humidity.limit=50 %", "--method", "all"), "write grid, list or latin"),
        (("--find",), "--find needs something to vary"),
        (("--find", "--out", "x", "--vary", "humidity.limit=50 %"), "do not go with --find"),
        (("--find", "--vary", "humidity.limit=50 %", "--least", "noise"), "life-cycle cost"),
        (("--find", "--vary", "humidity.limit=50 %", "--hours-above", "9000"), "write 0 to 8760"),
        ((), "vary"),
    ],
)
def test_a_mistake_is_one_sentence(dewledger, hall, tmp_path, monkeypatch, arguments, words):
    monkeypatch.chdir(tmp_path)
    said = dewledger("sweep", hall, *arguments)
    assert said.code == 2
    assert words in said.err
    assert len(said.err.strip().splitlines()) == 1
    assert [path.name for path in tmp_path.iterdir()] == [hall.name]
