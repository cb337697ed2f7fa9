"""What the disc lies on, and what lies about it: a square of albedo (n, n, 3), painted in mm."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.chance import Rng, blob_mm, cloud, colour, log_uniform, ramp, wander
from bench.other_light.optics import Array

from .brush import fill
from .panorama import sampled

MOST_CELLS = 1500


@dataclass
class Top:
    """A square about the disc's centre."""

    half_mm: float
    albedo: Array
    gloss: float = 0.0

    @property
    def cells(self) -> int:
        return len(self.albedo)

    @property
    def per_mm(self) -> float:
        return self.cells / (2 * self.half_mm)

    def cell(self, mm: Array) -> Array:
        return np.asarray((mm + self.half_mm) * self.per_mm - 0.5)

    def mm(self, rng: Rng) -> tuple[Array, Array]:
        """Coordinates turned at random."""
        axis = ((np.arange(self.cells) + 0.5) / self.per_mm - self.half_mm).astype(np.float32)
        turn = rng.uniform(0, 2 * np.pi)
        x, y = axis[None, :], axis[:, None]
        return np.asarray(x * np.cos(turn) + y * np.sin(turn)), np.asarray(y * np.cos(turn) - x * np.sin(turn))

    def noise(self, rng: Rng, cell_mm: float, octaves: int = 3) -> Array:
        return cloud(rng, self.cells, self.cells, max(1.0, cell_mm * self.per_mm), octaves)

    def fill(self, outline_mm: Array, paint: Array, shadow_mm: float = 0.0, lean: float = 0.0) -> None:
        """Lays a shape down; what is thick throws a soft shadow."""
        fill(self.albedo, self.cell(outline_mm), paint, shadow_mm * self.per_mm, lean)


def _mixed(one: Array, other: Array, share: Array) -> Array:
    return np.asarray(one + share[..., None] * (other - one), np.float32)


def _mirrored(page: Array, columns: Array, rows: Array) -> Array:
    """A square picture that goes on beyond its edges as in a mirror, at these places."""
    most = len(page) - 1
    x, y = (np.abs(part % (2 * most) - most) for part in (columns, rows))
    return sampled(page, x, y)


def wood(rng: Rng, top: Top) -> None:
    """Boards, each with rings of its own, drawn out along the grain."""
    x, y = top.mm(rng)
    wide = rng.uniform(60, 170) if rng.random() < 0.65 else 1e4
    board = np.floor(y / wide).astype(int)
    shift = rng.uniform(0, 900, 400)[board % 400]
    page = cloud(rng, 512, 512, rng.uniform(40, 110), 5)
    along, across = (x + shift) * rng.uniform(0.25, 0.6), (y + 3 * shift) * rng.uniform(2, 4)
    rings = _mirrored(page, along, across)
    bands = 0.5 + 0.5 * np.sin(rng.uniform(2, 7) * rings)
    pores = _mirrored(cloud(rng, 512, 512, 3, 2), 1.2 * (x + shift), 7 * y)
    dark = colour(rng, 0.06, 0.4, 0.05) * np.array([1.15, 0.8, 0.52], np.float32)
    shade = rng.uniform(0.8, 1.2, 400).astype(np.float32)[board % 400] * (1 + 0.07 * pores)
    if wide < 1e3:
        shade = shade * (1 - 0.6 * ramp(0.5, 0.0, y % wide))
    top.albedo = _mixed(dark, dark * rng.uniform(1.15, 1.7), bands) * shade[..., None].astype(np.float32)
    top.gloss = rng.choice([0, 0.3, 1.0])


def cloth(rng: Rng, top: Top) -> None:
    x, y = top.mm(rng)
    pitch = max(log_uniform(rng, 0.5, 2.5), 2.5 / top.per_mm)
    weave = np.sin(2 * np.pi * x / pitch) * np.sin(2 * np.pi * y / pitch)
    weave = weave * (1 + 0.4 * top.noise(rng, 2 * pitch, 1))
    folds = top.noise(rng, rng.uniform(60, 200), 2) + 0.35 * top.noise(rng, 20, 3)
    paint = colour(rng, 0.03, 0.7, 0.4)
    top.albedo = (paint * (1 + 0.16 * weave + 0.10 * folds)[..., None].clip(0.2)).astype(np.float32)


def plain(rng: Rng, top: Top) -> None:
    paint = np.full(3, rng.uniform(0.55, 0.85)) if rng.random() < 0.4 else colour(rng, 0.03, 0.8, 0.4)
    uneven = 1 + 0.015 * top.noise(rng, 0.8, 2) + 0.03 * top.noise(rng, 90, 2)
    top.albedo = (paint * uneven[..., None]).astype(np.float32)
    top.gloss = rng.choice([0, 0.4, 1.0])


