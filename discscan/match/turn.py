"""How far a disc was turned between two photographs, by its own marks."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.match.band import ANGLES, RINGS, SECTORS, Band
from discscan.records import FloatArray

_DEG = 360 / ANGLES


@dataclass(frozen=True)
class Turn:
    """The likeliest turn: a point p of the first disc lies at R(turn) p + shift in the second, from +x towards +y.

    Attributes:
        turn_deg: 0 to 360.
        shift_mm: (2,), what is left of the two poses' errors.
        score: how much of the two bands agrees at this turn.
        lead: by how much the best other turn, two degrees away or more, falls behind.
        spread_lead: the same lead without the two neighbouring sectors of each disc that say most: what lies elsewhere.
    """

    turn_deg: float
    shift_mm: FloatArray
    score: float
    lead: float
    spread_lead: float

    @property
    def lies_still(self) -> bool:
        """Whether the disc was hardly turned."""
        return min(self.turn_deg, 360 - self.turn_deg) <= setting("match", "still_deg")

    @property
    def matrix(self) -> FloatArray:
        """(2, 3), first disc's plane to the second's, mm."""
        cos, sin = np.cos(np.radians(self.turn_deg)), np.sin(np.radians(self.turn_deg))
        return np.array([[cos, -sin, self.shift_mm[0]], [sin, cos, self.shift_mm[1]]])

    @property
    def back(self) -> FloatArray:
        """(2, 3), second disc's plane to the first's, mm."""
        return np.asarray(cv2.invertAffineTransform(self.matrix))


def carried(points_mm: FloatArray, matrix: FloatArray) -> FloatArray:
    """Points (n, 2) through a (2, 3) matrix."""
    return np.asarray(points_mm @ matrix[:, :2].T + matrix[:, 2])


def turn_between(first: Band, second: Band, *, may_lie_still: bool) -> Turn:
    """The turn at which most parts of the one find themselves again in the other.

    Each block of one disc (a sector of a ring) is laid on the other disc's ring at all turns at once, by Fourier
    transform. How far the block's agreement at a turn stands out from that at other turns is cut off above, so that one
    long line, which two different discs may share by chance, cannot outvote the rest.

    Args:
        may_lie_still: whether no turn at all counts, where no other turn is plain. What a room reflects stays where it
            is when a disc is turned, or exchanged for another, and agrees with itself (`light_agreement` tells whether
            the room did). Whoever asks whether two discs are one must not count that; then it counts against the rest.
    """
    sectors = np.stack([_votes(first, second), _mirrored(_votes(second, first))])  # (2, SECTORS, ANGLES)
    agreed = sectors.sum(axis=(0, 1))
    moved = _apart_deg(0) > setting("match", "still_deg")
    best, counted = int(np.where(moved, agreed, -np.inf).argmax()), np.ones(ANGLES, bool)
    if may_lie_still:
        if _lead(agreed, best, moved) >= setting("match", "laid_lead"):
            counted = moved
        else:
            best = int(agreed.argmax())
    pairs = sectors[..., best] + np.roll(sectors[..., best], -1, axis=1)
    loud = pairs.argmax(axis=1)
    elsewhere = agreed - sum(one[[at, (at + 1) % SECTORS]].sum(axis=0) for one, at in zip(sectors, loud, strict=True))
    turn_deg, shift_mm = _refined(first, second, best * _DEG)
    leads = _lead(agreed, best, counted), _lead(elsewhere, best, counted)
    return Turn(turn_deg % 360, shift_mm, float(agreed[best]), *leads)


def agree_unturned(first: Band, second: Band) -> bool:
    """Whether two discs agree best where neither was turned: what a room reflects agrees there too."""
    turn = turn_between(first, second, may_lie_still=True)
    return turn.lies_still and turn.lead >= setting("match", "laid_lead")


def _lead(agreed: FloatArray, place: int, counted: NDArray[np.bool_]) -> float:
    rest = agreed[counted & (_apart_deg(place) > setting("match", "same_turn_deg"))]
    return float(agreed[place] - rest.max())


def _apart_deg(place: int) -> FloatArray:
    """(ANGLES,) how far each turn lies from one of them, degrees."""
    return np.abs((np.arange(ANGLES) - place + ANGLES // 2) % ANGLES - ANGLES // 2) * _DEG


def _votes(one: Band, other: Band) -> FloatArray:
    """(SECTORS, ANGLES) for each turn of `one`, the sum over a sector's blocks of how plainly they lie in `other`."""
    curves = []
    for spectrum in one.sector_spectra:
        product = np.conj(spectrum) * other.spectrum
        curves.append(np.fft.irfft(np.stack([product[ring].sum(axis=0) for ring in RINGS]), ANGLES, axis=1))
    curve = _without_slow(np.concatenate(curves))
    spread = curve.std(axis=1, keepdims=True)
    stands_out = curve / (spread + 1e-3 * spread.max() + 1e-9)
    energy = one.block_energy.ravel()[:, None]
    middle = float(np.median(energy[energy > 0])) if (energy > 0).any() else 1.0
    least, most = setting("match", "vote_least"), setting("match", "vote_most")
    votes = np.clip(stands_out, least, most) - least
    weighed = (energy / (energy + middle) * votes).reshape(SECTORS, len(RINGS), ANGLES).sum(axis=1)
    padded = np.concatenate([weighed[:, -1:], weighed, weighed[:, :1]], axis=1)
    return np.asarray((padded[:, :-2] + 2 * padded[:, 1:-1] + padded[:, 2:]) / 4)


