"""One photograph: room, person, table, disc, hand and camera, and the truth of it."""

from __future__ import annotations

from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from bench.other_light.areas import HOLE_MM
from bench.other_light.chance import Rng, ramp
from bench.other_light.optics import Array
from bench.other_light.truth import Truth
from bench.other_light.view import View

from .beholder import skin_of, stand_there
from .camera import encoded, exposure_for, grey_world, photographed, random_camera
from .face import Face, face_of
from .fingers import Finger, hand, show
from .ink import Ink
from .light import face_share
from .makes import CONDITIONS, Disc, random_disc
from .panorama import Panorama
from .places import place
from .pose import by_hand, plane_mm
from .table import table

LONG_PX = (900.0, 3000.0)
LEAST_CHAT_PX = 1300
DIM = ("evening", "garage", "desk at night", "flash")


def draw(
    folder: Path, seed: int, number: int, *, long_px: tuple[float, float] = LONG_PX, disc: Disc | None = None
) -> Path:
    """Draws photograph `number` of a seed into a folder, unless its truth is there.

    Args:
        long_px: least and most of the longer side, before a chat program makes it smaller.
        disc: in place of the one that the numbers give.
    Returns:
        Path: of the truth; the photograph and the picture of labels lie beside it.
    """
    done = folder / f"{number:04d}.json"
    if done.exists():
        return done
    of_disc, of_place, of_table, of_ink, of_sensor = (
        np.random.default_rng([6, seed, number, part]) for part in range(5)
    )
    disc = disc if disc is not None else random_disc(of_disc, CONDITIONS[number % len(CONDITIONS)])
    room, view = place(of_place), by_hand(of_place, disc.rim_mm, long_px)
    stand_there(of_place, room, view)
    camera = random_camera(of_place, room.name in DIM)
    if max(view.width_px, view.height_px) < LEAST_CHAT_PX:
        camera = replace(camera, chat_scale=1.0)
    fingers = hand(of_place, disc.rim_mm, bool(of_place.random() < 0.12))

    points = plane_mm(view)
    white = _white(room, view)
    name, picture = _table(of_table, room, view, points, white, disc, bool(fingers))
    face = face_of(disc, room, view, points, picture, white)
    exposure = exposure_for(picture, face.light, camera.bias_ev)
    gains = grey_world(picture, white)
    contrasts = _inked(of_ink, disc, face, room, view, exposure)
    left, top = face.corner
    box = slice(top, top + len(face.there)), slice(left, left + face.there.shape[1])
    picture[box] += face.there * (face.light - picture[box])
    there = np.zeros(picture.shape[:2], np.float32)
    there[box] = face.there[..., 0]
    show(of_table, picture, points, there, fingers, 0.8 * white * skin_of(of_place).astype(np.float32))
    eight = photographed(of_sensor, picture, camera, exposure, gains)
    done.with_suffix(".jpg").write_bytes(encoded(eight, camera))

    size = eight.shape[1], eight.shape[0]
    truth = Truth(disc, _px_to_mm(view, size), size, _covered(disc, fingers))
    truth.tell(zip(disc.lines, contrasts, strict=True), [crack.path_mm for crack in disc.cracks])
    told: dict[str, Any] = {"seed": seed, "background": name, "environment": room.name, "fingers": len(fingers)}
    return truth.write(done, view, told | {"focal_px": view.focal_px} | asdict(camera))


def _inked(rng: Rng, disc: Disc, face: Face, room: Panorama, view: View, exposure: float) -> list[float]:
    """Draws all that is thin; the contrasts of the disc's lines."""
    of_lines, of_others = rng.spawn(2)  # lines change nothing of what lies beside them
    ink = Ink(of_others, disc, face, room, view, exposure)
    contrasts = ink.strokes(of_lines)
    for crack in disc.cracks:
        ink.crack(crack)
    ink.dust()
    ink.sticker()
    return contrasts


def _white(room: Panorama, view: View) -> Array:
    """What white matt paper in the disc's plane shows, (height, width, 3)."""
    columns, rows = np.linspace(0, view.width_px - 1, 8), np.linspace(0, view.height_px - 1, 8)
    few = view.mm(columns, rows).reshape(-1, 2)
    far = np.linalg.norm(few, axis=1, keepdims=True)
    falls = room.white_matt(few * np.minimum(1, 0.6 * room.far_mm / far.clip(1))).reshape(8, 8, 3)
    return np.asarray(cv2.resize(falls, (view.width_px, view.height_px), interpolation=cv2.INTER_CUBIC).clip(1e-4))


def _table(
    rng: Rng, room: Panorama, view: View, points: Array, white: Array, disc: Disc, held: bool
) -> tuple[str, Array]:
    """Its kind, and the photograph without the disc but with its shadow; far below where the disc is held."""
    few = points[::8, ::8].reshape(-1, 2)
    below = rng.uniform(1.3, 2.2) if held else 1.0
    half = below * min(900.0, float(np.abs(few).max()) + 5)
    name, top = table(rng, half, int(1.2 * max(view.width_px, view.height_px)), disc.rim_mm)
    at = top.cell(points * below)
    albedo = cv2.remap(
        top.albedo, at[..., 0].astype(np.float32), at[..., 1].astype(np.float32), cv2.INTER_LINEAR, None, 2
    )
    picture: Array = albedo * white
    if held:
        picture = cv2.GaussianBlur(picture, (0, 0), max(view.width_px, view.height_px) / 300)
    else:
        radius = np.hypot(points[..., 0], points[..., 1])
        picture *= (1 - rng.uniform(0.3, 0.6) * ramp(disc.rim_mm + rng.uniform(1, 4), disc.rim_mm, radius))[..., None]
    if top.gloss:
        eye = view.to_eye(few)
        shine = room.look(few * min(1.0, 0.6 * room.far_mm / np.abs(few).max()), -eye[:, :2], 2)
        shine = (top.gloss * face_share(eye[:, 2:]) * shine).reshape(*points[::8, ::8].shape[:2], 3)
        picture += cv2.resize(shine.astype(np.float32), (view.width_px, view.height_px), interpolation=cv2.INTER_CUBIC)
    return name, np.asarray(picture.clip(1e-5), np.float32)


def _covered(disc: Disc, fingers: list[Finger]) -> Array:
    """Cells of the flat grid that a finger or a sticker hides."""
    x, y = np.broadcast_arrays(*disc.flat.mm())
    covered = np.zeros(x.shape, bool)
    for finger in fingers:
        covered |= finger.off(np.stack([x, y], -1))[0] < 1
    if disc.sticker_mm is not None:
        covered |= disc.flat.filled(disc.sticker_mm)
    return covered & disc.flat.on_disc(HOLE_MM, disc.rim_mm)


def _px_to_mm(view: View, size_px: tuple[int, int]) -> Array:
    """Of the photograph as it is kept."""
    x, y = size_px[0] / view.width_px, size_px[1] / view.height_px
    smaller = np.array([[x, 0, (x - 1) / 2], [0, y, (y - 1) / 2], [0, 0, 1]])
    return np.linalg.inv(smaller @ view.homography)
