"""Outputs: all or nothing, and the same bytes every time."""

import csv
import errno
import io
import json
import tomllib

import numpy as np
import pytest
from annual_accounts import ANNUAL

from dewledger.hourly.ledger import COLUMNS
from dewledger.reports.files import second_process, writer
from dewledger.reports.files.second_process import FOR_PAGES, second_core
from dewledger.reports.files.writer import write_outputs
from dewledger.weather.errors import InputError


def test_what_the_other_process_gets_is_as_it_was_given():
    """Packed when given: tables made later, while it is on its way, cannot spoil it."""
    given = {"first": 1}
    with second_core(("json",)) as by:
        later = by.start(dict, given)
        given["second"] = 2
        found = later()
    assert found == {"first": 1} or by._pool is None


def test_what_several_works_get_is_kept_apart():
    with second_core(("json",)) as by:
        results = [by.start(sorted, "ba" * 100_000 * k) for k in (1, 2, 3)]
        assert [len(result()) for result in results] == [200_000, 400_000, 600_000]


@pytest.mark.parametrize("fault", ["no place", "no room"])
def test_work_that_cannot_be_handed_over_is_done_here(monkeypatch, fault):
    if fault == "no place":
        monkeypatch.setattr(second_process.tempfile, "TemporaryFile", full)
    with second_core(("json",)) as by:
        if fault == "no room":
            monkeypatch.setattr(second_process.os, "write", full)
        assert by.start(sorted, "ba")() == ["a", "b"]
        monkeypatch.undo()
        assert by.start(sorted, "dc")() == ["c", "d"]


def full(*arguments, **keywords):
    raise OSError(errno.ENOSPC, "No space left on device")


def test_the_folder_holds_what_was_asked_for(study, folder):
    expected = {"summary.json", "monthly.csv", "case.toml", "report.html"}
    expected |= {f"hourly-{option.key}.csv" for option in study.options}
    assert {path.name for path in folder.iterdir()} == expected
    assert [path.name for path in folder.parent.iterdir()] == [folder.name]
    assert folder.stat().st_mode & 0o777 == 0o755


def test_the_same_case_gives_the_same_bytes(study, folder, tmp_path):
    with second_core(FOR_PAGES) as by:  # however the work is shared out
        written = write_outputs(study, tmp_path / "again", by=by)
    assert written == sorted(written)
    assert {path.name for path in written} == {path.name for path in folder.iterdir()}
    for path in written:
        assert path.read_bytes() == (folder / path.name).read_bytes(), path.name


def test_summary_holds_the_named_accounts_with_sorted_keys(study, folder):
    text = (folder / "summary.json").read_text(encoding="utf-8")
    content = json.loads(text)
    assert list(content) == ["caution", *sorted(set(content) - {"caution"})]
    for option in study.options:
        assert set(ANNUAL) <= set(content["options"][option.key]["annual"])
    assert content["weather"]["station"]["sha256"] == study.weather.station.sha256
    assert len(content["case_sha256"]) == 64
    assert [column["name"] for column in content["ledger"]] == [c.name for c in COLUMNS]
    assert content["option_order"] == [option.key for option in study.options]


def test_hourly_files_sum_to_the_summary(study, folder):
    annual = json.loads((folder / "summary.json").read_text(encoding="utf-8"))["options"]
    for option in study.options:
        text = (folder / f"hourly-{option.key}.csv").read_text(encoding="utf-8")
        rows = list(csv.reader(io.StringIO(text)))
        assert len(rows) == 8761
        assert rows[0][:4] == ["month", "day", "hour", "occupied"]
        assert "nan" not in text
        assert not any(cell.startswith("-0.") and float(cell) == 0.0 for cell in rows[1])
        for place, column in enumerate(COLUMNS, start=4):
            assert rows[0][place] == column.name
            if column.total == "sum":
                total = sum(float(row[place]) for row in rows[1:])
                # 8760 values rounded at the sixth decimal
                expected = annual[option.key]["annual"][column.name]
                assert total == pytest.approx(expected, abs=0.005, rel=1e-8)


