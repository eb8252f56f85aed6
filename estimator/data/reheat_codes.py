"""Rules of energy codes on reheat: the table reheat_codes.toml."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Literal

from dewledger.quantities import parse
from dewledger.weather.errors import InputError

Role = Literal["base", "exception", "condition", "baseline"]


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
    standing: str
    item: str = ""
    fact: str = ""
    threshold: str = ""
    kind: str = ""
    also: str = ""
    also_kind: str = ""
    applies: tuple[str, ...] = ()
    spaces: tuple[str, ...] = ()
    needed: str = ""
    change: str = ""
    also_change: str = ""

    @property
    def limit(self) -> float:
        """The threshold in the SI unit of its kind."""
        return float(parse(self.threshold, self.kind))

    @property
    def also_limit(self) -> float:
        """The second figure in the SI unit of its kind."""
        return float(parse(self.also, self.also_kind))


@cache
def all_rules() -> tuple[Rule, ...]:
    """Every rule of the table, in its order."""
    path = Path(__file__).parent / "reheat_codes.toml"
    with path.open("rb") as file:
        rows: list[dict[str, Any]] = tomllib.load(file)["rule"]
    return tuple(Rule(**{key: _frozen(value) for key, value in row.items()}) for row in rows)


def _frozen(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


@cache
def known_codes() -> dict[str, tuple[str, ...]]:
    """The editions of each code, oldest first."""
    codes: dict[str, set[str]] = {}
    for rule in all_rules():
        codes.setdefault(rule.code, set()).update(rule.editions)
    return {code: tuple(sorted(editions)) for code, editions in codes.items()}


def rules_of(code: str, edition: str) -> tuple[Rule, ...]:
    """The rules of one edition of a code; InputError lists the known where it is unknown."""
    check_edition(code, edition)
    return tuple(rule for rule in all_rules() if rule.code == code and edition in rule.editions)


def check_edition(code: str, edition: str) -> None:
    """InputError, listing the known, where a code or its edition is not in the table."""
    codes = known_codes()
    if code not in codes:
        raise InputError(f'energy code "{code}" is not known; write one of {_listed(codes)}')
    if edition not in codes[code]:
        raise InputError(
            f'edition "{edition}" of {code} is not known; write one of {_listed(codes[code])}'
        )


def _listed(names: Sequence[str] | dict[str, Any]) -> str:
    return ", ".join(f'"{name}"' for name in names)
