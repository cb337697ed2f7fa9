"""One disc's damage with all that was drawn about it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from discscan.formats import DiscFormat
from discscan.playback.crowd import crowding
from discscan.playback.draws import Draws, draw
from discscan.playback.track import Strands, strands
from discscan.records import DamageSurvey, Defect, FloatArray, Recording


@dataclass(frozen=True)
class Case:
    """One disc's damage with all that was drawn about it; the same for every format.

    Attributes:
        under_smudge: (d,) whether a line's middle lies under a smudge.
    """

    defects: tuple[Defect, ...]
    pieces: Strands
    under_smudge: NDArray[np.bool_]
    draws: Draws
    measured_fraction: float
    diameter_mm: int
    _crowding: dict[str, FloatArray] = field(default_factory=dict)

    def crowding(self, disc: DiscFormat) -> FloatArray:
        """`crowding` in one format's beam, reckoned once."""
        if disc.name not in self._crowding:
            count = len(self.defects)
            self._crowding[disc.name] = crowding(self.pieces, count=count, beam_mm=disc.beam_mm)
        return self._crowding[disc.name]

    def without(self, kind: str) -> Case:
        """The same disc and the same draws, with none of this kind of damage."""
        return replace(self, draws=replace(self.draws, present=self.draws.present & ~self.of_kind(kind)[:, None]))

    def mirror_lost(self, disc: DiscFormat) -> NDArray[np.bool_]:
        """(d, n) where there is nothing to read: a parted layer, a hole, and a wound of a CD's label that goes deep."""
        gone = np.array([d.see_through or d.kind == "delamination" for d in self.defects], dtype=bool)
        reaches = np.array([d.reaches_data for d in self.defects]) * (
            self.of_kind("label_damage") & (disc.name == "cd")
        )
        return gone[:, None] | (self.draws.label_luck < reaches[:, None])

    def of_kind(self, *kinds: str) -> NDArray[np.bool_]:
        return np.array([d.kind in kinds for d in self.defects], dtype=bool)


@lru_cache(maxsize=2)
def make_case(
    *, survey: DamageSurvey, diameter_mm: int, widen: float, seed: int, recording: Recording = "unknown"
) -> Case:
    """Draw once for all formats. Dust is left out: it is blown off before playing."""
    defects = tuple(d for d in survey.defects if d.kind != "dust")
    drawn = draw(defects, widen=widen, seed=seed, recording=recording)
    return Case(defects, strands(defects), _under_smudge(defects), drawn, survey.measured_fraction, diameter_mm)


def _under_smudge(defects: tuple[Defect, ...]) -> NDArray[np.bool_]:
    middles = np.array([d.outline_mm[len(d.outline_mm) // 2] for d in defects]).reshape(-1, 2)
    under = np.zeros(len(middles), dtype=bool)
    for smudge in (d for d in defects if d.kind == "smudge"):
        under |= _inside(middles, smudge.outline_mm)
    return under


def _inside(points: FloatArray, border: FloatArray) -> NDArray[np.bool_]:
    """Which points lie inside a closed border: an odd number of its edges passes to their right."""
    x, y = points[:, :1], points[:, 1:]
    x0, y0 = border[:, 0], border[:, 1]
    x1, y1 = np.roll(x0, -1), np.roll(y0, -1)
    spans = (y0 > y) != (y1 > y)
    rise = np.where(y1 == y0, 1.0, y1 - y0)
    return np.asarray((spans & (x < x0 + (y - y0) * (x1 - x0) / rise)).sum(axis=1) % 2 == 1)
