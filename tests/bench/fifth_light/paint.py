"""Pictures that cards carry, (h, w, 3) float32 radiances: walls with things at them, windows, skies, leaves."""

from __future__ import annotations

import cv2
import numpy as np
from bench.other_light.chance import Rng, cloud, log_uniform, ramp
from bench.other_light.optics import Array


def shade(rng: Rng, level: float, spread: float = 0.12) -> Array:
    """A colour (3,) about a grey level; reds and blues stray opposite ways, as materials' do."""
    warm, green = rng.normal(0, spread), rng.normal(0, spread / 3)
    return np.asarray(level * np.exp(np.array([warm, green, -warm])), np.float32)


def plain(colour: Array, size: tuple[int, int]) -> Array:
    """One colour all over."""
    return np.zeros((*size, 3), np.float32) + colour.astype(np.float32)


def falling_off(picture: Array, towards: Array, reach: float, least: float) -> Array:
    """Dims a picture away from a place (2,) in shares of its width and height."""
    height, width = picture.shape[:2]
    x, y = np.meshgrid(np.linspace(0, 1, width), np.linspace(0, 1, height))
    far = ((x - towards[0]) ** 2 + (y - towards[1]) ** 2) / reach**2
    return np.asarray(picture * (least + (1 - least) / (1 + far))[..., None], np.float32)


