"""Coil sizes, bounds of drying and pages of method in the report."""

import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

from dewledger.dx_unit.types import (
    MODULATING,
    ON_OFF,
    SUBCOOLING,
    SUBCOOLING_THEN_CONDENSER,
    WRAP_AROUND,
)
from dewledger.hourly.ledger import INDEX
from dewledger.reports.diagrams.arrangements import (
    FOOT,
    HEIGHT,
    WIDTH,
    condenser_diagram,
    purchased_diagram,
    subcooling_diagram,
    wrap_around_diagram,
)
from dewledger.reports.page.method import arrangement_sections
from dewledger.reports.page.reheat_sizing import (
    bounds_section,
    sizing_chart,
    sizing_section,
    sizing_sentences,
    sizing_summary,
    sizing_table,
)
from dewledger.reports.terminal.reheat import reheat_lines
from dewledger.reports.words.estimates import CAUTION

DIAGRAMS = {
    "modulating": lambda: condenser_diagram(False, None, False),
    "purchased first": lambda: condenser_diagram(False, "electric", False, "gas"),
    "on/off": lambda: condenser_diagram(True, "electric", True),
    "subcooling": lambda: subcooling_diagram(False, None, False),
    "both": lambda: subcooling_diagram(True, "gas", False),
    "wrap": lambda: wrap_around_diagram("hot water", True),
    "purchased": lambda: purchased_diagram(False),
}


@pytest.mark.parametrize("name", DIAGRAMS)
def test_diagram_is_whole_and_inside_its_frame(name):
    markup = DIAGRAMS[name]()
    assert markup == DIAGRAMS[name]()
    root = ElementTree.fromstring(markup)
    assert root.attrib["role"] == "img"
    assert "cooling coil" in root.attrib["aria-label"]
    space = "{http://www.w3.org/2000/svg}"
    words = root.findall(f"{space}text")
    assert {"compressor", "outdoor coil", "expansion valve"} <= {w.text for w in words}
    for part in words:
        # 12 px text, about 6 px a letter
        width = 6.0 * len(part.text or "")
        left = (
            float(part.attrib["x"])
            - {"middle": 0.5, "end": 1.0, "start": 0.0}[part.attrib["text-anchor"]] * width
        )
        assert 0.0 < left < left + width < WIDTH
        assert 8.0 < float(part.attrib["y"]) < HEIGHT + FOOT
    assert words[-1].text == CAUTION


def test_valves_and_loops_are_where_they_belong():
    assert "modulating valve" in DIAGRAMS["modulating"]()
    assert "valve, open or shut" in DIAGRAMS["on/off"]()
    assert "valve, open" not in DIAGRAMS["subcooling"]()
    assert "modulating valve" not in DIAGRAMS["subcooling"]()
    assert "wrap-around loop" in DIAGRAMS["wrap"]()
    assert "reheat coil" not in DIAGRAMS["wrap"]()


def test_only_arrangements_in_use_are_told(study):
    titles = [section.title for section in arrangement_sections(study)]
    assert titles == [
        "Method: purchased heat",
        "Method: condenser heat, modulating",
        "Method: condenser heat, modulating, then electric",
    ]


@pytest.mark.parametrize(
    ("arrangement", "words"),
    [
        (MODULATING, "modulating valve"),
        (ON_OFF, "open or shut"),
        (SUBCOOLING, "Liquid subcooling"),
        (SUBCOOLING_THEN_CONDENSER, "then condenser heat"),
        (WRAP_AROUND, "loop"),
    ],
)
def test_each_arrangement_has_a_page(study, arrangement, words):
    option = next(option for option in study.options if option.key == "condenser")
    plant = option.machine.plant._replace(arrangement=arrangement)
    changed = replace(option, machine=replace(option.machine, plant=plant))
    (section,) = arrangement_sections(replace(study, options=(changed,)))
    text = f"{section.title} {' '.join(section.paragraphs)}"
    assert words.lower() in text.lower()
    assert "Used by: Condenser heat." in section.pictures[0].caption


