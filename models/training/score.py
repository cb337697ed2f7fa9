"""Scores a report against the exact truth of rendered photographs. numpy only, so that it scores anyone's report.

    python -m models.training.score REPORT.json TRUTH_FOLDER [--json]

REPORT.json is what `discscan scan --json` prints; TRUTH_FOLDER holds a .json for each photo, as the renderer writes
it. Predicted millimetres go through the predicted pose to photo pixels and through the true pose back to millimetres,
so that a wrong pose costs what it should.

Lines are scored by length: precision is the share of the predicted centre-line length that lies within a tolerance of a
true one, recall the share of the true length that lies within it of a predicted one. Both are pooled over all discs.
Many true lines do not show at all in one light: `visible` counts recall only over lines that change a photo pixel by a
tenth or more.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
TOLERANCES_MM = (0.3, 0.6)
WIDTH_EDGES_UM = (0, 20, 40, 80, 160, 1000)
STEP_MM = 0.1
VISIBLE = 0.1
DATA_AREA_MM = {120: (24.0, 58.0), 80: (24.0, 38.0)}
SURFACE_LINES = ("scratch", "ring_arc")
AREA_STEP_MM = 0.5
SAME_DISC = 0.3
"""Centres closer than this share of the true major axis are one disc."""


@dataclass
class DiscPair:
    """One disc: its truth, and what was reported for it in the truth's millimetres (None: it was not found)."""

    name: str
    truth: dict[str, Any]
    found: dict[str, Any] | None
    defects: list[dict[str, Any]] = field(default_factory=list)


def through(homography: FloatArray, points: FloatArray) -> FloatArray:
    """Points (n, 2) through a homography."""
    mapped = np.column_stack([points, np.ones(len(points))]) @ homography.T
    return np.asarray(mapped[:, :2] / mapped[:, 2:])


def sample(line_mm: Sequence[Sequence[float]] | FloatArray) -> FloatArray:
    """Points (n, 2) along a polyline, each in the middle of the `STEP_MM` of it for which it counts."""
    line = np.asarray(line_mm, np.float64).reshape(-1, 2)
    if len(line) < 2:
        return np.empty((0, 2))
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    at = np.arange(STEP_MM / 2, along[-1], STEP_MM)
    return np.column_stack([np.interp(at, along, line[:, axis]) for axis in (0, 1)])


def nearest_mm(points: FloatArray, others: FloatArray) -> FloatArray:
    """Distance of each point from the nearest of the others; infinite where there are none."""
    if not len(points) or not len(others):
        return np.full(len(points), np.inf)
    parts = []
    for start in range(0, len(points), 500):
        part = points[start : start + 500]
        square = (part**2).sum(1)[:, None] + (others**2).sum(1)[None] - 2 * part @ others.T
        parts.append(np.sqrt(np.maximum(square.min(1), 0)))
    return np.concatenate(parts)


def inside(points: FloatArray, border: FloatArray) -> NDArray[np.bool_]:
    """Which points lie in a closed border (even-odd rule)."""
    odd = np.zeros(len(points), bool)
    for (x1, y1), (x2, y2) in zip(border, np.roll(border, -1, axis=0), strict=True):
        if y1 != y2:
            crosses = (points[:, 1] < y1) != (points[:, 1] < y2)
            odd ^= crosses & (points[:, 0] < x1 + (points[:, 1] - y1) / (y2 - y1) * (x2 - x1))
    return odd


def pair_discs(report: dict[str, Any], truths: Iterable[dict[str, Any]], *, side: str = "data") -> list[DiscPair]:
    """Each true disc with this side up with what was reported for it in its photograph."""
    photos = {Path(photo["file"]).name: photo for photo in report["photos"]}
    pairs = []
    for record in truths:
        reported = (photos.get(record["file"]) or {}).get("discs") or []
        for number, (disc, found) in enumerate(zip(record["discs"], found_for(record["discs"], reported), strict=True)):
            if disc["side"] == side:
                pair = DiscPair(f"{record['file']}#{number}", disc, found)
                if found is not None:
                    pair.defects = [_in_truth_mm(defect, found, disc) for defect in found["defects"]]
                pairs.append(pair)
    return pairs


