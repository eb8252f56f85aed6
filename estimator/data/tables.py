"""Reading the tables of data that are written in TOML."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any


@cache
def read_table(name: str) -> dict[str, Any]:
    """The content of a TOML file of this folder, read once; not to be changed."""
    with (Path(__file__).parent / name).open("rb") as file:
        return tomllib.load(file)
