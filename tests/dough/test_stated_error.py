"""An isotherm moved by its stated error stays an isotherm."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from hardtack.dough import isotherm_of_formula, moved_in_activity
from hardtack.errors import HardtackError
from hardtack.reference import isotherm
from hardtack.water.isotherm import activity, moisture
from tests.dough.test_formula import made
from tests.dough.test_published_classes import BISCUIT, BREAD, CRACKER, JAM

FORMULAS = [
    made("baker's percent", CRACKER),
    made("baker's percent", BISCUIT),
    made("baker's percent", BREAD),
    made("true percent", JAM),
]


@pytest.mark.parametrize("formula", FORMULAS, ids=["cracker", "biscuit", "bread", "jam"])
@pytest.mark.parametrize("by", [0.05, -0.05, 0.035, -0.035, 0.2, -0.2])
def test_moved_it_still_rises_at_every_temperature(formula, by: float) -> None:  # type: ignore[no-untyped-def]
    moved = moved_in_activity(isotherm_of_formula(formula, "adsorption"), by)
    X = np.geomspace(0.002, 0.4, 120)
    for T in (263.15, 283.15, 298.15, 323.15):
        a = activity(moved, X, T)
        assert np.all(np.diff(a) > 0)
        assert np.all((a > 0) & (a < 1))


def test_away_from_the_ends_activity_moves_by_what_is_said() -> None:
    iso = isotherm_of_formula(FORMULAS[0], "adsorption")
    for by in (0.05, -0.05):
        moved = moved_in_activity(iso, by)
        for a in (0.2, 0.4, 0.8):
            assert activity(moved, moisture(iso, a, 298.15), 298.15) == pytest.approx(a + by, abs=2e-4)
    assert moved_in_activity(iso, 0.0) is iso
    assert moved_in_activity(replace(iso, scale=1.3), 0.05).scale == 1.3


def test_what_is_known_stays_where_it_is() -> None:
    iso = isotherm_of_formula(FORMULAS[0], "adsorption")
    for by in (0.05, -0.05):
        moved = moved_in_activity(iso, by, known=(0.3,))
        for a, to in ((0.3, 0.3), (0.35, 0.35 + by / 2), (0.15, 0.15 + by), (0.6, 0.6 + by)):
            assert activity(moved, moisture(iso, a, 298.15), 298.15) == pytest.approx(to, abs=2e-3)


def test_only_a_table_is_moved() -> None:
    with pytest.raises(HardtackError, match="only a table"):
        moved_in_activity(isotherm("soda cracker"), 0.05)
