"""Films: units, permeance, temperature law."""

from __future__ import annotations

import pytest

from hardtack.errors import HardtackError
from hardtack.pack.film import bare_conductance, pack_conductance, permeance_at, permeance_from_rate
from hardtack.states import Film, Pack
from hardtack.units import DAY, convert, parse_quantity
from hardtack.water.air import saturation_pressure


def test_one_gram_per_square_metre_and_day_as_permeance() -> None:
    """1 g/m2/day at 38 degC, 90 against 0 %, with p_sat 6.63 kPa of the steam tables: 1.940e-12 kg/m2/s/Pa.

    Arithmetic from the definition of permeance (ASTM F1249 terminology), p_sat from Buck's equation.
    """
    rate = parse_quantity("1 g/m2/day", "transmission rate").value
    assert permeance_from_rate(rate, 311.15, 0.9, 0.0) == pytest.approx(1.940e-12, rel=1e-3)


def test_trade_units_of_transmission_agree() -> None:
    """1 g/100 in2/day is 15.50 g/m2/day (100 in2 = 0.064516 m2, the inch being 25.4 mm by definition)."""
    us = parse_quantity("1 g/100 in2/day", "transmission rate").value
    assert us * DAY * 1e3 == pytest.approx(1 / 0.064516, rel=1e-12)


def test_a_perm_is_the_handbook_s() -> None:
    """NIST SP 811, appendix B: 1 perm (0 degC) = 5.72135e-11 kg/(Pa s m2) (value from memory)."""
    assert parse_quantity("1 perm", "permeance").value == pytest.approx(5.72135e-11, rel=1e-5)


def test_permeability_in_mils_and_millimetres_of_mercury() -> None:
    """1 g mil/(m2 day mmHg) = 2.205e-15 kg m/(m2 s Pa): 1e-3 * 25.4e-6 / (86400 * 133.322)."""
    assert convert(1, "g*mil/m2/day/mmHg", "kg/m/s/Pa") == pytest.approx(2.205e-15, rel=1e-3)


@pytest.mark.parametrize(("energy", "ratio"), [(20e3, 0.714), (40e3, 0.510), (60e3, 0.364)])
def test_permeance_falls_with_temperature_as_arrhenius_says(energy: float, ratio: float) -> None:
    """Permeance at 25 over that at 38 degC: exp(-E/R (1/298.15 - 1/311.15)), worked by hand for three energies."""
    film = Film("any", 1e-12, 311.15, energy)
    assert permeance_at(film, 298.15) / permeance_at(film, 311.15) == pytest.approx(ratio, abs=1e-3)


def test_the_whole_pack_factor_and_the_area_multiply() -> None:
    film = Film("any", 2e-12, 298.15)
    plain, leaky = Pack(film, 0.06, 2e-4), Pack(film, 0.12, 2e-4, 1.5)
    assert pack_conductance(leaky, 298.15) == pytest.approx(
        3.0 * float(pack_conductance(plain, 298.15)), rel=1e-12
    )
    assert pack_conductance(plain, 298.15) == pytest.approx(
        0.06 * 2e-12 * float(saturation_pressure(298.15)), rel=1e-12
    )


def test_a_test_without_a_difference_of_humidity_is_refused() -> None:
    with pytest.raises(HardtackError, match="same humidity"):
        permeance_from_rate(5e-8, 311.15, 0.5, 0.5)


def test_a_bare_piece_is_far_less_protected_than_a_packed_one() -> None:
    """Common practice, no source: a film resists water thousands of times more than still air."""
    film = Film("OPP", 2e-12, 311.15, 45e3)
    packed = float(pack_conductance(Pack(film, 0.06, 2e-4), 298.15))
    assert float(bare_conductance(0.06, 3e-3, 298.15)) > 1000 * packed
