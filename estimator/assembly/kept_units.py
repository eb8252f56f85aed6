"""Units built from a rating, kept in memory and as arrays on disk.

Splines over the refrigerant, and loading what computes them, are a third of reading a case. A name
is made of all that decides a unit: the rating, the sources that build it and the libraries.
"""

from __future__ import annotations

import dataclasses
import hashlib
import io
import json
import zipfile
from functools import cache, lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np

import dewledger.components
import dewledger.dx_unit
from dewledger.dx_unit.from_rating import GenericCompressor, rated_unit
from dewledger.dx_unit.rating import Circuit, Rating
from dewledger.dx_unit.types import Unit, UnitMap
from dewledger.weather.numerics.kept_files import cache_folder, damaged, drop_oldest, keep, kept
from dewledger.weather.physics import moist_air

MOST_KEPT = 100  # files of some 0.2 MB; the oldest go first
# A sweep over ratings must not push out the units of everything else.
MOST_OF_A_PROCESS = 20
_written: list[Path] = []


@cache
def _maker_digest() -> str:
    """What makes units: sources and tables of components and unit, and libraries that compute."""
    digest = hashlib.sha256(Path(str(moist_air.__file__)).read_bytes())
    for package in (dewledger.components, dewledger.dx_unit):
        folder = Path(str(package.__file__)).parent
        for source in sorted([*folder.glob("*.py"), *folder.glob("*.json")]):
            digest.update(source.read_bytes())
    for library in ("CoolProp", "scipy", "numpy"):
        digest.update(version(library).encode())
    return digest.hexdigest()


@lru_cache(maxsize=64)
def kept_unit(
    rating: Rating, circuit: Circuit, compressor: GenericCompressor, surface_floor_C: float
) -> Unit:
    """``rated_unit`` of a rating; options share their unit more often than not.

    Raises
    ------
    InputError : what ``rated_unit`` raises
    """
    folder = cache_folder("units")
    if folder is None:
        return rated_unit(rating, circuit, compressor, surface_floor_C)
    stated = [dataclasses.asdict(one) for one in (rating, circuit, compressor)]
    text = json.dumps([_maker_digest(), stated, surface_floor_C])
    path = folder / f"{hashlib.sha256(text.encode()).hexdigest()}.npz"
    unit = _read_unit(path)
    if unit is None:
        unit = rated_unit(rating, circuit, compressor, surface_floor_C)
        if len(_written) < MOST_OF_A_PROCESS:
            _written.append(path)
            _keep_unit(path, unit)
            drop_oldest(folder, MOST_KEPT)
    return unit


@lru_cache(maxsize=64)
def unit_at_flow(
    rating: Rating,
    circuit: Circuit,
    compressor: GenericCompressor,
    surface_floor_C: float,
    flow_kg_s: float,
) -> Unit:
    """The same unit, what its usual flow decides worked out; the same object at every call.

    Raises
    ------
    InputError : what ``rated_unit`` raises
    """
    unit = kept_unit(rating, circuit, compressor, surface_floor_C)
    return dataclasses.replace(unit, map=unit.map.with_usual_flow(flow_kg_s))


def _read_unit(path: Path) -> Unit | None:
    content = kept(path)
    if content is None:
        return None
    try:
        with np.load(io.BytesIO(content), allow_pickle=False) as file:
            said = json.loads(file["said"].tobytes())
            arrays = {name: file[name] for name in UnitMap._fields if name in file}
        if {name: _kind(array) for name, array in arrays.items()} != said.pop("arrays"):
            raise ValueError("arrays that were not kept")
        whole = UnitMap(**said.pop("map"), **arrays)
        return Unit(map=whole, **{**said, "notes": tuple(said["notes"])})
    except (ValueError, KeyError, TypeError, AttributeError, zipfile.BadZipFile):
        damaged(path)
        return None


def _kind(array: np.ndarray[Any, Any]) -> list[Any]:
    """What an array kept must be like: its type, its shape, and how many numbers it holds."""
    return [str(array.dtype), list(array.shape), int(np.isfinite(array).sum())]


def _keep_unit(path: Path, unit: Unit) -> None:
    members = unit.map._asdict()
    arrays = {name: value for name, value in members.items() if isinstance(value, np.ndarray)}
    said = {
        one.name: getattr(unit, one.name) for one in dataclasses.fields(unit) if one.name != "map"
    }
    said["arrays"] = {name: _kind(array) for name, array in arrays.items()}
    said["map"] = {name: value for name, value in members.items() if name not in arrays}
    text = np.frombuffer(json.dumps(said).encode(), dtype=np.uint8)
    buffer = io.BytesIO()
    np.savez(buffer, said=text, **arrays)  # type: ignore[arg-type]
    keep(path, buffer.getvalue())
