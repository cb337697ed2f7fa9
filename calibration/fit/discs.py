"""Discs of which all is known: damage as the renderer draws it, with widths and depths, without its pictures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.fit.numbers import number
from discscan.formats import FORMATS, DiscFormat
from discscan.records import LINE_KINDS, FloatArray, FormatName, Kind
from models.training.render.condition import condition
from models.training.render.marks import Mark
from models.training.render.ranges import Ranges

HUB_MM = 20.0
CONDITIONS = ("clean", "dirty", "light", "scratched", "arcs", "cracked", "delaminated", "mixed")


@dataclass(frozen=True)
class Groove:
    """A scratch, ring arc or crack as it is.

    Attributes:
        kind: "scratch", "ring_arc" or "crack".
        points_mm: (n, 2) its centre line, about a quarter of a millimetre apart.
        width_um, depth_um: (n,) along it; 0 where it skips.
        polishes: whether a polish reaches its bottom if it is shallow enough; most ring arcs stay all the same.
    """

    kind: Kind
    points_mm: FloatArray
    width_um: FloatArray
    depth_um: FloatArray
    polishes: bool


@dataclass(frozen=True)
class Patch:
    """An area: "delamination", "smudge" or "label_damage"."""

    kind: Kind
    border_mm: FloatArray
    strength: float


@dataclass(frozen=True)
class TrueDisc:
    """A disc; `recorded_to_mm` is the radius at which its recording ends."""

    disc: DiscFormat
    condition: str
    grooves: tuple[Groove, ...]
    patches: tuple[Patch, ...]
    recorded_to_mm: float

    def has(self, kind: Kind) -> bool:
        return any(one.kind == kind for one in self.grooves) or any(one.kind == kind for one in self.patches)


def draw_disc(rng: np.random.Generator, ranges: Ranges, *, ring_arcs_stay: float) -> TrueDisc:
    """A disc at random.

    Args:
        ring_arcs_stay: share of ring arcs that no polish takes off.
    """
    shares = [number("discs.cd_share"), number("discs.dvd_share")]
    names: tuple[FormatName, ...] = ("cd", "dvd", "bd")
    disc = FORMATS[names[int(rng.choice(3, p=[*shares, 1 - sum(shares)]))]]
    name = str(ranges.pick(rng, "condition.data"))
    marks = condition(rng, ranges, name, outer_mm=60.0, hub_mm=HUB_MM, side="data")
    grooves = tuple(_groove(rng, mark, ring_arcs_stay) for mark in marks if mark.kind in LINE_KINDS)
    patches = tuple(
        Patch(mark.kind, mark.outline_mm, mark.strength)  # type: ignore[arg-type]
        for mark in marks
        if mark.kind in ("delamination", "smudge")
    )
    return TrueDisc(disc, name, grooves, patches, _recorded_to(rng, disc))


def _groove(rng: np.random.Generator, mark: Mark, ring_arcs_stay: float) -> Groove:
    profile = mark.profile if len(mark.profile) == len(mark.outline_mm) else np.ones(len(mark.outline_mm))
    width_um, depth_um = mark.width_um * profile, mark.depth_um * profile
    return groove(rng, mark.kind, mark.outline_mm, width_um, depth_um, ring_arcs_stay=ring_arcs_stay)


def groove(
    rng: np.random.Generator,
    kind: str,
    points_mm: FloatArray,
    width_um: FloatArray,
    depth_um: FloatArray,
    *,
    ring_arcs_stay: float,
) -> Groove:
    """A line, with the lot drawn whether a polish reaches it."""
    stays = kind == "ring_arc" and rng.random() < ring_arcs_stay
    return Groove(kind, points_mm, width_um, depth_um, kind != "crack" and not stays)  # type: ignore[arg-type]


def _recorded_to(rng: np.random.Generator, disc: DiscFormat) -> float:
    inner, outer = disc.data_area_mm(120)
    if rng.random() < number("discs.recorded_full"):
        return outer
    share = rng.uniform(number("discs.recorded_least"), 1)
    return float(np.sqrt(inner**2 + share * (outer**2 - inner**2)))
