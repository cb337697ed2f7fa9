"""Scores what a report says of label sides against the exact truth of rendered photographs.

    python -m models.training.score_label REPORT.json TRUTH_FOLDER

As `models.training.score` does of data sides. Wounds count by the length of their borders: a point is right where it
lies in a true wound or near its border, whether that shows or not; of true wounds, those that show are asked for.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.training.score import (
    VISIBLE,
    DiscPair,
    FloatArray,
    in_data_area,
    inside,
    lines_of,
    nearest_mm,
    pair_discs,
    read_truths,
    sample,
    shows,
)

TOLERANCE_MM = 0.6
_NONE = np.zeros(0, bool)


def label_score(pairs: Sequence[DiscPair], tolerance_mm: float = TOLERANCE_MM) -> dict[str, float | int | None]:
    """Wounds of label sides, over the data: discs that have some and are said to, and their borders' length.

    Returns:
        found: share of the discs with a wound that shows, of which one is told where it is.
        false_discs: share of the discs without any that are said to have one.
        precision, recall: by length of borders; `flakes` is the recall of wounds that are no scratches.
    """
    with_wound = found_in = without = said_of = 0
    right, hit, of_flakes = _NONE, _NONE, _NONE
    for pair in pairs:
        true, told = (
            [one for one in defects if one["kind"] == "label_damage"]
            for defects in (pair.truth["defects"], pair.defects)
        )
        claims = _over_data(_on(_border(pair, one), true, tolerance_mm) for one in told)
        asked = [one for one in true if shows(one, pair, VISIBLE)]
        hits = _over_data(_on(_border(pair, one), told, tolerance_mm) for one in asked)
        flakes = (_on(_border(pair, one), told, tolerance_mm) for one in asked if one["width_um"] is None)
        right, hit = np.concatenate([right, *claims]), np.concatenate([hit, *hits])
        of_flakes = np.concatenate([of_flakes, *flakes])
        with_wound += bool(hits)
        found_in += bool(hits) and any(near.mean() >= 0.5 for near in claims)
        without, said_of = without + (not true), said_of + (not true and bool(claims))
    precision, recall = _share(right), _share(hit)
    return {
        "discs_with": with_wound,
        "found": found_in / with_wound if with_wound else None,
        "discs_without": without,
        "false_discs": said_of / without if without else None,
        "precision": precision,
        "recall": recall,
        "flakes": _share(of_flakes),
    }


def _over_data(wounds: Iterable[NDArray[np.bool_]]) -> list[NDArray[np.bool_]]:
    return [points for points in wounds if len(points)]


def _share(points: NDArray[np.bool_]) -> float | None:
    return float(points.mean()) if len(points) else None


def _border(pair: DiscPair, defect: dict[str, Any]) -> FloatArray:
    """Points along an area's closed border, over the data."""
    outline = np.asarray(defect["outline_mm"], np.float64).reshape(-1, 2)
    return in_data_area(pair, sample(np.concatenate([outline, outline[:1]])))


def _on(points: FloatArray, areas: Sequence[dict[str, Any]], tolerance_mm: float) -> NDArray[np.bool_]:
    """Which points lie in one of these areas, or near its border."""
    near = np.zeros(len(points), bool)
    for area in areas:
        outline = np.asarray(area["outline_mm"], np.float64).reshape(-1, 2)
        border = sample(np.concatenate([outline, outline[:1]]))
        near |= inside(points, outline) | (nearest_mm(points, border) <= tolerance_mm)
    return near


def score(report: dict[str, Any], truths: Iterable[dict[str, Any]]) -> dict[str, Any]:
    """Of one report: label sides and how many of them were found and taken for such, and `label_score`."""
    pairs = pair_discs(report, truths, side="label")
    seen = [pair for pair in pairs if pair.found is not None]
    taken = sum(pair.found["side"] == "label" for pair in seen if pair.found)
    return {"discs": {"true": len(pairs), "found": len(seen), "side_right": taken}, "wounds": label_score(seen)}


def main() -> None:
    parser = argparse.ArgumentParser(
        prog="python -m models.training.score_label", description="Scores wounds of label sides against truth."
    )
    parser.add_argument("report", type=Path)
    parser.add_argument("truth", type=Path, help="folder of the renderer")
    given = parser.parse_args()
    result = score(json.loads(given.report.read_text(encoding="utf-8")), read_truths(given.truth))
    print("\n".join(lines_of(result)))


if __name__ == "__main__":
    main()
