"""Every slip in a product file is named with its line and a mend, all of them at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from hardtack.errors import HardtackError, Problem
from hardtack.product import load, loads

HERE = Path(__file__).parent
CRACKER = (HERE / "cracker.yaml").read_text("utf-8")
SANDWICH = (HERE / "sandwich.yaml").read_text("utf-8")


def problems(text: str) -> tuple[Problem, ...]:
    with pytest.raises(HardtackError) as caught:
        loads(text, "x.yaml")
    return caught.value.problems


def broken(text: str, old: str, new: str) -> tuple[Problem, int]:
    """The one problem of a good file with one change, and the line of the change."""
    assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times"
    line = text[: text.index(old)].count("\n") + 1
    (problem,) = problems(text.replace(old, new))
    assert problem.file == "x.yaml"
    assert problem.mend
    return problem, line


SLIPS = [
    # old, new, what is said, how to mend it, lines below the change
    ("mass: 7.6 g", "mas: 7.6 g\n  mass: 7.6 g", "unknown key 'mas'", "perhaps 'mass'", 0),
    ("mass: 7.6 g", "Width: 7 g\n  mass: 7.6 g", "unknown key 'Width'", "perhaps 'width'", 0),
    ("packed on:", "packed_on: 2026-06-02\npacked on:", "unknown key 'packed_on'", "perhaps 'packed on'", 0),
    ("area: 0.066 m2", "area: 0.066 kg", "'kg' is not a unit of area", "0.066 m2", 0),
    ("area: 0.066 m2", "area: 0.066", "has no unit", "0.066 m2", 0),
    ("mass: 7.6 g", "mass: -7.6 g", "too small for a mass", "above zero", 0),
    ("mass: 7.6 g", "mass: 7,6 g", "cannot read '7,6 g'", "7.6 g", 0),
    ("mass: 7.6 g", "mass: [7.6 g]", "a list stands where a mass belongs", "8.2 g", 0),
    ("mass: 7.6 g", "mass: {valu: 7.6 g}", "a quantity has no key 'valu'", "value, sd, low", 0),
    ("mass: 7.6 g", "mass: {value: 7.6 g, low: 7 g}", "needs both 'low' and 'high'", "", 0),
    ("mass: 7.6 g", "mass: {low: 8 g, high: 7 g}", "'low' is not below 'high'", "", 0),
    ("mass: 7.6 g", "mass: {low: 7 g, high: 8 g, value: 9 g}", "outside 'low' and 'high'", "", 0),
    ("mass: 7.6 g", "mass: {value: 7.6 g, from: my head}", "'my head' does not say", "from memory", 0),
    ("mass: 7.6 g", "mass: 7.6 g [guessed]", "[guessed] does not say", "assumed", 0),
    ("mass: 7.6 g", "mass: 7.6 g/0", "is not a unit of mass", "8.2 g", 0),
    ("mass: 7.6 g", "mass: 7.6 g^9^9^9", "cannot read", "8.2 g", 0),
    ("mass: 7.6 g", f"mass: 7.6 {'g*' * 140}g", "is not a unit of mass", "8.2 g", 0),
    ("count: 26", "count: 2.5", "whole numbers", "26", 0),
    ("mean: 65 %", "mean: 0.65", "percent or fraction?", "65 %", 0),
    ("activity: 0.17", "activity: 17 %", "water activity is a fraction", "0.17", 0),
    ("activity: 0.17", "activity: 1.17", "a water activity of 1.17 cannot be", "percent", 0),
    ("moisture: 2.6 ± 0.2 %wb", "moisture: 2.6", "on which basis?", "2.6 %wb", 0),
    ("moisture: 2.6 ± 0.2 %wb", "moisture: 2.6 ± 0.2 %", "on which basis?", "%db", 0),
    ("shape: slab", "shape: slabb", "'slabb' is not known here", "slab, cylinder, sphere", 0),
    ("packed on: 2026-06-01", "packed on: 01/06/2026", "cannot read '01/06/2026' as a date", "2026-06-01", 0),
    ("packed on: 2026-06-01", "packed on: 2026-02-30", "there is no day 2026-02-30", "year-month-day", 0),
    ('"14:00"', '"2 pm"', "as a time of day", "14:00", 0),
    ("warmest on: 07-20", "warmest on: 20-07", "there is no day 20-07", "month-day", 0),
    ("origin: invented, example", "origin: dreamt", "'dreamt' does not say", "measured here, seen", 0),
    ("headspace: 250 mL", "headspace:", "nothing is written after 'headspace:'", "take the line out", 0),
    (
        "mass: 7.6 g",
        "mass: 7.6 g\n  mass: 7.7 g",
        "stands twice, first in line 11",
        "keep one",
        1,
    ),
    ("unpacked: true", "unpacked: maybe", "neither true nor false", "true or false", 0),
    ("lasts: 21 days", "lasts: for ever", "cannot read 'for ever' as a duration", "until it fails", 0),
    ("lasts: 21 days", "lasts: until it fails", "stands before the last leg", "21 days", 0),
    ("packed on: 2026-06-01\n", "", "a yearly swing needs the day of packing", "packed on", 27 - 5),
    ("climate: zone IVb", "notes: none", "unknown key 'notes'", "climate", 0),
    (", yearly swing: 3 K", "", "'warmest on' without a 'yearly swing'", "add the yearly swing", 0),
    (", warmest on: 07-20", "", "'yearly swing' without 'warmest on'", "07-20", 0),
    ("lasts: 8 hours", "notable: 1", "unknown key 'notable'", "lasts", 0),
    ("daily swing: -15 %", "daily swing: -15 %, highest at: 05:00", "highest or lowest", "minus", 0),
    ("layer: cracker,", "layer: crumb,", "no layer is called 'crumb'", "the layers are: cracker", 0),
    ("activity: 0.43, at: 25 degC", "activity: 0.43", "without its temperature", "25 degC", 0),
    ("activity: 0.43", "midpoint: 0.5", "midpoint alone give no limit", "steepness", 0),
    ("activity: 0.43", "activity: 0.43, moisture: 5 %wb", "stated by 'activity' and 'moisture'", "one of", 0),
    (", humidity inside: 0 %", "", "without its test's 'humidity inside'", "supplier's sheet", 0),
    (", humidity outside: 90 %", "", "without its test's 'humidity outside'", "supplier's sheet", 0),
    ("temperature: 38 degC, ", "", "'temperature' is missing", "38 degC", 0),
    ("transmission: 4.2 g/m2/day, ", "", "neither transmission nor permeance", "supplier", 0),
    ("4.2 g/m2/day,", "4.2 g/m2/day, permeance: 0.05 perm,", "at once", "one of the two", 0),
    ("area: 0.066 m2", "length: 3 m\n  area: 0.066 m2", "unknown key 'length'", "headspace", 0),
    ("form: GAB,", "form: GABB,", "'GABB' is not known here", "GAB, BET, Oswin", 0),
    ("Xm: 4.0 %db, ", "", "'Xm' is missing", "the form GAB needs it", 0),
    ("Xm: 4.0 %db", "Xm: 4.0", "on which basis?", "4 %db", 0),
    ("K: 0.90", "K: -0.90", "too small", "above zero", 0),
    ("range: 0.05..0.90", "range: 0.90", "'range' names one activity only", "0.05..0.90", 0),
    ("isosteric heat: 5 kJ/mol, ", "", "'fades over' without", "isosteric heat", 0),
    ("range: 0.05", "enthalpies: {C: 1 kJ/mol}, range: 0.05", "not by both", "keep one", 0),
    ("diffusivity: 2e-11 m2/s", "diffusivity: 2e-11 m/s", "'m/s' is not a unit of diffusivity", "m2/s", 0),
    ("pH: 6.8", "ph: 6.8", "unknown key 'ph'", "pH", 0),
    ("open on the table", "''", "the text is empty", "take the line out", 0),
    ("name: Tidewater lean cracker", "name: [a, b]", "plain text belongs here", "words", 0),
]


@pytest.mark.parametrize(("old", "new", "what", "mend", "below"), SLIPS, ids=[slip[2] for slip in SLIPS])
def test_slip_in_the_cracker(old: str, new: str, what: str, mend: str, below: int) -> None:
    text = CRACKER
    if new.startswith(("notes: none", "notable")):  # the key it replaces is missed as well
        found = problems(text.replace(old, new))
        problem = next(p for p in found if what in p.what)
        line = text[: text.index(old)].count("\n") + 1
        assert len(found) == 2
    else:
        problem, line = broken(text, old, new)
    assert what in problem.what
    assert mend in problem.mend
    assert problem.line == line + below


SANDWICH_SLIPS = [
    ("share: 5 %", "share: 50 %", "leave no share for this one", "add up to 100 %", 2),
    (
        "    - name: filling\n",
        "    - name: filling\n      share: 60 %\n",
        "add up to 125 %",
        "takes the rest",
        -10,
    ),
    (
        "    - name: filling\n",
        "    - name: filling\n      thickness: 5 mm\n",
        "13.3 mm",
        "takes the rest",
        -10,
    ),
    ("name: lower shell", "name: upper shell", "two layers are called 'upper shell'", "name of its own", 18),
    ("      activity: 0.15\n", "", "neither moisture nor activity", "2.6 %wb", -3),
    ("      isotherm: sweet biscuit\n", "", "no isotherm, and the product no kind", "soda cracker", -4),
    ("permeability: 1.1e-12 g/m/s/Pa, ", "", "nothing says how much the barrier", "permeance", 0),
    ("{permeability: 1.1e-12", "{permeance: 1 perm, permeability: 1.1e-12", "at once", "one of", 0),
    (" at: 20 degC, activation", " activation", "'activation energy' without 'at'", "at: 20 degC", 0),
    ("barrier: {", "moisture: 2 %wb\n      barrier: {", "unknown key 'moisture'", "name, barrier, share", 0),
    ("name: filling", "name: filling\n      rim: 120 %", "too large for a share", "30 %", 1),
    ("name: filling", "name: filling\n      rim: open", "cannot read 'open'", "30 %", 1),
    ("0.3 mm, at", "0.3 mm, coverage: 95 %, hole width: 0 mm, at", "too small for a length", "above zero", 0),
    ("0.3 mm, at", "0.3 mm, cracks: 1 %, at", "'cracks' are of a coat on the outside", "coverage: 95 %", 0),
    ("0.3 mm, at", "0.3 mm, hole width: 1 mm, at", "'hole width' without 'coverage'", "coverage: 95 %", 0),
    ("0.3 mm, at", "0.3 mm, crack width: 1 mm, at", "'crack width' without 'cracks'", "cracks: 0.5 %", 0),
    ("0.3 mm, at", "0.3 mm, effects: [{ingredient: lecithin, factor: 0}], at", "too small", "above zero", 0),
    ("0.3 mm, at", "0.3 mm, effects: [{ingredient: lecithin}], at", "'factor' is missing", "", 0),
    ("0.60: 12 %db", "0.60: 3 %db", "the points do not rise", "leave a reading out", -3),
    ("0.60: 12 %db", "1.60: 12 %db", "a water activity of 1.6 cannot be", "percent", 0),
    ("{C1: 2 kJ/mol}", "{Xm: 2 kJ/mol}", "no constant 'Xm'", "C1, C2, C3, C4", 0),
    ("at: 25 degC, activation", "activation", "'activation energy' without 'at'", "at: 25 degC", 0),
    ("diameter: 5 cm", "diameter: 5 cm\n  length: 5 cm", "sizes too many", "thickness and diameter", -3),
    ("  diameter: 5 cm\n", "", "not complete", "thickness and length and width", -3),
    ("  count: 8\n", "", "'count' is missing", "count: 26", -5),
    ("open ends: both", "open ends: surface", "a slab has two ends", "both", 0),
    ("failing loss: 50 %", "failing loss: 100 %", "between 0 and 100 %", "50 %", 0),
    ("      activity: 0.62\n", "      moisture: 12 %wb\n", "'activity at' without an activity", "add", 1),
]


@pytest.mark.parametrize(
    ("old", "new", "what", "mend", "below"), SANDWICH_SLIPS, ids=[slip[2] for slip in SANDWICH_SLIPS]
)
def test_slip_in_the_sandwich(old: str, new: str, what: str, mend: str, below: int) -> None:
    problem, line = broken(SANDWICH, old, new)
    assert what in problem.what
    assert mend in problem.mend
    assert problem.line == line + below


def test_a_sealed_leg_needs_a_pack() -> None:
    head, _, rest = CRACKER.partition("pack:\n")
    _, _, tail = rest.partition("journey:\n")
    found = problems(f"{head}journey:\n{tail}")
    assert [p.line for p in found] == [21, 31]  # the sea container and the shop; the open table needs none
    assert all("sealed in this leg" in p.what for p in found)
    assert "unpacked: true" in found[0].mend


def test_sizes_that_a_shape_does_not_have() -> None:
    found = problems(CRACKER.replace("shape: slab", "shape: sphere"))
    said = [(p.line, p.what) for p in found]
    assert (8, "a sphere has no thickness") in said
    assert (9, "a sphere has no length") in said
    assert (10, "a sphere has no width") in said
    assert any("not complete" in what for _, what in said)


def test_a_round_piece_has_a_surface() -> None:
    text = CRACKER.replace("shape: slab", "shape: cylinder\n  open ends: first")
    text = text.replace("thickness: 4.5 mm", "diameter: 9 mm").replace("  width: 50 mm\n", "")
    (problem,) = problems(text)
    assert (problem.line, problem.what) == (8, "a cylinder has a surface, not two ends")


@pytest.mark.parametrize(
    ("air", "what"),
    [
        (
            "    climate: retail\n    temperature: 20 degC\n    humidity: 50 %\n",
            "'climate' and 'temperature' at once",
        ),
        ("    temperature: 20 degC\n", "'temperature' alone is not a climate"),
        ("    humidity: 50 %\n", "'humidity' alone is not a climate"),
        ("", "does not say what air"),
    ],
)
def test_the_air_of_a_leg(air: str, what: str) -> None:
    (problem,) = problems(CRACKER.replace("    climate: zone IVb\n", air))
    assert what in problem.what
    assert problem.line == 36
    assert problem.path == "journey / shop on the coast"


def test_all_problems_come_at_once_in_the_order_of_the_file() -> None:
    text = CRACKER
    for old, new in [
        ("mass: 7.6 g", "mass: 7.6"),
        ("activity: 0.17", "activity: 17"),
        ("area: 0.066 m2", "aera: 0.066 m2"),
        ("lasts: 21 days", "lasts: 21 moons"),
        ("packed on: 2026-06-01\n", "\n"),
        ("layer: cracker", "layer: crumb"),
    ]:
        assert text.count(old) == 1
        text = text.replace(old, new)
    found = problems(text)
    lines = [(p.line, p.what) for p in found]
    assert lines == sorted(lines, key=lambda item: item[0] or 0)
    expected = [
        (11, "has no unit"),
        (16, "activity of 17 cannot be"),
        (20, "'area' is missing"),
        (22, "unknown key 'aera'"),
        (27, "'moons' is not a unit"),
        (28, "needs the day of packing"),
        (40, "no layer is called"),
    ]
    assert len(found) == len(expected)
    for (line, what), (expected_line, words) in zip(lines, expected, strict=True):
        assert line == expected_line
        assert words in what


def test_a_problem_says_where_in_the_words_of_the_file() -> None:
    (problem,) = problems(CRACKER.replace("activity: 0.17", "activity: 17"))
    assert problem.path == "piece / layers / cracker / activity"
    assert str(problem).startswith("x.yaml:16 · piece / layers / cracker / activity: a water activity of 17")


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        ("", 1, "the file is empty"),
        ("# only a comment\n\n", 1, "the file is empty"),
        ("just words\n", 1, "not a list of keys and values"),
        ("- a\n- b\n", 1, "not a list of keys and values"),
        ("name: x\n", 1, "the format version is missing"),
        ("hardtack: 2\nname: x\n", 1, "format version '2' is not known"),
        ("# c\nhardtack: one\n", 2, "format version 'one' is not known"),
        ("hardtack: 1\nname: x: y\n", 2, "not readable as YAML"),
        ("hardtack: 1\npiece:\n\tshape: slab\n", 3, "a tab in the indentation"),
        ("hardtack: 1\npiece: [a, b\nname: x\n", 3, "not readable as YAML"),
        ("hardtack: 1\nname: @here\n", 2, "not readable as YAML"),
        ("hardtack: 1\n---\nhardtack: 1\n", 2, "a second document"),
        ("hardtack: 1\n? [a, b]\n: c\n", 2, "a key must be a plain word"),
        ("hardtack: 1\nname: a\x07b\n", 2, "U+0007"),
        ("hardtack: 1\nname: *nobody\n", 2, "not readable as YAML"),
        ("hardtack: 1\nname: " + "[" * 5000, 2, "61 brackets are open here"),
        ("- " * 5000, 1, "nested too deeply"),
        ("hardtack: 1\nnotes: " + "x" * 300_000, None, "longer than 100 kB"),
    ],
)
def test_what_is_no_product_file(text: str, line: int | None, what: str) -> None:
    found = problems(text)
    assert what in found[0].what or any(what in problem.what for problem in found)
    assert next(p for p in found if what in p.what).line == line


def test_each_tab_is_named() -> None:
    found = problems("hardtack: 1\npiece:\n\tshape: slab\n\tmass: 5 g\n")
    assert [p.line for p in found] == [3, 4]
    assert found[0].mend == "indent with spaces"


def test_aliases_of_aliases_do_not_fill_the_memory() -> None:
    rows = ["hardtack: 1", "a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    rows += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 10)]
    (problem,) = problems("\n".join(rows))
    assert "far more values" in problem.what
    (problem,) = problems("hardtack: 1\na: &a [*a]\n")
    assert problem.line == 2


def test_bytes_that_are_not_utf_8(tmp_path: Path) -> None:
    path = tmp_path / "latin.yaml"
    path.write_bytes(CRACKER.replace("25 degC", "25 °C").encode("latin-1"))
    with pytest.raises(HardtackError) as caught:
        load(path)
    (problem,) = caught.value.problems
    assert problem.line == 15  # the first letter beyond ASCII is the ± of the moisture
    assert "0xb1 is not UTF-8" in problem.what
    path.write_bytes(CRACKER.encode("utf-16"))
    with pytest.raises(HardtackError, match="UTF-16, not UTF-8"):
        load(path)


def test_files_that_are_not_there(tmp_path: Path) -> None:
    (tmp_path / "cracker.yaml").write_text(CRACKER, "utf-8")
    with pytest.raises(HardtackError, match=r"there is no such file(.|\n)*perhaps .*cracker\.yaml"):
        load(tmp_path / "craker.yaml")
    with pytest.raises(HardtackError, match="this is a folder"):
        load(tmp_path)
    with pytest.raises(HardtackError, match="there is no such file"):
        load(tmp_path / "cracker.yaml" / "deeper.yaml")
    with pytest.raises(HardtackError, match="there is no such file"):
        load("a\0b.yaml")


def test_a_coat_with_holes_and_cracks_is_asked_for_one_of_them() -> None:
    shell = "    - name: lower shell"
    coat = "    - name: coat\n      barrier: {permeance: 0.1 perm, coverage: 95 %, cracks: 1 %}\n"
    (problem,) = problems(SANDWICH.replace(shell, coat + shell))
    assert "'coverage' or 'cracks', not both" in problem.what
    assert problem.line == SANDWICH[: SANDWICH.index(shell)].count("\n") + 2


def test_two_barriers_with_openings_on_one_face() -> None:
    fat = "    - name: fat film"
    paper = "    - name: paper\n      barrier: {permeance: 0.1 perm, coverage: 95 %}\n"
    text = SANDWICH.replace(fat, paper + fat).replace("0.3 mm, at", "0.3 mm, coverage: 90 %, at")
    (problem,) = problems(text)
    assert "both have openings" in problem.what
    assert problem.line == text[: text.index("coverage: 90 %")].count("\n") + 1
