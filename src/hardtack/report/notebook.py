"""A statement as a notebook shows it: the sentence, the chain, the shares, the pictures."""

from __future__ import annotations

from html import escape

from hardtack.keeping.sentences import moment
from hardtack.keeping.statement import KeepingStatement
from hardtack.pictures import KINDS
from hardtack.pictures.render import svg


def statement_html(statement: KeepingStatement) -> str:
    """HTML without scripts, to stand in a page."""
    rows = "".join(
        "<tr>"
        + "".join(
            f"<td>{escape(text)}</td>"
            for text in (
                course.name,
                course.layer,
                "does not come" if course.time is None else moment(course.time, statement.journey.packed_on),
                f"{share:.0%}",
            )
        )
        + "</tr>"
        for course, share in zip(statement.courses, statement.shares, strict=True)
    )
    pictures = "".join(
        f"<div>{svg(kind.picture(statement))}</div>" for kind in KINDS.values() if kind.drawable(statement)
    )
    return (
        f"<div><p><strong>{escape(statement.sentence)}</strong></p><p>{escape(statement.chain)}</p>"
        "<table><thead><tr><th>failure</th><th>layer</th><th>comes</th><th>life used at the end</th></tr></thead>"
        f"<tbody>{rows}</tbody></table>{pictures}"
        "<p>A model is not a validation.</p></div>"
    )
