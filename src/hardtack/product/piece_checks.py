"""What must hang together across the keys of the piece: sizes, ends, names, layers, barriers."""

from __future__ import annotations

import re

from hardtack.product.complete import entries_of, has, list_of, need_together, pieces_of
from hardtack.product.tree import Entries, Tree

_SIZES: dict[str, tuple[tuple[str, ...], ...]] = {
    "slab": (
        ("thickness", "length", "width"),
        ("thickness", "diameter"),
        ("thickness", "face area"),
    ),
    "cylinder": (("diameter", "length"),),
    "sphere": (("diameter",),),
}
_ALL_SIZES = ("thickness", "length", "width", "diameter", "face area")


def check_pieces(tree: Tree) -> None:
    """Note what does not fit together in the kinds of piece."""
    given = has(tree.root, "piece", "pieces")
    if not given:
        tree.problem("'piece' is missing", "add 'piece:' with its shape, sizes, mass and layers", 1)
    elif len(given) == 2:
        what = "'piece' and 'pieces' at once"
        mend = "put all kinds of piece in the list under 'pieces', each with its name and count"
        tree.problem(what, mend, tree.root.line_of("pieces"), ("pieces",))
    pieces = pieces_of(tree)
    for piece in pieces:
        if len(pieces) > 1 and not has(piece, "name"):
            tree.problem(
                "'name' is missing", "with several kinds of piece each has its name", piece.line, piece.path
            )
        _check_piece(tree, piece)
    _check_names(tree, [part for piece in pieces for part in list_of(piece, "layers")])


def _check_piece(tree: Tree, piece: Entries) -> None:
    shape = str(piece.get("shape", ""))
    if shape in _SIZES:
        _check_sizes(tree, piece, shape)
        round_piece = shape != "slab"
        ends = str(piece.get("open ends", "")).strip()
        if round_piece and ends in ("both", "first", "last"):
            tree.problem(
                f"a {shape} has a surface, not two ends",
                "write 'open ends: surface', or 'none', or take the line out",
                piece.line_of("open ends"),
                (*piece.path, "open ends"),
            )
        if not round_piece and ends == "surface":
            tree.problem(
                "a slab has two ends, not one surface",
                "write 'open ends: both', 'first', 'last' or 'none'",
                piece.line_of("open ends"),
                (*piece.path, "open ends"),
            )
    if "pack" in tree.root and piece and not has(piece, "count"):
        tree.problem("'count' is missing", "add 'count: 26', the pieces in a pack", piece.line, piece.path)
    count = str(piece.get("count", ""))
    if re.fullmatch(r"\d*\.\d+", count) and not float(count).is_integer():
        where = (*piece.path, "count")
        tree.problem("pieces are counted in whole numbers", "write it such as 26", tree.lines[where], where)
    parts = list_of(piece, "layers")
    layers = [part for part in parts if "barrier" not in part]
    if "layers" in piece and isinstance(piece["layers"], list) and not layers:
        tree.problem(
            "no layer holds water",
            "add a layer with its moisture",
            piece.line_of("layers"),
            (*piece.path, "layers"),
        )
    for k, part in enumerate(parts):
        if "barrier" in part:
            _check_barrier(tree, entries_of(part, "barrier"))
            _check_openings(tree, parts, k)
            continue
        _check_layer(tree, part)
        if shape == "sphere" and has(part, "rim"):
            tree.problem(
                "a sphere has no rim",
                "take the line out; its surface is open unless 'open ends' says none",
                part.line_of("rim"),
                (*part.path, "rim"),
            )


def _check_sizes(tree: Tree, piece: Entries, shape: str) -> None:
    given = set(has(piece, *_ALL_SIZES))
    ways = _SIZES[shape]
    if given in [set(way) for way in ways]:
        return
    said = ", or ".join(" and ".join(way) for way in ways)
    stray = given - {key for way in ways for key in way}
    for key in sorted(stray):
        tree.problem(
            f"a {shape} has no {key}", f"its sizes are: {said}", piece.line_of(key), (*piece.path, key)
        )
    if given - stray in [set(way) for way in ways]:
        return
    lacking = not any(set(way) <= given for way in ways)
    what = f"the sizes of the {shape} are not complete" if lacking else f"the {shape} has sizes too many"
    tree.problem(what, f"give {said}", piece.line, piece.path)


