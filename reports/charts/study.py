"""The charts of a study; each says in words what it shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from dewledger.quantities import Display
from dewledger.reports.charts.hourly import duration, exceedance, humidity_map, reheat_map
from dewledger.reports.charts.parts import (
    MONTHS,
    Chart,
    Layer,
    grid,
    legend_below,
    listed,
    margins,
    page_figure,
    short_title,
    stack_rows,
    thousands,
    used,
)
from dewledger.reports.charts.style import AMBER, INK, QUIET, RUST, SLATE, TEAL
from dewledger.reports.words.metrics import limit_words
from dewledger.reports.words.numbers import in_display, unit_of, words

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from dewledger.study import OptionYear, Study

ENERGY = (
    Layer("compressor_kWh", "compressor", SLATE),
    Layer("condenser_fan_kWh", "outdoor-coil fan", "#6f8ea3"),
    Layer("supply_fan_kWh", "supply fan", "#b4c5d0"),
    Layer("reheat_purchased_electricity_kWh", "reheat, electricity", AMBER, "////"),
    Layer("reheat_purchased_gas_kWh", "reheat, gas", RUST, "xxxx"),
    Layer("heating_purchased_electricity_kWh", "heating, electricity", "#f6e7c6", ".."),
    Layer("heating_purchased_gas_kWh", "heating, gas", "#ecd9d0", "\\"),
)
ORIGIN = (
    Layer("reheat_recovered_kWh", "recovered", TEAL),
    Layer("reheat_purchased_kWh", "purchased", AMBER, "////"),
    Layer("reheat_unmet_kWh", "not given back", "#ffffff", "\\\\\\\\"),
)


def overview(study: Study, display: Display) -> Chart:
    """What each option buys in the year, beside the hours it leaves the room above its range."""
    options = study.options
    layers = used(ENERGY, options)
    unit = unit_of("energy", display)
    totals = [o.annual["electricity_kWh"] + o.annual["gas_kWh"] for o in options]

    def draw() -> Figure:
        rows = -(-len(layers) // 4)
        height = 0.75 + 0.42 * len(options) + 0.2 * rows
        drawn, axes = page_figure(height, 1, 2, width_ratios=[1.75, 1.0])
        margins(drawn, 1.5, 0.15, 0.28, 0.42 + 0.2 * rows, wspace=0.08)
        left, right = axes[0]
        stack_rows(left, options, layers, "energy", display)
        left.set_title("Energy purchased in the year")
        left.set_xlabel(unit)
        hours = np.array([o.annual["hours_above_range"] for o in options])
        place = np.arange(len(options))
        right.barh(place, hours, 0.62, color=QUIET, edgecolor=INK, linewidth=0.5)
        right.set_ylim(len(options) - 0.5, -0.5)
        right.set_yticks([])
        right.spines["left"].set_color(QUIET)
        for at, count in zip(place, hours, strict=True):
            right.annotate(
                f"{count:,}", (count, at), (4, 0), textcoords="offset points", va="center"
            )
        right.set_xlim(0.0, max(float(hours.max()), 1.0) * 1.25)
        right.set_title("Hours above range")
        right.set_xlabel("h")
        thousands(right.xaxis)
        for axis in (left, right):
            grid(axis, "x")
        legend_below(drawn, left, 4)
        return drawn  # type: ignore[no-any-return]

    alt = "Energy purchased in the year and hours above the humidity range: " + listed(
        [
            f"{o.title} {words(total, 'energy', display)}, "
            f"{words(o.annual['hours_above_range'], 'hours', display)}"
            for o, total in zip(options, totals, strict=True)
        ]
    )
    return Chart(
        "overview",
        "What each option buys, and what it leaves",
        alt,
        "Left: electricity and gas as they cross the meter, by use. "
        f"Right: hours in which the room is above {limit_words(study)}.",
        draw,
    )


def reheat_origin(study: Study, display: Display) -> Chart:
    """Where the overcooling heat of each option was given back from."""
    options = study.options
    layers = used(ORIGIN, options) or [ORIGIN[0]]

    def draw() -> Figure:
        height = 0.72 + 0.4 * len(options) + 0.2
        drawn, axes = page_figure(height)
        margins(drawn, 1.5, 0.2, 0.08, 0.64)
        axis = axes[0][0]
        stack_rows(axis, options, layers, "heat", display)
        axis.set_xlabel(f"Overcooling heat in the year, {unit_of('heat', display)}")
        grid(axis, "x")
        legend_below(drawn, axis, 3)
        return drawn  # type: ignore[no-any-return]

    alt = "Where reheat came from in the year: " + listed(
        [
            f"{o.title}: recovered {words(o.annual['reheat_recovered_kWh'], 'heat', display)}, "
            f"purchased {words(o.annual['reheat_purchased_kWh'], 'heat', display)}, "
            f"not given back {words(o.annual['reheat_unmet_kWh'], 'heat', display)}"
            for o in options
        ]
    )
    return Chart(
        "reheat-origin",
        "Where the reheat came from",
        alt,
        "The whole bar is the overcooling heat that drying caused; its parts are what was "
        "recovered, what was purchased, and what nothing gave back.",
        draw,
    )


def monthly_energy(study: Study, display: Display) -> Chart:
    """Energy purchased month by month, stacked by use, one panel per option."""
    options = study.options
    layers = used(ENERGY, options)
    months = np.arange(12)
    columns = min(3, len(options))
    rows = -(-len(options) // columns)

    def draw() -> Figure:
        legend_rows = -(-len(layers) // 4)
        height = 0.35 + 1.55 * rows + 0.2 * legend_rows
        drawn, axes = page_figure(height, rows, columns, sharex=True, sharey=True)
        margins(drawn, 0.58, 0.06, 0.26, 0.3 + 0.2 * legend_rows, wspace=0.07, hspace=0.28)
        flat = axes.ravel()
        for axis, option in zip(flat, options, strict=False):
            base = np.zeros(12)
            for part in layers:
                values = in_display(1.0, "energy", display) * option.monthly[part.key].to_numpy()
                axis.bar(
                    months,
                    values,
                    0.86,
                    bottom=base,
                    color=part.fill,
                    hatch=part.hatch,
                    edgecolor=INK,
                    linewidth=0.3,
                    label=part.label,
                )
                base = base + values
            axis.set_title(short_title(option.title, 33), fontsize=8.5)
            axis.set_xlim(-0.6, 11.6)
            axis.set_xticks(months, [month[0] for month in MONTHS])
            axis.tick_params(axis="x", length=0)
            grid(axis, "y")
        for axis in flat[len(options) :]:
            axis.set_visible(False)
        for place in range(len(options)):
            below = place + columns >= len(options)
            flat[place].tick_params(labelbottom=below)
        for row in axes:
            row[0].set_ylabel(unit_of("energy", display))
        legend_below(drawn, flat[0], 4)
        return drawn  # type: ignore[no-any-return]

    def peak(option: OptionYear) -> str:
        total = (option.monthly["electricity_kWh"] + option.monthly["gas_kWh"]).to_numpy()
        month = int(np.argmax(total))
        return f"{option.title} most in {MONTHS[month]}, {words(total[month], 'energy', display)}"

    return Chart(
        "monthly-energy",
        "Energy purchased, month by month",
        "Energy purchased by month and use, one panel per option: "
        + listed([peak(o) for o in options]),
        "Electricity and gas as they cross the meter, stacked by use; every panel has one scale.",
        draw,
    )


def study_maps(study: Study, display: Display) -> dict[str, Chart]:
    """The pictures of every hour of the year that have something to show, by name."""
    return _by_name(humidity_map(study, display), reheat_map(study, display))


def study_charts(study: Study, display: Display) -> dict[str, Chart]:
    """Every chart of a study that has something to show, by name, in the page's order."""
    drawn = (
        overview(study, display),
        reheat_origin(study, display),
        monthly_energy(study, display),
        duration(study, display),
        exceedance(study, display),
    )
    return _by_name(*drawn) | study_maps(study, display)


def _by_name(*charts: Chart | None) -> dict[str, Chart]:
    return {chart.name: chart for chart in charts if chart is not None}
