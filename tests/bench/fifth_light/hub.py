"""From hole to rim: what mirrors, bends light or is clear at each radius; and rings, codes and text about the hub."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from bench.other_light.areas import HOLE_MM
from bench.other_light.chance import Rng
from bench.other_light.optics import Array

from .disc import Disc, unmarked
from .wear import Line

STEP_MM = 0.02


@dataclass(frozen=True)
class Profile:
    """What a disc is by radius, one row each STEP_MM, softened over a pixel."""

    mirror: Array
    """(n, 3)"""
    bends: Array
    """(n, 3)"""
    clear: Array
    """(n, 3), share of the light from below that comes through"""
    there: Array
    """(n, 1), 0 in the hole and beyond the rim"""

    def at(self, part: Array, radius_mm: Array) -> Array:
        """A part at radii (...,): (..., channels)."""
        return part[np.minimum(radius_mm / STEP_MM, len(part) - 1).astype(np.int32)]


def profile(disc: Disc, pixel_mm: float) -> Profile:
    """Of a disc, for pixels that are so large in its middle."""
    rng = unmarked(disc.number)
    make, radius = disc.stock, np.arange(0, disc.rim_mm + 4, STEP_MM)[:, None]
    begin, end = disc.metal_mm
    first, last = disc.recorded_mm
    track_end = end - rng.uniform(0.2, 0.9)
    metal = (radius > begin) & (radius < end)
    tracks = metal & (radius > first - rng.uniform(0, 0.5)) & (radius < track_end)
    written = tracks & (radius > first) & (radius < last)
    mirror = metal * make.mirror
    if make.recording == "recordable":  # the dye lies on the tracks alone: bare metal shows within and without
        bare = 0.55 * make.mirror + 0.45 * float(make.mirror.max())
        mirror = np.where(metal & ~tracks, bare, mirror)
    else:
        mirror = np.where(metal & ~tracks, mirror * 1.04, mirror)
    mirror = np.where(written, mirror * make.written, mirror)
    bends = tracks * make.dye * np.where(written, rng.uniform(0.7, 1.0), 1.0)
    if make.recording == "pressed":
        bends = np.where(tracks & ~written, bends * rng.uniform(0.3, 1.0), bends)
    bands = np.interp(radius[:, 0], np.linspace(0, 64, 260), rng.standard_normal(260))
    bends = bends * (1 + 0.04 * bands + 0.05 * np.sin(radius[:, 0] * rng.uniform(0.1, 0.4) + 3 * rng.random()))[:, None]
    clear = (
        np.where(radius < begin, rng.uniform(0.68, 0.86), rng.uniform(0.6, 1.15))
        * ~metal
        * (1 + (make.rim_tint - 1) * 0.7 * (radius > end))
    )
    ledge = rng.uniform(17, 19)  # the clamped zone within is finer moulded than what lies without
    clear = clear * np.where((radius > ledge) & (radius < begin), rng.uniform(0.7, 1.0), 1.0)
    if make.format == "dvd":  # the bond of the two halves begins with a ring
        ring = rng.uniform(15.5, 18.5)
        clear = clear * np.where(np.abs(radius - ring) < 0.35, 0.8, 1.0)
    there = (radius > HOLE_MM) & (radius < disc.rim_mm)
    parts = (mirror, bends, clear, there * 1.0)
    return Profile(*(_softened(np.broadcast_to(part, (len(radius), part.shape[1])), pixel_mm) for part in parts))


def _softened(part: Array, pixel_mm: float) -> Array:
    count = max(1, round(pixel_mm / STEP_MM))
    kernel = np.ones(count) / count
    return np.stack([np.convolve(column, kernel, "same") for column in part.T], 1).astype(np.float32)


def rings(disc: Disc) -> list[Line]:
    """Moulded steps about the hole, and the edges of hole and rim, as grooves that are no damage."""
    rng = unmarked(disc.number + 1)
    radii = [(HOLE_MM + 0.2, 0.4, 0.9), (HOLE_MM + 0.7, 0.15, 0.4), (disc.rim_mm - 0.16, 0.3, 0.8)]
    radii += [(float(rng.uniform(16.2, 17.6)), float(rng.uniform(0.3, 1.1)), 0.6)]  # the ring on which discs stack
    radii += [(float(rng.uniform(9, 20)), float(rng.uniform(0.06, 0.25)), 0.35) for _ in range(rng.integers(0, 5))]
    turn = np.linspace(0, 2 * np.pi, 720)
    way = np.stack([np.cos(turn), np.sin(turn)], 1)
    return [
        Line("moulded", "ring", radius * way, wide, slope, np.ones(40), float(rng.uniform(0, 0.3)))
        for radius, wide, slope in radii
    ]


def stamped(disc: Disc, points_mm: Array) -> tuple[Array, Array]:
    """Codes and text about the hub at points (h, w, 2): relief, -1 to 1, and how dark codes make the mirror, 0 to 1."""
    rng = unmarked(disc.number + 2)
    radius, turn = np.hypot(points_mm[..., 0], points_mm[..., 1]), np.arctan2(points_mm[..., 1], points_mm[..., 0])
    relief: Array = np.zeros(radius.shape, np.float32)
    code: Array = np.zeros(radius.shape, np.float32)
    if rng.random() < 0.6:  # moulded into the clear plastic, read from the label side
        low = rng.uniform(10.5, 14.5)
        strip = _text_strip(rng, low, 2.4, rng.uniform(0.5, 1.0))
        raised = cv2.Sobel(cv2.GaussianBlur(strip, (0, 0), 1.0), cv2.CV_32F, 1, 1) * 0.8
        relief = _wrapped(raised, radius, turn, low, 2.4)
    begin, first = disc.metal_mm[0], disc.recorded_mm[0]
    if first - begin > 1.0 and rng.random() < 0.85:
        high = min(1.6, first - begin - 0.5)
        strip = _text_strip(rng, begin + 0.3, high, rng.uniform(0.25, 0.5))
        bars = strip.shape[1] // int(rng.integers(6, 14))
        at = int(rng.integers(0, strip.shape[1] - bars))
        strip[:, at : at + bars] = np.repeat(rng.random(bars // 3 + 1) < 0.5, 3)[:bars]
        code = _wrapped(strip, radius, turn, begin + 0.3, high) * rng.uniform(0.25, 0.7)
    return relief, code


def _text_strip(rng: Rng, low_mm: float, high_mm: float, share: float) -> Array:
    """Made-up letters and digits over part of a turn, mirrored, (48, n)."""
    strip: Array = np.zeros((48, int(2 * np.pi * low_mm * 48 / high_mm)), np.uint8)
    letters = "".join(rng.choice(list("ABCDEFHKLMNPRSTUVXZ0123456789 -"), int(strip.shape[1] * share / 32)))
    cv2.putText(strip, letters, (10, 40), cv2.FONT_HERSHEY_SIMPLEX, 1.35, 255, 3, cv2.LINE_AA)
    turned = np.roll(strip, int(rng.integers(0, strip.shape[1])), 1)[:, ::-1]
    return np.ascontiguousarray(turned).astype(np.float32) / 255


def _wrapped(strip: Array, radius: Array, turn: Array, low_mm: float, high_mm: float) -> Array:
    """A strip bent about the centre."""
    columns = ((turn / (2 * np.pi)) % 1 * strip.shape[1]).astype(np.float32)
    rows = ((radius - low_mm) / high_mm * strip.shape[0]).astype(np.float32)
    return np.asarray(
        cv2.remap(strip.astype(np.float32), columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    )
