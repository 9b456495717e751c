"""How functions are compiled that other compiled functions call.

A *part* is written for LLVM, and optimised in each entry or shared function that calls it. A
*shared* function is optimised and made into machine code by itself, once. A caller's code holds its
name alone; names are resolved where all code of a process lies, in LLVM's engine. So the name is
the same in every process, and a caller that is read from disk has its shared functions read before.

Kernels need few of Numba's stages, and few of its liberties:

- Stages for what they hold none of (closures, `with`, whole-array expressions, branches on types)
  only read each function again. Left out, they save a tenth of the time.
- The types of a call depend on the types of its arguments alone. Numba tries up to a dozen
  templates for each `+` of two numbers; a call of known types is looked up instead. That saves a
  quarter.
- References to arrays are counted only in a function that makes, takes over or returns an array.
  All others borrow what their caller holds. That saves a seventh.
- Python looks for cycles among all objects again and again while these grow. Not looking saves a
  fifth.
- A variable keeps one type. Numba would rename it wherever it is set anew, as it may change type,
  and LLVM does that once more. That saves a twentieth.
- Numba times each call of LLVM for each function that waits for it. Nobody asks for these times.
  Without them a tenth is saved.
- One number of an array is read or written in some ten instructions. Numba writes forty, for LLVM
  to remove most of them. That saves a tenth.

A stage that another version of Numba adds or names otherwise is run.
"""

import ctypes
import gc
import hashlib
import operator
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from types import CodeType
from typing import Any

import llvmlite.ir as llvm
from llvmlite.binding import Linkage, parse_assembly
from numba import types
from numba.core import event, ir
from numba.core.codegen import JITCodeLibrary
from numba.core.compiler import Compiler
from numba.core.compiler_machinery import FunctionPass, PassManager, register_pass
from numba.core.imputils import lower_builtin
from numba.core.serialize import dumps
from numba.core.typed_passes import NopythonTypeInference
from numba.np import arrayobj

ENVIRONMENT = "_ZN08NumbaEnv"
"""What begins the name of the variable that leads to a function's constants."""
NEEDLESS = {
    "ir_processing",
    "with_lifting",
    "inline_closure_likes",
    "rewrite_semantic_constants",
    "dead_branch_prune",
    "Rewrite dynamic raises",
    "make_function_op_code_to_jit_function",
    "inline_inlinables",
    "find_literally",
    "literal_unroll",
    "reconstruct_ssa",
    "LiteralPropagation",
    "inline_overloads",
    "nopython_rewrites",
    "annotate_types",
    "dump_parfor_diagnostics",
}
"""Stages of Numba for what no part holds."""
PLAIN = (
    types.Number,
    types.Boolean,
    types.NoneType,
    types.Literal,
    types.RangeType,
    types.RangeIteratorType,
    types.SliceType,
    types.Record,
)
"""Kinds of values that hold no array."""
MAKING = {"call", "binop", "inplace_binop", "unary", "array_expr"}
"""Expressions whose result a function owns; it borrows that of others, such as rows of an array."""


class NoneToPython(JITCodeLibrary):  # type: ignore[misc]
    """Code of a function that Python cannot call."""

    def get_pointer_to_function(self, _name: str) -> int:
        """Give what Python would call."""
        self._ensure_finalized()
        return no_function()


class Parts(NoneToPython):
    """Code of a function that only compiled functions call, as Numba writes it: not optimised."""

    _shared_module: Any

    def finalize(self) -> None:
        """End the writing, and make the variables through which Numba hands over constants."""
        self._reload_init.update(*(library._reload_init for library in self._linking_libraries))
        found = (variable.name for variable in self._final_module.global_variables)
        names = [name for name in found if name.startswith(ENVIRONMENT)]
        text = "".join(f'@"{name}" = common global i8* null\n' for name in names)
        self._codegen._add_module(parse_assembly(text))
        self._codegen._engine.finalize_object()
        self._finalized = True

    def _get_module_for_linking(self) -> Any:
        """Code of this function and of all that it calls, each once."""
        if self._shared_module is None:
            whole = self._own().clone()
            for library in list(self._below())[1:]:
                own = isinstance(library, Parts)
                code = library._own() if own else library._get_module_for_linking()
                whole.link_in(code, preserve=True)
            self._shared_module = whole
        return self._shared_module

    def _own(self) -> Any:
        """Code of this function alone, where a copy elsewhere counts as the same."""
        for function in self._final_module.functions:
            if not function.is_declaration and function.linkage == Linkage.external:
                function.linkage = "linkonce_odr"
        return self._final_module

    def _below(self) -> dict[Any, None]:
        """Give this library and all below it, in order."""
        found: dict[Any, None] = {self: None}
        for library in self._linking_libraries:
            found |= library._below() if isinstance(library, Parts) else {library: None}
        return found


