"""Remedies, a trade-off and a complaint in titled sections for people: the page, the command line and the report say the same."""

from __future__ import annotations

from collections.abc import Sequence

from hardtack.keeping.complaint import Complaint
from hardtack.keeping.remedies import Remedies, Remedy, days_words
from hardtack.keeping.tradeoff import Tradeoff
from hardtack.states import Section

KNOWN = (
    "Days here are computed with every number at its value, without its spread: leave room for it.",
    "Costs are of materials and of what the file adds under 'costs'; first come remedies with a known cost, the "
    "cheapest first, then those that use least of their range.",
    "Ranges are common practice or assumed (reference shelf, “remedy ranges”); plant, buyer and law may stop earlier.",
)
EFFORT = {1.0: "a look", 2.0: "the bench", 3.0: "the laboratory"}
SHOWN = 6
"""Measurements that are listed."""


def remedies_sections(answer: Remedies) -> tuple[Section, ...]:
    """Remedies that suffice, first by cost; their specification lines and side effects; those that do not and why."""
    enough = answer.sufficient
    rows = tuple(
        (
            one.move.what,
            one.move.now,
            one.setting.words,
            days_words(one.outcome.days).removesuffix(" days"),
            one.outcome.first,
            one.cost.words,
        )
        for one in enough
    )
    columns = ("remedy", "from", "to at least", "days", "then first", "cost")
    sections = [
        Section(f"Each of these alone gives {answer.wanted:g} days", (), columns, rows),
        Section("Specification lines", tuple(one.setting.specification for one in enough)),
        Section("What else they do", side_effects(enough)),
        Section(
            "Not enough by itself",
            tuple(
                f"{one.move.what} ({one.move.family}): {one.why_not}."
                for one in answer.found
                if not one.suffices
            ),
        ),
    ]
    if answer.idle:
        words = f"{'; '.join(answer.idle)}: {answer.now.first} comes no later for it."
        sections.append(Section("No help at all", (words,)))
    if answer.promise is not None and answer.now.days < answer.wanted:
        until = f", until {answer.promise_date}" if answer.promise_date else ""
        said = f"{answer.promise} days{until}, with the product as it is."
        sections.append(Section("Or promise fewer days", (said,)))
    return tuple(each for each in sections if each.lines or each.rows)


def side_effects(several: Sequence[Remedy]) -> tuple[str, ...]:
    """What remedies do beside giving days, a line each; gates that read otherwise, with the remedies that do it."""
    lines = [f"{_named(one)}: {words}." for one in several for words in one.told]
    gates = dict.fromkeys(gate for one in several for gate, _ in one.gates)
    for gate in gates:
        here = [_named(one) for one in several if gate in dict(one.gates)]
        which = "each of them" if len(here) == len(several) else "; ".join(here)
        lines.append(
            f"The gate “{gate}” reads otherwise with {which}: have it confirmed anew for what you choose."
        )
    return tuple(lines)


def _named(one: Remedy) -> str:
    return f"{one.move.what}, {one.setting.words}"


def tradeoff_sections(answer: Tradeoff) -> tuple[Section, ...]:
    """The map as a table of days with what fails first by a letter, the letters, and the frontier."""
    names = list(dict.fromkeys(name for row in answer.first for name in row if name))
    letters = {name: chr(ord("a") + k) for k, name in enumerate(names)}

    def cell(day: float, name: str) -> str:
        mark = f"\u00a0{letters[name]}" if name and len(names) > 1 else ""
        return days_words(day).removesuffix(" days") + mark

    rows = tuple(
        (_short(value), *(cell(float(day), name) for day, name in zip(days, first, strict=True)))
        for value, days, first in zip(answer.a.values, answer.days, answer.first, strict=True)
    )
    columns = (f"{answer.a.title} ↓", *(_short(value) for value in answer.b.values))
    key = tuple(f"{letter}: {name} fails first." for name, letter in letters.items())
    if len(names) == 1:
        key = (f"{names[0]} fails first, wherever anything does.",)
    sections = [Section(f"Days; across: {answer.b.title}", (), columns, rows, key)]
    if answer.frontier:
        points = tuple((answer.a.words(x), answer.b.words(y)) for x, y in answer.frontier)
        title = f"Where it keeps {answer.wanted:g} days"
        sections.append(Section(title, (), (answer.a.name, answer.b.name), points))
    return tuple(sections)


def _short(value: float) -> str:
    return f"{value:.3g}" if abs(value) < 1000 else f"{value:.0f}"


def complaint_sections(answer: Complaint) -> tuple[Section, ...]:
    """Causes by what is believed of them, and what would tell the first two apart."""
    causes = tuple(
        (
            one.name,
            f"{one.before:.0%}",
            f"{one.after:.0%}",
            one.best,
            ", ".join(one.expected) or "the same words",
        )
        for one in answer.causes
    )
    columns = ("cause", "before", "after", "fits best as", "it would then show")
    sections = [Section("Causes, by what is believed of them after what was found", (), columns, causes)]
    if answer.telling:
        rows = tuple(
            (one.what, f"{one.right:.0%}", one.first, one.second, EFFORT.get(one.effort, "work"))
            for one in answer.telling[:SHOWN]
        )
        columns = ("measure", "names the right one", "under the first", "under the second", "takes")
        sections.append(Section("What would tell the first two apart", (), columns, rows))
    return tuple(sections)
