"""One photograph: surroundings, table, disc, marks, camera, truth."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from bench.other_light.chance import Rng
from bench.other_light.optics import Array
from bench.other_light.truth import Truth
from bench.other_light.view import View

from .camera import Shot, photographed
from .disc import Disc, disc_of
from .ground import Ground
from .marks import Marks
from .optics import LUMA
from .person import random_person
from .rooms import random_around
from .table import lit, random_table
from .view import enlarged, random_view, window_of

LONG_PX = (1000.0, 4000.0)
CHAT_PX = 2200
"""Only photographs up to this long side are shrunk ones, as chat programs send."""


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
    of_disc, of_view, of_marks, of_camera = np.random.default_rng([seed, number, 4]).spawn(4)
    disc = disc or disc_of(of_disc, seed, number, label_sides)
    view = random_view(of_view, disc.rim_mm, long_px)
    long = max(view.width_px, view.height_px)
    larger = of_view.uniform(1.3, 1.8) if long < CHAT_PX and of_view.random() < 0.3 else 1.0
    kind, contrasts, shot = _shot(of_view, of_marks, of_camera, disc, enlarged(view, larger), view)
    cv2.imwrite(str(folder / f"{name}.jpg"), cv2.cvtColor(shot.rgb, cv2.COLOR_RGB2BGR), shot.jpeg)

    hidden = np.zeros((disc.flat.side, disc.flat.side), bool)
    if disc.sticker_mm is not None:
        hidden = disc.flat.filled(disc.sticker_mm)
    truth = Truth(disc, np.linalg.inv(view.homography), (view.width_px, view.height_px), hidden)
    cracks = (np.column_stack([crack.path_mm, crack.width_mm]) for crack in disc.cracks)
    truth.tell(zip(disc.lines, contrasts, strict=True), cracks)
    scene = {"seed": seed, "background": kind, "exposure": shot.exposure, "blur_px": shot.blur_px, "shrunk": larger}
    return truth.write(done, view, scene)


def _shot(
    of_view: Rng, of_marks: Rng, of_camera: Rng, disc: Disc, view: View, final: View
) -> tuple[str, list[float], Shot]:
    """What is around, the contrasts of the disc's lines, and the photograph in the size of `final`."""
    place, around = random_around(of_view, view.camera_mm)
    person = random_person(of_view, view.height_px > view.width_px)
    kind, albedo = random_table(of_view, view, disc.rim_mm)
    picture = lit(of_view, albedo, view, around, disc.rim_mm)
    window = window_of(view, disc.rim_mm)
    ground = Ground(window, around, person, disc)
    on_disc = ground.paint(picture[window.part])
    marks = Marks(of_marks, ground, on_disc)
    told = [marks.line(line) for line in disc.lines]
    for crack in disc.cracks:
        marks.crack(crack)
    marks.dust()
    marks.sticker()
    picture[window.part] = on_disc
    shot = photographed(of_camera, picture, (final.width_px, final.height_px), around.falls)
    return f"{place}, {kind}", [_contrast(shot.exposure, *line) for line in told], shot


def _contrast(exposure: float, own: Array, bare: Array, share: Array, seen: Array) -> float:
    """As the module's docstring in `__init__` says; 0 if nothing of the line is seen."""
    groove, ground = ((light @ LUMA * exposure).clip(0, 1) for light in (own, bare))
    change = np.abs(groove - ground) / ground.clip(0.02) * share
    return float(change[seen].mean().clip(0, 1)) if seen.any() else 0.0
