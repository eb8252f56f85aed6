"""The section of the humidity criteria: hours outside them, and the mold screen."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from dewledger.accounts.energy import hour_label
from dewledger.accounts.humidity_criteria import MOLD_SOURCE, MOLD_TEMP_HIGH_C, MOLD_TEMP_LOW_C
from dewledger.analysis.protection import MOLD_LIMITS, mold_sentence
from dewledger.codes.parts import capitalized
from dewledger.quantities import Display, in_unit, show
from dewledger.reports.page.parts import Cell, Head, Row, Section, Table
from dewledger.reports.words.numbers import NONE

if TYPE_CHECKING:
    from dewledger.accounts import humidity_criteria as humidity
    from dewledger.accounts.option_year import OptionYear
    from dewledger.analysis.compliance import Judgment
    from dewledger.data.humidity_criteria import Criterion
    from dewledger.study import Study


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
            "Hours in which the room is outside a criterion, and by how much. A year that stays "
            "inside a criterion in the model is no proof of compliance with the standard it "
            "comes from.",
        ),
        tuple(tables),
    )


def met_table(study: Study, display: Display) -> Table:
    """Every criterion and option in a row: whether it is met, and what it fails on."""
    rows = []
    notes: dict[str, None] = {}
    heads: dict[str, list[tuple[OptionYear, humidity.Finding]]] = {}
    for option in study.options:
        judgment = study.judgments[option.key]
        for finding in (judgment.own_range, *judgment.criteria):
            heads.setdefault(finding.criterion.key, []).append((option, finding))
    for found in heads.values():
        criterion = found[0][1].criterion
        group = f"{criterion.title}: {_limits(criterion, display)}"
        if criterion.source != "own limits":
            group += f" ({criterion.standing})"
        for option, finding in found:
            warm = finding.hours_too_warm, finding.hours_too_cold
            texts = [
                f"{finding.hours_above:,}",
                f"{finding.hours_below:,}",
                *(NONE if hours is None else f"{hours:,}" for hours in warm),
                f"{finding.longest_spell_h:,}",
            ]
            worst = " ".join(_excess(finding, display)) if finding.hours_out else NONE
            cells = (
                Cell("yes" if finding.met else "no"),
                *(Cell(text, True) for text in (*texts, worst)),
            )
            rows.append(
                Row(
                    option.title,
                    cells,
                    marked=option.key == study.reference.key,
                    group=group,
                )
            )
            group = ""
        if criterion.condition:
            notes[f"{criterion.title}: {criterion.condition}."] = None
    note = (
        "A year that stays inside a criterion in the model is no proof of compliance with the "
        "standard it comes from. Seasons, sources and the mold screen are in the appendix."
    )
    return Table(
        "Humidity criteria",
        (
            Head("Option", number=False),
            Head("Met", number=False),
            Head("Above", "h"),
            Head("Below", "h"),
            Head("Too warm", "h"),
            Head("Too cold", "h"),
            Head("Longest consecutive hours", "h"),
            Head("Farthest out"),
        ),
        tuple(rows),
        note=" ".join([note, *notes]),
        long=True,
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
            *_by_outdoors(finding),
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
            *_outdoor_heads(criterion, display),
            Head("While occupied", "h"),
            Head("Longest consecutive hours", "h"),
            *(Head(season, "h") for season in seasons),
            Head("Worst", unit),
            *((Head("Too warm or cold", "h"),) if warm else ()),
        ),
        tuple(rows),
        note=f"{note}.",
    )


def _by_outdoors(finding: humidity.Finding) -> list[str]:
    """Hours out while the limit binds, and the others, where the outdoor dew point decides."""
    pair = (finding.hours_out_bound, finding.hours_out_unbound)
    return [f"{hours:,}" for hours in pair if hours is not None]


def _outdoor_heads(criterion: Criterion, display: Display) -> tuple[Head, ...]:
    if criterion.outdoor_dew_above_C is None:
        return ()
    at = show(criterion.outdoor_dew_above_C, "temperature", display)
    return (
        Head(f"Out, outdoor dew point above {at} (the limit binds)", "h"),
        Head(f"Out, outdoor dew point at most {at} (counted apart)", "h"),
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
            Cell("within it" if found.met else "beyond it"),
            Cell(worst, True),
            Cell(when, True),
            Cell(f"{found.hours_at_risk:,}", True),
            Cell(f"{found.hours_condensing:,}", True),
        )
        rows.append(Row(option.title, cells, marked=option.key == study.reference.key))
    return Table(
        "Mold screen of a cold surface",
        (
            Head("Option", number=False),
            Head("Criterion", number=False),
            Head("Worst 30-day mean at the surface", "% RH"),
            Head("which ends on"),
            Head("Hours at risk", "h"),
            Head("Hours at its dew point", "h"),
        ),
        tuple(rows),
        note=f"Of {' or '.join(surfaces)}: the 30-day mean stays below 80 % RH while the mean "
        f"surface temperature is {show(MOLD_TEMP_LOW_C, 'temperature', display)} to "
        f"{show(MOLD_TEMP_HIGH_C, 'temperature', display)}. Source: {MOLD_SOURCE}. {MOLD_LIMITS}",
    )


# ---------------------------------------------------------------------------------------------
# summary.json


def humidity_summary(judgment: Judgment) -> dict[str, Any]:
    """One option's year against its range, its criteria and mold, for summary.json."""

    def criterion(finding: humidity.Finding) -> dict[str, Any]:
        return {**asdict(finding), "hours_out": finding.hours_out, "met": finding.met}

    return {
        "own_range": criterion(judgment.own_range),
        "criteria": [criterion(finding) for finding in judgment.criteria],
        "mold": {
            **asdict(judgment.mold),
            "sentence": f"{mold_sentence(judgment.mold)} {MOLD_LIMITS}",
        },
    }