def test_monthly_file_sums_to_the_summary(study, folder):
    text = (folder / "monthly.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == 12 * len(study.options)
    for option in study.options:
        own = [row for row in rows if row["option"] == option.key]
        assert [int(row["month"]) for row in own] == list(range(1, 13))
        assert sum(int(row["hours"]) for row in own) == 8760
        for key in ("electricity_kWh", "reheat_recovered_kWh"):
            total = sum(float(row[key]) for row in own)
            assert total == pytest.approx(option.annual[key], abs=1e-4)


def test_case_file_is_toml(folder):
    assert tomllib.loads((folder / "case.toml").read_text(encoding="utf-8"))


def test_a_folder_that_exists_is_left_alone(study, tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "kept.txt").write_text("kept")
    with pytest.raises(InputError, match="exists already; name another folder"):
        write_outputs(study, tmp_path / "mine", formats=("json",))
    assert [path.name for path in (tmp_path / "mine").iterdir()] == ["kept.txt"]
    assert [path.name for path in tmp_path.iterdir()] == ["mine"]


def test_a_place_that_cannot_be_written_is_one_sentence(study, tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match=r"cannot be written .*; name a folder"):
        write_outputs(study, tmp_path / "file" / "results", formats=("json",))


def test_an_unknown_format_is_one_sentence(study, tmp_path):
    with pytest.raises(InputError, match='"odt" is not a format; write some of html, pdf'):
        write_outputs(study, tmp_path / "results", formats=("json", "odt"))
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("fault", [ValueError("inside"), KeyboardInterrupt(), OSError(28, "full")])
def test_nothing_is_left_when_anything_fails(study, tmp_path, monkeypatch, fault):
    def broken(asked):
        yield "half.txt", b"half"
        raise fault

    monkeypatch.setitem(writer._WRITERS, "json", broken)
    expected = InputError if isinstance(fault, OSError) else type(fault)
    with pytest.raises(expected):
        write_outputs(study, tmp_path / "results", formats=("toml", "json"))
    assert not list(tmp_path.iterdir())


def test_progress_is_told(study, tmp_path):
    reported = []
    write_outputs(
        study,
        tmp_path / "r",
        formats=("toml", "json"),
        progress=lambda *step: reported.append(step),
    )
    assert reported == [("writing toml", 0, 2), ("writing json", 1, 2), ("done", 2, 2)]


def test_pdf_without_a_browser_is_one_sentence(study, tmp_path, monkeypatch):
    monkeypatch.setattr("shutil.which", lambda name: None)
    with pytest.raises(InputError, match="no browser to print the PDF with was found; install"):
        write_outputs(study, tmp_path / "results", formats=("json", "pdf"))
    assert not list(tmp_path.iterdir())


def test_values_json_cannot_hold_are_null():
    from dewledger.reports.files.data_files import plain

    assert plain({"a": np.float64("nan"), "b": np.int64(3), "c": (1.23456789012, True)}) == {
        "a": None,
        "b": 3,
        "c": [1.23456789, True],
    }


def test_hourly_files_in_the_units_of_the_case(study):
    """By hand: F = 1.8 C + 32, a difference 1.8 K; 1 kWh = 3.412142 kBtu; 7000 gr in a lb."""
    import pandas as pd

    from dewledger.reports.files.display_units import hourly_display_csv

    option = study.options[-1]
    table = pd.read_csv(io.StringIO(hourly_display_csv(study, option)))
    kept = dict(zip((c.name for c in COLUMNS), option.ledger, strict=True))
    assert len(table) == 8760
    assert len(table.columns) == len(set(table.columns)) == len(COLUMNS) + 4
    for name, source, factor, offset in (
        ("room_temp_F", "room_temp_C", 1.8, 32.0),
        ("temp_swing_F_difference", "temp_swing_K", 1.8, 0.0),
        ("overcooling_heat_kBtu", "overcooling_heat_kWh", 3.412142, 0.0),
        ("reheat_purchased_gas_therm", "reheat_purchased_gas_kWh", 0.03412142, 0.0),
        ("compressor_kWh", "compressor_kWh", 1.0, 0.0),
        ("room_hum_ratio_gr_lb", "room_hum_ratio_kg_kg", 7000.0, 0.0),
        ("condensate_lb", "condensate_kg", 2.204623, 0.0),
    ):
        expected = np.asarray(kept[source]) * factor + offset
        assert table[name].to_numpy() == pytest.approx(expected, rel=2e-5, abs=1e-3, nan_ok=True)
