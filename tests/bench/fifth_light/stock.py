"""What discs there are: their metal and dye as a camera sees them, where tracks lie, how strongly they bend light.

Colours were chosen by eye from what such discs look like (common practice, no source); radii from FACTS, 1.1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from bench.other_light.chance import Rng
from bench.other_light.optics import Array


@dataclass(frozen=True)
class Stock:
    """One disc's make."""

    name: str
    format: str
    recording: str
    mirror: Array
    """(3,): of light straight on, what the data layer sends back mirrored, through the dye twice."""
    written: Array
    """(3,): times this where something is recorded."""
    dye: Array
    """(3,): of the bent light; deep dyes colour it less than the mirrored."""
    bends: tuple[float, ...]
    """Shares of light in the orders 1, 2, 3 on either side."""
    pits: tuple[float, float, float]
    """Share of the bent light that pits spread along the track; deviations of the rest and of that share, in sines."""
    ragged: float
    rim_tint: Array
    """(3,): of what shows through the clear border."""


_MAKES: tuple[tuple[float, str, str, str, tuple[float, float, float], tuple[float, float, float], float], ...] = (
    # how often, name, format, recording, colour of the mirror, of bent light, strength of the orders
    (0.24, "aluminium", "cd", "pressed", (0.66, 0.665, 0.66), (1.0, 1.0, 1.0), 0.11),
    (0.03, "gold", "cd", "pressed", (0.70, 0.58, 0.34), (1.0, 0.85, 0.5), 0.11),
    (0.06, "light green", "cd", "recordable", (0.56, 0.58, 0.42), (1.0, 1.0, 0.75), 0.05),
    (0.05, "gold-green", "cd", "recordable", (0.58, 0.52, 0.24), (1.0, 0.92, 0.5), 0.05),
    (0.05, "cyan-green", "cd", "recordable", (0.36, 0.53, 0.48), (0.8, 1.0, 0.95), 0.05),
    (0.05, "bluish silver", "cd", "recordable", (0.47, 0.50, 0.56), (0.9, 0.95, 1.0), 0.055),
    (0.03, "deep blue", "cd", "recordable", (0.17, 0.26, 0.52), (0.55, 0.7, 1.0), 0.05),
    (0.03, "rewritable", "cd", "rewritable", (0.30, 0.29, 0.31), (1.0, 0.97, 1.0), 0.05),
    (0.15, "one layer", "dvd", "pressed", (0.58, 0.565, 0.575), (1.0, 1.0, 1.0), 0.10),
    (0.09, "two layers", "dvd", "pressed", (0.55, 0.48, 0.33), (1.0, 0.93, 0.72), 0.09),
    (0.07, "violet", "dvd", "recordable", (0.33, 0.24, 0.46), (0.85, 0.65, 1.0), 0.06),
    (0.03, "red-violet", "dvd", "recordable", (0.44, 0.28, 0.40), (1.0, 0.7, 0.95), 0.06),
    (0.03, "rewritable", "dvd", "rewritable", (0.30, 0.295, 0.32), (1.0, 0.98, 1.0), 0.06),
    (0.07, "pressed", "bd", "pressed", (0.31, 0.34, 0.44), (0.8, 0.9, 1.0), 0.05),
    (0.015, "brown", "bd", "recordable", (0.25, 0.20, 0.18), (1.0, 0.9, 0.8), 0.05),
    (0.01, "bluish dark", "bd", "recordable", (0.17, 0.19, 0.27), (0.8, 0.9, 1.0), 0.05),
    (0.01, "rewritable", "bd", "rewritable", (0.20, 0.20, 0.22), (1.0, 1.0, 1.0), 0.05),
)


def stock(rng: Rng) -> Stock:
    """One at random, in the shares in which they come used (common practice, no source)."""
    shares = np.array([make[0] for make in _MAKES])
    _, name, disc_format, recording, mirror, dye, bends = _MAKES[int(rng.choice(len(_MAKES), p=shares / shares.sum()))]
    tint = np.array(mirror) * np.exp(rng.normal(0, 0.03, 3)) * rng.uniform(0.9, 1.08)
    written = np.ones(3)
    if recording == "recordable":
        written = rng.uniform(0.82, 0.97) * np.exp(rng.normal(0, 0.02, 3))
    elif recording == "rewritable":
        written = rng.uniform(0.78, 1.18) * np.exp(rng.normal(0, 0.01, 3))
    elif rng.random() < 0.4:
        written = rng.uniform(0.93, 1.0) * np.ones(3)
    strength = bends * np.exp(rng.normal(0, 0.25))
    orders = (strength, strength * rng.uniform(0.25, 0.7), strength * rng.uniform(0.05, 0.25))
    pale = np.array(dye) ** rng.uniform(0.6, 1.2)
    rim = np.array(mirror) / max(mirror) * rng.uniform(0.6, 1.0)
    kind = "pressed" if recording == "pressed" else "recordable"
    pits = (
        float(rng.uniform(0.2, 0.5) if kind == "pressed" else rng.uniform(0.05, 0.25)),
        float(rng.uniform(0.005, 0.014)),
        float(rng.uniform(0.06, 0.2)),
    )
    ragged = 0.01 * rng.uniform(0.3, 2)
    return Stock(name, disc_format, kind, tint, np.asarray(written), pale, orders, pits, ragged, rim)


METAL_FROM_MM = {"cd": (17.5, 21.5), "dvd": (19.5, 22.0), "bd": (20.5, 21.8)}
"""Where the metal begins (common practice, no source)."""
TRACK_FROM_MM = {"cd": 22.8, "dvd": 22.5, "bd": 22.0}
"""FACTS, 1.1: lead-in; CD 23 less the calibration area of recordables, DVD 22.6, BD 22.0."""
