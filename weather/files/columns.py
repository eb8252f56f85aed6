"""A column of a weather file in our unit, its missing codes as NaN."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import FloatArray


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


def read_column(
    table: pd.DataFrame, column: Column, places: np.ndarray[Any, Any]
) -> FloatArray | None:
    """One column in our unit with its missing codes as NaN; None where the table lacks it.

    ``places`` are the lines of the file that the table's rows stand in, for errors.
    """
    if column.theirs not in table.columns:
        return None
    raw = table[column.theirs]
    numbers = pd.to_numeric(raw, errors="coerce").to_numpy(dtype=np.float64, copy=True)
    if raw.dtype.kind not in "if":
        text = raw.astype("string").str.strip().fillna("")
        wrong = np.isnan(numbers) & ~text.str.lower().isin(["", "nan", "na"]).to_numpy(dtype=bool)
        if wrong.any():
            row = int(np.argmax(wrong))
            raise InputError(
                f'line {places[row]} has "{text.iloc[row]}" where a number is due '
                f"({column.theirs}); write a number or leave it empty"
            )
    codes = (numbers >= column.missing_from_above) | (numbers <= column.missing_from_below)
    numbers[codes | (numbers == column.missing)] = np.nan
    return numbers * column.factor
