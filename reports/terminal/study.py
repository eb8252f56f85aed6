"""What the command prints in at most 100 columns: comparison, climate, checks from outside.

No figure rests on color: the reference is marked in words, so that a pipe or a plain terminal
loses nothing.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.console import Console
from rich.text import Text

from dewledger.hourly.ledger import PURCHASED
from dewledger.published.check import counted_apart, in_words
from dewledger.quantities import Display, conversion, rounded, show
from dewledger.reports.terminal.tables import quiet_table
from dewledger.reports.words.answer import answer
from dewledger.reports.words.estimates import CAUTION
from dewledger.reports.words.metrics import (
    BY_KEY,
    SITE_HEAD,
    change_text,
    short_head,
    short_keys,
    shown_metrics,
)
from dewledger.reports.words.numbers import figure, position, station_pressure, unit_of
from dewledger.reports.words.text import plain
from dewledger.weather.climate import COOLING_BASE_C, HEATING_BASE_C

if TYPE_CHECKING:
    from dewledger.published import Result
    from dewledger.study import Study
    from dewledger.weather.climate import ClimateSummary
    from dewledger.weather.year import WeatherYear

WIDTH = 100


def caution(console: Console) -> None:
    """Print the one line that stands below every result."""
    console.print(Text(CAUTION), width=min(WIDTH, console.width), style="dim")


def comparison(study: Study, console: Console) -> None:
    """Print the answer of a study and its comparison, one line per option."""
    display = study.case.display
    width = min(WIDTH, console.width)
    for sentence in answer(study, display):
        console.print(Text(plain(sentence)), width=width)
    console.print()
    keys = short_keys(study)
    rows = {
        option.key: [
            *(figure(option.annual[key], BY_KEY[key].kind, display) for key in keys),
            "ref." if option.key == study.reference.key else change_text(option, study.reference),
        ]
        for option in study.options
    }
    heads = [(short_head(key, study), unit_of(BY_KEY[key].kind, display)) for key in keys]
    heads.append(SITE_HEAD)
    _by_option(f"{plain(study.case.title)}: one year", heads, rows, study, console)
    _other_uses(study, console)
    console.print(
        Text(
            "Overcooling heat (the reheat load) = recovered + purchased + unmet. Site energy: "
            "electricity + gas, compared with the reference (ref.)."
        ),
        width=width,
        style="dim",
    )


def _by_option(
    title: str,
    heads: list[tuple[str, str]],
    rows: dict[str, list[str]],
    study: Study,
    console: Console,
) -> None:
    """Print a table of figures, a line per option; heads of at most two lines and a unit."""
    table = quiet_table(title)
    table.add_column(Text("option\n"), justify="left", min_width=14)
    for head, unit in heads:
        text = f"{chr(10) * (1 - head.count(chr(10)))}{head}\n{unit}"
        table.add_column(Text(text, justify="right"), justify="right", no_wrap=True)
    for option in study.options:
        style = "bold" if option.key == study.reference.key else ""
        texts = (Text(text) for text in rows[option.key])
        table.add_row(Text(plain(option.title), style=style), *texts)
    console.print(table, width=min(WIDTH, console.width))
    console.print()


# End uses of the unit itself; what an option purchases for others has a table of its own.
_OF_THE_UNIT = ("compressor", "condenser fan", "supply fan", "reheat", "space heating")


def _other_uses(study: Study, console: Console) -> None:
    """Print what is purchased for end uses other than the unit's own, where an option has any."""
    display = study.case.display
    shown = {metric.key for metric in shown_metrics(study)}
    keys = [c.name for c in PURCHASED if c.end_use not in _OF_THE_UNIT and c.name in shown]
    if "neutral_air_electricity_kWh" in shown:
        keys.append("neutral_air_electricity_kWh")
    if not keys:
        return
    heads = [
        ("\n".join(textwrap.wrap(BY_KEY[key].label, 20)), unit_of(BY_KEY[key].kind, display))
        for key in keys
    ]
    rows = {
        option.key: [figure(option.annual[key], BY_KEY[key].kind, display) for key in keys]
        for option in study.options
    }
    _by_option("Other HVAC energy (included above)", heads, rows, study, console)


def climate(year: WeatherYear, summary: ClimateSummary, display: Display, console: Console) -> None:
    """Print what a weather year holds, where it came from, and what was found in its file."""
    width = min(WIDTH, console.width)
    station = year.station
    console.print(Text(plain(station.title), style="bold"), width=width)
    where = (
        f"{station.format}, {position(station.latitude, station.longitude)}, "
        f"altitude {show(station.altitude_m, 'length', display)}, UTC {station.utc_offset_h:+g} h, "
        f"mean pressure {station_pressure(summary.mean_pressure_Pa, display)}"
    )
    console.print(Text(where), width=width)
    console.print()
    _print_spreads(summary, display, console, width)
    console.print()
    _print_dew_points(summary, display, console, width)
    console.print()
    for line in _climate_lines(summary, display):
        console.print(Text(line), width=width)
    console.print()
    console.print(Text("Findings on the file", style="bold"))
    for finding in year.findings:
        console.print(Text(f"- {plain(finding.sentence)}"), width=width)
    if not year.findings:
        console.print("- none")


