"""What is unsure of a pack and of the climates on its journey."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Literal

from hardtack.keeping.cases import Case
from hardtack.keeping.doubt import Unsure, by_shelf, from_line, known, spread_of, told_of
from hardtack.keeping.inputs import Input, Path
from hardtack.keeping.laws import Law, as_factor, as_shift, factor_law, law_of, shift_law
from hardtack.pack import pack_of
from hardtack.product.journey_spec import LegSpec
from hardtack.sourced import Provenance, Sourced, Spread, Used


def pack_unsure(case: Case, given: dict[Path, Input], seen: set[Path]) -> list[Unsure]:
    """The film, its temperature law, and what makes a whole pack of it; nothing where all lies unpacked."""
    if case.pack is None or all(leg.film_coefficient is not None for leg in case.journey.legs):
        return []
    _, used = pack_of(case.product)
    found = [_rate(used, given, seen)]
    energies = _amounts(used, "activation energy of permeance")
    amount = energies[0] if energies else Sourced(case.pack.film.E, "J/mol", "assumed")
    path: Path = ("pack", "film", "activation energy")
    stated = law_of(amount) if path in given else None
    law = (
        as_shift(stated)
        if stated
        else shift_law(known(amount.provenance, "energy") * abs(amount.value) or 5e3)
    )
    seen.add(path)
    why = "its own spread" if stated else by_shelf(amount.provenance)
    told = f"± {law.spread / 1e3:.2g} kJ/mol"
    found.append(
        Unsure("activation energy of the film", "energy", (), law, "not known", told, why, None, "energy")
    )
    return found + _whole(used, given, seen)


def _rate(used: Sequence[Used], given: dict[Path, Input], seen: set[Path]) -> Unsure:
    """The film: its test's own spread, else the shelf's by how the least known ply is known."""
    name = "transmission of the film"
    for key in ("transmission", "permeance"):
        path: Path = ("pack", "film", key)
        if path in given:
            seen.add(path)
            stated = law_of(given[path].amount, 0.0)
            assert stated is not None
            law, amount = as_factor(stated), given[path].amount
            kind: Spread = spread_of(amount, key)
            return Unsure(name, "permeance", (), law, kind, told_of(stated), "its own spread", None, "film")
    rates = _amounts(used, "transmission rate of", "permeance of")
    least: Provenance = max(
        (rate.provenance for rate in rates), key=lambda p: known(p, "permeance"), default="assumed"
    )
    law = factor_law(known(least, "permeance"))
    return Unsure(name, "permeance", (), law, "not known", told_of(law), by_shelf(least), None, "film")


def _whole(used: Sequence[Used], given: dict[Path, Input], seen: set[Path]) -> list[Unsure]:
    """From film to whole pack: what is not known of the factor, and how the seals differ from pack to pack."""
    amount = next(iter(_amounts(used, "whole-pack factor")), Sourced(1.0, "", "assumed"))
    path: Path = ("pack", "whole-pack factor")
    seen.add(path)
    stated = law_of(amount, 0.0)
    found = []
    own = path in given
    kind: Spread = spread_of(amount, "whole-pack factor") if own else "not known"
    law = as_factor(stated) if stated else factor_law(known(amount.provenance, "permeance"))
    why = "its own spread" if own else "range on the shelf" if stated else by_shelf(amount.provenance)
    found.append(
        Unsure(
            "whole-pack factor, seals and folds", "permeance", (), law, kind, told_of(law), why, None, "seals"
        )
    )
    if kind == "not known":
        law = factor_law(from_line("permeance"))
        found.append(
            Unsure(
                "seals, pack to pack",
                "permeance",
                (),
                law,
                "pack to pack",
                told_of(law),
                "assumed, by the shelf",
                None,
                "",
            )
        )
    return found


def _amounts(used: Iterable[Used], *heads: str) -> list[Sourced]:
    return [number.amount for number in used if number.what.startswith(heads)]


def climates_unsure(case: Case, given: dict[Path, Input], seen: set[Path]) -> list[Unsure]:
    """The mean temperature and humidity of every leg."""
    found = []
    kinds: tuple[tuple[Literal["temperature", "humidity"], str, Callable[[Law], str]], ...] = (
        ("temperature", "K", lambda law: told_of(law, "K")),
        ("humidity", "%", lambda law: told_of(law, "%")),
    )
    for n, (spec, leg) in enumerate(zip(case.product.journey, case.journey.legs, strict=True)):
        for key, _, told in kinds:
            path: Path = ("journey", n, key, "mean")
            amount = given.get(path)
            stated = law_of(amount.amount) if amount is not None else None
            seen.add(path)
            how = _climate_known(spec, key)
            law = as_shift(stated) if stated else shift_law(known(how, key))
            kind: Spread = spread_of(amount.amount, key) if amount is not None else "not known"
            why = "its own spread" if stated else by_shelf(how)
            found.append(
                Unsure(f"{key} of {leg.name}", key, (leg.name,), law, kind, told(law), why, None, "climate")
            )
    return found


def _climate_known(spec: LegSpec, key: str) -> Provenance:
    course = getattr(spec, key, None)
    mean = getattr(course, "mean", None)
    if isinstance(mean, Sourced):
        return mean.provenance
    return "measured here" if getattr(spec, "logger", None) is not None else "seen"
