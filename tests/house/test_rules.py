"""House rules a command can check."""

from __future__ import annotations

import ast
import io
import re
import tokenize
from functools import cache
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

import hardtack
from tests.house.tree import ROOT, place, project, sources, tracked

MODULE_LINES = 500
LONG_MODULES: dict[str, str] = {
    "src/hardtack/transport/kernel.py": "all compiled code in one file: numba's cache watches only that file",
    "src/hardtack/transport/bake_kernel.py": "the same",
}
FUNCTION_LINES = 60
LONG_FUNCTIONS: dict[str, str] = {}
"""Functions that may be longer, as "path::name": "why"."""

Function = ast.FunctionDef | ast.AsyncFunctionDef

# Spelt in halves, so that this file keeps its own rules.
UNFINISHED = re.compile(r"#.*\b(?:TO" + r"DO|FIX" + r"ME|XX" + r"X)\b|Not" + "ImplementedError")
MACHINE_PATH = re.compile(r"(?:^|[^A-Za-z0-9_.-])/(?:work|farm|root|tmp|home)" + r"/[A-Za-z.]")
ADDRESS = re.compile(r"(?:https?|ftp|file|git\+\w+):" + "//", re.IGNORECASE)
SKIPS = re.compile(r"\b(?:pytest\.(?:skip|xfail|importorskip)|mark\.(?:skip|skipif|xfail))\b")
UNSOURCED = re.compile(
    "|".join(
        first + second
        for first, second in (
            ("tran", "script"),
            ("seed doc", "ument"),
            ("practi", "tioner"),
            ("you", "tube"),
            (r"\bvid", r"eo\b"),
            ("sub", "agent"),
            (r"\bissue", r" #?\d"),
            ("py", r"pi\.org"),
            ("python", "hosted"),
        )
    ),
    re.IGNORECASE,
)
"""Words that point at no source a reader could check: answers rest on papers, standards and measurements."""


def _text(file: Path) -> str | None:
    try:
        return file.read_text("utf-8")
    except UnicodeDecodeError:
        return None  # a picture or other binary


def _hits(pattern: re.Pattern[str], files: list[Path]) -> list[str]:
    return [
        f"{place(file)}:{number}: {line.strip()[:120]}"
        for file in files
        for number, line in enumerate((_text(file) or "").splitlines(), 1)
        if pattern.search(line)
    ]


def _functions(tree: ast.AST, public_only: bool = False, prefix: str = "") -> list[tuple[str, Function]]:
    """Module functions and methods with their dotted names; public ones stand in public classes only, and
    the bare signatures before an overloaded function are left out."""
    found: list[tuple[str, Function]] = []
    for node in ast.iter_child_nodes(tree):
        name = getattr(node, "name", "")
        if public_only and name.startswith("_"):
            continue
        if isinstance(node, Function):
            if any(ast.unparse(decorator).endswith("overload") for decorator in node.decorator_list):
                continue
            found.append((prefix + name, node))
        elif isinstance(node, ast.ClassDef):
            found += _functions(node, public_only, f"{prefix}{name}.")
    return found


@cache
def _written(source: str) -> frozenset[int]:
    """Lines that hold more than blanks and comments."""
    silent = {
        tokenize.COMMENT,
        tokenize.NL,
        tokenize.NEWLINE,
        tokenize.INDENT,
        tokenize.DEDENT,
        tokenize.ENDMARKER,
    }
    lines: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type not in silent:
            lines.update(range(token.start[0], token.end[0] + 1))
    return frozenset(lines)


def _code_lines(source: str, function: Function) -> int:
    """Lines of the function that hold code: no blank lines, comments or docstring."""
    lines = set(_written(source))
    if ast.get_docstring(function) is not None:
        text = function.body[0]
        lines -= set(range(text.lineno, (text.end_lineno or text.lineno) + 1))
    return len(lines & set(range(function.lineno, (function.end_lineno or function.lineno) + 1)))


def test_modules_are_small() -> None:
    long = {place(file): len(file.read_text("utf-8").splitlines()) for file in sources()}
    assert {
        name: lines for name, lines in long.items() if lines > MODULE_LINES and name not in LONG_MODULES
    } == {}


def test_functions_are_small() -> None:
    long = {}
    for file in sources():
        source = file.read_text("utf-8")
        for name, function in _functions(ast.parse(source)):
            if (lines := _code_lines(source, function)) > FUNCTION_LINES:
                long[f"{place(file)}::{name}"] = lines
    assert set(long) == set(LONG_FUNCTIONS), long  # an entry no longer needed leaves the list


