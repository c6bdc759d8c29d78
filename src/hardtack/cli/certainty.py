"""`hardtack certainty` and `hardtack measure-next`: how sure a date is, and which measurement would firm it up."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from hardtack.cli.given import share_of
from hardtack.errors import HardtackError

if TYPE_CHECKING:
    from hardtack.keeping.certainty import Certainty
    from hardtack.keeping.measure_next import Next

SEED = 2024
AsJson = Annotated[bool, Parameter(name="--json", negative="")]


def certainty(
    file: Path,
    /,
    *,
    share: str = "90 %",
    confidence: str = "80 %",
    samples: int = 8192,
    seed: int = SEED,
    as_json: AsJson = False,
    picture: Path | None = None,
) -> None:
    """Say to which day a share of the packs keeps, and with what confidence, from the spreads of all unsure numbers.

    Example: hardtack certainty examples/hard-biscuit-spreads.yaml --share 0.9 --confidence 0.8 --picture sure.svg

    Parameters
    ----------
    file
        A product file; its numbers may state ±, ranges, lists, and what their spread is (docs/certainty.md).
    share
        Share of the packs that must still be good: what differs from pack to pack and lot to lot.
    confidence
        How sure that must be: what is not known.
    samples
        Most samples to follow; fewer are taken where the day is sure enough before.
    seed
        Of the scrambled samples: the same seed gives the same answer to the bit.
    as_json
        Print the answer as JSON with a stable schema (docs/json.md) instead of text.
    picture
        Also draw the packs still good and the courses with their bands to this file; .svg or .png, or .csv for the numbers.
    """
    from hardtack.cli.progress import progress
    from hardtack.keeping.certainty import certainty as certainty_of
    from hardtack.product import load

    wanted = _part(share, "--share"), _part(confidence, "--confidence")
    if picture is not None:
        _check(picture)
    with progress("Following samples") as step:
        found = certainty_of(load(file), *wanted, samples=samples, seed=_seed(seed), progress=step)
    if picture is not None:
        from hardtack.pictures.certainty import certainty_picture, table
        from hardtack.pictures.render import write_picture, write_table

        if picture.suffix.lower() == ".csv":
            write_table(table(found), picture)
        else:
            write_picture(certainty_picture(found), picture)
    if as_json:
        from hardtack.cli.commands import print_json
        from hardtack.keeping.certainty_as_json import certainty_json

        print_json(certainty_json(found))
        return
    show_certainty(found)
    if picture is not None:
        print(f"\nPicture written to {picture}")


def measure_next(
    file: Path,
    /,
    *,
    share: str = "90 %",
    confidence: str = "80 %",
    seed: int = SEED,
    as_json: AsJson = False,
    picture: Path | None = None,
) -> None:
    """Rank real measurements by the days they would firm up the stated date, and say which numbers make it unsure.

    Example: hardtack measure-next examples/hard-biscuit-spreads.yaml --picture next.svg

    Parameters
    ----------
    file
        A product file, as for `hardtack certainty`.
    share
        Share of the packs that must still be good on the stated day.
    confidence
        How sure that must be.
    seed
        Of the scrambled samples.
    as_json
        Print the answer as JSON with a stable schema (docs/json.md) instead of text.
    picture
        Also draw the days each measurement gives and the shares of the variance to this file; .svg or .png, or .csv.
    """
    from hardtack.cli.progress import progress
    from hardtack.keeping.measure_next import measure_next as next_of
    from hardtack.product import load

    wanted = _part(share, "--share"), _part(confidence, "--confidence")
    if picture is not None:
        _check(picture)
    with progress("Weighing measurements") as step:
        found = next_of(load(file), *wanted, seed=_seed(seed), progress=step)
    if picture is not None:
        from hardtack.pictures.measure_next import next_picture, table
        from hardtack.pictures.render import write_picture, write_table

        if picture.suffix.lower() == ".csv":
            write_table(table(found), picture)
        else:
            write_picture(next_picture(found), picture)
    if as_json:
        from hardtack.cli.commands import print_json
        from hardtack.keeping.certainty_as_json import next_json

        print_json(next_json(found))
        return
    show_next(found)
    if picture is not None:
        print(f"\nPicture written to {picture}")


def _check(picture: Path) -> None:
    """Refuse a picture that could not be written before the long work, not after it."""
    from hardtack.pictures.render import check_folder

    if picture.suffix.lower() not in (".svg", ".png", ".csv"):
        raise HardtackError(
            f"cannot write a picture to {picture.name!r}", "end the name in .svg, .png or .csv"
        )
    check_folder(picture)


def _part(text: str, flag: str) -> float:
    """A share of the whole, as 90 % or as 0.9: here the two cannot be mistaken for one another."""
    try:
        number = float(text)
    except ValueError:
        return share_of(text, flag)
    if not 0.0 < number < 1.0:
        raise HardtackError(f"{flag}: {text} is no part of the whole", "say such as '90 %' or 0.9")
    return number


def _seed(seed: int) -> int:
    if seed < 0:
        raise HardtackError(f"a seed of {seed}", "give a whole number from 0 up")
    return seed


def show_certainty(sure: Certainty) -> None:
    """The answer for a person."""
    from rich.table import Table
    from rich.text import Text

    from hardtack.cli.show import console, indented, show_section
    from hardtack.keeping.certainty_words import error_words, first_words, range_words

    out = console()
    out.print(Text(sure.sentence, style="bold"))
    out.print(Text(indented(out, range_words(sure))))
    out.print(Text(indented(out, error_words(sure))))
    show_section(
        out,
        "What fails first, in what share of the samples",
        [f"{first_words(one)}: {one.share:.0%}" for one in sure.first],
    )
    for spread, title in (
        ("not known", "Not known: makes the confidence"),
        ("pack to pack", "From pack to pack: makes the share of packs"),
        ("lot to lot", "From lot to lot: makes the share of packs"),
    ):
        here = [one for one in sure.unsure if one.spread == spread]
        if not here:
            continue
        out.print()
        out.print(Text(title, style="underline"))
        table = Table(box=None, padding=(0, 2, 0, 2), header_style="dim")
        for name in ("number", "spread (one sd)", "why"):
            table.add_column(name)
        for one in here:
            table.add_row(one.name, one.told, one.why)
        out.print(table)
    show_section(out, "How to read this", sure.told)


def show_next(found: Next) -> None:
    """The ranking for a person."""
    from rich.table import Table
    from rich.text import Text

    from hardtack.cli.show import console, show_section
    from hardtack.keeping.next_words import gain_words, what_for

    out = console()
    out.print(Text(found.sentence, style="bold"))
    out.print()
    out.print(Text("Measurements, by the days they would firm the stated date up", style="underline"))
    table = Table(box=None, padding=(0, 1, 0, 1), header_style="dim")
    for name in (
        "measurement",
        "for",
        "good to",
        "firmer by",
        "work, days",
        "days per day of work",
        "wait, days",
    ):
        table.add_column(name, justify="left" if name in ("measurement", "for", "good to") else "right")
    for one in found.measurements:
        per = "—" if one.per_effort is None else f"{one.per_effort:.1f}"
        table.add_row(
            one.name, what_for(one), one.error, gain_words(one), f"{one.effort:g}", per, f"{one.wait:g}"
        )
    out.print(table)
    out.print()
    out.print(
        Text("What makes the date unsure, by share of the variance of its logarithm", style="underline")
    )
    table = Table(box=None, padding=(0, 2, 0, 2), header_style="dim")
    for name in ("number", "spread", "what", "alone", "with others"):
        table.add_column(name, justify="right" if name in ("alone", "with others") else "left")
    for part in found.shares:
        table.add_row(
            part.name, part.told, part.spread, f"{max(0.0, part.first):.0%} ± {part.first_error:.0%}",
            f"{part.total:.0%} ± {part.total_error:.0%}",
        )  # fmt: skip
    out.print(table)
    show_section(out, "How to read this", found.told)
