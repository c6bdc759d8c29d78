"""Pages of what buys time: remedies for wanted days, two inputs against each other, and what lay behind a complaint."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace

from hardtack.errors import HardtackError
from hardtack.product import Product
from hardtack.units import DAY, parse_quantity
from hardtack.web.asking import AnswerPage, Ask, Asked, Told
from hardtack.web.shown import figure_beside

SELDOM = ("costs", "batch", "bench", "order")
"""Parts of the product file whose numbers move no date, and are left out of the choice of a trade-off."""
ANY = "the one of that day"
FIELDS = ("moisture", "activity", "moisture when packed", "pack gained")
"""Readings the complaint's form has a field for; all others are written as a complaint file."""


def days_of(text: str) -> float:
    """Days as written, a bare number or with a unit. Raises `HardtackError` when they cannot be read."""
    text = text.strip()
    if not text:
        raise HardtackError("no days are wanted yet", "say how many, such as 180")
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return parse_quantity(text, "duration").value / DAY


def _remedies(asked: Asked) -> Told:
    from hardtack.keeping.bought_told import KNOWN, remedies_sections
    from hardtack.keeping.remedies import remedies
    from hardtack.keeping.remedies_as_json import remedies_json
    from hardtack.pictures.remedies import remedies_picture, table

    answer = remedies(asked.product, days_of(asked.given.get("days", "")), asked.heard)
    drawn = figure_beside("remedies", "Days each remedy comes to", remedies_picture(answer), table(answer))
    return Told(
        (answer.sentence,),
        drawn if answer.found else None,
        remedies_json(answer),
        (*answer.remarks, *KNOWN),
        (),
        remedies_sections(answer),
        whole=answer,
    )


def _names(product: Product) -> tuple[str, ...]:
    from hardtack.keeping.inputs import inputs_of

    return tuple(
        one.name
        for one in inputs_of(product)
        if one.path[0] not in SELDOM and not any(part in SELDOM or part == "price" for part in one.path)
    )


def _led_by(names: tuple[str, ...], words: tuple[str, ...]) -> tuple[str, ...]:
    """The names, one with the first of the words that any ends in put in front."""
    first = next((name for word in words for name in names if name.endswith(word)), None)
    return names if first is None else (first, *(name for name in names if name != first))


def first_inputs(product: Product) -> tuple[str, ...]:
    """What the map may run over downward, a layer's moisture or activity first."""
    layers = _layers(product)
    words = [f"{layer}: {what}" for what in ("moisture", "activity") for layer in layers]
    return _led_by(_names(product), tuple(words))


def second_inputs(product: Product) -> tuple[str, ...]:
    """What the map may run over across, the film or the pack first."""
    return _led_by(_names(product), (": transmission", "pack: area", ": count", ": lasts"))


def _tradeoff(asked: Asked) -> Told:
    from hardtack.keeping.bought_told import tradeoff_sections
    from hardtack.keeping.tradeoff import tradeoff, tradeoff_json
    from hardtack.pictures.tradeoff import table, tradeoff_picture

    given, offered = asked.given, (first_inputs(asked.product), second_inputs(asked.product))
    names = [given.get(key) or several[0] for key, several in zip("ab", offered, strict=True)]
    ranges = tuple(_range(given, key) for key in "ab")
    days = days_of(given["days"]) if given.get("days") else None
    answer = tradeoff(asked.product, *names, days=days, ranges=(ranges[0], ranges[1]), progress=asked.heard)
    return Told(
        (answer.sentence,),
        figure_beside("tradeoff", "Days over both", tradeoff_picture(answer), table(answer)),
        tradeoff_json(answer),
        answer.remarks,
        (),
        tradeoff_sections(answer),
    )


def _range(given: Mapping[str, str], key: str) -> tuple[str, str] | None:
    low, high = given.get(f"{key} from", ""), given.get(f"{key} to", "")
    if not low and not high:
        return None
    if not (low and high):
        raise HardtackError("a range needs both ends", "write from and to, or neither")
    return low, high


def _legs(product: Product) -> tuple[str, ...]:
    return (ANY, *(leg.leg for leg in product.journey))


def _layers(product: Product) -> tuple[str, ...]:
    return tuple(layer.name for layer in product.layers)


