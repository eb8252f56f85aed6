"""Every verb as a user runs it: what it prints, what it writes, how it ends."""

import csv
import json
import re
import tomllib
from pathlib import Path

import numpy as np
import pytest
from annual_accounts import ANNUAL

from dewledger.hourly.ledger import NAMES

VERBS = ("demo", "new", "check", "run", "hour", "unit", "weather", "verify")
HEAVY = ("pandas", "numba", "CoolProp", "numpy", "scipy", "matplotlib", "pvlib", "pydantic")


def files_of(folder):
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


@pytest.mark.parametrize("verb", VERBS)
def test_help_shows_an_example(dewledger, verb):
    said = dewledger(verb, "--help")
    assert said.code == 0
    assert "Example" in said.out
    assert f"dewledger {verb}" in " ".join(said.out.split())


def test_help_lists_every_verb(dewledger):
    said = dewledger("--help")
    assert said.code == 0
    for verb in VERBS:
        assert f" {verb} " in said.out


def test_help_loads_nothing_heavy(dewledger_process):
    said = dewledger_process(
        "--help",
        code="import sys\nfrom dewledger.reports.command.app import main\n"
        "try:\n    main()\nfinally:\n"
        "    print([name for name in sys.modules], file=sys.stderr)",
    )
    assert said.code == 0
    assert "demo" in said.out
    for name in HEAVY:
        assert f"'{name}'" not in said.err, name


@pytest.fixture(scope="module")
def demo(dewledger_process, tmp_path_factory):
    """The demo run twice by a user, in processes of their own; the second time without its page."""
    folder = tmp_path_factory.mktemp("demo")
    first = dewledger_process("demo", cwd=folder)
    (folder / "dewledger-demo").rename(folder / "one")
    second = dewledger_process("demo", "--out", "two", "--format", "toml,json,csv", cwd=folder)
    return folder, [first, second]


def test_demo_ends_well(demo):
    _, said = demo
    for run in said:
        assert run.code == 0, run.err
        assert "Electric reheat" in run.out
        assert "Condenser heat" in run.out
    assert "wrote dewledger-demo/report.html" in said[0].out
    assert max(len(line) for line in said[0].out.splitlines()) <= 100


def test_readme_shows_what_the_demo_prints(demo):
    _, said = demo
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    shown = re.search(r"<!-- demo output -->\n```text\n(.*?)```\n", readme, re.DOTALL)
    assert shown is not None
    assert shown[1] == "".join(f"{line.rstrip()}\n" for line in said[0].out.splitlines())


def test_demo_writes_what_it_says(demo):
    folder, said = demo
    names = {f"hourly-{key}.csv" for key in ("none", "electric", "gas", "condenser")}
    names |= {"hourly-condenser-trim.csv", "monthly.csv", "summary.json", "report.html"}
    names |= {"case.toml"}
    assert set(files_of(folder / "one")) == names
    for name in names:
        assert f"wrote dewledger-demo/{name}" in said[0].out
    # Nothing hidden next to it.
    assert {path.name for path in folder.iterdir()} == {"one", "two"}


def test_two_runs_are_byte_identical(demo):
    folder, _ = demo
    first, second = files_of(folder / "one"), files_of(folder / "two")
    for name, content in first.items():
        if name.endswith((".csv", ".json", ".toml")):
            assert content == second[name], name


def test_summary_keeps_its_promises(demo):
    folder, _ = demo
    summary = json.loads((folder / "one" / "summary.json").read_text())
    assert len(summary["case_sha256"]) == 64
    assert summary["reference"] == "electric"
    assert list(summary["options"]) == sorted(summary["options"])
    for option in summary["options"].values():
        annual = option["annual"]
        for name in ANNUAL:
            assert name in annual, name
        parts = [annual[f"reheat_{part}_kWh"] for part in ("recovered", "purchased", "unmet")]
        assert annual["overcooling_heat_kWh"] == pytest.approx(sum(parts), rel=1e-6, abs=1e-6)
        assert annual["heat_closure_max_W"] < 1e-3
        assert annual["water_closure_max_kg_h"] < 1e-6
        assert any(name.startswith("peak") and name.endswith("_hour") for name in annual)
    assert "sha256" in json.dumps(summary["weather"])
    assert "numba" in json.dumps(summary)


