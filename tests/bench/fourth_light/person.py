"""Who takes the photograph, as the disc mirrors them: phone and hands about the lens, head and chest behind it."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.chance import Rng, log_uniform
from bench.other_light.optics import Array
from bench.other_light.view import View

SIDE, PER_MM = 480, 0.4
"""Of the two pictures: cells, and cells per mm; the lens in the middle."""


@dataclass(frozen=True)
class Person:
    layers: list[tuple[float, Array]]
    """How far behind the lens in mm, and a picture (SIDE, SIDE, 4) of albedo and cover, down as the camera has it."""


def _fill(picture: Array, points_mm: Array, colour: Array) -> None:
    cells = np.round((points_mm * PER_MM + SIDE / 2) * 16).astype(np.int32)
    cv2.fillPoly(picture, [cells], (*colour.tolist(), 1.0), cv2.LINE_AA, 4)


def _oval(middle: tuple[float, float], half: tuple[float, float], turn: float = 0.0) -> Array:
    angle = np.linspace(0, 2 * np.pi, 40)
    x, y = half[0] * np.cos(angle), half[1] * np.sin(angle)
    return np.stack(
        [middle[0] + x * np.cos(turn) - y * np.sin(turn), middle[1] + x * np.sin(turn) + y * np.cos(turn)], 1
    )


def random_person(rng: Rng, upright: bool) -> Person:
    """`upright`: whether the phone is held so."""
    skin = np.array([0.62, 0.42, 0.31]) * log_uniform(rng, 0.25, 1.15)
    cloth = rng.uniform(0.03, 0.7) * (1 + 0.5 * rng.uniform(-1, 1, 3))
    hair = rng.uniform(0.02, 0.25) * np.array([1.2, 1, 0.8])
    near = np.zeros((SIDE, SIDE, 4), np.float32)
    short, long = rng.normal(74, 3), rng.normal(152, 6)
    corner = np.array([rng.choice([12, short - 12]), 14.0])
    box = np.array([[0, 0], [short, 0], [short, long], [0, long]]) - corner
    if not upright:
        box = box[:, ::-1] * [1, rng.choice([-1, 1])]
    sides = [box.mean(0) + (box[1] - box[0]) * sign * 0.5 + (box[2] - box[1]) * rng.uniform(0, 0.4) for sign in (-1, 1)]
    if not upright:
        sides = [box.mean(0) + (box[2] - box[1]) * sign * 0.5 for sign in (-1, 1)]
    for middle in sides[: 2 if not upright or rng.random() < 0.5 else 1]:
        arm = middle + np.array([np.sign(middle[0]) * 260, 420.0])
        aside = np.array([38.0, 0])
        _fill(near, np.array([middle - aside, middle + aside, arm + aside * 1.4, arm - aside * 1.4]), cloth)
        _fill(near, _oval((float(middle[0]), float(middle[1]) + 18), (40, 52), rng.normal(0, 0.3)), skin)
    _fill(near, box, np.full(3, rng.choice([0.015, 0.04, 0.3, 0.6])) * (1 + 0.2 * rng.uniform(-1, 1, 3)))
    for step in (0.0, 14.0):
        _fill(near, _oval((step * 0.7, step), (5, 5)), np.full(3, 0.01))
    far = np.zeros((SIDE, SIDE, 4), np.float32)
    x, y = rng.normal(0, 50), rng.normal(30, 60)
    _fill(far, _oval((x, y + 420), (rng.uniform(190, 250), 300)), cloth)
    _fill(far, _oval((x, y + 90), (55, 90)), skin)
    _fill(far, _oval((x, y), (76, 108), rng.normal(0, 0.1)), skin)
    _fill(far, _oval((x, y - 55), (82, 66)), hair)
    blurred = [cv2.GaussianBlur(layer, (0, 0), sigma) for layer, sigma in ((near, 1.3), (far, 2.4))]
    return Person([(rng.uniform(150, 380), blurred[1]), (4.0, blurred[0])])


def before(person: Person, view: View, points_mm: Array, ways: Array, light: Array, falls: Array) -> Array:
    """The mirrored light (rows, columns, 3) where the person stands in its way.

    Args:
        points_mm: (rows, columns, 2) of the disc; ways: (rows, columns, 3) whence its light comes.
        falls: irradiance (3,) on the disc, of which the person gets a share.
    """
    right, down, look = view.axes
    to_lens = view.camera_mm - np.concatenate([points_mm, np.zeros_like(points_mm[..., :1])], -1)
    for behind, picture in person.layers:
        facing = -(ways @ look)
        far = (behind - to_lens @ look) / np.maximum(facing, 0.05)
        off = ways * far[..., None] - to_lens
        columns, rows = (((off @ axis) * PER_MM + (SIDE - 1) / 2).astype(np.float32) for axis in (right, down))
        seen = cv2.remap(picture, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
        # steep, so that a lamp of a hundred times the light does not shine through the last cells of a soft border
        cover = ((seen[..., 3:] - 0.5) * 1.5 + 0.5).clip(0, 1) * (facing > 0.05)[..., None]
        own = seen[..., :3] / seen[..., 3:].clip(0.05) * falls / np.pi * 0.4
        light = light * (1 - cover) + own * cover
    return light
