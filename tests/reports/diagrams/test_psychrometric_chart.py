"""The psychrometric chart: geometry, published states, hours, labels."""

import itertools
import math
import re

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from dewledger.components.air_processes import heated, mix
from dewledger.reports.charts.style import png_bytes, svg_text
from dewledger.reports.diagrams.air_process import state_figures, state_headings
from dewledger.reports.diagrams.coil_line import coil_line
from dewledger.reports.diagrams.psychrometric import (
    HumidityRange,
    Process,
    StatePoint,
    Step,
    draw_chart,
    room_line,
)
from dewledger.reports.diagrams.psychrometric_lines import SCALES, density, window
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import (
    enthalpy,
    hum_ratio_from_enthalpy,
    hum_ratio_from_rel_hum,
    hum_ratio_from_wet_bulb,
    rel_hum_from_hum_ratio,
    saturation_hum_ratio,
    wet_bulb,
)
from dewledger.weather.physics.moist_air_arrays import (
    hum_ratios_from_rel_hum,
    saturation_hum_ratios,
)

P = 101325.0
DISPLAYS = ("I-P", "SI")
MM_PER_POINT = 25.4 / 72.0


def F(temp_F):
    return (temp_F - 32.0) / 1.8


W_ROOM = hum_ratio_from_rel_hum(F(75), 0.5, P)
W_MIXED = hum_ratio_from_wet_bulb(F(80), F(67), P)


def drying_hour(pressure=P):
    """80/67 F mixed, 45 F off the coil, reheated to 60 F, a room at 75 F 50 % with ratio 0.53."""
    room = hum_ratio_from_rel_hum(F(75), 0.5, pressure)
    mixed = hum_ratio_from_wet_bulb(F(80), F(67), pressure)
    coil = hum_ratio_from_rel_hum(F(45), 0.98, pressure)
    outdoor = room + (mixed - room) / 0.25
    points = (
        StatePoint("outdoor air", F(95), outdoor, "Ventilation air as it is outdoors."),
        StatePoint("return air", F(75), room, "Air as it leaves the room."),
        StatePoint("mixed air", F(80), mixed, "One part outdoor air, three parts return air."),
        StatePoint("leaving coil", F(45), coil, "Cooled below its dew point."),
        StatePoint("after reheat", F(59), coil, "Condenser heat: sensible only."),
        StatePoint("after fan", heated(F(59), coil, 560.0), coil, "The fan's power ends as heat."),
        StatePoint("room", F(75), room, "Heat and moisture taken up."),
    )
    steps = (
        Step(0, 2, "mixing"),
        Step(1, 2, "mixing"),
        Step(2, 3, "cooling"),
        Step(3, 4, "reheat"),
        Step(4, 5, "fan"),
        Step(5, 6, "room"),
    )
    line = coil_line(F(80), mixed, F(45), coil, pressure)
    return Process(points, steps, line, room_line(F(75), room, 0.53, F(52)), 0.53)


def full_load():
    """95/78 F outdoors, three tenths outdoor air, no reheat."""
    outdoor = hum_ratio_from_wet_bulb(F(95), F(78), P)
    temp, mixed = mix(0.3, F(95), outdoor, F(75), W_ROOM)
    coil = hum_ratio_from_rel_hum(F(53), 0.95, P)
    points = (
        StatePoint("outdoor air", F(95), outdoor, "A design day."),
        StatePoint("return air", F(75), W_ROOM, "Air as it leaves the room."),
        StatePoint("mixed air", temp, mixed, "Three tenths outdoor air."),
        StatePoint("leaving coil", F(53), coil, "The unit at full capacity."),
        StatePoint("supply", F(54.5), coil, "After the fan."),
        StatePoint("room", F(75), W_ROOM, "As the return air."),
    )
    steps = (
        Step(0, 2, "mixing"),
        Step(1, 2, "mixing"),
        Step(2, 3, "cooling"),
        Step(3, 4, "fan"),
        Step(4, 5, "room"),
    )
    return Process(points, steps, coil_line(temp, mixed, F(53), coil, P))


def crowded():
    """Nine states within a tenth of a kelvin, two of them the same."""
    points = tuple(
        StatePoint(f"state {n}", 24.0 + 0.0125 * (n % 8), 0.0093 + 1e-5 * (n % 3), "Close by.")
        for n in range(9)
    )
    return Process(points, tuple(Step(n, n + 1, "other") for n in range(8)))


