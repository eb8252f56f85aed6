"""What moves the answer: ranked effects as a chart, the draws as a table, for page and terminal."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from dewledger.analysis.assumed_ranges import value_text
from dewledger.analysis.sensitivity import (
    SensitivityStudy,
    left_out_of_draws,
    saving_name,
    share_name,
)
from dewledger.quantities import Display, show
from dewledger.reports.charts.parts import Chart, grid, margins, page_figure, short_title, wrapped
from dewledger.reports.charts.style import AMBER, INK, QUIET, SLATE
from dewledger.reports.page.parts import Cell, Head, Row, Section, Table, picture_of
from dewledger.reports.words.metrics import best_option, filled
from dewledger.reports.words.money import amount
from dewledger.reports.words.numbers import NONE, figure, unit_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from dewledger.accounts.option_year import OptionYear
    from dewledger.analysis.monte_carlo import Effect
    from dewledger.study import Study


def _shown(study: Study) -> OptionYear:
    """The option that the chart speaks of: that of the answer, else the first compared."""
    best = best_option(study)
    others = [option for option in study.options if option.key != study.reference.key]
    return best if best is not None else others[0]


_LABEL_SIGNS = 26  # in a line of an assumption’s name next to its bars


def _share_moves(found: SensitivityStudy, option: OptionYear) -> bool:
    """Whether any assumption moves the option's recovered share by what a reader could see."""
    ranked = found.sensitivity.ranked(share_name(option.key))
    return any(math.isfinite(s.size) and s.size >= 5e-4 for s in ranked)


def effect_chart(study: Study, option: OptionYear, display: Display) -> Chart:
    """Ranked effects of an option's saving, and of its recovered share where it moves."""
    found = study.sensitivity
    assert found is not None
    savings = [s for s in found.sensitivity.ranked(saving_name(option.key)) if s.size >= 0.5]
    shares = {s.assumption: s for s in found.sensitivity.ranked(share_name(option.key))}
    moving = _share_moves(found, option)
    if moving:
        listed = {s.assumption for s in savings}
        savings += [
            s
            for s in found.sensitivity.ranked(saving_name(option.key))
            if s.assumption not in listed and shares[s.assumption].size >= 5e-4
        ]
    currency = study.money.currency

    def draw() -> Figure:
        rows = max(len(savings), 1)
        height = 0.8 + 0.31 * rows
        drawn, axes = page_figure(height, 1, 2 if moving else 1)
        margins(drawn, 1.8, 0.2, 0.08, 0.64, wspace=0.12)
        _bars(axes[0][0], savings, found, display, 1.0)
        axes[0][0].set_xlabel(f"Saving, {currency} a year")
        names = [wrapped(s.assumption, _LABEL_SIGNS) for s in savings]
        axes[0][0].set_yticks(range(rows), names or [""])
        if moving:
            axis = axes[0][1]
            _bars(axis, [shares[s.assumption] for s in savings], found, display, 100.0)
            axis.set_xlabel("Recovered share, %")
            axis.set_yticks([])
            threshold = found.likelihood[option.key].threshold
            low, high = axis.get_xlim()
            if threshold is not None and low < 100.0 * threshold < high:
                axis.axvline(100.0 * threshold, color=INK, linewidth=0.9, linestyle=(0, (4, 2)))
                axis.annotate(
                    f"code {100.0 * threshold:.0f} %",
                    (100.0 * threshold, -0.62),
                    (3, 0),
                    textcoords="offset points",
                    fontsize=7.5,
                    va="center",
                )
        _key(drawn)
        return drawn  # type: ignore[no-any-return]

    parts = [
        f"{s.assumption} from {amount(s.result_low)} to {amount(s.result_high)} {currency}"
        for s in savings
    ]
    return Chart(
        f"effects-{option.key}",
        f"Sensitivity of the saving of “{option.title}”",
        f"One-at-a-time sensitivity of the annual saving of {option.title}: " + "; ".join(parts),
        f"“{short_title(option.title)}” against the reference: each assumption moved alone to the "
        "low and the high end of its range, the most sensitive on top. The upright line is the "
        "answer as stated"
        + (
            "; at the right the same assumptions and the recovered share of reheat."
            if moving
            else "."
        ),
        draw,
    )


