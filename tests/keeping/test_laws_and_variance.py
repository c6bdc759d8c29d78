"""Laws of spreads, nested quantiles and shares of the variance, against exact results."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ndtri

from hardtack.keeping.doubt import Doubt, Ties, Unsure
from hardtack.keeping.laws import Law, as_factor, as_shift, factor_law, law_of, shift_law
from hardtack.keeping.nested import by_pack, normals, packs_for, quantile, shaped
from hardtack.keeping.variance import variance_shares
from hardtack.sourced import Sourced, Spread
from hardtack.states import Floats


def number(law: Law, spread: Spread = "not known") -> Unsure:
    return Unsure("x", "number", (), law, spread, "", "", ("x",))


def ishigami(u: Floats) -> Floats:
    """Ishigami and Homma 1990, Proc. ISUMA '90, 398: sin x1 + 7 sin2 x2 + 0.1 x3^4 sin x1, each even on (-pi, pi)."""
    x = math.pi * (2.0 * u - 1.0)
    return np.asarray(np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0]))


def test_the_shares_of_ishigamis_function() -> None:
    """Exact: V1 = (1 + b pi^4/5)^2 / 2, V2 = a^2/8, V13 = 8 b^2 pi^8/225 (Sobol' and Levitan 1999, Comput. Phys.
    Commun. 117:52; Ishigami and Homma 1990)."""
    a, b = 7.0, 0.1
    V1, V2, V13 = 0.5 * (1 + b * math.pi**4 / 5) ** 2, a**2 / 8, 8 * b**2 * math.pi**8 / 225
    V = V1 + V2 + V13
    found = variance_shares(ishigami, [(0,), (1,), (2,)], 3, 8192, seed=3)
    for share, first, total in zip(found, (V1, V2, 0.0), (V1 + V13, V2, V13), strict=True):
        assert share.first == pytest.approx(first / V, abs=0.02)
        assert share.total == pytest.approx(total / V, abs=0.02)
        assert abs(share.first - first / V) < 2 * share.first_error
        assert abs(share.total - total / V) < 2 * share.total_error


def test_numbers_tied_together_count_as_one() -> None:
    """Grouped: x1 and x3 as one hold all but x2's share, alone and with others alike."""
    V2 = 49.0 / 8
    V = V2 + 0.5 * (1 + 0.1 * math.pi**4 / 5) ** 2 + 0.08 * math.pi**8 / 225
    both, other = variance_shares(ishigami, [(0, 2), (1,)], 3, 8192, seed=3)
    assert both.first == pytest.approx(1 - V2 / V, abs=0.02)
    assert both.total == pytest.approx(1 - V2 / V, abs=0.02)
    assert other.first == pytest.approx(V2 / V, abs=0.02)


def test_shares_of_a_sum_of_normals() -> None:
    """y = sum s_i z_i has shares s_i^2 / sum s^2, first and total alike: exact."""
    s = np.array([1.0, 2.0, 0.5])
    found = variance_shares(
        lambda u: ndtri(np.clip(u, 1e-9, 1 - 1e-9)) @ s, [(0,), (1,), (2,)], 3, 4096, seed=1
    )
    for share, exact in zip(found, s**2 / np.sum(s**2), strict=True):
        assert share.first == pytest.approx(exact, abs=0.02)
        assert share.total == pytest.approx(exact, abs=0.02)


def test_what_does_not_vary_has_no_shares() -> None:
    (share,) = variance_shares(lambda u: np.full(u.shape[0], 3.0), [(0,)], 1, 64, seed=1)
    assert (share.first, share.total) == (0.0, 0.0)


def test_share_and_confidence_of_a_normal_sum() -> None:
    """Packs normal with s about a middle that is normal with S about m: exactly m - S z(confidence) - s z(share)."""
    m, S, s = 100.0, 12.0, 5.0
    doubt = Doubt((number(shift_law(S)), number(shift_law(s), "pack to pack")))
    share, confidence = 0.9, 0.8
    days = []
    for scramble in range(8):
        values = doubt.values(normals(doubt, 7, scramble, 64, packs_for(share)))
        days.append((m + values.sum(axis=1)) * 86400.0)
    nest = shaped(days, 64, packs_for(share))
    exact = m - S * ndtri(confidence) - s * ndtri(share)
    error = nest.error(share, confidence) / 86400.0
    assert error < 0.5
    assert nest.on_day(share, confidence) / 86400.0 == pytest.approx(exact, abs=4 * error)


