"""A study as files for machines: the summary, the monthly table, the hourly ledgers.

The same study gives the same bytes: fixed decimals, sorted keys, no clock.
"""

from __future__ import annotations

import csv
import io
import json
import math
from dataclasses import asdict, is_dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from dewledger.hourly.ledger import COLUMNS
from dewledger.reports.files.number_text import Characters, fixed_decimals, joined
from dewledger.reports.handover.section import Handover, handover_of, handover_summary
from dewledger.reports.page.cautions import findings_summary
from dewledger.reports.page.code import code_summary
from dewledger.reports.page.criteria import humidity_summary
from dewledger.reports.page.meter import meter_summary
from dewledger.reports.page.money import money_summary
from dewledger.reports.page.reheat_sizing import bounds_summary, sizing_summary
from dewledger.reports.page.sensitivity import sensitivity_summary
from dewledger.reports.words.estimates import CAUTION
from dewledger.study import versions
from dewledger.weather.errors import InputError

if TYPE_CHECKING:
    from dewledger.accounts.option_year import OptionYear
    from dewledger.study import Study
    from dewledger.weather.physics.moist_air import FloatArray

# Decimals of each unit in the hourly file: about six significant figures of what matters.
DECIMALS = {
    "C": 4,
    "kg/kg": 8,
    "-": 6,
    "kg/s": 6,
    "kWh": 6,
    "kg": 6,
    "0/1": 0,
}
HOURLY_HEAD = ("month", "day", "hour", "occupied")
_FIGURES = 9  # of a float in summary.json


def plain(value: Any) -> Any:
    """A value as JSON takes it: dataclasses as objects, floats to nine figures, no NaN."""
    if is_dataclass(value) and not isinstance(value, type):
        return plain(asdict(value))
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        return float(f"{float(value):.{_FIGURES}g}") if math.isfinite(value) else None
    return value if value is None or isinstance(value, str) else str(value)


def case_toml(study: Study) -> str:
    """The case as understood, defaults filled in, as TOML."""
    return study.case.to_toml()


def summary(study: Study, handed: Handover | None = None) -> dict[str, Any]:
    """What the study found and what it came from, as the content of summary.json.

    handed : commissioning and design hours, where they are computed already
    """
    handover = handed or handover_of(study)
    content = {
        "title": study.case.title,
        "display": study.case.display,
        "case_sha256": study.case.digest(),
        "reference": study.reference.key,
        "option_order": [option.key for option in study.options],
        "options": {
            option.key: {
                "title": option.title,
                "annual": option.annual,
                "notes": list(option.machine.notes),
                "code": code_summary(study.judgments[option.key]),
                "findings": findings_summary(study.judgments[option.key]),
                "humidity": humidity_summary(study.judgments[option.key]),
                "moisture_removal_efficiency": study.judgments[option.key].efficiency,
                "ratings": study.ratings[option.key],
                "reheat_sizing": sizing_summary(study.sizings[option.key]),
                "drying_bounds": bounds_summary(study, option),
                **handover_summary(study, option, handover),
            }
            for option in study.options
        },
        "money": money_summary(study),
        "sensitivity": sensitivity_summary(study),
        "meter": meter_summary(study),
        "weather": {
            "station": study.weather.station,
            "findings": [
                {key: value for key, value in asdict(finding).items() if key != "hours"}
                for finding in study.weather.findings
            ],
        },
        "versions": versions(),
        "ledger": [asdict(column) for column in COLUMNS],
    }
    return plain(content)  # type: ignore[no-any-return]


def summary_json(study: Study, handed: Handover | None = None) -> str:
    """summary.json: the caution first, then sorted keys; two-space indent."""
    content = {"caution": CAUTION} | _sorted(summary(study, handed))
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _sorted(value: Any) -> Any:
    """Objects with their keys in order, at every depth."""
    if isinstance(value, dict):
        return {key: _sorted(value[key]) for key in sorted(value)}
    return [_sorted(item) for item in value] if isinstance(value, list) else value


def monthly_csv(study: Study) -> str:
    """monthly.csv: a row per option and month, the unit in each column's name."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    names = list(study.options[0].months)
    writer.writerow(["option", *names])
    for option in study.options:
        for row in zip(*(option.months[name] for name in names), strict=True):
            writer.writerow([option.key, *(_cell(value) for value in row)])
    return buffer.getvalue()


def annual_csv(study: Study) -> str:
    """annual.csv: a row per option, a column per figure of the annual account that is a number."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    names = [
        name
        for name in study.options[0].annual
        if all(
            isinstance(option.annual[name], int | float | np.number | None)
            for option in study.options
        )
    ]
    writer.writerow(["option", *names])
    for option in study.options:
        values = (option.annual[name] for name in names)
        writer.writerow([option.key, *("" if value is None else _cell(value) for value in values)])
    return buffer.getvalue()


def hourly_parquet(study: Study, option: OptionYear) -> bytes:
    """hourly-<option>.parquet: the columns of the hourly CSV, unrounded.

    Raises
    ------
    InputError : the library that writes Parquet is not installed
    """
    import pandas as pd

    arrays = study.weather.arrays
    head = {name: arrays[name] for name in HOURLY_HEAD[:3]}
    head[HOURLY_HEAD[3]] = np.asarray(option.machine.calendar.occupied, dtype=np.int64)
    ledger = {column.name: kept for column, kept in zip(COLUMNS, option.ledger, strict=True)}
    buffer = io.BytesIO()
    try:
        pd.DataFrame(head | ledger).to_parquet(buffer, index=False)
    except ImportError:
        raise InputError(
            "--format parquet needs a library that writes it; install it with: "
            'pip install "dewledger[parquet]"'
        ) from None
    return buffer.getvalue()


def _cell(value: Any) -> str:
    if isinstance(value, int | np.integer):
        return str(int(value))
    return f"{float(value) + 0.0:.6f}" if math.isfinite(value) else ""


def hourly_csv(
    study: Study,
    option: OptionYear,
    written: dict[str, tuple[FloatArray, Characters]] | None = None,
) -> str:
    """hourly-<option>.csv: month, day, hour (its start), occupied, then the ledger's columns.

    An empty cell is a value that does not exist in the hour.

    written : the columns of the option before and their text, by name, filled with those of this
        one: a column that is the same is not written anew
    """
    written = {} if written is None else written
    arrays = study.weather.arrays
    hours = [arrays[name] for name in HOURLY_HEAD[:3]]
    fields = [fixed_decimals(mark, 0) for mark in (*hours, option.machine.calendar.occupied)]
    for column, kept in zip(COLUMNS, option.ledger, strict=True):
        before = written.get(column.name)
        if before is None or not np.array_equal(before[0], kept, equal_nan=True):
            decimals = DECIMALS.get(column.unit)
            text = _scientific(kept) if decimals is None else fixed_decimals(kept, decimals)
            written[column.name] = kept, text
        fields.append(written[column.name][1])
    head = ",".join([*HOURLY_HEAD, *(column.name for column in COLUMNS)])
    return joined(fields, f"{head}\n")


def _scientific(values: FloatArray) -> Characters:
    """Numbers as ``f"{value:.2e}"`` writes them; what does not exist (NaN) is blank."""
    width = 10
    packed = (f"%{width}.2e" * len(values)) % tuple(values.tolist())
    text = np.frombuffer(bytearray(packed, "ascii"), np.uint8).reshape(-1, width)
    text[np.isnan(values)] = ord(" ")
    return text