def _bars(
    axis: Any, listed: list[Effect], found: SensitivityStudy, display: Display, factor: float
) -> None:
    base = factor * listed[0].base if listed else 0.0
    ends = [factor * v for s in listed for v in (s.result_low, s.result_high) if math.isfinite(v)]
    span = max(max(ends, default=base) - min(ends, default=base), 1e-9)
    axis.set_xlim(
        min([*ends, base]) - 0.34 * span,
        max([*ends, base]) + 0.34 * span,
    )
    for place, effect in enumerate(listed):
        if not math.isfinite(effect.size):
            continue
        bars = [
            (factor * effect.result_low, effect.value_low, SLATE, ""),
            (factor * effect.result_high, effect.value_high, AMBER, "////"),
        ]
        # Where both ends lie on one side, the shorter bar stands in front of the longer.
        bars.sort(key=lambda bar: -abs(bar[0] - base))
        sides = set()
        for to, value, fill, hatch in bars:
            axis.barh(
                place,
                to - base,
                0.56,
                left=base,
                color=fill,
                hatch=hatch,
                edgecolor=INK,
                linewidth=0.5,
            )
            side = 1 if to > base else -1
            if abs(to - base) < 0.004 * span or side in sides:
                continue
            sides.add(side)
            axis.annotate(
                value_text(effect.assumption, value, found.weather_names, display),
                (to, place),
                (4 * side, 0),
                textcoords="offset points",
                va="center",
                ha="left" if side > 0 else "right",
                fontsize=7.0,
                color=QUIET,
            )
    axis.axvline(base, color=INK, linewidth=0.8)
    axis.set_ylim(max(len(listed), 1) - 0.4, -0.8)
    axis.tick_params(axis="y", length=0)
    axis.spines["left"].set_visible(False)
    grid(axis, "x")
    if factor == 1.0:
        axis.xaxis.set_major_formatter(lambda number, place: f"{number:,.0f}".replace("-", "−"))


def _key(drawn: Any) -> None:
    from matplotlib.patches import Patch

    drawn.legend(
        handles=[
            Patch(facecolor=SLATE, edgecolor=INK, linewidth=0.5, label="at its low value"),
            Patch(
                facecolor=AMBER, edgecolor=INK, linewidth=0.5, hatch="////",
                label="at its high value",
            ),
        ],
        loc="lower left",
        bbox_to_anchor=(0.0, 0.0),
        ncols=2,
        handlelength=1.6,
        handleheight=0.9,
    )  # fmt: skip


def likelihood_table(study: Study) -> Table:
    """Savings and recovered shares over all draws."""
    found = study.sensitivity
    assert found is not None
    currency = study.money.currency
    rows = []
    for option in study.options:
        if option.key not in found.likelihood:
            continue
        one = found.likelihood[option.key]
        texts = [
            *(amount(value) for value in (one.saving_p10, one.saving_p50, one.saving_p90)),
            *(
                figure(value, "share", "SI")
                for value in (one.share_p10, one.share_p50, one.share_p90)
            ),
            probability_text(one.probability),
        ]
        rows.append(Row(option.title, tuple(Cell(text, True) for text in texts)))
    thresholds = sorted({x.threshold for x in found.likelihood.values() if x.threshold})
    asked = " or ".join(f"{100.0 * value:.0f} %" for value in thresholds)
    note = (
        f"{len(found.draws.values):,} Monte Carlo samples of all assumptions together (Latin "
        "hypercube, seed "
        f"{found.draws.seed}), each independent and most often near its stated value. P10: a tenth "
        "of the samples lie below."
    )
    if asked:
        note += f" Chance: the samples in which the recovered share is at least {asked}."
    if left_out := left_out_of_draws(found):
        note += f" {left_out}"
    return Table(
        "Monte Carlo over all assumptions",
        (
            Head("Option", number=False),
            Head("Saving P10", currency),
            Head("Saving P50", currency),
            Head("Saving P90", currency),
            Head("Share P10", "%"),
            Head("Share P50", "%"),
            Head("Share P90", "%"),
            Head("Chance to keep the code’s share", "%"),
        ),
        tuple(rows),
        note=note,
    )


