"""What a designer hands on, as a section of the report."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dewledger.quantities import Display
from dewledger.reports.handover.commissioning import design_table as design_hours_table
from dewledger.reports.handover.commissioning import start_up_table
from dewledger.reports.handover.schedule import design_table
from dewledger.reports.handover.sequence import sequence, tables_of
from dewledger.reports.page.parts import Section
from dewledger.reports.words.metrics import best_option

if TYPE_CHECKING:
    from dewledger.study import Study


def design_section(study: Study, display: Display) -> Section:
    """Every option at the design hours."""
    return Section("design-hours", "Design hours", tables=(design_hours_table(study, display),))


def handover_section(study: Study, display: Display) -> Section:
    """Schedule of every option; sequence and commissioning of the one the answer names."""
    option = best_option(study) or study.reference
    wording = sequence(tables_of(option.option.case), display)
    return Section(
        "handover",
        "Schedule, sequence and commissioning",
        tables=(
            design_table(study, display),
            start_up_table(option, study, display),
        ),
        parts=(
            Section(
                "sequence",
                f"Sequence of operation: {option.title}",
                tuple(f"{heading}. {' '.join(lines)}" for heading, lines in wording),
            ),
        ),
    )
