#!/usr/bin/env python3
"""Sets Hardtack up on first use, then runs it.

  python3 start.py keep examples/FILE     how long the product in FILE keeps, and why
  python3 start.py --help                 every question Hardtack answers
  python3 start.py test [pytest options]  every check of the project

The first run makes the folder .venv beside this file and installs the exact packages of the lock file into
it; that needs the network once. Later runs start at once and need none. Deleting .venv is always safe.
"""

from __future__ import annotations

import hashlib
import os
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
STAMP = VENV / "ready"
WINDOWS = os.name == "nt"
LOCKS = {"run": ROOT / "requirements.txt", "test": ROOT / "requirements-test.txt"}
CHECKS = (
    ("ruff", "check"),
    ("ruff", "format", "--check"),
    ("mypy",),
    ("lint-imports", "--no-logo"),
    ("pytest",),  # last, so that its summary closes the output
)
HARMLESS = {"PYTHONIOENCODING", "PYTHONUNBUFFERED", "PYTHONUTF8"}  # they shape output, not what is imported
OFFLINE = (
    "Failed to establish a new connection",
    "NameResolutionError",
    "Temporary failure in name resolution",
    "Network is unreachable",
    "Connection refused",
    "timed out",
)


def stop(what: str, mend: str) -> None:
    """End with one line: what is wrong, and how to mend it."""
    sys.exit(f"start.py: {what}. To mend: {mend}.")


def say(text: str) -> None:
    """Progress goes to stderr: stdout belongs to the answer."""
    print(text, file=sys.stderr, flush=True)


def tool(name: str) -> Path:
    """A program of the project's own Python."""
    return VENV / "Scripts" / f"{name}.exe" if WINDOWS else VENV / "bin" / name


def surroundings() -> dict[str, str]:
    """The environment without what would point Python at other packages than the locked ones."""
    return {
        name: value for name, value in os.environ.items() if not name.startswith("PYTHON") or name in HARMLESS
    }


def digest(which: str) -> str:
    """What a set-up depends on: the lock, the project's own description, this Python, this folder."""
    parts = (LOCKS[which].read_bytes(), (ROOT / "pyproject.toml").read_bytes())
    place = f"{sys.version_info[:2]} {ROOT}".encode()
    return hashlib.sha256(b"\0".join((*parts, place))).hexdigest()


def ready() -> set[str]:
    """The sets ('run', 'test') that stand complete in .venv."""
    if not (STAMP.exists() and tool("python").exists() and tool("hardtack").exists()):
        return set()
    stamped = STAMP.read_text("ascii").split()
    return {which for which, lock in LOCKS.items() if lock.exists() and digest(which) in stamped}


def set_up(which: str) -> None:
    """Bring .venv to the locked set `which`. The stamp is taken away first and written last: a set-up that
    was interrupted leaves none, and the next run begins afresh."""
    standing = ready()
    if which in standing:
        return
    for lock in LOCKS.values():
        if not lock.exists():
            stop(f"{lock.name} is missing", "restore it from the repository")
    try:
        STAMP.unlink(missing_ok=True)
        if "run" not in standing:
            say("start.py: setting up .venv, once; about half a minute on a good connection")
            make_venv()
        say(f"start.py: installing the locked packages ({LOCKS[which].name})")
        install("--require-hashes", "--only-binary=:all:", "-r", str(LOCKS[which]))
        say("start.py: installing hardtack itself")
        install("--no-deps", "--no-build-isolation", "--no-index", "--editable", str(ROOT))
        done = LOCKS if which == "test" else [which]
        fresh = STAMP.with_suffix(".new")
        fresh.write_text("\n".join(digest(name) for name in done), "ascii")
        fresh.replace(STAMP)
    except OSError as error:
        stop(f"cannot write .venv ({error})", "free disk space, close programs that use .venv, run again")
    except KeyboardInterrupt:
        stop("set-up was interrupted", "run the same command again, it begins afresh")
    say("start.py: ready")


def make_venv() -> None:
    """A new, empty .venv, whatever was there before."""
    import subprocess
    from importlib.util import find_spec

    if not (find_spec("venv") and find_spec("ensurepip")):
        stop("this Python comes without venv or pip", "on Debian and Ubuntu: sudo apt install python3-venv")
    command = [sys.executable, "-m", "venv", "--clear", str(VENV)]
    result = subprocess.run(command, env=surroundings(), text=True, capture_output=True, check=False)
    if result.returncode:
        last = (result.stdout + result.stderr).strip().splitlines()[-1:] or ["no message"]
        stop(f"cannot make .venv ({last[0].strip()})", "delete the folder .venv and run again")


