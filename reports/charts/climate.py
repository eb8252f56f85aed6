"""One page that shows what a weather year holds for drying, as PNG, SVG or PDF.

Dew point by hour and day, how often each dew point occurs, the months, and the load of bringing in
outdoor air. Color runs from dark to light (or by hatch), so that it reads in gray and to
color-blind readers.
"""

from __future__ import annotations

import calendar
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from dewledger.quantities import Display, in_unit, rounded, show
from dewledger.reports.charts.style import (
    INK,
    QUIET,
    RULE,
    SLATE,
    picture_format,
    save_picture,
    style_context,
)
from dewledger.weather.climate import (
    INDEX_DRY_BULB_F,
    INDEX_GRAINS,
    ClimateSummary,
    to_celsius,
    to_fahrenheit,
    ventilation_load,
)
from dewledger.weather.physics.moist_air import FloatArray
from dewledger.weather.year import DAYS_IN_MONTH, WeatherYear

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MONTHS = list(calendar.month_abbr[1:])
MONTH_STARTS = np.cumsum([0, *DAYS_IN_MONTH[:-1]])
LATENT = SLATE
SENSIBLE = "#e3b878"
BAND = "#c3d0d8"


def draw(year: WeatherYear, summary: ClimateSummary, display: Display, path: Path) -> None:
    """Write the picture of a weather year.

    Parameters
    ----------
    display : the units of its axes
    path : the file to write, .png, .svg or .pdf; its folder must exist

    Raises
    ------
    InputError : another suffix, or a path that cannot be written
    """
    path = Path(path)
    picture_format(path)  # before the work
    from matplotlib.figure import Figure

    with style_context("climate"):
        page = Figure(figsize=(8.5, 10.4), dpi=160)
        grid = page.add_gridspec(
            3, 2, height_ratios=(0.95, 1.0, 1.0), left=0.1, right=0.965, top=0.875, bottom=0.07,
            hspace=0.36, wspace=0.2,
        )  # fmt: skip
        _head(page, year, summary, display)
        _hours_and_days(page, page.add_subplot(grid[0, :]), year, display)
        _bins(page.add_subplot(grid[1, 0]), summary, display)
        _duration(page.add_subplot(grid[1, 1]), year, summary, display)
        _months(page.add_subplot(grid[2, 0]), year, display)
        _ventilation(page.add_subplot(grid[2, 1]), year, summary, display)
    save_picture(page, path, "climate")


def _shown(temp_C: Any, display: Display) -> Any:
    return to_fahrenheit(temp_C) if display == "I-P" else temp_C


def _unit(display: Display) -> str:
    return "°F" if display == "I-P" else "°C"


def _title(axis: Axes, words: str) -> None:
    axis.set_title(words, loc="left", fontsize=9.5, weight="bold", color=INK)
    axis.spines[["top", "right"]].set_visible(False)


def _short(name: str) -> str:
    return name if len(name) <= 40 else name[:39].rstrip() + "…"


def _temp(temp_C: float, display: Display) -> str:
    return f"{_number(temp_C, display)} {_unit(display)}"


def _number(temp_C: float, display: Display) -> str:
    """A dew point as files resolve it: whole degrees F, tenths of C."""
    return f"{_shown(temp_C, display):.{0 if display == 'I-P' else 1}f}".replace(
        "-", "\N{MINUS SIGN}"
    )


def _head(page: Any, year: WeatherYear, summary: ClimateSummary, display: Display) -> None:
    station = year.station
    design = summary.design_dew_points[0]
    place = f"{station.format} weather"
    if math.isfinite(station.latitude) and math.isfinite(station.longitude):
        place += (
            f" · {abs(station.latitude):.2f}° {'N' if station.latitude >= 0 else 'S'}, "
            f"{abs(station.longitude):.2f}° {'E' if station.longitude >= 0 else 'W'}"
        )
    if math.isfinite(station.altitude_m):
        unit = "ft" if display == "I-P" else "m"
        place += f" · {in_unit(station.altitude_m, 'length', unit):,.0f} {unit} above sea level"
    if math.isfinite(station.utc_offset_h):
        place += f" · UTC{station.utc_offset_h:+g} h"
    wet = summary.hours_above[1]
    stated = station.stated_design(0.4)
    facts = (
        f"Dew point above {_temp(wet.dew_point_C, display)} in {wet.hours:,} of 8,760 h. "
        f"0.4 % dew point of this {station.year_words} {_temp(design.dew_point_C, display)}"
        + (
            f", stated in the file {_temp(stated.dew_point_C, display)}."
            if stated is not None
            else "."
        )
    )
    title = f"{_short(station.name)} ({station.year_words})"
    page.text(0.1, 0.955, title, fontsize=15, weight="bold", color=INK)
    page.text(0.1, 0.935, place, fontsize=9, color=QUIET)
    page.text(0.1, 0.914, facts, fontsize=9, color=INK)


