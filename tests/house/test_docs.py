"""The documentation builds offline, and every snippet and command on its pages and in the README runs."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.house.tree import ROOT, place

PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]
SHOWN = {"text", "yaml", "json", "toml", "csv"}
"""Fenced blocks that are read, not run. Every other block is run, or the page fails."""
NOT_RUN = {
    "python3 start.py test": "it runs this very test",
    "python3 start.py": "prints its own help; tests/house/test_start.py runs it",
}
"""Commands a page may show that are not run here, and why."""

_COMMAND = "import sys; from hardtack.cli import main; sys.argv[0] = 'hardtack'; sys.exit(main())"


@dataclass(frozen=True)
class Block:
    """A fenced block: its language, its text, and the line its text begins at."""

    language: str
    text: str
    line: int


def blocks(markdown: str) -> list[Block]:
    """Every fenced block of a page, in order."""
    found: list[Block] = []
    fence, language, start = "", "", 0
    inside: list[str] = []
    for number, line in enumerate(markdown.splitlines(), 1):
        bare = line.strip()
        if not fence:
            if opening := re.match(r"(`{3,}|~{3,})\s*(.*)", bare):
                fence, language = opening[1], opening[2].strip()
                start, inside = number + 1, []
        elif bare == fence:
            found.append(Block(language, "\n".join(inside) + "\n", start))
            fence = ""
        else:
            inside.append(line)
    assert not fence, f"the block opened at line {start - 1} is never closed"
    return found


def commands(block: Block) -> list[tuple[int, str]]:
    """The commands of a console block: each `$` line, with its continuation lines joined."""
    found: list[tuple[int, str]] = []
    lines = iter(enumerate(block.text.splitlines(), block.line))
    for number, line in lines:
        if not line.startswith("$ "):
            continue
        command = line[2:]
        while command.endswith("\\"):
            command = command[:-1] + next(lines)[1].strip()
        found.append((number, shlex.join(shlex.split(command, comments=True))))
    assert found, f"the console block at line {block.line} holds no line that begins with '$ '"
    return found


def run_command(command: str, where: str) -> None:
    """Run one `hardtack ...` command, or the same through start.py; anything else fails the page."""
    if command in NOT_RUN:
        return
    words = shlex.split(command)
    if words[:2] == ["python3", "start.py"]:
        words = ["hardtack", *words[2:]]
    target = Path(words.pop()) if len(words) > 2 and words[-2] == ">" else None
    words = [word for word in words if word != ">"]
    assert words[0] == "hardtack", f"{where}: `{command}` is not run by this test: say why in NOT_RUN"
    result = subprocess.run(
        [sys.executable, "-c", _COMMAND, *words[1:]],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        stdin=subprocess.DEVNULL,
        timeout=60,
        check=False,
    )
    assert result.returncode == 0, f"{where}: `{command}`\n{result.stdout}{result.stderr}"
    if target is not None:
        target.write_text(result.stdout, encoding="utf-8")


def run_page(markdown: str, page: Path) -> list[str]:
    """Run a page from top to bottom in the current folder: its snippets share their names, as a reader's
    session would. Gives the kinds of blocks that were run."""
    names: dict[str, Any] = {"__name__": "__main__"}
    ran: list[str] = []
    for block in blocks(markdown):
        if block.language == "python":
            padded = "\n" * (block.line - 1) + block.text  # so that an error names the page's own line
            exec(compile(padded, str(page), "exec"), names)
            ran.append("python")
        elif block.language == "console":
            for number, command in commands(block):
                run_command(command, f"{page.name}:{number}")
                ran.append(command)
        else:
            assert block.language in SHOWN, (
                f"{page.name}:{block.line}: `{block.language}` is neither run (python, console) "
                f"nor only shown ({', '.join(sorted(SHOWN))})"
            )
    return ran


@pytest.fixture
def beside_the_examples(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.usefixtures("beside_the_examples")
@pytest.mark.parametrize("page", PAGES, ids=place)
def test_every_snippet_of_the_page_runs(page: Path) -> None:
    run_page(page.read_text("utf-8"), page)


def test_a_page_is_run_in_order_with_shared_names(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    page = (
        "```python\nfrom pathlib import Path\n\nday = 3\n```\nSome text.\n```yaml\nday: 4\n```\n"
        "~~~python\nPath('out').write_text(str(day))\n~~~\n"
    )
    assert run_page(page, Path("page.md")) == ["python", "python"]
    assert (tmp_path / "out").read_text() == "3"


@pytest.mark.parametrize(
    ("page", "error", "message"),
    [
        ("```python\n1 / 0\n```\n", ZeroDivisionError, "by zero"),
        ("```\nplain\n```\n", AssertionError, "neither run"),
        ("```python no-run\npass\n```\n", AssertionError, "neither run"),
        ("```console\nhardtack keep x\n```\n", AssertionError, "holds no line"),
        ("```console\n$ make all\n```\n", AssertionError, "NOT_RUN"),
        ("```console\n$ hardtack no-such-question\n```\n", AssertionError, "page.md:2"),
        ("```python\npass\n", AssertionError, "never closed"),
    ],
)
def test_a_page_that_does_not_hold_fails(page: str, error: type[Exception], message: str) -> None:
    with pytest.raises(error, match=message):
        run_page(page, Path("page.md"))


def test_continued_commands_are_joined_and_remarks_left_out() -> None:
    (block,) = blocks("```console\n$ hardtack keep \\\n    x.yaml  # why\nanswer\n```\n")
    assert commands(block) == [(2, "hardtack keep x.yaml")]


def test_the_documentation_builds_and_needs_no_network(tmp_path: Path) -> None:
    site = tmp_path / "site"
    result = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--strict", "--site-dir", str(site)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 0, result.stdout + result.stderr
    pages = {page.relative_to(site).with_suffix(".md").as_posix() for page in site.rglob("*.html")}
    written = {page.relative_to(ROOT / "docs").as_posix() for page in (ROOT / "docs").rglob("*.md")}
    assert pages - {"404.md"} == written
    fetched = re.compile(
        r"""<(?:script|link|img|iframe)\b[^>]*(?:src|href)=["']?(?:https?:)?//""", re.IGNORECASE
    )
    styles = re.compile(r"""(?:url\(|@import)\s*["']?(?:https?:)?//""", re.IGNORECASE)
    for file in site.rglob("*"):
        if file.suffix in {".html", ".css"}:
            text = file.read_text("utf-8")
            assert not fetched.search(text), place_in(site, file)
            assert not styles.search(text), place_in(site, file)


def place_in(site: Path, file: Path) -> str:
    """A built file's path inside the site."""
    return file.relative_to(site).as_posix()
