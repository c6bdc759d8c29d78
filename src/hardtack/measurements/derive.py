"""What follows from other columns of a row: moisture from pan weights, activity from the salt in the jar."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from hardtack.errors import HardtackError
from hardtack.measurements.answers import Answers, question
from hardtack.measurements.table import Row, SetAside, Understood, Value
from hardtack.units import convert, parse_quantity
from hardtack.water.salts import salt_activity

FROM_SALT = "from the salt"
"""Stands for a column where activities are those of the jars' salts."""
_WITH_PAN = ("pan", "pan and wet", "pan and dry")


def moisture_from_pans(
    rows: list[Row], understood: list[Understood], said: Answers, file: str, aside: list[SetAside]
) -> tuple[list[Row], list[Understood]]:
    """Moisture X = (wet - dry) / dry of the product, from weights with or without the pan.

    Raises `HardtackError` when the file has a pan column but does not say whether wet and dry include it.
    """
    there = {column.meaning for column in understood}
    if "moisture" in there:
        return rows, []
    if {"pan and wet", "pan and dry"} <= there:
        if "pan" not in there:
            raise HardtackError(
                f"{file}: weights with the pan, but no weight of the pan", "add a column 'pan'"
            )
        names, why = _WITH_PAN, "(pan and wet - pan and dry) / (pan and dry - pan)"
    elif {"wet", "dry"} <= there:
        answer = said.get("pan weights")
        if "pan" in there and not answer:
            what = "do the wet and dry weights include the pan?"
            raise HardtackError(question(what, "pan weights", file))
        net = "pan" not in there or answer == "without the pan"
        names = ("", "wet", "dry") if net else ("pan", "wet", "dry")
        why = "(wet - dry) / dry" if net else "(wet - dry) / (dry - pan)"
    else:
        return rows, []
    made = [_with_moisture(row, names, file, aside) for row in rows]
    return made, [Understood("from the weights", "moisture", "kg/kg", "dry", f"from {why}", "moisture")]


def _with_moisture(row: Row, names: tuple[str, str, str], file: str, aside: list[SetAside]) -> Row:
    weights = [row.values.get(name) if name else 0.0 for name in names]
    pan, wet, dry = weights
    if not (isinstance(pan, float) and isinstance(wet, float) and isinstance(dry, float)):
        missing = " and ".join(
            name for name, w in zip(names, weights, strict=True) if not isinstance(w, float)
        )
        aside.append(SetAside(file, row.number, "moisture", "", f"no moisture: {missing} is missing"))
        return row
    if not pan < dry < wet:
        shown = f"pan {pan * 1e3:g} g, wet {wet * 1e3:g} g, dry {dry * 1e3:g} g"
        reason = "no moisture: the weights do not fall from wet to dry to pan"
        aside.append(SetAside(file, row.number, "moisture", shown, reason))
        return row
    return _with(row, "moisture", (wet - dry) / (dry - pan))


def temperature_as_answered(
    rows: list[Row], understood: list[Understood], said: Answers
) -> tuple[list[Row], list[Understood]]:
    """One temperature for all rows, from the answers, where the file has no column of it."""
    answered = said.get("temperature")
    if not answered or any(column.meaning == "temperature" for column in understood):
        return rows, []
    T = parse_quantity(answered, "temperature").value
    shown = Understood("for all rows", "temperature", "K", "", f"{answered}, as answered", "temperature")
    return [_with(row, "temperature", T) for row in rows], [shown]


def time_from_belt(
    rows: list[Row], understood: list[Understood], said: Answers, file: str
) -> tuple[list[Row], list[Understood]]:
    """Baking time from the speed of the belt, where the file has no time: the oven's length over it.

    Raises `HardtackError` when nobody has said how long the oven is.
    """
    there = {column.meaning for column in understood}
    if "belt speed" not in there or there & {"time", "clock", "time of day"}:
        return rows, []
    answered = said.get("oven length")
    if not answered:
        raise HardtackError(question("belt speeds, but how long is the oven?", "oven length", file))
    length = _metres(answered)
    made = [
        _with(row, "time", length / speed)
        if isinstance(speed := row.values.get("belt speed"), float)
        else row
        for row in rows
    ]
    return made, [Understood("from the belt", "time", "s", "", f"{answered} over the belt's speed", "time")]


def _metres(written: str) -> float:
    found = re.fullmatch(r"([0-9]+(?:[.,][0-9]+)?)\s*(m|ft)", written.strip())
    if found is None or not float(found[1].replace(",", ".")) > 0:
        raise HardtackError(
            f"oven length: {written[:40]!r} is no length of an oven", "write it such as 42 m, or 140 ft"
        )
    return convert(float(found[1].replace(",", ".")), found[2], "m")


def activity_from_salt(
    rows: list[Row], understood: list[Understood], file: str, aside: list[SetAside]
) -> tuple[list[Row], list[Understood]]:
    """Activity from the saturated salt of the jar, at the row's temperature.

    Raises `HardtackError` when no temperature is known. Tables that also hold an activity, a humidity or an
    expected value keep theirs: there the salt is a standard, not a jar.
    """
    there = {column.meaning for column in understood}
    if "salt" not in there or there & {"activity", "expected activity", "humidity"}:
        return rows, []
    if "temperature" not in there:
        raise HardtackError(question("salts, but at which temperature?", "temperature", file))
    made = [_with_activity(row, file, aside) for row in rows]
    return made, [
        Understood(FROM_SALT, "activity", "fraction", "", "over its saturated solution", "activity")
    ]


def _with_activity(row: Row, file: str, aside: list[SetAside]) -> Row:
    salt, T = row.values.get("salt"), row.values.get("temperature")
    if not isinstance(salt, str) or not isinstance(T, float):
        reason = "no activity: " + ("no salt named" if not isinstance(salt, str) else "no temperature")
        aside.append(SetAside(file, row.number, "activity", "", reason))
        return row
    try:
        return _with(row, "activity", salt_activity(salt, T).value)
    except HardtackError as error:
        aside.append(SetAside(file, row.number, "activity", salt, f"no activity: {error.problems[0].what}"))
        return row


def _with(row: Row, key: str, value: float) -> Row:
    values: Mapping[str, Value] = MappingProxyType({**row.values, key: value})
    return replace(row, values=values)
