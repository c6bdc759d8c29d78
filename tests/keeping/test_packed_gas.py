"""Mould and rancidity see the gas that was packed, and what the film lets it become."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from hardtack.keeping import KeepingStatement, keep
from hardtack.product import loads

EXAMPLES = Path(__file__).parents[2] / "examples"
BREAD = (EXAMPLES / "soft-bread-with-emulsifier.yaml").read_text("utf-8")
CRACKER = re.sub(
    r" *film oxygen:.*\n", "", (EXAMPLES / "savoury-sandwich-cracker.yaml").read_text("utf-8")
)  # the film's own is taken then
FLUSH = "atmosphere: {oxygen: 0.5 %, carbon dioxide: 70 %}"


def packed(text: str, more: str, oxygen: str) -> KeepingStatement:
    """The example with more in its pack, and a film of that oxygen transmission."""
    film = (
        f"  film: {{transmission: 5 g/m2/day, oxygen: {oxygen}, "
        "tested at: {temperature: 38 degC, humidity outside: 90 %, humidity inside: 0 %}}\n"
    )
    head, pack, tail = re.split(r"(^pack:\n(?:  .*\n)+)", text, maxsplit=1, flags=re.M)
    kept = [line for line in pack.splitlines()[1:] if re.match(r"  (area|headspace|whole)", line)]
    return keep(
        loads(head + "pack:\n" + film + "\n".join([*kept, *(["  " + more] if more else [])]) + "\n" + tail)
    )


def day(statement: KeepingStatement, name: str) -> float:
    course = next(course for course in statement.courses if course.name == name)
    assert course.time is not None, name
    return course.time / 86400


def share(statement: KeepingStatement, name: str) -> float:
    return float(next(course for course in statement.courses if course.name == name).share[-1])


def test_carbon_dioxide_holds_mould_back_as_long_as_the_film_holds_it() -> None:
    """Tight: some of the published twofold and more (Guynot et al. 2003, J. Food Prot. 66:1864, at 70 %); open: next to nothing."""
    air, tight, loose = (
        share(packed(BREAD, more, oxygen), "mould")
        for more, oxygen in (
            ("", "2 cm3/m2/day/atm"),
            (FLUSH, "2 cm3/m2/day/atm"),
            (FLUSH, "5000 cm3/m2/day/atm"),
        )
    )
    assert tight < 0.7 * air
    assert tight < loose <= air * 1.01


def test_what_is_left_of_the_gas_is_told() -> None:
    """Told of what is not air's: all of a tight pack, next to none of an open one, and nothing where air was packed."""
    plain, tight, loose = (
        [line for line in packed(BREAD, more, oxygen).causes if "carbon dioxide; after" in line]
        for more, oxygen in (
            ("", "2 cm3/m2/day/atm"),
            (FLUSH, "2 cm3/m2/day/atm"),
            (FLUSH, "50000 cm3/m2/day/atm"),
        )
    )
    assert not plain
    left = [float(re.findall(r"it holds ([\d.e+-]+) %", lines[0])[0]) for lines in (tight, loose)]
    assert left[0] > 65.0
    assert left[1] < 10.0


def test_the_gate_of_anaerobes_sees_the_flush() -> None:
    plain, flushed = (packed(BREAD, more, "2 cm3/m2/day/atm") for more in ("", FLUSH))
    said = [" ".join(gate.finding for gate in statement.gates) for statement in (plain, flushed)]
    assert said[0] != said[1]


def test_a_flush_slows_rancidity_until_a_hole_lets_the_air_in() -> None:
    flush = "atmosphere: {oxygen: 1 %, carbon dioxide: 0 %}"
    air, flushed, holed = (
        share(packed(CRACKER, more, "1 cm3/m2/day/atm"), "rancidity")
        for more in ("", flush, flush + "\n  leaks: [{diameter: 300 um, depth: 60 um}]")
    )
    assert flushed < 0.6 * air
    assert holed == pytest.approx(air, rel=0.15)