def install(*arguments: str) -> None:
    """pip install into .venv, one line of progress for each package."""
    import subprocess

    command = [str(tool("python")), "-m", "pip", "install", "--no-input", "--progress-bar=off"]
    lines = []
    with subprocess.Popen(
        [*command, "--disable-pip-version-check", *arguments],
        env=surroundings(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        errors="replace",
    ) as pip:
        for line in pip.stdout or ():
            lines.append(line.strip())
            if line.startswith("Collecting "):
                say(f"  fetching {line.split()[1]}")
            elif line.startswith("Installing collected packages"):
                say("  installing")
    if pip.returncode:
        explain(lines)


def explain(lines: list[str]) -> None:
    """Turn what pip printed into one line a person can act on."""
    text = "\n".join(lines)
    if "DO NOT MATCH THE HASHES" in text:
        stop("a download is not the locked one", "run again; if it stays so, do not install: report it")
    if any(sign in text for sign in OFFLINE):
        stop(
            "no network, or no way to the package index", "connect once (pip's proxy setting?) and run again"
        )
    if "No matching distribution" in text:
        import platform

        version = ".".join(map(str, sys.version_info[:2]))
        stop(
            f"the locked packages have no ready-made build for Python {version} on {platform.platform()}",
            "use 64-bit Python 3.11 to 3.14 on Linux, Windows or an Apple-silicon Mac, and a recent pip",
        )
    errors = [line for line in lines if line.startswith("ERROR")] or lines or ["no message"]
    stop(f"pip could not install ({errors[-1]})", "delete the folder .venv and run again")


def run_hardtack(arguments: list[str]) -> int:
    """Hand over to the hardtack command; its exit code is ours."""
    command = [str(tool("hardtack")), *arguments]
    if not WINDOWS:
        os.execve(command[0], command, surroundings())
    import subprocess

    return subprocess.call(command, env=surroundings())


def lacking_programs() -> list[str]:
    """Which of Chromium, PostgreSQL and the C compiler the machine lacks, by Debian's names; the tests that need one are
    marked with the same name."""
    import shutil

    browsers = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
    there = {
        "chromium": os.environ.get("HARDTACK_CHROMIUM") or any(map(shutil.which, browsers)),
        "postgresql": shutil.which("initdb") or list(Path("/usr/lib/postgresql").glob("*/bin/initdb")),
        "gcc": shutil.which("gcc"),
    }
    return [name for name, found in there.items() if not found]


def outside_programs() -> list[str]:
    """Install what is lacking from Debian's packages where that can be done without asking; gives what still lacks."""
    import shutil
    import subprocess

    lacking = lacking_programs()
    if lacking and shutil.which("apt-get") and getattr(os, "geteuid", lambda: 1)() == 0:
        say(f"start.py: installing {' and '.join(lacking)} for the tests")
        quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
        for command in (["update", "-qq"], ["install", "-y", "-qq", "--no-install-recommends", *lacking]):
            subprocess.call(
                ["apt-get", *command], env=quiet, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL
            )
        lacking = lacking_programs()
    return lacking


def run_checks(pytest_options: list[str], lacking: list[str]) -> int:
    """Every check, each to its end even if one before it failed.

    Tests that need what is `lacking` are left out, said at the end; under CI they run all the same, and fail.
    """
    import subprocess

    failed = []
    left_out = [] if os.environ.get("CI") == "true" else lacking
    without = ["-m", " and ".join(f"not {name}" for name in left_out)] if left_out else []
    for check in CHECKS:
        say(f"start.py: {' '.join(check)}")
        options = [*without, *pytest_options] if check == ("pytest",) else []
        command = [str(tool(check[0])), *check[1:], *options]
        if subprocess.call(command, cwd=ROOT, env=surroundings()):
            failed.append(" ".join(check))
    if left_out:
        names = " and ".join(left_out)
        say(f"start.py: NOT TESTED, for want of {names}: the tests marked {names}; install and run again")
    if failed:
        say(f"start.py: FAILED: {', '.join(failed)}")
    return 1 if failed else 0


def main(arguments: list[str]) -> int:
    """Set up what is missing, then do what was asked."""
    if sys.version_info < (3, 11):  # noqa: UP036 -- this file must say so on the older Pythons too
        stop(f"Python {sys.version.split()[0]} is too old", "install Python 3.11 or newer and run with that")
    if not arguments:
        print(__doc__.strip())
        return 0
    if arguments[0] == "test":
        set_up("test")
        return run_checks(arguments[1:], outside_programs())
    set_up("run")
    return run_hardtack(arguments)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
