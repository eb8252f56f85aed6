"""The one way the project compiles a function of floats, and where it keeps what it has compiled.

numba's own disk cache does not notice a change in a function imported from another file, nor in a
constant, and would go on running the old machine code. So the machine code lies in a folder named
by the content of everything that decides it: any change there starts a new folder.
"""

import functools
import hashlib
import importlib.metadata
import importlib.util
import logging
import multiprocessing
import pickle
import re
import sys
import types
from collections.abc import Callable, Container, Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import numba
import numba.core.caching
import numba.core.compiler
import numba.core.runtime
import numba.core.serialize
import numba.extending

from dewledger.weather.numerics.kept_files import cache_folder, damaged, keep, kept, remove
from dewledger.weather.numerics.linking import InnerCompiler, ProgramCompiler

Function = TypeVar("Function", bound=Callable[..., Any])
Tuple = TypeVar("Tuple", bound=type)
_Path = tuple[str, ...]  # to a member of a member

# numba is typed in part only.
_core: Any = numba.core
_extending: Any = numba.extending
_runtime: Any = numba.core.runtime
_settings: Any = numba.config

# Says that something is compiled that takes its time. The command says it in its own way.
first_run_log = logging.getLogger("dewledger.first_run")

# Sums may be regrouped and products fused into them; infinities and NaN keep their meaning.
_FREEDOM = {"contract", "reassoc", "arcp", "nsz"}
_PROGRAM: Any = {
    "error_model": "numpy",
    "nogil": True,
    "no_cfunc_wrapper": True,
    "fastmath": _FREEDOM,
}
# Inner functions make no arrays and hand none back. Those that they are given are held by the
# program that calls them: to count who holds them took a fifteenth of the time of a year.
_INNER: Any = {**_PROGRAM, "no_cpython_wrapper": True, "_nrt": False}

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
    digest = hashlib.sha256()
    for library in _LIBRARIES:
        digest.update(f"{library} {importlib.metadata.version(library)}\n".encode())
    for switch in _SWITCHES:
        digest.update(f"{switch} {getattr(_settings, switch, None)}\n".encode())
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


def _name_of(function: Callable[..., Any]) -> str:
    """What the files of a function's machine code begin with."""
    return f"{function.__module__}.{function.__qualname__}-{function.__code__.co_firstlineno}"


def is_kept(function: Callable[..., Any]) -> bool:
    """Whether machine code of a compiled function's program is kept from an earlier run."""
    if not isinstance(function, _Program):
        return True  # nothing is compiled in this run
    folder = machine_code_folder()
    return folder is not None and any(folder.glob(f"{_name_of(function.py_func)}-*.code"))


class _KeptCode(numba.core.caching._Cache):  # type: ignore[misc]
    """The kept machine code of one function: a file for each signature.

    Numba's own takes the folder of the source into the name, believes any file, and shares an
    index between processes that may write at once.
    """

    def __init__(self, function: Callable[..., Any], folder: Path, notice: str) -> None:
        self._folder = folder
        self._notice = notice
        self._name = _name_of(function)
        self._code = hashlib.sha256(function.__code__.co_code).hexdigest()

    @property
    def cache_path(self) -> str:
        return str(self._folder)

    def _place(self, key: object) -> Path:
        digest = hashlib.sha256(repr(key).encode()).hexdigest()[:16]
        python = sys.implementation.cache_tag
        return self._folder / f"{self._name}-{python}-{digest}.code"

    def load_overload(self, signature: Any, target: Any) -> Any:
        # All that kept code needs; numba's own loads whatever compiling could need, half a second.
        _runtime.rtsys.initialize(target)
        key = (signature, target.codegen().magic_tuple(), self._code)
        path = self._place(key)
        content = kept(path)
        if content is not None:
            try:
                stored, reduced = pickle.loads(content)
                if stored == key:
                    return _core.compiler.CompileResult._rebuild(target, *reduced)
            except Exception:  # whatever was written there, it is not what this version writes
                damaged(path)
        if self._notice and multiprocessing.parent_process() is None:
            first_run_log.warning(self._notice)
        return None

    def save_overload(self, signature: Any, result: Any) -> None:
        if not self._folder.is_dir() or result.library.has_dynamic_globals or any(result.lifted):
            return
        key = (signature, result.codegen.magic_tuple(), self._code)
        keep(self._place(key), _core.serialize.dumps((key, result._reduce())))

    def enable(self) -> None:
        """It is always on."""

    def disable(self) -> None:
        """It is always on."""

    def flush(self) -> None:
        for path in self._folder.glob(f"{self._name}-*.code"):
            remove(path)


_MARKED: set[Callable[..., Any]] = set()


def compiled(function: Function) -> Function:
    """Mark ``function`` (floats, ints and float64 arrays only) as one that programs may call.

    It stays what it is: Python, and what is compiled by nobody, calls it as plain Python. What is
    called from Python for an hour's thousands is a ``program``.
    """
    _MARKED.add(function)
    return function


@cache
def _inner(function: Callable[..., Any]) -> Any:
    """The form of a function for compiled code."""
    made: Any = numba.njit(pipeline_class=InnerCompiler, **_INNER)(function)
    template = made.get_call_template

    def of_types(arguments: Any, keywords: Any) -> Any:
        # A constant written in a call is of its type; numba would compile for its value.
        return template([_core.types.unliteral(one) for one in arguments], keywords)

    made.get_call_template = of_types
    return made


