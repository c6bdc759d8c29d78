"""Pages that belong to no product: the first page, the reference shelf, what the API offers."""

from __future__ import annotations

import re

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import UploadFile

from hardtack.errors import HardtackError
from hardtack.ledger import heads, start_product
from hardtack.product import kinds, starter
from hardtack.web.show import ledger_of, page

router = APIRouter()
_NAME = re.compile(r"^name:[ \t]*(.+?)[ \t]*(?: #.*)?$", re.M)
LARGEST_FILE = 400_000
"""Bytes of a product file brought from outside; it has its own, smaller limit in characters."""


def name_of(text: str) -> str:
    """The product's name as its file says, even where the file does not read yet."""
    found = _NAME.search(text)
    return found[1].strip("'\" ")[:120] if found else "a product without a name"


def file_name(text: str) -> str:
    """The product's name as a file may be called anywhere."""
    plain = "".join(c if c.isascii() and c.isalnum() else "-" for c in name_of(text)).strip("-")
    return plain[:80] or "product"


@router.get("/")
def first(request: Request) -> Response:
    """Every product of the ledger, and the ways to begin one."""
    products = [(name_of(edit.text), edit) for edit in heads(ledger_of(request))]
    return page(request, "first.html", products=products, kinds=kinds())


@router.post("/new")
async def new(request: Request) -> Response:
    """A new product, from a starter file or from a file brought along."""
    async with request.form(max_files=1, max_fields=10) as form:
        brought, kind = form.get("file"), form.get("kind")
        if isinstance(brought, UploadFile) and brought.filename:
            data = await brought.read(LARGEST_FILE + 1)
            if len(data) > LARGEST_FILE:
                raise HardtackError("the file is far too long", "bring a product file")
            try:
                text = data.decode("utf-8-sig").replace("\r\n", "\n")
            except UnicodeDecodeError:
                raise HardtackError("the file is not UTF-8", "save it as UTF-8") from None
            if "\x00" in text:
                raise HardtackError("this is no text", "bring a product file")
            what = "from a file"
        else:
            text, what = starter(str(kind or "")), f"from the starter file {kind}"
    edit = start_product(ledger_of(request), text, what)
    return RedirectResponse(f"/p/{edit.step.product}/product", 303)


@router.get("/reference")
def reference(request: Request, word: str = "", topic: str = "") -> Response:
    """The reference shelf: its topics, one topic, or all rows with a word."""
    from hardtack.reference import find, topics
    from hardtack.reference import topic as topic_of

    rows = topic_of(topic).rows if topic else find(word[:100]) if word.strip() else ()
    held = [(name, topic_of(name).about.strip().split(". ")[0].rstrip(".")) for name in topics()]
    return page(
        request, "reference.html", word=word, topic=topic, rows=rows[:300], count=len(rows), topics=held,
        symbols=topic_of(topic).symbols if topic else {},
    )  # fmt: skip


@router.get("/api")
def api_page(request: Request) -> Response:
    """What the JSON API offers, out of its own description."""
    described = request.app.openapi()
    calls = [
        (method.upper(), path, call["summary"], call.get("description", ""))
        for path, methods in described["paths"].items()
        for method, call in methods.items()
    ]
    return page(request, "api.html", calls=calls)
