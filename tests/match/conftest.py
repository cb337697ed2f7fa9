"""Discs drawn twice: turned, in another light, from elsewhere."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from drawn import Camera, Crack, Drawable, Look, Patch, RingArc, Scratch, draw

from discscan.flatten.grid import flatten_disc
from discscan.match import Band, band_of
from discscan.records import FlatDisc

LIGHTS = (
    (Look(wedges_deg=(40.0,)), Camera(tilt_deg=8, azimuth_deg=30, disc_px=1000)),
    (
        Look(wedges_deg=(190.0, 300.0), window=True, mirror_bgr=(150.0, 148.0, 140.0), background="wood"),
        Camera(tilt_deg=15, azimuth_deg=200, disc_px=900, blur_px=0.9),
    ),
)
"""Two lights, each with its own reflections, ground and camera."""


def scratches(count: int, *, seed: int) -> list[Drawable]:
    """Straight strokes anywhere on the mirror, bright ones and dark ones."""
    rng = np.random.default_rng(seed)
    lines: list[Drawable] = []
    while len(lines) < count:
        middle, heading = rng.uniform(-55, 55, 2), rng.uniform(0, np.pi)
        way = rng.uniform(3, 12) * np.array([np.cos(heading), np.sin(heading)])
        ends = [middle - way, middle + way]
        if all(24 < np.hypot(*end) < 57 for end in (*ends, middle)):
            points = [(float(x), float(y)) for x, y in ends]
            lines.append(Scratch(points, width_mm=0.15, contrast=float(rng.choice([-1, 1]) * rng.uniform(35, 70))))
    return lines


def turned(marks: list[Drawable], turn_deg: float, *, faded: float = 1.0) -> list[Drawable]:
    """The same marks on a disc that lies turned, from +x towards +y, and as plain as `faded` says."""
    cos, sin = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))

    def moved(points: object) -> list[tuple[float, float]]:
        return [(float(x), float(y)) for x, y in np.asarray(points, float) @ np.array([[cos, sin], [-sin, cos]])]

    found: list[Drawable] = []
    for mark in marks:
        contrast = mark.contrast * faded
        if isinstance(mark, Scratch | Crack):
            found.append(replace(mark, points_mm=moved(mark.points_mm), contrast=contrast))
        elif isinstance(mark, RingArc):
            found.append(replace(mark, start_deg=mark.start_deg + turn_deg, contrast=contrast))
        else:
            assert isinstance(mark, Patch)
            found.append(replace(mark, border_mm=moved(mark.border_mm), contrast=contrast))
    return found


@dataclass(frozen=True)
class Drawn:
    flat: FlatDisc
    band: Band


def drawn(marks: list[Drawable], *, light: int, seed: int = 0, **look: object) -> Drawn:
    """A photograph of such a disc in one of the lights, as the match room sees it."""
    how, camera = LIGHTS[light]
    bgr, truth = draw(*marks, look=replace(how, **look), camera=camera, seed=seed)  # type: ignore[arg-type]
    flat = flatten_disc(bgr, truth.located())
    return Drawn(flat, band_of(flat))
