"""The report to a file; the suffix says which form."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from hardtack.errors import HardtackError
from hardtack.pictures.render import check_folder, written
from hardtack.report.html import html
from hardtack.report.model import Report
from hardtack.report.pdf import pdf
from hardtack.report.xlsx import xlsx

FORMS: dict[str, Callable[[Report], bytes]] = {
    ".pdf": pdf,
    ".html": lambda report: html(report).encode("utf-8"),
    ".xlsx": xlsx,
}


def check_place(path: Path) -> None:
    """Raises `HardtackError` for a suffix that is no form of the report, or a folder that does not exist."""
    if path.suffix.lower() not in FORMS:
        raise HardtackError(
            f"cannot write a report to {path.name!r}: {path.suffix or 'no suffix'} is no form of it",
            f"end the name in .pdf, .html or .xlsx, such as {path.stem or 'report'}.pdf",
        )
    check_folder(path)


def write_report(report: Report, path: str | Path) -> Path:
    """Write the report to `path`, as .pdf, .html or .xlsx; an existing file is replaced.

    Raises `HardtackError` as `check_place` does, and when the file cannot be written.
    """
    path = Path(path)
    check_place(path)
    return written(path, FORMS[path.suffix.lower()](report))
