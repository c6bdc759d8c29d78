"""The JSON API, version 1: the same rooms as the pages, for programs. Documented in docs/api.md."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Path, Query, Request
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import JSONResponse, Response

from hardtack.errors import HardtackError, NotOnShelf, Problem
from hardtack.ledger import Edit, Step, change, edit_at, head, heads, history, redo, start_product, undo
from hardtack.product import json_schema
from hardtack.web import edits, work
from hardtack.web.answers import FITTED, answer_page
from hardtack.web.asking import LONGEST_TEXT, Asked
from hardtack.web.compare import differences, effects
from hardtack.web.desk import answer, once, read, remembered
from hardtack.web.desk import water as water_of
from hardtack.web.pages import name_of
from hardtack.web.report_pages import FORMS as REPORT_FORMS
from hardtack.web.report_pages import Beside, report_of
from hardtack.web.show import ledger_of
from hardtack.web.telling import given_on, question, told_of

LONGEST = 100_000


class ProblemOut(BaseModel):
    """One thing to mend."""

    what: str
    mend: str
    path: str
    line: int | None


class ProblemsOut(BaseModel):
    """Everything in the way: the one shape of every refusal."""

    problems: list[ProblemOut]


class Closed(BaseModel):
    """A body that may hold its own keys only."""

    model_config = ConfigDict(extra="forbid")


class TextIn(Closed):
    """A product file's text."""

    text: str = Field(max_length=LONGEST, description="the product file, YAML")


class FoundIn(Closed):
    """A complaint file's text."""

    found: str = Field(
        min_length=1, max_length=LONGEST_TEXT, description="the complaint file, YAML (docs/complaints.md)"
    )


class SaveIn(TextIn):
    """A product file's text, made from a state."""

    based_on: int = Field(
        ge=1, lt=2**31, description="the state it was made from; refused when it is no longer the last"
    )


class ChangeIn(Closed):
    """One value to be written; an empty one takes the key out."""

    path: str = Field(
        max_length=500, min_length=1, description="such as pack/film; items of a list by number from 0"
    )
    value: str = Field(max_length=20_000)


class ChangesIn(Closed):
    """Values to be written together."""

    changes: list[ChangeIn] = Field(min_length=1, max_length=500)


class StepOut(BaseModel):
    """One line of a history."""

    state: int
    at: str
    kind: str
    path: str
    what: str


class StateOut(BaseModel):
    """A product in one state."""

    product: str
    name: str
    state: int
    at: str
    what: str
    text: str
    in_order: bool
    problems: list[ProblemOut]


class WorkOut(BaseModel):
    """Long work under way: `share` of it done, and how many are in line `before` it."""

    state: str
    share: float
    before: int


class ProductOut(BaseModel):
    """A product of the ledger."""

    product: str
    name: str
    state: int
    at: str


Id = Annotated[str, Path(max_length=16, pattern="^[0-9a-f]+$", description="the product's id")]
Other = Annotated[str, Path(max_length=16, pattern="^[0-9a-f]+$", description="the other product's id")]
State = Annotated[
    int | None, Query(ge=1, lt=2**31, description="a state of the product; without it the present one")
]
REFUSALS: dict[int | str, dict[str, Any]] = {
    404: {"model": ProblemsOut, "description": "there is no such thing"},
    422: {"model": ProblemsOut, "description": "something to mend"},
}
BODY: dict[int | str, dict[str, Any]] = {
    **REFUSALS,
    400: {"model": ProblemsOut, "description": "the body is no JSON"},
    413: {"description": "too much at once"},
}
router = APIRouter(responses=REFUSALS)


def problem_json(problem: Problem) -> dict[str, Any]:
    """A problem as plain data."""
    return {"what": problem.what, "mend": problem.mend, "path": problem.path, "line": problem.line}


def _problems(problems: tuple[Problem, ...]) -> list[ProblemOut]:
    return [ProblemOut(**problem_json(problem)) for problem in problems]


def _state(request: Request, edit: Edit) -> StateOut:
    reading = read(edit.text, ledger_of(request), edit.step.product)
    step = edit.step
    return StateOut(
        product=step.product, name=name_of(edit.text), state=step.seq, at=step.at, what=step.what, text=edit.text,
        in_order=reading.product is not None, problems=_problems(reading.problems),
    )  # fmt: skip


