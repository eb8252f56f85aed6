"""Compiled functions that call each other, made into machine code as one program.

numba makes every function ready to be called: it optimizes each together with all that it calls,
emits the machine code, and wraps it for Python. In a chain of some eighty functions that costs a
minute, most of it for code that nothing ever calls. Here a function that compiled code calls is
only translated; what Python calls is linked with all that it needs, optimized and emitted once.
"""

from __future__ import annotations

import copy
import gc
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, ClassVar

import numba.core
import numba.core.analysis
import numba.core.cpu
import numba.core.ir
import numba.core.ir_utils
import numba.core.typed_passes
import numba.core.untyped_passes

# numba is typed in part only.
_analysis: Any = numba.core.analysis
_callconv: Any = numba.core.callconv
_cgutils: Any = numba.core.cgutils
_codegen: Any = numba.core.codegen
_compiler: Any = numba.core.compiler
_context: Any = numba.core.cpu.CPUContext
_ir: Any = numba.core.ir
_ir_utils: Any = numba.core.ir_utils
_llvm: Any = _codegen.ll
_lowering: Any = numba.core.lowering
_machinery: Any = numba.core.compiler_machinery
_passes: Any = numba.core.typed_passes
_types: Any = numba.core.types
_untyped: Any = numba.core.untyped_passes
_typing: Any = numba.core.typing


class _Calls(_callconv.CPUCallConv):  # type: ignore[misc]
    """How compiled functions call each other: numba's way, but no zeros where the result will be.

    An hour's result is some hundred words, handed up through ten functions: to write zeros first,
    twice at every call, took a tenth of the time of a year.
    """

    def call_function(
        self, builder: Any, callee: Any, resty: Any, argtys: Any, args: Any, attrs: Any = ()
    ) -> Any:
        returned = callee.args[0].type.pointee
        with builder.goto_entry_block():
            place = builder.alloca(returned)
        fault = _cgutils.alloca_once(builder, _callconv.excinfo_ptr_t)
        words = self._get_arg_packer(argtys).as_arguments(builder, args)
        code = builder.call(callee, [place, fault, *words], attrs=attrs or ())
        status = self._get_return_status(builder, code, builder.load(fault))
        return status, self.context.get_returned_value(builder, resty, builder.load(place))


class _Context(_context):  # type: ignore[misc]
    """numba's context of the processor, with these calls."""

    @property
    def call_conv(self) -> Any:
        return _Calls(self)


class _Typing(_typing.Context):  # type: ignore[misc]
    """numba's types of results, kept for what is asked of numbers.

    A sum of two floats goes through every rule that numba has for a sum, those of arrays and dates
    too, and there are thousands of sums.
    """

    _KEPT: ClassVar[dict[Any, Any]] = {}
    _NUMBERS = frozenset((_types.Boolean, _types.Float, _types.Integer, _types.IntegerLiteral))

    def resolve_function_type(self, function: Any, arguments: Any, keywords: Any) -> Any:
        of_numbers = type(function) is _types.Function and self._NUMBERS.issuperset(
            map(type, arguments)
        )
        if keywords or not of_numbers:
            return super().resolve_function_type(function, arguments, keywords)
        asked = (function, *arguments)
        if asked not in self._KEPT:
            self._KEPT[asked] = super().resolve_function_type(function, arguments, keywords)
        return self._KEPT[asked]


class _Quiet:
    """numba's code generator for a function that gets no machine code: it has no environment."""

    def __init__(self, codegen: Any) -> None:
        self._codegen = codegen

    def __getattr__(self, name: str) -> Any:
        return getattr(self._codegen, name)

    def set_env(self, name: str, environment: Any) -> None:
        """There is no place to set it."""


