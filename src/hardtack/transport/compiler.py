"""Whether the compiler is there: the one place that chooses between the compiled marches and what stands in for them."""

from __future__ import annotations

from functools import cache

WITHOUT = (
    "Numba is not installed here, so the water was followed by the numpy march: the same equations and the same tolerance, "
    "tens of times slower."
)


@cache
def compiled() -> bool:
    """Whether numba can be imported. It is looked for once; importing it takes a third of a second."""
    try:
        import numba  # noqa: F401
    except ImportError:
        return False
    return True
