"""The command as a person runs it, within this process."""

from __future__ import annotations

import pytest

from hardtack.cli import main


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    """Exit code, output and messages of one command."""
    code = main(list(arguments))
    captured = capsys.readouterr()
    return code, captured.out, captured.err
