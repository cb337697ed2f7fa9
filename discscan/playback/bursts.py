"""What the error correction makes of lost runs: a budget that each code word has, and what a run costs.

The bytes of one code word lie spread along the track. A single run of x mm takes from a word the bytes that it covers,
and a little more, because a frame or row that is cut is lost whole: it costs (x + pad) mm of a budget. So one run alone
fails just above the longest burst of `correctable`, and many short runs within the stretch over which one word is
spread add up [1].

References:
    [1] ECMA-130 annex C (CIRC), ECMA-267 18 and 19 (RS-PC), BDA white paper for BD-R 4.2 (LDC): codes and interleave.
        The sum over runs is ours, for thousands of runs in hundreds of draws at once. `correctable` counts the symbols
        of one drawn track; with the worst padding the sum agrees with it for more than nine in ten patterns of random
        stretches and else mostly errs to the dark side. A CD is taken for a data CD, whose own parity bears a little
        more than CIRC alone; a music CD hides more than that by interpolating.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from discscan.formats import DiscFormat
from discscan.playback.correctable import longest_burst_mm
from discscan.playback.track import Runs
from discscan.polylines import IntArray
from discscan.records import FloatArray


@dataclass(frozen=True)
class Budget:
    """One format's error correction, in mm along the track.

    Attributes:
        flagged_mm: what one code word bears when the drive marks erasures.
        unflagged_mm: when it does not, half of that or less.
        pad_worst_mm, pad_best_mm: what a run costs on top of its length, at the worst and the best alignment.
        span_mm: over which the bytes of one code word are spread.
    """

    flagged_mm: float
    unflagged_mm: float
    pad_worst_mm: float
    pad_best_mm: float
    span_mm: float


@cache
def budget(disc: DiscFormat) -> Budget:
    """The budget that follows from the codes of `disc`."""
    row_mm = disc.mm_per_byte * disc.fact("frame_symbols" if disc.name == "cd" else "row_bytes")
    if disc.name == "cd":
        spread = (
            disc.fact("interleave_frames") * (disc.fact("frame_symbols") - disc.fact("c2_corrects_erasures") - 1) + 1
        )
        pad = row_mm  # a frame that is cut, on the mean over the words of a sector, whose own parity mends the others
    else:
        spread = disc.fact("block_rows")
        rows = (
            disc.fact("po_corrects_erasures")
            if disc.name == "dvd"
            else disc.fact("rows_per_word_symbol") * disc.fact("ldc_corrects_erasures")
        )
        pad = row_mm * rows - disc.guaranteed_burst_mm
    return Budget(
        flagged_mm=longest_burst_mm(disc.name, alignment="worst") + pad,
        unflagged_mm=disc.longest_burst_mm(alignment="worst", flagged=False) + pad,
        pad_worst_mm=pad,
        pad_best_mm=pad - (disc.best_burst_mm - disc.guaranteed_burst_mm),
        span_mm=row_mm * spread,
    )


def window_ends(runs: Runs, *, turns: FloatArray, span_mm: float) -> tuple[IntArray, IntArray]:
    """Which runs share a code word with each run: those that begin within `span_mm` after it, round the turn.

    Returns:
        order: (m,) indices of runs, each turn's followed by its first ones again, for windows past the full turn.
        end: (m,) for each place in `order`, one past its window's last place in `order`.
    """
    around = 2 * np.pi * turns[runs.turn]
    place = runs.theta * turns[runs.turn]
    again = np.flatnonzero(place < span_mm)
    order = np.concatenate([np.arange(len(place)), again])
    along = np.concatenate([place, place[again] + around[again]])
    turn = runs.turn[order]
    sort = np.lexsort((along, turn))
    order, along, turn = order[sort], along[sort], turn[sort]
    stride = float(around.max(initial=0.0) + 2 * span_mm) + 1  # puts the turns one after another on one axis
    axis = along + turn * stride
    reach = np.minimum(span_mm, around[order] * (1 - 1e-9))  # no run counts twice in one window
    return order, np.searchsorted(axis, axis + reach, side="right").astype(np.intp)
