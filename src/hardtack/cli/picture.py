"""`hardtack picture`: one picture of a keeping statement, or the numbers behind it."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

PictureKind = Literal["ladder", "journey", "profile", "shares", "stales"]


def picture(file: Path, kind: PictureKind, out: Path, /) -> None:
    """Draw one picture of the keeping statement, or write the table behind it.

    Example: hardtack picture examples/crusty-loaf-in-plastic.yaml stales stales.svg

    Parameters
    ----------
    file
        A product file.
    kind
        ladder (where water runs), journey (activity on the way), profile (activity through the layers at a few moments),
        shares (life used by each failure), or stales (crumb and crust of bread going opposite ways).
    out
        The file to write; .svg or .png for the picture, .csv for the numbers behind it.
    """
    from hardtack.keeping import keep
    from hardtack.pictures.kinds import KINDS
    from hardtack.pictures.render import write_picture, write_table
    from hardtack.product import load

    chosen = KINDS[kind]
    statement = keep(load(file))
    if out.suffix.lower() == ".csv":
        write_table(chosen.table(statement), out)
        print(f"Numbers behind the picture written to {out}")
        return
    write_picture(chosen.picture(statement), out)
    print(chosen.description(statement))
    print(f"\nPicture written to {out}")
