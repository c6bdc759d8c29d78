"""Component functions and mixtures against published values."""

from __future__ import annotations

import pytest

from hardtack.oven.properties import conductivity, density, mixture, specific_heat


@pytest.mark.parametrize(
    ("component", "k", "cp", "rho"),
    [
        # Choi and Okos (1986) as in ASHRAE Handbook - Refrigeration 2006 ch. 9, evaluated by hand at 60 degC
        ("water", 0.65271, 4190.45, 983.842),
        ("protein", 0.24077, 2076.01, 1298.796),
        ("fat", 0.16351, 2055.32, 900.536),
        ("carbohydrate", 0.26906, 1645.17, 1580.472),
        ("fibre", 0.24689, 1938.99, 1289.547),
        ("ash", 0.40322, 1192.72, 2406.962),
    ],
)
def test_components_at_60_degrees(component: str, k: float, cp: float, rho: float) -> None:
    assert conductivity(component, 60.0) == pytest.approx(k, abs=6e-6)
    assert specific_heat(component, 60.0) == pytest.approx(cp, abs=0.006)
    assert density(component, 60.0) == pytest.approx(rho, abs=6e-4)


def test_water_is_water() -> None:
    # IAPWS R7-97 at 60 degC and 1 atm: 983.2 kg/m3, 4185 J/kg/K; conductivity 0.651 W/m/K (IAPWS R15-11)
    assert density("water", 60.0) == pytest.approx(983.2, rel=2e-3)
    assert specific_heat("water", 60.0) == pytest.approx(4185, rel=5e-3)
    assert conductivity("water", 60.0) == pytest.approx(0.651, rel=5e-3)


def test_bread_flour_at_60_degrees() -> None:
    # USDA bread flour (NDB 20083) through the same functions by hand
    flour = {
        "water": 0.1336,
        "protein": 0.1198,
        "fat": 0.0166,
        "fibre": 0.024,
        "ash": 0.0047,
        "carbohydrate": 0.7013,
    }
    mixed = mixture(flour, 60.0)
    assert mixed.density == pytest.approx(1406.9, abs=0.06)
    assert mixed.specific_heat == pytest.approx(2048.6, abs=0.06)
    assert mixed.parallel == pytest.approx(0.3357, abs=6e-5)
    assert mixed.series == pytest.approx(0.2921, abs=6e-5)
