"""How much of the beam a groove takes, and how near the groove the beam is lost.

The beam is still `DiscFormat.beam_mm` wide where it enters the clear layer, so a thin scratch only dims it.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from discscan.records import FloatArray

_STEPS = 256


def blocked_share(*, width_mm: ArrayLike, beam_mm: ArrayLike, offset_mm: ArrayLike = 0.0) -> FloatArray:
    """Share of a round, even beam that an opaque straight strip covers.

    In the middle this is (2 / pi) (asin h + h sqrt(1 - h^2)) with h = width / beam: circle and chord. One pass, opaque:
    an upper bound for a groove of this width, which scatters and bends part of the light.

    Args:
        width_mm: of the strip.
        beam_mm: diameter of the beam on the surface.
        offset_mm: from the strip's centre line to the beam's centre.
    Returns:
        0..1, float64, in the shape that the arguments broadcast to.
    """
    width, beam, offset = (np.asarray(x, dtype=np.float64) for x in (width_mm, beam_mm, offset_mm))
    return _covered_below((offset + width / 2) / beam) - _covered_below((offset - width / 2) / beam)


def _covered_below(at: FloatArray) -> FloatArray:
    """Share of a disc of diameter 1 that lies below the chord at `at` from its centre."""
    t = np.clip(2 * at, -1, 1)
    return 0.5 + (np.arcsin(t) + t * np.sqrt(1 - t * t)) / np.pi


def lost_half_width_mm(*, width_mm: FloatArray, beam_mm: float, threshold: FloatArray) -> NDArray[np.float32]:
    """How far from a groove's centre line the beam's centre may come before its light is lost.

    Args:
        width_mm: of the groove.
        beam_mm: diameter of the beam on the surface.
        threshold: blocked share from which the light counts as lost; above 1 it never is.
    Returns:
        mm, in the shape to which both spread; 0 where even the beam's middle over the groove passes enough light. From
        a table, to 1/256 of the beam.
    """
    ratio = width_mm / beam_mm
    beyond = np.maximum(ratio - 1, 0)  # a strip wider than the beam: its edge moves out, nothing else changes
    row, column = (np.rint(np.minimum(share, 1) * _STEPS) for share in (ratio, threshold))
    place = (row * (_STEPS + 1) + column).astype(np.intp)  # one index is looked up faster than two
    half = _half_width_table().ravel()[place] + beyond / 2
    return np.where((threshold <= 1) & (width_mm > 0), half * beam_mm, 0).astype(np.float32)


@cache
def _half_width_table() -> FloatArray:
    """Half width / beam, for width / beam (rows) and threshold (columns) from 0 to 1: `blocked_share` turned round."""
    steps = np.linspace(0, 1, _STEPS + 1)
    share = blocked_share(width_mm=steps[:, None], beam_mm=1.0, offset_mm=steps[None, :])
    table = np.empty_like(share)
    for row, shares in enumerate(share):  # shares fall with the offset
        table[row] = np.interp(steps, shares[::-1], steps[::-1], left=(1 + steps[row]) / 2, right=0.0)
    table[:, 0] = (1 + steps) / 2  # any shading at all: half of groove and beam
    return table
