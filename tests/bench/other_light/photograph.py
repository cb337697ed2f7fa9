"""One photograph: table, disc, marks, fingers, camera, truth."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from .camera import photographed, random_camera, save
from .chance import Rng, cloud, ramp
from .disc import CONDITIONS, Disc, random_disc
from .marks import Marks
from .optics import Array
from .person import Light
from .surface import Surface, patch_of
from .table import random_table
from .truth import Truth
from .view import View, random_view

LONG_PX = (1600.0, 4000.0)
FILL = (0.5, 0.95)
"""The rim's share of the picture's short side."""


def _table(rng: Rng, light: Light, disc: Disc, view: View) -> tuple[str, Array]:
    """Its kind, and the picture (height, width, 3) in linear light without the disc, but with its shadow."""
    points = view.mm(np.arange(view.width_px), np.arange(view.height_px))
    half = min(400.0, float(np.abs(points[::16, ::16]).max()) + 2)
    px_mm = half * 2 / (1.2 * max(view.width_px, view.height_px))
    kind, paint, gloss = random_table(rng, half, max(0.1, px_mm))
    at = (points + half) * (len(paint) / (2 * half)) - 0.5
    picture: Array = cv2.remap(paint, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    turn = rng.uniform(0, 2 * np.pi)
    fall = 1 + rng.uniform(0, 0.003) * (points[..., 0] * np.cos(turn) + points[..., 1] * np.sin(turn))
    soft, lean = rng.uniform(0.8, 3.5), light.room.lean
    off = np.linalg.norm(points + 1.2 * lean / (np.linalg.norm(lean) + 0.1), axis=2)
    shadow = rng.uniform(0.25, 0.65) * ramp(disc.rim_mm + soft, disc.rim_mm - 0.4 * soft, off)
    lit = (fall.clip(0.4, 1.6) * (1 - shadow))[..., None] * light.lit
    picture = (picture * lit).astype(np.float32)
    if gloss:
        few = points[::16, ::16].reshape(-1, 2)
        shine = light.from_side(few, -view.to_eye(few)[:, :2], soft=True).reshape(*points[::16, ::16].shape[:2], 3)
        picture = picture + np.float32(gloss) * cv2.resize(shine, (view.width_px, view.height_px))
    return kind, picture


def _fingers(rng: Rng, picture: Array, light: Light, disc: Disc, view: View) -> tuple[int, Array]:
    """Paints fingers that hold the rim, now and then; how many, and what of the flat grid they hide."""
    x, y = np.broadcast_arrays(*disc.flat.mm())
    grid, hidden = np.stack([x, y], 2), np.zeros(x.shape, bool)
    count = int(rng.integers(1, 4)) if rng.random() < 0.18 else 0
    turn = rng.uniform(0, 2 * np.pi)
    for _ in range(count):
        turn += rng.uniform(0.28, 0.4)
        tip = (disc.rim_mm - rng.uniform(1, 9)) * np.array([np.cos(turn), np.sin(turn)])
        ahead, half_mm = np.array([np.cos(turn + 0.15), np.sin(turn + 0.15)]), rng.uniform(7, 9.5)

        def off(points_mm: Array, tip: Array = tip, ahead: Array = ahead, half_mm: float = half_mm) -> Array:
            """Distance from the finger's middle line in halves of its width."""
            along = ((points_mm - tip) @ ahead).clip(half_mm, 170)
            return np.asarray(np.linalg.norm(points_mm - tip - along[..., None] * ahead, axis=-1) / half_mm)

        here = off(view.mm(np.arange(view.width_px), np.arange(view.height_px)))
        cover = ramp(1.02, 0.98, here)[..., None]
        bulge = 0.35 + 0.75 * np.sqrt((1 - here**2).clip(0.05))
        skin = cv2.resize(cloud(rng, view.height_px // 4, view.width_px // 4, 4), (view.width_px, view.height_px))
        shade = (1.3 * bulge * (1 + 0.05 * skin))[..., None]
        picture *= (1 - 0.36 * ramp(1.5, 0.9, here))[..., None]
        picture[:] = picture * (1 - cover) + cover * light.person.skin * light.lit * shade
        hidden |= off(grid) < 1
    return count, hidden


def draw(
    folder: Path, seed: int, number: int, *, long_px: tuple[float, float] = LONG_PX, disc: Disc | None = None
) -> Path:
    """Writes photograph `number` of a seed, labels and truth, unless its truth is there; returns the truth's path.

    It depends on these two numbers alone. A `disc` is photographed as it is.
    """
    name = f"{number:04d}"
    done = folder / f"{name}.json"
    if done.exists():
        return done
    rng = np.random.default_rng([seed, number])
    disc = disc or random_disc(rng, CONDITIONS[number % len(CONDITIONS)])
    view = random_view(rng, disc.rim_mm, long_px, FILL)
    light = Light(rng, view)
    table, picture = _table(rng, light, disc, view)
    patch = patch_of(picture, light, disc, view)
    Surface(rng, patch, light, disc, view).paint()
    marks = Marks(rng.spawn(1)[0], patch, light, disc, view)  # so that what follows does not depend on them
    contrasts = marks.lines()
    cracks = marks.cracks()
    marks.dust()
    fingers, covered = _fingers(rng, picture, light, disc, view)
    camera = random_camera(rng)
    size = save(folder / f"{name}.jpg", photographed(rng, picture, camera), camera)

    truth = Truth(disc, _px_to_mm(view, size), size, covered)
    truth.tell(zip(disc.lines, contrasts, strict=True), cracks)
    scene: dict[str, Any] = {
        "seed": seed,
        "background": table,
        "environment": light.room.kind,
        "windows": light.room.windows,
        "lamps": light.room.lamps,
        "fingers": fingers,
        "focal_px": view.focal_px,
        **asdict(camera),
    }
    return truth.write(done, view, scene)


def _px_to_mm(view: View, size_px: tuple[int, int]) -> Array:
    """Of the saved picture, which a chat program may have made smaller."""
    x, y = size_px[0] / view.width_px, size_px[1] / view.height_px
    smaller = np.array([[x, 0, (x - 1) / 2], [0, y, (y - 1) / 2], [0, 0, 1]])
    return np.linalg.inv(smaller @ view.homography)