def winter():
    """Cold outdoor air at altitude: the window has to widen."""
    points = (
        StatePoint("outdoor air", -25.0, 0.0003, "Cold and dry."),
        StatePoint("mixed air", 12.0, 0.004, "Mixed."),
        StatePoint("heated", 30.0, 0.004, "Space heating, not reheat."),
        StatePoint("room", 21.0, 0.0052, "The room."),
    )
    steps = (Step(0, 1, "mixing"), Step(3, 1, "mixing"), Step(1, 2, "other"), Step(2, 3, "room"))
    return Process(points, steps)


def sultry():
    points = (
        StatePoint("outdoor air", 46.0, 0.032, "Hotter and moister than the usual window."),
        StatePoint("leaving coil", 12.0, saturation_hum_ratio(12.0, P), "Saturated."),
    )
    return Process(
        points,
        (Step(0, 1, "cooling"),),
        coil_line(46.0, 0.032, 12.0, saturation_hum_ratio(12.0, P), P),
    )


PROCESSES = {
    "drying": (drying_hour(), P),
    "full load": (full_load(), P),
    "crowded": (crowded(), P),
    "winter": (winter(), 82_000.0),
    "sultry": (sultry(), P),
    "altitude": (drying_hour(83_400.0), 83_400.0),
}
RANGE = HumidityRange(0.40, 0.55, F(70), F(76))


def made_up_year():
    """8760 plausible hours, some off the chart on every side; fixed seed."""
    random = np.random.default_rng(7)
    day = np.arange(8760) / 8760 * 2 * math.pi
    temp = 14.0 - 13.0 * np.cos(day) + random.normal(0.0, 7.0, 8760)
    rel_hum = np.clip(random.normal(0.72, 0.2, 8760), 0.08, 1.0)
    temp[:3] = 60.0
    ratio = hum_ratios_from_rel_hum(temp, rel_hum, P)
    ratio[3], temp[3] = 0.04, 40.0
    return temp, ratio


def chart(process=None, display="I-P", pressure=P, **more):
    return draw_chart(
        pressure_Pa=pressure, display=display, process=process, title="An hour", **more
    )


def lines(figure):
    return {line.get_gid(): line for line in figure.axes[0].lines if line.get_gid()}


def on_page_mm(figure, display, temp_C, hum_ratio):
    """Where a state belongs, worked out from the axes' limits: mm from the figure's corner."""
    axes = figure.axes[0]
    temp = np.asarray(temp_C) * 1.8 + 32.0 if display == "I-P" else np.asarray(temp_C)
    ratio = np.asarray(hum_ratio) * (7000.0 if display == "I-P" else 1000.0)
    (low, high), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    box = axes.get_position()
    width, height = figure.get_size_inches() * 25.4
    x = (box.x0 + (temp - low) / (high - low) * box.width) * width
    y = (box.y0 + (ratio - bottom) / (top - bottom) * box.height) * height
    return np.column_stack([np.atleast_1d(x), np.atleast_1d(y)])


def drawn_mm(figure, line):
    """The line as it is drawn: mm from the figure's corner."""
    pixels = line.get_transform().transform(line.get_xydata())
    return pixels / figure.dpi * 25.4


def distance_mm(point, polyline):
    """From a point to the nearest place on a polyline."""
    a, b = polyline[:-1], polyline[1:]
    along = b - a
    share = np.clip(((point - a) * along).sum(1) / np.maximum((along**2).sum(1), 1e-30), 0.0, 1.0)
    return float(np.hypot(*(a + share[:, None] * along - point).T).min())


