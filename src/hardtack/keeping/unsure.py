"""What is unsure of a product: the numbers its file states with a spread, and those it leans on without one."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from hardtack.failures.names import FERMENTATION, FIRMING, MOULD
from hardtack.keeping.cases import Case
from hardtack.keeping.doubt import (
    Acts,
    Doubt,
    Ties,
    Unsure,
    by_shelf,
    from_line,
    known,
    listed_names,
    spread_of,
    told_of,
)
from hardtack.keeping.follow import Followed
from hardtack.keeping.inputs import Input, Path
from hardtack.keeping.judged import Judged
from hardtack.keeping.laws import Law, as_factor, as_shift, factor_law, law_of, shift_law
from hardtack.keeping.stated import stated_kinds, stated_spreads, tied_constants
from hardtack.keeping.unsure_pack import climates_unsure, pack_unsure
from hardtack.piece.materials import diffusivity_of
from hardtack.product import Product
from hardtack.product.schema import DiffusivitySpec, LayerSpec
from hardtack.sourced import Provenance, Spread
from hardtack.states import Barrier, Layer, Piece


def doubt_of(product: Product, case: Case, followed: Followed) -> Doubt:
    """Everything unsure of a product: `case` is it built, `followed` what happened as the file has it.

    Numbers that state a spread (sd, range or list) have that one. Those without are given the reference shelf's, by
    how they are known; geometry, counts, times and prices that state none are taken as exact.
    """
    given = {one.path: one for one in stated_spreads(product)}
    seen: set[Path] = set()
    found = [
        *_layers(case, given, seen),
        *_barriers(case, given, seen),
        *pack_unsure(case, given, seen),
        *climates_unsure(case, given, seen),
        *_limits(product, followed, given, seen),
        *_paces(product, followed, given),
    ]
    rest = [one for path, one in given.items() if path not in seen]
    kinds = stated_kinds(product, [one.path for one in rest])
    for one, kind in zip(rest, kinds, strict=True):
        law = law_of(one.amount, kind.low, kind.high)
        assert law is not None  # stated_spreads gives those alone that state one
        spread = one.amount.spread or "not known"
        name = one.name.replace(": parameters ", ": ")
        found.append(
            Unsure(name, "number", (), law, spread, told_of(law), "its own spread", one.path, _form(one.path))
        )
    place = {one.path: k for k, one in enumerate(found) if one.path is not None}
    ties = tuple(
        Ties(tuple(place[path] for path in paths), np.asarray(np.linalg.cholesky(matrix), dtype=np.float64))
        for paths, matrix in tied_constants(product)
        if all(path in place for path in paths)
    )
    return Doubt(tuple(found), ties)


def _form(path: Path) -> str:
    """The form of measurement that would narrow a plain number of the file."""
    words = [str(part) for part in path]
    for key, form in (
        ("isotherm", "isotherm"),
        ("mould", "growth"),
        ("firming", "firming"),
        ("rancidity", "rancidity"),
    ):
        if key in words:
            return form
    return "number"


def _paths(product: Product) -> Iterable[tuple[LayerSpec, Path]]:
    """Every layer of the file with its place."""
    several = product.one_piece is None
    for n, piece in enumerate(product.pieces):
        head: Path = ("pieces", n) if several else ("piece",)
        for k, part in enumerate(piece.layers):
            if isinstance(part, LayerSpec):
                yield part, (*head, "layers", k)


def _layers(case: Case, given: dict[Path, Input], seen: set[Path]) -> list[Unsure]:
    found: list[Unsure] = []
    layers = {layer.name: layer for piece in case.pieces for layer in piece.layers}
    curves: dict[str, list[str]] = {}
    passages: dict[tuple[float, ...], list[str]] = {}
    laws: dict[str, Law | None] = {}
    how: dict[str, Provenance] = {}
    for spec, path in _paths(case.product):
        layer = layers[spec.name]
        found += _packed(spec, layer.moisture, path, given, seen)
        own = [p for p in given if p[: len(path) + 1] == (*path, "isotherm")]
        if not own:
            curves.setdefault(spec.formula or layer.isotherm.name, []).append(spec.name)
        value = (*path, "diffusivity", "value")
        amount = given.get(value)
        D = layer.diffusivity
        passages.setdefault((D.D_ref, D.slope, D.E), []).append(spec.name)
        laws[spec.name] = law_of(amount.amount) if amount else None
        how[spec.name] = _diffusivity_known(spec, case.product.kind)
        if amount:
            seen.add(value)
    for names in curves.values():
        found.append(_curve(layers[names[0]], tuple(names)))
    for names in passages.values():
        stated = laws[names[0]]
        law = as_factor(stated) if stated else factor_law(known(how[names[0]], "diffusivity"))
        why = "its own spread" if stated else by_shelf(how[names[0]])
        name = f"diffusivity of {listed_names(names)}"
        found.append(
            Unsure(
                name, "diffusivity", tuple(names), law, "not known", told_of(law), why, None, "diffusivity"
            )
        )
    found += _masses(case, given, seen)
    return found


def _packed(spec: LayerSpec, X: float, path: Path, given: dict[Path, Input], seen: set[Path]) -> list[Unsure]:
    """Moisture, or activity where it stands alone, when packed: what is not known of it, and what differs by pack."""
    key = "moisture" if spec.moisture is not None else "activity"
    amount = spec.moisture if spec.moisture is not None else spec.activity
    if amount is None:
        return []
    stated = law_of(amount, 0.0, 1.0 if key == "activity" else np.inf)
    name = f"{key} of {spec.name} when packed"
    found = []
    wet = as_shift if key == "activity" else as_factor
    form = "activity" if key == "activity" else "moisture"
    kind: Spread = spread_of(amount, key)
    if stated is not None:
        seen.add((*path, key))
        law = wet(stated)
        found.append(
            Unsure(name, _acts(key), (spec.name,), law, kind, told_of(stated), "its own spread", None, form)
        )
    else:
        most = known(amount.provenance, "most_moisture") / X
        law = factor_law(min(known(amount.provenance, "moisture"), most))
        found.append(
            Unsure(
                name,
                "moisture",
                (spec.name,),
                law,
                "not known",
                told_of(law),
                by_shelf(amount.provenance),
                None,
                form,
            )
        )
    if stated is None or kind == "not known":
        law = factor_law(min(from_line("moisture"), from_line("most_moisture") / X))
        found.append(
            Unsure(
                f"moisture of {spec.name}, pack to pack", "moisture", (spec.name,), law, "pack to pack", told_of(law),
                "assumed, by the shelf", None, "",
            )
        )  # fmt: skip
    return found


def _acts(key: str) -> Acts:
    return "activity" if key == "activity" else "moisture"


def _diffusivity_known(spec: LayerSpec, kind: str | None) -> Provenance:
    if isinstance(spec.diffusivity, DiffusivitySpec):
        return spec.diffusivity.value.provenance
    words = [word for word in (spec.isotherm, spec.name, kind, "biscuit") if isinstance(word, str)]
    return diffusivity_of(spec, words)[1][0].amount.provenance


def _curve(layer: Layer, names: tuple[str, ...]) -> Unsure:
    """The error of an isotherm that states none in its constants: in activity from a formula, else in moisture."""
    iso = layer.isotherm
    name = f"isotherm of {listed_names(names)}"
    if iso.activity_sd is not None:
        told = f"± {iso.activity_sd:.2g} in activity"
        return Unsure(
            name,
            "isotherm",
            names,
            shift_law(1.0),
            "not known",
            told,
            "error of formulas, by the shelf",
            None,
            "isotherm",
        )
    law = factor_law(known(iso.provenance, "isotherm"))
    return Unsure(
        name, "isotherm", names, law, "not known", told_of(law), by_shelf(iso.provenance), None, "isotherm"
    )


def _masses(case: Case, given: dict[Path, Input], seen: set[Path]) -> list[Unsure]:
    found = []
    several = case.product.one_piece is None
    for n, (spec, piece) in enumerate(zip(case.product.pieces, case.pieces, strict=True)):
        path: Path = ("pieces", n, "mass") if several else ("piece", "mass")
        stated = law_of(spec.mass, 0.0)
        if stated is not None:
            seen.add(path)
        law = as_factor(stated) if stated else factor_law(from_line("mass"))
        why = "its own spread" if stated else "assumed, by the shelf"
        what = f"mass of {spec.name}" if spec.name else "mass of the goods"
        names = tuple(layer.name for layer in piece.layers)
        kind: Spread = spread_of(spec.mass, "mass")
        found.append(Unsure(f"{what} in a pack", "mass", names, law, kind, told_of(law), why, None, ""))
    return found


def _barriers(case: Case, given: dict[Path, Input], seen: set[Path]) -> list[Unsure]:
    """The barriers inside the pieces: those of one material and gauge are off together."""
    alike: dict[tuple[float, float, float], list[str]] = {}
    for piece in case.pieces:
        for barrier in barriers_met(piece):
            alike.setdefault((barrier.permeance, barrier.thickness, barrier.E), []).append(barrier.name)
    law = factor_law(known("from memory", "barrier"))
    return [
        Unsure(f"permeance of {listed_names(names)}", "barrier", tuple(names), law, "not known", told_of(law),
               by_shelf("from memory"), None, "barrier")
        for names in alike.values()
    ]  # fmt: skip


def barriers_met(piece: Piece) -> list[Barrier]:
    """The barriers water meets, in the order of the chain: not those at a closed end, nor those wholly open."""
    parts = list(piece.parts)
    first = next(k for k, part in enumerate(parts) if not isinstance(part, Barrier))
    last = max(k for k, part in enumerate(parts) if not isinstance(part, Barrier))
    return [
        part
        for k, part in enumerate(parts)
        if isinstance(part, Barrier)
        and not (k < first and not piece.open_ends[0])
        and not (k > last and not piece.open_ends[1])
        and not (part.openings is not None and part.openings.share == 1.0)
    ]


def _limits(product: Product, followed: Followed, given: dict[Path, Input], seen: set[Path]) -> list[Unsure]:
    """The limits of texture; layers judged by one number are off together."""
    alike: dict[tuple[str, float], list[Judged]] = {}
    for one, _ in followed.judged:
        if one.limit is not None:
            value = one.limit.moisture if one.limit.moisture is not None else one.limit.activity_at_failure
            alike.setdefault((one.name, value), []).append(one)
    found = []
    for (name, _), several in alike.items():
        limit = several[0].limit
        assert limit is not None
        key = "moisture" if limit.moisture is not None else "midpoint" if limit.softening else "activity"
        path: Path = ("limits", name.replace("-", " "), key)
        amount = given.get(path)
        seen.add(path)
        stated = (
            law_of(amount.amount, 0.0, 1.0 if key != "moisture" else np.inf) if amount is not None else None
        )
        sd = known(limit.provenance, "limit")
        if key == "moisture":
            law = as_factor(stated) if stated else factor_law(known(limit.provenance, "limit_moisture"))
        else:
            law = as_shift(stated) if stated else shift_law(sd)
        kind: Spread = amount.amount.spread or "not known" if amount is not None else "not known"
        names = tuple(one.layer for one in several)
        told = told_of(law) if key == "moisture" else f"± {law.spread:.2g} in activity"
        why = "its own spread" if stated else by_shelf(limit.provenance)
        found.append(
            Unsure(
                f"{name} limit of {listed_names(names)}",
                "limit",
                (name, *names),
                law,
                kind,
                told,
                why,
                None,
                "limit",
            )
        )
    return found


def _paces(product: Product, followed: Followed, given: dict[Path, Input]) -> list[Unsure]:
    """The pace of every other failure, unless the file states a spread for one of its numbers."""
    own = {str(path[1]) for path in given if path[0] == "failures" and len(path) > 2}
    found = []
    for one, course in followed.judged:
        if one.limit is not None or one.name.replace("-", " ") in own:
            continue
        grows = one.name in (MOULD, FERMENTATION)
        law = factor_law(known(course.provenance, "growth" if grows else "pace"))
        form = "growth" if grows else one.name if one.name in (FIRMING, "rancidity") else "pace"
        name = f"pace of {one.name} of {one.layer}"
        found.append(
            Unsure(
                name,
                "pace",
                (one.name, one.layer),
                law,
                "not known",
                told_of(law),
                by_shelf(course.provenance),
                None,
                form,
            )
        )
    return found