def stone(rng: Rng, top: Top) -> None:
    base, other = colour(rng, 0.05, 0.6, 0.1), colour(rng, 0.05, 0.7, 0.15)
    speck = ramp(0.2, 1.0, top.noise(rng, rng.uniform(1, 5), 3))
    vein = ramp(0.12, 0.0, np.abs(top.noise(rng, 70, 5))) * rng.uniform(0, 0.8)
    top.albedo = _mixed(_mixed(base, other, speck), other * 1.3, vein)
    top.gloss = rng.choice([0.3, 1.0])


def checks(rng: Rng, top: Top) -> None:
    x, y = top.mm(rng)
    side, share = log_uniform(rng, 5, 45), rng.uniform(0.3, 0.7)
    bands = [ramp(-0.03, 0.03, np.abs((part / side) % 1 - 0.5) - share / 2) for part in (x, y)]
    pale, paint = colour(rng, 0.5, 0.8, 0.06), colour(rng, 0.04, 0.5, 0.7)
    woven = 1 + 0.08 * top.noise(rng, 0.7, 1)
    top.albedo = _mixed(pale, paint, 0.5 * (bands[0] + bands[1])) * woven[..., None].astype(np.float32)


def carpet(rng: Rng, top: Top) -> None:
    tuft = top.noise(rng, rng.uniform(1.5, 5), 3)
    paint = colour(rng, 0.04, 0.45, 0.4)
    patterned = ramp(0.0, 0.4, top.noise(rng, 40, 2)) * (rng.random() < 0.4)
    base = _mixed(paint, colour(rng, 0.04, 0.5, 0.5), np.broadcast_to(patterned, tuft.shape))
    top.albedo = base * (1 + 0.33 * tuft)[..., None].clip(0.25).astype(np.float32)


def _letters(rng: Rng, top: Top, page: Array, corner_mm: Array, wide: float, lines: int, high_mm: float) -> None:
    """A column of words without sense, on a page of ink."""
    scale = high_mm * top.per_mm / 21
    for k in range(lines):
        word = "".join(rng.choice(list("aeiounrstlmdbcgk      "), int(wide / (high_mm * 0.85))))
        at = np.round(top.cell(corner_mm + np.array([0, 1.9 * high_mm * (k + 1)]))).astype(int)
        cv2.putText(
            page, word, at.tolist(), cv2.FONT_HERSHEY_SIMPLEX, scale, 230, max(1, round(2 * scale)), cv2.LINE_AA
        )


def newspaper(rng: Rng, top: Top) -> None:
    """Columns with headlines and pictures."""
    top.albedo += colour(rng, 0.5, 0.75, 0.05)
    page = np.zeros((top.cells, top.cells), np.uint8)
    wide, size = rng.uniform(45, 90), rng.uniform(1.6, 3.0)
    for left in np.arange(-top.half_mm - rng.uniform(0, wide), top.half_mm, wide + 6):
        upper = -top.half_mm
        while upper < top.half_mm:
            if rng.random() < 0.3:
                _letters(rng, top, page, np.array([left, upper]), wide, 2, size * 3)
                upper += 14 * size
            if rng.random() < 0.35:
                high = rng.uniform(30, 70)
                box = np.array([[0, 0], [wide, 0], [wide, high], [0, high]]) + np.array([left, upper])
                tint = colour(rng, 0.8, 1.2, 0.3)
                top.fill(box, rng.uniform(0.1, 0.5) * tint)
                for _ in range(int(rng.integers(8, 25))):
                    spot = rng.uniform([left, upper], [left + wide, upper + high])
                    patch = blob_mm(rng, spot, rng.uniform(1.5, 13), 0.4).clip(box[0], box[2])
                    top.fill(patch, rng.uniform(0.04, 0.65) * tint)
                upper += high + 4
            count = int(rng.integers(8, 30))
            _letters(rng, top, page, np.array([left, upper]), wide, count, size)
            upper += 1.9 * size * count + 6
    ink = colour(rng, 0.02, 0.1, 0.2)
    top.albedo += page.astype(np.float32)[..., None] / 255 * (ink - top.albedo)
    spin = cv2.getRotationMatrix2D((top.cells / 2, top.cells / 2), rng.uniform(0, 360), 1.05)
    turned = cv2.warpAffine(top.albedo, spin, top.albedo.shape[1::-1], borderMode=cv2.BORDER_REFLECT)
    top.albedo = np.asarray(turned * (1 + 0.04 * top.noise(rng, 60, 3))[..., None], np.float32)


MATERIALS: dict[str, tuple[Callable[[Rng, Top], None], float]] = {
    "wood": (wood, 0.28),
    "cloth": (cloth, 0.17),
    "plain": (plain, 0.24),
    "stone": (stone, 0.09),
    "checks": (checks, 0.06),
    "carpet": (carpet, 0.08),
    "print": (newspaper, 0.08),
}


def _box_mm(rng: Rng, at: Array, wide: float, high: float) -> Array:
    turn = rng.uniform(0, 2 * np.pi)
    c, s = np.cos(turn), np.sin(turn)
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array([wide, high]) / 2
    return np.asarray(corners @ np.array([[c, s], [-s, c]]) + at)


