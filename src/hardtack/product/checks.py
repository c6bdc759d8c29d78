"""What must hang together across keys. Each check reads the file's own text, so that a slip elsewhere in
the file hides none of them; what a single key may hold is the schema's business."""

from __future__ import annotations

from hardtack.product.complete import entries_of, has, quietly
from hardtack.product.failure_checks import check_failures, check_layer_named
from hardtack.product.formula_checks import check_formulas
from hardtack.product.journey_checks import check_journey
from hardtack.product.pack_checks import check_pack
from hardtack.product.piece_checks import check_pieces
from hardtack.product.quantities import Origin
from hardtack.product.tree import Entries, Tree


def check(tree: Tree, origin: Origin) -> None:
    """Note every problem between keys in `tree.problems`."""
    check_formulas(tree, origin)
    check_pieces(tree)
    check_pack(tree)
    check_journey(tree)
    _check_limits(tree, origin)
    check_failures(tree)


def _check_limits(tree: Tree, origin: Origin) -> None:
    limits = entries_of(tree.root, "limits")
    for key in limits:
        limit = entries_of(limits, key)
        if not limit:
            continue
        check_layer_named(tree, limit, limit.get("layer"), "layer")
        _check_limit(tree, limit, _LIMIT_WAYS.get(key, _BY_WATER))
        loss = quietly(limit, "failing loss", "share", origin)
        if loss is not None and not 0 < loss.value < 1:
            tree.problem(
                "the failing loss lies between 0 and 100 %, both left out",
                "write it such as 50 %",
                limit.line_of("failing loss"),
                (*limit.path, "failing loss"),
            )


_BY_WATER = "give one of: 'activity' and 'at'; 'moisture'"
_LIMIT_WAYS = {"crispness": f"{_BY_WATER}; 'midpoint', 'steepness', 'failing loss' and 'at'"}


def _check_limit(tree: Tree, limit: Entries, mend: str) -> None:
    """Stated one way: by activity, by moisture, or by a loss of the sigmoid."""
    sigmoid = has(limit, "midpoint", "steepness", "failing loss")
    ways = [*has(limit, "activity", "moisture"), *sigmoid[:1]]
    if len(ways) > 1:
        said = " and ".join(f"'{key}'" for key in ways)
        tree.problem(f"the limit is stated by {said} at once", mend, limit.line, limit.path)
    elif not ways:
        tree.problem("the limit names neither an activity nor a moisture", mend, limit.line, limit.path)
    if 0 < len(sigmoid) < 3:
        tree.problem(f"{' and '.join(sigmoid)} alone give no limit", mend, limit.line, limit.path)
    if (sigmoid or "activity" in ways) and not has(limit, "at"):
        tree.problem(
            "a limit by activity without its temperature",
            "add 'at: 25 degC', the temperature of the texture test",
            limit.line,
            limit.path,
        )
