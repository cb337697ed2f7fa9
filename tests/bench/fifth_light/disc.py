"""One disc at random: its make, what is recorded, and what befell it, by its condition."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from bench.other_light.areas import Flat
from bench.other_light.chance import Rng, log_uniform
from bench.other_light.optics import Array
from bench.other_light.truth import Disc as Told

from .decay import STYLES, part
from .fracture import Crack, cracks
from .grime import dried_water, dust, finger_mark, lint, sticker, wiped
from .stock import METAL_FROM_MM, TRACK_FROM_MM, Stock, stock
from .wear import Line, arcs, polish, scratches

CONDITIONS = {"clean": 4, "dirty": 3, "polished": 1, "light": 5, "heavy": 4, "cracked": 2, "delaminated": 1}
"""Of the first twenty photographs and every second twenty after."""
OTHER_CONDITIONS = {
    "clean": 4, "dirty": 3, "polished": 1, "light": 4, "heavy": 4, "cracked": 1, "broken": 1, "delaminated": 2,
}  # fmt: skip
"""Of the others."""


def condition_of(number: int) -> str:
    """The condition of photograph `number`, whatever the seed; steps of seven mix the kinds."""
    mix = CONDITIONS if number // 20 % 2 == 0 else OTHER_CONDITIONS
    return [name for name, count in mix.items() for _ in range(count)][number * 7 % 20]


@dataclass(frozen=True, kw_only=True)
class Disc(Told):
    """All that is drawn of it; radii in mm."""

    stock: Stock
    metal_mm: tuple[float, float]
    """Where the metal begins and ends."""
    lines: list[Line]
    cracks: list[Crack]
    sticker_mm: Array | None
    """(n, 2), outline of what is left of a sticker."""
    labelled: bool
    """Whether it lies with its label up."""
    number: int
    """Of the random things that are not told: moulded rings, text, waves."""

    @property
    def side(self) -> str:
        return "label" if self.labelled else "data"


def random_disc(rng: Rng, condition: str, labelled: bool = False) -> Disc:
    """A disc in one of the CONDITIONS."""
    make = stock(rng)
    rim = 40.0 if rng.random() < 0.04 else 60.0
    flat = Flat(rim)
    from_mm = rng.uniform(*METAL_FROM_MM[make.format])
    ends = rim - rng.uniform(0.6, 1.6)
    track = TRACK_FROM_MM[make.format] + rng.uniform(0, 0.4)
    last = rim - 2 if rng.random() < 0.45 else rng.uniform(27, rim - 2.5)
    if make.recording == "recordable" and rng.random() < 0.15:
        last = 0.0  # blank
    lines, breaks = _lines(rng, condition, rim, make.format), []
    if condition in ("cracked", "broken"):
        breaks = cracks(rng, rim, condition == "broken")
    if condition == "delaminated":
        for _ in range(int(rng.integers(1, 4))):
            part(rng, flat, str(rng.choice(STYLES)))
    _dirty(rng, condition, flat)
    grains = int(log_uniform(rng, 40, 220)) if condition == "dirty" else int(log_uniform(rng, 3, 45))
    fibres = int(rng.integers(1, 8)) if condition == "dirty" else int(rng.poisson(0.6))
    return Disc(
        format=make.format,
        recording=make.recording,
        condition=condition,
        rim_mm=rim,
        recorded_mm=(track, float(last)),
        flat=flat,
        specks=dust(rng, rim, grains),
        hairs=lint(rng, rim, fibres),
        stock=make,
        metal_mm=(float(from_mm), float(ends)),
        lines=lines,
        cracks=breaks,
        sticker_mm=sticker(rng, rim) if rng.random() < (0.2 if condition == "dirty" else 0.02) else None,
        labelled=labelled,
        number=int(rng.integers(2**31)),
    )


def _lines(rng: Rng, condition: str, rim_mm: float, disc_format: str) -> list[Line]:
    """Scratches, arcs and swirl; a BD's hard coat (FACTS, 5.3) takes half as many."""
    coat = 0.5 if disc_format == "bd" else 1.0
    if condition == "polished":
        return polish(rng, rim_mm) + scratches(rng, rim_mm, rng.uniform(1, 8))
    if condition == "light":
        return scratches(rng, rim_mm, coat * log_uniform(rng, 2, 22)) + arcs(rng, rim_mm, int(rng.random() < 0.25))
    if condition == "heavy":
        several = int(rng.choice([0, 1, 2, 3], p=[0.35, 0.3, 0.2, 0.15]))
        return scratches(rng, rim_mm, coat * log_uniform(rng, 40, 260)) + arcs(rng, rim_mm, several)
    if condition in ("cracked", "broken", "delaminated"):
        return scratches(rng, rim_mm, coat * log_uniform(rng, 1, 30))
    return []


def _dirty(rng: Rng, condition: str, flat: Flat) -> None:
    """Grease on the dirty, a little on used ones."""
    if condition == "dirty":
        marks = [finger_mark] * int(rng.integers(1, 6)) + [wiped] * int(rng.integers(0, 3))
        marks += [dried_water] * int(rng.integers(0, 4))
    elif condition in ("clean", "polished"):
        marks = []
    else:
        marks = (
            [finger_mark] * int(rng.poisson(0.7))
            + [wiped] * int(rng.poisson(0.3))
            + [dried_water] * int(rng.poisson(0.25))
        )
    for mark in marks:
        mark(rng, flat)


def unmarked(number: int) -> Rng:
    """The random numbers of what is moulded, apart from all else."""
    return np.random.default_rng([number, 5])
