"""The plan of a sweep: a small YAML file, read and checked, with file and line for every problem."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product as every
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from pydantic import BeforeValidator, Field

from hardtack import reference
from hardtack.errors import HardtackError, Problem
from hardtack.keeping.input_kinds import kind_of
from hardtack.keeping.inputs import Path as Place
from hardtack.keeping.inputs import input_named
from hardtack.product import Product, load
from hardtack.product.base import Model
from hardtack.product.load import model_of, text_of
from hardtack.product.quantities import Origin, Word, fault, read_quantity
from hardtack.product.tree import Entries, Text, Tree, read_tree
from hardtack.sourced import Sourced

VERSION = 1
MOST = 10_000_000
"""Scenarios of one sweep."""
FILM, STYLE = "film", "pack style"
SHELF = {FILM: "films", STYLE: "whole pack factors"}
"""Factors whose choices are names of the shelf, and their topics."""

Kept = Literal[
    "days", "first failure", "activities at the end", "moistures at the end", "shares of life at the end"
]
KEPT: tuple[Kept, ...] = get_args(Kept)
_NUMBER = re.compile(r"^\s*([-+−]?(?:\d+(?:\.\d+)?|\.\d+)(?:[eE][-+−]?\d+)?)\s*(.*?)\s*$")


def _whole(low: int, high: int) -> Callable[[Any], int]:
    def read(value: Any) -> int:
        try:
            number = int(str(value).replace("_", ""))
        except ValueError:
            number = low - 1
        if not low <= number <= high:
            raise fault(
                f"{str(value)[:30]!r} is no whole number from {low} to {high}", f"write such as {low}"
            )
        return number

    return read


class DesignsSpec(Model):
    """Choices of inputs by name: every one of `crossed` with every other; those of `paired` side by side."""

    crossed: dict[Word, Any] = Field(default_factory=dict)
    paired: dict[Word, Any] = Field(default_factory=dict)


class PlanSpec(Model):
    """The plan as its file states it; `steps`, `samples` and `seed` are whole numbers."""

    version: Annotated[int, BeforeValidator(_whole(VERSION, VERSION))] = Field(
        alias="hardtack sweep", description="version of the format", examples=[1]
    )
    products: tuple[Word, ...] = Field(
        description="product files, beside the plan", examples=["[cracker.yaml]"]
    )
    designs: DesignsSpec = Field(
        default_factory=DesignsSpec, description="what differs from design to design"
    )
    places: tuple[Word, ...] = Field((), description="places of the shelf for the journey's last leg")
    samples: Annotated[int, BeforeValidator(_whole(1, 1_000_000))] = Field(
        1, description="draws of what the files state with a spread; 1: as stated"
    )
    seed: Annotated[int, BeforeValidator(_whole(0, 2**31 - 1))] = Field(0, description="of the draws")
    keep: tuple[Kept, ...] = Field(("days", "first failure"), description="what to keep of every sample")


@dataclass(frozen=True, slots=True)
class Choice:
    """One choice of a factor: as written, with its line; `amount` is None for a name of the shelf."""

    written: str
    line: int
    amount: Sourced | None


@dataclass(frozen=True, slots=True)
class Factor:
    """What differs between designs: its name, its choices, and where it stands in each of the products (empty for a
    factor of the shelf)."""

    name: str
    kind: str
    choices: tuple[Choice, ...]
    paths: tuple[Place, ...]

    @property
    def unit(self) -> str:
        """SI unit of its numbers; empty for names and plain numbers."""
        return self.choices[0].amount.unit if self.choices[0].amount else ""


@dataclass(frozen=True, slots=True)
class Design:
    """One design: number of its product, and for each factor the number of its choice."""

    product: int
    choices: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class SweepPlan:
    """A plan, read: its products, factors and designs; `places` empty for the journeys as the files state them."""

    file: Path
    text: str
    files: tuple[Path, ...]
    products: tuple[Product, ...]
    factors: tuple[Factor, ...]
    designs: tuple[Design, ...]
    places: tuple[str, ...]
    samples: int
    seed: int
    keep: tuple[Kept, ...]
    lines: Mapping[tuple[str | int, ...], int]

    @property
    def shape(self) -> tuple[int, int, int]:
        """Number of designs, places and samples."""
        return len(self.designs), max(len(self.places), 1), self.samples


def read_plan(path: str | Path) -> SweepPlan:
    """Read the plan at `path`, its product files with it.

    Raises `HardtackError` with every problem found: file, line, what is wrong, how to mend it.
    """
    file = Path(path)
    text = text_of(file)
    tree = read_tree(text, str(file))
    origin = Origin(file=file.name)
    _check_keep(tree)
    spec = model_of(tree, PlanSpec, origin)
    files, products = _products(tree, spec, file.parent)
    crossed = _factors(tree, spec.designs.crossed, ("designs", "crossed"), products, origin)
    paired = _factors(tree, spec.designs.paired, ("designs", "paired"), products, origin)
    _check_factors(tree, crossed, paired)
    places = _places(tree, spec)
    if tree.problems:
        raise HardtackError(sorted(tree.problems, key=lambda one: (one.file, one.line or 0)))
    plan = SweepPlan(
        file,
        text,
        files,
        products,
        (*crossed, *paired),
        _designs(len(products), crossed, paired),
        places,
        spec.samples,
        spec.seed,
        tuple(kept for kept in KEPT if kept in spec.keep or kept in KEPT[:2]),
        dict(tree.lines),
    )
    designs, many, samples = plan.shape
    if designs * many * samples > MOST:
        raise HardtackError(
            Problem(
                f"{designs} designs at {many} places with {samples} samples are more than {MOST:,} scenarios",
                "part the plan in several",
                str(file),
            )
        )
    return plan


def _check_keep(tree: Tree) -> None:
    if isinstance(given := tree.root.get("keep"), Text):
        tree.problem("a list belongs here", f"write '[{given}]'", tree.root.line_of("keep"), ("keep",))


def _products(tree: Tree, spec: PlanSpec, folder: Path) -> tuple[tuple[Path, ...], tuple[Product, ...]]:
    files = tuple(folder / name for name in spec.products)
    products: list[Product] = []
    if not files:
        tree.problem(
            "no product file is named",
            "write such as 'products: [cracker.yaml]'",
            tree.root.line_of("products"),
            ("products",),
        )
    for number, file in enumerate(files):
        try:
            products.append(load(file))
        except HardtackError as error:
            if not file.is_file():
                _problem_at(tree, ("products", number), error)
            else:
                tree.problems.extend(error.problems)
    if tree.problems:
        raise HardtackError(tree.problems)
    return files, tuple(products)


def _problem_at(tree: Tree, path: tuple[str | int, ...], error: HardtackError) -> None:
    """The first of the error's problems, at a line of the plan."""
    first = error.problems[0]
    what = f"{first.file}: {first.what}" if first.file and path[0] == "products" else first.what
    tree.problem(what, first.mend, tree.lines.get(path), path)


