"""What must hang together in the pack: film or laminate, the film's test, outer packs."""

from __future__ import annotations

from hardtack.product.complete import entries_of, has, list_of, quietly
from hardtack.product.quantities import Origin
from hardtack.product.tree import Entries, Tree


def check_pack(tree: Tree) -> None:
    """Note every problem between the keys of the pack in `tree.problems`."""
    pack = entries_of(tree.root, "pack")
    if not has(tree.root, "pack") or not isinstance(tree.root.get("pack"), Entries):
        return
    _check_what_it_is_made_of(tree, pack)
    _check_film(tree, entries_of(pack, "film"))
    _check_atmosphere(tree, entries_of(pack, "atmosphere"))
    if has(pack, "laminate") and isinstance(pack.get("laminate"), list) and len(pack["laminate"]) < 2:
        tree.problem(
            "a laminate has at least two plies",
            "name the plies from the inside to the outside, or write 'film'",
            pack.line_of("laminate"),
            (*pack.path, "laminate"),
        )
    _check_outer_packs(tree, pack)


def _check_what_it_is_made_of(tree: Tree, pack: Entries) -> None:
    given = has(pack, "film", "laminate")
    if len(given) == 2:
        tree.problem(
            "the pack has 'film' and 'laminate' at once", "keep one of the two", pack.line, pack.path
        )
    elif not given:
        tree.problem(
            "'film' is missing", "add 'film: OPP 20 um', or 'laminate' with its plies", pack.line, pack.path
        )


def _check_film(tree: Tree, film: Entries) -> None:
    if not film:
        return
    given = has(film, "transmission", "permeance")
    if len(given) != 1:
        what = (
            "the film has neither transmission nor permeance"
            if not given
            else "transmission and permeance at once"
        )
        tree.problem(what, "give one of the two, as the supplier's sheet states it", film.line, film.path)
    tested = entries_of(film, "tested at")
    if tested and "transmission" in given:
        for key, example in (("humidity outside", "90 %"), ("humidity inside", "0 %")):
            if not has(tested, key):
                tree.problem(
                    f"a transmission rate says nothing without its test's '{key}'",
                    f"add '{key}: {example}', from the supplier's sheet",
                    tested.line,
                    tested.path,
                )


def _check_atmosphere(tree: Tree, atmosphere: Entries) -> None:
    shares = [quietly(atmosphere, key, "share", Origin()) for key in ("oxygen", "carbon dioxide")]
    total = sum(share.value for share in shares if share is not None)
    if total > 1.0 + 1e-9:
        tree.problem(
            f"oxygen and carbon dioxide make {total:.0%} of the gas",
            "together they make 100 % at most; the rest is nitrogen",
            atmosphere.line,
            atmosphere.path,
        )


def _check_outer_packs(tree: Tree, pack: Entries) -> None:
    names: list[str] = []
    for outer in list_of(pack, "outer packs"):
        name = " ".join(str(outer.get("name", "")).split())
        if name and (name in names or name in ("all", "none")):
            tree.problem(
                f"an outer pack cannot be called '{name[:60]}'"
                if name in ("all", "none")
                else f"two outer packs are called '{name[:60]}'",
                "give each a name of its own",
                outer.line_of("name"),
                outer.path,
            )
        names.append(name)
        _check_film(tree, entries_of(outer, "film"))
        if len(has(outer, "film", "area")) == 1:
            lacks = "area" if has(outer, "film") else "film"
            example = {"area": "0.9 m2", "film": "LDPE"}[lacks]
            tree.problem(
                f"the outer pack's film needs its '{lacks}'",
                f"add '{lacks}: {example}'",
                outer.line,
                outer.path,
            )
        if not has(outer, "film", "air changes"):
            tree.problem(
                "nothing lets water into the outer pack",
                "add 'film' and 'area', or 'air changes: 0.5 1/h'",
                outer.line,
                outer.path,
            )
