"""Water activity of solutions of sugars and polyols: Raoult, Norrish, Ross.

x are mole fractions of solutes, x_w = 1 - sum x that of water. Norrish's K is positive when the solute lowers
activity below Raoult's law; texts that print a_w = x_w exp(K x^2) carry the other sign. Where one constant does
not reach far enough (glycerol), K x^2 is carried on to K x^2 (1 + b x + c x^2), the form that Starzak and
Peacock (1997) gave for sucrose. Constants are of
25 degC; where Starzak and Peacock's equation stands (sucrose, and lactose taken for it) K is Q/RT with their one Q for
all temperatures. The others stay: between 0 and 50 degC the activity of these solutions hardly moves. How far each was met by a table is its row's `checked`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache

import numpy as np

from hardtack.errors import HardtackError
from hardtack.reference import lookup
from hardtack.states import Floats
from hardtack.units import ZERO_CELSIUS
from hardtack.water.air import MOLAR_MASS_WATER
from hardtack.water.isotherms.constants import Numbers
from hardtack.water.isotherms.inverse import invert

_LARGEST_X = 1.0 - 1e-12
ROOM = ZERO_CELSIUS + 25.0


def mole_fractions(solutes: Mapping[str, float]) -> dict[str, float]:
    """Mole fractions of non-electrolytes from kg of each per kg of water; water is what is left to 1.

    Raises `NotOnShelf` for a solute without a Norrish constant.
    """
    moles = {name: mass / lookup("solutes", name)["M"] for name, mass in solutes.items()}
    total = sum(moles.values()) + 1.0 / MOLAR_MASS_WATER
    return {name: n / total for name, n in moles.items()}


def raoult(x: Numbers) -> Numbers:
    """Water activity of an ideal solution, 1 - x, x summed over solutes (ions count one each)."""
    return 1.0 - x


def norrish(x: Numbers, K: float, b: float = 0.0, c: float = 0.0) -> Numbers:
    """Water activity of one solute: a_w = (1 - x) exp(-K x^2 (1 + b x + c x^2)).

    With b = c = 0 it is Norrish (1966), J. Food Technol. 1:25. Where the exponent would turn back (sucrose with
    less than some 4 % water) it is held at its turn, so that adding solute never raises activity.
    """
    held = np.minimum(x, _turn(b, c))
    return (1.0 - x) * np.exp(-K * np.square(held) * (1.0 + held * (b + c * held)))


@lru_cache(maxsize=64)
def _turn(b: float, c: float) -> float:
    """The mole fraction at which x^2 (1 + b x + c x^2) stops rising, 1 when it never does."""
    turns = [root.real for root in np.roots([4.0 * c, 3.0 * b, 2.0]) if abs(root.imag) < 1e-12]
    return min((root for root in turns if 0.0 < root < 1.0), default=1.0)


def solution_activity(name: str, m: Numbers, T: float = ROOM) -> Numbers:
    """Water activity over a sugar's or polyol's solution, m [mol/kg water] at T [K]. Raises `NotOnShelf`."""
    x = m * MOLAR_MASS_WATER / (1.0 + m * MOLAR_MASS_WATER)
    return norrish(x, *_constants(name, T))


def solution_molality(name: str, a: Numbers, T: float = ROOM) -> Floats:
    """Molality [mol/kg water] at which a sugar or polyol alone shows water activity `a`. Raises as above."""
    return norrish_molality(a, *_constants(name, T))


@lru_cache(maxsize=256)
def _constants(name: str, T: float) -> tuple[float, float, float]:
    row = lookup("solutes", name)
    K = row["K"] * (ROOM / T if "Q" in row.values else 1.0)
    return K, row["b"] if "b" in row.values else 0.0, row["c"] if "c" in row.values else 0.0


def norrish_roots(x: Sequence[float], K: Sequence[float]) -> float:
    """Water activity of several like solutes: ln a_w = ln x_w - (sum sqrt(K_i) x_i)^2.

    The form with cross terms, for sugars and polyols together (Norrish 1966). Raises `HardtackError` when a K
    is negative: it has no root, use `norrish_squares`.
    """
    if min(K, default=0.0) < 0:
        raise HardtackError("a solute with a negative Norrish constant has no root", "use norrish_squares")
    return float((1.0 - sum(x)) * np.exp(-(sum(np.sqrt(k) * xi for k, xi in zip(K, x, strict=True)) ** 2)))


def norrish_squares(x: Sequence[float], K: Sequence[float]) -> float:
    """Water activity of several solutes: ln a_w = ln x_w - sum K_i x_i^2, without cross terms.

    Always higher than `norrish_roots`, by the cross terms 2 sqrt(K_i K_j) x_i x_j.
    """
    return float((1.0 - sum(x)) * np.exp(-sum(k * xi * xi for k, xi in zip(K, x, strict=True))))


def ross(activities: Sequence[float]) -> float:
    """Water activity of a mixture: the product of the activities of each solute alone in all the water.

    Ross (1975), Food Technol. 29(3):26. Its error grows below an activity of about 0.75.
    """
    return float(np.prod(activities))


def norrish_molality(a: Numbers, K: float, b: float = 0.0, c: float = 0.0) -> Floats:
    """Molality [mol/kg water] at which one solute alone shows water activity `a`: inverse of `norrish`."""
    depth = -np.log(np.asarray(a, dtype=float))
    # Where the exponent never raises activity, -ln(1 - x) alone is at most the depth, so x <= 1 - a.
    highest = -np.expm1(-depth) if K >= 0 else np.full_like(depth, _LARGEST_X)
    turn = _turn(b, c)

    def curve(x: Floats) -> tuple[Floats, Floats]:
        held = np.minimum(x, turn)
        exponent = K * held * held * (1.0 + held * (b + c * held))
        rate = np.where(x < turn, K * x * (2.0 + x * (3.0 * b + 4.0 * c * x)), 0.0)
        return -np.log1p(-x) + exponent, 1.0 / (1.0 - x) + rate

    x = np.asarray(
        invert(
            curve,
            depth,
            np.zeros_like(depth),
            np.minimum(highest, _LARGEST_X),
        )
    )
    return np.asarray(x / ((1.0 - x) * MOLAR_MASS_WATER))
