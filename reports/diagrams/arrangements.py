"""Schematic diagrams of the reheat arrangements as SVG: the air above, the refrigerant below.

Hot gas, liquid and suction differ by line style as well as color; where two pipes cross, one hops.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from html import escape
from itertools import pairwise

from dewledger.reports.charts.style import AMBER, INK, QUIET, RUST, SLATE, TEAL
from dewledger.reports.words.estimates import CAUTION

WIDTH, HEIGHT = 700, 296
FOOT = 14  # below the drawing, for its line of caution
DUCT_TOP, DUCT_BOTTOM = 58, 124
COIL_TOP, COIL_BOTTOM = 62, 120
LIQUID_Y, GAS_Y = 168, 252
COOLING_X = 190
_STYLES = {
    "gas": f'stroke="{RUST}" stroke-width="2"',
    "liquid": f'stroke="{SLATE}" stroke-width="2" stroke-dasharray="9 3"',
    "suction": f'stroke="{QUIET}" stroke-width="2" stroke-dasharray="2 3"',
    "loop": f'stroke="{TEAL}" stroke-width="2"',
}
_LABELS = {
    "gas": "hot gas",
    "liquid": "liquid",
    "suction": "suction gas",
    "loop": "loop fluid",
}


@dataclass
class Drawing:
    """SVG elements in the order they are laid down."""

    parts: list[str] = field(default_factory=list)
    used: dict[str, None] = field(default_factory=dict)

    def add(self, markup: str) -> None:
        self.parts.append(markup)

    def text(
        self, x: float, y: float, words: str, anchor: str = "middle", color: str = INK
    ) -> None:
        self.add(
            f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}" fill="{color}">'
            f"{escape(words)}</text>"
        )

    def pipe(
        self,
        kind: str,
        *points: tuple[float, float],
        arrow: bool = True,
        hop: tuple[float, float] | None = None,
    ) -> None:
        """A pipe through points, an arrow head in the middle of its longest part.

        hop : where an upright part passes over another pipe
        """
        self.used[kind] = None
        path = [f"M {points[0][0]:g} {points[0][1]:g}"]
        for start, end in pairwise(points):
            if hop is not None and start[0] == end[0] == hop[0]:
                way = 1 if end[1] > start[1] else -1
                path.append(f"L {hop[0]:g} {hop[1] - 6 * way:g}")
                path.append(f"a 6 6 0 0 {1 if way > 0 else 0} 0 {12 * way:g}")
            path.append(f"L {end[0]:g} {end[1]:g}")
        self.add(f'<path d="{" ".join(path)}" fill="none" {_STYLES[kind]}/>')
        if arrow:
            longest = max(
                pairwise(points),
                key=lambda part: abs(part[1][0] - part[0][0]) + abs(part[1][1] - part[0][1]),
            )
            self._head(kind, *longest, hop)

    def _head(
        self,
        kind: str,
        start: tuple[float, float],
        end: tuple[float, float],
        hop: tuple[float, float] | None,
    ) -> None:
        x, y = (start[0] + end[0]) / 2.0, (start[1] + end[1]) / 2.0
        if hop is not None and abs(y - hop[1]) < 16 and x == hop[0]:
            y += 26 if start[1] > end[1] else -26
        dx = (end[0] > start[0]) - (end[0] < start[0])
        dy = (end[1] > start[1]) - (end[1] < start[1])
        color = _STYLES[kind].split('"')[1]
        corners = [
            (x + 6 * dx, y + 6 * dy),
            (x - 4 * dx - 4.5 * dy, y - 4 * dy - 4.5 * dx),
            (x - 4 * dx + 4.5 * dy, y - 4 * dy + 4.5 * dx),
        ]
        self.add(f'<polygon points="{_joined(corners)}" fill="{color}"/>')

    def coil(self, x: float, label: str, kind: str) -> None:
        """A coil across the duct with its name above."""
        fill = {"cold": "#dfe8ee", "warm": "#f6e3d3", "loop": "#dcebe8", "new": "#fbeccb"}[kind]
        self.add(
            f'<rect x="{x - 14}" y="{COIL_TOP}" width="28" height="{COIL_BOTTOM - COIL_TOP}" '
            f'fill="{fill}" stroke="{INK}" stroke-width="1.2"/>'
        )
        for k in range(4):
            y = COIL_TOP + 9 + 13 * k
            self.add(
                f'<path d="M {x - 9} {y + 6} L {x + 9} {y - 2}" stroke="{QUIET}" '
                'stroke-width="1" fill="none"/>'
            )
        lines = label.split("\n") if label else []
        for k, line in enumerate(lines):
            self.text(x, DUCT_TOP - 8 - 13 * (len(lines) - 1 - k), line)

    def valve(self, x: float, y: float, upright: bool = False) -> None:
        """Two triangles tip to tip."""
        corners = (
            [(x - 6, y - 9), (x + 6, y - 9), (x - 6, y + 9), (x + 6, y + 9)]
            if upright
            else [(x - 9, y - 6), (x - 9, y + 6), (x + 9, y - 6), (x + 9, y + 6)]
        )
        self.add(
            f'<polygon points="{_joined(corners)}" fill="#ffffff" stroke="{INK}" '
            'stroke-width="1.2" stroke-linejoin="round"/>'
        )

    def markup(self, alt: str) -> str:
        """The drawing as one element of a page, its line of caution beneath."""
        foot = (
            f'<text x="4" y="{HEIGHT + 9}" text-anchor="start" font-size="8" fill="{QUIET}">'
            f"{CAUTION}</text>"
        )
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT + FOOT}" '
            f'role="img" aria-label="{escape(alt)}" font-size="12" '
            "font-family=\"'Helvetica Neue', Helvetica, Arial, 'Liberation Sans', sans-serif\">"
            + "".join(self.parts)
            + foot
            + "</svg>"
        )


def _joined(corners: list[tuple[float, float]]) -> str:
    return " ".join(f"{x:g},{y:g}" for x, y in corners)


def _duct(drawing: Drawing, blow_through: bool) -> None:
    """The duct, its air and its fan."""
    drawing.add(
        f'<rect x="26" y="{DUCT_TOP}" width="{WIDTH - 52}" height="{DUCT_BOTTOM - DUCT_TOP}" '
        f'fill="#f7f8f8" stroke="none"/>'
    )
    for y in (DUCT_TOP, DUCT_BOTTOM):
        drawing.add(
            f'<path d="M 26 {y} L {WIDTH - 26} {y}" stroke="{QUIET}" stroke-width="1.4" '
            'fill="none"/>'
        )
    middle = (DUCT_TOP + DUCT_BOTTOM) / 2
    for x in (34, WIDTH - 78):
        drawing.add(
            f'<path d="M {x} {middle} l 30 0 m -8 -5 l 8 5 l -8 5" stroke="{QUIET}" '
            'stroke-width="1.4" fill="none"/>'
        )
    drawing.text(28, DUCT_BOTTOM + 16, "mixed air", "start", QUIET)
    drawing.text(WIDTH - 28, DUCT_BOTTOM + 16, "supply air", "end", QUIET)
    x = 96 if blow_through else WIDTH - 108
    drawing.add(
        f'<circle cx="{x}" cy="{middle}" r="17" fill="#ffffff" stroke="{INK}" stroke-width="1.2"/>'
    )
    drawing.add(
        f'<path d="M {x - 12} {middle - 12} L {x + 17} {middle} L {x - 12} {middle + 12}" '
        f'stroke="{INK}" stroke-width="1.2" fill="none"/>'
    )
    drawing.text(x, DUCT_TOP - 8, "fan")


def _compressor(drawing: Drawing, x: float, y: float) -> None:
    drawing.add(
        f'<circle cx="{x}" cy="{y}" r="17" fill="#ffffff" stroke="{INK}" stroke-width="1.2"/>'
    )
    drawing.add(
        f'<path d="M {x - 14} {y - 9} L {x - 7} {y + 15} M {x + 14} {y - 9} L {x + 7} {y + 15}" '
        f'stroke="{INK}" stroke-width="1.2" fill="none"/>'
    )
    drawing.text(x - 24, y + 4, "compressor", "end")


def _outdoor_coil(drawing: Drawing, x: float, y: float) -> None:
    drawing.add(
        f'<rect x="{x}" y="{y - 16}" width="96" height="32" fill="#f0f0ee" stroke="{INK}" '
        'stroke-width="1.2"/>'
    )
    for k in range(7):
        at = x + 12 + 12 * k
        drawing.add(
            f'<path d="M {at - 4} {y + 9} L {at + 4} {y - 9}" stroke="{QUIET}" stroke-width="1" '
            'fill="none"/>'
        )
    drawing.text(x + 48, y + 31, "outdoor coil")


def _circuit(drawing: Drawing, branch: tuple[float, str] | None, liquid_coil: float | None) -> None:
    """The refrigerant: suction, hot gas to the outdoor coil and a branch, liquid back.

    branch : where a reheat coil stands, and the words for its valve
    liquid_coil : where a coil stands that the liquid passes
    """
    suction_x, liquid_x = COOLING_X - 7, COOLING_X + 7
    compressor = (suction_x, 214)
    drawing.pipe("suction", (suction_x, COIL_BOTTOM), (suction_x, 197), arrow=True)
    out_x, back_x = 470.0, 600.0
    valve_x = None
    hop = None
    if branch is not None:
        coil_x, words = branch
        valve_x = coil_x - 7
        hop = (valve_x, float(LIQUID_Y))
        drawing.pipe("gas", (suction_x, 231), (suction_x, GAS_Y), (valve_x - 9, GAS_Y))
        drawing.pipe("gas", (valve_x + 9, GAS_Y), (out_x, GAS_Y))
    else:
        drawing.pipe("gas", (suction_x, 231), (suction_x, GAS_Y), (out_x, GAS_Y))
    _outdoor_coil(drawing, out_x, GAS_Y)
    corner = [(out_x + 96, float(GAS_Y)), (back_x, float(GAS_Y)), (back_x, float(LIQUID_Y))]
    end = [(float(liquid_x), float(LIQUID_Y)), (float(liquid_x), float(COIL_BOTTOM))]
    if liquid_coil is None:
        drawing.pipe("liquid", *corner, *end)
    else:
        drawing.pipe("liquid", *corner, (liquid_coil + 7, LIQUID_Y), (liquid_coil + 7, COIL_BOTTOM))
        drawing.pipe(
            "liquid", (liquid_coil - 7, COIL_BOTTOM), (liquid_coil - 7, LIQUID_Y), *end, arrow=False
        )
    if branch is not None:
        coil_x, words = branch
        drawing.pipe("gas", (coil_x - 7, GAS_Y - 9), (coil_x - 7, COIL_BOTTOM), hop=hop)
        drawing.pipe("liquid", (coil_x + 7, COIL_BOTTOM), (coil_x + 7, LIQUID_Y), arrow=False)
        drawing.valve(coil_x - 7, GAS_Y)
        drawing.add(
            f'<path d="M {coil_x - 13} {GAS_Y - 3} L {coil_x - 1} {GAS_Y - 3} '
            f'L {coil_x - 7} {GAS_Y - 14} Z" fill="#ffffff" stroke="{INK}" stroke-width="1.2"/>'
        )
        drawing.text(coil_x - 7, GAS_Y + 24, words)
    drawing.valve(240, LIQUID_Y)
    drawing.text(240, LIQUID_Y + 22, "expansion valve")
    _compressor(drawing, *compressor)


def _key(drawing: Drawing) -> None:
    x = 28.0
    for kind in drawing.used:
        drawing.add(f'<path d="M {x:g} {HEIGHT - 8} l 30 0" fill="none" {_STYLES[kind]}/>')
        drawing.text(x + 36, HEIGHT - 4, _LABELS[kind], "start", QUIET)
        x += 50 + 7.2 * len(_LABELS[kind])


def _purchased_coil(drawing: Drawing, x: float, source: str) -> None:
    drawing.coil(x, f"{source}\nreheat", "new")
    middle = (COIL_TOP + COIL_BOTTOM) / 2
    drawing.add(
        f'<path d="M {x - 3:g} {middle - 9:g} l 6 7 l -6 4 l 6 7" fill="none" '
        f'stroke="{AMBER}" stroke-width="1.6"/>'
    )


def _finished(drawing: Drawing, trim: str | None, alt: str, trim_x: float = 500) -> str:
    if trim is not None:
        _purchased_coil(drawing, trim_x, trim)
        alt += f" A coil of {trim} heat follows."
    _key(drawing)
    return drawing.markup(alt)


def condenser_diagram(
    on_off: bool, trim: str | None, blow_through: bool, first: str | None = None
) -> str:
    """Reheat coil in parallel with the outdoor coil, its valve modulating or on/off.

    first : purchased heat that stands before it
    """
    drawing = Drawing()
    _duct(drawing, blow_through)
    words = "valve, open or shut" if on_off else "modulating valve"
    _circuit(drawing, (370, words), None)
    drawing.coil(COOLING_X, "cooling coil", "cold")
    if first is not None:
        _purchased_coil(drawing, 280, first)
    drawing.coil(370, "reheat coil", "warm")
    between = f"a coil of {first} heat, " if first is not None else ""
    return _finished(
        drawing, trim,
        f"Air passes a cooling coil, {between}then a reheat coil. Hot gas from the compressor "
        f"divides at a {words} between the outdoor coil and the reheat coil; liquid from both "
        "returns.",
    )  # fmt: skip


def subcooling_diagram(condenser: bool, trim: str | None, blow_through: bool) -> str:
    """Liquid coil after the cooling coil; a condenser-heat coil after it where there is one."""
    drawing = Drawing()
    _duct(drawing, blow_through)
    _circuit(drawing, (410, "modulating valve") if condenser else None, 310)
    drawing.coil(COOLING_X, "cooling coil", "cold")
    drawing.coil(310, "subcooling\ncoil", "warm")
    alt = (
        "Air passes a cooling coil, then a coil through which all the liquid flows on its way to "
        "the expansion valve."
    )
    if condenser:
        drawing.coil(410, "reheat coil", "warm")
        alt += " A hot-gas reheat coil follows, fed through a modulating valve."
    return _finished(drawing, trim, alt)


def wrap_around_diagram(trim: str | None, blow_through: bool) -> str:
    """Two coils of a loop before and after the cooling coil."""
    drawing = Drawing()
    _duct(drawing, blow_through)
    before, after = COOLING_X - 50.0, COOLING_X + 90.0
    _circuit(drawing, None, None)
    top = 20.0
    drawing.pipe("loop", (before, COIL_TOP), (before, top), (after, top), (after, COIL_TOP))
    drawing.coil(COOLING_X, "cooling coil", "cold")
    drawing.coil(before, "", "loop")
    drawing.coil(after, "", "loop")
    drawing.text(after + 10, top + 4, "wrap-around loop", "start", QUIET)
    return _finished(
        drawing, trim,
        "A loop’s first coil takes heat from the air before the cooling coil; its second gives the "
        "same heat back after it.",
    )  # fmt: skip


def purchased_diagram(blow_through: bool) -> str:
    """Purchased heat alone after the cooling coil."""
    drawing = Drawing()
    _duct(drawing, blow_through)
    _circuit(drawing, None, None)
    drawing.coil(COOLING_X, "cooling coil", "cold")
    return _finished(
        drawing, "purchased", "Air passes a cooling coil, then a purchased-heat coil.", 370
    )
