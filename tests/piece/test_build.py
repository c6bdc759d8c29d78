"""From the product file's piece to dry masses and moistures."""

from __future__ import annotations

import math

import pytest

from hardtack.errors import HardtackError
from hardtack.piece import piece_of
from hardtack.product import loads
from hardtack.states import Barrier
from hardtack.units import wet_basis
from hardtack.water.isotherm import activity, moisture


def product(piece: str, kind: str = "cracker") -> str:
    return f"""
hardtack: 1
name: test
kind: {kind}
origin: invented
piece:
{piece}
journey:
  - {{leg: table, unpacked: true, lasts: 1 hours, climate: zone II}}
"""


SLAB = """
  shape: slab
  thickness: 5 mm
  length: 60 mm
  width: 50 mm
  mass: 10 g
  layers:
    - name: cracker
"""


def test_dry_mass_is_what_is_left_of_the_mass() -> None:
    piece, used, _ = piece_of(loads(product(SLAB + "      moisture: 4 %wb\n")))
    assert piece.layers[0].dry_mass == pytest.approx(0.0096)
    assert piece.area == pytest.approx(0.003)
    assert piece.open_ends == (True, True)
    assert any("isotherm of cracker" in item.what and not item.given for item in used)


def test_activity_alone_gives_the_moisture_through_the_isotherm() -> None:
    piece, used, _ = piece_of(loads(product(SLAB + "      activity: 0.30\n")))
    layer = piece.layers[0]
    assert layer.moisture == pytest.approx(float(moisture(layer.isotherm, 0.30, 298.15)), rel=1e-12)
    assert any("temperature of that reading" in item.what for item in used)


def test_a_measured_pair_moves_the_isotherm_through_itself_and_says_so() -> None:
    piece, _, remarks = piece_of(loads(product(SLAB + "      moisture: 3.4 %wb\n      activity: 0.30\n")))
    layer = piece.layers[0]
    assert float(activity(layer.isotherm, layer.moisture, 298.15)) == pytest.approx(0.30, abs=1e-9)
    assert wet_basis(layer.moisture) == pytest.approx(0.034)
    assert "moved through the measured pair" in remarks[0]


def test_an_absurd_pair_is_refused_with_a_mend() -> None:
    with pytest.raises(HardtackError) as caught:
        piece_of(loads(product(SLAB + "      moisture: 60 %wb\n      activity: 0.30\n")))
    assert caught.value.problems[0].mend


def test_layers_and_a_barrier_in_a_row() -> None:
    text = """
  shape: slab
  face area: 30 cm2
  thickness: 8.3 mm
  mass: 12 g
  layers:
    - {name: filling, share: 60 %, thickness: 5 mm, moisture: 12 %wb, isotherm: filled wafer, diffusivity: filling}
    - {name: fat film, barrier: {material: fat barrier, thickness: 0.3 mm}}
    - {name: wafer, share: 40 %, thickness: 3 mm, activity: 0.2, isotherm: wafer sheet}
"""
    piece, _, _ = piece_of(loads(product(text)))
    assert [part.name for part in piece.parts] == ["filling", "fat film", "wafer"]
    assert isinstance(piece.parts[1], Barrier)
    assert piece.parts[1].permeance > 0
    assert sum(layer.dry_mass * (1 + layer.moisture) for layer in piece.layers) == pytest.approx(0.012)


def test_round_pieces_have_their_outer_surface() -> None:
    stick = "\n  shape: cylinder\n  diameter: 8 mm\n  length: 100 mm\n  mass: 3 g\n  layers:\n    - {name: rusk, moisture: 4 %wb}\n"
    ball = (
        "\n  shape: sphere\n  diameter: 20 mm\n  mass: 3 g\n  layers:\n    - {name: rusk, moisture: 4 %wb}\n"
    )
    assert piece_of(loads(product(stick, "rusk")))[0].area == pytest.approx(math.pi * 0.008 * 0.1)
    assert piece_of(loads(product(ball, "rusk")))[0].area == pytest.approx(math.pi * 0.02**2)
    assert piece_of(loads(product(ball, "rusk")))[0].open_ends == (False, True)


def test_a_layer_nobody_knows_is_told_what_there_is() -> None:
    text = SLAB.replace("name: cracker", "name: moon rock") + "      moisture: 4 %wb\n"
    with pytest.raises(HardtackError, match="moon rock"):
        piece_of(loads(product(text, "meteorite")))


def test_more_water_than_the_isotherm_holds_at_saturation_is_said_with_a_mend() -> None:
    text = product(SLAB + "      moisture: 38 %wb\n", "bread crumb")
    with pytest.raises(HardtackError, match="than its isotherm"):
        piece_of(loads(text))
    moved = piece_of(loads(product(SLAB + "      moisture: 38 %wb\n      activity: 0.955\n", "bread crumb")))
    assert moved[0].layers[0].isotherm.scale > 1.0
