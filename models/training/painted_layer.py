"""Parted layers and lost reflector painted on pieces of flat discs."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from models.training.piece import FloatArray, Piece, blob, lay, log_uniform, noise, places, some_change, somewhere


def _layer_mask(piece: Piece, rng: np.random.Generator) -> NDArray[np.uint8]:
    """A patch that hangs on the rim or the hub, or lies in the middle."""
    towards = somewhere(piece, rng)
    place = rng.random()
    if place < 0.25:
        return blob(piece, rng, towards, log_uniform(rng, 8, 110), 0.4)
    x, y = places(piece)
    turn = np.arctan2(y, x) - np.arctan2(towards[1], towards[0])
    turn = (turn + np.pi) % (2 * np.pi) - np.pi
    half, depth = log_uniform(rng, 0.06, 1.2), log_uniform(rng, 12, 150)
    waves = sum(rng.normal(0, 0.25) / w * np.cos(w * turn / half + rng.uniform(0, 6)) for w in (1.5, 2.7, 4.2, 7.0))
    reach = depth * np.sqrt(np.clip(1 - (turn / half) ** 2, 0, 1)) * np.clip(1 + waves, 0.2, 2)
    radius = np.hypot(x, y)
    edge = piece.rim - rng.uniform(0, 15) if place < 0.8 else rng.uniform(185, 235)
    from_edge = edge - radius if place < 0.8 else radius - edge
    return ((from_edge > 0) & (from_edge < reach)).astype(np.uint8)


def _frayed(piece: Piece, rng: np.random.Generator, mask: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The patch with a border that frays, with islands before it and bays in it, and with holes."""
    inwards = cv2.distanceTransform(mask, cv2.DIST_L2, 3) - cv2.distanceTransform(1 - mask, cv2.DIST_L2, 3)
    frayed = sum(noise(rng, piece.side, scale) for scale in log_uniform(rng, 3, 40) / np.array([1.0, 2.5]))
    return np.asarray(inwards > log_uniform(rng, 0.8, 12) * frayed, np.uint8)


def _seen_through(piece: Piece, rng: np.random.Generator) -> FloatArray:
    """What the disc lies on, which shows where the mirror is gone: as it looks beside the disc, if that is seen."""
    outside = np.hypot(*places(piece)) > piece.rim + 4
    seen = piece.image[outside] if np.count_nonzero(outside) > 200 else rng.uniform(0, 255, (1, 3))
    grain = noise(rng, piece.side, log_uniform(rng, 1, 30))[..., None]
    table = seen.mean(0) + (seen.std(0) + rng.uniform(0, 12)) * grain
    return np.asarray(rng.uniform(0.6, 1.0) * table)


def add_layer(piece: Piece, rng: np.random.Generator) -> None:
    """A patch of failing mirror, in any of its looks."""
    mask = _layer_mask(piece, rng)
    if rng.random() < 0.6:
        mask = _frayed(piece, rng, mask)
    mask[np.hypot(*places(piece)) > piece.rim] = 0
    if not mask.any():
        return
    soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), log_uniform(rng, max(piece.blur, 0.6), 8 + piece.blur))
    side, strength = piece.side, rng.uniform(0.35, 1.0)
    uneven = np.clip(0.8 + 0.3 * noise(rng, side, log_uniform(rng, 4, 40)), 0, 1.3)
    cover = np.clip(soft * uneven * strength, 0, 1)
    grey = piece.image.mean(axis=2, keepdims=True)
    look = rng.choice(["milky", "lost", "table", "stain", "fringes", "dark"], p=[0.2, 0.15, 0.15, 0.25, 0.15, 0.1])
    if look == "milky":
        grains = log_uniform(rng, 3, 40) * noise(rng, side, log_uniform(rng, 1.5, 12))
        target = 0.4 * grey + rng.uniform(45, 190) + grains[..., None]
    elif look == "lost":
        print_ = rng.uniform(20, 230, 3) + 35 * noise(rng, side, log_uniform(rng, 3, 60))[..., None] * rng.uniform(
            -1, 1, 3
        )
        target = print_ + 0.1 * grey
    elif look == "table":
        target = _seen_through(piece, rng) + rng.uniform(0, 0.2) * grey
    elif look == "stain":
        target = piece.image * rng.uniform(0.3, 0.8) * np.array([0.7, 0.9, 1.0]) + rng.uniform(0, 30)
    elif look == "fringes":
        phase = cv2.GaussianBlur(cv2.distanceTransform(mask, cv2.DIST_L2, 5), (0, 0), 6) / log_uniform(rng, 4, 18)
        phase = phase + log_uniform(rng, 0.3, 3) * noise(rng, side, log_uniform(rng, 12, 60))
        hues = 1 + rng.uniform(0, 1) * np.array([0.25, 0.0, -0.15])
        target = piece.image + some_change(piece, rng, 20, 90) * np.cos(phase[..., None] * hues * np.pi)
    else:
        target = piece.image * rng.uniform(0.1, 0.5) + 6 * noise(rng, side, 5)[..., None]
    lay(piece, cover, target)
    piece.masks["layer"] |= mask
