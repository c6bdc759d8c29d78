"""The keeping statement in one figure: what it says, where the water runs, what happens on the way."""

from __future__ import annotations

from collections import Counter

from hardtack.keeping.statement import KeepingStatement
from hardtack.pictures import journey, ladder, style
from hardtack.pictures.style import Spec
from hardtack.sourced import PROVENANCES


def table(statement: KeepingStatement) -> dict[str, list[dict[str, object]]]:
    """The numbers behind both parts of the figure."""
    return {"activity ladder": ladder.table(statement), "journey": journey.table(statement)}


def description(statement: KeepingStatement) -> str:
    """The figure in sentences, for those who hear it."""
    return f"{statement.sentence} {ladder.description(statement)} {journey.description(statement)}"


def provenance_note(statement: KeepingStatement) -> str:
    """Where the numbers come from, counted."""
    counts = Counter(used.amount.provenance for used in statement.used)
    kinds = ", ".join(f"{counts[kind]}\u00a0{kind}" for kind in PROVENANCES if counts[kind])
    filled = sum(not used.given for used in statement.used)
    return f"Numbers: {kinds or 'none recorded'}; {filled} of {len(statement.used)} filled in by Hardtack."


def keeping_picture(statement: KeepingStatement) -> Spec:
    """The activity ladder over the journey, headed by the statement's sentence."""
    footer = f"computed by Hardtack {statement.version}; a model is not a validation"
    place = style.scale(0, style.VIEW_WIDTH, (0, style.VIEW_WIDTH))
    foot = {
        "width": style.VIEW_WIDTH,
        "height": 14,
        "layer": style.texts(
            [{"x": -style.AXIS, "y": 0.5, "text": footer}],
            style.at("x", place),
            style.at("y", style.scale(0, 1, (14, 0))),
            halo=False,
            color=style.SOFT,
            fontSize=style.SIZE_SMALL - 1,
        ),
    }
    figure = {
        "title": {
            "text": style.balanced(statement.sentence, style.TEXT_WIDTH, style.SIZE_TITLE, bold=True),
            "subtitle": [
                line
                for note in (statement.limiting, provenance_note(statement))
                for line in style.balanced(note, style.TEXT_WIDTH, style.SIZE_SMALL)
            ],
            "fontSize": style.SIZE_TITLE,
            "lineHeight": style.SIZE_TITLE * style.LINE_HEIGHT,
            "offset": 18,
        },
        "spacing": 22,
        "vconcat": [ladder.view(statement), journey.view(statement), foot],
    }
    return style.whole(figure, description(statement))
