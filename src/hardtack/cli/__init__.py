"""The command line: a verb per question. Thin: it reads arguments, calls the core and shows what it says."""

from hardtack.cli.commands import main

__all__ = ["main"]
