"""Sweeps: the same table whoever solves; goes on after a stop; bad points are rows."""

import json
import os
import shutil
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pandas as pd
import pytest

from dewledger.analysis.option_accounts import flat
from dewledger.analysis.sweep import parts, run
from dewledger.analysis.sweep.run import sweep
from dewledger.analysis.sweep.summary import by_option, front, verdict_changes
from dewledger.analysis.sweep.work import solve_batch
from dewledger.case.files import case_from_text
from dewledger.study import run_study
from dewledger.weather.errors import InputError

VARY = {"humidity.limit": "50 %, 54 %", "site.weather": "greensboro, miami"}
# One point is wrong: outdoor air above the supply flow.
SOME_BAD = VARY | {"air.outdoor_flow": "500 cfm, 5000 cfm"}


@pytest.fixture(scope="module")
def swept(hall, tmp_path_factory):
    out = tmp_path_factory.mktemp("swept") / "out"
    return sweep(hall, SOME_BAD, out), out


def test_rows_are_those_of_a_study_of_each_point(swept, hall):
    result, _ = swept
    assert result.annual["point"].tolist() == np.repeat(np.arange(1, 9), 2).tolist()
    assert result.annual["option"].tolist() == ["electric", "condenser"] * 8
    study = run_study(hall.with_values({"humidity.limit": "54 %", "site.weather": "miami"}))
    rows = result.annual[result.annual["point"] == 7]
    for option, (_, row) in zip(study.options, rows.iterrows(), strict=True):
        for name, value in flat(option.annual).items():
            if value is not None:
                assert row[name] == value, name
        weighed = study.money.life_cycle[option.key]
        assert row["life_cycle_cost"] == weighed.life_cycle_cost.value
        assert row["code_verdict"] == study.judgments[option.key].determination.verdict
        months = result.monthly
        mine = months[(months["point"] == 7) & (months["option"] == option.key)]
        for name in option.monthly:
            assert mine[name].tolist() == option.monthly[name].tolist(), name


def test_a_bad_point_is_rows_with_its_sentence(swept):
    result, _ = swept
    bad = result.annual[result.annual["problem"].notna()]
    assert sorted(set(bad["point"])) == [2, 4, 6, 8]
    assert len(bad) == 8
    assert bad["problem"].str.contains("outdoor_flow").all()
    assert bad["electricity_kWh"].isna().all()
    assert "4 that cannot be solved" in repr(result)
    assert len(result.problems) == 4


def test_one_table_at_the_top(swept):
    result, out = swept
    assert [path.relative_to(out).as_posix() for path in out.rglob("annual.csv")] == ["annual.csv"]
    read = pd.read_csv(out / "annual.csv")
    assert read["point"].tolist() == result.annual["point"].tolist()
    cost = result.annual["annual_cost"].astype(float)
    assert read["annual_cost"].to_numpy() == pytest.approx(cost.to_numpy(), nan_ok=True)
    assert list(read.columns[:6]) == ["point", *SOME_BAD, "option", "title"]
    assert not list(out.rglob("*.tmp"))
    again = case_from_text((out / "case.toml").read_text(), out)
    assert again.title == result.case.title


def content(out):
    return (out / "annual.csv").read_bytes()


@pytest.mark.parametrize("kept", [0, 1, 3])
def test_a_stopped_sweep_goes_on(swept, hall, tmp_path, monkeypatch, kept):
    """Stopped after some parts: the rest is solved, once, and the table is the same to the byte."""
    solved = []

    def counted(batch, weather=None):
        if len(solved) == kept:
            raise KeyboardInterrupt
        solved.append(batch.name)
        return solve_batch(batch, weather)

    out = tmp_path / "out"
    monkeypatch.setattr(run, "solve_batch", counted)
    monkeypatch.setattr(run, "cores", lambda: 1)
    with pytest.raises(KeyboardInterrupt):
        sweep(hall, SOME_BAD, out)
    assert not (out / "annual.csv").exists()
    first, solved = solved, []
    written = {path.stem for path in (out / "annual").glob("[!.]*")} if first else set()
    monkeypatch.setattr(
        run, "solve_batch", lambda b, w=None: solved.append(b.name) or solve_batch(b, w)
    )
    sweep(hall, SOME_BAD, out)
    assert not set(solved) & written
    assert len(solved) + len(written) == 8
    assert content(out) == content(swept[1])
    # And once more: nothing is left to solve.
    solved.clear()
    sweep(hall, SOME_BAD, out)
    assert solved == []
    assert content(out) == content(swept[1])


