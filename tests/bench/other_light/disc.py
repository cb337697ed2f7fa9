"""One disc at random: what it is made of, and what befell it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .areas import HOLE_MM, Flat, dried_drop, fingerprint, hairs, parted, specks, wiped_grease
from .chance import Rng, colour, log_uniform
from .lines import Line, crack_paths, ring_arcs, scratches, swirl
from .optics import CLEAR_MM, PITCH_NM, Array, rgb
from .truth import Disc as Known

CONDITIONS = (
    *("clean", "scratched", "dirty", "arcs", "cracked", "scratched", "delaminated", "clean", "polished", "scratched"),
    *("dirty", "clean", "arcs", "mixed", "scratched", "cracked", "delaminated", "dirty", "clean", "scratched"),
)
"""Photo n shows that of n modulo their number."""
DYES = {
    "cd": ([0.62, 0.80, 0.74], [0.55, 0.78, 0.62], [0.85, 0.72, 0.40], [0.50, 0.62, 0.86]),
    "dvd": ([0.62, 0.50, 0.74], [0.72, 0.58, 0.66], [0.55, 0.48, 0.80]),
    "bd": ([0.34, 0.27, 0.25], [0.42, 0.36, 0.26]),
}


@dataclass(frozen=True, kw_only=True)
class Disc(Known):
    """Radii in mm; reflectances as shares (3,)."""

    clear_mm: float
    pitch_nm: float
    reflectance: Array
    orders: dict[int, float]
    """Share of the light in each order of the grating but the nought."""
    straight: float
    """Share in the order nought."""
    metal_mm: tuple[float, float]
    tracks_from_mm: float
    recorded_shade: float
    rings: list[tuple[float, float, float]]
    """Moulded rings: radius, width, slope."""
    hub: Array
    """What the clear hub lets through."""
    printed: Array
    """Colour of the label's back, seen where a CD's reflector is lost."""
    lines: list[Line]
    cracks_mm: list[Array]
    dust: Array
    """Colour."""


def _reflectance(rng: Rng, kind: str, recording: str) -> Array:
    if recording == "recordable":
        tint = np.array(DYES[kind][rng.integers(len(DYES[kind]))]) * rng.uniform(0.75, 1.05)
    elif kind == "bd":
        tint = np.array([0.36, 0.40, 0.50]) * rng.uniform(0.6, 1.2)
    elif kind == "dvd" and rng.random() < 0.4:  # two layers, the upper one of gold or silicon
        tint = np.array([0.78, 0.68, 0.42]) * rng.uniform(0.8, 1.05)
    else:  # aluminium reflects 0.87 to 0.92 in visible light (from memory)
        tint = np.array([0.87, 0.88, 0.88]) * (0.95 + 0.05 * rng.random(3))
    return tint.clip(0.03, 0.93).astype(np.float32)


def _orders(rng: Rng, kind: str) -> dict[int, float]:
    first = rng.uniform(0.05, 0.16)
    orders = {1: first, -1: first * rng.uniform(0.8, 1.2)}
    if kind == "cd":
        second = first * rng.uniform(0.15, 0.5)
        orders |= {2: second, -2: second, 3: first * 0.1, -3: first * 0.1}
    return orders


def _lines(rng: Rng, condition: str, rim_mm: float) -> list[Line]:
    size = (rim_mm / 60) ** 2
    few = int(rng.integers(0, 2 if condition == "clean" else 4)) if rng.random() < 0.5 else 0
    most = {"scratched": (20, 143), "arcs": (3, 32), "mixed": (8, 65), "cracked": (1, 26), "delaminated": (1, 26)}
    count = int(log_uniform(rng, *most[condition]) * size) if condition in most else few
    arcs = max(1, int(log_uniform(rng, 2.6, 16) * size)) if condition == "arcs" else 0
    if condition in ("scratched", "mixed"):
        arcs = int(rng.integers(0, 3))
    lines = scratches(rng, rim_mm, count) + ring_arcs(rng, rim_mm, arcs)
    return lines + (swirl(rng, rim_mm, int(log_uniform(rng, 150, 900) * size)) if condition == "polished" else [])


def _areas(rng: Rng, condition: str, kind: str, rim_mm: float) -> Flat:
    flat = Flat(rim_mm)
    greasy = condition in ("dirty", "mixed")
    if greasy or rng.random() < 0.15:
        for _ in range(rng.integers(1, 6) if greasy else 1):
            fingerprint(rng, flat)
    if condition == "dirty":
        for _ in range(rng.integers(0, 4)):
            wiped_grease(rng, flat)
        for _ in range(rng.integers(2, 18) if rng.random() < 0.5 else 0):
            dried_drop(rng, flat)
    if condition == "delaminated" or (condition == "mixed" and rng.random() < 0.35):
        for _ in range(rng.choice([1, 1, 1, 2, 3])):
            parted(rng, flat, str(rng.choice(["milky", "fringes", "stain", "lost" if kind == "cd" else "fringes"])))
    return flat


def random_disc(rng: Rng, condition: str) -> Disc:
    kind = str(rng.choice(["cd", "dvd", "bd"], p=[0.43, 0.43, 0.14]))
    recording = "recordable" if rng.random() < 0.33 else "pressed"
    rim = 40.0 if rng.random() < 0.08 else 60.0
    metal = rng.uniform(18, 21.8), rim - rng.uniform(0.5, 1.3)
    full = recording == "pressed" and rng.random() < 0.5
    until = rim - rng.uniform(1.3, 2.1) if full else rng.uniform(30 if rim > 50 else 26, rim - 2)
    cracked = condition == "cracked" or (condition == "mixed" and rng.random() < 0.2)
    dirty = condition == "dirty"
    sign = rng.choice([-1, 1], 2)
    return Disc(
        format=kind,
        recording=recording,
        condition=condition,
        rim_mm=rim,
        clear_mm=CLEAR_MM[kind],
        pitch_nm=PITCH_NM[kind],
        reflectance=_reflectance(rng, kind, recording),
        orders=_orders(rng, kind),
        straight=rng.uniform(0.55, 0.8),
        metal_mm=metal,
        tracks_from_mm=rng.uniform(21.9, 23.2),
        recorded_mm=(rng.uniform(23.7, 25), until),
        recorded_shade=rng.uniform(0.75, 1.12) if recording == "recordable" else rng.uniform(0.93, 1.04),
        rings=[
            (rng.uniform(15.5, 18), rng.uniform(0.25, 0.9), rng.uniform(0.04, 0.25) * sign[0]),
            (rng.uniform(10.5, 13), rng.uniform(0.1, 0.4), rng.uniform(0.02, 0.1)),
            (rng.uniform(18, 21.5), rng.uniform(0.1, 0.3), rng.uniform(0.03, 0.15) * sign[1]),
            (HOLE_MM + 0.25, 0.3, -0.4),
            (rim - 0.12, 0.2, 0.5),
        ],
        hub=rgb(0.84, 0.80, 0.56) if rng.random() < 0.2 else rgb(0.93, 0.94, 0.94),
        printed=colour(rng, 0.08, 0.6, 0.5),
        lines=_lines(rng, condition, rim),
        cracks_mm=crack_paths(rng, rim, HOLE_MM) if cracked else [],
        flat=_areas(rng, condition, kind, rim),
        specks=specks(rng, rim, int(log_uniform(rng, 3, 25) * (12 if dirty else 1))),
        hairs=hairs(rng, rim, int(rng.integers(3, 22) if dirty else rng.integers(0, 3))),
        dust=colour(rng, 0.25, 0.8, 0.1),
    )
