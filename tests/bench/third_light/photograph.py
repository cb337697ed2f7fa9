"""One photograph: table, disc, sticker, camera, truth."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from bench.other_light.optics import Array
from bench.other_light.truth import Truth

from .camera import photographed
from .disc import Disc, disc_of
from .optics import frames
from .person import random_person
from .room import random_room
from .surface import LUMA, Surface, lit_table
from .table import random_table
from .view import random_view, window_of

LONG_PX = (1000.0, 4000.0)


def draw(
    folder: Path,
    seed: int,
    number: int,
    *,
    long_px: tuple[float, float] = LONG_PX,
    disc: Disc | None = None,
    label_sides: float = 0.0,
) -> Path:
    """Writes photograph `number` of a seed, labels and truth, unless its truth is there; returns the truth's path.

    It depends on these numbers alone. A `disc` is photographed as it is.

    Args:
        label_sides: share of the photographs that show a whole disc with its label up.
    """
    name = f"{number:04d}"
    done = folder / f"{name}.json"
    if done.exists():
        return done
    rng = np.random.default_rng([seed, number])
    of_disc, of_marks, rng = rng.spawn(3)  # so that what follows does not depend on them
    disc = disc or disc_of(of_disc, seed, number, label_sides)
    view = random_view(rng, disc.rim_mm, long_px)
    room, person = random_room(rng), random_person(rng)
    kind, paint = random_table(rng, view, disc.rim_mm)
    table, picture = lit_table(rng, paint, room, disc, view)
    window = window_of(view, disc.rim_mm)
    surface = Surface(of_marks, window, room, disc, frames(rng, room, person, disc, view))
    surface.paint(picture, table)
    surface.sticker(picture)
    on_disc = picture[window.part][::9, ::9][surface.radius_mm[::9, ::9] < disc.rim_mm] @ LUMA
    shot = photographed(rng, picture, on_disc)
    quality = [cv2.IMWRITE_JPEG_QUALITY, shot.jpeg_quality]
    cv2.imwrite(str(folder / f"{name}.jpg"), cv2.cvtColor(shot.rgb, cv2.COLOR_RGB2BGR), quality)

    size, hidden = (view.width_px, view.height_px), np.zeros((disc.flat.side, disc.flat.side), bool)
    if disc.sticker_mm is not None:
        hidden = disc.flat.filled(disc.sticker_mm)
    truth = Truth(disc, np.linalg.inv(view.homography), size, hidden)
    lights = zip(disc.lines, surface.lights, strict=True)
    truth.tell(
        ((line, _contrast(own, about, line.depths, shot.exposure)) for line, (own, about) in lights),
        (np.column_stack([crack.path_mm, np.full(len(crack.path_mm), crack.width_mm)]) for crack in disc.cracks),
    )
    scene = {"seed": seed, "background": kind, "exposure": shot.exposure, "blur_px": shot.blur_px}
    return truth.write(done, view, scene)


def _contrast(own: Array, about: Array, depths: Array, exposure: float) -> float:
    """Share by which a groove is brighter or darker than what is about it, where it is deep enough; not blurred."""
    groove, ground = (np.clip(light @ LUMA * exposure, 0, 1) for light in (own, about))
    share = np.clip(np.abs(groove - ground) / np.maximum(ground, 0.02), 0, 1) * depths
    return float(share[depths > 0.1].mean()) if (depths > 0.1).any() else 0.0