def test_a_part_half_written_is_no_part(swept, hall, tmp_path, monkeypatch):
    """The disk fills while a part is written: nothing of it counts, and the rerun is whole."""
    out = tmp_path / "out"
    failed = []

    def full(handle):
        failed.append(handle)
        if len(failed) == 6:
            raise OSError(28, "No space left on device")
        return fsync(handle)

    fsync = os.fsync
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        sweep(hall, SOME_BAD, out)
    monkeypatch.setattr(os, "fsync", fsync)
    assert not list(out.rglob("*.tmp"))
    sweep(hall, SOME_BAD, out)
    assert content(out) == content(swept[1])


def test_csv_parts_give_the_same_table(swept, hall, tmp_path, monkeypatch):
    monkeypatch.setattr(run, "parquet_at_hand", lambda: False)
    out = tmp_path / "out"
    result = sweep(hall, SOME_BAD, out)
    assert not list(out.rglob("*.parquet"))
    assert len(list(out.rglob("annual.csv"))) == 1
    assert content(out) == content(swept[1])
    pd.testing.assert_frame_equal(result.monthly, swept[0].monthly)


def test_other_executors_give_the_same_table(swept, hall, tmp_path):
    class Later(ThreadPoolExecutor):
        """An executor that is none of the known ones: it gets the weather sent."""

        def submit(self, work, /, *args):  # type: ignore[override]
            assert args[1] is None or args[1].frame.shape[0] == 8760
            return super().submit(work, *args)

    with Later(2) as pool:
        result = sweep(hall, SOME_BAD, tmp_path / "out", executor=pool)
    assert content(tmp_path / "out") == content(swept[1])
    in_memory = sweep(hall, SOME_BAD)
    pd.testing.assert_frame_equal(in_memory.annual, result.annual)
    pd.testing.assert_frame_equal(in_memory.monthly, result.monthly)


@pytest.mark.slow
def test_processes_give_the_same_table(swept, hall, tmp_path):
    sweep(hall, SOME_BAD, tmp_path / "out", workers=2)
    assert content(tmp_path / "out") == content(swept[1])


def test_dask_gives_the_same_table(swept, hall, tmp_path):
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=2, processes=False, dashboard_address=None
    ) as cluster:
        sweep(hall, SOME_BAD, tmp_path / "out", cluster=cluster.scheduler_address)
    assert content(tmp_path / "out") == content(swept[1])


def test_hours_are_kept_on_request(hall, tmp_path):
    out = tmp_path / "out"
    sweep(hall, {"humidity.limit": "50 %, 54 %"}, out, hourly=True)
    files = sorted((out / "hourly").iterdir())
    assert len(files) == 4
    hours = pd.read_parquet(files[0]) if files[0].suffix == ".parquet" else pd.read_csv(files[0])
    assert len(hours) == 8760
    assert "room_rh_frac" in hours


def test_a_folder_of_something_else_is_refused(swept, hall, tmp_path):
    _, out = swept
    with pytest.raises(InputError, match="holds another sweep"):
        sweep(hall, VARY, out)
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(InputError, match="holds no sweep"):
        sweep(hall, VARY, tmp_path)
    assert json.loads((out / "sweep.json").read_text())["points"] == 8


