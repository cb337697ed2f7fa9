"""Lines and columns of plain text."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from discscan.cli.streams import put


def put_lines(*parts: Iterable[str]) -> None:
    """Write the lines that say something."""
    put("".join(f"{line}\n" for part in parts for line in part if line))


def columns(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """The rows in columns, numbers to the right; columns without any entry are left out."""
    filled = [column for column in zip(head, *rows, strict=True) if any(column[1:])]
    aligned = [_aligned(column) for column in filled]
    return ["   ".join(line).rstrip() for line in zip(*aligned, strict=True)]


def _aligned(column: Sequence[str]) -> list[str]:
    width = max(map(len, column))
    numbers = all(re.match(r"[-<]? ?\d|$", entry) for entry in column[1:])
    return [entry.rjust(width) if numbers else entry.ljust(width) for entry in column]