def found_for(true: Sequence[dict[str, Any]], reported: Sequence[dict[str, Any]]) -> list[dict[str, Any] | None]:
    """For each true disc of a photograph the one reported there, or None; the nearest two are paired first.

    Discs that lie on one another may have their centres within `SAME_DISC`: taken in turn, a covered one would claim
    what was reported for the one on top of it.
    """
    apart = np.array([[_apart(t["outer_ellipse_px"], r["outer_ellipse_px"]) for r in reported] for t in true])
    found: list[dict[str, Any] | None] = [None] * len(true)
    for _ in range(min(apart.shape) if apart.size else 0):
        which, what = divmod(int(apart.argmin()), len(reported))
        if apart[which, what] >= SAME_DISC:
            break
        found[which] = reported[what]
        apart[which], apart[:, what] = np.inf, np.inf
    return found


def _apart(true: dict[str, float], reported: dict[str, float]) -> float:
    """Distance of two outlines' centres as a share of the true major axis."""
    return float(np.hypot(true["cx"] - reported["cx"], true["cy"] - reported["cy"]) / true["axis_major"])


def _in_truth_mm(defect: dict[str, Any], found: dict[str, Any], truth: dict[str, Any]) -> dict[str, Any]:
    back = np.array(truth["homography_px_to_mm"]) @ np.linalg.inv(np.array(found["homography_px_to_mm"]))
    outline = np.asarray(defect["outline_mm"], np.float64).reshape(-1, 2)
    return {**defect, "outline_mm": through(back, outline) if len(outline) else outline}


def visibility(defect: dict[str, Any], pair: DiscPair) -> float:
    """Relative contrast of a line in the photograph's pixels: thinner than a pixel, it keeps its share of one."""
    px_um = 1000 * pair.truth["diameter_mm"] / pair.truth["outer_ellipse_px"]["axis_major"]
    contrast = defect.get("contrast")
    return 1.0 if contrast is None else float(abs(contrast) * min(1.0, defect["width_um"] / px_um))


def shows(defect: dict[str, Any], pair: DiscPair, least_visible: float) -> bool:
    """Whether half of a defect or more is in sight, and its `visibility` is as much as asked for."""
    return bool(defect.get("seen_fraction", 1.0) >= 0.5 and visibility(defect, pair) >= least_visible)


def _true_lines(pair: DiscPair, kinds: Sequence[str], least_visible: float) -> list[tuple[dict[str, Any], FloatArray]]:
    """True defects with their sampled centre lines within the data area."""
    lines = []
    for defect in pair.truth["defects"]:
        if defect["kind"] in kinds and shows(defect, pair, least_visible):
            pieces = defect.get("pieces_mm") or [defect["outline_mm"]]
            lines.append((defect, in_data_area(pair, _join(sample(piece) for piece in pieces))))
    return lines


def _found_points(pair: DiscPair, kinds: Sequence[str]) -> FloatArray:
    return in_data_area(pair, _join(sample(d["outline_mm"]) for d in pair.defects if d["kind"] in kinds))


def _join(parts: Iterable[FloatArray]) -> FloatArray:
    return np.concatenate([np.empty((0, 2)), *parts])


def in_data_area(pair: DiscPair, points: FloatArray) -> FloatArray:
    """Those of some points (n, 2) that lie over the data."""
    low, high = DATA_AREA_MM[pair.truth["diameter_mm"]]
    radius = np.hypot(*points.T)
    inside_area: FloatArray = points[(radius >= low) & (radius <= high)]
    return inside_area


