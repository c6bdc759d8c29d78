"""From a file or a text to a `Product`, or to one error that holds every problem."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from pydantic import ValidationError

from hardtack.errors import HardtackError, Problem
from hardtack.product.base import Model
from hardtack.product.checks import check
from hardtack.product.complete import complete
from hardtack.product.journey_checks import read_loggers, read_weathers
from hardtack.product.quantities import Origin
from hardtack.product.schema import VERSION, Product
from hardtack.product.tree import LARGEST, Tree, read_tree
from hardtack.sourced import PROVENANCES

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

AnyModel = TypeVar("AnyModel", bound=Model)


def load(path: str | Path) -> Product:
    """Read the product file at `path`.

    Raises `HardtackError` with every problem: file, line, what is wrong, how to mend it.
    """
    path = Path(path)
    product = loads(text_of(path), str(path), path.parent)
    product._file = path
    return product


def loads(text: str, name: str = "product file", folder: str | Path | None = None) -> Product:
    """Read a product file's text. `name` stands in messages; logger files are looked for in `folder`.

    Raises `HardtackError` with every problem found.
    """
    tree = read_tree(text.removeprefix("﻿"), name)
    _check_version(tree)
    origin = origin_of(tree, Path(name).name)
    complete(tree, origin)
    check(tree, origin)
    beside = None if folder is None else Path(folder)
    loggers, weathers = read_loggers(tree, beside, origin), read_weathers(tree, beside)
    product = model_of(tree, Product, origin)
    product._lines = dict(tree.lines)
    product._loggers = loggers
    product._weathers = weathers
    return product


def text_of(path: Path) -> str:
    """The text of a YAML file. Raises `HardtackError` when it is not there, far too long or no UTF-8."""
    name = str(path)
    try:
        if path.is_dir():
            raise HardtackError(Problem("this is a folder", "name the product file in it", name))
        if path.stat().st_size > 4 * LARGEST:
            raise HardtackError(Problem("the file is far too long", "give a product file", name))
        data = path.read_bytes()
    except (FileNotFoundError, NotADirectoryError, ValueError):
        raise HardtackError(Problem("there is no such file", _near(path), name)) from None
    except OSError as error:
        raise HardtackError(Problem(f"the file cannot be opened ({error.strerror})", "", name)) from None
    return _decoded(data, name)


def model_of(tree: Tree, model: type[AnyModel], origin: Origin) -> AnyModel:
    """The file's root as a frozen model; what is wrong with it joins the tree's own problems.

    Raises `HardtackError` with all of them, by line.
    """
    made = None
    try:
        made = model.model_validate(tree.root, context={"tree": tree, "origin": origin})
    except ValidationError as error:
        tree.problems.extend(
            _problem(tree, details)
            for details in error.errors(include_url=False)
            if details["type"] != "missing"
        )
        if not tree.problems:  # a missing key that no check has named
            tree.problems.extend(_problem(tree, details) for details in error.errors(include_url=False))
    if tree.problems or made is None:
        raise HardtackError(sorted(dict.fromkeys(tree.problems), key=_by_line))
    return made


def _by_line(problem: Problem) -> tuple[str, int]:
    return problem.file, problem.line or 0


def _check_version(tree: Tree) -> None:
    found = tree.root.get("hardtack")
    if isinstance(found, str) and found.strip() == str(VERSION):
        return
    line = tree.root.line_of("hardtack")
    if found is None:
        what, mend = "the format version is missing", f"add 'hardtack: {VERSION}' as the first line"
        if len(tree.root) <= 1:
            mend += ", or begin with a starter file: hardtack new cracker"
    else:
        what = f"format version {str(found)[:20]!r} is not known"
        mend = f"write 'hardtack: {VERSION}'; a newer file needs a newer program"
    raise HardtackError([*tree.problems, Problem(what, mend, tree.file, line, "hardtack")])


def origin_of(tree: Tree, file: str) -> Origin:
    """What `origin:` says of numbers that do not state their own."""
    given = tree.root.get("origin")
    if not isinstance(given, str):
        return Origin(file=file)
    head, _, words = given.partition(",")
    known = " ".join(head.lower().split())
    for provenance in PROVENANCES:
        if known == provenance:
            return Origin(provenance, " ".join(words.split()), True, file)
    tree.problem(
        f"'{given[:60]}' does not say how numbers are known",
        f"begin with one of: {', '.join(PROVENANCES)}; words may follow after a comma",
        tree.root.line_of("origin"),
        ("origin",),
    )
    return Origin(file=file)


_WORDS: Mapping[str, tuple[str, str]] = {
    "model_type": ("keys and values belong here", "write its keys below it, indented by two spaces"),
    "dict_type": ("keys and values belong here", "write its keys below it, indented by two spaces"),
    "tuple_type": ("a list belongs here", "begin each item with '- ', indented by two spaces"),
    "string_type": ("plain text belongs here", "write words on one line"),
    "union_tag_not_found": ("this cannot be read", "see docs/product-file.md for what belongs here"),
}


def _problem(tree: Tree, details: ErrorDetails) -> Problem:
    """One error of the schema, with its line and its words."""
    path = _path_in_file(tree, details["loc"])
    context: Mapping[str, Any] = details.get("ctx", {})
    kind = details["type"]
    if kind == "hardtack":
        what, mend = context["what"], context["mend"]
    elif kind == "literal_error":
        what = f"{str(details['input'])[:40]!r} is not known here"
        mend = "one of: " + str(context["expected"]).replace("'", "").replace(" or ", ", ")
    else:
        what, mend = _WORDS.get(kind, (details["msg"], "see docs/product-file.md for what belongs here"))
    return Problem(what, mend, tree.file, tree.lines.get(path), tree.words(path))


def _path_in_file(tree: Tree, loc: tuple[int | str, ...]) -> tuple[str | int, ...]:
    """The schema's place as a path of the file: marks of alternatives and gathered keys fall away."""
    path: tuple[str | int, ...] = ()
    for step in loc:
        if (*path, step) in tree.lines:
            path = (*path, step)
    return path


def _decoded(data: bytes, name: str) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
            what = "the file is UTF-16, not UTF-8"
        else:
            what = f"the byte {data[error.start]:#04x} is not UTF-8"
        line = data.count(b"\n", 0, error.start) + 1
        raise HardtackError(
            Problem(what, "save the file as UTF-8; letters such as ° and ± are the usual cause", name, line)
        ) from None


def _near(path: Path) -> str:
    import difflib

    try:
        names = sorted(entry.name for entry in path.parent.iterdir() if entry.suffix in (".yaml", ".yml"))
    except (OSError, ValueError):
        return "look at the spelling of its folder"
    near = difflib.get_close_matches(path.name, names, n=1)
    if near:
        return f"perhaps {path.with_name(near[0])}"
    return f"in that folder are: {', '.join(names[:10])}" if names else "make one with: hardtack new cracker"
