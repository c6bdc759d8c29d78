"""Every failure of bread, cake and filled goods in one statement: what comes first, why, and what is told with it."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

import hardtack
from hardtack.errors import HardtackError
from hardtack.keeping.history import at_rows, with_moment
from hardtack.keeping.why import why_of
from hardtack.product import loads
from hardtack.reference import lookup
from hardtack.states import FailureCourse
from hardtack.units import DAY
from hardtack.water.mixing import Component, common_activity

HOUR = 3600.0
EXAMPLES = Path(__file__).parents[2] / "examples"
LOAF = (EXAMPLES / "crusty-loaf-in-plastic.yaml").read_text(encoding="utf-8")
SOFT = (EXAMPLES / "soft-bread-with-emulsifier.yaml").read_text(encoding="utf-8")
SANDWICH = (EXAMPLES / "savoury-sandwich-cracker.yaml").read_text(encoding="utf-8")
CAKE = (EXAMPLES / "glazed-cake.yaml").read_text(encoding="utf-8")
MIX = (EXAMPLES / "crackers-with-dried-fruit.yaml").read_text(encoding="utf-8")
TIGHT = "{transmission: 1e-9 g/m2/day, tested at: {temperature: 38 degC, humidity outside: 90 %, humidity inside: 0 %}}"


def kept(text: str) -> hardtack.KeepingStatement:
    return hardtack.keep(loads(text))


def course(statement: hardtack.KeepingStatement, name: str) -> FailureCourse:
    return next(course for course in statement.courses if course.name == name)


def on_a_rack(humidity: int) -> str:
    """The loaf of the example without a bag, for two days."""
    head, _, rest = LOAF.partition("pack:")
    leg = f"{{leg: rack, unpacked: true, lasts: 2 days, temperature: 21 degC, humidity: {humidity} %}}"
    return f"{head}journey:\n  - {leg}\n\nfailures:{rest.partition('failures:')[2]}"


def test_the_crust_of_a_loaf_in_a_closed_bag_softens_within_a_day_and_in_dry_air_it_does_not() -> None:
    """Common practice, no source."""
    bagged = course(kept(LOAF), "crust").time
    assert bagged is not None
    assert bagged < 1 * DAY
    for humidity in (20, 30, 40):
        dry = course(kept(on_a_rack(humidity)), "crust")
        assert dry.time is None
        assert dry.share.max() < 1.0


def test_unwrapped_in_air_of_50_percent_the_crust_outlasts_the_bag_and_a_little_what_is_remembered() -> None:
    """From memory (general): fresh crust reaches activity 0.6 in 4 to 10 h unwrapped at 50 % RH, sooner when bagged.
    The bagged loaf stays below; the bare one takes 10.3 h, a quarter hour beyond the range: a disagreement that
    docs/examples.md states. The loaf is invented and the passage of vapour through its crust assumed."""
    open_air, bagged = course(kept(on_a_rack(50)), "crust").time, course(kept(LOAF), "crust").time
    assert open_air is not None
    assert bagged is not None
    assert bagged / HOUR <= 10.0
    assert bagged < open_air
    assert open_air / HOUR == pytest.approx(10.3, abs=0.1)  # what docs/examples.md says of it


def test_a_crust_that_passes_twice_the_vapour_stays_crisp_many_times_as_long() -> None:
    """Doubling the crust's vapour permeability halved its uptake of water and lengthened crispness about 8-fold (Hirte
    et al. 2010, J. Cereal Sci. 52:129; on other loaves, so only that it is many times as long is held here)."""
    text = on_a_rack(50)
    head, mark, rest = text.rpartition("vapour permeability: 5e-9")
    tight, open_crust = (
        course(kept(text), "crust"),
        course(kept(f"{head}{mark.replace('5e-9', '1e-8')}{rest}"), "crust"),
    )
    assert tight.time is not None
    assert open_crust.time is None or open_crust.time > 4 * tight.time


def soft_at(degC: float) -> str:
    head, _, rest = SOFT.partition("journey:")
    leg = f"  - {{leg: store, lasts: 30 days, temperature: {degC} degC, humidity: 60 %}}\n\n"
    return f"{head}journey:\n{leg}limits:{rest.partition('limits:')[2]}"


def test_bread_firms_faster_in_the_refrigerator_than_at_room_temperature_and_moulds_slower() -> None:
    """Bread keeps fresh 10 hours at 32 degF, 2 days at 70 degF (US Department of Agriculture, quoted): firming in the
    ratio 4.8. Cold slows mould (common practice, no source)."""
    cold, room = (
        kept(soft_at(0.0)),
        kept(soft_at(lookup("firming temperatures", "70 degF")["temperature"] - 273.15)),
    )
    days = [course(statement, "firming").time for statement in (cold, room)]
    assert days[0] is not None
    assert days[1] is not None
    assert days[1] / days[0] == pytest.approx(48 / 10, rel=1e-3)
    chilled = kept(soft_at(4.0))
    assert chilled.first is not None
    assert chilled.first.name == "firming"
    assert course(chilled, "mould").time is None or course(chilled, "mould").time > course(room, "mould").time
    assert any("Cold storage helps against mould and hurts in firming" in line for line in chilled.clashes)


def rested(statement: hardtack.KeepingStatement) -> tuple[np.ndarray, float]:  # type: ignore[type-arg]
    """Activities at the end, and the common activity of all layers of the pack at rest."""
    T = float(statement.history.temperature[-1])
    parts = [
        Component(layer.name, layer.dry_mass * piece.count, layer.isotherm, layer.moisture)
        for piece in statement.pieces
        for layer in piece.layers
    ]
    return statement.history.activity[-1], common_activity(parts, T).activity


@pytest.mark.parametrize(
    ("text", "film", "lasts"),
    [(SANDWICH, "metallised BOPP", "4000 days"), (MIX, "metallised PET", "4000 days")],
    ids=["sandwich", "two kinds of piece"],
)
def test_sealed_together_all_come_to_the_common_activity(text: str, film: str, lasts: str) -> None:
    """Water is kept: the activity at which the water of all parts adds up to what was there (as Salwin and Slawson
    1959, Food Technol. 13:715, without their straight isotherms). The gas space holds its few micrograms."""
    head, _, rest = text.partition("journey:")
    leg = f"  - {{leg: store, lasts: {lasts}, temperature: 25 degC, humidity: 30 %}}\n\n"
    sealed = head.replace(f"film: {film}", f"film: {TIGHT}").replace("headspace: 180 mL", "headspace: 1 mL")
    sealed = sealed.replace("headspace: 90 mL", "headspace: 1 mL")
    del rest
    ends, common = rested(kept(f"{sealed}journey:\n{leg}"))
    assert ends == pytest.approx(np.full_like(ends, common), abs=1e-6)


def test_each_kind_of_piece_keeps_its_own_gradient_and_all_names() -> None:
    statement = kept(MIX)
    history = statement.history
    assert history.layers == ("cracker", "dried fruit")
    assert [piece.name for piece in statement.pieces] == ["mini cracker", "apricot"]
    assert set(history.profile_layer.tolist()) == {0, 1}
    fruit = history.profile[5][history.profile_layer == 1]
    assert fruit[0] > fruit[-1]  # from the centre out: the skin has given its water first
    assert history.profile_positions[history.profile_layer == 1][0] < 1e-3  # positions begin anew
    assert "through the air of the pack" in statement.chain


def test_the_chain_names_both_layers_the_barrier_the_day_and_the_leg() -> None:
    statement = kept(SANDWICH)
    assert statement.first is not None
    assert statement.first.name == "crispness"
    shell = "lower shell"  # both shells stand alike: the one that the file names first
    assert statement.first.layer == shell
    film = shell.replace("shell", "fat film")
    for words in ("filling at 0.7", f"feeds the {shell} at 0.2", f"through 0.3 mm of {film}"):
        assert words in statement.chain
    assert f"on day {statement.days:.0f}" in statement.chain
    assert statement.chain.endswith("on the leg “summer warehouse”.")


def test_every_failure_has_its_share_at_the_end_also_when_none_comes() -> None:
    statement = kept(SANDWICH)
    assert len(statement.shares) == len(statement.courses) == 4
    assert all(0.0 <= share <= 1.0 + 1e-9 for share in statement.shares)
    n = int(np.searchsorted(statement.history.times, statement.end))
    assert statement.shares[2] == pytest.approx(float(statement.courses[2].share[n]))
    short = kept(
        SANDWICH.partition("  - leg: summer")[0] + "\nfailures:" + SANDWICH.partition("failures:")[2]
    )
    assert short.first is None
    assert short.end == 14 * DAY
    assert 0.0 < max(short.shares) < 1.0
    assert "by the end of what was followed" in short.chain


def test_both_kinds_of_stale_are_named_and_told_apart() -> None:
    statement = kept(LOAF)
    stale = statement.stale
    assert stale is not None
    assert (stale.crumb, stale.crust) == ("crumb", "crust")
    assert [line.split(":")[0] for line in stale.words] == ["Stale by firming", "Stale by water"]
    assert np.all(np.diff(stale.firming) > 0)
    assert stale.water_into_crust[-1] > 0
    # what the crumb lost went into the layers outside it and through the bag
    moved = stale.water_out_of_crumb[-1] + statement.history.water_gained[-1]
    assert moved >= stale.water_into_crust[-1] - 1e-9
    assert kept(SANDWICH).stale is None


def test_what_was_not_judged_is_said_with_the_reason() -> None:
    statement = kept(SANDWICH)
    reasons = {one.name: one.why for one in statement.not_judged}
    assert set(reasons) == {
        "crust",
        "sogginess",
        "drying out",
        "firming",
        "fermentation",
        "sugar",
        "checking",
        "colour",
    }
    assert any(
        line.startswith("Only these failures were judged: crispness, rancidity, mould.")
        for line in statement.cautions
    )


def test_the_lines_of_cakes_give_no_prediction_for_bread() -> None:
    """The lines hold from activity 0.74 to 0.90 (Cauvain and Seiler, quoted): bread lies outside."""
    text = CAKE.replace("activity: 0.87", "activity: 0.895").replace("OPP 30 um", "aluminium foil 25 um")
    assert course(kept(text), "mould").time is not None
    head, _, _ = SOFT.partition("  mould:")
    bread = kept(head + "  mould: {way: lines}\n")
    assert "mould" not in {one.name for one in bread.courses}
    assert any("outside the studied range" in one.why for one in bread.not_judged)


def test_the_glazed_cake_moulds_when_the_lines_say() -> None:
    """log10 days = 7.91 - 0.081 ERH at 21 degC and 6.42 - 0.0647 ERH at 27 degC (quoted of Cauvain and Seiler; Adams
    and Moss), straight in temperature between: at 23 degC and the cake's own activity."""
    statement = kept(CAKE)
    T = 23.0
    reached = float(statement.history.profile[1:].max())
    days = (
        [10 ** (7.91 - 8.1 * a) for a in (reached, 0.85)],
        [10 ** (6.42 - 6.47 * a) for a in (reached, 0.85)],
    )
    w = (T - 21) / 6
    low, high = (cool ** (1 - w) * warm**w for cool, warm in zip(*days, strict=True))
    mould = course(statement, "mould").time
    assert mould is not None
    assert low <= mould / DAY <= high


