"""The sections for those who sign: energy code, humidity criteria and mould, modelled ratings."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, TypeVar

from estimator.accounts import hour_label
from estimator.allowance import Determination, Finding, Rule
from estimator.quantities import Display, in_unit, rounded, show
from estimator.ratings import LB_PER_KG
from reports.chart_parts import MONTHS
from reports.numbers import NONE, figure
from reports.sections import Cell, Head, Row, Section, Table

if TYPE_CHECKING:
    from estimator import humidity
    from estimator.judgement import Judgement
    from estimator.modelled_ratings import ModelledRatings
    from estimator.study import OptionYear, Study

_Item = TypeVar("_Item")


def _together(
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


def _titles(options: list[OptionYear]) -> str:
    return ", ".join(option.title for option in options)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


# ---------------------------------------------------------------------------------------------
# Energy code


def allowance_section(study: Study, display: Display) -> Section:
    """Is the reheat allowed? For the code official."""
    judgements = study.judgements
    paragraphs = []
    by_code = _together(study.options, lambda o: _code_of(judgements[o.key]))
    for (name, assumed, rule), options in by_code:
        whose = "" if len(by_code) == 1 else f" ({_titles(options)})"
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
        for caution in judgements[option.key].determination.cautions:
            cautions[caution] = None
    counted: dict[str, None] = {}
    for option in study.options:
        found = judgements[option.key].determination.counted
        if found is not None:
            counted[
                f"{found.finding.rule.section}: {found.finding.sentence} The reference option "
                "stands for the baseline."
            ] = None
    paragraphs += [*counted, " ".join(cautions)]
    points = []
    for told, options in _together(study.options, lambda o: _size_and_change(judgements[o.key])):
        points.append(f"{_titles(options)}: {told}")
    return Section(
        "allowance",
        "What the energy code says of the reheat",
        tuple(paragraphs),
        (determination_table(study), *findings_table(study)),
        (),
        tuple(points),
    )


def _code_of(judgement: Judgement) -> tuple[str, bool, str]:
    found = judgement.determination
    edition = "" if found.edition == "any" else f"-{found.edition}"
    name = "ANSI/ASHRAE/IES 90.1" if found.code == "90.1" else found.code
    rule = f"Its rule, {found.base.section}: {found.base.text}"
    return f"{name}{edition}", judgement.code_assumed, rule


def _size_and_change(judgement: Judgement) -> str:
    change = judgement.determination.smallest_change
    told = judgement.coil.sentence
    return f"{told} Smallest single change to the design: {change}" if change else told


def determination_table(study: Study) -> Table:
    """The answer for each option."""
    rows = []
    for option in study.options:
        found = study.judgements[option.key].determination
        cells = (
            Cell(_capital(found.verdict)),
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
        if study.judgements[option.key].determination.verdict != "no reheat occurred"
    ] or list(study.options)
    rules: dict[Rule, None] = {}
    found: dict[str, dict[Rule, Finding]] = {}
    for option in judged:
        answer = study.judgements[option.key].determination
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
    head = f"{rule.section}{item}. {rule.text} ({rule.source}: {rule.standing}.)"
    groups = _together(options, lambda option: found[option.key][rule])
    rows: list[Row] = []
    for finding, members in groups:
        text = finding.sentence
        if finding.change:
            text += f" Would be met by: {finding.change}."
        whose = "All with reheat" if everyone and len(groups) == 1 else _titles(members)
        rows.append(
            Row(_capital(finding.verdict), (Cell(whose), Cell(text)), group="" if rows else head)
        )
    return rows


# ---------------------------------------------------------------------------------------------
# Humidity criteria


def criteria_section(study: Study, display: Display) -> Section:
    """The year against its own range and the published criteria; mould on a cold surface."""
    tables = []
    found = {option.key: study.judgements[option.key] for option in study.options}
    keys: dict[str, None] = {}
    for judgement in found.values():
        for finding in (judgement.own_range, *judgement.criteria):
            keys[finding.criterion.key] = None
    for key in keys:
        by_option = [
            (option, finding)
            for option in study.options
            for finding in (found[option.key].own_range, *found[option.key].criteria)
            if finding.criterion.key == key
        ]
        tables.append(_criterion_table(study, by_option, display))
    tables.append(_mould_table(study, display))
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


def _limits(criterion: humidity.Criterion, display: Display) -> str:
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
    note = f"{_capital(_limits(criterion, display))}; judged in {found[0][1].judged_in}"
    note += f" ({found[0][1].hours_judged:,} h)"
    if criterion.source != "own limits":
        note += f". Source: {criterion.source} ({criterion.standing})"
    if criterion.condition:
        note += f". {_capital(criterion.condition)}"
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


def _mould_table(study: Study, display: Display) -> Table:
    rows = []
    surfaces: dict[str, None] = {}
    for option in study.options:
        found = study.judgements[option.key].mould
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
        "Mould on a cold surface",
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
        "surface temperature is 41 to 104 °F. Source: ASHRAE 160-2009, 30-day surface criterion.",
    )


# ---------------------------------------------------------------------------------------------
# Ratings


def ratings_section(study: Study, display: Display) -> Section:
    """What the unit would score, as modelled, and the year's own figure beside it."""
    tables: list[Table] = []
    points: list[str] = []
    groups = _together(study.options, lambda o: scores(study.ratings[o.key], display))
    for (made, sentences), options in groups:
        whose = "" if len(groups) == 1 else f": {_titles(options)}"
        tables += [
            Table(f"{table.caption}{whose}", table.heads, table.rows, table.note) for table in made
        ]
        points += [f"{_titles(options)}: {text}" if whose else text for text in sentences]
    tables.append(year_efficiency_table(study, display))
    return Section(
        "ratings",
        "Ratings of the unit, as modelled",
        (
            "Modelled, not certified: the arithmetic of the rating standards over this model of "
            "the unit. A catalogue’s certified figure is measured, and stands above these.",
        ),
        tuple(tables),
        (),
        tuple(points),
    )