def line_score(
    pairs: Sequence[DiscPair], kinds: Sequence[str], tolerance_mm: float, least_visible: float = 0.0
) -> dict[str, float]:
    """Precision, recall and F1 by length, pooled. `least_visible` spares recall the lines that hardly show."""
    right = claimed = hit = true = 0
    for pair in pairs:
        found = _found_points(pair, kinds)
        wanted = _join(points for _, points in _true_lines(pair, kinds, least_visible))
        allowed = _join(points for _, points in _true_lines(pair, kinds, 0.0))
        right += int((nearest_mm(found, allowed) <= tolerance_mm).sum())
        hit += int((nearest_mm(wanted, found) <= tolerance_mm).sum())
        claimed, true = claimed + len(found), true + len(wanted)
    precision, recall = right / claimed if claimed else 1.0, hit / true if true else 1.0
    f1 = 2 * precision * recall / (precision + recall) if precision + recall else 0.0
    return {
        "precision": precision,
        "recall": recall,
        "f1": f1,
        "true_mm": true * STEP_MM,
        "claimed_mm": claimed * STEP_MM,
    }


def recall_by_width(pairs: Sequence[DiscPair], tolerance_mm: float) -> dict[str, float | None]:
    """Share of the true length found, whatever kind of line it was called, by the line's width."""
    hits, totals = np.zeros(len(WIDTH_EDGES_UM) - 1), np.zeros(len(WIDTH_EDGES_UM) - 1)
    for pair in pairs:
        found = _found_points(pair, (*SURFACE_LINES, "crack"))
        for defect, points in _true_lines(pair, SURFACE_LINES, 0.0):
            bin_ = int(np.clip(np.searchsorted(WIDTH_EDGES_UM, defect["width_um"], side="right") - 1, 0, len(hits) - 1))
            hits[bin_] += (nearest_mm(points, found) <= tolerance_mm).sum()
            totals[bin_] += len(points)
    names = [f"{low}-{high} um" for low, high in pairwise(WIDTH_EDGES_UM)]
    return {name: hit / total if total else None for name, hit, total in zip(names, hits, totals, strict=True)}


def disc_score(pairs: Sequence[DiscPair], kind: str) -> dict[str, float | int | None]:
    """Whether the discs with this kind of damage, and only those, are said to have it."""
    has = np.array([any(d["kind"] == kind for d in pair.truth["defects"]) for pair in pairs], bool)
    says = np.array([any(d["kind"] == kind for d in pair.defects) for pair in pairs], bool)
    return {
        "discs_with": int(has.sum()),
        "found": float(says[has].mean()) if has.any() else None,
        "false_discs": float(says[~has].mean()) if (~has).any() else None,
    }


def area_score(pairs: Sequence[DiscPair], kind: str) -> dict[str, float | None]:
    """F1 of areas, pooled, on a grid of `AREA_STEP_MM`."""
    axis = np.arange(-60, 60, AREA_STEP_MM)
    cells = np.stack(np.meshgrid(axis, axis), -1).reshape(-1, 2)
    both = either = 0
    for pair in pairs:
        masks = []
        for defects in (pair.truth["defects"], pair.defects):
            mask = np.zeros(len(cells), bool)
            for defect in defects:
                if defect["kind"] == kind:
                    mask |= inside(cells, np.asarray(defect["outline_mm"], np.float64))
            masks.append(mask)
        both += int((masks[0] & masks[1]).sum())
        either += int(masks[0].sum() + masks[1].sum())
    return {"f1": 2 * both / either if either else None}


def false_mm_per_cm2(pairs: Sequence[DiscPair], tolerance_mm: float) -> dict[str, float | int]:
    """Claimed line length that lies near no true line of any kind, on these discs."""
    kinds = (*SURFACE_LINES, "crack")
    false = area = 0.0
    with_lines = 0
    for pair in pairs:
        found = _found_points(pair, kinds)
        true = _join(points for _, points in _true_lines(pair, kinds, 0.0))
        wrong = float((nearest_mm(found, true) > tolerance_mm).sum()) * STEP_MM
        low, high = DATA_AREA_MM[pair.truth["diameter_mm"]]
        false, area, with_lines = false + wrong, area + np.pi * (high**2 - low**2) / 100, with_lines + (wrong > 0)
    return {"discs": len(pairs), "discs_with_false_lines": with_lines, "mm_per_cm2": false / area if area else 0.0}


