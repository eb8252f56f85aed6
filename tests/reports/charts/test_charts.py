"""Charts: each draws, repeats byte for byte, and says in words what its bars are."""

import dataclasses
import re
from html import escape

import numpy as np
import pytest

from dewledger.reports.charts.hourly import humidity_map
from dewledger.reports.charts.parts import PAIRED_IN, curve_groups, short_title, wrapped
from dewledger.reports.charts.study import study_charts
from dewledger.reports.charts.style import WIDTH_IN, picture_bytes, svg_text
from dewledger.reports.files.writer import _charts
from dewledger.reports.words.estimates import CAUTION
from dewledger.reports.words.numbers import words


def test_all_charts_draw_and_repeat_byte_for_byte(drawn, study):
    again = study_charts(study, study.case.display)
    for name, svg in drawn.items():
        assert svg.startswith("<svg ")
        assert svg == again[name].svg()
        assert not re.search(r"<metadata|<!--|<\?xml|\d{4}-\d\d-\d\dT", svg)


@pytest.mark.parametrize("width_in", [WIDTH_IN, PAIRED_IN])
def test_every_picture_holds_all_its_words(study, width_in):
    """What is drawn lies within the figure, however it is saved; the caution at its foot too."""
    long = dataclasses.replace(
        study.options[1].option, title="From 54 to 60 °F as the rooms need it, condenser heat"
    )
    options = (study.options[0], dataclasses.replace(study.options[1], option=long))
    changed = dataclasses.replace(study, options=options + study.options[2:])
    for name, chart in study_charts(changed, study.case.display, width_in).items():
        figure = chart.figure()
        (foot,) = [text for text in figure.texts if text.get_text() == CAUTION]
        inches = foot.get_window_extent().transformed(figure.dpi_scale_trans.inverted())
        width, height = figure.get_size_inches()
        for box in (inches, figure.get_tightbbox()):
            assert min(box.x0, box.y0) >= 0.0, (name, box.extents)
            assert box.x1 <= width, (name, box.extents, width)
            assert box.y1 <= height, (name, box.extents)
        others = [one.get_tightbbox() for one in (*figure.axes, *figure.legends)]
        assert min(box.y0 for box in others if box) >= foot.get_window_extent().y1 - 0.5, name


def test_a_figure_is_saved_as_it_is_asked_for(study):
    """plot() and a plain savefig give the picture of the files: same size, foot included."""
    chart = study_charts(study, study.case.display)["overview"]
    figure = chart.figure()
    before = tuple(figure.get_size_inches())
    picture_bytes(figure, "png")
    assert tuple(figure.get_size_inches()) == before  # the foot is added once


def test_a_title_that_does_not_fit_ends_in_an_ellipsis():
    cut = wrapped("54 to 60 F as the rooms need it, condenser heat").split("\n")
    assert cut[0] == "54 to 60 F as the"
    assert cut[1].endswith("…")
    assert max(map(len, cut)) <= 20
    assert wrapped("Gas reheat") == "Gas reheat"


def test_ids_of_two_charts_never_meet(drawn):
    seen = set()
    for svg in drawn.values():
        ids = set(re.findall(r'\bid="([^"]+)"', svg))
        used = set(re.findall(r'url\(#([^)]+)\)|href="#([^"]+)"', svg))
        assert {first or second for first, second in used} <= ids
        assert not ids & seen
        seen |= ids


def test_words_of_the_charts_are_the_accounts(charts, study):
    display = study.case.display
    for option in study.options:
        heat = words(option.annual["reheat_recovered_kWh"], "heat", display)
        assert f"{option.title}: recovered {heat}" in charts["reheat-origin"].alt
        hours = f"above {100 * study.case.humidity.range_high:.0f} % for "
        hours += f"{option.annual['hours_above_range']:,} hours"
        assert f"{option.title} {hours}" in charts["humidity-duration"].alt


def test_bars_of_reheat_add_up_to_the_overcooling_heat(study):
    for option in study.options:
        annual = option.annual
        parts = (
            annual["reheat_recovered_kWh"]
            + annual["reheat_purchased_kWh"]
            + annual["reheat_unmet_kWh"]
        )
        assert parts == pytest.approx(annual["overcooling_heat_kWh"], rel=1e-6, abs=1e-6)


@pytest.mark.parametrize(("low", "high"), [(0.0, 0.6), (0.1, 0.95), (0.4, 1.0)])
def test_humidity_map_of_a_range_at_the_end_of_the_scale(study, low, high):
    humidity = study.case.humidity.model_copy(update={"range_low": low, "range_high": high})
    case = study.case.model_copy(update={"humidity": humidity})
    chart = humidity_map(dataclasses.replace(study, case=case, options=study.options[:1]), "SI")
    assert chart.svg().startswith("<svg ")


def test_dollar_signs_are_no_mathematics(study):
    option = study.options[0]
    priced = dataclasses.replace(
        option, option=dataclasses.replace(option.option, title="$x^2$ of it")
    )
    changed = dataclasses.replace(study, options=(priced, *study.options[1:]))
    assert "$x^2$ of it" in study_charts(changed, study.case.display)["overview"].svg()


def test_curves_that_coincide_are_drawn_as_one():
    base = np.linspace(0.0, 1.0, 50)
    assert curve_groups([base, base + 1.0, base + 1e-6], 0.01) == [[0, 2], [1]]


def test_titles_fit():
    assert short_title("a\nb\tc") == "a b c"
    assert len(short_title("w" * 200)) == 34


def test_png_is_png(charts):
    assert charts["overview"].png(50).startswith(b"\x89PNG\r\n")


def test_a_picture_draws_no_box_for_a_sign_its_font_lacks():
    matplotlib = pytest.importorskip("matplotlib.figure")

    def drawn(words):
        figure = matplotlib.Figure(figsize=(2.0, 1.0))
        figure.text(0.1, 0.5, words)
        return picture_bytes(figure, "png")

    assert drawn("🎻 violin 弓 hall") == drawn("violin hall")
    assert drawn("🎻") != drawn("")  # a name is never silently gone
    figure = matplotlib.Figure(figsize=(2.0, 1.0))
    figure.text(0.1, 0.5, "🎻")
    assert "🎻" in svg_text(figure, "test")  # its reader's browser has the sign


def test_the_formats_of_pictures_hold_every_chart_of_the_page(study, folder):
    html = (folder / "report.html").read_text(encoding="utf-8")
    shown = set(re.findall(r'aria-label="([^"]*)"', html))
    names = [chart.name for chart in _charts(study)]
    assert len(set(names)) == len(names)
    assert "reheat-sizing-1" in names
    for chart in _charts(study):
        assert escape(chart.alt) in shown, chart.name