def _outdoors(temp_C: float, display: Display) -> str:
    """A rating condition to a tenth of a degree where it has one: "81.5 °F"."""
    unit = "degF" if display == "I-P" else "degC"
    sign = "°F" if display == "I-P" else "°C"
    return f"{round(in_unit(temp_C, 'temperature', unit), 1):g} {sign}"


def scores(ratings: ModelledRatings, display: Display) -> tuple[tuple[Table, ...], tuple[str, ...]]:
    """Tables of the rating points, and sentences on least values."""
    sentences = [comparison.sentence for comparison in ratings.comparisons]
    tables = []
    if ratings.efficiency is not None:
        rated = ratings.efficiency
        rows = tuple(
            Row(
                f"{found.point.letter}: weight {found.point.weight:g}",
                (
                    Cell(_outdoors(found.point.outdoor_C, display), True),
                    Cell(f"{100.0 * (found.point.load or 0.0):.0f}", True),
                    Cell(f"{100.0 * found.capacity_frac:.0f}", True),
                    Cell(f"{100.0 * found.load_factor:.0f}", True),
                    Cell(f"{found.eer:.2f}", True),
                ),
            )
            for found in rated.points
        )
        tables.append(
            Table(
                f"{rated.standard.source}: EER {rated.full_load_eer:.2f}, IEER {rated.ieer:.2f}",
                (
                    Head("Condition", number=False),
                    Head("Outdoors"),
                    Head("Load", "%"),
                    Head("Displacement", "%"),
                    Head("Load factor", "%"),
                    Head("EER", "Btu/Wh"),
                ),
                rows,
                note=f"Net cooling capacity {show(rated.net_capacity_W, 'heat flow', display)} at "
                f"95 °F outdoors, entering air 80/67 °F. {_capital(rated.standard.standing)}.",
            )
        )
    for moisture in ratings.moisture:
        rows = tuple(
            Row(
                f"{found.point.letter}: weight {found.point.weight:g}",
                (
                    Cell(_outdoors(found.point.outdoor_C, display), True),
                    Cell(f"{100.0 * found.capacity_frac:.0f}", True),
                    Cell(show(found.supply_temp_C, "temperature", display), True),
                    Cell(show(found.supply_dew_C, "temperature", display), True),
                    Cell(rounded(found.removal_lb_h), True),
                    Cell(rounded(found.supplementary_W / 1000.0) or "0", True),
                    Cell(f"{found.efficiency_lb_kWh:.2f}", True),
                ),
            )
            for found in moisture.points
        )
        tables.append(
            Table(
                f"{moisture.standard.source}: {moisture.sentence}",
                (
                    Head("Condition", number=False),
                    Head("Outdoors"),
                    Head("Displacement", "%"),
                    Head("Supply"),
                    Head("Supply dew point"),
                    Head("Moisture removal", "lb/h"),
                    Head("Supplementary heat", "kW"),
                    Head("MRE", "lb/kWh"),
                ),
                rows,
                note=f"{moisture.standard.title}. {_capital(moisture.standard.standing)}.",
            )
        )
    return tuple(tables), (*sentences, *ratings.notes)


def year_efficiency_table(study: Study, display: Display) -> Table:
    """Moisture removed over the energy charged to it, by month."""
    factor = 1.0 if display == "I-P" else 1.0 / LB_PER_KG
    unit = "lb/kWh" if display == "I-P" else "kg/kWh"

    def cells(values: Iterable[float | None]) -> tuple[Cell, ...]:
        texts = (NONE if value is None else f"{factor * value:.2f}" for value in values)
        return tuple(Cell(text, True) for text in texts)

    found = [study.judgements[option.key].efficiency for option in study.options]
    rows = [
        Row(month, cells(one.monthly_lb_kWh[place] for one in found))
        for place, month in enumerate(MONTHS)
    ]
    rows.append(Row("Year", cells(one.annual_lb_kWh for one in found), marked=True))
    return Table(
        "The year’s own moisture removal efficiency",
        (Head("", number=False), *(Head(option.title, unit) for option in study.options)),
        tuple(rows),
        note="Water taken from the air over the energy of compressor, outdoor fan, supply fan and "
        "bought reheat. The supply fan counts in all its hours, so that dry months show little.",
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
        "exceptions": [_finding_summary(finding) for finding in found.exceptions],
        "conditions": [_finding_summary(finding) for finding in found.conditions],
        "baseline_counted": None
        if counted is None
        else {
            "sentence": counted.finding.sentence,
            "section": counted.finding.rule.section,
            "baseline_kWh": counted.baseline_kWh,
            "counted_kWh": counted.counted_kWh,
            "counted_therm": counted.counted_therm,
            "heating_type": counted.heating_type,
        },
        "smallest_change": found.smallest_change,
        "cautions": list(found.cautions),
    }


def judgement_summary(judgement: Judgement) -> dict[str, Any]:
    """One option's judgement as the content of summary.json."""

    def criterion(finding: humidity.Finding) -> dict[str, Any]:
        return {**asdict(finding), "hours_out": finding.hours_out, "met": finding.met}

    return {
        "allowance": {
            "code_assumed": judgement.code_assumed,
            **_determination_summary(judgement.determination),
            "coil": asdict(judgement.coil),
        },
        "own_range": criterion(judgement.own_range),
        "criteria": [criterion(finding) for finding in judgement.criteria],
        "mould": asdict(judgement.mould),
        "moisture_removal_efficiency": asdict(judgement.efficiency),
    }
