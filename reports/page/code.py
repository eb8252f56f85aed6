"""The section for the code official: one verdict for each option, its parts, what to look up."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, TypeVar

from dewledger.codes.determination import Determination, Part
from dewledger.codes.parts import capitalized
from dewledger.data.standings import READ, UNCHECKED, weakest
from dewledger.quantities import Display
from dewledger.reports.page.parts import Cell, Head, Row, Section, Table
from dewledger.reports.words.numbers import NONE, figure

if TYPE_CHECKING:
    from dewledger.accounts.option_year import OptionYear
    from dewledger.analysis.compliance import Judgment
    from dewledger.study import Study

_Item = TypeVar("_Item")


def grouped(
    options: Iterable[OptionYear], item_of: Callable[[OptionYear], _Item]
) -> list[tuple[_Item, list[OptionYear]]]:
    """Options of which the same holds, together, in the order they first appear."""
    groups: list[tuple[_Item, list[OptionYear]]] = []
    for option in options:
        item = item_of(option)
        for other, members in groups:
            if other == item:
                members.append(option)
                break
        else:
            groups.append((item, [option]))
    return groups


def titles(options: list[OptionYear]) -> str:
    return ", ".join(option.title for option in options)


def code_title(found: Determination) -> str:
    """A code and its edition as a document is called."""
    name = found.edition.name
    return f"ANSI/ASHRAE/IES {name}" if found.edition.code == "90.1" else name


def allowance_section(study: Study, display: Display) -> Section:
    """Energy code findings for each option. For the code official."""
    points = []
    for text, options in grouped(study.options, lambda o: size_and_change(study.judgments[o.key])):
        points.append(f"{titles(options)}: {text}")
    return Section(
        "allowance",
        "Energy code, option by option",
        (*_judged_by(study), *_appendix_g(study), " ".join(_cautions(study))),
        (determination_table(study), *parts_tables(study)),
        (),
        tuple(points),
    )


def _judged_by(study: Study) -> list[str]:
    """The code and edition of each option, its rule, and what is not judged."""

    def code_of(option: OptionYear) -> tuple[str, bool, str, str]:
        judgment = study.judgments[option.key]
        found = judgment.determination
        rule = found.rule
        text = f"Its rule, {rule.section}: {rule.asks} ({rule.source}.)"
        edition = found.edition
        more = f" {edition.note}" if edition.note else ""
        if edition.not_judged:
            more += f" Not judged here: {edition.not_judged}."
        return code_title(found), judgment.code_assumed, text, more

    paragraphs = []
    groups = grouped(study.options, code_of)
    for (name, assumed, rule, more), options in groups:
        whose = "" if len(groups) == 1 else f" ({titles(options)})"
        paragraphs.append(
            f"Judged by {name}{whose}"
            + (
                ", which is assumed because the case names no code; write [allowance] with the "
                "edition adopted. "
                if assumed
                else ". "
            )
            + rule
            + more
        )
    return paragraphs


def _appendix_g(study: Study) -> list[str]:
    counted: dict[str, None] = {}
    for option in study.options:
        found = study.judgments[option.key].determination.counted
        if found is not None:
            counted[
                f"{found.section}: {found.asks} {found.sentence} The reference option is "
                f"the baseline. ({found.source}: {found.standing}.)"
            ] = None
    return list(counted)


def _cautions(study: Study) -> list[str]:
    cautions: dict[str, None] = {}
    for option in study.options:
        for caution in study.judgments[option.key].determination.cautions:
            cautions[caution] = None
    return list(cautions)


def size_and_change(judgment: Judgment) -> str:
    """The coil that would comply, and the smallest change of the design that would."""
    change = judgment.determination.smallest_change
    text = judgment.coil.sentence
    return f"{text} Smallest single change to the design: {change}" if change else text


# ---------------------------------------------------------------------------------------------
# Tables


def determination_table(study: Study) -> Table:
    """One verdict for each option."""
    rows = []
    for option in study.options:
        found = study.judgments[option.key].determination
        cells = (
            Cell(capitalized(found.brief)),
            Cell(found.sentence),
            Cell(figure(found.recovered_share, "share", "SI"), True),
            Cell(found.standing),
        )
        rows.append(Row(option.title, cells, marked=option.key == study.reference.key))
    return Table(
        "One verdict for each option",
        (
            Head("Option", number=False),
            Head("Verdict", number=False),
            Head("Why", number=False),
            Head("Recovered share", "%"),
            Head("Standing", number=False),
        ),
        tuple(rows),
        note="An option complies where one exception allows its reheat and every other requirement "
        "judged is met. Recovered share: of the year’s reheat, heat taken from the condenser or "
        "another recovery device. Standing: the weakest of the parts that decide.",
    )


def _parts(study: Study) -> dict[str, tuple[Part, ...]]:
    return {option.key: study.judgments[option.key].determination.parts for option in study.options}


def parts_tables(study: Study) -> list[Table]:
    """Every exception and every other requirement, and what was found of which options."""
    found = _parts(study)
    tables = []
    for role, caption in (
        ("exception", "Exceptions: one is sufficient"),
        ("condition", "Other requirements that apply"),
    ):
        asked: dict[tuple[str, str, str], None] = {}
        for parts in found.values():
            for one in parts:
                if one.role == role:
                    asked[one.section, one.item, one.asks] = None
        rows: list[Row] = []
        for key in asked:
            rows += _part_rows(study, found, key)
        if rows:
            heads = ("Verdict", "Options", "Figure", "Threshold", "Margin", "Evidence", "Standing")
            tables.append(
                Table(
                    caption,
                    tuple(Head(head, number=False) for head in heads),
                    tuple(rows),
                    long=True,
                )
            )
    return tables


def _part_rows(
    study: Study, found: dict[str, tuple[Part, ...]], key: tuple[str, str, str]
) -> list[Row]:
    holders: dict[str, Part] = {}
    for option in study.options:
        for one in found[option.key]:
            if (one.section, one.item, one.asks) == key:
                holders[option.key] = one
    options = [option for option in study.options if option.key in holders]
    groups = grouped(options, lambda option: holders[option.key])
    rows: list[Row] = []
    for one, members in groups:
        text = one.evidence
        if one.exits:
            text += f" Would be met by: {'; or '.join(one.exits)}."
        whose = "All" if len(members) == len(study.options) else titles(members)
        cells = (
            Cell(whose),
            Cell(one.figure_text or NONE),
            Cell(one.threshold_text or NONE),
            Cell(one.margin_text or NONE),
            Cell(text),
            Cell(one.standing),
        )
        head = "" if rows else f"{one.name}. {one.asks}"
        rows.append(Row(capitalized(one.verdict), cells, group=head))
    return rows


def to_check_table(study: Study) -> Table:
    """What must be looked up in the standard's text before signing, once each."""
    rows: dict[tuple[str, str], list[str]] = {}

    def put(section: str, what: str, standing: str) -> None:
        rows.setdefault((section, capitalized(what)), []).append(standing)

    for option in study.options:
        found = study.judgments[option.key].determination
        name = found.edition.name
        for one in found.parts:
            if one.verdict != "does not apply" and (one.standing != READ or one.check):
                put(_under(name, one.name), one.check or "the figures", one.standing)
        counted = found.counted
        if counted is not None and (counted.standing != READ or counted.check):
            put(
                _under(name, counted.section), counted.check or "the share of 25 %",
                counted.standing,
            )  # fmt: skip
        if found.edition.not_judged:
            put(name, f"not judged: {found.edition.not_judged}", UNCHECKED)
    return Table(
        "To be looked up in the adopted text before signing",
        tuple(Head(head, number=False) for head in ("Section", "What to look up", "Standing")),
        tuple(
            Row(section, (Cell(what), Cell(weakest(standings))))
            for (section, what), standings in rows.items()
        ),
        note="For all options of the report; what does not apply to any of them is left out.",
        long=True,
        kind="to-check",
    )


