"""A worn label side painted on pieces of it: ink scratched through, chipped and rubbed off, whatever is printed there.

What tells a wound from print is that it lays bare one and the same ground wherever it goes.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from models.training.painted import add_crack, add_dust, add_grease
from models.training.painted_line import mark, path, stroke
from models.training.piece import FloatImage, Piece, blob, log_uniform, noise, softened, somewhere

LEAST_LEVELS = 5.0
"""Grey levels by which bare ground differs from what was printed, for a wound that is asked for."""


def wear(piece: Piece, rng: np.random.Generator) -> None:
    """Add a random lot of wounds and dirt; a third of the pieces get none."""
    if rng.random() < 0.3:
        return
    ground = _ground(piece, rng)
    for chance, add in ((0.5, _scratches), (0.4, _chips), (0.2, _rubbed)):
        if rng.random() < chance:
            add(piece, ground, rng)
    for chance, dirty in ((0.12, add_crack), (0.25, add_dust), (0.2, add_grease)):
        if rng.random() < chance:
            dirty(piece, rng)


def _ground(piece: Piece, rng: np.random.Generator) -> FloatImage:
    """What lies under the ink, (s, s, 3): the mirror, bright or dark, a white coat, or what is behind the disc."""
    look = rng.choice(["mirror", "dark", "white", "through"], p=[0.4, 0.2, 0.25, 0.15])
    level, spread = {"mirror": (rng.uniform(110, 250), 25), "dark": (rng.uniform(10, 90), 12)}.get(
        str(look), (rng.uniform(190, 250), 4)
    )
    if look == "through":
        level, spread = rng.uniform(10, 220), 20
    colour = level * (1 + rng.normal(0, 0.05 if look != "through" else 0.2, 3))
    waves = spread * noise(rng, piece.side, log_uniform(rng, 20, 200))
    return np.asarray(np.clip(colour + waves[..., None], 0, 255), np.float32)


def _lay_bare(piece: Piece, cover: FloatImage, ground: FloatImage, wound: NDArray[np.bool_]) -> None:
    """Shows the ground where ink is gone; asked for where that shows, neither asked for nor forbidden elsewhere.

    Nor is it forbidden to call it a line or a crack: on a data side the same looks are just that.
    """
    away = np.abs(cover[..., None] * (ground - piece.image)).max(-1)
    piece.image += cover[..., None] * (ground - piece.image)
    shows = cv2.dilate(cv2.blur(away, (3, 3)), np.ones((3, 3), np.uint8)) >= LEAST_LEVELS
    piece.masks["label"] |= (wound & shows).astype(np.uint8)
    piece.masks["faint"] |= wound.astype(np.uint8)


def _scratches(piece: Piece, ground: FloatImage, rng: np.random.Generator) -> None:
    for _ in range(int(log_uniform(rng, 1, 9))):
        start, heading = somewhere(piece, rng), rng.uniform(0, 2 * np.pi)
        length, bend, width = log_uniform(rng, 15, 500), rng.normal(0, 0.004), log_uniform(rng, 0.3, 6)
        across = np.array([-np.sin(heading), np.cos(heading)])
        depth, together = rng.uniform(0.3, 1), int(rng.integers(2, 7)) if rng.random() < 0.25 else 1
        for member in range(together):
            at = start + across * rng.normal(0, 15) * (member > 0)
            points = path(rng, at, heading + rng.normal(0, 0.03), length * rng.uniform(0.5, 1), bend, 0.006)
            knots = max(len(points) // 6, 2)
            torn = np.interp(np.linspace(0, 1, len(points)), np.linspace(0, 1, knots), rng.random(knots))
            profile = np.where(torn > rng.uniform(0, 0.5), depth, 0.0)
            cover = softened(stroke(piece, points, profile, width), piece.blur)
            wound = np.zeros((piece.side, piece.side), np.uint8)
            mark(wound, points - piece.corner, profile > 0.05, max(3, round(width) + 1))
            _lay_bare(piece, cover, ground, wound > 0)


def _chips(piece: Piece, ground: FloatImage, rng: np.random.Generator) -> None:
    for _ in range(int(log_uniform(rng, 1, 8))):
        wound = blob(piece, rng, somewhere(piece, rng), log_uniform(rng, 2, 50), rng.uniform(0.2, 0.6))
        _lay_bare(piece, softened(wound.astype(np.float32), max(piece.blur, 0.5)), ground, wound > 0)


def _rubbed(piece: Piece, ground: FloatImage, rng: np.random.Generator) -> None:
    """A region where ink is gone in grains."""
    region = blob(piece, rng, somewhere(piece, rng), log_uniform(rng, 20, 120), 0.4).astype(np.float32)
    grain = noise(rng, piece.side, log_uniform(rng, 2, 14)) > rng.uniform(-0.3, 1.2)
    wound = np.asarray(region * grain, np.float32)
    _lay_bare(piece, softened(wound, max(piece.blur, 0.5)) * rng.uniform(0.5, 1), ground, wound > 0)