def found_text(product: Product, given: Mapping[str, str]) -> str:
    """The complaint file that says what the form's fields say. Raises `HardtackError` without a day."""
    if not given.get("day"):
        raise HardtackError(
            "the day of the finding is missing", "say how long after packing, such as 60 days"
        )
    layer = given.get("layer") or _layers(product)[0]
    readings: list[dict[str, str]] = []
    for name in FIELDS:
        if given.get(name):
            of = {} if name == "pack gained" else {"layer": layer}
            readings.append({**of, name: given[name]})
    seen = [word.strip() for word in given.get("seen", "").split(",") if word.strip()]
    leg = given.get("leg", ANY)
    parts = {"day": given["day"], "leg": "" if leg == ANY else leg}
    lines = [f"{key}: {json.dumps(value, ensure_ascii=False)}" for key, value in parts.items() if value]
    if readings:
        lines.append("found:")
        lines += [f"  - {json.dumps(reading, ensure_ascii=False)}" for reading in readings]
    if seen:
        lines.append(f"seen: {json.dumps(seen, ensure_ascii=False)}")
    return "\n".join(["hardtack complaint: 1", *lines])


def _complaint(asked: Asked) -> Told:
    from hardtack.keeping.bought_told import complaint_sections
    from hardtack.keeping.complaint import complaint
    from hardtack.keeping.complaint_as_json import complaint_json
    from hardtack.pictures.complaint import complaint_picture, table
    from hardtack.product.found_spec import loads_found

    given = asked.given
    if given.get("file"):
        found = loads_found(given["file"], "complaint file")
    else:
        text = found_text(asked.product, given)
        try:
            found = loads_found(text, "")
        except HardtackError as error:  # nobody saw the lines
            raise HardtackError([replace(each, line=None) for each in error.problems]) from None
    answer = complaint(asked.product, found, asked.heard)
    return Told(
        (f"{answer.product}, day {answer.day:.0f}: {', '.join(answer.found)}.", answer.sentence),
        figure_beside(
            "complaint", "Shares of belief, and what would tell", complaint_picture(answer), table(answer)
        ),
        complaint_json(answer),
        answer.remarks,
        (),
        complaint_sections(answer),
    )


BUYING: tuple[AnswerPage, ...] = (
    AnswerPage(
        "remedies",
        "Remedies",
        "What gives the days you want: the least move of each remedy, what else it does, its cost, its specification line.",
        _remedies,
        (Ask("days", "days wanted, from packing", "180"),),
        takes="Every remedy that applies is followed at several settings, which takes half a minute or more.",
        reported=True,
    ),
    AnswerPage(
        "tradeoff",
        "Trade-off",
        "Two numbers of the file against each other: days over both, what fails first where, where the days you want are kept.",
        _tradeoff,
        (
            Ask("a", "down", of=first_inputs),
            Ask("a from", "from", "1.5 %wb"),
            Ask("a to", "to", "4 %wb"),
            Ask("b", "across", of=second_inputs),
            Ask("b from", "from", "0.5 g/m2/day"),
            Ask("b to", "to", "3 g/m2/day"),
            Ask("days", "days wanted, if any", "180"),
        ),
        takes="The product is followed at 81 points and more, which takes some seconds to a minute. Without ends, a "
        "range about the number in the file is taken.",
    ),
    AnswerPage(
        "complaint",
        "Complaint",
        "A pack came back: which cause explains best what was found, and the one measurement that would decide.",
        _complaint,
        (
            Ask("day", "found how long after packing", "60 days"),
            Ask("leg", "leg it came from", of=_legs),
            Ask("layer", "layer that was measured", of=_layers),
            Ask("moisture", "its moisture", "6.3 ± 0.2 %wb"),
            Ask("activity", "its water activity", "0.52 ± 0.02"),
            Ask("moisture when packed", "moisture of the sample kept back", "2.5 %wb"),
            Ask("pack gained", "the pack gained", "8.4 ± 0.4 g"),
            Ask("seen", "seen or bitten", "soft, no mould"),
            Ask("file", "or a whole complaint file; it then counts instead of the fields", "hardtack complaint: 1", lines=5),
        ),
        takes="The product is re-run under every cause, 64 times each, which takes half a minute or more.",
    ),
)  # fmt: skip
