"""Glass transitions against published anchors and hand-worked values."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hardtack.errors import HardtackError, NotOnShelf
from hardtack.reference import isotherm as shelf_isotherm
from hardtack.reference import lookup
from hardtack.water.glass import (
    couchman_karasz,
    glass,
    glass_transition,
    glass_transition_at,
    mixed_glass,
    softening_activity,
    softening_moisture,
)
from hardtack.water.isotherm import moisture

ROOM = 298.15


def _dry(W: float) -> float:
    return W / (1 - W)


@pytest.mark.parametrize(
    ("name", "W", "celsius"),
    [
        ("sucrose", 0.01, 53.1),
        ("sucrose", 0.03, 37.0),
        ("sucrose", 0.08, 4.8),
        ("maltodextrin DE 10", 0.05, 80.6),
        ("maltodextrin DE 10", 0.10, 30.9),
        ("starch", 0.10, 104.6),
        ("starch", 0.20, 29.3),
        ("starch", 0.22, 18.2),
    ],
)
def test_gordon_taylor_worked_values(name: str, W: float, celsius: float) -> None:
    """Worked by hand to 0.1 K with the shelf's constants and water at -135 degC, which the shelf rounds to
    138 K: that is 0.15 K of water, under 0.05 K here."""
    assert glass_transition(glass(name), _dry(W)) - 273.15 == pytest.approx(celsius, abs=0.05 + 0.05)


@pytest.mark.parametrize(("W", "celsius"), [(0.05, 99.4), (0.10, 54.7), (0.15, 21.1), (0.20, -5.0)])
def test_couchman_karasz_worked_values(W: float, celsius: float) -> None:
    """Gluten 435 K and 0.39 J/(g K), water 134 K and 1.94 J/(g K), worked by hand to 0.1 K."""
    Tg = couchman_karasz([(1 - W, 435.15, 390.0), (W, 134.0, 1940.0)])
    assert Tg - 273.15 == pytest.approx(celsius, abs=0.15)


@pytest.mark.parametrize(
    ("name", "seen", "within"),
    [
        ("sucrose", "sucrose, seen", 3.0),
        ("fructose", "fructose, seen", 10.0),
        ("gluten", "gluten proteins", 30.0),
    ],
)
def test_dry_transitions_against_seen_anchors(name: str, seen: str, within: float) -> None:
    """Sucrose 60 degC (Int. J. Food Prop. 2006), fructose 286 K, gluten proteins 397-418 K (Noel et al. 1995:
    the generic 435 K lies above their range)."""
    assert glass(name).Tg_dry == pytest.approx(lookup("glass transitions", seen)["Tg"], abs=within)


def test_glucose_lies_in_the_listed_range() -> None:
    """A list of carbohydrates prints 31 and 37.85 degC."""
    listed = lookup("glass transitions", "glucose, list").values["Tg"]
    assert listed.low is not None
    assert listed.high is not None
    assert listed.low <= glass("glucose").Tg_dry + 1e-9 <= listed.high


def test_wheat_starch_softens_at_room_temperature_near_22_percent() -> None:
    """Zeleznak and Hoseney (1987), Cereal Chem. 64:121: Tg of wheat starch drops below room temperature above
    22 % moisture."""
    W = lookup("glass transitions", "wheat starch, room temperature")["W_room"]
    assert softening_moisture(glass("starch"), ROOM) == pytest.approx(W, rel=0.12)


def test_gluten_proteins_use_their_heat_capacity_step() -> None:
    row = lookup("glass transitions", "gluten proteins")
    assert glass("gluten proteins").k == pytest.approx(1940.0 / row["dCp"])
    with pytest.raises(NotOnShelf, match="no k with water"):
        glass("trehalose")


@given(st.floats(0.05, 1.0), st.floats(0.05, 1.0), st.floats(0.0, 0.5))
def test_a_mixture_is_couchman_and_karasz_over_all_parts(starch: float, sugar: float, X: float) -> None:
    mixed = mixed_glass({"starch": starch, "sucrose": sugar, "gluten": 0.0})
    water = lookup("glass transitions", "water")
    total = starch + sugar
    parts = [
        (mass / total, glass(name).Tg_dry, water["dCp"] / glass(name).k)
        for name, mass in (("starch", starch), ("sucrose", sugar))
    ]
    whole = couchman_karasz([*parts, (X, water["Tg"], water["dCp"])])
    assert glass_transition(mixed, X) == pytest.approx(whole, rel=1e-12)


@given(st.sampled_from(["starch", "sucrose", "gluten", "maltodextrin DE 20"]), st.floats(150.0, 330.0))
def test_softening_moisture_is_the_inverse(name: str, T: float) -> None:
    solid = glass(name)
    X = softening_moisture(solid, T)
    assert glass_transition(solid, X) == pytest.approx(T, rel=1e-12)
    assert np.all(np.diff(glass_transition(solid, np.linspace(0, 1, 50))) < 0)


def test_softening_activity_goes_through_the_isotherm() -> None:
    """Gluten and starch films are glassy below an activity of about 0.9 (Oliver and Meinders 2011, J. Cereal
    Sci. 53:409): softening of both lies above 0.7."""
    for name in ("starch", "gluten"):
        iso = shelf_isotherm(f"wheat {name}")
        a = softening_activity(glass(name), iso, ROOM)
        assert a is not None
        assert 0.7 < a < 0.98
        assert glass_transition_at(glass(name), iso, np.array([a]), ROOM)[0] == pytest.approx(ROOM, abs=1e-6)
        assert moisture(iso, a, ROOM) == pytest.approx(softening_moisture(glass(name), ROOM), rel=1e-9)


def test_no_softening_and_soft_already() -> None:
    dry = shelf_isotherm("rice starch")
    assert softening_activity(glass("starch"), dry, 250.0) is None
    assert softening_moisture(glass("fructose"), ROOM) == 0.0
    assert softening_activity(glass("fructose"), dry, ROOM) == 0.0
    with pytest.raises(HardtackError, match="kelvin"):
        softening_moisture(glass("starch"), 25.0)
    with pytest.raises(HardtackError, match="no amorphous solid"):
        mixed_glass({"starch": 0.0})