@pytest.mark.parametrize("display", DISPLAYS)
@pytest.mark.parametrize("pressure", [P, 83_400.0])
def test_states_lie_on_their_lines(display, pressure):
    figure = chart(display=display, pressure=pressure)
    found = lines(figure)
    wet_bulb_C = F(60.0) if display == "I-P" else 15.0
    wet_bulb_name = "wet-bulb 60" if display == "I-P" else "wet-bulb 15"
    # 30 Btu/lb above 0 F: 1 Btu/lb is 2326 J/kg, and dry air at 0 F stands 1006 x 32/1.8 J/kg
    # below that at 0 C
    joules = 30.0 * 2326.0 - 1006.0 * 32.0 / 1.8 if display == "I-P" else 70_000.0
    enthalpy_name = "enthalpy 30" if display == "I-P" else "enthalpy 70"
    worst, compared = 0.0, 0
    for share in np.linspace(0.003, 0.997, 60):
        sat_C = 0.5 + share * 26.0
        temp = wet_bulb_C + share * 12.0
        warm = 25.5 + share * 14.0
        for name, at, ratio in (
            ("saturation", sat_C, saturation_hum_ratio(sat_C, pressure)),
            ("relative-humidity 50", warm - 5, hum_ratio_from_rel_hum(warm - 5, 0.5, pressure)),
            ("relative-humidity 10", 40 * share, hum_ratio_from_rel_hum(40 * share, 0.1, pressure)),
            (wet_bulb_name, temp, hum_ratio_from_wet_bulb(temp, wet_bulb_C, pressure)),
            (enthalpy_name, warm, hum_ratio_from_enthalpy(joules, warm)),
        ):
            if ratio * (7000.0 if display == "I-P" else 1000.0) > figure.axes[0].get_ylim()[1]:
                continue
            point = on_page_mm(figure, display, at, ratio)[0]
            compared += 1
            worst = max(worst, distance_mm(point, drawn_mm(figure, found[name])))
    assert worst < 0.1
    assert compared > 250


@pytest.mark.published
@pytest.mark.parametrize("display", DISPLAYS)
@pytest.mark.parametrize(
    ("temp_F", "lb_lb"), [(45, 0.006308), (50, 0.007630), (52, 0.008225), (55, 0.009195)]
)
def test_saturation_line_meets_tabulated_states(display, temp_F, lb_lb):
    # Saturated humidity ratios of ASHRAE Fundamentals ch. 1 equations at 14.696 psia, computed
    # with psychrolib 2.5.0. The printed tables hold real-gas values, 0.4 to 0.5 % higher.
    figure = chart(display=display)
    line = drawn_mm(figure, lines(figure)["saturation"])
    assert distance_mm(on_page_mm(figure, display, F(temp_F), lb_lb)[0], line) < 0.1


@pytest.mark.published
@pytest.mark.parametrize(
    ("dry", "wet", "grains", "rel_hum", "dew", "btu_lb"),
    [
        # State table by psychrolib 2.5.0 at 14.696 psia: db, wb, gr/lb, RH %, dew point, Btu/lb
        (80, 67, 78.18, 51.10, 60.32, 31.447),
        (95, 75, 98.46, 39.8, 66.76, 38.316),
        (95, 78, 117.39, 47.3, 71.78, 41.301),
        (70, 66, 89.33, 81.3, 64.02, 30.737),
        (63, 59, 68.08, 79.4, 56.52, 25.711),
    ],
)
def test_key_shows_tabulated_states(dry, wet, grains, rel_hum, dew, btu_lb):
    ratio = hum_ratio_from_wet_bulb(F(dry), F(wet), P)
    shown = state_figures(StatePoint("x", F(dry), ratio, ""), P, "I-P")
    db, gr, rh, wb, dp, h = (float(text) for text in shown)
    assert (db, wb) == (dry, wet)
    assert gr == pytest.approx(grains, abs=0.5)  # three figures
    assert rh == pytest.approx(rel_hum, abs=0.5)  # whole percents
    assert dp == pytest.approx(dew, abs=0.07)  # a tenth, and the table's own last figure
    # three figures; 0.240 Btu/(lb F) of the I-P equation against 1006 J/(kg K): up to 0.03
    assert h == pytest.approx(btu_lb, abs=0.08)


def test_headings_match_figures():
    for display in DISPLAYS:
        point = StatePoint("x", 20.0, 0.007, "")
        assert len(state_headings(display)) == len(state_figures(point, P, display))


@pytest.mark.parametrize("display", DISPLAYS)
def test_reheat_is_level_and_fan_too(display):
    figure = chart(drying_hour(), display)
    for name, line in lines(figure).items():
        if name.startswith(("reheat", "fan")):
            y = line.get_ydata()
            assert y[0] == y[-1]
            assert line.get_xdata()[-1] > line.get_xdata()[0]


