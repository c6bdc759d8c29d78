"""A picture's specification to an SVG or PNG file."""

from __future__ import annotations

import re
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
    if not path.parent.is_dir():
        raise HardtackError(
            f"the folder {str(path.parent)!r} does not exist", "make it first, or name another folder"
        )
    content = svg(spec).encode("utf-8") if suffix == ".svg" else png(spec)
    try:
        path.write_bytes(content)
    except OSError as error:
        raise HardtackError(
            f"cannot write {str(path)!r}: {error.strerror or error}", "name a folder you may write to"
        ) from error
    return path
