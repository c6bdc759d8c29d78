"""The commands. Heavy rooms are opened inside each, so that `--help` answers at once."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import App, CycloptsError, Parameter

from hardtack.cli.certainty import certainty, measure_next
from hardtack.cli.complaint import complaint
from hardtack.cli.dough import dough
from hardtack.cli.fit import app as fit_app
from hardtack.cli.oven import oven
from hardtack.cli.picture import picture
from hardtack.cli.plan import plan
from hardtack.cli.remedies import remedies, tradeoff
from hardtack.cli.report import report
from hardtack.cli.serve import serve
from hardtack.cli.sweep import sweep
from hardtack.errors import HardtackError, Problem
from hardtack.version import VERSION

if TYPE_CHECKING:
    from hardtack.product import Product

USER_ERROR = 2
AsJson = Annotated[bool, Parameter(name="--json", negative="")]

app = App(
    name="hardtack",
    version=VERSION,
    suppress_keyboard_interrupt=False,  # `main` says so itself
    help_format="plaintext",
    help="""How long a baked product keeps, why, and on which assumptions.

Start with a product file: `hardtack new cracker > mine.yaml`, change its numbers to yours, then
`hardtack keep mine.yaml`.""",
    help_epilogue="Errors go to the error stream with file and line; the exit code is then 2.",
)
app.command(fit_app)
app.command(plan)
app.command(remedies)
app.command(tradeoff)
app.command(complaint)
app.command(serve)


@app.command
def keep(file: Path, /, *, as_json: AsJson = False, picture: Path | None = None) -> None:
    """Say when the product first fails on its journey, why, and on which assumptions.

    Example: hardtack keep examples/lean-cracker-humid-coast.yaml --picture cracker.svg

    Parameters
    ----------
    file
        A product file (make one with `hardtack new`).
    as_json
        Print the whole statement as JSON with a stable schema (docs/json.md) instead of text.
    picture
        Also draw the activity ladder and the journey to this file; .svg or .png. `hardtack picture` draws the others.
    """
    from hardtack.keeping import keep as keep_product
    from hardtack.product import load

    statement = keep_product(load(file))
    if picture is not None:
        from hardtack.pictures import keeping_picture, write_picture

        write_picture(keeping_picture(statement), picture)
    if as_json:
        from hardtack.keeping.as_json import statement_json

        print_json(statement_json(statement))
        return
    from hardtack.cli.show import show_statement

    show_statement(statement)
    if picture is not None:
        print(f"\nPicture written to {picture}")


@app.command
def why(file: Path, failure: str = "", /, *, as_json: AsJson = False) -> None:
    """Show how one failure was computed: equation, numbers with their origin, share of life used leg by leg, source.

    Example: hardtack why examples/crusty-loaf-in-plastic.yaml crust

    Parameters
    ----------
    file
        A product file.
    failure
        The failure, such as mould or drying-out. Without it, the failures judged are listed.
    as_json
        Print as JSON with a stable schema (docs/json.md) instead of text.
    """
    from hardtack.keeping import keep as keep_product
    from hardtack.keeping.why import why_of
    from hardtack.product import load

    statement = keep_product(load(file))
    if not failure:
        from hardtack.cli.show_why import show_judged

        if as_json:
            from hardtack.keeping.as_json import judged_json

            print_json(judged_json(statement))
            return
        show_judged(statement)
        return
    answers = why_of(statement, failure)
    if as_json:
        from hardtack.keeping.why import why_json

        print_json([why_json(answer) for answer in answers])
        return
    from hardtack.cli.show_why import show_why

    for answer in answers:
        show_why(answer)


@app.command
def water(*files: Path, as_json: AsJson = False, picture: Path | None = None) -> None:
    """Say where the water stands at rest: doughs from their formulas, layers on their isotherms, and where they meet.

    Example: hardtack water examples/formula-sandwich.yaml --picture isotherms.svg

    Parameters
    ----------
    files
        A product file; its layers may name formulas. Several files are a mixed pack that holds each one's pieces.
    as_json
        Print the report as JSON with a stable schema (docs/json.md) instead of text.
    picture
        Also draw the isotherms with the layers' states to this file; .svg or .png.
    """
    from hardtack.keeping.water_report import mixed_report, water_report

    if not files:
        raise HardtackError("no file named", "write: hardtack water my-cracker.yaml")
    products = _loaded(files)
    report = water_report(products[0]) if len(products) == 1 else mixed_report(products)
    if picture is not None:
        from hardtack.pictures.isotherm import isotherm_picture
        from hardtack.pictures.render import write_picture

        write_picture(isotherm_picture(report), picture)
    if as_json:
        from hardtack.keeping.water_as_json import water_json

        print_json(water_json(report))
        return
    from hardtack.cli.show_water import show_water

    show_water(report)
    if picture is not None:
        print(f"\nPicture written to {picture}")


app.command(certainty)
app.command(measure_next)
app.command(dough)
app.command(oven)
app.command(picture)
app.command(report)


@app.command
def where(file: Path, /, *, places: str = "", as_json: AsJson = False, picture: Path | None = None) -> None:
    """Say how long the product keeps over the climates of the store, its journey's last leg, and at places.

    Example: hardtack where examples/lean-cracker-humid-coast.yaml --places Miami,London --picture where.svg

    Parameters
    ----------
    file
        A product file; its legs before the last stay as they are.
    places
        Places of the reference shelf, parted by commas; all of them unless said (`hardtack reference places`).
    as_json
        Print the grid and the places as JSON with a stable schema (docs/json.md) instead of text.
    picture
        Also draw the days over temperature and humidity, with the places, to this file; .svg or .png.
    """
    from hardtack.cli.progress import progress
    from hardtack.keeping.where import where as where_sold
    from hardtack.product import load

    names = [name.strip() for name in places.split(",") if name.strip()]
    product = load(file)
    with progress("Following it through the climates") as step:
        answer = where_sold(product, names or None, step)
    if picture is not None:
        from hardtack.pictures.render import write_picture
        from hardtack.pictures.where import where_picture

        write_picture(where_picture(answer), picture)
    if as_json:
        from hardtack.keeping.where_as_json import where_json

        print_json(where_json(answer))
        return
    from hardtack.cli.where import show_where

    show_where(answer)
    if picture is not None:
        print(f"\nPicture written to {picture}")


app.command(sweep)


@app.command
def new(kind: str = "", /) -> None:
    """Print a commented starter file for a kind of product; redirect it to a file of yours.

    Example: hardtack new cracker > my-cracker.yaml

    Parameters
    ----------
    kind
        The kind of product. Without it, the kinds are listed.
    """
    from hardtack.product import kinds, starter

    if not kind:
        print("Kinds of product with a starter file: " + ", ".join(kinds()))
        print("Example: hardtack new " + kinds()[0] + " > mine.yaml")
        return
    print(starter(kind), end="")


@app.command
def validate(*files: Path) -> None:
    """Read product files and report everything to mend, with file and line, without computing.

    Example: hardtack validate my-cracker.yaml

    Parameters
    ----------
    files
        One or more product files.
    """
    if not files:
        raise HardtackError("no file named", "write: hardtack validate my-cracker.yaml")
    _loaded(files, lambda file, product: print(f"{file}: in order ({product.name})"))


def _loaded(files: Sequence[Path], said: Callable[[Path, Product], None] | None = None) -> list[Product]:
    """Read the files, look up what their formulas name, and say of each that it is in order.

    Raises `HardtackError` with everything to mend in all of them.
    """
    from hardtack.dough import formula_of
    from hardtack.product import load

    products: list[Product] = []
    problems: list[Problem] = []
    for file in files:
        wrong: list[Problem] = []
        try:
            product = load(file)
        except HardtackError as error:
            problems.extend(error.problems)
            continue
        for name in product.formulas:
            try:
                formula_of(product, name)
            except HardtackError as error:
                wrong.extend(error.problems)
        problems.extend(wrong)
        products.append(product)
        if not wrong and said is not None:
            said(file, product)
    if problems:
        raise HardtackError(problems)
    return products


@app.command
def reference(*words: str, as_json: AsJson = False) -> None:
    """Search the reference shelf and print values with unit, conditions, source and provenance.

    Example: hardtack reference cracker

    Parameters
    ----------
    words
        What to look for in names, conditions and notes. Without it, the topics are listed.
    as_json
        Print the rows as JSON.
    """
    from hardtack.cli.show import show_rows, show_topics
    from hardtack.reference import find, rows, topics

    if not words:
        show_topics()
        return
    word = " ".join(words)
    found = rows(word) if word in topics() else find(word)
    if not found:
        raise HardtackError(
            f"nothing on the shelf mentions {word!r}", "`hardtack reference` lists the topics"
        )
    if as_json:
        from hardtack.cli.show import row_json

        print_json([row_json(row) for row in found])
        return
    show_rows(found)


@app.command
def evidence(*, as_json: AsJson = False) -> None:
    """Run every published comparison: predicted, published, error, tolerance, source.

    Example: hardtack evidence

    Parameters
    ----------
    as_json
        Print the rows as JSON: area, data_set, what, predicted, published, error, tolerance, within, inputs (printed by
        the source, or some taken), taken, source.
    """
    from hardtack.evidence import run_evidence

    rows = run_evidence()
    if as_json:
        from dataclasses import asdict

        print_json([asdict(row) | {"inputs": row.inputs} for row in rows])
        return
    from hardtack.cli.show import show_evidence

    show_evidence(rows)


@app.command
def schema() -> None:
    """Print the JSON Schema of the product file, for editors that complete and check as you type.

    Example: hardtack schema > product-file.schema.json
    """
    from hardtack.product import json_schema

    print_json(json_schema())


def print_json(content: Any) -> None:
    """JSON on the output, as text a person can read too."""
    print(json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False))


def main(arguments: list[str] | None = None) -> int:
    """Run the command line; returns the exit code: 0 when answered, 2 when something is to mend."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    try:
        app(
            sys.argv[1:] if arguments is None else arguments,
            exit_on_error=False,
            print_error=False,
            result_action="return_value",
        )
    except HardtackError as error:
        count = len(error.problems)
        if count > 1:
            print(f"{count} things to mend:", file=sys.stderr)
        for problem in error.problems:
            print(problem, file=sys.stderr)
        return USER_ERROR
    except CycloptsError as error:
        print(
            f"{error}\n    mend: `hardtack --help` lists the commands, `hardtack keep --help` one of them",
            file=sys.stderr,
        )
        return USER_ERROR
    except BrokenPipeError:
        # the reader went away (`hardtack evidence | head`): nothing is wrong
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        return 130
    return 0
