"""Rendering a template: every page goes through here, with what all pages share."""

from __future__ import annotations

from functools import cache
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, PackageLoader, StrictUndefined
from sqlalchemy import Engine

from hardtack.states import of_layer
from hardtack.units import amount_words
from hardtack.version import VERSION
from hardtack.web.answers import ANSWERS
from hardtack.web.forms import Field, Grid, Group
from hardtack.web.shown import failure_when
from hardtack.web.stages import OTHERS, STAGES


@cache
def templates() -> Environment:
    """The templates; everything put into them is escaped."""
    made = Environment(
        loader=PackageLoader("hardtack.web"),
        autoescape=True,
        undefined=StrictUndefined,
        auto_reload=False,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters.update(amount=amount_words, when=failure_when, moment=_moment, of_layer=of_layer)
    made.tests.update(
        field=lambda part: isinstance(part, Field),
        group=lambda part: isinstance(part, Group),
        grid=lambda part: isinstance(part, Grid),
    )
    return made


def _moment(at: str) -> str:
    """A moment of the ledger: ``2026-06-01 14:05:12 UTC``."""
    return f"{at[:10]} {at[11:19]} UTC"


def render(template: str, **shown: Any) -> str:
    """A template as text."""
    from hardtack.web.app import static_mark

    return (
        templates()
        .get_template(template)
        .render(
            stages=STAGES,
            others=(*OTHERS[:2], *ANSWERS, *OTHERS[2:]),
            version=VERSION,
            mark=static_mark(),
            **shown,
        )
    )


def page(request: Request, template: str, *, status: int = 200, **shown: Any) -> HTMLResponse:
    """A whole page. `edit`, `here` and `name` belong to pages of one product."""
    shown = {"edit": None, "here": "", "name": "", "kind": "", **shown}
    return HTMLResponse(render(template, **shown), status)


def ledger_of(request: Request) -> Engine:
    """The ledger the application stands on."""
    found: Engine = request.app.state.ledger
    return found
