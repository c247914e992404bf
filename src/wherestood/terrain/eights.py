"""Hold eight numbers at a time in a compiled kernel.

An *eight* is eight float64 lanes in vector registers, a *choice* eight truths. In a
kernel they are added, multiplied and compared like single numbers; a number beside an
eight counts for all its lanes. The compiler splits them as the machine's registers
ask. Nothing is checked: the places that are fetched from are the caller's to keep.
"""

from __future__ import annotations

import operator
from collections.abc import Callable
from typing import Any

from llvmlite import ir
from numba.core import cgutils, types
from numba.core.typing.templates import AbstractTemplate, infer_global, signature
from numba.extending import intrinsic, lower_builtin, models, register_model

__all__ = [
    "LANES",
    "choose",
    "fetch",
    "fetch_lids",
    "fetch_pairs",
    "floor_of",
    "greater",
    "how_many",
    "lesser",
    "load",
    "one_over_power",
    "root_of",
    "spread",
    "store",
]

LANES = 8

Value = Any
# Numba's own names carry no types.
_in_kernels: Any = intrinsic
_kind_of: Any = types
_answered_by: Any = infer_global
_written_by: Any = lower_builtin
_signed: Any = signature
_insert: Any = cgutils.get_or_insert_function

Writer = tuple[Any, Callable[..., Value]]

_DOUBLE = ir.DoubleType()
_FLOAT = ir.FloatType()
_BIT = ir.IntType(1)
_LANE = ir.IntType(32)
_INDEX = ir.IntType(64)
_EIGHT = ir.VectorType(_DOUBLE, LANES)
_CHOICE = ir.VectorType(_BIT, LANES)


class _Eight(types.Type):
    def __init__(self) -> None:
        super().__init__(name="eight")


class _Choice(types.Type):
    def __init__(self) -> None:
        super().__init__(name="choice")


eight = _Eight()
choice = _Choice()


@register_model(_Eight)
class _EightModel(models.PrimitiveModel):
    def __init__(self, manager: Any, kind: Any) -> None:
        super().__init__(manager, kind, _EIGHT)  # type: ignore[no-untyped-call]


@register_model(_Choice)
class _ChoiceModel(models.PrimitiveModel):
    def __init__(self, manager: Any, kind: Any) -> None:
        super().__init__(manager, kind, _CHOICE)  # type: ignore[no-untyped-call]


def _wide(builder: Any, kind: Any, value: Value) -> Value:
    """Return a value as a vector, a single number in every lane."""
    if isinstance(kind, _Eight):
        return value
    one = builder.insert_element(
        ir.Constant(_EIGHT, ir.Undefined), value, ir.Constant(_LANE, 0)
    )
    nowhere = ir.Constant(ir.VectorType(_LANE, LANES), [0] * LANES)
    return builder.shuffle_vector(one, ir.Constant(_EIGHT, ir.Undefined), nowhere)


def _kinds(*given: Any) -> list[Any]:
    """Return the kinds of arguments that may be single numbers."""
    return [kind if isinstance(kind, _Eight) else types.float64 for kind in given]


def _answers(operation: Any, kind: Any, other: Any, answer: Any) -> None:
    """Tell numba what an operation on eights or choices gives."""

    class Template(AbstractTemplate):
        def generic(self, args: Any, kws: Any) -> Any:
            del kws
            if len(args) == 2 and kind in args:
                rest = args[1] if args[0] == kind else args[0]
                if rest == kind or (other is not None and rest == other):
                    return _signed(answer, *args)
            return None

    _answered_by(operation)(Template)


def _register(operation: Any, write: Callable[..., Value], answer: Any) -> None:
    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Value:
        del context
        pair = [
            _wide(builder, kind, value)
            for kind, value in zip(sig.args, args, strict=True)
        ]
        return write(builder, *pair)

    _answers(operation, eight, types.float64, answer)
    for first, second in (
        (_Eight, _Eight),
        (_Eight, types.Float),
        (types.Float, _Eight),
    ):
        _written_by(operation, first, second)(lower)