def test_gates_say_who_confirms_and_the_table_follows_the_file() -> None:
    gates = {gate.name: gate for gate in kept(SOFT).gates}
    assert set(gates) == {
        "growth",
        "food code",
        "Staphylococcus aureus",
        "Clostridium botulinum",
        "preservatives",
    }
    assert all(gate.confirm for gate in gates.values())
    assert "By table B" in gates["food code"].finding
    packed = kept(SOFT.replace("heat-treated and packed: false", "heat-treated and packed: true"))
    assert "By table A" in {gate.name: gate for gate in packed.gates}["food code"].finding
    assert "yeasts in fillings" in {gate.name for gate in kept(SANDWICH).gates}
    assert "yeasts in fillings" not in {gate.name for gate in kept(LOAF).gates}
    assert len(kept((EXAMPLES / "hard-biscuit-plain.yaml").read_text("utf-8")).gates) == 1


def test_preservative_and_carbon_dioxide_only_ever_delay_mould() -> None:
    plain = SOFT.replace("dose: 0.12 %", "dose: 0.0001 %")
    flushed = plain.replace(
        "    organism: Penicillium roqueforti\n",
        "    organism: Penicillium roqueforti\n    carbon dioxide: 70 %\n",
    )
    days = [course(kept(text), "mould").time for text in (plain, SOFT, flushed)]
    assert days[0] is not None
    assert days[1] is not None
    assert days[2] is not None
    assert days[0] < days[1] < days[2]
    # 2 at 70 % of carbon dioxide (Guynot et al. 2003, J. Food Prot. 66:1864)
    assert days[2] / days[0] == pytest.approx(2.0, rel=0.05)


