"""Bake loss, diffusivity and the storage trial."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from hardtack.errors import HardtackError
from hardtack.keeping.history import LUMPED_FROM, history_of
from hardtack.measurements.bake_loss import fit_bake_loss
from hardtack.measurements.diffusivity import Sample, fit_diffusivity
from hardtack.measurements.model import model_of, moisture_course, moved
from hardtack.measurements.storage_trial import Readings, fit_storage_trial
from hardtack.pack import journey_of, pack_of, stretches_of
from hardtack.piece import piece_of
from hardtack.product import Product, loads
from hardtack.states import Isotherm, Shape
from tests.transport.test_crank import uptake

DAY, HOUR = 86400.0, 3600.0
LINEAR = Isotherm("straight, invented", "table", points=((0.2, 0.02), (0.4, 0.04), (0.6, 0.06), (0.8, 0.08)))


def test_bake_loss() -> None:
    minutes = np.repeat([4.0, 5, 6, 7, 8], 3)
    baked = 10 * (1 - 0.03 * (minutes - 1.5)) + 0.01 * np.random.default_rng(0).normal(size=15)
    found = fit_bake_loss(minutes * 60, np.full(15, 10.0), baked)
    assert found.fit["rate"].value == pytest.approx(0.03, rel=0.03)
    assert found.fit["lag"].value == pytest.approx(1.5, abs=0.2)
    # by hand: 100 g of dough of 30 % db hold 76.9 g dry; 13.5 % lost leaves 9.6 g of water, 0.1245 kg/kg dry
    X, sd = found.moisture(360, 0.30)
    assert pytest.approx(0.30 - 0.135 * 1.30, abs=0.002) == X
    assert 0 < sd < 0.005
    with pytest.raises(HardtackError, match="weighs as much"):
        fit_bake_loss(np.array([1.0, 2, 3]), np.ones(3), np.ones(3))


@pytest.mark.parametrize(("shape", "size"), [("slab", 4e-3), ("sphere", 2e-3)])
def test_diffusivity_from_cranks_series(shape: Shape, size: float) -> None:
    # Crank 1975, eqs. 4.18 and 6.20: uptake from a surface at constant concentration, half thickness or radius 2 mm
    D, half = 2e-11, 2e-3
    t = np.array([0, 2, 5, 10, 20, 35, 50, 80.0]) * HOUR
    X = 0.02 + 0.04 * np.array([0.0, *(uptake(shape, D * s / half**2) for s in t[1:])])
    found = fit_diffusivity(Sample(shape, size, 1e-3, 1e-3), LINEAR, t, X, 0.6, 298.15)
    assert pytest.approx(2e-11, rel=2e-3) == found.D
    assert found.final_moisture == pytest.approx(0.06, rel=1e-3)
    assert found.low is not None
    assert found.high is not None


def test_a_film_over_the_sample_is_not_taken_for_slow_diffusion() -> None:
    # The same sample followed with a film of 0.5 mm/s: counting it gives D back, leaving it out gives too small a D
    from hardtack.measurements.diffusivity import course

    t = np.array([0, 2, 5, 10, 20, 35, 50, 80.0]) * HOUR
    sample = Sample("slab", 4e-3, 2e-3, 1e-3, film_coefficient=5e-4)
    X = course(sample, LINEAR, t, 0.02, {"log10_D": np.log10(2e-11), "final": 0.06}, 0.6, 298.15)
    right = fit_diffusivity(sample, LINEAR, t, X, 0.6, 298.15)
    wrong = fit_diffusivity(replace(sample, film_coefficient=None), LINEAR, t, X, 0.6, 298.15)
    assert pytest.approx(2e-11, rel=1e-2) == right.D
    assert wrong.D < 0.93 * right.D


def test_steps_that_say_nothing_of_diffusion() -> None:
    t = np.arange(5) * HOUR
    with pytest.raises(HardtackError, match="does not move"):
        fit_diffusivity(Sample("slab", 4e-3, 1e-3, 1e-3), LINEAR, t, np.full(5, 0.03), 0.6, 298.15)
    with pytest.raises(HardtackError, match="rise from 0"):
        fit_diffusivity(
            Sample("slab", 4e-3, 1e-3, 1e-3), LINEAR, t + 1, np.linspace(0.02, 0.05, 5), 0.6, 298.15
        )


def trial_product() -> Product:
    starter = (Path(__file__).parents[2] / "src/hardtack/product/starters/biscuit.yaml").read_text("utf-8")
    head, _, _ = starter.partition("journey:")
    # an isotherm without heat: the trial has one temperature, and the forecast runs ten times as fast
    own = "isotherm: {form: GAB, at: 30 degC, Xm: 4.0 %db, C: 10, K: 0.90}"
    head = head.replace("isotherm: short-dough biscuit ", own + " ", 1)
    return loads(
        head
        + "journey:\n  - leg: cabinet\n    lasts: 84 days\n    temperature: 30 degC\n    humidity: 75 %\n"
    )


def truth(product: Product, days: np.ndarray, permeance: float, scale: float) -> np.ndarray:
    piece, _, _ = piece_of(product)
    pack, _ = pack_of(product)
    journey, _ = journey_of(product)
    assert pack is not None
    pack = replace(pack, whole_pack_factor=pack.whole_pack_factor * permeance)
    layer = piece.layers[0]
    moved = replace(layer, isotherm=replace(layer.isotherm, scale=layer.isotherm.scale * scale))
    piece = replace(piece, parts=(moved,))
    history = history_of([piece], pack, journey, stretches_of(journey, pack, [piece]), ())
    return np.interp(days * DAY, history.times, history.moisture[:, 0])


def test_storage_trial_finds_the_factors() -> None:
    product = trial_product()
    days = np.array([0, 7, 14, 21, 28, 42, 56, 70, 84.0])
    X = truth(product, days, 0.8, 1.1) + 2e-4 * np.random.default_rng(2).normal(size=9)
    found = fit_storage_trial(
        product, "biscuit", Readings(days * DAY, X, "moisture"), ("permeance", "isotherm")
    )
    for name, value in (("permeance", 0.8), ("isotherm", 1.1)):
        estimate = found.fit[name]
        assert estimate.sd is not None
        assert abs(estimate.value - value) < 3 * estimate.sd
    assert np.max(np.abs(found.after - X)) < np.max(np.abs(found.before - X))
    own = Readings(days * DAY, truth(product, days, 0.7, 1.0), "moisture")
    alone = fit_storage_trial(product, "biscuit", own, ("permeance",))
    # the truth is by quadrature, the fit by the march: resistances differ by up to one part in LUMPED_FROM
    assert alone.fit["permeance"].value == pytest.approx(0.7, rel=1 / LUMPED_FROM)
    model = model_of(product, "biscuit")
    marched = Readings(days * DAY, moisture_course(moved(model, {"permeance": 0.7}), days * DAY), "moisture")
    again = fit_storage_trial(product, "biscuit", marched, ("permeance",))
    assert again.fit["permeance"].value == pytest.approx(0.7, rel=1e-5)


def test_a_trial_must_fit_the_product() -> None:
    product = trial_product()
    with pytest.raises(HardtackError, match="no layer 'crust'"):
        fit_storage_trial(product, "crust", Readings(np.array([DAY]), np.array([0.03]), "moisture"))
    with pytest.raises(HardtackError, match="the trial ran 200 days"):
        fit_storage_trial(
            product, "biscuit", Readings(np.array([0, 200 * DAY]), np.array([0.03, 0.05]), "moisture")
        )