def _print_spreads(summary: ClimateSummary, display: Display, console: Console, width: int) -> None:
    table = quiet_table("Over the year")
    for place, head in enumerate(("", "mean", "highest", "lowest")):
        table.add_column(head, justify="right" if place else "left")
    for label, spread, kind in (
        ("dry bulb", summary.dry_bulb_C, "temperature"),
        ("dew point", summary.dew_point_C, "temperature"),
        ("humidity ratio", summary.hum_ratio, "humidity ratio"),
    ):
        values = (spread.mean, spread.maximum, spread.minimum)
        table.add_row(label, *(show(value, kind, display) for value in values))
    console.print(table, width=width)


def _print_dew_points(
    summary: ClimateSummary, display: Display, console: Console, width: int
) -> None:
    table = quiet_table("Dew points exceeded")
    for place, head in enumerate(("share of hours", "dew point", "humidity", "coincident DB", "")):
        table.add_column(head, justify="right" if 0 < place < 4 else "left")
    for point in (*summary.design_dew_points, *summary.stated_dew_points):
        table.add_row(
            f"{point.percent:g} %",
            show(point.dew_point_C, "temperature", display),
            show(point.hum_ratio, "humidity ratio", display),
            show(point.mean_coincident_dry_bulb_C, "temperature", display),
            Text(plain(point.source), style="dim"),
        )
    console.print(table, width=width)


def _climate_lines(summary: ClimateSummary, display: Display) -> list[str]:
    hours = ", ".join(
        f"{show(item.dew_point_C, 'temperature', display)}: {item.hours:,}"
        for item in summary.hours_above
    )
    load = summary.ventilation_load
    unit = "ton-h per cfm" if display == "I-P" else "kWh per L/s"
    scale = 1.0
    if display == "SI":
        scale = conversion("ton * hour / cfm", "kilowatt_hour / (L / s)")
    latent, sensible = load.latent_ton_h_cfm * scale, load.sensible_ton_h_cfm * scale
    base = show(summary.degree_hour_base_C, "temperature", display)
    step = 1.8 if display == "I-P" else 1.0
    degree = "°F" if display == "I-P" else "K"
    return [
        f"Hours with the dew point above {hours}",
        f"Ventilation load index {rounded(latent)} latent + {rounded(sensible)} sensible {unit} "
        "and year",
        f"Cooling degree hours above {base}: "
        f"{rounded(summary.cooling_degree_hours_K_h * step)} {degree} h in "
        f"{summary.hours_above_base:,} hours",
        f"Thermal climate zone {summary.thermal_zone} (ASHRAE 169-2013, thresholds not checked "
        f"against the text): {rounded(summary.cooling_degree_days_K_d * step)} {degree} d above "
        f"{show(COOLING_BASE_C, 'temperature', display)}, "
        f"{rounded(summary.heating_degree_days_K_d * step)} {degree} d below "
        f"{show(HEATING_BASE_C, 'temperature', display)}; its moisture letter needs rain, which "
        "no weather file has",
    ]


def nearest_station(
    year: WeatherYear, summary: ClimateSummary, display: Display, console: Console
) -> None:
    """Print which bundled station lies nearest to a weather year, how far, and how it differs."""
    from dewledger.weather.bundled import nearest_bundled
    from dewledger.weather.climate import summarize
    from dewledger.weather.files.readers import read

    name, distance_km = nearest_bundled(year.station.latitude, year.station.longitude)
    other = read(name)
    there = summarize(other)
    far = f"{distance_km:,.0f} km" if display == "SI" else f"{distance_km / 1.609344:,.0f} mi"
    console.print()
    console.print(
        Text(
            f"Nearest bundled station: {name}, {plain(other.station.title)}, {far} away: mean dry "
            f"bulb {show(there.dry_bulb_C.mean, 'temperature', display)} (here "
            f"{show(summary.dry_bulb_C.mean, 'temperature', display)}), dew point above "
            f"{show(there.hours_above[1].dew_point_C, 'temperature', display)} in "
            f"{there.hours_above[1].hours:,} h (here {summary.hours_above[1].hours:,} h). It was "
            "measured, not modeled."
        ),
        width=min(WIDTH, console.width),
    )


def verification(results: Sequence[Result], console: Console) -> None:
    """Print the checks from outside: source, its figure, computed, difference; counts apart."""
    width = min(WIDTH, console.width)
    table = quiet_table("Checks from outside the program")
    table.add_column("check and source")
    for head in ("reference", "computed", "difference", "allowed"):
        table.add_column(head, justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    group = ""
    for result in results:
        check = result.check
        if check.group != group:
            group = check.group
            table.add_section()
            table.add_row(Text(group, style="bold"), "", "", "", "", "")
        entry = Text(check.item)
        known = check.standing != check.source
        said = f"{check.source}; {check.standing}" if known else check.source
        entry.append(f"\n{said}", style="dim")
        table.add_row(
            entry,
            Text(f"{check.published:,.4g} {check.unit}".rstrip()),
            Text(f"{result.computed:,.4g}"),
            Text(_difference(result.difference, check.absolute, check.unit)),
            Text(_difference(check.tolerance, check.absolute, check.unit)),
            Text("ok" if result.passed else "FAILS", style="" if result.passed else "bold"),
        )
    console.print(table, width=width)
    failed = sum(not result.passed for result in results)
    console.print()
    console.print(
        Text(
            f"All {len(results)} checks are met."
            if failed == 0
            else f"{failed} of {len(results)} checks are not met."
        ),
        style="bold",
    )
    counts = counted_apart(result.check for result in results)
    console.print(Text(f"Counted apart: {in_words(counts)}."), width=width)


def _difference(value: float, absolute: bool, unit: str) -> str:
    return f"{value:.2g} {unit}".rstrip() if absolute else f"{100.0 * value:.2g} %"
