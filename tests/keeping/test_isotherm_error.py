"""What the stated error of an isotherm from a formula does to the date is computed and said."""

from __future__ import annotations

from pathlib import Path

import pytest

import hardtack
from hardtack.keeping.as_json import statement_json
from hardtack.keeping.isotherm_error import error_sentence
from hardtack.keeping.sentences import span
from hardtack.keeping.statement import IsothermError
from hardtack.units import DAY
from hardtack.water.sharing import stated_error

EXAMPLES = Path(__file__).parents[2] / "examples"
CRACKER = (EXAMPLES / "formula-seeded-cracker.yaml").read_text("utf-8")


def kept(text: str) -> hardtack.KeepingStatement:
    return hardtack.keep(hardtack.loads(text))


def test_the_date_is_given_with_the_isotherm_moved_up_and_down() -> None:
    statement = kept(CRACKER)
    (error,) = statement.isotherm_errors
    assert error.layers == ("cracker",)
    assert error.rms == stated_error("adsorption").value
    assert statement.days is not None
    assert error.soonest is not None
    assert error.latest is not None
    assert error.soonest / DAY < statement.days < error.latest / DAY
    said = statement.cautions[0]
    assert "computed from the formula “seeded cracker dough”" in said
    assert f"±{error.rms:.2g} in activity" in said
    assert f"from {span(error.soonest)} to {span(error.latest)}" in said
    (told,) = statement_json(statement)["isotherm_errors"]
    assert told["day_soonest"] == pytest.approx(error.soonest / DAY)
    assert told["formula"] == "seeded cracker dough"


def test_every_ingredient_is_listed_as_given_and_the_isotherm_as_assumed() -> None:
    used = kept(CRACKER).used
    given = [item.what for item in used if item.given]
    for name in ("biscuit flour", "sesame", "salt", "cream of tartar"):
        assert any(what.startswith(f"{name} in the formula seeded cracker dough") for what in given)
    (isotherm,) = [item for item in used if "isotherm computed from the formula" in item.what]
    assert not isotherm.given
    assert isotherm.amount.provenance == "assumed"
    assert "rms" in isotherm.amount.source


def test_a_measured_pair_holds_its_ground() -> None:
    """The moved isotherm still runs through the pair, so a limit at the pair itself is met at once in each run."""
    at_pair = CRACKER.replace("moisture: 2.4 %wb", "moisture: 2.4 %wb\n      activity: 0.20")
    (error,) = kept(at_pair.replace("activity: 0.43, at", "moisture: 2.4 %wb, at")).isotherm_errors
    assert (error.soonest, error.latest) == (0.0, 0.0)
    statement = kept(at_pair)
    (error,) = statement.isotherm_errors
    assert error.soonest is not None
    assert error.latest is not None
    assert statement.days is not None
    assert error.soonest / DAY < statement.days < error.latest / DAY


def test_formulas_of_several_layers_are_moved_one_at_a_time_and_shells_of_one_dough_together() -> None:
    statement = hardtack.keep(hardtack.load(EXAMPLES / "formula-sandwich.yaml"))
    assert [error.layers for error in statement.isotherm_errors] == [
        ("lower shell", "upper shell"),
        ("filling",),
    ]
    assert "lower shell and the upper shell" in statement.cautions[0]


def test_without_a_formula_there_is_nothing_to_say() -> None:
    statement = hardtack.keep(hardtack.load(EXAMPLES / "hard-biscuit-plain.yaml"))
    assert statement.isotherm_errors == ()
    assert statement_json(statement)["isotherm_errors"] == []


def test_the_words_when_no_failure_comes() -> None:
    never = IsothermError("dough", ("shell",), 0.05, None, None)
    assert "brings no failure within the 3.0 years followed" in error_sentence(never, 3 * 365.25 * DAY)
    late = IsothermError("dough", ("shell",), 0.05, 40 * DAY, None)
    assert "from 40 days to beyond the 100 days followed" in error_sentence(late, 100 * DAY)


def test_a_moist_layer_whose_formula_does_not_say_its_branch_is_pointed_out() -> None:
    text = CRACKER.replace("    branch: adsorption # dried hard in the oven, takes up water on the way\n", "")
    assert not any("branch: desorption" in caution for caution in kept(text).cautions)
    moist = text.replace("moisture: 2.4 %wb", "moisture: 20 %wb")
    assert any("'branch: desorption'" in caution for caution in kept(moist).cautions)
