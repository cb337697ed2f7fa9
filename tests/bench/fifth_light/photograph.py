"""A photograph and its truth: joins a place, a disc, a table, a hand and a camera."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from bench.other_light.areas import HOLE_MM
from bench.other_light.chance import Rng
from bench.other_light.optics import Array
from bench.other_light.truth import Truth
from bench.other_light.view import View

from .camera import Camera, encoded, expose, exposure_for, random_camera, seeing
from .cards import Scene
from .disc import Disc, condition_of, random_disc
from .ground import material
from .hand import Finger, hand, show
from .label import random_label
from .label_side import LabelTruth, print_on
from .pen import Pen
from .photographer import flashlight, stand_there
from .pose import held_by_hand
from .rooms import place
from .surface import Surface, smear_grease, surface
from .table import laid_out, photograph_of

LONG_PX = (900.0, 3000.0)
OPEN_AIR = ("overcast", "blue sky", "tree")


def draw(
    folder: Path,
    seed: int,
    number: int,
    *,
    long_px: tuple[float, float] = LONG_PX,
    disc: Disc | None = None,
    label_sides: float = 0.0,
) -> Path:
    """Draws photograph `number` of a seed into a folder, unless its truth is there.

    Args:
        long_px: least and most of the photograph's longer side.
        disc: in place of the one that the numbers give.
        label_sides: share of the discs that lie with their label up.
    Returns:
        Path: of the truth; the photograph and the picture of labels lie beside it.
    """
    done = folder / f"{number:04d}.json"
    if done.exists():
        return done
    of_disc, of_place, of_wear = (np.random.default_rng([seed, number, part, 50321]) for part in range(3))
    labelled = bool(of_disc.random() < label_sides)
    disc = disc if disc is not None else random_disc(of_disc, condition_of(number), labelled)
    scene, view, camera = _setting(of_place, disc, long_px)
    size = (view.width_px, view.height_px)
    chat = camera.chat_quality is not None and max(size) < 1800
    grown = float(of_place.uniform(1.2, 1.6)) if chat else 1.0
    truth, picture = _drawn(of_place, of_wear, disc, scene, shrunk(view, 1 / grown), camera, view)
    done.with_suffix(".jpg").write_bytes(encoded(picture, camera, size))
    told = {"seed": seed, "background": scene.name, "aperture_mm": round(camera.aperture_mm, 2), "chat": chat}
    return truth.write(done, view, told)


def _setting(rng: Rng, disc: Disc, long_px: tuple[float, float]) -> tuple[Scene, View, Camera]:
    """Where, from where and with what."""
    scene, view = place(rng), held_by_hand(rng, disc.rim_mm, long_px)
    stand_there(rng, scene, view)
    if scene.name == "flash":
        flashlight(rng, scene, view)
    return scene, view, random_camera(rng, scene.name in ("lamp", "flash"))


def shrunk(view: View, times: float) -> View:
    """The same view in so many times fewer pixels; pictures' edges stay where they are."""
    size = round(view.width_px / times), round(view.height_px / times)
    scale = np.array([size[0] / view.width_px, size[1] / view.height_px])
    grow = np.array([[scale[0], 0, scale[0] / 2 - 0.5], [0, scale[1], scale[1] / 2 - 0.5], [0, 0, 1]])
    homography = grow @ view.homography
    return replace(
        view,
        width_px=size[0],
        height_px=size[1],
        homography=homography / homography[2, 2],
        focal_px=view.focal_px / times,
    )


def _drawn(
    rng: Rng, of_wear: Rng, disc: Disc, scene: Scene, view: View, camera: Camera, told: View
) -> tuple[Truth, Array]:
    """The truth in pixels of the view `told`, and the photograph in those of `view`, eight bits."""
    held = bool(rng.random() < 0.1)
    tile = laid_out(rng, view, material(rng, scene.name in OPEN_AIR), disc.rim_mm, held)
    fingers = hand(rng, view, disc.rim_mm, held)
    picture = photograph_of(rng, tile, view, scene, held, camera.aperture_mm)
    whole = surface(disc, view, scene, picture, camera.aperture_mm)
    box = _box(whole)
    truth = _truth(disc, told, fingers)
    exposure = exposure_for(picture, whole.light, camera.bias_ev)
    pen = Pen(disc, view, told, scene, whole, exposure)
    if disc.labelled:
        label = random_label(of_wear, disc.flat, disc.condition)
        contrasts = print_on(label, view, scene, whole, disc.rim_mm)
        _laid(rng, disc, view, whole, pen)
        truth.tell([], [])
        for wound, contrast in zip(label.wounds, contrasts, strict=True):
            truth.wound(wound, contrast)
    else:
        pen.moulded()
        contrasts = pen.lines(disc.lines)
        for crack in disc.cracks:
            pen.crack(crack)
        _laid(rng, disc, view, whole, pen)
        truth.tell(zip(disc.lines, contrasts, strict=True), [crack.path_mm for crack in disc.cracks])
    picture[box] += whole.there * (whole.light - picture[box])
    on_disc = np.zeros(picture.shape[:2], np.float32)
    on_disc[box] = whole.there[..., 0]
    show(rng, picture, view, fingers, whole.falls, on_disc)
    camera = seeing(camera, whole.falls, rng.uniform(0.5, 0.95))
    return truth, expose(rng, picture, camera, exposure)


def _laid(rng: Rng, disc: Disc, view: View, whole: Surface, pen: Pen) -> None:
    """What lies on the face."""
    smear_grease(rng, disc.flat, view, whole)
    pen.dust()
    pen.sticker()


def _box(whole: Surface) -> tuple[slice, slice]:
    left, top = whole.corner
    height, width = whole.radius_mm.shape
    return slice(top, top + height), slice(left, left + width)


def _truth(disc: Disc, view: View, fingers: list[Finger]) -> LabelTruth:
    covered = np.zeros((disc.flat.side, disc.flat.side), bool)
    for finger in fingers:
        covered |= disc.flat.filled(finger.outline_mm)
    if disc.sticker_mm is not None:
        covered |= disc.flat.filled(disc.sticker_mm)
    covered &= disc.flat.on_disc(HOLE_MM, disc.rim_mm)
    return LabelTruth(disc, np.linalg.inv(view.homography), (view.width_px, view.height_px), covered)
