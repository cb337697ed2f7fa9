"""Where the hairlines run that a polish leaves: seen, but no damage. The renderer draws them, and so does the paint."""

from __future__ import annotations

import numpy as np

from models.training.piece import log_uniform
from models.training.render.geometry import FloatArray
from models.training.render.marks import on_face

WAYS = ("around", "loops", "one_way", "at_an_angle")
"""About one place (a wheel, or the turning disc), in loops (a pad that orbits), all one way (a hand), or at one angle
to the radius (a disc that turns under a moving tool). Common practice, no source."""
INNER_MM, TO_RIM_MM = 18.0, 0.5
POINTS = 48
"""Of each stroke."""


def strokes(rng: np.random.Generator, count: int, outer_mm: float) -> list[FloatArray]:
    """About `count` paths (n, 2) in mm from the disc's centre, of one, two or three ways together."""
    together = int(rng.choice([1, 2, 3], p=[0.6, 0.25, 0.15]))
    paths = [path for _ in range(together) for path in _one_way(rng, max(count // together, 1), outer_mm)]
    runs = (on_face(path, INNER_MM, outer_mm - TO_RIM_MM) for path in paths)
    return [run for run in runs if len(run) > 5]


def _one_way(rng: np.random.Generator, count: int, outer_mm: float) -> FloatArray:
    """Arcs of circles (count, POINTS, 2), each about its own middle."""
    turn = rng.uniform(0, 2 * np.pi, count)
    middle = outer_mm * np.sqrt(rng.uniform(0.08, 1, count)) * np.exp(1j * turn)
    way = str(rng.choice(WAYS))
    bend = np.full(count, rng.normal(0, 0.008)) + rng.normal(0, 0.0015, count)
    if way == "around":
        away = middle - log_uniform(rng, 0.3, 60) * np.exp(1j * rng.uniform(0, 2 * np.pi))
        heading, bend = np.angle(away) + np.pi / 2, 1 / np.maximum(np.abs(away), 3.0)
    elif way == "loops":
        heading = rng.uniform(0, 2 * np.pi, count)
        bend = rng.choice([-1, 1], count) / (log_uniform(rng, 5, 90) * np.exp(rng.normal(0, 0.1, count)))
    elif way == "one_way":
        heading = np.full(count, rng.uniform(0, np.pi))
    else:
        heading = turn + rng.uniform(0, np.pi)
    heading = heading + rng.normal(0, log_uniform(rng, 0.005, 0.2), count)
    along = (log_uniform(rng, 4, 90) * rng.uniform(0.3, 1, count))[:, None] * np.linspace(-0.5, 0.5, POINTS)
    bend = np.where(np.abs(bend) < 1e-6, 1e-6, bend)[:, None]
    points = middle[:, None] + np.exp(1j * heading)[:, None] * np.expm1(1j * bend * along) / (1j * bend)
    return np.asarray(np.stack([points.real, points.imag], -1))
