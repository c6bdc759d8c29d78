"""Rows of the lanes' scratch by name, and how the lanes' functions are compiled.

Scratch is one array [rows, lanes]: the rows of every cell, then of layers, joints, barriers, and of the lanes themselves.
A function's `frame` is that scratch; counts [rows, lanes]; flags of all lanes; the structure: spans, nodes, the barriers'
joints, which layers have one diffusivity, which a path for vapour; numbers of it: cells, last interval of the curves,
first cell that sees the gas space, temperatures of the curves, stages of continuous output; and where the rows of
layers, joints, barriers and of the lanes themselves begin.
"""

from __future__ import annotations

from numba import njit

# rows of cells: those from END on are scratch, the last the stages' U
(
    WATER,
    LEFT,
    DRY,
    DRY_INVERSE,
    WITHIN,
    END,
    REST,
    MOBILITY,
    FLUX,
    LEAVING,
    C,
    ONWARDS,
    BACK,
    TO_GAS,
    FROM_GAS,
) = range(15)
PIVOT, STAYS, GOES_ON, GOES_OUT, UP, BY, SOURCE, Z, FACE, OUT, LATER, LEAVING_LATER, U = range(15, 28)
CELL_ROWS = U + 6
# rows of layers, joints, barriers
(
    SOLID_REF, E_ACT, T_REF, DELTA, SLOPE, SLOPE_INVERSE, X_REF, MOST, X_HALF, INTERVALS, SOLID, VAPOUR, SOLIDS, HELD,
    HELD_BEFORE, U_HELD,
) = range(16)  # fmt: skip
LAYER_ROWS = U_HELD + 6
HALF_1, HALF_2, SHIELD, BY_FIRST, BY_SECOND, JOINT_ROWS = range(6)
R_BARRIER, T_BARRIER, E_BARRIER, BARRIER_ROWS = range(4)
# rows of the lanes themselves: numbers, and counts
(
    GAS, COLDER, LEVEL, WARMER, ROUNDING, G, G_SLOPE, B, B_SLOPE, T, T_SLOPE, H, ERROR, GOOD, TAKEN,
    VOLUME, T_FIRST, T_SPACING, FILM, T_NOW, TIME, NEXT, ROOM, STOP_AT, LOW, HIGH, BELOW, ABOVE, WHOLE, HELD_FIRST,
    BEGAN, INSIDE, C_STAGE,
) = range(33)  # fmt: skip
SHARE = C_STAGE + 6
NOW_ROWS = SHARE + 6
(
    SCENARIO,
    OUTPUT,
    PIECE,
    STEPS,
    ATTEMPTS,
    CENTRE,
    WATCH,
    KEPT_TWICE,
    AGAIN,
    CURVE,
    DUE,
    PAST,
    NUMBER,
    AIMED,
    COUNTS,
) = range(15)
# flags of all lanes
BETWEEN, WARMING, FLAGS = range(3)

DONE, HANDED_OVER = 0, 3  # result codes
IDLE, ENDED = -1, -2  # instead of a scenario

LOG2_E, LN2_HIGH, LN2_LOW = 1.4426950408889634, 6.93147180369123816490e-01, 1.90821492927058770002e-10
SHIFT = 6755399441055744.0  # 1.5 2^52: added, it leaves a whole number in the last bits

OPTIONS = {"error_model": "numpy", "fastmath": {"contract"}, "_nrt": False}
_inside = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
compiled = njit(**OPTIONS, **_inside)
inlined = njit(**OPTIONS, **_inside, forceinline=True)
