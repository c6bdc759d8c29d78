"""Editing a product file's text: what was meant changes, every other letter stays."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hardtack.errors import HardtackError
from hardtack.product import loads, starter
from hardtack.product.document import (
    Place,
    move,
    place_words,
    put,
    put_item,
    put_yaml,
    read_place,
    repeat,
    take_out,
    value_at,
)

CRACKER = starter("cracker")


def comments(text: str) -> list[str]:
    return sorted(re.findall(r"(?:^|(?<=\s))#.*", text, re.M))


def test_a_value_changes_in_its_line_only() -> None:
    changed = put(CRACKER, ("pack", "area"), "0.051 m2")
    before, after = CRACKER.splitlines(), changed.splitlines()
    assert [b for a, b in zip(before, after, strict=True) if a != b] == [
        "  area: 0.051 m2                   # film around the pieces, all sides"
    ]
    product = loads(changed)
    assert product.pack is not None
    assert product.pack.area.value == pytest.approx(0.051)


@pytest.mark.parametrize(
    ("place", "value"),
    [
        (("journey", "0", "temperature", "mean"), "18 ± 1 degC [measured here, three loggers]"),
        (("piece", "layers", "0", "diffusivity"), "3e-11 m2/s"),
        (("notes",), 'he said: "crisp" # or not'),
        (("limits", "drying out", "moisture"), "2 %wb"),
        (("piece", "layers", "0", "pH"), "-1"),
        (("pack", "film"), "[odd, name]"),
        (("pack", "film", "tested at", "temperature"), "38 degC"),
    ],
)
def test_a_value_is_found_where_it_was_put(place: Place, value: str) -> None:
    start = take_out(CRACKER, ("pack", "film")) if "tested at" in place else CRACKER
    changed = put(start, place, value)
    assert value_at(changed, place) == value
    assert set(comments(start)) <= set(comments(changed))


def test_a_film_by_its_test_takes_the_place_of_a_name_and_goes_again() -> None:
    test = "{transmission: 4.2 g/m2/day, tested at: {temperature: 38 degC, humidity outside: 90 %}}"
    by_test = put_yaml(CRACKER, ("pack", "film"), test)
    assert value_at(by_test, ("pack", "film", "tested at", "temperature")) == "38 degC"
    named = put(by_test, ("pack", "film"), "OPP 20 um")
    assert named == CRACKER
    block = "hardtack: 1\npack:\n  film:  # by its test\n    name: x\n    permeance: 1 perm # here\n  area: 1 m2\n"
    assert value_at(put(block, ("pack", "film"), "OPP"), ("pack", "film")) == "OPP"


def test_legs_are_added_moved_repeated_and_taken_out() -> None:
    added = put_item(CRACKER, ("journey",), "{leg: van, lasts: 2 days, temperature: 25 degC, humidity: 60 %}")
    assert value_at(added, ("journey", 3, "leg")) == "van"
    moved = move(added, ("journey", 3), -1)
    assert [value_at(moved, ("journey", k, "leg")) for k in (2, 3)] == ["van", "shop on the coast"]
    assert [leg.leg for leg in loads(moved).journey] == [
        "warehouse",
        "sea container",
        "van",
        "shop on the coast",
    ]
    assert loads(take_out(moved, ("journey", 2))).journey == loads(CRACKER).journey
    twice = repeat(CRACKER, ("journey", 1))
    assert [value_at(twice, ("journey", k, "leg")) for k in (1, 2)] == ["sea container"] * 2
    assert move(CRACKER, ("journey", 0), -1) == CRACKER
    assert take_out(CRACKER, ("no", "such")) == CRACKER
    for text in (added, moved, twice):
        assert comments(text) == comments(CRACKER)


def test_the_first_key_of_an_item_and_the_only_key_of_a_mapping_can_go() -> None:
    text = "a:\n  - name: x # one\n    k: 1\n  - {name: y, k: 2}\nb: {c: 1}\n"
    assert take_out(text, ("a", 0, "name")) == "a:\n  - k: 1\n  - {name: y, k: 2}\nb: {c: 1}\n"
    assert take_out(text, ("a", 1, "name")) == text.replace("name: y, ", "")
    assert take_out(text, ("a", 1, "k")) == text.replace(", k: 2", "")
    assert take_out(text, ("b", "c")) == text.replace("b: {c: 1}\n", "")
    assert put(text, ("a", 0, "k"), "") == "a:\n  - name: x # one\n  - {name: y, k: 2}\nb: {c: 1}\n"


@pytest.mark.parametrize("place", [(), ("name", "below"), ("journey", "7", "leg"), ("journey", "x")])
def test_a_place_that_cannot_be_is_refused(place: Place) -> None:
    with pytest.raises(HardtackError):
        put(CRACKER, place, "x")


@settings(max_examples=60, deadline=None)
@given(
    value=st.text(max_size=40), place=st.sampled_from([("notes",), ("journey", "1", "leg"), ("pack", "film")])
)
def test_any_text_comes_back_as_it_was_put_or_is_refused(value: str, place: Place) -> None:
    try:
        changed = put(CRACKER, place, value)
    except HardtackError:
        return
    if value.strip():
        assert " ".join((value_at(changed, place) or "").split()) == " ".join(value.split())
        assert value_at(changed, ("piece", "mass")) == "7.6 g"


def test_places_survive_their_words() -> None:
    place: Place = ("formulas", "dough a/b", "ingredients", 0, "amount")
    assert read_place(place_words(place)) == ("formulas", "dough a/b", "ingredients", "0", "amount")
    assert read_place("") == ()
