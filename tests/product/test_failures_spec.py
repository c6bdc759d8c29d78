"""The failures of the product file: what is read, and every slip at once with its line."""

from __future__ import annotations

import pytest

from hardtack.errors import HardtackError
from hardtack.product import loads

HEAD = """hardtack: 1
name: test loaf
kind: bread
origin: measured here, trial
piece:
  shape: slab
  thickness: 100 mm
  length: 220 mm
  width: 100 mm
  mass: 500 g
  count: 1
  layers:
    - {name: crumb, moisture: 38 %wb, activity: 0.955, isotherm: bread crumb}
pack: {film: LDPE 30 um, area: 0.14 m2, headspace: 600 mL}
journey:
  - {leg: shop, lasts: 5 days, temperature: 21 degC, humidity: 50 %}
"""


def test_units_spread_and_origin_are_read_as_everywhere() -> None:
    failures = loads(
        HEAD
        + """failures:
  firming: {rate: 0.27 ± 0.03 1/day, at: 21 degC, firmness limit: 9 N, fresh firmness: 3 N, final firmness: 16 N}
  rancidity: {fat: 3 %, rate: "0.05 1/day [seen]", at: 25 degC, activity: 0.9, film oxygen: 1500 cm3/m2/day/atm}
"""
    ).failures
    assert failures is not None
    assert failures.firming is not None
    assert failures.firming.layer == "crumb"  # the only one
    assert failures.firming.rate is not None
    assert failures.firming.rate.value == pytest.approx(0.27 / 86400)
    assert failures.firming.rate.sd == pytest.approx(0.03 / 86400)
    assert failures.firming.rate.provenance == "measured here"
    assert failures.firming.firmness_limit is not None
    assert failures.firming.firmness_limit.unit == "N"
    assert failures.rancidity is not None
    assert failures.rancidity.rate.provenance == "seen"
    # 1 cm3 of gas through 1 m2 in a day at one atmosphere
    assert failures.rancidity.film_oxygen is not None
    assert failures.rancidity.film_oxygen.value == pytest.approx(1500e-6 / 86400 / 101325)


def test_every_slip_is_told_at_once_with_its_line() -> None:
    text = (
        HEAD
        + """limits:
  crust: {layer: rind, activity: 0.6, at: 25 degC}
failures:
  firming:
    rate: 0.27 1/day
    limit: 40 %
    firmness limit: 9 N
    apparent energy: 30 kJ/mol
    effects:
      - {ingredient: our enzyme, factor: 0.6}
  mould:
    way: measured day
    activity: 0.95
    layers: [crumb, rind]
    organisms: Penicillium
  sugar: {sugar: sucrose}
  checking: {difference: 1}
"""
    )
    with pytest.raises(HardtackError) as caught:
        loads(text, "loaf.yaml")
    told = {(problem.line, problem.what) for problem in caught.value.problems}
    first = HEAD.count("\n")
    for line, words in (
        (2, "no layer is called 'rind'"),
        (5, "'rate' without 'at'"),
        (7, "'limit' and 'firmness limit' at once"),
        (7, "'firmness limit' without 'fresh firmness'"),
        (7, "'firmness limit' without 'final firmness'"),
        (8, "an apparent energy of firming above zero"),
        (10, "'factor' without 'on'"),
        (11, "a measured day without 'seen after'"),
        (11, "a measured day without 'at'"),
        (14, "no layer is called 'rind'"),
        (15, "unknown key 'organisms'"),
        (16, "'sugar' without 'must not'"),
        (17, "1: percent or fraction?"),
    ):
        near = [what for at, what in told if at is not None and abs(at - first - line) <= 1]
        assert any(words in what for what in near), (
            line,
            words,
            sorted(told, key=str),
        )
    assert all(problem.mend for problem in caught.value.problems)


@pytest.mark.parametrize(
    ("failures", "words"),
    [
        ("mould: {way: lines, pH: 5}", "the lines know none"),
        ("mould: {way: growth, seen after: 5 days}", "belongs to a measured day"),
        ("mould: {way: by feel}", "is not known here"),
        ("sugar: {layer: crumb}", "nothing says which sugar"),
        ("sugar: {glass: sucrose, at: 25 degC}", "'glass' without 'moisture'"),
        (
            "rancidity: {fat: 3 %, rate: 0.05 1/day, at: 25 degC, activity: 0.9, Q10: 2, activation energy: 80 kJ/mol}",
            "'Q10' and 'activation energy' at once",
        ),
        ("firming: {rate: -0.2 1/day, at: 21 degC}", "rate constant"),
        ("gremlins: {layer: crumb}", "unknown key 'gremlins'"),
        ("colour: {limit: 4}", "'rate' is missing"),
    ],
)
def test_what_does_not_hang_together_is_said(failures: str, words: str) -> None:
    with pytest.raises(HardtackError, match=words):
        loads(HEAD + f"failures:\n  {failures}\n")


def test_rancidity_needs_a_pack() -> None:
    text = HEAD.replace("pack: {film: LDPE 30 um, area: 0.14 m2, headspace: 600 mL}\n", "").replace(
        "{leg: shop,", "{leg: shop, unpacked: true,"
    )
    with pytest.raises(HardtackError, match="rancidity without a pack"):
        loads(text + "failures:\n  rancidity: {fat: 3 %, rate: 0.05 1/day, at: 25 degC, activity: 0.9}\n")


def several(text: str) -> str:
    head, _, rest = text.partition("piece:\n")
    body, _, tail = rest.partition("pack:")
    item = "  - name: NAME\n" + "".join(f"  {line}\n" for line in body.splitlines())
    other = item.replace("NAME", "bun").replace("name: crumb", "name: bun crumb")
    return f"{head}pieces:\n{item.replace('NAME', 'loaf')}{other}pack:{tail}"


def test_several_kinds_of_piece_each_have_name_count_and_layers() -> None:
    product = loads(several(HEAD))
    assert [piece.name for piece in product.pieces] == ["loaf", "bun"]
    assert [layer.name for layer in product.layers] == ["crumb", "bun crumb"]
    assert product.piece is product.pieces[0]
    for slip, words in (
        (
            several(HEAD).replace("  - name: bun\n", "  - shape: slab\n").replace("    shape: slab\n", "", 2),
            "'name' is missing",
        ),
        (several(HEAD).replace("name: bun crumb", "name: crumb"), "two layers are called 'crumb'"),
        (
            several(HEAD) + HEAD.partition("kind: bread\n")[2].partition("pack:")[0].partition("\n")[2],
            "at once",
        ),
        (HEAD.partition("piece:")[0] + "pack:" + HEAD.partition("pack:")[2], "'piece' is missing"),
    ):
        with pytest.raises(HardtackError, match=words):
            loads(slip)
