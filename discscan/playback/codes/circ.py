"""CIRC, the code of every compact disc: two Reed-Solomon codes with delays between them, without beginning or end.

Encoding, frame by frame [1]: 24 bytes (six stereo samples), the even samples held back by two frames; C2 parity goes in
the middle; symbol i is delayed by 4 i frames; C1 parity goes to the end; even symbols are delayed by one more frame;
the parity bytes are inverted. Decoding undoes this step by step.

The strategy, of the several that players have [2]: C1 mends up to two errors and flags the whole word beyond that; C2
takes the flags as erasures, mends up to four, and passes the flags on where there are more. Why counting tells the same
as decoding: light that is lost gives none of the 256 words that the modulation knows, and the demodulator says so. A C1
word with more such symbols than C1 mends is flagged whatever C1 finds (which would else be a wrong answer in one lost
word of 130, about 32^2 / 2 / 256^2), so every wrong symbol that reaches C2 is flagged.

References:
    [1] IEC 60908 and ECMA-130 annex C, as quoted in public decoder sources that read real discs.
    [2] Flags from three errors on: a disc test laboratory. Four erasures in C2: the published burst of 2.5 mm (Immink,
        Reed-Solomon Codes and the Compact Disc, as cited in encyclopedias) follows from it.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from discscan.formats import FORMATS
from discscan.playback.codes.reed_solomon import Bytes, Mask, ReedSolomon

_Scalar = TypeVar("_Scalar", np.uint8, np.bool_)

_fact = FORMATS["cd"].fact
DATA = int(_fact("frame_data_bytes"))
SYMBOLS = int(_fact("frame_symbols"))
_INNER = DATA + int(_fact("c2_parity_symbols"))
C1_ERRORS = int(_fact("c1_corrects_symbols"))
C2_ERASURES = int(_fact("c2_corrects_erasures"))
C2 = ReedSolomon(_INNER, DATA, parity_from=DATA // 2)
C1 = ReedSolomon(SYMBOLS, _INNER)

_sample, _part = np.divmod(np.arange(DATA), 4)  # a stereo sample is 2 bytes left, 2 bytes right
_odd = _sample % 2 == 1
_MESSAGE = _odd * DATA // 2 + _sample // 2 * 2 + _part // 2 * (DATA // 4) + _part % 2
"""(24,) where each byte of a frame stands in the message of C2: even samples first, of each half left before right."""
_PLACE = C2.message_places[_MESSAGE]

_HELD = np.where(_odd, 0, int(_fact("even_samples_delay_frames")))
_SPREAD = np.arange(_INNER) * int(_fact("interleave_frames"))
_LAST = np.where(np.arange(SYMBOLS) % 2 == 0, int(_fact("even_symbols_delay_frames")), 0)
DELAY = int(_HELD.max() + _SPREAD.max() + _LAST.max())
"""Frames over which the bytes of one frame are spread on the track, beyond their own."""

_INVERTED = np.concatenate([C2.parity_places, C1.parity_places])


def encode(frames: Bytes) -> Bytes:
    """(n, 24) bytes -> (n + DELAY, 32) symbols in the order of the track; before and after all bytes are zero."""
    messages = np.empty((len(frames) + int(_HELD.max()), DATA), dtype=np.uint8)
    messages[:, _MESSAGE] = _delayed(frames, _HELD)
    symbols = _delayed(C1.encode(_delayed(C2.encode(messages), _SPREAD)), _LAST)
    symbols[:, _INVERTED] ^= 0xFF
    return symbols


def decode(symbols: Bytes, *, illegal: Mask) -> tuple[Bytes, Mask]:
    """Undo `encode`.

    Args:
        symbols: (n + DELAY, 32) as read.
        illegal: same shape, which symbols the demodulator could not read.
    Returns:
        (n, 24) bytes, and the same shape, which of them C2 could not vouch for.
    """
    symbols = symbols.copy()
    symbols[:, _INVERTED] ^= 0xFF
    words, sound = C1.decode(_gathered(symbols, _LAST))
    erased = _erased(~sound | (_gathered(illegal, _LAST).sum(axis=1) > C1_ERRORS))
    words, sound = C2.decode(_gathered(words[:, :_INNER], _SPREAD), erased=erased)
    return _gathered(words[:, _PLACE], _HELD), _gathered((erased & ~sound[:, None])[:, _PLACE], _HELD)


def unmended(lost: Mask, *, flagged: bool = True) -> Mask:
    """What `decode` cannot vouch for, by counting: (n + DELAY, 32) lost symbols -> (n, 24) bytes.

    Not `flagged`: C2 takes what it gets from C1 as errors, of which it mends half as many.
    """
    return passed_on(_gathered(lost, _LAST).sum(axis=1) > C1_ERRORS, flagged=flagged)


def passed_on(bad: Mask, *, flagged: bool = True) -> Mask:
    """(n + DELAY - 1,) words that C1 cannot mend -> (n, 24) bytes that C2 cannot."""
    erased = _erased(bad)
    erased[erased.sum(axis=1) <= C2_ERASURES // (1 if flagged else 2)] = False
    return _gathered(erased[:, _PLACE], _HELD)


def _erased(flagged: Mask) -> Mask:
    """(n + 108,) flags of C1 words -> (n, 28) flags of the symbols of each C2 word."""
    return _gathered(np.broadcast_to(flagged[:, None], (len(flagged), _INNER)), _SPREAD)


def _delayed(columns: NDArray[_Scalar], by: NDArray[np.intp]) -> NDArray[_Scalar]:
    out = np.zeros((len(columns) + int(by.max()), columns.shape[1]), dtype=columns.dtype)
    for column, delay in enumerate(by):
        out[delay : delay + len(columns), column] = columns[:, column]
    return out


def _gathered(columns: NDArray[_Scalar], by: NDArray[np.intp]) -> NDArray[_Scalar]:
    """`_delayed` undone; what was not wholly in the excerpt falls away."""
    length = len(columns) - int(by.max())
    return np.stack([columns[delay : delay + length, column] for column, delay in enumerate(by)], axis=1)
