"""The evidence as one page of Markdown, failures included."""

from __future__ import annotations

from hardtack.evidence.run import EvidenceRow, run_evidence

_HEAD = """# Evidence

Every comparison that `hardtack evidence` runs: what the program predicts beside what was published. The tolerance is the source's own
uncertainty, with its reason, written down before the first run; data that went into a constant of the program are not compared. A
comparison outside its tolerance stays here, with what is known of the reason.
"""


def markdown() -> str:
    """The page: a count, then a table for each area, then what lies outside."""
    rows = run_evidence()
    within = sum(row.within for row in rows)
    sets = len({row.data_set for row in rows})
    parts = [
        _HEAD,
        f"{within} of {len(rows)} comparisons lie within tolerance, from {sets} independent data sets.\n",
    ]
    for area in dict.fromkeys(row.area for row in rows):
        parts.append(_table(area, [row for row in rows if row.area == area]))
    outside = [row for row in rows if not row.within]
    if outside:
        parts.append(
            "## Outside tolerance\n\n" + "\n".join(f"- {row.what}: {row.remark}" for row in outside) + "\n"
        )
    return "\n".join(parts)


def _table(area: str, rows: list[EvidenceRow]) -> str:
    lines = [
        f"## {area.capitalize()}",
        "",
        "| what | predicted | published | tolerance | within | data set | source | reason for the tolerance |",
        "|---|---|---|---|---|---|---|---|",
    ]
    lines += [
        f"| {row.what} | {row.predicted:.4g} | {row.published:.5g} {row.unit} | {row.tolerance:.2g} "
        f"| {'yes' if row.within else '**no**'} | {row.data_set} | {row.source} ({row.address}) | {row.reason} |"
        for row in rows
    ]
    return "\n".join(lines) + "\n"
