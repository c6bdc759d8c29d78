"""The pages of one product: its stages with their forms, the statement, why, history, comparison, the file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException

from hardtack.errors import HardtackError, NotOnShelf, Problem
from hardtack.ledger import Edit, change, edit_at, head, history, redo, undo
from hardtack.product.document import place_words
from hardtack.product.tree import Tree, read_tree
from hardtack.web import edits
from hardtack.web.answers import answer_page
from hardtack.web.desk import Answer, answer, answer_at_once, read, water, water_numbers
from hardtack.web.forms import Field, Forms, Group, schema
from hardtack.web.pages import file_name, name_of
from hardtack.web.show import ledger_of, page, render
from hardtack.web.shown import Figure, by_provenance, live_figure, statement_figures, water_figure
from hardtack.web.stages import STAGES, Stage, keys_of, stage
from hardtack.web.telling import given_on, told_of
from hardtack.web.why import Why, why_computed, why_failure, why_used

router = APIRouter(prefix="/p/{product}")
LOOK_BACK = 15
"""States looked at for the last one that computes, while the present one has something to mend."""


@dataclass(frozen=True, slots=True)
class Said:
    """What stands beside a form: the answer of the state `seq`, which is the last one that computes."""

    answer: Answer
    seq: int
    problems: tuple[Problem, ...]
    figure: Figure | None

    @property
    def more(self) -> bool:
        """Whether the whole statement says more: what the error of a computed isotherm does."""
        known = self.answer.known
        return known is not None and any(layer.formula is not None for layer in known.product.layers)


def said_of(request: Request, edit: Edit, ask: Callable[..., Answer] = answer_at_once) -> Said:
    """The answer for a state, or for the last one before it that computes, with what is in the way."""
    ledger, product = ledger_of(request), edit.step.product
    now = ask(edit.text, ledger, product)
    shown, seq = now, edit.step.seq
    for back in range(edit.step.seq - 1, max(0, edit.step.seq - LOOK_BACK), -1):
        if shown.statement is not None:
            break
        shown, seq = ask(edit_at(ledger, product, back).text, ledger, product), back
    drawn = live_figure(shown.statement) if shown.statement is not None else None
    return Said(shown, seq, now.problems, drawn)


def _tree(text: str) -> Tree:
    """The file's text as far as it is YAML; an empty one where it is none."""
    try:
        return read_tree(text, "product file")
    except HardtackError:
        return Tree("product file")


def parts_of(at: Stage, text: str, problems: tuple[Problem, ...]) -> tuple[Any, ...]:
    """The parts of a stage's form, and the problems that none of them shows."""
    forms = Forms(_tree(text), problems)
    parts = forms.parts(keys_of(at, tuple(schema()["properties"])))
    if not problems:
        return parts, ()
    elsewhere = (part for each in STAGES if each is not at for part in forms.parts(each.keys))
    return parts, forms.unplaced((*parts, *elsewhere))


@router.get("")
def product(product: str) -> Response:
    """A product's own address leads to its statement."""
    return RedirectResponse(f"/p/{product}/statement", 303)


@router.post("/undo")
@router.post("/redo")
async def step_back(request: Request, product: str) -> Response:
    """One step back or forth; then the page it was asked from."""
    async with request.form(max_files=0, max_fields=5) as form:
        back = str(form.get("back", "statement"))
    walk = undo if request.url.path.endswith("/undo") else redo
    await run_in_threadpool(walk, ledger_of(request), product)
    known = back if back.replace("-", "").isalnum() else "statement"
    return RedirectResponse(f"/p/{product}/{known}", 303)


@router.get("/statement")
def statement(request: Request, product: str, state: int | None = None) -> Response:
    """The keeping statement: a sentence first, then why, pictures, and everything it leans on."""
    edit = _edit(request, product, state)
    said = said_of(request, edit, answer)
    found = said.answer.statement
    return page(
        request, "statement.html", **shared(edit, "statement"), said=said, statement=found,
        figures=statement_figures(found) if found is not None else (),
        groups=by_provenance(found.used) if found is not None else (),
    )  # fmt: skip