def test_a_leg_above_the_melting_of_starch_refreshes_the_crumb() -> None:
    """Reheating above 140 degF turns staling back (US Department of Agriculture, quoted)."""
    toast = "  - {leg: oven, lasts: 15 minutes, temperature: 68 degC, humidity: 10 %}\n  - leg: shop and kitchen\n"
    statement = kept(SOFT.replace("  - leg: shop and kitchen\n", toast))
    firming = course(statement, "firming")
    before, after = (
        float(np.interp(t * DAY, statement.history.times, firming.share)) for t in (1.0, 1.0 + 1 / 96)
    )
    assert after < before
    first = kept(SOFT).days
    assert first is not None
    assert firming.time is not None
    assert firming.time / DAY > first


def test_emulsifier_slows_and_an_effect_on_the_end_does_something_else() -> None:
    """The factor of monoglyceride on the rate is 0.5 to 0.7 (from memory), its middle 0.6; at one temperature the days
    go as its inverse."""
    text = soft_at(21.0)
    none = text.replace("{ingredient: monoglyceride}", "{ingredient: none, on: rate, factor: 1}")
    slower, faster = course(kept(text), "firming").time, course(kept(none), "firming").time
    assert slower is not None
    assert faster is not None
    assert slower / faster == pytest.approx(1 / 0.6, rel=1e-9)
    enzyme = "{ingredient: our enzyme, on: final firmness, factor: 0.5}"
    softer = course(kept(text.replace("{ingredient: monoglyceride}", enzyme)), "firming")
    assert softer.time is None
    assert "firming alone does not end this life" in " ".join(softer.told)