def signatures_of(function: Callable[..., Any]) -> list[Any]:
    """Argument types that compiled code has called a function with."""
    return list(_inner(function).signatures)


@_extending.typeof_impl.register(types.FunctionType)
def _typeof_function(function: types.FunctionType, context: Any) -> Any:
    if function in _MARKED:
        return _core.types.Dispatcher(_inner(function))
    return _extending.typeof_impl.dispatch(object)(function, context)


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
            made = numba.njit(pipeline_class=ProgramCompiler, **_PROGRAM)(self.py_func)
            if choices:
                made.compile = functools.partial(_compile_narrowed, made, made.compile, choices)
            folder = machine_code_folder()
            if folder is not None:
                made._cache = _KeptCode(self.py_func, folder, self._notice)
            made = self._made.setdefault(choices, made)
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
    NUMBA_DISABLE_JIT=1 the function is returned as it is.

    notice : said before it is compiled, where that takes its time
    """

    def decorated(function: Function) -> Function:
        if _settings.DISABLE_JIT:
            return function
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
        def typeof(value: Any, context: Any) -> Any:
            members = [_extending.typeof_impl(member, context) for member in value]
            return _Address(_core.types.BaseTuple.from_types(members, tuple_class))

        _extending.typeof_impl.register(tuple_class)(typeof)
        _COMMON[tuple_class] = {tuple(name.split("__")): own for name, own in common.items()}
        return tuple_class

    return decorated


# Of each class of tuples that is taken by address, the common values of its choices.
_COMMON: dict[type, dict[_Path, tuple[int, ...]]] = {}
_NO_CHOICES: Mapping[_Path, int] = types.MappingProxyType({})
# Programs, and the types of arguments that find them.
_FOUND: dict[tuple[Any, tuple[Any, ...]], object] = {}


def _choices_of(arguments: Iterable[object]) -> tuple[int, ...]:
    """The choices of a call's arguments, in their order; none where one of them is not common."""
    choices = []
    for value in arguments:
        for path, common in _COMMON.get(type(value), {}).items():
            choice = functools.reduce(getattr, path, value)
            if choice not in common:
                return ()
            choices.append(choice)
    return tuple(choices)


def _compile_narrowed(
    made: Any, compile_it: Callable[..., Any], choices: tuple[int, ...], kinds: Iterable[Any]
) -> Any:
    """Compile a program with the choices of its arguments known.

    At a call numba sees the types of a tuple's members alone: by these it finds the program again.
    """
    kinds = tuple(kinds)
    left = iter(choices)
    narrowed = [
        _Address(kind.whole, {path: next(left) for path in _COMMON[kind.whole.instance_class]})
        if isinstance(kind, _Address)
        else kind
        for kind in kinds
    ]
    entry = compile_it(tuple(narrowed))
    # Once: of two that fit numba takes none, and goes through all of this at every call. Held here,
    # the types keep the numbers by which it finds them.
    mine = object()
    if _FOUND.setdefault((made, kinds), mine) is mine:
        made._insert([kind._code for kind in kinds], entry, False)
    return entry


class _Address(_core.types.Type):  # type: ignore[misc]
    """numba's type of the address of a tuple, some of whose choices may be known."""

    def __init__(self, whole: Any, choices: Mapping[_Path, int] = _NO_CHOICES) -> None:
        self.whole = whole
        self.choices = choices
        words = "".join(f", {'.'.join(path)} {value}" for path, value in choices.items())
        super().__init__(name=f"Address({whole.name}{words})")


@_extending.register_model(_Address)
class _AddressModel(_extending.models.PrimitiveModel):  # type: ignore[misc]
    """In machine code: a pointer."""

    def __init__(self, manager: Any, address: _Address) -> None:
        whole = manager.lookup(address.whole).get_value_type()
        super().__init__(manager, address, whole.as_pointer())


@_extending.infer_getattr
class _MemberTypes(_core.typing.templates.AttributeTemplate):  # type: ignore[misc]
    key = _Address

    def generic_resolve(self, address: _Address, name: str) -> Any:
        fields = address.whole.fields
        return address.whole[fields.index(name)] if name in fields else None


@_extending.lower_getattr_generic(_Address)
def _read_member(context: Any, builder: Any, address: _Address, value: Any, name: str) -> Any:
    place = address.whole.fields.index(name)
    member = builder.load(_core.cgutils.gep_inbounds(builder, value, 0, place))
    return _core.imputils.impl_ret_borrowed(context, builder, address.whole[place], member)


@_extending.unbox(_Address)
def _from_python(address: _Address, value: Any, c: Any) -> Any:
    """The Python tuple laid out on the stack of the call."""
    whole = c.unbox(address.whole, value)
    place = _core.cgutils.alloca_once_value(c.builder, whole.value)

    def cleanup() -> None:
        if whole.cleanup is not None:
            whole.cleanup()
        c.context.nrt.decref(c.builder, address.whole, whole.value)

    return _extending.NativeValue(place, is_error=whole.is_error, cleanup=cleanup)
