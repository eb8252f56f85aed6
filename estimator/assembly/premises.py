"""What a reader should look at in the premises of a unit, each in one sentence."""

from __future__ import annotations

import math

from dewledger.case import Case
from dewledger.case.words import written
from dewledger.components.compressor import LEAST_EFFICIENCY, MOST_EFFICIENCY
from dewledger.dx_unit.types import Unit


def premises_to_look_at(case: Case, unit: Unit) -> tuple[str, ...]:
    """The sentences that hold of a case and its unit; they end `check` with 1."""
    found = implausible_compressor(case, unit)
    return () if found is None else (found,)


def implausible_compressor(case: Case, unit: Unit) -> str | None:
    """Where the rating takes a compressor that nobody builds: the stated figures behind it."""
    efficiency = unit.isentropic_efficiency
    if math.isnan(efficiency) or LEAST_EFFICIENCY - 1e-6 <= efficiency <= MOST_EFFICIENCY + 1e-6:
        return None
    settings = case.unit
    names: tuple[str, ...] = (
        "efficiency", "compressor_power", "condenser_fan_power", "rated_fan_power",
        "rated_suction", "rated_condensing",
    )  # fmt: skip
    stated = [
        f'{name} "{written(getattr(settings, name))}"'
        for name in names
        if name in settings.model_fields_set and getattr(settings, name) is not None
    ]
    return (
        f"[unit] the rating implies a compressor of {100 * efficiency:.0f} % overall isentropic "
        f"efficiency, and real ones have {100 * LEAST_EFFICIENCY:.0f} to "
        f"{100 * MOST_EFFICIENCY:.0f} % (common practice, no source; a published scroll map "
        f"reaches 72 %): check {', '.join(stated)}"
    )
