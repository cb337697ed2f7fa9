"""Which marks of a disc two photographs share, and which only one of them shows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from discscan.calibration import setting
from discscan.match.band import Band
from discscan.match.fuse import View, alike, seen_share
from discscan.match.turn import Turn, carried, mean_at
from discscan.records import LINE_KINDS, Defect, FloatArray


@dataclass(frozen=True)
class MarksOfTwo:
    """Lines of two views that lie over one another.

    Attributes:
        both: found in both, as each shows them, the plainest first.
        only_first: plain in the first; the second saw the place well and does not show it, not even faintly.
        only_second: the reverse.
    """

    both: tuple[tuple[Defect, Defect], ...]
    only_first: tuple[Defect, ...]
    only_second: tuple[Defect, ...]


def marks_of_two(first: View, second: View, *, bands: tuple[Band, Band], turn: Turn) -> MarksOfTwo:
    """Compare the lines of two views in one plane, the first one's.

    Args:
        bands: of both, each in its own plane.
        turn: from the first to the second.
    """
    lines = _lines(first)
    others = _lines(second)
    both, found = [], set()
    for line in lines:
        twin = next((other for other in others if alike(line, other) or alike(other, line)), None)
        if twin is not None and id(twin) not in found:
            both.append((line, twin))
            found.add(id(twin))
    gone = [one for one in _missing(lines, second, others) if not shows(bands[1], carried(one.outline_mm, turn.matrix))]
    new = [one for one in _missing(others, first, lines) if not shows(bands[0], one.outline_mm)]
    return MarksOfTwo(tuple(both), tuple(gone), tuple(new))


def shows(band: Band, points_mm: FloatArray) -> bool:
    """Whether a line passes there, however faintly: the place stands out from nearly all those at other turns."""
    own = mean_at(band, points_mm)
    others = [mean_at(band, carried(points_mm, turn.matrix)) for turn in _OTHER_TURNS]
    return own > float(np.quantile(others, setting("match", "faint_quantile")))


_OTHER_TURNS = tuple(Turn(float(deg), np.zeros(2), 0, 0, 0) for deg in range(5, 356, 5))


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
