"""The evidence as one page of Markdown, failures included."""

from __future__ import annotations

from collections.abc import Sequence

from hardtack.evidence.run import EvidenceRow, counts, run_evidence

_HEAD = """# Evidence

Every comparison that `hardtack evidence` runs: what the program predicts beside what was published. The tolerance is the source's own
uncertainty, with its reason, written down before the first run; data that went into a constant of the program are not compared, and
a row whose data went into one later says *fitted* and is not counted. A comparison outside its tolerance stays here, with what is
known of the reason.
"""

_RULE = """## What the sources print

A row whose source prints all that the prediction is given can convict or acquit the program. Where something had to be taken, because the
source does not print it, a miss may be the taking's fault and a hit its luck. So each row says what was taken.

- An **input** is what describes the thing measured and what happened to it: composition, piece, pack, oven, climate, time, moisture and
  temperature. What the program itself holds, such as its laws, constants and curves of a class of goods, is no input where the row tests it.
- An input is **printed** when the source states it, or when its statement covers the value used: "at 23 to 30 °C" covers 26 °C.
- It is **taken** when it comes from elsewhere: a like product, the middle of a guess, a stand-in, a value "usual there", or a "room
  temperature" made a number. A sample of which only the kind is named has a taken composition.
- What cannot move the prediction does not count: a temperature that falls out of a ratio is not asked for.
- One input taken makes the row one of **some taken**, whatever it weighs.

The rule was set after 207 rows had run. Those were classed from source, inputs and predictor alone, on a list without results, and the classes
were written down before they were counted. Whoever classed them had read the list of misses before, so the rule is kept mechanical: what holds
for one row of a data set holds for all that are asked alike. Later rows are classed before their first run. No tolerance was changed for it and
no row dropped.
"""


def markdown() -> str:
    """The page: the count, the counts by what sources print, a table for each area, then the remarks."""
    rows = run_evidence()
    counted = [row for row in rows if not row.fitted]
    within = sum(row.within for row in counted)
    sets = len({row.data_set for row in counted})
    parts = [
        _HEAD,
        f"{within} of {len(counted)} comparisons lie within tolerance, from {sets} independent data sets.\n",
        _RULE,
        _counted(rows),
    ]
    for area in dict.fromkeys(row.area for row in rows):
        parts.append(_table(area, [row for row in rows if row.area == area]))
    parts += [
        _outside("Outside tolerance, inputs printed", [row for row in counted if not row.taken]),
        _outside("Outside tolerance, some inputs taken", [row for row in counted if row.taken]),
        _remarks("Within tolerance, with a remark", [row for row in counted if row.within and row.remark]),
        _remarks("Fitted, not counted", [row for row in rows if row.fitted]),
    ]
    return "\n".join(parts)


def _counted(rows: Sequence[EvidenceRow]) -> str:
    lines = ["| area | all | inputs printed | some taken |", "|---|---|---|---|"]
    for count in counts(rows):
        pairs = " | ".join(f"{good} of {of}" for good, of in (count.all, count.printed, count.some_taken))
        lines.append(f"| {count.area} | {pairs} |")
    return "\n".join(lines) + "\n"


def _table(area: str, rows: Sequence[EvidenceRow]) -> str:
    lines = [
        f"## {area.capitalize()}",
        "",
        "| what | predicted | published | tolerance | within | inputs taken | data set | source | reason for the tolerance |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    lines += [
        f"| {row.what} | {row.predicted:.4g} | {row.published:.5g} {row.unit} | {row.tolerance:.2g} "
        f"| {_verdict(row)} | {'; '.join(row.taken) or 'none'} | {row.data_set} "
        f"| {row.source} ({row.address}) | {row.reason} |"
        for row in rows
    ]
    return "\n".join(lines) + "\n"


def _verdict(row: EvidenceRow) -> str:
    return "fitted" if row.fitted else "yes" if row.within else "**no**"


def _outside(head: str, rows: Sequence[EvidenceRow]) -> str:
    return _remarks(head, [row for row in rows if not row.within])


def _remarks(head: str, rows: Sequence[EvidenceRow]) -> str:
    lines = [f"- {row.what}: {row.remark}" for row in rows]
    return f"## {head}\n\n" + "\n".join(lines or ["None."]) + "\n"
