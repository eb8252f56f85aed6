"""Files that can be made again: machine code, refrigerant tables.

They lie in the user's own folder. What is kept is read back only where it is whole and where nobody
else could have written it, because reading machine code means running it.
"""

import hashlib
import logging
import os
import shutil
import stat
import tempfile
from functools import cache
from pathlib import Path

import platformdirs

_DIGEST_BYTES = 32


@cache
def _say(sentence: str) -> None:
    """One line for the user, once; without a handler of its own, logging writes it to stderr."""
    logging.getLogger("dewledger").warning(sentence)


def cache_folder(name: str) -> Path | None:
    """The user's own folder for what can be made again: machine code, refrigerant tables.

    None, said in one line, where there is none that the user alone can write: then nothing is kept.
    """
    home = Path(platformdirs.user_cache_dir("dewledger", appauthor=False))
    folder = home / name
    try:
        home.mkdir(mode=0o700, parents=True, exist_ok=True)
        folder.mkdir(mode=0o700, exist_ok=True)
        trouble = _not_private(home) or _not_private(folder)
        if not trouble:
            with tempfile.TemporaryFile(dir=folder):
                pass
    except OSError as error:
        trouble = f"cannot be used ({error.strerror})"
    if not trouble:
        return folder
    _say(
        f'the cache folder "{home}" {trouble}: nothing is kept, and the next run has to compile '
        "again; make it yours alone (chmod 700), or name another by setting XDG_CACHE_HOME"
    )
    return None


def _not_private(folder: Path) -> str:
    """Why others might have written to a folder; nothing where they cannot have.

    Windows keeps the folders of users apart by itself.
    """
    if not hasattr(os, "getuid"):
        return ""
    found = folder.lstat()
    if not stat.S_ISDIR(found.st_mode):
        return "is a link or a file"
    if found.st_uid != os.getuid():
        return "belongs to somebody else"
    return "can be written by others" if found.st_mode & 0o022 else ""


def keep(path: Path, content: bytes) -> None:
    """Write a file of the cache whole or not at all, led by its digest; a full disk is no error."""
    temporary = None
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f"{path.name}.")
        with os.fdopen(handle, "wb") as file:
            file.write(hashlib.sha256(content).digest() + content)
        os.replace(temporary, path)
    except OSError as error:
        remove(temporary)
        _say(
            f'"{path.parent}" takes no more ({error.strerror}): what is missing there is made in '
            "every run until there is room"
        )
    except BaseException:
        remove(temporary)
        raise


def drop_oldest(folder: Path, most: int) -> None:
    """Remove the files of a folder that were written first, where there are more than ``most``."""
    found = [*folder.iterdir()]
    if len(found) <= most:
        return

    def age(path: Path) -> float:
        try:
            return path.stat().st_mtime
        except OSError:  # another run has dropped it
            return 0.0

    for path in sorted(found, key=age)[: len(found) - most]:
        remove(path)


def remove(path: str | Path | None) -> None:
    """Remove a file if there is one and it can be."""
    try:
        if path is not None:
            os.unlink(path)
    except OSError:
        pass


def kept(path: Path) -> bytes | None:
    """The content of a file of the cache; None where there is none or it is damaged."""
    try:
        # A pipe in its place would be waited for.
        whole = path.read_bytes() if stat.S_ISREG(path.stat().st_mode) else b""
    except FileNotFoundError:
        return None
    except OSError:
        whole = b""
    content = whole[_DIGEST_BYTES:]
    if content and whole[:_DIGEST_BYTES] == hashlib.sha256(content).digest():
        return content
    damaged(path)
    return None


def damaged(path: Path) -> None:
    """Say that files of the cache are made anew: one line, however many they are."""
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path, ignore_errors=True)  # it would stay in the way of the new one
    _say(f'what was kept in "{path.parent}" was damaged; it is made again')
