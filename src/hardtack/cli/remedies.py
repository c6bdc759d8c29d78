"""`hardtack remedies`, `hardtack tradeoff`: what buys the wanted days, and two inputs against each other."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

if TYPE_CHECKING:
    from hardtack.keeping.remedies import Remedies
    from hardtack.keeping.tradeoff import Tradeoff

AsJson = Annotated[bool, Parameter(name="--json", negative="")]


def remedies(file: Path, /, *, days: float, as_json: AsJson = False, picture: Path | None = None) -> None:
    """Say what gives the wanted days: the least move of every remedy that applies, its other effects and its cost.

    Example: hardtack remedies examples/hard-biscuit-plain.yaml --days 150

    Parameters
    ----------
    file
        A product file; its 'costs' give prices.
    days
        Days wanted from packing to the first failure.
    as_json
        Print as JSON with a stable schema (docs/json.md) instead of text.
    picture
        Draw the days each remedy comes to, with its cost, to this file; .svg or .png.
    """
    from hardtack.cli.progress import progress
    from hardtack.keeping.remedies import remedies as find
    from hardtack.product import load

    with progress("Trying remedies") as step:
        answer = find(load(file), days, step)
    if picture is not None:
        from hardtack.pictures.remedies import remedies_picture
        from hardtack.pictures.render import write_picture

        write_picture(remedies_picture(answer), picture)
    if as_json:
        from hardtack.cli.commands import print_json
        from hardtack.keeping.remedies_as_json import remedies_json

        print_json(remedies_json(answer))
        return
    show_remedies(answer)
    if picture is not None:
        print(f"\nPicture written to {picture}")


def show_remedies(answer: Remedies) -> None:
    """Remedies for a person: those that suffice, first by cost; then those that do not and why."""
    from rich.text import Text

    from hardtack.cli.show import console, show_section, show_sections
    from hardtack.keeping.bought_told import KNOWN, remedies_sections

    out = console()
    out.print(Text(answer.sentence, style="bold"))
    show_sections(out, remedies_sections(answer))
    show_section(out, "To know", [*answer.remarks, *KNOWN])


def tradeoff(
    file: Path,
    a: str,
    b: str,
    /,
    *,
    days: float | None = None,
    start: Annotated[tuple[str, ...], Parameter(name="--from", negative="")] = (),
    end: Annotated[tuple[str, ...], Parameter(name="--to", negative="")] = (),
    as_json: AsJson = False,
    picture: Path | None = None,
) -> None:
    """Days over two inputs of the file, what fails first where, and the frontier of the wanted days.

    Example: hardtack tradeoff examples/lean-cracker-humid-coast.yaml "cracker: moisture" "film: transmission" --days 150

    Parameters
    ----------
    file
        A product file.
    a
        An input by its name, such as 'cracker: moisture'; a part of the name will do.
    b
        The other input.
    days
        Wanted days: the frontier on which the product keeps them is drawn and listed.
    start
        Lower ends of the ranges, first that of A, then that of B: --from '1 %wb' --from '0.5 g/m2/day'.
    end
        Upper ends, likewise.
    as_json
        Print as JSON with a stable schema (docs/json.md) instead of text.
    picture
        Draw the map with its lines of equal days to this file; .svg or .png.
    """
    from hardtack.cli.progress import progress
    from hardtack.errors import HardtackError
    from hardtack.keeping.tradeoff import tradeoff as weigh
    from hardtack.product import load

    if len(start) != len(end) or len(start) > 2:
        raise HardtackError("ranges need both ends", "give --from and --to once for A, or twice for A and B")
    given = [*zip(start, end, strict=True), None, None]
    with progress("Following both inputs") as step:
        answer = weigh(load(file), a, b, days=days, ranges=(given[0], given[1]), progress=step)
    if picture is not None:
        from hardtack.pictures.render import write_picture
        from hardtack.pictures.tradeoff import tradeoff_picture

        write_picture(tradeoff_picture(answer), picture)
    if as_json:
        from hardtack.cli.commands import print_json
        from hardtack.keeping.tradeoff import tradeoff_json

        print_json(tradeoff_json(answer))
        return
    show_tradeoff(answer)
    if picture is not None:
        print(f"\nPicture written to {picture}")


def show_tradeoff(answer: Tradeoff) -> None:
    """The map as a table of days, what fails first by a letter, and the frontier."""
    from rich.text import Text

    from hardtack.cli.show import console, show_section, show_sections
    from hardtack.keeping.bought_told import tradeoff_sections

    out = console()
    out.print(Text(answer.sentence, style="bold"))
    show_sections(out, tradeoff_sections(answer))
    show_section(out, "To know", answer.remarks)
