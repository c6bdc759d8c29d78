"""Starter files are valid product files, explained in comments, and lean on names the shelf really holds."""

from __future__ import annotations

import re

import pytest

from hardtack import reference
from hardtack.errors import HardtackError
from hardtack.product import BarrierSpec, kinds, loads, starter

DRY = ("biscuit", "cracker", "crispbread", "rusk", "sandwich", "wafer")
"""Kinds whose starter's kind of product has a limit of crispness on the shelf."""


def test_there_is_one_for_each_kind_of_product() -> None:
    assert kinds() == ("biscuit", "bread", "cake", "cracker", "crispbread", "rusk", "sandwich", "wafer")


@pytest.mark.parametrize("kind", kinds())
def test_each_is_valid_and_says_that_it_is_invented(kind: str) -> None:
    product = loads(starter(kind))
    assert product.name.startswith("Invented ")
    assert product.piece.mass.provenance == "invented"
    assert product.journey[-1].lasts == "until it fails"


@pytest.mark.parametrize("kind", kinds())
def test_each_explains_itself(kind: str) -> None:
    rows = [row for row in starter(kind).splitlines() if row.strip()]
    assert sum("#" in row for row in rows) > len(rows) / 2
    assert all(len(row) <= 120 for row in rows)


@pytest.mark.parametrize("kind", kinds())
def test_its_comments_hold_once_their_hash_is_taken_out(kind: str) -> None:
    """A commented-out key is a key of the format, with a value that can be read."""
    text = starter(kind)
    for row in re.findall(r"^ *# ((?:isotherm|film|limits): \{.*\})$", text, re.MULTILINE):
        key = row.partition(":")[0]
        swapped = re.sub(rf"^( *){key}: .*$", rf"\1{row}", text, count=1, flags=re.MULTILINE)
        assert swapped != text
        loads(swapped)


def test_commented_blocks_hold_too() -> None:
    text = re.sub(r"^# (limits:\n)#( +crispness: .*)$", r"\1\2", starter("biscuit"), flags=re.MULTILINE)
    limits = loads(text).limits
    assert limits is not None
    assert limits.crispness is not None
    head, mark, rest = starter("cracker").partition("    # - name: fat film\n")
    assert mark
    block, gap, tail = (mark + rest).partition("\n\n")
    product = loads(
        head + block.replace("    # ", "    ") + gap + tail.replace("{activity", "{layer: cracker, activity")
    )
    assert [part.name for part in product.piece.layers] == ["cracker", "fat film", "filling"]


@pytest.mark.parametrize("kind", ["bread", "cake", "sandwich"])
def test_every_commented_key_of_the_failures_holds(kind: str) -> None:
    head, mark, rest = starter(kind).partition("limits:\n")
    opened = re.sub(r"^( +)# (?=[\w ]+: )", r"\1", rest, flags=re.MULTILINE)
    opened = opened.replace("    way: lines  ", "    # way: lines  ")  # the other way stands below it
    assert opened != rest
    assert loads(head + mark + opened).failures is not None


@pytest.mark.parametrize("kind", kinds())
def test_the_shelf_holds_what_it_names(kind: str) -> None:
    product = loads(starter(kind))
    assert product.kind is not None
    if kind in DRY:
        reference.crispness_limit(product.kind)
    assert product.pack is not None
    assert isinstance(product.pack.film, str)
    reference.film(product.pack.film)
    if isinstance(product.pack.whole_pack_factor, str):
        reference.whole_pack_factor(product.pack.whole_pack_factor)
    for leg in product.journey:
        if leg.climate is not None:
            reference.climate(leg.climate)
        if isinstance(leg.outside_film_coefficient, str):
            reference.film_coefficient(leg.outside_film_coefficient)
    for part in product.piece.layers:
        if isinstance(part, BarrierSpec):
            assert part.barrier.material is not None
            reference.lookup("barriers", part.barrier.material)
        else:
            assert isinstance(part.diffusivity, str)
            if isinstance(part.isotherm, str):
                reference.isotherm(part.isotherm)
            reference.diffusivity(part.diffusivity)


def test_an_unknown_kind_lists_the_kinds() -> None:
    with pytest.raises(
        HardtackError, match=r"'brick'(.|\n)*biscuit, bread, cake, cracker, crispbread, rusk, sandwich, wafer"
    ):
        starter("brick")
    assert starter(" Cracker ") == starter("cracker")
