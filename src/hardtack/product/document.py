"""One value of a product file's text put in, taken out or moved; every other letter stays as it was written.

A place is a tuple of keys and of item numbers from 0: ``("piece", "layers", 0, "moisture")``. The text may
hold values that do not read yet (that is for `loads` to say), but it must be YAML.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from typing import Any
from urllib.parse import quote, unquote

from hardtack.errors import HardtackError, Problem
from hardtack.product.tree import composed, read_tree

Place = tuple[str | int, ...]

_NOT_PLAIN = re.compile(
    r": |:$| #|[\x00-\x1f\x7f-\x9f\u2028\u2029\ufeff]|^[?:,\[\]{}#&*!|>'\"%@`]|^-(?![\d.])|^\.\.\.|^---"
)
_NAME = "product file"
_NOTHING = ("", "~", "null", "Null", "NULL")


def place_words(place: Place) -> str:
    """A place as one word, for a form field or an address: ``piece/layers/0/moisture``."""
    return "/".join(str(step) if isinstance(step, int) else quote(step, safe=" '°.,()") for step in place)


def read_place(words: str) -> tuple[str, ...]:
    """The place that `place_words` wrote; item numbers come as text, and count as numbers wherever a list stands."""
    return tuple(unquote(step) for step in words.split("/")) if words else ()


def put(text: str, place: Place, value: str) -> str:
    """The text with `value` at `place`; keys that are missing on the way are made.

    An item number one past the end adds an item. An empty `value` takes the key out. Raises `HardtackError`
    when the text is no YAML, or the place is not there and cannot be made.
    """
    if not place:
        raise HardtackError("no place is named", "name a key, such as pack/film")
    if not value.strip():
        return take_out(text, place)
    root = _composed(text)
    node, keys, at = root, (), 0
    while at < len(place) and (found := _below(node, place[at])) is not None:
        keys, node = found
        at += 1
    if at == len(place):
        return _checked(_replace(text, root, keys, node, value), place, value)
    flow = node.id != "scalar" and bool(node.flow_style)
    rest = place[at + 1 :]
    yaml = _nested(rest, _scalar(value, flow=True)) if rest else _scalar(value, flow=flow)
    return _checked(_insert(text, node, place[at], yaml), place, value)


def put_item(text: str, place: Place, item: str) -> str:
    """The text with `item`, YAML on one line, at the end of the list or mapping at `place`, made where it is
    missing. Into a mapping the item goes as ``key: value``. Raises as `put`."""
    root = _composed(text)
    node = _find(root, place)
    if node is None:
        return _insert_at(text, root, place, f"[{item}]")
    if node.id == "sequence":
        return _append(text, node, item)
    if node.id == "mapping":
        return _append_key(text, node, item)
    raise HardtackError(f"{place_words(place)} is one value, no list", "take the value out first")


def put_yaml(text: str, place: Place, yaml: str) -> str:
    """The text with a piece of YAML on one line, such as ``{form: GAB}``, at `place`. Raises as `put`."""
    root = _composed(text)
    node = _find(root, place)
    if node is None:
        return _insert_at(text, root, place, yaml)
    start, end = _span(text, node)
    return text[:start] + _after_key(text, start) + yaml + text[end:]


def put_list(text: str, place: Place, words: Sequence[str]) -> str:
    """The text with a list of single values at `place`; without any the key goes. Raises as `put`."""
    if not words:
        return take_out(text, place)
    return put_yaml(text, place, f"[{', '.join(_scalar(word, flow=True) for word in words)}]")


def take_out(text: str, place: Place) -> str:
    """The text without the key or item at `place`; as it was when nothing stands there. Raises as `put`."""
    root = _composed(text)
    parent = _find(root, place[:-1])
    if parent is None or parent.id == "scalar":
        return text
    entries = _entries(parent)
    found = [k for k, (name, *_) in enumerate(entries) if str(name) == str(place[-1])]
    if not found:
        return text
    if len(entries) == 1:
        return take_out(text, place[:-1]) if len(place) > 1 else text
    k = found[0]
    _, head, value = entries[k]
    start, end = head.start_mark.index, _end(text, value)
    if parent.flow_style:
        if k + 1 < len(entries):
            return text[:start] + text[entries[k + 1][1].start_mark.index :]
        return text[: _end(text, entries[k - 1][2])] + text[end:]
    if parent.id == "sequence":
        start = text.rindex("-", 0, start)
    line_start = text.rfind("\n", 0, start) + 1
    line_end = text.find("\n", end)
    line_end = len(text) if line_end < 0 else line_end + 1
    if text[line_start:start].strip():  # the first key of a list item shares its line with the dash
        return text[:start] + text[entries[k + 1][1].start_mark.index :]
    return text[:line_start] + text[line_end:]


def move(text: str, place: Place, by: int) -> str:
    """The text with the list item at `place` changed with its neighbour `by` (-1 or 1) away. Raises as `put`."""
    items, k = _items(text, place)
    other = k + by
    if not 0 <= other < len(items):
        return text
    (a, b), (c, d) = (_with_comment(text, items[i]) for i in sorted((k, other)))
    return text[:a] + text[c:d] + text[b:c] + text[a:b] + text[d:]


def repeat(text: str, place: Place) -> str:
    """The text with the list item at `place` written once more behind it. Raises as `put`."""
    items, k = _items(text, place)
    start, end = _span(text, items[k])
    parent = _find(_composed(text), place[:-1])
    if parent.flow_style:
        return f"{text[:end]}, {text[start:end]}{text[end:]}"
    line_end = text.find("\n", end)
    line_end = len(text) if line_end < 0 else line_end
    dash, column = _dash(text, items[k])
    return f"{text[:line_end]}\n{' ' * column}{text[dash:end]}{text[line_end:]}"


def value_at(text: str, place: Place) -> str | None:
    """The text written at `place`, None when nothing or no single value stands there. Raises as `put`."""
    node = _find(_composed(text), place)
    return str(node.value) if node is not None and node.id == "scalar" else None


def list_at(text: str, place: Place) -> tuple[str, ...] | None:
    """The single values of the list at `place`, None where no such list stands. Raises as `put`."""
    node = _find(_composed(text), place)
    if node is None or node.id != "sequence" or any(each.id != "scalar" for each in node.value):
        return None
    return tuple(str(each.value) for each in node.value)


def _composed(text: str) -> Any:
    """The YAML nodes with their marks, once the text is seen to be keys and values."""
    read_tree(text, _NAME)
    return composed(text, _NAME)


def _entries(node: Any) -> list[tuple[str | int, Any, Any]]:
    """Name, first node and value node of everything in a mapping or list."""
    if node.id == "mapping":
        return [(key.value.strip(), key, value) for key, value in node.value]
    return [(number, item, item) for number, item in enumerate(node.value)]


def _below(node: Any, step: str | int) -> tuple[tuple[Any, ...], Any] | None:
    if node.id == "scalar":
        return None
    for name, head, value in _entries(node):
        if str(name) == str(step):
            return (head,), value
    return None


def _find(root: Any, place: Place) -> Any:
    node = root
    for step in place:
        found = _below(node, step)
        if found is None:
            return None
        node = found[1]
    return node


def _items(text: str, place: Place) -> tuple[list[Any], int]:
    parent = _find(_composed(text), place[:-1]) if place else None
    last = str(place[-1]) if place else ""
    if parent is None or parent.id != "sequence" or not last.isdigit() or int(last) >= len(parent.value):
        raise HardtackError(f"there is no item {place_words(place)}", "reload the page")
    return list(parent.value), int(last)


def _end(text: str, node: Any) -> int:
    """Where a node's own text ends: block collections report the start of what follows them."""
    if node.id == "scalar" and node.style in ("|", ">"):
        return len(text[: node.end_mark.index].rstrip())
    if node.id == "scalar" or node.flow_style or not node.value:
        return int(node.end_mark.index)
    return _end(text, _entries(node)[-1][2])


