"""The statement in words: trade terms, units on every number, no number without a meaning."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

import numpy as np

from hardtack.keeping.judged import NotJudged
from hardtack.keeping.statement import LegAccount
from hardtack.states import FailureCourse, History, Journey, Pack
from hardtack.units import DAY, celsius, wet_basis

LOSES = {
    "crispness": "loses its snap",
    "crust": "loses its crisp {layer}",
    "sogginess": "goes soggy in its {layer}",
    "drying out": "dries out",
    "firming": "goes firm (stale by firming)",
    "mould": "may show mould",
    "fermentation": "ferments in its {layer}",
    "sugar": "shows its sugar: the {layer} weeps or grains",
    "checking": "is likely to check",
    "rancidity": "tastes rancid",
    "colour": "changes colour",
    "marker": "passes the limit of its marker of rancidity",
    "acceptance": "is no longer accepted by its panel",
}
KEEPS = {
    "crispness": "keeps its snap",
    "crust": "keeps its crisp {layer}",
    "sogginess": "does not go soggy",
    "drying out": "does not dry out",
    "firming": "does not go firm",
    "mould": "shows no mould",
    "fermentation": "does not ferment",
    "sugar": "shows no sugar",
    "checking": "is not likely to check",
    "rancidity": "does not taste rancid",
    "colour": "keeps its colour",
    "marker": "stays below the limit of its marker of rancidity",
    "acceptance": "stays accepted by its panel",
}

CAUTIONS = (
    "This is a computation from the numbers listed, not a validation and not a legal date. It supports a decision; "
    "the kind of date and who signs it are set by the law of the market.",
    "Dry is not sterile: organisms brought in after the oven stay alive for months. Keep the plant's own controls.",
    "Allergens: label by the law of the market. Nothing here looks at them.",
)


def cautions(courses: Sequence[FailureCourse], not_judged: Sequence[NotJudged]) -> tuple[str, ...]:
    """What the answer does not say: which failures were judged and which not, and the standing cautions."""
    named = ", ".join(dict.fromkeys(course.name for course in courses))
    left = ", ".join(dict.fromkeys(one.name for one in not_judged))
    rest = f" Not judged: {left}; why stands above." if left else ""
    judged = f"Only these failures were judged: {named}.{rest} Breakage and handling are never judged."
    return (CAUTIONS[0], judged, *CAUTIONS[1:])


def span(seconds: float) -> str:
    """A duration as people say it."""
    days = seconds / DAY
    if days < 2:
        return f"{seconds / 3600:.1f} hours"
    return f"{days:.0f} days" if days < 730 else f"{days / 365.25:.1f} years"


def moment(seconds: float, packed_on: str) -> str:
    """``day 96 (5 September 2026)``, or hours when it comes within two days."""
    if seconds < 2 * DAY:
        return f"after {seconds / 3600:.1f} hours"
    words = f"on day {seconds / DAY:.0f}"
    if packed_on:
        day = datetime.date.fromisoformat(packed_on) + datetime.timedelta(seconds=seconds)
        words += f" ({day.day} {day:%B %Y})"
    return words


def statement_sentence(
    product: str, first: FailureCourse, journey: Journey, legs: tuple[LegAccount, ...]
) -> str:
    """The one sentence everything else explains."""
    keeps, loses = (words[first.name].format(layer=first.layer) for words in (KEEPS, LOSES))
    if first.time is None:
        whole = span(journey.legs[-1].end)
        share = float(first.share[-1])
        if journey.legs[-1].open_ended:
            return (
                f"{product} {keeps} for as long as it was followed ({whole}): "
                f"by then {share:.0%} of the life to {first.limit} is used."
            )
        return (
            f"{product} {keeps} to the end of its journey ({whole}); "
            f"{share:.0%} of that life is used by then."
        )
    if first.time <= 0.0:
        return f"{product} is packed past its limit already: {first.limit}."
    where = next(leg.name for leg in legs if first.time <= leg.end)
    return f"{product} {loses} {moment(first.time, journey.packed_on)}, on the leg “{where}”."


def causes(first: FailureCourse, history: History, end: int) -> tuple[str, ...]:
    """Why, in numbers: which way the water of the failing layer ran, and what was passed."""
    k = history.layers.index(first.layer)
    a0, a1 = float(history.activity[0, k]), float(history.activity[end, k])
    X0, X1 = float(history.moisture[0, k]), float(history.moisture[end, k])
    dt = np.diff(history.times[: end + 1])
    # each row's air is the mean over the interval before it
    RH = float(history.humidity[1 : end + 1] @ dt / dt.sum()) if end > 0 else float(history.humidity[0])
    way = "runs in" if X1 > X0 else "runs out"
    grams = 1e3 * float(history.water_gained[end])
    gain = f"gained {grams:.2f} g of water" if grams >= 0 else f"lost {-grams:.2f} g of water"
    told = [
        f"Water runs from high activity to low. The {first.layer} was packed at {a0:.2f}, the air outside stands at "
        f"{RH:.2f} on average: water {way}.",
        f"The {first.layer} went from {100 * wet_basis(X0):.2f} to {100 * wet_basis(X1):.2f} % moisture (wet basis), "
        f"activity {a0:.2f} to {a1:.2f}, and all pieces together {gain}.",
        f"The limit: {first.limit}." + ("" if first.time is None else f" Passing it means {first.meaning}."),
        *(f"Told with it: {told}." for told in first.told),
    ]
    if len(history.layers) > 1:
        others = ", ".join(
            f"{name} {float(history.activity[0, j]):.2f} to {float(history.activity[end, j]):.2f}"
            for j, name in enumerate(history.layers)
            if j != k
        )
        told[0] = (
            f"Water runs from high activity to low. The {first.layer} was packed at {a0:.2f}; the air outside stands at {RH:.2f} on average."
        )
        told.insert(1, f"The other layers' activities: {others}.")
    return tuple(told)


def limiting(history: History, pack: Pack | None) -> str:
    """Which side limits, and how the answer was computed."""
    ratio = history.resistance_ratio
    barrier = "the pack" if pack is not None else "the air about the pieces"
    how = (
        "one activity for the whole piece, by quadrature"
        if history.method == "lumped"
        else "the water followed cell by cell through the piece"
    )
    if ratio >= 10:
        return f"Film-limited, ratio {ratio:.0f}:1: {barrier} resists water {ratio:.0f} times more than the inside of the piece. Computed with {how}."
    if ratio <= 0.1:
        return f"Inside-limited, ratio 1:{1 / ratio:.0f}: the piece itself resists water more than {barrier}. Computed with {how}."
    return (
        f"Both limit, ratio {ratio:.1f}:1 ({barrier} against the inside of the piece). Computed with {how}."
    )


def leg_line(leg: LegAccount, layers: tuple[str, ...], packed_on: str) -> str:
    """What one leg did."""
    low_T, high_T = (celsius(T) for T in leg.temperature)
    air_T = f"{low_T:.0f} °C" if high_T - low_T < 0.5 else f"{low_T:.0f} to {high_T:.0f} °C"
    low_RH, high_RH = leg.humidity
    air_RH = f"{low_RH:.0%}" if high_RH - low_RH < 0.005 else f"{low_RH:.0%} to {high_RH:.0%}"
    states = "; ".join(
        f"{name} {a_in:.2f} → {a_out:.2f}"
        for name, a_in, a_out in zip(layers, leg.activity_in, leg.activity_out, strict=True)
    )
    packed = "" if leg.sealed else ", unpacked"
    return (
        f"{leg.name} ({span(leg.end - leg.start)}, {air_T}, {air_RH} humidity{packed}): {states}; "
        f"{leg.share:.0%} of the life used here."
    )
