"""The keeping report: to read in the browser, and to take along."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from fastapi.responses import Response

from hardtack.errors import HardtackError, NotOnShelf
from hardtack.ledger import Edit, edit_at, head
from hardtack.web.desk import loggers_key, once, read
from hardtack.web.pages import file_name
from hardtack.web.show import ledger_of

if TYPE_CHECKING:
    from hardtack.report.model import Report

router = APIRouter(prefix="/p/{product}/report")
FORMS = {
    "html": "text/html; charset=utf-8",
    "pdf": "application/pdf",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
READ_ONLY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'; sandbox"
"""The report brings its own style along and no script; nothing in it can run or ask."""


@router.get("/{form}")
def report(request: Request, product: str, form: str, state: int | None = None) -> Response:
    """The report of a state, as `hardtack report` writes it: html to read, pdf or xlsx to keep."""
    if form not in FORMS:
        raise NotOnShelf(f"the report has no form “{form[:40]}”", f"ask for one of {', '.join(FORMS)}")
    ledger = ledger_of(request)
    return report_of(
        request, head(ledger, product) if state is None else edit_at(ledger, product, state), form
    )


def report_of(request: Request, edit: Edit, form: str) -> Response:
    """The report of one state as one of `FORMS`. Raises `HardtackError` where the state does not come to one."""
    from hardtack.report import write

    ledger, product = ledger_of(request), edit.step.product
    reading = read(edit.text, ledger, product)
    if reading.product is None:
        raise HardtackError(reading.problems)
    known = reading.product

    def made() -> Report:
        from hardtack.report.build import keeping_report

        return keeping_report(known)

    key = ("report", edit.text, loggers_key(edit.text, ledger, product))
    content = write.FORMS[f".{form}"](once(key, made))
    headers = {"content-security-policy": READ_ONLY} if form == "html" else {
        "content-disposition": f'attachment; filename="{file_name(edit.text)}.{form}"'
    }  # fmt: skip
    return Response(content, media_type=FORMS[form], headers=headers)
