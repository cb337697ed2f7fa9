"""One disc at random: what it is made of, and what befell it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from bench.other_light.areas import Flat
from bench.other_light.chance import Rng, log_uniform
from bench.other_light.optics import CLEAR_MM, Array

from .damage import Crack, Line, arcs, bunch, cracks, scuff, single, spot_mm, swirl
from .dirt import fingerprint, hairs, parted, specks, wiped
from .label import Sided, worn_or_label_up

CONDITIONS = (
    *("clean", "clean", "clean", "clean", "clean", "dirty", "dirty", "dirty", "polished", "polished"),
    *("light", "light", "light", "light", "heavy", "heavy", "arcs", "arcs", "cracked", "delaminated"),
)
"""As often as each stands here, in an order of each twenty's own."""
METALS = {
    ("cd", "pressed"): [(0.74, 0.74, 0.73)],
    ("dvd", "pressed"): [(0.66, 0.66, 0.65), (0.66, 0.6, 0.44), (0.6, 0.57, 0.5)],
    ("bd", "pressed"): [(0.34, 0.37, 0.46), (0.3, 0.32, 0.36)],
    ("cd", "recordable"): [
        *((0.34, 0.55, 0.42), (0.5, 0.6, 0.5), (0.24, 0.36, 0.66), (0.68, 0.56, 0.27), (0.55, 0.58, 0.45)),
    ],
    ("dvd", "recordable"): [(0.42, 0.32, 0.55), (0.38, 0.33, 0.6), (0.5, 0.42, 0.55)],
    ("bd", "recordable"): [(0.3, 0.28, 0.36), (0.36, 0.3, 0.25)],
}
ORDERS = {"cd": (0.06, 0.016, 0.006), "dvd": (0.06, 0.012), "bd": (0.05,)}
"""Shares of the light in the orders of the grating, from the first."""


@dataclass(frozen=True, kw_only=True)
class Disc(Sided):
    """Radii in mm; colours as reflectances (3,)."""

    clear_mm: float
    metal: Array
    metal_mm: tuple[float, float]
    written: Array
    """What the metal is multiplied by where it is written."""
    orders: Array
    banded: bool
    hub: Array
    """What the clear hub lets through."""
    hub_back: Array | None
    """The label's back, where it is printed over the hub."""
    edge: Array | None
    """Of its outermost millimetres, where they are printed."""
    stack_mm: float
    """Radius of the stacking ring."""
    dish: float
    """Slope at 60 mm from the centre."""
    astigmatism: tuple[float, float]
    """Slope, and its direction in radians."""
    lines: list[Line]
    cracks: list[Crack]
    sticker_mm: Array | None
    """Corners (4, 2)."""

    @property
    def end_mm(self) -> float:
        """Where the tracks end."""
        return self.rim_mm - 2


