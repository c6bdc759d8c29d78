"""From the bake to the pack: layers over time, equalising, and measured beside computed."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

import hardtack
from hardtack.oven import Baked, Factors, bake, calibrate, layers_of
from hardtack.oven.as_json import bake_json
from hardtack.oven.calibration import beside, coefficients
from hardtack.oven.handover import at_packing, shares_of
from hardtack.oven.resting import rest_words, resting
from hardtack.oven.told import bake_sections
from hardtack.reference import lookup, rows
from hardtack.water.isotherm import activity
from tests.house.tree import ROOT


@cache
def baked(name: str) -> Baked:
    return bake(hardtack.load(ROOT / "examples" / f"bake-{name}.yaml"))


def test_layers_over_time_add_up_to_the_piece() -> None:
    done = baked("loaf")
    names, shares = shares_of(done)
    assert names == ("crumb", "rim")
    assert shares.sum(axis=1) == pytest.approx(1.0)
    layers = layers_of(done)
    mass = np.array([layer.dry_mass for layer in layers])
    assert mass @ shares == pytest.approx(done.march.dry_mass, rel=1e-9)
    last = done.march.moisture[-1] @ shares.T
    assert last == pytest.approx([layer.moisture for layer in layers], rel=1e-9)
    assert layers[0].activity == pytest.approx(float(activity(done.isotherm, layers[0].moisture, 298.15)))
    told = bake_json(done)["courses"]
    assert [layer["name"] for layer in told["layers"]] == ["crumb", "rim"]
    for layer in told["layers"]:
        for key in ("temperature_degC", "moisture_db", "activity", "gelatinised", "setting"):
            assert len(layer[key]) == len(told["time_s"])
    assert told["weight_lost"][-1] == pytest.approx(done.loss + done.cooling_loss, rel=1e-4)


def test_a_shut_piece_evens_out() -> None:
    """Nothing leaves, so the mean stays and the difference goes; thin goods in hours at the most, a loaf in days."""
    thin, loaf = resting(baked("hard-biscuit")), resting(baked("loaf"))
    assert thin.difference[0] == pytest.approx(at_packing(baked("hard-biscuit")).difference, abs=2e-3)
    assert abs(thin.difference[-1]) < 1e-5
    assert thin.halved is not None
    assert thin.within is not None
    assert thin.halved < thin.within < 86400
    assert loaf.within is not None
    assert loaf.within > 86400
    assert np.all(np.diff(np.abs(loaf.difference)) < 1e-9)
    assert "Equalising" in rest_words(baked("cracker"))


def test_measured_stands_beside_computed() -> None:
    done = baked("hard-biscuit")
    rows_ = beside(done)
    assert [row.what for row in rows_] == ["loss in the oven", "centre after 100 s", "centre after 200 s"]
    assert rows_[0].after == pytest.approx(100 * done.loss)
    assert beside(baked("cracker")) == ()
    titles = [section.title for section in bake_sections(done)]
    assert "Measured in the plant" in titles
    assert "Measured in the plant" not in [section.title for section in bake_sections(baked("cracker"))]


def test_a_fit_gives_coefficients_with_their_spread() -> None:
    fit = calibrate(hardtack.load(ROOT / "examples" / "bake-hard-biscuit.yaml"))
    heat, dry, wet = coefficients(fit)
    assert heat.value == pytest.approx(fit.factors.heat * heat.shelf)
    assert heat.sd == pytest.approx(heat.value * fit.sd[0])
    assert (dry.shelf, wet.shelf) == (
        lookup("oven transport", "hard-dough biscuit")["dry_path"], lookup("oven transport", "hard-dough biscuit")["wet_path"]
    )  # fmt: skip
    said = " ".join(line for section in bake_sections(fit.baked, fit=fit) for line in section.lines)
    assert "For the file: factors: {heat:" in said
    # what the file is told to hold gives the fitted bake again
    again = bake(
        fit.baked.product,
        Factors(*(float(f"{x:.4g}") for x in (fit.factors.heat, fit.factors.dry_path, fit.factors.wet_path))),
    )
    assert again.loss == pytest.approx(fit.baked.loss, abs=2e-4)


def test_acrylamide_levels_are_those_of_the_regulation() -> None:
    """Commission Regulation (EU) 2017/2158, Annex IV [ug/kg]."""
    levels = {row.name: row["level"] for row in rows("acrylamide")}
    assert levels == {
        "soft bread of wheat": 50, "other soft bread": 100, "biscuits and wafers": 350, "crackers": 400, "crispbread": 350,
        "gingerbread": 800, "similar products": 300, "biscuits and rusks for infants": 150,
    }  # fmt: skip
    assert all(row.provenance == "seen" for row in rows("acrylamide"))
