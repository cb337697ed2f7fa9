"""Whether the error correction mends what is lost along the track: exact, by counting symbols.

Lost track -> lost symbols (`codes.channel`) -> words that bear them or do not (`codes.circ`, `cdrom`, `rspc`, `ldc`:
each says which of the strategies that drives have it takes, and why). Tests hold the counting against real encoding,
damaging and decoding.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from discscan.formats import FORMATS, Alignment
from discscan.playback.codes import cdrom, circ, ldc, rspc
from discscan.playback.codes.channel import bd_channel, cd_channel, dvd_channel
from discscan.playback.codes.reed_solomon import Mask
from discscan.records import FloatArray

Code = Literal["cd-da", "cd", "dvd", "dvd-dl", "bd"]
CODES: tuple[Code, ...] = ("cd-da", "cd", "dvd", "dvd-dl", "bd")


def correctable(
    fmt: Code, lost: ArrayLike, *, step_mm: float, scanning_velocity_m_s: float = 1.2, flagged: bool = True
) -> bool:
    """Whether all that was recorded still reads.

    Args:
        fmt: "cd-da" a music CD, every sample exact and none interpolated; "cd" a data CD of mode 1; "dvd"; "dvd-dl" a
            layer of a dual-layer DVD; "bd".
        lost: booleans along the track, one for each step, of any number; outside, the track is sound. At its start a
            block of a DVD or BD begins, or a frame of a CD, the first that holds bytes of a sector.
        step_mm: length of a step along the track.
        scanning_velocity_m_s: 1.2 to 1.4, at which a CD was recorded: it sets the length of a bit. Others have but one.
        flagged: whether the drive uses what it knows to be lost; one that does not mends half as many symbols.
    Raises:
        ValueError: no such format, a step or velocity that is not positive, or `lost` not of one dimension.
    """
    if fmt not in CODES:
        raise ValueError(f"no such format: {fmt!r}; there are {', '.join(CODES)}")
    if not (step_mm > 0 and scanning_velocity_m_s > 0):
        raise ValueError("step_mm and scanning_velocity_m_s must be positive")
    runs = _runs_mm(np.asarray(lost, dtype=bool), step_mm)
    if fmt == "bd":
        return all(ldc.readable(block[None], flagged=flagged)[0] for block in _bd_blocks(runs))
    if fmt in ("dvd", "dvd-dl"):
        dvd = FORMATS["dvd"]
        bit_nm = dvd.channel_bit_nm if fmt == "dvd" else dvd.fact("dual_channel_bit_nm")
        return all(rspc.readable(block[None], flagged=flagged)[0] for block in _dvd_blocks(runs, bit_nm * 1e-6))
    bit_mm = scanning_velocity_m_s / FORMATS["cd"].fact("channel_bit_rate_mbit_s") / 1000
    stretches = (circ.unmended(lost, flagged=flagged) for lost in _cd_stretches(runs, bit_mm))
    if fmt == "cd-da":
        return not any(bad.any() for bad in stretches)
    return all(_sectors_read(bad, flagged=flagged) for bad in stretches)


def longest_burst_mm(fmt: Code, *, alignment: Alignment) -> float:
    """Longest single burst that is mended, along the track, at the slowest allowed speed.

    Args:
        alignment: "worst" holds wherever the burst begins; "best" for the luckiest place, within one block.
    """
    disc = FORMATS["cd" if fmt == "cd-da" else "dvd" if fmt == "dvd-dl" else fmt]
    longest = disc.longest_burst_mm(alignment=alignment)
    if fmt == "dvd-dl":
        return longest * disc.fact("dual_channel_bit_nm") / disc.channel_bit_nm
    if fmt == "cd":
        return longest + _frames_beyond_circ(alignment) * circ.SYMBOLS * disc.mm_per_byte
    return longest


def _runs_mm(lost: Mask, step_mm: float) -> FloatArray:
    """(n, 2) where each lost stretch begins and ends."""
    if lost.ndim != 1:
        raise ValueError("lost must be of one dimension, along the track")
    edges = np.flatnonzero(np.diff(lost, prepend=False, append=False))
    return np.asarray(edges.reshape(-1, 2) * step_mm, dtype=np.float64)


def _blocks(runs: FloatArray, block_mm: float) -> Iterator[int]:
    """The blocks that lost stretches touch, each once."""
    done = -1
    for first, last in np.floor(runs / block_mm).astype(int):
        yield from range(max(first, done + 1), last + 1)
        done = last


def _dvd_blocks(runs: FloatArray, bit_mm: float) -> Iterator[Mask]:
    channel = dvd_channel()
    for block in _blocks(runs, rspc.ROWS * channel.bits * bit_mm):
        yield channel.lost(run_mm=runs, bit_mm=bit_mm, first=block * rspc.ROWS, frames=rspc.ROWS)


def _bd_blocks(runs: FloatArray) -> Iterator[Mask]:
    """Link rows end a block; what is lost there costs nothing."""
    channel, bit_mm = bd_channel(), FORMATS["bd"].channel_bit_nm * 1e-6
    rows = ldc.ROWS + int(FORMATS["bd"].fact("link_rows"))
    for block in _blocks(runs, rows * channel.bits * bit_mm):
        yield channel.lost(run_mm=runs, bit_mm=bit_mm, first=block * rows, frames=ldc.ROWS)


def _cd_stretches(runs: FloatArray, bit_mm: float) -> Iterator[Mask]:
    """Whole sectors with the frames over which they are spread; damage too far apart to meet is judged apart."""
    channel = cd_channel()
    frames = np.floor(runs / (channel.bits * bit_mm)).astype(int)
    first, last = (frames[:, 0] - circ.DELAY) // cdrom.FRAMES, frames[:, 1] // cdrom.FRAMES
    begins = np.flatnonzero(first > np.concatenate([[first.min(initial=0) - 1], last[:-1]]))
    for begin, end in zip(begins, np.append(begins, len(runs))[1:], strict=True):
        sectors = last[end - 1] + 1 - first[begin]
        yield channel.lost(
            run_mm=runs[begin:end],
            bit_mm=bit_mm,
            first=int(first[begin]) * cdrom.FRAMES,
            frames=int(sectors) * cdrom.FRAMES + circ.DELAY,
        )


def _sectors_read(bad: Mask, *, flagged: bool = True) -> bool:
    return bool(cdrom.readable(bad.reshape(-1, cdrom.SECTOR), flagged=flagged).all())


@cache
def _frames_beyond_circ(alignment: Alignment) -> int:
    """How many words of C1 in a row a data CD bears beyond those that CIRC mends, from any place of a sector on."""
    mended = circ.C2_ERASURES * int(FORMATS["cd"].fact("interleave_frames"))
    left, beyond = np.arange(cdrom.FRAMES), 0
    while True:
        left = left[_read_without_words(left, count=mended + beyond + 1)]
        if len(left) < cdrom.FRAMES if alignment == "worst" else not len(left):
            return beyond
        beyond += 1


def _read_without_words(first: NDArray[np.intp], *, count: int) -> Mask:
    """Which of the sectors read when `count` words in a row are lost, from each of these frames of a sector on."""
    passed = []
    for begin in 2 * cdrom.FRAMES + first:
        words = np.zeros(4 * cdrom.FRAMES + circ.DELAY - 1, dtype=bool)
        words[begin : begin + count] = True
        passed.append(circ.passed_on(words).reshape(-1, cdrom.SECTOR))
    sectors = np.concatenate(passed)
    hurt = sectors.any(axis=1)
    reads = np.ones(len(sectors), dtype=bool)
    reads[hurt] = cdrom.readable(sectors[hurt])
    return np.asarray(reads.reshape(len(first), -1).all(axis=1))
