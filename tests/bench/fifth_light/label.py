"""Label sides: invented artwork, and its damage."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.areas import Flat
from bench.other_light.chance import Rng, blob_mm, cloud, log_uniform, spot_mm
from bench.other_light.lines import length_mm
from bench.other_light.optics import Array

from .ground import printed
from .paint import shade
from .wear import curve, kept_on, width_mm

SYLLABLES = (
    "brul",
    "dof",
    "gwe",
    "ishk",
    "kazz",
    "lomp",
    "mirt",
    "nuv",
    "ozd",
    "plig",
    "ruk",
    "stoo",
    "twun",
    "vep",
    "zimf",
)


def word(rng: Rng) -> str:
    """Made up of syllables."""
    made = "".join(rng.choice(SYLLABLES, int(rng.integers(2, 4))))
    return made.upper() if rng.random() < 0.5 else made.capitalize()


def artwork(rng: Rng, side: int) -> Array:
    """Abstract shapes and made-up words, albedos (side, side, 3)."""
    base = shade(rng, log_uniform(rng, 0.04, 0.85), rng.choice([0.03, 0.5]))
    picture = np.zeros((side, side, 3), np.float32) + base
    x, y = np.meshgrid(np.linspace(-1, 1, side), np.linspace(-1, 1, side))
    style = rng.choice(["plain", "gradient", "shapes", "clouds", "rings"])
    if style == "gradient":
        share = (0.5 + 0.5 * (x * np.cos(turn := rng.uniform(0, 6)) + y * np.sin(turn))).clip(0, 1)[..., None]
        picture += share.astype(np.float32) * (shade(rng, log_uniform(rng, 0.05, 0.8), 0.6) - picture)
    elif style == "clouds":
        share = (0.5 + 0.4 * cloud(rng, side, side, side / 4, 4)).clip(0, 1)[..., None]
        picture += share * (shade(rng, log_uniform(rng, 0.05, 0.8), 0.6) - picture)
    elif style == "rings":
        for radius in np.sort(rng.uniform(0.25, 1, 4))[::-1]:
            picture[np.hypot(x, y) < radius] = shade(rng, log_uniform(rng, 0.04, 0.85), 0.5)
    elif style == "shapes":
        for _ in range(int(rng.integers(3, 12))):
            outline = blob_mm(rng, rng.uniform(0, side, 2), side * log_uniform(rng, 0.04, 0.4), 0.3)
            if rng.random() < 0.4:
                outline = outline[:: int(rng.integers(8, 16))]
            colour = shade(rng, log_uniform(rng, 0.03, 0.85), 0.7)
            cv2.fillPoly(picture, [(outline * 16).astype(np.int32)], colour.tolist(), cv2.LINE_AA, 4)
    for _ in range(int(rng.integers(1, 7))):
        size, thick = side / 1000 * log_uniform(rng, 0.5, 3.5), max(1, round(side / 1000 * rng.uniform(1, 5)))
        ink = shade(rng, 0.03 if picture.mean() > 0.25 else 0.8, rng.choice([0.05, 0.6]))
        at = (int(side * rng.uniform(0.05, 0.6)), int(side * rng.choice([0.2, 0.25, 0.75, 0.8, 0.85])))
        font = int(rng.choice([cv2.FONT_HERSHEY_SIMPLEX, cv2.FONT_HERSHEY_DUPLEX, cv2.FONT_HERSHEY_TRIPLEX]))
        letters = np.zeros((side, side), np.uint8)
        cv2.putText(letters, word(rng), at, font, size, 255, thick, cv2.LINE_AA)
        picture += letters[..., None] / np.float32(255) * (ink - picture)
    if rng.random() < 0.6:
        _small_print(rng, picture)
    if rng.random() < 0.25:
        for row in np.linspace(0.62, 0.9, 4):
            cv2.line(picture, (int(0.15 * side), int(row * side)), (int(0.85 * side), int(row * side)), (0.1,) * 3, 1)
    return picture


def _small_print(rng: Rng, picture: Array) -> None:
    """A line of tiny words along the rim, and a paragraph."""
    side = len(picture)
    ink = shade(rng, 0.05 if picture.mean() > 0.25 else 0.75, 0.05)
    strip = np.zeros((40, 2400), np.uint8)
    cv2.putText(
        strip, " ".join(word(rng) for _ in range(30)), (0, 28), cv2.FONT_HERSHEY_SIMPLEX, 0.9, 255, 2, cv2.LINE_AA
    )
    x, y = np.meshgrid(np.linspace(-1, 1, side, dtype=np.float32), np.linspace(-1, 1, side, dtype=np.float32))
    turn = (np.arctan2(y, x) + rng.uniform(0, 6)) % (2 * np.pi)
    rows = (rng.uniform(0.9, 0.93) - np.hypot(x, y)) / 0.03 * 40
    letters = cv2.remap(strip, (turn * 800).astype(np.float32), rows.astype(np.float32), cv2.INTER_LINEAR)
    picture += letters[..., None] / np.float32(255) * (ink - picture)
    left, top, wide = (int(share * side) for share in (rng.uniform(0.1, 0.3), rng.uniform(0.68, 0.78), 0.35))
    printed(rng, picture[top : top + side // 12, left : left + wide], 240 / side)


@dataclass(frozen=True)
class Wound:
    """Print that is gone: scratched or flaked off."""

    style: str
    outline_mm: Array
    width_mm: float | None
    """Of a scratch."""
    bright: float
    """What shows in its place: 0 dark below, 1 bare metal."""


@dataclass(frozen=True)
class Label:
    """A printed side."""

    print_: Array
    """Albedos (n, n, 3) over the flat square."""
    metal: Array
    """(n, n), share of bare metal that shines through."""
    gloss: float
    bare_mm: float
    """Print begins here."""
    wounds: list[Wound]


def random_label(rng: Rng, flat: Flat, condition: str) -> Label:
    """Of a disc in a condition: clean and dirty ones have whole prints."""
    side = 1600
    albedo = artwork(rng, side)
    metal = np.zeros((side, side), np.float32)
    if rng.random() < 0.3:  # print on bare silver
        grey = albedo.mean(-1)
        metal = (grey > np.quantile(grey, 0.5)).astype(np.float32) * rng.uniform(0.4, 0.9)
    bare = rng.choice([11.0, 18.5, 22.0], p=[0.3, 0.35, 0.35]) + rng.uniform(-0.5, 0.5)
    wounds: list[Wound] = []
    if condition not in ("clean", "dirty"):
        wounds += [_cut(rng, flat.rim_mm) for _ in range(int(log_uniform(rng, 1, 20 if condition == "heavy" else 7)))]
        wounds += [_flake(rng, flat.rim_mm) for _ in range(int(rng.poisson(1.2)))]
    wounds = [wound for wound in wounds if len(wound.outline_mm) > 5]
    return Label(albedo, metal, float(rng.choice([0.2, 0.6, 1.0])), float(bare), wounds)


def _cut(rng: Rng, rim_mm: float) -> Wound:
    """A scratch as its outline (n, 2), there and back."""
    wide, long = max(0.03, 1.8 * width_mm(rng)), log_uniform(rng, 1, 35)
    path = curve(rng, spot_mm(rng, rim_mm), rng.uniform(0, 6.3), long, rng.normal(0, 0.4), rng.normal(0, 0.6), 0.01)
    path = kept_on(path, rim_mm, 22)[:: max(1, int(long / 8))]
    if len(path) < 4 or length_mm(path) < 0.6:
        return Wound("cut", path[:0], wide, 0)
    way = np.gradient(path, axis=0)
    aside = np.stack([-way[:, 1], way[:, 0]], 1) / np.linalg.norm(way, axis=1, keepdims=True) * wide / 2
    aside *= np.minimum(1, 4 * np.minimum(np.arange(len(path)), np.arange(len(path))[::-1]) / len(path))[:, None] + 0.05
    return Wound("cut", np.concatenate([path + aside, (path - aside)[::-1]]), wide, float(rng.choice([0.1, 0.6, 1.0])))


def _flake(rng: Rng, rim_mm: float) -> Wound:
    """Print that came off in a flake, often at the rim."""
    at = spot_mm(rng, rim_mm)
    if rng.random() < 0.5:
        at = at / np.hypot(*at) * (rim_mm - rng.uniform(0, 2))
    outline = blob_mm(rng, at, log_uniform(rng, 0.4, 4), 0.5, 60)
    radius = np.hypot(*outline.T)
    outline = outline * np.minimum(1, (rim_mm - 0.3) / radius)[:, None]
    return Wound("flake", outline, None, float(rng.choice([0.0, 0.3, 1.0])))
