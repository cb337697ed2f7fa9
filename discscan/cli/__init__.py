"""The command line: commands, progress, exit codes. No sentence about a disc is made here."""

from __future__ import annotations

import sys

from discscan.cli.streams import say
from discscan.errors import DiscscanError


def main() -> None:
    """The entry point `discscan`: the one place that turns errors into words and exit codes."""
    from discscan.cli.app import app

    try:
        app()
    except DiscscanError as error:
        where = f"{error.file}: " if error.file else ""
        say(f"{where}{error.what} {error.remedy}".rstrip())
        sys.exit(error.exit_code)