def _span(text: str, node: Any) -> tuple[int, int]:
    return int(node.start_mark.index), _end(text, node)


def _with_comment(text: str, item: Any) -> tuple[int, int]:
    """A list item's text with the comment at the end of its last line."""
    start, end = _span(text, item)
    comment = re.compile(r"[ \t]+#.*").match(text, end)
    return start, comment.end() if comment else end


def _after_key(text: str, start: int) -> str:
    """Nothing, or a blank where the value would touch the colon before it."""
    return " " if text[start - 1 : start] == ":" else ""


def _replace(text: str, root: Any, keys: tuple[Any, ...], node: Any, value: str) -> str:
    start, end = _span(text, node)
    if node.id == "scalar" and node.style in ("'", '"'):
        written = json.dumps(value, ensure_ascii=False)
    else:
        written = _scalar(value, flow=_in_flow(root, start))
    if node.id != "scalar" and not node.flow_style and node.id == "mapping" and keys:
        start = keys[0].end_mark.index + 1  # the block below the key goes, the value stands beside it
        return f"{text[:start]} {written}{text[end:]}"
    return text[:start] + _after_key(text, start) + written + text[end:]


def _in_flow(root: Any, index: int) -> bool:
    """Whether the place lies inside { } or [ ]."""
    if root.id == "scalar":
        return False
    if root.flow_style and root.start_mark.index <= index < root.end_mark.index:
        return True
    return any(
        _in_flow(value, index)
        for _, _, value in _entries(root)
        if value.start_mark.index <= index <= value.end_mark.index
    )


