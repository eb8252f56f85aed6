"""Every number on every part is summary.json's, read back from the file and rounded anew."""

import json
import re

import pytest

from dewledger.quantities import rounded
from dewledger.reports.files.data_files import summary_json
from dewledger.reports.files.report_parts import Drawn, report_parts
from dewledger.reports.handover.determination import requirements_table
from dewledger.reports.page import money
from dewledger.reports.page.criteria import met_table
from dewledger.reports.page.reheat_sizing import sizing_section
from dewledger.reports.page.summary import facts
from dewledger.reports.words.metrics import best_option, holds_worse
from dewledger.reports.words.numbers import figure


@pytest.fixture(scope="module")
def content(study):
    return json.loads(summary_json(study))


def money_text(value):
    """Money to three figures, two below 100, without a sign: written anew here."""
    if abs(value) < 0.5:
        return "0"
    return rounded(abs(value), 3 if abs(value) >= 100.0 else 2)


def cells(table):
    return [[cell.text for cell in row.cells] for row in table.rows]


def numbers(text):
    return re.findall(r"\d[\d,]*(?:\.\d+)?", text)


def test_the_summary_table(study, content):
    reference = content["options"][content["reference"]]["annual"]
    table = report_parts(study, "summary")[0].sections[0].tables[0]
    for key, (site, saving, above, below, code) in zip(
        content["option_order"], cells(table), strict=True
    ):
        option = content["options"][key]
        annual = option["annual"]
        assert (above, below) == (
            f"{annual['hours_above_range']:,}",
            f"{annual['hours_below_range']:,}",
        )
        assert code.startswith(option["code"]["verdict"])
        if key == content["reference"]:
            assert (site, saving) == ("reference", "reference")
            continue
        change = 100.0 * (annual["site_kWh"] / reference["site_kWh"] - 1.0)
        assert float(site.removesuffix(" %").replace("−", "-")) == pytest.approx(change, abs=0.5)
        assert saving.lstrip("−") == money_text(annual["cost_saving"])


def test_every_number_in_the_summarys_words(study, content):
    """Each stands in a set made from the file: figures of the options at their roundings."""
    display = study.case.display
    allowed = {"10"}  # ten percent of each lever
    allowed |= {str(content["money"]["terms"]["life_years"])}
    for humidity in (study.case.humidity.range_low, study.case.humidity.range_high):
        allowed.add(f"{100.0 * float(humidity):.0f}")
    options = {key: one["annual"] for key, one in content["options"].items()}
    for key, annual in options.items():
        for other in options.values():
            for name, kind in (("electricity_kWh", "electricity"), ("gas_kWh", "gas")):
                allowed.add(figure(abs(annual[name] - other[name]), kind, display))
            for name in ("hours_above_range", "hours_below_range"):
                allowed |= {f"{annual[name]:,}", f"{abs(annual[name] - other[name]):,}"}
            costs = [one["energy_cost"] + one["upkeep_cost"] for one in (annual, other)]
            allowed.add(money_text(costs[0] - costs[1]))
            allowed.add(money_text(costs[0]))
            if costs[1]:
                allowed.add(f"{100.0 * abs(costs[0] - costs[1]) / costs[1]:.0f}")
            if other["site_kWh"]:
                change = abs(annual["site_kWh"] / other["site_kWh"] - 1.0)
                allowed.add(figure(change, "share", display))
        allowed.add(figure(annual["recovered_share"], "share", display))
        allowed |= {f"{hours:,}" for hours in annual["hours_above_by_cause"].values()}
        allowed.add(figure(annual["moisture_to_low_limit_kg"], "water", display))
        for name in ("reheat_recovered_kWh", "reheat_unmet_kWh"):
            allowed.add(figure(annual[name], "heat", display))
        allowed.add(figure(abs(annual["recovery_penalty_kWh"]), "electricity", display))
        life = content["money"]["options"][key]["life_cycle"]
        if life["break_even_extra_first_cost"] is not None:
            allowed.add(money_text(life["break_even_extra_first_cost"]))
    said = dict(facts(study, display))
    for question in ("Compared", "How much", "Too humid", "Too dry"):
        for sentence in said[question]:
            assert set(numbers(sentence)) <= allowed, (question, sentence)
    best = best_option(study)
    code = content["options"][best.key]["code"]
    assert code["brief"] in said["Energy code"][0]
    assert code["standing"] in said["Energy code"][0]


