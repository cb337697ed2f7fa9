"""Render photographs and keep what the two small nets learn from: thumbnails with targets, polar views with labels.

    python -m models.training.shards --count 20000 --seed 1 --workers 12 --device cuda --out FOLDER

Photo n depends on the seed and n alone, so that a run can be split, stopped and resumed: a shard that exists is kept.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import time
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.locate.conics import apply, ellipse_from_box, to_unit_circle, without_turn
from discscan.locate.reading import polar_view
from discscan.locate.rings import VIEW_RIM_PX, view_of
from discscan.locate.thumbnail import GREY
from discscan.records import Ellipse
from models.training.locator_targets import MAX_DISCS, TARGET, target_row

CANVAS_PX = 320
PHOTO_PX = 640
"""Longer side of a rendered photograph."""
FORMATS = ("cd", "dvd", "bd")


def photograph(seed: int, number: int, device: str) -> tuple[NDArray[np.uint8], list[dict[str, Any]], list[Ellipse]]:
    """Photo `number` of a seed: bgr, the truth's discs, and the outlines of round things that are no discs."""
    from models.training.render.picture import render
    from models.training.render.ranges import DEFAULT, Ranges
    from models.training.render.scene import sample_scene

    rng = np.random.default_rng([seed, number])
    none = bool(rng.random() < 0.22)
    aspect = float(rng.choice([3 / 4, 3 / 4, 9 / 16, 1.0, 2 / 3]))
    short = int(PHOTO_PX * aspect)
    width, height = (PHOTO_PX, short) if rng.random() < 0.6 else (short, PHOTO_PX)
    scene = sample_scene(
        rng, Ranges.load(DEFAULT), width_px=width, height_px=height, none=none, seed=seed * 1_000_000 + number
    )
    bgr, truth = render(scene, device)
    return bgr, truth.record["discs"], [_outline(thing, scene.camera, bgr.shape[1] / width) for thing in scene.things]


def _outline(thing: Any, camera: Any, scale: float) -> Ellipse:
    """The ellipse of a round thing in the finished photograph."""
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    circle = (
        thing.centre_mm
        + np.array([0.0, 0.0, 2.0])
        + thing.radius_mm * np.stack([np.cos(turn), np.sin(turn), 0 * turn], 1)
    )
    points = (camera.project(circle) + 0.5) * scale - 0.5
    return ellipse_from_box(cv2.fitEllipseDirect(points.astype(np.float32)))


def canvas_of(bgr: NDArray[np.uint8]) -> tuple[NDArray[np.uint8], float]:
    """The photograph in the corner of a grey square of CANVAS_PX, and its scale there."""
    height, width = bgr.shape[:2]
    scale = CANVAS_PX / max(height, width)
    size = (max(round(width * scale), 1), max(round(height * scale), 1))
    canvas = np.full((CANVAS_PX, CANVAS_PX, 3), GREY, np.uint8)
    canvas[: size[1], : size[0]] = cv2.resize(bgr, size, interpolation=cv2.INTER_AREA)
    return canvas, scale


def targets_of(discs: list[dict[str, Any]], scale: float) -> NDArray[np.float32]:
    """Locator targets float32 (MAX_DISCS, TARGET) in canvas pixels, counted from the picture's corner."""
    rows = np.zeros((MAX_DISCS, TARGET), np.float32)
    for row, disc in zip(rows, discs, strict=False):
        rim = disc["outer_ellipse_px"]
        centre = apply(np.linalg.inv(np.array(disc["homography_px_to_mm"])), np.zeros((1, 2)))[0]
        seen = min(disc["rim_seen_fraction"], disc["visible_fraction"] + 0.1)
        weight = 1.0 if seen >= 0.45 else -1.0
        row[:] = target_row(
            tuple((centre + 0.5) * scale),
            (
                (rim["cx"] + 0.5) * scale,
                (rim["cy"] + 0.5) * scale,
                rim["axis_major"] * scale,
                rim["axis_minor"] * scale,
                rim["angle_deg"],
            ),
            disc["diameter_mm"],
            weight,
        )
    return rows


