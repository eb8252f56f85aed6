"""The sections for those who sign: energy code, humidity criteria and mold, modeled ratings."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, TypeVar

from dewledger.accounts.energy import hour_label
from dewledger.accounts.humidity_criteria import MOLD_SOURCE, MOLD_TEMP_HIGH_C, MOLD_TEMP_LOW_C
from dewledger.codes.determination import Determination, Finding, Rule
from dewledger.quantities import Display, in_unit, show
from dewledger.reports.page.parts import Cell, Head, Row, Section, Table
from dewledger.reports.words.numbers import NONE, figure

if TYPE_CHECKING:
    from dewledger.accounts import humidity_criteria as humidity
    from dewledger.analysis.compliance import Judgment
    from dewledger.data.humidity_criteria import Criterion
    from dewledger.study import OptionYear, Study

_Item = TypeVar("_Item")


def same_told(
    options: Iterable[OptionYear], told: Callable[[OptionYear], _Item]
) -> list[tuple[_Item, list[OptionYear]]]:
    """Options of which the same is told, together, in the order they first appear."""
    groups: list[tuple[_Item, list[OptionYear]]] = []
    for option in options:
        item = told(option)
        for other, members in groups:
            if other == item:
                members.append(option)
                break
        else:
            groups.append((item, [option]))
    return groups


def titles(options: list[OptionYear]) -> str:
    return ", ".join(option.title for option in options)


def capitalized(text: str) -> str:
    return text[:1].upper() + text[1:]


# ---------------------------------------------------------------------------------------------
# Energy code


def allowance_section(study: Study, display: Display) -> Section:
    """Is the reheat allowed? For the code official."""
    judgments = study.judgments
    paragraphs = []
    by_code = same_told(study.options, lambda o: _code_of(judgments[o.key]))
    for (name, assumed, rule), options in by_code:
        whose = "" if len(by_code) == 1 else f" ({titles(options)})"
        paragraphs.append(
            f"Judged by {name}{whose}"
            + (
                ", which is assumed because the case names no code; write [allowance] with the "
                "edition adopted. "
                if assumed
                else ". "
            )
            + rule
        )
    cautions: dict[str, None] = {}
    for option in study.options:
        for caution in judgments[option.key].determination.cautions:
            cautions[caution] = None
    counted: dict[str, None] = {}
    for option in study.options:
        found = judgments[option.key].determination.counted
        if found is not None:
            counted[
                f"{found.finding.rule.section}: {found.finding.sentence} The reference option "
                f"stands for the baseline. {_read_in(found.finding.rule)}"
            ] = None
    paragraphs += [*counted, " ".join(cautions)]
    points = []
    for told, options in same_told(study.options, lambda o: _size_and_change(judgments[o.key])):
        points.append(f"{titles(options)}: {told}")
    return Section(
        "allowance",
        "What the energy code says of the reheat",
        tuple(paragraphs),
        (determination_table(study), *findings_table(study)),
        (),
        tuple(points),
    )


def _read_in(rule: Rule) -> str:
    """Where a rule is from and whether it was read there."""
    return f"({rule.source}: {rule.standing}.)"


def _code_of(judgment: Judgment) -> tuple[str, bool, str]:
    found = judgment.determination
    edition = "" if found.edition == "any" else f"-{found.edition}"
    name = "ANSI/ASHRAE/IES 90.1" if found.code == "90.1" else found.code
    rule = f"Its rule, {found.base.section}: {found.base.text} {_read_in(found.base)}"
    return f"{name}{edition}", judgment.code_assumed, rule


def _size_and_change(judgment: Judgment) -> str:
    change = judgment.determination.smallest_change
    told = judgment.coil.sentence
    return f"{told} Smallest single change to the design: {change}" if change else told


def determination_table(study: Study) -> Table:
    """The answer for each option."""
    rows = []
    for option in study.options:
        found = study.judgments[option.key].determination
        cells = (
            Cell(capitalized(found.verdict)),
            Cell(found.sentence),
            Cell(figure(found.recovered_share, "share", "SI"), True),
        )
        rows.append(Row(option.title, cells, marked=option.key == study.reference.key))
    return Table(
        "The determination, option by option",
        (
            Head("Option", number=False),
            Head("Determination", number=False),
            Head("Why", number=False),
            Head("Recovered share", "%"),
        ),
        tuple(rows),
        note="Recovered share: of the year’s reheat, heat taken from the condenser or another "
        "recovery device.",
    )


def findings_table(study: Study) -> list[Table]:
    """Every exception and side condition: the rule, then what was found of which options."""
    judged = [
        option
        for option in study.options
        if study.judgments[option.key].determination.verdict != "no reheat occurred"
    ] or list(study.options)
    rules: dict[Rule, None] = {}
    found: dict[str, dict[Rule, Finding]] = {}
    for option in judged:
        answer = study.judgments[option.key].determination
        found[option.key] = {f.rule: f for f in (*answer.exceptions, *answer.conditions)}
        for rule in found[option.key]:
            rules[rule] = None
    tables = []
    for role, caption in (
        ("exception", "Exceptions: any one that is met frees the system"),
        ("condition", "What holds beside the rule"),
    ):
        rows: list[Row] = []
        for rule in rules:
            if rule.role == role:
                holders = [option for option in judged if rule in found[option.key]]
                rows += _rule_rows(rule, holders, found, len(holders) == len(judged))
        if rows:
            heads = ("Verdict", "Options", "Finding")
            tables.append(
                Table(
                    caption,
                    tuple(Head(head, number=False) for head in heads),
                    tuple(rows),
                    long=True,
                )
            )
    return tables


def _rule_rows(
    rule: Rule, options: list[OptionYear], found: dict[str, dict[Rule, Finding]], everyone: bool
) -> list[Row]:
    item = f" {'exception ' if rule.item.isdigit() else ''}{rule.item}" if rule.item else ""
    head = f"{rule.section}{item}. {rule.text} {_read_in(rule)}"
    groups = same_told(options, lambda option: found[option.key][rule])
    rows: list[Row] = []
    for finding, members in groups:
        text = finding.sentence
        if finding.change:
            text += f" Would be met by: {finding.change}."
        whose = "All with reheat" if everyone and len(groups) == 1 else titles(members)
        rows.append(
            Row(capitalized(finding.verdict), (Cell(whose), Cell(text)), group="" if rows else head)
        )
    return rows


# ---------------------------------------------------------------------------------------------
# Humidity criteria


def criteria_section(study: Study, display: Display) -> Section:
    """The year against its own range and the published criteria; mold on a cold surface."""
    tables = []
    found = {option.key: study.judgments[option.key] for option in study.options}
    keys: dict[str, None] = {}
    for judgment in found.values():
        for finding in (judgment.own_range, *judgment.criteria):
            keys[finding.criterion.key] = None
    for key in keys:
        by_option = [
            (option, finding)
            for option in study.options
            for finding in (found[option.key].own_range, *found[option.key].criteria)
            if finding.criterion.key == key
        ]
        tables.append(_criterion_table(study, by_option, display))
    tables.append(_mold_table(study, display))
    return Section(
        "criteria",
        "Humidity criteria",
        (
            "Hours in which the room is beyond a criterion, and by how much. A year that stays "
            "inside a criterion in the model is no proof of compliance with the standard it "
            "comes from.",
        ),
        tuple(tables),
    )


def _excess(finding: humidity.Finding, display: Display) -> tuple[str, str]:
    """The worst distance beyond a limit and its unit."""
    quantity, value = finding.criterion.quantity, finding.worst_excess
    if quantity == "relative humidity":
        return f"{100.0 * value:.1f}", "% RH"
    if quantity == "dew point":
        unit = "degF" if display == "I-P" else "K"
        return f"{in_unit(value, 'temperature difference', unit):.1f}", (
            "°F" if display == "I-P" else "K"
        )
    unit = "gr/lb" if display == "I-P" else "g/kg"
    return f"{in_unit(value, 'humidity ratio', unit):.1f}", unit


def _limits(criterion: Criterion, display: Display) -> str:
    def written(value: float) -> str:
        if criterion.quantity == "relative humidity":
            return f"{100.0 * value:.0f} %"
        if criterion.quantity == "dew point":
            return show(value, "temperature", display)
        return f"{value:.3f}"

    low, high = criterion.low, criterion.high
    if low is None:
        assert high is not None
        text = f"at most {written(high)}"
    elif high is None:
        text = f"at least {written(low)}"
    else:
        text = f"{written(low)} to {written(high)}"
    drift = f", drifting with the seasons by {written(criterion.seasonal_drift)}"
    return f"{criterion.quantity} {text}" + (drift if criterion.seasonal_drift > 0.0 else "")


def _criterion_table(
    study: Study, found: list[tuple[OptionYear, humidity.Finding]], display: Display
) -> Table:
    criterion = found[0][1].criterion
    unit = _excess(found[0][1], display)[1]
    warm = criterion.temp_low_C is not None or criterion.temp_high_C is not None
    rows = []
    for option, finding in found:
        texts = [
            f"{finding.hours_above:,}",
            f"{finding.hours_below:,}",
            f"{finding.hours_out_occupied:,}",
            f"{finding.longest_spell_h:,}",
            *(f"{hours:,}" for hours in finding.by_season.values()),
            _excess(finding, display)[0] if finding.hours_out else NONE,
        ]
        if warm:
            texts.append(f"{(finding.hours_too_warm or 0) + (finding.hours_too_cold or 0):,}")
        cells = (Cell("yes" if finding.met else "no"), *(Cell(text, True) for text in texts))
        rows.append(Row(option.title, cells, marked=option.key == study.reference.key))
    seasons = found[0][1].by_season
    note = f"{capitalized(_limits(criterion, display))}; judged in {found[0][1].judged_in}"
    note += f" ({found[0][1].hours_judged:,} h)"
    if criterion.source != "own limits":
        note += f". Source: {criterion.source} ({criterion.standing})"
    if criterion.condition:
        note += f". {capitalized(criterion.condition)}"
    return Table(
        criterion.title,
        (
            Head("Option", number=False),
            Head("Met", number=False),
            Head("Above", "h"),
            Head("Below", "h"),
            Head("While occupied", "h"),
            Head("Longest spell", "h"),
            *(Head(season, "h") for season in seasons),
            Head("Worst", unit),
            *((Head("Too warm or cold", "h"),) if warm else ()),
        ),
        tuple(rows),
        note=f"{note}.",
    )


def _mold_table(study: Study, display: Display) -> Table:
    rows = []
    surfaces: dict[str, None] = {}
    for option in study.options:
        found = study.judgments[option.key].mold
        surfaces[found.surface] = None
        worst = NONE if found.worst_mean_rh is None else f"{100.0 * found.worst_mean_rh:.0f}"
        when = NONE
        if found.worst_hour is not None:
            when = hour_label(study.weather, found.worst_hour).rsplit(" ", 1)[0]
        cells = (
            Cell("yes" if found.met else "no"),
            Cell(worst, True),
            Cell(when, True),
            Cell(f"{found.hours_at_risk:,}", True),
            Cell(f"{found.hours_condensing:,}", True),
        )
        rows.append(Row(option.title, cells, marked=option.key == study.reference.key))
    return Table(
        "Mold on a cold surface",
        (
            Head("Option", number=False),
            Head("Met", number=False),
            Head("Worst 30-day mean at the surface", "% RH"),
            Head("which ends on"),
            Head("Hours at risk", "h"),
            Head("Hours at its dew point", "h"),
        ),
        tuple(rows),
        note=f"Of {' or '.join(surfaces)}: the 30-day mean stays below 80 % RH while the mean "
        f"surface temperature is {show(MOLD_TEMP_LOW_C, 'temperature', display)} to "
        f"{show(MOLD_TEMP_HIGH_C, 'temperature', display)}. Source: {MOLD_SOURCE}.",
    )


# ---------------------------------------------------------------------------------------------
# summary.json


def _finding_summary(finding: Finding) -> dict[str, Any]:
    rule = finding.rule
    return {
        "section": rule.section,
        "item": rule.item,
        "asks": rule.text,
        "source": rule.source,
        "standing": rule.standing,
        "verdict": finding.verdict,
        "sentence": finding.sentence,
        "value": finding.value,
        "limit": finding.limit,
        "change": finding.change,
    }


def _determination_summary(found: Determination) -> dict[str, Any]:
    counted = found.counted
    return {
        "code": found.code,
        "edition": found.edition,
        "verdict": found.verdict,
        "sentence": found.sentence,
        "recovered_share": found.recovered_share,
        "rule": found.base.text,
        "source": found.base.source,
        "standing": found.base.standing,
        "exceptions": [_finding_summary(finding) for finding in found.exceptions],
        "conditions": [_finding_summary(finding) for finding in found.conditions],
        "baseline_counted": None
        if counted is None
        else {
            "sentence": counted.finding.sentence,
            "section": counted.finding.rule.section,
            "source": counted.finding.rule.source,
            "standing": counted.finding.rule.standing,
            "baseline_kWh": counted.baseline_kWh,
            "counted_kWh": counted.counted_kWh,
            "counted_therm": counted.counted_therm,
            "heating_type": counted.heating_type,
        },
        "smallest_change": found.smallest_change,
        "cautions": list(found.cautions),
    }


def judgment_summary(judgment: Judgment) -> dict[str, Any]:
    """One option's judgment as the content of summary.json."""

    def criterion(finding: humidity.Finding) -> dict[str, Any]:
        return {**asdict(finding), "hours_out": finding.hours_out, "met": finding.met}

    return {
        "allowance": {
            "code_assumed": judgment.code_assumed,
            **_determination_summary(judgment.determination),
            "coil": asdict(judgment.coil),
        },
        "own_range": criterion(judgment.own_range),
        "criteria": [criterion(finding) for finding in judgment.criteria],
        "mold": asdict(judgment.mold),
        "moisture_removal_efficiency": asdict(judgment.efficiency),
    }
