"""The parts of the report, each for one reader, made of the sections that say what it needs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from dewledger.quantities import Display
from dewledger.reports.charts.parts import PAIRED_IN
from dewledger.reports.charts.study import study_charts
from dewledger.reports.page import tables
from dewledger.reports.page.parts import Cell, Head, Part, Picture, Row, Section, Table
from dewledger.reports.page.summary import summary_part
from dewledger.reports.words.estimates import AUTHORITY, CAUTION, COSTS, EQUIPMENT, ESTIMATE
from dewledger.reports.words.metrics import best_option

if TYPE_CHECKING:
    from dewledger.reports.handover.section import Handover
    from dewledger.study import Study


@dataclass(frozen=True)
class Drawn:
    """What another process may have drawn already: the hours' section, pictures as SVG by name."""

    hours: Section | None
    pictures: Mapping[str, str]


def report_parts(
    study: Study,
    only: str | None = None,
    drawn: Callable[[], Drawn] | None = None,
    handed: Callable[[], Handover] | None = None,
) -> list[Part]:
    """The parts of a study's report in their order; ``only`` one of them by its key.

    drawn, handed : give what was drawn and computed elsewhere; asked only where a part needs it
    """
    from dewledger.reports.handover.section import handover_of

    display: Display = study.case.display
    ready = drawn or (lambda: Drawn(None, {}))
    made: dict[str, Callable[[], Part]] = {
        "summary": lambda: summary_part(study, display),
        "engineer": lambda: engineer_part(
            study, display, ready(), handed() if handed else handover_of(study)
        ),
        "code": lambda: code_part(study, display),
        "money": lambda: money_part(study, display),
        "appendix": lambda: appendix_part(study, display, ready()),
    }
    parts = [made[key]() for key in made if only in (None, key)]
    return [replace(part, cautions=(CAUTION, *part.cautions)) for part in parts]


def _present(*sections: Section | None) -> tuple[Section, ...]:
    return tuple(section for section in sections if section is not None)


def _charts(study: Study, display: Display, ready: Mapping[str, str]) -> tuple[Section, ...]:
    """The pictures of the year, each a section under its title; the summary has the overview."""
    return tuple(
        Section(
            f"chart-{name}",
            chart.title,
            pictures=(Picture(ready.get(name) or chart.svg(), chart.caption),),
        )
        for name, chart in study_charts(study, display, PAIRED_IN).items()
        if name != "overview"
    )


def engineer_part(study: Study, display: Display, drawn: Drawn, handed: Handover) -> Part:
    """The year in pictures, hours and causes, design hours, sizing, ratings, what is handed on."""
    from dewledger.reports.handover.section import design_section, handover_section
    from dewledger.reports.page.cautions import cautions_section
    from dewledger.reports.page.criteria import met_table
    from dewledger.reports.page.meter import meter_section
    from dewledger.reports.page.ratings import ratings_section
    from dewledger.reports.page.reheat_sizing import bounds_section, sizing_section

    return Part(
        "engineer",
        "For the engineer",
        "The year in pictures, hours and causes, design hours, schedules, sizing, ratings.",
        _present(
            cautions_section(study),
            Section("year", "The year", parts=_charts(study, display, drawn.pictures), paired=True),
            Section(
                "figures",
                "Figures of the year",
                tables=(
                    tables.whole_table(study, display),
                    tables.causes_table(study),
                    tables.peaks_table(study, display),
                    met_table(study, display),
                ),
            ),
            design_section(study, handed, display),
            sizing_section(study, display),
            bounds_section(study, display),
            handover_section(study, handed, display),
            ratings_section(study, display),
            meter_section(study, display),
        ),
        (EQUIPMENT, ESTIMATE),
    )