class _Linked(_codegen.JITCodeLibrary):  # type: ignore[misc]
    """Holds every library that its functions need, theirs included, each once."""

    _linking_libraries: list[Any]
    place = ""  # of the function, in the optimizer's word: into its callers or not; "" as it likes

    def add_linking_library(self, library: Any) -> None:
        library._ensure_finalized()
        further = library._linking_libraries if isinstance(library, _Linked) else []
        self._linking_libraries = list(dict.fromkeys((*self._linking_libraries, library, *further)))


class _InnerLibrary(_Linked):
    """A function as it was translated: not optimized, not emitted, to be linked into a program."""

    @property
    def codegen(self) -> Any:
        return _Quiet(self._codegen)

    def _optimize_functions(self, module: Any) -> None:
        module.data_layout = self._codegen._data_layout

    def finalize(self) -> None:
        self._raise_if_finalized()
        self._finalized = True
        # As numba marks what is linked into several programs, but on a copy of its own.
        for function in self._final_module.functions:
            if not function.is_declaration and function.linkage == _llvm.Linkage.external:
                function.linkage = "linkonce_odr"

    def _get_module_for_linking(self) -> Any:
        self._ensure_finalized()
        return self._final_module

    def get_pointer_to_function(self, name: str) -> int:
        return 0


class _ProgramLibrary(_Linked):
    """A function that Python calls, with all that it needs."""

    def _optimize_final_module(self) -> None:
        inner = set()
        for library in self._linking_libraries:
            if isinstance(library, _InnerLibrary):
                inner |= {function.name for function in library.get_defined_functions()}
        for name in inner:
            self._final_module.get_function(name).linkage = "internal"
        super()._optimize_final_module()


class _Lower(_lowering.Lower):  # type: ignore[misc]
    """numba's translation of a function, with no count kept of references where there are none.

    numba takes every tuple apart, member by member, to look for arrays to count, and empties every
    variable once it is read for the last time: of floats, that is half of all it writes. It also
    has LLVM read a module for the size of every variable, which a debugger alone would need.
    """

    def __init__(self, *arguments: Any, **keywords: Any) -> None:
        self._known: dict[int, tuple[Any, bool]] = {}  # the kind too, lest its number be reused
        super().__init__(*arguments, **keywords)
        if not self.context.enable_nrt and self._counted(self.fndesc.restype):
            raise TypeError(
                f"{self.fndesc.qualname} hands an array back, of which no count is kept"
            )

    def setup_function(self, fndesc: Any) -> None:
        super().setup_function(fndesc)
        if self.library.place:
            self.function.attributes.add(self.library.place)

    def _counted(self, kind: Any) -> bool:
        # By the object's number: to compare two kinds of tuple takes longer than what is asked.
        if id(kind) not in self._known:
            model = self.context.data_model_manager[kind]
            self._known[id(kind)] = kind, bool(model.contains_nrt_meminfo())
        return self._known[id(kind)][1]

    def incref(self, kind: Any, value: Any) -> None:
        if self._counted(kind):
            super().incref(kind, value)

    def decref(self, kind: Any, value: Any) -> None:
        if self._counted(kind):
            super().decref(kind, value)

    def storevar(self, value: Any, name: str, argidx: int | None = None) -> None:
        kind = self.typeof(name)
        if self._counted(kind):
            super().storevar(value, name, argidx)
        elif name in self._singly_assigned_vars:
            self._blk_local_varmap[name] = value
        else:
            self.builder.store(value, self.getvar(name))

    def delvar(self, name: str) -> None:
        if self._counted(self.typeof(name)):
            super().delvar(name)

    def alloca_lltype(self, name: str, lltype: Any, datamodel: Any = None) -> Any:
        return _cgutils.alloca_once(self.builder, lltype, name=name, zfill=False)


@_machinery.register_pass(mutates_CFG=True, analysis_only=False)  # type: ignore[untyped-decorator]
class _Lowering(_passes.BaseNativeLowering):  # type: ignore[misc]
    _name = "lowering_without_counts"

    @property
    def lowering_class(self) -> Any:
        return _Lower


