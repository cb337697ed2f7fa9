"""What every renderer under `tests/bench` is asked: does its truth agree with its pictures?

A folder holds the photograph of a bare disc of 120 mm, and in with/ the same with one scratch.
"""

from __future__ import annotations

import ast
import json
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any, ClassVar

import cv2
import numpy as np
from bench.other_light.areas import Flat
from bench.other_light.view import ellipse_px
from bench.third_light.label import random_label
from numpy.typing import NDArray

from models.training.score import line_score, pair_discs, read_truths, through

SMALL_PX = (640.0, 641.0)
"""The long side of photographs that are drawn fast."""


def imported(room: Path) -> list[tuple[Path, str, set[str]]]:
    """All that the files of a folder import: the file, the module, and the names that it takes of it."""
    found = []
    for path in room.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom):
                found.append((path, node.module or "", {alias.name for alias in node.names}))
            elif isinstance(node, ast.Import):
                found += [(path, alias.name, set[str]()) for alias in node.names]
    return found


def grey(path: Path) -> NDArray[np.float64]:
    picture = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
    assert picture is not None
    return picture.astype(float)


def draw_with_and_without(folder: Path, draw: Callable[..., Path], plain: Any, scratch: Callable[..., Any]) -> Path:
    """Draws a bare disc, a mirror to its rim, into a folder, and into with/ the same with one wide scratch.

    Args:
        plain: any disc of the renderer's.
        scratch: makes the line that follows a path (60, 2) in mm.
    """
    bare = replace(plain, rim_mm=60.0, metal_mm=(20, 60), lines=[], specks=[], hairs=[], flat=Flat(60), sticker_mm=None)
    path = np.stack([np.linspace(-35, -20, 60), np.linspace(25, 38, 60)], 1)
    (folder / "with").mkdir()
    draw(folder, 1, 4, long_px=SMALL_PX, disc=bare)
    draw(folder / "with", 1, 4, long_px=SMALL_PX, disc=replace(bare, lines=[scratch(path)]))
    return folder


