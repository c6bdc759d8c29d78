"""Measurements on the page: a file comes, what was understood is shown, what is open is asked, a fit is put in."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from sqlalchemy import Engine
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from hardtack.errors import HardtackError, Problem
from hardtack.ledger import bring_file, brought_file, brought_files, change, head
from hardtack.product import Product
from hardtack.web.desk import brought_folder, read
from hardtack.web.fits import FITS, asks_files, fitted
from hardtack.web.product_pages import shared
from hardtack.web.show import ledger_of, page

if TYPE_CHECKING:
    from hardtack.measurements.answers import Answers
    from hardtack.measurements.fit_answer import FitAnswer
    from hardtack.measurements.into import Entry

router = APIRouter(prefix="/p/{product}/measurements")
LARGEST = 10_000_000
"""Bytes of one file."""
_SUFFIXES = (".csv", ".tsv", ".txt", ".xlsx")
_KEEPS = re.compile(r" \(--answer '[^']*' keeps such rows\)")
_ASKED = re.compile(r"--answer '(.+?): ([^']*)'(?: \(or: ([^)]*)\))?")


@dataclass(frozen=True, slots=True)
class Question:
    """What a file leaves open: the question's key, its words, and what may be answered."""

    key: str
    what: str
    example: str
    choices: tuple[str, ...]


@router.get("")
def list_page(request: Request, product: str) -> Response:
    """The files brought with the product, and a place for a new one."""
    edit = head(ledger_of(request), product)
    files = brought_files(ledger_of(request), product)
    return page(request, "measurements.html", **shared(edit, "measurements"), files=files, problems=())


@router.post("")
async def bring(request: Request, product: str) -> Response:
    """A file is kept as it came; then it is read."""
    async with request.form(max_files=1, max_fields=3) as form:
        brought = form.get("file")
        if not isinstance(brought, UploadFile) or not brought.filename:
            raise HardtackError("no file came", "choose one")
        name, data = brought.filename[-200:], await brought.read(LARGEST + 1)
    if len(data) > LARGEST:
        raise HardtackError(f"the file is larger than {LARGEST // 1_000_000} MB", "save the sheet alone")
    if Path(name).suffix.lower() not in _SUFFIXES:
        raise HardtackError("this is no measurement file", f"bring one of: {', '.join(_SUFFIXES)}")
    ledger = ledger_of(request)
    await run_in_threadpool(head, ledger, product)
    kept = await run_in_threadpool(bring_file, ledger, product, name, data)
    return RedirectResponse(f"/p/{product}/measurements/{kept.id}", 303)


@router.get("/{file}")
def file_page(request: Request, product: str, file: str) -> Response:
    """One file: what was understood, what is open, and the fits; answers stand in the address."""
    from hardtack.measurements.reading import read_table
    from hardtack.measurements.table import told_aside
    from hardtack.pictures.fit import fit_picture

    ledger = ledger_of(request)
    edit = head(ledger, product)
    name, data = brought_file(ledger, product, file)
    given = dict(request.query_params)
    known = read(edit.text, ledger, product).product
    shown: dict[str, Any] = {
        "questions": (),
        "table": None,
        "problems": (),
        "fitted": None,
        "entries": (),
        "spec": None,
        "beside_told": (),
    }
    try:
        with on_disk(name, data) as path, _beside(ledger, product, given) as beside:
            table = read_table(path, said_in(given))
            shown["table"] = table
            shown["told"] = [_named(line, path, name) for line in table.told]
            if given.get("fit"):
                found = fitted(given["fit"], path, said_in(given), given, known, beside)
                shown["fitted"] = found
                tabled = {str(estimate) for estimate in found.estimates}
                told = [
                    line
                    for line in (*found.told, *told_aside(found.aside, "Not in the fit"))
                    if line not in tabled
                ]
                shown["fit_told"] = [_named(line, path, name) for line in told]
                shown["beside_told"] = [
                    line.replace(f"{at.parent}/", "") for at, other in zip(beside.values(), found.tables[1:], strict=False)
                    for line in other.told
                ]  # fmt: skip
                shown["spec"] = fit_picture(found)
                shown["entries"] = entries_of(found, known, given.get("layer", ""))
    except HardtackError as error:
        shown["questions"], shown["problems"] = _questions(error.problems)
    layers = [layer.name for layer in known.layers] if known else []
    return page(
        request, "measurement.html", **shared(edit, "measurements"), file=file, file_name=name, given=given,
        fits=FITS, layers=layers, other_files=[each for each in brought_files(ledger, product) if each.id != file], entry_words=entry_words, **shown,
    )  # fmt: skip


