"""The answers beside the statement: each a page, its numbers opened, its picture; long ones worked out in the background."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response
from sqlalchemy import Engine
from starlette.concurrency import run_in_threadpool

from hardtack.errors import HardtackError, NotOnShelf
from hardtack.ledger import Edit, head
from hardtack.web import work
from hardtack.web.answers import ANSWERS, answer_page, plain
from hardtack.web.asking import AnswerPage
from hardtack.web.desk import read, remembered
from hardtack.web.product_pages import shared
from hardtack.web.show import ledger_of, page
from hardtack.web.shown import by_provenance
from hardtack.web.stages import STAGES, Stage
from hardtack.web.telling import given_on, question, told_of

router = APIRouter(prefix="/p/{product}")


def lacking(ledger: Engine, edit: Edit, at: AnswerPage) -> Stage | None:
    """The stage that holds what the page needs and the product does not have, None where nothing lacks."""
    product = read(edit.text, ledger, edit.step.product).product
    if product is None or not at.needs or getattr(product, at.needs):
        return None
    return next(stage for stage in STAGES if at.needs in stage.keys)


def _shown(at: AnswerPage) -> Callable[[Request, str], Response]:
    def answer(request: Request, product: str) -> Response:
        ledger = ledger_of(request)
        edit = head(ledger, product)
        given = given_on(at, request.query_params)
        known = read(edit.text, ledger, product).product
        shown: dict[str, Any] = {
            "at": at, "told": None, "problems": (), "groups": (), "given": given, "query": urlencode(given),
            "going": None, "before": 0, "lacking": lacking(ledger, edit, at),
            "offered": {ask.name: ask.offered(known) for ask in at.asks},
        }  # fmt: skip
        if shown["lacking"] is not None:
            return page(request, "answer.html", **shared(edit, at.slug), **shown)
        try:
            key, _ = question(ledger, edit, at, given)
            going = work.look((product, at.slug), key) if at.takes else None
            if not at.takes or remembered(key):
                told = told_of(ledger, edit, at, given)
                shown |= {"told": told, "groups": by_provenance(told.used), "data": plain(told.data)}
            elif going is not None:
                shown |= {"going": going, "before": work.before(going), "problems": going.problems}
        except HardtackError as error:
            shown["problems"] = error.problems
        return page(request, "answer.html", **shared(edit, at.slug), **shown)

    return answer


for _at in ANSWERS:
    router.add_api_route(f"/{_at.slug}", _shown(_at), methods=["GET"], name=_at.slug)


def _long_one(slug: str) -> AnswerPage:
    at = answer_page(slug)
    if at is None or not at.takes:
        raise NotOnShelf("there is no such long work", "begin it on its page")
    return at


@router.post("/long/{slug}")
async def begin(request: Request, product: str, slug: str) -> Response:
    """Put long work in line, or stop it; then its page."""
    at = _long_one(slug)
    async with request.form(max_files=0, max_fields=50) as form:
        sent = {name: value for name, value in form.multi_items() if isinstance(value, str)}
    given, ledger = given_on(at, sent), ledger_of(request)

    def put() -> None:
        edit = head(ledger, product)
        if sent.get("act") == "stop":
            work.stop((product, slug))
            return
        key, tell = question(ledger, edit, at, given)
        if not remembered(key):
            work.begin((product, slug), key, tell)

    await run_in_threadpool(put)
    query = f"?{urlencode(given)}" if given else ""
    return RedirectResponse(f"/p/{product}/{slug}{query}", 303)


@router.get("/long/{slug}")
def how_far(request: Request, product: str, slug: str) -> Response:
    """How far the work of a page is, for the page to show."""
    at, ledger = _long_one(slug), ledger_of(request)
    edit = head(ledger, product)
    key, _ = question(ledger, edit, at, given_on(at, request.query_params))
    going = work.look((product, slug), key)
    if remembered(key):
        return JSONResponse({"state": "done", "share": 1.0, "before": 0})
    if going is None:
        return JSONResponse({"state": "none", "share": 0.0, "before": 0})
    return JSONResponse({"state": going.state, "share": going.share, "before": work.before(going)})
