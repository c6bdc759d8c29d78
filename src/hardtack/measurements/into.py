"""A fitted value into a product file: written as people write it, in its place, comments kept, nothing lost."""

from __future__ import annotations

import contextlib
import io
import math
import os
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from hardtack.errors import HardtackError, Problem
from hardtack.product import loads
from hardtack.sourced import Provenance


@dataclass(frozen=True, slots=True)
class Entry:
    """What is to be written, and where: ``piece / layers / biscuit / isotherm``.

    A text replaces what stands there, and so does a list of mappings. A mapping is written key by key over the one that stands there, whose
    keys `drops` go; where something else stands, it takes its place. None takes out what stands there.
    """

    path: str
    value: str | Mapping[str, str | Mapping[str, str]] | Sequence[Mapping[str, str]] | None
    drops: tuple[str, ...] = ()


def amount_text(
    value: float, sd: float | None, unit: str, provenance: Provenance = "measured here", source: str = ""
) -> str:
    """A quantity as a product file has it: ``4.2 ± 0.3 g/m2/day [measured here, cup test]``.

    The sd keeps two figures and the value as many places; without an sd the value keeps four figures. Raises
    `HardtackError` when a number is not finite or the sd is below zero.
    """
    if not math.isfinite(value) or (sd is not None and not (math.isfinite(sd) and sd >= 0)):
        raise HardtackError(
            f"{value} ± {sd} is no quantity", "the points do not fix this value: measure more"
        )
    number = f"{value:.4g}" if not sd else _with_spread(value, sd)
    words = " ".join(source.replace("[", "(").replace("]", ")").split())
    origin = f"{provenance}, {words}" if words else provenance
    return " ".join(part for part in (number, unit, f"[{origin}]") if part)


def _with_spread(value: float, sd: float) -> str:
    places = 1 - math.floor(math.log10(sd))
    if -places >= -6 and places <= 6:
        digits = max(places, 0)
        return f"{round(value, places):.{digits}f} ± {round(sd, places):.{digits}f}"
    figures = max(1, places + math.floor(math.log10(abs(value)))) if value else 1
    return f"{value:.{min(figures, 12)}e} ± {sd:.1e}"


def write_into(file: str | Path, path: str, text: str) -> str:
    """Put `text` at `path` (``pack / film / transmission``) of a product file and give back what stood there.

    Raises as `write_entries`.
    """
    return write_entries(file, (Entry(path, text),))[0]


def write_entries(file: str | Path, entries: Sequence[Entry]) -> tuple[str, ...]:
    """Put entries into a product file, all or none, and give back what stood there ("" where nothing did).

    List items are named by their number from 1, or by the `name` or `leg` they carry. Comments, order and all
    other lines stay. The file is checked before it is replaced, in one step; on any error it stays as it was.
    Raises `HardtackError` when a path is not there or the new file would not hold.
    """
    target = Path(file)
    try:
        raw = target.read_bytes()
        written = raw.decode("utf-8-sig").replace("\r\n", "\n")
    except (OSError, ValueError):
        raise HardtackError(
            Problem("the product file cannot be read", "save it as UTF-8", str(file))
        ) from None
    yaml, tree = _parsed(written, str(file))
    old = tuple(_replace(tree, entry, str(file)) for entry in entries)
    made = io.StringIO()
    yaml.dump(tree, made)
    result = made.getvalue()
    _check_kept(written, result, str(file))
    loads(result, str(file), target.parent)
    _swap(target, (b"\xef\xbb\xbf" if raw.startswith(b"\xef\xbb\xbf") else b"") + _ends_as(raw, result), raw)
    return old


def _parsed(text: str, file: str) -> tuple[Any, Any]:
    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    yaml = YAML(typ="rt")
    yaml.preserve_quotes = True
    yaml.width = 1_000_000
    yaml.indent(mapping=2, sequence=4, offset=_offset(text))
    if _offset(text) == 0:
        yaml.indent(mapping=2, sequence=2, offset=0)
    try:
        return yaml, yaml.load(text)
    except YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line = mark.line + 1 if mark else None
        raise HardtackError(
            Problem("the file is no YAML", "mend it first: hardtack validate", file, line)
        ) from None


def _offset(text: str) -> int:
    """How far list items are set in below their key, taken from the first list in the file."""
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    for before, line in pairwise(lines):
        if line.lstrip().startswith("- ") and before.split(" #")[0].rstrip().endswith(":"):
            return max(0, len(line) - len(line.lstrip()) - (len(before) - len(before.lstrip())))
    return 2


