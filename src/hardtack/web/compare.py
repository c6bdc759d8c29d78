"""Two states side by side: what differs in the file, and what it did to each failure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from hardtack.product.tree import Entries, read_tree
from hardtack.states import FailureCourse, of_layer
from hardtack.units import DAY
from hardtack.web.shown import Figure, failure_when, figure

if TYPE_CHECKING:
    from hardtack.keeping import KeepingStatement


@dataclass(frozen=True, slots=True)
class Difference:
    """One value that differs; None where it is not written."""

    where: str
    first: str | None
    second: str | None


@dataclass(frozen=True, slots=True)
class Effect:
    """One failure in both: when it comes, and what the second gains [days]; None when one has no day."""

    failure: str
    first: str
    second: str
    gained: float | None


def differences(first: str, second: str) -> tuple[Difference, ...]:
    """Every value that differs, by its place in words. Raises `HardtackError` when a text is no YAML."""
    a, b = (_values(text) for text in (first, second))
    return tuple(
        Difference(where, a.get(where), b.get(where))
        for where in dict.fromkeys((*a, *b))
        if a.get(where) != b.get(where)
    )


def effects(first: KeepingStatement, second: KeepingStatement) -> tuple[Effect, ...]:
    """Each failure of either, in the order of the first. A failure that each has once is the same one, whatever
    its layer is called."""
    once = {
        name
        for name in (c.name for c in first.courses)
        if all(sum(c.name == name for c in each.courses) == 1 for each in (first, second))
    }
    a, b = ({c.name if c.name in once else _name(c): c for c in each.courses} for each in (first, second))
    return tuple(
        Effect(
            _called(key, a.get(key), b.get(key)),
            _when(a.get(key)),
            _when(b.get(key)),
            _gained(a.get(key), b.get(key)),
        )
        for key in dict.fromkeys((*a, *b))
    )


def _called(key: str, first: FailureCourse | None, second: FailureCourse | None) -> str:
    """With its layer, where both have it in a layer of that name."""
    if first is not None and second is not None and first.layer == second.layer:
        return _name(first)
    return key


def comparison_figure(names: tuple[str, str], first: KeepingStatement, second: KeepingStatement) -> Figure:
    """Both versions' lives in one picture."""
    from hardtack.pictures import life

    versions = [life.Version(names[0], first), life.Version(names[1], second)]
    return figure("compare", "Both lives", life.life_picture(versions), life.table(versions))


def _values(text: str) -> dict[str, str]:
    tree = read_tree(text, "product file")
    found: dict[str, str] = {}

    def walk(node: Any, place: tuple[str | int, ...]) -> None:
        if isinstance(node, Entries):
            for key, value in node.items():
                walk(value, (*place, key))
        elif isinstance(node, list):
            for k, value in enumerate(node):
                walk(value, (*place, k))
        elif node is not None:
            where = tree.words(place)
            while where in found:  # two of one name
                where += " (another)"
            found[where] = str(node)

    walk(tree.root, ())
    return found


def _name(course: FailureCourse) -> str:
    return of_layer(course.name, course.layer)


def _when(course: FailureCourse | None) -> str:
    return "–" if course is None else failure_when(course)


def _gained(first: FailureCourse | None, second: FailureCourse | None) -> float | None:
    if first is None or second is None or first.time is None or second.time is None:
        return None
    return (second.time - first.time) / DAY
