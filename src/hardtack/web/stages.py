"""The pages that follow a product's life, in order. A new part of the product file joins by its key here."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Stage:
    """One page of the product: the keys of the product file it edits, and what it is about."""

    slug: str
    title: str
    about: str
    keys: tuple[str, ...] = ()


STAGES: tuple[Stage, ...] = (
    Stage(
        "product",
        "Product and formula",
        "What it is, and what goes into it. A formula is needed only where no isotherm was measured.",
        ("name", "kind", "origin", "packed on", "notes", "formulas"),
    ),
    Stage(
        "oven",
        "Oven",
        "Zones, times and cooling. Needed only where the bake is to be computed; else leave it out.",
        ("oven",),
    ),
    Stage(
        "piece",
        "Piece",
        "One piece as packed: its size, its layers and the water in each.",
        ("piece", "pieces"),
    ),
    Stage("pack", "Pack", "What the pieces are sealed in.", ("pack",)),
    Stage("journey", "Journey", "Where the packs go, leg by leg, and the air they meet there.", ("journey",)),
    Stage(
        "limits",
        "Limits",
        "What people notice. Left out, the limit comes from the shelf by kind.",
        ("limits", "failures", "heat-treated and packed"),
    ),
)
"""The stages with a form, in the order of the product's life."""

OTHERS: tuple[Stage, ...] = (
    Stage("statement", "Statement", "What fails first, when, why, and on which assumptions."),
    Stage("water", "Water", "Where the water stands at rest."),
    Stage(
        "measurements",
        "Measurements",
        "Bring a laboratory's file, see what was understood, put the result in.",
    ),
    Stage("compare", "Compare", "Two states side by side."),
    Stage("history", "History", "Every state this product went through."),
    Stage("file", "File", "The product file itself."),
)
"""The pages without a form of the product file's keys."""


def stage(slug: str) -> Stage | None:
    """The stage with a form by that name."""
    return next((each for each in STAGES if each.slug == slug), None)


def keys_of(at: Stage, known: tuple[str, ...]) -> tuple[str, ...]:
    """The keys a stage edits. What no stage claims stands on the first, so nothing of the file is out of reach;
    the version of the format is left alone."""
    claimed = {key for each in STAGES for key in each.keys}
    rest = tuple(key for key in known if key not in claimed and key != "hardtack") if at is STAGES[0] else ()
    return (*(key for key in at.keys if key in known), *rest)
