"""Fingers that hold the disc by its rim, and what the mirror shows of them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from bench.other_light.chance import Rng, cloud, ramp
from bench.other_light.optics import Array


@dataclass(frozen=True)
class Finger:
    """A bent rod: tip, knuckle and where it leaves, (3, 2) in mm, and half its width."""

    joints_mm: Array
    half_mm: float

    def off(self, points_mm: Array) -> tuple[Array, Array]:
        """Distance from the middle line in halves of the width, and how far along it in mm."""
        best = np.full(points_mm.shape[:-1], 1e9, np.float32)
        along = np.zeros_like(best)
        before = 0.0
        joints = self.joints_mm.astype(np.float32)
        for start, end in pairwise(joints):
            way = end - start
            share = ((points_mm - start) @ way / (way @ way)).clip(0, 1)
            off = points_mm - start - share[..., None] * way
            far = np.sqrt(off[..., 0] ** 2 + off[..., 1] ** 2)
            along = np.where(far < best, before + share * np.linalg.norm(way), along)
            best = np.minimum(best, far)
            before += float(np.linalg.norm(way))
        return best / (self.half_mm * (0.86 + 0.14 * ramp(0, 14, along))), along


def hand(rng: Rng, rim_mm: float, held: bool) -> list[Finger]:
    """None, or a thumb, or the tips of some fingers beside each other, and a thumb over against them."""
    if not held:
        return []
    found = []
    turn = rng.uniform(0, 2 * np.pi)
    for k in range(int(rng.integers(1, 4))):
        own = turn + 0.33 * k
        way, lean = np.array([np.cos(own), np.sin(own)]), rng.normal(0, 0.15)
        out = np.array([np.cos(turn + 0.33 + lean), np.sin(turn + 0.33 + lean)])
        tip = (rim_mm - rng.uniform(-2, 9)) * way
        bent = out + 0.5 * np.array([-out[1], out[0]]) * rng.normal(0, 1)
        found.append(Finger(np.stack([tip, tip + 34 * out, tip + 34 * out + 170 * bent]), rng.uniform(7, 9)))
    if rng.random() < 0.5:
        own = turn + np.pi + rng.normal(0, 0.4)
        way = np.array([np.cos(own), np.sin(own)])
        tip = (rim_mm - rng.uniform(0, 13)) * way
        found.append(Finger(np.stack([tip, tip + 40 * way, tip + 200 * way]), rng.uniform(9, 11)))
    return found


def show(rng: Rng, picture: Array, points_mm: Array, there: Array, fingers: list[Finger], lit: Array) -> None:
    """Paints them over the picture.

    Args:
        points_mm: the disc's plane at each pixel.
        there: share of each pixel that the disc covers (height, width).
        lit: what skin would show if it were flat (height, width, 3).
    """
    for finger in fingers:
        way = finger.joints_mm[0] / np.linalg.norm(finger.joints_mm[0])
        twin, _ = finger.off(points_mm + 5 * way)  # the mirror shows it from below, farther in
        picture += (0.7 * there * ramp(1.05, 0.9, twin))[..., None] * (0.25 * lit - picture)
        off, along = finger.off(points_mm)
        picture *= (1 - 0.45 * ramp(1.5, 1.0, off))[..., None]
        creases = (
            1
            - 0.12 * ramp(1.2, 0.0, np.abs(along - 30 + 3 * off))
            + 0.03 * cloud(rng, off.shape[0], off.shape[1], 8, 2)
        )
        shade = (0.3 + 0.85 * np.sqrt((1 - off**2).clip(0.02))) * creases
        paint = lit * shade[..., None]
        nail = ramp(1, 0.85, np.hypot(off / 0.62, (along - 4.5) / 6.5)) * (along > 0)
        paint = paint * (1 + 0.25 * nail[..., None] * np.array([0.9, 1.0, 1.1]))
        picture += ramp(1.03, 0.97, off)[..., None] * (paint - picture)
