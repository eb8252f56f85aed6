"""The one way the project compiles a function of floats, and where it keeps what it has compiled.

numba's own disk cache does not notice a change in a function imported from another file, nor in a
constant, and would go on running the old machine code. So the machine code lies in a folder named
by the content of everything that decides it: any change there starts a new folder. numba, which
takes a third of a second to load, is loaded when a program is first called (machine_code.py).
"""

import functools
import hashlib
import importlib.metadata
import importlib.util
import re
from collections.abc import Callable, Container, Iterable
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Any, TypeVar

from dewledger.weather.numerics.kept_files import cache_folder
from dewledger.weather.numerics.marks import COMMON, MARKED, name_of

Function = TypeVar("Function", bound=Callable[..., Any])
Tuple = TypeVar("Tuple", bound=type)

_PACKAGES = ("dewledger", "dewledger.weather")  # what may hold compiled functions
_LIBRARIES = ("numba", "llvmlite", "numpy")
# numba's settings that change the machine code; the CPU is in the name of each file besides.
_SWITCHES = (
    "OPT",
    "BOUNDSCHECK",
    "LOOP_VECTORIZE",
    "SLP_VECTORIZE",
    "ENABLE_AVX",
    "DISABLE_INTEL_SVML",
    "DEBUGINFO_DEFAULT",
    "LLVM_REFPRUNE_PASS",
)
_HOLDS = re.compile(rb"^@(?:compiled|program)\b", re.MULTILINE)
_IMPORT = re.compile(rb"^[ \t]*(?:from\s+([\w.]+)\s+)?import\s+(\([^)]*\)|[^\n]*)", re.MULTILINE)


def package_folders() -> dict[str, Path]:
    """The folders of the packages that hold compiled functions, by the package's name."""
    folders = {}
    for name in _PACKAGES:
        spec = importlib.util.find_spec(name)
        for place in (spec and spec.submodule_search_locations) or []:
            folders[name] = Path(place)
    return folders


def deciding_sources(folders: dict[str, Path]) -> dict[str, bytes]:
    """Content, by module name, of every source that decides machine code.

    Those that hold compiled functions, and those that they import: constants are frozen into the
    code, wherever they come from.
    """
    sources: dict[str, bytes] = {}
    for package, folder in folders.items():
        for path in folder.rglob("*.py"):
            parts = path.relative_to(folder).with_suffix("").parts
            module = ".".join((package, *parts)).removesuffix(".__init__")
            sources[module] = path.read_bytes()
    waiting = [name for name, content in sources.items() if _HOLDS.search(content)]
    found: dict[str, bytes] = {}
    while waiting:
        name = waiting.pop()
        if name not in found:
            found[name] = sources[name]
            waiting += _imported(sources[name], sources)
    return dict(sorted(found.items()))


def _imported(source: bytes, known: Container[str]) -> Iterable[str]:
    """Names of the known modules that a source imports, or imports something from."""
    for origin, names in _IMPORT.findall(source):
        stem = origin.decode()
        plain = re.sub(r"#[^\n]*|\bas\s+\w+", "", names.decode())
        for name in re.findall(r"[A-Za-z_][\w.]*", plain):
            whole = f"{stem}.{name}" if stem else name
            if whole in known:
                yield whole
            elif stem in known:
                yield stem


def code_digest(folders: dict[str, Path]) -> str:
    """Digest of what decides machine code: sources, libraries, numba's switches.

    Not the place of the sources nor their age, so that copies of one content share their code.
    """
    import numba

    digest = hashlib.sha256()
    for library in _LIBRARIES:
        digest.update(f"{library} {importlib.metadata.version(library)}\n".encode())
    for switch in _SWITCHES:
        digest.update(f"{switch} {getattr(numba.config, switch, None)}\n".encode())
    for name, content in deciding_sources(folders).items():
        digest.update(f"{name} {len(content)}\n".encode())
        digest.update(content)
    return digest.hexdigest()[:16]


@cache
def machine_code_folder() -> Path | None:
    """Where the machine code of the functions as they stand in the source now is kept."""
    return cache_folder(f"compiled-{code_digest(package_folders())}")


def something_compiled() -> bool:
    """Whether machine code of these functions is kept from an earlier run."""
    folder = machine_code_folder()
    return folder is not None and any(folder.glob("*.code"))


