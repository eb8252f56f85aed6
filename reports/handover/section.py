"""What a designer hands on, as sections of the report and as the content of summary.json."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from dewledger.quantities import Display
from dewledger.reports.handover.commissioning import (
    Checks,
    Sheet,
    Units,
    design_checks,
    design_summary,
    design_table,
    sheet_summary,
    sheets,
    start_up_table,
    units_of,
)
from dewledger.reports.handover.schedule import schedule_summary, schedule_table
from dewledger.reports.handover.sequence import sequence, sequence_summary, tables_of
from dewledger.reports.page.parts import Section
from dewledger.reports.words.metrics import best_option

if TYPE_CHECKING:
    from dewledger.accounts.option_year import OptionYear
    from dewledger.study import Study


@dataclass(frozen=True)
class Handover:
    """What page and summary.json both say: computed once.

    sheets : commissioning, by option key
    checks : design hours, by option key
    """

    sheets: Mapping[str, Sheet]
    checks: Checks


def handover_of(study: Study, known: Mapping[str, Sheet] | None = None) -> Handover:
    """Commissioning sheets, unless they are known, and design hours of every option."""
    return Handover(known or sheets(*sheets_of(study)), design_checks(study))


def sheets_of(study: Study) -> tuple[Units, float, Display]:
    """What ``sheets`` takes of a study: units, mean station pressure of the year, display."""
    pressure_Pa = float(study.weather.arrays["pressure_Pa"].mean())
    return units_of(study), pressure_Pa, study.case.display


def handover_summary(study: Study, option: OptionYear, found: Handover) -> dict[str, Any]:
    """What is handed on of one option, for summary.json."""
    display: Display = study.case.display
    return {
        "equipment_schedule": schedule_summary(option, display),
        "sequence_of_operation": sequence_summary(tables_of(option.option.case), display),
        "commissioning": sheet_summary(found.sheets[option.key]),
        "design_hours": design_summary(found.checks[option.key], study),
    }


def design_section(study: Study, found: Handover, display: Display) -> Section:
    """Every option at the design hours."""
    return Section(
        "design-hours", "Design hours", tables=(design_table(study, found.checks, display),)
    )


def handover_section(study: Study, found: Handover, display: Display) -> Section:
    """Schedule of every option; sequence and commissioning of the one the answer names."""
    option = best_option(study) or study.reference
    wording = sequence(tables_of(option.option.case), display)
    return Section(
        "handover",
        "Schedule, sequence and commissioning",
        tables=(
            schedule_table(study, display),
            start_up_table(option, found.sheets[option.key], display),
        ),
        parts=(
            Section(
                "sequence",
                f"Sequence of operation: {option.title}",
                tuple(f"{heading}. {' '.join(lines)}" for heading, lines in wording),
            ),
        ),
    )
