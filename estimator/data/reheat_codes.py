"""Rules of energy codes on reheat: the table reheat_codes.toml."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from dewledger.data.standings import READ, SECOND_HAND, UNCHECKED
from dewledger.data.tables import read_table
from dewledger.quantities import parse
from dewledger.weather.errors import InputError

Role = Literal["rule", "exception", "condition", "baseline"]

_TABLE = "reheat_codes.toml"


@dataclass(frozen=True)
class Edition:
    """An edition of a code as a whole; the fields are explained at the head of the table."""

    code: str
    edition: str
    note: str = ""
    path: str = ""
    not_judged: str = ""
    superseded: bool = False
    text_not_read: bool = False

    @property
    def name(self) -> str:
        """What it is called with a section: "90.1-2019", "Florida commercial"."""
        return f"{self.code}{'-' if self.edition.isdigit() else ' '}{self.edition}"


@dataclass(frozen=True)
class Rule:
    """One requirement of a code; the fields are explained at the head of the table."""

    code: str
    editions: tuple[str, ...]
    section: str
    role: Role
    test: str
    text: str
    source: str
    item: str = ""
    fact: str = ""
    threshold: str = ""
    kind: str = ""
    also: str = ""
    also_kind: str = ""
    size: str = ""
    applies: tuple[str, ...] = ()
    spaces: tuple[str, ...] = ()
    by_zone: tuple[tuple[str, str], ...] = ()
    needed: str = ""
    exits: tuple[str, ...] = ()
    read: tuple[str, ...] = ()
    second_hand: tuple[str, ...] = ()
    check: str = ""

    @property
    def limit(self) -> float:
        """The threshold in the SI unit of its kind."""
        return float(parse(self.threshold, self.kind))

    @property
    def also_limit(self) -> float:
        """The second figure in the SI unit of its kind."""
        return float(parse(self.also, self.also_kind))

    @property
    def size_W(self) -> float:
        """The unit size from which the rule holds."""
        return float(parse(self.size, "heat flow"))

    def standing(self, edition: str) -> str:
        """How well the rule is known in an edition: one of the three standings."""
        if edition in self.read:
            return READ
        return SECOND_HAND if edition in self.second_hand else UNCHECKED


@cache
def all_rules() -> tuple[Rule, ...]:
    """Every rule of the table, in its order."""
    return tuple(
        Rule(**{key: _frozen(value) for key, value in row.items()})
        for row in read_table(_TABLE)["rule"]
    )


def _frozen(value: Any) -> Any:
    if isinstance(value, dict):
        return tuple(value.items())
    return tuple(value) if isinstance(value, list) else value


@cache
def known_codes() -> dict[str, tuple[str, ...]]:
    """The editions of each code, in the order of the table."""
    codes: dict[str, tuple[str, ...]] = {}
    for row in read_table(_TABLE)["edition"]:
        codes[row["code"]] = (*codes.get(row["code"], ()), row["edition"])
    return codes


def edition_of(code: str, edition: str) -> Edition:
    """An edition of a code; InputError lists the known where it is unknown."""
    check_edition(code, edition)
    return next(
        Edition(**row)
        for row in read_table(_TABLE)["edition"]
        if row["code"] == code and row["edition"] == edition
    )


def rules_of(code: str, edition: str) -> tuple[Rule, ...]:
    """The rules of one edition of a code; InputError lists the known where it is unknown."""
    check_edition(code, edition)
    return tuple(rule for rule in all_rules() if rule.code == code and edition in rule.editions)


def check_edition(code: str, edition: str) -> None:
    """InputError, listing the known, where a code or its edition is not in the table."""
    codes = known_codes()
    if code not in codes:
        raise InputError(f'energy code "{code}" is not known; write one of {listed(codes)}')
    if edition not in codes[code]:
        raise InputError(
            f'edition "{edition}" of {code} is not known; write one of {listed(codes[code])}'
        )


def listed(names: Sequence[str] | dict[str, Any]) -> str:
    """Names in quotes, with commas."""
    return ", ".join(f'"{name}"' for name in names)
