"""One verdict on an option: a design and its year held against an energy code.

Every rule of the edition is judged by the figures; where they cannot decide, the part says what is
missing. The verdict is the AND of the rule on reheat and of every condition. The rules are data
(``dewledger.data.reheat_codes``); how each kind is judged is in ``dewledger.codes.judging``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from dewledger.case.allowance import Allowance
from dewledger.codes.evidence import Context, unknown
from dewledger.codes.evidence import part as made
from dewledger.codes.facts import ReheatFacts
from dewledger.codes.judging import judge
from dewledger.codes.minimum_efficiency import efficiency_parts
from dewledger.codes.parts import Part, capitalized, energy, joined, written
from dewledger.codes.rating_standards import Comparison
from dewledger.data.reheat_codes import Edition, Rule, edition_of, rules_of
from dewledger.data.standings import STANDINGS, weakest
from dewledger.quantities import Display, rounded

__all__ = [
    "Allowance",
    "CountedReheat",
    "Determination",
    "Overall",
    "Part",
    "ReheatFacts",
    "determine",
    "drying_floor_rh",
    "recovered_share_threshold",
    "ventilation_limit_C",
]

Overall = Literal["complies", "does not comply", "cannot be determined", "no reheat"]

CAUTION = (
    "Verify against the edition adopted by the jurisdiction and its amendments; the authority "
    "having jurisdiction decides, and a licensed engineer signs."
)
UNCHECKED_CAUTION = (
    "Figures marked “not checked against the text” or “read second-hand” must be looked up in the "
    "adopted text before signing."
)
KWH_PER_THERM = 1e5 * 1055.05585262 / 3.6e6


@dataclass(frozen=True)
class CountedReheat:
    """What a performance comparison may count of the baseline's reheat energy (Appendix G).

    baseline_kWh, counted_kWh : energy of the system's own heating type, all of it and what counts;
        None where there are no figures
    """

    section: str
    asks: str
    sentence: str
    source: str
    standing: str
    check: str
    share: float | None
    baseline_kWh: float | None
    counted_kWh: float | None
    counted_therm: float | None
    heating_type: str


@dataclass(frozen=True)
class Determination:
    """What a code says of one option.

    verdict : complies, does not comply, cannot be determined, or no reheat
    exception : item of the exception that frees the reheat; None where none does
    standing : the weakest standing of the parts that decide the verdict
    sentence : the verdict and why, for a reader
    missing : what must be known before it can be determined
    parts : the rule, its exceptions and every condition, each judged
    smallest_change : the smallest single change of the design that would meet an exception, where
        none is met
    """

    edition: Edition
    verdict: Overall
    exception: str | None
    standing: str
    sentence: str
    missing: tuple[str, ...]
    parts: tuple[Part, ...]
    recovered_share: float | None
    counted: CountedReheat | None
    smallest_change: str | None
    cautions: tuple[str, ...]

    @property
    def rule(self) -> Part:
        """The rule that the exceptions except from."""
        return next(one for one in self.parts if one.role == "rule")

    @property
    def exceptions(self) -> tuple[Part, ...]:
        """Any one met frees the system."""
        return tuple(one for one in self.parts if one.role == "exception")

    @property
    def conditions(self) -> tuple[Part, ...]:
        """What holds whatever the exception."""
        return tuple(one for one in self.parts if one.role == "condition")

    @property
    def freed_by(self) -> Part | None:
        """The exception that frees the reheat."""
        return next((one for one in self.exceptions if one.item == self.exception), None)

    @property
    def not_met(self) -> tuple[str, ...]:
        """Rule and conditions that are not met, by section and item."""
        return tuple(
            one.name for one in self.parts if one.role != "exception" and one.verdict == "not met"
        )

    @property
    def undetermined(self) -> tuple[str, ...]:
        """Rule and conditions that cannot be determined, by section and item."""
        return tuple(
            one.name
            for one in self.parts
            if one.role != "exception" and one.verdict == "cannot be determined"
        )

    @property
    def brief(self) -> str:
        """The answer in a line: "complies (90.1-2019 6.5.2.3: exception 5)"."""
        name = self.edition.name
        freed = "" if self.freed_by is None else _freed_by(self.freed_by)
        also = f"; the reheat itself is allowed by {freed}" if freed else ""
        if self.verdict == "does not comply":
            return f"does not comply ({name} {'; '.join(self.not_met)}{also})"
        if self.verdict == "cannot be determined":
            return f"cannot be determined ({name} {'; '.join(self.undetermined)}{also})"
        if self.verdict == "complies" and freed:
            return f"complies ({name} {freed})"
        return f"{self.verdict} ({name})"

    @property
    def short(self) -> str:
        """The verdict, with the section of the exception that frees the reheat."""
        if self.verdict == "complies" and self.freed_by is not None:
            return f"complies, {_freed_by(self.freed_by)}"
        return self.verdict


def _freed_by(one: Part) -> str:
    """ "6.5.2.3: exception 5"."""
    return f"{one.section}: {'exception ' if one.item.isdigit() else ''}{one.item}"


# ---------------------------------------------------------------------------------------------
# The determination


def determine(
    allowance: Allowance,
    facts: ReheatFacts,
    display: Display = "I-P",
    comparisons: Iterable[Comparison] = (),
) -> Determination:
    """Judge one option by an edition of an energy code.

    Parameters
    ----------
    allowance : the code, its edition, and the designer's statements
    facts : figures of the case and of the year's ledger
    display : units of the sentences
    comparisons : the unit's ratings, as modeled, against the minimum values of codes

    Raises
    ------
    InputError : the edition is not known
    """
    rules = rules_of(allowance.code, allowance.edition)
    edition = edition_of(allowance.code, allowance.edition)

    def judged(role: str) -> tuple[Part, ...]:
        return tuple(
            judge(Context(rule, allowance, facts, display)) for rule in rules if rule.role == role
        )

    exceptions = judged("exception")
    conditions = (*judged("condition"), *efficiency_parts(allowance, comparisons))
    if edition.superseded or edition.text_not_read:
        conditions = ()
    base = next(rule for rule in rules if rule.role == "rule")
    rule = _rule_part(Context(base, allowance, facts, display), exceptions)
    counting = [rule for rule in rules if rule.role == "baseline"]
    counted = _counted(Context(counting[0], allowance, facts, display)) if counting else None
    parts = (rule, *exceptions, *conditions)
    verdict, deciding = _overall(rule, exceptions, conditions, facts)
    freed = _freeing(exceptions) if rule.verdict == "met" else None
    missing = dict.fromkeys(
        need for one in deciding for need in one.missing if verdict == "cannot be determined"
    )
    found = Determination(
        edition,
        verdict,
        None if freed is None else freed.item,
        weakest(one.standing for one in deciding),
        "",
        tuple(missing),
        parts,
        facts.recovered_share,
        counted,
        None if rule.verdict == "met" else _smallest_change(exceptions, facts),
        _cautions(parts),
    )
    return replace(found, sentence=_sentence(found, facts, display))


def _cautions(parts: tuple[Part, ...]) -> tuple[str, ...]:
    sure = all(one.standing == STANDINGS[0] for one in parts)
    return (CAUTION,) if sure else (CAUTION, UNCHECKED_CAUTION)


def _freeing(exceptions: tuple[Part, ...]) -> Part | None:
    """The exception met whose figures are known best; the first of those."""
    met = [one for one in exceptions if one.verdict == "met"]
    return min(met, key=lambda one: STANDINGS.index(one.standing), default=None)


def _rule_part(context: Context, exceptions: tuple[Part, ...]) -> Part:
    """The rule's own part: met where one exception is."""
    rule, _, facts, _ = context
    if rule.test == "not_read":
        evidence = f"{rule.text} Cannot be determined: needs {rule.needed}."
        return made(context, "cannot be determined", evidence, None, (rule.needed,))
    if rule.test == "no_rule":
        return made(context, "does not apply", rule.text)
    if not facts.reheat_occurs:
        return made(context, "does not apply", _no_reheat(facts, context.display))
    freed = _freeing(exceptions)
    own = rule.standing(context.allowance.edition)
    if freed is not None:
        found = made(context, "met", f"{capitalized(_exception(freed))} is met. {freed.evidence}")
        return replace(found, standing=weakest((own, freed.standing)))
    open_ones = [one for one in exceptions if one.verdict == "cannot be determined"]
    if open_ones:
        missing = tuple(dict.fromkeys(need for one in open_ones for need in one.missing))
        names = joined(_exception(one) for one in open_ones)
        evidence = f"No exception is met by the figures known; {names} cannot be determined."
        found = made(context, "cannot be determined", evidence, None, missing)
        return replace(found, standing=weakest([own, *(one.standing for one in open_ones)]))
    found = made(context, "not met", "No exception is met.")
    exits = [f"{_exception(one)}: {exit}" for one in exceptions for exit in one.exits]
    standing = weakest([own, *(one.standing for one in exceptions)])
    return replace(found, standing=standing, exits=tuple(exits))


