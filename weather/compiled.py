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
import numba.core
import numba.extending
import platformdirs

Function = TypeVar("Function", bound=Callable[..., Any])
Tuple = TypeVar("Tuple", bound=type)

# numba is typed in part only.
_core: Any = numba.core
_extending: Any = numba.extending

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


def by_address(tuple_class: Tuple) -> Tuple:
    """Have compiled functions take this NamedTuple by its address: a class decorator.

    numba hands a tuple over member by member at every call, some hundred words for a unit and its
    controls: in the hour's short calls that costs more than the work. By address it is one word.
    Compiled code can read the members of such a tuple, not make one.
    """

    def typeof(value: Any, context: Any) -> Any:
        members = [_extending.typeof_impl(member, context) for member in value]
        return _Address(_core.types.BaseTuple.from_types(members, tuple_class))

    _extending.typeof_impl.register(tuple_class)(typeof)
    return tuple_class


class _Address(_core.types.Type):  # type: ignore[misc]
    """numba's type of the address of a tuple."""

    def __init__(self, whole: Any) -> None:
        self.whole = whole
        super().__init__(name=f"Address({whole.name})")


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
