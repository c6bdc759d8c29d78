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


FILLED = """
  shape: slab
  face area: 30 cm2
  thickness: 8.3 mm
  mass: 12 g
  layers:
    - {name: filling, share: 60 %, thickness: 5 mm, moisture: 12 %wb, isotherm: filled wafer, diffusivity: filling}
    - {name: fat film, barrier: {material: fat barrier, thickness: 0.3 mm}}
    - {name: wafer, share: 40 %, thickness: 3 mm, activity: 0.2, isotherm: wafer sheet}
"""


def test_a_rim_holes_and_an_emulsifier() -> None:
    plain = piece_of(loads(product(FILLED)))[0]
    text = FILLED.replace("name: filling, ", "name: filling, rim: 20 %, ").replace(
        "thickness: 0.3 mm}",
        'thickness: 0.3 mm, coverage: 97 %, effects: [{ingredient: lecithin, factor: "0.7 ± 0.1 [measured here, two films]"}]}',
    )
    piece, used, _ = piece_of(loads(product(text)))
    fat = piece.parts[1]
    assert isinstance(fat, Barrier)
    assert isinstance(plain.parts[1], Barrier)
    assert fat.permeance == pytest.approx(0.7 * plain.parts[1].permeance)
    assert fat.openings is not None
    assert (fat.openings.kind, fat.openings.width) == ("holes", 1e-3)
    assert fat.openings.share == pytest.approx(0.03)
    assert piece.layers[0].rim == 0.2
    assert piece.to_rim == pytest.approx(30e-4 / (8 * math.pi))  # a face given by its area counts as round
    said = {number.what: number for number in used}
    factor = said["effect of lecithin on passage through fat film"].amount
    assert (factor.sd, factor.provenance) == (pytest.approx(0.1), "measured here")
    assert "two films" in factor.source
    assert not said["width of a hole in fat film"].given
    assert said["rim of filling, share open to the headspace"].given


def test_an_emulsifier_in_a_layer_and_cracks_in_a_coat() -> None:
    plain = piece_of(loads(product(FILLED)))[0]
    text = FILLED.replace("name: filling, ", "name: filling, effects: [{ingredient: gum, factor: 0.5}], ").replace(
        "    - {name: fat film", "    - {name: coat, barrier: {permeance: 1e-10 kg/m2/s/Pa, cracks: 0.5 %, crack width: 0.2 mm}}\n    - {name: fat film"
    )  # fmt: skip
    # the coat goes to the outside
    lines = text.splitlines(keepends=True)
    coat = next(line for line in lines if "name: coat" in line)
    lines.remove(coat)
    piece = piece_of(loads(product("".join([*lines, coat]))))[0]
    assert piece.layers[0].diffusivity.D_ref == pytest.approx(0.5 * plain.layers[0].diffusivity.D_ref)
    assert piece.layers[1].diffusivity == plain.layers[1].diffusivity
    last = piece.parts[-1]
    assert isinstance(last, Barrier)
    assert last.openings is not None
    assert (last.openings.kind, last.openings.share) == ("cracks", pytest.approx(0.005))


def test_rims_of_round_pieces() -> None:
    roll = "\n  shape: cylinder\n  diameter: 20 mm\n  length: 90 mm\n  mass: 9 g\n  layers:\n    - {name: rusk, rim: 100 %, moisture: 4 %wb}\n"
    assert piece_of(loads(product(roll, "rusk")))[0].to_rim == pytest.approx(0.09**2 / 12)
    ball = "\n  shape: sphere\n  diameter: 20 mm\n  mass: 3 g\n  layers:\n    - {name: rusk, rim: 5 %, moisture: 4 %wb}\n"
    with pytest.raises(HardtackError, match="no rim"):
        loads(product(ball, "rusk"))
