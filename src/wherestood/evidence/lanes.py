"""Do the arithmetic of sixteen unknowns in vectors that stay in registers.

Plain loops over the unknowns leave the compiler in doubt whether arrays overlap, and
it goes through memory for every sum. Here the vectors are spelt out for it; on any
machine it splits them as that machine's registers ask. Lengths are the callers' to
keep: nothing is checked.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from llvmlite import ir
from numba.core import cgutils, types
from numba.extending import intrinsic

from wherestood.evidence.unknowns import COUNT

__all__ = ["GAIN", "eliminate", "sum_squares", "whiten_rows"]

#: Columns of a filter's gains: the five numbers of its step that are not 0, the
#: height's factor, the three gains, and one over the innovation's sd.
GAIN = 10

_HALF = 8
_HALVES = range(COUNT // _HALF)
_FAST = ("fast",)
_DOUBLE = ir.DoubleType()
_VECTOR = ir.VectorType(_DOUBLE, _HALF)
_INDEX = ir.IntType(64)
_LANE = ir.IntType(32)
_SPREAD = ir.Constant(ir.VectorType(_LANE, _HALF), [0] * _HALF)
_NOTHING = ir.Constant(_VECTOR, ir.Undefined)

Value = Any
Row = list[Value]


class _Lanes:
    """Write vector arithmetic for numba's compiler; a row is sixteen numbers."""

    def __init__(self, context: Any, builder: Any) -> None:
        self.context = context
        self.builder = builder

    def data(self, kind: Any, array: Value) -> Value:
        """Return the address of a C-contiguous array's first number."""
        return self.context.make_array(kind)(self.context, self.builder, array).data

    def at(self, data: Value, index: Value | int) -> Value:
        """Return the address of one number."""
        if isinstance(index, int):
            index = ir.Constant(_INDEX, index)
        return self.builder.gep(data, [index])

    def number(self, data: Value, index: Value | int) -> Value:
        return self.builder.load(self.at(data, index))

    def row(self, data: Value, index: Value | int, halves: range = _HALVES) -> Row:
        """Return sixteen numbers from ``index`` on, or the first half of them."""
        first = self.at(data, index)
        return [
            self.builder.load(self._half(first, half), align=_HALF) for half in halves
        ]

    def keep(self, row: Row, data: Value, index: Value | int) -> None:
        """Store a row from ``index`` on."""
        first = self.at(data, index)
        for half, part in enumerate(row):
            self.builder.store(part, self._half(first, half), align=_HALF)

    def _half(self, first: Value, half: int) -> Value:
        return self.builder.bitcast(self.at(first, half * _HALF), _VECTOR.as_pointer())

    def spread(self, number: Value) -> Value:
        """Return a vector that holds one number everywhere."""
        one = self.builder.insert_element(_NOTHING, number, ir.Constant(_LANE, 0))
        return self.builder.shuffle_vector(one, _NOTHING, _SPREAD)

    def lane(self, row: Row, index: int) -> Value:
        """Return one number of a row."""
        return self.builder.extract_element(
            row[index // _HALF], ir.Constant(_LANE, index % _HALF)
        )

    def times(self, row: Row, factor: Value) -> Row:
        """Return a row times a vector."""
        return [self.builder.fmul(part, factor, flags=_FAST) for part in row]

    def plus(self, row: Row, other: Row) -> Row:
        return [
            self.builder.fadd(a, b, flags=_FAST)
            for a, b in zip(row, other, strict=True)
        ]

    def minus(self, row: Row, other: Row) -> Row:
        return [
            self.builder.fsub(a, b, flags=_FAST)
            for a, b in zip(row, other, strict=True)
        ]

    def zeros(self, halves: range = _HALVES) -> list[Value]:
        """Return slots for a row, filled with zeros; the compiler makes registers."""
        slots = []
        for _ in halves:
            slot = cgutils.alloca_once(self.builder, _VECTOR)  # type: ignore[no-untyped-call]
            self.builder.store(ir.Constant(_VECTOR, [0.0] * _HALF), slot)
            slots.append(slot)
        return slots

    def held(self, slots: list[Value]) -> Row:
        return [self.builder.load(slot) for slot in slots]

    def hold(self, row: Row, slots: list[Value]) -> None:
        for part, slot in zip(row, slots, strict=True):
            self.builder.store(part, slot)


def _whiten_rows(
    _typing: Any, jacobian: Any, gain: Any, white: Any, count: Any
) -> tuple[Any, Callable[..., Value]]:
    """Pass each of sixteen columns through a filter, given its gains.

    ``jacobian`` and ``white``, which receives the whitened rows, have sixteen columns
    and ``count`` rows, ``gain`` as many rows of `GAIN`.
    """

    def write(context: Any, builder: Any, signature: Any, arguments: Any) -> Value:
        do = _Lanes(context, builder)
        rows, gains, out = (
            do.data(kind, array)
            for kind, array in zip(signature.args[:3], arguments[:3], strict=True)
        )
        states = [do.zeros() for _ in range(3)]
        with cgutils.for_range(builder, arguments[3]) as loop:
            first = builder.mul(loop.index, ir.Constant(_INDEX, COUNT))
            begin = do.at(gains, builder.mul(loop.index, ir.Constant(_INDEX, GAIN)))
            step = [do.spread(do.number(begin, k)) for k in range(GAIN)]
            long, slope, short = (do.held(slots) for slots in states)
            ahead = (
                do.plus(do.times(long, step[0]), do.times(slope, step[1])),
                do.plus(do.times(long, step[2]), do.times(slope, step[3])),
                do.times(short, step[4]),
            )
            seen = do.times(do.plus(ahead[0], ahead[2]), step[5])
            new = do.minus(do.row(rows, first), seen)
            for k, slots in enumerate(states):
                do.hold(do.plus(ahead[k], do.times(new, step[6 + k])), slots)
            do.keep(do.times(new, step[9]), out, first)
        return context.get_dummy_value()

    return types.void(jacobian, gain, white, count), write


def _sum_squares(
    _typing: Any, white: Any, residual: Any, normal: Any, right: Any, count: Any
) -> tuple[Any, Callable[..., Value]]:
    """Fill the normal equations of whitened rows and residuals.

    ``white`` has ``count`` rows of sixteen. Of ``normal`` the lower triangle counts;
    some of the upper is left as it was.
    """

    def write(context: Any, builder: Any, signature: Any, arguments: Any) -> Value:
        do = _Lanes(context, builder)
        rows, residuals, square, side = (
            do.data(kind, array)
            for kind, array in zip(signature.args[:4], arguments[:4], strict=True)
        )
        # Two passes: the sums of one are as many as there are registers.
        for wanted in (range(_HALF), range(_HALF, COUNT)):
            halves = range(1 if wanted.start == 0 else 2)
            sums = {p: do.zeros(halves) for p in wanted}
            along = do.zeros() if wanted.start == 0 else []
            with cgutils.for_range(builder, arguments[4]) as loop:
                first = builder.mul(loop.index, ir.Constant(_INDEX, COUNT))
                row = do.row(rows, first)
                one = do.at(rows, first)
                for p, slots in sums.items():
                    factor = do.spread(do.number(one, p))
                    more = do.times(row[: len(slots)], factor)
                    do.hold(do.plus(do.held(slots), more), slots)
                if along:
                    factor = do.spread(do.number(residuals, loop.index))
                    do.hold(do.plus(do.held(along), do.times(row, factor)), along)
            for p, slots in sums.items():
                do.keep(do.held(slots), square, p * COUNT)
            if along:
                do.keep(do.held(along), side, 0)
        return context.get_dummy_value()

    return types.void(white, residual, normal, right, count), write


def _eliminate(
    _typing: Any, normal: Any, right: Any, pivot: Any
) -> tuple[Any, Callable[..., Value]]:
    """Eliminate the unknowns of normal equations, the last one first.

    Of ``normal`` (sixteen by sixteen) the lower triangle is used, and receives the
    rows as they were when their own unknown was eliminated; so does ``right`` its
    numbers. ``pivot`` receives their diagonal, 1e-300 at least.
    """

    def write(context: Any, builder: Any, signature: Any, arguments: Any) -> Value:
        do = _Lanes(context, builder)
        square, side, diagonal = (
            do.data(kind, array)
            for kind, array in zip(signature.args, arguments, strict=True)
        )
        rows = [
            do.row(square, p * COUNT, range(1 if p < _HALF else 2))
            for p in range(COUNT)
        ]
        rest = do.row(side, 0)
        least = ir.Constant(_DOUBLE, 1e-300)
        for k in reversed(range(COUNT)):
            value = do.lane(rows[k], k)
            low = builder.fcmp_ordered("<=", value, least)
            value = builder.select(low, least, value)
            builder.store(value, do.at(diagonal, k))
            inverse = builder.fdiv(ir.Constant(_DOUBLE, 1.0), value, flags=_FAST)
            scaled = do.times(rows[k], do.spread(inverse))
            right_k = do.lane(rest, k)
            builder.store(right_k, do.at(side, k))
            less = do.times(scaled, do.spread(right_k))
            rest[: len(less)] = do.minus(rest[: len(less)], less)
            for i in range(k):
                factor = do.spread(do.lane(rows[k], i))
                less = do.times(scaled[: len(rows[i])], factor)
                rows[i] = do.minus(rows[i], less)
            do.keep(rows[k], square, k * COUNT)
        return context.get_dummy_value()

    return types.void(normal, right, pivot), write


whiten_rows: Any = intrinsic(_whiten_rows)
sum_squares: Any = intrinsic(_sum_squares)
eliminate: Any = intrinsic(_eliminate)
