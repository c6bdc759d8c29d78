"""`hardtack plan`: which measurements narrow the date most, and a pull schedule for a storage trial."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from hardtack.errors import HardtackError

if TYPE_CHECKING:
    from hardtack.measurements.plan import Bench, Plan


def plan(
    file: Path,
    /,
    *,
    climate: Annotated[tuple[str, ...], Parameter(negative="")] = (),
    days: int | None = None,
    packs: int = 18,
    jars: int = 5,
    start: str | None = None,
    layer: str = "",
    picture: Path | None = None,
    as_json: Annotated[bool, Parameter(name="--json", negative="")] = False,
) -> None:
    """Say what to measure so that the date narrows most: a pull schedule, jars, bench tests, each in days.

    Example: hardtack plan examples/lean-cracker-humid-coast.yaml --packs 24 --days 60

    Parameters
    ----------
    file
        A product file.
    climate
        A place where packs can stand, as '30 degC, 75 %'; may be given several times. Without it: the store (mean of
        the last leg), and 38 °C with 75 %.
    days
        Length of the trial; without it half of the forecast life, 180 days at most.
    packs
        Packs to open in all.
    jars
        Jars over salts.
    start
        Day of packing for the dates, as 2026-09-01; the file's own 'packed on' without it.
    layer
        The only layer that counts as unsure; all do without it.
    picture
        Draw the schedule and how the date narrows to this file (.svg or .png).
    as_json
        Print the plan as JSON with a stable schema (docs/json.md) instead of text.
    """
    from hardtack.cli.given import air_of
    from hardtack.cli.progress import progress
    from hardtack.measurements.plan import plan_json, plan_measurements
    from hardtack.product import load

    airs = [air for text in climate if (air := air_of(text)) is not None]
    with progress("Weighing measurements") as step:
        made = plan_measurements(
            load(file),
            layer=layer,
            airs=airs,
            days=days,
            packs=packs,
            jars=jars,
            start=_day(start),
            progress=step,
        )
    if picture is not None:
        from hardtack.pictures.plan import plan_picture
        from hardtack.pictures.render import write_picture

        write_picture(plan_picture(made), picture)
    if as_json:
        from hardtack.cli.commands import print_json

        print_json(plan_json(made))
        return
    show_plan(made)
    if picture is not None:
        print(f"\nPicture written to {picture}")


def _day(text: str | None) -> datetime.date | None:
    if text is None:
        return None
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise HardtackError(f"{text!r} is no day", "write it as 2026-09-01") from None


def show_plan(made: Plan) -> None:
    """The plan for a person."""
    from rich.table import Table
    from rich.text import Text

    from hardtack.cli.show import console, show_section

    out = console()
    out.print(Text(made.sentence, style="bold"))
    out.print()
    out.print(Text("Pull schedule", style="underline"))
    table = Table(box=None, padding=(0, 2, 0, 2), header_style="dim")
    names = [
        "day",
        *(["date"] if any(p.date for p in made.pulls) else []),
        "packs",
        "from",
        "measure",
        "then the date is",
    ]
    for name in names:
        table.add_column(name, justify="right" if name in ("day", "packs") else "left")
    for pull in made.pulls:
        dates = [pull.date] if "date" in names else []
        table.add_row(
            f"{pull.day:.0f}", *dates, str(pull.packs), pull.place, f"moisture of the {pull.layer}", f"± {pull.sd:.1f} days"
        )  # fmt: skip
    out.print(table)
    _bench(made.jars, "Jars, in the order in which they narrow most", "known so far")
    _bench(made.bench, "Bench measurements, each by itself and on top of the trial", "by itself")
    out.print()
    out.print(Text("What the date leans on, by share of its variance", style="underline"))
    table = Table(box=None, padding=(0, 2, 0, 2), header_style="dim")
    for name in ("share", "input", "not known to", "how known"):
        table.add_column(name, justify="right" if name == "share" else "left")
    for part in made.parts:
        table.add_row(f"{part.share:.0%}", part.what, part.sd, part.why)
    out.print(table)
    show_section(out, "How to read this", made.told)


def _bench(items: tuple[Bench, ...], title: str, alone: str) -> None:
    from rich.table import Table
    from rich.text import Text

    from hardtack.cli.show import console

    out = console()
    out.print()
    out.print(Text(title, style="underline"))
    table = Table(box=None, padding=(0, 2, 0, 2), header_style="dim")
    for name in ("", "how", alone, "with the trial"):
        table.add_column(name)
    for item in items:
        table.add_row(item.what, item.how, f"± {item.alone:.1f} days", f"± {item.with_trial:.1f} days")
    out.print(table)