class Shared(NoneToPython):
    """Machine code of a function that compiled functions call by its name."""

    _shared_module: Any

    def _get_module_for_linking(self) -> Any:
        """Nothing: the caller's code names the function already."""
        if self._shared_module is None:
            self._ensure_finalized()
            self._shared_module = parse_assembly(str(self._codegen._create_empty_module(self.name)))
        return self._shared_module


def no_function() -> int:
    """Give the place of what looks for a function in what was called, and raises TypeError."""
    return ctypes.cast(ctypes.pythonapi.PyObject_Call, ctypes.c_void_p).value or 0


@register_pass(mutates_CFG=False, analysis_only=True)
class Borrowing(FunctionPass):  # type: ignore[misc]
    """Count no references where a function owns no array."""

    _name = "borrowing"

    def __init__(self) -> None:
        super().__init__()  # abstract there

    def run_pass(self, state: Any) -> bool:
        """Turn counting off in the code of one function; its types are known."""
        made = (
            sign.return_type
            for expression, sign in state.calltypes.items()
            if isinstance(expression, ir.Expr)
            and expression.op in MAKING
            and not (expression.op == "call" and _borrows(state.typemap[expression.func.name]))
        )
        if not any(map(_may_hold_arrays, (state.return_type, *made))):
            state.targetctx = state.targetctx.subtarget(enable_nrt=False)
        return False


def _borrows(function: Any) -> bool:
    """Tell a call whose arrays lie elsewhere: a named tuple of given ones, or a stack frame."""
    framed = getattr(getattr(function, "typing_key", None), "in_frame", False)
    return isinstance(function, types.NamedTupleClass) or framed


def _may_hold_arrays(kind: Any) -> bool:
    if isinstance(kind, types.BaseTuple):
        return any(map(_may_hold_arrays, kind))
    return not isinstance(kind, PLAIN)


class PartCompiler(Compiler):  # type: ignore[misc]
    """Stages of compiling a function that only compiled functions call."""

    def compile_extra(self, func: Any) -> Any:
        """Compile into code that is linked later."""
        self.state.library = Parts(self.state.targetctx.codegen(), func.__qualname__)
        return super().compile_extra(func)

    def define_pipelines(self) -> list[Any]:
        """Give Numba's stages without those for what the function does not hold."""
        (whole,) = super().define_pipelines()
        if any(isinstance(c, CodeType) for c in self.state.func_id.code.co_consts):
            return [whole]  # it holds functions of its own
        lean = PassManager("part")
        for stage, why in whole.passes:
            if stage.name() not in NEEDLESS:
                lean.add_pass(stage, why)
        lean.add_pass_after(Borrowing, NopythonTypeInference)
        lean.finalize()
        return [lean]


class SharedCompiler(PartCompiler):
    """Stages of compiling a function that compiled functions call by its name."""

    def compile_extra(self, func: Any) -> Any:
        """Compile into machine code that is kept."""
        self.state.library = Shared(self.state.targetctx.codegen(), func.__qualname__)
        self.state.library.enable_object_caching()
        with _quickly():
            return Compiler.compile_extra(self, func)

    def define_pipelines(self) -> list[Any]:
        """Give the stages, once the function has a name that is the same in every process."""
        identity = self.state.func_id
        identity.unique_id = content_of(identity.func)
        identity.unique_name = f"{identity.func_qualname}${identity.unique_id}"
        return super().define_pipelines()


def content_of(function: Any) -> str:
    """Tell functions of one module and name apart by what they do."""
    cells = tuple(cell.cell_contents for cell in function.__closure__ or ())
    code = function.__code__
    digest = hashlib.sha256(code.co_code + repr((code.co_firstlineno, code.co_names)).encode())
    digest.update(dumps(cells) if cells else b"")
    return digest.hexdigest()[:16]


class EntryCompiler(Compiler):  # type: ignore[misc]
    """Stages of compiling a function that Python calls, and meanwhile all that it calls."""

    def compile_extra(self, func: Any) -> Any:
        """Compile as Numba does, under its lock."""
        with _quickly():
            return super().compile_extra(func)


_QUICKLY: list[bool] = []
"""Marks a function under way."""


@contextmanager
def _quickly() -> Iterator[None]:
    """Let Numba leave out what nobody needs, also in all functions that are called."""
    with ExitStack() as until_done:
        if not _QUICKLY:
            until_done.enter_context(_uncollected())
            until_done.enter_context(_types_looked_up())
            until_done.enter_context(_untimed())
            _QUICKLY.append(True)
            until_done.callback(_QUICKLY.clear)
        yield


