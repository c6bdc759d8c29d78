"""`hardtack report`: the whole answer as a document."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter


def report(
    file: Path,
    /,
    *,
    output: Annotated[list[Path], Parameter(name=["--output", "-o"], negative="")],
    title: str = "",
    author: str = "",
) -> None:
    """Write the keeping report: product, answer, why, states, failures, specification lines, numbers, evidence, cautions.

    Example: hardtack report examples/savoury-sandwich-cracker.yaml -o sandwich.pdf

    Parameters
    ----------
    file
        A product file.
    output
        The file to write; .pdf (tagged), .html (no scripts, nothing fetched) or .xlsx (tables and charts). May be given
        several times: all forms then come from one run.
    title
        Title of the report; without it, the product's name.
    author
        Who answers for it.
    """
    from hardtack.product import load
    from hardtack.report.build import keeping_report
    from hardtack.report.write import check_place, write_report

    for path in output:
        check_place(path)
    made = keeping_report(load(file), title=title, author=author)
    for path in output:
        write_report(made, path)
    print(made.sentence)
    for path in output:
        print(f"Report written to {path}")
