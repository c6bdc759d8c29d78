"""How sure a date is, and what to measure next, in titled sections: the page, the command line and the report say the same."""

from __future__ import annotations

from hardtack.keeping.certainty import Certainty
from hardtack.keeping.certainty_words import first_words
from hardtack.keeping.measure_next import Next
from hardtack.keeping.next_words import gain_words, what_for
from hardtack.states import Section

SPREADS = (
    ("not known", "Not known: makes the confidence"),
    ("pack to pack", "From pack to pack: makes the share of packs"),
    ("lot to lot", "From lot to lot: makes the share of packs"),
)


def certainty_sections(sure: Certainty) -> tuple[Section, ...]:
    """What fails first how often, and every spread that went in, by what it makes."""
    rows = tuple((first_words(one), f"{one.share:.0%}") for one in sure.first)
    sections = [Section("What fails first, in what share of the samples", (), ("failure", "share"), rows)]
    for spread, title in SPREADS:
        here = tuple((one.name, one.told, one.why) for one in sure.unsure if one.spread == spread)
        if here:
            sections.append(Section(title, (), ("number", "spread (one sd)", "why"), here))
    return tuple(sections)


def next_sections(found: Next) -> tuple[Section, ...]:
    """Measurements by the days they firm the date up, and the shares of the variance."""
    columns = (
        "measurement", "for", "good to", "firmer by", "work, days", "days per day of work", "wait, days",
    )  # fmt: skip
    rows = tuple(
        (
            one.name,
            what_for(one),
            one.error,
            gain_words(one),
            f"{one.effort:g}",
            "—" if one.per_effort is None or one.per_effort <= 0 else f"{one.per_effort:.1f}",
            f"{one.wait:g}",
        )
        for one in found.measurements
    )
    shares = tuple(
        (
            part.name,
            part.told,
            part.spread,
            f"{max(0.0, part.first):.0%} ± {part.first_error:.0%}",
            f"{part.total:.0%} ± {part.total_error:.0%}",
        )
        for part in found.shares
    )
    return (
        Section("Measurements, by the days they would firm the stated date up", (), columns, rows),
        Section(
            "What makes the date unsure, by share of the variance of its logarithm",
            (),
            ("number", "spread", "what", "alone", "with others"),
            shares,
        ),
    )
