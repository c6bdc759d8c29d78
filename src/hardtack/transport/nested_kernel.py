"""The compiled march of airs one around another, each with what stores water in it: a row of nodes, innermost first.

Everything compiled lives in this file: numba's cache watches the file of the function called from outside.
"""

from __future__ import annotations

import math

from numba import njit

LEAPS, MOST_TURNS = 8, 3000
"""Turns of the search for the pieces of the tables, two or three do; after so many leaps it goes piece by piece, which
cannot go round in circles as leaps over a bend may."""
AT_AN_END = 4e-15
"""Activity by which a value may seem to lie beyond its piece by rounding alone."""
WET = 1e-4
"""Share of its supersaturation by which an air's activity exceeds 1 while water lies in it."""


@njit(error_model="numpy")
def _piece(a, last):
    """The piece of the table, 0 to last - 1, in which activity a lies; `last` beyond saturation."""
    return min(max(math.floor(a * last), 0), last - 1) if a < 1.0 else last


@njit(error_model="numpy")
def _line(table, room, k):
    """Water held = first + rise a in piece k of a table over 0 to 1 and the vapour `room` a of the air."""
    last = table.size - 1
    if k == last:
        rise = room / WET
        return table[last] + room - rise, rise
    rise = (table[k + 1] - table[k]) * last
    return table[k] - rise * (k / last), rise + room


@njit(error_model="numpy")
def _solve(i, h, room, tables, g, holds, around, given, held, a, row):
    """One implicit step to time i: into a[:, i] the activities at which all nodes' waters come out. True when found."""
    piece, upper, right = row
    nodes, last = tables.shape[0], tables.shape[1] - 1
    for k in range(nodes):
        piece[k] = _piece(a[k, max(i - 1, 0)], last)
    for turn in range(MOST_TURNS):
        for k in range(nodes):  # along the row; each diagonal outweighs what stands beside it
            first, rise = _line(tables[k], room[k, i], int(piece[k]))
            out = h * g[k, i]
            diagonal, want = rise + out, held[k] - first - holds[k] * given[k, i]
            if k == nodes - 1:
                want += out * around[i]
            if k > 0:
                within = holds[k] * h * g[k - 1, i]
                diagonal += within * (1.0 - upper[k - 1])
                want += within * right[k - 1]
            upper[k], right[k] = out / diagonal, want / diagonal
        settled, a[nodes - 1, i] = True, right[nodes - 1]
        for k in range(nodes - 2, -1, -1):
            a[k, i] = right[k] + upper[k] * a[k + 1, i]
        for k in range(nodes):
            here, now = _piece(a[k, i], last), int(piece[k])
            beyond = a[k, i] > (now + 1) / last + AT_AN_END and now < last
            below = a[k, i] < now / last - AT_AN_END and now > 0
            if beyond or below:
                settled = False
                piece[k] = here if turn < LEAPS else now + 1 if beyond else now - 1
        if settled:
            return True
    return False


@njit(cache=True, nogil=True, error_model="numpy")
def nested_airs(times, room, tables, g, holds, around, given, held, a, came, row):
    """Follow the airs over `times`; see `nested.nested`. Fills a [nodes, n] and came [nodes, n]; code 0, or 1 + step.

    `held` [nodes] goes from the first water to the last; `row` [3, nodes] is scratch.
    """
    nodes = tables.shape[0]
    for i in range(times.size):
        h = times[i] - times[i - 1] if i > 0 else 0.0
        if not _solve(i, h, room, tables, g, holds, around, given, held, a, row):
            return 1 + i
        for k in range(nodes):
            beyond = a[k + 1, i] if k + 1 < nodes else around[i]
            came[k, i] = h * g[k, i] * (beyond - a[k, i])
            # each passage is the same number on both sides of it
            held[k] += came[k, i] - holds[k] * given[k, i]
            if k > 0:
                held[k] -= holds[k] * came[k - 1, i]
    return 0