def test_states_are_where_they_belong_and_agree_between_displays():
    process = drying_hour()
    figures = {display: chart(process, display) for display in DISPLAYS}
    for number, point in enumerate(process.points, 1):
        for display, figure in figures.items():
            spot = drawn_mm(figure, lines(figure)[f"state {number}"])
            expected = on_page_mm(figure, display, point.temp_C, point.hum_ratio)
            assert np.abs(spot - expected).max() < 0.01
        x_ip, y_ip = lines(figures["I-P"])[f"state {number}"].get_xydata()[0]
        x_si, y_si = lines(figures["SI"])[f"state {number}"].get_xydata()[0]
        assert (x_ip - 32.0) / 1.8 == pytest.approx(x_si, abs=1e-9)
        assert y_ip / 7.0 == pytest.approx(y_si, abs=1e-9)
        # the same state reported in both units: 1 gr/lb = 1/7 g/kg
        ip = [float(t.replace("−", "-")) for t in state_figures(point, P, "I-P")]
        si = [float(t.replace("−", "-")) for t in state_figures(point, P, "SI")]
        assert (ip[0] - 32.0) / 1.8 == pytest.approx(si[0], abs=0.08)
        assert ip[1] / 7.0 == pytest.approx(si[1], rel=0.01)
        assert ip[2] == si[2]


@pytest.mark.parametrize("display", DISPLAYS)
def test_hours_drawn_and_hours_off_the_chart_make_the_year(display):
    temp, ratio = made_up_year()
    scales = SCALES[display]
    shown = window(scales, np.empty(0), np.empty(0))
    cloud = density(scales, shown, temp, ratio)
    assert cloud.hours.sum() + cloud.colder + cloud.hotter + cloud.moister == 8760
    assert cloud.hotter >= 3
    assert cloud.moister >= 1
    shown_temp = temp * 1.8 + 32.0 if display == "I-P" else temp
    assert cloud.colder == (shown_temp < (30.0 if display == "I-P" else 0.0)).sum()
    # mean of the cells, weighted with hours, is the mean of the hours inside
    inside = (cloud.hours * cloud.temp).sum() / cloud.hours.sum()
    kept = (shown_temp >= shown.temp_low) & (shown_temp <= shown.temp_high)
    kept &= scales.ratio(ratio) <= shown.ratio_high
    assert inside == pytest.approx(shown_temp[kept].mean(), rel=1e-9)


@pytest.mark.parametrize("display", DISPLAYS)
def test_dots_hold_their_hours_and_the_legend_says_what_is_left_out(display):
    figure = chart(display=display, hours=made_up_year())
    axes = figure.axes[0]
    (low, high), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    for line in axes.lines:
        if line.get_gid() == "hours":
            x, y = line.get_data()
            assert ((x >= low) & (x <= high) & (y >= bottom) & (y <= top)).all()
    counts = []
    for text in figure.texts:
        words = text.get_text()
        if words.endswith("h shown") or words.startswith("off the chart"):
            counts += [int(part.replace(",", "")) for part in re.findall(r"[\d,]+(?= h)", words)]
    assert len(counts) == 4
    assert sum(counts) == 8760


