"""Pages of how sure a date is, and what to measure next."""

from __future__ import annotations

from hardtack.web.asking import AnswerPage, Ask, Asked, Told
from hardtack.web.shown import figure_beside

SHARE, CONFIDENCE = "90 %", "80 %"
"""Of the packs, and of being sure, where nothing else is asked."""


def _wanted(asked: Asked) -> tuple[float, float]:
    from hardtack.cli.given import part_of

    return (
        part_of(asked.given.get("share", SHARE), "share of the packs"),
        part_of(asked.given.get("confidence", CONFIDENCE), "confidence"),
    )


def _certainty(asked: Asked) -> Told:
    from hardtack.keeping.certainty import certainty
    from hardtack.keeping.certainty_as_json import certainty_json
    from hardtack.keeping.certainty_words import error_words, range_words
    from hardtack.keeping.sure_told import certainty_sections
    from hardtack.pictures.certainty import certainty_picture, table

    sure = certainty(asked.product, *_wanted(asked), progress=asked.heard)
    return Told(
        (sure.sentence, range_words(sure)),
        figure_beside(
            "certainty",
            "Packs still good, and the courses with their bands",
            certainty_picture(sure),
            table(sure),
        ),
        certainty_json(sure),
        (*sure.told, error_words(sure)),
        (),
        certainty_sections(sure),
        whole=sure,
    )


def _next(asked: Asked) -> Told:
    from hardtack.keeping.certainty_as_json import next_json
    from hardtack.keeping.measure_next import measure_next
    from hardtack.keeping.sure_told import next_sections
    from hardtack.pictures.measure_next import next_picture, table

    found = measure_next(asked.product, *_wanted(asked), progress=asked.heard)
    return Told(
        (found.sentence,),
        figure_beside("measure-next", "Days each measurement firms up", next_picture(found), table(found)),
        next_json(found),
        found.told,
        (),
        next_sections(found),
        whole=found,
    )


ASKS = (
    Ask("share", "share of the packs still good", SHARE, usual=SHARE),
    Ask("confidence", "how sure that must be", CONFIDENCE, usual=CONFIDENCE),
)
SURENESS: tuple[AnswerPage, ...] = (
    AnswerPage(
        "certainty",
        "Certainty",
        "To which day nearly all packs keep, and how sure that is: what differs from pack to pack beside what is not known.",
        _certainty,
        ASKS,
        takes="Thousands of packs are followed, which takes half a minute or more.",
        reported=True,
    ),
    AnswerPage(
        "measure-next",
        "What to measure next",
        "Which measurement firms the date up most, and for how much work.",
        _next,
        ASKS,
        takes="Every measurement is tried on thousands of packs, which takes a minute or more.",
        reported=True,
    ),
)
