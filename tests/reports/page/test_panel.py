"""The panel of a report: its grid against the model, its errors, and what it refuses."""

import itertools
import json
import re

import numpy as np
import pytest
from typer.testing import CliRunner

from dewledger.case import bundled_case, case_from_dict
from dewledger.interview.in_case import answered
from dewledger.reports.files.report_parts import report_parts
from dewledger.reports.files.writer import write_outputs
from dewledger.reports.page.panel import chosen_levers, interpolated, lever_fields, panel_of
from dewledger.reports.page.report import page
from dewledger.study import run_study
from dewledger.weather.errors import InputError


@pytest.fixture(scope="module")
def case():
    whole = bundled_case("rooftop")
    table = whole.given()
    two = {key: table["options"][key] for key in ("electric", "condenser")}
    return case_from_dict({**table, "options": two}, whole.folder)


@pytest.fixture(scope="module")
def study(case):
    return run_study(case)


@pytest.fixture(scope="module")
def panel(study):
    return panel_of(study, ["electricity", "limit"])


def test_linear_content_is_interpolated_exactly():
    """By hand: 1 + 2 x + 3 y + 4 x y is linear along each axis."""
    xs, ys = (0.0, 1.0, 4.0), (10.0, 20.0)
    content = np.array([[1 + 2 * x + 3 * y + 4 * x * y for y in ys] for x in xs])
    for x, y in ((0.0, 10.0), (0.5, 13.0), (3.0, 19.0), (4.0, 20.0)):
        assert interpolated(content, (xs, ys), (x, y)) == pytest.approx(
            1 + 2 * x + 3 * y + 4 * x * y
        )
    assert interpolated(content, (xs, ys), (9.0, 5.0)) == content[2, 0]  # ends hold


def test_the_case_is_a_point_of_the_grid(study, panel):
    own = panel.at([lever.points[lever.own] for lever in panel.levers])
    for row, option in zip(own, study.options, strict=True):
        assert row[0] == option.annual["electricity_kWh"]
        assert row[2] == option.annual["energy_cost"] + option.annual["upkeep_cost"]
        assert row[3] == option.annual["hours_above_range"]
    assert [lever.points[lever.own] for lever in panel.levers] == [0.12, 60.0]


def test_its_error_is_that_of_the_middle_of_a_cell(case, panel):
    price, limit = (lever.points for lever in panel.levers)
    at = (1, 2)
    middle = [
        0.5 * (points[i] + points[i + 1]) for points, i in zip((price, limit), at, strict=True)
    ]
    moved = answered(
        case, {"electricity": f"{middle[0]:.10g} USD/kWh", "limit": f"{middle[1]:.10g} %"}
    )
    solved = run_study(moved, codes=False, sizing=False)
    off = [
        abs(option.annual["electricity_kWh"] - row[0])
        for option, row in zip(solved.options, panel.at(middle), strict=True)
    ]
    assert panel.errors[at][0] == pytest.approx(max(off), abs=1e-6)
    # Energy does not hang on its price: along that lever the grid is exact.
    assert np.ptp(panel.grid[..., 0], axis=0) == pytest.approx(0.0, abs=1e-9)
    assert all(a < b for points in (price, limit) for a, b in itertools.pairwise(points))


def test_the_page_is_whole_without_it_and_holds_one_script_with_it(study, panel, tmp_path):
    write_outputs(study, tmp_path / "plain", formats=("html",), part="summary")
    write_outputs(study, tmp_path / "with", formats=("html",), part="summary", panel=panel)
    name = "report-summary.html"
    plain, told = ((tmp_path / place / name).read_text("utf-8") for place in ("plain", "with"))
    assert "<script" not in plain
    assert told.count("<script") == 1
    cut = re.sub(r"<section id=\"panel\".*?</script>\s*</section>\s*", "", told, flags=re.S)
    assert re.sub(r"\s+", " ", cut) == re.sub(r"\s+", " ", plain)
    assert '<section id="panel" aria-labelledby="panel-head" hidden>' in told
    assert "http" not in told[told.index("<script") : told.index("</script>")]
    data = json.loads(re.search(r"const panel = (\{.*\});", told)[1])
    assert data["levers"][1]["own"] == 60.0
    assert len(data["grid"]) == panel.grid.size


def test_a_title_cannot_end_the_script(case, study, tmp_path):
    table = case.given()
    table["options"]["electric"]["title"] = "</script><b>x"
    marked = run_study(case_from_dict(table, case.folder), codes=False, sizing=False)
    parts = report_parts(study, "summary")
    told = page(study, parts, panel=panel_of(marked, ["gas"]))
    assert "const panel = " in told
    assert "</script><b>" not in told


@pytest.mark.browser
def test_its_script_reads_what_the_grid_holds(study, panel, tmp_path, browser):
    from selenium.webdriver.common.keys import Keys

    write_outputs(study, tmp_path / "out", formats=("html",), part="summary", panel=panel)
    browser.get((tmp_path / "out" / "report-summary.html").as_uri())

    def figures():
        text = browser.execute_script("return document.getElementById('panel').dataset.figures")
        return np.array(json.loads(text)).reshape(len(panel.options), -1)

    own = [lever.points[lever.own] for lever in panel.levers]
    assert figures() == pytest.approx(panel.at(own), rel=1e-6)
    for one, step in ((0, 37), (1, 121)):
        browser.execute_script(
            "const range = document.getElementById(`panel-lever-${arguments[0]}`);"
            "range.value = arguments[1]; range.dispatchEvent(new Event('input'));", one, step,
        )  # fmt: skip
    ends = [(lever.points[0], lever.points[-1]) for lever in panel.levers]
    values = [a + (b - a) * step / 200 for (a, b), step in zip(ends, (37, 121), strict=True)]
    assert figures() == pytest.approx(panel.at(values), rel=1e-6)
    assert "±" in browser.find_element("css selector", "#panel tfoot").text
    browser.find_element("id", "panel-back").send_keys(Keys.ENTER)
    assert figures() == pytest.approx(panel.at(own), rel=1e-6)


@pytest.mark.parametrize(
    ("names", "says"),
    [
        (["limits"], 'no lever of this case (did you mean "limit"?)'),
        (["limit", "limit"], "twice"),
        (["limit", "gas", "electricity", "capacity"], "one to three"),
        (["hours"], "is no lever"),
    ],
)
def test_what_it_refuses(case, names, says):
    with pytest.raises(InputError) as caught:
        chosen_levers(case, names)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


def test_every_lever_of_the_case_can_be_named(case):
    assert {"limit", "outdoor_air", "capacity", "condensing_floor", "infiltration", "electricity",
            "gas", "effectiveness@condenser"} == set(lever_fields(case))  # fmt: skip


def test_the_command_refuses_it_before_it_solves(tmp_path, case):
    from dewledger.reports.command.app import app

    path = tmp_path / "hall.toml"
    path.write_text(case.to_toml(), encoding="utf-8")
    result = CliRunner().invoke(app, ["run", str(path), "--panel", "limts"])
    assert result.exit_code != 0
    assert not (tmp_path / "hall-results").exists()
    assert "no lever" in str(result.exception)
