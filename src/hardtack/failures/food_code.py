"""The food-code class by water activity and pH. A rule of law is no prediction, and a gate is no failure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from hardtack.errors import HardtackError
from hardtack.reference import Row, rows
from hardtack.states import Gate, History

Table = Literal["A", "B"]
Verdict = Literal["no control by time and temperature needed", "product assessment needed"]
CONFIRM = (
    "the food authority where it is sold, by the code in force there: this table is dated and codes "
    "differ; where an "
    "assessment is needed, a process authority with a challenge study"
)
HEAT_TREATED = {
    "A": "heat-treated to kill vegetative cells and then packaged",
    "B": "not heat-treated, or heat-treated and not packaged",
}


@dataclass(frozen=True, slots=True)
class Class:
    """The verdict of one table, the shelf's row it comes from, and whether a value lies on the edge of its
    cell."""

    verdict: Verdict
    row: Row
    on_edge: bool


def food_code_class(a: float, pH: float | None, table: Table) -> Class:
    """The cell of the US Food Code's interaction table A or B for activity `a` and pH.

    An unknown pH is taken as the worst. A value on the edge of a cell goes to the stricter side: printings of
    the tables differ there, and so do meters. Raises `HardtackError` outside 0..1 or 0..14.
    """
    if not (0.0 <= a <= 1.0 and (pH is None or 0.0 <= pH <= 14.0)):
        raise HardtackError(
            f"food code: activity {a:g}, pH {pH}",
            "activity is a fraction from 0 to 1, pH lies between 0 and 14",
        )
    cells = [row for row in rows("control rules") if row.name.startswith(f"table {table},")]
    row = next((row for row in cells if a < row["a_high"]), cells[-1])
    limit = row["pH_high"] if "pH_high" in row.values else None
    none_needed = limit is None or (pH is not None and pH < limit)
    edges = [cell["a_high"] for cell in cells[:-1]]
    return Class(
        verdict="no control by time and temperature needed" if none_needed else "product assessment needed",
        row=row,
        on_edge=a in edges or (limit is not None and pH == limit),
    )


def gate(history: History, pH: float | None, table: Table) -> Gate:
    """The class at the wettest layer's highest activity on the journey."""
    flat = int(history.activity.argmax())
    layer = history.layers[flat % history.activity.shape[1]]
    a = min(1.0, float(history.activity.max()))
    held = food_code_class(a, pH, table)
    acid = f"pH {pH:.1f}" if pH is not None else "a pH that is not known (taken as the worst)"
    finding = (
        f"By table {table} ({HEAT_TREATED[table]}), with a highest water activity of {a:.2f} (the {layer}) "
        f"and {acid}: "
        f"{held.verdict}."
    )
    if held.verdict == "product assessment needed":
        finding += " Until an assessment proves otherwise it is kept cold or hot like any food that needs it."
    if held.on_edge:
        finding += " A value lies on the edge of a cell; the stricter side was taken."
    return Gate("food code", finding, CONFIRM, held.row.source.citation, held.row.provenance)
