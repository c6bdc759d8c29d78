"""`hardtack complaint`: which cause explains what was found, and what to measure to be sure."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

if TYPE_CHECKING:
    from hardtack.keeping.complaint import Complaint


def complaint(
    file: Path,
    found: Path,
    /,
    *,
    as_json: Annotated[bool, Parameter(name="--json", negative="")] = False,
    picture: Path | None = None,
) -> None:
    """Weigh what may lie behind a complaint by re-runs, and name the one measurement that decides between the first two.

    Example: hardtack complaint examples/hard-biscuit-plain.yaml examples/data/complaint-soft-biscuits.yaml

    Parameters
    ----------
    file
        The product file, as the product was meant to be.
    found
        A complaint file: the day, what was measured and seen (docs/complaints.md).
    as_json
        Print as JSON with a stable schema (docs/json.md) instead of text.
    picture
        Draw the causes' shares of belief and what would tell them apart to this file; .svg or .png.
    """
    from hardtack.cli.progress import progress
    from hardtack.keeping.complaint import complaint as weigh
    from hardtack.product import load
    from hardtack.product.found_spec import load_found

    product, what = load(file), load_found(found)
    with progress("Re-running causes") as step:
        answer = weigh(product, what, step)
    if picture is not None:
        from hardtack.pictures.complaint import complaint_picture
        from hardtack.pictures.render import write_picture

        write_picture(complaint_picture(answer), picture)
    if as_json:
        from hardtack.cli.commands import print_json
        from hardtack.keeping.complaint_as_json import complaint_json

        print_json(complaint_json(answer))
        return
    show_complaint(answer)
    if picture is not None:
        print(f"\nPicture written to {picture}")


def show_complaint(answer: Complaint) -> None:
    """Causes and measurements for a person."""
    from rich.text import Text

    from hardtack.cli.show import console, show_section, show_sections
    from hardtack.keeping.bought_told import complaint_sections

    out = console()
    out.print(Text(f"{answer.product}, day {answer.day:.0f}: {', '.join(answer.found)}"))
    out.print(Text(answer.sentence, style="bold"))
    show_sections(out, complaint_sections(answer))
    show_section(out, "To know", answer.remarks)