def test_code_lines_leave_out_what_is_not_code() -> None:
    source = 'def f(\n    a,\n):\n    """Say.\n\n    More.\n    """\n\n    # why\n    return """x\n    y"""\n'
    function = ast.parse(source).body[0]
    assert isinstance(function, ast.FunctionDef)
    assert _code_lines(source, function) == 5  # three of the head, two of the returned text


def test_public_functions_say_what_they_give() -> None:
    silent = [
        f"{place(file)}::{name}"
        for file in sources()
        for name, function in _functions(ast.parse(file.read_text("utf-8")), public_only=True)
        if not ast.get_docstring(function)
    ]
    assert silent == []


def test_nothing_in_the_package_is_unfinished() -> None:
    assert _hits(UNFINISHED, sources()) == []


def test_no_test_leaves_itself_out() -> None:
    """A program that lacks is for start.py to install, or to leave out by its mark and say so."""
    assert _hits(SKIPS, [file for file in tracked() if file.suffix == ".py"]) == []


def test_no_file_holds_a_path_of_one_machine() -> None:
    assert _hits(MACHINE_PATH, tracked()) == []


def test_locks_and_ci_hold_no_addresses() -> None:
    files = [ROOT / "pyproject.toml", *ROOT.glob("*requirements*"), *(ROOT / ".ci").iterdir()]
    assert len(files) >= 4
    assert _hits(ADDRESS, files) == []


def test_every_word_leads_to_a_source() -> None:
    assert _hits(UNSOURCED, tracked()) == []
    names = [place(file) for file in tracked()]
    assert [name for name in names if UNSOURCED.search(name)] == []


@pytest.mark.parametrize(
    ("pattern", "line"),
    [
        (UNFINISHED, "x = 1  # TO" + "DO later"),
        (UNFINISHED, "raise Not" + "ImplementedError"),
        (SKIPS, "pytest.sk" + 'ip("why not")'),
        (SKIPS, "@pytest.mark.sk" + "ipif(True)"),
        (MACHINE_PATH, 'open("/ro' + 'ot/data.csv")'),
        (ADDRESS, "numpy @ https:" + "//example.org/numpy.whl"),
        (UNSOURCED, "as a Practi" + "tioner says"),
        (UNSOURCED, "see issue" + " 12"),
    ],
)
def test_the_patterns_catch_what_they_are_for(pattern: re.Pattern[str], line: str) -> None:
    assert pattern.search(line)


def test_the_public_list_is_sorted_and_true() -> None:
    names: list[str] = list(hardtack.__all__)
    assert names == sorted(set(names))
    for name in names:
        assert getattr(hardtack, name) is not None
    own = {
        name
        for name, value in vars(hardtack).items()
        if not name.startswith("_") and getattr(value, "__module__", "").startswith("hardtack")
    }
    assert own <= set(names), "public names missing from __all__"


def test_the_changelog_speaks_of_this_version() -> None:
    headings = re.findall(r"^## \[(.+?)\]", (ROOT / "CHANGELOG.md").read_text("utf-8"), re.M)
    assert headings
    assert headings[0] in {"Unreleased", hardtack.__version__}


@pytest.mark.parametrize(
    ("lock", "extras", "groups"),
    [("requirements.txt", (), ("build",)), ("requirements-test.txt", ("test",), ("build",))],
)
def test_the_lock_answers_the_project(lock: str, extras: tuple[str, ...], groups: tuple[str, ...]) -> None:
    described = project()
    wanted = list(described["project"]["dependencies"])
    for extra in extras:
        wanted += described["project"]["optional-dependencies"][extra]
    for group in groups:
        wanted += described["dependency-groups"][group]
    locked: dict[str, list[Version]] = {}
    for name, version in re.findall(r"^([\w.-]+)==([^\s;\\]+)", (ROOT / lock).read_text("utf-8"), re.M):
        locked.setdefault(canonicalize_name(name), []).append(Version(version))
    for line in wanted:
        requirement = Requirement(line)
        versions = locked.get(canonicalize_name(requirement.name), [])
        assert versions, f"{requirement} is not in {lock}: see CONTRIBUTING.md, the lock"
        assert all(version in requirement.specifier for version in versions), (requirement, versions)


def test_both_locks_agree() -> None:
    run, test = (
        set(re.findall(r"^[\w.-]+==[^\s;]+", (ROOT / lock).read_text("utf-8"), re.M))
        for lock in ("requirements.txt", "requirements-test.txt")
    )
    assert run <= test
