"""The one reader of CSV text: every cell as text, so that who reads a column can quote it."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from dewledger.weather.errors import InputError

if TYPE_CHECKING:
    import pandas as pd

MOST_CELLS = 6_000_000  # a year of five-minute rows with the 46 columns of the widest format: 4.8


def csv_table(lines: Sequence[tuple[int, str]], place: str = "") -> pd.DataFrame:
    """Cells of CSV as stripped text, empty where a row has none.

    Parameters
    ----------
    lines : number and text of each line that is not blank, that of the names first
    place : what an error says before the line, such as '[loads.file] "hall.csv", '

    Returns
    -------
    the cells, columns by the names, index by the lines' numbers

    Raises
    ------
    InputError : a row with more values than there are names, quotes that do not end on their line
    """
    import pandas as pd

    names = names_of(lines[0][1])
    if len(names) * len(lines) > MOST_CELLS:
        raise InputError(
            f"{place}{len(names):,} columns of {len(lines):,} rows are more than any table of "
            "hours; take out the columns that are not needed"
        )
    rows = [_of_width(number, line, len(names), place) for number, line in lines[1:]]
    cells = pd.DataFrame(columns=range(len(names)), dtype=str)
    if rows:
        try:
            cells = pd.read_csv(
                io.StringIO("\n".join(rows)),
                header=None,
                names=range(len(names)),
                index_col=False,
                skipinitialspace=True,
                dtype=str,
                na_filter=False,
                skip_blank_lines=False,
            )
        except pd.errors.ParserError:
            cells = cells.iloc[:0]
    if len(cells) != len(rows):
        raise InputError(
            f"{place}a value in quotes does not end on its line; end it, or take the quotes out"
        )
    cells = cells.fillna("").map(str.strip)
    cells.index = pd.Index([number for number, _ in lines[1:]])
    cells.columns = pd.Index(names)
    return cells


def names_of(line: str) -> list[str]:
    """The names of the columns in the line that has them."""
    return [name.strip() for name in _cells(line)]


def check_names(names: Sequence[str]) -> None:
    """Stop at a name that stands twice: nobody knows which column is meant."""
    twice = [name for name, times in Counter(names).items() if name and times > 1]
    if twice:
        raise InputError(f'column "{twice[0]}" appears twice in the file; keep one of them')


def _cells(line: str) -> list[str]:
    try:
        return next(csv.reader([line], skipinitialspace=True), [])
    except csv.Error:
        raise InputError("a value is longer than any number or name; put its line right") from None


def _of_width(number: int, line: str, width: int, place: str) -> str:
    """A row with no more values than names; empty ones that a spreadsheet leaves are cut off."""
    if line.count(",") < width:
        return line
    cells = _cells(line)
    if any(cell.strip() for cell in cells[width:]):
        raise InputError(
            f"{place}line {number} has more values than the first line has names ({width}); name "
            "every column there, or take out the values without a name, and write decimals with a "
            "point"
        )
    if len(cells) <= width:
        return line
    text = io.StringIO()
    csv.writer(text, lineterminator="").writerow(cells[:width])
    return text.getvalue()
