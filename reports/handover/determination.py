"""The determination sheet: one option, judged section by section, on one or two printed pages."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dewledger.codes.parts import capitalized
from dewledger.data.standings import READ, SECOND_HAND
from dewledger.quantities import Display, show
from dewledger.reports.handover.schedule import measured, reheat_item, supply_air
from dewledger.reports.page.code import code_title, size_and_change, to_check_table
from dewledger.reports.page.parts import Cell, Head, Row, Section, Table
from dewledger.reports.words.answer import named
from dewledger.reports.words.numbers import NONE, figure, words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from dewledger.accounts.option_year import OptionYear
    from dewledger.codes.determination import Determination, Part
    from dewledger.study import Study

# The standings as a narrow column has them; the table's note says what they are.
SHORT_STANDING = {READ: "read", SECOND_HAND: "second-hand"}


def short_standing(standing: str) -> str:
    return SHORT_STANDING.get(standing, "not checked")


def determination_sections(
    study: Study, option: OptionYear, display: Display
) -> tuple[Section, ...]:
    """The design, its verdict, every requirement that bears on it, and what to look up."""
    judgment = study.judgments[option.key]
    found = judgment.determination
    assumed = ", assumed because the case names no code" if judgment.code_assumed else ""
    rule = found.rule
    paragraphs = [
        f"{named(option)} {found.brief}. Standing: {found.standing}.",
        f"Judged by {code_title(found)}{assumed}. {rule.section}: {rule.asks}"
        + (f" {found.edition.note}" if found.edition.note else "")
        + (f" Not judged here: {found.edition.not_judged}." if found.edition.not_judged else ""),
    ]
    if found.counted is not None:
        paragraphs.append(
            f"{found.counted.section}: {found.counted.asks} {found.counted.sentence} "
            f"The reference option stands for the baseline. Standing: {found.counted.standing}."
        )
    paragraphs.append(size_and_change(judgment))
    others = [one for one in study.options if one.key != option.key]
    if others:
        paragraphs.append("The other options are judged alike in the appendix.")
    return (
        Section(
            "sheet-design",
            "The design",
            (f"{study.case.title}, weather of {study.weather.station.name}.",),
            (design_table(study, option, display),),
        ),
        Section(
            "sheet-verdict",
            "Verdict",
            tuple(paragraphs),
            (requirements_table(found), to_check_table(study)),
        ),
    )


def design_table(study: Study, option: OptionYear, display: Display) -> Table:
    """What of the design bears on the verdict, two facts a row."""
    facts = design_facts(study, option, display)
    rows = []
    half = -(-len(facts) // 2)
    for place in range(half):
        left, value = facts[place]
        right = facts[half + place] if half + place < len(facts) else ("", "")
        rows.append(Row(left, (Cell(value), *(Cell(text) for text in right))))
    return Table(f"Option {named(option)}", (), tuple(rows), kind="facts-two")


def design_facts(study: Study, option: OptionYear, display: Display) -> list[tuple[str, str]]:
    """(what, value) of an option's design and year that a code asks about."""
    case, machine, annual = option.option.case, option.machine, option.annual
    air, room, humidity = case.air, case.room, case.humidity
    economizer = "none" if air.economizer is None else f"by {air.economizer.control}"
    recovery = "none"
    if air.recovery is not None:
        recovery = (
            f"sensible {measured(air.recovery.sensible, display)}, latent "
            f"{measured(air.recovery.latent, display)}"
        )
    limit = "none" if humidity.limit is None else f"{humidity.limit} ({humidity.control})"
    if case.outdoor_air_unit is not None:
        dew_point = measured(case.outdoor_air_unit.supply_dew_point, display)
        limit = f"supply dew point {dew_point}; room {limit}"
    share = annual["recovered_share"]
    reheat = "none in the year"
    if share is not None:
        reheat = (
            f"recovered {words(annual['reheat_recovered_kWh'], 'heat', display)}, purchased "
            f"{words(annual['reheat_purchased_kWh'], 'heat', display)}; recovered share "
            f"{figure(share, 'share', display)} %"
        )
    facts = [
        (
            "Total cooling capacity",
            f"{show(machine.unit.rated_total_W, 'heat flow', display)} gross at its rating",
        ),
        ("Rated efficiency", f"{measured(case.unit.efficiency, display)}, {case.unit.rating}"),
        ("Capacity control", case.unit.capacity_control),
        ("Supply air", f"{supply_air(machine.plant, display).text}, {air.flow_control}"),
        ("Outdoor air, most", measured(air.outdoor_flow, display)),
        ("Supply fan", show(machine.plant.fan_W, "power", display)),
        ("Economizer", economizer),
        ("Energy recovery", recovery),
        (
            "Set points",
            f"heating {measured(room.heating_setpoint, display)}, cooling "
            f"{measured(room.cooling_setpoint, display)}",
        ),
        ("Humidity limit", limit),
        ("Humidifier", "none" if case.humidifier is None else case.humidifier.source),
        ("Space heating", case.heating.source),
    ]
    items = [reheat_item(place, source, display) for place, source in enumerate(case.reheat, 1)]
    facts += [(item.what, item.text) for item in items] or [("Reheat", "none")]
    facts.append(("Reheat of the year", reheat))
    return facts