class TruthAndPictures:
    """What every renderer is asked. A test class of each names its `draw`; its module has a fixture `folder`."""

    draw: ClassVar[Callable[..., Path]]

    def test_the_true_rim_lies_on_the_strongest_edge_of_the_picture(self, folder: Path) -> None:
        """All around, to a pixel; and its outline is that of the homography."""
        (record,) = read_truths(folder)
        (disc,) = record["discs"]
        to_px, turn = np.linalg.inv(disc["homography_px_to_mm"]), np.linspace(0, 2 * np.pi, 400)
        radii_mm = np.arange(56, 64.1, 0.2)
        rays = np.stack([through(to_px, radius * np.stack([np.cos(turn), np.sin(turn)], 1)) for radius in radii_mm])
        shades = cv2.remap(grey(folder / record["file"]), *rays.astype(np.float32).transpose(2, 0, 1), cv2.INTER_LINEAR)
        steps = np.abs(np.diff(shades, axis=0)).mean(1)
        pixel_mm = 120 / disc["outer_ellipse_px"]["axis_major"]
        assert abs(radii_mm[steps.argmax()] + 0.1 - 60) < pixel_mm < 0.5
        outline = ellipse_px(to_px, 60)
        assert all(abs(outline[key] - value) < 1e-3 for key, value in disc["outer_ellipse_px"].items())

    def test_a_scratch_changes_the_picture_where_the_truth_has_it(self, folder: Path) -> None:
        """By five levels or more on its labels, and by ten times what changes elsewhere."""
        (record,) = read_truths(folder / "with")
        changed = np.abs(grey(folder / "with" / record["file"]) - grey(folder / record["file"]))
        labels = cv2.imread(str(folder / "with" / f"{Path(record['file']).stem}_disc0.png"), cv2.IMREAD_UNCHANGED)
        assert labels is not None and (labels == 1).any()
        middle = len(labels) / 2 - 0.5
        to_cells = np.array([[10, 0, middle], [0, 10, middle], [0, 0, 1]]) @ record["discs"][0]["homography_px_to_mm"]
        flat = cv2.warpPerspective(changed, to_cells, labels.shape[::-1])
        off_mm = cv2.distanceTransform((labels != 1).astype(np.uint8), cv2.DIST_L2, 5) / 10
        assert flat[labels == 1].mean() > 10 * flat[(off_mm > 5) & (labels != 255)].mean()
        assert flat[labels == 1].mean() > 5

    def test_the_truth_tells_the_scratch(self, folder: Path) -> None:
        (record,) = read_truths(folder / "with")
        (scratch,) = record["discs"][0]["defects"]
        assert 0 < scratch["contrast"] <= 1 and scratch["seen_fraction"] == 1

    def test_a_report_that_says_the_truth_scores_full_marks(self, folder: Path) -> None:
        """Of a scratch that is 19.85 mm long in the data area."""
        truths = read_truths(folder / "with")
        report = {"photos": [{"file": record["file"], "discs": record["discs"]} for record in truths]}
        marks = line_score(pair_discs(json.loads(json.dumps(report)), truths), ("scratch",), 0.3)
        assert marks["recall"] == 1 and marks["precision"] == 1 and abs(marks["true_mm"] - 19.85) < 0.2

    def test_a_photograph_depends_on_its_seed_and_number_alone_and_is_kept(self, tmp_path: Path) -> None:
        """The same to the byte whatever was drawn before it; and what is there is kept."""
        small = partial(self.draw, long_px=SMALL_PX)
        for name in ("a", "b"):
            (tmp_path / name).mkdir()
        small(tmp_path / "a", 2, 5)
        one, again = (small(tmp_path / name, 2, 6) for name in ("a", "b"))
        for ending in (".json", ".jpg"):
            assert one.with_suffix(ending).read_bytes() == again.with_suffix(ending).read_bytes()
        one.with_suffix(".jpg").unlink()
        assert self.draw(tmp_path / "a", 2, 6) == one and not one.with_suffix(".jpg").exists()


def assert_a_label_is_seen_where_it_is_printed(draw: Callable[..., Path], folder: Path, disc: Any) -> None:
    """White to the left and black to the right; told as the label side, and nothing befell it that is not told."""
    label = random_label(np.random.default_rng(6), disc.flat, disc.recording)
    ink = np.full_like(label.ink, 0.02)
    ink[:, : len(ink) // 2] = 0.8
    printed = replace(label, ink=ink, cover=np.ones_like(label.cover))
    truth = draw(folder, 9, 1, disc=replace(disc, label=printed))
    record = json.loads(truth.read_text(encoding="utf-8"))["discs"][0]
    assert record["side"] == "label"
    assert not [defect for defect in record["defects"] if defect["kind"] in ("scratch", "ring_arc", "crack")]
    to_px = np.linalg.inv(record["homography_px_to_mm"])
    ring = np.array([[30 * np.cos(turn), 30 * np.sin(turn)] for turn in np.arange(0.5, 6.2)])
    column, row = np.round(through(to_px, ring)).astype(int).T
    bright = grey(truth.with_suffix(".jpg"))[row, column]
    assert bright[ring[:, 0] < 0].min() > bright[ring[:, 0] > 0].max()


def assert_label_sides_take_the_place_of_others(draw: Callable[..., Path], folder: Path) -> None:
    """Half are asked for: some show the label, and the others are the same as when none is."""
    sides = Counter[str]()
    (folder / "half").mkdir()
    for number in range(4, 9):
        without = draw(folder, 9, number, long_px=SMALL_PX)
        half = draw(folder / "half", 9, number, long_px=SMALL_PX, label_sides=0.5)
        side = json.loads(half.read_text(encoding="utf-8"))["discs"][0]["side"]
        same = without.with_suffix(".jpg").read_bytes() == half.with_suffix(".jpg").read_bytes()
        assert same == (side == "data")
        sides[side] += 1
    assert min(sides["data"], sides["label"]) > 0