def is_kept(function: Callable[..., Any]) -> bool:
    """Whether machine code of a compiled function's program is kept from an earlier run."""
    if not isinstance(function, _Program) or _plain():
        return True  # nothing is compiled in this run
    folder = machine_code_folder()
    return folder is not None and any(folder.glob(f"{name_of(function.py_func)}-*.code"))


def _plain() -> bool:
    """Whether numba is to leave all as plain Python."""
    import numba

    return bool(getattr(numba.config, "DISABLE_JIT", False))


def compiled(function: Function) -> Function:
    """Mark ``function`` (floats, ints and float64 arrays only) as one that programs may call.

    It stays what it is: Python, and what is compiled by nobody, calls it as plain Python. What is
    called from Python for an hour's thousands is a ``program``.
    """
    MARKED.add(function)
    return function


_MAKING = Lock()


class _Program:
    """A function that Python calls as machine code, with all that it calls in it.

    It costs a tenth of a second or more to compile, and some ms to load from disk: so a few of
    them, each with much to do.
    """

    def __init__(self, function: Callable[..., Any], notice: str) -> None:
        functools.update_wrapper(self, function)
        self.py_func = function
        self._notice = notice
        # By the choices of the arguments.
        self._made: dict[tuple[int, ...], Any] = {}

    def made_for(self, *arguments: Any) -> Any:
        """What numba makes of it, when it is first asked for, with the choices of the arguments."""
        choices = _choices_of(arguments)
        made: Any = self._made.get(choices)
        if made is None:
            with _MAKING:  # a study's threads ask for it at once
                made = self._made.get(choices) or self._make(choices)
        return made

    def _make(self, choices: tuple[int, ...]) -> Any:
        made: Any = self.py_func
        if not _plain():
            from dewledger.weather.numerics.machine_code import made_by_numba

            made = made_by_numba(self.py_func, choices, machine_code_folder(), self._notice)
        self._made[choices] = made
        return made

    def __call__(self, *arguments: Any) -> Any:
        return self.made_for(*arguments)(*arguments)

    @property
    def stats(self) -> Any:
        """What was found on disk and what was not, without choices."""
        return self.made_for().stats

    @property
    def signatures(self) -> list[Any]:
        """Argument types that it has been called with."""
        return [types for made in self._made.values() for types in made.signatures]


def program(notice: str = "") -> Callable[[Function], Function]:
    """Compile a function (floats, ints and float64 arrays only) and keep it on disk: a decorator.

    The plain Python function stays reachable as ``.py_func``; with the environment variable
    NUMBA_DISABLE_JIT=1 it is what is called.

    notice : said before it is compiled, where that takes its time
    """

    def decorated(function: Function) -> Function:
        return _Program(function, notice)  # type: ignore[return-value]

    return decorated


def within_callers(function: Function) -> Function:
    """Mark a function, beneath ``compiled``, to be made a part of each that calls it.

    For what every hour calls from one place or two: a large result need not be written to memory
    to be handed over, and what a program does not use of it is not worked out.
    """
    vars(function)["place"] = "alwaysinline"
    return function


def apart(function: Function) -> Function:
    """Mark a function, beneath ``compiled``, to be kept out of those that call it: for what few
    hours need, so that it is in nobody's way."""
    vars(function)["place"] = "noinline"
    return function


def by_address(**common: tuple[int, ...]) -> Callable[[Tuple], Tuple]:
    """Have compiled functions take this NamedTuple by its address: a class decorator.

    numba hands a tuple over member by member at every call, some hundred words for a unit and its
    controls: in the hour's short calls that costs more than the work. By address it is one word.
    Compiled code can read the members of such a tuple, not make one.

    Parameters
    ----------
    common : by the name of a member that is a choice, its common values. Where all choices of a
        call have common values, its program is one of its own: they are known in it, and what
        other values would need is left out. A member of a member is named with two underscores
        between
    """

    def decorated(tuple_class: Tuple) -> Tuple:
        COMMON[tuple_class] = {tuple(name.split("__")): own for name, own in common.items()}
        return tuple_class

    return decorated


def _choices_of(arguments: Iterable[object]) -> tuple[int, ...]:
    """The choices of a call's arguments, in their order; none where one of them is not common."""
    choices = []
    for value in arguments:
        for path, common in COMMON.get(type(value), {}).items():
            choice = functools.reduce(getattr, path, value)
            if choice not in common:
                return ()
            choices.append(choice)
    return tuple(choices)
