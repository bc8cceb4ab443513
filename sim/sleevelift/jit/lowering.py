"""The passes by which kernels are compiled, and how their statements become code.

Kernels have no closures, `with`, `try`, generators, nor loops over tuples of many types; those that count no references ("bare")
need not be told where a variable is used last. What is left out of the compiler's own passes is what they repeat after each other
(where each variable is alive) and what they write out for their reports. See `whole` for what follows where an inside of the
compiler's is not there.
"""

import operator
from typing import Any

from numba.core import cgutils as _cgutils
from numba.core import errors as _errors
from numba.core import ir as _ir
from numba.core import ir_utils as _ir_utils
from numba.core import lowering as _lowering
from numba.core import ssa as _ssa
from numba.core import transforms as _transforms
from numba.core import typed_passes as _typed
from numba.core import typeinfer as _typeinfer
from numba.core import types as _types
from numba.core import untyped_passes as _untyped
from numba.core.rewrites import registry as _registry
from numba.core.rewrites import static_getitem as _static_getitem

ir: Any = _ir
types: Any = _types
typed: Any = _typed
untyped: Any = _untyped
UsualLower: Any = _lowering.Lower
cgutils: Any = _cgutils
utils: Any = _ir_utils
rewrites: Any = _registry.rewrite_registry.rewrites
errors: Any = _errors
typeinfer: Any = _typeinfer
ssa: Any = _ssa
transforms: Any = _transforms
UsualConstraints: Any = typeinfer.ConstraintNetwork
PLAIN_RESULTS = (types.Number, types.Boolean, types.BaseTuple, types.NoneType)
PLAIN_CALLS = (types.Dispatcher, types.Function, types.BoundFunction, types.NumberClass)


def _is_bare(state: Any) -> bool:
    return not state.flags.nrt


class Lower(UsualLower):  # type: ignore[misc]
    """Statements of a kernel that counts no references, as code."""

    def pre_block(self, block: Any) -> None:
        self._cur_ir_block = block

    def lower_block(self, block: Any) -> None:
        self.pre_block(block)
        for statement in block.body:
            self.loc = statement.loc
            if type(statement) is ir.Assign and type(statement.value) is not ir.Arg:
                name = statement.target.name
                self.storevar(self.lower_assign(self.typeof(name), statement), name)
            else:
                self.lower_inst(statement)
        self.post_block(block)

    def storevar(self, value: Any, name: str, argidx: Any = None) -> None:
        if name in self._singly_assigned_vars:
            self._blk_local_varmap[name] = value
            return
        self._alloca_var(name, self.typeof(name))
        self.builder.store(value, self.getvar(name))

    def alloca_lltype(self, name: str, lltype: Any, datamodel: Any = None) -> Any:
        return cgutils.alloca_once(self.builder, lltype, name=name, zfill=False)

    def _operation(self, operation: Any, signature: Any, operands: Any, resty: Any) -> Any:
        """An operation on variables, cast to what it takes and to what its result is kept as."""
        context, builder = self.context, self.builder
        function = context.typing_context.resolve_value_type(operation)
        its = context.typing_context.resolve_function_type(function, signature.args, {})
        code = context.get_function(function, its)
        values = [
            context.cast(builder, self.loadvar(operand.name), self.typeof(operand.name), kind)
            for operand, kind in zip(operands, signature.args)
        ]
        return context.cast(builder, code(builder, values), signature.return_type, resty)

    def lower_getitem(self, resty: Any, expr: Any, value: Any, index: Any, signature: Any) -> Any:
        return self._operation(operator.getitem, signature, (value, index), resty)

    def lower_setitem(self, target_var: Any, index_var: Any, value_var: Any, signature: Any) -> Any:
        return self._operation(operator.setitem, signature, (target_var, index_var, value_var), signature.return_type)

    def lower_binop(self, resty: Any, expr: Any, op: Any) -> Any:
        if expr.static_lhs is not ir.UNDEFINED or expr.static_rhs is not ir.UNDEFINED:
            return super().lower_binop(resty, expr, op)
        return self._operation(op, self.fndesc.calltypes[expr], (expr.lhs, expr.rhs), resty)

    def lower_call(self, resty: Any, expr: Any) -> Any:
        signature, kind = self.fndesc.calltypes[expr], self.typeof(expr.func.name)
        if (
            not isinstance(kind, PLAIN_CALLS)
            or isinstance(signature.return_type, types.Phantom)
            or expr.vararg or expr.kws or expr.target is not None or len(expr.args) != len(signature.args)
        ):  # fmt: skip
            return super().lower_call(resty, expr)
        values = [self._cast_var(operand, wanted) for operand, wanted in zip(expr.args, signature.args)]
        code = self.context.get_function(kind, signature)
        if signature.recvr:
            values.insert(0, self.loadvar(expr.func.name))
        value = code(self.builder, values, self.loc)
        if value is None:
            value = self.context.get_dummy_value()
        return self.context.cast(self.builder, value, signature.return_type, resty)


class Begin(untyped.IRProcessing):  # type: ignore[misc]
    """Blocks in a form that the other passes take."""

    _name = "kernel_begin"

    def run_pass(self, state: Any) -> bool:
        state.func_ir.blocks = transforms.canonicalize_cfg(state.func_ir.blocks)
        return True