def _wanted(request: Request, product: str, state: int | None) -> Edit:
    return head(ledger_of(request), product) if state is None else edit_at(ledger_of(request), product, state)


@router.get("/products", summary="All products, the last changed first")
def products(request: Request) -> list[ProductOut]:
    """The ledger's products, each with its present state."""
    return [
        ProductOut(product=e.step.product, name=name_of(e.text), state=e.step.seq, at=e.step.at)
        for e in heads(ledger_of(request))
    ]


@router.post("/products", status_code=201, summary="A new product", responses=BODY)
def begin(request: Request, given: TextIn) -> StateOut:
    """Put a product file into the ledger, in order or not."""
    return _state(request, start_product(ledger_of(request), given.text, "brought by a program"))


@router.get("/products/{product}", summary="A product in one state")
def one(request: Request, product: Id, state: State = None) -> StateOut:
    """The product file's text and what is to mend in it."""
    return _state(request, _wanted(request, product, state))


@router.put("/products/{product}", summary="Save the whole file", responses=BODY)
def save(request: Request, product: Id, given: SaveIn) -> StateOut:
    """A new state from a whole text; refused when the product was changed meanwhile."""
    edit = change(
        ledger_of(request), product, lambda _: given.text, "saved by a program", based_on=given.based_on
    )
    return _state(request, edit)


@router.patch("/products/{product}", summary="Change single values", responses=BODY)
def alter(request: Request, product: Id, given: ChangesIn) -> StateOut:
    """A new state in which some values differ; all else, comments too, stays as it is written."""
    changed = tuple((each.path, each.value) for each in given.changes)
    edit = change(
        ledger_of(request), product, lambda text: edits.apply(text, changed), edits.words_of(changed)
    )
    return _state(request, edit)


@router.post("/products/{product}/undo", summary="One step back")
def step_back(request: Request, product: Id) -> StateOut:
    """Adds the state before the last step that is not undone."""
    return _state(request, undo(ledger_of(request), product))


@router.post("/products/{product}/redo", summary="One step forth again")
def step_forth(request: Request, product: Id) -> StateOut:
    """Adds the state that the last undo left."""
    return _state(request, redo(ledger_of(request), product))


@router.get("/products/{product}/history", summary="Every state, the first one first")
def steps(request: Request, product: Id) -> list[StepOut]:
    """When, where and what was changed."""
    return [_step(step) for step in history(ledger_of(request), product)]


def _step(step: Step) -> StepOut:
    return StepOut(state=step.seq, at=step.at, kind=step.kind, path=step.place, what=step.what)


@router.get("/products/{product}/statement", summary="The keeping statement")
def statement(request: Request, product: Id, state: State = None) -> dict[str, Any]:
    """What `hardtack keep FILE --json` prints (docs/json.md), for one state of a product."""
    edit = _wanted(request, product, state)
    return _statement(edit.text, request, product)


@router.get("/products/{product}/compare", summary="Two states side by side")
def compare(
    request: Request,
    product: Id,
    a: Annotated[int, Query(ge=1, lt=2**31)],
    b: Annotated[int, Query(ge=1, lt=2**31)],
) -> dict[str, Any]:
    """What differs in the file, and when each failure comes in both; `gained_days` from the first to the second."""
    return _compared(request, *(_wanted(request, product, number) for number in (a, b)))


def _compared(request: Request, first: Edit, second: Edit) -> dict[str, Any]:
    ledger = ledger_of(request)
    one, two = (answer(each.text, ledger, each.step.product) for each in (first, second))
    if one.statement is None or two.statement is None:
        raise HardtackError((*one.problems, *two.problems))
    return {
        "differences": [
            {"where": d.where, "first": d.first, "second": d.second}
            for d in differences(first.text, second.text)
        ],
        "failures": [
            {"failure": e.failure, "first": e.first, "second": e.second, "gained_days": e.gained}
            for e in effects(one.statement, two.statement)
        ],
    }


@router.get("/products/{product}/compare/{other}", summary="Two products side by side")
def compare_two(
    request: Request, product: Id, other: Other, a: State = None, b: State = None
) -> dict[str, Any]:
    """As two states of one product; `a` is a state of the first and `b` one of the other, without them the present ones."""
    return _compared(request, _wanted(request, product, a), _wanted(request, other, b))


@router.get("/products/{product}/dough", summary="The doughs of a product")
def dough(request: Request, product: Id, state: State = None) -> dict[str, Any]:
    """What `hardtack dough FILE --json` prints (docs/json.md), for one state of a product."""
    return _told(request, _wanted(request, product, state), "dough", {})


