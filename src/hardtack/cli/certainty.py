"""`hardtack certainty` and `hardtack measure-next`: how sure a date is, and which measurement would firm it up."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from hardtack.cli.given import part_of
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

    wanted = part_of(share, "--share"), part_of(confidence, "--confidence")
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

    wanted = part_of(share, "--share"), part_of(confidence, "--confidence")
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


def _seed(seed: int) -> int:
    if seed < 0:
        raise HardtackError(f"a seed of {seed}", "give a whole number from 0 up")
    return seed


def show_certainty(sure: Certainty) -> None:
    """The answer for a person."""
    from rich.text import Text

    from hardtack.cli.show import console, indented, show_section, show_sections
    from hardtack.keeping.certainty_words import error_words, range_words
    from hardtack.keeping.sure_told import certainty_sections

    out = console()
    out.print(Text(sure.sentence, style="bold"))
    out.print(Text(indented(out, range_words(sure))))
    out.print(Text(indented(out, error_words(sure))))
    show_sections(out, certainty_sections(sure))
    show_section(out, "How to read this", sure.told)


def show_next(found: Next) -> None:
    """The ranking for a person."""
    from rich.text import Text

    from hardtack.cli.show import console, show_section, show_sections
    from hardtack.keeping.sure_told import next_sections

    out = console()
    out.print(Text(found.sentence, style="bold"))
    show_sections(out, next_sections(found))
    show_section(out, "How to read this", found.told)
