"""A column of a weather file in our unit, its missing codes as NaN."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray

if TYPE_CHECKING:
    import numpy.typing as npt
    import pandas as pd

    Lines = Sequence[int] | pd.Index | npt.NDArray[np.int64]

LONGEST_NUMBER = 40  # characters
MISSING_WORDS = ("", "nan", "na")


@dataclass(frozen=True)
class Column:
    """One of our columns in a format: its name there, its factor to our unit, missing codes.

    Pressure keeps the format's unit, since files err in it; its range decides later.

    Values at or below ``missing_from_below`` or at or above ``missing_from_above`` are codes, and
    so is ``missing`` itself.
    """

    theirs: str
    factor: float = 1.0
    missing_from_above: float = np.inf
    missing_from_below: float = -np.inf
    missing: float = np.nan


def read_column(table: pd.DataFrame, column: Column, places: Lines) -> FloatArray | None:
    """One column in our unit with its missing codes as NaN; None where the table lacks it.

    ``places`` are the lines of the file that the table's rows stand in, for errors.
    """
    if column.theirs not in table.columns:
        return None
    raw = table[column.theirs]
    if raw.ndim > 1:
        raise InputError(f'column "{column.theirs}" appears twice in the file; keep one of them')
    if raw.dtype.kind in "if":
        numbers = raw.to_numpy(dtype=np.float64, copy=True)
    else:
        numbers = _numbers(raw, column.theirs, places)
    codes = (numbers >= column.missing_from_above) | (numbers <= column.missing_from_below)
    numbers[codes | (numbers == column.missing)] = np.nan
    return numbers * column.factor


def _numbers(raw: pd.Series, name: str, places: Lines) -> FloatArray:
    """Text as numbers, empty ones as NaN."""
    import pandas as pd

    text = raw.astype("string").str.strip().fillna("")
    missing = text.str.lower().isin(MISSING_WORDS).to_numpy(dtype=bool)
    short = (text.str.len() <= LONGEST_NUMBER).to_numpy(dtype=bool)
    written = text.where(short & ~missing)
    numbers = pd.to_numeric(written, errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)
    wrong = ~np.isfinite(numbers) & ~missing
    if wrong.any():
        row = int(np.argmax(wrong))
        raise InputError(
            f'line {places[row]} has "{text.iloc[row]}" where a number is due '
            f"({name}); write a number or leave it empty"
        )
    return np.where(missing, np.nan, numbers)
