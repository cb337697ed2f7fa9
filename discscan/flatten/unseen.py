"""Which parts of the data area were not seen, and from where light would show them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from discscan.calibration import setting
from discscan.formats import data_area_mm
from discscan.grids import radius_mm, ring
from discscan.judged import UnseenPart
from discscan.records import FlatDisc, FloatArray, Sight

_BINS = 72
_EVERY = 4  # cells: parts smaller than half a millimetre are no advice


def unseen_parts(flat: FlatDisc) -> tuple[UnseenPart, ...]:
    """The unseen parts by their cause, the largest first; causes with hardly any are left out."""
    side, few = len(flat.sight), (slice(None, None, _EVERY), slice(None, None, _EVERY))
    inner, outer = data_area_mm("unknown", flat.diameter_mm)
    sight, area = flat.sight[few], ring(side, flat.px_per_mm, inner_mm=inner, outer_mm=outer)[few]
    shares = np.bincount(sight[area], minlength=len(Sight)) / np.count_nonzero(area)
    found = []
    for cause in Sight:
        share = float(shares[cause])
        if cause != Sight.SEEN and share >= setting("flatten", "part_share"):
            part = area & (sight == int(cause))
            row, column = np.nonzero(part)
            angle = np.degrees(np.arctan2(_EVERY * row - side / 2, _EVERY * column - side / 2)) % 360
            found.append(_part(cause, share, angle, radius_mm(side, flat.px_per_mm)[few][part]))
    return tuple(sorted(found, key=lambda part: -part.share))


def light_from_deg(parts: tuple[UnseenPart, ...]) -> float | None:
    """Where a lamp should stand, about the disc's centre; None where no part asks for it.

    A mirror shows a lamp on the lamp's own side of the disc: what burns out at one side wants the lamp at the other,
    and what is dark wants it on its own side (law of reflection, for a lamp farther out than the camera).
    """
    for part in parts:
        middle = middle_deg(part)
        if middle is not None and part.sight in (Sight.GLARE, Sight.DARK):
            return (middle + 180) % 360 if part.sight == Sight.GLARE else middle
    return None


def middle_deg(part: UnseenPart) -> float | None:
    """The middle of a part's arc; None where it goes all the way round."""
    if part.from_deg is None or part.to_deg is None:
        return None
    return (part.from_deg + (part.to_deg - part.from_deg) % 360 / 2) % 360


def _part(cause: Sight, share: float, angle: FloatArray, radius: NDArray[np.floating]) -> UnseenPart:
    low, high = np.quantile(radius, [0.05, 0.95])
    start, span = _arc(angle)
    whole = span >= setting("flatten", "all_round_deg")
    return UnseenPart(
        sight=cause,
        share=share,
        from_deg=None if whole else start,
        to_deg=None if whole else (start + span) % 360,
        radius_min_mm=float(low),
        radius_max_mm=float(high),
    )


def _arc(angle: FloatArray) -> tuple[float, float]:
    """The shortest arc that holds nine tenths of the angles: its start and how far it goes, degrees."""
    count = np.histogram(angle, _BINS, (0, 360))[0]
    total = np.concatenate([[0], np.cumsum(np.tile(count, 2))])
    for bins in range(1, _BINS):
        held = total[bins : _BINS + bins] - total[:_BINS]
        if held.max() >= 0.9 * count.sum():
            return float(held.argmax() * 360 / _BINS), bins * 360 / _BINS
    return 0.0, 360.0
