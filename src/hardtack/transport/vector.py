"""A number for every lane, as a type of the compiler: arithmetic on it is the processor's vector arithmetic.

Numba has no such type. Left to find the vectors in loops over lanes, its compiler keeps them in memory between any two
operations; as values they stay in registers. Plain numbers mix with lanes and count for all of them. A lane's result
depends on that lane alone: nothing here works across lanes but `anywhere`, which asks whether any lane is true.
"""

from __future__ import annotations

import operator

from llvmlite import ir
from numba.core import types
from numba.core.extending import intrinsic, models, register_model
from numba.core.imputils import lower_builtin, lower_cast
from numba.core.typing.templates import AbstractTemplate, infer_global, signature
from numba.np.arrayobj import populate_array

WIDTH = 16
"""Lanes: two of the widest vectors there are, so that one sweep's waiting is filled by the other."""

_DOUBLE, _LONG, _INT = ir.DoubleType(), ir.IntType(64), ir.IntType(32)
_NUMBERS, _BITS, _TRUTHS = (ir.VectorType(kind, WIDTH) for kind in (_DOUBLE, _LONG, ir.IntType(1)))


class _Lanes(types.Type):  # type: ignore[misc]
    def __init__(self) -> None:
        super().__init__(name=f"lanes of {WIDTH}")

    def can_convert_from(self, typingctx, other):  # type: ignore[no-untyped-def]
        """Plain numbers count for all lanes."""
        del typingctx
        return 2 if isinstance(other, (types.Float, types.Integer)) else None


class _Mask(types.Type):  # type: ignore[misc]
    def __init__(self) -> None:
        super().__init__(name=f"truths of {WIDTH}")


lanes, mask = _Lanes(), _Mask()


@register_model(_Lanes)
class _LanesModel(models.PrimitiveModel):  # type: ignore[misc]
    def __init__(self, manager, kind):  # type: ignore[no-untyped-def]
        super().__init__(manager, kind, _NUMBERS)


@register_model(_Mask)
class _MaskModel(models.PrimitiveModel):  # type: ignore[misc]
    def __init__(self, manager, kind):  # type: ignore[no-untyped-def]
        super().__init__(manager, kind, _TRUTHS)


def _spread(builder, number):  # type: ignore[no-untyped-def]
    """One number in every lane."""
    kind = ir.VectorType(number.type, WIDTH)
    first = builder.insert_element(ir.Constant(kind, ir.Undefined), number, _INT(0))
    return builder.shuffle_vector(
        first, ir.Constant(kind, ir.Undefined), ir.Constant(ir.VectorType(_INT, WIDTH), [_INT(0)] * WIDTH)
    )


def _all(kind, value):  # type: ignore[no-untyped-def]
    return ir.Constant(ir.VectorType(kind, WIDTH), [kind(value)] * WIDTH)


@lower_cast(types.Float, _Lanes)
@lower_cast(types.Integer, _Lanes)
def _from_number(context, builder, fromty, toty, value):  # type: ignore[no-untyped-def]
    return _spread(builder, context.cast(builder, value, fromty, types.float64))


class _Binary(AbstractTemplate):  # type: ignore[misc]
    gives = lanes

    def generic(self, args, kws):  # type: ignore[no-untyped-def]
        del kws
        if lanes in args and all(isinstance(a, (_Lanes, types.Float, types.Integer)) for a in args):
            return signature(self.gives, *([lanes] * len(args)))
        return None


class _Comparison(_Binary):
    gives = mask


class _Logic(AbstractTemplate):  # type: ignore[misc]
    def generic(self, args, kws):  # type: ignore[no-untyped-def]
        del kws
        return signature(mask, mask, mask) if tuple(args) == (mask, mask) else None


for _op in (operator.add, operator.sub, operator.mul, operator.truediv):
    infer_global(_op)(type("Arithmetic", (_Binary,), {"key": _op}))
    _name = {"add": "fadd", "sub": "fsub", "mul": "fmul", "truediv": "fdiv"}[_op.__name__]
    lower_builtin(_op, lanes, lanes)(
        lambda context, builder, sig, args, name=_name: getattr(builder, name)(*args)
    )
for _op, _sign in ((operator.lt, "<"), (operator.le, "<="), (operator.gt, ">"), (operator.ge, ">=")):
    infer_global(_op)(type("Compared", (_Comparison,), {"key": _op}))
    lower_builtin(_op, lanes, lanes)(
        lambda context, builder, sig, args, sign=_sign: builder.fcmp_ordered(sign, *args)
    )
for _op, _name in ((operator.and_, "and_"), (operator.or_, "or_")):
    infer_global(_op)(type("Joined", (_Logic,), {"key": _op}))
    lower_builtin(_op, mask, mask)(
        lambda context, builder, sig, args, name=_name: getattr(builder, name)(*args)
    )


def _place(context, builder, room, array, row, kind):  # type: ignore[no-untyped-def]
    """Where a row of a contiguous array [rows, WIDTH] begins."""
    data = context.make_array(room)(context, builder, array).data
    first = builder.gep(data, [builder.mul(row, _LONG(WIDTH))], inbounds=True)
    return builder.bitcast(first, kind.as_pointer())


@intrinsic
def spread(typingctx, number):  # type: ignore[no-untyped-def]
    """A number in every lane."""
    del typingctx

    def code(context, builder, sig, args):  # type: ignore[no-untyped-def]
        return args[0]

    return lanes(lanes), code