def code_part(study: Study, display: Display) -> Part:
    """The determination sheet of the option the answer names: for a code official."""
    from dewledger.reports.handover.determination import determination_sections

    return Part(
        "code",
        "Determination sheet",
        "For the code official: the design, its verdict, every requirement judged.",
        determination_sections(study, best_option(study) or study.reference, display),
        (AUTHORITY,),
        signed=True,
    )


def money_part(study: Study, display: Display) -> Part:
    """Energy cost, life-cycle cost, prices and what moves the saving."""
    from dewledger.reports.page.money import money_section
    from dewledger.reports.page.sensitivity import sensitivity_section

    return Part(
        "cost",
        "Money",
        "Annual energy cost, life-cycle cost, prices with their origin, sensitivity.",
        _present(money_section(study, display), sensitivity_section(study, display)),
        (COSTS,),
    )


def appendix_part(study: Study, display: Display, drawn: Drawn) -> Part:
    """Inputs with their origin, method, ledger, provenance and checks."""
    from dewledger.reports.files.published import published_section
    from dewledger.reports.page.code import allowance_section
    from dewledger.reports.page.criteria import criteria_section
    from dewledger.reports.page.hours import hours_section
    from dewledger.reports.page.method import arrangement_sections, method_section
    from dewledger.reports.page.ratings import points_section

    changes = tables.difference_table(study, display)
    listed = (tables.input_table(study, display), *([changes] if changes else []))
    findings = tuple(finding.sentence for finding in study.weather.findings)
    nothing = "No finding: no gap, no missing code and no contradiction was found in the file."
    return Part(
        "appendix",
        "Appendix",
        "Inputs and their origin, weather, code, single hours, method, checks, ledger columns.",
        (
            Section("inputs", "Inputs and assumptions", tables=listed),
            *_notes(study),
            Section(
                "weather",
                "Weather",
                () if findings else (nothing,),
                (tables.weather_table(study, display),),
                points=findings,
            ),
            allowance_section(study, display),
            criteria_section(study, display),
            points_section(study, display),
            drawn.hours or hours_section(study, display),
            method_section(),
            Section("closure", "Closure", tables=(tables.closure_table(study),)),
            *arrangement_sections(study),
            published_section(),
            Section("glossary", "Glossary", tables=(_terms(), tables.glossary_table())),
        ),
        (ESTIMATE, AUTHORITY),
    )


def _notes(study: Study) -> tuple[Section, ...]:
    notes = tuple(tables.unit_notes(study))
    return (Section("unit-notes", "Notes on the units", points=notes),) if notes else ()


_TERMS = (
    (
        "Dehumidification call",
        "An hour in which the humidity limit requires more dehumidification than sensible cooling "
        "gives.",
    ),
    (
        "Overcooling heat, or reheat load",
        "Sensible cooling done in a dehumidification call beyond what the room needed.",
    ),
    ("Reheat", "Heat added to the supply air downstream of an active cooling coil."),
    (
        "Recovered, purchased, unmet",
        "Reheat from the condenser or another heat recovery device; reheat from purchased energy; "
        "overcooling heat that nothing met, so that the room was below its set point.",
    ),
    ("Recovered share", "Recovered over recovered and purchased reheat, of the year."),
    (
        "Avoided energy",
        "What the reference option’s reheat source would have purchased for the heat recovered.",
    ),
    (
        "Recovery penalty",
        "Compressor and condenser fan electricity spent because heat was recovered; negative is a "
        "benefit.",
    ),
    (
        "Limit and range",
        "The limit is what control holds; the range is what hours are counted against.",
    ),
    ("Site energy", "Electricity and gas as they cross the meter."),
    (
        "Standard time",
        "Hours are of local standard time and named by their beginning; values at a time are means "
        "of the hour that begins then, room states those at its end.",
    ),
)


def _terms() -> Table:
    return Table(
        "Terms",
        (Head("Term", number=False), Head("Meaning", number=False)),
        tuple(Row(term, (Cell(meaning),)) for term, meaning in _TERMS),
    )
