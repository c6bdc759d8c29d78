"""`hardtack dough`: a dough from its formula."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

AsJson = Annotated[bool, Parameter(name="--json", negative="")]


def dough(file: Path, /, *, as_json: AsJson = False, picture: Path | None = None) -> None:
    """Work out the doughs of a file: batch, composition, yield, cost, leavening, structure, label draft.

    Example: hardtack dough examples/formula-soda-cracker.yaml --picture dough.svg

    Parameters
    ----------
    file
        A product file with formulas.
    as_json
        Print the report as JSON with a stable schema (docs/json.md) instead of text.
    picture
        Also draw composition and gas to this file; .svg or .png.
    """
    from hardtack.keeping.dough_report import dough_report
    from hardtack.product import load

    report = dough_report(load(file))
    if picture is not None:
        from hardtack.pictures.dough import dough_picture
        from hardtack.pictures.render import write_picture

        write_picture(dough_picture(report), picture)
    if as_json:
        from hardtack.cli.commands import print_json
        from hardtack.keeping.dough_as_json import dough_json

        print_json(dough_json(report))
        return
    from hardtack.cli.show_dough import show_dough

    show_dough(report)
    if picture is not None:
        print(f"\nPicture written to {picture}")