def condition_of(seed: int, number: int) -> str:
    order = np.random.default_rng([seed, number // len(CONDITIONS), 77]).permutation(len(CONDITIONS))
    return CONDITIONS[order[number % len(CONDITIONS)]]


def random_disc(rng: Rng, condition: str) -> Disc:
    kind = str(rng.choice(["cd", "dvd", "bd"], p=[0.45, 0.4, 0.15]))
    rim = 40.0 if kind != "bd" and rng.random() < 0.08 else 60.0
    recording = "pressed" if rng.random() < 0.6 else "recordable"
    burnt = recording == "recordable"
    tones = METALS[kind, recording]
    metal = np.array(tones[rng.integers(len(tones))]) * rng.uniform(0.85, 1.1) * rng.uniform(0.96, 1.04, 3)
    shade = rng.uniform(0.78, 0.95) * rng.uniform(0.94, 1.05, 3) if burnt else np.full(3, rng.uniform(0.95, 0.99))
    return Disc(
        format=kind,
        recording=recording,
        condition=condition,
        rim_mm=rim,
        clear_mm=CLEAR_MM[kind],
        metal=metal,
        metal_mm=(rng.uniform(18.0, 22.2), rim - rng.uniform(0.5, 1.6)),
        recorded_mm=(rng.uniform(22.3, 23.6), _written_to(rng, burnt, rim - 2)),
        written=shade,
        orders=np.array(ORDERS[kind]) * rng.uniform(0.5, 1.6) * (0.7 if burnt and kind != "cd" else 1),
        banded=rng.random() < 0.5,
        hub=np.array([0.88, 0.9, 0.88]) * (1 - 0.25 * rng.random() * (1 - metal / metal.max()) * burnt),
        hub_back=rng.uniform(0.1, 0.85) * rng.uniform(0.75, 1.15, 3) if rng.random() < 0.35 else None,
        edge=rng.uniform(0.2, 0.8) * rng.uniform(0.8, 1.1, 3) if rng.random() < 0.3 else None,
        stack_mm=rng.uniform(16.2, 17.6),
        dish=rng.normal(0, 0.004),
        astigmatism=(abs(rng.normal(0, 0.0025)), rng.uniform(0, np.pi)),
        lines=_lines(rng, condition, rim),
        cracks=list(cracks(rng, rim)) if condition == "cracked" else [],
        **_dirt(rng, condition, rim),
        sticker_mm=_sticker(rng, rim) if rng.random() < 0.05 else None,
    )


def disc_of(rng: Rng, seed: int, number: int, label_sides: float) -> Disc:
    """That of a photograph: see `worn_or_label_up`."""
    of_label = np.random.default_rng([seed, number, 78])
    return worn_or_label_up(of_label, label_sides, partial(random_disc, rng), condition_of(seed, number))


def _written_to(rng: Rng, burnt: bool, end_mm: float) -> float:
    if burnt and rng.random() < 0.7:
        return rng.uniform(26, end_mm - 1)
    if burnt:
        return end_mm if rng.random() < 0.6 else 0.0
    return rng.uniform(30, end_mm) if rng.random() < 0.4 else end_mm


def _lines(rng: Rng, condition: str, rim_mm: float) -> list[Line]:
    if condition == "polished":
        return list(swirl(rng, rim_mm))
    counts = {"light": (1, 14), "heavy": (30, 110), "arcs": (0, 12), "cracked": (0, 10), "delaminated": (0, 8)}
    lines: list[Line] = []
    if condition in counts:
        median_um = rng.uniform(22, 50)
        for _ in range(rng.integers(*counts[condition])):
            lines += single(rng, rim_mm, median_um)
    bunches = {"light": int(rng.random() < 0.25), "heavy": int(rng.integers(1, 6))}
    scuffs = {"light": int(rng.random() < 0.15), "heavy": int(rng.integers(0, 4))}
    for _ in range(bunches.get(condition, 0)):
        lines += bunch(rng, rim_mm)
    for _ in range(scuffs.get(condition, 0)):
        lines += scuff(rng, rim_mm)
    while condition == "arcs" and not any(line.kind == "ring_arc" for line in lines):
        lines += arcs(rng, rim_mm)
    return lines


def _dirt(rng: Rng, condition: str, rim_mm: float) -> dict[str, Any]:
    flat, size = Flat(rim_mm), (rim_mm / 60) ** 2
    grains = {
        "clean": float(rng.choice([0, 0, 1, 3, 5])),
        "dirty": size * log_uniform(rng, 15, 220),
        "polished": float(rng.integers(0, 15)),
    }
    count = int(grains.get(condition, size * rng.choice([0, 2, 8, 25, 60])))
    for chance in {"clean": (), "polished": (), "dirty": (0.85, 0.5)}.get(condition, (0.35,)):
        for _ in range(rng.choice([1, 1, 2, 3]) if rng.random() < chance else 0):
            (fingerprint if rng.random() < 0.65 else wiped)(rng, flat)
    while condition == "delaminated" and not any(area.kind == "delamination" for area in flat.areas):
        parted(rng, flat)
    dust = specks(rng, rim_mm, count), hairs(rng, rim_mm, int(rng.poisson(count / 30)))
    return {"specks": dust[0], "hairs": dust[1], "flat": flat}


def _sticker(rng: Rng, rim_mm: float) -> Array:
    turn, size = rng.uniform(-0.6, 0.6), rng.uniform([9, 5], [15, 9])
    box = size * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    turned = box @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return np.asarray(spot_mm(rng, rim_mm - 12, 24) + turned)
