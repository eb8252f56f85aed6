"""One table of columns: what it calls purchased is the bill, on every bundled case and everywhere.

Expected: the bill itself, which is made from hourly electricity and gas (estimator/accounts/bills),
not from the end uses that the pictures, tables and sheets are made of.
"""

import io
import json
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

import dewledger.case
from dewledger.case import bundled_case
from dewledger.hourly.ledger import COLUMNS, PURCHASED
from dewledger.reports.charts.study import energy_layers, study_charts
from dewledger.reports.files.data_files import summary
from dewledger.reports.page.tables import short_table, whole_table
from dewledger.reports.terminal.study import comparison
from dewledger.reports.words.metrics import BY_KEY, METRICS
from dewledger.reports.words.numbers import figure, in_display
from dewledger.study import run_study

KINDS = sorted(
    path.stem for path in (Path(dewledger.case.__file__).parent.parent / "cases").glob("*.toml")
)


@pytest.fixture(scope="module", params=KINDS)
def any_study(request):
    return run_study(bundled_case(request.param))


def test_purchased_columns_have_an_end_use_and_a_carrier():
    assert len(COLUMNS) > 60
    for column in COLUMNS:
        assert bool(column.end_use) == bool(column.carrier), column.name
        assert column.label
        if column.carrier:
            assert column.unit == "kWh"
            assert column.total == "sum"
    assert {metric.key for metric in METRICS} >= {column.name for column in PURCHASED}


def sides(axis, way):
    """Sum of the bars' sides along one way (0 across, 1 up), by bar, over the layers of an axis.

    A layer is one shape: each bar of it is a rectangle of five points.
    """
    corners = [shape.get_path().vertices.reshape(-1, 5, 2) for shape in axis.patches]
    return sum(np.ptp(bars[:, :, way], axis=1) for bars in corners)


def drawn_bars(chart, axis=0):
    """Length of the whole bar of each option on one axis of a chart, from what was drawn."""
    return list(sides(chart.figure().axes[axis], 0))


def test_bars_of_every_energy_picture_add_up_to_the_bill(any_study):
    display = any_study.case.display
    bills = [any_study.money.bills[option.key].site_kWh for option in any_study.options]
    shown = [in_display(bill, "energy", display) for bill in bills]
    charts = study_charts(any_study, display)
    bars = drawn_bars(charts["overview"])
    assert bars == pytest.approx(shown, rel=1e-9)
    layers = energy_layers(any_study.options)
    for option, bill in zip(any_study.options, bills, strict=True):
        assert sum(part.annual(option) for part in layers) == pytest.approx(bill, rel=1e-9)
        assert sum(part.monthly(option).sum() for part in layers) == pytest.approx(bill, rel=1e-9)
    months = charts["monthly-energy"].figure().axes
    for axis, wanted in zip(months, shown, strict=False):
        assert sides(axis, 1).sum() == pytest.approx(wanted, rel=1e-9)


def test_reheat_by_source_adds_up_to_the_overcooling_heat(any_study):
    display = any_study.case.display
    heat = [
        in_display(o.annual["overcooling_heat_kWh"], "heat", display) for o in any_study.options
    ]
    chart = study_charts(any_study, display)["reheat-origin"]
    # A part too small to be seen beside the others is not drawn.
    assert drawn_bars(chart) == pytest.approx(heat, rel=0.011, abs=1e-3 * max(heat) + 1e-6)


def test_terminal_page_and_summary_agree(any_study):
    display = any_study.case.display
    content = json.loads(json.dumps(summary(any_study)))["options"]
    whole, short = whole_table(any_study, display), short_table(any_study, display)
    said = io.StringIO()
    comparison(any_study, Console(file=said, width=100))
    terminal = said.getvalue()
    for table in (whole, short):
        for cell in (cell for row in table.rows for cell in row.cells if cell.trace):
            option, key = cell.trace
            annual = content[option]["annual"][key]
            assert cell.text == figure(annual, BY_KEY[key].kind, display), (option, key)
    for row in short.rows:
        for cell in row.cells:
            if cell.trace:
                assert cell.text in terminal, cell
    for option in any_study.options:
        shares = [c.name for c in PURCHASED]
        total = sum(content[option.key]["annual"][name] for name in shares)
        assert total == pytest.approx(content[option.key]["annual"]["site_kWh"], rel=1e-7)
