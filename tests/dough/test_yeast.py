"""Yeast: equivalence of forms, rate against temperature, salt and sugar, gas over a schedule."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hardtack import reference
from hardtack.dough import yeast
from hardtack.dough.yeast import Stage
from hardtack.errors import HardtackError, NotOnShelf

C = 273.15


def test_forms_of_yeast() -> None:
    """Trade table: active dry 0.50, instant dry 0.35 of fresh. Common practice elsewhere: 0.40, 0.33."""
    assert yeast.same_activity("fresh", 1.0, "active dry") == pytest.approx(0.50)
    assert yeast.same_activity("fresh", 1.0, "instant dry") == pytest.approx(0.35)
    assert yeast.same_activity("instant dry", 0.7, "active dry") == pytest.approx(1.0)
    assert yeast.fresh_equivalent("instant", 0.375) == pytest.approx(1.0714, abs=1e-4)


def test_dried_yeast_is_worth_less_than_its_solids() -> None:
    """AACC 89-01: solids 30, 92 and 95 %. By solids alone 0.33 and 0.32 of fresh would do."""
    for form in ("active dry", "instant dry"):
        row, fresh = reference.lookup("yeast", form), reference.lookup("yeast", "fresh")
        assert row["equivalent"] > fresh["solids"] / row["solids"]


def test_gas_of_an_ordinary_dough() -> None:
    """From memory, no source: 2.0 to 2.8 mL/min per 100 g flour, 2 to 3 % fresh yeast, 30 degC."""
    litres = yeast.gas_rate(0.025, 30 + C, 0.02, 0.02) * 8.314462618 * (30 + C) / 101325.0 * 1e3
    assert 2.0 <= litres * 60 * 1000 * 0.1 <= 2.8


def test_temperature_of_the_trade() -> None:
    """Best at 36 to 39 degC, strong slowing below 20 and above 40, dead at 54 to 60 degC (trade pages)."""
    factors = {T: yeast.temperature_factor(T + C) for T in range(0, 70)}
    best = max(factors, key=factors.__getitem__)
    assert 36 <= best <= 39
    assert factors[20] == pytest.approx(0.5)
    assert factors[40] < factors[best]
    assert factors[55] == factors[60] == 0
    assert 0 < factors[54] < 0.1 * factors[best]


def test_salt_and_sugar_slow() -> None:
    """Trade pages: salt is noticed at 2 %, sugar helps to 5 % and slows above 10 %; sizes from memory."""
    assert yeast.salt_factor(0.02) == pytest.approx(1.0)
    assert 0.80 < yeast.salt_factor(0.02) / yeast.salt_factor(0.0) < 0.95
    assert yeast.sugar_factor(0.0) == yeast.sugar_factor(0.05) == 1.0
    assert 0.4 < yeast.sugar_factor(0.20) < 0.7


def test_glucose_by_stoichiometry() -> None:
    """C6H12O6 -> 2 C2H5OH + 2 CO2: 0.489 g CO2 and 0.511 g ethanol a gram, 272 mL of gas at 25 degC."""
    import molmass

    made = yeast.gas_over([Stage(3600, 30 + C)], 0.02, 0.02, 0.03)
    assert made.made[-1] * molmass.Formula("CO2").mass / 1e3 / made.glucose == pytest.approx(0.489, abs=5e-4)
    assert made.ethanol / made.glucose == pytest.approx(0.511, abs=5e-4)
    assert made.made[-1] * 8.314462618 * 298.15 / 101325 / made.glucose == pytest.approx(0.272, abs=5e-4)


def test_fate_at_the_end_of_proof() -> None:
    """Encyclopedia chapter on leavening: 35 % in the cells, 5 % dissolved, 60 % lost."""
    made = yeast.gas_over([Stage(3600, 30 + C)], 0.02, 0.02, 0.03)
    assert made.in_cells + made.dissolved + made.lost == pytest.approx(made.made[-1])
    assert made.in_cells == pytest.approx(0.35 * made.made[-1])


def test_gas_stops_with_the_sugar() -> None:
    day = [Stage(86400, 30 + C)]
    short = yeast.gas_over(day, 0.03, 0.02, 0.02, fermentable=0.01)
    assert short.enough_sugar is False
    assert short.glucose == pytest.approx(0.01)
    assert yeast.gas_over(day, 0.03, 0.02, 0.02).enough_sugar is None
    assert yeast.gas_over([Stage(60, 30 + C)], 0.03, 0.02, 0.02, fermentable=0.01).enough_sugar is True


@given(
    st.lists(st.tuples(st.floats(0, 7200), st.floats(0, 54)), min_size=1, max_size=5), st.floats(0.001, 0.06),
    st.floats(0, 0.03), st.floats(0, 0.3), st.floats(0, 0.01), st.floats(0, 0.1),
)  # fmt: skip
def test_directions(
    stages: list[tuple[float, float]],
    fresh: float,
    salt: float,
    sugar: float,
    more: float,
    fermentable: float,
) -> None:
    schedule = [Stage(duration, T + C) for duration, T in stages]
    made = yeast.gas_over(schedule, fresh, salt, sugar)
    assert all(later >= earlier for earlier, later in zip(made.made, made.made[1:], strict=False))
    total = made.made[-1]
    assert yeast.gas_over(schedule, fresh + more, salt, sugar).made[-1] >= total
    assert yeast.gas_over(schedule, fresh, salt + more, sugar).made[-1] <= total
    assert yeast.gas_over(schedule, fresh, salt, sugar + more).made[-1] <= total
    limited = yeast.gas_over(schedule, fresh, salt, sugar, fermentable)
    assert limited.made[-1] <= total
    assert limited.glucose <= fermentable * (1 + 1e-12)


@given(st.sampled_from(yeast.forms()), st.sampled_from(yeast.forms()), st.floats(0, 10))
def test_forms_turn_back(form: str, other: str, mass: float) -> None:
    assert yeast.same_activity(other, yeast.same_activity(form, mass, other), form) == pytest.approx(mass)


@pytest.mark.parametrize(
    ("act", "words"),
    [
        (lambda: yeast.gas_over([], 0.02, 0.02, 0.0), "no stage"),
        (lambda: yeast.gas_over([Stage(-1, 300)], 0.02, 0.02, 0.0), "less than nothing"),
        (lambda: yeast.gas_rate(-1.0, 300, 0.02, 0.0), "yeast"),
        (lambda: yeast.salt_factor(-0.1), "salt"),
        (lambda: yeast.sugar_factor(5.0), "sugar"),
        (lambda: yeast.temperature_factor(260.0), "frozen"),
    ],
)
def test_bad_input_is_told_with_a_mend(act, words: str) -> None:
    with pytest.raises(HardtackError, match=words) as caught:
        act()
    assert all(problem.mend for problem in caught.value.problems)


def test_a_form_unknown_lists_the_shelf() -> None:
    with pytest.raises(NotOnShelf, match="fresh"):
        yeast.fresh_equivalent("rapid", 1.0)