def _exception(one: Part) -> str:
    return f"exception {one.item}"


def _no_reheat(facts: ReheatFacts, display: Display) -> str:
    if facts.reheat_unmet_kWh < 0.5:  # what is left of the arithmetic, or next to nothing
        return "No reheat occurred in the year."
    return (
        f"No reheat occurred in the year; {energy(facts.reheat_unmet_kWh, display)} of overcooling "
        "heat was unmet."
    )


def _overall(
    rule: Part, exceptions: tuple[Part, ...], conditions: tuple[Part, ...], facts: ReheatFacts
) -> tuple[Overall, list[Part]]:
    """The verdict and the parts that decide it.

    A rule or condition not met goes before one that cannot be determined, and that before the rest.
    """
    every = [rule, *conditions]
    for verdict, overall in (
        ("not met", "does not comply"),
        ("cannot be determined", "cannot be determined"),
    ):
        deciding = [one for one in every if one.verdict == verdict]
        if deciding:
            if rule in deciding:
                deciding += [one for one in exceptions if one.verdict == verdict]
            return overall, deciding  # type: ignore[return-value]
    met = [rule, *(one for one in conditions if one.verdict == "met")]
    return ("complies" if facts.reheat_occurs else "no reheat"), met


def _sentence(found: Determination, facts: ReheatFacts, display: Display) -> str:
    """The verdict and what decides it, for a reader."""
    by_name = {one.name: one for one in found.parts if one.role != "exception"}
    note = f" {found.edition.note}" if found.edition.note else ""
    name = found.edition.name
    if found.verdict == "does not comply":
        reasons = [f"{failed} is not met: {by_name[failed].evidence}" for failed in found.not_met]
        return f"Does not comply with {name}. {' '.join(reasons)}{note}"
    if found.verdict == "cannot be determined":
        return f"Compliance with {name} cannot be determined: needs {joined(found.missing)}.{note}"
    if found.verdict == "no reheat":
        return (
            f"{_no_reheat(facts, display)} Every other requirement judged of {name} is met.{note}"
        )
    how = found.rule.evidence
    return f"Complies with {name}, {found.rule.section}. {how}{note}"


