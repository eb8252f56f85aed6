"""Weather stations that come with pvlib, so that the first run needs no file."""

from importlib.util import find_spec
from pathlib import Path

# Name -> file in pvlib's data folder: NREL TMY3 723170, NREL TMY2 12839, NREL TMY3 703165.
BUNDLED = {
    "greensboro": "723170TYA.CSV",
    "miami": "12839.tm2",
    "sand-point": "703165TY.csv",
}


def bundled_path(name: str) -> Path | None:
    """The file of a bundled station, whatever the case of its name; None for another name."""
    file = BUNDLED.get(name.lower())
    if file is None:
        return None
    spec = find_spec("pvlib")  # finds the folder without importing pvlib
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent / "data" / file