@intrinsic
def load(typingctx, room, first, row):  # type: ignore[no-untyped-def]
    """Row `first` + `row` of an array [rows, WIDTH] of float64."""
    del typingctx

    def code(context, builder, sig, args):  # type: ignore[no-untyped-def]
        place = _place(context, builder, room, args[0], builder.add(args[1], args[2]), _NUMBERS)
        return builder.load(place, align=8)

    return lanes(room, types.intp, types.intp), code


@intrinsic
def store(typingctx, room, first, row, value):  # type: ignore[no-untyped-def]
    """Into row `first` + `row` of an array [rows, WIDTH] of float64."""
    del typingctx

    def code(context, builder, sig, args):  # type: ignore[no-untyped-def]
        place = _place(context, builder, room, args[0], builder.add(args[1], args[2]), _NUMBERS)
        builder.store(args[3], place, align=8)
        return context.get_dummy_value()

    return types.void(room, types.intp, types.intp, lanes), code


@intrinsic
def pick(typingctx, where, yes, no):  # type: ignore[no-untyped-def]
    """`yes` in the lanes that are true, `no` in the others."""
    del typingctx

    def code(context, builder, sig, args):  # type: ignore[no-untyped-def]
        return builder.select(*args)

    return lanes(mask, lanes, lanes), code


@intrinsic
def anywhere(typingctx, where):  # type: ignore[no-untyped-def]
    """Whether any lane is true."""
    del typingctx

    def code(context, builder, sig, args):  # type: ignore[no-untyped-def]
        whole = builder.bitcast(args[0], ir.IntType(WIDTH))
        return builder.icmp_unsigned("!=", whole, ir.IntType(WIDTH)(0))

    return types.boolean(mask), code


@intrinsic
def size(typingctx, x):  # type: ignore[no-untyped-def]
    """|x|."""
    del typingctx

    def code(context, builder, sig, args):  # type: ignore[no-untyped-def]
        bits = builder.and_(builder.bitcast(args[0], _BITS), _all(_LONG, 0x7FFFFFFFFFFFFFFF))
        return builder.bitcast(bits, _NUMBERS)

    return lanes(lanes), code


@intrinsic
def whole(typingctx, x):  # type: ignore[no-untyped-def]
    """x without its fraction; |x| below 2**31."""
    del typingctx

    def code(context, builder, sig, args):  # type: ignore[no-untyped-def]
        cut = builder.fptosi(args[0], ir.VectorType(_INT, WIDTH))
        return builder.sitofp(cut, _NUMBERS)

    return lanes(lanes), code


@intrinsic
def times_power_of_two(typingctx, x, shifted):  # type: ignore[no-untyped-def]
    """x 2^k, with k as the last bits of `shifted`."""
    del typingctx

    def code(context, builder, sig, args):  # type: ignore[no-untyped-def]
        up = builder.shl(builder.bitcast(args[1], _BITS), _all(_LONG, 52))
        return builder.bitcast(builder.add(builder.bitcast(args[0], _BITS), up), _NUMBERS)

    return lanes(lanes, lanes), code


@intrinsic
def quartets(typingctx, addresses, row, entry):  # type: ignore[no-untyped-def]
    """Four numbers of each lane, as four lanes: those from 4 `entry` onwards of the row of numbers that lies, for lane l,
    at the address `addresses[row, l]`."""
    del typingctx

    def code(context, builder, sig, args):  # type: ignore[no-untyped-def]
        base = builder.load(_place(context, builder, addresses, *args[:2], _BITS), align=8)
        entry = builder.sext(builder.fptosi(args[2], ir.VectorType(_INT, WIDTH)), _BITS)
        at = builder.add(base, builder.shl(entry, _all(_LONG, 5)))
        four = ir.VectorType(_DOUBLE, 4)
        rows = []
        for lane in range(WIDTH):
            pointer = builder.inttoptr(builder.extract_element(at, _INT(lane)), four.as_pointer())
            rows.append(builder.load(pointer, align=8))
        while len(rows) > 1:  # side by side, two and two
            both = ir.Constant(
                ir.VectorType(_INT, 2 * rows[0].type.count), [_INT(i) for i in range(2 * rows[0].type.count)]
            )
            rows = [builder.shuffle_vector(a, b, both) for a, b in zip(rows[::2], rows[1::2], strict=True)]
        flat, columns = rows[0], []
        for column in range(4):
            where = ir.Constant(
                ir.VectorType(_INT, WIDTH), [_INT(4 * lane + column) for lane in range(WIDTH)]
            )
            columns.append(builder.shuffle_vector(flat, flat, where))
        return context.make_tuple(builder, sig.return_type, columns)

    return types.UniTuple(lanes, 4)(addresses, types.intp, lanes), code


@intrinsic
def pointer(typingctx, address):  # type: ignore[no-untyped-def]
    """The numbers that lie at an address."""
    del typingctx

    def code(context, builder, sig, args):  # type: ignore[no-untyped-def]
        return builder.inttoptr(args[0], context.get_value_type(sig.return_type))

    return types.CPointer(types.float64)(types.int64), code


@intrinsic
def table(typingctx, address, rows, columns):  # type: ignore[no-untyped-def]
    """The numbers [rows, columns] that lie at an address, one row after another."""
    del typingctx

    def code(context, builder, sig, args):  # type: ignore[no-untyped-def]
        found, item = context.make_array(sig.return_type)(context, builder), ir.Constant(_LONG, 8)
        data = builder.inttoptr(args[0], found.data.type)
        strides = [builder.mul(args[2], item), item]
        populate_array(found, data, [args[1], args[2]], strides, item, meminfo=None)
        return found._getvalue()

    return types.Array(types.float64, 2, "C")(types.int64, types.intp, types.intp), code
