"""start.py: sets up once, hands over at once, repairs what was interrupted."""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from tests.house.tree import ROOT

ECHO = """#!{python}
import os, sys
print(sys.argv[1:], [name for name in os.environ if name.startswith("PYTHON")])
sys.exit(7)
"""


ON_WINDOWS = """
import sys; sys.path.insert(0, sys.argv.pop(1)); import start
exe = start.tool; start.tool = lambda name: exe(name).with_suffix(".cmd"); sys.exit(start.main(sys.argv[1:]))
"""
"""start.py, with the stand-ins of this test in place of the .exe files."""


def _started(folder: Path) -> list[str]:
    """The command that starts the start.py of a folder."""
    if os.name == "nt":
        return [sys.executable, "-c", ON_WINDOWS, str(folder)]
    return [sys.executable, str(folder / "start.py")]


def _load(folder: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location("start", folder / "start.py")
    assert spec
    assert spec.loader
    start = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(start)
    return start


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The files start.py reads, in a folder of their own with a blank in its name."""
    folder = tmp_path / "a copy"
    folder.mkdir()
    for name in ("start.py", "pyproject.toml", "requirements.txt", "requirements-test.txt"):
        shutil.copy(ROOT / name, folder)
    return folder


def _stand(start: ModuleType) -> None:
    """A .venv that looks complete, whose hardtack echoes what it was handed."""
    for name in ("python", "hardtack"):
        program = start.tool(name)
        program.parent.mkdir(parents=True, exist_ok=True)
        program.write_text(ECHO.format(python=sys.executable))
        program.chmod(0o755)
        if start.WINDOWS:  # an .exe cannot be a script there, a .cmd can
            program.with_suffix(".cmd").write_text(f'@"{sys.executable}" "{program}" %*')
    start.STAMP.write_text(start.digest("run"))


def test_a_standing_set_up_hands_over_arguments_exit_code_and_a_clean_environment(copy: Path) -> None:
    _stand(_load(copy))
    result = subprocess.run(
        [*_started(copy), "keep", "a file.yaml", "--json"],
        env={**os.environ, "PYTHONPATH": "elsewhere", "PYTHONWARNINGS": "error"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 7
    assert result.stdout.startswith("['keep', 'a file.yaml', '--json']")
    assert "PYTHONPATH" not in result.stdout
    assert "PYTHONWARNINGS" not in result.stdout
    assert result.stderr == ""


def test_alone_it_says_what_it_can_do(copy: Path) -> None:
    result = subprocess.run(
        [sys.executable, str(copy / "start.py")], capture_output=True, text=True, check=True
    )
    assert "start.py keep examples/" in result.stdout
    assert "start.py test" in result.stdout
    assert not (copy / ".venv").exists()


def test_a_changed_lock_or_a_moved_folder_asks_for_a_new_set_up(copy: Path) -> None:
    start = _load(copy)
    assert start.ready() == set()
    _stand(start)
    assert start.ready() == {"run"}
    moved = copy.rename(copy.with_name("moved"))
    assert _load(moved).ready() == set()
    moved.rename(copy)
    with start.LOCKS["run"].open("a") as lock:
        lock.write("# changed\n")
    assert start.ready() == set()


def test_an_interrupted_set_up_begins_afresh(copy: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    start = _load(copy)
    _stand(start)
    done: list[str] = []

    def interrupted(*arguments: str) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(start, "make_venv", lambda: done.append("venv"))
    monkeypatch.setattr(start, "install", interrupted)
    with pytest.raises(SystemExit, match="interrupted"):
        start.set_up("test")
    assert done == []  # the run set stood complete and is built upon ...
    assert start.ready() == set()  # ... but after the interruption nothing is trusted

    monkeypatch.setattr(start, "install", lambda *arguments: done.append(arguments[0]))
    start.set_up("test")
    assert done == ["venv", "--require-hashes", "--no-deps"]
    assert start.ready() == {"run", "test"}
    start.set_up("run")
    assert len(done) == 3


@pytest.mark.parametrize(
    ("printed", "message"),
    [
        (
            "WARNING: Retrying ... NameResolutionError ...\nERROR: No matching distribution found",
            "no network",
        ),
        ("ERROR: No matching distribution found for llvmlite==0.50.0", "no ready-made build"),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM", "not the locked one"),
        ("ERROR: something else", "something else"),
    ],
)
def test_what_pip_says_becomes_one_line_with_a_mend(printed: str, message: str) -> None:
    with pytest.raises(SystemExit, match=message) as stopped:
        _load(ROOT).explain(printed.splitlines())
    assert "To mend: " in str(stopped.value)
    assert len(str(stopped.value).splitlines()) == 1


def test_an_old_python_and_one_without_pip_are_told_so(copy: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    start = _load(copy)
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    with pytest.raises(SystemExit, match="python3-venv"):
        start.set_up("run")
    monkeypatch.setattr(sys, "version_info", (3, 10, 1))
    with pytest.raises(SystemExit, match=r"too old.*3\.11"):
        start.main(["keep", "x"])


@pytest.mark.parametrize(("root", "apt"), [(True, True), (False, True), (True, False)])
def test_programs_for_the_tests_are_installed_where_that_may_be_and_else_told(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], root: bool, apt: bool
) -> None:
    start = _load(ROOT)
    called: list[list[str]] = []
    monkeypatch.delenv("HARDTACK_CHROMIUM", raising=False)
    monkeypatch.setattr(shutil, "which", lambda name: "apt-get" if name == "apt-get" and apt else None)
    monkeypatch.setattr(start.Path, "glob", lambda self, pattern: iter(()))
    monkeypatch.setattr(start.os, "geteuid", lambda: 0 if root else 1000, raising=False)
    monkeypatch.setattr(subprocess, "call", lambda command, **_: called.append(command) or 0)
    still = start.outside_programs()
    said = capsys.readouterr().err
    if root and apt:
        assert called[-1][-3:] == ["chromium", "postgresql", "gcc"]
        assert "installing chromium and postgresql and gcc" in said
    else:
        assert called == []
    assert still == [
        "chromium",
        "postgresql",
        "gcc",
    ]  # this machine has none of them, whatever was asked of apt


@pytest.mark.parametrize("ci", ["true", ""])
def test_tests_of_a_program_that_lacks_are_left_out_and_told_but_run_under_ci(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], ci: str
) -> None:
    start = _load(ROOT)
    called: list[list[str]] = []
    monkeypatch.setenv("CI", ci)
    monkeypatch.setattr(subprocess, "call", lambda command, **_: called.append(command) or 0)
    assert start.run_checks(["-x"], ["chromium", "gcc"]) == 0
    said = capsys.readouterr().err
    assert called[-1][-1] == "-x"
    assert ("not chromium and not gcc" in called[-1]) == (ci == "")
    assert ("NOT TESTED, for want of chromium and gcc" in said) == (ci == "")
