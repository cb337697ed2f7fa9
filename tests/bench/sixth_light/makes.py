"""One disc at random: how it is made, and what befell it. Radii in mm, reflectances as shares (3,)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from bench.other_light.areas import Flat
from bench.other_light.chance import Rng, blob_mm, colour, log_uniform, spot_mm
from bench.other_light.optics import CLEAR_MM, Array, rgb
from bench.other_light.truth import Disc as Known

from .breaks import Crack, cracks
from .parting import STYLES, part
from .soil import dried_drops, dust, fibres, fingerprint, smear
from .strokes import Stroke, polish, ring_arcs, scratches

CONDITIONS = (
    *("clean", "scratched", "dusty", "heavy", "greasy", "arcs", "cracked", "scratched", "polished", "delaminated"),
    *("mixed", "heavy", "arcs", "clean", "scratched", "delaminated", "cracked", "greasy", "mixed", "arcs"),
)
"""Photograph n shows that of n modulo their number."""
PRESSED = {"cd": [0.88, 0.89, 0.90], "dvd": [0.84, 0.85, 0.86], "bd": [0.22, 0.24, 0.32]}
GOLD_LAYER = [0.85, 0.72, 0.45]
DYES = {
    "cd": ([0.60, 0.80, 0.72], [0.55, 0.76, 0.86], [0.42, 0.52, 0.84], [0.90, 0.76, 0.42], [0.66, 0.80, 0.58]),
    "dvd": ([0.62, 0.46, 0.76], [0.70, 0.52, 0.62], [0.48, 0.44, 0.80], [0.78, 0.66, 0.60]),
    "bd": ([0.30, 0.24, 0.22], [0.40, 0.34, 0.22], [0.24, 0.24, 0.32]),
}
SCRATCHES = {"scratched": (6, 30), "heavy": (70, 220), "mixed": (8, 70), "cracked": (1, 15), "delaminated": (1, 12)}


@dataclass(frozen=True, kw_only=True)
class Disc(Known):
    clear_mm: float
    reflectance: Array
    written: Array
    """Reflectance where it is written, as a share of that elsewhere."""
    orders: dict[int, float]
    """Share of the light in each order of the track."""
    straight: float
    """Share that is mirrored in the ordinary way."""
    metal_mm: tuple[float, float]
    tracks_mm: float
    rings: list[tuple[float, float, float]]
    """Moulded rings: radius, half width, slope."""
    hub: Array
    """What the clear plastic lets through."""
    printed_mm: float
    """From where on ink covers the back; the ink shows through what is clear."""
    ink: Array
    bowl: Array
    """(2, 2): slope of the face at the rim, as a share; a disc is never quite flat."""
    codes: int
    """Seed of what is written about the hub."""
    haze: float
    lines: list[Stroke]
    cracks: list[Crack]
    sticker_mm: Array | None
    """What is left of a paper sticker: outline (n, 2)."""


def _orders(rng: Rng, disc_format: str, recordable: bool) -> dict[int, float]:
    first = log_uniform(rng, 0.04, 0.13) * (1.25 if recordable else 1.0)
    lopsided = rng.uniform(0.8, 1.25)
    orders = {1: first, -1: first * lopsided}
    if disc_format == "cd":
        second = first * rng.uniform(0.12, 0.5)
        orders |= {2: second, -2: second * lopsided, 3: 0.3 * second, -3: 0.3 * second}
    return orders


def _worn(rng: Rng, condition: str, rim_mm: float) -> list[Stroke]:
    size = (rim_mm / 60) ** 2
    if condition in SCRATCHES:
        count = max(1, int(log_uniform(rng, *SCRATCHES[condition]) * size))
    else:
        count = 0 if condition == "clean" else int(rng.integers(0, 5))
    lines = scratches(rng, rim_mm, count)
    if condition == "arcs":
        lines += ring_arcs(rng, rim_mm, int(rng.integers(1, 6)))
    elif condition in ("heavy", "mixed"):
        lines += ring_arcs(rng, rim_mm, int(rng.integers(0, 3)))
    return lines + (polish(rng, rim_mm) if condition == "polished" else [])


def _soiled(rng: Rng, condition: str, rim_mm: float, metal_mm: tuple[float, float], disc_format: str) -> Flat:
    flat = Flat(rim_mm)
    prints = int(rng.integers(1, 6)) if condition in ("greasy", "mixed") else int(rng.random() < 0.12)
    if prints and rng.random() < 0.5 and condition == "greasy":  # several of one hand
        turn = rng.uniform(0, 2 * np.pi)
        for k in range(prints):
            fingerprint(rng, flat, (rim_mm - rng.uniform(4, 12)) * np.array([np.cos(turn + 0.4 * k), np.sin(turn)]))
    else:
        for _ in range(prints):
            fingerprint(rng, flat)
    if condition == "greasy":
        for _ in range(int(rng.integers(0, 4))):
            smear(rng, flat)
        if rng.random() < 0.45:
            dried_drops(rng, flat)
    if condition == "delaminated" or (condition == "mixed" and rng.random() < 0.3):
        weights = [0.25, 0.25, 0.3, 0.2] if disc_format == "cd" else [0.4, 0.45, 0.05, 0.1]
        for _ in range(int(rng.choice([1, 1, 2, 3]))):
            part(rng, flat, str(rng.choice(STYLES, p=weights)), metal_mm[0] + 0.1, metal_mm[1] - 0.05)
    return flat


def random_disc(rng: Rng, condition: str) -> Disc:
    disc_format = str(rng.choice(["cd", "dvd", "bd"], p=[0.42, 0.40, 0.18]))
    recordable = bool(rng.random() < 0.35)
    rim = 40.0 if rng.random() < 0.07 else 60.0
    metal = float(rng.uniform(17.5, 22.2)), rim - float(rng.uniform(0.25, 1.6))
    until = rim - rng.uniform(1.8, 2.4) if rng.random() < 0.4 else rng.uniform(28, rim - 2.5)
    if recordable:
        tint = np.array(DYES[disc_format][rng.integers(len(DYES[disc_format]))])
        if rng.random() < 0.1:
            until = 0.0  # nothing written yet
    else:
        layered = disc_format == "dvd" and rng.random() < 0.45
        tint = np.array(GOLD_LAYER if layered else PRESSED[disc_format])
    written = colour(rng, 0.8, 0.95, 0.06) if recordable else rgb(1, 1, 1)
    dusty = condition == "dusty"
    cracked = condition == "cracked" or (condition == "mixed" and rng.random() < 0.25)
    rings = [(7.75, 0.2, -0.5), (rim - 0.1, 0.12, 0.6), (rng.uniform(16.2, 17.8), rng.uniform(0.2, 0.6), 0.25)]
    rings += [(rng.uniform(9, 22), rng.uniform(0.06, 0.25), rng.normal(0, 0.12)) for _ in range(rng.integers(1, 4))]
    return Disc(
        format=disc_format,
        recording="recordable" if recordable else "pressed",
        condition="dirty" if condition in ("dusty", "greasy") else condition,
        rim_mm=rim,
        clear_mm=CLEAR_MM[disc_format],
        reflectance=(tint * rng.uniform(0.9, 1.06) * colour(rng, 1, 1, 0.03)).clip(0.05, 0.95).astype(np.float32),
        written=written,
        orders=_orders(rng, disc_format, recordable),
        straight=float(rng.uniform(0.5, 0.8)),
        metal_mm=metal,
        tracks_mm=float(rng.uniform(22.0, 23.0)),
        recorded_mm=(float(rng.uniform(23.2, 24.9)), float(until)),
        rings=rings,
        hub=colour(rng, 0.8, 0.95, 0.04) * rgb(1, 0.93, 0.7 if rng.random() < 0.15 else 0.95),
        printed_mm=float(rng.choice([8.5, 11.5, metal[0] - 1, 23.0], p=[0.1, 0.15, 0.3, 0.45])),
        ink=rgb(0.75, 0.75, 0.75) if rng.random() < 0.5 else colour(rng, 0.06, 0.7, rng.choice([0.1, 0.5])),
        bowl=rng.normal(0, 0.0035) * np.eye(2) + rng.normal(0, 0.0012, (2, 2)),
        codes=int(rng.integers(2**31)),
        haze=log_uniform(rng, 0.002, 0.02),
        lines=_worn(rng, condition, rim),
        cracks=cracks(rng, rim) if cracked else [],
        flat=_soiled(rng, condition, rim, metal, disc_format),
        specks=dust(rng, rim, int(log_uniform(rng, 3, 30) * (14 if dusty else 1))),
        hairs=fibres(rng, rim, int(rng.integers(6, 40)) if dusty else int(rng.integers(0, 4))),
        sticker_mm=blob_mm(rng, spot_mm(rng, rim), rng.uniform(3, 8), 0.25) if rng.random() < 0.04 else None,
    )
