"""One option of a case, solved over the year and accounted for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy.typing as npt

from dewledger.accounts.energy import Annual
from dewledger.accounts.names import AccountName
from dewledger.assembly.machine import Machine
from dewledger.case import OptionCase
from dewledger.case.words import nearest
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, repr=False, eq=False)
class OptionYear:
    """One option solved: its case, its machine, its ledger and its accounts.

    ledger : (number of ledger columns, 8760) in the order of ``ledger.COLUMNS``
    annual : totals and indices of the year, names ending in their unit
    months : columns of the months 1..12; ``monthly`` is a table of them
    """

    option: OptionCase
    machine: Machine
    ledger: FloatArray
    annual: Annual
    months: Mapping[str, npt.NDArray[Any]]

    @cached_property
    def monthly(self) -> pd.DataFrame:
        """One row per month; made when it is first asked for."""
        import pandas as pd

        return pd.DataFrame(dict(self.months))

    @property
    def key(self) -> str:
        return self.option.key

    @property
    def title(self) -> str:
        return self.option.title

    def total(self, name: AccountName) -> float:
        """One account of the year; a misspelled name is a type error, and an error.

        NaN where the account is not defined, such as the recovered share of no reheat.
        """
        if name not in self.annual:
            raise InputError(f'account "{name}" is not known{nearest(name, self.annual)}')
        value = self.annual[name]
        return float("nan") if value is None else float(value)

    def __repr__(self) -> str:
        figures = ", ".join(f"{words} {figure}" for words, figure in glance(self))
        return f"<{self.key}: {self.title!r}; {figures}>"


# What a study's repr shows of each option: account, words, factor and sign.
GLANCE = (
    ("electricity_kWh", "electricity", 1.0, " kWh"),
    ("gas_kWh", "gas", 1.0, " kWh"),
    ("energy_cost", "energy cost", 1.0, ""),
    ("recovered_share", "recovered", 100.0, " %"),
    ("hours_above_range", "too humid", 1.0, " h"),
)


def glance(year: OptionYear) -> list[tuple[str, str]]:
    """A few accounts of an option in words and figures, those that it has."""
    found = []
    for name, words, factor, sign in GLANCE:
        value = year.annual.get(name)
        if value is not None:
            found.append((words, f"{factor * float(value):,.0f}{sign}"))
    return found
