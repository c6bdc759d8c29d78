"""A PostgreSQL server of the test's own: in a temporary folder, on a socket there, stopped at the end."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


def programs() -> Path | None:
    """The folder of initdb and postgres, None where they are not installed."""
    if found := shutil.which("initdb"):
        return Path(found).resolve().parent
    folders = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb")) if os.name != "nt" else []
    return folders[-1].parent if folders else None


@contextmanager
def running_server(folder: Path) -> Iterator[str]:
    """The URL of a fresh server. It refuses to run as root, so a root hands it to the user postgres."""
    bin = programs()
    assert bin, "PostgreSQL is not installed (Debian: apt install postgresql)"
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    home = Path(tempfile.mkdtemp(prefix="ht-pg-"))  # a socket's path must be short
    as_user = ["runuser", "-u", "postgres", "--"] if root else []
    if root:
        shutil.chown(home, "postgres")

    def run(*command: str) -> None:
        result = subprocess.run(
            [*as_user, *command],
            cwd=home,
            text=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            check=False,
        )
        assert result.returncode == 0, result.stderr

    data = str(home / "data")
    options = f"-c listen_addresses= -c unix_socket_directories={home} -c fsync=off"
    try:
        run(str(bin / "initdb"), "-D", data, "-U", "hardtack", "-A", "trust", "-E", "UTF8", "--no-sync")
        run(str(bin / "pg_ctl"), "-D", data, "-w", "-l", str(home / "log"), "-o", options, "start")
        try:
            yield f"postgresql://hardtack@/postgres?host={home}"
        finally:
            run(str(bin / "pg_ctl"), "-D", data, "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(home, ignore_errors=True)
