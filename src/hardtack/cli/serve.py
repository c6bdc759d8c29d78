"""`hardtack serve`: the page, on this computer unless told otherwise."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter


def serve(
    *,
    port: int | None = None,
    browser: Annotated[bool, Parameter(negative="--no-browser")] = True,
    ledger: str | None = None,
    address: str = "127.0.0.1",
    known_as: Annotated[tuple[str, ...], Parameter(negative="")] = (),
    sweeps: Path | None = None,
) -> None:
    """Open the page: write a product, see its statement move, bring measurements, compare versions.

    Example: hardtack serve --port 8800 --no-browser

    Parameters
    ----------
    port
        The port to listen on. Without it 8714, or the next one that is free.
    browser
        Open the page in the browser.
    ledger
        Where products are kept: a SQLite file or a PostgreSQL URL. Without it the environment's HARDTACK_LEDGER,
        else a file in your own data folder.
    address
        The address to listen on. Beyond this computer a token is demanded, which is printed with the address.
    known_as
        A further name the server goes by, when others reach it under one; may be given several times.
    sweeps
        A folder with the folders of sweeps (`hardtack sweep`), to be shown on the page.
    """
    from hardtack.web.serve import serve as serve_page

    serve_page(port, browser=browser, ledger=ledger, address=address, known_as=known_as, sweeps=sweeps)
