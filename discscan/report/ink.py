"""Drawing on a picture: strokes with a dark halo, hatching, lettering, boxes. Lengths in pixels of the picture."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from discscan.records import Action, ByteImage, FloatArray
from discscan.report.styles import ICONS, INK, PAPER, Polygon, Rgb, Stroke

_SHIFT = 4
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Box:
    x: float
    y: float
    width: float
    height: float

    @property
    def middle(self) -> tuple[float, float]:
        return self.x + self.width / 2, self.y + self.height / 2

    def grown(self, by: float) -> Box:
        return Box(self.x - by, self.y - by, self.width + 2 * by, self.height + 2 * by)

    def overlap(self, other: Box) -> float:
        """The share of this box, 0..1, that the other one covers."""
        width = min(self.x + self.width, other.x + other.width) - max(self.x, other.x)
        height = min(self.y + self.height, other.y + other.height) - max(self.y, other.y)
        return max(0.0, width) * max(0.0, height) / (self.width * self.height)

    def within(self, width: float, height: float, *, margin: float = 0.0) -> Box:
        """The same box, moved as little as needed to lie inside a picture."""
        x = max(margin, min(self.x, width - margin - self.width))
        y = max(margin, min(self.y, height - margin - self.height))
        return Box(x, y, self.width, self.height)


def _bgr(colour: Rgb) -> tuple[float, float, float]:
    return float(colour[2]), float(colour[1]), float(colour[0])


def _fixed(points: FloatArray) -> NDArray[np.int32]:
    return np.round(points * (1 << _SHIFT)).astype(np.int32)


# -- lines ------------------------------------------------------------------------------------------------------------


def line(bgr: ByteImage, points: FloatArray, colour: Rgb, width: float, *, closed: bool = False) -> None:
    """An anti-aliased polyline through float64 points (n, 2)."""
    cv2.polylines(bgr, [_fixed(points)], closed, _bgr(colour), max(1, round(width)), cv2.LINE_AA, _SHIFT)


def haloed(bgr: ByteImage, points: FloatArray, colour: Rgb, width: float, *, closed: bool = False) -> None:
    """A line that stands out on light and on dark."""
    line(bgr, points, INK, width + max(2, width), closed=closed)
    line(bgr, points, colour, width, closed=closed)


def fill(bgr: ByteImage, polygons: list[FloatArray], colour: Rgb) -> None:
    """Polygons by the even-odd rule."""
    cv2.fillPoly(bgr, [_fixed(polygon) for polygon in polygons], _bgr(colour), cv2.LINE_AA, _SHIFT)


def stroke(bgr: ByteImage, points: FloatArray, look: Stroke, width: float, *, closed: bool) -> None:
    """A defect's outline in the look of its kind."""
    if look.ring:
        radius = max(3.5 * width, float(np.ptp(points, axis=0).max(initial=0.0)) / 2 + 2 * width)
        haloed(bgr, _circle(points.mean(axis=0), radius), look.colour, width, closed=True)
        return
    if len(points) == 1:
        points = np.vstack([points, points[0] + np.array([0.1, 0.0])])
    if look.filled and closed:
        inside = np.zeros(bgr.shape[:2], np.uint8)
        cv2.fillPoly(inside, [_fixed(points)], 255, cv2.LINE_8, _SHIFT)
        hatch(bgr, inside > 0, "dotted", max(1.0, 0.4 * width), light=look.colour)
    pieces = _dashes(points, look.dashes, width, closed=closed) if look.dashes else [points]
    whole = closed and not look.dashes
    halo = width + max(2.0, width)
    breadth = 2.2 * width if look.double else width
    for piece in pieces:
        line(bgr, piece, INK, halo + breadth - width, closed=whole)
    bars = _bars(points, 3.2 * width, every=5.5 * width) if look.stitched else []
    for bar in bars:
        line(bgr, bar, INK, halo)
    for piece in pieces + bars:
        line(bgr, piece, look.colour, breadth, closed=whole)
    if look.double:
        line(bgr, points, INK, max(1.0, 0.8 * width), closed=whole)


def _circle(centre: FloatArray, radius: float) -> FloatArray:
    angle = np.linspace(0, 2 * np.pi, 32, endpoint=False)
    return np.asarray(centre + radius * np.column_stack([np.cos(angle), np.sin(angle)]))


def _along(points: FloatArray, *, closed: bool) -> tuple[FloatArray, FloatArray]:
    """The vertices, closed if so wished, and how far along the line each lies."""
    if closed:
        points = np.vstack([points, points[:1]])
    return points, np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def _at(points: FloatArray, along: FloatArray, places: FloatArray) -> FloatArray:
    return np.column_stack([np.interp(places, along, points[:, k]) for k in (0, 1)])


def _dashes(points: FloatArray, dashes: tuple[float, ...], width: float, *, closed: bool) -> list[FloatArray]:
    points, along = _along(points, closed=closed)
    pieces: list[FloatArray] = []
    start, turn = 0.0, 0
    while start < along[-1] or not pieces:
        end = start + dashes[turn % len(dashes)] * max(width, 1.5)
        if turn % 2 == 0:
            inner = points[(along > start) & (along < end)]
            ends = _at(points, along, np.array([start, end]))
            pieces.append(np.vstack([ends[:1], inner, ends[1:]]))
        start, turn = end, turn + 1
    return pieces


