"""The activity gate for growth. A gate is no failure: it says where the product stands and who confirms."""

from __future__ import annotations

from hardtack.reference import growth_limits
from hardtack.states import Gate, History

CONFIRM = (
    "the person responsible for food safety where the product is sold, by the local code; "
    "for anything near or above a limit, a process authority or a challenge test"
)


def gate(history: History) -> Gate:
    """Compare the wettest layer's highest activity on the journey with the published least activities.

    Dryness stops growth; it does not kill. The comparison uses the layer's activity at the day's temperature.
    """
    flat = int(history.activity.argmax())
    at, layer = divmod(flat, history.activity.shape[1])
    highest = float(history.activity[at, layer])
    rows = growth_limits()
    lowest = rows[0]
    able = [row.name for row in rows if row["a_min"] <= highest]
    if not able:
        finding = (
            f"The highest water activity on the journey is {highest:.2f} (the {history.layers[layer]}). "
            "Nothing on "
            f"record grows below about {lowest['a_min']:.2f} ({lowest.name}), so nothing grows while it "
            "stays "
            "this dry. Organisms that came with flour, seeds or hands may still be alive: dryness stops "
            "growth, it does not kill."
        )
    else:
        names = ", ".join(able[:4]) + (" and others" if len(able) > 4 else "")
        finding = (
            f"The highest water activity on the journey is {highest:.2f} (the {history.layers[layer]}): "
            "high enough "
            f"for growth of {names}. Of these only mould, and fermentation where a day of it was measured, are counted as "
            "failures; what else can grow is for those who confirm."
        )
    return Gate("growth", finding, CONFIRM, lowest.source.citation, lowest.provenance)
