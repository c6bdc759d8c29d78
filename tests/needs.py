"""Programs of the machine that some tests need: Chromium, PostgreSQL. Python packages all come with the lock."""

from __future__ import annotations

import os
from typing import NoReturn

import pytest


def could_not(what: str, mend: str) -> NoReturn:
    """End a test whose program is not on this machine.

    `start.py test` installs the program where it may. Where it may not (someone's laptop), the test is left out and listed
    at the end of the run with this reason; under CI, where everything must be tested, it fails.
    """
    words = f"{what} is not installed ({mend})"
    if os.environ.get("CI") == "true":
        pytest.fail(words)
    pytest.skip(words)