def words_and_circles(figure):
    """Boxes in pixels of everything written, and of the numbered circles."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.patches import Circle
    from matplotlib.text import Text

    renderer = FigureCanvasAgg(figure).get_renderer()
    figure.draw(renderer)
    boxes = []
    for text in figure.findobj(Text):
        if text.get_visible() and text.get_text().strip():
            boxes.append((text.get_text(), text.get_window_extent(renderer)))
    circles = [c for c in figure.findobj(Circle) if c.get_facecolor()[:3] == (1.0, 1.0, 1.0)]
    return boxes, [circle.get_window_extent(renderer) for circle in circles]


def covers(first, second):
    """Whether two boxes share more than a hair (a quarter of a pixel)."""
    width = min(first.x1, second.x1) - max(first.x0, second.x0)
    height = min(first.y1, second.y1) - max(first.y0, second.y0)
    return width > 0.25 and height > 0.25


@pytest.mark.parametrize(
    ("name", "display", "with_year"),
    [
        *((name, display, False) for name in PROCESSES for display in DISPLAYS),
        ("drying", "I-P", True),
        ("crowded", "SI", True),
        ("winter", "I-P", True),
        ("sultry", "SI", True),
    ],
)
def test_no_label_covers_another(name, display, with_year):
    process, pressure = PROCESSES[name]
    more = {"hours": made_up_year(), "humidity_range": RANGE} if with_year else {}
    figure = chart(process, display, pressure, **more)
    boxes, circles = words_and_circles(figure)
    assert len(circles) == 2 * len(process.points)
    for (a, first), (b, second) in itertools.combinations(boxes, 2):
        assert not covers(first, second), f"{a!r} covers {b!r}"
    for first, second in itertools.combinations(circles, 2):
        assert not covers(first, second)
    for text, box in boxes:
        for circle in circles:
            within = circle.x0 <= box.x0 and box.x1 <= circle.x1  # its own number
            assert within or not covers(box, circle), text
    width, height = figure.get_size_inches() * figure.dpi
    for text, box in boxes:
        inside = box.x0 >= 0 and box.y0 >= 0 and box.x1 <= width and box.y1 <= height
        assert inside, f"{text!r} leaves the figure"


@pytest.mark.parametrize("name", PROCESSES)
def test_numbered_circles_hide_no_state(name):
    process, pressure = PROCESSES[name]
    figure = chart(process, pressure=pressure)
    _, circles = words_and_circles(figure)
    for number in range(1, len(process.points) + 1):
        line = lines(figure)[f"state {number}"]
        x, y = line.get_transform().transform(line.get_xydata())[0]
        assert not any(c.x0 < x < c.x1 and c.y0 < y < c.y1 for c in circles)


def test_long_words_wrap_and_a_dollar_is_a_dollar():
    points = (
        StatePoint(
            "air that leaves the second stage of a wrap-around loop", 12.0, 0.008,
            "A sentence of explanation that is far too long, $3$ a word, for one line. " * 4,
        ),
    )  # fmt: skip
    figure = draw_chart(
        pressure_Pa=P, display="SI", process=Process(points), title="A title " * 20,
        subtitle="words " * 40,
    )  # fmt: skip
    boxes, _ = words_and_circles(figure)
    for (_, first), (_, second) in itertools.combinations(boxes, 2):
        assert not covers(first, second)
    assert any("$3$" in text for text, _ in boxes)
    assert max(box.x1 for _, box in boxes) <= figure.get_size_inches()[0] * figure.dpi


def test_grid_ends_at_saturation():
    from matplotlib.collections import LineCollection

    figure = chart()
    (grid,) = [c for c in figure.axes[0].collections if isinstance(c, LineCollection)]
    for (x, _), (_, top) in grid.get_segments()[:3]:
        assert top / 7000.0 == pytest.approx(saturation_hum_ratio(F(x), P), rel=1e-3)


def test_same_chart_same_bytes():
    first, second = (chart(drying_hour(), hours=made_up_year()) for _ in range(2))
    assert svg_text(first, "hour") == svg_text(second, "hour")
    assert png_bytes(first, 60) == png_bytes(second, 60)
    text = svg_text(first, "hour")
    assert "<dc:date>" not in text
    assert "Matplotlib v" not in text
    assert b"matplotlib" not in png_bytes(first, 60).lower()


def test_room_line_keeps_the_sensible_share():
    # by hand: sensible / total, total being the enthalpy difference between room and supply
    temps, ratios = room_line(F(75), W_ROOM, 0.53, F(55))
    for temp, ratio in list(zip(temps, ratios, strict=True))[1:]:
        sensible = (1006.0 + 1860.0 * ratio) * (F(75) - temp)
        total = enthalpy(F(75), W_ROOM) - enthalpy(temp, ratio)
        assert sensible / total == pytest.approx(0.53, abs=1e-9)
    assert np.all(room_line(24.0, 0.009, 1.0, 14.0)[1] == 0.009)
    with pytest.raises(InputError, match="above 0"):
        room_line(24.0, 0.009, 0.0, 14.0)


@pytest.mark.published
def test_room_line_meets_worked_example():
    # ASHRAE Fundamentals ch. 1 worked example, heat and moisture gain (inputs: not checked against
    # the text; answer computed with psychrolib): room 25/19 C, 9 kW sensible and 0.0015 kg/s vapor
    # at 2555.52 kJ/kg, supply at 15 C: wet bulb 14.02 C. Sensible share 9 / (9 + 0.0015 x 2547.5);
    # tolerance 0.1 K for the two definitions of sensible heat.
    ratio = hum_ratio_from_wet_bulb(25.0, 19.0, P)
    temps, ratios = room_line(25.0, ratio, 9.0 / (9.0 + 0.0015 * 2547.5), 15.0)
    assert wet_bulb(temps[-1], ratios[-1], P) == pytest.approx(14.02, abs=0.1)


@settings(max_examples=15, deadline=None)
@given(
    st.floats(22.0, 38.0),
    st.floats(0.45, 0.75),
    st.floats(6.0, 14.0),
    st.floats(0.90, 1.0),
    st.sampled_from([P, 83_400.0]),
)
@example(25.0, 0.75, 6.0, 1.0, P)  # the straight line leads through fog
@example(31.703125, 0.47194745, 6.0, 0.973917631329998, P)  # all but tangent to saturation
def test_coil_line_is_monotone_convex_and_ends_at_its_states(temp, rh, out, rh_out, pressure):
    entering = hum_ratio_from_rel_hum(temp, rh, pressure)
    leaving = hum_ratio_from_rel_hum(out, rh_out, pressure)
    found = coil_line(temp, entering, out, min(leaving, entering), pressure)
    if found is None:
        # The straight line passes through fog, or, drawn on, never comes to a saturated surface.
        slope = (entering - leaving) / (temp - out)
        through = np.linspace(out, temp, 50)
        beyond = np.linspace(out - 40.0, out, 200)
        saturated = saturation_hum_ratios
        foggy = leaving + slope * (through - out) > saturated(through, pressure)
        meets = leaving + slope * (beyond - out) >= saturated(beyond, pressure)
        assert foggy.any() or not meets.any()
        return
    temps, ratios = found
    assert (temps[0], temps[-1]) == (temp, out)
    assert ratios[0] == pytest.approx(entering, rel=1e-12)
    assert ratios[-1] == pytest.approx(min(leaving, entering), rel=1e-9)
    assert (np.diff(temps) < 0.0).all()
    assert (np.diff(ratios) <= 1e-12).all()
    saturated = saturation_hum_ratios(temps, pressure)
    assert (ratios <= saturated * (1.0 + 1e-9)).all()
    # a real coil bows above the straight line between its ends, unless that leads through fog
    straight = np.interp(-temps, [-temp, -out], [entering, min(leaving, entering)])
    if (straight <= saturated).all():
        assert (ratios >= straight - 2e-5).all()


def test_coil_line_dry_and_impossible():
    temps, ratios = coil_line(27.0, 0.006, 12.0, 0.006, P)
    assert (ratios == 0.006).all()
    assert (temps[0], temps[-1]) == (27.0, 12.0)
    with pytest.raises(InputError, match="cannot warm or moisten"):
        coil_line(20.0, 0.008, 22.0, 0.007, P)
    # drier than any surface can make air that warm
    assert coil_line(27.0, 0.011, 25.0, 0.004, P) is None


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"pressure_Pa": 101.325}, "50000 to 110000"),
        ({"hours": (np.array([20.0]), np.array([np.nan]))}, "without gaps"),
        ({"hours": (np.array([20.0, 21.0]), np.array([0.01]))}, "one length"),
        ({"humidity_range": HumidityRange(0.6, 0.4, 20.0, 24.0)}, "lower to a higher"),
        ({"process": Process((StatePoint("fog", 10.0, 0.012, ""),))}, "more water than air"),
        ({"process": Process((StatePoint("gap", math.nan, 0.012, ""),))}, "off any chart"),
    ],
)
def test_bad_input_is_one_sentence(change, message):
    with pytest.raises(InputError, match=message):
        draw_chart(**{"pressure_Pa": P, "display": "SI", "title": "x", **change})


def test_range_is_shaded_between_its_relative_humidities():
    figure = chart(display="SI", humidity_range=RANGE)
    (patch,) = [p for p in figure.axes[0].patches if p.get_gid() == "range"]
    for temp, ratio in patch.get_xy():
        rel_hum = rel_hum_from_hum_ratio(float(temp), float(ratio) / 1000.0, P)
        assert min(abs(rel_hum - 0.40), abs(rel_hum - 0.55)) < 1e-6


def test_a_numbered_circle_moves_with_its_number_where_a_picture_is_saved_with_a_foot():
    """Figure text goes by the figure; saving a part of the page moves what goes by it alone."""
    from matplotlib.patches import Circle

    from dewledger.reports.diagrams.canvas import new_page

    page = new_page("A", "b", 18.0, 200.0)
    page.number(100.0, 50.0, 3)
    (disc,) = (one for one in page.figure.get_children() if isinstance(one, Circle))
    assert disc.get_transform().contains_branch(page.figure.transFigure)
    center = disc.get_transform().transform((0.0, 0.0))  # of a unit circle
    text = page.figure.texts[-1]
    assert tuple(center) == pytest.approx(
        tuple(text.get_transform().transform(text.get_position()))
    )
