"""What the rings net learns from: bands about poses that are a little wrong, and where the edge lies in them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from discscan.locate.conics import apply, centring_motion, without_turn
from discscan.locate.pose import COARSE, FINE
from discscan.locate.rings import CELLS, band, direction_angles
from discscan.locate.unroll import close_up
from discscan.records import Ellipse, FloatArray
from models.training.render.geometry import HOLE_MM

HIDDEN = -1.0
LOCATOR_OFF, FIRST_FIT_OFF = 0.028, 0.006
"""Standard deviations by which training poses are off, in rims: wider than what is met, for the tails."""


def bands_of(
    bgr: NDArray[np.uint8], disc: dict[str, Any], edges_seen: NDArray[np.bool_], rng: np.random.Generator
) -> list[tuple[NDArray[np.uint8], int, FloatArray]]:
    """Rim and hole of one disc, close up with a coarse pose and in the photograph with a nearly right one.

    Returns:
        for each: the band, 0 rim or 1 hole, and per direction the edge's place in cells, HIDDEN where it is not seen.
    """
    true = without_turn(np.array(disc["homography_px_to_mm"]))
    rim = Ellipse(**disc["outer_ellipse_px"])
    near, to_near = close_up(bgr, rim)
    found = []
    for image, to_image, off, reaches in ((near, to_near, LOCATOR_OFF, COARSE), (bgr, np.eye(3), FIRST_FIT_OFF, FINE)):
        true_here = true @ np.linalg.inv(to_image)
        posed = _wrong(true_here, disc["diameter_mm"] / 2, off, rng)
        for which, radius in enumerate((disc["diameter_mm"] / 2, HOLE_MM)):
            place = edge_cells(true_here, posed, edges_seen[which], radius=radius, reach=reaches[which])
            found.append((band(image, posed, radius=radius, reach=reaches[which]), which, place))
    return found


def _wrong(px_to_mm: FloatArray, rim_mm: float, off: float, rng: np.random.Generator) -> FloatArray:
    """A pose off by some: shifted, stretched along two axes, its centre moved as by a wrong tilt."""
    unit = np.diag([1 / rim_mm, 1 / rim_mm, 1.0])
    spread = off * rng.exponential(0.8, 4)
    turn = rng.uniform(0, np.pi)
    c, s = np.cos(turn), np.sin(turn)
    turned = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])
    stretch = turned.T @ np.diag([1 + rng.normal(0, spread[0]), 1 + rng.normal(0, spread[1]), 1.0]) @ turned
    shift = np.eye(3)
    shift[:2, 2] = rng.normal(0, spread[2], 2)
    return np.asarray(
        np.linalg.inv(unit) @ shift @ stretch @ centring_motion(*rng.normal(0, spread[3], 2)) @ unit @ px_to_mm
    )


def edge_cells(
    true_px_to_mm: FloatArray, posed_px_to_mm: FloatArray, seen: NDArray[np.bool_], *, radius: float, reach: float
) -> FloatArray:
    """Where a circle's edge lies in the band of a wrong pose: in cells, float64 (DIRECTIONS,), or HIDDEN."""
    turn = np.linspace(0, 2 * np.pi, len(seen), endpoint=False)
    circle = radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    x, y = apply(posed_px_to_mm @ np.linalg.inv(true_px_to_mm), circle).T
    angle, at = np.arctan2(y, x) % (2 * np.pi), np.hypot(x, y)
    order = np.argsort(angle)
    wanted = direction_angles()
    edge = np.interp(wanted, angle[order], at[order], period=2 * np.pi)
    shows = np.interp(wanted, angle[order], seen[order].astype(float), period=2 * np.pi) > 0.5
    cells = ((edge / radius - 1.0) / reach + 1.0) * (CELLS / 2) - 0.5
    return np.where(shows & (cells > -0.5) & (cells < CELLS - 0.5), cells, HIDDEN)