def _replace(tree: Any, entry: Entry, file: str) -> str:
    path = entry.path
    steps = [step.strip() for step in path.split("/") if step.strip()]
    if not steps:
        raise HardtackError(
            Problem("the path names no place", "write it as: pack / film / transmission", file)
        )
    node = tree
    for step in steps[:-1]:
        key = _key(node, step, path, file, new=isinstance(node, dict))
        if isinstance(node, dict) and key not in node:
            node[key] = _mapping({})
        node = node[key]
    last = _key(node, steps[-1], path, file, new=isinstance(node, dict))
    old = node.get(last, "") if isinstance(node, dict) else node[last]
    shown = _shown(old)
    if entry.value is None:
        if isinstance(node, dict) and last in node:
            _take_out(node, last)
    elif isinstance(entry.value, str):
        node[last] = _scalar(entry.value, old)
    elif not isinstance(entry.value, Mapping):
        node[last] = [_in_one_line(item) for item in entry.value]
    elif isinstance(old, dict):
        for key in entry.drops:
            old.pop(key, None)
        old.update(_mapping(entry.value))
    else:
        node[last] = _mapping(entry.value)
    return shown


def _take_out(node: Any, key: str) -> None:
    """Take a key out; its comments go above the key that follows it."""
    from ruamel.yaml import YAML
    from ruamel.yaml.comments import CommentedMap

    part = CommentedMap()
    part[key] = node[key]
    if key in node.ca.items:
        part.ca.items[key] = node.ca.items[key]
    text = io.StringIO()
    YAML(typ="rt").dump(part, text)
    keys = list(node)
    following = keys[keys.index(key) + 1 :]
    del node[key]
    node.ca.items.pop(key, None)
    comments = _comments(text.getvalue())
    if comments and following:
        node.yaml_set_comment_before_after_key(following[0], before="\n".join(comments), indent=node.lc.col)


def _shown(value: Any) -> str:
    """What stands in a file, on one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {_shown(held)}" for key, held in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_shown(held) for held in value) + "]"
    return str(value)


def _mapping(value: Mapping[str, Any]) -> Any:
    from ruamel.yaml.comments import CommentedMap

    made = CommentedMap()
    for key, held in value.items():
        made[key] = _mapping(held) if isinstance(held, Mapping) else _scalar(held, "")
    return made


def _in_one_line(value: Mapping[str, str]) -> Any:
    made = _mapping(value)
    made.fa.set_flow_style()
    return made


def _key(node: Any, step: str, path: str, file: str, *, new: bool = False) -> Any:
    if isinstance(node, dict):
        for key in node:
            if str(key) == step or (isinstance(key, float) and str(key) == step):
                return key
        if new:
            return step
        there = ", ".join(str(key) for key in node)
    elif isinstance(node, list):
        for place, item in enumerate(node):
            if isinstance(item, dict) and step in (str(item.get("name")), str(item.get("leg"))):
                return place
        if step.isdigit() and 1 <= int(step) <= len(node):
            return int(step) - 1
        there = f"{len(node)} items"
    else:
        there = "one value, nothing below it"
    what = f"{path}: there is no {step!r}"
    raise HardtackError(Problem(what, f"at that place: {there}", file))


def _scalar(text: str, old: Any) -> Any:
    """The text as the old value was quoted; a plain mapping in one line is never broken by a bracket."""
    from ruamel.yaml.scalarstring import DoubleQuotedScalarString, SingleQuotedScalarString

    if isinstance(old, SingleQuotedScalarString):
        return SingleQuotedScalarString(text)
    if isinstance(old, DoubleQuotedScalarString) or any(mark in text for mark in "[]{},#:"):
        return DoubleQuotedScalarString(text)
    return text


def _check_kept(before: str, after: str, file: str) -> None:
    """Every comment of the old file stands in the new one, in order."""
    old, new = _comments(before), iter(_comments(after))
    if not all(any(comment == kept for kept in new) for comment in old):
        raise HardtackError(
            Problem("writing would lose a comment, so nothing was written", "put the value in by hand", file)
        )


def _comments(text: str) -> list[str]:
    found = []
    for line in text.splitlines():
        head, mark, tail = line.partition("#")
        if mark and (not head.strip() or head[-1:] in (" ", "\t")):
            found.append(" ".join(tail.split()))
    return found


def _ends_as(before: bytes, after: str) -> bytes:
    return (after.replace("\n", "\r\n") if b"\r\n" in before else after).encode("utf-8")


def _swap(target: Path, data: bytes, expected: bytes) -> None:
    """Write beside the file, flush to the disk, look whether the file is still the one read, then rename."""
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.", suffix=".new")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        with contextlib.suppress(OSError):
            os.chmod(name, target.stat().st_mode & 0o7777)
        if target.read_bytes() != expected:
            raise HardtackError(
                Problem("the file was changed meanwhile, so nothing was written", "try again", str(target))
            )
        os.replace(name, target)
    except OSError:
        raise HardtackError(
            Problem("the file cannot be written", "look at the folder's rights", str(target))
        ) from None
    finally:
        with contextlib.suppress(OSError):
            Path(name).unlink(missing_ok=True)
