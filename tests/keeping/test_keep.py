"""The main job end to end."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import hardtack
from hardtack.errors import HardtackError
from hardtack.keeping import history as running
from hardtack.keeping.history import history_of
from hardtack.pack import journey_of, pack_of, stretches_of
from hardtack.piece import piece_of
from hardtack.units import DAY
from hardtack.water.isotherm import moisture

EXAMPLES = Path(__file__).parents[2] / "examples"


def cracker(
    rate: float = 3.0,
    humidity: float = 75.0,
    temperature: float = 30.0,
    lasts: str = "until it fails",
    moisture_wb: float = 2.6,
    extra: str = "",
) -> str:
    return f"""
hardtack: 1
name: test cracker
kind: cracker
origin: invented
packed on: 2026-06-01
piece:
  shape: slab
  thickness: 4.5 mm
  length: 60 mm
  width: 50 mm
  mass: 7.6 g
  count: 26
  layers:
    - {{name: cracker, moisture: {moisture_wb} %wb}}
pack:
  film:
    transmission: {rate} g/m2/day
    tested at: {{temperature: 38 degC, humidity outside: 90 %, humidity inside: 0 %}}
    activation energy: 45 kJ/mol
  area: 0.066 m2
  headspace: 250 mL
  whole-pack factor: 1.0
journey:
  - {{leg: shop, lasts: {lasts}, temperature: {temperature} degC, humidity: {humidity} %}}
limits:
  crispness: {{layer: cracker, activity: 0.43, at: 25 degC}}
{extra}"""


def kept(**words: object) -> hardtack.KeepingStatement:
    return hardtack.keep(hardtack.loads(cracker(**words)))  # type: ignore[arg-type]


@pytest.mark.parametrize("file", sorted(EXAMPLES.glob("*.yaml")), ids=lambda file: file.stem)
def test_every_example_gives_a_whole_statement(file: Path) -> None:
    statement = hardtack.keep(hardtack.load(file))
    assert statement.history.imbalance <= 1e-13  # the march itself stops above 1e-12
    assert statement.sentence.startswith(statement.product)
    assert sum(leg.share for leg in statement.legs) == pytest.approx(1.0, abs=1e-6)
    assert statement.days is not None
    assert all(used.amount.provenance for used in statement.used)
    assert "validation" in statement.cautions[-4]
    k = statement.history.layers.index(statement.courses[0].layer)
    n = int(np.searchsorted(statement.history.times, statement.end))
    assert statement.courses[0].share[n] == pytest.approx(1.0, abs=1e-6)
    if statement.courses[0].name in ("crispness", "crust"):
        assert statement.history.activity[n, k] > statement.history.activity[0, k]
    assert max(statement.shares) == pytest.approx(1.0, abs=1e-6)
    assert statement.chain.startswith(("The ", "Mould grows"))


def test_a_dry_product_in_damp_air_loses_its_snap() -> None:
    """Common practice, no source: a dry product at 0.2-0.3 in 85 % air drinks from it, and its snap is usually
    gone by 0.35-0.55."""
    statement = hardtack.keep(hardtack.load(EXAMPLES / "rusk-open-in-damp-air.yaml"))
    assert statement.days is not None
    assert statement.days < 1
    assert 0.35 <= statement.limits[0].activity <= 0.55


def test_a_vapour_s_activity_is_its_relative_humidity() -> None:
    """Common practice, no source: left long enough, the product stands at the air's relative humidity."""
    statement = kept(rate=500.0, humidity=38.0, lasts="700 days")
    assert statement.first is None
    assert statement.history.activity[-1, 0] == pytest.approx(0.38, abs=1e-3)


def test_below_its_limit_it_does_not_fail_and_is_not_extrapolated() -> None:
    statement = kept(humidity=40.0)
    assert statement.days is None
    assert "for as long as it was followed (3.0 years)" in statement.sentence


def test_film_limited_means_the_quadrature_and_says_so() -> None:
    statement = kept(rate=1.0)
    assert statement.history.method == "lumped"
    assert statement.limiting.startswith("Film-limited, ratio")