def furnished(rng: Rng, wall: Array, size: tuple[int, int] = (200, 320)) -> Array:
    """A wall with cupboards, doors, frames and shelves: boxes in boxes, dark and bright; row 0 is its top."""
    picture = plain(wall, size)
    height, width = size
    for _ in range(rng.integers(1, 6)):
        wide, tall = int(width * rng.uniform(0.06, 0.3)), int(height * rng.uniform(0.12, 0.75))
        left = int(rng.integers(0, width - wide))
        top = height - tall if rng.random() < 0.6 else int(rng.integers(0, height - tall))
        colour = shade(rng, float(wall.mean()) * log_uniform(rng, 0.12, 1.3), 0.3)
        picture[top : top + tall, left : left + wide] = colour
        parts = int(rng.integers(1, 6))
        for part in range(parts):
            low, high = top + tall * part // parts + 1, top + tall * (part + 1) // parts - 1
            if high - low > 3 and rng.random() < 0.7:
                inner = colour * log_uniform(rng, 0.4, 1.6)
                cv2.rectangle(picture, (left + 2, low), (left + wide - 3, high), inner.tolist(), -1)
                if rng.random() < 0.5:
                    _row_of_things(rng, picture, (left + 2, low, left + wide - 3, high))
    picture[: height // 40] *= rng.uniform(0.6, 1.1)
    return picture


def _row_of_things(rng: Rng, picture: Array, box: tuple[int, int, int, int]) -> None:
    """Books, jars and boxes on a shelf."""
    left, top, right, bottom = box
    at = left
    while at < right - 2:
        wide = int(rng.integers(2, 8))
        tall = int((bottom - top) * rng.uniform(0.45, 0.95))
        colour = shade(rng, float(picture[top, left].mean()) * log_uniform(rng, 0.3, 3), 0.5)
        picture[bottom - tall : bottom, at : min(at + wide, right)] = colour
        at += wide + int(rng.random() < 0.2) * int(rng.integers(1, 6))


def outdoors(rng: Rng, size: tuple[int, int], sky: Array, overcast: bool) -> Array:
    """What a window shows: sky above, roofs and trees below."""
    height, width = size
    picture = skies(rng, size, sky, overcast)
    for _ in range(rng.integers(1, 4)):
        base = height * rng.uniform(0.45, 0.95)
        if rng.random() < 0.5:
            border = base + 0.06 * height * cloud(rng, 1, width, width / 12, 4)[0]
            colour = shade(rng, float(sky.mean()) * rng.uniform(0.04, 0.15)) * np.array([0.9, 1.2, 0.6])
        else:
            steps = np.repeat(rng.uniform(-0.12, 0.1, 40), rng.integers(4, 30, 40))[:width]
            border = base + height * np.pad(steps, (0, max(0, width - len(steps))))
            colour = shade(rng, float(sky.mean()) * rng.uniform(0.1, 0.4), 0.25)
        below = np.arange(height)[:, None] > border[None, :]
        leafy = 1 + 0.25 * cloud(rng, height, width, 6, 2)
        picture = np.where(below[..., None], colour * leafy[..., None], picture)
    return np.asarray(picture.clip(0), np.float32)


def skies(rng: Rng, size: tuple[int, int], sky: Array, overcast: bool) -> Array:
    """Clouds: a heavy cover with darker bellies, or white heaps in the blue."""
    height, width = size
    puffs = cloud(rng, height, width, min(size) / rng.uniform(1.2, 4), 5)
    if overcast:
        return np.asarray(sky * np.exp(rng.uniform(0.15, 0.6) * puffs)[..., None], np.float32)
    cover = ramp(0, rng.uniform(0.5, 1.5), puffs - rng.uniform(-0.2, 1.8))[..., None]
    white = sky.max() * rng.uniform(1.4, 2.6) * np.array([1, 0.98, 0.96])
    return np.asarray(sky * (1 - cover) + cover * white, np.float32)


def window(rng: Rng, view: Array, frame: Array) -> Array:
    """Panes with bars; often with a curtain or a blind half down."""
    picture = view.copy()
    height, width = picture.shape[:2]
    bar = max(2, width // int(rng.integers(22, 48)))
    for share in np.linspace(0, 1, int(rng.integers(2, 5))):
        middle = round(share * width)
        picture[:, max(0, middle - bar) : middle + bar] = frame
    picture[:bar] = picture[-bar:] = frame
    if rng.random() < 0.4:
        cross = round(height * rng.uniform(0.25, 0.5))
        picture[cross : cross + bar] = frame
    dressed = rng.random()
    if dressed < 0.3:  # curtains, lit from behind, in folds
        folds = 1 + 0.3 * np.sin(np.arange(width) / width * rng.uniform(60, 120))
        cloth = shade(rng, float(view.mean()) * rng.uniform(0.06, 0.35), 0.25)
        for side in (slice(0, int(width * rng.uniform(0.1, 0.35))), slice(int(width * rng.uniform(0.65, 0.92)), width)):
            picture[:, side] = cloth * folds[side][None, :, None]
    elif dressed < 0.45:  # slats
        down = int(height * rng.uniform(0.3, 1))
        slats = (np.arange(down) % max(4, height // 24) < max(2, height // 40)).astype(np.float32)
        picture[:down] *= (1 - 0.75 * slats)[:, None, None]
    return picture


def leaves(rng: Rng, size: tuple[int, int], sky: Array) -> Array:
    """Under a tree: dark and sunlit leaves, and gaps with sky."""
    fine, coarse = cloud(rng, *size, 7, 2), cloud(rng, *size, size[0] / rng.uniform(4, 12), 2)
    green = np.array([0.55, 1.0, 0.25]) * float(sky.mean()) * rng.uniform(0.05, 0.12)
    lit = green * np.exp(0.7 * fine + 0.4 * coarse)[..., None]
    gaps = ramp(0.0, 0.3, fine + 0.8 * coarse - rng.uniform(0.9, 1.9))[..., None]
    return np.asarray(lit * (1 - gaps) + gaps * sky, np.float32)


def rafters(rng: Rng, colour: Array, size: tuple[int, int] = (240, 240)) -> Array:
    """A ceiling of beams, panels or plain plaster."""
    picture = plain(colour, size)
    kind = rng.random()
    step = int(rng.integers(24, 60))
    if kind < 0.3:
        for at in range(int(rng.integers(0, step)), size[1], step):
            picture[:, at : at + step // 5] *= rng.uniform(0.25, 0.7)
    elif kind < 0.45:
        picture[::step] *= 0.6
        picture[:, ::step] *= 0.6
    return np.asarray(picture * np.exp(rng.uniform(0.04, 0.16) * cloud(rng, *size, 120, 3))[..., None], np.float32)
