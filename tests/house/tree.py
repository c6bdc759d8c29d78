"""Where the project's files are, for the tests of the house."""

from __future__ import annotations

import subprocess
import tomllib
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
SRC = ROOT / "src" / "hardtack"


def project() -> dict[str, Any]:
    """What pyproject.toml says."""
    return tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))


def tracked() -> list[Path]:
    """Every file that is, or by the ignore list may be, part of the repository."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
        encoding="utf-8",
    )
    files = [ROOT / name for name in listed.stdout.split("\0") if name]
    return [file for file in files if file.is_file()]


def sources() -> list[Path]:
    """Every Python module of the package."""
    return sorted(SRC.rglob("*.py"))


def place(file: Path) -> str:
    """A file's path as the repository spells it."""
    return file.relative_to(ROOT).as_posix()
