"""The reference shelf as one page of Markdown."""

from __future__ import annotations

from hardtack.reference.shelf import Row, Topic, sources, topic, topics
from hardtack.units import KINDS

_INTRODUCTION = """# Reference data

Every constant the program fills in, with its conditions, source and provenance. *Seen* means read in the
source cited; *from memory* means no source was at hand; *assumed* means chosen for this program, the note
says why. A value marked in brackets differs from its row. Growth limits and rules of law are no proof of
safety: the local code and a competent authority decide."""


def markdown() -> str:
    """All rows by topic, then all sources."""
    parts = [_INTRODUCTION, *(_section(topic(name)) for name in topics()), _sources()]
    return "\n\n".join(parts) + "\n"


def _section(held: Topic) -> str:
    meanings = [
        f"- `{key}`: {symbol.meaning}{f' [{KINDS[symbol.kind].si}]' if KINDS[symbol.kind].si else ''}"
        for key, symbol in held.symbols.items()
    ]
    table = ["| name | values | conditions | source | provenance | note |", "|---|---|---|---|---|---|"]
    return "\n".join(
        [
            f"## {held.name.capitalize()}",
            "",
            held.about.strip(),
            "",
            *meanings,
            "",
            *table,
            *(_line(row) for row in held.rows),
        ]
    )


def _line(row: Row) -> str:
    name = row.name if not row.also else f"{row.name} ({', '.join(row.also)})"
    form = [f"form {row.form}"] if row.form else []
    values = "; ".join([*form, *(f"{symbol} = {amount.written}" for symbol, amount in row.values.items())])
    cells = (name, values, row.conditions, row.source.key, row.provenance, row.note)
    return "| " + " | ".join(_cell(cell) for cell in cells) + " |"


def _sources() -> str:
    lines = ["| key | citation | read at | what was seen |", "|---|---|---|---|"]
    for source in sources().values():
        cells = (source.key, source.citation, source.address, source.seen)
        lines.append("| " + " | ".join(_cell(cell) for cell in cells) + " |")
    return "\n".join(["## Sources", "", *lines])


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ").replace("*", "\\*").replace("_", "\\_")
