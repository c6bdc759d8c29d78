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
    days: float | None = None,
    share: str = "",
    confidence: str = "",
    tradeoff: tuple[str, str] | None = None,
    complaint: Path | None = None,
    sweep: Path | None = None,
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
    days
        Days wanted: adds the remedies that give them, with their specification lines. Takes some seconds to a minute.
    share
        Share of the packs that must still be good, such as 0.9: adds how sure the date is and what to measure next, which
        takes a minute or more.
    confidence
        How sure that must be, such as 0.8; share and confidence are 90 % and 80 % where only the other is given.
    tradeoff
        Two inputs of the file by name, such as --tradeoff "biscuit: moisture" "pack: area": adds the days over both.
    complaint
        A complaint file: adds which cause explains it best, and what would tell.
    sweep
        The folder of a sweep: adds what it came to.
    """
    from hardtack.cli.given import part_of
    from hardtack.cli.progress import progress
    from hardtack.product import load
    from hardtack.product.found_spec import load_found
    from hardtack.report.build import keeping_report
    from hardtack.report.decision import Wanted, decision
    from hardtack.report.write import check_place, write_report

    for path in output:
        check_place(path)
    wanted = Wanted(
        part_of(share, "--share") if share else None,
        part_of(confidence, "--confidence") if confidence else None,
        days,
        tradeoff,
        load_found(complaint) if complaint is not None else None,
        sweep,
    )
    product = load(file)
    with progress("Working out what was asked") as step:
        known = decision(product, wanted, step)
    made = keeping_report(product, title=title, author=author, known=known)
    for path in output:
        write_report(made, path)
    print(made.sentence)
    for path in output:
        print(f"Report written to {path}")