def _mirrored(curve: FloatArray) -> FloatArray:
    """The curves over the opposite turn."""
    return np.roll(curve[:, ::-1], 1, axis=1)


def _without_slow(curve: FloatArray) -> FloatArray:
    """Less its own mean over some twenty degrees around: broad agreement is light and long arcs, not place."""
    size = round(setting("match", "slow_deg") / _DEG) | 1
    half = size // 2
    padded = np.concatenate([curve[:, -half:], curve, curve[:, :half]], axis=1)
    total = np.cumsum(np.concatenate([np.zeros((len(curve), 1)), padded], axis=1), axis=1)
    return np.asarray(curve - (total[:, size:] - total[:, :-size]) / size)


def _refined(first: Band, second: Band, turn_deg: float) -> tuple[float, FloatArray]:
    """Turn and shift at which the first one's strongest places lie best on the second one's lines, and the reverse."""
    best = np.array([turn_deg, 0.0, 0.0])
    for reach in (setting("match", "refine_reach"), setting("match", "refine_reach") / 3):
        grid = np.stack(np.meshgrid(*3 * [np.linspace(-reach, reach, 5)], indexing="ij"), -1).reshape(-1, 3)
        tried = best + grid  # degrees and mm: at half the radius a degree is half a millimetre
        best = tried[np.argmax([_overlap(first, second, one) - _PULL * float(one[1:] @ one[1:]) for one in tried])]
    return float(best[0]), best[1:]


_PULL = 0.3
"""Of the overlap, for each mm² of shift: poses are mostly right to a tenth of a millimetre, and a scratch's image in
the mirror below draws the best overlap aside. On 53 rendered pairs (seeds 9010 and 9040, models/CARD.md) marks lie
0.17 mm apart then, in the mean; with 0.02 they lay 0.28 mm apart."""


def _overlap(first: Band, second: Band, place: FloatArray) -> float:
    there = Turn(float(place[0]), place[1:], 0, 0, 0)
    return mean_at(second, carried(first.strongest_mm, there.matrix)) + mean_at(
        first, carried(second.strongest_mm, there.back)
    )


def mean_at(band: Band, points_mm: FloatArray) -> float:
    """Mean of the band's map at some points."""
    if not len(points_mm):
        return 0.0
    at = np.round(points_mm * band.px_per_mm + band.map.shape[0] / 2).astype(int)
    at = np.clip(at, 0, band.map.shape[0] - 1)
    return float(band.map[at[:, 1], at[:, 0]].mean())