@router.get("/water")
def water_page(request: Request, product: str) -> Response:
    """The water at rest: doughs, layers, where they meet."""
    edit = head(ledger_of(request), product)
    reading = read(edit.text, ledger_of(request), product)
    try:
        report = water(reading)
    except HardtackError as error:
        return page(
            request, "water.html", **shared(edit, "water"), report=None, problems=error.problems, drawn=None
        )
    from hardtack.keeping import water_words
    from hardtack.keeping.water_report import TABLE

    numbers = water_numbers(reading)
    return page(
        request, "water.html", **shared(edit, "water"), report=report, problems=(), words=water_words,
        drawn=water_figure(report), groups=by_provenance(report.used), computed=numbers,
        places={number.what: place for place, number in enumerate(numbers)}, activities=TABLE,
    )  # fmt: skip


@router.get("/statement/rest")
def rest(request: Request, product: str, state: int) -> Response:
    """What a statement given at once leaves for later: the date with the isotherm's error, in words."""
    edit = edit_at(ledger_of(request), product, state)
    found = answer(edit.text, ledger_of(request), product).statement
    told = found.cautions[: len(found.isotherm_errors)] if found is not None else ()
    return HTMLResponse(render("_rest.html", told=told))


@router.get("/why/{kind}/{number}")
def why(request: Request, product: str, kind: str, number: int, state: int | None = None) -> Response:
    """One number opened to its equation, inputs, source and provenance."""
    edit = _edit(request, product, state)
    opened, seq, here, leaner = None, edit.step.seq, kind.removeprefix("computed-"), kind
    if kind in ("used", "failure"):
        said = said_of(request, edit, answer)
        found, known, seq, here, leaner = (
            said.answer.statement,
            said.answer.reading.product,
            said.seq,
            "statement",
            "used",
        )
        if found is not None and known is not None:
            opened = why_used(found.used, known, number) if kind == "used" else why_failure(found, number)
    else:
        leaner, query = here, dict(request.query_params)
        opened = _why_answer(request, edit, here, kind != here, number, query)
    if opened is None:
        raise NotOnShelf("the answer has no such number", "open one from its page")
    target = next((s.slug for s in STAGES if opened.place.split("/")[0] in s.keys), "")
    given = "".join(f"&{urlencode({k: v})}" for k, v in request.query_params.items() if k != "state")
    return page(
        request,
        "why.html",
        **shared(edit, here),
        why=opened,
        target=target,
        seq=seq,
        leaner=leaner,
        given=given,
    )


def _why_answer(
    request: Request, edit: Edit, slug: str, computed: bool, number: int, query: dict[str, str]
) -> Why | None:
    """A number of the water's page or of one of the answers': one it leans on, or one it comes to."""
    ledger = ledger_of(request)
    reading = read(edit.text, ledger, edit.step.product)
    at = answer_page(slug)
    if reading.product is None or (at is None and slug != "water"):
        return None
    if at is None:
        used, comes_to = water(reading).used, water_numbers(reading)
    else:
        told = told_of(ledger, edit, at, given_on(at, query))
        used, comes_to = told.used, told.computed
    return why_computed(comes_to, used, number) if computed else why_used(used, reading.product, number)


@router.get("/figure/{slug}.svg")
def figure_svg(request: Request, product: str, slug: str, state: int | None = None) -> Response:
    """A picture drawn here, for browsers without scripts and for saving."""
    from hardtack.pictures.render import svg

    drawn = _figure(request, product, slug, state)
    return Response(svg(drawn.spec), media_type="image/svg+xml")


@router.get("/figure/{slug}.json")
def figure_spec(request: Request, product: str, slug: str, state: int | None = None) -> Response:
    """A picture's specification, which the page draws."""
    return JSONResponse(_figure(request, product, slug, state).spec)


@router.get("/history")
def history_page(request: Request, product: str) -> Response:
    """Every state, the last one first."""
    ledger = ledger_of(request)
    edit = head(ledger, product)
    steps = tuple(reversed(history(ledger, product)))
    return page(request, "history.html", **shared(edit, "history"), steps=steps)


