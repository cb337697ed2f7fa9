"""Which marks of a disc two photographs share, and which only one of them shows."""

from __future__ import annotations

from dataclasses import dataclass

from discscan.calibration import setting
from discscan.match.fuse import View, alike, seen_share
from discscan.records import LINE_KINDS, Defect


@dataclass(frozen=True)
class MarksOfTwo:
    """Lines of two views that lie over one another.

    Attributes:
        both: found in both, as each shows them, the plainest first.
        only_first: plain in the first, not found in the second although it saw the place well.
        only_second: the reverse.
    """

    both: tuple[tuple[Defect, Defect], ...]
    only_first: tuple[Defect, ...]
    only_second: tuple[Defect, ...]


def marks_of_two(first: View, second: View) -> MarksOfTwo:
    """Compare the lines of two views in one plane."""
    lines = _lines(first)
    others = _lines(second)
    both, found = [], set()
    for line in lines:
        twin = next((other for other in others if alike(line, other) or alike(other, line)), None)
        if twin is not None and id(twin) not in found:
            both.append((line, twin))
            found.add(id(twin))
    return MarksOfTwo(tuple(both), tuple(_missing(lines, second, others)), tuple(_missing(others, first, lines)))


def _lines(view: View) -> list[Defect]:
    lines = (defect for defect in view.defects if defect.kind in LINE_KINDS and defect.length_mm)
    return sorted(lines, key=lambda line: -line.confidence * (line.length_mm.value if line.length_mm else 0))


def _missing(lines: list[Defect], view: View, there: list[Defect]) -> list[Defect]:
    """Plain lines that a view should show and does not."""
    return [
        line
        for line in lines
        if line.confidence >= setting("match", "plain_line")
        and seen_share(line.outline_mm, view) >= setting("match", "seen_well_share")
        and not any(alike(line, other) or alike(other, line) for other in there)
    ]