@contextmanager
def _uncollected() -> Iterator[None]:
    """Let Python look for no cycles among objects."""
    enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if enabled:
            gc.enable()


@contextmanager
def _untimed() -> Iterator[None]:
    """Let Numba time nothing."""

    def nothing(*_given: Any, **_named: Any) -> None:
        pass

    starts, ends = event.start_event, event.end_event
    event.start_event = event.end_event = nothing
    try:
        yield
    finally:
        event.start_event, event.end_event = starts, ends


LOOKED_UP: dict[Any, Any] = {}
"""What calls of functions on arguments of known types give: their types, and Numba's key."""


@contextmanager
def _types_looked_up() -> Iterator[None]:
    """Let Numba find the types of a call once.

    Settings may change what it finds; they are the same in all that an entry calls.
    """
    kind, find = types.Function, types.Function.get_call_type

    def found(self: Any, context: Any, args: Any, kws: Any) -> Any:
        if kws or not all(each.is_precise() for each in args):
            return find(self, context, args, kws)
        known = self.templates, tuple(args)
        if known not in LOOKED_UP:
            sign = find(self, context, args, kws)
            LOOKED_UP[known] = sign, self.get_impl_key(sign)
        sign, key = LOOKED_UP[known]
        self._impl_keys[sign.args] = key
        return sign

    kind.get_call_type = found
    try:
        yield
    finally:
        kind.get_call_type = find


def _is_one_number(kind: Any, index: Any) -> bool:
    """Tell whether an index names one number of an array whose rows lie one behind the other."""
    each = index.types if isinstance(index, types.BaseTuple) else (index,)
    whole = type(kind) is types.Array and kind.layout == "C" and kind.ndim == len(each)
    numbers = whole and isinstance(kind.dtype, types.Float | types.Integer)
    return numbers and all(isinstance(one, types.Integer) for one in each)


def _place(context: Any, builder: Any, kind: Any, array: Any, index: Any, given: Any) -> Any:
    """Give the address of one number of an array. A negative index counts from the end."""
    fields = context.data_model_manager[kind]._fields
    kinds, indices = (index,), [given]
    if isinstance(index, types.BaseTuple):
        kinds, indices = index.types, [_item(builder, given, k) for k in range(kind.ndim)]
    shape, place = fields.index("shape"), None
    lengths = [builder.extract_value(array, [shape, k]) for k in range(kind.ndim)]
    for k, length in enumerate(lengths):
        at = context.cast(builder, indices[k], kinds[k], types.intp)
        if kinds[k].signed and not (isinstance(at, llvm.Constant) and at.constant >= 0):
            negative = builder.icmp_signed("<", at, at.type(0))
            at = builder.select(negative, builder.add(length, at), at)
        for later in lengths[k + 1 :]:
            at = builder.mul(at, later)
        place = at if place is None else builder.add(place, at)
    return builder.gep(builder.extract_value(array, fields.index("data")), [place])


def _item(builder: Any, given: Any, k: int) -> Any:
    """Give an item of a tuple: what was put into it, if that is in sight."""
    value = given
    while isinstance(value, llvm.instructions.InsertValue):
        if tuple(value.indices) == (k,):
            return value.operands[1]
        value = value.operands[0]
    return builder.extract_value(given, k)


def _reading(otherwise: Callable[..., Any]) -> Callable[..., Any]:
    """Read one number of an array, and anything else as Numba does."""

    def read(context: Any, builder: Any, sign: Any, given: Any) -> Any:
        kind, index = sign.args
        if context.enable_boundscheck or not _is_one_number(kind, index):
            return otherwise(context, builder, sign, given)
        place = _place(context, builder, kind, given[0], index, given[1])
        return arrayobj.load_item(context, builder, kind, place)

    return read


def _write(context: Any, builder: Any, sign: Any, given: Any) -> Any:
    """Write one number of an array, and anything else as Numba does."""
    kind, index, written = sign.args
    plain = _is_one_number(kind, index) and isinstance(written, types.Number | types.Boolean)
    if context.enable_boundscheck or not plain:
        return arrayobj.setitem_array(context, builder, sign, given)
    place = _place(context, builder, kind, given[0], index, given[1])
    value = context.cast(builder, given[2], written, kind.dtype)
    return arrayobj.store_item(context, builder, kind, value, place)


lower_builtin(operator.getitem, types.Array, types.Integer)(_reading(arrayobj.getitem_arraynd_intp))
lower_builtin(operator.getitem, types.Array, types.BaseTuple)(
    _reading(arrayobj.getitem_array_tuple)
)
lower_builtin(operator.setitem, types.Array, types.Any, types.Any)(_write)