def _check_names(tree: Tree, parts: list[Entries]) -> None:
    seen: dict[str, int] = {}
    for part in parts:
        name = " ".join(str(part.get("name", "")).split())
        line = part.line_of("name")
        if name and name in seen:
            tree.problem(
                f"two layers are called '{name}', the first in line {seen[name]}",
                "give each layer a name of its own",
                line,
                (*part.path, "name"),
            )
        seen.setdefault(name, line)


def _check_layer(tree: Tree, layer: Entries) -> None:
    baked = "oven" in tree.root and has(layer, "formula")
    if not baked and not has(layer, "moisture", "activity"):
        tree.problem(
            "the layer has neither moisture nor activity",
            "add 'moisture: 2.6 %wb' or 'activity: 0.17', or both",
            layer.line,
            layer.path,
        )
    if has(layer, "activity at") and not has(layer, "activity"):
        tree.problem(
            "'activity at' without an activity", "add the activity", layer.line_of("activity at"), layer.path
        )
    if not has(layer, "isotherm", "formula") and not has(tree.root, "kind"):
        tree.problem(
            "the layer has no isotherm, and the product no kind to choose one by",
            "add 'isotherm: soda cracker' or a 'formula' here, or 'kind: cracker' at the top",
            layer.line,
            layer.path,
        )
    law = entries_of(layer, "diffusivity")
    need_together(tree, law, "activation energy", "at", "at: 25 degC")
    need_together(tree, law, "rises with moisture", "around", "around: 5 %db")


def _check_barrier(tree: Tree, barrier: Entries) -> None:
    given = has(barrier, "material", "permeability", "permeance")
    if not barrier:
        return
    if len(given) != 1:
        what = (
            "nothing says how much the barrier lets through"
            if not given
            else f"{' and '.join(given)} at once"
        )
        mend = "give one of: 'material' and 'thickness'; 'permeability' and 'thickness'; 'permeance'"
        tree.problem(what, mend, barrier.line, barrier.path)
    elif given[0] != "permeance":
        need_together(tree, barrier, given[0], "thickness", "thickness: 0.3 mm")
    need_together(tree, barrier, "activation energy", "at", "at: 20 degC")


def _check_openings(tree: Tree, parts: list[Entries], k: int) -> None:
    """Holes and cracks of the barrier that is part `k`."""
    barrier = entries_of(parts[k], "barrier")
    need_together(tree, barrier, "hole width", "coverage", "coverage: 95 %")
    need_together(tree, barrier, "crack width", "cracks", "cracks: 0.5 %")
    if has(barrier, "coverage") and has(barrier, "cracks"):
        what, mend = "a barrier has 'coverage' or 'cracks', not both", "keep the one that lets more through"
        tree.problem(what, mend, barrier.line_of("cracks"), (*barrier.path, "cracks"))
    inside = any("barrier" not in part for part in parts[:k]) and any(
        "barrier" not in part for part in parts[k:]
    )
    if has(barrier, "cracks") and inside:
        tree.problem(
            "'cracks' are of a coat on the outside; this barrier lies between two layers",
            "write 'coverage: 95 %' with the share it covers",
            barrier.line_of("cracks"),
            (*barrier.path, "cracks"),
        )
    before = entries_of(parts[k - 1], "barrier") if k > 0 else Entries(1, ())
    if has(barrier, "coverage", "cracks") and has(before, "coverage", "cracks"):
        tree.problem(
            "two barriers on one face both have openings, and nothing says whether those lie on one another",
            "give one of them a coverage that stands for the pair",
            barrier.line,
            barrier.path,
        )
