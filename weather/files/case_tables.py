"""CSV files that a case names: hourly loads, hourly carbon, performance tables. One reader for all,
on pandas: every cell as text, so that whoever reads a column can quote what is wrong in it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from dewledger.weather.errors import InputError
from dewledger.weather.files.csv_table import csv_table

if TYPE_CHECKING:
    import pandas as pd

FloatArray = npt.NDArray[np.float64]
# Far above any file of hourly values: what is larger is something else.
MOST_BYTES = 200_000_000


def read_csv_table(path: Path, place: str, key: str, comments: bool = False) -> pd.DataFrame:
    """Cells of a CSV as text, without blank rows; its columns are the heads, its index the lines.

    Parameters
    ----------
    place : how the file is called once it could be opened, such as '[loads.file] "hall.csv"'
    key : the key of the case that names the path, for a path that leads nowhere
    comments : whether lines that begin with # are passed over

    Raises
    ------
    InputError : no such file, no CSV in UTF-8, a row longer than its head, nothing in it
    """
    try:
        if path.exists() and not path.is_file() and not path.is_dir():
            raise InputError(f"{place} is a device or a pipe; name a CSV file")
        if path.is_file() and path.stat().st_size > MOST_BYTES:
            raise InputError(f"{place} is over 200 MB, more than any table of hours; name another")
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except OSError as error:
        reason = error.strerror or "it is no file"
        raise InputError(
            f'{key} "{path}" cannot be read ({reason}); write the path relative to the case file'
        ) from None
    except InputError:
        raise
    except ValueError:  # bytes that are no UTF-8, or a path that no file can have
        raise InputError(f"{place} is not a CSV in UTF-8; save it as one") from None
    kept = [
        (number, line)
        for number, line in enumerate(lines, start=1)
        if line.strip(" \t,;") and not (comments and line.lstrip().startswith("#"))
    ]
    if not kept:
        raise InputError(f"{place} is empty; write a head and the rows below it")
    return csv_table(kept, f"{place}, ")


def numbers_of(cells: pd.Series[str]) -> tuple[FloatArray, int | None]:
    """Cells as numbers, NaN where one is not finite, and the place of the first such cell."""
    import pandas as pd

    values = pd.to_numeric(cells, errors="coerce").to_numpy(dtype=np.float64, copy=True)
    values[~np.isfinite(values)] = np.nan
    wrong = np.flatnonzero(np.isnan(values))
    return values, int(wrong[0]) if wrong.size else None
