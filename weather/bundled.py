"""Weather stations that come with pvlib, so that the first run needs no file."""

from importlib.util import find_spec
from math import asin, cos, radians, sin, sqrt
from pathlib import Path

# Name -> file in pvlib's data folder: NREL TMY3 723170, NREL TMY2 12839, NREL TMY3 703165.
BUNDLED = {
    "greensboro": "723170TYA.CSV",
    "miami": "12839.tm2",
    "sand-point": "703165TY.csv",
}
# Latitude and longitude by the files' own headers, so that no file is opened to find the nearest.
PLACES = {
    "greensboro": (36.1, -79.95),
    "miami": (25.8, -80.266667),
    "sand-point": (55.317, -160.517),
}
EARTH_RADIUS_KM = 6371.0  # mean radius


def bundled_path(name: str) -> Path | None:
    """The file of a bundled station, whatever the case of its name; None for another name."""
    file = BUNDLED.get(name.lower())
    if file is None:
        return None
    spec = find_spec("pvlib")  # finds the folder without importing pvlib
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent / "data" / file


def distance_km(from_place: tuple[float, float], to_place: tuple[float, float]) -> float:
    """Great-circle distance [km] between two (latitude, longitude) in degrees, by haversines."""
    (lat, lon), (other_lat, other_lon) = from_place, to_place
    across = sin(radians(other_lat - lat) / 2.0) ** 2
    along = sin(radians(other_lon - lon) / 2.0) ** 2
    share = across + cos(radians(lat)) * cos(radians(other_lat)) * along
    return 2.0 * EARTH_RADIUS_KM * asin(min(1.0, sqrt(share)))


def nearest_bundled(latitude: float, longitude: float) -> tuple[str, float]:
    """Name of the bundled station nearest to a place, and its distance [km]."""
    distances = {name: distance_km((latitude, longitude), PLACES[name]) for name in PLACES}
    name = min(distances, key=lambda key: distances[key])
    return name, distances[name]