def test_hourly_csv_adds_up_to_the_summary(demo):
    folder, _ = demo
    summary = json.loads((folder / "one" / "summary.json").read_text())
    with (folder / "one" / "hourly-condenser.csv").open(newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    assert len(rows) == 8760
    assert set(NAMES) <= set(rows[0])
    annual = summary["options"]["condenser"]["annual"]
    for name in ("cooling_total_kWh", "compressor_kWh", "reheat_recovered_kWh", "condensate_kg"):
        total = sum(float(row[name]) for row in rows)
        assert total == pytest.approx(annual[name], rel=1e-5), name


def test_written_case_runs_to_the_same_answer(demo, dewledger, monkeypatch):
    """case.toml is the case as understood: run again it gives the same summary."""
    folder, _ = demo
    monkeypatch.chdir(folder)
    tomllib.loads((folder / "one" / "case.toml").read_text())
    said = dewledger("run", "one/case.toml", "--out", folder / "again", "--format", "json,csv")
    assert said.code == 0, said.err
    for name, content in files_of(folder / "again").items():
        if name == "summary.json":
            a, b = json.loads(content), json.loads((folder / "one" / name).read_bytes())
            assert a["options"] == b["options"]
        else:
            assert content == (folder / "one" / name).read_bytes(), name


def test_new_check_run(dewledger, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    said = dewledger("new", "hall.toml")
    assert said.code == 0
    assert "dewledger check hall.toml" in said.out
    said = dewledger("check", "hall.toml")
    # The bundled year has a note about its humidity columns: something to look at.
    assert said.code == 1
    assert "Greensboro" in said.out
    assert "assumed:" in said.out
    assert "weather:" in said.out
    said = dewledger("run", "hall.toml", "--format", "json")
    assert said.code == 0, said.err
    assert (tmp_path / "hall-results" / "summary.json").exists()
    assert [path.name for path in (tmp_path / "hall-results").iterdir()] == ["summary.json"]


def test_check_finds_nothing_in_clean_weather(dewledger, case, plain):
    dew = 10.0 + np.sin(np.arange(8760) * 2.0 * np.pi / 500.0)
    sky = {"ghi_Wm2": 0.0, "dni_Wm2": 0.0, "dhi_Wm2": 0.0, "wind_m_s": 2.0}
    plain(temp_air_C=25.0, temp_dew_C=dew, rh_frac=0.4, pressure_Pa=101325.0, **sky)
    place = "altitude = '0 m'\nlatitude = 36\nlongitude = -80\nutc_offset = -5"
    path = case(('weather = "greensboro"', f'weather = "year.csv"\n{place}'))
    said = dewledger("check", path)
    assert "no findings" in said.out, said.out
    assert "no all-clear" in " ".join(said.out.split())
    assert said.code == 0


@pytest.mark.parametrize("kind", ["rooftop", "archive", "music-school"])
def test_kinds_of_new_case_can_be_read(dewledger, tmp_path, kind):
    from dewledger.case import load_case

    path = tmp_path / "new.toml"
    assert dewledger("new", path, "--kind", kind).code == 0
    assert load_case(path).option_cases()
    assert kind in dewledger("new", "--kind", "?").out


def test_schema_is_json_schema(dewledger):
    said = dewledger("new", "--schema")
    assert said.code == 0
    schema = json.loads(said.out)
    assert schema["$schema"].startswith("https://json-schema.org/")
    assert {"site", "room", "air", "unit", "options"} <= set(schema["properties"])


def test_run_takes_other_weather(dewledger, case, tmp_path):
    said = dewledger(
        "run", case(), "--weather", "miami", "--out", tmp_path / "out", "--format", "json"
    )
    assert said.code == 0
    summary = json.loads((tmp_path / "out" / "summary.json").read_text())
    assert "Miami" in json.dumps(summary["weather"])


@pytest.mark.parametrize("station", ["greensboro", "miami", "sand-point"])
def test_weather_says_what_a_station_holds(dewledger, station):
    said = dewledger("weather", station, "--display", "SI")
    assert said.code == 0
    for words in ("dry bulb", "dew point", "°C"):
        assert words in said.out


def test_weather_picture(dewledger, tmp_path):
    path = tmp_path / "greensboro.png"
    said = dewledger("weather", "greensboro", "--picture", path)
    assert said.code == 0
    assert f"wrote {path}" in said.out
    assert path.read_bytes().startswith(b"\x89PNG")


def test_verify_prints_source_and_difference(dewledger, monkeypatch):
    """Three of the checks; test_verify.py in the published tests runs them all."""
    from dewledger.published import all_checks

    few = all_checks()[:3]
    monkeypatch.setattr("dewledger.published.all_checks", lambda: few)
    said = dewledger("verify")
    assert said.code == 0
    assert few[0].item in said.out
    assert "ASHRAE Handbook" in said.out
    assert "All 3 checks are met." in said.out
    assert "Counted apart: 3 against figures of an independent library." in said.out


def test_verify_ends_with_1_where_a_check_fails(dewledger, monkeypatch):
    from dataclasses import replace

    from dewledger.published import all_checks

    wrong = replace(all_checks()[0], published=1.0)
    monkeypatch.setattr("dewledger.published.all_checks", lambda: (wrong,))
    said = dewledger("verify")
    assert said.code == 1
    assert "FAILS" in said.out
    assert "1 of 1" in said.out


def test_command_is_installed():
    from importlib.metadata import entry_points

    (command,) = entry_points(group="console_scripts", name="dewledger")
    assert command.value == "dewledger.reports.command.app:main"
