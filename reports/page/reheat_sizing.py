"""Sizing of the reheat coil and its condensing temperature; and the limits of dehumidification.

For the report, summary.json and the terminal.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from dewledger.analysis.reheat_coil_size import Covered, Sizing, Target
from dewledger.assembly.reheat import floor_in_reheat
from dewledger.dx_unit.types import ON_OFF, SUBCOOLING_THEN_CONDENSER
from dewledger.quantities import Display, display_unit, in_unit, show
from dewledger.reports.charts.parts import Chart, grid, margins, page_figure, short_title, thousands
from dewledger.reports.charts.style import AMBER, INK, QUIET, TEAL
from dewledger.reports.page.parts import Cell, Head, Row, Section, Table, picture_of
from dewledger.reports.words.numbers import figure, words
from dewledger.reports.words.text import plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from dewledger.accounts.option_year import OptionYear
    from dewledger.study import Study

# Hours of the exceedance curve that summary.json lists.
_LISTED_HOURS = (1, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 3000, 4000, 6000, 8000)


def _groups(study: Study) -> list[tuple[Sizing, list[OptionYear]]]:
    """Options that size alike, together."""
    found: list[tuple[Sizing, list[OptionYear]]] = []
    for option in study.options:
        sizing = study.sizings[option.key]
        if sizing is None:
            continue
        known = next((members for other, members in found if other is sizing), None)
        if known is None:
            found.append((sizing, [option]))
        else:
            known.append(option)
    return found


def _names(options: list[OptionYear]) -> str:
    return " and ".join(plain(option.title) for option in options)


def _size(found: Covered, display: Display) -> str:
    return show(found.setting, "heat flow", display)


def _temp(found: Covered, display: Display) -> str:
    return show(found.setting, "temperature", display)


def _after_subcooling(option: OptionYear) -> bool:
    return option.machine.plant.arrangement == SUBCOOLING_THEN_CONDENSER


def _heat(option: OptionYear) -> str:
    """What the coil is to cover."""
    whole = "the annual reheat load"
    return f"{whole} left by subcooling" if _after_subcooling(option) else whole


def _aim(target: Target, heat: str) -> str:
    """What the coil is sized for, as the verb of a sentence."""
    if target.share is not None:
        return f"meets {100.0 * target.share:g} % of {heat}"
    return f"leaves {target.hours:,} h unmet"


def _not(aim: str) -> str:
    """The same denied: "does not meet 99 % of the annual reheat load"."""
    verb, _, rest = aim.partition(" ")
    return f"does not {verb.removesuffix('s')} {rest}"


def sizing_sentences(sizing: Sizing, option: OptionYear, display: Display) -> tuple[str, ...]:
    """Smallest coils, then lowest ceilings."""
    plant = option.machine.plant
    heat = _heat(option)
    # The coil of an on/off valve has hot gas in dehumidification only.
    given = "its valve is open" if plant.arrangement == ON_OFF else "the compressor runs"
    ceiling = show(plant.condensing_ceiling_C, "temperature", display)
    met = [target for target in sizing.targets if target.coil is not None]
    missed = [target for target in sizing.targets if target.coil is None]
    lines = []

    def aim(target: Target) -> str:
        return _aim(target, heat)

    if met:
        parts = [f"{_size(t.coil, display)} {aim(t)}" for t in met if t.coil is not None]
        lines.append(
            f"Reheat coil: {'; '.join(parts)} (capacity while {given}, condensing up to {ceiling})."
        )
    if missed:
        most = figure(sizing.at_most.share, "share", "SI")
        lines.append(
            f"A coil of any size {' and '.join(_not(aim(t)) for t in missed)}: it meets {most} "
            "% and "
            f"leaves {sizing.at_most.hours_missed:,} h unmet with condensing up to {ceiling}."
        )
    floor = show(floor_in_reheat(plant), "temperature", display)
    if all(target.ceiling_is_floor for target in sizing.targets):
        lines.append(
            f"The {floor} minimum condensing temperature is sufficient in every hour; head "
            "pressure "
            "never has to be raised for reheat."
        )
        return tuple(lines)
    for target in sizing.targets:
        if target.ceiling_is_floor:
            lines.append(
                f"A coil of any size {aim(target)} at the {floor} minimum condensing temperature."
            )
        elif target.ceiling is not None:
            lines.append(
                f"A coil of any size {aim(target)} with condensing up to "
                f"{_temp(target.ceiling, display)}."
            )
        else:
            lines.append(f"No condensing temperature {aim(target)}.")
    return tuple(lines)


def sizing_chart(sizing: Sizing, options: list[OptionYear], display: Display, name: str) -> Chart:
    """The year's overcooling heat by hours, and what coils and ceilings cover of it."""
    heat = display_unit("heat flow", display)
    degree = "°F" if display == "I-P" else "°C"
    three = len(sizing.ceilings) > 1

    def flow(watts: Any) -> Any:
        return watts * in_unit(1.0, "heat flow", heat)

    def draw() -> Figure:
        drawn, axes = page_figure(2.55, 1, 3 if three else 2)
        margins(drawn, 0.55, 0.16, 0.3, 0.46, wspace=0.32)
        left, middle = axes[0][0], axes[0][1]
        rate = flow(1000.0 * sizing.need_kW)
        left.plot(np.arange(1, rate.size + 1), rate, color=INK, linewidth=1.6)
        left.set_xlim(0, 1.02 * rate.size)
        left.set_ylim(0, None)
        after = ", left by subcooling" if _after_subcooling(options[0]) else ""
        left.set_title(f"Overcooling heat{after}, {heat}")
        left.set_xlabel("hours of the year at or above")
        thousands(left.xaxis)
        _covered(
            middle, [(flow(c.setting), c.share) for c in sizing.coils], TEAL,
            [(flow(t.coil.setting), t.coil.share, _mark(t)) for t in sizing.targets if t.coil],
        )  # fmt: skip
        middle.set_xlim(0, None)
        middle.set_title("Load met, %")
        middle.set_xlabel(f"coil capacity, {heat}")
        if three:
            right = axes[0][2]

            def temp(value_C: float) -> float:
                return in_unit(value_C, "temperature", display_unit("temperature", display))

            _covered(
                right, [(temp(c.setting), c.share) for c in sizing.ceilings], AMBER,
                [
                    (temp(t.ceiling.setting), t.ceiling.share, _mark(t))
                    for t in sizing.targets
                    if t.ceiling and not t.ceiling_is_floor
                ],
            )  # fmt: skip
            right.set_title("Load met, %")
            right.set_xlabel(f"max. condensing, {degree}")
        for axis in axes[0]:
            grid(axis, "both")
        return drawn  # type: ignore[no-any-return]

    sentences = " ".join(sizing_sentences(sizing, options[0], display))
    caption = (
        "Left: means of the hour, of a year in which purchased heat meets the reheat load. "
        "Right: years run again with other coils"
    )
    caption += (
        ", and with other maximum condensing temperatures and a coil of any size." if three else "."
    )
    return Chart(
        name,
        f"Coil and condenser for {short_title(_names(options), 60)}",
        f"Duration curve of overcooling heat and shares met. {sentences}",
        caption,
        draw,
    )


