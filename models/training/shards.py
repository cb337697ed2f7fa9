"""Render photographs and keep what the nets learn from: thumbnails, polar views, bands of rims, pieces of discs.

    python -m models.training.shards --count 20000 --seed 1 --workers 14 --device cuda --out FOLDER
    python -m models.training.shards --count 20000 --seed 2 --nets locator face --longer-px 400 700 ... --out FOLDER
    python -m models.training.shards --photographs FOLDER --seed 3 --nets face damage --workers 14 --out FOLDER

The second makes photographs just large enough to find discs and read faces, several times as many in the same time. The
third renders nothing: it takes photographs that other code has drawn, with their truth (`tests/bench/third_light`);
with `--both-sides` nets are asked which side is up on them, too.
Photo n depends on the seed and n alone, so that a run can be split, stopped and resumed: a shard that exists is kept.
A shard is four files, `<seed>_<first>_<net>.npz`.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import sys
import time
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.locate.conics import apply, ellipse_through, to_unit_circle, towards_camera, without_turn
from discscan.locate.reading import polar_view
from discscan.locate.thumbnail import GREY
from discscan.locate.unroll import close_up
from discscan.records import Ellipse, FloatArray
from models.training.damage_crops import crops_of, on_grid
from models.training.locator_targets import MAX_DISCS, TARGET, target_row
from models.training.ring_bands import bands_of

CANVAS_PX = 320
PHOTO_PX = (800, 2300)
"""Longer side of a rendered photograph, from and to, even in the logarithm."""
FORMATS = ("cd", "dvd", "bd")
NONE_SHARE = 0.15
CROPS = {"data": 8, "label": 4}
"""Pieces of a side, each painted on anew."""


def photograph(
    seed: int, number: int, device: str, *, empty: float = NONE_SHARE, longer_px: tuple[int, int] = PHOTO_PX
) -> tuple[NDArray[np.uint8], Any, list[Ellipse]]:
    """Photo `number` of a seed: bgr, its truth, and the outlines of round things that are no discs."""
    from models.training.render.picture import render
    from models.training.render.ranges import DEFAULT, Ranges
    from models.training.render.scene import sample_scene

    rng = np.random.default_rng([seed, number])
    none = bool(rng.random() < empty)
    long = int(np.exp(rng.uniform(*np.log(longer_px)))) if not none else longer_px[0]
    short = int(long * float(rng.choice([3 / 4, 3 / 4, 9 / 16, 1.0, 2 / 3])))
    width, height = (long, short) if rng.random() < 0.6 else (short, long)
    scene = sample_scene(
        rng, Ranges.load(DEFAULT), width_px=width, height_px=height, none=none, seed=seed * 1_000_000 + number
    )
    bgr, truth = render(scene, device)
    return bgr, truth, [_outline(thing, scene.camera, bgr.shape[1] / width) for thing in scene.things]


def _outline(thing: Any, camera: Any, scale: float) -> Ellipse:
    """The ellipse of a round thing in the finished photograph."""
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    circle = (
        thing.centre_mm
        + np.array([0.0, 0.0, 2.0])
        + thing.radius_mm * np.stack([np.cos(turn), np.sin(turn), 0 * turn], 1)
    )
    points = (camera.project(circle) + 0.5) * scale - 0.5
    return ellipse_through(points)


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
    bgr: NDArray[np.uint8],
    discs: list[dict[str, Any]],
    things: list[Ellipse],
    rng: np.random.Generator,
    *,
    both_sides: bool = True,
) -> list[tuple[NDArray[np.uint8], list[int], FloatArray]]:
    """Polar views, each disc nearly as posed, and poses that are no disc's; with what lies towards the camera.

    Labels: disc 1 or 0; 120 mm; data side; recordable; format 0..2; -1 where nothing is asked.

    Args:
        both_sides: whether photographs of this code show labels as well. Where not, no side is asked for: its look
            would tell it.
    """
    views = []

    def add(rim: Ellipse, unit: FloatArray, labels: list[int]) -> None:
        near, to_near = close_up(bgr, rim)
        near_to_unit = unit @ np.linalg.inv(to_near)
        views.append((polar_view(near, near_to_unit), labels, towards_camera(near_to_unit)))

    nothing = [0, -1, -1, -1, -1]
    for disc in discs:
        if disc["visible_fraction"] < 0.45 or disc["outer_ellipse_px"]["axis_major"] < 60:
            continue
        rim = Ellipse(**disc["outer_ellipse_px"])
        unit = np.diag([2 / disc["diameter_mm"]] * 2 + [1.0]) @ without_turn(np.array(disc["homography_px_to_mm"]))
        data = disc["side"] == "data"
        labels = [
            1,
            int(disc["diameter_mm"] == 120),
            int(data) if both_sides else -1,
            int(disc["recording"] == "recordable") if data else -1,
            FORMATS.index(disc["format"]) if data else -1,
        ]
        add(rim, _nudged(unit, rng, 0.004, 0.003), labels)
        # before the rings are placed the same net tells 120 mm from 80 mm, from the locator's rough pose
        add(rim, _nudged(unit, rng, 0.015, 0.02), [-1, labels[1], labels[2], -1, -1])
        if rng.random() < 0.35:
            add(rim, _misplaced(unit, rng), nothing)
    for thing in things:
        if thing.axis_minor > 0.4 * thing.axis_major:
            add(thing, _nudged(to_unit_circle(thing), rng, 0.01, 0.015), nothing)
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
            add(rim, to_unit_circle(rim), nothing)
    return views


def _nudged(unit: FloatArray, rng: np.random.Generator, shift: float, scale: float) -> FloatArray:
    nudge = np.eye(3)
    nudge[:2, 2] = rng.normal(0, shift, 2)
    nudge[[0, 1], [0, 1]] = 1.0 + rng.normal(0, scale, 2)
    return np.asarray(nudge @ unit)


def _misplaced(unit: FloatArray, rng: np.random.Generator) -> FloatArray:
    """A pose that is wrong by far: off centre, or some inner or outer ring taken for the rim."""
    wrong = np.eye(3)
    if rng.random() < 0.5:
        turn, far = rng.uniform(0, 2 * np.pi), rng.uniform(0.12, 0.8)
        wrong[:2, 2] = far * np.cos(turn), far * np.sin(turn)
        wrong[[0, 1], [0, 1]] = rng.uniform(0.8, 1.25)
    else:
        wrong[[0, 1], [0, 1]] = rng.choice([rng.uniform(0.5, 0.88), rng.uniform(1.12, 3.5)])
    return np.asarray(wrong @ unit)


def by_other_code(truth: Path) -> tuple[NDArray[np.uint8], list[dict[str, Any]], list[NDArray[np.uint8]]]:
    """The photograph of which this is the truth: bgr, its discs and their label images."""
    record = json.loads(truth.read_text(encoding="utf-8"))
    bgr = cv2.imread(str(truth.with_name(record["file"])))
    if bgr is None:
        raise OSError(f"{truth}: its photograph {record['file']} cannot be read")
    labels = []
    for number in range(len(record["discs"])):
        path = truth.with_name(f"{truth.stem}_disc{number}.png")
        picture = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
        if picture is None:
            raise OSError(f"{path} cannot be read")
        labels.append(on_grid(np.asarray(picture, np.uint8), record["discs"][number]["diameter_mm"]))
    return np.asarray(bgr, np.uint8), record["discs"], labels


def _rows(job: Job, place: int, device: str) -> dict[str, list[tuple[Any, ...]]]:
    """Everything that one photograph of a shard gives, by net."""
    nets, number = job.nets, job.first + place
    rng = np.random.default_rng([job.seed, number, 1])
    rows: dict[str, list[tuple[Any, ...]]] = defaultdict(list)
    things: list[Ellipse]
    edges_seen: tuple[NDArray[np.bool_], ...]
    if job.truths:
        bgr, discs, every_label = by_other_code(job.truths[place])
        things, edges_seen = [], ()
    else:
        empty = NONE_SHARE if {"locator", "face"} & set(nets) else 0.0
        bgr, truth, things = photograph(job.seed, number, device, empty=empty, longer_px=job.longer_px)
        discs, every_label, edges_seen = truth.record["discs"], list(truth.labels), truth.edges_seen
    if "locator" in nets:
        canvas, scale = canvas_of(bgr)
        rows["locator"].append((canvas, targets_of(discs, scale)))
    if "face" in nets:
        rows["face"] += [
            (view, np.array(label, np.int8), eye.astype(np.float32))
            for view, label, eye in views_of(bgr, discs, things, rng, both_sides=job.both_sides)
        ]
    if "rings" in nets:
        for disc, edges in zip(discs, edges_seen, strict=True):
            if disc["rim_seen_fraction"] >= 0.4 and disc["outer_ellipse_px"]["axis_major"] >= 70:
                rows["rings"] += [
                    (band, np.int8(which), at.astype(np.float32)) for band, which, at in bands_of(bgr, disc, edges, rng)
                ]
    if "damage" in nets:
        for disc, labels in zip(discs, every_label, strict=True):
            rows["damage"] += crops_of(bgr, disc, labels, job.cuts * CROPS[disc["side"]], rng)
    return rows


NAMES = {
    "locator": ("canvas", "target"),
    "face": ("view", "label", "eye"),
    "rings": ("band", "which", "place"),
    "damage": ("crop", "truth", "corner", "data_side", "blur"),
}
"""The arrays of each net's file; each also has "owner", the number of the photograph in its shard."""


