"""Gates say where the product stands and who confirms; pairs warn of remedies that hurt elsewhere."""

from __future__ import annotations

from dataclasses import replace

import pytest

from hardtack.errors import HardtackError
from hardtack.failures import food_code, growth_gate, pairs, preservatives, toxins_gate, yeast
from hardtack.failures.food_code import Table, food_code_class
from hardtack.failures.mould import Growth
from hardtack.failures.mould import course as mould_course
from hardtack.states import FailureCourse, Gate
from tests.failures.histories import history

NONE, PA = "no control by time and temperature needed", "product assessment needed"


@pytest.mark.parametrize(
    ("table", "a", "verdicts"),
    [
        # FDA Food Code, table A: pH 4.0, 5.0, 6.0 stand for "4.6 or less", "> 4.6 - 5.6", "> 5.6"
        ("A", 0.90, {4.0: NONE, 5.0: NONE, 6.0: NONE}),
        ("A", 0.94, {4.0: NONE, 5.0: NONE, 6.0: PA}),
        ("A", 0.97, {4.0: NONE, 5.0: PA, 6.0: PA}),
        # table B: pH 4.0, 4.4, 4.8, 5.5 stand for "< 4.2", "4.2 - 4.6", "> 4.6 - 5.0", "> 5.0"
        ("B", 0.85, {4.0: NONE, 4.4: NONE, 4.8: NONE, 5.5: NONE}),
        ("B", 0.89, {4.0: NONE, 4.4: NONE, 4.8: NONE, 5.5: PA}),
        ("B", 0.91, {4.0: NONE, 4.4: NONE, 4.8: PA, 5.5: PA}),
        ("B", 0.95, {4.0: NONE, 4.4: PA, 4.8: PA, 5.5: PA}),
    ],
)
def test_every_cell_of_both_tables(table: Table, a: float, verdicts: dict[float, str]) -> None:
    """FDA Food Code, interaction of pH and aw, tables A and B as printed in state codes (Texas, Tennessee,
    Nevada)."""
    assert {pH: food_code_class(a, pH, table).verdict for pH in verdicts} == verdicts
    unknown = food_code_class(a, None, table).verdict
    assert unknown == max(
        verdicts.values()
    )  # "product..." sorts after "no control...": the strictest of the row


@pytest.mark.parametrize(
    ("table", "a", "pH", "stricter"),
    [
        ("A", 0.92, 6.0, PA),  # printed both as <= 0.92 and as < 0.92
        ("A", 0.95, 5.0, PA),
        ("A", 0.94, 5.6, PA),
        ("A", 0.97, 4.6, PA),
        ("B", 0.88, 5.5, PA),
        ("B", 0.89, 5.0, PA),
        ("B", 0.90, 4.8, PA),
        ("B", 0.91, 4.6, PA),
        ("B", 0.92, 4.4, PA),
        ("B", 0.95, 4.2, PA),
    ],
)
def test_a_value_on_an_edge_takes_the_stricter_side(table: Table, a: float, pH: float, stricter: str) -> None:
    held = food_code_class(a, pH, table)
    assert held.on_edge
    assert held.verdict == stricter


def test_table_b_is_never_milder_than_table_a() -> None:
    for a in (0.80, 0.879, 0.895, 0.91, 0.93, 0.96):
        for pH in (4.0, 4.4, 4.8, 5.3, 6.5):
            pair = [food_code_class(a, pH, table).verdict for table in ("A", "B")]
            assert pair != [PA, NONE]


def test_impossible_values_are_refused() -> None:
    with pytest.raises(HardtackError, match="fraction"):
        food_code_class(92.0, 5.0, "A")
    with pytest.raises(HardtackError, match="pH"):
        food_code_class(0.92, 15.0, "A")


def test_staphylococci_by_the_published_limits() -> None:
    """0.83 lowest seen (Banwart 1989), 0.86 US factors table, 7 degC lowest temperature."""
    assert "at or below the lowest" in toxins_gate.staphylococci(history([0, 1], 20, 0.82), None).finding
    assert "may grow" in toxins_gate.staphylococci(history([0, 1], 20, 0.87), None).finding
    between = toxins_gate.staphylococci(history([0, 1], 20, 0.845), 6.0).finding
    assert "may grow" in between
    for limit in ("0.83", "0.86", "0.87"):
        assert limit in between
    assert "cold" in toxins_gate.staphylococci(history([0, 1], 4, 0.97), None).finding
    assert "4.2" in toxins_gate.staphylococci(history([0, 1], 20, 0.90), 4.0).finding


def test_botulinum_by_the_published_limits() -> None:
    """Activity 0.93 and pH 4.6; crumpets at 0.990 and pH 6.5 turned toxic within days at 25 degC."""
    assert "below the published" in toxins_gate.botulinum(history([0, 1], 25, 0.92), None, 0.21).finding
    assert "holds" in toxins_gate.botulinum(history([0, 1], 25, 0.99), 4.5, 0.21).finding
    crumpet = toxins_gate.botulinum(history([0, 1], 25, 0.99), 6.5, 0.0).finding
    assert "form toxin" in crumpet
    assert "low in oxygen" in crumpet
    assert "pH not known" in toxins_gate.botulinum(history([0, 1], 25, 0.99), None, 0.21).finding
    assert "rests on the cold" in toxins_gate.botulinum(history([0, 1], 2, 0.99), 6.5, 0.21).finding


def all_gates() -> list[Gate]:
    wet = history([0, 1], 25, 0.96)
    acids = (preservatives.acid("calcium propionate", 0.003, as_salt=True),)
    return [
        growth_gate.gate(wet),
        food_code.gate(wet, None, "B"),
        food_code.gate(wet, 4.0, "A"),
        *toxins_gate.gates(wet, 6.5, 0.0),
        yeast.gate(wet, "crumb"),
        preservatives.gate(acids, 5.5),
        preservatives.gate((), None),
    ]


def test_every_gate_says_who_confirms_and_none_says_the_word() -> None:
    for gate in all_gates():
        assert gate.confirm
        assert gate.source
        words = f"{gate.name} {gate.finding} {gate.confirm.replace('food safety', '')}".lower()
        for word in ("safe", "approved", "validated", "guaranteed", "compliant"):
            assert word not in words, gate


def test_the_preservative_gate_shows_dose_and_working_share() -> None:
    acids = (preservatives.acid("calcium propionate", 0.003, as_salt=True),)
    assert "2388 mg per kg" in preservatives.gate(acids, 5.5).finding  # 3000 mg x 0.796
    assert "19% is undissociated" in preservatives.gate(acids, 5.5).finding
    assert "next to nothing" in preservatives.gate(acids, 7.0).finding


def named(*names: str) -> list[FailureCourse]:
    any_course = mould_course(history([0, 1], 21, 0.9), Growth("Eurotium repens"))
    return [replace(any_course, name=name) for name in names]


def test_known_conflicts_are_told_when_both_failures_are_there() -> None:
    bread = pairs.warnings(named("mould", "firming", "drying out"))
    assert any(line.startswith("Cold storage helps against mould and hurts in firming") for line in bread)
    assert any(line.startswith("A tighter bag helps against drying out and hurts in mould") for line in bread)
    cracker = pairs.warnings(named("crispness", "rancidity"))
    assert len(cracker) == 1
    assert "Baking drier" in cracker[0]
    assert "0.2" in cracker[0]
    assert pairs.warnings(named("crispness")) == ()