@router.post("/history")
async def back_to(request: Request, product: str) -> Response:
    """The present state becomes that of an earlier one; those between stay in the history."""
    async with request.form(max_files=0, max_fields=5) as form:
        wanted = str(form.get("state", ""))
    if not wanted.isdigit() or len(wanted) > 9:
        raise HardtackError("which state?", "choose one in the history")
    ledger = ledger_of(request)

    def back() -> None:
        old = edit_at(ledger, product, int(wanted))
        change(ledger, product, lambda _: old.text, f"back to state {wanted}")

    await run_in_threadpool(back)
    return RedirectResponse(f"/p/{product}/statement", 303)


@router.get("/file")
def file_page(request: Request, product: str) -> Response:
    """The product file, to read, edit and take along."""
    edit = head(ledger_of(request), product)
    said = said_of(request, edit)
    return page(
        request, "file.html", **shared(edit, "file"), text=edit.text, said=said, problems=said.problems
    )


@router.post("/file")
async def save_file(request: Request, product: str) -> Response:
    """The whole file at once. It is kept even with something to mend; only a stale one is refused."""
    async with request.form(max_files=0, max_fields=5, max_part_size=500_000) as form:
        text = str(form.get("text", "")).replace("\r\n", "\n")
        base = str(form.get("seq", ""))
    ledger = ledger_of(request)
    try:
        based_on = int(base) if base.isdigit() and len(base) < 10 else -1
        await run_in_threadpool(change, ledger, product, lambda _: text, "the file edited", "", based_on)
    except HardtackError as error:
        if isinstance(error, NotOnShelf):
            raise
        edit = await run_in_threadpool(head, ledger, product)
        said = await run_in_threadpool(said_of, request, edit)
        return page(
            request,
            "file.html",
            status=409,
            **shared(edit, "file"),
            text=text,
            said=said,
            problems=error.problems,
        )
    return RedirectResponse(f"/p/{product}/file", 303)


@router.get("/file/download")
def download(request: Request, product: str) -> Response:
    """The product file as a file."""
    edit = head(ledger_of(request), product)
    headers = {"content-disposition": f'attachment; filename="{file_name(edit.text)}.yaml"'}
    return PlainTextResponse(edit.text, headers=headers, media_type="application/yaml")


@router.get("/{slug}")
def stage_page(request: Request, product: str, slug: str) -> Response:
    """A stage with its form, and what the product comes to beside it."""
    edit = head(ledger_of(request), product)
    return page(request, "stage.html", **_stage_shown(request, edit, _stage(slug)))


@router.post("/{slug}")
async def save_stage(request: Request, product: str, slug: str) -> Response:
    """What a form without scripts sends: every field, and perhaps a button."""
    at = _stage(slug)
    sent = await _sent(request)
    ledger = ledger_of(request)
    deed = sent.get("act", "")

    def save() -> str:
        changed = edits.changes(_base(request, product, sent).text, sent)
        if changed:
            place = changed[0][0] if len(changed) == 1 else ""
            change(ledger, product, lambda old: edits.apply(old, changed), edits.words_of(changed), place)
        if deed:
            change(ledger, product, lambda old: edits.act(old, deed, sent), edits.act_words(deed))
            return "#" + Group(_acted_on(deed), "", "").id
        return ""

    try:
        anchor = await run_in_threadpool(save)
    except HardtackError as error:
        if isinstance(error, NotOnShelf):
            raise
        edit = await run_in_threadpool(head, ledger, product)
        shown = await run_in_threadpool(_stage_shown, request, edit, at)
        shown["unplaced"] = (*error.problems, *shown["unplaced"])
        return page(request, "stage.html", status=422, **shown)
    return RedirectResponse(f"/p/{product}/{at.slug}{anchor}", 303)


@router.post("/{slug}/live")
async def live(request: Request, product: str, slug: str) -> Response:
    """One changed field: kept, computed, and what the page shows of it in one answer."""
    at = _stage(slug)
    sent = await _sent(request)
    return JSONResponse(await run_in_threadpool(_live, request, product, at, sent))


