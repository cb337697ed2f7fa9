"""Light that is no damage, painted on pieces of flat discs: what is not shown in training becomes a false alarm."""

from __future__ import annotations

import cv2
import numpy as np

from models.training.piece import Piece, blend, log_uniform, places, some_change, somewhere


def shine(piece: Piece, rng: np.random.Generator) -> None:
    """Streaks of lamps on a quarter of the pieces, reflections on a fifth."""
    for chance, add in ((0.25, _streaks), (0.2, _reflection)):
        if rng.random() < chance:
            add(piece, rng)


def _streaks(piece: Piece, rng: np.random.Generator) -> None:
    """Lamps' streaks in the rainbow: along the radius, as wide as an angle, of a colour that changes outwards."""
    x, y = places(piece)
    radius, turn = np.hypot(x, y), np.arctan2(y, x)
    inner, outer = rng.uniform(200, 250), piece.rim - rng.uniform(8, 25)
    on_track = np.clip((radius - inner) / 3, 0, 1) * np.clip((outer - radius) / 3, 0, 1)
    for _ in range(int(log_uniform(rng, 1, 7))):
        towards = somewhere(piece, rng)
        half, blunt = log_uniform(rng, 0.0015, 0.09), rng.uniform(0.7, 2.5)
        away = turn - np.arctan2(towards[1], towards[0]) - rng.normal(0, 0.00008) * (radius - 400)
        away = (away + np.pi) % (2 * np.pi) - np.pi
        shape = np.exp(-((np.abs(away) / half) ** (2 * blunt)))
        knots = int(rng.integers(2, 9))  # strong here, weak there, and of another colour
        level = np.interp(radius, np.linspace(200, piece.rim, knots), rng.uniform(0.05, 1, knots))
        hue = np.interp(radius, np.linspace(200, piece.rim, 4), rng.uniform(0, 1) + np.cumsum(rng.normal(0, 0.3, 4)))
        waves = [0.5 + 0.5 * np.cos(2 * np.pi * (hue - k / 3)) for k in range(3)]
        colour = np.stack(waves, -1) * rng.uniform(0, 1) + rng.uniform(0.2, 1)
        cover = cv2.GaussianBlur((shape * level * on_track).astype(np.float32), (0, 0), piece.blur)
        piece.image += (cover[..., None] * colour * log_uniform(rng, 10, 200)).astype(np.float32)
    np.clip(piece.image, 0, 255, out=piece.image)


def _reflection(piece: Piece, rng: np.random.Generator) -> None:
    """Things in the mirror: patches with straight or round borders, brighter or darker, more or less sharp."""
    x, y = places(piece)
    mirror = (np.hypot(x, y) > 190) & (np.hypot(x, y) < piece.rim - 10)
    for _ in range(int(rng.integers(1, 4))):
        shape = np.zeros((piece.side, piece.side), np.uint8)
        middle = rng.uniform(0, piece.side, 2)
        size = log_uniform(rng, 12, 260)
        if rng.random() < 0.65:
            turn = np.sort(rng.uniform(0, 2 * np.pi, int(rng.integers(3, 7))))
            corners = middle + size * np.stack([np.cos(turn), np.sin(turn)], 1)
            cv2.fillPoly(shape, [np.round(corners * 16).astype(np.int32)], 1, cv2.LINE_8, 4)
        else:
            axes = (np.array([1, rng.uniform(0.4, 1)]) * size * 0.6 * 16).astype(int).tolist()
            where = np.round(middle * 16).astype(int).tolist()
            cv2.ellipse(shape, where, axes, float(rng.uniform(0, 180)), 0, 360, 1, -1, cv2.LINE_8, 4)
        soft = cv2.GaussianBlur((shape * mirror).astype(np.float32), (0, 0), log_uniform(rng, max(piece.blur, 0.7), 15))
        blend(piece, np.asarray(soft, np.float32), some_change(piece, rng, 8, 110))