def _comparing(sign: str) -> Callable[..., Value]:
    return lambda builder, a, b: builder.fcmp_ordered(sign, a, b)


for _operation, _write in {
    operator.add: lambda builder, a, b: builder.fadd(a, b),
    operator.sub: lambda builder, a, b: builder.fsub(a, b),
    operator.mul: lambda builder, a, b: builder.fmul(a, b),
    operator.truediv: lambda builder, a, b: builder.fdiv(a, b),
}.items():
    _register(_operation, _write, eight)
for _operation, _sign in {
    operator.lt: "<",
    operator.le: "<=",
    operator.gt: ">",
    operator.ge: ">=",
    operator.eq: "==",
}.items():
    _register(_operation, _comparing(_sign), choice)


def _join(name: str) -> Callable[..., Value]:
    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Value:
        del context, sig
        return getattr(builder, name)(*args)

    return lower


for _operation, _name in {operator.and_: "and_", operator.or_: "or_"}.items():
    _answers(_operation, choice, None, choice)
    _written_by(_operation, _Choice, _Choice)(_join(_name))


@_in_kernels
def spread(_typing: Any, number: Any) -> Writer:
    """Return an eight that holds one number everywhere."""

    def write(context: Any, builder: Any, sig: Any, args: Any) -> Value:
        del context
        return _wide(builder, sig.args[0], args[0])

    return eight(number), write


@_in_kernels
def choose(_typing: Any, chosen: Any, one: Any, other: Any) -> Writer:
    """Return ``one`` where chosen and ``other`` elsewhere."""

    def write(context: Any, builder: Any, sig: Any, args: Any) -> Value:
        del context
        pair = [_wide(builder, sig.args[k], args[k]) for k in (1, 2)]
        return builder.select(args[0], *pair)

    return eight(chosen, *_kinds(one, other)), write


def _extreme(sign: str) -> Any:
    def typed(_typing: Any, one: Any, other: Any) -> Writer:
        def write(context: Any, builder: Any, sig: Any, args: Any) -> Value:
            del context
            a, b = (
                _wide(builder, kind, value)
                for kind, value in zip(sig.args, args, strict=True)
            )
            return builder.select(builder.fcmp_ordered(sign, a, b), a, b)

        return eight(*_kinds(one, other)), write

    return _in_kernels(typed)


#: The lesser and the greater of two eights, lane by lane; the second if one is NaN.
lesser: Any = _extreme("<")
greater: Any = _extreme(">")


def _call(builder: Any, name: str, value: Value) -> Value:
    kind = ir.FunctionType(value.type, [value.type])
    function = _insert(builder.module, kind, name)
    return builder.call(function, [value])


def _unary(name: str) -> Any:
    def typed(_typing: Any, value: Any) -> Writer:
        def write(context: Any, builder: Any, sig: Any, args: Any) -> Value:
            del context, sig
            return _call(builder, f"llvm.{name}.v8f64", args[0])

        return eight(value), write

    return _in_kernels(typed)


#: The whole number at or below each lane, and the square root.
floor_of: Any = _unary("floor")
root_of: Any = _unary("sqrt")


@_in_kernels
def one_over_power(_typing: Any, value: Any) -> Writer:
    """Return one over powers of two, by their exponents alone."""

    def write(context: Any, builder: Any, sig: Any, args: Any) -> Value:
        del context, sig
        whole = ir.VectorType(_INDEX, LANES)
        # Twice the exponent of 1: what a power's and its inverse's add up to.
        twice = ir.Constant(whole, [2046 << 52] * LANES)
        bits = builder.sub(twice, builder.bitcast(args[0], whole))
        return builder.bitcast(bits, _EIGHT)

    return eight(value), write


@_in_kernels
def how_many(_typing: Any, chosen: Any) -> Writer:
    """Return how many lanes are chosen."""

    def write(context: Any, builder: Any, sig: Any, args: Any) -> Value:
        del context, sig
        bits = builder.bitcast(args[0], ir.IntType(LANES))
        return builder.zext(_call(builder, "llvm.ctpop.i8", bits), _INDEX)

    return types.int64(chosen), write


