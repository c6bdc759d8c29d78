"""The application: pages, JSON API and static files behind one door."""

from __future__ import annotations

import hashlib
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

import anyio.to_thread
from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from sqlalchemy import Engine
from starlette.exceptions import HTTPException

from hardtack.errors import HardtackError, NotOnShelf, Problem
from hardtack.version import VERSION
from hardtack.web import (
    answer_pages,
    api,
    compare_pages,
    measuring,
    pages,
    product_pages,
    report_pages,
    sweep_pages,
)
from hardtack.web.safety import Door, Guard
from hardtack.web.show import page

API = "/api/v1"
AT_ONCE = 6
_TYPES = {"css": "text/css", "js": "text/javascript", "svg": "image/svg+xml"}
_FILES = ("page.css", "page.js", "icon.svg")
_FOREVER = "public, max-age=31536000, immutable"


def create_app(ledger: Engine, door: Door, sweeps: Path | None = None) -> FastAPI:
    """The application over a ledger, answering only to who may come in by the door; with the sweeps in a folder, if any."""
    app = FastAPI(
        title="Hardtack",
        version=VERSION,
        description="How long a baked product keeps, why, and on which assumptions.",
        openapi_url=f"{API}/openapi.json",
        docs_url=None,
        redoc_url=None,
        lifespan=_few_threads,
    )
    app.state.ledger = ledger
    app.state.sweeps = sweeps
    app.include_router(api.router, prefix=API)
    app.include_router(measuring.router, include_in_schema=False)
    app.include_router(compare_pages.router, include_in_schema=False)
    app.include_router(report_pages.router, include_in_schema=False)
    app.include_router(answer_pages.router, include_in_schema=False)
    app.include_router(product_pages.router, include_in_schema=False)
    app.include_router(sweep_pages.router, include_in_schema=False)
    app.include_router(pages.router, include_in_schema=False)
    app.add_api_route("/static/{mark}/{name}", static, include_in_schema=False)
    app.add_exception_handler(HardtackError, _mendable)
    app.add_exception_handler(RequestValidationError, _not_as_described)
    app.add_exception_handler(HTTPException, _refused)
    app.add_middleware(Guard, door=door)
    return app


@asynccontextmanager
async def _few_threads(app: FastAPI) -> AsyncIterator[None]:
    """Few requests are worked on at once: they share one interpreter, and more only get in each other's way."""
    anyio.to_thread.current_default_thread_limiter().total_tokens = AT_ONCE
    yield


@cache
def static_mark() -> str:
    """A mark of the static files' content: a changed file has a new address."""
    digest = hashlib.sha256()
    for name in _FILES:
        digest.update(_static(name))
    return digest.hexdigest()[:12]


@cache
def _static(name: str) -> bytes:
    return (resources.files("hardtack.web") / "static" / name).read_bytes()


def static(mark: str, name: str) -> Response:
    """The style, the script, or the drawing code; nothing else is there."""
    if name == "vega.js":
        from hardtack.web.vega import drawing_code

        return Response(drawing_code(), media_type="text/javascript", headers={"cache-control": _FOREVER})
    if name not in _FILES:
        raise HTTPException(404)
    return Response(
        _static(name), media_type=_TYPES[name.rpartition(".")[2]], headers={"cache-control": _FOREVER}
    )


def _wants_json(request: Request) -> bool:
    return request.url.path.startswith(API) or "application/json" in request.headers.get("accept", "")


def _answer(request: Request, status: int, problems: tuple[Problem, ...]) -> Response:
    if _wants_json(request):
        return JSONResponse({"problems": [api.problem_json(problem) for problem in problems]}, status)
    return page(request, "problem.html", status=status, problems=problems)


def _mendable(request: Request, error: Any) -> Response:
    return _answer(request, 404 if isinstance(error, NotOnShelf) else 422, error.problems)


def _not_as_described(request: Request, error: Any) -> Response:
    problems = tuple(
        Problem(str(each["msg"]), "see docs/api.md", path=" / ".join(str(step) for step in each["loc"]))
        for each in error.errors()
    )
    return _answer(request, 422, problems)


def _refused(request: Request, error: Any) -> Response:
    words = {404: "there is nothing at this address", 405: "this address does not take that method"}
    problem = Problem(words.get(error.status_code, str(error.detail)), "begin on the first page")
    answer = _answer(request, error.status_code, (problem,))
    for name, value in (error.headers or {}).items():
        answer.headers[name] = value
    return answer