def _month_axis(axis: Axes, days: bool) -> None:
    starts = MONTH_STARTS if days else np.arange(13) - 0.5
    axis.set_xlim(float(starts[0]), 365.0 if days else 11.5)
    if days:
        ends = np.append(MONTH_STARTS[1:12], 365)
        axis.set_xticks((MONTH_STARTS[:12] + ends) / 2.0, MONTHS)
        for start in MONTH_STARTS[1:12]:
            axis.axvline(float(start), color="white", linewidth=0.5, alpha=0.5)
    else:
        axis.set_xticks(np.arange(12), MONTHS)
    axis.tick_params(axis="x", length=0)


def _hours_and_days(page: Any, axis: Axes, year: WeatherYear, display: Display) -> None:
    dew = _shown(year.column("temp_dew_C"), display).reshape(365, 24).T
    step = 5.0 if display == "I-P" else 2.5
    # the coldest tenth needs no shades of its own
    low = step * math.floor(float(np.percentile(dew, 8)) / step)
    high = step * math.ceil(float(dew.max()) / step + 1e-9)
    import matplotlib as mpl
    from matplotlib.colors import BoundaryNorm

    edges = np.arange(low, high + step / 2, step)
    shades = mpl.colormaps["cividis"].resampled(len(edges))
    image = axis.imshow(
        dew,
        aspect="auto",
        origin="lower",
        extent=(0.0, 365.0, 0.0, 24.0),
        cmap=shades,
        norm=BoundaryNorm(edges, len(edges), extend="min"),
        interpolation="nearest",
    )
    _month_axis(axis, days=True)
    axis.set_yticks([0, 6, 12, 18, 24])
    axis.set_ylabel("hour of the day (standard time)")
    _title(axis, f"Dew point by hour and day, {_unit(display)}")
    bar = page.colorbar(image, ax=axis, pad=0.015, fraction=0.045, aspect=22, ticks=edges)
    bar.outline.set_visible(False)
    bar.ax.tick_params(length=0)


def _bins(axis: Axes, summary: ClimateSummary, display: Display) -> None:
    names = []
    for part in summary.dew_point_bins:
        high = _number(part.high_C, display)
        if part.low_C is None:
            names.append(f"below {high}")
        else:
            names.append(f"{_number(part.low_C, display)} to {high}")
    hours = [part.hours for part in summary.dew_point_bins]
    place = np.arange(len(hours))
    axis.barh(place, hours, 0.72, color=LATENT)
    for at, count in zip(place, hours, strict=True):
        axis.annotate(
            f"{count:,}", (count, float(at)), (3, 0), textcoords="offset points", va="center",
            fontsize=7.5,
        )  # fmt: skip
    axis.set_yticks(place, names)
    axis.tick_params(axis="y", length=0)
    axis.set_xlim(0.0, max(hours) * 1.14)
    axis.locator_params(axis="x", nbins=5)
    axis.xaxis.set_major_formatter(lambda number, place: f"{number:,.0f}")
    axis.set_xlabel("hours a year")
    _title(axis, f"Hours at each dew point, {_unit(display)}")


def _duration(axis: Axes, year: WeatherYear, summary: ClimateSummary, display: Display) -> None:
    falling = np.sort(_shown(year.column("temp_dew_C"), display))[::-1]
    axis.plot(np.arange(falling.size), falling, color=LATENT, linewidth=1.8)
    axis.set_xlim(0.0, 8760.0)
    axis.set_xticks(np.arange(0, 8001, 2000))
    axis.xaxis.set_major_formatter(lambda number, place: f"{number:,.0f}")
    axis.grid(color=RULE, linewidth=0.6)
    axis.set_axisbelow(True)
    axis.set_xlabel("hours a year at or above")
    axis.set_ylabel(f"dew point, {_unit(display)}")
    _title(axis, "Dew point duration")
    lines = [f"of this {year.station.year_words}"] + [
        f"{point.percent:g} %: {_temp(point.dew_point_C, display)}, "
        f"{show(point.hum_ratio, 'humidity ratio', display)}"
        for point in summary.design_dew_points
    ]
    if summary.stated_dew_points:
        lines += ["stated in the file"] + [
            f"{point.percent:g} %: {_temp(point.dew_point_C, display)}, "
            f"{show(point.hum_ratio, 'humidity ratio', display)}"
            for point in summary.stated_dew_points[:1]
        ]
    axis.text(
        0.04, 0.05, "\n".join(lines), transform=axis.transAxes, fontsize=7.5, va="bottom",
        linespacing=1.4, bbox={"facecolor": "white", "edgecolor": "none", "pad": 2.0},
    )  # fmt: skip


