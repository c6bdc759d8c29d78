"""What was found in a complaint: a short YAML file of its own, format version 1.

hardtack complaint: 1
day: 80 days
found:
  - {layer: cracker, moisture: 5.4 ± 0.3 %wb}
  - {pack gained: 6.1 ± 0.5 g}
seen: [soft, no mould]
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from pydantic import Field, PlainValidator, WithJsonSchema

from hardtack.errors import HardtackError, Problem
from hardtack.product.base import Model
from hardtack.product.complete import list_of
from hardtack.product.load import model_of, origin_of, text_of
from hardtack.product.quantities import (
    Activity,
    Duration,
    Humidity,
    Length,
    Mass,
    Moisture,
    PositiveNumber,
    Share,
    Temperature,
    Transmission,
    Word,
)
from hardtack.product.tree import Tree, read_tree
from hardtack.sourced import Sourced

VERSION = 1
HEAD = "hardtack complaint"
SEEN = {
    "soft": ("crispness", True), "crisp": ("crispness", False),
    "leathery crust": ("crust", True), "crisp crust": ("crust", False),
    "soggy": ("sogginess", True), "not soggy": ("sogginess", False),
    "dry": ("drying out", True), "not dry": ("drying out", False),
    "firm": ("firming", True), "fresh crumb": ("firming", False),
    "mould": ("mould", True), "no mould": ("mould", False),
    "fermented": ("fermentation", True), "not fermented": ("fermentation", False),
    "rancid": ("rancidity", True), "not rancid": ("rancidity", False),
    "sugar seen": ("sugar", True), "no sugar seen": ("sugar", False),
    "cracked": ("checking", True), "not cracked": ("checking", False),
    "colour changed": ("colour", True), "colour kept": ("colour", False),
}  # fmt: skip
"""Words for what a person saw or bit, each with the failure it speaks of and whether that has come."""
OF_A_LAYER = ("activity", "moisture", "moisture when packed")


class ReadingSpec(Model):
    """One thing that was measured, with its error: exactly one of the quantities."""

    layer: Word | None = Field(
        None, description="the layer that was measured; may be left out when there is only one"
    )
    at: Temperature | None = Field(
        None, description="temperature of an activity; 25 degC when left out", examples=["25 degC"]
    )
    activity: Activity | None = Field(
        None, description="water activity of the layer", examples=["0.52 ± 0.02"]
    )
    moisture: Moisture | None = Field(None, description="moisture of the layer", examples=["5.4 ± 0.3 %wb"])
    moisture_when_packed: Moisture | None = Field(
        None, description="moisture of the layer in the sample kept back at packing"
    )
    pack_gained: Mass | None = Field(None, description="the pack's weight over its weight as packed")
    hole: Length | None = Field(
        None, description="width of the hole a leak test finds; 1 um for none", examples=["150 um"]
    )
    film_transmission: Transmission | None = Field(
        None, description="transmission of a piece of its film, tested as the file's film is"
    )
    whole_pack_factor: PositiveNumber | None = Field(
        None, alias="whole-pack factor", description="of sound packs of the same lot, weighed in a cabinet"
    )
    mean_temperature: Temperature | None = Field(
        None, description="of a logger that went with the lot, until the day"
    )
    mean_humidity: Humidity | None = Field(None, description="of that logger")
    pieces: PositiveNumber | None = Field(None, description="pieces found in the pack")
    age: Duration | None = Field(None, description="age by the code on the pack", examples=["80 days"])
    headspace_oxygen: Share | None = Field(None, description="oxygen in the headspace")

    @property
    def what(self) -> str:
        """The key of the quantity that was measured."""
        return next(key for key, _ in self._given())

    @property
    def amount(self) -> Sourced:
        """The quantity itself."""
        return next(amount for _, amount in self._given())

    def _given(self) -> list[tuple[str, Sourced]]:
        found = []
        for name, field in type(self).model_fields.items():
            amount = getattr(self, name)
            if name not in ("layer", "at") and amount is not None:
                found.append((field.alias or name, amount))
        return found


def _words(value: object) -> tuple[str, ...]:
    if isinstance(value, (list, tuple)) and all(isinstance(item, str) for item in value):
        return tuple(" ".join(item.split()) for item in value)
    if isinstance(value, str):
        return tuple(" ".join(word.split()) for word in value.split(","))
    raise ValueError("a list of words")


Words = Annotated[
    tuple[str, ...],
    PlainValidator(_words),
    WithJsonSchema({"type": "array", "items": {"type": "string"}}),
]


class Found(Model):
    """A whole complaint file."""

    version: Annotated[
        int, PlainValidator(lambda value: int(str(value))), WithJsonSchema({"const": VERSION})
    ] = Field(alias="hardtack complaint", description="version of the format", examples=[1])
    name: Word | None = Field(None, description="what to call the complaint")
    origin: Word | None = Field(None, description="as in a product file")
    day: Duration = Field(description="time from packing to the finding", examples=["80 days"])
    leg: Word | None = Field(
        None,
        description="the leg it came from; the one of that day when left out: legs after it did not happen",
    )
    found: tuple[ReadingSpec, ...] = Field((), description="what was measured")
    seen: Words = Field((), description=f"what was seen or bitten: {', '.join(SEEN)}")
    causes: Words = Field((), description="causes to weigh; all that apply when left out")
    chances: dict[Word, PositiveNumber] = Field(
        default_factory=dict,
        description="how likely a cause is beforehand, against the others, which count 1: {leaking seal: 2}",
    )
    notes: str | None = Field(None, description="free text")


def load_found(path: str | Path) -> Found:
    """Read a complaint file. Raises `HardtackError` with every problem: file, line, what is wrong, how to mend it."""
    path = Path(path)
    return loads_found(text_of(path), str(path))


def loads_found(text: str, name: str = "complaint file") -> Found:
    """Read a complaint file's text; `name` stands in messages. Raises `HardtackError` with every problem found."""
    tree = read_tree(text.removeprefix("﻿"), name)
    given = tree.root.get(HEAD)
    if not isinstance(given, str) or given.strip() != str(VERSION):
        mend = f"write '{HEAD}: {VERSION}' as the first line"
        what = f"'{HEAD}' is missing" if given is None else f"format version {str(given)[:20]!r} is not known"
        raise HardtackError([*tree.problems, Problem(what, mend, name, tree.root.line_of(HEAD), HEAD)])
    origin = origin_of(tree, Path(name).name)
    _check(tree)
    return model_of(tree, Found, origin)


def _check(tree: Tree) -> None:
    """What one key alone does not show: one quantity a reading, known words, something found at all."""
    quantities = [
        field.alias or name for name, field in ReadingSpec.model_fields.items() if name not in ("layer", "at")
    ]
    for reading in list_of(tree.root, "found"):
        held = [key for key in quantities if key in reading.key_lines]
        if len(held) != 1:
            said = "no quantity" if not held else f"{len(held)} quantities: {', '.join(held)}"
            mend = f"give one each: {', '.join(quantities)}"
            tree.problem(f"this reading holds {said}", mend, reading.line, reading.path)
    seen = tree.root.get("seen")
    words = seen if isinstance(seen, list) else str(seen).split(",") if seen is not None else []
    for word in words:
        if " ".join(str(word).split()) not in SEEN:
            line = getattr(word, "line", tree.root.line_of("seen"))
            tree.problem(
                f"{str(word)[:40]!r} is no word for what is seen",
                f"one of: {', '.join(SEEN)}",
                line,
                ("seen",),
            )
    if "found" not in tree.root.key_lines and "seen" not in tree.root.key_lines:
        tree.problem("nothing was found", "add 'found' or 'seen'", 1)
