"""Two states side by side: of one product, or the present ones of two."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from hardtack.errors import HardtackError, NotOnShelf
from hardtack.ledger import Edit, edit_at, head, heads, history
from hardtack.web.compare import comparison_figure, differences, effects
from hardtack.web.desk import answer
from hardtack.web.pages import name_of
from hardtack.web.product_pages import shared
from hardtack.web.show import ledger_of, page
from hardtack.web.shown import Figure

router = APIRouter(prefix="/p/{product}")


@router.get("/compare")
def compare(
    request: Request, product: str, a: int | None = None, b: int | None = None, other: str = ""
) -> Response:
    """Two states side by side; without numbers the first and the present one. `other` is another product, whose
    present state is then the second."""
    ledger = ledger_of(request)
    edit = head(ledger, product)
    steps = history(ledger, product)
    first, second = _two(request, edit, a, b, other)
    answers = [answer(each.text, ledger, each.step.product) for each in (first, second)]
    names = _names(first, second)
    shown: dict[str, Any] = {"effects": (), "figure": None, "differences": (), "problems": ()}
    try:
        shown["differences"] = differences(first.text, second.text)
    except HardtackError as error:
        shown["problems"] = error.problems
    one, two = answers[0].statement, answers[1].statement
    if one is not None and two is not None:
        shown |= {"effects": effects(one, two), "figure": comparison_figure(names, one, two)}
    neighbours = [
        (name_of(each.text), each.step.product) for each in heads(ledger) if each.step.product != product
    ]
    query = f"a={first.step.seq}&b={second.step.seq}" + (f"&other={second.step.product}" if other else "")
    return page(
        request, "compare.html", **shared(edit, "compare"), first=first, second=second, steps=steps,
        answers=answers, names=names, neighbours=neighbours, other=other, query=query, **shown,
    )  # fmt: skip


@router.get("/compare/figure.svg")
def figure_svg(request: Request, product: str, a: int, b: int, other: str = "") -> Response:
    """Both lives, drawn here."""
    from hardtack.pictures.render import svg

    return Response(svg(_figure(request, product, a, b, other).spec), media_type="image/svg+xml")


@router.get("/compare/figure.json")
def figure_spec(request: Request, product: str, a: int, b: int, other: str = "") -> Response:
    """Both lives, which the page draws."""
    return JSONResponse(_figure(request, product, a, b, other).spec)


def _figure(request: Request, product: str, a: int, b: int, other: str) -> Figure:
    ledger = ledger_of(request)
    two = _two(request, head(ledger, product), a, b, other)
    one, second = (answer(each.text, ledger, each.step.product).statement for each in two)
    if one is None or second is None:
        raise NotOnShelf("there is no such picture", "open one from its page")
    return comparison_figure(_names(*two), one, second)


def _two(request: Request, edit: Edit, a: int | None, b: int | None, other: str) -> tuple[Edit, Edit]:
    """The two states. With another product both are the present ones unless told."""
    ledger, product = ledger_of(request), edit.step.product
    if other:
        there = head(ledger, other)
        kept = (e if n is None else edit_at(ledger, e.step.product, n) for e, n in ((edit, a), (there, b)))
        first, second = kept
        return first, second
    first = edit_at(ledger, product, history(ledger, product)[0].seq if a is None else a)
    return first, edit if b is None else edit_at(ledger, product, b)


def _names(first: Edit, second: Edit) -> tuple[str, str]:
    if first.step.product == second.step.product:
        return f"state {first.step.seq}", f"state {second.step.seq}"
    one, two = name_of(first.text), name_of(second.text)
    return (one, two) if one != two else (one, f"{two} (the other)")