def requirements_table(found: Determination) -> Table:
    """Every requirement that bears on the option; what does not is named in the note."""
    rows: list[Row] = []
    freed = found.freed_by
    group = ""
    for one in found.parts:
        if one.role == "rule" or one.verdict == "does not apply":
            continue
        if freed is not None and one.role == "exception" and one.item != freed.item:
            continue
        role = "Exceptions: one is sufficient" if one.role == "exception" else "Other requirements"
        rows.append(_requirement(one, role if role != group else ""))
        group = role
    return Table(
        "Requirements judged",
        (
            Head("Section and what it asks", number=False),
            Head("Found", number=False),
            Head("Figure / required", number=False),
            Head("Evidence, and what would meet it", number=False),
            Head("Standing", number=False),
        ),
        tuple(rows),
        note=" ".join(_beyond(found)),
        long=True,
        kind="requirements",
    )


def _requirement(one: Part, group: str) -> Row:
    text = one.evidence
    if one.exits:
        text += f" Would be met by: {'; or '.join(one.exits)}."
    figures = f"{one.figure_text} / {one.threshold_text}" if one.figure_text else NONE
    return Row(
        one.name,
        (
            Cell(capitalized(one.verdict)),
            Cell(figures),
            Cell(text),
            Cell(short_standing(one.standing)),
        ),
        detail=one.asks,
        group=group,
    )


def _beyond(found: Determination) -> list[str]:
    """What the table leaves out and why, and what its last column means."""
    freed = found.freed_by
    lines = []
    if freed is not None:
        others = [
            f"{one.item} ({one.verdict})"
            for one in found.exceptions
            if one.item != freed.item and one.verdict != "does not apply"
        ]
        if others:
            lines.append(
                f"One exception is sufficient; the others: {freed.section} exceptions "
                f"{', '.join(others)}."
            )
    idle = _grouped(one for one in found.parts if one.verdict == "does not apply")
    if idle:
        lines.append(f"Do not apply: {idle}.")
    lines.append(
        "Standing: “read”, the words stood in a copy of the rule; “second-hand”, in an article, "
        "guide or web page about it; “not checked”, neither."
    )
    return lines


def _grouped(parts: Iterable[Part]) -> str:
    """Names of parts under the evidence they share."""
    by_evidence: dict[str, list[str]] = {}
    for one in parts:
        evidence = one.evidence.rstrip(".").removeprefix("Does not apply (").removesuffix(")")
        by_evidence.setdefault(evidence, []).append(one.name)
    return "; ".join(f"{', '.join(names)} ({evidence})" for evidence, names in by_evidence.items())
