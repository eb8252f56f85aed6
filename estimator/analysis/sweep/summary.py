"""What a sweep says at a glance: options over all points, the front, where verdicts change."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from dewledger.analysis.sweep.points import Plan, value_text
from dewledger.case import Case


def solved_rows(annual: pd.DataFrame) -> pd.DataFrame:
    """The rows of points that could be solved."""
    return annual[annual["problem"].isna()]


def by_option(annual: pd.DataFrame, case: Case) -> pd.DataFrame:
    """One row for each option: least, median and most over all points; verdicts counted.

    Columns: option, title, points, then ``<account>_least``, ``_median`` and ``_most``, and
    ``points: <verdict>``.
    """
    rows = []
    solved = solved_rows(annual)
    verdicts = sorted(solved["code_verdict"].unique()) if len(solved) else []
    for key in case.options:
        mine = solved[solved["option"] == key]
        if not len(mine):
            continue
        row: dict[str, object] = {
            "option": key,
            "title": mine["title"].iloc[0],
            "points": len(mine),
        }
        for name in ("annual_cost", "site_kWh", "hours_above_range", "recovered_share"):
            values = mine[name].dropna().to_numpy(dtype=np.float64)
            for word, share in (("least", 0.0), ("median", 50.0), ("most", 100.0)):
                found = np.percentile(values, share) if values.size else None
                row[f"{name}_{word}"] = None if found is None else float(found)
        row |= {f"points: {v}": int((mine["code_verdict"] == v).sum()) for v in verdicts}
        rows.append(row)
    return pd.DataFrame(rows)


def front(annual: pd.DataFrame) -> pd.DataFrame:
    """Rows that no other beats in both annual cost and hours above the range, dearest first."""
    solved = solved_rows(annual).sort_values(
        ["hours_above_range", "annual_cost", "point"], kind="stable"
    )
    least = np.inf
    kept = []
    for place, cost in enumerate(solved["annual_cost"].to_numpy(dtype=np.float64)):
        if cost < least:
            kept.append(place)
            least = cost
    return solved.iloc[kept]


@dataclass(frozen=True)
class Change:
    """A verdict that changes from one value of a lever to the next, all else the same.

    at : what all else is, in words
    """

    option: str
    at: str
    lever: str
    value: str
    next_value: str
    verdict: str
    next_verdict: str
    reason: str


def verdict_changes(annual: pd.DataFrame, plan: Plan) -> list[Change]:
    """Where the energy code's verdict changes between neighbors; none where points have none, as
    those of a Latin hypercube."""
    solved = solved_rows(annual)
    changes = []
    for lever in plan.levers:
        place = {value_text(value): k for k, value in enumerate(lever.values)}
        others = ["option", *(path for path in plan.paths if path != lever.path)]
        alike = solved.groupby(others, sort=False).ngroup().to_numpy()
        order = solved[lever.path].map(place).fillna(-1).to_numpy(dtype=np.int64)
        sorted_rows = np.lexsort((order, alike))
        sorted_rows = sorted_rows[order[sorted_rows] >= 0]
        rows, following = sorted_rows[:-1], sorted_rows[1:]
        verdicts = solved["code_verdict"].to_numpy(dtype=object)
        changed = (
            (alike[rows] == alike[following])
            & (order[following] == order[rows] + 1)
            & (verdicts[rows] != verdicts[following])
        )
        held = [solved[name].to_numpy(dtype=object) for name in others]
        values = solved[lever.path].to_numpy(dtype=object)
        reasons = solved["code_reason"].to_numpy(dtype=object)
        for row, after in zip(rows[changed], following[changed], strict=True):
            at = ", ".join(
                f"{path} = {column[row]}" for path, column in zip(others[1:], held[1:], strict=True)
            )
            changes.append(
                Change(
                    str(held[0][row]), at, lever.path, values[row], values[after],
                    verdicts[row], verdicts[after], reasons[after],
                )
            )  # fmt: skip
    return changes