def _live(request: Request, product: str, at: Stage, sent: dict[str, str]) -> dict[str, Any]:
    ledger = ledger_of(request)
    base = _base(request, product, sent)
    changed = edits.changes(base.text, sent)
    refused: tuple[Problem, ...] = ()
    edit = base
    if "rows" in sent:
        where, row, column = sent["where"], int(sent["row"]), int(sent["column"])
        edit = change(
            ledger,
            product,
            lambda old: edits.paste(old, where, sent["rows"], row, column),
            "rows pasted",
            where,
        )
    elif changed:
        try:
            place = changed[0][0] if len(changed) == 1 else ""
            edit = change(
                ledger, product, lambda old: edits.apply(old, changed), edits.words_of(changed), place
            )
        except HardtackError as error:
            refused = error.problems
            edit = head(ledger, product)
    said = said_of(request, edit)
    parts, unplaced = parts_of(at, edit.text, said.problems)
    return {
        "seq": edit.step.seq,
        "says": render("_says.html", said=said, edit=edit, name=name_of(edit.text)),
        "spec": said.figure.spec if said.figure else None,
        "wrong": {
            id: [f"{p.what}: {p.mend}" for p in problems] for id, problems in _wrong_by_id(parts).items()
        },
        "unplaced": render("_problems.html", problems=(*refused, *unplaced)),
        "name": name_of(edit.text),
        "can_undo": edit.can_undo,
        "can_redo": edit.can_redo,
        "form": render("_form.html", parts=parts, edit=edit) if "rows" in sent else None,
    }


def _wrong_by_id(parts: Any) -> dict[str, tuple[Problem, ...]]:
    found: dict[str, tuple[Problem, ...]] = {}
    for part in parts:
        if part.wrong:
            found[part.id] = part.wrong
        if isinstance(part, Field):
            continue
        found |= _wrong_by_id(part.parts)
        if part.grid is not None:
            for row in (*part.grid.rows, *part.grid.rest):
                found |= _wrong_by_id(row)
    return found


def _stage(slug: str) -> Stage:
    at = stage(slug)
    if at is None:
        raise HTTPException(404)
    return at


def _stage_shown(request: Request, edit: Edit, at: Stage) -> dict[str, Any]:
    said = said_of(request, edit)
    parts, unplaced = parts_of(at, edit.text, said.problems)
    return {**shared(edit, at.slug), "stage": at, "parts": parts, "unplaced": unplaced, "said": said}


def shared(edit: Edit, here: str) -> dict[str, Any]:
    """What every page of a product shows: its state, its name, and where one is."""
    return {"edit": edit, "here": here, "name": name_of(edit.text)}


def _edit(request: Request, product: str, state: int | None) -> Edit:
    ledger = ledger_of(request)
    return head(ledger, product) if state is None else edit_at(ledger, product, state)


def _base(request: Request, product: str, sent: dict[str, str]) -> Edit:
    """The state a form was made from: what differs from it was changed by whoever sends the form."""
    seq = sent.get("seq", "")
    if not seq.isdigit() or len(seq) > 9:
        return head(ledger_of(request), product)
    return edit_at(ledger_of(request), product, int(seq))


async def _sent(request: Request) -> dict[str, str]:
    async with request.form(max_files=0, max_fields=5000, max_part_size=500_000) as form:
        return {name: value for name, value in form.multi_items() if isinstance(value, str)}


def _acted_on(deed: str) -> str:
    kind, _, rest = deed.partition(":")
    place = rest.rpartition(":")[0] if kind in ("add", "open") else rest
    parts = tuple(place.split("/"))
    return place_words(parts[:-1]) if kind in ("out", "up", "down", "again") and len(parts) > 1 else place


def _figure(request: Request, product: str, slug: str, state: int | None) -> Figure:
    edit = _edit(request, product, state)
    ledger = ledger_of(request)
    if slug == "isotherms":
        return water_figure(water(read(edit.text, ledger, product)))
    if (at := answer_page(slug)) is not None:
        drawn = told_of(ledger, edit, at, given_on(at, request.query_params)).drawn
        if drawn is not None:
            return drawn
    found = said_of(request, edit).answer.statement
    figures = (*statement_figures(found), live_figure(found)) if found is not None else ()
    for each in figures:
        if each.slug == slug:
            return each
    raise NotOnShelf("there is no such picture", "open one from its page")
