"""YAML text as a tree of text, entries and lists in which everything knows its line.

No value is given a Python type here: `no`, `2026-06-01`, `12:30` and `4.50 mm` all come through as the text
that stands in the file, and the schema says what each one means.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from hardtack.errors import HardtackError, Problem

Path = tuple[str | int, ...]

LARGEST = 100_000
"""Characters; a product file of this size would have some two thousand lines."""
DEEPEST = 30
_MOST_OPEN = 60  # the parser's time grows with the square of the brackets left open
_MOST_VALUES = 20_000  # a few aliases of aliases can stand for millions of values


class Text(str):
    """A scalar of the file as it is written, with its line (from 1)."""

    line: int

    def __new__(cls, text: str, line: int) -> Text:
        made = super().__new__(cls, text)
        made.line = line
        return made


class Entries(dict[str, Any]):
    """A mapping of the file, with the line of each key (from 1) and its own path."""

    def __init__(self, line: int, path: Path) -> None:
        super().__init__()
        self.line = line
        self.path = path
        self.key_lines: dict[str, int] = {}

    def line_of(self, key: str) -> int:
        """Line of `key`, or of the mapping itself when it has no such key."""
        return self.key_lines.get(key, self.line)


class Tree:
    """The file's `root` entries, the `lines` of all paths, and the `problems` met while reading."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.root = Entries(1, ())
        self.lines: dict[Path, int] = {}
        self.problems: list[Problem] = []
        self._values = 0

    def problem(self, what: str, mend: str, line: int | None, path: Path = ()) -> None:
        """Note one problem at a line."""
        self.problems.append(Problem(what, mend, self.file, line, self.words(path)))

    def words(self, path: Path) -> str:
        """A path as a reader says it: ``piece / layers / cracker / moisture``."""
        parts: list[str] = []
        node: Any = self.root
        for step in path:
            try:
                node = node[step]
            except (KeyError, IndexError, TypeError):
                node = None
            parts.append(_item_name(node, step) if isinstance(step, int) else step)
        return " / ".join(parts)

    def add(self, node: Any, path: Path, line: int) -> Any:
        """Turn a composed YAML node into text, entries or a list; None when nothing is written."""
        self._values += 1
        if self._values > _MOST_VALUES or len(path) > DEEPEST:
            raise HardtackError(
                Problem(
                    "the file holds far more values, or far deeper ones, than a product file can",
                    "write values out; do not let aliases (*) repeat one another",
                    self.file,
                    line,
                )
            )
        self.lines[path] = line
        if node.id == "mapping":
            return self._entries(node, path, line)
        if node.id == "sequence":
            return [self.add(item, (*path, i), _line(item)) for i, item in enumerate(node.value)]
        plain = not node.style
        if plain and node.value in ("", "~", "null", "Null", "NULL"):
            return None
        return Text(node.value, line)

    def _entries(self, node: Any, path: Path, line: int) -> Entries:
        entries = Entries(line, path)
        if not path:
            self.root = entries
        for key_node, value_node in node.value:
            key_line = _line(key_node)
            if key_node.id != "scalar":
                self.problem("a key must be a plain word", "write key: value", key_line, path)
                continue
            key = Text(key_node.value.strip(), key_line)
            if key in entries.key_lines:
                self.problem(
                    f"the key '{key}' stands twice, first in line {entries.key_lines[key]}",
                    "keep one of the two",
                    key_line,
                    (*path, str(key)),
                )
                continue
            entries.key_lines[key] = key_line
            value = self.add(value_node, (*path, str(key)), key_line)
            if value is None:
                self.problem(
                    f"nothing is written after '{key}:'",
                    "write a value, or take the line out",
                    key_line,
                    (*path, str(key)),
                )
                continue
            entries[key] = value
        return entries


