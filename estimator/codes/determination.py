"""Is this reheat allowed? A design and its year held against an energy code.

Every rule of the edition is judged by the figures, and where figures cannot decide, the finding
says what a designer must show or which input is missing. The rules are data
(``dewledger.codes.facts``); how each kind is judged is in ``dewledger.codes.judging``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from dewledger.case.allowance import Allowance
from dewledger.codes.facts import ReheatFacts
from dewledger.codes.judging import (
    Context,
    Finding,
    Verdict,
    capitalized,
    energy,
    judge,
    unknown,
    written,
)
from dewledger.data.reheat_codes import Rule, rules_of
from dewledger.quantities import Display, rounded
from dewledger.weather.physics.moist_air import FloatArray

__all__ = [
    "Allowance",
    "CountedReheat",
    "Determination",
    "Finding",
    "ReheatFacts",
    "Rule",
    "determine",
    "drying_floor_rh",
    "recovered_share_threshold",
    "ventilation_heat_above",
    "ventilation_limit_C",
]

Overall = Literal[
    "allowed",
    "allowed if shown",
    "not allowed",
    "cannot be determined",
    "no reheat occurred",
    "no rule",
]

CAUTION = (
    "Verify against the edition adopted by the jurisdiction; a licensed engineer signs the finding."
)
MEMORY_CAUTION = (
    "Figures marked as from memory were not read in the code itself: check them before relying "
    "on them."
)
KWH_PER_THERM = 1e5 * 1055.05585262 / 3.6e6


@dataclass(frozen=True)
class CountedReheat:
    """What a performance comparison may count of the baseline's reheat energy.

    The finding's verdict is "met" where there are figures to count.
    """

    finding: Finding
    baseline_kWh: float | None
    counted_kWh: float | None
    counted_therm: float | None
    heating_type: str


@dataclass(frozen=True)
class Determination:
    """What a code says of one option's reheat.

    verdict, sentence : the answer, and the answer for a reader
    base : the rule that the exceptions except from
    exceptions : any one met frees the system
    conditions : what holds beside the rule
    smallest_change : the smallest single change that would meet an exception, where none is met
    """

    code: str
    edition: str
    verdict: Overall
    sentence: str
    recovered_share: float | None
    base: Rule
    exceptions: tuple[Finding, ...]
    conditions: tuple[Finding, ...]
    counted: CountedReheat | None
    smallest_change: str | None
    cautions: tuple[str, ...]

    @property
    def not_met_beside(self) -> tuple[str, ...]:
        """Conditions beside the rule that are not met, by section and item."""
        return _not_met(self.conditions)


# ---------------------------------------------------------------------------------------------
# The determination


def determine(allowance: Allowance, facts: ReheatFacts, display: Display = "I-P") -> Determination:
    """Judge one option's reheat by an edition of an energy code.

    Parameters
    ----------
    allowance : the code, its edition, and the designer's statements
    facts : figures of the case and of the year's ledger
    display : units of the sentences

    Raises
    ------
    InputError : the edition is not known
    """
    rules = rules_of(allowance.code, allowance.edition)

    def judged(role: str) -> tuple[Finding, ...]:
        return tuple(
            judge(Context(rule, allowance, facts, display)) for rule in rules if rule.role == role
        )

    base = next(rule for rule in rules if rule.role == "base")
    exceptions, conditions = judged("exception"), judged("condition")
    counting = [rule for rule in rules if rule.role == "baseline"]
    counted = _counted(Context(counting[0], allowance, facts, display)) if counting else None
    verdict, sentence = _overall(base, exceptions, facts)
    change = _smallest_change(exceptions) if verdict in _OPEN else None
    failed = _not_met(conditions)
    if failed:
        sentence += f" Beside the rule, not met: {', '.join(failed)}."
    remembered = any("memory" in rule.standing for rule in rules)
    return Determination(
        allowance.code,
        allowance.edition,
        verdict,
        sentence,
        facts.recovered_share,
        base,
        exceptions,
        conditions,
        counted,
        change,
        (CAUTION, MEMORY_CAUTION) if remembered else (CAUTION,),
    )


def _not_met(conditions: tuple[Finding, ...]) -> tuple[str, ...]:
    return tuple(
        f"{finding.rule.section} {finding.rule.item}".rstrip()
        for finding in conditions
        if finding.verdict == "not met"
    )


# Answers that one change could turn into "allowed".
_OPEN = ("not allowed", "allowed if shown", "cannot be determined")


def _names(findings: list[Finding]) -> str:
    items = [finding.rule.item for finding in findings]
    return ("exception " if len(items) == 1 else "exceptions ") + ", ".join(items)


def _overall(
    base: Rule, exceptions: tuple[Finding, ...], facts: ReheatFacts
) -> tuple[Overall, str]:
    if base.test == "no_rule":
        return "no rule", base.text
    if facts.reheat_kWh <= 0.0:
        short = (
            f" Overcooling left {energy(facts.reheat_unmet_kWh)} that nothing gave back."
            if facts.reheat_unmet_kWh > 0.0
            else ""
        )
        return "no reheat occurred", f"No reheat occurred in the year.{short}"

    def of(verdict: Verdict) -> list[Finding]:
        return [finding for finding in exceptions if finding.verdict == verdict]

    if met := of("met"):
        return "allowed", f"Allowed by {_names(met)} of {base.section}. {met[0].sentence}"
    if shown := of("designer's judgment"):
        return (
            "allowed if shown",
            f"Allowed under {_names(shown)} of {base.section} only if it is shown what that asks. "
            f"{shown[0].sentence}",
        )
    if unknown := of("cannot be determined"):
        return (
            "cannot be determined",
            f"No exception of {base.section} is met by the figures known; {_names(unknown)} cannot "
            f"be judged. {unknown[0].sentence}",
        )
    return "not allowed", f"No exception of {base.section} is met."


def _smallest_change(exceptions: tuple[Finding, ...]) -> str | None:
    """The smallest single change, as a share of what it changes, that meets an exception."""
    sized = [
        (finding.change_size, index, finding.change, finding.rule.item)
        for index, finding in enumerate(exceptions)
        if finding.change is not None
        and finding.change_size is not None
        # Under a process exception a designer would still have to show the process.
        and finding.rule.test != "process_space"
    ]
    if not sized:
        return None
    _, _, change, item = min(sized)
    return f"{capitalized(change)} (meets exception {item})."


def _counted(context: Context) -> CountedReheat:
    rule, allowance, facts, display = context
    baseline = facts.baseline_reheat_kWh
    if baseline is None:
        finding = unknown(context, "baseline_reheat_kWh")
        return CountedReheat(finding, None, None, None, facts.heating_type)
    share = 1.0 if allowance.baseline_meets_exception else rule.limit
    counted = share * baseline
    why = {
        True: "the baseline is stated to meet an exception, so all of it counts",
        False: "the baseline is stated to meet no exception",
        None: "unless the baseline meets an exception (baseline_meets_exception in [allowance])",
    }[allowance.baseline_meets_exception]
    of_type = f" ({facts.heating_type})" if facts.heating_type else ""
    sentence = (
        f"{written(share, 'fraction', display)} of the baseline's {energy(baseline)} of reheat "
        f"energy{of_type} counts: {energy(counted)}, {rounded(counted / KWH_PER_THERM)} therms; "
        f"{why}."
    )
    finding = Finding(rule, "met", sentence, share, rule.limit)
    return CountedReheat(finding, baseline, counted, counted / KWH_PER_THERM, facts.heating_type)


def recovered_share_threshold(code: str, edition: str, variable_flow: bool = False) -> float | None:
    """The recovered share (fraction) that frees a system of any kind, or one whose supply flow
    varies with the load; None where none does."""
    for rule in rules_of(code, edition):
        if rule.role == "exception" and rule.test == "recovered_share":
            if rule.applies and not (variable_flow and rule.applies == ("variable_flow",)):
                continue
            return rule.limit
    return None


def ventilation_limit_C(code: str, edition: str) -> float | None:
    """The temperature above which ventilation air is not to be warmed; None where none is set."""
    for rule in rules_of(code, edition):
        if rule.test == "ventilation_heating":
            return rule.limit
    return None


def drying_floor_rh(code: str, edition: str) -> float | None:
    """The relative humidity below which comfort is not to be dried; None where none is set."""
    for rule in rules_of(code, edition):
        if rule.test == "drying_floor":
            return rule.limit
    return None


def ventilation_heat_above(
    supply_temp_C: FloatArray,
    before_heating_C: FloatArray,
    heat_capacity_rate_W_K: FloatArray,
    zones_cooling: npt.NDArray[np.bool_],
    limit_C: float,
) -> tuple[int, float]:
    """Hours, and heat [kWh], in which heating or recovery warms ventilation air above a limit.

    Parameters
    ----------
    supply_temp_C : temperature the air is supplied at, (hours,)
    before_heating_C : its temperature before reheat and heating; air that comes warmer than the
        limit by itself is not warmed beyond it by what follows, only further
    heat_capacity_rate_W_K : of the air, zero while the fan is off
    zones_cooling : most zones need cooling

    Only the heat that lifts the air above the limit counts.
    """
    beyond_K = supply_temp_C - np.maximum(before_heating_C, limit_C)
    # 1e-6 K: an air supplied exactly at the limit is within it.
    warmed = zones_cooling & (beyond_K > 1e-6) & (heat_capacity_rate_W_K > 0.0)
    heat_kWh = float((beyond_K * heat_capacity_rate_W_K)[warmed].sum()) / 1000.0
    return int(warmed.sum()), heat_kWh


# ---------------------------------------------------------------------------------------------
# How large the condenser-heat coil must be
