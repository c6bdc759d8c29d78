"""Exponential and logarithm in forms of which the compiler can make vectors: plain arithmetic, no branch, no call.

The library's own are called number by number, at five times the time. Both kernels compile these. Whoever changes this file must
save theirs too: numba's cache watches only the file of the function called from outside.
"""

from __future__ import annotations

import numpy as np

ROUNDS = 6755399441055744.0
# 1.5 2^52: added to a small number it leaves the nearest whole one in the lowest bits
LOG2_E, LN2_HIGH, LN2_LOW = 1.4426950408889634, 6.93147180369123816490e-01, 1.90821492927058770002e-10
FAR = 700.0  # exponents beyond this are taken as this
ROOT_HALF = 0x3FE6A09E667F3BCD  # the bits of the square root of a half


def exponential(x: float) -> float:
    """e^x within 2^-52 of the library's; x beyond -700 or 700 as those.

    x = k ln 2 + r, ln 2 in two parts (Cody & Waite 1980, Software Manual for the Elementary Functions, ch. 6);
    Taylor's series of r, |r| <= ln 2 / 2, to the 13th power, which leaves 4e-18; and k into the exponent's bits.
    """
    x = min(max(x, -FAR), FAR)
    k = x * LOG2_E + ROUNDS
    bits = np.float64(k).view(np.int64)
    k -= ROUNDS
    r = (x - k * LN2_HIGH) - k * LN2_LOW
    r2 = r * r
    even = 1.0 + r2 * (
        1 / 2 + r2 * (1 / 24 + r2 * (1 / 720 + r2 * (1 / 40320 + r2 * (1 / 3628800 + r2 / 479001600))))
    )
    odd = 1.0 + r2 * (
        1 / 6 + r2 * (1 / 120 + r2 * (1 / 5040 + r2 * (1 / 362880 + r2 * (1 / 39916800 + r2 / 6227020800))))
    )
    series = np.float64(even + r * odd).view(np.int64)
    return np.int64(series + (bits << 52)).view(np.float64)


def logarithm(x: float) -> float:
    """ln x of a number above 2.3e-308, within 2^-52 of the library's, or of the result where that is below 1.

    x = 2^e m with m from the root of a half to that of 2; ln m = 2 artanh((m - 1) / (m + 1)), the series to the 19th
    power (Cody & Waite 1980, ch. 5), which leaves 1e-17.
    """
    bits = np.float64(x).view(np.int64)
    e = (bits - ROOT_HALF) >> 52
    f = np.int64(bits - (e << 52)).view(np.float64) - 1.0
    s = f / (2.0 + f)
    s2 = s * s
    tail = s2 * (
        1 / 3 + s2 * (1 / 5 + s2 * (1 / 7 + s2 * (1 / 9 + s2 * (1 / 11 + s2 * (1 / 13 + s2 * (1 / 15 + s2 * (1 / 17 + s2 / 19)))))))
    )  # fmt: skip
    whole = np.float64(e)
    return whole * LN2_HIGH + (2.0 * s + (2.0 * s * tail + whole * LN2_LOW))
