"""What both pictures draw: unseen parts, defects, and numbers that keep out of each other's way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from discscan.records import LINE_KINDS, ByteImage, Defect, FloatArray, Sight
from discscan.report import ink
from discscan.report.ink import Box
from discscan.report.styles import HATCHES, INK, NUMBERED, PAPER, STROKES, Rgb


class Crowd:
    """Where the picture is taken already, so that labels find free places."""

    def __init__(self, height: int, width: int) -> None:
        self._cost = np.zeros((height, width), np.float32)
        self._sums: FloatArray | None = None

    def take(self, box: Box, *, cost: float) -> None:
        """Make a box dear."""
        rows, columns = _slices(box, self._cost.shape)
        self._cost[rows, columns] += cost
        self._sums = None

    def take_lines(self, lines: Sequence[FloatArray], *, width: float, cost: float) -> None:
        """Make what lies under lines dear."""
        drawn = np.zeros(self._cost.shape, np.uint8)
        for points in lines:
            cv2.polylines(drawn, [np.round(points).astype(np.int32)], False, 1, max(1, round(width)))
        self._cost += cost * drawn
        self._sums = None

    def take_area(self, border: FloatArray, *, cost: float) -> None:
        """Make the inside of a border dear."""
        drawn = np.zeros(self._cost.shape, np.uint8)
        cv2.fillPoly(drawn, [np.round(border).astype(np.int32)], 1)
        self._cost += cost * drawn
        self._sums = None

    def cost(self, box: Box) -> float:
        """Mean cost over the box."""
        if self._sums is None:
            self._sums = np.asarray(cv2.integral(self._cost, sdepth=cv2.CV_64F), np.float64)
        rows, columns = _slices(box, self._cost.shape)
        top, bottom, left, right = rows.start, rows.stop, columns.start, columns.stop
        sums = self._sums
        total = float(sums[bottom, right] - sums[top, right] - sums[bottom, left] + sums[top, left])
        return total / float(max(1, (bottom - top) * (right - left)))


@dataclass(frozen=True)
class DrawnDefect:
    """A defect and its outline in pixels of the picture."""

    defect: Defect
    points: FloatArray

    @property
    def is_line(self) -> bool:
        return self.defect.kind in LINE_KINDS

    @property
    def anchor(self) -> FloatArray:
        """The point that a number is tied to: the middle of a line, the centre of an area."""
        middle = self.points[len(self.points) // 2] if self.is_line else self.points.mean(axis=0)
        return np.asarray(middle, np.float64)


def draw_unseen(bgr: ByteImage, sight: ByteImage, unit: float) -> set[Sight]:
    """Hatch the unseen parts. Returns the sorts of them that were large enough to draw.

    Args:
        sight: uint8, as large as the picture, of `Sight`.
        unit: about a thousandth of the picture's width, px.
    """
    drawn = set()
    kernel = np.ones((max(3, round(6 * unit)),) * 2, np.uint8)
    for kind, pattern in HATCHES.items():
        mask = cv2.morphologyEx((sight == kind).astype(np.uint8), cv2.MORPH_OPEN, kernel)
        if not mask.any():
            continue
        ink.hatch(bgr, mask > 0, pattern, unit)
        borders, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        cv2.drawContours(bgr, borders, -1, INK[::-1], max(2, round(2.6 * unit)), cv2.LINE_AA)
        cv2.drawContours(bgr, borders, -1, PAPER[::-1], max(1, round(1.3 * unit)), cv2.LINE_AA)
        drawn.add(kind)
    return drawn


def draw_defects(bgr: ByteImage, drawn: Sequence[DrawnDefect], unit: float) -> None:
    """Draw defects in the order of their importance: the numbered ones strong and on top, the others thin."""
    for place, one in reversed(list(enumerate(drawn))):
        width = max(2.0, 2.8 * unit) if place < NUMBERED else max(1.6, 1.4 * unit)
        ink.stroke(bgr, one.points, STROKES[one.defect.kind], width, closed=not one.is_line)


def draw_numbers(
    bgr: ByteImage, drawn: Sequence[DrawnDefect], crowd: Crowd, *, centre: FloatArray, letter_px: float
) -> None:
    """Number the most important defects from 1, each badge near its defect and tied to it by a thin line."""
    crowd.take_lines([one.points for one in drawn], width=0.3 * letter_px, cost=2.0)
    side = 1.5 * letter_px
    badges: list[tuple[str, FloatArray, Box, Rgb]] = []
    for number, one in enumerate(drawn[:NUMBERED], start=1):
        box = _free_place(one.anchor, centre, crowd, side=side, shape=bgr.shape)
        crowd.take(box.grown(0.2 * letter_px), cost=50.0)
        badges.append((str(number), one.anchor, box, STROKES[one.defect.kind].colour))
    unit = letter_px / 32
    for _, anchor, box, colour in badges:
        ink.haloed(bgr, np.vstack([anchor, box.middle]), colour, max(1, 1.6 * unit))
        ink.haloed(bgr, np.vstack([anchor, anchor + np.array([0.1, 0.0])]), colour, 7 * unit)
    for number_words, _, box, colour in badges:
        ink.rounded(bgr, box, INK, edge=colour, radius=side / 2, edge_width=max(1, 2.4 * unit))
        ink.centred_text(bgr, box, number_words, 0.95 * letter_px, PAPER, bold=True)


def _free_place(anchor: FloatArray, centre: FloatArray, crowd: Crowd, *, side: float, shape: tuple[int, ...]) -> Box:
    """The cheapest of some places around the anchor, rather near than far, rather outward than inward."""
    outward = np.arctan2(*(anchor - centre)[::-1])
    best: tuple[float, Box] | None = None
    for reach in (1.1, 1.6, 2.3, 3.2, 4.4):
        for turn in np.radians([0, 40, -40, 80, -80, 120, -120, 160, -160]):
            way = np.array([np.cos(outward + turn), np.sin(outward + turn)])
            middle = anchor + reach * side * way
            box = Box(float(middle[0] - side / 2), float(middle[1] - side / 2), side, side)
            inside = box.within(shape[1], shape[0], margin=2)
            moved = abs(inside.x - box.x) + abs(inside.y - box.y)
            cost = crowd.cost(inside) + 0.25 * reach + 0.1 * abs(float(turn)) + 10 * moved / side
            if best is None or cost < best[0]:
                best = cost, inside
    assert best is not None
    return best[1]


def _slices(box: Box, shape: tuple[int, ...]) -> tuple[slice, slice]:
    left, top = int(np.clip(box.x, 0, shape[1])), int(np.clip(box.y, 0, shape[0]))
    right = int(np.clip(box.x + box.width, left, shape[1]))
    bottom = int(np.clip(box.y + box.height, top, shape[0]))
    return slice(top, bottom), slice(left, right)
