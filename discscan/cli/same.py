"""`discscan same` at work."""

from __future__ import annotations

import sys
from pathlib import Path

from discscan import same
from discscan.cli.outputs import write_image
from discscan.cli.streams import put, say
from discscan.cli.text import lines_and_table
from discscan.report.same import SAME_HEAD, same_lines, same_report, same_rows
from discscan.report.side_by_side import draw_comparison


def tell_same(first: str, second: str, *, as_json: bool, picture: Path | None) -> int:
    """Compare two photos, write the answer and its picture, and return the exit status."""
    found = same(first, second)
    told = same_report(found, (first, second))
    if picture is not None:
        write_image(picture, draw_comparison(found, (Path(first).name, Path(second).name)))
        say(f"Picture: {picture.resolve()}")
    if as_json:
        put(told.to_json(), encoding="utf-8")
    else:
        put(lines_and_table(list(same_lines(told)), SAME_HEAD, same_rows(told), terminal=sys.stdout.isatty()))
    return 0
