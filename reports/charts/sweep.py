"""Pictures of a sweep: two levers, cost against hours too humid, stations on a map, verdicts."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from dewledger.analysis.sweep.points import Plan, value_text
from dewledger.analysis.sweep.summary import front, solved_rows
from dewledger.case import Case
from dewledger.reports.charts.parts import LINES, Chart, thousands
from dewledger.reports.charts.style import (
    CLOUD,
    INK,
    QUIET,
    RULE,
    RUST,
    SLATE,
    TEAL,
    WIDTH_IN,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_MOST_PANELS = 6
_PANELS = ((3, 4), (2, 8), (1, 10**9))  # in a row, up to so many values across
_MOST_LETTERS = 84  # across the page, level below an axis
_MOST_CELLS = 12  # along a side, to have its number written in
_MARKERS = "osD^vP*X"
# Fill and hatch of each verdict; others are quiet.
_VERDICTS = {
    "complies": (TEAL, ""),
    "does not comply": (RUST, "////"),
    "cannot be determined": ("#ecd9b4", ".."),
    "no reheat": ("#ffffff", ""),
}
_LEAST_STATIONS = 3
_MOST_NAMED = 25  # stations on a map
# Where a station's name may stand, in points, the first that is free.
_SIDES = ((7, 0, "left"), (-7, 0, "right"), (0, 14, "center"), (0, -14, "center"),
          (5, 13, "left"), (5, -13, "left"), (-5, 13, "right"), (-5, -13, "right"))  # fmt: skip
_APART_PIXELS = 30.0  # between two numbers of a front
_MOST_FRONTS = 4
_TITLE: dict[str, Any] = {"x": 0.01, "ha": "left", "fontsize": 10.0, "fontweight": "bold"}


def sweep_charts(annual: pd.DataFrame, case: Case, plan: Plan) -> Iterator[Chart]:
    """The pictures that a sweep has something to show in."""
    solved = solved_rows(annual)
    if not len(solved):
        return
    levers = [lever.path for lever in plan.levers if len(lever.values) > 1]
    if len(levers) >= 2:
        yield _heat_map(solved, case, plan, levers[0], levers[1])
    yield _front(annual, case)
    places = solved[["latitude", "longitude"]].dropna().drop_duplicates()
    if len(places) >= _LEAST_STATIONS and len(case.options) > 1:
        yield _map(solved, case)
    if solved["code_verdict"].nunique() > 1:
        yield _verdicts(solved, case)


def _figure(rows: int, columns: int, height_in: float) -> tuple[Figure, Any]:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_IN, height_in), layout="constrained")
    FigureCanvasAgg(figure)
    return figure, figure.subplots(rows, columns, squeeze=False)


def _short(text: str, most: int = 22) -> str:
    """A value for an axis: a path by its file's name, a long text cut."""
    text = text.replace("\\", "/").rsplit("/", 1)[-1]
    return text if len(text) <= most else f"{text[: most - 1]}…"