def _scalar(value: str, *, flow: bool) -> str:
    """The value plain where YAML lets it stand plain, else in double quotes."""
    value = value.strip()
    plain = value not in _NOTHING and not _NOT_PLAIN.search(value)
    if plain and not (flow and re.search(r"[,\[\]{}]", value)):
        return value
    return json.dumps(value, ensure_ascii=not value.isprintable())


def _nested(steps: Place, yaml: str) -> str:
    """YAML on one line, below keys that do not stand yet."""
    for step in reversed(steps):
        yaml = f"[{yaml}]" if str(step).isdigit() else f"{{{_scalar(str(step), flow=True)}: {yaml}}}"
    return yaml


def _insert_at(text: str, root: Any, place: Place, yaml: str) -> str:
    """Put a piece of YAML where nothing stands yet, below the nearest place that does."""
    for at in range(len(place)):
        node = _find(root, place[:at])
        if node is None or _below(node, place[at]) is not None:
            continue
        return _insert(text, node, place[at], _nested(place[at + 1 :], yaml))
    raise HardtackError(f"there is no place {place_words(place)}", "reload the page")


def _insert(text: str, node: Any, step: str | int, yaml: str) -> str:
    if node.id == "scalar":
        raise HardtackError("one value stands there, with nothing below it", "take the value out first")
    if node.id == "sequence":
        if str(step) != str(len(node.value)):
            raise HardtackError(f"the list has no item {step}", "reload the page")
        return _append(text, node, yaml)
    return _append_key(text, node, f"{_scalar(str(step), flow=bool(node.flow_style))}: {yaml}")


def _append(text: str, node: Any, item: str) -> str:
    if node.flow_style or not node.value:
        return _append_flow(text, node, item)
    _, column = _dash(text, node.value[-1])
    return _append_line(text, node, f"{' ' * column}- {item}")


def _dash(text: str, item: Any) -> tuple[int, int]:
    """Where the dash before a list item stands, and its column."""
    dash = text.rindex("-", 0, item.start_mark.index)
    return dash, dash - text.rfind("\n", 0, dash) - 1


def _append_key(text: str, node: Any, entry: str) -> str:
    if node.flow_style:
        return _append_flow(text, node, entry)
    return _append_line(text, node, " " * int(node.value[0][0].start_mark.column) + entry)


def _append_flow(text: str, node: Any, entry: str) -> str:
    close = node.end_mark.index - 1
    head = text[:close].rstrip()
    mark = ", " if node.value and not head.endswith(",") else (" " if head.endswith(",") else "")
    return head + mark + entry + text[close:]


def _append_line(text: str, node: Any, line: str) -> str:
    """The text with a line behind the last one that belongs to the node."""
    end = text.find("\n", _end(text, node))
    end = len(text) if end < 0 else end
    return f"{text[:end]}\n{line}{text[end:]}"


def _checked(text: str, place: Place, value: str) -> str:
    """The text, once it is seen to hold the value where it was meant to stand."""
    written = value_at(text, place)
    if written is None or " ".join(written.split()) != " ".join(value.split()):
        raise HardtackError(Problem(f"{value[:60]!r} cannot be written here", "write it in the file itself"))
    return text
