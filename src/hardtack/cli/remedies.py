"""`hardtack remedies`, `hardtack tradeoff`: what buys the wanted days, and two inputs against each other."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

if TYPE_CHECKING:
    from hardtack.keeping.remedies import Remedies, Remedy
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
    from rich.table import Table
    from rich.text import Text

    from hardtack.cli.show import console, indented, show_section
    from hardtack.keeping.remedies import days_words

    out = console()
    out.print(Text(answer.sentence, style="bold"))
    enough = answer.sufficient
    if enough:
        out.print()
        out.print(Text(f"Each of these alone gives {answer.wanted:g} days", style="underline"))
        table = Table(box=None, padding=(0, 2, 0, 2), header_style="dim")
        for name in ("remedy", "from", "to at least", "days", "then first", "cost"):
            table.add_column(name, justify="right" if name == "days" else "left")
        for one in enough:
            table.add_row(
                one.move.what,
                one.move.now,
                one.setting.words,
                days_words(one.outcome.days).removesuffix(" days"),
                one.outcome.first,
                one.cost.words,
            )
        out.print(table)
        show_section(out, "Specification lines", [one.setting.specification for one in enough])
        show_section(out, "What else they do", [line for one in enough for line in side_effects(one)])
    failing = [one for one in answer.found if not one.suffices]
    if failing:
        out.print()
        out.print(Text("Not enough by itself", style="underline"))
        for one in failing:
            out.print(Text(indented(out, f"{one.move.what} ({one.move.family}): {one.why_not}.")))
    if answer.idle:
        words = f"{'; '.join(answer.idle)}: {answer.now.first} comes no later for it."
        show_section(out, "No help at all", [words])
    if answer.promise is not None and answer.now.days < answer.wanted:
        until = f", until {answer.promise_date}" if answer.promise_date else ""
        show_section(
            out, "Or promise fewer days", [f"{answer.promise} days{until}, with the product as it is."]
        )
    show_section(out, "To know", [*answer.remarks, *_known()])


def side_effects(one: Remedy) -> list[str]:
    """What a remedy does beside giving days, a line each; none when nothing."""
    name = f"{one.move.what}, {one.setting.words}"
    lines = [f"{name}: {words}." for words in one.told]
    if one.gates:
        gates = ", ".join(gate for gate, _ in one.gates)
        lines.append(f"{name}: these gates then read otherwise: {gates}; `--json` gives their words.")
    return lines


def _known() -> tuple[str, ...]:
    return (
        "Days here are computed from the numbers listed by `hardtack keep`, at their values, without their spread: "
        "leave room for it.",
        "Costs are of materials and of what the file adds under 'costs'; first come remedies with a known cost, the "
        "cheapest first, then those that use least of their range.",
        "Ranges are common practice or assumed (`hardtack reference remedy ranges`); plant, buyer and law may stop earlier.",
    )


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
    from rich.table import Table
    from rich.text import Text

    from hardtack.cli.show import console, show_section
    from hardtack.cli.where import days_words

    out = console()
    out.print(Text(answer.sentence, style="bold"))
    names = list(dict.fromkeys(name for row in answer.first for name in row if name))
    letters = {name: chr(ord("a") + k) for k, name in enumerate(names)}
    out.print(Text(f"Days; down: {answer.a.title}; across: {answer.b.title}"))
    grid = Table(box=None, padding=(0, 2, 0, 0), header_style="dim")
    grid.add_column("", justify="right")
    for value in answer.b.values:
        grid.add_column(f"{value:.3g}", justify="right")
    for i, value in enumerate(answer.a.values):
        cells = [
            f"{days_words(float(day))} {letters.get(name, ' ')}"
            for day, name in zip(answer.days[i], answer.first[i], strict=True)
        ]
        grid.add_row(f"{value:.3g}", *cells)
    out.print(grid)
    show_section(out, "What fails first", [f"{letters[name]}: {name}" for name in names])
    if answer.frontier:
        lines = [
            f"{answer.a.name} {answer.a.words(x)} with {answer.b.name} {answer.b.words(y)}"
            for x, y in answer.frontier
        ]
        show_section(out, f"Where it keeps {answer.wanted:g} days", lines)
    show_section(out, "To know", answer.remarks)
