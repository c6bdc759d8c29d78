"""Sheets parted by fat: the laws of the gaps against exact and general solutions, and what bakers report of puff pastry."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.integrate import solve_bvp, solve_ivp

from hardtack.oven import Baked, bake, words
from hardtack.oven.sheets import Parted, Sheets, _gaps, _step, part, sheets_of
from hardtack.product import loads
from hardtack.reference import lookup
from tests.house.tree import ROOT

FILE = ROOT / "examples" / "bake-puff-pastry.yaml"
R = 8.314462618
PLAIN = Sheets(82, 21e-6, 15e-6, 0.83, 0.0, 3.3, 0.055, 0.65, False, "firm")


@cache
def puff(*changes: tuple[str, str]) -> Baked:
    text = FILE.read_text("utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return bake(loads(text))


def parted(*changes: tuple[str, str]) -> Parted:
    found = puff(*changes).lift.parted
    assert found is not None
    return found


def at_air(T: int) -> tuple[tuple[str, str], ...]:
    """Both zones at most at T."""
    return ("temperature: 230 degC", f"temperature: {T} degC"), ("to: 190 degC", f"to: {min(T, 190)} degC")


def test_the_loss_at_the_rim_is_flow_between_plates() -> None:
    """Plane Poiseuille flow out of a disc with an even source, solved by scipy: h^3/(12 mu) (r p')' + q r = 0."""
    gaps = _gaps(PLAIN, np.full(3, 373.15), np.array([0.1, 0.5, 0.9]))
    row = lookup("lamination", "steam")
    h, q = 2e-4, 1e-4
    mobility = (row["rim"] * h) ** 3 / (12 * row["viscosity"])
    radii = np.linspace(1e-6, PLAIN.reach, 200)
    solved = solve_bvp(
        lambda r, y: np.vstack([-y[1] / (mobility * r), q * r]),
        lambda a, b: np.array([a[1] - q * radii[0] ** 2 / 2, b[0]]),
        radii,
        np.zeros((2, radii.size)),
    )
    assert solved.success
    mean = np.trapezoid(2 * radii * solved.sol(radii)[0], radii) / PLAIN.reach**2
    # the law gives back the source at the mean pressure; only where fat is broken does it flow
    assert gaps.rim * mean * h**3 / (1 - PLAIN.whole) == pytest.approx(q, rel=1e-3)


def test_a_step_of_the_leak_against_a_general_solver() -> None:
    sheets = replace(PLAIN, holes=1e-6)
    gaps = _gaps(sheets, np.full(2, 373.15), np.array([0.3, 0.8]))
    T, n = np.full(2, 373.15), np.array([4e-3, 3e-3])
    per = R * T / gaps.inside

    def rate(_: float, n: np.ndarray) -> np.ndarray:  # type: ignore[type-arg]
        h, share = (n + gaps.air) * per, n / (n + gaps.air) / per
        return np.asarray(-(gaps.rim * gaps.over * h**3 + gaps.holes) * share)

    exact = solve_ivp(rate, (0.0, 2.0), n, rtol=1e-10, atol=1e-14).y[:, -1]
    lost = np.zeros(3)
    for _ in range(400):
        n, gone = _step(gaps, n, 2.0 / 400, T)
        lost += gone
    assert n == pytest.approx(exact, rel=1e-2)
    assert lost.sum() + n.sum() == pytest.approx(
        7e-3, rel=1e-6
    )  # what is lost and what is left is what there was
    assert lost[0] > 0
    assert lost[1] > 0


def test_below_its_boiling_point_a_gap_is_air_with_steam() -> None:
    """n R T / (P - p_w), the ideal gas beside its vapour; p_sat of water at 90 degC is 70.1 kPa (steam tables, from memory)."""
    k, n = 3, 40
    T = np.full((k, n), 363.15)
    a, X, set_ = np.ones((k, n)), np.full((k, n), 0.5), np.zeros((k, n))
    X[1:] -= 1e-3
    X[2:] -= 1e-3
    found = part(PLAIN, np.array([0.0, 60.0, 120.0]), T, a, X, set_, np.full(n, 1 / n))
    air = lookup("lamination", "folded-in air")["air"] * PLAIN.pair
    # the middle gap: P' = P + half the load
    over = 9.80665 * 3.3 * 0.5
    steam = air * 70.1 / (101.325 + over / 1e3 - 70.1)
    assert found.limit == "no boiling"
    assert found.gaps[found.gaps.size // 2] == pytest.approx(steam, rel=0.01)


def test_sheets_are_those_of_the_folds() -> None:
    found = parted().sheets
    assert found.count == 3**4 + 1  # in three, four times: fat = product of the turns, dough one more
    assert found.count * found.pair == pytest.approx(3.0e-3, rel=1e-9)
    assert 0.3 < found.fat / found.pair < 0.5
    # what lifts is the weight above: 31 g over 95 cm2
    assert parted().pressure.max() == pytest.approx(9.80665 * 0.031 / (0.100 * 0.095), rel=0.02)


def test_steam_lift_wants_a_hot_oven() -> None:
    """Fact of the trade, no source: about 230 degC / 450 degF or more; at low temperature the steam leaves without lifting."""
    cool, mild, hot = (parted(*at_air(T)) for T in (150, 180, 230))
    assert cool.height.max() < 1.2
    assert mild.height.max() < 1.5
    assert hot.height.max() > 3.5
    assert cool.limit == "no boiling"
    said = words.advice(puff(*at_air(180)))
    assert any("without lifting" in line and "hotter start" in line for line in said)
    assert any("450 °F" in line for line in said)
    assert not any("450 °F" in line for line in words.advice(puff()))


def test_puff_pastry_rises_and_must_dry_to_stand() -> None:
    """Gisslen, Professional Baking: up to eight times its thickness. Cauvain and Young 2000: most of the expansion comes in
    the first half of the bake, but more water must go before it stands."""
    found, half = parted(), 7.5 * 60
    assert found.lifted_at is not None
    assert 3.0 < found.height.max() <= 8.0
    assert found.lifted_at < half
    cut = parted(
        ("{zone: drying, lasts: 3 min", "{zone: drying, lasts: 0.1 min"), ("lasts: 12 min", "lasts: 4 min")
    )
    assert cut.standing[-1] < 0.5 < found.standing[-1]
    falls = parted(("lasts: 12 min", "lasts: 4 min"), ("230 degC, to: 190 degC", "120 degC, to: 100 degC"))
    assert falls.height[-1] < 0.7 * falls.height.max()
    changed = puff(("lasts: 12 min", "lasts: 4 min"), ("230 degC, to: 190 degC", "120 degC, to: 100 degC"))
    assert any("loses" in line and "of its lift" in line for line in words.advice(changed))


def test_firm_fat_and_more_of_it_lift_more() -> None:
    """Telloke 1991, as told by Cauvain and Young: more fat, a higher solid fat index and firmer fat give greater lift."""
    soft = parted(("rolled at: 15 degC", "rolled at: 30 degC"))
    assert soft.height[-1] < 0.9 * parted().height[-1]  # as it leaves the oven
    assert "too soft" in soft.sheets.fat_words
    less = parted(("butter, amount: 80 %", "butter, amount: 25 %"))
    assert less.height[-1] < parted().height[-1]


def test_holes_and_too_many_turns_keep_it_flat() -> None:
    """Common practice, no source: docked pastry stays flat; sheets folded too thin merge, few thick ones lose their steam."""
    docked = parted(("rolled at: 15 degC", "rolled at: 15 degC\n      holes: 0.5 %"))
    assert docked.height.max() < 1.1
    assert docked.limit == "holes"
    merged = parted(("turns: [3, 3, 3, 3]", "turns: [3, 3, 3, 3, 3, 3, 3]"))
    assert merged.height.max() == 1.0
    assert any(
        "too thin to stay apart" in line
        for line in words.lift_lines(puff(("turns: [3, 3, 3, 3]", "turns: [3, 3, 3, 3, 3, 3, 3]")))
    )
    few = parted(("turns: [3, 3, 3, 3]", "turns: [3]"))
    assert few.height.max() < 0.7 * parted().height.max()


def test_a_small_piece_loses_more_at_its_rim() -> None:
    small = parted(
        ("length: 100 mm", "length: 50 mm"),
        ("width: 95 mm", "width: 47.5 mm"),
        ("dough mass: 31 g", "dough mass: 7.75 g"),
    )
    assert small.height.max() < parted().height.max()


def test_without_folds_there_are_no_sheets() -> None:
    product = loads((ROOT / "examples" / "bake-cracker.yaml").read_text("utf-8"))
    assert bake(product).lift.parted is None
    formula = puff().formula
    sheets, used = sheets_of(product.formulas["cracker dough"], formula, 2.0, 3.0, 2e-3, 2e-3)
    assert sheets is None
    assert used == ()
    given, _ = sheets_of(product.formulas["cracker dough"], formula, 8.0, 3.0, 2e-3, 2e-3)
    assert given is not None
    assert given.count == 8
    assert given.fat == 0.0


def test_what_the_sheets_lean_on_is_listed() -> None:
    what = {used.what for used in puff().used}
    assert {"fat when rolled", "workable temperatures of butter", "fat sheets that are whole"} <= what
