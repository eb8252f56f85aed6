"""Make the README's pictures from the bundled demo: ``python -m dewledger.reports.files.gallery``.

They are what the demo itself draws, small and in few colors.
"""

from __future__ import annotations

import io
import sys
from pathlib import Path

from dewledger.case import bundled_case
from dewledger.reports.charts.study import study_charts
from dewledger.reports.page.hours import hour_charts
from dewledger.study import Study, run_study

FOLDER = Path("docs/gallery")
PICTURES = ("overview", "reheat-origin", "hour-reheat", "humidity-map", "reheat-map")
_DOTS_PER_INCH = 120
_COLORS = 255


def pictures(study: Study) -> dict[str, bytes]:
    """The gallery's pictures by file name, as PNG."""
    display = study.case.display
    charts = study_charts(study, display)
    charts |= {chart.name: chart for chart in hour_charts(study, display)}
    return {f"{name}.png": _small(charts[name].png(_DOTS_PER_INCH)) for name in PICTURES}


def _small(png: bytes) -> bytes:
    from PIL import Image

    few = Image.open(io.BytesIO(png)).convert("RGB").quantize(_COLORS)
    buffer = io.BytesIO()
    few.save(buffer, "PNG", optimize=True)
    return buffer.getvalue()


def main(folder: Path = FOLDER) -> None:
    """Write the gallery into a folder, over what is there."""
    study = run_study(bundled_case("music-school"))
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in pictures(study).items():
        (folder / name).write_bytes(content)
        print(f"wrote {folder / name}, {len(content) / 1000:.0f} kB")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER)
