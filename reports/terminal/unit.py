"""A unit at the terminal: the rainy day, its map at full capacity and at half load, rules of
thumb.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

from dewledger.quantities import Display, display_unit, in_unit, rounded
from dewledger.reports.terminal.findings import print_ratings
from dewledger.reports.terminal.study import WIDTH, caution
from dewledger.reports.terminal.tables import quiet_table
from dewledger.reports.words.text import plain
from dewledger.reports.words.unit import rainy_answer, rainy_detail, trade_facts
from dewledger.views.unit_conditions import Condition, recovers

if TYPE_CHECKING:
    from rich.console import Console

    from dewledger.views.unit import UnitView

_WITHOUT_REHEAT = 6  # columns of an option that recovers no heat
DRY = "dry"  # nothing to reheat: the coil takes no moisture out


def temp_figure(temp_C: float, display: Display) -> str:
    """A temperature without its unit."""
    number = in_unit(temp_C, "temperature", display_unit("temperature", display))
    return f"{number:.{0 if display == 'I-P' else 1}f}".replace("-", "−")


def heat_figure(heat_W: float, display: Display) -> str:
    """A heat flow without its unit."""
    return rounded(in_unit(heat_W, "heat flow", display_unit("heat flow", display)))


def map_heads(display: Display) -> tuple[tuple[str, str], ...]:
    """Heads and units of the map's columns."""
    heat = display_unit("heat flow", display)
    degree = "°F" if display == "I-P" else "°C"
    return (
        ("outdoor\nDB", degree),
        ("entering\nWB", degree),
        ("gross\ncapacity", heat),
        ("sensible\nheat ratio", ""),
        ("power", "kW"),
        ("SCT", degree),
        ("reheat\navailable", heat),
        ("max\nLAT", degree),
        ("SCT with\nreheat", degree),
        ("max LAT at\nmin. SCT", degree),
    )


def map_row(found: Condition, display: Display) -> tuple[str, ...]:
    """Figures of one condition."""
    plain_part = (
        temp_figure(found.outdoor_C, display),
        temp_figure(found.wet_bulb_in_C, display),
        heat_figure(found.total_W, display),
        f"{found.sensible_heat_ratio:.2f}",
        f"{found.power_W / 1000.0:.2f}",
        temp_figure(found.condensing_C, display),
    )
    if found.reheat_W <= 0.0:
        return (*plain_part, DRY if found.dry else "0", "–", "–", "–")
    return (
        *plain_part,
        heat_figure(found.reheat_W, display),
        temp_figure(found.reheated_C, display),
        temp_figure(found.reheat_condensing_C, display),
        temp_figure(found.reheated_unraised_C, display),
    )


def show_unit(view: UnitView, display: Display, console: Console) -> None:
    """Print a unit's view in at most 100 columns."""
    width = min(WIDTH, console.width)

    def say(text: str, style: str = "") -> None:
        console.print(Text(text, style=style), width=width)

    say(plain(f"{view.case.title}: {view.option.title}"), "bold")
    say(_what(view, display))
    console.print()
    say(rainy_answer(view, display), "bold")
    say(rainy_detail(view, display))
    entering = f"{temp_figure(view.map.temp_in_C, display)} {'°F' if display == 'I-P' else '°C'}"
    for name, rows in (
        ("At full capacity", view.map.full),
        ("Half load", view.map.half),
    ):
        console.print()
        table = quiet_table(f"{name}, {entering} entering DB")
        count = len(map_heads(display)) if recovers(view.machine) else _WITHOUT_REHEAT
        for head, unit in map_heads(display)[:count]:
            lines = head + "\n" * (1 - head.count("\n"))
            table.add_column(Text(f"{lines}\n{unit}", justify="right"), justify="right")
        for column in range(len(view.map.outdoor_C)):
            if column:
                table.add_section()
            for row in rows:
                figures = map_row(row[column], display)[:count]
                flags = "*" if row[column].surface_floor else ""
                flags += "†" if row[column].outside_map else ""
                table.add_row(*(Text(text) for text in (*figures[:-1], figures[-1] + flags)))
        console.print(table, width=width)
    say(_notes(view), "dim")
    console.print()
    for fact in trade_facts(view, display):
        say(fact)
    console.print()
    print_ratings(view.ratings, display, console)
    console.print()
    caution(console)


def _what(view: UnitView, display: Display) -> str:
    unit = view.machine.unit
    refrigerant = f"{unit.refrigerant}, " if unit.refrigerant else ""
    return (
        f"Unit by its {unit.source}: {refrigerant}gross "
        f"{heat_figure(unit.rated_total_W, display)} {display_unit('heat flow', display)} at the "
        f"rating, {unit.rated_compressor_W / 1000.0:.2f} kW compressor."
    )


def _notes(view: UnitView) -> str:
    parts = [
        "Power: compressor and outdoor fan. Heats and power are means of the hour, temperatures "
        "hold while the compressor runs."
    ]
    if recovers(view.machine):
        parts.append(
            "SCT: saturated condensing temperature. Capacity to SCT: without reheat; then at "
            "maximum "
            "reheat. LAT: air leaving the reheat coil, before the fan, with head pressure "
            "raised up "
            "to its maximum; at min. SCT: as weather and minimum condensing temperature leave it. "
            "Half load: half the sensible cooling; in reheat, half the moisture removal."
        )
    cells = [found for grid in (view.map.full, view.map.half) for row in grid for found in row]
    if any(found.dry for found in cells):
        parts.append(f"{DRY}: no moisture is removed, so there is no reheat.")
    if any(found.surface_floor for found in cells):
        parts.append("* limited by the minimum coil-surface temperature.")
    if any(found.outside_map for found in cells):
        parts.append("† outside the unit’s map, held at its edge.")
    return " ".join(parts)
