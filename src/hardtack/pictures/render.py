"""A picture's specification to an SVG or PNG file."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from html import escape
from pathlib import Path

from hardtack.errors import HardtackError
from hardtack.pictures.style import Spec

VEGA_LITE = "5.20"
"""Pinned, so that a newer renderer does not move what was looked at."""
PNG_SCALE = 2.0


def svg(spec: Spec) -> str:
    """The picture as SVG text that a screen reader takes as one described image."""
    import vl_convert

    drawn: str = vl_convert.vegalite_to_svg(spec, vl_version=VEGA_LITE)
    said = escape(spec["description"])
    return re.sub(
        r"^<svg([^>]*)>",
        lambda opening: f'<svg{opening[1]} role="img" aria-label="{said}"><desc>{said}</desc>',
        drawn,
        count=1,
    )


def png(spec: Spec) -> bytes:
    """The picture as PNG, two pixels a point for sharp print."""
    import vl_convert

    drawn: bytes = vl_convert.vegalite_to_png(spec, vl_version=VEGA_LITE, scale=PNG_SCALE)
    return drawn


def write_picture(spec: Spec, path: str | Path) -> Path:
    """Write the picture to `path`; its suffix, .svg or .png, says how. An existing file is replaced.

    Raises `HardtackError` for another suffix or a place that cannot be written.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    if suffix not in (".svg", ".png"):
        raise HardtackError(
            f"cannot write a picture to {path.name!r}: {suffix or 'no suffix'} is no kind of picture",
            f"end the name in .svg or .png, such as {path.stem or 'keeping'}.svg",
        )
    check_folder(path)
    return written(path, svg(spec).encode("utf-8") if suffix == ".svg" else png(spec))


def write_table(rows: Sequence[Mapping[str, object]], path: Path) -> Path:
    """Write the numbers behind a picture as CSV (UTF-8, decimal points); an existing file is replaced.

    Raises `HardtackError` for a place that cannot be written.
    """
    check_folder(path)
    out = io.StringIO()
    table = csv.DictWriter(
        out, list(dict.fromkeys(name for row in rows for name in row)), lineterminator="\n"
    )
    table.writeheader()
    table.writerows({name: _cell(value) for name, value in row.items()} for row in rows)
    return written(path, out.getvalue().encode("utf-8"))


def _cell(value: object) -> object:
    """A cell: several numbers in one become words; text that a spreadsheet would run gets an apostrophe."""
    if isinstance(value, Mapping):
        value = "; ".join(f"{name} {number:.4g}" for name, number in value.items())
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@"):
        return "'" + value
    return value


def check_folder(path: Path) -> None:
    """Raises `HardtackError` when the folder to write into does not exist: before long work, not after it."""
    if not path.parent.is_dir():
        raise HardtackError(
            f"the folder {str(path.parent)!r} does not exist", "make it first, or name another folder"
        )


def written(path: Path, content: bytes) -> Path:
    """The file with that content. Raises `HardtackError` when it cannot be written."""
    try:
        path.write_bytes(content)
    except OSError as error:
        raise HardtackError(
            f"cannot write {str(path)!r}: {error.strerror or error}", "name a folder you may write to"
        ) from error
    return path