def test_swing_of_two_modes_is_told(study):
    option = next(option for option in study.options if option.key == "condenser")
    plant = option.machine.plant._replace(arrangement=ON_OFF)
    ledger = option.ledger.copy()
    ledger[INDEX["temp_swing_K"], :3] = (0.1, 0.5, 0.2)
    changed = replace(option, ledger=ledger, machine=replace(option.machine, plant=plant))
    (section,) = arrangement_sections(replace(study, options=(changed,)))
    reported = "varies by 0.90 °F at most, by 0.36 °F in the middle one of the year’s 3 hours"
    assert reported in section.paragraphs[-1]


def test_purchased_heat_before_the_condenser_is_told_and_drawn_so(study):
    option = next(option for option in study.options if option.key == "condenser-trim")
    sources = option.machine.reheat[::-1]
    changed = replace(option, machine=replace(option.machine, reheat=sources))
    (section,) = arrangement_sections(replace(study, options=(changed,)))
    assert section.title == "Method: electric reheat, then condenser heat, modulating"
    assert section.paragraphs[-1].startswith("Purchased heat goes first")
    assert "coil of electric heat, then a reheat coil" in section.pictures[0].markup


def test_sizing_in_report_summary_and_terminal(study):
    section = sizing_section(study, "I-P")
    sizing = study.sizings["condenser"]
    sizes = [target.coil.setting / 293.07107 for target in sizing.targets]
    text = " ".join(section.paragraphs)
    for size in sizes:
        assert f"{size:.1f} kBtu/h" in text
    table = section.tables[0]
    assert [row.cells[0].text for row in table.rows] == [f"{size:.1f}" for size in sizes]
    listed = sizing_summary(sizing)
    assert listed["targets"][0]["coil"]["capacity_W"] == sizing.targets[0].coil.setting
    assert [row["hours"] for row in listed["exceedance"]][:3] == [1, 5, 10]
    console = Console(file=StringIO(), width=100)
    reheat_lines(study, console)
    said = " ".join(console.file.getvalue().split())
    assert "meets 99 % of the annual reheat load" in said
    for hours, aim in ((0, "leaves 0 h unmet"), (1, "leaves 1 h unmet")):
        other = replace(
            sizing, targets=(sizing.targets[0], replace(sizing.targets[1], hours=hours))
        )
        reported = sizing_sentences(other, study.options[3], "I-P")
        assert aim in reported[0]
        table = sizing_table(other, study.options[3], "I-P", "")
        assert table.rows[1].head == f"{aim[:1].upper()}{aim[1:]}"
    plant = study.options[3].machine.plant
    for arrangement, words in (
        (ON_OFF, "while its valve is open"),
        (SUBCOOLING_THEN_CONDENSER, "meets 99 % of the annual reheat load left by subcooling"),
    ):
        machine = replace(study.options[3].machine, plant=plant._replace(arrangement=arrangement))
        option = replace(study.options[3], machine=machine)
        assert words in sizing_sentences(sizing, option, "I-P")[0]
    chart = sizing_chart(sizing, [study.options[3]], "SI", "sizes")
    assert chart.svg() == chart.svg()
    assert "<svg" in chart.svg()


def test_bounds_are_told_only_where_something_bound(study):
    assert bounds_section(study, "I-P") is None
    low = replace(
        study.bounds["condenser"], limit_dew_point_C=-2.0, hours_called_low=900,
        hours_not_met_low=850,
    )  # fmt: skip
    bound = replace(study, bounds={**study.bounds, "condenser": low})
    (point,) = bounds_section(bound, "I-P").points
    assert point.startswith(
        "Condenser heat: A desiccant dehumidifier or other low-dew-point method is needed"
    )
    assert "850 of them" in point
