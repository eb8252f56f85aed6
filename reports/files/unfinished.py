"""Folders in the making: hidden until they are whole, and gone if they never are."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_unfinished: set[Path] = set()


@contextmanager
def in_the_making(folder: Path) -> Iterator[Path]:
    """A new hidden folder next to ``folder``, to be renamed to it; removed where it was not.

    Raises
    ------
    OSError : it cannot be made
    """
    # Known before it exists, so that a stop at any moment finds it.
    made = folder.with_name(f".{folder.name}-{os.urandom(4).hex()}")
    _unfinished.add(made)
    try:
        made.mkdir()
        yield made
    finally:
        shutil.rmtree(made, ignore_errors=True)
        _unfinished.discard(made)


def remove_unfinished() -> None:
    """Remove the folders in the making: for a process that ends without ending its work."""
    for made in tuple(_unfinished):
        shutil.rmtree(made, ignore_errors=True)
