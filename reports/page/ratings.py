"""The section of the unit's ratings, modeled and not certified, and the year's own with them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from dewledger.codes.parts import capitalized
from dewledger.codes.rating_standards import LB_PER_KG
from dewledger.data.rating_standards import Standard
from dewledger.quantities import Display, in_unit, rounded, show
from dewledger.reports.charts.parts import MONTHS
from dewledger.reports.page.code import grouped, titles
from dewledger.reports.page.parts import Cell, Head, Row, Section, Table
from dewledger.reports.words.numbers import NONE

if TYPE_CHECKING:
    from collections.abc import Iterable

    from dewledger.analysis.modeled_ratings import ModeledRatings
    from dewledger.study import Study


MODELED = (
    "Modeled, not certified: the arithmetic of the rating standards over this model of the unit. A "
    "catalog’s certified figure is measured, and takes precedence over these."
)


def _scored(study: Study, display: Display) -> list[tuple[tuple[Table, ...], tuple[str, ...], str]]:
    """Tables and sentences of each group of options whose ratings are alike, and its name."""
    groups = grouped(study.options, lambda o: scores(study.ratings[o.key], display))
    return [
        (made, sentences, "" if len(groups) == 1 else f"{titles(options)}: ")
        for (made, sentences), options in groups
    ]


def ratings_section(study: Study, display: Display) -> Section:
    """What the unit would score, as modeled, and how that stands to least values."""
    points = []
    for made, sentences, whose in _scored(study, display):
        points.append(whose + ". ".join(table.caption.rstrip(".") for table in made) + ".")
        points += [f"{whose}{text}" for text in sentences]
    return Section(
        "ratings",
        "Ratings of the unit, as modeled",
        (f"{MODELED} Their points are in the appendix.",),
        points=tuple(dict.fromkeys(points)),
    )


def points_section(study: Study, display: Display) -> Section:
    """The points of each rating, and the year's own efficiency by month."""
    tables = [
        replace(table, caption=f"{whose}{table.caption}")
        for made, _, whose in _scored(study, display)
        for table in made
    ]
    return Section(
        "rating-points",
        "Points of the ratings, and efficiency by month",
        (MODELED,),
        (*tables, year_efficiency_table(study, display)),
    )


def _standing(standard: Standard) -> str:
    """How well the standard's figures are known, and what to look up."""
    check = f"; to be looked up: {standard.check}" if standard.check else ""
    return f"{capitalized(standard.standing)}{check}."


def _outdoors(temp_C: float, display: Display) -> str:
    """A rating condition to a tenth of a degree where it has one: "81.5 °F"."""
    unit = "degF" if display == "I-P" else "degC"
    sign = "°F" if display == "I-P" else "°C"
    return f"{round(in_unit(temp_C, 'temperature', unit), 1):g} {sign}"


def scores(ratings: ModeledRatings, display: Display) -> tuple[tuple[Table, ...], tuple[str, ...]]:
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
                f"95 °F outdoors, entering air 80/67 °F. {_standing(rated.standard)}",
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
                note=f"{moisture.standard.title}. {_standing(moisture.standard)}",
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

    found = [study.judgments[option.key].efficiency for option in study.options]
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
        "purchased reheat. The supply fan counts in all its hours, so that dry months show little.",
    )
