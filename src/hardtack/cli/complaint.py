"""`hardtack complaint`: which cause explains what was found, and what to measure to be sure."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

if TYPE_CHECKING:
    from hardtack.keeping.complaint import Complaint

SHOWN = 6
"""Measurements that are listed."""
EFFORT = {1.0: "a look", 2.0: "the bench", 3.0: "the laboratory"}


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
    from rich.table import Table
    from rich.text import Text

    from hardtack.cli.show import console, show_section

    out = console()
    out.print(Text(f"{answer.product}, day {answer.day:.0f}: {', '.join(answer.found)}"))
    out.print(Text(answer.sentence, style="bold"))
    out.print()
    out.print(Text("Causes, by what is believed of them after what was found", style="underline"))
    table = Table(box=None, padding=(0, 2, 0, 2), header_style="dim")
    for name in ("cause", "before", "after", "fits best as", "it would then show"):
        table.add_column(name, justify="right" if name in ("before", "after") else "left")
    for one in answer.causes:
        shown = ", ".join(one.expected) or "the same words"
        table.add_row(one.name, f"{one.before:.0%}", f"{one.after:.0%}", one.best, shown)
    out.print(table)
    if answer.telling:
        out.print()
        out.print(Text("What would tell the first two apart", style="underline"))
        table = Table(box=None, padding=(0, 2, 0, 2), header_style="dim")
        for name in ("measure", "names the right one", "under the first", "under the second", "takes"):
            table.add_column(name, justify="right" if name == "names the right one" else "left")
        for best in answer.telling[:SHOWN]:
            table.add_row(
                best.what, f"{best.right:.0%}", best.first, best.second, EFFORT.get(best.effort, "work")
            )
        out.print(table)
    show_section(out, "To know", answer.remarks)