def _mark(target: Target) -> str:
    if target.share is not None:
        return f"{100.0 * target.share:g} %"
    return f"all but {target.hours} h" if target.hours else "every hour"


def _covered(
    axis: Any,
    points: list[tuple[float, float]],
    color: str,
    marks: list[tuple[float, float, str]],
) -> None:
    """A curve of shares, what was aimed for marked on it."""
    axis.plot(
        [x for x, _ in points], [100.0 * y for _, y in points], "-o", color=color,
        linewidth=1.5, markersize=3.0, clip_on=False, zorder=3,
    )  # fmt: skip
    axis.set_ylim(0, 105)
    for place, (x, y, label) in enumerate(marks):
        axis.plot([x, x], [0.0, 100.0 * y], color=QUIET, linewidth=0.8, linestyle=(0, (2, 2)))
        axis.annotate(
            label, (x, 8.0 + 13.0 * place), (-4, 0), textcoords="offset points", ha="right",
            fontsize=7.5, color=INK,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6},
        )  # fmt: skip


def sizing_charts(study: Study, display: Display) -> list[Chart]:
    """A chart for each group of options that share a unit and its condenser heat."""
    return [
        sizing_chart(sizing, options, display, f"reheat-sizing-{place}")
        for place, (sizing, options) in enumerate(_groups(study), 1)
    ]


