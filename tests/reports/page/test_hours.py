"""The hours on the psychrometric chart: in the page, in files, in the gallery."""

import io
import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from dewledger.accounts.energy import column
from dewledger.reports.charts.parts import Chart
from dewledger.reports.diagrams.hour import (
    heat_table,
    process_of,
    range_of,
    refrigeration_table,
    state_table,
)
from dewledger.reports.files.gallery import PICTURES, pictures
from dewledger.reports.files.writer import write_outputs
from dewledger.reports.page.hours import hour_charts, hours_section, shown_hours, shown_option
from dewledger.views.hour import detail_at, worst_hour
from dewledger.weather.physics.moist_air import CP_DRY_AIR, CP_VAPOR, vapor_enthalpy


@pytest.fixture(scope="module")
def option(study):
    return shown_option(study)


@pytest.fixture(scope="module")
def detail(study, option):
    hour = worst_hour(option.ledger, option.machine, study.weather, "reheat")
    return detail_at(option.ledger, option.machine, study.weather, hour, "I-P")


def test_the_first_option_with_condenser_heat_is_told(option):
    assert option.key == "condenser"


def test_reheat_is_level_and_every_step_joins_neighbors(detail):
    process = process_of(detail)
    labels = [point.label for point in process.points]
    kinds = {step.kind: step for step in process.steps}
    reheat = kinds["reheat"]
    assert labels[reheat.start] == "Leaving coil"
    assert labels[reheat.end] == "After reheat"
    start, end = process.points[reheat.start], process.points[reheat.end]
    assert start.hum_ratio == end.hum_ratio
    assert end.temp_C > start.temp_C
    assert {step.end for step in process.steps} == set(range(2, len(labels)))


def test_coil_line_joins_the_entering_and_the_leaving_state(detail):
    process = process_of(detail)
    temps, ratios = process.coil_line
    at = {point.label: point for point in process.points}
    assert (temps[0], ratios[0]) == (at["Mixed"].temp_C, at["Mixed"].hum_ratio)
    assert temps[-1] == pytest.approx(at["Leaving coil"].temp_C)
    assert ratios[-1] == pytest.approx(at["Leaving coil"].hum_ratio, rel=1e-6)


def test_the_supply_lies_on_the_rooms_ratio_line(study, option):
    """Sensible m cp(W) (T_room - T) over latent m (W_room - W) h_v, of the mean supply."""
    runtime = column(option.ledger, "compressor_runtime_frac")
    seen = 0
    for hour in np.flatnonzero(runtime > 0.1)[::90]:
        reported = detail_at(option.ledger, option.machine, study.weather, int(hour), "SI")
        process = process_of(reported)
        if process.room_shr_line is None:
            continue
        seen += 1
        temps, ratios = process.room_shr_line
        room, supply = reported.points[-1], reported.points[-2]
        on_line = np.interp(supply.temp_C, temps[::-1], ratios[::-1])
        assert on_line == pytest.approx(supply.hum_ratio, abs=2e-6)
        sensible = (CP_DRY_AIR + supply.hum_ratio * CP_VAPOR) * (room.temp_C - supply.temp_C)
        latent = (room.hum_ratio - supply.hum_ratio) * vapor_enthalpy(room.temp_C)
        assert process.room_shr == pytest.approx(sensible / (sensible + latent), rel=1e-6)
    assert seen > 5


def test_range_is_that_of_the_case_between_its_set_points(study, option):
    wanted = range_of(option.machine, 0)
    assert (wanted.low_frac, wanted.high_frac) == (0.40, 0.55)
    assert wanted.temp_low_C == pytest.approx((67 - 32) / 1.8)
    assert wanted.temp_high_C == pytest.approx((72 - 32) / 1.8)


@pytest.mark.parametrize("display", ["I-P", "SI"])
def test_tables_carry_every_state_heat_and_unit(detail, display):
    states = state_table(detail, display)
    assert [head for head, _ in states.heads] == [
        "dry bulb", "wet bulb", "dew point", "RH", "humidity ratio", "enthalpy", "flow",
    ]  # fmt: skip
    assert all(len(figures) == len(states.heads) for _, figures in states.rows)
    assert len(states.rows) == len(detail.points)
    assert heat_table(detail, display).heads[0][1] == ("kBtu/h" if display == "I-P" else "kW")
    assert len(refrigeration_table(detail, display).rows) == len(detail.refrigeration)


def test_flow_is_standard_air(detail):
    """70 % of 2250 cfm of standard air, 1575, is what the low speed of the case supplies."""
    at = dict(state_table(detail, "I-P").rows)
    assert at["4 Leaving coil"][-1] == "1,580"


def test_the_section_tells_design_hours_and_worst_hours(study, option):
    section = hours_section(study, "I-P")
    hours = shown_hours(option, study)
    assert [kind for kinds in hours.values() for kind in kinds] == [
        "dry-bulb", "dew-point", "reheat", "out-of-range",
    ]  # fmt: skip
    assert len(section.parts) == len(hours)
    for part, hour in zip(section.parts, hours, strict=True):
        reported = detail_at(option.ledger, option.machine, study.weather, hour, "I-P")
        assert reported.when in part.title
        assert reported.decision in part.paragraphs[0]
        assert len(part.pictures) == 1
        assert reported.decision in part.pictures[0].markup.replace("&#x27;", "'")


def test_year_of_hours_on_the_first_chart_alone(study):
    charts = hour_charts(study, "I-P")
    shown = ["hours outdoors" in chart.svg() for chart in charts]
    assert shown == [True] + [False] * (len(charts) - 1)


def test_same_hour_same_bytes(study):
    first, second = (hour_charts(study, "SI")[-1].svg() for _ in range(2))
    assert first == second


@pytest.mark.parametrize(("kind", "start"), [("svg", b"<svg"), ("png", b"\x89PNG")])
def test_a_file_for_each_chart(study, tmp_path, monkeypatch, kind, start):
    drawn = []

    def first_alone(chart):
        """Each is drawn elsewhere in these tests; here one is, for all."""
        drawn.append(drawn[0] if drawn else drawer(chart))
        return drawn[-1]

    drawer = getattr(Chart, kind)
    monkeypatch.setattr(Chart, kind, first_alone)
    written = write_outputs(study, tmp_path / "charts", formats=(kind,))
    names = {path.name for path in written}
    for name in ("overview", "monthly-energy", "humidity-map", "hour-reheat", "hour-dry-bulb"):
        assert f"charts-{name}.{kind}" in names
    assert len(drawn) == len(names)
    assert all(path.read_bytes().startswith(start) for path in written)


def test_the_gallery_is_small_and_its_page_shows_it(study):
    made = pictures(study)
    assert sum(len(content) for content in made.values()) < 600_000
    readme = (Path(__file__).parents[3] / "docs/gallery.md").read_text(encoding="utf-8")
    shown = re.findall(r"!\[([^\]]+)\]\(gallery/([^)]+)\)", readme)
    assert {name for _, name in shown} == set(made)
    assert all(len(alt) > 30 for alt, _ in shown)
    kept = Path(__file__).parents[3] / "docs/gallery"
    assert {path.name for path in kept.iterdir()} == {f"{name}.png" for name in PICTURES}
    assert sum(path.stat().st_size for path in kept.iterdir()) < 600_000
    for name, content in made.items():
        new, old = (
            np.asarray(Image.open(source).convert("L"), dtype=float)
            for source in (io.BytesIO(content), kept / name)
        )
        # python -m dewledger.reports.files.gallery draws them anew
        assert new.shape == old.shape, name
        assert np.abs(new - old).mean() < 2.0, name
