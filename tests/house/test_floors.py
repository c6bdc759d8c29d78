"""A room imports only from lower floors; the contract, the code and the design page say the same."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

from tests.house.tree import ROOT, SRC, project

_LINT = "from importlinter.cli import lint_imports_command; lint_imports_command()"


def _lint(where: Path, *options: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", _LINT, "--no-cache", "--no-logo", *options],
        cwd=where,
        capture_output=True,
        text=True,
        check=False,
    )


def _contract() -> list[set[str]]:
    (contract,) = project()["tool"]["importlinter"]["contracts"]
    return [
        {room.strip(" ()").removeprefix("hardtack.") for room in re.split(r"[|:]", layer)}
        for layer in contract["layers"]
    ]


def test_the_floors_hold() -> None:
    result = _lint(ROOT)
    assert result.returncode == 0, result.stdout + result.stderr


def test_an_import_from_a_higher_floor_is_caught(tmp_path: Path) -> None:
    package = tmp_path / "house"
    package.mkdir()
    (package / "__init__.py").write_text("")
    (package / "upper.py").write_text("")
    (package / "lower.py").write_text("import house.upper\n")
    (tmp_path / "contract.toml").write_text(
        '[tool.importlinter]\nroot_package = "house"\n[[tool.importlinter.contracts]]\n'
        'name = "floors"\ntype = "layers"\nlayers = ["house.upper", "house.lower"]\n'
    )
    result = _lint(tmp_path, "contract.toml")
    assert result.returncode == 1
    assert "house.lower -> house.upper" in result.stdout


def test_every_room_has_a_floor() -> None:
    named = set().union(*_contract())
    packages = {init.parent.name for init in SRC.glob("*/__init__.py")}
    modules = {module.stem for module in SRC.glob("*.py")} - {"__init__", "__main__"}
    assert packages | modules == named


def test_the_design_page_shows_the_contract() -> None:
    rows = re.findall(
        r"^\| (\d+) \| ((?:`\w+`(?:, )?)+) \|", (ROOT / "docs" / "design.md").read_text("utf-8"), re.M
    )
    floors = [int(floor) for floor, _ in rows]
    assert floors == sorted(set(floors), reverse=True)
    assert [set(re.findall(r"\w+", rooms)) for _, rooms in rows] == _contract()