def _factors(
    tree: Tree,
    given: dict[str, Any],
    path: tuple[str | int, ...],
    products: Sequence[Product],
    origin: Origin,
) -> tuple[Factor, ...]:
    found = []
    for name, written in given.items():
        at = (*path, name)
        try:
            choices = _written(written, at, tree)
            found.append(
                _shelf_factor(tree, name, choices, at, products)
                if name in SHELF
                else _number_factor(tree, name, choices, at, products, origin)
            )
        except HardtackError as error:
            _problem_at(tree, at, error)
    return tuple(found)


def _written(given: Any, path: tuple[str | int, ...], tree: Tree) -> list[tuple[Any, tuple[str | int, ...]]]:
    """The choices as text or mappings, each with its place: a list, or a range in even steps of its unit."""
    if isinstance(given, list) and given:
        return [(choice, (*path, number)) for number, choice in enumerate(given)]
    if not isinstance(given, Entries) or set(given) != {"from", "to", "steps"}:
        raise HardtackError(
            "neither a list of choices nor a range",
            "write such as [2 %wb, 3 %wb] or {from: 2 %wb, to: 3 %wb, steps: 5}",
        )
    ends = [_NUMBER.match(str(given[key])) for key in ("from", "to")]
    if ends[0] is None or ends[1] is None or ends[0][2] != ends[1][2]:
        raise HardtackError(
            "the ends of the range are no two numbers of one unit", "write such as from: 2 %wb, to: 3 %wb"
        )
    try:
        steps = _whole(2, 100_000)(given["steps"])
    except Exception:
        raise HardtackError(
            f"'steps: {given['steps']}' is no whole number from 2 on", "write such as steps: 5"
        ) from None
    first, last = (float(end[1].replace("−", "-")) for end in ends if end)
    numbers = [first + (last - first) * k / (steps - 1) for k in range(steps)]
    line = given.line_of("from")
    return [(Text(f"{number:.12g} {ends[0][2]}", line), (*path, "from")) for number in numbers]


