"""The keeping report: to read in the browser, and to take along."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlalchemy import Engine

from hardtack.errors import HardtackError, NotOnShelf
from hardtack.ledger import Edit, edit_at, head
from hardtack.web.answers import ANSWERS
from hardtack.web.asking import LONGEST, AnswerPage
from hardtack.web.desk import loggers_key, once, read, remembered
from hardtack.web.pages import file_name
from hardtack.web.show import ledger_of
from hardtack.web.telling import given_on, question

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


@dataclass(frozen=True, slots=True)
class Beside:
    """What the report is to hold beside the plain answer, as written; each must have been worked out on its page."""

    days: str = ""
    share: str = ""
    confidence: str = ""

    def given(self, at: AnswerPage) -> dict[str, str] | None:
        """What the page was asked, None where nothing of it is wanted."""
        sent = {"days": self.days, "share": self.share, "confidence": self.confidence}
        return given_on(at, sent) if any(sent.get(ask.name) for ask in at.asks) else None


@router.get("/{form}")
def report(
    request: Request,
    product: str,
    form: str,
    state: int | None = None,
    days: str = "",
    share: str = "",
    confidence: str = "",
) -> Response:
    """The report of a state, as `hardtack report` writes it: html to read, pdf or xlsx to keep."""
    if form not in FORMS:
        raise NotOnShelf(f"the report has no form “{form[:40]}”", f"ask for one of {', '.join(FORMS)}")
    ledger = ledger_of(request)
    return report_of(
        request,
        head(ledger, product) if state is None else edit_at(ledger, product, state),
        form,
        Beside(days[:LONGEST], share[:LONGEST], confidence[:LONGEST]),
    )


def report_of(request: Request, edit: Edit, form: str, beside: Beside) -> Response:
    """The report of one state as one of `FORMS`. Raises `HardtackError` where the state does not come to one, and where
    what is wanted beside it has not been worked out."""
    from hardtack.report import write

    ledger, product = ledger_of(request), edit.step.product
    reading = read(edit.text, ledger, product)
    if reading.product is None:
        raise HardtackError(reading.problems)
    known, answers = reading.product, _answers(ledger, edit, beside)

    def made() -> Report:
        from hardtack.report.build import keeping_report
        from hardtack.report.decision import Decision

        return keeping_report(known, known=Decision(**answers))

    key = ("report", edit.text, loggers_key(edit.text, ledger, product), beside, *sorted(answers))
    content = write.FORMS[f".{form}"](once(key, made))
    headers = {"content-security-policy": READ_ONLY} if form == "html" else {
        "content-disposition": f'attachment; filename="{file_name(edit.text)}.{form}"'
    }  # fmt: skip
    return Response(content, media_type=FORMS[form], headers=headers)


def _answers(ledger: Engine, edit: Edit, beside: Beside) -> dict[str, Any]:
    """The answers that were worked out, by their names in the report. What to measure next comes along where it is there."""
    found: dict[str, Any] = {}
    for at in (each for each in ANSWERS if each.reported):
        given = beside.given(at)
        if given is None:
            continue
        key, tell = question(ledger, edit, at, given)
        if remembered(key):
            found[at.slug.replace("-", "_")] = once(key, lambda tell=tell: tell(lambda _: None)).whole  # type: ignore[misc]
    for wanted, names, page in (
        (beside.days, {"remedies"}, "remedies?days=N"),
        (beside.share or beside.confidence, {"certainty", "measure_next"}, "certainty or measure-next"),
    ):
        if wanted and not names & set(found):
            raise HardtackError(
                "what the report is to hold has not been worked out yet, for this state",
                f"ask for it first ({page}), then for the report",
            )
    return found