@router.get("/products/{product}/bake", summary="The bake of a product")
def bake(
    request: Request,
    product: Id,
    state: State = None,
    moisture: Annotated[
        str, Query(max_length=40, description="wanted at the oven's exit, such as 2.5 %wb: how long, how hot")
    ] = "",
    calibrated: Annotated[
        bool, Query(description="with the oven's factors fitted to what the file says was measured")
    ] = False,
) -> dict[str, Any]:
    """What `hardtack oven FILE --json` prints (docs/oven.md), for one state of a product."""
    given = {"moisture": moisture, "factors": FITTED if calibrated else ""}
    return _told(request, _wanted(request, product, state), "bake", given)


LONG: dict[int | str, dict[str, Any]] = {
    202: {"model": WorkOut, "description": "it is being worked out; ask again"},
    503: {"model": ProblemsOut, "description": "too many wait; ask later"},
}
"""What long work may answer beside its answer: the first call begins it, asked again later it is there."""
Written = Annotated[str, Query(max_length=200)]


@router.get("/products/{product}/where", summary="Where it can be sold", responses=LONG)
def where(request: Request, product: Id, state: State = None) -> JSONResponse:
    """What `hardtack where FILE --json` prints (docs/json.md). Long work: 202 until it is there."""
    return _in_the_background(request, _wanted(request, product, state), "where", {})


@router.get("/products/{product}/certainty", summary="How sure the date is", responses=LONG)
def certainty(
    request: Request, product: Id, state: State = None, share: Written = "", confidence: Written = ""
) -> JSONResponse:
    """What `hardtack certainty FILE --json` prints (docs/json.md). Long work: 202 until it is there."""
    given = {"share": share, "confidence": confidence}
    return _in_the_background(request, _wanted(request, product, state), "certainty", given)


@router.get("/products/{product}/measure-next", summary="What to measure next", responses=LONG)
def measure_next(
    request: Request, product: Id, state: State = None, share: Written = "", confidence: Written = ""
) -> JSONResponse:
    """What `hardtack measure-next FILE --json` prints (docs/json.md). Long work: 202 until it is there."""
    given = {"share": share, "confidence": confidence}
    return _in_the_background(request, _wanted(request, product, state), "measure-next", given)


@router.get("/products/{product}/remedies", summary="What gives the wanted days", responses=LONG)
def remedies(
    request: Request,
    product: Id,
    days: Annotated[float, Query(gt=0, le=1095, description="days wanted from packing")],
    state: State = None,
) -> JSONResponse:
    """What `hardtack remedies FILE --days N --json` prints (docs/json.md). Long work: 202 until it is there."""
    given = {"days": f"{days:g}"}
    return _in_the_background(request, _wanted(request, product, state), "remedies", given)


@router.get("/products/{product}/tradeoff", summary="Days over two inputs", responses=LONG)
def tradeoff(
    request: Request,
    product: Id,
    a: Annotated[str, Query(max_length=200, description="an input by its name")],
    b: Annotated[str, Query(max_length=200, description="the other")],
    days: Annotated[float | None, Query(gt=0, le=1095, description="days wanted, if any")] = None,
    state: State = None,
) -> JSONResponse:
    """What `hardtack tradeoff FILE A B --json` prints (docs/json.md). Long work: 202 until it is there."""
    given = {"a": a, "b": b, "days": "" if days is None else f"{days:g}"}
    return _in_the_background(request, _wanted(request, product, state), "tradeoff", given)


@router.post(
    "/products/{product}/complaint", summary="What lay behind a complaint", responses={**LONG, **BODY}
)
def complaint(request: Request, product: Id, given: FoundIn) -> JSONResponse:
    """What `hardtack complaint FILE FOUND --json` prints (docs/json.md). Long work: 202 until it is there."""
    return _in_the_background(request, head(ledger_of(request), product), "complaint", {"file": given.found})


