"""The terminal's comparison: 100 columns, readable without color and when piped."""

import io
import re
from dataclasses import replace

import pytest
from rich.console import Console

from dewledger.analysis.assumptions import ELECTRICITY_PRICE
from dewledger.analysis.monte_carlo import Assumed
from dewledger.analysis.sensitivity import sensitivity_study
from dewledger.case import bundled_case
from dewledger.published.check import Check, Result
from dewledger.reports.page.sensitivity import sensitivity_section, sensitivity_summary
from dewledger.reports.terminal.findings import sensitivity
from dewledger.reports.terminal.study import climate, comparison, verification
from dewledger.reports.words.answer import answer
from dewledger.reports.words.metrics import BY_KEY, best_option
from dewledger.reports.words.money import amount
from dewledger.reports.words.numbers import figure
from dewledger.study import run_study, solve_option
from dewledger.weather.climate import summarize


def printed(study, **kwargs):
    out = io.StringIO()
    comparison(study, Console(file=out, highlight=False, **kwargs))
    return out.getvalue()


def test_it_fits_100_columns_and_has_no_escape_when_piped(study):
    text = printed(study, width=100)
    assert max(len(line.rstrip()) for line in text.splitlines()) <= 100
    assert "\x1b" not in text
    assert "…" not in text


def test_every_option_stands_in_a_line_with_its_figures(study):
    lines = printed(study, width=100).splitlines()
    display = study.case.display
    for option in study.options:
        key = "electricity_kWh"
        shown = figure(option.annual[key], BY_KEY[key].kind, display)
        word = option.title.split()[0]
        assert [line for line in lines if line.startswith(word) and shown in line]


def test_the_reference_is_marked_in_words(study):
    marked = [line for line in printed(study, width=100).splitlines() if line.endswith("ref.")]
    assert [line for line in marked if study.reference.title.split()[0] in line]


def test_the_answer_stands_above_and_begins_with_the_saving(study):
    flat = re.sub(r"\s+", " ", printed(study, width=100))
    for sentence in answer(study, study.case.display)[:3]:
        assert sentence in flat
    saving = study.money.life_cycle["condenser"].annual_saving
    assert flat.startswith(f"“Condenser heat” saves {amount(saving)} USD a year against")


def test_beside_the_recovered_heat_stand_its_penalty_and_premises(study):
    best = best_option(study)
    plant, penalty = best.machine.plant, best.annual["recovery_penalty_kWh"]
    reported = answer(study, "SI")[2]
    assert "recovers" in reported
    assert figure(abs(penalty), "electricity", "SI") in reported
    raised = max(plant.condensing_floor_C, plant.condenser_source.floor_C)
    assert f"{plant.condensing_floor_C:.1f} °C otherwise" in reported
    assert f"{raised:.1f} °C in hours with reheat" in reported


def test_color_changes_no_word(study):
    colored = printed(study, width=100, force_terminal=True, color_system="truecolor")
    bare = re.sub(r"\x1b\[[0-9;]*m", "", colored)
    assert bare == printed(study, width=100)


@pytest.mark.parametrize("display", ["I-P", "SI"])
def test_a_climate_fits_100_columns(study, display):
    out = io.StringIO()
    year = study.weather
    climate(year, summarize(year), display, Console(file=out, highlight=False, width=100))
    text = out.getvalue()
    assert max(len(line.rstrip()) for line in text.splitlines()) <= 100
    assert "…" not in text
    assert "0.4 %" in text
    for finding in year.findings:
        assert finding.sentence in re.sub(r"\s+", " ", text)


def test_ventilation_load_in_si_by_hand(study):
    # 1 ton-h is 3.51685 kWh, 1 cfm is 0.471947 L/s
    out = io.StringIO()
    summary = summarize(study.weather)
    climate(study.weather, summary, "SI", Console(file=out, highlight=False, width=100))
    shown = float(re.search(r"index ([\d.,]+) latent", out.getvalue())[1].replace(",", ""))
    expected = summary.ventilation_load.latent_ton_h_cfm * 3.51685 / 0.471947
    assert shown == pytest.approx(expected, rel=0.005)


def test_published_checks_say_which_fail():
    checks = [
        Check("air", f"item {i}", "a table", 10.0, "kPa", 0.01, "", lambda: 0.0) for i in (1, 2)
    ]
    out = io.StringIO()
    results = (Result(checks[0], 10.05), Result(checks[1], 11.0))
    verification(results, Console(file=out, highlight=False, width=100))
    lines = out.getvalue().splitlines()
    assert [line for line in lines if "item 1" in line and line.rstrip().endswith("ok")]
    assert [line for line in lines if "item 2" in line and line.rstrip().endswith("FAILS")]
    assert "1 of 2 checks are not met." in out.getvalue()


def test_drying_controls_stand_side_by_side_where_there_are_stages():
    staged = {"unit.capacity_control": "stages", "unit.stages": ["50 %", "100 %"]}
    study = run_study(bundled_case("music-school").with_values(staged))
    prices = [Assumed(ELECTRICITY_PRICE, 0.8, 1.0, 1.2, "a test")]
    found = sensitivity_study(study.case, [study.weather], solve_option, assumed=prices, draws=1)
    study = replace(study, sensitivity=found)
    out = io.StringIO()
    sensitivity(study, Console(file=out, highlight=False, width=100))
    text = out.getvalue()
    assert "Drying control side by side" in text
    assert max(len(line.rstrip()) for line in text.splitlines()) <= 100
    section = sensitivity_section(study, study.case.display)
    (table,) = [one for one in section.tables if one.caption.startswith("Drying control")]
    for option in study.options:
        rows = [row for row in table.rows if row.head == option.title]
        assert [row.cells[0].text.removesuffix(" *") for row in rows] in (
            [], ["least overcooling", "all stages", "leaving air"],
        )  # fmt: skip
        own = [row for row in rows if row.marked]
        if own:
            cooled = figure(option.annual["overcooling_heat_kWh"], "heat", study.case.display)
            assert own[0].cells[4].text == cooled
    listed = sensitivity_summary(study)["drying_control"]
    assert len(listed) == len(table.rows)