def _under(code: str, section: str) -> str:
    """A section under its code; a federal one stands alone."""
    return section if "CFR" in section else f"{code} {section}"


# ---------------------------------------------------------------------------------------------
# summary.json


def _part_summary(one: Part) -> dict[str, Any]:
    return {
        "section": one.section,
        "item": one.item,
        "name": one.name,
        "role": one.role,
        "verdict": one.verdict,
        "asks": one.asks,
        "figure": one.figure,
        "threshold": one.threshold,
        "margin": one.margin,
        "unit": one.unit,
        "figure_text": one.figure_text,
        "threshold_text": one.threshold_text,
        "margin_text": one.margin_text,
        "evidence": one.evidence,
        "standing": one.standing,
        "source": one.source,
        "would_be_met_by": list(one.exits),
        "missing": list(one.missing),
        "to_look_up": one.check,
    }


def code_summary(judgment: Judgment) -> dict[str, Any]:
    """One option's verdict as the content of summary.json."""
    found = judgment.determination
    return {
        "code": found.edition.code,
        "edition": found.edition.edition,
        "name": found.edition.name,
        "code_assumed": judgment.code_assumed,
        "verdict": found.verdict,
        "exception": found.exception,
        "standing": found.standing,
        "brief": found.brief,
        "sentence": found.sentence,
        "missing": list(found.missing),
        "not_met": list(found.not_met),
        "parts": [_part_summary(one) for one in found.parts],
        "recovered_share": found.recovered_share,
        "appendix_g": None if found.counted is None else asdict(found.counted),
        "note": found.edition.note,
        "not_judged": found.edition.not_judged,
        "other_path": found.edition.path,
        "smallest_change": found.smallest_change,
        "coil": asdict(judgment.coil),
        "cautions": list(found.cautions),
    }