def _smallest_change(exceptions: tuple[Part, ...], facts: ReheatFacts) -> str | None:
    """The smallest single change, as a share of what it changes, that meets an exception."""
    sized = [
        (one.change_size, index, one.change, one.item)
        for index, one in enumerate(exceptions)
        if one.change and one.change_size is not None and one.verdict == "not met"
    ]
    if not sized or not facts.reheat_occurs:
        return None
    _, _, change, item = min(sized)
    return f"{capitalized(change)} (meets exception {item})."


def _counted(context: Context) -> CountedReheat:
    rule, allowance, facts, display = context
    standing = rule.standing(allowance.edition)

    def found(
        sentence: str, share: float | None, whole: float | None, counts: float | None
    ) -> CountedReheat:
        therms = None if counts is None else counts / KWH_PER_THERM
        return CountedReheat(
            rule.section, rule.text, sentence, rule.source, standing, rule.check, share, whole,
            counts, therms, facts.heating_type,
        )  # fmt: skip

    if facts.computer_room:
        return found("A system that serves a computer room has no reheat to count.", 0.0, 0.0, 0.0)
    heat = facts.baseline_reheat_kWh
    if heat is None:
        return found(unknown(context, "baseline_reheat_kWh").evidence, None, None, None)
    whole = heat / facts.heating_efficiency
    share = 1.0 if allowance.baseline_meets_exception else rule.limit
    counts = share * whole
    why = {
        True: "the baseline is stated to meet an exception, so all of it counts",
        False: "the baseline is stated to meet no exception",
        None: "unless the baseline meets an exception (baseline_meets_exception in [allowance])",
    }[allowance.baseline_meets_exception]
    of_type = f" as {facts.heating_type}" if facts.heating_type else ""
    therms = f", {rounded(counts / KWH_PER_THERM)} therms" if display == "I-P" else ""
    sentence = (
        f"{written(share, 'fraction', display)} of the baseline's {energy(whole, display)} of "
        f"reheat energy{of_type}, the heating type of its system, counts: {energy(counts, display)}"
        f"{therms}; {why}."
    )
    if "addendum" in rule.text:
        sentence += " Only where addendum ah is adopted with this edition."
    return found(sentence, share, whole, counts)


# ---------------------------------------------------------------------------------------------
# Single figures of a code


def _first(code: str, edition: str, test: str) -> Rule | None:
    return next((rule for rule in rules_of(code, edition) if rule.test == test), None)


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
    rule = _first(code, edition, "ventilation_heating")
    return None if rule is None else rule.limit


def drying_floor_rh(code: str, edition: str) -> float | None:
    """The relative humidity below which comfort is not to be dried; None where none is set."""
    rule = _first(code, edition, "drying_floor")
    return None if rule is None else rule.limit
