"""One disc at random: its format, its metal or dye, and what befell it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
from bench.other_light.areas import Flat
from bench.other_light.chance import Rng, log_uniform
from bench.other_light.optics import CLEAR_MM, Array
from bench.third_light.label import Sided, worn_or_label_up

from . import dirt, parted
from .clutter import rectangle
from .cracks import Crack, cracks
from .hub import Hub, random_hub
from .lines import Line, ring_arcs, scratches, swirl

CONDITIONS = {
    "clean": 4,
    "dirty": 3,
    "polished": 1,
    "light": 4,
    "heavy": 3,
    "arcs": 2,
    "cracked": 2,
    "delaminated": 1,
}
"""Of each twenty photographs; on every second twenty one cracked is delaminated."""

METALS = {
    ("cd", "pressed"): [(0.84, 0.85, 0.86), (0.84, 0.85, 0.86), (0.80, 0.80, 0.80)],
    ("cd", "recordable"): [(0.42, 0.66, 0.58), (0.72, 0.74, 0.47), (0.66, 0.70, 0.62), (0.33, 0.45, 0.70)],
    ("dvd", "pressed"): [(0.74, 0.73, 0.72), (0.76, 0.75, 0.74), (0.66, 0.60, 0.40)],
    ("dvd", "recordable"): [(0.52, 0.38, 0.60), (0.46, 0.40, 0.66), (0.58, 0.42, 0.52)],
    ("bd", "pressed"): [(0.36, 0.38, 0.47), (0.42, 0.43, 0.49), (0.44, 0.41, 0.38)],
    ("bd", "recordable"): [(0.33, 0.26, 0.20), (0.26, 0.22, 0.21), (0.38, 0.31, 0.22)],
}
"""Linear light that comes back through the clear layer, by eye from photographs of such discs."""


@dataclass(frozen=True, kw_only=True)
class Disc(Sided):
    """All there is to see; what the truth tells is its base's."""

    metal_mm: tuple[float, float]
    metal: Array
    blank: Array
    """The metal's colour where nothing is written, as a share of it."""
    orders: tuple[float, ...]
    """Shares of light that go to the first, second and third order, on either side."""
    haze: float
    """Share that the pits send about."""
    bend: Array
    """(4, 2): slopes at the rim of dish, saddle, three-lobed and five-lobed bend, and where they lie."""
    hub: Hub
    lines: list[Line]
    cracks: list[Crack]
    sticker_mm: Array | None

    @property
    def clear_mm(self) -> float:
        return CLEAR_MM[self.format]


def condition_of(seed: int, number: int) -> str:
    twenty = number // 20
    names = [name for name, many in CONDITIONS.items() for _ in range(many)]
    if twenty % 2:
        names[names.index("cracked")] = "delaminated"
    return str(np.random.default_rng([seed, twenty, 4]).permutation(names)[number % 20])


def _bend(rng: Rng) -> Array:
    sizes = np.deg2rad([0.35, 0.18, 0.08, 0.03]) * rng.normal(0, 1, 4)
    return np.stack([sizes, rng.uniform(0, 2 * np.pi, 4)], 1)


def _sticker(rng: Rng, rim_mm: float) -> Array:
    place = rng.uniform(26, rim_mm - 12) * np.array([np.cos(turn := rng.uniform(0, 6.3)), np.sin(turn)])
    half, lie = np.array([rng.uniform(8, 14), rng.uniform(5, 9)]), rng.uniform(0, np.pi)
    return rectangle(place, half, lie)


def _orders(rng: Rng, form: str, recording: str) -> tuple[float, ...]:
    gain = rng.uniform(0.6, 1.4) * (1.0 if recording == "pressed" else 0.7)
    shares = {"cd": (0.09, 0.03, 0.012), "dvd": (0.09,), "bd": (0.07,)}[form]
    return tuple(share * gain for share in shares)


def _lines(rng: Rng, condition: str, rim_mm: float) -> list[Line]:
    if condition == "polished":
        left = scratches(rng, rim_mm, int(rng.integers(0, 4))) if rng.random() < 0.5 else []
        return swirl(rng, rim_mm) + left
    if condition == "light":
        return scratches(rng, rim_mm, int(rng.integers(1, 16)))
    if condition == "heavy":
        return scratches(rng, rim_mm, int(log_uniform(rng, 35, 200)), rng.uniform(0.035, 0.075))
    if condition == "arcs":
        return ring_arcs(rng, rim_mm, int(rng.integers(1, 5))) + scratches(rng, rim_mm, int(rng.integers(0, 9)))
    if condition in ("cracked", "delaminated"):
        return scratches(rng, rim_mm, int(rng.integers(0, 12)))
    return []


def random_disc(rng: Rng, condition: str) -> Disc:
    form = str(rng.choice(["cd", "dvd", "bd"], p=[0.4, 0.38, 0.22]))
    recording = "recordable" if rng.random() < 0.3 else "pressed"
    rim = 40.0 if rng.random() < 0.08 else 60.0
    rim += rng.uniform(-0.05, 0.05)
    begin = rng.uniform(20.5, 22.8) if recording == "recordable" else rng.uniform(17.5, 22)
    metal_mm = (begin, rim - rng.uniform(0.5, 1.6))
    choices = METALS[form, recording]
    metal = np.array(choices[int(rng.integers(len(choices)))]) * rng.normal(1, 0.03, 3)
    first = {"cd": 23.0, "dvd": 22.6, "bd": 22.0}[form]  # ECMA-130 (from memory), ECMA-267 10.6.1, BD-ROM paper 12
    full = rng.random() < (0.35 if recording == "recordable" else 0.75)
    until = metal_mm[1] - 0.6 if full else rng.uniform(first + 5, metal_mm[1] - 1)
    if recording == "recordable" and rng.random() < 0.2:
        until = 0.0
    flat = Flat(rim)
    dirty = {"dirty": 4.0, "clean": 0.0, "polished": 0.2}.get(condition, 0.6)
    if condition == "delaminated":
        for _ in range(int(rng.integers(1, 4))):
            parted.part(rng, flat, metal_mm, str(rng.choice(parted.STYLES)))
        while not flat.areas:
            parted.part(rng, flat, metal_mm, "milky")
    dirt.soil(rng, flat, dirty)
    dusty = log_uniform(rng, 1, 150) if condition == "dirty" else log_uniform(rng, 0.5, 40)
    return Disc(
        format=form,
        recording=recording,
        condition=condition,
        rim_mm=rim,
        recorded_mm=(first, until),
        flat=flat,
        specks=dirt.specks(rng, rim, int(dusty)),
        hairs=dirt.hairs(rng, rim, int(rng.poisson(1.5 if condition == "dirty" else 0.4))),
        metal_mm=metal_mm,
        metal=metal,
        blank=rng.uniform(1.0, 1.12) * (1 + rng.uniform(-0.05, 0.05, 3)),
        orders=_orders(rng, form, recording),
        haze=log_uniform(rng, 0.004, 0.03),
        bend=_bend(rng),
        hub=random_hub(rng, form, recording, begin),
        lines=_lines(rng, condition, rim),
        cracks=cracks(rng, rim) if condition == "cracked" else [],
        sticker_mm=_sticker(rng, rim) if rng.random() < 0.05 else None,
    )


def disc_of(rng: Rng, seed: int, number: int, label_sides: float) -> Disc:
    """That of a photograph: see `worn_or_label_up`."""
    of_label = np.random.default_rng([seed, number, 5])
    return worn_or_label_up(of_label, label_sides, partial(random_disc, rng), condition_of(seed, number))