def test_quadrature_and_march_agree_where_the_film_limits(monkeypatch: pytest.MonkeyPatch) -> None:
    product = hardtack.loads(cracker(rate=1.0))
    quick = hardtack.keep(product)
    monkeypatch.setattr(running, "LUMPED_FROM", 1e12)
    full = hardtack.keep(product)
    assert (quick.history.method, full.history.method) == ("lumped", "transport")
    assert quick.days is not None
    # the mean lags the surface by about one part in the resistance ratio
    assert full.days == pytest.approx(quick.days, rel=2.0 / quick.history.resistance_ratio)


def test_the_published_case_g_of_the_pack_equation() -> None:
    """GAB 4.5 %, 12, 0.95 from activity 0.15 to 0.45, 200 g dry, 0.06 m2, 1 g/m2/day at 38 degC/90 %, permeance
    taken as constant: 391.7 days at 30 degC and 75 %, worked with Buck's saturation pressure by adaptive
    quadrature of t = (Ws/KAp0) integral dm/(RH - aw) (the equation of Labuza and co-workers)."""
    text = cracker(rate=1.0, extra="").replace("activation energy: 45 kJ/mol", "activation energy: 0 kJ/mol")
    text = text.replace("area: 0.066 m2", "area: 0.060 m2").replace(
        "activity: 0.43, at: 25", "activity: 0.45, at: 30"
    )
    text = text.replace(
        "{name: cracker, moisture: 2.6 %wb}",
        "{name: cracker, activity: 0.15, activity at: 30 degC, diffusivity: 1e-9 m2/s, "
        "isotherm: {form: GAB, Xm: 4.5 %db, C: 12, K: 0.95, at: 30 degC, isosteric heat: 0 kJ/mol}}",
    )
    X0 = 0.0349479
    text = text.replace("mass: 7.6 g", f"mass: {200 / 26 * (1 + X0):.9f} g")
    assert hardtack.keep(hardtack.loads(text)).days == pytest.approx(391.7, rel=1.5e-3)


@settings(max_examples=25, deadline=None)
@given(
    rate=st.floats(0.3, 40.0),
    humidity=st.floats(46.0, 95.0),
    temperature=st.floats(5.0, 40.0),
    moisture_wb=st.floats(1.5, 3.5),
)
def test_more_humid_never_lengthens_and_tighter_never_shortens(
    rate: float, humidity: float, temperature: float, moisture_wb: float
) -> None:
    words = {"rate": rate, "humidity": humidity, "temperature": temperature, "moisture_wb": moisture_wb}
    here = kept(**words).days or np.inf
    damper = kept(**{**words, "humidity": min(99.0, humidity + 4.0)}).days or np.inf
    tighter = kept(**{**words, "rate": rate * 0.7}).days or np.inf
    slack = 1e-6 * min(here, 1e9)
    assert damper <= here + slack
    assert tighter >= here - slack


@settings(max_examples=15, deadline=None)
@given(humidity=st.floats(5.0, 98.0), rate=st.floats(0.5, 400.0), moisture_wb=st.floats(1.0, 5.0))
def test_at_one_temperature_a_layer_stays_between_its_start_and_the_air(
    humidity: float, rate: float, moisture_wb: float
) -> None:
    """Common practice, no source: at one temperature water runs from high activity to low."""
    statement = kept(humidity=humidity, rate=rate, moisture_wb=moisture_wb, lasts="60 days")
    a = statement.history.activity[:, 0]
    low, high = sorted((float(a[0]), humidity / 100))
    assert a.min() >= low - 1e-3
    assert a.max() <= high + 1e-3


def test_warmer_storage_raises_activity_at_the_same_moisture() -> None:
    product = hardtack.loads(cracker(rate=0.01, lasts="2 days", temperature=5.0))
    cold = hardtack.keep(product).history.activity[-1, 0]
    warm = hardtack.keep(
        hardtack.loads(cracker(rate=0.01, lasts="2 days", temperature=40.0))
    ).history.activity[-1, 0]
    assert warm > cold + 0.02