def test_a_swing_within_the_day_is_told_by_its_size() -> None:
    """The mean of Q10^((T - mean)/10) over a sine of amplitude A is I0(A ln Q10 / 10), the modified Bessel function
    (Abramowitz and Stegun 9.6.16)."""
    from scipy.special import i0

    text = SANDWICH.replace(
        "    temperature: 27 degC\n",
        '    temperature: {mean: 27 degC, daily swing: 12 K, warmest at: "14:00"}\n',
    )
    statement = kept(text)
    Q10 = lookup("rancidity", "bakery goods")["Q10"]
    more = float(i0(1.2 * math.log(Q10))) - 1.0
    told = [line for line in statement.cautions if "swings within the day" in line]
    assert len(told) == 1
    assert f"about {more:.0%} faster" in told[0]
    assert not [line for line in kept(SANDWICH).cautions if "swings" in line]


def test_a_moment_put_in_keeps_the_mean_of_its_interval() -> None:
    history = kept(SANDWICH).history
    t = float(history.times[10] + history.times[11]) / 2
    longer = with_moment(history, t)
    assert longer.temperature[11] == history.temperature[11]
    assert longer.humidity[11] == history.humidity[11]
    assert longer.activity[11, 0] == pytest.approx(history.activity[10:12, 0].mean())
    whole = FailureCourse(
        "mould", "filling", np.linspace(0, 2, history.times.size), t, "", "", "", "", "assumed", ""
    )
    assert at_rows(whole, history.times, longer).share[11] == 1.0


