"""Sweeps that were carried out on the command line, to look at. Only the folder named when the server started is read, and a
browser names a sweep by its number, never by a place."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from fastapi.responses import Response

from hardtack.errors import HardtackError, NotOnShelf
from hardtack.web.show import page

if TYPE_CHECKING:
    from hardtack.keeping.sweeping import Summary

router = APIRouter(prefix="/sweeps")
MOST = 200
"""Sweeps that are listed."""


def _folders(request: Request) -> list[Path]:
    """The sweeps of the server's folder, by name; none where none was named."""
    root: Path | None = request.app.state.sweeps
    if root is None:
        return []
    from hardtack.keeping.sweeping.store import MANIFEST

    return sorted(each for each in root.iterdir() if (each / MANIFEST).is_file())[:MOST]


@router.get("")
def sweeps(request: Request) -> Response:
    """Every sweep, and how one is carried out."""
    return page(
        request,
        "sweeps.html",
        here="sweeps",
        named=request.app.state.sweeps is not None,
        names=[folder.name for folder in _folders(request)],
    )


@router.get("/{number}")
def one(request: Request, number: int) -> Response:
    """What one sweep comes to, also while it runs."""
    from hardtack.keeping.sweeping.told import sweep_sections, sweep_sentence
    from hardtack.pictures.sweep import description

    called, summary = _summary(request, number)
    return page(
        request,
        "sweep.html",
        here="sweeps",
        called=called,
        number=number,
        sentence=sweep_sentence(summary),
        words=description(summary),
        sections=sweep_sections(summary),
    )


@router.get("/{number}/picture.svg")
def picture(request: Request, number: int) -> Response:
    """The days of each design and place."""
    from hardtack.pictures.render import svg
    from hardtack.pictures.sweep import sweep_picture

    return Response(svg(sweep_picture(_summary(request, number)[1])), media_type="image/svg+xml")


def _summary(request: Request, number: int) -> tuple[str, Summary]:
    """A sweep by its number, from 1. Raises `NotOnShelf` where there is none, `HardtackError` where it is not whole."""
    from hardtack.keeping.sweeping import summary_of

    folders = _folders(request)
    if not 1 <= number <= len(folders):
        raise NotOnShelf("there is no such sweep", "choose one of the list")
    folder = folders[number - 1]
    try:
        return folder.name, summary_of(folder)
    except HardtackError as error:  # without the place on this disk
        raise HardtackError([replace(each, file="") for each in error.problems]) from None
