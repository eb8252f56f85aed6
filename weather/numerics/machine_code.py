"""What numba makes of functions marked in compiled.py: loaded when a program is first called."""

import functools
import hashlib
import multiprocessing
import pickle
import sys
import types
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numba
import numba.core.caching
import numba.core.compiler
import numba.core.runtime
import numba.core.serialize
import numba.extending

from dewledger.weather.numerics.kept_files import damaged, keep, kept, remove
from dewledger.weather.numerics.linking import InnerCompiler, ProgramCompiler
from dewledger.weather.numerics.marks import COMMON, MARKED, MemberPath, first_run_log, name_of

# numba is typed in part only.
_core: Any = numba.core
_extending: Any = numba.extending
_runtime: Any = numba.core.runtime

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

_NO_CHOICES: Mapping[MemberPath, int] = types.MappingProxyType({})
# Programs, and the types of arguments that find them.
_FOUND: dict[tuple[Any, tuple[Any, ...]], object] = {}


def made_by_numba(
    function: Callable[..., Any], choices: tuple[int, ...], folder: Path | None, notice: str
) -> Any:
    """The program of a function, for arguments of these choices; kept in a folder."""
    for tuple_class in COMMON:
        _take_by_address(tuple_class)
    made: Any = numba.njit(pipeline_class=ProgramCompiler, **_PROGRAM)(function)
    if choices:
        made.compile = functools.partial(_compile_narrowed, made, made.compile, choices)
    if folder is not None:
        made._cache = _KeptCode(function, folder, notice)
    return made


@cache
def _take_by_address(tuple_class: type) -> None:
    """Have numba take a NamedTuple by its address."""

    def typeof(value: Any, context: Any) -> Any:
        members = [_extending.typeof_impl(member, context) for member in value]
        return _Address(_core.types.BaseTuple.from_types(members, tuple_class))

    _extending.typeof_impl.register(tuple_class)(typeof)


class _KeptCode(numba.core.caching._Cache):  # type: ignore[misc]
    """The kept machine code of one function: a file for each signature.

    Numba's own takes the folder of the source into the name, believes any file, and shares an
    index between processes that may write at once.
    """

    def __init__(self, function: Callable[..., Any], folder: Path, notice: str) -> None:
        self._folder = folder
        self._notice = notice
        self._name = name_of(function)
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
    if function in MARKED:
        return _core.types.Dispatcher(_inner(function))
    return _extending.typeof_impl.dispatch(object)(function, context)


def _compile_narrowed(
    made: Any, compile_it: Callable[..., Any], choices: tuple[int, ...], kinds: Iterable[Any]
) -> Any:
    """Compile a program with the choices of its arguments known.

    At a call numba sees the types of a tuple's members alone: by these it finds the program again.
    """
    kinds = tuple(kinds)
    left = iter(choices)
    narrowed = [
        _Address(kind.whole, {path: next(left) for path in COMMON[kind.whole.instance_class]})
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

    def __init__(self, whole: Any, choices: Mapping[MemberPath, int] = _NO_CHOICES) -> None:
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
