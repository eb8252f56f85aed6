"""One hour on the psychrometric chart, and its states, heats and refrigeration in figures."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from dewledger.hourly.types import DRIVERS
from dewledger.quantities import Display, display_unit, in_unit, rounded, show
from dewledger.reports.charts.parts import Chart
from dewledger.reports.diagrams.air_process import (
    HumidityRange,
    Process,
    StatePoint,
    Step,
    StepKind,
    room_line,
    state_figures,
    state_headings,
)
from dewledger.reports.diagrams.coil_line import coil_line
from dewledger.reports.words.numbers import station_pressure
from dewledger.views.air_path import Point
from dewledger.views.hour import HourDetail
from dewledger.weather.physics.moist_air import STANDARD_AIR_DENSITY, FloatArray
from dewledger.weather.physics.moist_air_arrays import saturation_hum_ratios

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from dewledger.assembly.machine import Machine
    from dewledger.views.hour_choice import FoundHour
    from dewledger.weather.year import WeatherYear

# How the chart draws each way by which air comes to a state.
_STEPS: dict[str, StepKind] = {
    "exchange": "other",
    "precooling": "other",
    "cooling": "cooling",
    "reheat": "reheat",
    "fan": "fan",
    "heating": "heating",
    "mean": "mixing",
    "room": "room",
}


_BEYOND_K = 4.0


def process_of(detail: HourDetail) -> Process:
    """The states of an hour and how the air passes between them, ready to draw."""
    points = tuple(
        StatePoint(point.label, point.temp_C, point.hum_ratio, point.explanation)
        for point in detail.points
    )
    steps = []
    coil = None
    for place, point in enumerate(detail.points):
        if point.way == "mixing":
            # outdoor and return air meet; an hour without outdoor air mixes nothing
            first = place - 2 if detail.points[place - 2].flow_kg_s > 0.0 else place - 1
            steps += [Step(start, place, "mixing") for start in range(first, place)]
        elif point.way != "air":
            steps.append(Step(place - 1, place, _STEPS[point.way]))
        if point.way == "cooling":
            coil = _coil(detail.points[place - 1], point, detail.pressure_Pa)
    line = None
    ratio = detail.room_shr
    room, supply = detail.points[-1], detail.points[-2]
    # a ratio near zero is a line that runs off any chart
    if ratio is not None and ratio > 0.05 and supply.temp_C < room.temp_C - 0.05:
        # past the coldest state, so that it shows beyond the supply that lies on it
        reach = min(point.temp_C for point in detail.points[1:]) - _BEYOND_K
        temps, ratios = room_line(room.temp_C, room.hum_ratio, ratio, reach)
        # but no farther than there is moisture to take, and air to hold it
        drawn = (ratios > 0.0) & (ratios < saturation_hum_ratios(temps, detail.pressure_Pa))
        line = temps[drawn], ratios[drawn]
    return Process(points, tuple(steps), coil, line, ratio if line is not None else None)


def _coil(
    entering: Point, leaving: Point, pressure_Pa: float
) -> tuple[FloatArray, FloatArray] | None:
    if leaving.temp_C >= entering.temp_C or leaving.hum_ratio > entering.hum_ratio:
        return None
    return coil_line(
        entering.temp_C, entering.hum_ratio, leaving.temp_C, leaving.hum_ratio, pressure_Pa
    )


def range_of(machine: Machine, hour: int) -> HumidityRange:
    """The humidity range between the temperatures that the hour's set points allow."""
    row = machine.drivers[hour]
    low = float(row[DRIVERS.index("heating_setpoint_C")])
    high = float(row[DRIVERS.index("cooling_setpoint_C")])
    if high - low < 0.5:  # one set point for both is a narrow band about it
        low, high = low - 0.5, high + 0.5
    return HumidityRange(machine.range_low, machine.range_high, low, high)


def hour_chart(
    found: FoundHour, display: Display, *, name: str, title: str = "", key: bool = True
) -> Chart:
    """An hour as a chart.

    Parameters
    ----------
    found : the hour; where its weather year is given, the year's hours are drawn as density
    title : default: that of the option
    key : with the states in figures and words beneath; without, where a table is next to it
    """
    detail = found.detail
    title = title or found.option.title
    pressure = station_pressure(detail.pressure_Pa, display)

    def draw() -> Figure:
        from dewledger.reports.diagrams.psychrometric import draw_chart

        return draw_chart(
            pressure_Pa=detail.pressure_Pa,
            display=display,
            process=process_of(detail),
            hours=_air_of(found.year),
            humidity_range=range_of(found.machine, found.hour),
            title=title if key else "",  # next to a table the page has the title
            subtitle=f"{detail.when} · {found.station} · {pressure}",
            key=key,
        )

    states = "; ".join(
        f"{number} {point.label} {show(point.temp_C, 'temperature', display)}, "
        f"{show(point.hum_ratio, 'humidity ratio', display)}"
        for number, point in enumerate(detail.points, 1)
    )
    return Chart(
        name,
        title,
        f"Psychrometric chart, {title}, {detail.when}: {states}. {detail.decision}",
        "",
        draw,
    )


def _air_of(year: WeatherYear | None) -> tuple[FloatArray, FloatArray] | None:
    """Temperature and humidity ratio of every hour of a weather year."""
    if year is None:
        return None
    return year.arrays["temp_air_C"], year.arrays["hum_ratio"]


class Figures(NamedTuple):
    """A table of text: heads with their units, and rows of a name and figures."""

    heads: tuple[tuple[str, str], ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


# The order of a table of states, of the columns that the chart's key has in its own.
_STATE_ORDER = ("dry bulb", "wet bulb", "dew point", "RH", "humidity ratio", "enthalpy")


def state_table(detail: HourDetail, display: Display) -> Figures:
    """Every numbered state in figures, with its flow as standard air while the fan runs."""
    headings = state_headings(display)
    names = [name for name, _ in headings]
    order = [names.index(name) for name in _STATE_ORDER]
    flow_unit = display_unit("air flow", display)
    rows = []
    for number, point in enumerate(detail.points, 1):
        state = StatePoint(point.label, point.temp_C, point.hum_ratio, point.explanation)
        figures = state_figures(state, detail.pressure_Pa, display)
        flow = in_unit(point.flow_kg_s / STANDARD_AIR_DENSITY, "air flow", flow_unit)
        rows.append(
            (
                f"{number} {point.label}",
                (*(figures[place] for place in order), rounded(flow) if flow > 0.0 else "–"),
            )
        )
    heads = (*(headings[place] for place in order), ("flow", flow_unit))
    return Figures(heads, tuple(rows))


def heat_table(detail: HourDetail, display: Display) -> Figures:
    """The heats between the states, means over the hour."""
    unit = display_unit("heat flow", display)
    rows = tuple(
        (name, (_signed(in_unit(watts, "heat flow", unit)),)) for name, watts in detail.heats
    )
    return Figures((("mean of the hour", unit),), rows)


def refrigeration_table(detail: HourDetail, display: Display) -> Figures:
    """The refrigerant side in figures, each with its unit; empty while the compressor is off."""
    rows = tuple(
        (name, (show(value, kind, display).replace("-", "−"),))
        for name, value, kind in detail.refrigeration
    )
    return Figures((("", ""),), rows)


def _signed(number: float) -> str:
    return rounded(number).replace("-", "−")