def _bars(points: FloatArray, reach: float, *, every: float) -> list[FloatArray]:
    points, along = _along(points, closed=False)
    places = np.arange(every / 2, max(along[-1], every / 2 + 0.1), every)
    at, step = _at(points, along, places), 0.75 * every
    way = _at(points, along, places + step) - _at(points, along, places - step)
    normal = np.column_stack([-way[:, 1], way[:, 0]]) / np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    return [np.vstack([p - reach / 2 * n, p + reach / 2 * n]) for p, n in zip(at, normal, strict=True)]


# -- areas ------------------------------------------------------------------------------------------------------------


def hatch(bgr: ByteImage, mask: Mask, pattern: str, unit: float, *, light: Rgb = PAPER) -> None:
    """Draw a pattern of light and dark over the mask. Patterns: rising, crossed, dotted, level, upright."""
    y, x = np.nonzero(mask)
    if not len(x):
        return
    ways = {"rising": [(1, 1)], "crossed": [(1, 1), (1, -1)], "level": [(0, 1)], "upright": [(1, 0)], "dotted": []}
    period = 9 * unit
    if pattern == "dotted":
        away = np.hypot((x + (y // period % 2) * period / 2) % period - period / 2, y % period - period / 2)
        shares = [(away, 1.6 * unit)]
    else:
        shares = []
        for across in ways[pattern]:
            steps = (x * across[0] + y * across[1]) / np.hypot(*across)
            shares.append((np.abs(steps % period - period / 2), 1.1 * unit))
    pixels = bgr[y, x].astype(np.float32)
    for colour, extra in ((INK, 1.3 * unit), (light, 0.0)):
        for away, half in shares:
            cover = np.clip(half + extra - away + 0.5, 0, 1)[:, None] * 0.85
            pixels += (np.array(_bgr(colour), np.float32) - pixels) * cover
    bgr[y, x] = np.clip(pixels, 0, 255).astype(np.uint8)


def rounded(
    bgr: ByteImage, box: Box, colour: Rgb, *, radius: float, edge: Rgb | None = None, edge_width: float = 2
) -> None:
    """A filled box with round corners, and an edge about it."""
    radius = min(radius, box.width / 2, box.height / 2)
    inner = box.grown(-radius)
    corners = [(inner.x, inner.y), (inner.x + inner.width, inner.y),
               (inner.x + inner.width, inner.y + inner.height), (inner.x, inner.y + inner.height)]  # fmt: skip
    border = []
    for k, corner in enumerate(corners):
        angle = np.radians(180 + 90 * k + np.linspace(0, 90, 10))
        border.append(np.array(corner) + radius * np.column_stack([np.cos(angle), np.sin(angle)]))
    points = np.vstack(border)
    fill(bgr, [points], colour)
    if edge is not None:
        line(bgr, points, edge, edge_width, closed=True)


def icon(bgr: ByteImage, action: Action, box: Box, colour: Rgb) -> None:
    """The verdict's shape, filled into the box."""
    fill(bgr, [_placed(polygon, box) for polygon in ICONS[action]], colour)


def _placed(polygon: Polygon, box: Box) -> FloatArray:
    return np.asarray(np.array(polygon) / 24 * (box.width, box.height) + (box.x, box.y))


# -- lettering --------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=32)
def _font(size: int) -> Any:
    return ImageFont.load_default(size=size)


@lru_cache(maxsize=512)
def _letters(text: str, size: int, bold: bool) -> FloatArray:
    """Cover 0..1 of the text's box: as wide as the text, from the highest letter's top to the lowest one's bottom."""
    font, weight = _font(size), max(1, round(size / 40)) if bold else 0
    ascent, descent = font.getmetrics()
    pieces = list(text) if bold else [text]  # emboldened letters stand a little apart, so one by one
    starts = np.cumsum([weight] + [font.getlength(piece) + weight for piece in pieces])
    sheet = Image.new("L", (max(1, int(np.ceil(starts[-1]))), ascent + descent + 2 * weight), 0)
    pen = ImageDraw.Draw(sheet)
    for piece, x in zip(pieces, starts, strict=False):
        pen.text((float(x), weight), piece, fill=255, font=font, stroke_width=weight)
    return np.asarray(sheet, np.float64) / 255


def text_size(text: str, size: float, *, bold: bool = False) -> tuple[int, int]:
    """Width and height of the text's box."""
    height, width = _letters(text, max(6, round(size)), bold).shape
    return width, height


def text(bgr: ByteImage, at: tuple[float, float], words: str, size: float, colour: Rgb, *, bold: bool = False) -> None:
    """Write from the box's left upper corner. Parts beyond the picture are cut; place with `Box.within`."""
    cover = _letters(words, max(6, round(size)), bold)
    x, y = round(at[0]), round(at[1])
    left, top = max(0, -x), max(0, -y)
    cover = cover[top : max(top, bgr.shape[0] - y), left : max(left, bgr.shape[1] - x)]
    place = bgr[y + top : y + top + cover.shape[0], x + left : x + left + cover.shape[1]]
    place[:] = np.round(place + (np.array(_bgr(colour)) - place) * cover[..., None]).astype(np.uint8)


def centred_text(bgr: ByteImage, box: Box, words: str, size: float, colour: Rgb, *, bold: bool = False) -> None:
    """Write in the middle of the box; digits and capitals are centred by eye, not by the font's line."""
    width, height = text_size(words, size, bold=bold)
    x, y = box.middle
    text(bgr, (x - width / 2, y - height / 2 - 0.03 * size), words, size, colour, bold=bold)