def _data(context: Any, builder: Any, kind: Any, array: Value) -> Value:
    """Return the address of a C-contiguous array's first number."""
    return context.make_array(kind)(context, builder, array).data


@_in_kernels
def load(_typing: Any, array: Any) -> Writer:
    """Return the first eight numbers of an array."""

    def write(context: Any, builder: Any, sig: Any, args: Any) -> Value:
        data = _data(context, builder, sig.args[0], args[0])
        return builder.load(builder.bitcast(data, _EIGHT.as_pointer()), align=8)

    return eight(array), write


@_in_kernels
def store(_typing: Any, value: Any, array: Any) -> Writer:
    """Put an eight into the first eight places of an array."""

    def write(context: Any, builder: Any, sig: Any, args: Any) -> Value:
        data = _data(context, builder, sig.args[1], args[1])
        builder.store(args[0], builder.bitcast(data, _EIGHT.as_pointer()), align=8)
        return context.get_dummy_value()

    return types.void(value, array), write


def _gathered(builder: Any, data: Value, places: Value, kind: Any, align: int) -> Value:
    """Return the numbers at eight places, loaded one by one as ``kind``."""
    whole = builder.fptosi(places, ir.VectorType(_INDEX, LANES))
    gathered = ir.Constant(ir.VectorType(kind, LANES), ir.Undefined)
    for lane in range(LANES):
        at = ir.Constant(_LANE, lane)
        address = builder.gep(data, [builder.extract_element(whole, at)])
        value = builder.load(builder.bitcast(address, kind.as_pointer()), align=align)
        gathered = builder.insert_element(gathered, value, at)
    return gathered


@_in_kernels
def fetch(_typing: Any, array: Any, places: Any) -> Writer:
    """Return the numbers of a float64 array at eight places."""

    def write(context: Any, builder: Any, sig: Any, args: Any) -> Value:
        data = _data(context, builder, sig.args[0], args[0])
        return _gathered(builder, data, args[1], _DOUBLE, 8)

    return eight(array, places), write


def _halves(builder: Any, words: Value) -> tuple[Value, Value]:
    """Return the lower and the upper half of eight words of 64 bits."""
    short = ir.VectorType(_LANE, LANES)
    shift = ir.Constant(words.type, [32] * LANES)
    return (
        builder.trunc(words, short),
        builder.trunc(builder.lshr(words, shift), short),
    )


def _float(builder: Any, bits: Value) -> Value:
    """Return the float64 of eight float32 given as bits."""
    return builder.fpext(builder.bitcast(bits, ir.VectorType(_FLOAT, LANES)), _EIGHT)


@_in_kernels
def fetch_pairs(_typing: Any, array: Any, places: Any) -> Writer:
    """Return the numbers of a float32 array at eight places, and those after them."""

    def write(context: Any, builder: Any, sig: Any, args: Any) -> Value:
        data = _data(context, builder, sig.args[0], args[0])
        words = _gathered(builder, data, args[1], _INDEX, 4)
        pair = [_float(builder, half) for half in _halves(builder, words)]
        return context.make_tuple(builder, sig.return_type, pair)

    return _kind_of.UniTuple(eight, 2)(array, places), write


@_in_kernels
def fetch_lids(_typing: Any, array: Any, places: Any) -> Writer:
    """Return height, slope a column and slope a row of packed lids at eight places."""

    def write(context: Any, builder: Any, sig: Any, args: Any) -> Value:
        data = _data(context, builder, sig.args[0], args[0])
        words = _gathered(builder, data, args[1], _INDEX, 8)
        slopes, height = _halves(builder, words)
        sixteen = ir.Constant(slopes.type, [16] * LANES)
        mask = ir.Constant(slopes.type, [-65536] * LANES)
        three = [
            _float(builder, height),
            _float(builder, builder.and_(slopes, mask)),
            _float(builder, builder.shl(slopes, sixteen)),
        ]
        return context.make_tuple(builder, sig.return_type, three)

    return _kind_of.UniTuple(eight, 3)(array, places), write