def _in_the_background(request: Request, edit: Edit, slug: str, given: dict[str, str]) -> JSONResponse:
    """The answer of long work where it is there, else how far it is; begun where it is not asked yet."""
    at = answer_page(slug)
    assert at is not None
    ledger = ledger_of(request)
    key, tell = question(ledger, edit, at, given_on(at, given))
    if remembered(key):
        return JSONResponse(once(key, lambda: tell(lambda share: None)).data)
    owner = (edit.step.product, slug)
    going = work.look(owner, key)
    if going is not None and going.state == "failed":
        raise HardtackError(going.problems)
    if going is None or not going.going:
        try:
            going = work.begin(owner, key, tell)
        except HardtackError as error:
            return JSONResponse({"problems": [problem_json(problem) for problem in error.problems]}, 503)
    return JSONResponse({"state": going.state, "share": going.share, "before": work.before(going)}, 202)


@router.get(
    "/products/{product}/report/{form}",
    summary="The keeping report",
    response_class=Response,
    responses={
        200: {"description": "the report's bytes", "content": {kind: {} for kind in REPORT_FORMS.values()}}
    },
)
def report(
    request: Request,
    product: Id,
    form: Literal["html", "pdf", "xlsx"],
    state: State = None,
    days: Annotated[str, Query(max_length=40, description="with the remedies that were worked out")] = "",
    share: Annotated[str, Query(max_length=40, description="with the certainty that was worked out")] = "",
    confidence: Annotated[str, Query(max_length=40, description="likewise")] = "",
) -> Response:
    """What `hardtack report FILE -o X` writes, for one state of a product. What it is to hold beside the plain answer is
    asked for first by its own call."""
    return report_of(request, _wanted(request, product, state), form, Beside(days, share, confidence))


@router.post("/keep", summary="The keeping statement of a text", responses=BODY)
def keep(request: Request, given: TextIn) -> dict[str, Any]:
    """What `hardtack keep FILE --json` prints (docs/json.md); nothing is kept."""
    return _statement(given.text, request)


@router.post("/water", summary="The water at rest of a text", responses=BODY)
def water(request: Request, given: TextIn) -> dict[str, Any]:
    """What `hardtack water FILE --json` prints (docs/json.md); nothing is kept."""
    from hardtack.keeping.water_as_json import water_json

    return water_json(water_of(read(given.text)))


@router.post("/dough", summary="The doughs of a text", responses=BODY)
def dough_of(given: TextIn) -> dict[str, Any]:
    """What `hardtack dough FILE --json` prints (docs/json.md); nothing is kept."""
    return _of_text(given.text, "dough")


@router.post("/bake", summary="The bake of a text", responses=BODY)
def bake_of(given: TextIn) -> dict[str, Any]:
    """What `hardtack oven FILE --json` prints (docs/oven.md); nothing is kept."""
    return _of_text(given.text, "bake")


@router.post("/validate", summary="What is to mend in a text", responses=BODY)
def validate(given: TextIn) -> ProblemsOut:
    """An empty list when it is in order."""
    return ProblemsOut(problems=_problems(read(given.text).problems))


@router.get("/reference", summary="Rows of the reference shelf")
def reference(word: Annotated[str, Query(min_length=1, max_length=100)]) -> list[dict[str, Any]]:
    """Values with unit, conditions, source and provenance, wherever the word stands."""
    from hardtack.cli.show import row_json
    from hardtack.reference import find

    return [row_json(row) for row in find(word)]


@router.get("/schema", summary="JSON Schema of the product file")
def schema() -> dict[str, Any]:
    """What `hardtack schema` prints."""
    return json_schema()


def _of_text(text: str, slug: str) -> dict[str, Any]:
    at, reading = answer_page(slug), read(text)
    assert at is not None
    if reading.product is None:
        raise HardtackError(reading.problems)
    product = reading.product
    found = once(("told text", slug, text), lambda: at.tell(Asked(product, {}, lambda share: None)))
    data: dict[str, Any] = found.data
    return data


def _told(request: Request, edit: Edit, slug: str, given: dict[str, str]) -> dict[str, Any]:
    at = answer_page(slug)
    assert at is not None
    return told_of(ledger_of(request), edit, at, given_on(at, given)).data


def _statement(text: str, request: Request, product: str = "") -> dict[str, Any]:
    from hardtack.keeping.as_json import statement_json

    found = answer(text, ledger_of(request), product)
    if found.statement is None:
        raise HardtackError(found.problems)
    return statement_json(found.statement)


@router.get("/{rest:path}", include_in_schema=False)
def nothing(rest: str) -> JSONResponse:
    """Addresses the API does not have."""
    raise NotOnShelf(f"the API has no address {rest[:60]!r}", "see openapi.json beside it")
