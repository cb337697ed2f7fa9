"""How often a line that one photograph shows is found again in another photograph of the disc that saw the place well.

    python -m models.training.found_again FOLDER...

Of rendered pairs (`render --twice same`), laid over one another by the true turn; lines on a drawn mark and others
apart. Its two shares are `found_again_real` and `found_again_false` of calibration/together.toml.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np

from discscan.calibration import setting
from discscan.judged import JudgedDisc
from discscan.match.fuse import View, alike, covered_share, seen_share
from discscan.match.lay import laid_defect
from discscan.match.turn import Turn
from discscan.photo import read_photo
from discscan.records import LINE_KINDS, Defect, FloatArray
from discscan.scan import judge_photo


def lines(disc: JudgedDisc) -> list[Defect]:
    return [defect for defect in disc.survey.defects if defect.kind in LINE_KINDS]


def is_real(line: Defect, drawn: list[FloatArray]) -> bool:
    return any(covered_share(line.outline_mm, mark) >= setting("match", "twin_share") for mark in drawn)


def marks(truth: dict[str, Any]) -> list[FloatArray]:
    return [
        np.asarray(piece)
        for defect in truth["discs"][0]["defects"]
        if defect["kind"] in LINE_KINDS
        for piece in map(dense, defect["pieces_mm"])
    ]


def dense(outline: list[list[float]]) -> FloatArray:
    """A line's corners with points between them, every fifth of a millimetre."""
    corners = np.asarray(outline)
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    at = np.arange(0, along[-1] + 0.1, 0.2)
    return np.stack([np.interp(at, along, corners[:, i]) for i in (0, 1)], -1)


def only_disc(photo: Path) -> JudgedDisc | None:
    discs = judge_photo(read_photo(photo)).discs
    return discs[0] if len(discs) == 1 and discs[0].face.side != "label" else None


def count(first: JudgedDisc, second: JudgedDisc, turn: Turn, drawn: list[FloatArray]) -> Counter[tuple[bool, bool]]:
    """Lines of the first by (real, found again in the second), where the second saw them well."""
    view = View((), second.flat.sight, second.flat.px_per_mm)
    others = lines(second)
    found: Counter[tuple[bool, bool]] = Counter()
    for line in lines(first):
        there = laid_defect(line, turn.matrix)
        if seen_share(there.outline_mm, view) >= setting("match", "seen_well_share"):
            again = any(alike(there, other) or alike(other, there) for other in others)
            found[is_real(line, drawn), again] += 1
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", type=Path, nargs="+")
    found: Counter[tuple[bool, bool]] = Counter()
    for file in sorted(file for folder in parser.parse_args().folders for file in folder.glob("*_again.json")):
        told = json.loads(file.read_text())["second_of"]
        first, second = only_disc(file.with_name(told["file"])), only_disc(file.with_suffix(".jpg"))
        if first is None or second is None or told["way"] == "another":
            continue
        truth = json.loads(file.with_name(told["file"]).with_suffix(".json").read_text())
        found += count(first, second, Turn(told["turn_deg"][0], np.zeros(2), 0, 0, 0), marks(truth))
    for real in (True, False):
        total = found[real, True] + found[real, False]
        share = found[real, True] / max(total, 1)
        print(f"{'real' if real else 'false'} lines: {total}, found again {found[real, True]}, {share:.3f}")


if __name__ == "__main__":
    main()