@pytest.mark.parametrize(
    ("kwargs", "words"),
    [
        ({"workers": 0}, "0 workers cannot"),
        ({"workers": 1, "cluster": "tcp://127.0.0.1:1"}, "keep one of them"),
        ({"hourly": True}, "written to a folder"),
    ],
)
def test_refusals(hall, kwargs, words):
    with pytest.raises(InputError, match=words):
        sweep(hall, {"humidity.limit": "50 %"}, **kwargs)
    with pytest.raises(InputError, match=r"has no \[sweep\]"):
        sweep(hall)


def test_the_table_of_the_case_says_what_to_sweep(hall_text, tmp_path):
    text = hall_text + (
        '[sweep]\nmethod = "latin hypercube"\npoints = 3\nseed = 5\n'
        '[sweep.vary]\n"humidity.limit" = "48 % to 54 %"\n'
        '"site.weather" = ["greensboro", "miami"]\n'
    )
    case = case_from_text(text, tmp_path)
    result = sweep(case)
    assert len(result.annual) == 6
    assert case_from_text(case.to_toml(), tmp_path).digest() == case.digest()
    other = sweep(case, seed=6)
    assert other.annual["humidity.limit"].tolist() != result.annual["humidity.limit"].tolist()


def test_summary_front_and_changes(swept):
    result, _ = swept
    table = by_option(result.annual, result.case)
    mine = result.annual[(result.annual["option"] == "condenser") & result.annual["problem"].isna()]
    row = table.set_index("option").loc["condenser"]
    assert row["points"] == 4
    assert row["annual_cost_least"] == mine["annual_cost"].min()
    assert row["annual_cost_median"] == np.median(mine["annual_cost"].to_numpy(float))
    best = front(result.annual)
    solved = result.annual[result.annual["problem"].isna()]
    for _, one in solved.iterrows():
        beaten = (
            (solved["annual_cost"] <= one["annual_cost"])
            & (solved["hours_above_range"] <= one["hours_above_range"])
            & (
                (solved["annual_cost"] < one["annual_cost"])
                | (solved["hours_above_range"] < one["hours_above_range"])
            )
        ).any()
        inside = ((best["point"] == one["point"]) & (best["option"] == one["option"])).any()
        assert inside == (not beaten)
    for change in verdict_changes(result.annual, result.plan):
        assert change.verdict != change.next_verdict


def test_kinds_of_columns_do_not_hang_on_what_a_part_holds(hall):
    empty = parts.frame_of([{"point": 1, "recovered_share": None, "peak_cooling_hour": None}], [])
    full = parts.frame_of([{"point": 1, "recovered_share": 0.5, "peak_cooling_hour": "x"}], [])
    assert empty.dtypes.tolist() == full.dtypes.tolist()


@pytest.mark.parametrize(
    "damage",
    [
        lambda path, whole: path.write_bytes(whole[: len(whole) // 2]),
        lambda path, whole: path.write_bytes(whole + b"\0"),
        lambda path, whole: (path.unlink(), path.mkdir()),
        lambda path, whole: (path.unlink(), os.mkfifo(path)),
    ],
    ids=["truncated", "longer", "folder", "pipe"],
)
@pytest.mark.parametrize("kind", ["annual", "parts"])
def test_a_damaged_part_is_solved_again(swept, hall, tmp_path, caplog, damage, kind):
    out = tmp_path / "out"
    shutil.copytree(swept[1], out)
    path = next((out / kind).iterdir())
    damage(path, path.read_bytes())
    (out / "annual.csv").unlink()
    sweep(hall, SOME_BAD, out)
    assert content(out) == content(swept[1])
    said = [record.message for record in caplog.records]
    assert said == [
        f'parts in "{out}" that were damaged or changed since they were written: 1 of 8; '
        "they are solved again"
    ]
    caplog.clear()
    sweep(hall, SOME_BAD, out)
    assert not caplog.records