def drying_table(study: Study) -> Table | None:
    """The three drying controls side by side, of every option with stages or speeds; None where no
    option has any."""
    found = study.sensitivity
    assert found is not None
    if not found.drying:
        return None
    currency, display = study.money.currency, study.case.display
    own = {option.key: option.option.case.unit for option in study.options}
    titles = {option.key: option.title for option in study.options}
    rows = []
    for one in found.drying:
        is_own = one.control == own[one.key].drying_control
        texts = (
            "reference" if one.saving is None else amount(one.saving),
            NONE if one.recovered_share is None else figure(one.recovered_share, "share", "SI"),
            figure(one.compressor_kWh, "electricity", display),
            figure(one.overcooling_heat_kWh, "heat", display),
            figure(one.hours_above_range, "hours", display),
        )
        cells = (Cell(f"{one.control}{' *' if is_own else ''}"), *(Cell(t, True) for t in texts))
        rows.append(Row(titles[one.key], cells, marked=is_own))
    leaving = sorted({float(own[one.key].drying_leaving_temperature) for one in found.drying})
    held = " or ".join(show(value, "temperature", display) for value in leaving)
    return Table(
        "Drying control side by side",
        (
            Head("Option", number=False),
            Head("Dries by", number=False),
            Head("Saving", f"{currency} a year"),
            Head("Recovered share", "%"),
            Head("Compressor", unit_of("electricity", display)),
            Head("Overcooling heat", unit_of("heat", display)),
            Head(filled("Hours > {high} % RH", study), "h"),
        ),
        tuple(rows),
        note=f"* As the case has it. Leaving air: the coil's air held at {held}. Each saving is "
        "against the reference dried by the same control.",
    )


def probability_text(value: float | None) -> str:
    """A probability in per cent; a dash where there is none."""
    return NONE if value is None else figure(value, "share", "SI")


def range_table(study: Study, display: Display) -> Table:
    """The range of each assumption and why."""
    found = study.sensitivity
    assert found is not None

    def written(name: str, value: float) -> Cell:
        return Cell(value_text(name, value, found.weather_names, display), True)

    return Table(
        "Ranges of the assumptions",
        (
            Head("Assumption", number=False),
            Head("Low"),
            Head("High"),
            Head("Why", number=False),
        ),
        tuple(
            Row(
                f"{one.name[:1].upper()}{one.name[1:]}",
                (written(one.name, one.low), written(one.name, one.high), Cell(one.reason)),
            )
            for one in found.assumed
        ),
        note="Per cent of the value in the case, or the difference from it.",
    )


def effect_charts(study: Study, display: Display) -> list[Chart]:
    """The effects of the option the report speaks of first, and of others whose share moves."""
    if study.sensitivity is None:
        return []
    first = _shown(study)
    others = [
        option
        for option in study.options
        if option.key not in (first.key, study.reference.key)
        and _share_moves(study.sensitivity, option)
    ]
    return [effect_chart(study, option, display) for option in (first, *others)]


def sensitivity_section(study: Study, display: Display) -> Section | None:
    """The section of the page; None where no sensitivity was asked for."""
    if study.sensitivity is None:
        return None
    return Section(
        "sensitivity",
        "Sensitivity of the answer",
        (),
        tuple(
            filter(
                None, (likelihood_table(study), drying_table(study), range_table(study, display))
            )
        ),
        tuple(picture_of(chart) for chart in effect_charts(study, display)),
    )


def sensitivity_summary(study: Study) -> dict[str, Any] | None:
    """The sensitivity as the content of summary.json."""
    found = study.sensitivity
    if found is None:
        return None
    return {
        "draws": len(found.draws.values),
        "seed": found.draws.seed,
        "option_years": found.option_years,
        "weather_years": list(found.weather_names),
        "assumed": [vars(one) for one in found.assumed],
        "one_at_a_time": {
            result: [
                {
                    "assumption": effect.assumption,
                    "value_low": effect.value_low,
                    "value_high": effect.value_high,
                    "result_low": effect.result_low,
                    "result_high": effect.result_high,
                    "base": effect.base,
                    "size": effect.size,
                }
                for effect in found.sensitivity.ranked(result)
            ]
            for result in found.sensitivity.base
        },
        "drying_control": [vars(one) for one in found.drying],
        "options": {key: vars(one) for key, one in found.likelihood.items()},
        "rank_correlation": {
            result: [
                {"assumption": name, "spearman": value}
                for name, value in found.draws.ranked(result)
            ]
            for result in found.sensitivity.base
            if np.isfinite(found.draws.results[result]).any()
        },
    }