def read_tree(text: str, file: str) -> Tree:
    """Read YAML 1.2 text. Raises `HardtackError` when it is no YAML or no mapping.

    Problems that leave the rest readable (a key twice, a key without value) wait in `Tree.problems`.
    """
    tree = Tree(file)
    node = composed(text, file)
    if node is None:
        raise HardtackError(
            Problem("the file is empty", "begin with a starter file: hardtack new cracker", file, 1)
        )
    if node.id != "mapping":
        raise HardtackError(
            Problem(
                "the file is not a list of keys and values",
                "its first line is 'hardtack: 1', and each further line a key, a colon and a value",
                file,
                _line(node),
            )
        )
    tree.add(node, (), _line(node))
    return tree


@lru_cache(maxsize=16)
def composed(text: str, file: str) -> Any:
    """The YAML nodes of the text with their marks, None for an empty one; nobody changes them, so a text that is
    asked for again is not parsed again. Raises `HardtackError` when it is no YAML or far too long."""
    if len(text) > LARGEST:
        raise HardtackError(
            Problem(f"the file is longer than {LARGEST // 1000} kB", "give a product file", file)
        )
    _few_open_brackets(text, file)
    return _compose(text, file)


def _few_open_brackets(text: str, file: str) -> None:
    depth = 0
    for bracket in re.finditer(r"[\[\]{}]", text):
        depth = depth + 1 if bracket[0] in "[{" else max(0, depth - 1)
        if depth > _MOST_OPEN:
            line = text.count("\n", 0, bracket.start()) + 1
            what = f"{depth} brackets are open here"
            raise HardtackError(Problem(what, "close each [ and { that was opened", file, line))


def _compose(text: str, file: str) -> Any:
    import warnings

    from ruamel.yaml import YAML
    from ruamel.yaml.error import MarkedYAMLError
    from ruamel.yaml.reader import ReaderError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return YAML(typ="rt", pure=True).compose(text)
    except MarkedYAMLError as error:
        problems = [_syntax(error, text, file)]
    except ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        what = f"the character U+{ord(text[error.position]):04X} may not stand in a text file"
        problems = [Problem(what, "delete it; it often comes with a copy from another program", file, line)]
    except RecursionError:
        problems = [Problem("values are nested too deeply", "look for a '- ' or '? ' too many", file, 1)]
    except Exception as error:  # the parser's own slips on broken text must not reach the user
        problems = [Problem(f"this is not readable as YAML ({type(error).__name__})", _PLAIN, file, 1)]
    tabs = [
        Problem("a tab in the indentation", "indent with spaces", file, number)
        for number, row in enumerate(text.split("\n"), 1)
        if re.match(r" *\t\s*[^\s#]", row)
    ]
    raise HardtackError(tabs or problems) from None


_PLAIN = "write each line as key: value, and indent what belongs to a key by two spaces"


def _syntax(error: Any, text: str, file: str) -> Problem:
    """One parser error in words: what the parser met, where, and the usual way to mend it."""
    mark = error.problem_mark or error.context_mark
    line = mark.line + 1 if mark else 1
    said = " ".join(part for part in (error.context, error.problem) if part)
    rows = text.split("\n")
    row = rows[min(line, len(rows)) - 1].strip()
    if "single document" in said:
        return Problem(
            "a second document begins here", "keep one product in a file; take out '---'", file, line
        )
    if re.search(r":\s.*:\s", row):
        mend = "a value that holds ': ' needs quotes around it"
    elif re.match(r"(- )?[\w -]+:[^\s]", row):
        mend = "put a space after the colon"
    elif "cannot start any token" in said:
        mend = f"put the value in quotes: it begins with {row.partition(':')[2].strip()[:1] or row[:1]!r}"
    else:
        mend = _PLAIN
    return Problem(f"this is not readable as YAML ({said.strip()})", mend, file, line)


def _line(node: Any) -> int:
    return int(node.start_mark.line) + 1


def _item_name(node: Any, index: int) -> str:
    if isinstance(node, Mapping):
        for key in ("name", "leg", "ingredient", "zone"):
            if isinstance(node.get(key), str):
                return str(node[key])
    return f"{index + 1}"
