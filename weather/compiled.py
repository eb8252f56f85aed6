"""The one way the project compiles a function of floats.

numba's own disk cache does not notice a change in a function imported from another file and would
go on running the old machine code. So the cache lives in a folder named by the content of every
source file that holds compiled functions: any change there starts a new folder.
"""

import hashlib
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import numba
import platformdirs

Function = TypeVar("Function", bound=Callable[..., Any])

_SOURCE_FOLDERS = ("weather", "estimator")


def cache_folder(name: str) -> Path:
    """A writable folder for what can be made again: machine code, refrigerant tables.

    The user's cache folder, or a temporary one where that cannot be written.
    """
    folder = Path(platformdirs.user_cache_dir("dewledger", appauthor=False)) / name
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError:
        folder = Path(tempfile.gettempdir()) / "dewledger" / name
        folder.mkdir(parents=True, exist_ok=True)
    return folder


@cache
def machine_code_folder() -> Path:
    """The cache folder of the compiled functions as they stand in the source now."""
    digest = hashlib.sha256(f"{numba.__version__}".encode())
    root = Path(__file__).parent.parent
    for folder in _SOURCE_FOLDERS:
        for source in sorted((root / folder).glob("*.py")):
            content = source.read_bytes()
            if b"@compiled" in content:
                digest.update(content)
    return cache_folder(f"compiled-{digest.hexdigest()[:16]}")


def compiled(function: Function) -> Function:
    """Compile ``function`` (floats, ints and float64 arrays only) and keep it on disk.

    The plain Python function stays reachable as ``.py_func``; with the environment variable
    NUMBA_DISABLE_JIT=1 the function is returned as it is.
    """
    settings: Any = numba.config
    before = settings.CACHE_DIR
    settings.CACHE_DIR = str(machine_code_folder())
    try:
        dispatcher: Any = numba.njit(cache=True, error_model="numpy", nogil=True)(function)
        return dispatcher  # type: ignore[no-any-return]
    finally:
        settings.CACHE_DIR = before