def _cover(rng: Rng, top: Top, at: Array, corners: Array) -> None:
    """What is printed on a case or a book: a picture of blurred patches, stripes for lines of text."""
    along, down = (corners[1] - corners[0]) / 2, (corners[3] - corners[0]) / 2
    frame = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])

    def laid(middle: Array, half: Array, paint: Array) -> None:
        part = (middle + frame * half).clip(-0.95, 0.95)
        top.fill(at + part[:, :1] * along + part[:, 1:] * down, paint)

    laid(np.zeros(2), np.array([0.93, 0.95]), colour(rng, 0.03, 0.7, 0.5))
    for _ in range(int(rng.integers(4, 14))):
        blot = blob_mm(rng, rng.uniform(-0.7, 0.7, 2), rng.uniform(0.08, 0.4), 0.3).clip(-0.93, 0.93)
        top.fill(at + blot[:, :1] * along + blot[:, 1:] * down, colour(rng, 0.03, 0.7, 0.4))
    ink = colour(rng, 0.02, 0.9, 0.3)
    for k in range(int(rng.integers(1, 8))):
        laid(np.array([rng.uniform(-0.1, 0.1), -0.8 + 0.09 * k]), np.array([rng.uniform(0.3, 0.8), 0.025]), ink)


def clutter(rng: Rng, top: Top, rim_mm: float, count: int) -> None:
    """Cases, books, sheets, coins, mugs, pens and cables; they keep off the disc, sheets lie under it."""
    lean = rng.uniform(0, 2 * np.pi)
    for _ in range(count):
        turn, kind = rng.uniform(0, 2 * np.pi), rng.random()
        way = np.array([np.cos(turn), np.sin(turn)])
        paint = colour(rng, 0.03, 0.8, 0.6)
        if kind < 0.35:  # a case or a book with a picture on it
            wide, high = rng.choice([[125, 142], [135, 190], [110, 170], [150, 220]]) * rng.uniform(0.95, 1.05)
            at = way * (rim_mm + np.hypot(wide, high) / 2 + rng.uniform(2, 50))
            box = _box_mm(rng, at, wide, high)
            top.fill(box, paint, rng.uniform(3, 14), lean)
            _cover(rng, top, at, box - at)
        elif kind < 0.55:
            sheet = _box_mm(rng, way * rng.uniform(20, 160), 210, 297)
            top.fill(sheet, np.full(3, rng.uniform(0.65, 0.85)), 0.6, lean)
        elif kind < 0.68:
            size = rng.uniform(8, 13)
            at = way * (rim_mm + size + rng.uniform(2, 70))
            metal = np.array(rng.choice([[0.5, 0.32, 0.2], [0.55, 0.5, 0.35], [0.5, 0.5, 0.5]]))
            top.fill(blob_mm(rng, at, size, 0.0), metal, 1.5, lean)
            top.fill(blob_mm(rng, at, 0.8 * size, 0.0), metal * 0.8)
        elif kind < 0.78:
            size = rng.uniform(36, 48)
            at = way * (rim_mm + size + rng.uniform(8, 60))
            ring = np.stack([np.cos(np.linspace(0, 6.28, 60)), np.sin(np.linspace(0, 6.28, 60))], 1)
            for share, shade in ((1.0, 1.0), (0.92, 0.35), (0.85, 0.12)):
                top.fill(at + share * size * ring, paint * shade, 18 * (share == 1.0), lean)
        elif kind < 0.9:
            at = way * (rim_mm + rng.uniform(10, 80))
            pen = _box_mm(rng, at + way * 75, 142, rng.uniform(6, 11))
            if np.hypot(*(pen.T)).min() > rim_mm + 1:
                top.fill(pen, paint, 4, lean)
        else:
            along = np.linspace(-1, 1, 60)
            aside = np.array([-way[1], way[0]])
            bow = rim_mm + rng.uniform(15, 60) + 22 * np.abs(wander(rng, 60, 7))
            line = along[:, None] * aside * 260 + bow[:, None] * way
            wide = rng.uniform(1.5, 3) * way
            top.fill(np.concatenate([line - wide, (line + wide)[::-1]]), paint, 3, lean)


def table(rng: Rng, half_mm: float, cells: int, rim_mm: float) -> tuple[str, Top]:
    """One at random: its name, and the square."""
    top = Top(half_mm, np.zeros((min(cells, MOST_CELLS),) * 2 + (3,), np.float32))
    name = str(rng.choice(list(MATERIALS), p=[share for _, share in MATERIALS.values()]))
    MATERIALS[name][0](rng, top)
    if rng.random() < 0.45:
        clutter(rng, top, rim_mm, int(rng.integers(1, 7)))
    top.albedo = top.albedo.clip(0.01, 0.92)
    return name, top