def _rewrite(state: Any, classes: Any) -> None:
    """Apply each rewrite to each block until it does not match any more."""
    blocks = state.func_ir.blocks
    for each in classes:
        rewrite = each(state)
        waiting = list(blocks.items())
        while waiting:
            label, block = waiting.pop()
            if rewrite.match(state.func_ir, block, state.typemap, state.calltypes):
                blocks[label] = rewrite.apply()
                waiting.append((label, blocks[label]))


class RewriteBefore(untyped.GenericRewrites):  # type: ignore[misc]
    """What is written otherwise before types are known."""

    _name = "kernel_rewrite_before"

    def run_pass(self, state: Any) -> bool:
        _rewrite(state, rewrites["before-inference"])
        return True


class SingleAssignment(untyped.ReconstructSSA):  # type: ignore[misc]
    """Each variable assigned once, joined where branches meet."""

    _name = "kernel_single_assignment"

    def run_pass(self, state: Any) -> bool:
        state.func_ir = ssa.reconstruct_ssa(state.func_ir)
        self._patch_locals(state)
        state.func_ir._definitions = utils.build_definitions(state.func_ir.blocks)
        return True


class Constraints(UsualConstraints):  # type: ignore[misc]
    """What the types of a kernel's variables must agree with; only where they do not the compiler is asked for its report."""

    def propagate(self, typeinfer: Any) -> Any:
        try:
            for constraint in self.constraints:
                constraint(typeinfer)
        except errors.NumbaError:
            return super().propagate(typeinfer)
        return []


class Inference(typed.NopythonTypeInference):  # type: ignore[misc]
    """Types of a kernel's variables, from those of its arguments."""

    _name = "kernel_inference"

    def run_pass(self, state: Any) -> bool:
        warnings = errors.WarningsFixer(errors.NumbaWarning)
        inferer: Any = typeinfer.TypeInferer(state.typingctx, state.func_ir, warnings)
        inferer.constraints = Constraints()
        stack = state.typingctx.callstack.register(state.targetctx.target, inferer, state.func_ir.func_id, state.args)
        with stack, warnings:
            for place, (name, kind) in enumerate(zip(state.func_ir.arg_names, state.args)):
                inferer.seed_argument(name, place, kind)
            inferer.build_constraint()
            inferer.propagate(raise_errors=True)
            typemap, return_type, calltypes = inferer.unify(raise_errors=True)
        if state.return_type is not None or state.locals or not isinstance(return_type, PLAIN_RESULTS):
            return bool(super().run_pass(state))  # with its checks of what may be given back
        state.typemap, state.return_type, state.calltypes = typemap, return_type, calltypes
        state.typing_errors = []
        return True


class WithoutJoins(typed.PreLowerStripPhis):  # type: ignore[misc]
    """Joins written as assignments in the branches."""

    _name = "kernel_without_joins"

    def run_pass(self, state: Any) -> bool:
        state.func_ir = self._strip_phi_nodes(state.func_ir)
        state.func_ir._definitions = utils.build_definitions(state.func_ir.blocks)
        return True


class RewriteAfter(typed.NopythonRewrites):  # type: ignore[misc]
    """What is written otherwise once types are known: the others make arrays."""

    _name = "kernel_rewrite_after"

    def run_pass(self, state: Any) -> bool:
        if not _is_bare(state):
            return bool(super().run_pass(state))
        _rewrite(state, [each for each in rewrites["after-inference"] if each.__module__ == _static_getitem.__name__])
        return True


class Legalize(typed.IRLegalization):  # type: ignore[misc]
    """Where each variable is used last, if references are counted."""

    _name = "kernel_legalize"

    def run_pass(self, state: Any) -> bool:
        return True if _is_bare(state) else bool(super().run_pass(state))


class MakeCode(typed.NativeLowering):  # type: ignore[misc]
    """Statements become code."""

    _name = "kernel_make_code"

    def run_pass(self, state: Any) -> bool:
        self._is_bare = _is_bare(state)
        return bool(super().run_pass(state))

    @property
    def lowering_class(self) -> Any:
        return Lower if self._is_bare else UsualLower


PASSES = (
    untyped.TranslateByteCode,
    untyped.FixupArgs,
    Begin,
    untyped.RewriteSemanticConstants,
    untyped.DeadBranchPrune,
    RewriteBefore,
    SingleAssignment,
    untyped.DeadBranchPrune,
    Inference,
    WithoutJoins,
    typed.InlineOverloads,
    RewriteAfter,
    Legalize,
    MakeCode,
    typed.NoPythonBackend,
)


class Manager:
    """Runs PASSES, without the compiler's reports on each: they write out the types of whole records."""

    pipeline_name = "kernel"
    exec_times: dict[str, Any] = {}

    def __init__(self) -> None:
        self._passes = [each() for each in PASSES]
        analysis: dict[Any, Any] = {each: None for each in PASSES}
        for each in self._passes:
            each.analysis = analysis

    def run(self, state: Any) -> None:
        """Compile what `state` holds."""
        for each in self._passes:
            each.run_pass(state)
