"""The march's arithmetic in C with vectors, built in a temporary folder, to see how near the compiled march comes to it.

Only for the benchmark: `vectors.c` knows still air, one structure of chain, and no output but the end.
"""

from __future__ import annotations

import ctypes
import subprocess
from pathlib import Path

import numpy as np
from peers import problem

from hardtack.states import Floats
from hardtack.transport.chain import Chain, Ints

FLAGS = (
    "-O3",
    "-march=native",
    "-mprefer-vector-width=512",
    "-ffp-contract=fast",
    "-fno-math-errno",
    "-shared",
    "-fPIC",
)


def build(folder: Path) -> ctypes.CDLL:
    """Compile with gcc into the folder and load."""
    target = folder / "vectors.so"
    source = Path(__file__).with_name("vectors.c")
    subprocess.run(["gcc", *FLAGS, str(source), "-o", str(target), "-lm"], check=True)
    return ctypes.CDLL(str(target))


class _Task(ctypes.Structure):
    _fields_ = (
        [(name, ctypes.c_long) for name in ("n", "layers", "joints", "nodes", "outputs")]
        + [("tolerance", ctypes.c_double), ("gas_capacity", ctypes.c_double), ("weights", ctypes.c_double * 3)]
        + [(name, ctypes.c_void_p) for name in ("span", "first", "second")]
        + [
            (name, ctypes.c_void_p)
            for name in ("dry", "within", "slope", "x_ref", "cap", "x_half", "intervals", "colder", "level", "warmer")
        ]
        + [(name, ctypes.c_void_p) for name in ("half1", "half2", "shield", "times")]
    )  # fmt: skip


def march_vectors(
    library: ctypes.CDLL, row: Chain, T: float, start: Floats, solid: Floats, film: Floats, times: Floats, tolerance: float
) -> tuple[Floats, Ints]:  # fmt: skip
    """Ends [S, cells+2, kg] (gas space, then inflow, last) and steps [S], of scenarios with rho D `solid` [S, layers] and
    `film` [S, 2], conductance and what it would let in.

    The chain has curves of three temperatures, the middle one T [K].
    """
    p, c = problem(row, T), row.constants
    first, second = row.joint_nodes.T
    arrays = {
        "span": row.spans.astype(np.int64),
        "first": first.astype(np.int64),
        "second": second.astype(np.int64),
        "dry": row.dry_mass,
        "within": row.within,
        "slope": c[:, 2],
        "x_ref": c[:, 3],
        "cap": c[:, 9],
        "x_half": c[:, 7],
        "intervals": c[:, 8],
        "colder": row.curves[:, 0],
        "level": row.curves[:, 1],
        "warmer": row.curves[:, 2],
        "half1": row.halves[:, 0],
        "half2": row.halves[:, 1],
        "shield": p.joints[:, 3],
        "times": times,
    }
    arrays = {name: np.ascontiguousarray(array) for name, array in arrays.items()}
    n, layers, count = row.dry_mass.size, len(row.names), solid.shape[0]
    task = _Task(
        n, layers, row.halves.shape[0], row.curves.shape[2], times.size, tolerance, p.capacity,
        (ctypes.c_double * 3)(0.0, 1.0, 0.0), **{name: array.ctypes.data for name, array in arrays.items()},
    )  # fmt: skip
    ends, steps = np.zeros((count, n + 2)), np.zeros(count, dtype=np.int64)
    given = [np.ascontiguousarray(array) for array in (start, solid, film)]
    library.march(
        ctypes.byref(task),
        ctypes.c_long(count),
        *(ctypes.c_void_p(a.ctypes.data) for a in (*given, ends, steps)),
    )
    return ends, steps