def test_rancidity_balances_the_oxygen_of_the_pack_and_needs_the_film_s() -> None:
    statement = kept(SANDWICH)
    assert any("oxygen packed with it" in words for words in course(statement, "rancidity").told)
    bare = SANDWICH.replace("    film oxygen: 60 cm3/m2/day/atm\n", "")
    with pytest.raises(HardtackError, match="how much oxygen the film lets in"):
        kept(bare)
    shelf = kept(bare.replace("film: metallised BOPP", "film: OPP"))
    assert course(shelf, "rancidity").share[-1] > 0
    flushed = kept(SANDWICH.replace("    start: 1\n", "    start: 1\n    oxygen: 1 %\n"))
    assert flushed.shares[2] < statement.shares[2]


def test_a_filling_ferments_by_its_measured_day() -> None:
    text = SANDWICH.replace(
        "failures:\n",
        "failures:\n  fermentation: {layer: filling, noticed after: 30 days, activity: 0.80, at: 25 degC}\n",
    )
    ferments = course(kept(text), "fermentation")
    assert ferments.share[-1] > 0
    assert ferments.layer == "filling"


def test_checking_is_judged_with_rim_and_centre_as_layers() -> None:
    """Surface and centre less than 1 % apart are called good against checking (after Dunn and Bailey 1928)."""
    text = """
hardtack: 1
name: test biscuit
kind: hard-dough biscuit
origin: invented
piece:
  shape: slab
  thickness: 6 mm
  diameter: 60 mm
  mass: 8 g
  count: 20
  layers:
    - {name: lower rim, share: 20 %, thickness: 1.2 mm, moisture: 1.2 %wb}
    - {name: centre, share: 60 %, thickness: 3.6 mm, moisture: 3.4 %wb}
    - {name: upper rim, share: 20 %, thickness: 1.2 mm, moisture: 1.2 %wb}
pack: {film: OPP 30 um, area: 0.06 m2, headspace: 180 mL, whole-pack factor: flow pack}
journey:
  - {leg: store, lasts: 60 days, temperature: 21 degC, humidity: 50 %}
failures:
  checking: {layers: [lower rim, centre, upper rim]}
"""
    checks = kept(text)
    assert checks.courses[0].name == "checking"
    assert checks.courses[0].share.max() == pytest.approx(2.2, abs=0.05)  # 3.4 less 1.2 %, over 1 %
    even = kept(text.replace("3.4 %wb", "2.0 %wb").replace("1.2 %wb", "1.8 %wb"))
    assert course(even, "checking").share.max() < 1.0


def test_why_lays_one_failure_open() -> None:
    statement = kept(SOFT)
    (why,) = why_of(statement, "mould")
    assert why.equation.symbols
    assert [leg for leg, _, _ in why.by_leg] == ["depot", "shop and kitchen"]
    assert why.by_leg[-1][2] == pytest.approx(statement.share_at(why.course, statement.end))
    assert {"mould first seen after", "activity of that day"} <= {used.what for used in why.numbers}
    assert len(why_of(statement, "drying-out")) == 1
    with pytest.raises(HardtackError, match="sogginess was not judged: the file gives no limit"):
        why_of(statement, "sogginess")
    with pytest.raises(HardtackError, match="no failure is called 'boredom'"):
        why_of(statement, "boredom")


def test_a_soft_crust_is_not_judged_as_a_crisp_one() -> None:
    text = LOAF.replace("activity: 0.25", "activity: 0.85")
    statement = kept(text)
    assert any("it is a soft crust" in one.why for one in statement.not_judged if one.name == "crust")