@dataclass(frozen=True)
class Job:
    """One shard to make; of photographs by other code these are the truths."""

    seed: int
    first: int
    count: int
    devices: tuple[str, ...]
    nets: tuple[str, ...]
    longer_px: tuple[int, int]
    out: Path
    truths: tuple[Path, ...]
    both_sides: bool
    cuts: int


def _shard(job: Job) -> str:
    done = job.out / f"{job.seed}_{job.first}.done"
    if done.exists():
        return done.stem
    cv2.setNumThreads(1)
    # one device a worker: each keeps the memory that it once took
    worker = multiprocessing.current_process().name.rpartition("-")[2]
    device = job.devices[int(worker) % len(job.devices) if worker.isdigit() else 0]
    rows: dict[str, list[tuple[Any, ...]]] = defaultdict(list)
    owners: dict[str, list[int]] = defaultdict(list)
    for place in range(job.count):
        try:
            found = _rows(job, place, device)
        except Exception as error:  # one bad scene must not lose a shard; it is told
            print(f"photo {job.seed}/{job.first + place}: {error!r}", file=sys.stderr)
            continue
        for name, several in found.items():
            rows[name] += several
            owners[name] += [place] * len(several)
    for name, several in rows.items():
        columns: dict[str, Any] = {key: np.stack([row[k] for row in several]) for k, key in enumerate(NAMES[name])}
        path = job.out / f"{job.seed}_{job.first}_{name}.npz"
        half = path.with_suffix(".part")  # a run that is stopped leaves no half a file that looks like a whole one
        with half.open("wb") as file:
            np.savez(file, owner=np.array(owners[name]), **columns)
        half.rename(path)
    done.touch()
    return done.stem


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, help="photographs, else 200, or all of a folder")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--shard", type=int, default=50)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--device", default="cpu", help="one or several, taken in turn: cuda:0,cuda:1")
    parser.add_argument(
        "--nets", nargs="+", choices=tuple(NAMES), default=list(NAMES), help="which are to learn from it"
    )
    parser.add_argument(
        "--longer-px", nargs=2, type=int, default=PHOTO_PX, help="longer side of the photographs, from, to"
    )
    parser.add_argument("--photographs", type=Path, help="folder of photographs by other code, with their truth")
    parser.add_argument("--both-sides", action="store_true", help="photographs of that folder show labels as well")
    parser.add_argument("--cuts", type=int, default=1, help="how often a disc is cut into pieces, for the damage net")
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()
    truths: list[Path] = []
    if given.photographs:
        truths = sorted(given.photographs.glob("*.json"))[: given.count]
        if not truths:
            parser.error(f"{given.photographs}: no photograph with its truth is there")
        if "rings" in given.nets:
            parser.error("photographs by other code do not tell where the edges of rim and hole are covered: not rings")
    count = len(truths) or given.count or 200
    given.out.mkdir(parents=True, exist_ok=True)
    jobs = [
        Job(
            given.seed,
            first,
            min(given.shard, count - first),
            tuple(given.device.split(",")),
            tuple(given.nets),
            tuple(given.longer_px),
            given.out,
            tuple(truths[first : first + given.shard]),
            not truths or given.both_sides,
            given.cuts,
        )
        for first in range(0, count, given.shard)
    ]
    start = time.perf_counter()
    with multiprocessing.get_context("spawn").Pool(given.workers) as pool:
        for done, name in enumerate(pool.imap_unordered(_shard, jobs), 1):
            print(f"{name}: {done} of {len(jobs)} shards, {time.perf_counter() - start:.0f} s", file=sys.stderr)


if __name__ == "__main__":
    main()
