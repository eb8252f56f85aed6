"""One look for every chart: inks, fills, line styles, sizes, and saving that repeats byte for byte.

Every series differs by lightness, dash or marker as well as by hue, so that a gray print and a
color-blind reader lose nothing.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dewledger.reports.words.estimates import CAUTION
from dewledger.weather.errors import InputError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH_IN = 7.1  # the text width of A4 and Letter
POINTS_PER_IN = 72.0
FOOT_IN = 0.16  # below each picture, for its line of caution
_FOOT_GID = "caution"

INK = "#22303a"  # text and what matters most
QUIET = "#5d6a73"  # second text, axes
FAINT = "#a4aeb5"  # reference lines a reader may want to follow
MIDDLE = "#8b979f"  # reference lines
RULE = "#d5dade"  # grids
IN_RANGE = "#e6efe9"  # inside a wanted range
RANGE_EDGE = "#9db5a6"
CLOUD = "#b3c3ce"  # many hours at once

SLATE = "#2f4b5f"
TEAL = "#2c7a72"
AMBER = "#d98e32"
RUST = "#a3482e"
PLUM = "#8a5a83"
OLIVE = "#7d8a2e"

STYLE: dict[str, Any] = {
    "font.family": "sans-serif",
    "font.size": 8.5,
    "axes.linewidth": 0.6,
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    "axes.labelsize": 8.5,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "xtick.major.size": 3.0,
    "ytick.major.size": 3.0,
    "text.color": INK,
    "text.parse_math": False,  # a dollar sign in a title is a dollar sign
    "lines.solid_capstyle": "round",
    "lines.dash_capstyle": "butt",
    "text.hinting": "none",  # widths that do not depend on the resolution
    "svg.fonttype": "none",
    "savefig.facecolor": "white",
}


@contextmanager
def style_context(name: str = "chart") -> Iterator[None]:
    """The look, to draw within: ``with style_context(): ...``; ``name`` salts the ids of an SVG."""
    import matplotlib as mpl

    settings: Any = {**STYLE, "svg.hashsalt": name}
    with mpl.rc_context(settings), warnings.catch_warnings():
        # a title may hold a sign the font lacks, such as an emoji; the reader of an SVG has others
        warnings.filterwarnings("ignore", "Glyph .* missing from font")
        yield


_NO_GLYPHS = "(written in signs this picture has no font for)"

# No clock and no program's version in a file: the same figure gives the same bytes.
_METADATA: dict[str, dict[str, None]] = {
    "png": {"Software": None},
    "svg": {"Date": None, "Creator": None, "Format": None},
    "pdf": {"CreationDate": None, "Creator": None, "Producer": None},
}


def picture_format(path: Path) -> str:
    """The format that a picture's suffix names; raises InputError where it names none."""
    kind = path.suffix.lower().removeprefix(".")
    if kind not in _METADATA:
        raise InputError(
            f'"{path}" has no picture suffix; write a name that ends in '
            f"{', '.join(f'.{known}' for known in _METADATA)}"
        )
    return kind


def save_picture(figure: Figure, path: Path, name: str) -> None:
    """Write a figure as .png, .svg or .pdf, whole or not at all.

    Raises
    ------
    InputError : another suffix, or a path that cannot be written
    """
    content = picture_bytes(figure, picture_format(path), name)
    try:
        path.write_bytes(content)
    except OSError as problem:
        raise InputError(
            f'"{path}" cannot be written ({problem.strerror or problem}); write a path in a '
            "folder that exists"
        ) from None


def picture_bytes(
    figure: Figure, kind: str, name: str = "chart", dots_per_inch: int = 200
) -> bytes:
    """The figure as "png", "svg" or "pdf"; ``name`` salts the ids of an SVG."""
    buffer = io.BytesIO()
    if kind != "svg":  # who reads an SVG has fonts of his own
        _keep_to_font(figure)
    write_caution(figure)
    with style_context(name):
        figure.savefig(buffer, format=kind, dpi=dots_per_inch, metadata=_METADATA[kind])
    return buffer.getvalue()


def write_caution(figure: Figure) -> None:
    """The line of caution at the foot of a figure, which grows by that line, once."""
    if any(text.get_gid() == _FOOT_GID for text in figure.texts):
        return
    _lift(figure, FOOT_IN)
    height = float(figure.get_size_inches()[1])
    figure.text(0.004, 0.25 * FOOT_IN / height, CAUTION, fontsize=6.0, color=QUIET, gid=_FOOT_GID)


def _lift(figure: Figure, foot_in: float) -> None:
    """Make a figure taller at its foot, all that is in it as large and as far from its top."""
    from matplotlib.artist import Artist
    from matplotlib.layout_engine import ConstrainedLayoutEngine
    from matplotlib.transforms import Affine2D, Bbox, BboxTransformFrom

    width, height = figure.get_size_inches()
    raised = Affine2D().scale(1.0, height / (height + foot_in))
    raised.translate(0.0, foot_in / (height + foot_in))
    anchors = [
        legend.get_bbox_to_anchor().transformed(figure.transFigure.inverted())
        for legend in figure.legends
    ]
    places = [Bbox(raised.transform(axis.get_position(True).get_points())) for axis in figure.axes]
    figure.set_size_inches(width, height + foot_in)
    engine = figure.get_layout_engine()
    if isinstance(engine, ConstrainedLayoutEngine):
        engine.set(rect=(0.0, raised.transform((0.0, 0.0))[1], 1.0, raised.get_matrix()[1, 1]))
    else:
        for axis, place in zip(figure.axes, places, strict=True):
            axis.set_position(place)
        for legend, anchor in zip(figure.legends, anchors, strict=True):
            box = Bbox(raised.transform(anchor.get_points()))
            legend.set_bbox_to_anchor(box.bounds, figure.transFigure)
    for artist in (*figure.texts, *figure.lines, *figure.patches, *figure.artists):
        artist.set_transform(
            Artist.get_transform(artist)
            + BboxTransformFrom(figure.bbox)
            + raised
            + figure.transFigure
        )


def _keep_to_font(figure: Figure) -> None:
    """Drop from a figure's words the signs that would be drawn as empty boxes, such as emoji."""
    from matplotlib.font_manager import findfont, get_font
    from matplotlib.text import Text

    glyphs = get_font(findfont("DejaVu Sans")).get_charmap()
    for artist in figure.findobj(Text):
        words = artist.get_text()
        kept = "".join(sign for sign in words if ord(sign) in glyphs or sign == "\n")
        if kept != words:
            tidy = "\n".join(" ".join(line.split()) for line in kept.split("\n"))
            artist.set_text(tidy if tidy.strip() else _NO_GLYPHS)


def svg_text(figure: Figure, name: str) -> str:
    """The figure as SVG text; the same figure and ``name`` give the same bytes.

    name : keeps the ids of two charts in one page apart
    """
    return picture_bytes(figure, "svg", name, int(POINTS_PER_IN)).decode("utf-8")


def png_bytes(figure: Figure, dots_per_inch: int = 200) -> bytes:
    """The figure as PNG, without the name or version of what wrote it."""
    return picture_bytes(figure, "png", dots_per_inch=dots_per_inch)
