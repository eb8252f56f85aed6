"""The one reader of CSV text: named columns of cells, and the line that each row stands in."""

import csv
import io
import warnings
from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from dewledger.weather.errors import InputError


@dataclass(frozen=True)
class CsvTable:
    """Cells as text, empty where a row has none; ``places`` are the rows' lines in the file."""

    cells: pd.DataFrame
    places: npt.NDArray[Any]


def csv_table(lines: list[str], above: int = 0) -> CsvTable:
    """Read lines of CSV, the names of the columns in the first that is not blank.

    Parameters
    ----------
    lines : from the line with the names on
    above : lines of the file that stand before them, for the places

    Raises
    ------
    InputError : a name twice, a row with more values than names, quotes that do not end
    """
    names = names_of(lines)
    check_names(names)
    try:
        with warnings.catch_warnings():
            # without this pandas would drop values that stand under no name
            warnings.simplefilter("error", pd.errors.ParserWarning)
            cells = pd.read_csv(
                io.StringIO("\n".join(lines)),
                index_col=False,
                skipinitialspace=True,
                dtype=str,
                keep_default_na=False,
            )
    except (pd.errors.ParserWarning, pd.errors.ParserError, ValueError) as problem:
        raise _unlike_rows(lines, above, problem) from None
    cells.columns = [name or str(given) for name, given in zip(names, cells.columns, strict=True)]
    # pandas passes over blank lines
    places = above + 1 + np.flatnonzero([bool(line.strip()) for line in lines])[1:]
    if places.size != len(cells):
        raise InputError("a value in quotes runs over several lines; put each row on one line")
    return CsvTable(cells.fillna(""), places)


def names_of(lines: list[str]) -> list[str]:
    """The names of the columns, by the first line that is not blank."""
    first = next((line for line in lines if line.strip()), "")
    return [part.strip() for part in next(csv.reader([first], skipinitialspace=True), [])]


def check_names(names: list[str]) -> None:
    """Stop at a name that stands twice: nobody knows which column is meant."""
    twice = [name for name, times in Counter(names).items() if name and times > 1]
    if twice:
        raise InputError(f'column "{twice[0]}" stands twice in the file; keep one of them')


def _unlike_rows(lines: list[str], above: int, problem: Exception) -> InputError:
    """The first row that is longer than the names, or what else pandas says."""
    due = len(names_of(lines))
    for number, line in enumerate(lines, start=above + 1):
        if line.count(",") >= due and len(next(csv.reader([line]), [])) > due:
            return InputError(
                f"line {number} has more values than the first line has names ({due}); name every "
                "column there, or take out the values without a name, and write decimals with a "
                "point"
            )
    return InputError(
        f"the rows cannot be read as CSV ({type(problem).__name__}); give every row as many values "
        "as the first line has names, and write decimals with a point"
    )
