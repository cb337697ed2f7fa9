"""Grooves so near to each other that one beam meets several: what each takes adds up."""

from __future__ import annotations

import numpy as np

from discscan.playback.track import Strands
from discscan.polylines import IntArray
from discscan.records import FloatArray

PROBES = 12
"""Places along each defect at which its neighbours are looked for."""


def crowding(pieces: Strands, *, count: int, beam_mm: float) -> FloatArray:
    """How much of a beam over one defect lies over another.

    A thin groove of width w at distance x from the middle of a round, even beam of diameter D covers
    (4 w / (pi D)) sqrt(1 - (2 x / D)^2) of it: width times chord, by its area.

    Args:
        pieces: of the defects.
        count: of the defects.
        beam_mm: D.
    Returns:
        (count, count): for the groove of the row, the mean of that root over the groove of the column, along that half
        of it which is crowded most. 0 on the diagonal.
    """
    weight = np.zeros((count, count))
    if not len(pieces.defect):
        return weight
    at = _probes(pieces)
    x, y = _middles(pieces)
    probe, piece = _near(x[at], y[at], x, y, reach=beam_mm / 2 + _half_longest(pieces))
    apart = pieces.defect[at[probe]] != pieces.defect[piece]
    probe, piece = probe[apart], piece[apart]
    if not len(probe):
        return weight
    away = _distance(pieces, piece, x[at[probe]], y[at[probe]])
    chord = np.sqrt(np.clip(1 - (2 * away / beam_mm) ** 2, 0, 1))
    other = probe * count + pieces.defect[piece]  # of a probe's pieces of one neighbour, the nearest counts
    covered = np.zeros((len(at), count))
    np.maximum.at(covered.reshape(-1), other, chord)
    owner = pieces.defect[at]
    order = np.lexsort((-covered.sum(axis=1), owner))
    first = np.flatnonzero(np.diff(owner, prepend=-1))
    sizes = np.diff(np.append(first, len(owner)))
    rank = np.arange(len(owner)) - np.repeat(first, sizes)
    crowded = rank < np.repeat((sizes + 1) // 2, sizes)
    np.add.at(weight, owner[crowded], covered[order][crowded])
    return weight / np.maximum(np.bincount(owner[crowded], minlength=count), 1)[:, None]


def _probes(pieces: Strands) -> IntArray:
    """Indices of at most `PROBES` pieces of each defect, evenly along it."""
    first = np.flatnonzero(np.diff(pieces.defect, prepend=-1))
    sizes = np.diff(np.append(first, len(pieces.defect)))
    rank = np.arange(len(pieces.defect)) - np.repeat(first, sizes)
    stride = np.repeat(-(-sizes // PROBES), sizes)
    return np.flatnonzero((rank % stride == stride // 2) & ~pieces.whole)


def _middles(pieces: Strands) -> tuple[FloatArray, FloatArray]:
    theta, radius = pieces.theta.mean(axis=1), pieces.radius.mean(axis=1)
    return radius * np.cos(theta), radius * np.sin(theta)


def _half_longest(pieces: Strands) -> float:
    return float(np.hypot(pieces.along_mm, pieces.across_mm)[~pieces.whole].max(initial=0)) / 2


def _near(ax: FloatArray, ay: FloatArray, bx: FloatArray, by: FloatArray, *, reach: float) -> tuple[IntArray, IntArray]:
    """Pairs of a place in a and one in b that lie in the same or in touching squares of side `reach`."""
    stride = 4096
    cell = (np.floor(bx / reach) * stride + np.floor(by / reach)).astype(np.intp)
    order = np.argsort(cell, kind="stable")
    cell = cell[order]
    own = (np.floor(ax / reach) * stride + np.floor(ay / reach)).astype(np.intp)
    first, second = [], []
    for step in (-stride, 0, stride):  # three squares above one another have neighbouring numbers
        low = np.searchsorted(cell, own + step - 1)
        count = np.searchsorted(cell, own + step + 1, side="right") - low
        first.append(np.repeat(np.arange(len(own)), count))
        second.append(np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + np.repeat(low, count))
    return np.concatenate(first), order[np.concatenate(second)]


def _distance(pieces: Strands, piece: IntArray, x: FloatArray, y: FloatArray) -> FloatArray:
    """From places to straight pieces, in the plane."""
    theta, radius = pieces.theta[piece], pieces.radius[piece]
    ax, ay = radius[:, 0] * np.cos(theta[:, 0]), radius[:, 0] * np.sin(theta[:, 0])
    dx, dy = radius[:, 1] * np.cos(theta[:, 1]) - ax, radius[:, 1] * np.sin(theta[:, 1]) - ay
    share = np.clip(((x - ax) * dx + (y - ay) * dy) / np.maximum(dx * dx + dy * dy, 1e-12), 0, 1)
    return np.hypot(x - ax - share * dx, y - ay - share * dy)