def test_the_stated_day_holds_as_often_as_it_says() -> None:
    """Coverage on synthetic truth: of many true middles, the stated day keeps the share in the stated part of them."""
    S, s, share, confidence = 0.3, 0.1, 0.9, 0.8
    doubt = Doubt((number(factor_law(S)), number(factor_law(s), "pack to pack")))
    times = []
    for n in range(4):
        values = doubt.values(normals(doubt, 11, n, 64, 16))
        times.append(100.0 * values[:, 0] * values[:, 1])
    day = shaped(times, 64, 16).on_day(share, confidence)
    truth = 100.0 * np.exp(S * np.random.default_rng(5).standard_normal(4000))
    packs = np.exp(s * np.random.default_rng(6).standard_normal((4000, 500)))
    held = np.mean(truth[:, None] * packs > day, axis=1) >= share
    # the binomial error of 4000 truths is 0.006, that of the sampled day about 0.01
    assert float(np.mean(held)) == pytest.approx(confidence, abs=0.03)


def test_tied_constants_keep_their_covariance() -> None:
    """Correlated normals: the sample covariance is that of the fit (to the sampling error of 4096 points)."""
    r = np.array([[1.0, -0.88, -0.97], [-0.88, 1.0, 0.79], [-0.97, 0.79, 1.0]])
    sd = np.array([0.05, 0.36, 0.0046])
    laws = tuple(number(Law("normal", c, s)) for c, s in zip((4.66, 10.6, 0.856), sd, strict=True))
    doubt = Doubt(laws, (Ties((0, 1, 2), np.linalg.cholesky(r)),))
    assert doubt.groups == ((0, 1, 2),)
    values = doubt.values(normals(doubt, 1, 0, 4096, 1))
    assert np.corrcoef(values.T) == pytest.approx(r, abs=0.01)
    assert values.std(axis=0) == pytest.approx(sd, rel=0.01)


def test_quantiles_of_samples_that_may_never_fail() -> None:
    assert quantile(np.array([1.0, 2.0, 3.0, 4.0]), 0.5) == 2.5
    assert quantile(np.array([1.0, np.inf, np.inf, np.inf]), 0.125) == 1.0
    assert math.isinf(quantile(np.array([1.0, np.inf, np.inf, np.inf]), 0.5))
    assert quantile(np.array([1.0, np.nan, 3.0]), 0.5) == 2.0
    assert math.isnan(quantile(np.array([np.nan]), 0.5))


def test_a_day_beyond_the_journey_is_said_as_such() -> None:
    nest = shaped([np.full(64, np.inf), np.full(64, np.inf)], 8, 8)
    assert math.isinf(nest.on_day(0.9, 0.8))
    assert nest.error(0.9, 0.8) == 0.0
    mixed = shaped([np.full(64, np.inf), np.full(64, 5.0)], 8, 8)
    assert math.isinf(mixed.error(0.9, 0.8))
    assert nest.good(np.array([0.0, 1e9])) == pytest.approx(np.ones((16, 2)))


def test_more_packs_in_a_state_for_a_higher_share() -> None:
    assert [packs_for(share) for share in (0.5, 0.8, 0.9, 0.95, 0.98)] == [8, 8, 16, 32, 128]
    doubt = Doubt((number(shift_law(1.0)), number(shift_law(1.0), "lot to lot")))
    assert by_pack(doubt) == [1]
    z = normals(doubt, 1, 0, 4, 8).reshape(4, 8, 2)
    assert np.all(z[:, :, 0] == z[:, :1, 0])
    assert len(np.unique(z[:, :, 1])) == 32


@pytest.mark.parametrize(("amount", "kind"), [
    (Sourced(2.6, "", "seen", sd=0.2), "normal"),
    (Sourced(0.3, "", "seen", sd=0.2), "log-normal"),
    (Sourced(3.0, "", "seen", low=2.0, high=4.0), "even"),
    (Sourced(2.0, "", "seen", values=(1.0, 2.0, 3.0), sd=1.0), "list"),
])  # fmt: skip
def test_the_law_an_amount_states(amount: Sourced, kind: str) -> None:
    law = law_of(amount, 0.0)
    assert law is not None
    assert law.kind == kind
    z = ndtri((np.arange(3000) + 0.5) / 3000)
    values = law.at(z)
    assert np.all(values > 0)
    assert np.all(np.diff(values) >= 0)
    assert float(np.median(values)) == pytest.approx(amount.value, rel=0.01)
    if kind in ("even", "list", "normal"):
        assert float(values.std()) == pytest.approx(law.spread, rel=0.02)
    assert as_factor(law).at(z) == pytest.approx(values / amount.value, rel=1e-9)
    if kind != "log-normal":
        assert as_shift(law).at(z) == pytest.approx(values - amount.value, abs=1e-9)


def test_a_law_without_spread_is_none() -> None:
    assert law_of(Sourced(2.0, "", "seen")) is None


def test_two_readings_of_one_number_combine() -> None:
    """Exact for normals: 1/sd2 = 1/3^2 + 1/4^2, so sd = 2.4."""
    law = Law("normal", 10.0, 3.0).narrowed(4.0)
    assert law.spread == pytest.approx(2.4)
    assert law.narrowed(2.4).spread == pytest.approx(2.4 / math.sqrt(2))
    assert float(law.at(np.array([1.0]))[0]) == pytest.approx(12.4)