@router.post("/{file}")
async def put_in(request: Request, product: str, file: str) -> Response:
    """A fitted value goes into the product file; the statement then shows what it did."""
    async with request.form(max_files=0, max_fields=200) as form:
        given = {name: value for name, value in form.multi_items() if isinstance(value, str)}
    ledger = ledger_of(request)

    def fit_and_write() -> None:
        name, data = brought_file(ledger, product, file)
        edit = head(ledger, product)
        known = read(edit.text, ledger, product).product
        with on_disk(name, data) as path, _beside(ledger, product, given) as beside:
            found = fitted(given.get("fit", ""), path, said_in(given), given, known, beside)
        entries = entries_of(found, known, given.get("layer", ""))
        if not entries:
            raise HardtackError("this result has no place in a product file", "read it on the page")
        change(
            ledger,
            product,
            lambda text: _written(text, entries, ledger, product),
            f"{found.kind} from {name}",
        )

    await run_in_threadpool(fit_and_write)
    return RedirectResponse(f"/p/{product}/statement", 303)


@contextmanager
def _beside(ledger: Engine, product: str, given: Mapping[str, str]) -> Iterator[dict[str, Path]]:
    """The other files that a fit takes, on the disk for a while."""
    with ExitStack() as open_files:
        found = {}
        for ask in asks_files(given.get("fit", "")):
            wanted = given.get(f"ask.{ask}", "")
            if wanted:
                found[ask] = open_files.enter_context(on_disk(*brought_file(ledger, product, wanted)))
        yield found


def _named(line: str, path: Path, name: str) -> str:
    """A line of the reader's as it speaks to who sits before the page: the file by its own name."""
    line = line.replace(str(path), name)
    return _KEEPS.sub("", line)


def entry_words(value: object) -> str:
    """A value for the product file, as it will stand there."""
    if value is None:
        return "taken out"
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key}: {entry_words(held)}" for key, held in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(entry_words(held) for held in value) + "]"
    return str(value)


def entries_of(found: FitAnswer, known: Product | None, layer: str) -> tuple[Entry, ...]:
    """What the result would write into the product file; nothing where it has no place there."""
    return found.places(known, layer) if found.places is not None and known is not None else ()


def _written(text: str, entries: tuple[Entry, ...], ledger: Engine, product: str) -> str:
    from hardtack.measurements.into import write_entries

    with brought_folder(ledger, product) as folder:
        file = folder / "product file.yaml"
        file.write_text(text, "utf-8", newline="\n")
        write_entries(file, entries)
        return file.read_text("utf-8")


def said_in(given: Mapping[str, str]) -> Answers:
    """The answers among the fields of an address or a form: ``say.moisture basis``, ``column.Water``."""
    from hardtack.measurements.answers import answers

    lines = [f"{k[4:]}: {v}" for k, v in given.items() if k.startswith("say.") and v.strip()]
    lines += [f"column {k[7:]}: {v}" for k, v in given.items() if k.startswith("column.") and v.strip()]
    return answers(lines)


@contextmanager
def on_disk(name: str, data: bytes) -> Iterator[Path]:
    """A file's bytes as a file for a while, in a folder and under a name of ours: nothing the browser calls a
    file becomes a place on the disk."""
    suffix = Path(name).suffix.lower()
    letters = "".join(c if c.isalnum() or c in " -_" else "-" for c in Path(name).stem)
    plain = letters.encode("ascii", "ignore").decode()[:60].strip() or "file"
    with tempfile.TemporaryDirectory(prefix="hardtack-") as folder:
        target = Path(folder) / f"{plain}{suffix if suffix in _SUFFIXES else '.csv'}"
        target.write_bytes(data)
        yield target


def _questions(problems: tuple[Problem, ...]) -> tuple[tuple[Question, ...], tuple[Problem, ...]]:
    """What can be answered on the page, and what cannot."""
    from hardtack.measurements.answers import CHOICES

    asked, rest = [], []
    for problem in problems:
        found = _ASKED.search(problem.mend)
        if found is None:
            rest.append(problem)
            continue
        key, example, _ = found.groups()
        if key.startswith("column "):
            asked.append(Question(f"column.{key[7:]}", problem.what, example, ()))
            continue
        choices = CHOICES.get(key, ())
        free = not choices or re.match(r"(a|the) ", choices[0])
        asked.append(Question(f"say.{key}", problem.what, example, () if free else choices))
    return tuple({question.key: question for question in asked}.values()), tuple(rest)
