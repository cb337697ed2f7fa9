"""Where on the track each symbol lies, and which are lost with a stretch of track.

A symbol is lost when any of its channel bits is: modulation has no error correction of its own. Bits between symbols
(sync, merging, subcode, control of the direct current) cost nothing by themselves: a drive's clock runs on over them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from discscan.formats import FORMATS
from discscan.playback.codes.reed_solomon import Mask
from discscan.records import FloatArray

_NOTHING_MM = 1e-9
"""Overlaps up to this are rounding."""


@dataclass(frozen=True)
class Channel:
    """One frame (a CD's frame, a DVD's or BD's row) in channel bits.

    Attributes:
        bits: of the whole frame.
        begin, end: (symbols,) of each symbol.
    """

    bits: float
    begin: FloatArray
    end: FloatArray

    def lost(self, *, run_mm: FloatArray, bit_mm: float, first: int, frames: int) -> Mask:
        """Which symbols are lost.

        Args:
            run_mm: (n, 2) where each lost stretch of track begins and ends, ascending, apart from each other.
            bit_mm: length of a channel bit.
            first, frames: the frames asked for; frame 0 begins at 0 mm.
        Returns:
            (frames, symbols).
        """
        start = (first + np.arange(frames))[:, None] * self.bits
        begin, end = (start + self.begin) * bit_mm, (start + self.end) * bit_mm
        run_mm = np.concatenate([run_mm, [[np.inf, np.inf]]])
        next_run = np.searchsorted(run_mm[:, 1], begin + _NOTHING_MM, side="right")
        return np.asarray(run_mm[next_run, 0] < end - _NOTHING_MM)


@cache
def cd_channel() -> Channel:
    """Sync, subcode, 32 symbols, each with its merging bits behind it (IEC 60908, as quoted)."""
    fact = FORMATS["cd"].fact
    each = fact("symbol_bits") + fact("merging_bits")
    before = fact("sync_bits") + fact("merging_bits") + fact("subcode_symbols") * each
    begin = before + each * np.arange(fact("frame_symbols"))
    return Channel(fact("frame_bits"), begin, begin + fact("symbol_bits"))


@cache
def dvd_channel() -> Channel:
    """A row: two sync frames of 91 code words behind their sync (ECMA-267, 3rd edition, 20 and 21)."""
    fact = FORMATS["dvd"].fact
    half = np.arange(fact("row_bytes")) // (fact("row_bytes") / fact("sync_frames_per_row"))
    begin = fact("sync_bits") * (half + 1) + fact("code_word_bits") * np.arange(fact("row_bytes"))
    return Channel(fact("row_bits"), begin, begin + fact("code_word_bits"))


@cache
def bd_channel() -> Channel:
    """A row: sync and 155 bytes, data bits and control bits modulated alike, 3 for 2. The last symbol is the sync."""
    fact = FORMATS["bd"].fact
    bit = np.arange(8 * fact("row_bytes"))
    controls = np.maximum(0, 1 + (bit - fact("first_control_block_bits")) // fact("control_block_bits"))
    begin = fact("sync_bits") + fact("channel_bits_per_data_bit") * (bit + controls)
    end = begin + fact("channel_bits_per_data_bit")
    return Channel(fact("row_bits"), np.append(begin[::8], 0), np.append(end[7::8], fact("sync_bits")))
