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


def label_score(pairs: Sequence[DiscPair], tolerance_mm: float = TOLERANCE_MM) -> dict[str, float | int | None]:
    """Wounds of label sides, over the data: discs that have some and are said to, and their borders' length.

    Returns:
        found: share of the discs with a wound that shows, of which one is told where it is.
        false_discs: share of the discs without any that are said to have one.
        precision, recall: by length of borders; `flakes` is the recall of wounds that are no scratches.
        None wherever there is nothing to take a share of.
    """
    with_wound = found_in = without = said_of = 0
    right: list[NDArray[np.bool_]] = []
    hit: list[NDArray[np.bool_]] = []
    flaked: list[NDArray[np.bool_]] = []
    for pair in pairs:
        true, told = (
            [one for one in defects if one["kind"] == "label_damage"]
            for defects in (pair.truth["defects"], pair.defects)
        )
        asked = [one for one in true if shows(one, pair, VISIBLE)]
        claims = _agreeing(pair, told, true, tolerance_mm)
        hits = _agreeing(pair, asked, told, tolerance_mm)
        right += claims
        hit += hits
        flaked += _agreeing(pair, [one for one in asked if one["width_um"] is None], told, tolerance_mm)
        with_wound += bool(hits)
        found_in += bool(hits) and any(near.mean() >= 0.5 for near in claims)
        without += not true
        said_of += not true and bool(claims)
    return {
        "discs_with": with_wound,
        "found": found_in / with_wound if with_wound else None,
        "discs_without": without,
        "false_discs": said_of / without if without else None,
        "precision": _share(right),
        "recall": _share(hit),
        "flakes": _share(flaked),
    }


def _agreeing(
    pair: DiscPair, wounds: Sequence[dict[str, Any]], others: Sequence[dict[str, Any]], tolerance_mm: float
) -> list[NDArray[np.bool_]]:
    """For each wound over the data, which points of its border there lie in one of the others or near its border."""
    borders = [in_data_area(pair, _closed(wound)) for wound in wounds]
    return [_in_any(border, others, tolerance_mm) for border in borders if len(border)]


def _in_any(points: FloatArray, areas: Sequence[dict[str, Any]], tolerance_mm: float) -> NDArray[np.bool_]:
    """Which points lie in one of these areas, or near its border."""
    near = np.zeros(len(points), bool)
    for area in areas:
        near |= inside(points, np.asarray(area["outline_mm"], np.float64))
        near |= nearest_mm(points, _closed(area)) <= tolerance_mm
    return near


def _closed(area: dict[str, Any]) -> FloatArray:
    """Points along an area's border, all the way round."""
    outline = np.asarray(area["outline_mm"], np.float64)
    return sample(np.concatenate([outline, outline[:1]]))


def _share(parts: Sequence[NDArray[np.bool_]]) -> float | None:
    return float(np.concatenate(parts).mean()) if parts else None


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