def test_the_money_tables(study, content):
    bills = cells(money.bill_table(study, study.case.display))
    heads = [head.text for head in money.bill_table(study, study.case.display).heads][1:]
    savings = iter(cells(money.savings_table(study, study.case.display)))
    life = money.life_cycle_table(study)
    places = [head.text for head in life.heads][1:]
    for key, row, weighed in zip(content["option_order"], bills, cells(life), strict=True):
        annual, found = content["options"][key]["annual"], content["money"]["options"][key]
        shown = dict(zip(heads, row, strict=True))
        assert shown["Electricity"] == money_text(found["bill"]["electricity_charge"])
        assert shown["Gas"] == money_text(found["bill"]["gas_charge"])
        assert shown["Total"] == money_text(annual["energy_cost"] + annual["upkeep_cost"])
        option = next(one for one in study.options if one.key == key)
        cost = dict(zip(places, weighed, strict=True))["Break-even added first cost"]
        if key == content["reference"] or holds_worse(option, study.reference):
            assert cost == "–"
        else:
            worth = found["life_cycle"]["break_even_extra_first_cost"]
            assert cost == (money_text(worth) if worth > 0.0 else "never pays")
        if key != content["reference"]:
            assert next(savings)[-1].lstrip("−") == money_text(annual["cost_saving"])


def test_an_option_that_holds_worse_is_credited_nowhere(study, content):
    """No control holds the room worse: no break-even in table, sentence or file’s mark."""
    section = money.money_section(study, study.case.display)
    for key, found in content["money"]["options"].items():
        option = study.option(key)
        said = [point for point in section.points if point.startswith(f"“{option.title}”")]
        assert found["like_for_like"] == (key != "none")
        if key == content["reference"]:
            continue
        assert any("break-even added first cost" in one for one in said) == (key != "none"), key
        assert any("holds the room worse" in one for one in said) == (key == "none"), key


def test_the_criteria_and_the_determination(study, content):
    rows = iter(cells(met_table(study, study.case.display)))
    options = [content["options"][key]["humidity"] for key in content["option_order"]]
    count = 1 + max(len(one["criteria"]) for one in options)
    for place in range(count):
        for one in options:
            found = [one["own_range"], *one["criteria"]][place]
            met, above, below, warm, cold, longest, _ = next(rows)
            assert met == ("yes" if found["met"] else "no")
            assert (above, below) == (f"{found['hours_above']:,}", f"{found['hours_below']:,}")
            assert longest == f"{found['longest_spell_h']:,}"
            for text, name in ((warm, "hours_too_warm"), (cold, "hours_too_cold")):
                assert text == ("–" if found[name] is None else f"{found[name]:,}")
    for option in study.options:
        parts = {part["name"]: part for part in content["options"][option.key]["code"]["parts"]}
        table = requirements_table(study.judgments[option.key].determination)
        for row in table.rows:
            part = parts[row.head]
            verdict, figures, text, _ = (cell.text for cell in row.cells)
            assert verdict.lower() == part["verdict"]
            assert part["evidence"] in text
            if part["figure_text"]:
                assert figures == f"{part['figure_text']} / {part['threshold_text']}"


def test_the_sizing_table(study, content):
    """1 W is 3.412142e-3 kBtu/h."""
    section = sizing_section(study, study.case.display)
    sized = [one["reheat_sizing"] for one in content["options"].values() if one["reheat_sizing"]]
    targets = sized[0]["targets"]
    for target, (size, share, hours, _) in zip(targets, cells(section.tables[0]), strict=True):
        if target["coil"] is None:
            assert size == "none"
            continue
        shown = float(size.replace(",", ""))
        assert shown == pytest.approx(3.412142e-3 * target["coil"]["capacity_W"], rel=0.006)
        assert float(share) == pytest.approx(100.0 * target["coil"]["share"], abs=0.51)
        assert hours == f"{target['coil']['hours_missed']:,}"


def test_every_traced_cell_of_every_part_is_in_the_file(study, content, drawn):
    checked = 0
    for part in report_parts(study, None, lambda: Drawn(None, drawn)):
        for section in part.sections:
            for table in (*section.tables, *(t for inner in section.parts for t in inner.tables)):
                for row in table.rows:
                    for cell in row.cells:
                        if cell.trace is None:
                            continue
                        option, key = cell.trace
                        value = content["options"][option]["annual"]
                        for name in key.split("."):
                            value = value[name]
                        assert cell.text == "–" or value is not None
                        checked += 1
    assert checked > 100
