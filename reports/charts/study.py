"""The charts of a study; each says in words what it shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from dewledger.hourly.ledger import BY_NAME, PURCHASED
from dewledger.quantities import Display
from dewledger.reports.charts.hourly import duration, exceedance, humidity_map, reheat_map
from dewledger.reports.charts.parts import (
    MONTHS,
    PAIRED_IN,
    Chart,
    Layer,
    bars,
    grid,
    legend_below,
    legend_columns,
    listed,
    margins,
    page_figure,
    stack_rows,
    thousands,
    used,
    wrapped,
)
from dewledger.reports.charts.style import (
    AMBER,
    INK,
    OLIVE,
    PLUM,
    QUIET,
    RUST,
    SLATE,
    TEAL,
    WIDTH_IN,
)
from dewledger.reports.words.metrics import SHORT, filled
from dewledger.reports.words.numbers import in_display, unit_of, words

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from dewledger.accounts.option_year import OptionYear
    from dewledger.study import Study

# The fill of each end use; what has none of its own takes the next of _MORE_FILLS.
_FILLS = {
    "compressor_kWh": (SLATE, ""),
    "condenser_fan_kWh": ("#6f8ea3", ""),
    "supply_fan_kWh": ("#b4c5d0", ""),
    "reheat_coil_fan_kWh": ("#d3dde3", ".."),
    "reheat_purchased_electricity_kWh": (AMBER, "////"),
    "reheat_purchased_gas_kWh": (RUST, "xxxx"),
    "heating_purchased_electricity_kWh": ("#f6e7c6", ".."),
    "heating_purchased_gas_kWh": ("#ecd9d0", "\\"),
    "room_cooling_electricity_kWh": (TEAL, "--"),
    "outdoor_recovery_power_kWh": ("#cfd8a0", ""),
    "humidifier_electricity_kWh": (PLUM, "oo"),
    "humidifier_gas_kWh": ("#d9c3d6", "++"),
}
_BAR_IN = 0.34  # from one bar to the next
_PANEL_SIGNS = 25  # of a panel’s bold title, in a line
_MORE_FILLS = ((OLIVE, "||"), ("#e3dccf", "**"), (QUIET, "oo"))


def energy_layers(options: tuple[OptionYear, ...]) -> list[Layer]:
    """The end uses of a bar of site energy: together they are all that is purchased.

    What would be too thin to be seen is joined under "other uses", so that bars add up to the bill.
    """
    more = iter(_MORE_FILLS)
    layers = []
    for column in PURCHASED:
        fill, hatch = _FILLS.get(column.name) or next(more)
        layers.append(Layer((column.name,), column.label, fill, hatch))
    seen = used(tuple(layers), options)
    thin = tuple(part.keys[0] for part in layers if part not in seen)
    if any(o.annual[key] > 0.0 for o in options for key in thin):
        seen.append(Layer(thin, "Other uses", "#ffffff", ""))
    return seen


ORIGIN = tuple(
    Layer((key,), BY_NAME[key].label, fill, hatch)
    for key, fill, hatch in (
        ("reheat_recovered_kWh", TEAL, ""),
        ("reheat_purchased_kWh", AMBER, "////"),
        ("reheat_unmet_kWh", "#ffffff", "\\\\\\\\"),
    )
)


def overview(study: Study, display: Display) -> Chart:
    """Site energy of each option by end use, and the hours above and below the humidity range."""
    options = study.options
    layers = energy_layers(options)
    unit = unit_of("energy", display)
    totals = [o.annual["site_kWh"] for o in options]
    sides = (("hours_above_range", QUIET, ""), ("hours_below_range", "#ffffff", "...."))

    def draw() -> Figure:
        across = legend_columns([part.label for part in layers], WIDTH_IN, 5)
        rows = -(-len(layers) // across)
        tall = any("\n" in wrapped(option.title) for option in options)
        height = 0.7 + (0.92 if tall else 0.8) * _BAR_IN * len(options) + 0.2 * rows
        drawn, axes = page_figure(height, 1, 3, width_ratios=[1.9, 0.62, 0.62])
        margins(drawn, 1.5, 0.2, 0.28, 0.42 + 0.2 * rows, wspace=0.18)
        left = axes[0][0]
        stack_rows(left, options, layers, "energy", display)
        left.set_title("Annual site energy")
        left.set_xlabel(unit)
        place = np.arange(len(options))
        most = max(o.annual[key] for o in options for key, _, _ in sides)
        for axis, (key, fill, hatch) in zip(axes[0][1:], sides, strict=True):
            hours = np.array([o.annual[key] for o in options])
            axis.barh(place, hours, 0.62, color=fill, hatch=hatch, edgecolor=INK, linewidth=0.5)
            axis.set_ylim(len(options) - 0.5, -0.5)
            axis.set_yticks([])
            axis.spines["left"].set_color(QUIET)
            for at, count in zip(place, hours, strict=True):
                axis.annotate(
                    f"{count:,}", (count, at), (3, 0), textcoords="offset points", va="center"
                )
            axis.set_xlim(0.0, max(float(most), 1.0) * 1.6)
            title = filled(SHORT[key].replace("\n", " "), study)
            axis.set_title(f"{title[:1].upper()}{title[1:]}", fontsize=8.0)
            axis.set_xlabel("h")
            axis.locator_params(axis="x", nbins=2)
            thousands(axis.xaxis)
        for axis in axes[0]:
            grid(axis, "x")
        legend_below(drawn, left, across)
        return drawn  # type: ignore[no-any-return]

    low, high = filled("{low}", study), filled("{high}", study)
    alt = f"Annual site energy, hours above {high} % RH and hours below {low} % RH: " + listed(
        [
            f"{o.title} {words(total, 'energy', display)}, "
            f"{words(o.annual['hours_above_range'], 'hours', display)} above, "
            f"{words(o.annual['hours_below_range'], 'hours', display)} below"
            for o, total in zip(options, totals, strict=True)
        ]
    )
    return Chart(
        "overview",
        "Site energy, and hours out of range",
        alt,
        "Left: electricity and gas as they cross the meter, by end use; each bar is the whole "
        f"bill. Right: hours in which the room is above {high} % RH, and below {low} % RH.",
        draw,
    )


def reheat_origin(study: Study, display: Display, width_in: float = WIDTH_IN) -> Chart:
    """The overcooling heat of each option by what met it."""
    options = study.options
    layers = used(ORIGIN, options) or [ORIGIN[0]]

    def draw() -> Figure:
        height = 0.92 + _BAR_IN * len(options)
        drawn, axes = page_figure(height, width_in=width_in)
        margins(drawn, 1.5, 0.2, 0.08, 0.64)
        axis = axes[0][0]
        stack_rows(axis, options, layers, "heat", display)
        axis.set_xlabel(f"Annual overcooling heat (reheat load), {unit_of('heat', display)}")
        grid(axis, "x")
        legend_below(drawn, axis, legend_columns([part.label for part in layers], width_in, 3))
        return drawn  # type: ignore[no-any-return]

    alt = "Reheat by source over the year: " + listed(
        [
            f"{o.title}: recovered {words(o.annual['reheat_recovered_kWh'], 'heat', display)}, "
            f"purchased {words(o.annual['reheat_purchased_kWh'], 'heat', display)}, "
            f"unmet {words(o.annual['reheat_unmet_kWh'], 'heat', display)}"
            for o in options
        ]
    )
    return Chart(
        "reheat-origin",
        "Reheat by source",
        alt,
        "The whole bar is the overcooling heat of the year, the reheat load; its parts are "
        "recovered, purchased, and unmet.",
        draw,
    )


def monthly_energy(study: Study, display: Display, width_in: float = WIDTH_IN) -> Chart:
    """Site energy by month and end use, one panel per option."""
    options = study.options
    layers = energy_layers(options)
    months = np.arange(12)
    columns = min(3 if width_in > PAIRED_IN else 2, len(options))
    rows = -(-len(options) // columns)

    def draw() -> Figure:
        across = legend_columns([part.label for part in layers], width_in, 4)
        legend_rows = -(-len(layers) // across)
        titles = [wrapped(option.title, _PANEL_SIGNS) for option in options]
        more = 0.14 if any("\n" in title for title in titles) else 0.0
        each = (1.55 if width_in > PAIRED_IN else 1.15) + more
        height = 0.35 + each * rows + 0.2 * legend_rows
        drawn, axes = page_figure(height, rows, columns, width_in, sharex=True, sharey=True)
        gap = 0.28 + 1.2 * more  # of a panel's height, which is a little less than an inch
        foot = 0.3 + 0.2 * legend_rows
        margins(drawn, 0.58, 0.06, 0.26 + more, foot, wspace=0.07, hspace=gap)
        flat = axes.ravel()
        most = 1e-9
        for axis, option, title in zip(flat, options, titles, strict=False):
            base = np.zeros(12)
            for part in layers:
                values = in_display(1.0, "energy", display) * part.monthly(option)
                bars(axis, (months - 0.43, base), (months + 0.43, base + values), part, 0.3)
                base = base + values
            most = max(most, float(base.max()))
            axis.set_title(title, fontsize=8.5)
            axis.tick_params(axis="x", length=0)
            grid(axis, "y")
        # Shared by all panels, so that the first stands for all.
        flat[0].set_xlim(-0.6, 11.6)
        flat[0].set_ylim(0.0, 1.05 * most)
        last = len(options)
        flat[last - 1].set_xticks(months, [month[0] for month in MONTHS])
        for axis in flat[last:]:
            axis.set_visible(False)
        # The months stand below the lowest panel of each column.
        for axis in flat[max(last - columns, 0) : last]:
            axis.tick_params(labelbottom=True)
        for axis in flat[: max(last - columns, 0)]:
            axis.xaxis.set_visible(False)
        for row in axes:
            row[0].set_ylabel(unit_of("energy", display))
        legend_below(drawn, flat[0], across)
        return drawn  # type: ignore[no-any-return]

    def peak(option: OptionYear) -> str:
        total = option.months["electricity_kWh"] + option.months["gas_kWh"]
        month = int(np.argmax(total))
        return f"{option.title} most in {MONTHS[month]}, {words(total[month], 'energy', display)}"

    return Chart(
        "monthly-energy",
        "Monthly site energy",
        "Site energy by month and end use, one panel per option: "
        + listed([peak(o) for o in options]),
        "Electricity and gas as they cross the meter, by end use; every panel has the same scale.",
        draw,
    )


def study_maps(study: Study, display: Display, width_in: float = WIDTH_IN) -> dict[str, Chart]:
    """The pictures of every hour of the year that have something to show, by name."""
    return _by_name(humidity_map(study, display, width_in), reheat_map(study, display, width_in))


def study_charts(study: Study, display: Display, width_in: float = WIDTH_IN) -> dict[str, Chart]:
    """Every chart of a study that has something to show, by name, in the page's order.

    width_in : of each but the overview, which is as wide as the page
    """
    drawn = (
        overview(study, display),
        reheat_origin(study, display, width_in),
        monthly_energy(study, display, width_in),
        duration(study, display, width_in),
        exceedance(study, display, width_in),
    )
    return _by_name(*drawn) | study_maps(study, display, width_in)


def _by_name(*charts: Chart | None) -> dict[str, Chart]:
    return {chart.name: chart for chart in charts if chart is not None}