def views_of(
    bgr: NDArray[np.uint8], discs: list[dict[str, Any]], things: list[Ellipse], rng: np.random.Generator
) -> list[tuple[NDArray[np.uint8], list[int]]]:
    """Polar views, each disc nearly as posed, and poses that are no disc's.

    Labels: disc 1 or 0; 120 mm; data side; recordable; format 0..2; -1 where nothing is asked.
    """
    views = []
    for disc in discs:
        if disc["visible_fraction"] < 0.45 or disc["outer_ellipse_px"]["axis_major"] < 60:
            continue
        pose = without_turn(np.array(disc["homography_px_to_mm"]))
        unit = np.diag([2 / disc["diameter_mm"]] * 2 + [1.0]) @ pose
        data = disc["side"] == "data"
        labels = [
            1,
            int(disc["diameter_mm"] == 120),
            int(data),
            int(disc["recording"] == "recordable") if data else -1,
            FORMATS.index(disc["format"]) if data else -1,
        ]
        views.append((_polar(bgr, _nudged(unit, rng, 0.006, 0.004)), labels))
        if rng.random() < 0.35:
            views.append((_polar(bgr, _misplaced(unit, disc["diameter_mm"], rng)), [0, -1, -1, -1, -1]))
    for thing in things:
        if thing.axis_minor > 0.4 * thing.axis_major:
            views.append((_polar(bgr, _nudged(to_unit_circle(thing), rng, 0.01, 0.015)), [0, -1, -1, -1, -1]))
    for _ in range(int(rng.random() < 0.3)):
        height, width = bgr.shape[:2]
        major = float(rng.uniform(0.15, 1.0) * max(width, height))
        rim = Ellipse(
            float(rng.uniform(0.2, 0.8) * width),
            float(rng.uniform(0.2, 0.8) * height),
            major,
            major * float(rng.uniform(0.6, 1.0)),
            float(rng.uniform(0, 180)),
        )
        apart = [np.hypot(rim.cx - d["outer_ellipse_px"]["cx"], rim.cy - d["outer_ellipse_px"]["cy"]) for d in discs]
        if all(a > 0.3 * d["outer_ellipse_px"]["axis_major"] for a, d in zip(apart, discs, strict=True)):
            views.append((_polar(bgr, to_unit_circle(rim)), [0, -1, -1, -1, -1]))
    return views


def _polar(bgr: NDArray[np.uint8], unit_pose: NDArray[np.float64]) -> NDArray[np.uint8]:
    return polar_view(view_of(bgr, unit_pose), rim_px=VIEW_RIM_PX)


def _nudged(unit: NDArray[np.float64], rng: np.random.Generator, shift: float, scale: float) -> NDArray[np.float64]:
    nudge = np.eye(3)
    nudge[:2, 2] = rng.normal(0, shift, 2)
    nudge[[0, 1], [0, 1]] = 1.0 + rng.normal(0, scale, 2)
    return nudge @ unit


def _misplaced(unit: NDArray[np.float64], diameter_mm: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """A pose that is wrong by far: off centre, or some inner or outer ring taken for the rim."""
    wrong = np.eye(3)
    if rng.random() < 0.5:
        turn, far = rng.uniform(0, 2 * np.pi), rng.uniform(0.12, 0.8)
        wrong[:2, 2] = far * np.cos(turn), far * np.sin(turn)
        wrong[[0, 1], [0, 1]] = rng.uniform(0.8, 1.25)
    else:
        wrong[[0, 1], [0, 1]] = rng.choice([rng.uniform(0.5, 0.88), rng.uniform(1.12, 3.5)])
    return wrong @ unit


def _shard(job: tuple[int, int, int, str, str]) -> str:
    seed, first, count, device, out = job
    path = Path(out) / f"{seed}_{first}.npz"
    if path.exists():
        return path.name
    cv2.setNumThreads(1)
    canvases, targets, views, labels, owners = [], [], [], [], []
    for number in range(first, first + count):
        try:
            bgr, discs, things = photograph(seed, number, device)
        except Exception as error:  # one bad scene must not lose a shard; it is told
            print(f"photo {seed}/{number}: {error!r}", file=sys.stderr)
            continue
        canvas, scale = canvas_of(bgr)
        canvases.append(canvas)
        targets.append(targets_of(discs, scale))
        for view, label in views_of(bgr, discs, things, np.random.default_rng([seed, number, 1])):
            views.append(view)
            labels.append(label)
            owners.append(number)
    partial = path.with_suffix(".part.npz")
    np.savez(
        partial,
        canvas=np.array(canvases),
        target=np.array(targets),
        view=np.array(views),
        label=np.array(labels, np.int8),
        owner=np.array(owners),
    )
    partial.rename(path)
    return path.name


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--shard", type=int, default=250)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--device", default="cpu")
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    jobs = [
        (given.seed, first, min(given.shard, given.count - first), given.device, str(given.out))
        for first in range(0, given.count, given.shard)
    ]
    start = time.perf_counter()
    with multiprocessing.get_context("spawn").Pool(given.workers) as pool:
        for done, name in enumerate(pool.imap_unordered(_shard, jobs), 1):
            print(f"{name}: {done} of {len(jobs)} shards, {time.perf_counter() - start:.0f} s", file=sys.stderr)


if __name__ == "__main__":
    main()