def test_a_season_of_legs_adds_up_and_dates_follow_the_calendar() -> None:
    statement = hardtack.keep(hardtack.load(EXAMPLES / "lean-cracker-humid-coast.yaml"))
    assert [leg.name for leg in statement.legs] == [
        "bakery warehouse",
        "container on deck",
        "shops on the coast",
    ]
    assert statement.legs[1].start == 10 * DAY
    assert statement.end_date == "2026-10-10"
    assert "10 October 2026" in statement.sentence


def test_packed_past_its_limit_is_said() -> None:
    statement = kept(moisture_wb=9.0)
    assert statement.days == 0.0
    assert "past its limit already" in statement.sentence


def test_nothing_to_fail_by_is_an_error_with_a_mend() -> None:
    text = cracker().replace("kind: cracker", "kind: cracker\nnotes: none")
    text = (
        text.split("limits:")[0]
        .replace("{name: cracker, ", "{name: grain, isotherm: rice starch, ")
        .replace("kind: cracker", "kind: rice starch")
    )
    with pytest.raises(HardtackError, match="nothing says when"):
        hardtack.keep(hardtack.loads(text))


def test_drying_out_is_seen_when_the_air_is_dry() -> None:
    text = cracker(
        humidity=8.0, rate=60.0, moisture_wb=5.0, extra="  drying out: {layer: cracker, moisture: 4 %wb}\n"
    )
    text = text.replace("activity: 0.43", "activity: 0.80")
    statement = hardtack.keep(hardtack.loads(text))
    assert statement.first is not None
    assert statement.first.name == "drying out"
    assert "dries out" in statement.sentence
    assert len(statement.courses) == 2


def test_layers_end_at_the_common_activity() -> None:
    """Two layers in a tight pack: water runs from the filling to the wafer until both stand at one activity,
    that at which the water of both is kept (mass balance)."""
    text = """
hardtack: 1
name: test sandwich
kind: wafer
origin: invented
piece:
  shape: slab
  thickness: 5 mm
  length: 40 mm
  width: 40 mm
  mass: 6 g
  count: 10
  layers:
    - {name: filling, share: 60 %, thickness: 2 mm, activity: 0.6, isotherm: soda cracker, diffusivity: 1e-10 m2/s}
    - {name: fat film, barrier: {permeability: 1e-12 g/m/s/Pa, thickness: 0.1 mm}}
    - {name: wafer, share: 40 %, thickness: 2.9 mm, activity: 0.1, isotherm: wafer sheet, diffusivity: 1e-10 m2/s}
pack:
  film: aluminium foil 25 um
  area: 0.03 m2
  headspace: 50 mL
  whole-pack factor: 1.0
journey:
  - {leg: shelf, lasts: 400 days, temperature: 25 degC, humidity: 30 %}
limits:
  crispness: {layer: wafer, activity: 0.9, at: 25 degC}
"""
    product = hardtack.loads(
        text.replace(
            "aluminium foil 25 um",
            "{transmission: 1e-9 g/m2/day, tested at: {temperature: 38 degC, humidity outside: 90 %, humidity inside: 0 %}}",
        )
    )
    statement = hardtack.keep(product)
    piece = statement.piece
    end = statement.history.activity[-1]
    assert end[0] == pytest.approx(end[1], abs=1e-5)
    from scipy.optimize import brentq

    def surplus(a: float) -> float:
        return sum(
            layer.dry_mass * (float(moisture(layer.isotherm, a, 298.15)) - layer.moisture)
            for layer in piece.layers
        )

    assert end[0] == pytest.approx(brentq(surplus, 0.1, 0.6), abs=1e-4)


def test_history_rows_are_those_of_the_run() -> None:
    product = hardtack.loads(cracker(lasts="30 days"))
    piece, _, _ = piece_of(product)
    pack, _ = pack_of(product)
    journey, _ = journey_of(product)
    stretches = stretches_of(journey, pack, [piece])
    history = history_of([piece], pack, journey, stretches, [("cracker", 0.05, True)])
    assert history.times[0] == 0.0
    assert history.times[-1] == 30 * DAY
    assert np.all(np.diff(history.water_gained) > 0)
    assert history.crossings[0].time is None or 0 < history.crossings[0].time <= 30 * DAY