def _by_month(year: WeatherYear, values: FloatArray) -> list[FloatArray]:
    month = year.arrays["month"]
    return [values[month == number] for number in range(1, 13)]


def _months(axis: Axes, year: WeatherYear, display: Display) -> None:
    months = _by_month(year, _shown(year.column("temp_dew_C"), display))
    place = np.arange(12)
    low, lower, middle, upper, high = (
        np.array([np.percentile(part, share) for part in months]) for share in (0, 10, 50, 90, 100)
    )
    axis.bar(place, upper - lower, 0.62, bottom=lower, color=BAND, edgecolor=INK, linewidth=0.5)
    axis.vlines(place, low, lower, color=QUIET, linewidth=0.8)
    axis.vlines(place, upper, high, color=QUIET, linewidth=0.8)
    axis.hlines(middle, place - 0.31, place + 0.31, color=INK, linewidth=1.8)
    _month_axis(axis, days=False)
    axis.grid(axis="y", color=RULE, linewidth=0.6)
    axis.set_axisbelow(True)
    axis.set_ylabel(f"dew point, {_unit(display)}")
    _title(axis, "Dew point by month")
    axis.text(
        0.5, -0.155, "line: median; box: 8 hours in 10; whiskers: all", fontsize=7.5, color=QUIET,
        transform=axis.transAxes, ha="center", va="top",
    )  # fmt: skip


def _ventilation(axis: Axes, year: WeatherYear, summary: ClimateSummary, display: Display) -> None:
    # ton-hours per cfm, or kWh per L/s: 1 ton is 3.517 kW and 1 cfm is 0.4719 L/s
    factor = 1.0 if display == "I-P" else _KWH_PER_TON_HOUR / _LITERS_PER_CFM
    unit = "ton-hours per cfm" if display == "I-P" else "kWh per L/s"
    loads = [
        ventilation_load(dry_bulb, hum_ratio)
        for dry_bulb, hum_ratio in zip(
            _by_month(year, year.column("temp_air_C")),
            _by_month(year, year.column("hum_ratio")),
            strict=True,
        )
    ]
    latent = factor * np.array([load.latent_ton_h_cfm for load in loads])
    sensible = factor * np.array([load.sensible_ton_h_cfm for load in loads])
    place = np.arange(12)
    total = summary.ventilation_load
    axis.bar(
        place, latent, 0.62, color=LATENT, edgecolor=INK, linewidth=0.5,
        label=f"moisture, {rounded(factor * total.latent_ton_h_cfm)} a year",
    )  # fmt: skip
    axis.bar(
        place, sensible, 0.62, bottom=latent, color=SENSIBLE, hatch="////", edgecolor=INK,
        linewidth=0.5, label=f"heat, {rounded(factor * total.sensible_ton_h_cfm)} a year",
    )  # fmt: skip
    _month_axis(axis, days=False)
    top = max(float((latent + sensible).max()), 0.1 * factor)
    axis.set_ylim(0.0, top * 1.3)
    axis.grid(axis="y", color=RULE, linewidth=0.6)
    axis.set_axisbelow(True)
    axis.set_ylabel(unit)
    _title(axis, "Ventilation load")
    axis.legend(
        loc="upper left",
        ncols=1,
        handlelength=1.4,
        borderaxespad=0.2,
        facecolor="white",
        framealpha=1.0,
        edgecolor="none",
    )
    grains = in_unit(
        INDEX_GRAINS / 7000.0, "humidity ratio", "gr/lb" if display == "I-P" else "g/kg"
    )
    humidity = f"{grains:.0f} gr/lb" if display == "I-P" else f"{grains:.1f} g/kg"
    axis.text(
        0.5, -0.155,
        f"outdoor air down to {_temp(to_celsius(INDEX_DRY_BULB_F), display)} and {humidity}",
        fontsize=7.5, color=QUIET, transform=axis.transAxes, ha="center", va="top",
    )  # fmt: skip


_KWH_PER_TON_HOUR = 3.51685
_LITERS_PER_CFM = 0.471947