def _heat_map(solved: pd.DataFrame, case: Case, plan: Plan, across: str, up: str) -> Chart:
    """Annual cost over two levers, a panel an option, other levers at their first value."""
    at = {lever.path: [value_text(v) for v in lever.values] for lever in plan.levers}
    rest = {path: values[0] for path, values in at.items() if path not in (across, up) and values}
    shown = solved
    for path, value in rest.items():
        shown = shown[shown[path] == value]
    keys = [key for key in case.options if (shown["option"] == key).any()][:_MOST_PANELS]
    money = case.prices.currency
    tables = {
        key: shown[shown["option"] == key]
        .drop_duplicates([across, up])
        .pivot(index=up, columns=across, values="annual_cost")
        .reindex(index=at[up], columns=at[across])
        .to_numpy(dtype=np.float64, na_value=np.nan)
        for key in keys
    }

    also = "; ".join(f"{path} = {value}" for path, value in rest.items())

    def draw() -> Figure:
        from matplotlib.colors import LinearSegmentedColormap

        columns = min(len(keys), next(n for n, most in _PANELS if len(at[across]) <= most))
        rows = -(-len(keys) // columns)
        figure, axes = _figure(rows, columns, rows * (0.9 + 0.28 * len(at[up])) + 0.8)
        colors = LinearSegmentedColormap.from_list("cost", ["#f3f6f8", CLOUD, SLATE])
        low = min(float(np.nanmin(t)) for t in tables.values())
        high = max(float(np.nanmax(t)) for t in tables.values())
        for place, axis in enumerate(axes.flat):
            if place >= len(keys):
                axis.set_axis_off()
                continue
            table = tables[keys[place]]
            axis.imshow(table, cmap=colors, vmin=low, vmax=high, aspect="auto", origin="lower")
            _cells(axis, table, low, high)
            axis.set_title(_short(case.options[keys[place]]["title"], 34))
            axis.set_xticks(range(len(at[across])), [_short(v, 12) for v in at[across]])
            axis.set_yticks(range(len(at[up])), [_short(v) for v in at[up]])
            axis.tick_params(length=0)
            if sum(len(_short(v, 12)) + 2 for v in at[across]) > _MOST_LETTERS // columns:
                axis.set_xticks(
                    axis.get_xticks(), [_short(v, 14) for v in at[across]],
                    rotation=40, ha="right", rotation_mode="anchor",
                )  # fmt: skip
        figure.suptitle(
            f"Annual cost, {money}{_short(f', at {also}', 70) if also else ''}", **_TITLE
        )
        figure.supxlabel(across, fontsize=8.5)
        figure.supylabel(up, fontsize=8.5)
        return figure

    return Chart(
        "sweep-levers",
        f"Annual cost over {across} and {up}",
        f"Annual cost in {money} of each option over {across} and {up}.",
        f"Annual cost of energy and upkeep, {money} a year" + (f", at {also}." if also else "."),
        draw,
    )


def _cells(axis: Axes, table: Any, low: float, high: float) -> None:
    """The number in each cell, where there is room; a cross where a point could not be solved."""
    if max(table.shape) > _MOST_CELLS:
        return
    for (row, column), value in np.ndenumerate(table):
        if np.isnan(value):
            axis.text(column, row, "×", ha="center", va="center", color=QUIET)
            continue
        dark = (value - low) / max(high - low, 1e-9) > 0.65
        axis.text(
            column, row, f"{value:,.0f}", ha="center", va="center", fontsize=7.0,
            color="#ffffff" if dark else INK,
        )  # fmt: skip


def _front(annual: pd.DataFrame, case: Case) -> Chart:
    """Annual cost against hours above the range, every point and option; fronts joined."""
    solved = solved_rows(annual)
    money = case.prices.currency
    stations = list(dict.fromkeys(solved["station"]))
    apart = 1 < len(stations) <= _MOST_FRONTS
    fronts = (
        [(name, front(solved[solved["station"] == name])) for name in stations]
        if apart
        else [("", front(solved))]
    )
    title = "Annual cost against hours too humid"

    def draw() -> Figure:
        figure, axes = _figure(1, 1, 4.2)
        axis = axes[0, 0]
        for place, key in enumerate(case.options):
            mine = solved[solved["option"] == key]
            axis.plot(
                mine["hours_above_range"].to_numpy(dtype=float),
                mine["annual_cost"].to_numpy(dtype=float),
                linestyle="none", marker=_MARKERS[place % len(_MARKERS)], markersize=4.5,
                color=LINES[place % len(LINES)][0], markerfacecolor="none", markeredgewidth=0.9,
                label=_short(case.options[key]["title"], 40),
            )  # fmt: skip
        for (name, best), dash in zip(fronts, ("-", "--", ":", "-."), strict=False):
            hours = best["hours_above_range"].to_numpy(dtype=float)
            cost = best["annual_cost"].to_numpy(dtype=float)
            label = f"Front, {_short(name, 30)}" if name else "Front"
            axis.step(hours, cost, where="post", color=INK, linewidth=1.1, linestyle=dash,
                      label=label)  # fmt: skip
            axis.plot(hours, cost, linestyle="none", marker="o", markersize=9.0, color=INK,
                      markerfacecolor="none", markeredgewidth=1.1)  # fmt: skip
        # Even up to ten hours, by tens beyond: a few hours matter as much as thousands.
        axis.set_xscale("symlog", linthresh=10.0)
        thousands(axis.xaxis)
        thousands(axis.yaxis)
        axis.set_xlabel("Hours above the humidity range (by tens beyond 10)")
        axis.set_ylabel(f"Annual cost, {money}")
        most = float(solved["hours_above_range"].astype(float).max())
        axis.set_xlim(-0.8, max(10.0, 1.3 * most))
        axis.grid(color=RULE, linewidth=0.5)
        axis.set_axisbelow(True)
        figure.suptitle(title, **_TITLE)
        figure.legend(loc="outside lower center", ncols=3, borderaxespad=1.2)
        figure.draw_without_rendering()
        _number(axis, pd.concat([best for _, best in fronts]))
        return figure

    return Chart(
        "sweep-front",
        title,
        "Every point and option by its annual cost and its hours above the humidity range.",
        "Ringed and numbered by point: those that no other beats in both cost and hours"
        + (", station by station." if apart else "."),
        draw,
    )


def _number(axis: Axes, best: pd.DataFrame) -> None:
    """The points of a front by number, those left out that would lie on one before."""
    taken: list[Any] = []
    for row in best.itertuples():
        at = (float(row.hours_above_range), float(row.annual_cost))  # type: ignore[arg-type]
        pixels = axis.transData.transform(at)
        if all(float(np.hypot(*(pixels - other))) > _APART_PIXELS for other in taken):
            taken.append(pixels)
            axis.annotate(f"{row.point}", at, (6, 5), textcoords="offset points", fontsize=7.0)


def _name_places(axis: Axes, by_place: pd.DataFrame) -> None:
    """Each station's name and saving where it covers no other; left out where there is no room."""
    at = axis.transData.transform(by_place[["longitude", "latitude"]].to_numpy(dtype=float))
    taken: list[Any] = []
    for place, row in enumerate(by_place.itertuples()):
        for across, up, side in _SIDES:
            text = axis.annotate(
                f"{_short(str(row.station), 20)}\n{row.cost_saving:,.0f}",
                (float(row.longitude), float(row.latitude)),  # type: ignore[arg-type]
                (across, up), textcoords="offset points", fontsize=7.0, va="center", ha=side,
            )  # fmt: skip
            box = text.get_window_extent().padded(2.0)
            marks = np.delete(at, place, axis=0)
            free = (
                box.x0 >= axis.bbox.x0
                and not any(box.overlaps(other) for other in taken)
                and not any(box.contains(x, y) for x, y in marks)
            )
            if free:
                taken.append(box)
                break
            text.remove()


def _map(solved: pd.DataFrame, case: Case) -> Chart:
    """Stations by latitude and longitude; the saving of the option that saves most while it holds
    the humidity range about as well as the best."""
    others = solved[solved["option"] != case.reference_key]
    hours = solved.groupby("option")["hours_above_range"].mean().astype(float)
    savings = others.groupby("option")["cost_saving"].mean().astype(float)
    # As on page one: what leaves the room humid is no answer, however little it costs.
    fewest = float(hours[savings.index].min())
    held = savings[hours[savings.index] <= max(1.5 * fewest, fewest + 24.0)]
    key = str(held.idxmax())
    mine = others[others["option"] == key]
    by_place = mine.groupby(["station", "latitude", "longitude"], as_index=False)[
        "cost_saving"
    ].mean()
    money = case.prices.currency
    title = case.options[key]["title"]

    def draw() -> Figure:
        figure, axes = _figure(1, 1, 4.2)
        axis = axes[0, 0]
        saving = by_place["cost_saving"].to_numpy(dtype=float)
        most = max(float(np.abs(saving).max()), 1e-9)
        marks = axis.scatter(
            by_place["longitude"].to_numpy(dtype=float), by_place["latitude"].to_numpy(dtype=float),
            c=saving, s=60, cmap="BrBG", vmin=-most, vmax=most, edgecolors=INK, linewidths=0.6,
        )  # fmt: skip
        axis.margins(0.18)
        axis.set_xlabel("Longitude, degrees east")
        axis.set_ylabel("Latitude, degrees north")
        axis.grid(color=RULE, linewidth=0.5)
        axis.set_axisbelow(True)
        figure.suptitle(_short(f"Annual saving: {title}", 80), **_TITLE)
        bar = figure.colorbar(marks, ax=axis, label=f"Saving, {money} a year", shrink=0.8)
        thousands(bar.ax.yaxis)
        if len(by_place) <= _MOST_NAMED:
            figure.draw_without_rendering()
            _name_places(axis, pd.DataFrame(by_place))
        return figure

    return Chart(
        "sweep-map",
        f"Saving of {title} by station",
        f"Stations by latitude and longitude, colored by the annual saving of {title}.",
        "Mean over the points of each station, against the reference option.",
        draw,
    )


def _verdicts(solved: pd.DataFrame, case: Case) -> Chart:
    """The energy code's verdict of every option at every point."""
    keys = [key for key in case.options if (solved["option"] == key).any()]
    kinds = list(dict.fromkeys([*_VERDICTS, *solved["code_verdict"]]))
    seen = [kind for kind in kinds if (solved["code_verdict"] == kind).any()]

    def draw() -> Figure:
        from matplotlib.patches import Patch

        figure, axes = _figure(1, 1, 1.1 + 0.32 * len(keys))
        axis = axes[0, 0]
        for row, key in enumerate(reversed(keys)):
            mine = solved[solved["option"] == key]
            for kind in seen:
                fill, hatch = _VERDICTS.get(kind, ("#e6e9eb", ""))
                points = mine[mine["code_verdict"] == kind]["point"].to_numpy(dtype=float)
                axis.broken_barh(
                    [(p - 0.5, 1.0) for p in points], (row - 0.4, 0.8), facecolor=fill,
                    edgecolor=QUIET if len(solved) < 400 else fill, linewidth=0.4, hatch=hatch,
                )  # fmt: skip
        axis.set_yticks(
            range(len(keys)), [_short(case.options[k]["title"], 34) for k in keys[::-1]]
        )
        axis.set_xlabel("Point")
        axis.xaxis.get_major_locator().set_params(integer=True)
        axis.set_xlim(0.5, float(solved["point"].max()) + 0.5)
        figure.suptitle("Energy code, by point", **_TITLE)
        handles = [
            Patch(facecolor=_VERDICTS.get(k, ("#e6e9eb", ""))[0], edgecolor=QUIET,
                  hatch=_VERDICTS.get(k, ("", ""))[1], label=k)
            for k in seen
        ]  # fmt: skip
        figure.legend(
            handles=handles, loc="outside lower center", ncols=len(handles), borderaxespad=1.2
        )
        return figure

    return Chart(
        "sweep-verdicts",
        "The energy code’s verdict at every point",
        "Verdict of the energy code for every option, by number of the point.",
        "Points are numbered as in annual.csv; verdict-changes.csv gives each reason.",
        draw,
    )