@_machinery.register_pass(mutates_CFG=True, analysis_only=False)  # type: ignore[untyped-decorator]
class _Choices(_machinery.FunctionPass):  # type: ignore[misc]
    """What a choice that is known does not need is left out before it is looked at any further.

    The choices are members of tuples that are taken by address (compiled.py).
    """

    _name = "known_choices"

    def __init__(self) -> None:  # numba asks each step for one of its own
        super().__init__()

    def run_pass(self, state: Any) -> bool:
        known = {
            number: kind.choices
            for number, kind in enumerate(state.args)
            if getattr(kind, "choices", None)
        }
        if not known:
            return False
        code = state.func_ir
        for block in code.blocks.values():
            for step in block.find_insts(_ir.Assign):
                value = self._known(code, step.value, known)
                if value is not None:
                    definitions = code._definitions[step.target.name]
                    constant = _ir.Const(value, step.loc)
                    definitions[definitions.index(step.value)] = constant
                    step.value = constant
        _analysis.dead_branch_prune(code, state.args)
        return True

    @staticmethod
    def _known(code: Any, read: Any, known: dict[int, dict[tuple[str, ...], int]]) -> int | None:
        """The value that is read, where it is a choice that is known."""
        path: tuple[str, ...] = ()
        while isinstance(read, _ir.Expr) and read.op == "getattr":
            path = (read.attr, *path)
            read = _ir_utils.guard(_ir_utils.get_definition, code, read.value)
        return known.get(read.index, {}).get(path) if isinstance(read, _ir.Arg) else None


_STEPS = {_passes.NativeLowering: _Lowering, _untyped.DeadBranchPrune: _Choices}

# Steps for what the compiled functions do not have: functions within functions, with-statements,
# arguments that may be None, sums of whole arrays.
_IDLE = (
    "FindLiterallyCalls",
    "InlineClosureLikes",
    "InlineInlinables",
    "InlineOverloads",
    "LiteralPropagationSubPipelinePass",
    "LiteralUnroll",
    "MakeFunctionToJitFunction",
    "NopythonRewrites",
    "RewriteDynamicRaises",
    "WithLifting",
)


class _Compiler(_compiler.Compiler):  # type: ignore[misc]
    library: type

    def define_pipelines(self) -> Any:
        (steps,) = super().define_pipelines()
        steps.passes = [
            (_STEPS.get(step, step), words)
            for step, words in steps.passes
            if step.__name__ not in _IDLE
        ]
        return [steps]

    def _compile_core(self) -> Any:
        state = self.state
        state.targetctx = copy.copy(state.targetctx)
        state.targetctx.__class__ = _Context
        state.typingctx = copy.copy(state.typingctx)
        state.typingctx.__class__ = _Typing
        state.library = self.library(state.targetctx.codegen(), state.func_id.func_qualname)
        state.library.place = vars(state.func_id.func).get("place", "")
        state.library.enable_object_caching()
        # Without the function's text and types as it was taken apart, some 8 MB in all.
        return super()._compile_core()._replace(type_annotation=None)


class InnerCompiler(_Compiler):
    """Translates a function that compiled code calls."""

    library = _InnerLibrary


class ProgramCompiler(_Compiler):
    """Makes the program of a function that Python calls."""

    library = _ProgramLibrary

    def _compile_core(self) -> Any:
        with _garbage_sought_among_the_new():
            return super()._compile_core()


@contextmanager
def _garbage_sought_among_the_new() -> Iterator[None]:
    """What was there before stays; what compiling makes is looked at twice, not again and again.

    To go through everything for garbage was a sixth of the time; none at all costs 130 MB.
    """
    before = gc.get_threshold()
    gc.freeze()
    gc.set_threshold(50_000, 10, 1_000)
    try:
        yield
    finally:
        gc.set_threshold(*before)
        gc.unfreeze()
