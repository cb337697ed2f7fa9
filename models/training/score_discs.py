"""Scores where discs were found, with which pose, side, recording and format, against the truth of the renderer.

    python -m models.training.score_discs REPORT.json TRUTH_FOLDER

Asked for are discs of which six tenths of the rim are seen; the others may be found or not.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from models.training.render.geometry import HOLE_MM
from models.training.score import found_for, read_truths, through

RIM_SEEN = 0.6
OVERLAP = 0.9


def overlap(one: dict[str, float], other: dict[str, float]) -> float:
    """Intersection over union of two ellipses."""
    middle = np.array([one["cx"], one["cy"]])
    scale = 400 / max(one["axis_major"], other["axis_major"])
    masks = []
    for e in (one, other):
        mask = np.zeros((1000, 1000), np.uint8)
        centre = (np.array([e["cx"], e["cy"]]) - middle) * scale + 500
        box = (tuple(centre.tolist()), (e["axis_major"] * scale, e["axis_minor"] * scale), e["angle_deg"])
        cv2.ellipse(mask, box, 1, -1)
        masks.append(mask > 0)
    return float((masks[0] & masks[1]).sum() / (masks[0] | masks[1]).sum())


def circle_off_mm(found: dict[str, Any], true: dict[str, Any], radius_mm: float) -> float:
    """Median distance from its place of a true circle that is mapped by the found pose."""
    turn = np.linspace(0, 2 * np.pi, 180, endpoint=False)
    circle = radius_mm * np.stack([np.cos(turn), np.sin(turn)], 1)
    to_found = np.array(found["homography_px_to_mm"]) @ np.linalg.inv(np.array(true["homography_px_to_mm"]))
    return float(np.median(np.abs(np.hypot(*through(to_found, circle).T) - radius_mm)))


def score(report: dict[str, Any], truths: list[dict[str, Any]]) -> dict[str, Any]:
    """Shares and medians over all discs asked for."""
    photos = {Path(photo["file"]).name: photo for photo in report["photos"]}
    rows: list[dict[str, Any]] = []
    false = 0
    for record in truths:
        reported = (photos.get(record["file"]) or {}).get("discs") or []
        pairs = list(zip(record["discs"], found_for(record["discs"], reported), strict=True))
        rows += [_row(record["file"], true, found) for true, found in pairs if true["rim_seen_fraction"] >= RIM_SEEN]
        false += len(reported) - sum(found is not None for _, found in pairs)
    seen = [row for row in rows if row["overlap"] > OVERLAP]
    data = [row for row in seen if row["true_side"] == "data"]

    def share(rows: list[dict[str, Any]], key: str) -> str:
        asked = [row for row in rows if row[key] is not None]
        return f"{sum(row[key] for row in asked)}/{len(asked)}"

    def quantile(key: str, part: float) -> float | None:
        return float(np.quantile([row[key] for row in seen], part)) if seen else None

    return {
        "found": f"{len(seen)}/{len(rows)}",
        "false": false,
        "rim_off_mm_median": quantile("rim_off_mm", 0.5),
        "rim_off_mm_p90": quantile("rim_off_mm", 0.9),
        "hub_off_mm_median": quantile("hub_off_mm", 0.5),
        "hub_off_mm_p90": quantile("hub_off_mm", 0.9),
        "side": share(seen, "side"),
        "diameter": share(seen, "diameter"),
        "recording_where_said": share(data, "recording"),
        "format_where_said": share(data, "format"),
        "retake": f"{sum(row['action'] == 'retake' for row in data)}/{len(data)}",
        "missed": [row["name"] for row in rows if row["overlap"] <= OVERLAP],
    }


def _row(file: str, true: dict[str, Any], found: dict[str, Any] | None) -> dict[str, Any]:
    if found is None:
        return {"name": f"{file} {true['outer_ellipse_px']['axis_major']:.0f} px", "overlap": 0.0}

    def said(key: str) -> bool | None:
        return None if found[key] == "unknown" else found[key] == true[key]

    return {
        "name": f"{file} {true['outer_ellipse_px']['axis_major']:.0f} px",
        "overlap": overlap(found["outer_ellipse_px"], true["outer_ellipse_px"]),
        "rim_off_mm": circle_off_mm(found, true, true["diameter_mm"] / 2),
        "hub_off_mm": circle_off_mm(found, true, HOLE_MM),
        "side": found["side"] == true["side"],
        "true_side": true["side"],
        "diameter": found["diameter_mm"] == true["diameter_mm"],
        "recording": said("recording"),
        "format": said("format"),
        "action": found["verdict"]["action"],
    }


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m models.training.score_discs", description=__doc__)
    parser.add_argument("report", type=Path)
    parser.add_argument("truth", type=Path, help="folder of the renderer")
    given = parser.parse_args()
    result = score(json.loads(given.report.read_text(encoding="utf-8")), read_truths(given.truth))
    for name, value in result.items():
        print(f"{name:24s} {value:.3f}" if isinstance(value, float) else f"{name:24s} {value}")


if __name__ == "__main__":
    main()