def density_factor(pairs: Sequence[DiscPair]) -> float | None:
    """Median factor, one or more, between reported and true scratch density, over discs with 10 mm of lines or more."""
    factors = []
    for pair in pairs:
        true = STEP_MM * sum(len(points) for _, points in _true_lines(pair, SURFACE_LINES, 0.0))
        if pair.found is not None and true >= 10:
            low, high = DATA_AREA_MM[pair.truth["diameter_mm"]]
            wanted = true / (np.pi * (high**2 - low**2) / 100)
            given = max(float(pair.found["scratch_density_mm_per_cm2"]), 1e-3)
            factors.append(max(wanted / given, given / wanted))
    return float(np.median(factors)) if factors else None


def score(report: dict[str, Any], truths: Iterable[dict[str, Any]]) -> dict[str, Any]:
    """Everything above, of one report."""
    pairs = pair_discs(report, truths)
    seen = [pair for pair in pairs if pair.found is not None]
    lineless = [p for p in seen if not any(d["kind"] in (*SURFACE_LINES, "crack") for d in p.truth["defects"])]
    groups = {
        "clean": [p for p in lineless if p.truth["condition"] == "clean" and not p.truth.get("polished")],
        "dirty": [p for p in lineless if p.truth["condition"] == "dirty"],
        "polished": [p for p in lineless if p.truth.get("polished")],
        "all without lines": lineless,
    }
    return {
        "discs": {"true": len(pairs), "found": len(seen)},
        "lines": {f"{t} mm": line_score(seen, SURFACE_LINES, t) for t in TOLERANCES_MM},
        "visible": {f"{t} mm": line_score(seen, SURFACE_LINES, t, VISIBLE) for t in TOLERANCES_MM},
        "ring_arc": {f"{t} mm": line_score(seen, ("ring_arc",), t) for t in TOLERANCES_MM},
        "scratch": {f"{t} mm": line_score(seen, ("scratch",), t) for t in TOLERANCES_MM},
        "recall_by_width": recall_by_width(seen, 0.6),
        "crack": disc_score(seen, "crack"),
        "delamination": {**disc_score(seen, "delamination"), **area_score(seen, "delamination")},
        "smudge": disc_score(seen, "smudge"),
        "dust": disc_score(seen, "dust"),
        "false_lines": {name: false_mm_per_cm2(group, 0.6) for name, group in groups.items()},
        "density_factor": density_factor(seen),
    }


def read_truths(folder: Path) -> list[dict[str, Any]]:
    """The truth of each photograph in a folder, by name."""
    records = [json.loads(path.read_text(encoding="utf-8")) for path in sorted(folder.glob("*.json"))]
    return [record for record in records if isinstance(record, dict) and "discs" in record and "file" in record]


def lines_of(value: Any, name: str = "") -> Iterable[str]:
    """A score as lines of text: the names that lead to each table of figures, and the figures."""
    if isinstance(value, dict) and any(isinstance(v, dict) for v in value.values()):
        for key, inner in value.items():
            yield from lines_of(inner, f"{name} {key}".strip())
    else:
        items = value.items() if isinstance(value, dict) else [("", value)]
        yield f"{name:28s} " + "  ".join(f"{k} {v:.3f}" if isinstance(v, float) else f"{k} {v}" for k, v in items)


def main() -> None:
    parser = argparse.ArgumentParser(
        prog="python -m models.training.score", description="Scores a report against truth."
    )
    parser.add_argument("report", type=Path)
    parser.add_argument("truth", type=Path, help="folder of the renderer")
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args()
    result = score(json.loads(given.report.read_text(encoding="utf-8")), read_truths(given.truth))
    print(json.dumps(result, indent=1) if given.json else "\n".join(lines_of(result)))


if __name__ == "__main__":
    main()