def sizing_table(sizing: Sizing, option: OptionYear, display: Display, caption: str) -> Table:
    """Each aim with its smallest coil and its lowest ceiling."""
    heat = display_unit("heat flow", display)
    rows = []
    for target in sizing.targets:
        aim = _aim(target, _heat(option))
        coil, ceiling = target.coil, target.ceiling
        rows.append(
            Row(
                f"{aim[:1].upper()}{aim[1:]}",
                (
                    Cell(_size(coil, display).split()[0] if coil else "none", True),
                    Cell(figure(coil.share, "share", "SI") if coil else "–", True),
                    Cell(f"{coil.hours_missed:,}" if coil else "–", True),
                    Cell(
                        "the minimum"
                        if target.ceiling_is_floor
                        else _temp(ceiling, display)
                        if ceiling
                        else "none",
                        True,
                    ),
                ),
            )
        )
    return Table(
        caption,
        (
            Head("Coil that", number=False),
            Head("Smallest coil", heat),
            Head("Load met", "%"),
            Head("Hours unmet", "h"),
            Head("Least maximum condensing temperature", "coil of any size"),
        ),
        tuple(rows),
        note="Coil capacity is heat given while the compressor runs, of an on/off valve while "
        "it is open. An hour is unmet where any of its reheat has to come from elsewhere.",
    )


def sizing_section(study: Study, display: Display) -> Section | None:
    """The coil and the ceiling of each option with condenser heat; None where there is none."""
    groups = _groups(study)
    if not groups:
        return None
    paragraphs = [
        "The year is run again with other reheat coils and other maximum condensing temperatures; "
        "purchased heat meets the rest. A coil for the worst hour is seldom worth its price."
    ]
    tables = []
    for sizing, options in groups:
        name = _names(options)
        lines = " ".join(sizing_sentences(sizing, options[0], display))
        total = words(sizing.need_kWh, "heat", display)
        left = ", left by subcooling," if _after_subcooling(options[0]) else " of the year"
        paragraphs.append(f"{name}: overcooling heat{left} {total}. {lines}")
        tables.append(sizing_table(sizing, options[0], display, name))
    return Section(
        "reheat-sizing",
        "Reheat coil and condensing temperature sizing",
        tuple(paragraphs),
        tuple(tables),
        tuple(picture_of(chart) for chart in sizing_charts(study, display)),
    )


def bounds_points(study: Study, display: Display) -> list[str]:
    """What limited dehumidification or recovery: a sentence each, alike options together."""
    lines: dict[str, list[str]] = {}
    for option in study.options:
        for sentence in study.bounds[option.key].sentences(display):
            lines.setdefault(sentence, []).append(plain(option.title))
    return [f"{', '.join(titles)}: {sentence}" for sentence, titles in lines.items()]


def bounds_section(study: Study, display: Display) -> Section | None:
    """What limited dehumidification by cooling in the year; None where nothing did."""
    points = bounds_points(study, display)
    if not points:
        return None
    return Section("drying-bounds", "Limits of dehumidification by cooling", points=tuple(points))


def sizing_summary(sizing: Sizing | None) -> dict[str, Any] | None:
    """A sizing for summary.json: W, C, kW, shares; the exceedance curve at some hours."""
    if sizing is None:
        return None

    def covered(found: Covered | None, what: str) -> dict[str, Any] | None:
        if found is None:
            return None
        return {what: found.setting, "share": found.share, "hours_missed": found.hours_missed}

    return {
        "overcooling_heat_kWh": sizing.need_kWh,
        "exceedance": [
            {"hours": hours, "overcooling_kW": float(sizing.need_kW[hours - 1])}
            for hours in _LISTED_HOURS
            if hours <= sizing.need_kW.size
        ],
        "coil_of_any_size": {
            "share": sizing.at_most.share,
            "hours_missed": sizing.at_most.hours_missed,
        },
        "targets": [
            {
                "share": target.share,
                "hours": target.hours,
                "coil": covered(target.coil, "capacity_W"),
                "ceiling": covered(target.ceiling, "ceiling_C"),
                "ceiling_is_floor": target.ceiling_is_floor,
            }
            for target in sizing.targets
        ],
        "coils": [covered(found, "capacity_W") for found in sizing.coils],
        "ceilings": [covered(found, "ceiling_C") for found in sizing.ceilings],
    }


def bounds_summary(study: Study, option: OptionYear) -> dict[str, Any]:
    """What bound an option's drying, for summary.json."""
    from dataclasses import asdict

    found = study.bounds[option.key]
    return asdict(found) | {
        "another_technology": found.another_technology,
        "sentences": list(found.sentences(study.case.display)),
    }