def _shelf_factor(
    tree: Tree,
    name: str,
    written: Sequence[tuple[Any, tuple[str | int, ...]]],
    path: tuple[str | int, ...],
    products: Sequence[Product],
) -> Factor:
    """A factor whose choices are names of the shelf, spelled as there."""
    if any(product.pack is None for product in products):
        raise HardtackError("a product file states no pack", "add its pack to the file")
    choices = []
    for value, at in written:
        try:
            row = reference.lookup(SHELF[name], str(value))
            choices.append(Choice(row.name, tree.lines.get(at, 0), None))
        except HardtackError as error:
            _problem_at(tree, at, error)
    return Factor(name, "", tuple(choices), ())


def _number_factor(
    tree: Tree,
    name: str,
    written: Sequence[tuple[Any, tuple[str | int, ...]]],
    path: tuple[str | int, ...],
    products: Sequence[Product],
    origin: Origin,
) -> Factor:
    """A factor whose choices are numbers, read as the product file would read them."""
    inputs = [input_named(product, name) for product in products]
    kinds = {kind_of(product, one.path) for product, one in zip(products, inputs, strict=True)}
    if len(kinds) > 1:
        raise HardtackError(
            f"'{name}' is a {' and a '.join(sorted(kinds))} in the product files", "sweep them apart"
        )
    (kind,) = kinds
    choices = []
    for value, at in written:
        try:
            amount = read_quantity(value, kind, origin)
            said = amount.written or str(value)
            choices.append(Choice(said, tree.lines.get(at, 0), replace(amount, written=said)))
        except HardtackError as error:
            _problem_at(tree, at, error)
    return Factor(inputs[0].name, kind, tuple(choices), tuple(one.path for one in inputs))


def _check_factors(tree: Tree, crossed: Sequence[Factor], paired: Sequence[Factor]) -> None:
    names = [factor.name for factor in (*crossed, *paired)]
    for name in dict.fromkeys(name for name in names if names.count(name) > 1):
        tree.problem(f"'{name}' is set twice", "keep one of the two", tree.lines[("designs",)], ("designs",))
    for factor in crossed:
        said = [choice.written for choice in factor.choices]
        for again in (choice for k, choice in enumerate(factor.choices) if choice.written in said[:k]):
            tree.problem(
                f"'{again.written}' stands twice among the choices of '{factor.name}'",
                "keep one of the two",
                again.line,
                ("designs", "crossed", factor.name),
            )
    lengths = {factor.name: len(factor.choices) for factor in paired}
    if len(set(lengths.values())) > 1 and not tree.problems:
        said_lengths = ", ".join(f"'{name}' {length}" for name, length in lengths.items())
        tree.problem(
            f"the paired lists are not of one length: {said_lengths}",
            "give each as many choices, or put them under 'crossed'",
            tree.lines.get(("designs", "paired")),
            ("designs", "paired"),
        )


def _places(tree: Tree, spec: PlanSpec) -> tuple[str, ...]:
    if len(spec.places) == 1 and spec.places[0] == "all":
        return tuple(row.name for row in reference.rows("places"))
    found: list[str] = []
    for number, name in enumerate(spec.places):
        try:
            found.append(reference.place(name).name)
        except HardtackError as error:
            _problem_at(tree, ("places", number), error)
            continue
        if found[-1] in found[:-1]:
            tree.problem(
                f"the place '{found[-1]}' stands twice",
                "keep one of the two",
                tree.lines.get(("places", number)),
                ("places", number),
            )
    return tuple(found)


def _designs(products: int, crossed: Sequence[Factor], paired: Sequence[Factor]) -> tuple[Design, ...]:
    """Every product, every pair, every crossing, the last factor running fastest."""
    rows = len(paired[0].choices) if paired else 1
    grid = list(every(*(range(len(factor.choices)) for factor in crossed)))
    return tuple(
        Design(number, (*choices, *(row for _ in paired)))
        for number in range(products)
        for choices in grid
        for row in range(rows)
    )
