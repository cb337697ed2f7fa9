"""The command line: commands, progress, exit codes. No sentence about a disc is made here."""

from __future__ import annotations

import sys

from discscan.errors import DiscscanError


def main() -> None:
    """The entry point `discscan`: the one place that turns errors into words and exit codes."""
    from discscan.cli.app import app

    try:
        app()
    except DiscscanError as error:
        where = f"{error.file}: " if error.file else ""
        print(f"discscan: {where}{error.what} {error.remedy}".rstrip(), file=sys.stderr)
        sys.exit(error.exit_code)
